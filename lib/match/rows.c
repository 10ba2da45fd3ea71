#include "match/rows.h"

#include <stdlib.h>

#include "match/time.h"

/* what a column of the joints table shows */
enum show { SHOW_PLAN, SHOW_ATTEMPT, SHOW_STANDS, SHOW_KIND, SHOW_ARC, SHOW_MADE_AT, SHOW_SHIFT };

/*
 * The columns that have a place of their own, in the order they are written in. Those of the plan's and
 * of the arcs' that are not here stand behind `kind` and behind `note`.
 */
static const struct {
	const char *name;
	enum show what;
} known[] = {
	{ "joint", SHOW_PLAN },
	{ "attempt", SHOW_ATTEMPT },
	{ "stands", SHOW_STANDS },
	{ "closure", SHOW_PLAN },
	{ "tray", SHOW_PLAN },
	{ "slot", SHOW_PLAN },
	{ "cable_a", SHOW_PLAN },
	{ "fibre_a", SHOW_PLAN },
	{ "cable_b", SHOW_PLAN },
	{ "fibre_b", SHOW_PLAN },
	{ "tube_a", SHOW_PLAN },
	{ "colour_a", SHOW_PLAN },
	{ "tube_b", SHOW_PLAN },
	{ "colour_b", SHOW_PLAN },
	{ "ribbon_a", SHOW_PLAN },
	{ "ribbon_b", SHOW_PLAN },
	{ "position", SHOW_PLAN },
	{ "kind", SHOW_KIND },
	{ "est_db", SHOW_ARC },
	{ "cleave_a_deg", SHOW_ARC },
	{ "cleave_b_deg", SHOW_ARC },
	{ "tension", SHOW_ARC },
	{ "heat_s", SHOW_ARC },
	{ "splicer", SHOW_ARC },
	{ "made_at", SHOW_MADE_AT },
	{ "shift", SHOW_SHIFT },
	{ "arc", SHOW_ARC },
	{ "programme", SHOW_ARC },
	{ "note", SHOW_ARC },
};
enum { KNOWN = sizeof known / sizeof known[0] };

struct shown {
	enum show what;
	int column; /* of the plan or the arcs; -1: it has none */
};

struct rows {
	const struct match_night *night;
	struct writer *out;
	struct shown *shown;
	size_t n;
	struct table plan, arcs; /* places of our own in them */
	struct bytes text;
};

static void
show(struct rows *r, enum show what, int column, struct field name)
{
	r->shown[r->n++] = (struct shown){ what, column };
	writer_slice(r->out, name);
}

/* Where the name stands among those that are known, or KNOWN. */
static size_t
known_at(struct field name)
{
	size_t k = 0;

	while (k < KNOWN && !field_is(name, known[k].name))
		k++;
	return k;
}

/* What a column of the arcs is called: one that is read as the page calls it, whatever -c says. */
static struct field
arc_name(const struct table *arcs, size_t column)
{
	for (int c = PLANNED_CELLS; c < MATCH_COLS; c++)
		if (arcs->at[c] == (int)column && known_at(field_of(arcs->cols[c].name)) < KNOWN)
			return field_of(arcs->cols[c].name);
	return reader_name(arcs->reader, column);
}

/* The plan's columns that have no place of their own. */
static void
show_plan(struct rows *r)
{
	for (size_t c = 0; c < reader_columns(r->plan.reader); c++) {
		struct field name = reader_name(r->plan.reader, c);

		if (known_at(name) == KNOWN && !field_is(name, "state"))
			show(r, SHOW_PLAN, (int)c, name);
	}
}

/* The arcs' columns that have none, and that no column of the plan takes the place of. */
static void
show_arcs(struct rows *r)
{
	for (size_t c = 0; c < reader_columns(r->arcs.reader); c++) {
		struct field name = arc_name(&r->arcs, c);
		size_t k = known_at(name);
		bool typed = false;

		for (int cell = 0; cell < PLANNED_CELLS; cell++)
			typed |= r->arcs.at[cell] == (int)c;
		if (!typed && (k == KNOWN || known[k].what == SHOW_PLAN) &&
		    (field_is(name, "state") || reader_column(r->plan.reader, name) < 0))
			show(r, SHOW_ARC, (int)c, name);
	}
}

static void
show_known(struct rows *r, size_t k)
{
	enum show what = known[k].what;
	struct field name = field_of(known[k].name);
	int column = -1;

	if (what < SHOW_ARC)
		column = reader_column(r->plan.reader, name);
	else
		for (size_t c = 0; c < reader_columns(r->arcs.reader) && column < 0; c++)
			if (field_same(arc_name(&r->arcs, c), name))
				column = (int)c;
	if (column >= 0 || (what != SHOW_PLAN && what != SHOW_ARC))
		show(r, what, column, name);
	if (what == SHOW_KIND)
		show_plan(r);
}

static void
put_shown(struct rows *r, const struct shown *s, const struct match_row *row)
{
	const struct match_arcs *arcs = r->night->arcs;
	const struct match_record *record = &arcs->v[row->record];
	struct field f = { "", 0 };

	if (s->column >= 0)
		f = row_field(s->what < SHOW_ARC ? &r->plan.row : &r->arcs.row, (size_t)s->column);
	r->text.n = 0;
	if (s->what == SHOW_ATTEMPT) {
		writer_whole(r->out, row->attempt);
		return;
	}
	if (s->what == SHOW_STANDS)
		f = field_of(row->stands ? "yes" : "no");
	else if (s->what == SHOW_KIND && f.n == 0)
		f = field_of("fusion");
	else if (s->what == SHOW_MADE_AT)
		match_time_add(f, arcs->streams[record->stream].clock_s, &r->text);
	else if (s->what == SHOW_SHIFT)
		match_day_text(record->shift, &r->text);
	writer_slice(r->out, r->text.n > 0 ? bytes_field(&r->text) : f);
}

void
match_rows_write(const struct match_night *n, struct writer *out)
{
	const struct planned *plan = n->arcs->plan;
	struct rows r = { n, out, .plan = *plan->table, .arcs = *n->arcs->table };

	r.shown = mem_zeroed(
	    KNOWN + reader_columns(r.plan.reader) + reader_columns(r.arcs.reader), sizeof *r.shown);
	for (size_t k = 0; k < KNOWN; k++)
		show_known(&r, k);
	show_arcs(&r);
	writer_end_row(out);
	for (size_t i = 0; i < n->nrows; i++) {
		table_at(&r.plan, plan->v[n->rows[i].joint].row);
		table_at(&r.arcs, n->arcs->v[n->rows[i].record].row);
		for (size_t k = 0; k < r.n; k++)
			put_shown(&r, &r.shown[k], &n->rows[i]);
		writer_end_row(out);
	}
	free(r.shown);
	bytes_free(&r.text);
}
