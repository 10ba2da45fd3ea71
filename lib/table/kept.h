/*
 * kept: a side table held in memory, its rows found by key.
 *
 *	static const int key[] = { LINK, -1 };
 *	struct kept links;
 *	struct field name = field_of("L-07");
 *
 *	if (kept_read(&links, cols, key, path, NULL, &err) == 0 && kept_find(&links, &name))
 *		get_db(&links.table, MAX_DB, &max_udb);
 *	kept_free(&links);
 *
 * kept_find and kept_row make a row the table's present one; the getters of table.h read it.
 */
#ifndef THRUM_TABLE_KEPT_H
#define THRUM_TABLE_KEPT_H

#include "table/ids.h"
#include "table/table.h"

struct kept {
	struct table table;
	size_t n; /* rows */
	const int *key;
	size_t nkey;
	struct ids ids;
	struct region text;
	struct field *cells; /* n rows of the table's columns */
	size_t cap_cells;
	uint64_t *lines;
	size_t cap_lines;
};

/*
 * Reads the whole table at path, or if that is NULL the compiled-in one. key lists the cols that
 * make a row's key, ended by -1. Every field of every typed column is read once, so that a wrong
 * one is found here, used or not. 0, or -1 with err set (also: two rows of one key). kept_free in
 * any case.
 */
int kept_read(struct kept *k, const struct col *cols, const int *key, const char *path,
    const struct blob *builtin, struct err *err);

/* Makes the row of this key (as many fields as the key has) the present one. false: there is none. */
bool kept_find(struct kept *k, const struct field *key_fields);

/* Makes row i, from 0 to n - 1 in the table's order, the present one. */
void kept_row(struct kept *k, size_t i);

void kept_free(struct kept *k);

#endif
