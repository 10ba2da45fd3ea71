#include "table/reader.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "base/mem.h"
#include "base/os.h"
#include "table/head.h"
#include "table/ids.h"
#include "table/split.h"

/*
 * A source's buffer holds the row being read and what has been read beyond it. Marks are made for
 * one window of the buffer after another; a row may reach over windows and reads.
 *
 *	buf     at           window      window_end       len          cap
 *	 | done | row being made | marked |  not yet marked | free       |
 */
enum { BLOCK = 128 * 1024, FIRST_BLOCK = 4096, WINDOW = 32 * 1024, BOM = sizeof BYTES_BOM - 1 };

struct source {
	const char *name;
	int fd; /* -1: in memory, or done with */
	bool regular;
	bool ended; /* read to its end */
	char *buf;
	size_t len, cap; /* cap 0: buf belongs to the caller */
	size_t at;
	size_t window, window_end;
	uint64_t line;   /* lines taken so far */
	uint64_t cut;    /* the line that ends with the source and not with LF; 0: none */
	uint64_t mixed;  /* the first line that ends otherwise than the header; 0: none */
	bool crlf;       /* the header ends in CR LF */
	uint64_t blanks; /* blank lines just before `at`, the last of those taken */
	size_t ncols;
	struct field head; /* its header line */
	int *from; /* for each column of the table that of the file, or -1; NULL: the same */
};

struct reader {
	unsigned flags;
	struct err *err;
	struct source *sources;
	size_t nsources, current;
	size_t block;
	struct region kept; /* headers */
	struct ids names;
	size_t ncols;
	struct field
	    *fields; /* the row's fields in its file's order, unless they lie between marks */
	size_t cap_fields;
	struct marks marks;
	size_t next, next_end; /* of the marks, and of those that are line ends, not used yet */
	void (*wait)(void *);
	void *wait_arg;
};

int
reader_fail(
    struct reader *t, const struct row *row, const char *name, const char *what, struct field value)
{
	char shown[ERR_SHOWN];

	err_show(shown, value.p, value.n);
	if (name != NULL && value.p != NULL)
		return err_set(t->err, "%s:%llu: column '%s': %s: '%s'", row->file,
		    (unsigned long long)row->line, name, what, shown);
	if (name != NULL)
		return err_set(t->err, "%s:%llu: column '%s': %s", row->file,
		    (unsigned long long)row->line, name, what);
	if (value.p != NULL)
		return err_set(t->err, "%s:%llu: %s: '%s'", row->file,
		    (unsigned long long)row->line, what, shown);
	return err_set(t->err, "%s:%llu: %s", row->file, (unsigned long long)row->line, what);
}

static int
fail_here(struct reader *t, const struct source *s, const char *what)
{
	return err_set(t->err, "%s:%llu: %s", s->name, (unsigned long long)s->line, what);
}

/* Forgets the marks made; the next window starts at the row itself. */
static void
mark_anew(struct reader *t, struct source *s)
{
	s->window = s->window_end = s->at;
	t->marks.n = t->marks.nends = t->next = t->next_end = 0;
}

/*
 * Makes room for a block behind what is there, by moving it to the front or by growing. All of it has
 * been marked and all marks have been used.
 */
static void
make_room(struct reader *t, struct source *s)
{
	if (s->cap - s->len >= t->block)
		return;
	if (s->at > 0) {
		memmove(s->buf, s->buf + s->at, s->len - s->at);
		s->len -= s->at;
		s->window_end -= s->at;
		s->window = s->window_end;
		s->at = 0;
	}
	if (s->cap - s->len < t->block)
		s->buf = mem_grow(s->buf, &s->cap, s->len + t->block, 1);
}

/* Marks the next window, reading on if need be. false at the end of the source and at trouble. */
static bool
next_window(struct reader *t, struct source *s)
{
	size_t n;

	if (s->window_end == s->len && !s->ended) {
		ssize_t got;

		make_room(t, s);
		if (!s->regular && t->wait != NULL)
			t->wait(t->wait_arg);
		got = os_read(s->fd, s->buf + s->len, t->block);
		if (got < 0) {
			err_set(t->err, "%s: %s", s->name, strerror(errno));
			return false;
		}
		s->ended = got == 0;
		s->len += (size_t)got;
	}
	n = s->len - s->window_end;
	if (n == 0)
		return false;
	if (n > WINDOW)
		n = WINDOW;
	s->window = s->window_end;
	s->window_end += n;
	split_marks(s->buf + s->window, n, &t->marks);
	t->next = t->next_end = 0;
	return true;
}

/* what one line was found to be */
struct line {
	size_t nf;       /* fields; their lengths are in t->fields */
	size_t n;        /* bytes without its end */
	size_t taken;    /* bytes with its end */
	bool found, bad; /* found: there is a line; bad: err is set */
};

static void
add_length(struct reader *t, struct line *l, size_t n)
{
	t->fields = mem_grow(t->fields, &t->cap_fields, l->nf + 1, sizeof *t->fields);
	t->fields[l->nf++].n = n;
}

/*
 * Takes the marks of one line, over as many windows as it needs. Only lengths are kept, as the
 * buffer may move meanwhile.
 */
static struct line
take_marks(struct reader *t, struct source *s)
{
	struct line l = { 0 };
	size_t start = 0, cr = SIZE_MAX; /* of the field, and the last CR: counted from the row */
	bool inner_cr = false, cut = false, crlf;

	for (;;) {
		while (t->next < t->marks.n && !l.found) {
			size_t at = s->window + t->marks.at[t->next++] - s->at;
			char c = s->buf[s->at + at];

			if (c == '\t') {
				add_length(t, &l, at - start);
				start = at + 1;
			} else if (c == '\n') {
				t->next_end++;
				l.found = true;
				l.n = at;
				l.taken = at + 1;
			} else if (c == '\r') {
				inner_cr |= cr != SIZE_MAX;
				cr = at;
			} else if (c == '\0') {
				s->line++;
				l.bad = true;
				err_set(t->err, "%s:%llu: NUL byte at byte %zu%s", s->name,
				    (unsigned long long)s->line, at + 1,
				    s->line == 1 ? ": UTF-16? convert it with iconv first" : "");
				return l;
			}
		}
		if (l.found)
			break;
		if (!next_window(t, s)) {
			l.bad = err_is_set(t->err);
			l.n = l.taken = s->len - s->at;
			l.found = !l.bad && l.n > 0;
			if (!l.found)
				return l;
			cut = true;
			break;
		}
	}
	s->line++;
	crlf = cr != SIZE_MAX && cr + 1 == l.n;
	l.n -= crlf;
	inner_cr |= cr != SIZE_MAX && !crlf;
	if (s->line == 1)
		s->crlf = crlf;
	else if (crlf != s->crlf && !cut && l.n > 0 && s->mixed == 0)
		s->mixed = s->line;
	if (cut && l.n > 0)
		s->cut = s->line;
	add_length(t, &l, l.n - start);
	if (inner_cr) {
		l.bad = true;
		fail_here(t, s,
		    s->line == 1 ? "CR line ends: convert them to LF first"
				 : "CR inside the line, not at its end");
	}
	return l;
}

/* Turns lengths into slices; the fields of a line lie one byte apart. */
static void
place_fields(struct reader *t, const struct source *s, size_t nf)
{
	const char *p = s->buf + s->at;

	for (size_t i = 0; i < nf; i++) {
		t->fields[i].p = p;
		p += t->fields[i].n + 1;
	}
}

/* --- headers --------------------------------------------------------------------------------- */

static int
add_columns(struct reader *t, const struct source *s)
{
	bool same = s != t->sources && (t->flags & READER_SAME_COLUMNS), fresh;
	const char *first = t->sources[0].name;
	struct ids here = IDS_NONE; /* the names of this file */
	int bad = 0;

	for (size_t i = 0; i < s->ncols && bad == 0; i++) {
		struct field name = t->fields[i];
		size_t before = ids_add(&here, &name, 1, &fresh);

		if (!fresh)
			bad = head_doubled(t->err, s->name, name, before, i);
		else if (!same)
			ids_add(&t->names, &name, 1, NULL);
		else if (reader_column(t, name) < 0)
			bad = head_unlike(t->err, s->name, "has", name, first);
	}
	t->ncols = t->names.n;
	for (size_t c = 0; same && c < t->ncols && bad == 0; c++)
		if (ids_find_one(&here, reader_name(t, c)) == SIZE_MAX)
			bad = head_unlike(t->err, s->name, "lacks", reader_name(t, c), first);
	ids_free(&here);
	return bad;
}

static int
read_header(struct reader *t, struct source *s)
{
	struct line l;

	mark_anew(t, s);
	while (s->len < 4 && next_window(t, s))
		; /* enough to know the file by its first bytes */
	if (head_is_foreign(t->err, s->name, (struct field){ s->buf, s->len }))
		return -1;
	if (field_starts((struct field){ s->buf, s->len }, BYTES_BOM))
		s->at = BOM;
	mark_anew(t, s);
	l = take_marks(t, s);
	if (l.bad)
		return -1;
	if (!l.found || l.n == 0)
		return err_set(t->err, "%s: no header line", s->name);
	place_fields(t, s, l.nf);
	s->ncols = l.nf;
	s->head = region_keep(&t->kept, (struct field){ s->buf + s->at, l.n });
	s->at += l.taken;
	return add_columns(t, s);
}

/* Once all columns are known: which column of the file each of them is. */
static void
map_columns(struct reader *t, struct source *s)
{
	bool straight = s->ncols == t->ncols;
	struct field rest = s->head;

	s->from = mem_zeroed(t->ncols, sizeof *s->from);
	for (size_t c = 0; c < t->ncols; c++)
		s->from[c] = -1;
	for (size_t i = 0; i < s->ncols; i++) {
		int at = reader_column(t, field_cut(&rest, '\t'));

		s->from[at] = (int)i;
		straight &= at == (int)i;
	}
	if (straight) {
		free(s->from);
		s->from = NULL;
	}
}

static struct reader *
new_reader(size_t nsources, unsigned flags, struct err *err)
{
	struct reader *t = mem_zeroed(1, sizeof *t);

	t->flags = flags;
	t->err = err;
	t->names = (struct ids)IDS_NONE;
	marks_room(&t->marks, WINDOW);
	t->sources = mem_zeroed(nsources, sizeof *t->sources);
	for (size_t i = 0; i < nsources; i++)
		t->sources[i].fd = -1;
	t->nsources = nsources;
	return t;
}

static void
ready(struct reader *t)
{
	for (size_t i = 0; i < t->nsources; i++)
		map_columns(t, &t->sources[i]);
	t->fields = mem_grow(t->fields, &t->cap_fields, t->ncols, sizeof *t->fields);
	mark_anew(t, &t->sources[0]);
}

struct reader *
reader_open(char *const files[], size_t n, unsigned flags, struct err *err)
{
	/* of many files only the headers are wanted at first */
	return reader_open_block(files, n, flags, n > 1 ? FIRST_BLOCK : BLOCK, BLOCK, err);
}

struct reader *
reader_open_block(
    char *const files[], size_t n, unsigned flags, size_t head_block, size_t block, struct err *err)
{
	static char dash[] = "-";
	static char *const standard_input[] = { dash };
	bool stdin_taken = false;
	struct reader *t;

	if (n == 0) {
		files = standard_input;
		n = 1;
	}
	t = new_reader(n, flags, err);
	t->block = head_block;
	for (size_t i = 0; i < n && !err_is_set(err); i++) {
		struct source *s = &t->sources[i];

		s->name = files[i];
		if (strcmp(files[i], "-") == 0 && stdin_taken)
			err_set(err, "-: standard input is named twice");
		else
			s->fd = os_open(files[i], &s->regular, err);
		stdin_taken |= strcmp(files[i], "-") == 0;
		if (!err_is_set(err))
			read_header(t, s);
	}
	if (err_is_set(err)) {
		reader_close(t);
		return NULL;
	}
	t->block = block;
	ready(t);
	return t;
}

struct reader *
reader_memory(const char *name, struct field text, struct err *err)
{
	struct reader *t = new_reader(1, 0, err);
	struct source *s = &t->sources[0];

	/* never written to: with `ended` set there is nothing to read, move or grow */
	memcpy(&s->buf, &text.p, sizeof s->buf);
	s->name = name;
	s->len = text.n;
	s->ended = s->regular = true;
	if (read_header(t, s) != 0) {
		reader_close(t);
		return NULL;
	}
	ready(t);
	return t;
}

size_t
reader_columns(const struct reader *t)
{
	return t->ncols;
}

struct field
reader_name(const struct reader *t, size_t column)
{
	return ids_key(&t->names, column);
}

struct field
reader_header(const struct reader *t)
{
	return t->sources[0].head;
}

int
reader_column(const struct reader *t, struct field name)
{
	size_t column = ids_find_one(&t->names, name);

	return column == SIZE_MAX ? -1 : (int)column;
}

int
reader_need(const struct reader *t, struct field name)
{
	int column = reader_column(t, name);

	for (size_t i = 0; i < t->nsources; i++) {
		const struct source *s = &t->sources[i];

		if (column < 0 || (s->from != NULL && s->from[column] < 0)) {
			head_missing(t->err, s->name, &name, 1, s->head);
			return -1;
		}
	}
	return column;
}

int
reader_need_any(const struct reader *t, const struct field *names, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (reader_column(t, names[i]) >= 0)
			return 0;
	return head_missing(t->err, t->sources[0].name, names, n, t->sources[0].head);
}

int
reader_refuse_exports(const struct reader *t)
{
	for (size_t i = 0; i < t->nsources; i++)
		if (head_of_export(t->sources[i].head) != NULL)
			return head_fail(
			    t->err, t->sources[i].name, "not a table of TABs", t->sources[i].head);
	return 0;
}

int
reader_fail_header(const struct reader *t, const char *what)
{
	return head_fail(t->err, t->sources[0].name, what, t->sources[0].head);
}

const char *
reader_file(const struct reader *t)
{
	return t->sources[0].name;
}

int
reader_fail_column(const struct reader *t, struct field name, struct field meant)
{
	char shown[ERR_SHOWN], near[ERR_SHOWN];

	return err_set(t->err, "%s:1: column '%s': is it %s?", t->sources[0].name,
	    err_show(shown, name.p, name.n), err_show(near, meant.p, meant.n));
}

/* --- rows ------------------------------------------------------------------------------------ */

/* The row as it is; its fields are those in t->fields. */
static void
give(const struct reader *t, const struct source *s, struct row *row, struct line l)
{
	*row = (struct row){
		.raw = { s->buf + s->at, l.n },
		.file = s->name,
		.line = s->line,
		.nf = l.nf,
		.due = s->ncols,
		.straight = s->from == NULL,
		.from = s->from,
		.fields = t->fields,
	};
}

/*
 * The usual row: nothing odd in the window, and its end is the mark that it should be, so that those
 * before it are its TABs.
 */
static bool
usual_row(struct reader *t, struct source *s, struct row *row)
{
	const uint32_t *mark = t->marks.at + t->next;
	const char *window = s->buf + s->window, *end;
	size_t n, ncols = s->ncols;

	if (t->marks.odd || s->crlf || t->next_end == t->marks.nends ||
	    t->marks.n - t->next < ncols || mark[ncols - 1] != t->marks.ends[t->next_end] ||
	    s->blanks > 0)
		return false;
	end = window + mark[ncols - 1];
	n = (size_t)(end - (s->buf + s->at));
	if (n == 0)
		return false;
	if (n - s->head.n <= BOM && memcmp(end - s->head.n, s->head.p, s->head.n) == 0)
		return false; /* perhaps the header once more */
	t->next += ncols;
	t->next_end++;
	s->line++;
	give(t, s, row, (struct line){ .nf = ncols, .n = n });
	row->fields = NULL; /* most fields are never looked at */
	row->base = window;
	row->marks = mark;
	s->at += n + 1;
	return true;
}

/* The header once more: files joined end to end, the second perhaps with its byte-order mark. */
static bool
is_header(const struct source *s, struct field line)
{
	if (field_starts(line, BYTES_BOM))
		line = (struct field){ line.p + BOM, line.n - BOM };
	return field_same(line, s->head);
}

static bool
misshapen(struct reader *t, const struct source *s, struct row *row, struct line l)
{
	char what[120];

	if (is_header(s, row->raw)) {
		row->fault = ROW_HEADER;
		snprintf(what, sizeof what, "the header line stands here again");
	} else if (l.nf != s->ncols) {
		row->fault = l.nf < s->ncols ? ROW_SHORT : ROW_LONG;
		head_wrong_count(what, sizeof what, t->fields, l.nf, s->ncols);
	} else
		return false;
	if (!(t->flags & READER_KEEP_MISSHAPEN))
		fail_here(t, s, what);
	return true;
}

/* A blank line that turned out to lie inside the table. */
static bool
blank_row(struct reader *t, struct source *s, struct row *row)
{
	uint64_t line = s->line - s->blanks + 1;

	if (!(t->flags & READER_KEEP_MISSHAPEN)) {
		err_set(t->err, "%s:%llu: blank line inside the table", s->name,
		    (unsigned long long)line);
		return false;
	}
	give(t, s, row, (struct line){ 0 });
	row->line = line;
	row->fault = ROW_BLANK;
	row->straight = false;
	s->blanks--;
	return true;
}

/* Any row, wherever its marks lie. false at the end of the source and at trouble. */
static bool
any_row(struct reader *t, struct source *s, struct row *row)
{
	struct line l;

	if (s->blanks > 0)
		return blank_row(t, s, row);
	for (;;) {
		l = take_marks(t, s);
		if (l.bad || !l.found)
			return false;
		if (l.n > 0)
			break;
		s->blanks++;
		s->at += l.taken;
	}
	if (s->blanks > 0) {
		/* blank lines before a row are trouble; look at the row again afterwards */
		s->line--;
		mark_anew(t, s);
		return blank_row(t, s, row);
	}
	place_fields(t, s, l.nf);
	give(t, s, row, l);
	if (misshapen(t, s, row, l)) {
		if (err_is_set(t->err))
			return false;
		row->straight = false;
	}
	s->at += l.taken;
	return true;
}

bool
reader_next(struct reader *t, struct row *row)
{
	while (t->current < t->nsources && !err_is_set(t->err)) {
		struct source *s = &t->sources[t->current];

		if (usual_row(t, s, row) || any_row(t, s, row))
			return true;
		if (err_is_set(t->err))
			return false;
		if (s->cap > 0)
			free(s->buf);
		s->cap = 0;
		if (++t->current < t->nsources)
			mark_anew(t, &t->sources[t->current]);
	}
	return false;
}

const char *
reader_cut(const struct reader *t, size_t *next, uint64_t *line)
{
	while (t != NULL && *next < t->nsources) {
		const struct source *s = &t->sources[(*next)++];

		*line = s->cut;
		if (s->cut > 0)
			return s->name;
	}
	return NULL;
}

const char *
reader_source(const struct reader *t, size_t i, struct field *header, uint64_t *mixed)
{
	if (i >= t->nsources)
		return NULL;
	*header = t->sources[i].head;
	*mixed = t->sources[i].mixed;
	return t->sources[i].name;
}

void
reader_on_wait(struct reader *t, void (*wait)(void *arg), void *arg)
{
	t->wait = wait;
	t->wait_arg = arg;
}

int
reader_close(struct reader *t)
{
	int status;

	if (t == NULL)
		return -1;
	status = err_is_set(t->err) ? -1 : 0;
	for (size_t i = 0; i < t->nsources; i++) {
		struct source *s = &t->sources[i];

		if (s->cap > 0)
			free(s->buf);
		if (s->fd > STDIN_FILENO)
			close(s->fd);
		free(s->from);
	}
	region_free(&t->kept);
	free(t->sources);
	ids_free(&t->names);
	free(t->fields);
	marks_free(&t->marks);
	free(t);
	return status;
}
