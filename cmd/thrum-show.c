/*
 * thrum-show: a table for the eye, or a part of it for a script: columns by name, rows by conditions
 * on columns, in the order of a column.
 */
#include <stdlib.h>
#include <unistd.h>

#include "base/num.h"
#include "base/os.h"
#include "page/grid.h"
#include "table/condition.h"
#include "table/head.h"
#include "table/prog.h"

struct opts {
	struct opt_list columns, where;
	const char *sort;
	bool reverse, tsv;
	int64_t first, width;
};

static const struct opt opts[] = {
	{ 0, "columns", OPT_LIST, offsetof(struct opts, columns), "COL[,COL]",
	    "these columns, in this order (all)" },
	{ 0, "where", OPT_TEXTS, offsetof(struct opts, where), "CONDITION",
	    "rows that meet COL=VALUE, COL!=VALUE, COL<N, COL<=N, COL>N or COL>=N, each time it is given" },
	{ 0, "sort", OPT_TEXT, offsetof(struct opts, sort), "COL",
	    "in the order of this column, numbers before texts, empty fields last" },
	{ 0, "reverse", OPT_FLAG, offsetof(struct opts, reverse), NULL,
	    "with --sort: the greatest first" },
	{ 0, "first", OPT_WHOLE, offsetof(struct opts, first), "N", "only the first N rows", 0,
	    1e15 },
	{ 0, "tsv", OPT_FLAG, offsetof(struct opts, tsv), NULL,
	    "a table again, not one laid out for the eye" },
	{ 0, "width", OPT_WHOLE, offsetof(struct opts, width), "N",
	    "lay it out in N columns, 0: as wide as need be (the terminal's)", 0, 1e6 },
	{ 0 },
};

static const struct col no_cols[] = { { NULL } };
static const struct table_in inputs[] = { { .cols = no_cols, .flags = IN_SAME_COLUMNS }, { NULL } };
static const struct table_out outputs[] = { { .flags = OUT_LATER }, { NULL } };

static const struct page page = {
	.name = "thrum-show",
	.purpose = "a table for the eye, or a part of it",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

/* a row that waits to be sorted or laid out */
struct kept {
	struct field *cells, key; /* those shown, and the one it is sorted by */
	double number;
	int class; /* of the key: 0 a number, 1 a text, 2 empty */
	size_t place;
};

struct show {
	struct prog p;
	struct opts o;
	size_t *columns, n; /* those shown */
	struct field *cells;

	struct condition *where; /* all that o.where has */
	size_t sort;             /* SIZE_MAX: as they come */
	struct kept *rows;
	size_t nrows, cap;
	struct region text;
	struct writer *out;
};

/* --- what is asked for ----------------------------------------------------------------------- */

static int
find_columns(struct show *s)
{
	struct table *t = &s->p.in[0];
	size_t all = reader_columns(t->reader);
	int n;

	s->columns = mem_zeroed(all + s->o.columns.n, sizeof *s->columns);
	s->cells = mem_zeroed(all + s->o.columns.n + 1, sizeof *s->cells);
	n = table_list(t, "columns", &s->o.columns, s->o.columns.n, s->columns);
	if (n < 0)
		return -1;
	for (s->n = (size_t)n; s->o.columns.n == 0 && s->n < all; s->n++)
		s->columns[s->n] = s->n;
	return 0;
}

static int
prepare(struct show *s)
{
	int column = 0;

	if (s->o.reverse && s->o.sort == NULL)
		return err_set(&s->p.err, "--reverse: only with --sort");
	if (prog_open(&s->p) != 0 || find_columns(s) != 0)
		return -1;
	s->sort = SIZE_MAX;
	s->where = mem_zeroed(s->o.where.n + 1, sizeof *s->where);
	for (size_t i = 0; i < s->o.where.n; i++)
		if (condition_read(&s->where[i], "--where", s->o.where.v[i].p, &s->p.in[0]) != 0)
			return -1;
	if (s->o.sort != NULL) {
		column = reader_need(s->p.in[0].reader, field_of(s->o.sort));
		s->sort = (size_t)column;
	}
	s->out = prog_writer(&s->p, 0);
	return column < 0 ? -1 : 0;
}

/* --- rows ------------------------------------------------------------------------------------ */

static void
put_row(struct show *s, const struct field *cells)
{
	for (size_t i = 0; i < s->n; i++)
		writer_slice(s->out, cells[i]);
	writer_end_row(s->out);
}

static void
keep_row(struct show *s)
{
	struct kept *k;

	s->rows = mem_grow(s->rows, &s->cap, s->nrows + 1, sizeof *s->rows);
	k = &s->rows[s->nrows];
	*k = (struct kept){ .cells = region_get(&s->text, s->n * sizeof *k->cells),
		.place = s->nrows++ };
	for (size_t i = 0; i < s->n; i++)
		k->cells[i] = region_keep(&s->text, s->cells[i]);
	if (s->sort == SIZE_MAX)
		return;
	k->key = region_keep(&s->text, row_field(&s->p.in[0].row, s->sort));
	k->class = k->key.n == 0 ? 2 : num_parse(k->key, &k->number) != 0;
}

static bool
is_wanted(struct show *s)
{
	for (size_t i = 0; i < s->o.where.n; i++)
		if (!condition_met(&s->where[i], &s->p.in[0]))
			return false;
	return true;
}

/* Every row that is wanted is written at once, or kept. */
static void
read_rows(struct show *s)
{
	const struct row *row = &s->p.in[0].row;
	bool straight = s->o.tsv && s->sort == SIZE_MAX;
	int64_t left = s->o.first;

	while ((left != 0 || s->sort != SIZE_MAX) && prog_next(&s->p)) {
		if (!is_wanted(s))
			continue;
		for (size_t i = 0; i < s->n; i++)
			s->cells[i] = row_field(row, s->columns[i]);
		if (s->o.tsv && s->n == 1 &&
		    head_alone(&s->p.err, row->file, row->line, s->cells[0],
			reader_name(s->p.in[0].reader, s->columns[0])) != 0)
			return;
		if (straight)
			put_row(s, s->cells);
		else
			keep_row(s);
		left -= left > 0;
	}
}

/* The order of two keys; empty ones come last in either direction. */
static int
by_key(const struct kept *a, const struct kept *b, bool *fixed)
{
	*fixed = a->class != b->class;
	if (*fixed)
		return a->class - b->class;
	if (a->class == 0)
		return (a->number > b->number) - (a->number < b->number);
	return field_order(a->key, b->key);
}

static int
by_place(const struct kept *a, const struct kept *b)
{
	return (a->place > b->place) - (a->place < b->place);
}

static int
rising(const void *a, const void *b)
{
	bool fixed;
	int by = by_key(a, b, &fixed);

	return by != 0 ? by : by_place(a, b);
}

static int
falling(const void *a, const void *b)
{
	bool fixed;
	int by = by_key(a, b, &fixed);

	return by == 0 ? by_place(a, b) : fixed ? by : -by;
}

/* --- writing --------------------------------------------------------------------------------- */

static void
put_names(struct show *s)
{
	for (size_t i = 0; i < s->n; i++)
		s->cells[i] = reader_name(s->p.in[0].reader, s->columns[i]);
}

static void
write_kept(struct show *s)
{
	struct bytes text = { NULL, 0, 0 };
	struct grid grid;
	size_t n = s->nrows;

	if (s->sort != SIZE_MAX) {
		if (n > 0)
			qsort(s->rows, n, sizeof *s->rows, s->o.reverse ? falling : rising);
		if (s->o.first >= 0 && (uint64_t)s->o.first < n)
			n = (size_t)s->o.first;
	}
	for (size_t i = 0; s->o.tsv && i < n; i++)
		put_row(s, s->rows[i].cells);
	if (s->o.tsv)
		return;
	put_names(s);
	grid_open(&grid, s->cells, s->n);
	for (size_t i = 0; i < n; i++)
		grid_add(&grid, s->rows[i].cells);
	grid_write(&grid, s->o.width >= 0 ? (size_t)s->o.width : os_terminal_width(), &text);
	writer_bytes(s->out, text.p, text.n);
	grid_free(&grid);
	bytes_free(&text);
}

int
main(int argc, char **argv)
{
	struct show s = { .o = { .first = -1, .width = -1 } };

	(void)argc;
	if (prog_begin(&s.p, &page, &s.o, argv) == 0 && prepare(&s) == 0) {
		if (s.o.tsv) {
			put_names(&s);
			put_row(&s, s.cells);
		}
		read_rows(&s);
		if (!err_is_set(&s.p.err))
			write_kept(&s);
	}
	free(s.columns);
	free(s.cells);
	free(s.where);
	free(s.rows);
	region_free(&s.text);
	return prog_close(&s.p, EXIT_DONE);
}
