#include "match/stated.h"

#include <stdlib.h>

#include "base/mem.h"

static uint32_t
machine_of(const struct match_arcs *arcs, const struct table *t, int col)
{
	size_t m = ids_find_one(&arcs->machines, table_field(t, col));

	return m == SIZE_MAX ? MATCH_NONE : (uint32_t)m;
}

static bool
get_moment(struct table *t, int col, const struct match_arcs *arcs, struct when *w)
{
	if (!get_time(t, col, w))
		return false;
	if (w->date_only)
		table_fail(t, col, "no time of day");
	else if (arcs->nread > 0 && w->has_zone != arcs->zoned)
		table_fail(t, col,
		    w->has_zone ? "with a zone, as the arcs are not"
				: "without a zone, which the arcs have");
	return true;
}

static void
read_visit(struct match_stated *s, struct table *t, const struct match_arcs *arcs)
{
	struct match_visit v = { machine_of(arcs, t, VISIT_SPLICER), MATCH_NONE, MATCH_NONE,
		.dir = -1 };
	struct field key[2] = { table_field(t, VISIT_CLOSURE), table_field(t, VISIT_TRAY) };
	size_t c = ids_find_one(&arcs->plan->closures, key[0]);

	if (c != SIZE_MAX) {
		v.closure = (uint32_t)c;
		v.tray = planned_tray(arcs->plan, key);
		if (key[1].n > 0 && v.tray == MATCH_NONE)
			table_fail(t, VISIT_TRAY, "the plan has no such tray in this closure");
	}
	if (!get_moment(t, VISIT_FROM, arcs, &v.from))
		table_fail(t, VISIT_FROM, "is empty");
	v.ends = get_moment(t, VISIT_TO, arcs, &v.to);
	if (v.ends && when_order(&v.to, &v.from) < 0)
		table_fail(t, VISIT_TO, "before from_at");
	get_word(t, VISIT_ORDER, &v.dir);
	if (v.machine == MATCH_NONE)
		return;
	s->visits = mem_grow(s->visits, &s->cap_visits, s->nvisits + 1, sizeof v);
	s->visits[s->nvisits++] = v;
}

static void
read_answer(struct match_stated *s, struct table *t, const struct match_arcs *arcs)
{
	struct match_answer a = { machine_of(arcs, t, ANSWER_SPLICER), 0, MATCH_NONE, 0 };
	struct field joint;
	int is = 0;

	if (!get_word(t, ANSWER_IS, &is) || !get_whole(t, ANSWER_ARC, &a.number) ||
	    a.machine == MATCH_NONE)
		return;
	a.is = (uint8_t)is;
	if (get_text(t, ANSWER_JOINT, &joint)) {
		a.joint = planned_named(arcs->plan, joint);
		if (a.joint == MATCH_NONE)
			table_fail(t, ANSWER_JOINT, "the plan has no such joint");
	} else if (is == MATCH_SAID_JOINT)
		table_fail(t, ANSWER_JOINT, "is empty: say which");
	if (is == MATCH_SAID_PRACTICE || is == MATCH_SAID_ELSEWHERE)
		a.joint = MATCH_NONE;
	s->answers = mem_grow(s->answers, &s->cap_answers, s->nanswers + 1, sizeof a);
	s->answers[s->nanswers++] = a;
}

static int
by_time(const void *pa, const void *pb)
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

int
match_stated_read(struct match_stated *s, struct match_arcs *arcs, const char *order,
    struct table *visits, struct table *answers, const struct match_earlier *earlier)
{
	*s = (struct match_stated){ .order = -1, .before = earlier->before };
	if (order != NULL)
		s->order = (int)field_among(field_of(MATCH_ORDERS), ' ', field_of(order));
	while (table_next(visits))
		read_visit(s, visits, arcs);
	while (table_next(answers))
		read_answer(s, answers, arcs);
	if (s->nvisits > 0)
		qsort(s->visits, s->nvisits, sizeof *s->visits, by_time);
	if (s->nanswers > 0)
		qsort(s->answers, s->nanswers, sizeof *s->answers, by_number);
	for (size_t i = 0; i + 1 < s->nvisits; i++)
		if (!s->visits[i].ends && s->visits[i + 1].machine == s->visits[i].machine) {
			s->visits[i].to = s->visits[i + 1].from;
			s->visits[i].ends = true;
		}
	return err_is_set(arcs->table->err) ? -1 : 0;
}

void
match_stated_free(struct match_stated *s)
{
	free(s->visits);
	free(s->answers);
}
