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
#include <stdint.h>

#include "base/bytes.h"

/* conditions; of those on one column a row has to meet one, of every column; all zero: none */
struct pick {
	struct pick_test {
		size_t column;
		struct field value;
		uint64_t rows;        /* that met all, with this value */
		bool exists;          /* pick_look has seen the value */
		struct bytes nearest; /* of those pick_look has seen; empty: none is near */
	} * v;
	size_t n, cap;
};

/* One more condition: this field of the row (from 0) is this value, which must outlive pick. */
void pick_add(struct pick *pick, size_t column, struct field value);
void pick_free(struct pick *pick);

/*
 * The next row, without its LF, that meets the conditions. *rows is whole rows, each ended by LF,
 * and moves on behind it. false: there is none left.
 */
bool pick_next(struct pick *pick, struct field *rows, struct field *row);

/* true if this row meets them */
bool pick_meets(struct pick *pick, struct field row);

/* How many values no row was met with. */
size_t pick_unmet(const struct pick *pick);

/* Looks in whole rows for the values that no row was met with, and for what is near them. */
void pick_look(struct pick *pick, struct field rows);

/* The field of a row by its place, from 0; empty if the row has no such field. */
struct field pick_field(struct field row, size_t column);

#endif
