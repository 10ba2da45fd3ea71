/*
 * The cheapest walk (Viterbi 1967). Weights are costs, along is a sum, either the lesser. They are
 * whole numbers, and exact where they count: see match_forward.h on how far apart those of a row are,
 * and floats have each whole number up to 2^24. Floats, as they have a number for what cannot be, and
 * machines an instruction for the lesser of four.
 */
#include "match/match.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/mem.h"
#include "base/lower_bound.h"
#include "match/place.h"

typedef float weight;

static const weight NEVER = INFINITY;

static inline weight
of_cost(int32_t cost)
{
	return (weight)cost;
}

static inline weight
along(weight a, weight b)
{
	return a + b;
}

static inline weight
either(weight a, weight b)
{
	return a < b ? a : b;
}

static inline weight
settled(weight a)
{
	return a;
}

static inline weight
inverse(weight a)
{
	return a < NEVER ? -a : 0;
}

#include "match/forward.h"

/* What the cheapest move that does not jump costs between two joints of one closure. */
static weight
within_cost(
    const struct work *w, const struct step *s, struct match_place from, struct match_place to)
{
	const uint32_t first = w->task.plan->first[to.closure], ahead = to.joint - from.joint;
	weight go_on = NEVER;

	if (to.mode != ATTEMPT) {
		if (to.joint != from.joint)
			return NEVER;
		return from.mode == ATTEMPT   ? s->first[to.mode]
		       : from.mode == to.mode ? s->practice[to.mode]
					      : NEVER;
	}
	if (to.joint > from.joint)
		go_on = ahead == 1   ? s->move[MATCH_NEXT]
			: ahead == 2 ? s->move[MATCH_SKIP]
				     : s->move[MATCH_SKIPS] + (weight)(ahead - 3) * w->further;
	go_on = either(
	    go_on, s->move[MATCH_TRAY] + w->end[first + from.joint] + w->start[first + to.joint]);
	return either(
	    go_on + s->on[from.mode], to.joint == from.joint ? s->retry[from.mode] : NEVER);
}

/* What the cheapest move costs from one place, of the row before, to another. */
static weight
move_cost(const struct work *w, size_t arc, const struct step *s, size_t from_at, size_t to_at)
{
	struct match_place from =
	    match_place_of(&w->task, match_stage(&w->task, arc > 0 ? arc - 1 : 0), from_at);
	struct match_place to = match_place_of(&w->task, match_stage(&w->task, arc), to_at);
	bool midst = from.at_joint && from.joint + 1 < match_joints(&w->task, from.closure);
	weight on = from.at_joint ? s->on[from.mode] : 0, cost = NEVER;
	size_t joint;

	if (to_at == NOWHERE) {
		if (!from.at_joint)
			return s->move[from_at == NOWHERE ? MATCH_PRACTICE_MOVE : MATCH_LEAVE];
		return s->leave[from.mode] + (midst ? w->unfinished_jump : 0);
	}
	if (to_at == ELSEWHERE) {
		if (from_at == ELSEWHERE)
			return s->stay;
		return on + s->move[MATCH_ELSEWHERE_MOVE] + (midst ? w->unfinished_elsewhere : 0);
	}
	if (from.at_joint && from.closure == to.closure)
		cost = within_cost(w, s, from, to);
	if (to.mode != ATTEMPT)
		return cost;
	joint = w->task.plan->first[to.closure] + to.joint;
	cost = either(cost, on + s->move[from_at == NOWHERE ? MATCH_START : MATCH_JUMP] +
				w->begin[joint] + (midst ? w->unfinished_jump : 0));
	if (w->task.machine->arcs[arc].begins && w->task.plan->entry[joint] == MATCH_MIDDLE)
		cost += w->begun;
	return cost;
}

/* The place before, on a walk that comes to this one for `cost`; the likely ones are tried first. */
static size_t
came_from(const struct work *w, size_t arc, const weight *prev, weight cost, size_t at)
{
	const struct match_list *from = match_stage(&w->task, arc > 0 ? arc - 1 : 0);
	size_t width = arc > 0 ? match_width(&w->task, from) : JOINTS, block, guess[2 * MODES],
	       n = 0;
	struct match_place to = match_place_of(&w->task, match_stage(&w->task, arc), at);
	struct step s = step_to(w, arc, 0);

	block = arc > 0 && to.at_joint ? match_block(&w->task, from, to.closure) : 0;
	for (size_t mode = 0; block != 0 && mode < MODES; mode++) {
		size_t same = block + mode * match_joints(&w->task, to.closure) + to.joint;

		guess[n++] = same;
		if (to.joint > 0)
			guess[n++] = same - 1;
	}
	for (size_t i = 0; i < n + width; i++) {
		size_t p = i < n ? guess[i] : i - n;

		if (prev[p] < NEVER && prev[p] + move_cost(w, arc, &s, p, at) == cost)
			return p;
	}
	return NOWHERE; /* never: some move has made this cost */
}

/* The place behind the last arc in a walk that costs least. */
static size_t
cheapest_end(const struct work *w)
{
	const struct match_list *stage = match_stage(&w->task, w->task.machine->n - 1);
	weight *end = mem_zeroed(w->width, sizeof *end);
	size_t best = 0;

	pay_end(w, end);
	for (size_t i = 1; i < match_width(&w->task, stage); i++)
		if (w->last[i] + end[i] < w->last[best] + end[best])
			best = i;
	free(end);
	return best;
}

/*
 * The places of the walk whose place behind the arc end - 1 is known: places[arc] is that behind an
 * arc. If another walk is given, and arcs before `same` are what they were when it was found, the two
 * are one before any of these arcs where they meet.
 */
static void
walk_back(struct work *w, size_t end, const size_t *other, size_t same, size_t *places)
{
	for (size_t first; end > 0; end = first) {
		first = rows_before(w, end);
		for (size_t arc = end; arc-- > first && arc > 0;) {
			const weight *prev = w->rows + (arc - first) * w->width;
			weight cost = prev[w->width + places[arc]] + w->all[arc];

			places[arc - 1] = came_from(w, arc, prev, cost, places[arc]);
			if (other != NULL && arc <= same && places[arc - 1] == other[arc - 1]) {
				memcpy(places, other, arc * sizeof *places);
				return;
			}
		}
	}
}

static uint32_t
label_of(const struct work *w, size_t arc, size_t at)
{
	struct match_place p = match_place_of(&w->task, match_stage(&w->task, arc), at);

	if (at == ELSEWHERE)
		return MATCH_ELSEWHERE;
	if (at == NOWHERE || p.mode != ATTEMPT)
		return MATCH_PRACTICE;
	return w->task.plan->first[p.closure] + p.joint;
}

static void
label_all(const struct work *w, const size_t *places, uint32_t *labels)
{
	for (size_t arc = 0; arc < w->task.machine->n; arc++)
		labels[arc] = label_of(w, arc, places[arc]);
}

/* The cheapest walk in which one arc is not what it is in the walk `places`. */
static void
walk_otherwise(struct work *w, const size_t *places, size_t arc, uint32_t *labels)
{
	size_t n = w->task.machine->n, end;
	size_t *others = mem_zeroed(n, sizeof *others);

	w->barred_arc = arc;
	w->barred = label_of(w, arc, places[arc]);
	end = keep_rows(w, arc / w->every * w->every, true);
	if (end == n)
		others[end - 1] = cheapest_end(w);
	else
		memcpy(others + end - 1, places + end - 1, (n - end + 1) * sizeof *others);
	walk_back(w, end, places, arc, others);
	label_all(w, others, labels);
	free(others);
}

void
match_walk(const struct match_plan *plan, const struct match_costs *costs,
    const struct match_machine *machine, size_t arc, uint32_t *labels, uint32_t *others)
{
	struct work w;
	size_t *places;

	if (machine->n == 0)
		return;
	open_work(&w, plan, costs, machine);
	places = mem_zeroed(machine->n, sizeof *places);
	places[machine->n - 1] = cheapest_end(&w);
	walk_back(&w, machine->n, NULL, 0, places);
	label_all(&w, places, labels);
	if (others != NULL)
		walk_otherwise(&w, places, arc, others);
	free(places);
	close_work(&w);
}
