/*
 * tally_row: what a row of the joints table says to a tally.
 *
 *	struct tally_reader reader = { .plan = &plan, .faulty = IDS_NONE };
 *	struct tally_row row;
 *
 *	if (tally_read(&reader, &table, &row)) {
 *		row.group = row.closure;
 *		tally_add(&tally, &row, &err);
 *	} else {
 *		tally_add_undone(&tally, &row);
 *	}
 *	tally_reader_free(&reader);
 */
#ifndef THRUM_FIBRE_TALLY_ROW_H
#define THRUM_FIBRE_TALLY_ROW_H

#include "fibre/tally.h"

/* the columns read of joints */
enum { TALLY_LOSS, TALLY_CLOSURE };
extern const struct col tally_cols[];

/* the columns read of faults */
extern const struct col tally_fault_cols[];

struct tally_reader {
	struct plan *plan; /* NULL: none */
	const char
	    *value; /* the column that is read as TALLY_LOSS, and nothing beside it; NULL: none */
	struct ids faulty;   /* joints that have failed, whatever their rows say */
	uint64_t nameless;   /* errors that name no joint */
	struct bytes fibres; /* the key of a joint without a name */
};

/* Reads a table of faults: joints with an error become faulty. 0, or -1 with the table's err set. */
int tally_read_faults(struct tally_reader *r, struct table *faults);

/*
 * The present row, all but its group; it points into the table. false: the row does not stand, and only
 * name, key and attempt were read, for tally_add_undone. A field of a wrong form is trouble of the table.
 */
bool tally_read(struct tally_reader *r, struct table *t, struct tally_row *row);

/* Frees what belongs to it, not the plan. */
void tally_reader_free(struct tally_reader *r);

#endif
