/*
 * blocks: values that are written once for the rows below them: headings between the rows, and cells
 * filled in on the first row of their block alone. For import alone.
 */
#ifndef THRUM_IMPORT_BLOCKS_H
#define THRUM_IMPORT_BLOCKS_H

#include "import/plan.h"

/* the value of each of the map's rules `section` and `fill`, from the outermost block in */
struct blocks {
	const struct map *map;
	struct block {
		enum { BLOCK_NONE, BLOCK_KNOWN, BLOCK_LOST } state;
		struct bytes text;
	} * v;
	uint64_t lost_line; /* of the row after which nobody can say what holds */
	struct bytes cut;
	char what[LINES_FAULT];
};

/* Nothing is known yet of an export. */
void blocks_begin(struct blocks *b);

/* true if the record is a heading, whose value holds from now on. */
bool blocks_heading(struct blocks *b, const struct plan *plan, const struct record *r);

/*
 * Fills the cells (the export's own and those behind them) of a record and learns from it. NULL, or
 * why it cannot be filled; *column is then the column.
 */
const char *
blocks_fill(struct blocks *b, const struct plan *plan, struct field *cells, struct field *column);

/* A row that cannot be read: it may have been a heading, or the first of a block. */
void blocks_lose(struct blocks *b, uint64_t line);

void blocks_free(struct blocks *b);

#endif
