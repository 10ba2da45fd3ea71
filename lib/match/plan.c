#include "match/plan.h"

#include <stdlib.h>

#include "base/num.h"

enum { JOIN };

/* --- reading --------------------------------------------------------------------------------- */

static bool
has_arc(struct table *t)
{
	struct field kind = table_field(t, PLANNED_KIND);
	int state = JOIN;

	get_word(t, PLANNED_STATE, &state);
	return state == JOIN && !field_is(kind, "mechanical") && !field_is(kind, "connector");
}

static int
add(struct planned *p, struct table *t, size_t row)
{
	struct planned_joint *j = &p->v[p->n];
	bool fresh;

	*j = (struct planned_joint){ .row = row, .read = p->n };
	for (int c = 0; c < PLANNED_CELLS; c++)
		j->cell[c] = table_field(t, c);
	j->ribbon = table_field(t, PLANNED_RIBBON);
	j->position = table_field(t, PLANNED_POSITION);
	p->ribbons |= j->ribbon.n > 0;
	for (int c = PLANNED_JOINT; c <= PLANNED_CLOSURE; c++)
		if (j->cell[c].n == 0)
			return table_fail(t, c, "is empty");
	ids_add(&p->names, &j->cell[PLANNED_JOINT], 1, &fresh);
	if (!fresh)
		return table_fail(t, PLANNED_JOINT, "a second row of this joint");
	j->closure = (uint32_t)ids_add(&p->closures, &j->cell[PLANNED_CLOSURE], 1, NULL);
	p->n++;
	return 0;
}

/* --- the order of work ----------------------------------------------------------------------- */

/* Trays, slots, positions: whole numbers by number, before all else by byte. */
static int
by_label(struct field a, struct field b)
{
	int64_t x = 0, y = 0;
	bool no_a = num_whole(a, &x) != 0, no_b = num_whole(b, &y) != 0;

	if (no_a != no_b)
		return no_a - no_b;
	if (!no_a && x != y)
		return x < y ? -1 : 1;
	return field_order(a, b);
}

static int
by_work(const void *pa, const void *pb)
{
	const struct planned_joint *a = pa, *b = pb;
	int order = 0;

	if (a->closure != b->closure)
		return a->closure < b->closure ? -1 : 1;
	order = by_label(a->cell[PLANNED_TRAY], b->cell[PLANNED_TRAY]);
	if (order == 0)
		order = by_label(a->cell[PLANNED_SLOT], b->cell[PLANNED_SLOT]);
	if (order == 0)
		order = by_label(a->position, b->position);
	return order != 0 ? order : a->read < b->read ? -1 : a->read > b->read;
}

static void
index_fibre(struct planned *p, const struct planned_joint *j, int cable)
{
	const struct field *key = &j->cell[cable];
	size_t f;
	bool fresh;

	if (key[0].n == 0 || key[1].n == 0)
		return;
	f = ids_add(&p->fibres, key, 2, &fresh);
	p->of_fibre = mem_grow(p->of_fibre, &p->cap_fibre, f + 1, sizeof *p->of_fibre);
	if (fresh)
		p->of_fibre[f][0] = p->of_fibre[f][1] = j->closure;
	else if (p->of_fibre[f][0] != j->closure)
		p->of_fibre[f][1] = j->closure;
}

int
planned_read(struct planned *p, struct table *t)
{
	*p = (struct planned){ t, .names = IDS_NONE, .closures = IDS_NONE, .trays = IDS_NONE,
		.fibres = IDS_NONE };
	p->v = mem_zeroed(table_rows(t) + 1, sizeof *p->v);
	for (size_t row = 0; row < table_rows(t); row++) {
		table_at(t, row);
		if (has_arc(t) && add(p, t, row) != 0)
			return -1;
	}
	qsort(p->v, p->n, sizeof *p->v, by_work);
	p->at_name = mem_zeroed(p->n + 1, sizeof *p->at_name);
	for (uint32_t i = 0; i < p->n; i++) {
		struct planned_joint *j = &p->v[i];

		p->at_name[j->read] = i;
		j->tray = (uint32_t)ids_add(&p->trays, &j->cell[PLANNED_CLOSURE], 2, NULL);
		index_fibre(p, j, PLANNED_CABLE_A);
		index_fibre(p, j, PLANNED_CABLE_B);
	}
	return 0;
}

void
planned_free(struct planned *p)
{
	ids_free(&p->names);
	ids_free(&p->closures);
	ids_free(&p->trays);
	ids_free(&p->fibres);
	free(p->v);
	free(p->at_name);
	free(p->of_fibre);
}

/* --- looking up ------------------------------------------------------------------------------ */

uint32_t
planned_named(const struct planned *p, struct field name)
{
	size_t i = ids_find_one(&p->names, name);

	return i == SIZE_MAX ? MATCH_NONE : p->at_name[i];
}

uint32_t
planned_tray(struct planned *p, const struct field key[2])
{
	size_t tray = ids_find(&p->trays, key, 2);

	return tray == SIZE_MAX ? MATCH_NONE : (uint32_t)tray;
}

void
planned_closures_of_fibre(struct planned *p, const struct field key[2], uint32_t closures[2])
{
	size_t f = ids_find(&p->fibres, key, 2);

	closures[0] = f == SIZE_MAX ? MATCH_NONE : p->of_fibre[f][0];
	closures[1] = f == SIZE_MAX ? MATCH_NONE : p->of_fibre[f][1];
}

/* --- places ---------------------------------------------------------------------------------- */

/* true if joint i begins a new unit; n joints are in the present one */
static bool
begins_unit(const struct planned *p, uint32_t i, uint32_t n, uint32_t fibres_n)
{
	const struct planned_joint *j = &p->v[i];

	if (i == 0 || j->tray != j[-1].tray || !field_same(j->ribbon, j[-1].ribbon))
		return true;
	return fibres_n == 0 ? j->ribbon.n == 0 : n >= fibres_n;
}

static int
by_row(const void *pa, const void *pb)
{
	const struct match_planned *a = pa, *b = pb;

	return a->row < b->row ? -1 : a->row > b->row;
}

void
planned_course(const struct planned *p, uint32_t fibres_n, struct match_course *c)
{
	*c = (struct match_course){ .closures = (uint32_t)p->closures.n, .fibres_n = fibres_n };
	c->first = mem_zeroed(p->n + 1, sizeof *c->first);
	c->unit_of = mem_zeroed(p->n + 1, sizeof *c->unit_of);
	c->tray_first = mem_zeroed(p->n + 1, sizeof *c->tray_first);
	c->tray_of = mem_zeroed(p->n + 1, sizeof *c->tray_of);
	c->closure_of = mem_zeroed(p->n + 1, sizeof *c->closure_of);
	c->by_plan = mem_zeroed(p->n + 1, sizeof *c->by_plan);
	c->closure_first = mem_zeroed(p->closures.n + 1, sizeof *c->closure_first);
	for (uint32_t i = 0; i < p->n; i++) {
		const struct planned_joint *j = &p->v[i];

		if (i == 0 || j->closure != j[-1].closure)
			c->closure_first[j->closure] = c->trays;
		if (i == 0 || j->tray != j[-1].tray) {
			c->closure_of[c->trays] = j->closure;
			c->tray_first[c->trays++] = c->units;
		}
		if (begins_unit(p, i, i - c->first[c->units > 0 ? c->units - 1 : 0], fibres_n)) {
			c->tray_of[c->units] = c->trays - 1;
			c->by_plan[c->units] = (struct match_planned){ j->row, c->units };
			c->first[c->units++] = i;
		}
		c->unit_of[i] = c->units - 1;
	}
	c->closure_first[c->closures] = c->trays;
	c->tray_first[c->trays] = c->units;
	c->first[c->units] = p->n;
	for (uint32_t t = 0; t < c->trays; t++)
		qsort(c->by_plan + c->tray_first[t], c->tray_first[t + 1] - c->tray_first[t],
		    sizeof *c->by_plan, by_row);
}

void
match_course_free(struct match_course *c)
{
	free(c->first);
	free(c->unit_of);
	free(c->tray_first);
	free(c->tray_of);
	free(c->closure_of);
	free(c->by_plan);
	free(c->closure_first);
}
