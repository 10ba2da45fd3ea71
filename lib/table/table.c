#include "table/table.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/num.h"

static size_t
count(const struct col *cols)
{
	size_t n = 0;

	while (cols[n].name != NULL)
		n++;
	return n;
}

/* --- reading --------------------------------------------------------------------------------- */

/* The name under which a column is to be looked for, and whether a person asked for it. */
static struct field
wanted_name(const struct col *col, const struct opt_pairs *renames, bool *asked)
{
	struct field name = field_of(col->name);

	*asked = false;
	if (col->role == COL_OUT)
		return name;
	for (size_t i = 0; renames != NULL && i < renames->n; i++)
		if (field_is(renames->v[i].name, col->name)) {
			name = renames->v[i].value;
			*asked = true;
		}
	return name;
}

static int
check_renames(const struct table *t, const struct opt_pairs *renames)
{
	for (size_t i = 0; renames != NULL && i < renames->n; i++) {
		char shown[ERR_SHOWN];
		bool known = false;

		for (size_t c = 0; c < t->ncols; c++)
			known |= t->cols[c].role != COL_OUT &&
				 field_is(renames->v[i].name, t->cols[c].name);
		if (!known)
			return err_set(t->err, "--column: no column this program reads: '%s'",
			    err_show(shown, renames->v[i].name.p, renames->v[i].name.n));
	}
	return 0;
}

/* At least one column of the group must be there. */
static int
check_group(const struct table *t, int group, const struct opt_pairs *renames)
{
	struct field *names = NULL;
	size_t n = 0, cap = 0;
	bool asked;
	int status;

	for (size_t c = 0; c < t->ncols; c++)
		if (t->cols[c].role == COL_ONE_OF && t->cols[c].group == group) {
			names = mem_grow(names, &cap, n + 1, sizeof *names);
			names[n++] = wanted_name(&t->cols[c], renames, &asked);
		}
	status = reader_need_any(t->reader, names, n);
	free(names);
	return status;
}

static int
find_columns(struct table *t, const struct opt_pairs *renames)
{
	for (size_t c = 0; c < t->ncols; c++) {
		bool asked;
		struct field name = wanted_name(&t->cols[c], renames, &asked);
		bool need = t->cols[c].role == COL_NEED || asked;

		t->at[c] = need ? reader_need(t->reader, name) : reader_column(t->reader, name);
		if (need && t->at[c] < 0)
			return -1;
	}
	for (size_t c = 0; c < t->ncols; c++)
		if (t->cols[c].role == COL_ONE_OF && check_group(t, t->cols[c].group, renames) != 0)
			return -1;
	return 0;
}

/* The words of a column, taken apart once for all rows. */
static struct field *
words_of(const struct col *col)
{
	struct field rest = field_of(col->words != NULL ? col->words : ""), *words = NULL;
	size_t n = 0, cap = 0;

	if (col->type != COL_WORD)
		return NULL;
	do {
		words = mem_grow(words, &cap, n + 2, sizeof *words);
		words[n++] = field_cut(&rest, ' ');
	} while (rest.p != NULL);
	words[n] = (struct field){ "", 0 };
	return words;
}

int
table_open_reader(struct table *t, const struct col *cols, struct reader *reader,
    const struct opt_pairs *renames, struct err *err)
{
	*t = (struct table){ .cols = cols, .ncols = count(cols), .reader = reader, .err = err };
	if (reader == NULL)
		return -1;
	t->at = mem_zeroed(t->ncols, sizeof *t->at);
	t->words = mem_zeroed(t->ncols, sizeof(struct field *));
	for (size_t c = 0; c < t->ncols; c++)
		t->words[c] = words_of(&cols[c]);
	if (check_renames(t, renames) == 0 && find_columns(t, renames) == 0)
		return 0;
	table_close(t);
	return -1;
}

int
table_open(struct table *t, const struct col *cols, char *const files[], size_t n, unsigned flags,
    const struct opt_pairs *renames, struct err *err)
{
	return table_open_reader(t, cols, reader_open(files, n, flags, err), renames, err);
}

int
table_open_side(struct table *t, const struct col *cols, const char *path,
    const struct blob *builtin, struct err *err)
{
	char *files[1];

	if (path == NULL) {
		struct field text = { (const char *)builtin->p, builtin->n };

		return table_open_reader(
		    t, cols, reader_memory(builtin->name, text, err), NULL, err);
	}
	memcpy(files, &path, sizeof path); /* reader_open does not write through it */
	return table_open(t, cols, files, 1, 0, NULL, err);
}

bool
table_next(struct table *t)
{
	return reader_next(t->reader, &t->row);
}

bool
table_has(const struct table *t, int col)
{
	return t->at[col] >= 0;
}

int
table_fail(struct table *t, int col, const char *what)
{
	char name[ERR_SHOWN];
	struct field column, f = { NULL, 0 };

	if (t->at[col] < 0)
		return reader_fail(t->reader, &t->row, t->cols[col].name, what, f);
	column = reader_name(t->reader, (size_t)t->at[col]);
	err_show(name, column.p, column.n);
	f = row_field(&t->row, (size_t)t->at[col]);
	return reader_fail(t->reader, &t->row, name, what, f);
}

static bool
is_limited(const struct table *t, int col)
{
	return t->cols[col].lo != 0 || t->cols[col].hi != 0;
}

static bool
in_range(struct table *t, int col, double x)
{
	const struct col *c = &t->cols[col];
	char what[80];

	if (!is_limited(t, col) || (x >= c->lo && x <= c->hi))
		return true;
	if (c->hi == INFINITY)
		snprintf(what, sizeof what, "below %g", c->lo);
	else
		snprintf(what, sizeof what, "outside %g to %g", c->lo, c->hi);
	table_fail(t, col, what);
	return false;
}

bool
get_num(struct table *t, int col, double *x)
{
	struct field f;
	double value;

	if (!get_text(t, col, &f))
		return false;
	if (num_parse(f, &value) != 0) {
		table_fail(t, col, num_fault(f));
		return false;
	}
	if (!in_range(t, col, value))
		return false;
	*x = value;
	return true;
}

bool
get_whole(struct table *t, int col, int64_t *x)
{
	struct field f;
	int64_t value;

	if (!get_text(t, col, &f))
		return false;
	if (num_whole(f, &value) != 0) {
		double number;

		table_fail(
		    t, col, num_parse(f, &number) == 0 ? "not a whole number" : num_fault(f));
		return false;
	}
	if (!in_range(t, col, (double)value))
		return false;
	*x = value;
	return true;
}

bool
get_db(struct table *t, int col, int64_t *x_udb)
{
	struct field f;
	int64_t value;

	if (!get_text(t, col, &f))
		return false;
	if (db_parse(f, &value) != 0) {
		double number;

		table_fail(t, col, num_parse(f, &number) == 0 ? "number too large" : num_fault(f));
		return false;
	}
	if (is_limited(t, col) && !in_range(t, col, db_to(value)))
		return false;
	*x_udb = value;
	return true;
}

bool
get_time(struct table *t, int col, struct when *x)
{
	struct field f;

	if (!get_text(t, col, &f))
		return false;
	if (when_parse(f, x) != 0) {
		table_fail(t, col, when_fault(f));
		return false;
	}
	return true;
}

bool
get_word(struct table *t, int col, int *x)
{
	const struct field *words = t->words[col];
	struct field f;
	char what[200];

	if (!get_text(t, col, &f))
		return false;
	for (int i = 0; words[i].n > 0; i++)
		if (field_same(words[i], f)) {
			*x = i;
			return true;
		}
	snprintf(what, sizeof what, "none of: %s", t->cols[col].words);
	table_fail(t, col, what);
	return false;
}

int
table_list(
    struct table *t, const char *option, const struct opt_list *list, size_t most, size_t *columns)
{
	char shown[ERR_SHOWN];

	if (list->n > most)
		return err_set(t->err, "--%s: more than %zu columns", option, most);
	for (size_t i = 0; i < list->n; i++) {
		struct field name = list->v[i];
		int at = reader_need(t->reader, name);

		if (at < 0)
			return -1;
		columns[i] = (size_t)at;
		for (size_t j = 0; j < i; j++)
			if (columns[j] == columns[i])
				return err_set(t->err, "--%s: the same column twice: '%s'", option,
				    err_show(shown, name.p, name.n));
	}
	return (int)list->n;
}

struct field
table_key(const struct table *t, const size_t *columns, size_t n, struct bytes *joined)
{
	if (n == 1)
		return row_field(&t->row, columns[0]);
	joined->n = 0;
	for (size_t i = 0; i < n; i++) {
		if (i > 0)
			bytes_add(joined, "\t", 1);
		bytes_add_field(joined, row_field(&t->row, columns[i]));
	}
	return bytes_field(joined);
}

struct field
table_line(const struct table *t, struct bytes *joined)
{
	if (t->row.straight)
		return t->row.raw;
	joined->n = 0;
	for (size_t c = 0; c < reader_columns(t->reader); c++) {
		if (c > 0)
			bytes_add(joined, "\t", 1);
		bytes_add_field(joined, row_field(&t->row, c));
	}
	return bytes_field(joined);
}

int
table_close(struct table *t)
{
	int status = 0;

	if (t->cols == NULL)
		return 0;
	if (t->reader != NULL)
		status = reader_close(t->reader);
	for (size_t c = 0; t->words != NULL && c < t->ncols; c++)
		free(t->words[c]);
	free(t->words);
	free(t->at);
	t->words = NULL;
	t->at = NULL;
	t->reader = NULL;
	return status;
}

/* --- writing --------------------------------------------------------------------------------- */

static void
write_header(struct sheet *s)
{
	for (size_t i = 0; s->from != NULL && i < reader_columns(s->from->reader); i++)
		writer_slice(s->out, reader_name(s->from->reader, i));
	for (size_t i = 0; i < s->nappended; i++)
		writer_text(s->out, s->cols[s->appended[i]].name);
	writer_end_row(s->out);
}

static void
begin_row(struct sheet *s)
{
	for (size_t c = 0; c < s->ncols; c++)
		s->slots[c].n = 0;
	s->text.n = 0;
	s->nput = 0;
	s->as_listed = true;
}

void
sheet_open(struct sheet *s, const struct col *cols, const struct table *from, struct writer *out)
{
	size_t nfrom = from != NULL ? reader_columns(from->reader) : 0;

	*s = (struct sheet){ .cols = cols, .ncols = count(cols), .out = out, .from = from };
	s->slots = mem_zeroed(s->ncols + 1, sizeof *s->slots);
	s->appended = mem_zeroed(s->ncols + 1, sizeof *s->appended);
	s->replaces = mem_zeroed(nfrom + 1, sizeof *s->replaces);
	for (size_t i = 0; i < nfrom; i++)
		s->replaces[i] = -1;
	for (size_t c = 0; c < s->ncols; c++) {
		if (cols[c].role != COL_OUT)
			continue;
		if (from != NULL && from->at[c] >= 0) {
			s->replaces[from->at[c]] = (int)c;
			s->nreplaced++;
		} else
			s->appended[s->nappended++] = (int)c;
	}
	write_header(s);
	begin_row(s);
}

/* Room for a field of up to n bytes, to be handed to put. */
static inline char *
put_room(struct sheet *s, size_t n)
{
	char *p = bytes_room(&s->text, n + 1);

	*p = '\t';
	return p + 1;
}

static inline void
put(struct sheet *s, int col, size_t n)
{
	s->slots[col] = (struct sheet_slot){ s->text.n + 1, n };
	s->text.n += n + 1;
	s->as_listed &= s->nput < s->nappended && s->appended[s->nput] == col;
	s->nput++;
}

void
put_text(struct sheet *s, int col, struct field x)
{
	char *p;

	if (!writer_fits(s->out, x))
		return;
	p = put_room(s, x.n);
	if (x.n > 0)
		memcpy(p, x.p, x.n);
	put(s, col, x.n);
}

void
put_num(struct sheet *s, int col, double x)
{
	put(s, col, num_fixed(put_room(s, NUM_FIXED), x, s->cols[col].places));
}

void
put_whole(struct sheet *s, int col, int64_t x)
{
	enum { DIGITS = 24 };

	put(s, col, (size_t)snprintf(put_room(s, DIGITS), DIGITS, "%lld", (long long)x));
}

void
put_db(struct sheet *s, int col, int64_t x_udb)
{
	put(s, col, db_fixed(put_room(s, DB_FIXED), x_udb, s->cols[col].places));
}

static struct field
put_field(const struct sheet *s, int col)
{
	if (s->slots[col].n == 0)
		return (struct field){ "", 0 };
	return (struct field){ s->text.p + s->slots[col].at, s->slots[col].n };
}

/* The usual row, copied at once: the line as it was read, and behind it the text as it was put. */
static bool
usual_row(struct sheet *s)
{
	struct field raw = { "", 0 }, text = bytes_field(&s->text);
	size_t empty = s->nappended - s->nput;
	char *p;

	if (!s->as_listed)
		return false;
	if (s->from == NULL) {
		if (s->nput == 0)
			return false;
		text = (struct field){ text.p + 1, text.n - 1 };
	} else {
		if (!s->from->row.straight || s->nreplaced > 0)
			return false;
		raw = s->from->row.raw;
	}
	p = writer_room(s->out, raw.n + text.n + empty + 1);
	if (p == NULL)
		return false;
	memcpy(p, raw.p, raw.n);
	p += raw.n;
	if (text.n > 0)
		memcpy(p, text.p, text.n);
	p += text.n;
	memset(p, '\t', empty);
	p[empty] = '\n';
	writer_took(s->out, raw.n + text.n + empty + 1);
	return true;
}

void
sheet_row(struct sheet *s)
{
	if (!usual_row(s)) {
		for (size_t i = 0; s->from != NULL && i < reader_columns(s->from->reader); i++)
			writer_slice(s->out, s->replaces[i] >= 0 ? put_field(s, s->replaces[i])
								 : row_field(&s->from->row, i));
		for (size_t i = 0; i < s->nappended; i++)
			writer_slice(s->out, put_field(s, s->appended[i]));
		writer_end_row(s->out);
	}
	begin_row(s);
}

void
sheet_free(struct sheet *s)
{
	free(s->slots);
	free(s->replaces);
	free(s->appended);
	bytes_free(&s->text);
	*s = (struct sheet){ 0 };
}
