#include "match/plan.h"

#include <stdlib.h>

#include "base/num.h"

enum { STATE = PLANNED_CELLS, KIND };
enum { JOIN };

const struct col planned_cols[] = {
	[PLANNED_JOINT] = { "joint", COL_NEED, COL_TEXT },
	[PLANNED_CLOSURE] = { "closure", COL_NEED, COL_TEXT },
	[PLANNED_TRAY] = { "tray", COL_MAY, COL_TEXT },
	[PLANNED_SLOT] = { "slot", COL_MAY, COL_TEXT },
	[PLANNED_CABLE_A] = { "cable_a", COL_MAY, COL_TEXT },
	[PLANNED_FIBRE_A] = { "fibre_a", COL_MAY, COL_TEXT },
	[PLANNED_CABLE_B] = { "cable_b", COL_MAY, COL_TEXT },
	[PLANNED_FIBRE_B] = { "fibre_b", COL_MAY, COL_TEXT },
	[STATE] = { "state", COL_MAY, COL_WORD, .words = "join express parked" },
	[KIND] = { "kind", COL_MAY, COL_TEXT },
	{ NULL },
};

const char *const planned_names[PLANNED_CELLS] = { "joint", "closure", "tray", "slot", "cable_a",
	"fibre_a", "cable_b", "fibre_b" };

void
planned_add(struct planned_list *list, uint32_t number)
{
	list->v = mem_grow(list->v, &list->cap, list->n + 1, sizeof *list->v);
	list->v[list->n++] = number;
}

/* --- reading --------------------------------------------------------------------------------- */

/* The row's fields joined by TAB; cells point into it. */
static void
keep_row(struct planned *p, const struct table *t, struct bytes *text)
{
	struct planned_joint *j = &p->v[p->match.joints];
	struct field rest;

	text->n = 0;
	for (size_t c = 0; c < p->ncolumns; c++) {
		if (c > 0)
			bytes_add(text, "\t", 1);
		bytes_add_field(text, row_field(&t->row, c));
	}
	*j = (struct planned_joint){ .text = region_keep(&p->region, bytes_field(text)),
		.line = t->row.line };
	rest = j->text;
	for (int c = 0; c < (int)p->ncolumns; c++) {
		struct field f = field_cut(&rest, '\t');

		for (int cell = 0; cell < PLANNED_CELLS; cell++)
			if (t->at[cell] == c && f.n > 0)
				j->cell[cell] = f;
	}
}

static void
add_row(struct planned *p, struct table *t, struct bytes *text)
{
	struct field kind = { "", 0 };
	struct planned_joint *j;
	int state = JOIN;
	bool fresh;

	get_word(t, STATE, &state);
	get_text(t, KIND, &kind);
	if (state != JOIN || field_is(kind, "mechanical") || field_is(kind, "connector"))
		return;
	p->v = mem_grow(p->v, &p->cap, p->match.joints + 1, sizeof *p->v);
	keep_row(p, t, text);
	j = &p->v[p->match.joints];
	for (int cell = PLANNED_JOINT; cell <= PLANNED_CLOSURE; cell++)
		if (j->cell[cell].n == 0) {
			table_fail(t, cell, "is empty");
			return;
		}
	ids_add(&p->names, &j->cell[PLANNED_JOINT], 1, &fresh);
	if (!fresh)
		table_fail(t, PLANNED_JOINT, "a second row of this joint");
	j->closure = (uint32_t)ids_add(&p->closures, &j->cell[PLANNED_CLOSURE], 1, NULL);
	p->match.joints++;
	if (p->match.joints >= MATCH_ELSEWHERE)
		table_fail(t, PLANNED_JOINT, "too many joints");
}

static int
read_rows(struct planned *p, struct table *t)
{
	struct bytes text = { NULL, 0, 0 };

	p->ncolumns = reader_columns(t->reader);
	p->columns = mem_zeroed(p->ncolumns, sizeof *p->columns);
	for (size_t c = 0; c < p->ncolumns; c++)
		p->columns[c] = region_keep(&p->region, reader_name(t->reader, c));
	while (table_next(t)) {
		p->file = t->row.file;
		add_row(p, t, &text);
	}
	bytes_free(&text);
	return err_is_set(t->err) ? -1 : 0;
}

/* --- the order of work ----------------------------------------------------------------------- */

/* Trays and slots: whole numbers by number, before all else by byte. */
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
by_row(const void *pa, const void *pb)
{
	const struct planned_joint *a = pa, *b = pb;

	if (a->closure != b->closure)
		return a->closure < b->closure ? -1 : 1;
	return a->line < b->line ? -1 : a->line > b->line;
}

static int
by_work(const void *pa, const void *pb)
{
	const struct planned_joint *a = pa, *b = pb;
	int order = 0;

	if (a->closure == b->closure)
		order = by_label(a->cell[PLANNED_TRAY], b->cell[PLANNED_TRAY]);
	if (a->closure == b->closure && order == 0)
		order = by_label(a->cell[PLANNED_SLOT], b->cell[PLANNED_SLOT]);
	return order != 0 ? order : by_row(pa, pb);
}

static void
mark_starts(struct planned *p)
{
	size_t n = p->match.joints;

	p->first = mem_zeroed(p->closures.n + 1, sizeof *p->first);
	p->entry = mem_zeroed(n + 1, sizeof *p->entry);
	for (size_t i = 0; i < n; i++) {
		const struct planned_joint *j = &p->v[i];

		if (i == 0 || j->closure != j[-1].closure) {
			p->first[j->closure] = (uint32_t)i;
			p->entry[i] = MATCH_CLOSURE_START;
		} else
			p->entry[i] = field_same(j->cell[PLANNED_TRAY], j[-1].cell[PLANNED_TRAY])
					  ? MATCH_MIDDLE
					  : MATCH_TRAY_START;
	}
	p->first[p->closures.n] = (uint32_t)n;
	p->match.closures = p->closures.n;
	p->match.first = p->first;
	p->match.entry = p->entry;
}

/* --- finding --------------------------------------------------------------------------------- */

static void
index_fibre(struct planned *p, uint32_t joint, int side, size_t *n)
{
	const struct planned_joint *j = &p->v[joint];
	const struct field *key = &j->cell[side == 0 ? PLANNED_CABLE_A : PLANNED_CABLE_B];
	size_t fibre;
	bool fresh;

	if (key[0].n == 0 || key[1].n == 0)
		return;
	fibre = ids_add(&p->fibres, key, 2, &fresh);
	if (fresh)
		p->fibre_end[fibre] = MATCH_NONE;
	p->on_fibre[*n] = (struct planned_on){ joint, p->fibre_end[fibre] };
	p->fibre_end[fibre] = (uint32_t)(*n)++;
}

static void
make_index(struct planned *p)
{
	size_t n = p->match.joints, on = 0;

	p->at_name = mem_zeroed(n + 1, sizeof *p->at_name);
	p->fibre_end = mem_zeroed(2 * n + 1, sizeof *p->fibre_end);
	p->on_fibre = mem_zeroed(2 * n + 1, sizeof *p->on_fibre);
	for (uint32_t i = 0; i < n; i++)
		p->at_name[ids_find_one(&p->names, p->v[i].cell[PLANNED_JOINT])] = i;
	/* backwards, so that each fibre's list rises */
	for (uint32_t i = (uint32_t)n; i-- > 0;)
		for (int side = 0; side < 2; side++)
			index_fibre(p, i, side, &on);
}

int
planned_read(struct planned *p, struct table *t, bool plan_order)
{
	*p = (struct planned){ .names = IDS_NONE, .closures = IDS_NONE, .fibres = IDS_NONE };
	if (read_rows(p, t) != 0)
		return -1;
	if (p->match.joints > 0)
		qsort(p->v, p->match.joints, sizeof *p->v, plan_order ? by_row : by_work);
	mark_starts(p);
	make_index(p);
	return 0;
}

void
planned_free(struct planned *p)
{
	region_free(&p->region);
	ids_free(&p->names);
	ids_free(&p->closures);
	ids_free(&p->fibres);
	free(p->v);
	free(p->columns);
	free(p->first);
	free(p->entry);
	free(p->at_name);
	free(p->fibre_end);
	free(p->on_fibre);
	*p = (struct planned){ .names = IDS_NONE, .closures = IDS_NONE, .fibres = IDS_NONE };
}

uint32_t
planned_named(const struct planned *p, struct field name)
{
	size_t i = ids_find_one(&p->names, name);

	return i == SIZE_MAX ? MATCH_NONE : p->at_name[i];
}

static bool
has_cell(const struct planned_joint *j, int cell, struct field typed)
{
	return typed.n == 0 || field_same(j->cell[cell], typed);
}

static bool
has_all(const struct planned_joint *j, const struct field typed[PLANNED_CELLS])
{
	bool straight = true, crossed = true;

	for (int cell = PLANNED_JOINT; cell <= PLANNED_SLOT; cell++)
		if (!has_cell(j, cell, typed[cell]))
			return false;
	for (int cell = PLANNED_CABLE_A; cell <= PLANNED_FIBRE_B; cell++) {
		int other = cell < PLANNED_CABLE_B ? cell + 2 : cell - 2;

		straight &= has_cell(j, cell, typed[cell]);
		crossed &= has_cell(j, other, typed[cell]);
	}
	return straight || crossed;
}

/* Those of the joints from `first` to end - 1. */
static void
add_fitting(const struct planned *p, uint32_t first, uint32_t end,
    const struct field typed[PLANNED_CELLS], struct planned_list *list)
{
	for (uint32_t i = first; i < end; i++)
		if (has_all(&p->v[i], typed))
			planned_add(list, i);
}

enum planned_meaning
planned_meant(struct planned *p, const struct field typed[PLANNED_CELLS], struct planned_list *list)
{
	const struct field *joint = &typed[PLANNED_JOINT], *closure = &typed[PLANNED_CLOSURE];
	const struct field *fibre = &typed[PLANNED_CABLE_A];
	size_t before = list->n, c = closure->n > 0 ? ids_find_one(&p->closures, *closure) : 0;

	if (closure->n > 0 && c == SIZE_MAX)
		return PLANNED_OUTSIDE;
	if (fibre[0].n == 0 || fibre[1].n == 0)
		fibre = &typed[PLANNED_CABLE_B];
	if (joint->n > 0) {
		uint32_t i = planned_named(p, *joint);

		if (i == MATCH_NONE)
			return closure->n > 0 ? PLANNED_UNFITTING : PLANNED_OUTSIDE;
		add_fitting(p, i, i + 1, typed, list);
	} else if (fibre[0].n > 0 && fibre[1].n > 0) {
		size_t f = ids_find(&p->fibres, fibre, 2);

		for (uint32_t i = f == SIZE_MAX ? MATCH_NONE : p->fibre_end[f]; i != MATCH_NONE;
		     i = p->on_fibre[i].before)
			/* a fibre joined onto itself is in its list twice, side by side */
			if (list->n == before || list->v[list->n - 1] != p->on_fibre[i].joint)
				add_fitting(
				    p, p->on_fibre[i].joint, p->on_fibre[i].joint + 1, typed, list);
	} else if (closure->n > 0)
		add_fitting(p, p->first[c], p->first[c + 1], typed, list);
	else
		add_fitting(p, 0, (uint32_t)p->match.joints, typed, list);
	return list->n > before ? PLANNED_FITS : PLANNED_UNFITTING;
}
