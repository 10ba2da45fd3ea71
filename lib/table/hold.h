/*
 * hold: a whole table in memory, as rows of text, as columns of values, or both.
 *
 *	static const int key[] = { LINK, -1 };
 *
 *	if (table_open_side(&t, cols, path, NULL, &err) == 0 &&
 *	    table_hold(&t, HOLD_ROWS, key, true, NULL) == 0 && table_find(&t, &name))
 *		do
 *			get_db(&t, LOSS, &loss_udb);
 *		while (table_find_next(&t));
 *
 * A held table still has one present row, which the getters of table.h read. A copy of its struct is a
 * second place in the same table: two rows can be looked at at once. Only the original is closed.
 *
 * Rows are counted from 0, in the order of files and lines. Memory: a row of text takes its text and
 * 16 bytes a column; a value takes 8 bytes, a text 4 and a word 1; each row 8 bytes for its line, and
 * with a key 4 bytes and the key's text.
 */
#ifndef THRUM_TABLE_HOLD_H
#define THRUM_TABLE_HOLD_H

#include "table/ids.h"
#include "table/table.h"

enum { HOLD_ROWS = 1, HOLD_COLUMNS = 2 };

/* what stands in a column of values where the field is empty, or the table lacks the column */
#define HOLD_NO_WHOLE INT64_MIN  /* COL_WHOLE, COL_DB (that is DB_NONE) and COL_TIME */
#define HOLD_NO_TEXT  UINT32_MAX /* COL_TEXT */
enum { HOLD_NO_WORD = -1 };      /* COL_WORD; of COL_NUM it is NAN */

/*
 * Reads the rest of the table. Every field of every typed column is read once, so that a wrong one is
 * found here, used or not. `key` lists the cols that make a row's key, ended by -1; NULL: none. Without
 * `many` two rows of one key are trouble. `texts` gives the texts of columns their numbers (needed with
 * HOLD_COLUMNS, else NULL); tables that share it can be compared by number. 0, or -1 with the table's
 * err set.
 */
int table_hold(struct table *t, unsigned what, const int *key, bool many, struct ids *texts);

/* How many rows are held; 0 if none are. */
size_t table_rows(const struct table *t);

/*
 * Makes row i the present one. Of a table held as columns alone only its place is known: getters see
 * an empty row, table_fail names file, line and column.
 */
void table_at(struct table *t, size_t i);

/* The number of the present row. */
size_t table_place(const struct table *t);

/* Makes the first row of this key (as many fields as the key has) the present one. false: none. */
bool table_find(struct table *t, const struct field *key);

/* Makes the next row of the present row's key the present one. false: that was the last. */
bool table_find_next(struct table *t);

/* --- columns of values, one for each row; NULL for a table without rows ------------------------ */

const double *table_nums(const struct table *t, int col);    /* of COL_NUM */
const int64_t *table_wholes(const struct table *t, int col); /* of COL_WHOLE; COL_DB in millionths;
								   COL_TIME in microseconds since 1970 */
const uint32_t *table_texts(const struct table *t, int col); /* of COL_TEXT: numbers of `texts` */
const int8_t *table_words(const struct table *t, int col); /* of COL_WORD: place among its words */

/* Frees what is held; table_close calls it. */
void hold_free(struct held *h);

#endif
