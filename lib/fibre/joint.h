/*
 * joint: what a row of the joints table says of its joint.
 *
 *	static const struct joint_cols at = { STANDS, LOSS, LOSS_AB, LOSS_BA, EST };
 *	unsigned basis = 0;
 *	int64_t loss_udb;
 *
 *	if (joint_stands(&p.in, &at))
 *		loss_udb = joint_loss(&p.in, &at, &basis);
 *
 * A field of a wrong form is trouble of the table, as with its getters.
 */
#ifndef THRUM_FIBRE_JOINT_H
#define THRUM_FIBRE_JOINT_H

#include "table/table.h"

/* how a loss is known; of several losses the values are ored */
enum { JOINT_TWO_WAY = 1, JOINT_ESTIMATE = 2 };

/* which of a table's cols they are: stands, of words "yes no"; the others of COL_DB */
struct joint_cols {
	int stands, loss, loss_ab, loss_ba, est;
};

/* true unless the row is an attempt that another one replaced (stands is "no") */
bool joint_stands(struct table *t, const struct joint_cols *at);

/* no joint loses more, and no reading is further below zero: what is beyond is not a loss */
enum { JOINT_MOST_DB = 1000 };

/*
 * The field of column col in millionths: true, *udb set. false if it is empty or, after trouble of
 * the table ("below -1000", "above 1000"), no number from -most_db to most_db.
 */
bool joint_number(struct table *t, int col, int64_t most_db, int64_t *udb);

/*
 * What the joint loses, in millionths of a decibel: its loss, else the mean of its readings from both
 * ends, rounded half away from zero, else the splicer's estimate; DB_NONE if none is known. *basis is
 * set to how it is known, 0 if it is not. Beyond +-1000 dB is trouble: some instruments mean "no
 * reading" by such a number.
 */
int64_t joint_loss(struct table *t, const struct joint_cols *at, unsigned *basis);

#endif
