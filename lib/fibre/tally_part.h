/*
 * tally_part: what a tally has counted, as a table, and such tables summed up to what one tally of all
 * their joints would have said.
 *
 *	tally.mode = TALLY_PARTIAL;		tally.mode = TALLY_MERGE;
 *	tally_add(&tally, &row, &err);		while (table_next(&in))
 *	...						tally_part_read(&tally, &in, group, how);
 *	tally_part_write(&tally, out, 1, how);if (tally_part_end(&tally, tables, &err) == 0)
 *							tally_end(&tally);
 *
 * A joint of a group is told apart by what it is judged by alone: joints that agree in it, at a wavelength,
 * are one row with their number. The names of all joints go along, so that one in two tables is found.
 */
#ifndef THRUM_FIBRE_TALLY_PART_H
#define THRUM_FIBRE_TALLY_PART_H

#include "fibre/tally.h"
#include "table/sheet.h"

/* the columns behind those of the group, as they are read and written */
extern const struct col tally_part_cols[], tally_part_made[];

/*
 * In place of tally_end. columns: how many tell a group. how: what both sides must do alike, for tally_part_read
 * to compare.
 */
void tally_part_write(struct tally *t, struct sheet *out, size_t columns, struct field how);

/*
 * The present row, of this group. -1 with the table's err set: it is not as tally_part_write makes it, its
 * joint is in a table before, rows are missing, it was made otherwise than `how`.
 */
int tally_part_read(struct tally *t, struct table *in, struct field group, struct field how);

/* After the last row of so many tables. 0, or -1 with err set: one was cut. */
int tally_part_end(const struct tally *t, size_t tables, struct err *err);

#endif
