#include "table/csvin.h"

#include <csv.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "base/mem.h"
#include "base/os.h"
#include "base/recode.h"
#include "table/csvscan.h"
#include "table/head.h"

/*
 *	buf        at          at + line.at               len         cap
 *	 | done with | row's first lines | the present line ... | free |
 */
struct csvin {
	const char *name;
	struct err *err;
	int fd; /* -1: in memory */
	bool regular, ended;
	char *buf;
	size_t len, cap; /* cap 0: the memory is somebody else's */
	size_t block;
	size_t at;
	size_t taken;         /* bytes from at on that the row handed out has used */
	uint64_t lines;       /* before at */
	uint64_t taken_lines; /* of the row handed out */
	uint64_t number;      /* of the present line */
	uint64_t blank;       /* the first of the blank lines just before at, or 0 */

	struct csvin_dialect dialect;
	struct recode *recode; /* NULL: UTF-8 */
	struct csvscan scan;
	struct bytes decoded; /* the row's lines so far, if they had to be converted */

	struct csv_parser parser;
	bool parser_ready, row_ended;
	struct bytes cells; /* the row's, each with a byte behind it, if they had to be copied */
	struct field *f;
	size_t nf, cap_f;
	size_t replaced;
	char fault[CSVIN_FAULT];
	uint64_t fault_line;

	struct region kept; /* the header */
	struct field *names;
	size_t ncols;
	uint64_t header_line;
	void (*wait)(void *);
	void *wait_arg;
};

/* the present line, as offsets: from `at` on in the buffer, and in c->decoded */
struct line {
	size_t at, n, taken;
	size_t text_at, text_n;
};

/* --- lines ----------------------------------------------------------------------------------- */

/* Reads a block behind what is there. false at the end of the file and at trouble. */
static bool
fill(struct csvin *c)
{
	ssize_t got;

	if (c->ended)
		return false;
	if (c->cap - c->len < c->block && c->at > 0) {
		memmove(c->buf, c->buf + c->at, c->len - c->at);
		c->len -= c->at;
		c->at = 0;
	}
	if (c->cap - c->len < c->block)
		c->buf = mem_grow(c->buf, &c->cap, c->len + c->block, 1);
	if (!c->regular && c->wait != NULL)
		c->wait(c->wait_arg);
	got = os_read(c->fd, c->buf + c->len, c->block);
	if (got < 0)
		err_set(c->err, "%s: %s", c->name, strerror(errno));
	c->ended = got <= 0;
	c->len += got > 0 ? (size_t)got : 0;
	return got > 0;
}

/* The offset of the line feed in p[from] to p[n - 1], a whole number of units from p, or n. */
static size_t
find_feed(const struct csvin *c, const char *p, size_t from, size_t n)
{
	size_t unit = recode_unit(c->recode), low = recode_little(c->recode) ? 0 : unit - 1;

	if (unit == 1) {
		const char *feed = from < n ? memchr(p + from, '\n', n - from) : NULL;

		return feed != NULL ? (size_t)(feed - p) : n;
	}
	for (size_t i = from - from % unit; i + unit <= n; i += unit) {
		bool feed = p[i + low] == '\n';

		for (size_t k = 0; k < unit; k++)
			feed &= k == low || p[i + k] == '\0';
		if (feed)
			return i;
	}
	return n;
}

static void
set_fault(struct csvin *c, size_t byte, const char *what, int value)
{
	if (c->fault_line != 0)
		return;
	c->fault_line = c->number;
	if (value < 0)
		snprintf(c->fault, sizeof c->fault, "byte %zu: %s", byte, what);
	else
		snprintf(c->fault, sizeof c->fault, "byte %zu is not %.40s: \\x%02x%s", byte, what,
		    (unsigned)value, c->recode == NULL ? ": name the encoding in the map" : "");
}

/* Finds the end of the line that starts at l->at; converted, it is appended to c->decoded. */
static bool
take_converted(struct csvin *c, struct line *l)
{
	size_t searched = 0, end, fault;
	struct field raw;

	for (;;) {
		size_t n = c->len - c->at - l->at;

		end = find_feed(c, c->buf + c->at + l->at, searched, n);
		if (end < n)
			break;
		searched = n;
		if (!fill(c))
			break;
	}
	raw = (struct field){ c->buf + c->at + l->at, end };
	l->n = end;
	l->taken = c->len - c->at - l->at > end ? end + recode_unit(c->recode) : end;
	if (l->taken == 0 || err_is_set(c->err))
		return false;
	l->text_at = c->decoded.n;
	fault = recode_line(c->recode, raw, &c->decoded);
	l->text_n = c->decoded.n - l->text_at;
	if (raw.p != NULL && fault < raw.n)
		set_fault(c, fault + 1, c->dialect.encoding, (unsigned char)raw.p[fault]);
	csvscan_begin(&c->scan);
	if (csvscan(&c->scan, c->decoded.p + l->text_at, l->text_n))
		set_fault(c, 1, "a line feed of another kind", -1);
	return true;
}

static bool
take_utf8(struct csvin *c, struct line *l)
{
	size_t fault;

	csvscan_begin(&c->scan);
	l->taken = 1;
	while (!csvscan(&c->scan, c->buf + c->at + l->at, c->len - c->at - l->at))
		if (!fill(c)) {
			l->taken = 0;
			break;
		}
	l->n = l->text_n = c->scan.at;
	l->taken += l->n;
	l->text_at = l->at;
	if (l->taken == 0 || err_is_set(c->err))
		return false;
	if (c->scan.beyond) {
		struct field text = { c->buf + c->at + l->at, l->n };

		fault = utf8_fault(text);
		if (fault < text.n)
			set_fault(c, fault + 1, "UTF-8", (unsigned char)text.p[fault]);
	}
	return true;
}

static const char *
text_of(const struct csvin *c, const struct line *l)
{
	return c->recode != NULL ? c->decoded.p + l->text_at : c->buf + c->at + l->text_at;
}

/*
 * Takes the physical line that starts l->at bytes behind `at`; c->number is its number.
 * c->scan then knows its delimiters. false at the end of the file and at trouble.
 */
static bool
take_line(struct csvin *c, struct line *l)
{
	if (!(c->recode != NULL ? take_converted(c, l) : take_utf8(c, l)))
		return false;
	if (c->scan.nul != SIZE_MAX)
		set_fault(c, c->scan.nul + 1,
		    c->number == 1 && c->recode == NULL
			? "NUL: UTF-16? the map must name it (encoding UTF-16LE or UTF-16BE)"
			: "NUL",
		    -1);
	if (l->text_n > 0 && text_of(c, l)[l->text_n - 1] == '\r')
		l->text_n--;
	return true;
}

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
room_for_cells(struct csvin *c, const struct line *l)
{
	size_t text = c->recode != NULL ? c->decoded.n : l->at + l->n;

	/* a byte behind each cell, where there was a delimiter or a line feed */
	bytes_room(&c->cells, text + (size_t)(c->number - c->lines) + 1);
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
split_plain(struct csvin *c, const struct line *l, size_t start, size_t *marks, size_t n,
    bool to_end, bool slices)
{
	const char *p = text_of(c, l) + start;
	bool one_by_one = c->scan.tab || c->dialect.trim;
	size_t cells = n + to_end, end = to_end ? l->text_n : n > 0 ? marks[n - 1] : start;

	if (cells == 0)
		return;
	if (c->scan.cr < end && memchr(p, '\r', end - start) != NULL)
		set_fault(c, c->scan.cr + 1,
		    c->number == 1 ? "CR line ends: convert them to LF first"
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

/* How many delimiters stand before this offset. */
static size_t
marks_below(const struct csvscan *s, size_t offset)
{
	size_t lo = 0, hi = s->n;

	while (lo < hi) {
		size_t middle = lo + (hi - lo) / 2;

		if (s->marks[middle] < offset)
			lo = middle + 1;
		else
			hi = middle;
	}
	return lo;
}

/*
 * One line of a row of quoted cells, `fresh`: the first. Only what lies between its first and last
 * quote, whole cells, is libcsv's; what stands before and behind has no quotes and is split by the
 * marks. false, with the offset of what libcsv stumbled over in *bad.
 */
static bool
read_quoted_line(struct csvin *c, const struct line *l, bool fresh, size_t *bad)
{
	const struct csvscan *s = &c->scan;
	size_t before = 0, behind = s->n, from = 0;

	room_for_cells(c, l);
	if (s->first_quote != SIZE_MAX)
		behind = marks_below(s, s->last_quote);
	if (fresh) {
		before = marks_below(s, s->first_quote);
		split_plain(c, l, 0, s->marks, before, false, false);
		from = before > 0 ? s->marks[before - 1] + 1 : 0;
	}
	/* a CR between quotes is a line break like any other, elsewhere it is not */
	csv_set_term_func(&c->parser, s->cr != SIZE_MAX ? is_feed : NULL);
	*bad = from;
	if (behind < s->n) {
		size_t mark = s->marks[behind];

		if (!feed(c, text_of(c, l) + from, mark + 1 - from, bad))
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
	if (!feed(c, text_of(c, l) + from, l->text_n - from, bad))
		return false;
	*bad = l->text_n;
	return feed(c, "\n", 1, bad);
}

/*
 * Reads a row of quoted cells, *l being its first line, over as many lines as it needs. On return
 * *l is the last of them. false at trouble.
 */
static bool
read_quoted(struct csvin *c, struct line *l)
{
	uint64_t opened = c->number;
	bool fresh = true;

	if (!c->parser_ready)
		ready_parser(c);
	for (c->row_ended = false;; fresh = false) {
		size_t before = c->nf, bad = 0;
		bool good = read_quoted_line(c, l, fresh, &bad);

		if (c->nf > before)
			opened = c->number;
		if (!good) {
			err_set(c->err,
			    "%s:%llu: byte %zu: quoted cell, opened on line %llu, goes on behind its "
			    "closing quote: is a quote not doubled, or is the map's setting 'quote' "
			    "wrong?",
			    c->name, (unsigned long long)c->number, bad + 1,
			    (unsigned long long)opened);
			return false;
		}
		if (c->row_ended) {
			if (!fresh)
				place_cells(c);
			return true;
		}
		*l = (struct line){ .at = l->at + l->taken };
		c->number++;
		if (take_line(c, l))
			continue;
		if (csv_fini(&c->parser, on_cell, on_row, c) != 0 && !err_is_set(c->err))
			err_set(c->err, "%s:%llu: quote opened here is never closed", c->name,
			    (unsigned long long)opened);
		return false;
	}
}

/* --- rows ------------------------------------------------------------------------------------ */

/* the raw line without the CR at its end, of one unit */
static struct field
without_cr(const struct csvin *c, struct field raw)
{
	size_t unit = c->recode != NULL ? recode_unit(c->recode) : 1;
	size_t low = c->recode == NULL || recode_little(c->recode) ? 0 : unit - 1;

	if (raw.n < unit)
		return raw;
	for (size_t i = 0; i < unit; i++)
		if (raw.p[raw.n - unit + i] != (i == low ? '\r' : '\0'))
			return raw;
	raw.n -= unit;
	return raw;
}

static void
hand_out(struct csvin *c, struct csvin_row *row, const struct line *first, const struct line *last)
{
	row->f = c->f;
	row->nf = c->nf;
	row->raw = without_cr(c, (struct field){ c->buf + c->at, last->at + last->n });
	row->text = (struct field){ text_of(c, first), first->text_n };
	row->blank = false;
	row->line = c->fault_line != 0 ? c->fault_line : c->lines + 1;
	row->replaced = c->replaced;
	row->fault = c->fault_line != 0 ? c->fault : NULL;
	c->taken = last->at + last->taken;
	c->taken_lines = c->number - c->lines;
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
pass_over(struct csvin *c, const struct line *l)
{
	c->at += l->taken;
	c->lines++;
}

/* The row whose first line has been taken. */
static bool
read_row(struct csvin *c, struct csvin_row *row, struct line *l)
{
	struct line first = *l;

	if (c->scan.first_quote != SIZE_MAX) {
		if (!read_quoted(c, l))
			return false;
	} else {
		room_for_cells(c, l);
		split_plain(c, l, 0, c->scan.marks, c->scan.n, true, true);
	}
	hand_out(c, row, &first, l);
	return true;
}

static bool
begins(struct field f, struct field start)
{
	return f.n >= start.n && memcmp(f.p, start.p, start.n) == 0;
}

bool
csvin_next(struct csvin *c, struct csvin_row *row)
{
	if (err_is_set(c->err))
		return false;
	c->at += c->taken;
	c->lines += c->taken_lines;
	c->taken = c->taken_lines = 0;
	for (;;) {
		struct line l = { 0 };
		struct field text;

		c->decoded.n = c->cells.n = c->nf = c->replaced = 0;
		c->fault_line = 0;
		c->number = c->lines + 1;
		if (!take_line(c, &l))
			return false;
		text = (struct field){ text_of(c, &l), l.text_n };
		if (c->dialect.comment.n > 0 && begins(text, c->dialect.comment)) {
			pass_over(c, &l);
			continue;
		}
		if (text.n == 0 || (c->dialect.trim && trimmed(text).n == 0 && c->scan.n == 0)) {
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

static struct csvin *
new_csvin(const char *name, struct err *err)
{
	struct csvin *c = mem_zeroed(1, sizeof *c);

	c->name = name;
	c->err = err;
	c->fd = -1;
	return c;
}

static bool
starts_utf16(struct field start)
{
	return begins(start, field_of("\xff\xfe")) || begins(start, field_of("\xfe\xff"));
}

static struct csvin *
check_start(struct csvin *c)
{
	struct field start = csvin_start(c);

	if (!starts_utf16(start))
		head_is_foreign(c->err, c->name, start);
	if (!err_is_set(c->err))
		return c;
	csvin_close(c);
	return NULL;
}

struct csvin *
csvin_open(const char *path, size_t block, struct err *err)
{
	struct csvin *c = new_csvin(path, err);

	c->block = block;
	c->fd = os_open(path, &c->regular, err);
	/* the first bytes say what kind of file it is */
	while (c->fd >= 0 && c->len < 4 && fill(c))
		;
	return check_start(c);
}

struct csvin *
csvin_memory(const char *name, struct field text, struct err *err)
{
	struct csvin *c = new_csvin(name, err);

	/* never written to: with `ended` set there is nothing to read, move or grow */
	memcpy(&c->buf, &text.p, sizeof c->buf);
	c->len = text.n;
	c->ended = c->regular = true;
	return check_start(c);
}

struct field
csvin_start(const struct csvin *c)
{
	return (struct field){ c->buf != NULL ? c->buf : "", c->len };
}

/* UTF-16 and UTF-32 without a byte order have a mark that tells. NULL, err set: they lack it. */
static const char *
byte_order(struct csvin *c, const char *encoding)
{
	static const struct {
		const char *name, *mark;
		size_t n;
		const char *means;
	} orders[] = { { "UTF-16", "\xff\xfe", 2, "UTF-16LE" },
		{ "UTF-16", "\xfe\xff", 2, "UTF-16BE" },
		{ "UTF-32", "\xff\xfe\0\0", 4, "UTF-32LE" },
		{ "UTF-32", "\0\0\xfe\xff", 4, "UTF-32BE" } };
	bool wide = false;

	for (size_t i = 0; i < sizeof orders / sizeof orders[0]; i++) {
		struct field mark = { orders[i].mark, orders[i].n };

		wide |= strcmp(encoding, orders[i].name) == 0;
		if ((strcmp(encoding, orders[i].name) == 0 ||
			strcmp(encoding, orders[i].means) == 0) &&
		    begins(csvin_start(c), mark)) {
			c->at = mark.n;
			return orders[i].means;
		}
	}
	if (!wide)
		return encoding;
	err_set(c->err, "%s: no byte-order mark: the map must say %sLE or %sBE", c->name, encoding,
	    encoding);
	return NULL;
}

static int
set_encoding(struct csvin *c)
{
	const char *encoding = c->dialect.encoding, *why;
	struct field start = csvin_start(c);
	bool utf8 = encoding == NULL || recode_is_utf8(encoding);

	if (!utf8) {
		encoding = byte_order(c, encoding);
		if (encoding == NULL)
			return -1;
		c->recode = recode_open(encoding, &why);
		if (c->recode == NULL)
			return err_set(c->err, "%s: %s: '%s'", c->name, why, encoding);
	}
	if (starts_utf16(start) && (utf8 || recode_unit(c->recode) == 1))
		return err_set(
		    c->err, "%s: UTF-16 text: the map must name it (encoding UTF-16)", c->name);
	if (begins(start, field_of("\xef\xbb\xbf"))) {
		if (!utf8)
			return err_set(c->err, "%s: UTF-8 text by its byte-order mark, not %s",
			    c->name, encoding);
		c->at = 3;
	}
	return 0;
}

/* So many lines, whatever is in them. */
static int
skip(struct csvin *c, uint64_t n, const char *setting)
{
	c->at += c->taken;
	c->lines += c->taken_lines;
	c->taken = c->taken_lines = 0;
	for (; n > 0; n--) {
		struct line l = { 0 };

		c->decoded.n = 0;
		c->number = c->lines + 1;
		if (!take_line(c, &l))
			return err_set(c->err,
			    "%s: ends within the lines of the map's setting '%s'", c->name,
			    setting);
		pass_over(c, &l);
	}
	return 0;
}

static int
bad_header(struct csvin *c, const struct csvin_row *row, const char *what)
{
	return err_set(c->err, "%s:%llu: %s", c->name, (unsigned long long)row->line, what);
}

/* The first row: the header, or only looked at. */
static int
first_row(struct csvin *c)
{
	struct csvin_row row;

	if (!csvin_next(c, &row))
		return err_set(
		    c->err, "%s: no %s", c->name, c->dialect.header ? "header line" : "rows");
	if (row.blank)
		return bad_header(c, &row,
		    "blank line where the table should begin: see the map's setting "
		    "'skip'");
	if (row.fault != NULL)
		return bad_header(c, &row, row.fault);
	if (row.nf <= 2 && row.text.n <= 6 && begins(row.text, field_of("sep=")))
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
	c->scan.delimiter = dialect->delimiter;
	c->scan.quote = dialect->quote;
	if (set_encoding(c) != 0 || skip(c, dialect->skip, "skip") != 0 || first_row(c) != 0)
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
	c->wait = wait;
	c->wait_arg = arg;
}

const char *
csvin_file(const struct csvin *c)
{
	return c->name;
}

void
csvin_close(struct csvin *c)
{
	if (c == NULL)
		return;
	if (c->cap > 0)
		free(c->buf);
	if (c->fd > STDIN_FILENO)
		close(c->fd);
	if (c->parser_ready)
		csv_free(&c->parser);
	recode_close(c->recode);
	csvscan_free(&c->scan);
	bytes_free(&c->decoded);
	bytes_free(&c->cells);
	region_free(&c->kept);
	free(c->f);
	free(c->names);
	free(c);
}
