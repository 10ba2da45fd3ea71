#include "picture/rows.h"

#include <stdlib.h>

const struct col picture_cols[] = {
	[ROW_JOINT] = { "joint", COL_MAY, COL_TEXT },
	[ROW_ATTEMPT] = { "attempt", COL_MAY, COL_TEXT },
	[ROW_STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },
	[ROW_CLOSURE] = { "closure", COL_MAY, COL_TEXT },
	[ROW_TRAY] = { "tray", COL_MAY, COL_TEXT },
	[ROW_SLOT] = { "slot", COL_MAY, COL_TEXT },
	[ROW_CABLE_A] = { "cable_a", COL_MAY, COL_TEXT },
	[ROW_CABLE_B] = { "cable_b", COL_MAY, COL_TEXT },
	[ROW_FIBRE_A] = { "fibre_a", COL_MAY, COL_TEXT },
	[ROW_FIBRE_B] = { "fibre_b", COL_MAY, COL_TEXT },
	[ROW_TUBE_A] = { "tube_a", COL_MAY, COL_TEXT },
	[ROW_TUBE_B] = { "tube_b", COL_MAY, COL_TEXT },
	[ROW_COLOUR_A] = { "colour_a", COL_MAY, COL_TEXT },
	[ROW_COLOUR_B] = { "colour_b", COL_MAY, COL_TEXT },
	[ROW_KIND] = { "kind", COL_MAY, COL_TEXT },
	[ROW_RIBBON_A] = { "ribbon_a", COL_MAY, COL_TEXT },
	[ROW_ACCEPT] = { "accept", COL_MAY, COL_WORD, .words = JOINT_BASES },
	[ROW_TENSION] = { "tension", COL_MAY, COL_TEXT },
	[ROW_PROTECTOR] = { "protector", COL_MAY, COL_TEXT },
	[ROW_SHIFT] = { "shift", COL_MAY, COL_TEXT },
	[ROW_MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	[ROW_LOSS_NM] = { "loss_nm", COL_MAY, COL_NUM, 600, 1700 },
	[ROW_WAVELENGTH] = { "wavelength_nm", COL_MAY, COL_NUM, 600, 1700 },
	[ROW_LOSS_AB] = { "loss_ab_db", COL_MAY, COL_DB },
	[ROW_LOSS_BA] = { "loss_ba_db", COL_MAY, COL_DB },
	[ROW_LOSS] = { "loss_db", COL_MAY, COL_DB },
	[ROW_LOSS_WITH] = { "loss_with", COL_MAY, COL_TEXT },
	[ROW_EST] = { "est_db", COL_MAY, COL_DB },
	[ROW_LIMIT] = { "limit_db", COL_MAY, COL_DB, 0, 1000 },
	[ROW_JOINTS] = { "joints", COL_MAY, COL_WHOLE, 0, 1e9 },
	[ROW_MEAN] = { "mean_db", COL_MAY, COL_DB, -1000, 1000 },
	[ROW_MAX] = { "max_db", COL_MAY, COL_DB, -1000, 1000 },
	[ROW_WORST] = { "worst_joint", COL_MAY, COL_TEXT },
	[ROW_FIRST_AT] = { "first_at", COL_MAY, COL_TEXT },
	[ROW_LINK] = { "link", COL_MAY, COL_TEXT },
	[ROW_SEQ] = { "seq", COL_MAY, COL_WHOLE, 0, 1e9 },
	[ROW_KM] = { "km", COL_MAY, COL_NUM, -1e5, 1e5 },
	[ROW_WAYS] = { "ways", COL_MAY, COL_WHOLE, 2, 1024 },
	[ROW_REF] = { "ref", COL_MAY, COL_TEXT },
	[ROW_SITE] = { "site", COL_MAY, COL_TEXT },
	[ROW_COUNT] = { "count", COL_MAY, COL_WHOLE, 0, 1e6 },
	[ROW_LENGTH] = { "length_km", COL_MAY, COL_DB, 0, 100000 },
	[ROW_CATEGORY] = { "category", COL_MAY, COL_TEXT },
	[ROW_ALLOWANCE] = { "allowance", COL_MAY, COL_TEXT },
	{ NULL },
};

struct field
picture_keep(struct picture *r, int col)
{
	return region_keep(&r->texts, table_field(r->rows, col));
}

/* Whether the present row has what --only asks for in the columns that its table has. */
bool
picture_asked(struct picture *r, const struct table *t, bool any_nm)
{
	for (size_t i = 0; i < r->only.n; i++) {
		const struct opt_pair *pair = &r->only.v[i];
		int column = reader_column(t->reader, pair->name);
		struct field f = column >= 0 ? row_field(&t->row, (size_t)column) : field_of("");

		/* an element without a wavelength is there at all of them, an estimate too */
		if (column < 0 ||
		    (f.n == 0 && t == r->rows &&
			(column == t->at[ROW_WAVELENGTH] || column == t->at[ROW_LOSS_NM])))
			continue;
		if (any_nm && column == t->at[ROW_LOSS_NM])
			continue;
		if (field_among(pair->value, ',', f) == SIZE_MAX)
			return false;
	}
	r->fits = true;
	return true;
}

int
picture_ready(struct picture *r)
{
	const struct table *t = r->rows, *plan = r->plan_rows;

	for (size_t i = 0; i < r->only.n; i++)
		if ((plan->reader == NULL || reader_column(plan->reader, r->only.v[i].name) < 0) &&
		    reader_need(t->reader, r->only.v[i].name) < 0)
			return -1;
	r->made = mem_zeroed(r->plan.n + 1, sizeof *r->made);
	return 0;
}

void
picture_free(struct picture *r)
{
	free(r->joints);
	free(r->parts);
	free(r->made);
	ids_free(&r->seqs);
	night_free(&r->night);
	region_free(&r->texts);
	plan_free(&r->plan);
	limit_free(&r->limits);
	allowance_free(&r->allowances);
}
