/*
 * lookup: rows of many tables, whose columns may differ, as one table: all of them, those that meet
 * conditions, or of joints the latest standing attempt. All are text in memory.
 *
 *	struct lookup l = { .table = &table, .renames = &renames, .where = &where, .latest = true,
 *		.out = writer, .err = &err };
 *
 *	lookup_foresee(&l, header_b);
 *	if (lookup_header(&l, "a.gz", 1, header_a, keys) == 0)
 *		lookup_rows(&l, rows_a);
 *	...
 *	lookup_end(&l);
 *	lookup_free(&l);
 */
#ifndef THRUM_FIBRE_LOOKUP_H
#define THRUM_FIBRE_LOOKUP_H

#include "fibre/latest.h"
#include "table/join.h"

struct lookup {
	struct table *table; /* of the columns of all; its columns are found by latest_cols */
	const struct opt_pairs *renames, *where;
	bool latest;
	struct writer *out;
	struct err *err;

	struct join join;     /* the table's columns; none: nothing is written yet */
	struct join others;   /* columns that are foreseen */
	struct pick pick;     /* what is wanted of a row as it is read ... */
	struct pick later;    /* ... and of the latest record of a joint */
	struct latest record; /* of each joint */
};

/* Rows with these columns will come; without it, later rows can have no other columns than the first. */
void lookup_foresee(struct lookup *l, struct field header);

/*
 * Rows that come now are under this header, which may begin the table; file and pack are for messages. With
 * `latest` a condition on one of the first header's keys (a TAB between them) says which rows are
 * looked at, any other one what the latest record has to be. 0, or -1 with err set.
 */
int lookup_header(
    struct lookup *l, const char *file, uint64_t pack, struct field header, struct field keys);

/* true if a condition on this column asks the latest record: rows that do not meet it count, too */
bool lookup_is_late(const struct lookup *l, struct field column);

/* Whole rows, each ended by LF. */
void lookup_rows(struct lookup *l, struct field rows);

/* All rows have come. */
void lookup_end(struct lookup *l);

/*
 * How many values of conditions no row was met with. They are looked for once more, among all rows, by
 * lookup_header and lookup_again; lookup_unmet then gives a line of text for each.
 */
size_t lookup_missing(const struct lookup *l);
void lookup_again(struct lookup *l, struct field rows);
void lookup_unmet(const struct lookup *l, struct bytes *lines);

void lookup_free(struct lookup *l);

#endif
