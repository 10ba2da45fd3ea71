/*
 * match: against every walk there is, one by one, in small cases. The walks are tried here from the
 * words of match.h alone, one move after the other. In longer cases, where rows are kept and made
 * again, a walk that was barred from a meaning against the walk of arcs that never had it.
 */
#include "match/match.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdlib.h>

#include "check.h"

enum { JOINTS = 10, ARCS = 6, CLOSURES = 4, STAGES = 3, ANCHORS = 3, LABELS = JOINTS + 2 };
enum { PRACTICE = JOINTS, ELSEWHERE };
enum { LONG_JOINTS = 60, LONG_ARCS = 150 };
#define NEVER INT64_MAX

/* a case, with room for what its lists point to */
struct small {
	struct match_plan plan;
	struct match_costs costs;
	struct match_machine machine;
	uint32_t first[CLOSURES + 1];
	uint8_t entry[LONG_JOINTS];
	struct match_arc arcs[LONG_ARCS];
	struct match_list stages[STAGES], anchors[ANCHORS + 1];
	uint32_t closures[STAGES][CLOSURES], joints[ANCHORS + 1][LONG_JOINTS];
};

/* where a walk stands */
struct at {
	int joint; /* or -1 nowhere, -2 elsewhere */
	int look;  /* of the last attempt, if at a joint */
};

struct tried {
	const struct small *s;
	int label[ARCS]; /* of the walk being tried */
	int64_t cost;
	const int *only; /* NULL, or the labels a walk must have */
	int64_t least, by[ARCS][LABELS];
	double odds[ARCS][LABELS]; /* the sum of exp((base - cost) / 1000) */
	int64_t base;
};

static size_t
below(uint64_t *state, size_t n)
{
	return (size_t)(check_random(state) >> 33) % n;
}

static int32_t
any_cost(uint64_t *state, size_t most)
{
	return (int32_t)below(state, most + 1);
}

static void
make_costs(struct match_costs *c, size_t most, uint64_t *state)
{
	for (int m = 0; m < MATCH_MOVES; m++) {
		c->move[m] = any_cost(state, most);
		for (int g = 0; g < MATCH_GAPS; g++)
			c->gap[g][m] = any_cost(state, most);
		for (int l = 0; l < MATCH_LOOKS; l++)
			c->look[l][m] = any_cost(state, most);
	}
	for (int l = 0; l < MATCH_LOOKS; l++) {
		c->after_on[l] = any_cost(state, most);
		c->after_retry[l] = any_cost(state, most);
		c->after_practice[l] = any_cost(state, most);
	}
	c->further = any_cost(state, most);
	for (int e = 0; e < MATCH_ENTRIES; e++)
		c->enter[e] = any_cost(state, most);
	c->unfinished_tray = any_cost(state, most);
	c->unfinished_jump = any_cost(state, most);
	c->unfinished_elsewhere = any_cost(state, most);
	c->begun = any_cost(state, most);
	c->stop = any_cost(state, most);
}

/* some of 0 to n - 1, rising */
static struct match_list
some_of(uint32_t *v, size_t n, uint64_t *state)
{
	struct match_list list = { v, 0 };

	for (size_t i = 0; i < n; i++)
		if (below(state, 3) > 0)
			v[list.n++] = (uint32_t)i;
	return list;
}

static void
make_case(struct small *s, size_t joints, size_t n, uint64_t *state)
{
	static const uint8_t mays[] = { MATCH_MAY_ATTEMPT | MATCH_MAY_PRACTICE |
					    MATCH_MAY_ELSEWHERE,
		MATCH_MAY_ATTEMPT | MATCH_MAY_PRACTICE, MATCH_MAY_ATTEMPT | MATCH_MAY_ELSEWHERE,
		MATCH_MAY_RETRY | MATCH_MAY_ELSEWHERE, MATCH_MAY_PRACTICE, MATCH_MAY_ATTEMPT,
		MATCH_MAY_RETRY | MATCH_MAY_PRACTICE, MATCH_MAY_ELSEWHERE };
	size_t closures = 0;

	memset(s, 0, sizeof *s);
	make_costs(&s->costs,
	    below(state, 3) == 0 ? 3
	    : below(state, 2)    ? 100
				 : MATCH_COST_MOST,
	    state);
	for (size_t j = 0; j < joints; j++) {
		bool starts = j == 0 || (closures < CLOSURES && below(state, joints) < 2);

		if (starts)
			s->first[closures++] = (uint32_t)j;
		s->entry[j] = starts                 ? MATCH_CLOSURE_START
			      : below(state, 3) == 0 ? MATCH_TRAY_START
						     : MATCH_MIDDLE;
	}
	s->first[closures] = (uint32_t)joints;
	s->plan = (struct match_plan){ joints, closures, s->first, s->entry };
	for (size_t i = 0; i < STAGES; i++)
		s->stages[i] = some_of(s->closures[i], closures, state);
	for (size_t i = 0; i < ANCHORS; i++)
		s->anchors[i] = some_of(s->joints[i], joints, state);
	for (size_t i = 0; i < n; i++)
		s->arcs[i] = (struct match_arc){
			.gap = (uint8_t)below(state, MATCH_GAPS),
			.look = (uint8_t)below(state, MATCH_LOOKS),
			.begins = below(state, 4) == 0,
			.may = mays[below(state, 2) ? 0 : below(state, sizeof mays)],
			.stage = (uint32_t)(i > 0 && below(state, 2) ? s->arcs[i - 1].stage
								     : below(state, STAGES)),
			.anchor = below(state, 4) ? MATCH_NONE : (uint32_t)below(state, ANCHORS),
			.only = below(state, 8) ? MATCH_NONE : (uint32_t)below(state, joints),
		};
	s->machine = (struct match_machine){ s->arcs, n, s->stages, s->anchors };
}

static void
make_small(struct small *s, uint64_t *state)
{
	size_t joints = 1 + below(state, JOINTS), n = 1 + below(state, joints > 6 ? 4 : ARCS - 1);

	make_case(s, joints, n, state);
}

static bool
in_list(const struct match_list *list, size_t x)
{
	for (size_t i = 0; i < list->n; i++)
		if (list->v[i] == x)
			return true;
	return false;
}

static size_t
closure_of(const struct small *s, int joint)
{
	size_t c = 0;

	while (s->first[c + 1] <= (uint32_t)joint)
		c++;
	return c;
}

static bool
may_be_joint(const struct small *s, size_t arc, int joint)
{
	const struct match_arc *a = &s->arcs[arc];

	return in_list(&s->stages[a->stage], closure_of(s, joint)) &&
	       (a->anchor == MATCH_NONE || in_list(&s->anchors[a->anchor], (size_t)joint)) &&
	       (a->only == MATCH_NONE || a->only == (uint32_t)joint);
}

static bool
ends_tray(const struct small *s, int joint)
{
	return joint + 1 == (int)s->first[closure_of(s, joint) + 1] ||
	       s->entry[joint + 1] != MATCH_MIDDLE;
}

static int
unfinished(const struct small *s, struct at at, int cost)
{
	return at.joint >= 0 && s->first[closure_of(s, at.joint) + 1] != (uint32_t)at.joint + 1
		   ? cost
		   : 0;
}

static void walk(struct tried *t, size_t arc, struct at at);

/* Goes on with this arc as `label`, to a place, for so much. */
static void
pay(struct tried *t, size_t arc, int label, struct at to, int64_t cost)
{
	if (t->only != NULL && t->only[arc] != label)
		return;
	t->label[arc] = label;
	t->cost += cost;
	walk(t, arc + 1, to);
	t->cost -= cost;
}

/* The same by a move, which costs `extra` more than any such move. */
static void
go(struct tried *t, size_t arc, struct at at, enum match_move m, int label, struct at to, int extra)
{
	const struct match_costs *c = &t->s->costs;
	const struct match_arc *a = &t->s->arcs[arc];
	int64_t cost =
	    (int64_t)c->move[m] + (arc > 0 ? c->gap[a->gap][m] : 0) + c->look[a->look][m] + extra;

	if (at.joint >= 0)
		cost += m == MATCH_RETRY                               ? c->after_retry[at.look]
			: m == MATCH_PRACTICE_MOVE || m == MATCH_LEAVE ? c->after_practice[at.look]
								       : c->after_on[at.look];
	if (a->begins &&
	    (label == PRACTICE || (label < JOINTS && t->s->entry[label] == MATCH_MIDDLE)))
		cost += c->begun;
	pay(t, arc, label, to, cost);
}

/* The attempts this arc may be. */
static void
try_attempts(struct tried *t, size_t arc, struct at at)
{
	const struct small *s = t->s;
	int look = s->arcs[arc].look;
	bool all = s->arcs[arc].may & MATCH_MAY_ATTEMPT;

	for (int j = 0; j < (int)s->plan.joints; j++) {
		struct at to = { j, look };
		bool same = at.joint >= 0 && closure_of(s, j) == closure_of(s, at.joint);
		int ahead = j - at.joint;

		if (!may_be_joint(s, arc, j))
			continue;
		if (same && ahead == 0 && (all || s->arcs[arc].may & MATCH_MAY_RETRY))
			go(t, arc, at, MATCH_RETRY, j, to, 0);
		if (!all)
			continue;
		go(t, arc, at, at.joint == -1 ? MATCH_START : MATCH_JUMP, j, to,
		    s->costs.enter[s->entry[j]] + unfinished(s, at, s->costs.unfinished_jump));
		if (same && ahead == 1)
			go(t, arc, at, MATCH_NEXT, j, to, 0);
		if (same && ahead == 2)
			go(t, arc, at, MATCH_SKIP, j, to, 0);
		if (same && ahead > 2)
			go(t, arc, at, MATCH_SKIPS, j, to, (ahead - 3) * s->costs.further);
		if (same && s->entry[j] != MATCH_MIDDLE)
			go(t, arc, at, MATCH_TRAY, j, to,
			    ends_tray(s, at.joint) ? 0 : s->costs.unfinished_tray);
	}
}

/* The three ways of staying elsewhere: whatever the arc is there. */
static void
stay_elsewhere(struct tried *t, size_t arc)
{
	const struct match_costs *c = &t->s->costs;
	const struct match_arc *a = &t->s->arcs[arc];
	static const enum match_move moves[] = { MATCH_NEXT, MATCH_RETRY, MATCH_PRACTICE_MOVE };
	const int32_t *after[] = { c->after_on, c->after_retry, c->after_practice };

	for (int i = 0; i < 3; i++)
		pay(t, arc, ELSEWHERE, (struct at){ -2, 0 },
		    (int64_t)c->move[moves[i]] + c->gap[a->gap][moves[i]] +
			c->look[a->look][moves[i]] + after[i][a[-1].look]);
}

/* Across practice only whether an attempt was bad is remembered. */
static struct at
since(struct at at)
{
	bool bad = at.look == MATCH_FAILED || at.look == MATCH_HIGH;

	return (struct at){ at.joint, bad ? MATCH_HIGH : MATCH_DONE };
}

/* All that may become of the arcs from this one on. */
static void
walk(struct tried *t, size_t arc, struct at at)
{
	const struct small *s = t->s;
	const struct match_arc *a = &s->arcs[arc];

	if (arc == s->machine.n) {
		int64_t cost = t->cost + unfinished(s, at, s->costs.stop);

		if (cost < t->least)
			t->least = cost;
		for (size_t i = 0; i < arc; i++) {
			if (cost < t->by[i][t->label[i]])
				t->by[i][t->label[i]] = cost;
			t->odds[i][t->label[i]] += exp((double)(t->base - cost) / 1000);
		}
		return;
	}
	try_attempts(t, arc, at);
	if (a->may & MATCH_MAY_PRACTICE) {
		struct at to = { -1, 0 };

		if (at.joint == -1 ||
		    (at.joint >= 0 && in_list(&s->stages[a->stage], closure_of(s, at.joint))))
			go(t, arc, at, MATCH_PRACTICE_MOVE, PRACTICE, since(at), 0);
		if (at.joint != -1)
			go(t, arc, at, MATCH_LEAVE, PRACTICE, to,
			    unfinished(s, at, s->costs.unfinished_jump));
	}
	if (a->may & MATCH_MAY_ELSEWHERE) {
		struct at to = { -2, 0 };

		if (at.joint == -2)
			stay_elsewhere(t, arc);
		else
			go(t, arc, at, MATCH_ELSEWHERE_MOVE, ELSEWHERE, to,
			    unfinished(s, at, s->costs.unfinished_elsewhere));
	}
}

static void
try_all(struct tried *t, const struct small *s, const int *only, int64_t base)
{
	*t = (struct tried){ .s = s, .only = only, .least = NEVER, .base = base };
	for (size_t i = 0; i < ARCS; i++)
		for (size_t l = 0; l < LABELS; l++)
			t->by[i][l] = NEVER;
	walk(t, 0, (struct at){ -1, 0 });
}

static int
label_number(uint32_t label)
{
	return label == MATCH_PRACTICE    ? PRACTICE
	       : label == MATCH_ELSEWHERE ? ELSEWHERE
					  : (int)label;
}

/* What the cheapest walk with these labels costs. */
static int64_t
cost_of_labels(const struct small *s, const uint32_t *labels)
{
	static struct tried t;
	int only[ARCS];

	for (size_t i = 0; i < s->machine.n; i++)
		only[i] = label_number(labels[i]);
	try_all(&t, s, only, 0);
	return t.least;
}

/* The cheapest walk, and the cheapest that reads one arc otherwise, against all that were tried. */
static void
check_walks(const struct small *s, const struct tried *t, size_t arc)
{
	uint32_t labels[ARCS], others[ARCS];
	int64_t second = NEVER, cost;

	match_walk(&s->plan, &s->costs, &s->machine, arc, labels, others);
	cost = cost_of_labels(s, labels);
	CHECK(cost == t->least, "costs %" PRId64 ", want %" PRId64, cost, t->least);
	for (int l = 0; l < LABELS; l++)
		if (l != label_number(labels[arc]) && t->by[arc][l] < second)
			second = t->by[arc][l];
	if (second == NEVER)
		return;
	CHECK(others[arc] != labels[arc], "arc %zu is read alike", arc);
	cost = cost_of_labels(s, others);
	CHECK(cost == second, "the other costs %" PRId64 ", want %" PRId64, cost, second);
}

/* What it costs that an arc has a label, above what all walks together cost. */
static double
excess(const struct tried *t, size_t arc, int label)
{
	return -1000 * log(t->odds[arc][label]);
}

/* One reading. might[] gets 1 for each joint an arc that is not sure might be, and 2 if that is near. */
static void
check_reading(
    const struct tried *t, size_t arc, const struct match_reading *r, int32_t threshold, int *might)
{
	int label = label_number(r->label);
	double others = 0, least = excess(t, arc, label), margin;
	bool work = false, near = false;

	for (int l = 0; l < LABELS; l++) {
		others += l != label ? t->odds[arc][l] : 0;
		CHECK(
		    excess(t, arc, l) >= least - 1e-3, "arc %zu: label %d, not %d", arc, label, l);
	}
	margin = -1000 * log(others) - least;
	if (margin > 200000)
		CHECK(r->margin > 199999, "arc %zu: margin %d, want %.17g", arc, r->margin, margin);
	else
		NEAR(r->margin, margin, 0.5 + 1e-3);
	if (r->margin >= threshold) {
		CHECK(!r->work, "arc %zu is sure", arc);
		return;
	}
	CHECK(r->second != MATCH_NONE && r->second != r->label, "arc %zu", arc);
	for (int l = 0; l < LABELS; l++) {
		double over = excess(t, arc, l) - least;

		if (l != label)
			CHECK(over >= excess(t, arc, label_number(r->second)) - least - 1e-3,
			    "arc %zu: second %d, not %d", arc, label_number(r->second), l);
		if (l == PRACTICE || over > threshold + 1e-3)
			continue;
		near |= over > threshold - 1e-3;
		work |= over <= threshold - 1e-3;
		if (l < JOINTS)
			might[l] |= over > threshold - 1e-3 ? 2 : 1;
	}
	CHECK(near || r->work == work, "arc %zu: work %d", arc, r->work);
}

/* What each arc may be, against all walks together. */
static void
check_readings(const struct small *s, int64_t least, int32_t threshold)
{
	static struct tried t;
	struct match_reading out[ARCS];
	uint8_t possible[JOINTS] = { 0 };
	int might[JOINTS] = { 0 };

	try_all(&t, s, NULL, least);
	match_read(&s->plan, &s->costs, &s->machine, threshold, out, possible);
	for (size_t i = 0; i < s->machine.n; i++)
		check_reading(&t, i, &out[i], threshold, might);
	for (size_t j = 0; j < s->plan.joints; j++)
		CHECK(might[j] == 2 || possible[j] == might[j] % 2, "joint %zu: %d, want %d", j,
		    possible[j], might[j]);
}

/* Enough of them that every move, lists of none, ties and dead ends are all met. */
static void
every_walk_of_small_cases(void)
{
	static struct small s;
	static struct tried t;
	uint64_t state = 26;
	int done = 0;

	for (int i = 0; i < 4000; i++) {
		make_small(&s, &state);
		try_all(&t, &s, NULL, 0);
		if (t.least == NEVER)
			continue;
		done++;
		check_walks(&s, &t, below(&state, s.machine.n));
		check_readings(
		    &s, t.least, i % 2 == 0 ? MATCH_THRESHOLD_MOST : any_cost(&state, 300));
	}
	CHECK(done > 2000, "only %d cases could be walked", done);
}

/* Takes from an arc the meaning it has. false: it has no other. */
static bool
take_meaning(struct small *s, size_t arc, uint32_t label)
{
	struct match_arc *a = &s->arcs[arc];
	struct match_list *list = &s->anchors[ANCHORS];

	if (label == MATCH_PRACTICE)
		a->may &= (uint8_t)~MATCH_MAY_PRACTICE;
	else if (label == MATCH_ELSEWHERE)
		a->may &= (uint8_t)~MATCH_MAY_ELSEWHERE;
	else {
		*list = (struct match_list){ s->joints[ANCHORS], 0 };
		for (uint32_t j = 0; j < s->plan.joints; j++)
			if (j != label && may_be_joint(s, arc, (int)j))
				s->joints[ANCHORS][list->n++] = j;
		a->anchor = ANCHORS;
	}
	return a->may & (MATCH_MAY_PRACTICE | MATCH_MAY_ELSEWHERE);
}

static void
long_walks_otherwise(void)
{
	static struct small s;
	uint32_t labels[LONG_ARCS], others[LONG_ARCS], want[LONG_ARCS];
	uint64_t state = 4711;
	size_t differ = 0, done = 0;

	for (int i = 0; i < 400; i++) {
		size_t n = 50 + below(&state, LONG_ARCS - 50), arc = below(&state, n);

		make_case(&s, 20 + below(&state, LONG_JOINTS - 20), n, &state);
		for (size_t k = 0; k < n; k++) /* some walk there is always */
			s.arcs[k].may |= MATCH_MAY_ELSEWHERE;
		match_walk(&s.plan, &s.costs, &s.machine, arc, labels, others);
		if (!take_meaning(&s, arc, labels[arc]))
			continue;
		match_walk(&s.plan, &s.costs, &s.machine, arc, want, NULL);
		for (size_t k = 0; k < n; k++) {
			CHECK(others[k] == want[k], "case %d, arc %zu of %zu", i, k, n);
			differ += labels[k] != want[k];
		}
		done++;
	}
	CHECK(done > 300 && differ > 2 * done, "%zu cases, %zu arcs differ", done, differ);
}

int
main(void)
{
	RUN(every_walk_of_small_cases);
	RUN(long_walks_otherwise);
	return check_done();
}
