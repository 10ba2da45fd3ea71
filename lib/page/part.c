#include "page/part.h"

#include <stdlib.h>

#include "base/num.h"
#include "base/opt.h"
#include "page/grid.h"
#include "page/html.h"
#include "page/width.h"

enum {
	VERDICT,
	CLOSURE,
	LEVEL,
	RULE,
	MISSING,
	NOT_DUE,
	ACTION,
	OPEN,
	BASIS,
	STANDS,
	LOSS,
	EST,
	LIMIT,
	ASIDE,
	SETTLES,
	IS
};
static const struct col cols[] = {
	[VERDICT] = { "verdict", COL_MAY, COL_TEXT },
	[CLOSURE] = { "closure", COL_MAY, COL_TEXT },
	[LEVEL] = { "level", COL_MAY, COL_TEXT },
	[RULE] = { "rule", COL_MAY, COL_TEXT },
	[MISSING] = { "missing", COL_MAY, COL_TEXT },
	[NOT_DUE] = { "not_due", COL_MAY, COL_TEXT },
	[ACTION] = { "action", COL_MAY, COL_TEXT },
	[OPEN] = { "open", COL_MAY, COL_TEXT },
	[BASIS] = { "basis", COL_MAY, COL_TEXT },
	[STANDS] = { "stands", COL_MAY, COL_TEXT },
	[LOSS] = { "loss_db", COL_MAY, COL_TEXT },
	[EST] = { "est_db", COL_MAY, COL_TEXT },
	[LIMIT] = { "limit_db", COL_MAY, COL_TEXT },
	[ASIDE] = { "aside_why", COL_MAY, COL_TEXT },
	[SETTLES] = { "settles", COL_MAY, COL_TEXT },
	[IS] = { "is", COL_MAY, COL_TEXT },
	{ NULL },
};

/* letters of 10 point across the text of an A4 page, and of a mail */
enum { PAPER = 90, MAIL = 78, TEXT_MOST = 26, GAP = 2, TEXT_PAD = 1 };

/* what is chosen first where there is not room for all, in this order */
static const char wanted[] =
    "closure,loss_nm,joint,link,verdict,says,action,cause,rule,level,wavelength_nm,"
    "failed,missing,unknown,max_db,loss_db,loss_ab_db,loss_ba_db,est_db,worst_joint,not_due,"
    "mean_db,margin_db,planned,joints,basis";

/* --- the rows --------------------------------------------------------------------------------- */

/* how bad a row is */
enum { ABSENT, BAD, DOUBTFUL, FINE };

static bool
is_pass(struct field f)
{
	return field_is(f, "pass");
}

/* Adds what is missing: a closure at several wavelengths lacks the same joints in each of its rows. */
static void
add_missing(struct part *p, int64_t missing)
{
	struct field closure = table_field(&p->table, CLOSURE);
	bool fresh;
	size_t i = ids_add(&p->closures, &closure, 1, &fresh);

	p->missing = mem_grow(p->missing, &p->missing_cap, i + 1, sizeof *p->missing);
	if (fresh)
		p->missing[i] = 0;
	if (missing <= p->missing[i])
		return;
	p->counts.missing += missing - p->missing[i];
	p->missing[i] = missing;
}

/* Whether the present row is a loss above its limit. */
static bool
is_over(const struct table *t)
{
	double loss, limit;

	return num_parse(table_field(t, LOSS), &loss) == 0 &&
	       num_parse(table_field(t, LIMIT), &limit) == 0 && loss > limit + 1e-9;
}

static bool
is_count(struct field f)
{
	int64_t n;

	return f.n == 0 || num_whole(f, &n) == 0;
}

/* Whether what the verdict rests on cannot be read. */
static bool
is_odd(const struct table *t)
{
	struct field loss = table_field(t, LOSS), limit = table_field(t, LIMIT);
	struct field level = table_field(t, LEVEL);
	double x;

	return (loss.n > 0 && limit.n > 0 &&
		   (num_parse(loss, &x) != 0 || num_parse(limit, &x) != 0)) ||
	       !is_count(table_field(t, MISSING)) || !is_count(table_field(t, NOT_DUE)) ||
	       (level.n > 0 && !field_is(level, "error") && !field_is(level, "warning"));
}

/* Whether it was set aside, or asks what nobody has answered. */
static bool
is_waiting(const struct table *t)
{
	return table_has(t, ASIDE) || (table_has(t, SETTLES) && table_field(t, IS).n == 0);
}

/* Looks at the present row; returns how bad it is. */
static int
look(struct part *p)
{
	struct table *t = &p->table;
	struct field verdict = table_field(t, VERDICT), level = table_field(t, LEVEL);
	int64_t missing = 0, not_due = 0;
	bool waiting = is_waiting(t), odd = is_odd(t), doubtful = waiting || odd, bad = is_over(t);

	p->counts.waiting += waiting;
	p->counts.odd += odd;
	p->counts.over += bad;
	if (num_whole(table_field(t, MISSING), &missing) == 0 && missing > 0)
		add_missing(p, missing);
	num_whole(table_field(t, NOT_DUE), &not_due);
	p->counts.not_due += not_due > 0;
	if (p->counts.judged) {
		bool unknown = verdict.n == 0 || field_is(verdict, "unknown");
		bool fails = !unknown && !is_pass(verdict);

		doubtful |= unknown;
		bad |= fails;
		p->counts.unknown += unknown;
		p->counts.pass += is_pass(verdict);
		p->counts.fail += fails;
	}
	p->counts.errors += field_is(level, "error");
	if (table_has(t, ACTION))
		*(field_is(table_field(t, OPEN), "no") ? &p->counts.look : &p->counts.open) += 1;
	if (missing > 0 || field_is(table_field(t, RULE), "plan-missing"))
		return ABSENT;
	if (bad || field_is(level, "error"))
		return BAD;
	if (!p->counts.judged && table_has(t, LOSS) && table_field(t, LOSS).n == 0)
		doubtful |= !field_is(table_field(t, STANDS), "no");
	doubtful |= not_due > 0;
	return doubtful || field_is(level, "warning") || table_has(t, ACTION) ? DOUBTFUL : FINE;
}

struct ranked {
	int how;
	double loss;
	size_t row;
};

static int
worst_first(const void *x, const void *y)
{
	const struct ranked *a = x, *b = y;

	if (a->how != b->how)
		return a->how - b->how;
	if (a->loss != b->loss)
		return a->loss > b->loss ? -1 : 1;
	return (a->row > b->row) - (a->row < b->row);
}

static void
rank(struct part *p, size_t most)
{
	size_t n = table_rows(&p->table);
	struct ranked *v = mem_zeroed(n + 1, sizeof *v);

	p->counts.judged = table_has(&p->table, VERDICT);
	p->counts.rows = n;
	for (size_t i = 0; i < n; i++) {
		table_at(&p->table, i);
		v[i] = (struct ranked){ look(p), 0, i };
		/* of joints that are not all shown the greatest losses are */
		if (n > most)
			num_parse(table_field(&p->table, LOSS), &v[i].loss);
	}
	qsort(v, n, sizeof *v, worst_first);
	p->shown = n < most ? n : most;
	p->order = mem_zeroed(p->shown + 1, sizeof *p->order);
	for (size_t i = 0; i < p->shown; i++)
		p->order[i] = v[i].row;
	free(v);
}

/* --- the columns ------------------------------------------------------------------------------ */

static struct field
name_of(const struct part *p, size_t column)
{
	return reader_name(p->table.reader, column);
}

static struct field
cell(struct part *p, size_t row, size_t column)
{
	table_at(&p->table, p->order[row]);
	return row_field(&p->table.row, column);
}

/* The letters that a column takes; 0: all that is shown of it is empty. */
static size_t
width_of(struct part *p, size_t column)
{
	struct field head, unit, name = name_of(p, column);
	size_t most = 0, head_width;
	bool numbers = true;
	double x;

	for (size_t i = 0; i < p->shown; i++) {
		struct field f = cell(p, i, column);
		size_t width = width_field(f);

		numbers &= f.n == 0 || num_parse(f, &x) == 0;
		most = width > most ? width : most;
	}
	if (most == 0)
		return 0;
	most = !numbers && most > TEXT_MOST ? TEXT_MOST : most;
	grid_head(name, &head, &unit);
	head_width = width_field(head);
	/* a mark of one letter may stand before it */
	return (head_width > most + 1 ? head_width : most + 1) + GAP;
}

/* Takes the column if it is not empty and has room. */
static void
take(struct part *p, bool *in, size_t *used, size_t column, size_t room)
{
	size_t width = in[column] ? 0 : width_of(p, column);

	if (width == 0 || (*used > 0 && *used + width > room))
		return;
	in[column] = true;
	*used += width;
}

static void
choose(struct part *p, size_t room)
{
	size_t all = reader_columns(p->table.reader), used = 0;
	bool *in = mem_zeroed(all, sizeof *in);

	p->columns = mem_zeroed(all + 1, sizeof *p->columns);
	for (struct field rest = field_of(wanted); rest.n > 0;) {
		struct field want = field_cut(&rest, ',');

		for (size_t c = 0; c < all; c++)
			if (field_same(name_of(p, c), want))
				take(p, in, &used, c, room);
	}
	for (size_t c = 0; c < all; c++)
		take(p, in, &used, c, room);
	for (size_t c = 0; c < all; c++)
		if (in[c])
			p->columns[p->n++] = c;
	free(in);
}

int
part_open(struct part *p, const char *path, size_t most, struct err *err)
{
	char *files[1];
	int failed;

	*p = (struct part){ .path = path, .closures = IDS_NONE };
	/* table_open only reads the name */
	files[0] = (char *)(uintptr_t)path;
	failed = table_open(&p->table, cols, files, 1, 0, NULL, err) != 0 ||
		 table_hold(&p->table, HOLD_ROWS, NULL, true, NULL) != 0;
	if (!failed)
		rank(p, most);
	return failed ? -1 : 0;
}

void
part_close(struct part *p)
{
	ids_free(&p->closures);
	free(p->missing);
	free(p->order);
	free(p->columns);
	table_close(&p->table);
}

/* --- what it says ----------------------------------------------------------------------------- */

static void
add_count(struct bytes *b, bool *any, int64_t n, const char *one, const char *many)
{
	if (n == 0)
		return;
	bytes_add_format(b, "%s%lld %s", *any ? ", " : "", (long long)n, n == 1 ? one : many);
	*any = true;
}

void
part_says(const struct part *p, struct bytes *b)
{
	const struct part_counts *c = &p->counts;
	bool any = false;

	add_count(b, &any, c->missing, "joint missing", "joints missing");
	add_count(b, &any, (int64_t)c->fail, "row does not pass", "rows do not pass");
	add_count(b, &any, (int64_t)c->over, "loss above its limit", "losses above their limits");
	add_count(b, &any, (int64_t)c->odd, "row that cannot be read", "rows that cannot be read");
	add_count(b, &any, (int64_t)c->waiting, "row for a person", "rows for a person");
	add_count(b, &any, (int64_t)c->unknown, "unknown", "unknown");
	add_count(b, &any, (int64_t)c->pass, "passes", "pass");
	add_count(b, &any, (int64_t)c->not_due, "row of only a part of its joints",
	    "rows of only a part of their joints");
	add_count(b, &any, (int64_t)c->errors, "error", "errors");
	add_count(b, &any, (int64_t)c->open, "joint to open again", "joints to open again");
	add_count(
	    b, &any, (int64_t)c->look, "to read again or correct", "to read again or correct");
	if (c->judged && c->rows == 0)
		bytes_add_text(b, any ? ", nothing judged" : "nothing judged");
}

/* what is no loss, though it is a number of decibels */
#define MARK_ESTIMATE "\xe2\x89\x88" /* almost equal to */
#define MARK_ONE_WAY  "\xe2\x86\x92" /* an arrow */
enum { LOSS_READ, ESTIMATE, ONE_WAY };

static int
kind_of(struct part *p, size_t column)
{
	struct field name = name_of(p, column), basis = table_field(&p->table, BASIS);

	if (field_is(name, "est_db"))
		return ESTIMATE;
	if (field_is(name, "loss_ab_db") || field_is(name, "loss_ba_db"))
		return ONE_WAY;
	if (field_among(field_of("loss_db,mean_db,median_db,p95_db,max_db"), ',', name) == SIZE_MAX)
		return LOSS_READ;
	if (field_is(basis, "estimate") || field_is(basis, "mixed"))
		return ESTIMATE;
	return field_is(basis, "one-way") ? ONE_WAY : LOSS_READ;
}

/* true if the cell says what is wrong, which is not left to be seen by itself */
static bool
is_wrong(struct part *p, size_t column, struct field f)
{
	struct field name = name_of(p, column);

	if (field_is(name, "verdict"))
		return !is_pass(f);
	if (field_is(name, "missing"))
		return f.n > 0 && !field_is(f, "0");
	return field_is(name, "level") && field_is(f, "error");
}

static const char *
mark_of(struct part *p, size_t column, struct field f)
{
	int kind = kind_of(p, column);

	if (is_wrong(p, column, f))
		return "! ";
	return f.n == 0 || kind == LOSS_READ ? "" : kind == ESTIMATE ? MARK_ESTIMATE : MARK_ONE_WAY;
}

/* What is not shown, and what the marks mean. */
static void
add_notes(struct part *p, struct bytes *b)
{
	size_t all = reader_columns(p->table.reader), next = 0, left = 0;
	bool estimates = false, one_way = false;

	if (p->counts.rows == 0) {
		bytes_add_format(b, "No rows in %s.", p->path);
		return;
	}
	for (size_t i = 0; i < p->shown; i++)
		for (size_t c = 0; c < p->n; c++) {
			struct field f = cell(p, i, p->columns[c]);
			const char *mark = mark_of(p, p->columns[c], f);

			estimates |= strcmp(mark, MARK_ESTIMATE) == 0;
			one_way |= strcmp(mark, MARK_ONE_WAY) == 0;
		}
	if (estimates)
		bytes_add_text(b, MARK_ESTIMATE
		    " rests on a machine's estimate, or may where not all joints are measured. ");
	if (one_way)
		bytes_add_text(b, MARK_ONE_WAY " read from one end only: not a loss. ");
	if (p->shown < p->counts.rows)
		bytes_add_format(b, "%zu of %zu rows, the worst first. ", p->shown, p->counts.rows);
	for (size_t c = 0; c < all; c++) {
		if (next < p->n && p->columns[next] == c) {
			next++;
			continue;
		}
		bytes_add_text(b, left++ == 0 ? "Columns not shown, or empty: " : ", ");
		bytes_add_field(b, name_of(p, c));
	}
	if (left > 0)
		bytes_add_text(b, ". ");
	if (left > 0 || p->shown < p->counts.rows)
		bytes_add_format(b, "All of it is in %s.", p->path);
}

/* --- as HTML ---------------------------------------------------------------------------------- */

/* How many decimals the numbers of a column have at most; -1: they are not all numbers. */
static int
places_of(struct part *p, size_t column)
{
	int most = 0;
	double x;

	for (size_t i = 0; i < p->shown; i++) {
		struct field f = cell(p, i, column), number = f;

		field_cut(&f, '.');
		if (number.n > 0 && num_parse(number, &x) != 0)
			return -1;
		if ((int)f.n > most)
			most = (int)f.n;
	}
	return most;
}

static void
cell_html(struct part *p, size_t row, size_t column, int places, struct bytes *b)
{
	struct field f = cell(p, row, column), decimals = f;
	const char *mark = mark_of(p, column, f), *tag = mark[0] == '!' ? "b"
							 : mark[0]      ? "i"
									: "span";

	bytes_add_format(b, "<td%s><%s>",
	    places >= 0                   ? " class=\"n\""
	    : width_field(f) <= TEXT_MOST ? " class=\"s\""
					  : "",
	    tag);
	html_fill(b, "%%", field_of(mark), f.n == 0 && mark[0] == '!' ? field_of("not known") : f);
	bytes_add_format(b, "</%s>", tag);
	/* decimals that it lacks, so that points stand below each other */
	field_cut(&decimals, '.');
	if (places > 0 && f.n > 0) {
		bytes_add_text(b, decimals.p == NULL ? "\xe2\x80\x88" : "");
		for (int i = (int)decimals.n; i < places; i++)
			bytes_add_text(b, "\xe2\x80\x87");
	}
	bytes_add_text(b, "</td>");
}

void
part_html(struct part *p, struct bytes *b)
{
	struct bytes notes = { NULL, 0, 0 };
	int *places;

	choose(p, PAPER);
	places = mem_zeroed(p->n + 1, sizeof *places);
	bytes_add_text(b, "<div class=\"table\"><table>\n<thead><tr>");
	for (size_t c = 0; c < p->n; c++) {
		struct field head, unit;

		places[c] = places_of(p, p->columns[c]);
		grid_head(name_of(p, p->columns[c]), &head, &unit);
		bytes_add_format(b, "<th scope=\"col\"%s>", places[c] >= 0 ? " class=\"n\"" : "");
		html_text(b, head);
		if (unit.n > 0)
			html_fill(b, "<br />%", unit);
		bytes_add_text(b, "</th>");
	}
	bytes_add_text(b, "</tr></thead>\n<tbody>\n");
	for (size_t i = 0; i < p->shown; i++) {
		bytes_add_text(b, "<tr>");
		for (size_t c = 0; c < p->n; c++)
			cell_html(p, i, p->columns[c], places[c], b);
		bytes_add_text(b, "</tr>\n");
	}
	bytes_add_text(b, "</tbody>\n</table></div>\n");
	add_notes(p, &notes);
	if (notes.n > 0)
		html_fill(b, "<p class=\"note\">%</p>\n", bytes_field(&notes));
	bytes_free(&notes);
	free(places);
}

/* --- as text ---------------------------------------------------------------------------------- */

void
part_text(struct part *p, struct bytes *b)
{
	struct bytes one = { NULL, 0, 0 }, clean = { NULL, 0, 0 };
	struct region text = { NULL, 0 };
	struct field *cells;
	struct grid grid;

	choose(p, MAIL);
	cells = mem_zeroed(p->n + 1, sizeof *cells);
	for (size_t c = 0; c < p->n; c++)
		cells[c] = name_of(p, p->columns[c]);
	grid_open(&grid, cells, p->n);
	for (size_t i = 0; i < p->shown; i++) {
		for (size_t c = 0; c < p->n; c++) {
			struct field f = cell(p, i, p->columns[c]);

			one.n = 0;
			bytes_add_text(&one, mark_of(p, p->columns[c], f));
			bytes_add_field(&one, f);
			cells[c] = region_keep(&text, bytes_field(&one));
		}
		grid_add(&grid, cells);
	}
	grid_write(&grid, MAIL, b);
	one.n = 0;
	add_notes(p, &one);
	if (one.n > 0) {
		bytes_add_text(b, "Note:");
		for (struct field rest = bytes_field(&one); rest.n > 0;) {
			clean.n = 0;
			bytes_add_clean(&clean, field_cut(&rest, ' '));
			opt_wrap(b, 0, bytes_field(&clean));
		}
		bytes_add_text(b, "\n");
	}
	grid_free(&grid);
	bytes_free(&one);
	bytes_free(&clean);
	region_free(&text);
	free(cells);
}
