#include "import/csvin.h"

#include <csv.h>
#include <stdlib.h>

#include "base/mem.h"
#include "base/lower_bound.h"
#include "import/csvlines.h"

struct csvin {
	struct csvlines in;
	struct csvin_dialect dialect;
	size_t taken;         /* bytes from in.at on that the row handed out has used */
	uint64_t lines;       /* before in.at */
	uint64_t taken_lines; /* of the row handed out */
	uint64_t blank;       /* the first of the blank lines just before in.at, or 0 */

	struct csv_parser parser;
	bool parser_ready, row_ended;
	struct bytes cells; /* the row's, each with a byte behind it, if they had to be copied */
	struct field *f;
	size_t nf, cap_f;
	size_t replaced;

	struct region kept; /* the header */
	struct field *names;
	size_t ncols;
	uint64_t header_line;
};

/* --- cells ----------------------------------------------------------------------------------- */

static void
add_cell(struct csvin *c, struct field f)
{
	if (c->nf == c->cap_f)
		c->f = mem_grow(c->f, &c->cap_f, c->nf + 1, sizeof *c->f);
	c->f[c->nf++] = f;
}

/* how many bytes of a blank stand at the start, or at the end, of f */
static size_t
blank_at(struct field f, bool end)
{
	const char *p = end ? f.p + f.n - 1 : f.p;

	if (f.n > 0 && (*p == ' ' || *p == '\t'))
		return 1;
	return f.n > 1 && memcmp(end ? p - 1 : p, "\xc2\xa0", 2) == 0 ? 2 : 0;
}

static struct field
trimmed(struct field f)
{
	size_t n;

	while ((n = blank_at(f, false)) > 0) {
		f.p += n;
		f.n -= n;
	}
	while ((n = blank_at(f, true)) > 0)
		f.n -= n;
	return f;
}

/* Makes room for all cells that the row's lines so far can still give. */
static void
room_for_cells(struct csvin *c, const struct csvline *l)
{
	size_t text = c->in.recode != NULL ? c->in.decoded.n : l->at + l->n;

	/* a byte behind each cell, where there was a delimiter or a line feed */
	bytes_room(&c->cells, text + (size_t)(c->in.number - c->lines) + 1);
}

/*
 * Appends a cell to c->cells with blanks in the place of what no field may hold. It stays where it
 * is for the length of a line, for which there is room already.
 */
static void
copy_cell(struct csvin *c, struct field f)
{
	char *to = c->cells.p + c->cells.n;

	if (c->dialect.trim)
		f = trimmed(f);
	for (size_t i = 0; i < f.n; i++) {
		bool odd = f.p[i] == '\t' || f.p[i] == '\n' || f.p[i] == '\r' || f.p[i] == '\0';

		to[i] = odd ? ' ' : f.p[i];
		c->replaced += odd;
	}
	c->cells.n += f.n + 1;
	add_cell(c, (struct field){ to, f.n });
}

/* c->cells has moved, perhaps, between the row's lines. */
static void
place_cells(struct csvin *c)
{
	const char *p = c->cells.p;

	for (size_t i = 0; i < c->nf; i++) {
		c->f[i].p = p;
		p += c->f[i].n + 1;
	}
}

/*
 * Cells without quotes, from `start` in the line's text up to the last of `n` marks, or to the end
 * of the line if `to_end`. They are slices of the text if `slices`, else copied.
 */
static void
split_plain(struct csvin *c, const struct csvline *l, size_t start, size_t *marks, size_t n,
    bool to_end, bool slices)
{
	const char *p = csvlines_text(&c->in, l) + start;
	bool one_by_one = c->in.scan.tab || c->dialect.trim;
	size_t cells = n + to_end, end = to_end ? l->text_n : n > 0 ? marks[n - 1] : start;

	if (cells == 0)
		return;
	if (c->in.scan.cr < end && memchr(p, '\r', end - start) != NULL)
		csvlines_fault(&c->in, c->in.scan.cr + 1,
		    c->in.number == 1 ? "CR line ends: convert them to LF first"
				      : "CR inside the line, not at its end",
		    -1);
	if (!one_by_one && !slices) {
		memcpy(c->cells.p + c->cells.n, p, end - start);
		p = c->cells.p + c->cells.n;
		c->cells.n += end - start + 1;
	}
	if (c->cap_f < c->nf + cells)
		c->f = mem_grow(c->f, &c->cap_f, c->nf + cells, sizeof *c->f);
	for (size_t i = 0; i < cells; i++) {
		size_t length = (i < n ? marks[i] : end) - start;

		start += length + 1;
		if (one_by_one)
			copy_cell(c, (struct field){ p, length });
		else
			c->f[c->nf + i] = (struct field){ p, length };
		p += length + 1;
	}
	if (!one_by_one)
		c->nf += cells;
}

/* --- quoted rows: libcsv --------------------------------------------------------------------- */

static void
on_cell(void *p, size_t n, void *arg)
{
	copy_cell(arg, (struct field){ p, n });
}

static void
on_row(int terminator, void *arg)
{
	(void)terminator;
	((struct csvin *)arg)->row_ended = true;
}

static int
is_feed(unsigned char ch)
{
	return ch == '\n';
}

static int
is_never(unsigned char ch)
{
	(void)ch;
	return 0;
}

static int
is_blank(unsigned char ch)
{
	return ch == ' ';
}

static int
is_blank_or_tab(unsigned char ch)
{
	return ch == ' ' || ch == '\t';
}

/*
 * Little of libcsv's defaults is left: it is fed line by line, so that line numbers and blank lines
 * are ours; it cuts no blanks unless asked; a quote that is not doubled is told, not guessed at.
 */
static void
ready_parser(struct csvin *c)
{
	char delimiter = c->dialect.delimiter;

	if (csv_init(&c->parser, CSV_STRICT | CSV_STRICT_FINI) != 0)
		mem_none();
	c->parser_ready = true;
	csv_set_delim(&c->parser, (unsigned char)delimiter);
	csv_set_quote(&c->parser, (unsigned char)c->dialect.quote);
	csv_set_space_func(&c->parser, !c->dialect.trim || delimiter == ' ' ? is_never
				       : delimiter == '\t'                  ? is_blank
									    : is_blank_or_tab);
	csv_set_blk_size(&c->parser, 64 * 1024);
}

/* Feeds bytes to libcsv. false, with the offset of what it stumbled over added to *bad. */
static bool
feed(struct csvin *c, const char *p, size_t n, size_t *bad)
{
	for (size_t done = 0; done < n;) {
		done += csv_parse(&c->parser, p + done, n - done, on_cell, on_row, c);
		if (done == n)
			break;
		if (csv_error(&c->parser) != CSV_EPARSE)
			mem_none();
		*bad += done;
		if (c->parser.quoted)
			return false;
		/* a quote in a cell that does not begin with one is an ordinary byte (36" tray) */
		*bad -= done;
		csv_set_opts(&c->parser, 0);
		csv_parse(&c->parser, p + done++, 1, on_cell, on_row, c);
		csv_set_opts(&c->parser, CSV_STRICT | CSV_STRICT_FINI);
	}
	return true;
}

/*
 * One line of a row of quoted cells, `fresh`: the first. Only what lies between its first and last
 * quote, whole cells, is libcsv's; what stands before and behind has no quotes and is split by the
 * marks. false, with the offset of what libcsv stumbled over in *bad.
 */
static bool
read_quoted_line(struct csvin *c, const struct csvline *l, bool fresh, size_t *bad)
{
	const struct csvscan *s = &c->in.scan;
	size_t before = 0, behind = s->n, from = 0;

	room_for_cells(c, l);
	if (s->first_quote != SIZE_MAX)
		behind = lower_bound_size(s->marks, s->n, s->last_quote);
	if (fresh) {
		before = lower_bound_size(s->marks, s->n, s->first_quote);
		split_plain(c, l, 0, s->marks, before, false, false);
		from = before > 0 ? s->marks[before - 1] + 1 : 0;
	}
	/* a CR between quotes is a line break like any other, elsewhere it is not */
	csv_set_term_func(&c->parser, s->cr != SIZE_MAX ? is_feed : NULL);
	*bad = from;
	if (behind < s->n) {
		size_t mark = s->marks[behind];

		if (!feed(c, csvlines_text(&c->in, l) + from, mark + 1 - from, bad))
			return false;
		from = mark + 1;
		if (c->parser.entry_pos == 0) {
			/* this delimiter was one: the last quote had closed its cell */
			split_plain(
			    c, l, from, s->marks + behind + 1, s->n - behind - 1, true, false);
			c->row_ended = true;
			return true;
		}
		*bad = from;
	}
	if (!feed(c, csvlines_text(&c->in, l) + from, l->text_n - from, bad))
		return false;
	*bad = l->text_n;
	return feed(c, "\n", 1, bad);
}

/*
 * Reads a row of quoted cells, *l being its first line, over as many lines as it needs. On return
 * *l is the last of them. false at trouble.
 */
static bool
read_quoted(struct csvin *c, struct csvline *l)
{
	uint64_t opened = c->in.number;
	bool fresh = true;

	if (!c->parser_ready)
		ready_parser(c);
	for (c->row_ended = false;; fresh = false) {
		size_t before = c->nf, bad = 0;
		bool good = read_quoted_line(c, l, fresh, &bad);

		if (c->nf > before)
			opened = c->in.number;
		if (!good) {
			err_set(c->in.err,
			    "%s:%llu: byte %zu: quoted cell, opened on line %llu, goes on behind its "
			    "closing quote: is a quote not doubled, or is the map's setting 'quote' "
			    "wrong?",
			    c->in.name, (unsigned long long)c->in.number, bad + 1,
			    (unsigned long long)opened);
			return false;
		}
		if (c->row_ended) {
			if (!fresh)
				place_cells(c);
			return true;
		}
		*l = (struct csvline){ .at = l->at + l->taken };
		c->in.number++;
		if (csvlines_take(&c->in, l))
			continue;
		if (csv_fini(&c->parser, on_cell, on_row, c) != 0 && !err_is_set(c->in.err))
			err_set(c->in.err, "%s:%llu: quote opened here is never closed", c->in.name,
			    (unsigned long long)opened);
		return false;
	}
}

/* --- rows ------------------------------------------------------------------------------------ */

static void
hand_out(
    struct csvin *c, struct csvin_row *row, const struct csvline *first, const struct csvline *last)
{
	row->f = c->f;
	row->nf = c->nf;
	row->raw = csvlines_raw(&c->in, last->at + last->n);
	row->text = (struct field){ csvlines_text(&c->in, first), first->text_n };
	row->blank = false;
	row->line = c->in.fault_line != 0 ? c->in.fault_line : c->lines + 1;
	row->replaced = c->replaced;
	row->fault = c->in.fault_line != 0 ? c->in.fault : NULL;
	c->taken = last->at + last->taken;
	c->taken_lines = c->in.number - c->lines;
}

/* The run of blank lines before the row that is at hand now, as a row of its own. */
static void
hand_out_blank(struct csvin *c, struct csvin_row *row)
{
	c->nf = 0;
	add_cell(c, (struct field){ "", 0 });
	*row = (struct csvin_row){ .f = c->f, .nf = 1, .raw = { "", 0 }, .text = { "", 0 } };
	row->blank = true;
	row->line = c->blank;
	c->blank = 0;
}

static void
pass_over(struct csvin *c, const struct csvline *l)
{
	c->in.at += l->taken;
	c->lines++;
}

/* The row whose first line has been taken. */
static bool
read_row(struct csvin *c, struct csvin_row *row, struct csvline *l)
{
	struct csvline first = *l;

	if (c->in.scan.first_quote != SIZE_MAX) {
		if (!read_quoted(c, l))
			return false;
	} else {
		room_for_cells(c, l);
		split_plain(c, l, 0, c->in.scan.marks, c->in.scan.n, true, true);
	}
	hand_out(c, row, &first, l);
	return true;
}

bool
csvin_next(struct csvin *c, struct csvin_row *row)
{
	if (err_is_set(c->in.err))
		return false;
	c->in.at += c->taken;
	c->lines += c->taken_lines;
	c->taken = c->taken_lines = 0;
	for (;;) {
		struct csvline l = { 0 };
		struct field text;

		c->in.decoded.n = c->cells.n = c->nf = c->replaced = 0;
		c->in.fault_line = 0;
		c->in.number = c->lines + 1;
		if (!csvlines_take(&c->in, &l))
			return false;
		text = (struct field){ csvlines_text(&c->in, &l), l.text_n };
		if (c->dialect.comment.n > 0 && field_begins(text, c->dialect.comment)) {
			pass_over(c, &l);
			continue;
		}
		if (text.n == 0 || (c->dialect.trim && trimmed(text).n == 0 && c->in.scan.n == 0)) {
			if (c->blank == 0)
				c->blank = c->lines + 1;
			pass_over(c, &l);
			continue;
		}
		if (c->blank == 0)
			return read_row(c, row, &l);
		hand_out_blank(c, row);
		return true;
	}
}

/* --- the beginning --------------------------------------------------------------------------- */

struct csvin *
csvin_open(const char *path, size_t block, struct err *err)
{
	struct csvin *c = mem_zeroed(1, sizeof *c);

	if (csvlines_open(&c->in, path, block, err) == 0)
		return c;
	csvin_close(c);
	return NULL;
}

struct csvin *
csvin_memory(const char *name, struct field text, struct err *err)
{
	struct csvin *c = mem_zeroed(1, sizeof *c);

	if (csvlines_memory(&c->in, name, text, err) == 0)
		return c;
	csvin_close(c);
	return NULL;
}

struct field
csvin_start(const struct csvin *c)
{
	return csvlines_start(&c->in);
}

/* So many lines, whatever is in them. */
static int
skip(struct csvin *c, uint64_t n, const char *setting)
{
	c->in.at += c->taken;
	c->lines += c->taken_lines;
	c->taken = c->taken_lines = 0;
	for (; n > 0; n--) {
		struct csvline l = { 0 };

		c->in.decoded.n = 0;
		c->in.number = c->lines + 1;
		if (!csvlines_take(&c->in, &l))
			return err_set(c->in.err,
			    "%s: ends within the lines of the map's setting '%s'", c->in.name,
			    setting);
		pass_over(c, &l);
	}
	return 0;
}

static int
bad_header(struct csvin *c, const struct csvin_row *row, const char *what)
{
	return err_set(c->in.err, "%s:%llu: %s", c->in.name, (unsigned long long)row->line, what);
}

/* The first row: the header, or only looked at. */
static int
first_row(struct csvin *c)
{
	struct csvin_row row;

	if (!csvin_next(c, &row))
		return err_set(
		    c->in.err, "%s: no %s", c->in.name, c->dialect.header ? "header line" : "rows");
	if (row.blank)
		return bad_header(c, &row,
		    "blank line where the table should begin: see the map's setting "
		    "'skip'");
	if (row.fault != NULL)
		return bad_header(c, &row, row.fault);
	if (row.nf <= 2 && row.text.n <= 6 && field_starts(row.text, "sep="))
		return bad_header(c, &row,
		    "the line is a spreadsheet's delimiter mark: see the map's setting 'skip'");
	c->ncols = row.nf;
	c->names = mem_zeroed(c->ncols, sizeof *c->names);
	for (size_t i = 0; i < c->ncols; i++)
		c->names[i] =
		    c->dialect.header ? region_keep(&c->kept, row.f[i]) : (struct field){ "", 0 };
	if (!c->dialect.header)
		c->taken = c->taken_lines = 0; /* it stays where it is */
	else
		c->header_line = row.line;
	return 0;
}

int
csvin_begin(struct csvin *c, const struct csvin_dialect *dialect)
{
	c->dialect = *dialect;
	c->in.scan.delimiter = dialect->delimiter;
	c->in.scan.quote = dialect->quote;
	if (csvlines_decode(&c->in, dialect->encoding) != 0 ||
	    skip(c, dialect->skip, "skip") != 0 || first_row(c) != 0)
		return -1;
	return skip(c, dialect->skip_below, "skip_below");
}

size_t
csvin_columns(const struct csvin *c)
{
	return c->ncols;
}

struct field
csvin_name(const struct csvin *c, size_t column)
{
	return c->names[column];
}

uint64_t
csvin_header_line(const struct csvin *c)
{
	return c->header_line;
}

bool
csvin_is_header(const struct csvin *c, const struct csvin_row *row)
{
	if (!c->dialect.header || row->nf != c->ncols)
		return false;
	for (size_t i = 0; i < c->ncols; i++)
		if (!field_same(row->f[i], c->names[i]))
			return false;
	return true;
}

void
csvin_on_wait(struct csvin *c, void (*wait)(void *arg), void *arg)
{
	c->in.wait = wait;
	c->in.wait_arg = arg;
}

const char *
csvin_file(const struct csvin *c)
{
	return c->in.name;
}

void
csvin_close(struct csvin *c)
{
	if (c == NULL)
		return;
	csvlines_close(&c->in);
	if (c->parser_ready)
		csv_free(&c->parser);
	bytes_free(&c->cells);
	region_free(&c->kept);
	free(c->f);
	free(c->names);
	free(c);
}
