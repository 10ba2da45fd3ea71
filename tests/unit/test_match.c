/*
 * match: against every walk there is, one by one, in small cases. The walks are tried here from the
 * words of match.h alone, one move after the other.
 */
#include "fibre/match.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdlib.h>

#include "check.h"

enum { JOINTS = 10, ARCS = 6, CLOSURES = 4, STAGES = 3, ANCHORS = 3, LABELS = JOINTS + 2 };
enum { PRACTICE = JOINTS, ELSEWHERE };
#define NEVER INT64_MAX

/* a small case, with room for what its lists point to */
struct small {
	struct match_plan plan;
	struct match_costs costs;
	struct match_machine machine;
	uint32_t first[CLOSURES + 1];
	uint8_t entry[JOINTS];
	struct match_arc arcs[ARCS];
	struct match_list stages[STAGES], anchors[ANCHORS];
	uint32_t closures[STAGES][CLOSURES], joints[ANCHORS][JOINTS];
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
	double odds[ARCS][LABELS]; /* the sum of exp(-cost / 1000) */
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
make_small(struct small *s, uint64_t *state)
{
	static const uint8_t mays[] = { MATCH_MAY_ATTEMPT | MATCH_MAY_PRACTICE |
					    MATCH_MAY_ELSEWHERE,
		MATCH_MAY_ATTEMPT | MATCH_MAY_PRACTICE, MATCH_MAY_ATTEMPT | MATCH_MAY_ELSEWHERE,
		MATCH_MAY_RETRY | MATCH_MAY_ELSEWHERE, MATCH_MAY_PRACTICE, MATCH_MAY_ATTEMPT,
		MATCH_MAY_RETRY | MATCH_MAY_PRACTICE, MATCH_MAY_ELSEWHERE };
	size_t joints = 1 + below(state, JOINTS), n = 1 + below(state, joints > 6 ? 4 : ARCS - 1);
	size_t closures = 0;

	memset(s, 0, sizeof *s);
	make_costs(&s->costs,
	    below(state, 3) == 0 ? 3
	    : below(state, 2)    ? 100
				 : MATCH_COST_MOST,
	    state);
	for (size_t j = 0; j < joints; j++) {
		bool starts = j == 0 || (closures < CLOSURES && below(state, 4) == 0);

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
			.forbid = below(state, 6) ? MATCH_NONE : (uint32_t)below(state, joints),
		};
	s->machine = (struct match_machine){ s->arcs, n, s->stages, s->anchors };
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
	       (a->only == MATCH_NONE || a->only == (uint32_t)joint) &&
	       a->forbid != (uint32_t)joint;
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

/* What it costs to stay elsewhere: whatever the arc is there. */
static int64_t
stay_cost(const struct small *s, size_t arc)
{
	const struct match_costs *c = &s->costs;
	const struct match_arc *a = &s->arcs[arc];
	static const enum match_move moves[] = { MATCH_NEXT, MATCH_RETRY, MATCH_PRACTICE_MOVE };
	const int32_t *after[] = { c->after_on, c->after_retry, c->after_practice };
	int64_t least = NEVER;

	for (int i = 0; i < 3; i++) {
		int64_t cost = (int64_t)c->move[moves[i]] + c->gap[a->gap][moves[i]] +
			       c->look[a->look][moves[i]] + after[i][a[-1].look];

		least = cost < least ? cost : least;
	}
	return least;
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
			t->odds[i][t->label[i]] += exp((double)-cost / 1000);
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
			pay(t, arc, ELSEWHERE, to, stay_cost(s, arc));
		else
			go(t, arc, at, MATCH_ELSEWHERE_MOVE, ELSEWHERE, to,
			    unfinished(s, at, s->costs.unfinished_elsewhere));
	}
}

static void
try_all(struct tried *t, const struct small *s, const int *only)
{
	*t = (struct tried){ .s = s, .only = only, .least = NEVER };
	for (size_t i = 0; i < ARCS; i++)
		for (size_t l = 0; l < LABELS; l++)
			t->by[i][l] = NEVER;
	walk(t, 0, (struct at){ -1, 0 });
}

/* what match_read has told */
struct told {
	int64_t by[ARCS][LABELS];
};

static int
label_number(uint32_t label)
{
	return label == MATCH_PRACTICE    ? PRACTICE
	       : label == MATCH_ELSEWHERE ? ELSEWHERE
					  : (int)label;
}

static void
tell(void *arg, size_t arc, uint32_t label, int32_t excess)
{
	struct told *told = arg;
	int l = label_number(label);

	CHECK(told->by[arc][l] == NEVER, "arc %zu: label %d is told twice", arc, l);
	told->by[arc][l] = excess;
}

/* The readings of one arc against the walks that were tried. */
static void
check_arc(const struct tried *t, size_t arc, const struct match_reading *r, const struct told *told,
    int32_t threshold)
{
	int64_t second = NEVER;
	int label = label_number(r->label);

	for (int l = 0; l < LABELS; l++)
		if (l != label && t->by[arc][l] < second)
			second = t->by[arc][l];
	CHECK(t->by[arc][label] == t->least, "arc %zu: label %d", arc, label);
	if (second == NEVER)
		CHECK(r->second == MATCH_NONE && r->margin == INT32_MAX, "arc %zu", arc);
	else
		CHECK(
		    r->margin == second - t->least && t->by[arc][label_number(r->second)] == second,
		    "arc %zu: margin %d, want %" PRId64, arc, r->margin, second - t->least);
	for (int l = 0; l < LABELS; l++) {
		bool due = r->margin < threshold && t->by[arc][l] != NEVER &&
			   t->by[arc][l] - t->least < threshold;

		CHECK(told->by[arc][l] == (due ? t->by[arc][l] - t->least : NEVER),
		    "arc %zu, label %d: told %" PRId64, arc, l, told->by[arc][l]);
	}
}

static bool
check_small(const struct small *s, int32_t threshold)
{
	static struct tried t, again;
	struct match_reading out[ARCS];
	struct told told;
	uint32_t walked[ARCS];
	int labels[ARCS];
	int64_t total;

	try_all(&t, s, NULL);
	if (t.least == NEVER)
		return false;
	for (size_t i = 0; i < ARCS; i++)
		for (size_t l = 0; l < LABELS; l++)
			told.by[i][l] = NEVER;
	total = match_walk(&s->plan, &s->costs, &s->machine, walked);
	match_read(&s->plan, &s->costs, &s->machine, false, threshold, out, tell, &told);
	CHECK(total == t.least, "costs %" PRId64 ", want %" PRId64, total, t.least);
	for (size_t i = 0; i < s->machine.n; i++) {
		check_arc(&t, i, &out[i], &told, threshold);
		labels[i] = label_number(walked[i]);
	}
	try_all(&again, s, labels);
	CHECK(again.least == t.least, "the labels together cost %" PRId64 ", want %" PRId64,
	    again.least, t.least);
	return true;
}

/* Odds are rounded to thousandths at most some ten times an arc, by half of one each. */
static void
check_odds(const struct small *s)
{
	static struct tried t;
	struct match_reading out[ARCS];
	const double off = 5.0 * ARCS;

	try_all(&t, s, NULL);
	if (t.least == NEVER || t.least > 200000)
		return; /* exp() would have nothing left */
	match_read(&s->plan, &s->costs, &s->machine, true, 0, out, NULL, NULL);
	for (size_t i = 0; i < s->machine.n; i++) {
		int label = label_number(out[i].label);
		double others = 0;

		for (int l = 0; l < LABELS; l++) {
			others += l != label ? t.odds[i][l] : 0;
			CHECK(1000 * log(t.odds[i][l] / t.odds[i][label]) <= off,
			    "arc %zu: label %d, not %d", i, label, l);
		}
		if (others > 0 && t.odds[i][label] > 0)
			NEAR(out[i].margin, 1000 * log(t.odds[i][label] / others), off);
		else
			CHECK(others > 0 || out[i].margin == INT32_MAX, "arc %zu", i);
	}
}

/* Enough of them that every move, lists of none, ties and dead ends are all met. */
static void
every_walk_of_small_cases(void)
{
	static struct small s;
	uint64_t state = 26;
	int done = 0;

	for (int i = 0; i < 4000; i++) {
		make_small(&s, &state);
		done += check_small(&s, i % 2 == 0 ? 1000000 : any_cost(&state, 300));
		check_odds(&s);
	}
	CHECK(done > 2000, "only %d cases could be walked", done);
}

int
main(void)
{
	RUN(every_walk_of_small_cases);
	return check_done();
}
