#include "fibre/tally_row.h"

#include "fibre/joint.h"

enum {
	LOSS = TALLY_LOSS,
	CLOSURE = TALLY_CLOSURE,
	EST,
	LOSS_AB,
	LOSS_BA,
	LOSS_NM,
	LOSS_WITH,
	JOINT,
	ATTEMPT,
	STANDS,
	KIND,
	RIBBON_A,
	RIBBON_B,
	TRAY,
	SLOT,
	CABLE_A,
	FIBRE_A,
	TOWARD_A,
	CABLE_B,
	FIBRE_B,
	TOWARD_B,
	TENSION,
	PROTECTOR,
	ACCEPT,
	SHIFT,
	MADE_AT,
};

const struct col tally_cols[] = {
	[LOSS] = { "loss_db", COL_ONE_OF, COL_DB },
	[EST] = { "est_db", COL_ONE_OF, COL_DB },
	[LOSS_AB] = { "loss_ab_db", COL_ONE_OF, COL_DB },
	[LOSS_BA] = { "loss_ba_db", COL_ONE_OF, COL_DB },
	[LOSS_NM] = { "loss_nm", COL_MAY, COL_NUM, 600, 1700 },
	[LOSS_WITH] = { "loss_with", COL_MAY, COL_TEXT },
	[CLOSURE] = { "closure", COL_MAY, COL_TEXT },
	[JOINT] = { "joint", COL_MAY, COL_TEXT },
	[ATTEMPT] = { "attempt", COL_MAY, COL_TEXT },
	[STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },
	[KIND] = { "kind", COL_MAY, COL_TEXT },
	[RIBBON_A] = { "ribbon_a", COL_MAY, COL_TEXT },
	[RIBBON_B] = { "ribbon_b", COL_MAY, COL_TEXT },
	[TRAY] = { "tray", COL_MAY, COL_TEXT },
	[SLOT] = { "slot", COL_MAY, COL_TEXT },
	[CABLE_A] = { "cable_a", COL_MAY, COL_TEXT },
	[FIBRE_A] = { "fibre_a", COL_MAY, COL_TEXT },
	[TOWARD_A] = { "toward_a", COL_MAY, COL_TEXT },
	[CABLE_B] = { "cable_b", COL_MAY, COL_TEXT },
	[FIBRE_B] = { "fibre_b", COL_MAY, COL_TEXT },
	[TOWARD_B] = { "toward_b", COL_MAY, COL_TEXT },
	[TENSION] = { "tension", COL_MAY, COL_TEXT },
	[PROTECTOR] = { "protector", COL_MAY, COL_TEXT },
	[ACCEPT] = { "accept", COL_MAY, COL_WORD, .words = JOINT_BASES },
	[SHIFT] = { "shift", COL_MAY, COL_TEXT },
	[MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	{ NULL },
};

enum { F_JOINT, F_LEVEL };

const struct col tally_fault_cols[] = {
	[F_JOINT] = { "joint", COL_NEED, COL_TEXT },
	[F_LEVEL] = { "level", COL_NEED, COL_WORD, .words = "error warning" },
	{ NULL },
};

static const struct joint_cols joint_cols = { STANDS, LOSS, LOSS_AB, LOSS_BA };

static void
read_losses(struct table *t, const struct tally_reader *r, struct tally_row *row)
{
	row->loss_udb = row->est_udb = DB_NONE;
	if (r->value == NULL) {
		row->loss_udb = joint_loss(t, &joint_cols, &row->basis);
		row->with = table_field(t, LOSS_WITH);
		row->gain = row->loss_udb != DB_NONE && row->loss_udb < JOINT_GAIN_UDB;
		if (joint_reading(t, EST, &row->est_udb) && row->est_udb < JOINT_GAIN_UDB)
			row->est_udb = DB_NONE;
	} else {
		row->basis = JOINT_TWO_WAY;
		joint_number(t, LOSS, TALLY_MOST_DB, &row->loss_udb);
	}
	/* an estimate has no wavelength, under whichever name it is asked for */
	if (row->loss_udb != DB_NONE &&
	    (r->value == NULL || strcmp(r->value, tally_cols[EST].name) != 0))
		get_num(t, LOSS_NM, &row->nm);
}

/* The proof test and the protector: a word that is neither pass nor fail leaves it open. */
static void
read_tests(const struct table *t, struct tally_row *row)
{
	for (int col = TENSION; col <= PROTECTOR; col++) {
		struct field f = table_field(t, col);

		row->failed |= field_is(f, "fail");
		row->doubtful |= f.n > 0 && !field_is(f, "pass") && !field_is(f, "fail");
	}
}

static void
read_plan(const struct table *t, struct plan *plan, struct tally_row *row)
{
	struct plan_record rec = { row->name, row->closure, row->tray, table_field(t, SLOT),
		{ { table_field(t, CABLE_A), table_field(t, FIBRE_A), table_field(t, TOWARD_A) },
		    { table_field(t, CABLE_B), table_field(t, FIBRE_B),
			table_field(t, TOWARD_B) } },
		row->kind };

	row->plan = plan_find(plan, &rec);
	row->amiss = plan_not_to_join(plan, &rec) != PLAN_NONE;
	if (row->plan != PLAN_NONE)
		row->amiss |= plan_amiss(plan, row->plan, &rec) != 0;
	else
		row->surplus = !row->amiss;
}

/* Closure and fibres, which tell a joint without a name; empty if they are not all there. */
static struct field
fibres_of(const struct table *t, struct tally_reader *r)
{
	static const int key[] = { CABLE_A, FIBRE_A, TOWARD_A, CABLE_B, FIBRE_B, TOWARD_B };

	r->fibres.n = 0;
	bytes_add_field(&r->fibres, table_field(t, CLOSURE));
	for (size_t i = 0; i < sizeof key / sizeof key[0]; i++) {
		struct field f = table_field(t, key[i]);

		if (f.n == 0 && key[i] != TOWARD_A && key[i] != TOWARD_B)
			return field_of("");
		bytes_add_text(&r->fibres, "\t");
		bytes_add_field(&r->fibres, f);
	}
	return bytes_field(&r->fibres);
}

/* Of a row that does not stand no field is trouble. */
static void
read_undone(struct tally_reader *r, const struct table *t, struct tally_row *row)
{
	*row = (struct tally_row){ .name = table_field(t, JOINT),
		.attempt = { table_field(t, ATTEMPT), table_field(t, SHIFT) } };
	row->attempt.timed = when_parse(table_field(t, MADE_AT), &row->attempt.made) == 0;
	if (row->name.n == 0)
		row->key = fibres_of(t, r);
}

bool
tally_read(struct tally_reader *r, struct table *t, struct tally_row *row)
{
	int accept = JOINT_TWO_WAY;
	struct field ribbon;

	if (!joint_stands(t, &joint_cols)) {
		read_undone(r, t, row);
		return false;
	}
	*row = (struct tally_row){ .plan = PLAN_NONE,
		.name = table_field(t, JOINT),
		.closure = table_field(t, CLOSURE),
		.tray = table_field(t, TRAY),
		.kind = table_field(t, KIND),
		.ribbon = get_text(t, RIBBON_A, &ribbon) || get_text(t, RIBBON_B, &ribbon),
		.made_text = table_field(t, MADE_AT),
		.attempt = night_read(t, ATTEMPT, SHIFT, MADE_AT) };
	get_word(t, ACCEPT, &accept);
	row->accept = (enum joint_basis)accept;
	read_losses(t, r, row);
	read_tests(t, row);
	if (r->plan != NULL)
		read_plan(t, r->plan, row);
	if (row->name.n == 0)
		row->key = fibres_of(t, r);
	else
		row->failed |= r->faulty.n > 0 && ids_find_one(&r->faulty, row->name) != SIZE_MAX;
	return true;
}

int
tally_read_faults(struct tally_reader *r, struct table *faults)
{
	struct field joint;
	int level;

	while (table_next(faults))
		if (get_word(faults, F_LEVEL, &level) && level == 0) {
			if (get_text(faults, F_JOINT, &joint))
				ids_add(&r->faulty, &joint, 1, NULL);
			else
				r->nameless++;
		}
	return err_is_set(faults->err) ? -1 : 0;
}

void
tally_reader_free(struct tally_reader *r)
{
	ids_free(&r->faulty);
	bytes_free(&r->fibres);
}
