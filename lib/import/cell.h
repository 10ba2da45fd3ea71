/*
 * cell: what a map's column holds, made from the text of an export's cells. For import alone.
 */
#ifndef THRUM_IMPORT_CELL_H
#define THRUM_IMPORT_CELL_H

#include "import/decimal.h"
#include "import/map.h"

/* room that lasts from cell to cell; to be zeroed but for the map, and freed */
struct cell_maker {
	const struct map *map;
	struct bytes cut;
	struct decimal decimal;
	/* of each column that holds a night: its last time, and how many midnights have passed */
	struct cell_night {
		bool begun;
		int64_t day, second, midnights;
	} * nights;
	char what[LINES_FAULT];
};

/* Forgets the night of the export before. */
void cell_begin_export(struct cell_maker *m);

/*
 * Appends to line what column c makes of a text, which is not empty; that may be nothing. NULL, or what
 * is wrong, which lives until the next call: the pattern does not match all of it, or it is not what
 * the column holds.
 */
const char *
cell_make(struct cell_maker *m, const struct map_column *c, struct field text, struct bytes *line);

/* What a pattern cuts out of the text: its groups, joined by blanks. false: it does not match it all. */
bool cell_cut(struct pattern *pattern, struct field *text, struct bytes *room);

void cell_free(struct cell_maker *m);

#endif
