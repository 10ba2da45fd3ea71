#include "match/rows.h"

#include <stdlib.h>

#include "match/time.h"

/* what a column of the joints table shows */
enum show { SHOW_ATTEMPT, SHOW_STANDS, SHOW_PLAN, SHOW_KIND, SHOW_ARC, SHOW_MADE_AT, SHOW_SHIFT };

struct shown {
	enum show what;
	size_t column; /* of the plan or the arcs */
};

struct rows {
	const struct match_night *night;
	struct writer *out;
	struct shown *shown;
	size_t n;
	struct field *plan, *arc; /* the fields of one row of each */
	struct bytes text;
};

/* the plan's columns whose values stand before the arcs', in the order they are written in */
static const char *const planned[] = { "closure", "tray", "slot", "cable_a", "fibre_a", "cable_b",
	"fibre_b", "tube_a", "colour_a", "tube_b", "colour_b", "ribbon_a", "ribbon_b", "position" };
enum { PLANNED = sizeof planned / sizeof planned[0] };

/* the columns of this table's own */
static const char *const own[] = { "joint", "attempt", "stands", "kind" };
enum { OWN = sizeof own / sizeof own[0] };

/* the arcs' columns that have a place of their own; all others stand behind */
static const char *const known[] = { "est_db", "cleave_a_deg", "cleave_b_deg", "tension", "heat_s",
	"splicer", "made_at", "shift", "arc", "programme", "note" };
enum { KNOWN = sizeof known / sizeof known[0] };

static size_t
plan_column(const struct planned *plan, struct field name)
{
	size_t c = 0;

	while (c < plan->ncolumns && !field_same(plan->columns[c], name))
		c++;
	return c;
}

static bool
is_one_of(struct field name, const char *const *names, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (field_is(name, names[i]))
			return true;
	return false;
}

static void
show(struct rows *r, enum show what, size_t column, struct field name)
{
	r->shown[r->n++] = (struct shown){ what, column };
	writer_slice(r->out, name);
}

/* The columns that come from the plan. */
static void
show_plan(struct rows *r)
{
	const struct planned *plan = r->night->arcs->plan;
	size_t kind = plan_column(plan, field_of("kind"));

	show(r, SHOW_PLAN, plan_column(plan, field_of("joint")), field_of("joint"));
	show(r, SHOW_ATTEMPT, 0, field_of("attempt"));
	show(r, SHOW_STANDS, 0, field_of("stands"));
	for (size_t i = 0; i < PLANNED; i++) {
		size_t c = plan_column(plan, field_of(planned[i]));

		if (c < plan->ncolumns)
			show(r, SHOW_PLAN, c, field_of(planned[i]));
	}
	show(r, SHOW_KIND, kind, field_of("kind"));
	for (size_t c = 0; c < plan->ncolumns; c++) {
		struct field name = plan->columns[c];

		if (is_one_of(name, planned, PLANNED) || is_one_of(name, own, OWN) ||
		    is_one_of(name, known, KNOWN) || field_is(name, "state"))
			continue;
		show(r, SHOW_PLAN, c, name);
	}
}

/* The number of the name among those of arcs that are known, or KNOWN. */
static size_t
known_name(const struct table *in, size_t column)
{
	size_t k = 0;

	/* one that is read is called as the page calls it, whatever -c says */
	for (size_t c = PLANNED_CELLS; c < MATCH_COLS; c++)
		if (in->at[c] == (int)column)
			while (k < KNOWN && strcmp(known[k], in->cols[c].name) != 0)
				k++;
	if (k > 0 || in->at[MATCH_EST] == (int)column)
		return k;
	while (k < KNOWN && !field_is(reader_name(in->reader, column), known[k]))
		k++;
	return k;
}

/* true if the column does not come out: the plan's or this table's own takes its place */
static bool
is_hidden(const struct planned *plan, const struct table *in, size_t column)
{
	struct field name = reader_name(in->reader, column);

	for (int cell = 0; cell < PLANNED_CELLS; cell++)
		if (in->at[cell] == (int)column)
			return true;
	return is_one_of(name, own, OWN) ||
	       (plan_column(plan, name) < plan->ncolumns && known_name(in, column) == KNOWN &&
		   !field_is(name, "state"));
}

/* The columns that come from the arcs. */
static void
show_arcs(struct rows *r, const struct table *in)
{
	const struct planned *plan = r->night->arcs->plan;
	size_t columns = reader_columns(in->reader);

	for (size_t k = 0; k < KNOWN; k++) {
		size_t c = 0;

		while (c < columns && (known_name(in, c) != k || is_hidden(plan, in, c)))
			c++;
		if (strcmp(known[k], "shift") == 0)
			show(r, SHOW_SHIFT, 0, field_of(known[k]));
		else if (c < columns)
			show(r, strcmp(known[k], "made_at") == 0 ? SHOW_MADE_AT : SHOW_ARC, c,
			    field_of(known[k]));
	}
	for (size_t c = 0; c < columns; c++)
		if (known_name(in, c) == KNOWN && !is_hidden(plan, in, c))
			show(r, SHOW_ARC, c, reader_name(in->reader, c));
	writer_end_row(r->out);
}

static void
cut(struct field text, struct field *fields)
{
	while (text.p != NULL)
		*fields++ = field_cut(&text, '\t');
}

static void
put_shown(struct rows *r, const struct shown *s, const struct match_row *row)
{
	const struct match_arcs *arcs = r->night->arcs;
	const struct match_record *record = &arcs->v[row->record];

	r->text.n = 0;
	switch (s->what) {
	case SHOW_ATTEMPT:
		writer_whole(r->out, row->attempt);
		break;
	case SHOW_STANDS:
		writer_text(r->out, row->stands ? "yes" : "no");
		break;
	case SHOW_KIND:
		if (s->column < arcs->plan->ncolumns && r->plan[s->column].n > 0)
			writer_slice(r->out, r->plan[s->column]);
		else
			writer_text(r->out, "fusion");
		break;
	case SHOW_PLAN:
		writer_slice(r->out, r->plan[s->column]);
		break;
	case SHOW_ARC:
		writer_slice(r->out, r->arc[s->column]);
		break;
	case SHOW_MADE_AT:
		match_time_add(r->arc[s->column], arcs->streams[record->stream].clock_s, &r->text);
		writer_slice(r->out, bytes_field(&r->text));
		break;
	case SHOW_SHIFT:
		match_day_text(record->shift, &r->text);
		writer_slice(r->out, bytes_field(&r->text));
		break;
	}
}

void
match_rows_write(const struct match_night *n, const struct table *in, struct writer *out)
{
	const struct planned *plan = n->arcs->plan;
	size_t columns = reader_columns(in->reader);
	struct rows r = { n, out };

	r.shown = mem_zeroed(plan->ncolumns + columns + OWN + 1, sizeof *r.shown);
	r.plan = mem_zeroed(plan->ncolumns + 1, sizeof *r.plan);
	r.arc = mem_zeroed(columns + 1, sizeof *r.arc);
	show_plan(&r);
	show_arcs(&r, in);
	for (size_t i = 0; i < n->nrows; i++) {
		cut(plan->v[n->rows[i].joint].text, r.plan);
		cut(n->arcs->v[n->rows[i].record].text, r.arc);
		for (size_t k = 0; k < r.n; k++)
			put_shown(&r, &r.shown[k], &n->rows[i]);
		writer_end_row(out);
	}
	free(r.shown);
	free(r.plan);
	free(r.arc);
	bytes_free(&r.text);
}
