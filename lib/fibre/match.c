#include "fibre/match.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/mem.h"

/*
 * A row holds the cost of every place after one arc. First come nowhere and elsewhere, then for each
 * closure of the arc's stage MODES blocks, one number a joint: the arc was an attempt at the joint
 * (ATTEMPT), or a practice arc since a bad one (SINCE_BAD) or another (SINCE_FINE).
 *
 * Rows are kept as what they are above their least, so that they fit 32 bits however many arcs there
 * are. Nothing is lost by taking FAR for "never": from any place any other can be reached by a jump
 * for a few times MATCH_COST_MOST, so what is FAR above the least is on no walk that counts.
 */
enum { NOWHERE, ELSEWHERE, JOINTS };
enum { ATTEMPT, SINCE_BAD, SINCE_FINE, MODES };
enum { FAR = 1 << 29 };

/* where exp(-apart / 1000) has become less than half a thousandth, so that nothing is added */
enum { ODDS = 7602 };

/* what the moves of one arc cost, apart from where they lead */
struct step {
	int32_t move[MATCH_MOVES];
	int32_t on[MODES], retry[MODES], practice[MODES], leave[MODES]; /* by the joint's mode */
	int32_t stay;                                                   /* elsewhere */
	size_t since; /* the mode of practice after an attempt by the arc before */
	uint8_t may;
};

struct work {
	const struct match_plan *plan;
	const struct match_costs *costs;
	const struct match_machine *machine;
	const int16_t *odds;  /* what odds so far apart add; NULL: the least counts alone */
	size_t width, widest; /* of the widest row, in numbers; of the widest closure, in joints */
	size_t every;         /* of so many rows one is kept */
	int32_t *marks;       /* the rows that are kept */
	int32_t *rows;        /* those from one that is kept to the next */
	int32_t *least;       /* of each of them: what was taken off */
	int32_t *back,
	    *next;          /* what is still to pay from each place of a row, and of the next row */
	int32_t *left, *to; /* a number a joint */
};

static inline int32_t
lesser(int32_t a, int32_t b)
{
	return a < b ? a : b;
}

/*
 * What two ways to the same place cost together: the lesser, or, where odds are added up, what they
 * are as one, -1000 ln(exp(-a / 1000) + exp(-b / 1000)).
 */
static inline int32_t
both(const struct work *w, int32_t a, int32_t b)
{
	int32_t least = lesser(a, b), apart = (a > b ? a : b) - least;

	if (w->odds == NULL)
		return least;
	/* no branches: nobody could foresee them */
	return least - (least < FAR) * w->odds[lesser(apart, ODDS)];
}

static const struct match_list *
stage_of(const struct work *w, size_t arc)
{
	return &w->machine->stages[w->machine->arcs[arc].stage];
}

static uint32_t
size_of(const struct work *w, uint32_t closure)
{
	return w->plan->first[closure + 1] - w->plan->first[closure];
}

/* Where a closure's numbers start in a row of this stage; 0: they are not in it. */
static size_t
block_of(const struct work *w, const struct match_list *stage, uint32_t closure)
{
	size_t at = JOINTS;

	for (size_t i = 0; i < stage->n; i++) {
		if (stage->v[i] == closure)
			return at;
		at += (size_t)MODES * size_of(w, stage->v[i]);
	}
	return 0;
}

static size_t
width_of(const struct work *w, const struct match_list *stage)
{
	size_t width = JOINTS;

	for (size_t i = 0; i < stage->n; i++)
		width += (size_t)MODES * size_of(w, stage->v[i]);
	return width;
}

/* What leads from the arc before to this one; before the first there is only nowhere. */
static struct step
step_to(const struct work *w, size_t arc)
{
	const struct match_costs *c = w->costs;
	const struct match_arc *a = &w->machine->arcs[arc];
	uint8_t before = arc > 0 ? a[-1].look : MATCH_DONE;
	bool bad = before == MATCH_FAILED || before == MATCH_HIGH;
	const uint8_t looks[MODES] = { before, MATCH_HIGH, MATCH_DONE };
	struct step s = { .since = bad ? SINCE_BAD : SINCE_FINE, .may = a->may };

	for (int m = 0; m < MATCH_MOVES; m++)
		s.move[m] = c->move[m] + (arc > 0 ? c->gap[a->gap][m] : 0) + c->look[a->look][m];
	if (a->begins) {
		s.move[MATCH_PRACTICE_MOVE] += c->begun;
		s.move[MATCH_LEAVE] += c->begun;
	}
	for (size_t mode = 0; mode < MODES; mode++) {
		uint8_t look = looks[mode];

		s.on[mode] = c->after_on[look];
		s.retry[mode] = s.move[MATCH_RETRY] + c->after_retry[look];
		s.practice[mode] = s.move[MATCH_PRACTICE_MOVE] + c->after_practice[look];
		s.leave[mode] = s.move[MATCH_LEAVE] + c->after_practice[look];
	}
	s.stay = lesser(s.move[MATCH_NEXT] + s.on[ATTEMPT], s.retry[ATTEMPT]);
	s.stay = lesser(s.stay, s.practice[ATTEMPT] - (a->begins ? c->begun : 0));
	return s;
}

static int32_t
begun_cost(const struct work *w, const struct match_arc *a, uint32_t joint)
{
	return a->begins && w->plan->entry[joint] == MATCH_MIDDLE ? w->costs->begun : 0;
}

/* What it costs to leave a joint of a closure for another tray. */
static inline int32_t
leave_tray(const struct work *w, const uint8_t *entry, uint32_t n, uint32_t joint)
{
	bool end = joint + 1 == n || entry[joint + 1] != MATCH_MIDDLE;

	return end ? 0 : w->costs->unfinished_tray;
}

/* The first of a rising list that is not below `joint`. */
static size_t
from_joint(const struct match_list *list, uint32_t joint)
{
	size_t low = 0, high = list->n;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (list->v[middle] < joint)
			low = middle + 1;
		else
			high = middle;
	}
	return low;
}

/*
 * Of costs of attempts, v[0] to v[n - 1] for the joints from `first`, makes FAR of those that are no
 * meaning of this arc, and adds what the others cost more by what was typed.
 */
static void
meant_costs(const struct work *w, size_t arc, uint32_t first, uint32_t n, int32_t *v)
{
	const struct match_arc *a = &w->machine->arcs[arc];
	uint32_t at = 0;

	if (a->anchor != MATCH_NONE) {
		const struct match_list *meant = &w->machine->anchors[a->anchor];

		for (size_t i = from_joint(meant, first); i < meant->n; i++) {
			if (meant->v[i] - first >= n)
				break;
			while (at < meant->v[i] - first)
				v[at++] = FAR;
			at++;
		}
		while (at < n)
			v[at++] = FAR;
	}
	for (uint32_t j = 0; a->only != MATCH_NONE && j < n; j++)
		if (first + j != a->only)
			v[j] = FAR;
	if (a->forbid != MATCH_NONE && a->forbid >= first && a->forbid - first < n)
		v[a->forbid - first] = FAR;
	for (uint32_t j = 0; a->begins && j < n; j++)
		v[j] += begun_cost(w, a, first + j);
}

/* --- forwards: what it costs at least to come to a place ------------------------------------- */

/* the least it costs to leave the row before, by moves that ask not from where */
struct exits {
	int32_t jump, elsewhere, practice;
};

/* left[j]: what it costs to have left each joint of a closure */
static int32_t
leave_joints(
    const struct work *w, const struct step *s, const int32_t *block, uint32_t n, int32_t *left)
{
	int32_t least = FAR;

	for (uint32_t j = 0; j < n; j++) {
		int32_t v = block[j] + s->on[ATTEMPT];

		for (size_t mode = 1; mode < MODES; mode++)
			v = both(w, v, block[mode * n + j] + s->on[mode]);
		left[j] = v;
		if (j + 1 < n)
			least = both(w, least, v);
	}
	return least;
}

/* Practice by which the place is lost. */
static int32_t
lose_place(const struct work *w, const struct step *s, const int32_t *block, uint32_t n)
{
	int32_t least = FAR;

	for (size_t mode = 0; mode < MODES; mode++)
		for (uint32_t j = 0; j < n; j++)
			least = both(w, least,
			    block[mode * n + j] + s->leave[mode] +
				(j + 1 < n ? w->costs->unfinished_jump : 0));
	return least;
}

static struct exits
leave_row(struct work *w, size_t arc, const struct step *s, const int32_t *prev)
{
	const struct match_costs *c = w->costs;
	struct exits x = { prev[ELSEWHERE], prev[NOWHERE], FAR };
	const struct match_list *from;
	const int32_t *block = prev + JOINTS;

	x.practice = both(w, prev[NOWHERE] + s->move[MATCH_PRACTICE_MOVE],
	    prev[ELSEWHERE] + s->move[MATCH_LEAVE]);
	if (arc == 0)
		return x;
	from = stage_of(w, arc - 1);
	for (size_t i = 0; i < from->n; i++) {
		uint32_t n = size_of(w, from->v[i]);
		int32_t midst = leave_joints(w, s, block, n, w->left), end = w->left[n - 1];

		x.jump = both(w, x.jump, both(w, end, midst + c->unfinished_jump));
		x.elsewhere = both(w, x.elsewhere, both(w, end, midst + c->unfinished_elsewhere));
		x.practice = both(w, x.practice, lose_place(w, s, block, n));
		block += (size_t)MODES * n;
	}
	return x;
}

/* Attempts by the moves that stay in the closure and go on: its joints were left at left[]. */
static void
go_within(const struct work *w, const struct step *s, uint32_t n, const uint8_t *entry, int32_t *v)
{
	const int32_t *left = w->left;
	int32_t farther = FAR, tray = FAR;

	for (uint32_t j = 0; j < n; j++)
		tray = both(w, tray, left[j] + leave_tray(w, entry, n, j));
	tray += s->move[MATCH_TRAY];
	for (uint32_t j = 0; j < n; j++) {
		if (entry[j] != MATCH_MIDDLE)
			v[j] = both(w, v[j], tray);
		if (j >= 1)
			v[j] = both(w, v[j], left[j - 1] + s->move[MATCH_NEXT]);
		if (j >= 2)
			v[j] = both(w, v[j], left[j - 2] + s->move[MATCH_SKIP]);
		if (j >= 3) {
			farther = lesser(both(w, farther + w->costs->further, left[j - 3]), FAR);
			v[j] = both(w, v[j], farther + s->move[MATCH_SKIPS]);
		}
	}
}

static void
retry_within(
    const struct work *w, const struct step *s, const int32_t *block, uint32_t n, int32_t *v)
{
	for (size_t mode = 0; mode < MODES; mode++)
		for (uint32_t j = 0; j < n; j++)
			v[j] = both(w, v[j], block[mode * n + j] + s->retry[mode]);
}

/* Practice that keeps the place; block NULL: there was none to keep. */
static void
practice_within(
    const struct work *w, const struct step *s, const int32_t *block, uint32_t n, int32_t *v)
{
	for (size_t mode = 1; mode < MODES; mode++) {
		int32_t *to = v + mode * n;

		for (uint32_t j = 0; j < n; j++)
			to[j] = FAR;
		if (block == NULL || !(s->may & MATCH_MAY_PRACTICE))
			continue;
		for (uint32_t j = 0; j < n; j++)
			to[j] = block[mode * n + j] + s->practice[mode];
		if (mode == s->since)
			for (uint32_t j = 0; j < n; j++)
				to[j] = both(w, to[j], block[j] + s->practice[ATTEMPT]);
	}
}

/* Takes off the least, and returns it. */
static int32_t
take_least(int32_t *row, size_t width)
{
	int32_t least = FAR;

	for (size_t i = 0; i < width; i++)
		least = lesser(least, row[i]);
	for (size_t i = 0; i < width; i++)
		row[i] = row[i] >= FAR ? FAR : row[i] - least;
	return least;
}

/* The row of this arc from the one before it. Returns what was taken off. */
static int32_t
forward(struct work *w, size_t arc, const int32_t *prev, int32_t *row)
{
	const struct match_list *to = stage_of(w, arc);
	struct step s = step_to(w, arc);
	struct exits x = leave_row(w, arc, &s, prev);
	int32_t *v = row + JOINTS, enter;

	row[NOWHERE] = s.may & MATCH_MAY_PRACTICE ? x.practice : FAR;
	row[ELSEWHERE] =
	    s.may & MATCH_MAY_ELSEWHERE
		? both(w, prev[ELSEWHERE] + s.stay, x.elsewhere + s.move[MATCH_ELSEWHERE_MOVE])
		: FAR;
	enter = both(w, x.jump + s.move[MATCH_JUMP], prev[NOWHERE] + s.move[MATCH_START]);
	for (size_t i = 0; i < to->n; i++) {
		uint32_t first = w->plan->first[to->v[i]], n = size_of(w, to->v[i]);
		const uint8_t *entry = w->plan->entry + first;
		size_t was = arc > 0 ? block_of(w, stage_of(w, arc - 1), to->v[i]) : 0;
		const int32_t *block = was != 0 ? prev + was : NULL;

		for (uint32_t j = 0; j < n; j++)
			v[j] = s.may & MATCH_MAY_ATTEMPT ? enter + w->costs->enter[entry[j]] : FAR;
		if (block != NULL && s.may & MATCH_MAY_ATTEMPT) {
			leave_joints(w, &s, block, n, w->left);
			go_within(w, &s, n, entry, v);
		}
		if (block != NULL && s.may & (MATCH_MAY_ATTEMPT | MATCH_MAY_RETRY))
			retry_within(w, &s, block, n, v);
		meant_costs(w, arc, first, n, v);
		practice_within(w, &s, block, n, v);
		v += (size_t)MODES * n;
	}
	return take_least(row, width_of(w, to));
}

/* --- backwards: what is still to pay from a place -------------------------------------------- */

static void
pay_end(const struct work *w, const struct match_list *stage, int32_t *row)
{
	int32_t *v = row + JOINTS;

	row[NOWHERE] = row[ELSEWHERE] = 0;
	for (size_t i = 0; i < stage->n; i++) {
		uint32_t n = size_of(w, stage->v[i]);

		for (size_t mode = 0; mode < MODES; mode++) {
			for (uint32_t j = 0; j < n; j++)
				v[j] = j + 1 < n ? w->costs->stop : 0;
			v += n;
		}
	}
}

/* what is to pay from the next row's places that can be reached from anywhere */
struct entries {
	int32_t joint, elsewhere, nowhere; /* apart from what leads to a joint or nowhere */
};

static struct entries
enter_row(struct work *w, size_t arc, const struct step *s, const int32_t *next)
{
	const struct match_list *to = stage_of(w, arc);
	const int32_t *v = next + JOINTS;
	struct entries e = { FAR, FAR, FAR };

	if (s->may & MATCH_MAY_PRACTICE)
		e.nowhere = next[NOWHERE];
	if (s->may & MATCH_MAY_ELSEWHERE)
		e.elsewhere = next[ELSEWHERE] + s->move[MATCH_ELSEWHERE_MOVE];
	for (size_t i = 0; i < to->n && s->may & MATCH_MAY_ATTEMPT; i++) {
		uint32_t first = w->plan->first[to->v[i]], n = size_of(w, to->v[i]);
		const uint8_t *entry = w->plan->entry + first;

		memcpy(w->to, v, n * sizeof *v);
		meant_costs(w, arc, first, n, w->to);
		for (uint32_t j = 0; j < n; j++)
			e.joint = both(w, e.joint, w->to[j] + w->costs->enter[entry[j]]);
		v += (size_t)MODES * n;
	}
	return e;
}

/* Adds to left[] the attempts within the closure, whose joints are in to[] what they cost on. */
static void
go_on_within(
    const struct work *w, const struct step *s, uint32_t n, const uint8_t *entry, int32_t *left)
{
	const int32_t *to = w->to;
	int32_t farther = FAR, tray = FAR;

	for (uint32_t j = 0; j < n; j++)
		if (entry[j] != MATCH_MIDDLE)
			tray = both(w, tray, to[j]);
	tray += s->move[MATCH_TRAY];
	for (uint32_t j = n; j-- > 0;) {
		int32_t v = both(w, left[j], tray + leave_tray(w, entry, n, j));

		if (j + 3 < n) {
			farther = lesser(both(w, farther + w->costs->further, to[j + 3]), FAR);
			v = both(w, v, farther + s->move[MATCH_SKIPS]);
		}
		if (j + 2 < n)
			v = both(w, v, to[j + 2] + s->move[MATCH_SKIP]);
		if (j + 1 < n)
			v = both(w, v, to[j + 1] + s->move[MATCH_NEXT]);
		left[j] = v;
	}
}

/*
 * One closure's numbers of the row before `arc`: v, from those of arc's row: block, or NULL if its
 * stage has not this closure.
 */
static void
backward_closure(struct work *w, size_t arc, uint32_t closure, const struct step *s,
    const struct entries *e, const int32_t *block, int32_t *v)
{
	const struct match_costs *c = w->costs;
	uint32_t first = w->plan->first[closure], n = size_of(w, closure);
	bool retry = block != NULL && s->may & (MATCH_MAY_ATTEMPT | MATCH_MAY_RETRY);

	for (uint32_t j = 0; j < n; j++) {
		bool end = j + 1 == n;

		w->left[j] =
		    both(w, e->joint + s->move[MATCH_JUMP] + (end ? 0 : c->unfinished_jump),
			e->elsewhere + (end ? 0 : c->unfinished_elsewhere));
	}
	if (block != NULL) {
		memcpy(w->to, block, n * sizeof *block);
		meant_costs(w, arc, first, n, w->to);
		if (s->may & MATCH_MAY_ATTEMPT)
			go_on_within(w, s, n, w->plan->entry + first, w->left);
	}
	for (size_t mode = 0; mode < MODES; mode++) {
		size_t since = mode == ATTEMPT ? s->since : mode;
		const int32_t *kept = block != NULL ? block + since * n : NULL;

		for (uint32_t j = 0; j < n; j++) {
			int32_t x = w->left[j] + s->on[mode], lost;

			if (retry)
				x = both(w, x, w->to[j] + s->retry[mode]);
			if (kept != NULL && s->may & MATCH_MAY_PRACTICE)
				x = both(w, x, kept[j] + s->practice[mode]);
			lost = s->leave[mode] + (j + 1 < n ? c->unfinished_jump : 0);
			x = both(w, x, e->nowhere + lost);
			v[mode * n + j] = x;
		}
	}
}

/* What is to pay from the places of the row before `arc`, from those of arc's own row, `next`. */
static void
backward(struct work *w, size_t arc, const int32_t *next, int32_t *row)
{
	const struct match_list *from = stage_of(w, arc - 1), *to = stage_of(w, arc);
	struct step s = step_to(w, arc);
	struct entries e = enter_row(w, arc, &s, next);
	int32_t *v = row + JOINTS;

	row[NOWHERE] = both(w, e.nowhere + s.move[MATCH_PRACTICE_MOVE],
	    both(w, e.joint + s.move[MATCH_START], e.elsewhere));
	row[ELSEWHERE] = both(w, e.nowhere + s.move[MATCH_LEAVE], e.joint + s.move[MATCH_JUMP]);
	if (s.may & MATCH_MAY_ELSEWHERE)
		row[ELSEWHERE] = both(w, row[ELSEWHERE], next[ELSEWHERE] + s.stay);
	for (size_t i = 0; i < from->n; i++) {
		size_t is = block_of(w, to, from->v[i]);

		backward_closure(w, arc, from->v[i], &s, &e, is != 0 ? next + is : NULL, v);
		v += (size_t)MODES * size_of(w, from->v[i]);
	}
	take_least(row, width_of(w, from));
}

/* --- one walk of those that cost least ------------------------------------------------------- */

/* what a number of a row is the cost of */
struct place {
	bool at_joint;
	uint32_t closure, joint; /* the joint counted within its closure */
	size_t mode;
};

static struct place
place_of(const struct work *w, const struct match_list *stage, size_t at)
{
	size_t from = JOINTS;

	for (size_t i = 0; i < stage->n && at >= JOINTS; i++) {
		uint32_t n = size_of(w, stage->v[i]);

		if (at < from + (size_t)MODES * n)
			return (struct place){ true, stage->v[i], (uint32_t)((at - from) % n),
				(at - from) / n };
		from += (size_t)MODES * n;
	}
	return (struct place){ false };
}

/* What the cheapest move that does not jump costs between two joints of one closure. */
static int32_t
within_cost(const struct work *w, const struct step *s, struct place from, struct place to)
{
	const uint8_t *entry = w->plan->entry + w->plan->first[to.closure];
	int32_t cost = FAR, on = s->on[from.mode];
	uint32_t step = to.joint - from.joint;

	if (to.mode != ATTEMPT) {
		bool same = to.mode == (from.mode == ATTEMPT ? s->since : from.mode);

		return same && to.joint == from.joint ? s->practice[from.mode] : FAR;
	}
	if (to.joint == from.joint)
		cost = s->retry[from.mode];
	if (!(s->may & MATCH_MAY_ATTEMPT))
		return cost;
	if (entry[to.joint] != MATCH_MIDDLE)
		cost = lesser(cost, on + s->move[MATCH_TRAY] +
					leave_tray(w, entry, size_of(w, to.closure), from.joint));
	if (to.joint < from.joint || step == 0)
		return cost;
	if (step == 1)
		return lesser(cost, on + s->move[MATCH_NEXT]);
	if (step == 2)
		return lesser(cost, on + s->move[MATCH_SKIP]);
	if (step - 3 > FAR / MATCH_COST_MOST)
		return cost;
	return lesser(cost, on + s->move[MATCH_SKIPS] + (int32_t)(step - 3) * w->costs->further);
}

/* What the cheapest move costs from one place, of the row before, to another. */
static int32_t
move_cost(const struct work *w, size_t arc, const struct step *s, size_t from_at, size_t to_at)
{
	const struct match_list *here = stage_of(w, arc);
	struct place from = place_of(w, stage_of(w, arc > 0 ? arc - 1 : 0), from_at);
	struct place to = place_of(w, here, to_at);
	bool midst = from.at_joint && from.joint + 1 < size_of(w, from.closure);
	uint32_t joint;
	int32_t on = from.at_joint ? s->on[from.mode] : 0, cost = FAR;

	if (to_at == NOWHERE) {
		if (!from.at_joint)
			return s->move[from_at == NOWHERE ? MATCH_PRACTICE_MOVE : MATCH_LEAVE];
		return s->leave[from.mode] + (midst ? w->costs->unfinished_jump : 0);
	}
	if (to_at == ELSEWHERE) {
		if (from_at == ELSEWHERE)
			return s->stay;
		return on + s->move[MATCH_ELSEWHERE_MOVE] +
		       (midst ? w->costs->unfinished_elsewhere : 0);
	}
	if (from.at_joint && from.closure == to.closure)
		cost = within_cost(w, s, from, to);
	if (to.mode != ATTEMPT)
		return cost;
	joint = w->plan->first[to.closure] + to.joint;
	if (s->may & MATCH_MAY_ATTEMPT) {
		uint8_t entry = w->plan->entry[joint];

		cost = lesser(cost, on + s->move[from_at == NOWHERE ? MATCH_START : MATCH_JUMP] +
					w->costs->enter[entry] +
					(midst ? w->costs->unfinished_jump : 0));
	}
	return cost + begun_cost(w, &w->machine->arcs[arc], joint);
}

/* The place before, on a walk that comes to this one at its cost; the likely ones are tried first. */
static size_t
came_from(const struct work *w, size_t arc, const int32_t *prev, int32_t cost, size_t at)
{
	const struct match_list *from = stage_of(w, arc > 0 ? arc - 1 : 0);
	size_t width = arc > 0 ? width_of(w, from) : JOINTS, block, guess[2 * MODES], n = 0;
	struct place to = place_of(w, stage_of(w, arc), at);
	struct step s = step_to(w, arc);

	block = arc > 0 && to.at_joint ? block_of(w, from, to.closure) : 0;
	for (size_t mode = 0; block != 0 && mode < MODES; mode++) {
		size_t same = block + mode * size_of(w, to.closure) + to.joint;

		guess[n++] = same;
		if (to.joint > 0)
			guess[n++] = same - 1;
	}
	for (size_t i = 0; i < n + width; i++) {
		size_t p = i < n ? guess[i] : i - n;

		if (prev[p] < FAR && prev[p] + move_cost(w, arc, &s, p, at) == cost)
			return p;
	}
	return NOWHERE; /* never: some move has made this cost */
}

/* --- what each arc may mean ------------------------------------------------------------------ */

static uint32_t
label_of(const struct work *w, size_t arc, size_t at)
{
	struct place p = place_of(w, stage_of(w, arc), at);

	if (at == ELSEWHERE)
		return MATCH_ELSEWHERE;
	if (at == NOWHERE || p.mode != ATTEMPT)
		return MATCH_PRACTICE;
	return w->plan->first[p.closure] + p.joint;
}

/*
 * Makes of row, the costs to come to each place, those of whole walks through it, above their least;
 * all that mean practice are gathered in NOWHERE.
 */
static void
whole_walks(const struct work *w, size_t arc, int32_t *row, const int32_t *back)
{
	const struct match_list *stage = stage_of(w, arc);
	size_t width = width_of(w, stage), at = JOINTS;

	for (size_t i = 0; i < width; i++)
		row[i] = row[i] >= FAR ? FAR : row[i] + back[i];
	take_least(row, width);
	for (size_t i = 0; i < stage->n; i++) {
		uint32_t n = size_of(w, stage->v[i]);

		for (size_t k = n; k < (size_t)MODES * n; k++)
			row[NOWHERE] = both(w, row[NOWHERE], row[at + k]);
		at += (size_t)MODES * n;
	}
}

/*
 * Moves the costs of an arc's meanings, as whole_walks has made them, to the front of row: practice,
 * elsewhere, then the joints of each closure. Returns how many.
 */
static size_t
gather(const struct work *w, const struct match_list *stage, int32_t *row)
{
	size_t from = JOINTS, to = JOINTS;

	for (size_t i = 0; i < stage->n; i++) {
		uint32_t n = size_of(w, stage->v[i]);

		memmove(row + to, row + from, n * sizeof *row);
		from += (size_t)MODES * n;
		to += n;
	}
	return to;
}

/* The label of the i-th meaning. */
static uint32_t
meaning(const struct work *w, const struct match_list *stage, size_t i)
{
	size_t k = 0, at = i - JOINTS;

	if (i < JOINTS)
		return i == NOWHERE ? MATCH_PRACTICE : MATCH_ELSEWHERE;
	while (at >= size_of(w, stage->v[k]))
		at -= size_of(w, stage->v[k++]);
	return w->plan->first[stage->v[k]] + (uint32_t)at;
}

/* How an arc may be read; row is what whole_walks made. */
static void
read_arc(const struct work *w, size_t arc, int32_t *row, int32_t threshold,
    struct match_reading *out, match_seen *seen, void *arg)
{
	const struct match_list *stage = stage_of(w, arc);
	size_t n = gather(w, stage, row), best = 0, second = n;
	int32_t others = FAR;

	for (size_t i = 1; i < n; i++)
		if (row[i] < row[best])
			best = i;
	for (size_t i = 0; i < n; i++) {
		if (i == best || row[i] >= FAR)
			continue;
		others = both(w, others, row[i]);
		if (second == n || row[i] < row[second])
			second = i;
	}
	out->label = meaning(w, stage, best);
	out->second = second < n ? meaning(w, stage, second) : MATCH_NONE;
	out->margin = second < n ? others - row[best] : INT32_MAX;
	for (size_t i = 0; seen != NULL && out->margin < threshold && i < n; i++)
		if (row[i] < FAR && row[i] - row[best] < threshold)
			seen(arg, arc, meaning(w, stage, i), row[i] - row[best]);
}

/* --- all arcs -------------------------------------------------------------------------------- */

static void
open_work(struct work *w)
{
	size_t n = w->machine->n, kept;

	w->width = JOINTS;
	for (size_t arc = 0; arc < n; arc++) {
		const struct match_list *stage = stage_of(w, arc);
		size_t width = width_of(w, stage);

		w->width = width > w->width ? width : w->width;
		for (size_t i = 0; i < stage->n; i++)
			if (size_of(w, stage->v[i]) > w->widest)
				w->widest = size_of(w, stage->v[i]);
	}
	for (w->every = 1; w->every * w->every < n; w->every++)
		;
	kept = n / w->every + 1;
	w->marks = mem_zeroed(kept * w->width, sizeof *w->marks);
	w->rows = mem_zeroed((w->every + 1) * w->width, sizeof *w->rows);
	w->least = mem_zeroed(w->every + 1, sizeof *w->least);
	w->back = mem_zeroed(w->width, sizeof *w->back);
	w->next = mem_zeroed(w->width, sizeof *w->next);
	w->left = mem_zeroed(w->widest + 1, sizeof *w->left);
	w->to = mem_zeroed(w->widest + 1, sizeof *w->to);
}

static void
close_work(struct work *w)
{
	free(w->marks);
	free(w->rows);
	free(w->least);
	free(w->back);
	free(w->next);
	free(w->left);
	free(w->to);
}

/* Row r is that after r arcs; keeps each of w->every. Returns what was taken off in all. */
static int64_t
all_forward(struct work *w)
{
	int32_t *prev = w->rows, *row = w->rows + w->width, *swap;
	int64_t total = 0;

	for (size_t i = 0; i < w->width; i++)
		prev[i] = i == NOWHERE ? 0 : FAR;
	for (size_t arc = 0; arc < w->machine->n; arc++) {
		if (arc % w->every == 0)
			memcpy(w->marks + arc / w->every * w->width, prev, w->width * sizeof *prev);
		total += forward(w, arc, prev, row);
		swap = prev;
		prev = row;
		row = swap;
	}
	return total;
}

/* The rows of the arcs from `first`, of which the row before is kept, to end - 1. */
static void
block_forward(struct work *w, size_t first, size_t end)
{
	memcpy(w->rows, w->marks + first / w->every * w->width, w->width * sizeof *w->rows);
	for (size_t arc = first; arc < end; arc++)
		w->least[arc - first] = forward(w, arc, w->rows + (arc - first) * w->width,
		    w->rows + (arc - first + 1) * w->width);
}

/* The place after the last arc in a walk that costs least; *rest is what its end costs. */
static size_t
cheapest_end(const struct work *w, const int32_t *row, int32_t *rest)
{
	const struct match_list *stage = stage_of(w, w->machine->n - 1);
	size_t best = 0;

	pay_end(w, stage, w->back);
	for (size_t i = 1; i < width_of(w, stage); i++)
		if (row[i] + w->back[i] < row[best] + w->back[best])
			best = i;
	*rest = row[best] + w->back[best];
	return best;
}

int64_t
match_walk(const struct match_plan *plan, const struct match_costs *costs,
    const struct match_machine *machine, uint32_t *labels)
{
	struct work w = { plan, costs, machine };
	size_t at = NOWHERE, end = machine->n, first;
	int64_t total;
	int32_t rest;

	if (machine->n == 0)
		return 0;
	open_work(&w);
	total = all_forward(&w);
	for (; end > 0; end = first) {
		first = (end - 1) / w.every * w.every;
		block_forward(&w, first, end);
		if (end == machine->n) {
			at = cheapest_end(&w, w.rows + (end - first) * w.width, &rest);
			total += rest;
		}
		for (size_t arc = end; arc-- > first;) {
			const int32_t *prev = w.rows + (arc - first) * w.width;

			labels[arc] = label_of(&w, arc, at);
			at =
			    came_from(&w, arc, prev, prev[w.width + at] + w.least[arc - first], at);
		}
	}
	close_work(&w);
	return total;
}

/* Fills odds[0] to odds[ODDS - 1] for both(); odds[ODDS] is 0. */
static void
make_odds(int16_t *odds)
{
	for (int apart = 0; apart < ODDS; apart++)
		odds[apart] = (int16_t)lround(1000 * log1p(exp(-apart / 1000.0)));
}

void
match_read(const struct match_plan *plan, const struct match_costs *costs,
    const struct match_machine *machine, bool odds, int32_t threshold, struct match_reading *out,
    match_seen *seen, void *arg)
{
	int16_t *table = odds ? mem_zeroed(ODDS + 1, sizeof *table) : NULL;
	struct work w = { plan, costs, machine, table };
	size_t end = machine->n, first;

	if (odds)
		make_odds(table);
	open_work(&w);
	all_forward(&w);
	for (; end > 0; end = first) {
		first = (end - 1) / w.every * w.every;
		block_forward(&w, first, end);
		for (size_t arc = end; arc-- > first;) {
			int32_t *row = w.rows + (arc - first + 1) * w.width, *swap = w.back;

			if (arc + 1 == machine->n)
				pay_end(&w, stage_of(&w, arc), w.back);
			else
				backward(&w, arc + 1, w.next, w.back);
			whole_walks(&w, arc, row, w.back);
			read_arc(&w, arc, row, threshold, &out[arc], seen, arg);
			w.back = w.next;
			w.next = swap;
		}
	}
	close_work(&w);
	free(table);
}
