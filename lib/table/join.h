/*
 * join: rows of tables with unlike columns as the rows of one table, which has the columns of all of
 * them in order of first appearance. All are text in memory.
 *
 *	struct join join = { 0 };
 *
 *	join_add(&join, header_a);
 *	join_add(&join, header_b);
 *	if (join_from(&join, header_b, &err) == 0)
 *		write(join_rows(&join, rows_b));
 *	join_free(&join);
 */
#ifndef THRUM_TABLE_JOIN_H
#define THRUM_TABLE_JOIN_H

#include "base/bytes.h"
#include "base/err.h"

/* all zero: no columns yet */
struct join {
	struct bytes header; /* the columns' names, a TAB between them, and LF behind the last */
	struct bytes from;   /* the present header; empty: the same */
	size_t *places;      /* for each column its place in that; SIZE_MAX: it has none */
	size_t cap;
	struct bytes rows;
};

/* Adds those columns of a header, without its LF, that are not there yet. */
void join_add(struct join *join, struct field header);

/* The names without the LF; { NULL, 0 } if there are none. They live until join_add. */
struct field join_names(const struct join *join);

/*
 * Rows that come now are under this header. 0, or -1 with err set, to be put behind its name ("has a
 * column that the first has not: 'NAME'").
 */
int join_from(struct join *join, struct field header, struct err *err);

/* Whole rows, each ended by LF, in the table's columns; they live until the next call. */
struct field join_rows(struct join *join, struct field rows);

void join_free(struct join *join);

#endif
