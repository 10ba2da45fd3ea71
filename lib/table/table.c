#include "table/table.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/num.h"
#include "base/spelling.h"
#include "table/hold.h"

size_t
cols_count(const struct col *cols)
{
	size_t n = 0;

	while (cols[n].name != NULL)
		n++;
	return n;
}

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

/*
 * A column that no table of the suite has, but that is nearly one this table lacks, is a slip of the
 * hand: what stands in it would be passed over without a word.
 */
static int
check_spelling(const struct table *t)
{
	struct field *absent = mem_zeroed(t->ncols + 1, sizeof *absent);
	size_t n = 0, near = SIZE_MAX, c;

	for (c = 0; c < t->ncols; c++)
		if (t->cols[c].role != COL_OUT && t->at[c] < 0)
			absent[n++] = field_of(t->cols[c].name);
	for (c = 0; c < reader_columns(t->reader) && n > 0 && near == SIZE_MAX; c++) {
		struct field name = reader_name(t->reader, c), known = { NULL, 0 };

		known = (struct field){ (const char *)columns_tsv.p, columns_tsv.n };
		if (field_among(known, '\n', name) == SIZE_MAX)
			near = spelling_best(name, absent, n);
		if (near != SIZE_MAX)
			reader_fail_column(t->reader, name, absent[near]);
	}
	free(absent);
	return near == SIZE_MAX ? 0 : -1;
}

int
table_bind(struct table *t, const struct col *cols, const struct opt_pairs *renames)
{
	t->cols = cols;
	t->ncols = cols_count(cols);
	t->at = mem_zeroed(t->ncols, sizeof *t->at);
	t->words = mem_zeroed(t->ncols, sizeof(struct field *));
	for (size_t c = 0; c < t->ncols; c++)
		t->words[c] = words_of(&cols[c]);
	return check_renames(t, renames) == 0 ? find_columns(t, renames) : -1;
}

int
table_open_reader(struct table *t, const struct col *cols, struct reader *reader,
    const struct opt_pairs *renames, struct err *err)
{
	*t = (struct table){ .reader = reader, .err = err };
	if (reader != NULL && (cols == NULL || table_bind(t, cols, renames) == 0))
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
	if (table_open(t, cols, files, 1, 0, NULL, err) != 0)
		return -1;
	if (check_spelling(t) == 0)
		return 0;
	table_close(t);
	return -1;
}

bool
table_next(struct table *t)
{
	if (t->held == NULL)
		return t->reader != NULL && reader_next(t->reader, &t->row);
	if (t->next >= table_rows(t) || err_is_set(t->err))
		return false;
	table_at(t, t->next);
	return true;
}

bool
table_has(const struct table *t, int col)
{
	return t->reader != NULL && t->at[col] >= 0;
}

struct field
table_name(const struct table *t, int col)
{
	return table_has(t, col) ? reader_name(t->reader, (size_t)t->at[col])
				 : field_of(t->cols[col].name);
}

struct field
table_field(const struct table *t, int col)
{
	return t->at[col] < 0 ? field_of("") : row_field(&t->row, (size_t)t->at[col]);
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
	int status = t->reader != NULL ? reader_close(t->reader) : 0;

	for (size_t c = 0; t->words != NULL && c < t->ncols; c++)
		free(t->words[c]);
	free(t->words);
	free(t->at);
	hold_free(t->held);
	*t = (struct table){ .err = t->err };
	return status;
}
