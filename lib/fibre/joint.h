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
 * A field that is not what it must be is trouble of the table, as with its getters.
 */
#ifndef THRUM_FIBRE_JOINT_H
#define THRUM_FIBRE_JOINT_H

#include "table/table.h"

/* what a loss is known by; several losses may be known by both, ored */
enum { JOINT_TWO_WAY = 1, JOINT_ESTIMATE = 2 };

/* which of a table's cols they are: stands, of words "yes no"; the others of COL_DB */
struct joint_cols {
	int stands, loss, loss_ab, loss_ba, est;
};

/* true unless the row is an attempt that another one replaced (stands is "no") */
bool joint_stands(struct table *t, const struct joint_cols *at);

/*
 * What the joint loses, in millionths of a decibel: its loss, else the mean of its readings from both
 * ends, rounded half away from zero, else the splicer's estimate; DB_NONE if none is known. *basis is
 * set to what it is known by, if it is. Below -1000 dB is trouble: that is some instrument's mark for
 * "no reading".
 */
int64_t joint_loss(struct table *t, const struct joint_cols *at, unsigned *basis);

#endif
