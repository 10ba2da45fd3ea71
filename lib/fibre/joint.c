#include "fibre/joint.h"

#include <stdio.h>

#include "base/db.h"
#include "base/stat.h"

enum joint_basis
joint_basis_of(const char *word)
{
	if (word == NULL || strcmp(word, "two-way") == 0)
		return JOINT_TWO_WAY;
	return strcmp(word, "one-way") == 0 ? JOINT_ONE_WAY : JOINT_ESTIMATE;
}

bool
joint_stands(struct table *t, const struct joint_cols *at)
{
	int no = 0;

	return !get_word(t, at->stands, &no) || no == 0;
}

bool
joint_no_reading(int64_t udb)
{
	static const int64_t of_16_bits[] = { 32767, 32768, 65535 };
	int64_t x = udb < 0 ? -udb : udb;

	for (size_t i = 0; i < sizeof of_16_bits / sizeof of_16_bits[0]; i++)
		if (x == of_16_bits[i] * (DB_ONE / 1000) || x == of_16_bits[i] * (DB_ONE / 100))
			return true;
	if (x < 99 * DB_ONE)
		return false;
	while (x % 10 == 0)
		x /= 10;
	while (x % 10 == 9)
		x /= 10;
	return x == 0;
}

bool
joint_number(struct table *t, int col, int64_t most_db, int64_t *udb)
{
	char what[40];

	if (!get_db(t, col, udb))
		return false;
	if (*udb >= -most_db * DB_ONE && *udb <= most_db * DB_ONE)
		return true;
	snprintf(what, sizeof what, *udb < 0 ? "below -%lld" : "above %lld", (long long)most_db);
	table_fail(t, col, what);
	return false;
}

bool
joint_reading(struct table *t, int col, int64_t *udb)
{
	if (!get_db(t, col, udb))
		return false;
	if (!joint_no_reading(*udb))
		return joint_number(t, col, JOINT_MOST_DB, udb);
	table_fail(t, col, "a mark of no reading: leave the field empty");
	return false;
}

int64_t
joint_loss(struct table *t, const struct joint_cols *at, enum joint_basis *basis)
{
	enum { AGREE_UDB = DB_ONE / 1000 };
	int64_t loss_udb = DB_NONE, ab_udb = DB_NONE, ba_udb = DB_NONE, mean_udb;
	bool loss = joint_reading(t, at->loss, &loss_udb),
	     ab = joint_reading(t, at->loss_ab, &ab_udb),
	     ba = joint_reading(t, at->loss_ba, &ba_udb);

	if (ab != ba) {
		mean_udb = ab ? ab_udb : ba_udb;
		*basis = JOINT_ONE_WAY;
		return loss && loss_udb > mean_udb ? loss_udb : mean_udb;
	}
	*basis = loss || ab ? JOINT_TWO_WAY : JOINT_UNKNOWN;
	if (!ab)
		return loss_udb;
	mean_udb = mean_of(ab_udb + ba_udb, 2);
	return loss && mean_udb - loss_udb <= AGREE_UDB ? loss_udb : mean_udb;
}
