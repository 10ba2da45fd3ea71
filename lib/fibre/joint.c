#include "fibre/joint.h"

#include "base/db.h"
#include "base/stat.h"

bool
joint_stands(struct table *t, const struct joint_cols *at)
{
	int no = 0;

	return !get_word(t, at->stands, &no) || no == 0;
}

static bool
get_loss(struct table *t, int col, int64_t *loss_udb)
{
	if (!get_db(t, col, loss_udb))
		return false;
	if (*loss_udb >= -1000 * (int64_t)DB_ONE)
		return true;
	table_fail(t, col, "below -1000");
	return false;
}

int64_t
joint_loss(struct table *t, const struct joint_cols *at, unsigned *basis)
{
	struct moments both = { 0 };
	int64_t loss_udb, ab_udb, ba_udb;

	if (get_loss(t, at->loss, &loss_udb)) {
		*basis = JOINT_TWO_WAY;
		return loss_udb;
	}
	if (get_loss(t, at->loss_ab, &ab_udb) && get_loss(t, at->loss_ba, &ba_udb)) {
		moments_add(&both, ab_udb);
		moments_add(&both, ba_udb);
		*basis = JOINT_TWO_WAY;
		return moments_mean(&both);
	}
	if (get_loss(t, at->est, &loss_udb)) {
		*basis = JOINT_ESTIMATE;
		return loss_udb;
	}
	return DB_NONE;
}
