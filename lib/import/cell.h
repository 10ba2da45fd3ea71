/*
 * cell: what a map's column holds, made from the text of an export's cells. For import alone.
 */
#ifndef THRUM_IMPORT_CELL_H
#define THRUM_IMPORT_CELL_H

#include "import/decimal.h"
#include "import/map.h"

/* room that lasts from cell to cell; to be zeroed but for the map, and freed */
struct import_cell {
	const struct map *map;
	struct bytes cut;
	struct decimal decimal;
	char what[LINES_FAULT];
};

/*
 * Appends to line what column c makes of a text, which is not empty; that may be nothing. NULL, or what
 * is wrong, which lives until the next call: the pattern does not match all of it, or it is not what
 * the column holds.
 */
const char *import_cell_make(
    struct import_cell *m, const struct map_column *c, struct field text, struct bytes *line);

void import_cell_free(struct import_cell *m);

#endif
