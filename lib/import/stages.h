/*
 * stages: what becomes of a record on its way to a row, a file each; for import alone.
 */
#ifndef THRUM_IMPORT_STAGES_H
#define THRUM_IMPORT_STAGES_H

#include "import/decimal.h"
#include "import/plan.h"
#include "table/ids.h"

/* --- blocks: values written once, in a heading or on the first row, for the rows below ----------- */

/* the value of each of the map's rules `section` and `fill`, from the outermost block in */
struct blocks {
	const struct map *map;
	struct block {
		enum { BLOCK_NONE, BLOCK_KNOWN, BLOCK_LOST } state;
		struct bytes text;
	} * v;
	uint64_t
	    lost_line; /* of the row that could not be read, and after which the values are not known */
	struct bytes cut;
	char what[LINES_FAULT];
};

/* Begins an export: no value is known. */
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

/* --- sides: rows that are one record together, joined by their key; all are held till the end ------ */

/* a row that waits for the others of its key */
struct side_row {
	const char *file;
	uint64_t line;
	int side;
	struct field raw;
	struct field *cells; /* one for each of the map's sources */
	struct side_row *next;
};

/* to be zeroed, but for the first */
struct sides {
	const struct map *map;
	struct ids keys;
	struct side_row **first; /* of each key */
	size_t cap;
	struct field *key, *made;
	struct region text;
	char what[LINES_FAULT];
};

/*
 * Keeps a row, its cells as a plan has them. NULL, or why it cannot be one of a record: no side, a side
 * that its key has already, nothing in its key.
 */
const char *sides_add(
    struct sides *s, const struct plan *plan, const struct record *r, const struct field *cells);

/*
 * The cells of the record with key i, to *cells. NULL, or why its rows do not go together; *column is
 * then the source at fault.
 */
const char *sides_join(struct sides *s, size_t i, const struct field **cells, struct field *column);

void sides_free(struct sides *s);

/* --- cell: what a column of the map holds, made from the text of cells ----------------------------- */

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
