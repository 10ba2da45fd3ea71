/*
 * latest: of the records of many nights, the latest standing attempt at each joint, with a row for
 * each wavelength that it was read at.
 *
 *	struct latest latest = { 0 };
 *
 *	latest_pack(&latest);
 *	if (latest_open(&latest, &table) == 0)
 *		while (next(&row) && latest_add(&latest, row, &err) == 0)
 *			;
 *	latest_write(&latest, &pick, out);
 *	latest_free(&latest);
 *
 * A record is the rows of one joint and attempt that stand in one pack and agree in made_at and
 * shift. The newest record of a joint and attempt replaces its older ones, whatever their
 * wavelengths; within a record the last row of a wavelength counts, and a row without wavelength
 * yields to rows with one. An attempt that was made later and does not stand cut the joint: it is
 * written behind the one that stands, so that nobody takes that for whole. What is newer is told by
 * made_at, where it is the same or not known by the order in which rows come. All rows of the newest
 * records are held in memory.
 */
#ifndef THRUM_FIBRE_LATEST_H
#define THRUM_FIBRE_LATEST_H

#include "base/when.h"
#include "table/ids.h"
#include "table/pick.h"
#include "table/table.h"
#include "table/writer.h"

/* latest_cols; all but the joint's may be missing */
enum {
	LATEST_JOINT,
	LATEST_ATTEMPT,
	LATEST_STANDS,
	LATEST_MADE_AT,
	LATEST_SHIFT,
	LATEST_LOSS_NM,
	LATEST_COLUMNS
};

extern const struct col latest_cols[];

struct latest {
	size_t at[LATEST_COLUMNS]; /* SIZE_MAX: there is none */
	uint64_t pack, rows;       /* counted */
	struct ids joints, attempts;
	struct latest_record {
		size_t joint;
		uint64_t pack, order; /* which pack it is in, and its first row */
		struct when made;
		bool timed, stands; /* timed: made is known */
		struct bytes shift;
		size_t first, n; /* of its rows, and how many */
	} * records;             /* the newest of each attempt */
	size_t cap;
	struct latest_row {
		struct bytes text; /* without its LF */
		size_t next;       /* of the same record; SIZE_MAX: none */
	} * texts;
	size_t ntexts, cap_texts;
};

/* Finds the columns of a table, whose cols are latest_cols. 0, or -1 with the table's err set: it has no joints. */
int latest_open(struct latest *l, struct table *t);

/* Rows that come now are another pack's. */
void latest_pack(struct latest *l);

/* A row, without its LF. 0, or -1 with err set: `stands` is not yes, no or empty (which is yes). */
int latest_add(struct latest *l, struct field row, struct err *err);

/* Writes the rows that pick meets, in order of the joints' first appearance. */
void latest_write(struct latest *l, struct pick *pick, struct writer *out);
void latest_free(struct latest *l);

#endif
