#include "import/export.h"

#include <inttypes.h>
#include <stdlib.h>

/* --- records --------------------------------------------------------------------------------- */

static void
hand_out(struct export *x, struct record *r, const struct line *first, const struct line *last)
{
	const struct lines *in = &x->in;

	r->f = x->cells.f;
	r->n = x->cells.n;
	r->replaced = x->cells.replaced;
	r->blank = false;
	x->raw_n = last->at + last->n;
	r->text = (struct field){ lines_text(in, first), first->text_n };
	r->line = in->fault_line != 0 ? in->fault_line : x->lines + 1;
	r->fault = in->fault_line != 0 ? in->fault : NULL;
	r->cut = last->taken == last->n;
	x->taken = last->at + last->taken;
	x->taken_lines = in->number - x->lines;
}

/* The blank lines before the present record, as one record. */
static void
hand_out_blank(struct export *x, struct record *r)
{
	cells_add(&x->cells, (struct field){ "", 0 });
	*r = (struct record){ .f = x->cells.f, .n = 1, .text = { "", 0 } };
	r->blank = true;
	x->raw_n = 0;
	r->line = x->blank;
	x->blank = 0;
}

/* Moves behind the record that was handed out. */
static void
move_on(struct export *x)
{
	x->in.at += x->taken;
	x->lines += x->taken_lines;
	x->taken = x->taken_lines = 0;
}

/* Takes the next line, the first of a record. */
static bool
take_first(struct export *x, struct line *l)
{
	l->at = 0;
	x->in.decoded.n = 0;
	x->in.fault_line = 0;
	x->in.number = x->lines + 1;
	x->cells.n = x->cells.replaced = x->cells.copied.n = 0;
	return lines_take(&x->in, l);
}

static void
pass_over(struct export *x, const struct line *l)
{
	x->in.at += l->taken;
	x->lines++;
}

bool
export_next(struct export *x, struct record *r)
{
	struct line l, first;

	if (err_is_set(x->in.err))
		return false;
	for (move_on(x); take_first(x, &l); pass_over(x, &l)) {
		struct field text = { lines_text(&x->in, &l), l.text_n };

		if (x->dialect.comment.n > 0 && field_begins(text, x->dialect.comment))
			continue;
		if (x->dialect.layout == LAYOUT_LABELS && named_is_border(text))
			continue;
		if (text.n == 0 ||
		    (x->dialect.trim && x->in.scan.n == 0 && cells_trimmed(text).n == 0)) {
			x->blank = x->blank == 0 ? x->lines + 1 : x->blank;
			continue;
		}
		if (x->blank != 0) {
			hand_out_blank(x, r);
			return true;
		}
		first = l;
		if (x->dialect.layout == LAYOUT_CELLS ? !cells_read(&x->cells, &l)
						      : !named_read(x, &l))
			return false;
		hand_out(x, r, &first, &l);
		return true;
	}
	return false;
}

/* --- the beginning --------------------------------------------------------------------------- */

static struct export *
opened(struct export *x, int status)
{
	if (status == 0)
		return x;
	export_close(x);
	return NULL;
}

struct export *
export_open(const char *path, size_t block, struct err *err)
{
	struct export *x = mem_zeroed(1, sizeof *x);

	return opened(x, lines_open(&x->in, path, block, err));
}

struct export *
export_memory(const char *name, struct field text, struct err *err)
{
	struct export *x = mem_zeroed(1, sizeof *x);

	return opened(x, lines_memory(&x->in, name, text, err));
}

/* So many lines, whatever is in them. */
static int
skip(struct export *x, uint64_t n, const char *setting)
{
	struct line l;

	for (move_on(x); n > 0; n--, pass_over(x, &l)) {
		if (!take_first(x, &l))
			return err_set(x->in.err,
			    "%s: ends within the lines of the map's setting '%s'", x->in.name,
			    setting);
		if (x->dialect.keep_skipped) {
			struct field text = { lines_text(&x->in, &l), l.text_n };

			x->skipped = mem_grow(
			    x->skipped, &x->cap_skipped, x->nskipped + 1, sizeof *x->skipped);
			x->skipped[x->nskipped++] = region_keep(&x->kept, text);
		}
	}
	x->dialect.keep_skipped = false;
	return 0;
}

/* What is wrong with the first record, or NULL. */
static const char *
first_fault(const struct record *r)
{
	if (r->blank)
		return "blank line where the table should begin: see the map's setting 'skip'";
	if (r->fault == NULL && r->n <= 2 && r->text.n <= 6 && field_starts(r->text, "sep="))
		return "the line is a spreadsheet's delimiter mark: see the map's setting 'skip'";
	return r->fault;
}

/* The first record: the header, or only looked at. */
static int
read_first(struct export *x)
{
	struct record r;
	bool header = x->dialect.header;

	if (!export_next(x, &r))
		return err_set(x->in.err, "%s: no %s", x->in.name, header ? "header line" : "rows");
	if (first_fault(&r) != NULL)
		return err_set(
		    x->in.err, "%s:%" PRIu64 ": %s", x->in.name, r.line, first_fault(&r));
	x->ncols = r.n;
	x->names = mem_zeroed(x->ncols, sizeof *x->names);
	for (size_t i = 0; i < x->ncols; i++)
		x->names[i] = header ? region_keep(&x->kept, r.f[i]) : (struct field){ "", 0 };
	if (header)
		x->header_line = r.line;
	else
		x->taken = x->taken_lines = 0; /* it stays where it is */
	return 0;
}

/* Prepares a layout without a header: the map says the names. */
static int
begin_named(struct export *x, const struct wanted *wanted)
{
	x->wanted = *wanted;
	x->wanted.seen = mem_zeroed(wanted->n + 1, sizeof *x->wanted.seen);
	x->at = mem_zeroed(wanted->n + 1, sizeof *x->at);
	x->ncols = wanted->n;
	x->names = mem_zeroed(wanted->n + 1, sizeof *x->names);
	for (size_t i = 0; i < wanted->n; i++)
		x->names[i] = wanted->names[i];
	/* these layouts have no delimiters and no quotes; the marks are not read */
	x->in.scan.delimiter = '\x1f';
	x->in.scan.quote = '\0';
	return skip(x, x->dialect.skip, "skip");
}

int
export_begin(struct export *x, const struct dialect *dialect, const struct wanted *wanted)
{
	x->dialect = *dialect;
	x->cells.in = &x->in;
	x->cells.trim = dialect->trim;
	x->in.scan.delimiter = dialect->delimiter;
	x->in.scan.quote = dialect->quote;
	if (lines_decode(&x->in, dialect->encoding) != 0)
		return -1;
	if (dialect->layout != LAYOUT_CELLS)
		return begin_named(x, wanted);
	if (skip(x, dialect->skip, "skip") != 0 || read_first(x) != 0)
		return -1;
	return skip(x, dialect->skip_below, "skip_below");
}

struct field
export_raw(const struct export *x)
{
	return lines_raw(&x->in, x->raw_n);
}

bool
export_is_header(const struct export *x, const struct record *r)
{
	bool same = x->header_line > 0 && r->n == x->ncols;

	for (size_t i = 0; i < x->ncols && same; i++) {
		struct field f = r->f[i];

		if (i == 0 && field_starts(f, BYTES_BOM))
			f = field_behind(f, 3);
		same = field_same(f, x->names[i]);
	}
	return same;
}

void
export_close(struct export *x)
{
	if (x == NULL)
		return;
	lines_close(&x->in);
	cells_free(&x->cells);
	region_free(&x->kept);
	bytes_free(&x->string);
	free(x->skipped);
	free(x->wanted.seen);
	free(x->at);
	free(x->names);
	free(x);
}
