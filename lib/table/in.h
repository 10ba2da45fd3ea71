/*
 * in: one table from any number of files (the rules of thrum-tables(5)).
 *
 *	struct err err = { "" };
 *	struct tin *in = tin_open(files, n, TIN_SAME_COLUMNS, &err);
 *	int loss = in != NULL ? tin_column(in, field_of("loss_db")) : -1;
 *	struct row row;
 *
 *	while (in != NULL && tin_next(in, &row))
 *		use(row_field(&row, (size_t)loss));
 *	if (tin_close(in) != 0)
 *		complain(err.text);
 *
 * The columns are those of all the headers, in order of first appearance; every row has its fields
 * in that order, whatever the order in its own file, and an empty field where its file lacks the
 * column. Columns and fields are counted from 0 here and from 1 for people; lines from 1, the
 * header's included. Nothing is allocated per row.
 */
#ifndef THRUM_TABLE_IN_H
#define THRUM_TABLE_IN_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"

enum {
	TIN_SAME_COLUMNS = 1, /* all files must have the same set of columns */
	TIN_KEEP_MISSHAPEN =
	    2, /* rows of the wrong shape are handed out with a fault, not refused */
};

enum row_fault { ROW_FINE, ROW_SHORT, ROW_LONG, ROW_BLANK, ROW_HEADER };

/* what a row is made of lives until the next call of tin_next; row_field gets at its fields */
struct row {
	size_t nf;        /* how many fields the file's row really has */
	size_t due;       /* how many its file's header has */
	struct field raw; /* the line without its end */
	bool straight;    /* raw is the fields of all columns in their order */
	const char *file; /* "-" for standard input */
	uint64_t line;
	enum row_fault fault; /* ROW_FINE unless TIN_KEEP_MISSHAPEN */

	/*
	 * row_field's own: where in its file's order the columns' fields are (NULL: in the same), and
	 * the fields in that order (NULL: they lie between the marks, counted from `base`)
	 */
	const int *from;
	const struct field *own;
	const char *base;
	const uint32_t *marks;
};

/* The i-th field in its file's own order, i below nf; of a long row the extra ones from `due` on. */
static inline struct field
row_own(const struct row *row, size_t i)
{
	const char *start = row->raw.p;

	if (row->own != NULL)
		return row->own[i];
	if (i > 0)
		start = row->base + row->marks[i - 1] + 1;
	return (struct field){ start, (size_t)(row->base + row->marks[i] - start) };
}

/* The row's field of this column; empty if its file lacks the column, or the row the field. */
static inline struct field
row_field(const struct row *row, size_t column)
{
	size_t own = row->from != NULL ? (size_t)row->from[column] : column; /* -1: beyond all */

	return own < row->nf ? row_own(row, own) : (struct field){ "", 0 };
}

struct tin;

/*
 * Opens all files and reads all their headers before it returns; n 0 or the name "-" is standard
 * input (at most once). NULL with err set: a file that cannot be read, no header, a doubled column
 * name, unlike columns (TIN_SAME_COLUMNS), UTF-16, gzip, NUL bytes, CR line ends. err is kept and
 * filled by what goes wrong later; it must outlive the tin.
 */
struct tin *tin_open(char *const files[], size_t n, unsigned flags, struct err *err);

/*
 * The same, reading head_block bytes at a time for the headers and block bytes for the rows, both at
 * least 1. For tests: the answer does not depend on them.
 */
struct tin *tin_open_block(char *const files[], size_t n, unsigned flags, size_t head_block,
    size_t block, struct err *err);

/* The same from memory, e.g. a compiled-in table; text must outlive the tin. */
struct tin *tin_memory(const char *name, struct field text, struct err *err);

/* How many columns there are, and the name of one; the name lives as long as the tin. */
size_t tin_columns(const struct tin *t);
struct field tin_name(const struct tin *t, size_t column);

/* The first file's header line, without its end; lives as long as the tin. */
struct field tin_header(const struct tin *t);

/* The column of this name, or -1. */
int tin_column(const struct tin *t, struct field name);

/*
 * The same, but it must be there, in every file: else -1 with err set, naming the file, the nearest
 * name and what else the header looks like (quoted, another delimiter, a preamble ...).
 */
int tin_need(const struct tin *t, struct field name);

/* At least one of n columns must be there, in some file: 0, or -1 with err set likewise. */
int tin_need_any(const struct tin *t, const struct field *names, size_t n);

/*
 * For who takes any columns: -1 with err set if a header shows that its file is an export of another
 * kind (other delimiters, quotes), else 0.
 */
int tin_refuse_exports(const struct tin *t);

/* Trouble with the first file's header as a whole ("FILE:1: what"). Returns -1. */
int tin_fail_header(const struct tin *t, const char *what);

/* Called with arg before any read that may have to wait for somebody. */
void tin_on_wait(struct tin *t, void (*wait)(void *arg), void *arg);

/*
 * The next row. false at the end or at trouble (err is set then), and from then on. Trouble is a
 * read error, a row of the wrong shape, a NUL byte, a CR inside a line.
 */
bool tin_next(struct tin *t, struct row *row);

/*
 * Sets err to "FILE:LINE: column 'NAME': WHAT: 'VALUE'"; name and value may be NULL or { NULL, 0 }.
 * tin_next says false from now on.
 */
int tin_fail(
    struct tin *t, const struct row *row, const char *name, const char *what, struct field value);

/* Closes all files. 0, or -1 if there was trouble. NULL is fine and is trouble. */
int tin_close(struct tin *t);

#endif
