#include "match/stated.h"

#include <stdlib.h>

#include "base/mem.h"

static uint32_t
machine_of(const struct match_arcs *arcs, const struct table *t, int col)
{
	struct field name = { "", 0 };
	size_t m;

	get_text(t, col, &name);
	m = ids_find_one(&arcs->machines, name);
	return m == SIZE_MAX ? MATCH_NONE : (uint32_t)m;
}

/* The number of a tray in the plan, or MATCH_NONE. */
static uint32_t
tray_of(const struct planned *p, uint32_t closure, struct field tray)
{
	for (size_t j = 0; j < p->n; j++)
		if (p->v[j].closure == closure && field_same(p->v[j].cell[PLANNED_TRAY], tray))
			return p->v[j].tray;
	return MATCH_NONE;
}

static bool
get_moment(struct table *t, int col, const struct match_arcs *arcs, struct when *w)
{
	if (!get_time(t, col, w))
		return false;
	if (w->date_only)
		table_fail(t, col, "no time of day");
	else if (w->has_zone ? arcs->unzoned : arcs->zoned)
		table_fail(t, col,
		    w->has_zone ? "with a zone, as the arcs are not"
				: "without a zone, which the arcs have");
	return true;
}

void
match_visit_add(struct match_stated *s, struct table *t, const struct match_arcs *arcs)
{
	const struct planned *plan = arcs->plan;
	struct match_visit v = { machine_of(arcs, t, VISIT_SPLICER), MATCH_NONE, MATCH_NONE,
		.dir = -1 };
	struct field closure = { "", 0 }, tray = { "", 0 };
	int dir = -1;
	size_t c;

	get_text(t, VISIT_CLOSURE, &closure);
	c = ids_find_one(&plan->closures, closure);
	if (c != SIZE_MAX)
		v.closure = (uint32_t)c;
	if (get_text(t, VISIT_TRAY, &tray) && v.closure != MATCH_NONE) {
		v.tray = tray_of(plan, v.closure, tray);
		if (v.tray == MATCH_NONE) {
			table_fail(t, VISIT_TRAY, "the plan has no such tray in this closure");
			return;
		}
	}
	if (!get_moment(t, VISIT_FROM, arcs, &v.from)) {
		table_fail(t, VISIT_FROM, "is empty");
		return;
	}
	v.ends = get_moment(t, VISIT_TO, arcs, &v.to);
	if (v.ends && when_order(&v.to, &v.from) < 0)
		table_fail(t, VISIT_TO, "before from_at");
	if (get_word(t, VISIT_ORDER, &dir))
		v.dir = dir;
	if (v.machine == MATCH_NONE)
		return;
	s->visits = mem_grow(s->visits, &s->cap_visits, s->nvisits + 1, sizeof *s->visits);
	s->visits[s->nvisits++] = v;
}

void
match_answer_add(struct match_stated *s, struct table *t, const struct match_arcs *arcs)
{
	struct match_answer a = { machine_of(arcs, t, ANSWER_SPLICER), 0, 0, MATCH_NONE };
	struct field joint = { "", 0 };
	int is = 0;

	if (!get_word(t, ANSWER_IS, &is) || !get_whole(t, ANSWER_ARC, &a.number) ||
	    a.machine == MATCH_NONE)
		return;
	a.is = (uint8_t)is;
	if (get_text(t, ANSWER_JOINT, &joint)) {
		a.joint = planned_named(arcs->plan, joint);
		if (a.joint == MATCH_NONE) {
			table_fail(t, ANSWER_JOINT, "the plan has no such joint");
			return;
		}
	} else if (is == MATCH_SAID_JOINT) {
		table_fail(t, ANSWER_JOINT, "is empty: say which");
		return;
	}
	if (is == MATCH_SAID_PRACTICE || is == MATCH_SAID_ELSEWHERE)
		a.joint = MATCH_NONE;
	s->answers = mem_grow(s->answers, &s->cap_answers, s->nanswers + 1, sizeof *s->answers);
	s->answers[s->nanswers++] = a;
}

void
match_earlier_add(struct match_before *before, struct table *t, const struct planned *plan)
{
	struct field name = { "", 0 };
	struct match_before *b;
	struct when at = { 0 };
	int64_t attempt = 0;
	int stands = 0; /* yes */
	uint32_t joint;

	get_text(t, EARLIER_JOINT, &name);
	joint = planned_named(plan, name);
	get_whole(t, EARLIER_ATTEMPT, &attempt);
	get_word(t, EARLIER_STANDS, &stands);
	if (joint == MATCH_NONE)
		return;
	b = &before[joint];
	b->attempts = attempt > b->attempts ? (uint32_t)attempt
		      : attempt == 0        ? b->attempts + 1
					    : b->attempts;
	if (stands != 0)
		return;
	b->stands = true;
	if (get_time(t, EARLIER_MADE_AT, &at) && (!b->has_at || when_order(&b->at, &at) < 0)) {
		b->at = at;
		b->has_at = true;
	}
}

static int
by_machine(const void *pa, const void *pb)
{
	const struct match_visit *a = pa, *b = pb;

	if (a->machine != b->machine)
		return a->machine < b->machine ? -1 : 1;
	return when_order(&a->from, &b->from);
}

static int
by_number(const void *pa, const void *pb)
{
	const struct match_answer *a = pa, *b = pb;

	if (a->machine != b->machine)
		return a->machine < b->machine ? -1 : 1;
	return a->number < b->number ? -1 : a->number > b->number;
}

void
match_stated_order(struct match_stated *s)
{
	if (s->nvisits > 0)
		qsort(s->visits, s->nvisits, sizeof *s->visits, by_machine);
	if (s->nanswers > 0)
		qsort(s->answers, s->nanswers, sizeof *s->answers, by_number);
	for (size_t i = 0; i + 1 < s->nvisits; i++)
		if (!s->visits[i].ends && s->visits[i + 1].machine == s->visits[i].machine) {
			s->visits[i].to = s->visits[i + 1].from;
			s->visits[i].ends = true;
		}
}

void
match_stated_free(struct match_stated *s)
{
	free(s->visits);
	free(s->answers);
	*s = (struct match_stated){ .order = -1 };
}
