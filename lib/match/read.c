/*
 * What each arc may be. Weights are odds, along is a product, either a sum: what comes to a place and
 * what leads on from it, multiplied, are the odds of all walks through it (Rabiner 1989, section
 * III.A, with rows scaled as in V.A).
 */
#include "match/match.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/mem.h"
#include "base/lower_bound.h"
#include "match/place.h"

typedef double weight;

static const weight NEVER = 0;

static inline weight
of_cost(int32_t cost)
{
	return exp(-cost / 1000.0);
}

static inline weight
along(weight a, weight b)
{
	return a * b;
}

static inline weight
either(weight a, weight b)
{
	return a + b;
}

/* What counts in a row is above some 18 times MATCH_COST_MOST: e^-360 or 10^-156. */
static inline weight
settled(weight a)
{
	return a < 1e-200 ? 0 : a;
}

static inline weight
inverse(weight a)
{
	return a > 0 ? 1 / a : 1;
}

#include "match/forward.h"

/* --- backwards: the odds of all that leads on from a place ----------------------------------- */

struct onward {
	weight *row, *next; /* of what leads on from the arc in hand and from the one behind it */
	weight *to;         /* a number a joint of the widest closure, with two of NEVER behind */
	weight *lead;       /* a number a joint */
	weight *meanings;   /* of the arc in hand: practice, elsewhere, then the joints */
};

/*
 * The odds of what leads on from the next row's places at joints that are meant, by a jump, apart from
 * the move. Those that are not meant become NEVER.
 */
static weight
enter_joints(const struct work *w, const struct onward *o, size_t arc)
{
	const struct match_list *stage = match_stage(&w->task, arc);
	weight *v = o->next + JOINTS, joints = NEVER;

	for (size_t i = 0; i < stage->n; i++) {
		size_t first = w->task.plan->first[stage->v[i]];
		size_t n = match_joints(&w->task, stage->v[i]);

		keep_meant(w, arc, first, n, v);
		joints += any_along(v, w->begin + first, n);
		v += MODES * n;
	}
	return joints;
}

/* what leads on from any place by a jump, by going elsewhere, and, but for the move, by practice */
struct entries {
	weight jump, elsewhere, nowhere;
};

/* What leads on from the places at a closure's joints, n from the first: v, from those behind: block. */
static void
lead_on(struct work *w, struct onward *o, const struct step *s, const struct entries *e,
    size_t first, size_t n, const weight *restrict block, weight *restrict v)
{
	const weight midst = e->jump * w->unfinished_jump + e->elsewhere * w->unfinished_elsewhere;
	const weight *restrict end = w->end + first;
	weight *restrict turned = w->left, *restrict far = w->far, *restrict lead = o->lead;
	const weight *restrict bad = block + SINCE_BAD * n, *restrict fine = block + SINCE_FINE * n;
	weight *restrict to = o->to, tray, lost[MODES];

	memcpy(to, block, n * sizeof *to);
	fill(to + n, 2, NEVER);
	for (size_t j = 0; j < n; j++)
		turned[j] = to[n - 1 - j];
	spread(turned - 3, n, w->further, far);
	tray = any_along(to, w->start + first, n) * s->move[MATCH_TRAY];
	for (size_t j = 0; j < n; j++)
		lead[j] = (midst + tray * end[j]) +
			  (to[j + 1] * s->move[MATCH_NEXT] + to[j + 2] * s->move[MATCH_SKIP] +
			      far[n - 1 - j] * s->move[MATCH_SKIPS]);
	lead[n - 1] = e->jump + e->elsewhere + tray;
	for (size_t mode = 0; mode < MODES; mode++)
		lost[mode] = e->nowhere * s->leave[mode] * w->unfinished_jump;
	for (size_t j = 0; j < n; j++) {
		v[j] = (lead[j] * s->on[ATTEMPT] + to[j] * s->retry[ATTEMPT]) +
		       (bad[j] * s->first[SINCE_BAD] + fine[j] * s->first[SINCE_FINE]) +
		       lost[ATTEMPT];
		v[SINCE_BAD * n + j] = (lead[j] * s->on[SINCE_BAD] + to[j] * s->retry[SINCE_BAD]) +
				       (bad[j] * s->practice[SINCE_BAD] + lost[SINCE_BAD]);
		v[SINCE_FINE * n + j] =
		    (lead[j] * s->on[SINCE_FINE] + to[j] * s->retry[SINCE_FINE]) +
		    (fine[j] * s->practice[SINCE_FINE] + lost[SINCE_FINE]);
	}
	for (size_t mode = 0; mode < MODES; mode++)
		v[mode * n + n - 1] += e->nowhere * s->leave[mode] - lost[mode];
}

/* The row of what leads on from the places before `arc`, from that of those behind it. */
static void
backward(struct work *w, struct onward *o, size_t arc)
{
	const struct match_list *from = match_stage(&w->task, arc - 1);
	const struct match_list *to = match_stage(&w->task, arc);
	const weight joints = enter_joints(w, o, arc);
	const weight nowhere = o->next[NOWHERE], elsewhere = o->next[ELSEWHERE];
	const struct step s = step_to(w, arc, inverse(joints + nowhere + elsewhere));
	const struct entries e = { joints * s.move[MATCH_JUMP],
		elsewhere * s.move[MATCH_ELSEWHERE_MOVE], nowhere };
	weight *v = o->row + JOINTS;

	o->row[NOWHERE] =
	    nowhere * s.move[MATCH_PRACTICE_MOVE] + joints * s.move[MATCH_START] + e.elsewhere;
	o->row[ELSEWHERE] = nowhere * s.move[MATCH_LEAVE] + e.jump + elsewhere * s.stay;
	for (size_t i = 0; i < from->n; i++) {
		size_t n = match_joints(&w->task, from->v[i]);
		size_t is = match_block(&w->task, to, from->v[i]);

		lead_on(w, o, &s, &e, w->task.plan->first[from->v[i]], n,
		    is != 0 ? o->next + is : w->none, v);
		v += MODES * n;
	}
}

/* --- what an arc may mean -------------------------------------------------------------------- */

/*
 * The odds of an arc's meanings: practice, elsewhere, then the joints of each closure of its stage;
 * from those of what comes to its places and of what leads on. Returns how many.
 */
static size_t
weigh_meanings(const struct work *w, const struct onward *o, size_t arc, const weight *row)
{
	const struct match_list *stage = match_stage(&w->task, arc);
	const weight *from = row + JOINTS, *on = o->row + JOINTS;
	weight *v = o->meanings + JOINTS;

	o->meanings[NOWHERE] = row[NOWHERE] * o->row[NOWHERE];
	o->meanings[ELSEWHERE] = row[ELSEWHERE] * o->row[ELSEWHERE];
	for (size_t i = 0; i < stage->n; i++) {
		size_t n = match_joints(&w->task, stage->v[i]);

		for (size_t j = 0; j < n; j++)
			v[j] = from[j] * on[j];
		o->meanings[NOWHERE] += any_along(from + n, on + n, (MODES - 1) * n);
		v += n;
		from += MODES * n;
		on += MODES * n;
	}
	return (size_t)(v - o->meanings);
}

/* The label of the i-th meaning. */
static uint32_t
label_of(const struct work *w, const struct match_list *stage, size_t i)
{
	size_t k = 0, at = i - JOINTS;

	if (i < JOINTS)
		return i == NOWHERE ? MATCH_PRACTICE : MATCH_ELSEWHERE;
	while (at >= match_joints(&w->task, stage->v[k]))
		at -= match_joints(&w->task, stage->v[k++]);
	return w->task.plan->first[stage->v[k]] + (uint32_t)at;
}

static inline weight
greater(weight a, weight b)
{
	return a > b ? a : b;
}

/* The likeliest of n; the first of those that differ by no more than rounding. */
static size_t
likeliest(const weight *v, size_t n)
{
	weight lane[LANES] = { 0 };
	size_t i = 0;

	for (; i + LANES <= n; i += LANES)
		for (size_t k = 0; k < LANES; k++)
			lane[k] = greater(lane[k], v[i + k]);
	for (; i < n; i++)
		lane[0] = greater(lane[0], v[i]);
	for (size_t k = 1; k < LANES; k++)
		lane[0] = greater(lane[0], lane[k]);
	for (i = 0; v[i] < lane[0] * (1 - 1e-9); i++)
		;
	return i;
}

/* Marks what an unsure arc may be, of odds above `least`. true: it may be work. */
static bool
mark_possible(const struct work *w, const struct match_list *stage, const weight *v, weight least,
    uint8_t *possible)
{
	bool work = v[ELSEWHERE] > least;

	v += JOINTS;
	for (size_t i = 0; i < stage->n; i++) {
		uint8_t *mark = possible + w->task.plan->first[stage->v[i]];
		size_t n = match_joints(&w->task, stage->v[i]);

		for (size_t j = 0; j < n; j++)
			if (v[j] > least) {
				mark[j] = 1;
				work = true;
			}
		v += n;
	}
	return work;
}

/* How an arc may be read, of n meanings. */
static struct match_reading
read_arc(const struct work *w, const struct onward *o, size_t arc, size_t n, int32_t threshold,
    uint8_t *possible)
{
	const struct match_list *stage = match_stage(&w->task, arc);
	size_t best = likeliest(o->meanings, n), second;
	weight odds = o->meanings[best], others;
	struct match_reading r = { label_of(w, stage, best), MATCH_NONE, INT32_MAX, false };

	o->meanings[best] = 0;
	second = likeliest(o->meanings, n);
	others = any_of(o->meanings, n);
	if (others > 0) {
		r.second = label_of(w, stage, second);
		r.margin = (int32_t)lround(1000 * (log(odds) - log(others)));
	}
	o->meanings[best] = odds;
	if (r.margin < threshold)
		r.work = mark_possible(w, stage, o->meanings, odds * of_cost(threshold), possible);
	return r;
}

void
match_read(const struct match_plan *plan, const struct match_costs *costs,
    const struct match_machine *machine, int32_t threshold, struct match_reading *out,
    uint8_t *possible)
{
	struct work w;
	struct onward o;
	size_t end = machine->n, first;

	open_work(&w, plan, costs, machine);
	o.row = mem_zeroed(w.width, sizeof *o.row);
	o.next = mem_zeroed(w.width, sizeof *o.next);
	o.to = mem_zeroed(w.widest + 2, sizeof *o.to);
	o.lead = mem_zeroed(w.widest + 1, sizeof *o.lead);
	o.meanings = mem_zeroed(w.width, sizeof *o.meanings);
	for (; end > 0; end = first) {
		first = rows_before(&w, end);
		for (size_t arc = end; arc-- > first;) {
			weight *swap = o.next;

			o.next = o.row;
			o.row = swap;
			if (arc + 1 == machine->n)
				pay_end(&w, o.row);
			else
				backward(&w, &o, arc + 1);
			out[arc] = read_arc(&w, &o, arc,
			    weigh_meanings(&w, &o, arc, w.rows + (arc - first + 1) * w.width),
			    threshold, possible);
		}
	}
	free(o.row);
	free(o.next);
	free(o.to);
	free(o.lead);
	free(o.meanings);
	close_work(&w);
}
