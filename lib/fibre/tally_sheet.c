#include "fibre/tally_sheet.h"

enum {
	NM,
	PLANNED,
	JOINTS,
	PASSED,
	FAILED,
	UNKNOWN,
	MISSING,
	AMISS,
	SURPLUS,
	BASIS,
	MEAN,
	SD_DB,
	MEDIAN,
	P95,
	MAX,
	WORST_JOINT,
	TRAYS,
	FIRST_AT,
	LAST_AT,
	VERDICT,
	NOT_DUE
};

enum { PLACES = 6 }; /* decimals of every _db: what is exact is written exactly */

const struct col tally_sheet_cols[] = {
	[NM] = { "loss_nm", COL_OUT, COL_TEXT },
	[PLANNED] = { "planned", COL_OUT, COL_WHOLE },
	[JOINTS] = { "joints", COL_OUT, COL_WHOLE },
	[PASSED] = { "passed", COL_OUT, COL_WHOLE },
	[FAILED] = { "failed", COL_OUT, COL_WHOLE },
	[UNKNOWN] = { "unknown", COL_OUT, COL_WHOLE },
	[MISSING] = { "missing", COL_OUT, COL_WHOLE },
	[AMISS] = { "amiss", COL_OUT, COL_WHOLE },
	[SURPLUS] = { "surplus", COL_OUT, COL_WHOLE },
	[BASIS] = { "basis", COL_OUT, COL_TEXT },
	[MEAN] = { "mean_db", COL_OUT, COL_DB, .places = PLACES },
	[SD_DB] = { "sd_db", COL_OUT, COL_NUM, .places = PLACES },
	[MEDIAN] = { "median_db", COL_OUT, COL_DB, .places = PLACES },
	[P95] = { "p95_db", COL_OUT, COL_DB, .places = PLACES },
	[MAX] = { "max_db", COL_OUT, COL_DB, .places = PLACES },
	[WORST_JOINT] = { "worst_joint", COL_OUT, COL_TEXT },
	[TRAYS] = { "trays", COL_OUT, COL_TEXT },
	[FIRST_AT] = { "first_at", COL_OUT, COL_TEXT },
	[LAST_AT] = { "last_at", COL_OUT, COL_TEXT },
	[VERDICT] = { "verdict", COL_OUT, COL_TEXT },
	[NOT_DUE] = { "not_due", COL_OUT, COL_WHOLE },
	{ NULL },
};

void
tally_sheet_row(struct sheet *out, const struct tally *t, const struct tally_group *g, double nm,
    const struct tally_sum *sum, bool bases_known)
{
	static const char *const bases[2 * TALLY_MERGED] = { [1 << JOINT_TWO_WAY] = "two-way",
		[1 << JOINT_ONE_WAY] = "one-way",
		[1 << JOINT_ESTIMATE] = "estimate",
		[TALLY_MERGED] = "merged" };
	static const char *const verdicts[] = { "pass", "fail", "unknown" };
	char text[WAVELENGTHS_TEXT];

	put_lead(out, g->name);
	put_text(out, NM, wavelengths_text(text, nm));
	put_whole(out, JOINTS, (int64_t)g->joints);
	put_whole(out, PASSED, (int64_t)sum->passed);
	put_whole(out, FAILED, (int64_t)sum->failed);
	put_whole(out, UNKNOWN, (int64_t)sum->unknown);
	if (t->plan != NULL) {
		put_whole(out, PLANNED, (int64_t)g->planned);
		put_whole(out, NOT_DUE, (int64_t)g->not_due);
		put_whole(out, MISSING, (int64_t)g->missing);
		put_whole(out, SURPLUS, (int64_t)g->surplus);
	}
	if (t->plan != NULL || g->amiss > 0)
		put_whole(out, AMISS, (int64_t)g->amiss);
	if (bases_known)
		put_text(out, BASIS,
		    field_of(sum->bases == 0             ? ""
			     : bases[sum->bases] != NULL ? bases[sum->bases]
							 : "mixed"));
	put_db(out, MEAN, sum->mean_udb);
	if (sum->sd_udb >= 0)
		put_num(out, SD_DB, sum->sd_udb / DB_ONE);
	put_db(out, MEDIAN, sum->median_udb);
	put_db(out, P95, sum->p95_udb);
	put_db(out, MAX, sum->max_udb);
	put_text(out, WORST_JOINT, sum->worst);
	put_text(out, TRAYS, g->trays);
	put_text(out, FIRST_AT, g->first);
	put_text(out, LAST_AT, g->last);
	put_text(out, VERDICT, field_of(verdicts[sum->verdict]));
	sheet_row(out);
}
