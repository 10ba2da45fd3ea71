/*
 * pick: rows chosen out of many that stand as text in memory, by what some of their fields are.
 *
 *	struct pick pick = { 0 };
 *	struct field row;
 *
 *	pick_add(&pick, closure, field_of("C-07"));
 *	while (pick_next(&pick, &rows, &row))
 *		use(row);
 *	pick_free(&pick);
 */
#ifndef THRUM_TABLE_PICK_H
#define THRUM_TABLE_PICK_H

#include <stdbool.h>
#include <stddef.h>

#include "base/bytes.h"
#include "base/err.h"

/* conditions, all of which a row has to meet; all zero: none */
struct pick {
	struct pick_test {
		size_t column;
		struct field value;
	} * v;
	size_t n, cap;
};

/* One more condition: this field of the row (from 0) is this value, which must outlive pick. */
void pick_add(struct pick *pick, size_t column, struct field value);
void pick_free(struct pick *pick);

/*
 * The next row, without its LF, that meets all conditions. *rows is whole rows, each ended by LF,
 * and moves on behind it. false: there is none left.
 */
bool pick_next(const struct pick *pick, struct field *rows, struct field *row);

/* true if this row meets them all */
bool pick_meets(const struct pick *pick, struct field row);

/* The field of a row by its place, from 0; empty if the row has no such field. */
struct field pick_field(struct field row, size_t column);

/*
 * 0 if a header row is the same as the first; else -1 with err set: how it differs, to be put behind
 * its name ("lacks a column of the first: 'NAME'").
 */
int pick_same(struct field first, struct field header, struct err *err);

#endif
