/*
 * naive: the rules of reading tables written down a second time, in the plainest way there is: whole
 * files in memory, cut at LF, then at TAB, searched byte by byte. What lib/table/in.c makes of a
 * table, and what this does, are both told as a log, so that a test need only compare the two.
 */
#ifndef THRUM_TESTS_NAIVE_H
#define THRUM_TESTS_NAIVE_H

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/mem.h"
#include "table/reader.h"

struct naive_file {
	const char *name;
	struct field text;
};

struct naive_fields {
	struct field *v;
	size_t n, cap;
};

static inline void
naive_add(struct naive_fields *into, struct field f)
{
	into->v = mem_grow(into->v, &into->cap, into->n + 1, sizeof *into->v);
	into->v[into->n++] = f;
}

struct naive_table {
	const struct naive_file *files;
	size_t nfiles;
	unsigned flags;
	struct naive_fields columns;
	struct naive_fields *heads; /* of each file */
	bool *straight;             /* for each file: its columns are the table's */
	struct bytes *log;
};

/* --- the log --------------------------------------------------------------------------------- */

static inline void
naive_log_row(struct bytes *log, const char *file, uint64_t line, enum row_fault fault, size_t nf,
    size_t due, bool straight, struct field raw, const struct field *f, size_t n)
{
	bytes_add_format(log, "%s:%" PRIu64 " fault %d, %zu of %zu fields%s: ", file, line,
	    (int)fault, nf, due, straight ? ", straight" : "");
	bytes_add_field(log, raw);
	for (size_t i = 0; i < n; i++) {
		bytes_add_format(log, "\n\t%zu:", f[i].n);
		bytes_add_field(log, f[i]);
	}
	bytes_add_text(log, "\n");
}

static inline void
naive_log_columns(struct bytes *log, const struct field *names, size_t n)
{
	bytes_add_text(log, "columns");
	for (size_t i = 0; i < n; i++) {
		bytes_add_format(log, " %zu:", names[i].n);
		bytes_add_field(log, names[i]);
	}
	bytes_add_text(log, "\n");
}

/* Reads t to its end, logs it and closes it; t may be NULL. */
static inline void
naive_log_tin(struct bytes *log, struct reader *t, const struct err *err)
{
	struct row row = { 0 };

	if (t != NULL) {
		struct naive_fields names = { 0 };

		for (size_t i = 0; i < reader_columns(t); i++)
			naive_add(&names, reader_name(t, i));
		naive_log_columns(log, names.v, names.n);
		free(names.v);
		while (reader_next(t, &row)) {
			struct naive_fields f = { 0 };

			for (size_t i = 0; i < reader_columns(t); i++)
				naive_add(&f, row_field(&row, i));
			for (size_t i = row.due; i < row.nf; i++)
				naive_add(&f, row_file_field(&row, i));
			naive_log_row(log, row.file, row.line, row.fault, row.nf, row.due,
			    row.straight, row.raw, f.v, f.n);
			free(f.v);
		}
		if (reader_next(t, &row)) /* the end is an end */
			bytes_add_text(log, "more\n");
	}
	if (reader_close(t) != 0)
		bytes_add_format(log, "error %s\n", err->text);
}

/* --- the rules ------------------------------------------------------------------------------- */

static inline void
naive_cut(struct field line, struct naive_fields *into)
{
	size_t start = 0;

	into->n = 0;
	for (size_t i = 0; i <= line.n; i++)
		if (i == line.n || line.p[i] == '\t') {
			naive_add(into, (struct field){ line.p + start, i - start });
			start = i + 1;
		}
}

static inline int
naive_find(const struct naive_fields *fields, struct field name)
{
	for (size_t i = 0; i < fields->n; i++)
		if (field_same(fields->v[i], name))
			return (int)i;
	return -1;
}

/* a name as it stands in a message about names */
static inline const char *
naive_show(struct field name)
{
	static char shown[ERR_SHOWN];
	char *to = shown;

	*to = '\0';
	for (size_t i = 0; i < err_cut(name.p, name.n); i++) {
		unsigned char c = (unsigned char)name.p[i];

		to += sprintf(to, c < ' ' || c > '~' ? "\\x%02x" : "%c", c);
	}
	return shown;
}

/* what is left of a file */
struct naive_rest {
	const struct naive_file *file;
	size_t at;
	uint64_t line;
};

enum naive_found { NAIVE_LINE, NAIVE_END, NAIVE_TROUBLE };

static inline enum naive_found
naive_line(struct naive_rest *r, struct field *line, struct bytes *log)
{
	struct field text = r->file->text;
	size_t end = r->at;
	bool cr = false;

	if (r->at == text.n)
		return NAIVE_END;
	while (end < text.n && text.p[end] != '\n')
		end++;
	*line = (struct field){ text.p + r->at, end - r->at };
	r->at = end < text.n ? end + 1 : end;
	r->line++;
	for (size_t i = 0; i < line->n; i++)
		if (line->p[i] == '\0') {
			bytes_add_format(log, "error %s:%" PRIu64 ": NUL byte at byte %zu%s\n",
			    r->file->name, r->line, i + 1,
			    r->line == 1 ? ": UTF-16? convert it with iconv first" : "");
			return NAIVE_TROUBLE;
		}
	if (line->n > 0 && line->p[line->n - 1] == '\r')
		line->n--;
	for (size_t i = 0; i < line->n; i++)
		cr |= line->p[i] == '\r';
	if (!cr)
		return NAIVE_LINE;
	bytes_add_format(log, "error %s:%" PRIu64 ": %s\n", r->file->name, r->line,
	    r->line == 1 ? "CR line ends: convert them to LF first"
			 : "CR inside the line, not at its end");
	return NAIVE_TROUBLE;
}

static inline bool
naive_starts(struct field text, const char *with)
{
	size_t n = strlen(with);

	return text.n >= n && memcmp(text.p, with, n) == 0;
}

/* The first line, behind a byte-order mark. */
static inline int
naive_head(
    const struct naive_file *file, struct naive_rest *r, struct field *line, struct bytes *log)
{
	static const char *const foreign[][2] = {
		{ "\xff\xfe", "UTF-16 text: convert it first (iconv -f UTF-16 -t UTF-8)" },
		{ "\xfe\xff", "UTF-16 text: convert it first (iconv -f UTF-16 -t UTF-8)" },
		{ "\x1f\x8b",
		    "compressed (gzip), not a table: unpack it first (thrum-unpack, gzip -d)" },
		{ "PK\x03\x04", "a ZIP or spreadsheet file, not a table: export it as text first" },
	};
	enum naive_found found;

	*r = (struct naive_rest){ file, naive_starts(file->text, "\xef\xbb\xbf") ? 3 : 0, 0 };
	for (size_t i = 0; i < sizeof foreign / sizeof foreign[0]; i++)
		if (naive_starts(file->text, foreign[i][0])) {
			bytes_add_format(log, "error %s: %s\n", file->name, foreign[i][1]);
			return -1;
		}
	found = naive_line(r, line, log);
	if (found == NAIVE_TROUBLE)
		return -1;
	if (found == NAIVE_LINE && line->n > 0)
		return 0;
	bytes_add_format(log, "error %s: no header line\n", file->name);
	return -1;
}

static inline int
naive_add_columns(struct naive_table *t, size_t file)
{
	struct naive_fields *head = &t->heads[file];
	const char *name = t->files[file].name, *first = t->files[0].name;
	bool same = file > 0 && (t->flags & READER_SAME_COLUMNS);

	for (size_t i = 0; i < head->n; i++) {
		size_t before = (size_t)naive_find(head, head->v[i]);

		if (before < i) {
			bytes_add_format(t->log,
			    "error %s:1: columns %zu and %zu have the same name: '%s'\n", name,
			    before + 1, i + 1, naive_show(head->v[i]));
			return -1;
		}
		if (naive_find(&t->columns, head->v[i]) >= 0)
			continue;
		if (same) {
			bytes_add_format(t->log, "error %s:1: has a column that %s lacks: '%s'\n",
			    name, first, naive_show(head->v[i]));
			return -1;
		}
		t->columns.v =
		    mem_grow(t->columns.v, &t->columns.cap, t->columns.n + 1, sizeof *t->columns.v);
		t->columns.v[t->columns.n++] = head->v[i];
	}
	for (size_t c = 0; same && c < t->columns.n; c++)
		if (naive_find(head, t->columns.v[c]) < 0) {
			bytes_add_format(t->log, "error %s:1: lacks a column that %s has: '%s'\n",
			    name, first, naive_show(t->columns.v[c]));
			return -1;
		}
	return 0;
}

/* What is wrong with a line as a row, for a message. */
static inline enum row_fault
naive_fault(const struct naive_fields *f, struct field line, struct field header, size_t columns,
    char what[200])
{
	const char *hint = "";
	bool empty = true;

	what[0] = '\0';
	if (line.n == 0) {
		sprintf(what, "blank line inside the table");
		return ROW_BLANK;
	}
	if (field_same(line, header) ||
	    (naive_starts(line, "\xef\xbb\xbf") &&
		field_same((struct field){ line.p + 3, line.n - 3 }, header))) {
		sprintf(what, "the header line stands here again");
		return ROW_HEADER;
	}
	if (f->n == columns)
		return ROW_FINE;
	for (size_t i = columns; i < f->n; i++)
		empty &= f->v[i].n == 0;
	if (f->n > columns && empty)
		hint = ": the extra ones are empty";
	for (size_t i = 0; i < f->n; i++)
		if (naive_starts(f->v[i], "\""))
			hint = ": quoted? thrum-import reads quoted files";
	sprintf(what, "%zu field%s, %zu expected%s", f->n, f->n == 1 ? "" : "s", columns, hint);
	return f->n < columns ? ROW_SHORT : ROW_LONG;
}

static inline void
naive_row(const struct naive_table *t, const struct naive_rest *r, size_t file, struct field line,
    enum row_fault fault, struct naive_fields *f)
{
	const struct naive_fields *head = &t->heads[file];
	struct naive_fields out = { 0 };

	if (fault == ROW_BLANK)
		f->n = 0;
	out.v = mem_zeroed(t->columns.n + f->n, sizeof *out.v);
	for (; out.n < t->columns.n; out.n++) {
		int own = naive_find(head, t->columns.v[out.n]);

		if (own >= 0 && (size_t)own < f->n)
			out.v[out.n] = f->v[own];
		else
			out.v[out.n] = field_of("");
	}
	for (size_t i = head->n; i < f->n; i++)
		out.v[out.n++] = f->v[i];
	naive_log_row(t->log, r->file->name, r->line, fault, f->n, head->n,
	    fault == ROW_FINE && t->straight[file], line, out.v, out.n);
	free(out.v);
}

/* All rows of one file. -1 at trouble. */
static inline int
naive_rows(struct naive_table *t, size_t file, struct naive_rest r, struct field header)
{
	struct naive_fields f = { 0 };
	struct naive_rest blank = r; /* before the first of the blank lines just met */
	struct field line;
	char what[200];
	enum naive_found found;

	/* what is blank shows only when something follows; where that is no line at all, it wins */
	while ((found = naive_line(&r, &line, t->log)) == NAIVE_LINE) {
		enum row_fault fault;

		if (line.n == 0)
			continue;
		while (blank.line + 1 < r.line) {
			struct field none = { NULL, 0 };

			naive_line(&blank, &none, t->log);
			if (!(t->flags & READER_KEEP_MISSHAPEN)) {
				r = blank;
				line.n = 0;
				break;
			}
			naive_row(t, &blank, file, none, ROW_BLANK, &f);
		}
		blank = r;
		naive_cut(line, &f);
		fault = naive_fault(&f, line, header, t->heads[file].n, what);
		if (fault != ROW_FINE && !(t->flags & READER_KEEP_MISSHAPEN)) {
			bytes_add_format(
			    t->log, "error %s:%" PRIu64 ": %s\n", r.file->name, r.line, what);
			found = NAIVE_TROUBLE;
			break;
		}
		naive_row(t, &r, file, line, fault, &f);
	}
	free(f.v);
	return found == NAIVE_TROUBLE ? -1 : 0;
}

/* The log of the whole table. */
static inline void
naive_read(const struct naive_file *files, size_t n, unsigned flags, struct bytes *log)
{
	struct naive_table t = { .files = files, .nfiles = n, .flags = flags, .log = log };
	struct naive_rest *rests = mem_zeroed(n, sizeof *rests);
	struct field *headers = mem_zeroed(n, sizeof *headers);
	int bad = 0;

	t.heads = mem_zeroed(n, sizeof *t.heads);
	t.straight = mem_zeroed(n, sizeof *t.straight);
	for (size_t i = 0; i < n && bad == 0; i++) {
		bad = naive_head(&files[i], &rests[i], &headers[i], log);
		if (bad == 0) {
			naive_cut(headers[i], &t.heads[i]);
			bad = naive_add_columns(&t, i);
		}
	}
	if (bad == 0)
		naive_log_columns(log, t.columns.v, t.columns.n);
	for (size_t i = 0; i < n && bad == 0; i++) {
		t.straight[i] = t.heads[i].n == t.columns.n;
		for (size_t c = 0; t.straight[i] && c < t.columns.n; c++)
			t.straight[i] = field_same(t.heads[i].v[c], t.columns.v[c]);
		bad = naive_rows(&t, i, rests[i], headers[i]);
	}
	for (size_t i = 0; i < n; i++)
		free(t.heads[i].v);
	free(t.heads);
	free(t.straight);
	free(t.columns.v);
	free(headers);
	free(rests);
}

#endif
