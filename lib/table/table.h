/*
 * table: a table whose columns are described by data, read by name and type. What a manual page says
 * under COLUMNS is one array of struct col here. hold.h keeps a table in memory, sheet.h writes one.
 *
 *	enum { LINK, MAX_DB };
 *	static const struct col cols[] = {
 *		[LINK]	 = { "link", COL_NEED, COL_TEXT },
 *		[MAX_DB] = { "max_db", COL_MAY, COL_DB, 0, 100 },
 *		{ NULL }
 *	};
 *	struct table links;
 *	int64_t max_udb;
 *
 *	if (table_open_side(&links, cols, path, NULL, &err) == 0)
 *		while (table_next(&links))
 *			if (get_db(&links, MAX_DB, &max_udb))
 *				...
 *	if (table_close(&links) != 0)
 *		complain(err.text);
 *
 * A field that is not what its column must hold is trouble: err is set, with file, line, column and
 * value, and table_next says false from then on. An empty field means "not known".
 */
#ifndef THRUM_TABLE_TABLE_H
#define THRUM_TABLE_TABLE_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/opt.h"
#include "base/when.h"
#include "table/reader.h"

enum col_role {
	COL_NEED,   /* the column must be there; its fields may be empty */
	COL_MAY,    /* read if it is there */
	COL_ONE_OF, /* at least one column of the same group must be there */
	COL_OUT,    /* written */
};

enum col_type { COL_TEXT, COL_NUM, COL_WHOLE, COL_DB, COL_TIME, COL_WORD };

struct col {
	const char *name;
	enum col_role role;
	enum col_type type;
	double lo, hi;     /* range of a number, both ends allowed; both 0: any */
	int places;        /* decimals when written */
	int group;         /* of COL_ONE_OF */
	const char *words; /* of COL_WORD, separated by blanks */
};

struct table {
	const struct col *cols; /* ended by one without a name */
	size_t ncols;
	int *at;              /* for each of cols its column in reader, or -1 */
	struct field **words; /* for each of COL_WORD its words, ended by an empty one, else NULL */
	struct reader *reader;
	struct row row;    /* the present one */
	struct held *held; /* hold.h; NULL: rows come from the files, one after the other */
	size_t next;       /* of a held table: the row table_next gives next */
	struct err *err;
};

/* How many cols there are before the one without a name. */
size_t cols_count(const struct col *cols);

/* The names of all columns of the suite's tables (thrum-tables(5)), one a line. */
extern const struct blob columns_tsv;

/*
 * Opens files as reader_open does and finds the columns; renames (may be NULL) are pairs NAME=COLUMN:
 * COLUMN is read where cols say NAME. 0, or -1 with err set (also: a rename of no column of cols).
 */
int table_open(struct table *t, const struct col *cols, char *const files[], size_t n,
    unsigned flags, const struct opt_pairs *renames, struct err *err);

/* The same for a table already opened, e.g. by reader_memory; it now belongs to t. reader may be NULL. */
int table_open_reader(struct table *t, const struct col *cols, struct reader *reader,
    const struct opt_pairs *renames, struct err *err);

/*
 * Finds the columns of a table whose cols were not known when its files were opened; 0, or -1 as
 * table_open.
 */
int table_bind(struct table *t, const struct col *cols, const struct opt_pairs *renames);

/*
 * A side table: the file at path, or if that is NULL the compiled-in one. A column that no table of the
 * suite has, but that is nearly one of cols that the file lacks, is trouble ("is it max_db?").
 */
int table_open_side(struct table *t, const struct col *cols, const char *path,
    const struct blob *builtin, struct err *err);

/* Moves on to the next row. false at the end, at trouble, and for a table that is all zero. */
bool table_next(struct table *t);

/* true if the table has the column; a table that is all zero has none */
bool table_has(const struct table *t, int col);

/* What the files call a column; the name in cols if they lack it. */
struct field table_name(const struct table *t, int col);

/* The present row's field as it stands; empty if the table lacks the column. */
struct field table_field(const struct table *t, int col);

/*
 * The field of the present row as its type: true and *x if there is a value; false with *x as it
 * was if the column is not there or the field is empty, and at trouble. What *x points into lives
 * until the next row.
 */
static inline bool get_text(const struct table *t, int col, struct field *x);
bool get_num(struct table *t, int col, double *x);
bool get_whole(struct table *t, int col, int64_t *x);
bool get_db(struct table *t, int col, int64_t *x_udb);
bool get_time(struct table *t, int col, struct when *x);
bool get_word(struct table *t, int col, int *x); /* its place among the column's words, from 0 */

static inline bool
get_text(const struct table *t, int col, struct field *x)
{
	struct field f;

	if (t->at[col] < 0)
		return false;
	f = row_field(&t->row, (size_t)t->at[col]);
	if (f.n == 0)
		return false;
	*x = f;
	return true;
}

/*
 * The columns (of t->reader) that an option's list names, at most `most`. How many there are, or -1 with
 * err set: a column that is not there, one named twice, too many.
 */
int table_list(
    struct table *t, const char *option, const struct opt_list *list, size_t most, size_t *columns);

/* The present row's fields of n columns joined by TAB, if there are several in `joined`. */
struct field
table_key(const struct table *t, const size_t *columns, size_t n, struct bytes *joined);

/*
 * The present row as one line, its fields in the order of the table's columns; in `joined` if they do
 * not stand so in the file.
 */
struct field table_line(const struct table *t, struct bytes *joined);

/* Trouble found by the program itself with this field of the present row. Returns -1. */
int table_fail(struct table *t, int col, const char *what);

/* Closes it. 0, or -1 if there was trouble. A table that is all zero is fine. */
int table_close(struct table *t);

#endif
