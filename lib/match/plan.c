#include "match/plan.h"

#include <stdlib.h>

#include "base/num.h"

enum { JOIN };

void
planned_init(struct planned *p)
{
	*p = (struct planned){ .names = IDS_NONE, .closures = IDS_NONE, .fibres = IDS_NONE };
}

/* --- reading --------------------------------------------------------------------------------- */

/* The field of a column of the kept row. */
static struct field
kept_cell(const struct planned_joint *j, const struct table *t, int col)
{
	struct field rest = j->text, f = { NULL, 0 };

	if (t->at[col] < 0)
		return f;
	for (int c = 0; c <= t->at[col]; c++)
		f = field_cut(&rest, '\t');
	return f.n > 0 ? f : (struct field){ NULL, 0 };
}

static void
keep_row(struct planned *p, const struct table *t)
{
	struct planned_joint *j = &p->v[p->n];

	p->text.n = 0;
	for (size_t c = 0; c < p->ncolumns; c++) {
		if (c > 0)
			bytes_add(&p->text, "\t", 1);
		bytes_add_field(&p->text, row_field(&t->row, c));
	}
	*j = (struct planned_joint){ .text = region_keep(&p->region, bytes_field(&p->text)),
		.line = t->row.line };
	for (int cell = 0; cell < PLANNED_CELLS; cell++)
		j->cell[cell] = kept_cell(j, t, cell);
	j->ribbon = kept_cell(j, t, PLANNED_RIBBON);
	j->position = kept_cell(j, t, PLANNED_POSITION);
	p->ribbons |= j->ribbon.n > 0;
}

static void
begin(struct planned *p, const struct table *t)
{
	p->file = region_string(&p->region, field_of(t->row.file));
	p->ncolumns = reader_columns(t->reader);
	p->columns = mem_zeroed(p->ncolumns, sizeof *p->columns);
	for (size_t c = 0; c < p->ncolumns; c++)
		p->columns[c] = region_keep(&p->region, reader_name(t->reader, c));
}

void
planned_add(struct planned *p, struct table *t)
{
	struct field kind = { "", 0 };
	struct planned_joint *j;
	int state = JOIN;
	bool fresh;

	if (p->file == NULL)
		begin(p, t);
	get_word(t, PLANNED_STATE, &state);
	get_text(t, PLANNED_KIND, &kind);
	if (state != JOIN || field_is(kind, "mechanical") || field_is(kind, "connector"))
		return;
	p->v = mem_grow(p->v, &p->cap, p->n + 1, sizeof *p->v);
	keep_row(p, t);
	j = &p->v[p->n];
	for (int cell = PLANNED_JOINT; cell <= PLANNED_CLOSURE; cell++)
		if (j->cell[cell].n == 0) {
			table_fail(t, cell, "is empty");
			return;
		}
	ids_add(&p->names, &j->cell[PLANNED_JOINT], 1, &fresh);
	if (!fresh)
		table_fail(t, PLANNED_JOINT, "a second row of this joint");
	j->closure = (uint32_t)ids_add(&p->closures, &j->cell[PLANNED_CLOSURE], 1, NULL);
	if (++p->n >= MATCH_NONE / 4)
		table_fail(t, PLANNED_JOINT, "too many joints");
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
	return order != 0 ? order : a->line < b->line ? -1 : a->line > b->line;
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

void
planned_order(struct planned *p)
{
	uint32_t tray = 0;

	if (p->n > 0)
		qsort(p->v, p->n, sizeof *p->v, by_work);
	p->at_name = mem_zeroed(p->n + 1, sizeof *p->at_name);
	for (uint32_t i = 0; i < p->n; i++) {
		struct planned_joint *j = &p->v[i];

		if (i > 0 && (j->closure != j[-1].closure ||
				 !field_same(j->cell[PLANNED_TRAY], j[-1].cell[PLANNED_TRAY])))
			tray++;
		j->tray = tray;
		p->at_name[ids_find_one(&p->names, j->cell[PLANNED_JOINT])] = i;
		index_fibre(p, j, PLANNED_CABLE_A);
		index_fibre(p, j, PLANNED_CABLE_B);
	}
}

void
planned_free(struct planned *p)
{
	region_free(&p->region);
	bytes_free(&p->text);
	ids_free(&p->names);
	ids_free(&p->closures);
	ids_free(&p->fibres);
	free(p->v);
	free(p->columns);
	free(p->at_name);
	free(p->of_fibre);
	planned_init(p);
}

uint32_t
planned_named(const struct planned *p, struct field name)
{
	size_t i = ids_find_one(&p->names, name);

	return i == SIZE_MAX ? MATCH_NONE : p->at_name[i];
}

void
planned_closures_of_fibre(struct planned *p, const struct field key[2], uint32_t closures[2])
{
	size_t f = ids_find(&p->fibres, key, 2);

	closures[0] = f == SIZE_MAX ? MATCH_NONE : p->of_fibre[f][0];
	closures[1] = f == SIZE_MAX ? MATCH_NONE : p->of_fibre[f][1];
}

/* --- places ---------------------------------------------------------------------------------- */

/* true if the joint begins a new unit; n joints are in the present one */
static bool
begins_unit(const struct planned *p, size_t i, uint32_t n, uint32_t fibres_n)
{
	const struct planned_joint *j = &p->v[i];

	if (i == 0 || j->tray != j[-1].tray || !field_same(j->ribbon, j[-1].ribbon))
		return true;
	if (fibres_n == 0)
		return j->ribbon.n == 0;
	return n >= fibres_n;
}

static int
by_row(const void *pa, const void *pb)
{
	const uint64_t *a = pa, *b = pb;

	return a[0] < b[0] ? -1 : a[0] > b[0];
}

/* The places of a tray's units in the order of the plan's rows. */
static void
order_by_plan(const struct planned *p, struct planned_course *c, uint32_t tray)
{
	uint32_t from = c->course.tray_first[tray], n = c->course.tray_first[tray + 1] - from;
	uint64_t row[MATCH_TRAY_UNITS][2];

	for (uint32_t i = 0; i < n; i++) {
		row[i][0] = p->v[c->first[from + i]].line;
		row[i][1] = i;
	}
	qsort(row, n, sizeof row[0], by_row);
	for (uint32_t i = 0; i < n; i++)
		c->course.by_plan[from + i] = (uint8_t)row[i][1];
}

void
planned_course(const struct planned *p, uint32_t fibres_n, struct planned_course *out)
{
	struct planned_course c = { .fibres_n = fibres_n };
	struct match_course *m = &c.course;
	uint32_t in_tray = 0, closure = MATCH_NONE;

	c.first = mem_zeroed(p->n + 1, sizeof *c.first);
	c.unit_of = mem_zeroed(p->n + 1, sizeof *c.unit_of);
	m->tray_first = mem_zeroed(p->n + 1, sizeof *m->tray_first);
	m->tray_of = mem_zeroed(p->n + 1, sizeof *m->tray_of);
	m->closure_of = mem_zeroed(p->n + 1, sizeof *m->closure_of);
	m->by_plan = mem_zeroed(p->n + 1, sizeof *m->by_plan);
	m->closure_first = mem_zeroed(p->closures.n + 1, sizeof *m->closure_first);
	for (uint32_t i = 0; i < p->n; i++) {
		const struct planned_joint *j = &p->v[i];
		bool fresh = i == 0 || j->tray != j[-1].tray;

		if (begins_unit(p, i, i - c.first[m->units > 0 ? m->units - 1 : 0], fibres_n)) {
			if (fresh || in_tray == MATCH_TRAY_UNITS) {
				if (j->closure != closure)
					m->closure_first[closure = j->closure] = m->trays;
				m->closure_of[m->trays] = closure;
				m->tray_first[m->trays++] = m->units;
				in_tray = 0;
			}
			m->tray_of[m->units] = m->trays - 1;
			c.first[m->units++] = i;
			in_tray++;
		}
		c.unit_of[i] = m->units - 1;
	}
	m->closures = (uint32_t)p->closures.n;
	m->closure_first[m->closures] = m->trays;
	m->tray_first[m->trays] = m->units;
	c.first[m->units] = (uint32_t)p->n;
	for (uint32_t t = 0; t < m->trays; t++)
		order_by_plan(p, &c, t);
	*out = c;
}

void
planned_course_free(struct planned_course *c)
{
	free(c->first);
	free(c->unit_of);
	free(c->course.tray_first);
	free(c->course.tray_of);
	free(c->course.closure_of);
	free(c->course.by_plan);
	free(c->course.closure_first);
	*c = (struct planned_course){ .fibres_n = 0 };
}
