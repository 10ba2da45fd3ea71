/*
 * joint: what a row of the joints table says of its joint.
 *
 *	static const struct joint_cols at = { STANDS, LOSS, LOSS_AB, LOSS_BA };
 *	enum joint_basis basis;
 *	int64_t loss_udb;
 *
 *	if (joint_stands(&t, &at))
 *		loss_udb = joint_loss(&t, &at, &basis);
 *
 * A field of a wrong form is trouble of the table, as with its getters.
 */
#ifndef THRUM_FIBRE_JOINT_H
#define THRUM_FIBRE_JOINT_H

#include "base/db.h"
#include "table/table.h"

/* how a loss is known, best first; the first three in the order of JOINT_BASES */
enum joint_basis { JOINT_TWO_WAY, JOINT_ONE_WAY, JOINT_ESTIMATE, JOINT_UNKNOWN };

#define JOINT_BASES "two-way one-way estimate"

/* The basis of such a word; NULL: two-way. */
enum joint_basis joint_basis_of(const char *word);

/* which of a table's cols they are: stands, of words "yes no"; the others of COL_DB */
struct joint_cols {
	int stands, loss, loss_ab, loss_ba;
};

/* true unless the row is an attempt that another one replaced (stands is "no") */
bool joint_stands(struct table *t, const struct joint_cols *at);

/* no joint loses more, and no reading is further below zero: what is beyond is not a loss */
enum { JOINT_MOST_DB = 1000 };

/*
 * No loss is further below zero: such readings are not of one joint, or one is wrong. In millionths;
 * common practice.
 */
enum { JOINT_GAIN_UDB = -DB_ONE / 20 };

/*
 * true for a number by which instruments and programs say that they have read nothing: of nines alone,
 * 99 and above (99.999, -999, 9999), or the greatest of 16 bits in hundredths or thousandths (32.767,
 * 32.768, 65.535). common practice; no joint and no link loses just that.
 */
bool joint_no_reading(int64_t udb);

/*
 * The field of column col in millionths: true, *udb set. false if it is empty or, after trouble of
 * the table ("below -1000", "above 1000"), no number from -most_db to most_db: some instruments mean
 * "no reading" by such a number.
 */
bool joint_number(struct table *t, int col, int64_t most_db, int64_t *udb);

/* The same of a loss, up to JOINT_MOST_DB; a mark of no reading is trouble as well. */
bool joint_reading(struct table *t, int col, int64_t *udb);

/*
 * The loss that was measured, in millionths of a decibel, and how. Two-way: the loss, or the mean of
 * the readings from both ends, rounded half away from zero; where both are there and differ by more
 * than 0.001 dB, the greater. One-way: the reading from one end, or the loss beside it if that is
 * greater. Else DB_NONE and JOINT_UNKNOWN: the splicer's estimate is not looked at.
 */
int64_t joint_loss(struct table *t, const struct joint_cols *at, enum joint_basis *basis);

#endif
