/*
 * cells: the cells of a record of RFC 4180, out of as many lines as it needs. libcsv
 * decides what a quote means; cells without quotes are split here. Nothing is allocated per record.
 */
#ifndef THRUM_IMPORT_CELLS_H
#define THRUM_IMPORT_CELLS_H

#include <stdbool.h>

#include "import/lines.h"

struct csv_parser;

/* to be zeroed, but for the first two; for each record n, replaced and copied.n again */
struct cells {
	struct lines *in;
	bool trim; /* cut blanks and TABs at both ends of every cell */
	struct field
	    *f; /* in UTF-8, without TAB, CR, LF and NUL; each one byte behind the one before */
	size_t n, cap;
	size_t replaced; /* TABs and line breaks inside cells that became blanks */
	struct bytes
	    copied; /* cells that are not as the line has them, each with a byte behind it */

	/* the rest is its own */
	struct csv_parser *parser;
	bool ended;
};

/*
 * Reads the cells of the record whose first line, *l, has been taken. On return *l is its last. false
 * with err set: a quote that is never closed, or one inside a quoted cell that is not doubled.
 */
bool cells_read(struct cells *c, struct line *l);

/* Adds a cell. */
void cells_add(struct cells *c, struct field f);

/* Copies a text to the end of `copied`, with blanks in the place of what no field may hold. */
void cells_copy(struct cells *c, struct field f);

/* without blanks, no-break blanks and TABs at both ends */
struct field cells_trimmed(struct field f);

void cells_free(struct cells *c);

#endif
