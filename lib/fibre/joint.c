#include "fibre/joint.h"

#include <stdio.h>

#include "base/db.h"
#include "base/stat.h"

bool
joint_stands(struct table *t, const struct joint_cols *at)
{
	int no = 0;

	return !get_word(t, at->stands, &no) || no == 0;
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

static bool
get_loss(struct table *t, int col, int64_t *loss_udb)
{
	return joint_number(t, col, JOINT_MOST_DB, loss_udb);
}

int64_t
joint_loss(struct table *t, const struct joint_cols *at, unsigned *basis)
{
	int64_t loss_udb, ab_udb, ba_udb;

	*basis = JOINT_TWO_WAY;
	if (get_loss(t, at->loss, &loss_udb))
		return loss_udb;
	if (get_loss(t, at->loss_ab, &ab_udb) && get_loss(t, at->loss_ba, &ba_udb))
		return mean_of(ab_udb + ba_udb, 2);
	*basis = JOINT_ESTIMATE;
	if (get_loss(t, at->est, &loss_udb))
		return loss_udb;
	*basis = 0;
	return DB_NONE;
}
