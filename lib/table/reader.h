/*
 * reader: one table from any number of files (the rules of thrum-tables(5)).
 *
 *	struct err err = { "" };
 *	struct reader *in = reader_open(files, n, READER_SAME_COLUMNS, &err);
 *	int loss = in != NULL ? reader_column(in, field_of("loss_db")) : -1;
 *	struct row row;
 *
 *	while (in != NULL && reader_next(in, &row))
 *		use(row_field(&row, (size_t)loss));
 *	if (reader_close(in) != 0)
 *		complain(err.text);
 *
 * The columns are those of all the headers, in order of first appearance; every row has its fields
 * in that order, whatever the order in its own file, and an empty field where its file lacks the
 * column. Columns and fields are counted from 0 here and from 1 for people; lines from 1, the
 * header's included. Nothing is allocated per row.
 */
#ifndef THRUM_TABLE_READER_H
#define THRUM_TABLE_READER_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"

enum {
	READER_SAME_COLUMNS = 1, /* all files must have the same set of columns */
	READER_KEEP_MISSHAPEN =
	    2, /* rows of the wrong shape are handed out with a fault, not refused */
};

enum row_fault { ROW_FINE, ROW_SHORT, ROW_LONG, ROW_BLANK, ROW_HEADER };

/* what a row is made of lives until the next call of reader_next; row_field gets at its fields */
struct row {
	size_t nf;        /* how many fields the file's row really has */
	size_t due;       /* how many its file's header has */
	struct field raw; /* the line without its end */
	bool straight;    /* raw is the fields of all columns in their order */
	const char *file; /* "-" for standard input */
	uint64_t line;
	enum row_fault fault; /* ROW_FINE unless READER_KEEP_MISSHAPEN */

	/*
	 * for row_field alone: where in its file's order the columns' fields are (NULL: in the same), and
	 * the fields in that order (NULL: they lie between the marks, counted from `base`)
	 */
	const int *from;
	const struct field *fields;
	const char *base;
	const uint32_t *marks;
};

/* The i-th field in its file's own order, i below nf; of a long row the extra ones from `due` on. */
static inline struct field
row_file_field(const struct row *row, size_t i)
{
	const char *start = row->raw.p;

	if (row->fields != NULL)
		return row->fields[i];
	if (i > 0)
		start = row->base + row->marks[i - 1] + 1;
	return (struct field){ start, (size_t)(row->base + row->marks[i] - start) };
}

/* The row's field of this column; empty if its file lacks the column, or the row the field. */
static inline struct field
row_field(const struct row *row, size_t column)
{
	size_t at = row->from != NULL ? (size_t)row->from[column] : column; /* -1: beyond all */

	return at < row->nf ? row_file_field(row, at) : (struct field){ "", 0 };
}

struct reader;

/*
 * Opens all files and reads all their headers before it returns; n 0 or the name "-" is standard
 * input (at most once). NULL with err set: a file that cannot be read, no header, a doubled column
 * name, unlike columns (READER_SAME_COLUMNS), UTF-16, gzip, NUL bytes, CR line ends. err is kept and
 * filled by what goes wrong later; it must outlive the reader.
 */
struct reader *reader_open(char *const files[], size_t n, unsigned flags, struct err *err);

/*
 * The same, reading head_block bytes at a time for the headers and block bytes for the rows, both at
 * least 1. For tests: the answer does not depend on them.
 */
struct reader *reader_open_block(char *const files[], size_t n, unsigned flags, size_t head_block,
    size_t block, struct err *err);

/* The same from memory, e.g. a compiled-in table; text must outlive the reader. */
struct reader *reader_memory(const char *name, struct field text, struct err *err);

/* How many columns there are, and the name of one; the name lives as long as the reader. */
size_t reader_columns(const struct reader *t);
struct field reader_name(const struct reader *t, size_t column);

/* The first file's header line, without its end; lives as long as the reader. */
struct field reader_header(const struct reader *t);

/* The column of this name, or -1. */
int reader_column(const struct reader *t, struct field name);

/*
 * The same, but it must be there, in every file: else -1 with err set, naming the file, the nearest
 * name and what else the header looks like (quoted, another delimiter, a preamble ...).
 */
int reader_need(const struct reader *t, struct field name);

/* At least one of n columns must be there, in some file: 0, or -1 with err set likewise. */
int reader_need_any(const struct reader *t, const struct field *names, size_t n);

/*
 * For programs that accept any columns: -1 with err set if a header shows that its file is an export of another
 * kind (other delimiters, quotes), else 0.
 */
int reader_refuse_exports(const struct reader *t);

/* Trouble with the first file's header as a whole ("FILE:1: what"). Returns -1. */
int reader_fail_header(const struct reader *t, const char *what);

/* Trouble with a column's name that was probably meant to be another one. Returns -1. */
int reader_fail_column(const struct reader *t, struct field name, struct field meant);

/* The name of the first file. */
const char *reader_file(const struct reader *t);

/*
 * Files whose last line has no end, as far as they have been read: perhaps they were cut, in a
 * number. Starts with *next 0; the name of the next such file with the line, or NULL. reader may be NULL.
 */
const char *reader_cut(const struct reader *t, size_t *next, uint64_t *line);

/*
 * The i-th file's name, its header line, and its first line, as far as it has been read, that ends in LF
 * where the header ends in CR LF, or the other way round; 0: none. NULL: there are not so many files.
 */
const char *reader_source(const struct reader *t, size_t i, struct field *header, uint64_t *mixed);

#define READER_CUT "the last line has no end: is it whole?"

/* Called with arg before any read that may have to wait. */
void reader_on_wait(struct reader *t, void (*wait)(void *arg), void *arg);

/*
 * The next row. false at the end or at trouble (err is set then), and from then on. Trouble is a
 * read error, a row of the wrong shape, a NUL byte, a CR inside a line.
 */
bool reader_next(struct reader *t, struct row *row);

/*
 * Sets err to "FILE:LINE: column 'NAME': WHAT: 'VALUE'"; name and value may be NULL or { NULL, 0 }.
 * reader_next says false from now on.
 */
int reader_fail(struct reader *t, const struct row *row, const char *name, const char *what,
    struct field value);

/* Closes all files. 0, or -1 if there was trouble. NULL is fine and is trouble. */
int reader_close(struct reader *t);

#endif
