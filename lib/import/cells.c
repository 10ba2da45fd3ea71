#include "import/cells.h"

#include <csv.h>
#include <stdlib.h>

#include "base/lower_bound.h"
#include "base/mem.h"

/* --- cells ----------------------------------------------------------------------------------- */

void
cells_add(struct cells *c, struct field f)
{
	if (c->n == c->cap)
		c->f = mem_grow(c->f, &c->cap, c->n + 1, sizeof *c->f);
	c->f[c->n++] = f;
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

struct field
cells_trimmed(struct field f)
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

void
cells_copy(struct cells *c, struct field f)
{
	const size_t at = c->copied.n;

	bytes_add_field(&c->copied, f);
	bytes_add(&c->copied, "", 1);
	for (char *p = c->copied.p + at; p < c->copied.p + at + f.n; p++)
		if ((unsigned char)*p <= '\r' && memchr("\t\n\r", *p, 4) != NULL) {
			*p = ' ';
			c->replaced++;
		}
}

/* Copies a cell; place_cells says in the end where it is. */
static void
copy_cell(struct cells *c, struct field *f)
{
	if (c->trim)
		*f = cells_trimmed(*f);
	cells_copy(c, *f);
}

/* The copies, now that they do not move any more. */
static void
place_cells(struct cells *c)
{
	const char *p = c->copied.p;

	for (size_t i = 0; i < c->n; i++) {
		c->f[i].p = p;
		p += c->f[i].n + 1;
	}
}

/*
 * Cells without quotes, from `start` in the line's text up to the last of `n` marks, or to the end
 * of the line if `to_end`.
 */
static void
split_plain(struct cells *c, const struct line *l, size_t start, const size_t *marks, size_t n,
    bool to_end, bool copy)
{
	const char *p = lines_text(c->in, l);
	size_t cells = n + to_end, end = to_end ? l->text_n : n > 0 ? marks[n - 1] : start;
	struct field *f;

	if (c->in->scan.cr < end && memchr(p + start, '\r', end - start) != NULL)
		lines_fault(c->in, c->in->scan.cr + 1,
		    c->in->number == 1 ? "CR line ends: convert them to LF first"
				       : "CR inside the line, not at its end",
		    -1);
	if (cells == 0)
		return;
	if (c->cap < c->n + cells)
		c->f = mem_grow(c->f, &c->cap, c->n + cells, sizeof *c->f);
	f = c->f + c->n;
	c->n += cells;
	for (size_t i = 0; i < cells; i++) {
		size_t stop = i < n ? marks[i] : end;

		f[i] = (struct field){ p + start, stop - start };
		start = stop + 1;
	}
	if (!copy)
		return;
	if (c->in->scan.tab || c->trim) {
		for (size_t i = 0; i < cells; i++)
			copy_cell(c, &f[i]);
	} else {
		bytes_add(&c->copied, f->p, end - (size_t)(f->p - p));
		bytes_add(&c->copied, "", 1);
	}
}

/* --- quoted rows: libcsv --------------------------------------------------------------------- */

static void
on_cell(void *p, size_t n, void *arg)
{
	struct cells *c = arg;

	cells_add(c, (struct field){ p, n });
	copy_cell(c, &c->f[c->n - 1]);
}

static void
on_row(int terminator, void *arg)
{
	(void)terminator;
	((struct cells *)arg)->ended = true;
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

/*
 * Little of libcsv's defaults is left: it is fed line by line, so that line numbers and blank lines
 * are ours; it cuts no blanks unless asked; a quote that is not doubled is told, not guessed at.
 */
static void
ready_parser(struct cells *c)
{
	c->parser = mem_zeroed(1, sizeof *c->parser);
	if (csv_init(c->parser, CSV_STRICT | CSV_STRICT_FINI) != 0)
		mem_none();
	csv_set_delim(c->parser, (unsigned char)c->in->scan.delimiter);
	csv_set_quote(c->parser, (unsigned char)c->in->scan.quote);
	if (!c->trim)
		csv_set_space_func(c->parser, is_never);
	csv_set_blk_size(c->parser, 64 * 1024);
}

/* Feeds bytes to libcsv. false: it refuses one, whose offset is added to *bad. */
static bool
feed(struct cells *c, const char *p, size_t n, size_t *bad)
{
	for (size_t done = 0; done < n;) {
		done += csv_parse(c->parser, p + done, n - done, on_cell, on_row, c);
		if (done == n)
			break;
		if (csv_error(c->parser) != CSV_EPARSE)
			mem_none();
		*bad += done;
		if (c->parser->quoted)
			return false;
		/* a quote in a cell that does not begin with one is an ordinary byte (36" tray) */
		*bad -= done;
		csv_set_opts(c->parser, 0);
		csv_parse(c->parser, p + done++, 1, on_cell, on_row, c);
		csv_set_opts(c->parser, CSV_STRICT | CSV_STRICT_FINI);
	}
	return true;
}

/*
 * One line of a row of quoted cells, `fresh`: the first. Only what lies between its first and last
 * quote, whole cells, is libcsv's; what stands before and behind has no quotes and is split by the
 * marks. false: libcsv refuses a byte, whose offset is *bad.
 */
static bool
read_quoted_line(struct cells *c, const struct line *l, bool fresh, size_t *bad)
{
	const struct scan *s = &c->in->scan;
	size_t before = 0, behind = s->n, from = 0;

	if (s->first_quote != SIZE_MAX)
		behind = lower_bound_size(s->marks, s->n, s->last_quote);
	if (fresh) {
		before = lower_bound_size(s->marks, s->n, s->first_quote);
		split_plain(c, l, 0, s->marks, before, false, true);
		from = before > 0 ? s->marks[before - 1] + 1 : 0;
	}
	/* a CR between quotes is a line break like any other, elsewhere it is not */
	csv_set_term_func(c->parser, s->cr != SIZE_MAX ? is_feed : NULL);
	*bad = from;
	if (behind < s->n) {
		size_t mark = s->marks[behind];

		if (!feed(c, lines_text(c->in, l) + from, mark + 1 - from, bad))
			return false;
		from = mark + 1;
		if (c->parser->entry_pos == 0) {
			/* this delimiter was one: the last quote had closed its cell */
			split_plain(
			    c, l, from, s->marks + behind + 1, s->n - behind - 1, true, true);
			c->ended = true;
			return true;
		}
		*bad = from;
	}
	if (!feed(c, lines_text(c->in, l) + from, l->text_n - from, bad))
		return false;
	*bad = l->text_n;
	return feed(c, "\n", 1, bad);
}

/*
 * Reads a row of quoted cells, *l being its first line, over as many lines as it needs. On return
 * *l is the last of them. false at trouble.
 */
static bool
read_quoted(struct cells *c, struct line *l)
{
	uint64_t opened = c->in->number;
	bool fresh = true;

	if (c->parser == NULL)
		ready_parser(c);
	for (c->ended = false;; fresh = false) {
		size_t before = c->n, bad = 0;
		bool good = read_quoted_line(c, l, fresh, &bad);

		if (c->n > before)
			opened = c->in->number;
		if (!good) {
			err_set(c->in->err,
			    "%s:%llu: byte %zu: quoted cell, opened on line %llu, goes on behind its "
			    "closing quote: is a quote not doubled, or is the map's setting 'quote' "
			    "wrong?",
			    c->in->name, (unsigned long long)c->in->number, bad + 1,
			    (unsigned long long)opened);
			return false;
		}
		if (c->ended)
			return true;
		*l = (struct line){ .at = l->at + l->taken };
		c->in->number++;
		if (lines_take(c->in, l))
			continue;
		if (csv_fini(c->parser, on_cell, on_row, c) != 0 && !err_is_set(c->in->err))
			err_set(c->in->err, "%s:%llu: quote opened here is never closed",
			    c->in->name, (unsigned long long)opened);
		return false;
	}
}

bool
cells_read(struct cells *c, struct line *l)
{
	const struct scan *s = &c->in->scan;
	bool quoted = s->first_quote != SIZE_MAX, copy = quoted || s->tab || c->trim, good = true;

	if (quoted)
		good = read_quoted(c, l);
	else
		split_plain(c, l, 0, s->marks, s->n, true, copy);
	if (copy)
		place_cells(c);
	return good;
}

void
cells_free(struct cells *c)
{
	if (c->parser != NULL)
		csv_free(c->parser);
	free(c->parser);
	bytes_free(&c->copied);
	free(c->f);
}
