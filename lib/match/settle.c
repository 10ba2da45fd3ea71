#include "match/settle.h"

#include <stdlib.h>

#include "base/mem.h"

static bool
is_joint(uint32_t label)
{
	return label < MATCH_ELSEWHERE;
}

static const struct match_record *
record(const struct match_night *n, size_t i)
{
	return &n->arcs->v[i];
}

static bool
same_machine(const struct match_night *n, size_t a, size_t b)
{
	return record(n, a)->machine == record(n, b)->machine;
}

static void
leave(struct match_night *n, size_t i)
{
	n->v[i].fate = MATCH_LEFT;
	if (is_joint(n->v[i].label))
		n->doubtful[n->v[i].label] = 1;
}

/* --- the readings ---------------------------------------------------------------------------- */

static size_t
first_of(const struct match_night *n, const struct match_one *one)
{
	return (size_t)(one->records - n->arcs->v);
}

static void
read_machine(struct match_night *n, const struct match_one *one, struct match_reading *out)
{
	size_t first = first_of(n, one);

	match_read(&n->arcs->plan->match, &n->arcs->table->costs, &one->match, n->threshold, out,
	    n->doubtful);
	for (size_t i = 0; i < one->match.n; i++) {
		struct match_settled *v = &n->v[first + i];

		*v = (struct match_settled){ .label = out[i].label,
			.second = out[i].second,
			.margin = out[i].margin,
			.one = out[i].label,
			.other = out[i].label };
		v->fate = is_joint(v->label)           ? MATCH_JOINED
			  : v->label == MATCH_PRACTICE ? MATCH_PRACTISED
						       : MATCH_AWAY;
		if (out[i].work || one->records[i].trouble == MATCH_UNFITTING)
			leave(n, first + i);
	}
}

/* Work elsewhere that begins where something outside the plan was typed is outside as well. */
static void
set_outside(struct match_night *n)
{
	bool outside = false;

	for (size_t i = 0; i < n->arcs->nread; i++) {
		struct match_settled *s = &n->v[i];

		if (i > 0 && !same_machine(n, i, i - 1))
			outside = false;
		if (record(n, i)->outside)
			outside = true;
		else if (s->fate != MATCH_AWAY && s->fate != MATCH_PRACTISED)
			outside = false;
		if (record(n, i)->outside || (outside && s->fate == MATCH_AWAY))
			s->fate = MATCH_OUTSIDE;
	}
}

/* --- claims ---------------------------------------------------------------------------------- */

static uint32_t
closure_of(const struct match_night *n, uint32_t joint)
{
	return n->arcs->plan->v[joint].closure;
}

/* Leaves the arcs of the visit from i on in one direction, as far as to a typed joint. */
static void
doubt_to(struct match_night *n, size_t i, int step)
{
	uint32_t closure = MATCH_NONE;

	for (size_t k = i;; k += (size_t)step) {
		struct match_settled *s = &n->v[k];

		if (s->label == MATCH_ELSEWHERE)
			return;
		if (is_joint(s->label)) {
			if (closure != MATCH_NONE && closure_of(n, s->label) != closure)
				return;
			closure = closure_of(n, s->label);
			if (record(n, k)->pinned)
				return;
			s->claimed = true;
			leave(n, k);
		}
		if (step < 0 ? k == 0 : k + 1 == n->arcs->nread)
			return;
		if (!same_machine(n, k, k + (size_t)step))
			return;
	}
}

static void
doubt_backward(struct match_night *n)
{
	for (size_t i = 1; i < n->arcs->nread; i++)
		if (record(n, i)->backward && same_machine(n, i, i - 1)) {
			doubt_to(n, i, 1);
			doubt_to(n, i - 1, -1);
		}
}

/*
 * Numbers the visits to joints: arcs of one machine at one joint, with none at another between. Says
 * which have a typed joint, and counts those of each joint.
 */
static void
number_visits(struct match_night *n, uint32_t *visit, uint8_t *typed, uint32_t *count)
{
	uint32_t last = MATCH_NONE, v = 0;

	for (size_t i = 0; i < n->arcs->nread; i++) {
		uint32_t label = n->v[i].label;

		if ((i > 0 && !same_machine(n, i, i - 1)) || label == MATCH_ELSEWHERE)
			last = MATCH_NONE;
		if (is_joint(label) && label != last) {
			v++;
			last = label;
			count[label]++;
		}
		visit[i] = v;
		typed[v] |= is_joint(label) && record(n, i)->pinned;
	}
}

/* Leaves the visits to a joint that has several, but for those that have it typed. */
static void
doubt_claims(struct match_night *n)
{
	uint32_t *visit = mem_zeroed(n->arcs->nread + 1, sizeof *visit);
	uint32_t *count = mem_zeroed(n->arcs->plan->match.joints + 1, sizeof *count);
	uint8_t *typed = mem_zeroed(n->arcs->nread + 1, sizeof *typed);

	number_visits(n, visit, typed, count);
	for (size_t i = 0; i < n->arcs->nread; i++) {
		const struct match_settled *s = &n->v[i];

		if (!is_joint(s->label) || s->claimed || count[s->label] < 2 || typed[visit[i]])
			continue;
		doubt_to(n, i, 1);
		doubt_to(n, i, -1);
	}
	free(visit);
	free(count);
	free(typed);
}

/* A joint that might be an arc that is left is left as a whole. */
static void
leave_doubtful(struct match_night *n)
{
	for (size_t i = 0; i < n->arcs->nread; i++)
		if (n->v[i].fate == MATCH_JOINED && n->doubtful[n->v[i].label])
			n->v[i].fate = MATCH_LEFT;
}

/* --- attempts -------------------------------------------------------------------------------- */

/* an arc, to be put in the order of time */
struct timed {
	const struct match_record *r;
	uint32_t arc;
};

static int
by_time(const void *pa, const void *pb)
{
	const struct timed *a = pa, *b = pb;
	int order = when_order(&a->r->at, &b->r->at);

	if (order != 0)
		return order;
	/* of one machine they are in order already */
	if (a->r->machine == b->r->machine)
		return a->arc < b->arc ? -1 : 1;
	return a->r->order < b->r->order ? -1 : 1;
}

static void
number_attempts(struct match_night *n)
{
	uint32_t *count = mem_zeroed(n->arcs->plan->match.joints + 1, sizeof *count);
	struct timed *timed = mem_zeroed(n->arcs->nread + 1, sizeof *timed);

	for (size_t i = 0; i < n->arcs->nread; i++)
		if (n->v[i].fate == MATCH_JOINED)
			timed[n->njoined++] = (struct timed){ record(n, i), (uint32_t)i };
	qsort(timed, n->njoined, sizeof *timed, by_time);
	n->joined = mem_zeroed(n->njoined + 1, sizeof *n->joined);
	for (size_t k = 0; k < n->njoined; k++) {
		struct match_settled *s = &n->v[timed[k].arc];

		n->joined[k] = timed[k].arc;
		s->attempt = ++count[s->label];
		n->recorded[s->label] = 1;
	}
	for (size_t k = 0; k < n->njoined; k++) {
		struct match_settled *s = &n->v[n->joined[k]];

		s->stands = s->attempt == count[s->label];
	}
	free(count);
	free(timed);
}

/* --- stretches ------------------------------------------------------------------------------- */

/* Practice arcs within a stretch do not end it. */
static void
find_stretches(struct match_night *n)
{
	struct match_stretch *s = NULL;

	for (size_t i = 0; i < n->arcs->nread; i++) {
		if (i > 0 && !same_machine(n, i, i - 1))
			s = NULL;
		if (n->v[i].fate == MATCH_PRACTISED)
			continue;
		if (n->v[i].fate < MATCH_LEFT) {
			s = NULL;
			continue;
		}
		if (s == NULL) {
			n->stretch = mem_grow(
			    n->stretch, &n->stretch_cap, n->nstretches + 1, sizeof *n->stretch);
			s = &n->stretch[n->nstretches++];
			s->first = i;
			s->two = false;
		}
		s->end = i + 1;
	}
}

static size_t
weakest_arc(const struct match_night *n, const struct match_stretch *s)
{
	size_t weakest = s->first;

	for (size_t i = s->first; i < s->end; i++)
		if (n->v[i].margin < n->v[weakest].margin)
			weakest = i;
	return weakest;
}

static bool
is_sure_work(const struct match_night *n, size_t i)
{
	return n->v[i].fate == MATCH_JOINED || n->v[i].fate == MATCH_OUTSIDE;
}

/* Holds an arc that is sure to its joint. */
static void
hold(const struct match_night *n, size_t i, struct match_arc *arc)
{
	if (n->v[i].fate != MATCH_JOINED)
		return;
	arc->may = MATCH_MAY_ATTEMPT;
	arc->only = n->v[i].label;
}

/* room for the arcs of a night, and for two readings of them */
struct room {
	struct match_arc *arcs;
	uint32_t *labels, *others;
};

/*
 * The two readings of a stretch, each of one piece: the cheapest walk, and the cheapest in which the
 * weakest arc is something else. The walks are those of the arcs from the last sure arc before it to
 * the first behind it.
 */
static void
read_stretch(struct match_night *n, struct match_stretch *s, const struct room *room)
{
	const struct match_one *one = &n->arcs->machine[record(n, s->first)->machine];
	size_t machine = first_of(n, one), from = s->first, to = s->end, last, weakest;
	struct match_machine part = { room->arcs, 0, one->match.stages, one->match.anchors };

	last = machine + one->match.n;
	while (from > machine && !is_sure_work(n, from))
		from--;
	while (to < last && !is_sure_work(n, to - 1))
		to++;
	part.n = to - from;
	memcpy(room->arcs, one->match.arcs + (from - machine), part.n * sizeof *room->arcs);
	hold(n, from, &room->arcs[0]);
	hold(n, to - 1, &room->arcs[part.n - 1]);
	weakest = weakest_arc(n, s);
	s->two = n->v[weakest].margin < n->threshold;
	match_walk(&n->arcs->plan->match, &n->arcs->table->costs, &part, weakest - from,
	    room->labels, s->two ? room->others : NULL);
	for (size_t i = s->first; i < s->end; i++) {
		n->v[i].one = room->labels[i - from];
		n->v[i].other = (s->two ? room->others : room->labels)[i - from];
	}
}

/* --- all of it ------------------------------------------------------------------------------- */

void
match_settle(struct match_night *n, const struct match_arcs *arcs, int32_t threshold)
{
	struct match_reading *out = mem_zeroed(arcs->nread + 1, sizeof *out);
	struct room room;

	*n = (struct match_night){ .arcs = arcs, .threshold = threshold };
	n->v = mem_zeroed(arcs->nread + 1, sizeof *n->v);
	n->recorded = mem_zeroed(arcs->plan->match.joints + 1, sizeof *n->recorded);
	n->doubtful = mem_zeroed(arcs->plan->match.joints + 1, sizeof *n->doubtful);
	for (size_t m = 0; m < arcs->machines.n; m++)
		if (arcs->machine[m].match.n > 0)
			read_machine(n, &arcs->machine[m], out);
	set_outside(n);
	doubt_backward(n);
	doubt_claims(n);
	leave_doubtful(n);
	number_attempts(n);
	find_stretches(n);
	room.arcs = mem_zeroed(arcs->nread + 1, sizeof *room.arcs);
	room.labels = mem_zeroed(arcs->nread + 1, sizeof *room.labels);
	room.others = mem_zeroed(arcs->nread + 1, sizeof *room.others);
	for (size_t k = 0; k < n->nstretches; k++)
		read_stretch(n, &n->stretch[k], &room);
	free(out);
	free(room.arcs);
	free(room.labels);
	free(room.others);
}

void
match_night_free(struct match_night *n)
{
	free(n->v);
	free(n->stretch);
	free(n->joined);
	free(n->recorded);
	free(n->doubtful);
	*n = (struct match_night){ NULL };
}
