/*
 * sides: rows that are one record together, one a side or a direction, joined by their key. For import
 * alone. All rows are held until every export is read: memory grows with them.
 */
#ifndef THRUM_IMPORT_SIDES_H
#define THRUM_IMPORT_SIDES_H

#include "import/plan.h"
#include "table/ids.h"

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

#endif
