/*
 * latest: of many records, the last standing one of each joint. Holds one row of text for each.
 *
 *	struct latest latest = { 0 };
 *
 *	if (latest_open(&latest, &table, JOINT, STANDS, MADE_AT) == 0)
 *		while (next(&row) && latest_add(&latest, row, &err) == 0)
 *			;
 *	latest_write(&latest, &pick, out);
 *	latest_free(&latest);
 */
#ifndef THRUM_FIBRE_LATEST_H
#define THRUM_FIBRE_LATEST_H

#include "table/ids.h"
#include "table/pick.h"
#include "table/table.h"
#include "table/writer.h"

struct latest {
	size_t joint, stands, made_at; /* columns; made_at SIZE_MAX: there is none */
	struct ids joints;
	struct latest_row {
		char *p;
		size_t n, cap;
		int64_t made; /* seconds since 1970, or INT64_MIN */
	} * rows;
	size_t cap;
	uint64_t older; /* records that replaced one with a later made_at */
};

/*
 * Finds the columns of these cols of a table; made_at may be missing. 0, or -1 with the table's err
 * set.
 */
int latest_open(struct latest *l, struct table *t, int joint, int stands, int made_at);

/* A row, without its LF: kept if it stands. 0, or -1 with err set: `stands` is not yes, no or empty. */
int latest_add(struct latest *l, struct field row, struct err *err);

/* Writes those that pick meets, in order of the joints' first appearance. */
void latest_write(const struct latest *l, const struct pick *pick, struct writer *out);
void latest_free(struct latest *l);

#endif
