#include "rework/facts.h"

#include <math.h>
#include <stdlib.h>

enum {
	JOINT,
	ATTEMPT,
	STANDS,
	SHIFT,
	MADE_AT,
	CLOSURE,
	TRAY,
	SLOT,
	CABLE_A,
	FIBRE_A,
	CABLE_B,
	FIBRE_B,
	TUBE_A,
	COLOUR_A,
	TUBE_B,
	COLOUR_B,
	KIND,
	RIBBON,
	EST,
	CLEAVE_A,
	CLEAVE_B,
	TENSION,
	PROTECTOR,
	LOSS,
	AB,
	BA,
	ACCEPT
};

const struct col fact_joint_cols[] = {
	[JOINT] = { "joint", COL_NEED, COL_TEXT },
	[ATTEMPT] = { "attempt", COL_MAY, COL_TEXT },
	[STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },
	[SHIFT] = { "shift", COL_MAY, COL_TEXT },
	[MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	[CLOSURE] = { "closure", COL_NEED, COL_TEXT },
	[TRAY] = { "tray", COL_MAY, COL_TEXT },
	[SLOT] = { "slot", COL_MAY, COL_TEXT },
	[CABLE_A] = { "cable_a", COL_MAY, COL_TEXT },
	[FIBRE_A] = { "fibre_a", COL_MAY, COL_TEXT },
	[CABLE_B] = { "cable_b", COL_MAY, COL_TEXT },
	[FIBRE_B] = { "fibre_b", COL_MAY, COL_TEXT },
	[TUBE_A] = { "tube_a", COL_MAY, COL_TEXT },
	[COLOUR_A] = { "colour_a", COL_MAY, COL_TEXT },
	[TUBE_B] = { "tube_b", COL_MAY, COL_TEXT },
	[COLOUR_B] = { "colour_b", COL_MAY, COL_TEXT },
	[KIND] = { "kind", COL_MAY, COL_TEXT },
	[RIBBON] = { "ribbon_a", COL_MAY, COL_TEXT },
	[EST] = { "est_db", COL_MAY, COL_DB },
	[CLEAVE_A] = { "cleave_a_deg", COL_MAY, COL_NUM },
	[CLEAVE_B] = { "cleave_b_deg", COL_MAY, COL_NUM },
	[TENSION] = { "tension", COL_MAY, COL_TEXT },
	[PROTECTOR] = { "protector", COL_MAY, COL_TEXT },
	[LOSS] = { "loss_db", COL_MAY, COL_DB },
	[AB] = { "loss_ab_db", COL_MAY, COL_DB },
	[BA] = { "loss_ba_db", COL_MAY, COL_DB },
	[ACCEPT] = { "accept", COL_MAY, COL_WORD, .words = JOINT_BASES },
	{ NULL },
};

enum { F_JOINT, F_RULE, F_LEVEL };

const struct col fact_fault_cols[] = {
	[F_JOINT] = { "joint", COL_NEED, COL_TEXT },
	[F_RULE] = { "rule", COL_NEED, COL_TEXT },
	[F_LEVEL] = { "level", COL_MAY, COL_WORD, .words = "error warning" },
	{ NULL },
};

enum { T_JOINT, T_LOSS, T_MISMATCH, T_EXCESS, T_BEND, T_BEND_SD, T_BASIS, T_LIMIT, T_AGAIN };

const struct col fact_twoway_cols[] = {
	[T_JOINT] = { "joint", COL_NEED, COL_TEXT },
	[T_LOSS] = { "loss_db", COL_NEED, COL_NUM },
	[T_MISMATCH] = { "mismatch_db", COL_MAY, COL_NUM },
	[T_EXCESS] = { "excess_db", COL_MAY, COL_NUM },
	[T_BEND] = { "bend_db", COL_MAY, COL_NUM },
	[T_BEND_SD] = { "bend_sd_db", COL_MAY, COL_NUM },
	[T_BASIS] = { "basis", COL_NEED, COL_TEXT },
	[T_LIMIT] = { "limit_db", COL_MAY, COL_NUM },
	[T_AGAIN] = { "read_again", COL_MAY, COL_TEXT },
	{ NULL },
};

static const struct joint_cols joint_cols = { STANDS, LOSS, AB, BA };

/* Estimates so near to each other are one result; common practice. */
#define ALIKE_DB 0.02

static struct field *
word(struct joint_facts *j, enum fact which)
{
	return &j->word[which - FACT_NUMBERS];
}

/* The joint's facts; of a new one nothing is known. */
static struct joint_facts *
facts_of(struct facts *f, struct field name)
{
	size_t n = f->night.joints.n, id = night_joint(&f->night, &name, 1);

	f->v = mem_grow(f->v, &f->cap, id + 1, sizeof *f->v);
	if (id == n) {
		f->v[id] = (struct joint_facts){ .best = JOINT_UNKNOWN };
		for (int i = 0; i < FACT_NUMBERS; i++)
			f->v[id].x[i] = NAN;
		for (int i = 0; i < 3; i++)
			f->v[id].ests[i] = NAN;
		f->v[id].x[FACT_TRIES] = 0;
		*word(&f->v[id], FACT_MADE) = field_of("no");
	}
	return &f->v[id];
}

static void
keep(struct facts *f, struct field *to, const struct table *t, int col)
{
	struct field x;

	if (get_text(t, col, &x))
		*to = region_keep(&f->texts, x);
}

/* A test of which the table has no column is not missing: nobody asked for it. */
static void
keep_test(struct facts *f, struct field *to, const struct table *t, int col)
{
	if (!table_has(t, col))
		*to = field_of("?");
	keep(f, to, t, col);
}

/* Counts a try, and keeps the last three estimates. */
static void
add_try(struct facts *f, struct joint_facts *j, struct table *t)
{
	struct field key[] = { table_field(t, JOINT), table_field(t, ATTEMPT),
		table_field(t, SHIFT) };
	int64_t est_udb;
	bool fresh;

	ids_add(&f->tries, key, 3, &fresh);
	if (!fresh)
		return;
	j->x[FACT_TRIES]++;
	j->ests[0] = j->ests[1];
	j->ests[1] = j->ests[2];
	j->ests[2] = joint_reading(t, EST, &est_udb) ? db_to(est_udb) : NAN;
}

/* The colours of a row's fibres; of those it does not say, as they are planned. */
static void
take_colours(struct facts *f, struct joint_facts *j, const struct table *t)
{
	struct plan_record rec = { .joint = table_field(t, JOINT),
		.closure = table_field(t, CLOSURE) };
	size_t row;

	for (int side = 0; side < 2; side++) {
		rec.end[side].cable = table_field(t, CABLE_A + 2 * side);
		rec.end[side].fibre = table_field(t, FIBRE_A + 2 * side);
	}
	row = plan_find(f->plan, &rec);
	for (int side = 0; side < 2; side++) {
		const struct field *is =
		    row == PLAN_NONE ? NULL : plan_colours(f->plan, row, &rec, side);

		for (int i = 0; i < 2; i++)
			keep(f, &j->fibre[2 * side + i], t, TUBE_A + 2 * side + i);
		if (is != NULL && j->fibre[2 * side].n == 0 && j->fibre[2 * side + 1].n == 0)
			memcpy(&j->fibre[2 * side], is, 2 * sizeof *is);
	}
}

/* What a row of the attempt that counts says. */
static void
take_row(struct facts *f, struct joint_facts *j, struct table *t)
{
	double deg;
	int64_t est_udb, loss_udb;
	enum joint_basis basis;
	int accept = JOINT_TWO_WAY;

	keep(f, &j->closure, t, CLOSURE);
	keep(f, &j->tray, t, TRAY);
	keep(f, &j->slot, t, SLOT);
	keep(f, &j->ribbon, t, RIBBON);
	take_colours(f, j, t);
	*word(j, FACT_KIND) = field_of("fusion");
	keep(f, word(j, FACT_KIND), t, KIND);
	keep_test(f, word(j, FACT_TENSION), t, TENSION);
	keep_test(f, word(j, FACT_PROTECTOR), t, PROTECTOR);
	if (joint_reading(t, EST, &est_udb))
		j->x[FACT_EST] = db_to(est_udb);
	for (int col = CLEAVE_A; col <= CLEAVE_B; col++)
		if (get_num(t, col, &deg) && !(deg <= j->x[FACT_CLEAVE]))
			j->x[FACT_CLEAVE] = deg;
	get_word(t, ACCEPT, &accept);
	j->accept = (enum joint_basis)accept;
	loss_udb = joint_loss(t, &joint_cols, &basis);
	if (loss_udb != DB_NONE && (basis < j->best || !(db_to(loss_udb) <= j->x[FACT_LOSS]))) {
		j->best = basis;
		j->x[FACT_LOSS] = db_to(loss_udb);
	}
}

void
facts_joint(struct facts *f, struct table *t)
{
	struct night_attempt attempt;
	struct field name;
	struct joint_facts *j, fresh;
	size_t id;

	if (!get_text(t, JOINT, &name)) {
		table_fail(t, JOINT, "empty");
		return;
	}
	j = facts_of(f, name);
	id = (size_t)(j - f->v);
	add_try(f, j, t);
	attempt = night_read(t, ATTEMPT, SHIFT, MADE_AT);
	if (!joint_stands(t, &joint_cols)) {
		night_add_undone(&f->undone, id, &attempt);
		if (j->closure.n == 0) {
			keep(f, &j->closure, t, CLOSURE);
			keep(f, &j->tray, t, TRAY);
			keep(f, &j->slot, t, SLOT);
		}
		return;
	}
	switch (night_add(&f->night, id, &attempt)) {
	case NIGHT_OLDER:
		return;
	case NIGHT_NEWER:
		fresh = (struct joint_facts){ .faults = j->faults, .best = JOINT_UNKNOWN };
		for (int i = 0; i < FACT_NUMBERS; i++)
			fresh.x[i] = NAN;
		fresh.x[FACT_TRIES] = j->x[FACT_TRIES];
		memcpy(fresh.ests, j->ests, sizeof fresh.ests);
		*j = fresh;
		*word(j, FACT_MADE) = field_of("yes");
		break;
	case NIGHT_SAME:
		break;
	}
	take_row(f, j, t);
}

bool
facts_ask(struct facts *f, struct field rule)
{
	return ids_add(&f->rules, &rule, 1, NULL) < FACT_FAULTS_MOST;
}

/* The rule's bit of joint_facts.faults; 0: no cause asks for it. */
static uint64_t
bit_of(const struct facts *f, struct field rule)
{
	size_t id = ids_find_one(&f->rules, rule);

	return id < FACT_FAULTS_MOST ? (uint64_t)1 << id : 0;
}

bool
facts_has(const struct facts *f, const struct joint_facts *j, struct field rule)
{
	return (j->faults & bit_of(f, rule)) != 0;
}

void
facts_fault(struct facts *f, struct table *t)
{
	struct field name, rule;
	int level = 0;
	size_t id;

	if (!get_text(t, F_JOINT, &name) || !get_text(t, F_RULE, &rule))
		return;
	get_word(t, F_LEVEL, &level);
	id = ids_find_one(&f->night.joints, name);
	if (id == SIZE_MAX)
		return;
	f->v[id].faults |= bit_of(f, rule);
	if (level == 0)
		*word(&f->v[id], FACT_FAULTY) = field_of("yes");
}

/* How far a loss is above its limit: the greater the worse; what is not known is worse than what is within. */
static double
beyond(double loss_db, double limit_db)
{
	return isnan(loss_db) ? 0 : loss_db - (isnan(limit_db) ? 0 : limit_db);
}

void
facts_twoway(struct facts *f, struct table *t)
{
	double x[FACT_NUMBERS], bend_sd = NAN;
	static const int of[][2] = { { T_LOSS, FACT_LOSS }, { T_MISMATCH, FACT_MISMATCH },
		{ T_EXCESS, FACT_EXCESS }, { T_LIMIT, FACT_LIMIT }, { T_BEND, FACT_BEND } };
	struct joint_facts *j;
	struct field name;
	size_t id;

	if (!get_text(t, T_JOINT, &name))
		return;
	id = ids_find_one(&f->night.joints, name);
	if (id == SIZE_MAX)
		return;
	j = &f->v[id];
	for (int i = 0; i < FACT_NUMBERS; i++)
		x[i] = NAN;
	for (size_t i = 0; i < sizeof of / sizeof of[0]; i++)
		get_num(t, of[i][0], &x[of[i][1]]);
	if (get_num(t, T_BEND_SD, &bend_sd) && bend_sd > 0 &&
	    !(x[FACT_BEND] / bend_sd <= j->x[FACT_BEND_SIGMAS])) {
		j->x[FACT_BEND] = x[FACT_BEND];
		j->x[FACT_BEND_SIGMAS] = x[FACT_BEND] / bend_sd;
	}
	if (j->has_two_way &&
	    beyond(x[FACT_LOSS], x[FACT_LIMIT]) <= beyond(j->x[FACT_LOSS], j->x[FACT_LIMIT]))
		return;
	j->has_two_way = true;
	j->x[FACT_LOSS] = x[FACT_LOSS];
	j->x[FACT_LIMIT] = x[FACT_LIMIT];
	j->x[FACT_MISMATCH] = x[FACT_MISMATCH];
	j->x[FACT_EXCESS] = x[FACT_EXCESS];
	keep(f, word(j, FACT_BASIS), t, T_BASIS);
	*word(j, FACT_READ_AGAIN) = field_of("");
	keep(f, word(j, FACT_READ_AGAIN), t, T_AGAIN);
}

/* The limit of a joint for what is known on this basis; NAN: none. */
static double
limit_of(struct facts *f, size_t id, enum joint_basis basis, enum joint_basis accept)
{
	const struct joint_facts *j = &f->v[id];
	struct limit_case c = { .closure = j->closure,
		.kind = j->word[FACT_KIND - FACT_NUMBERS],
		.ribbon = j->ribbon.n > 0,
		.basis = basis,
		.accept = accept,
		.planned_udb = DB_NONE };
	struct plan_record record = { .joint = ids_key(&f->night.joints, id) };
	size_t row = plan_find(f->plan, &record);
	struct limit limit;

	if (row != PLAN_NONE)
		limit_plan(&c, &f->plan->rows[row]);
	limit_judge(f->limits, &c, &limit);
	return limit.accepted && limit.each_udb != DB_NONE ? db_to(limit.each_udb) : NAN;
}

/* A planned joint that has no standing attempt lies where the plan says. */
static void
place_missing(struct facts *f)
{
	for (size_t i = 0; i < f->plan->n; i++) {
		const struct plan_row *row = &f->plan->rows[i];
		struct joint_facts *j;

		if (!row->asked || row->is.joint.n == 0)
			continue;
		j = facts_of(f, row->is.joint);
		if (!field_is(*word(j, FACT_MADE), "no"))
			continue;
		j->closure = row->is.closure;
		j->tray = row->is.tray;
		j->slot = row->is.slot;
		memcpy(j->fibre, row->colours, sizeof j->fibre);
	}
}

void
facts_end(struct facts *f, bool tested)
{
	place_missing(f);
	for (size_t i = 0; i < f->night.joints.n; i++) {
		struct joint_facts *j = &f->v[i];
		double least = fmin(j->ests[0], fmin(j->ests[1], j->ests[2]));
		double most = fmax(j->ests[0], fmax(j->ests[1], j->ests[2]));
		bool all = !isnan(j->ests[0]) && !isnan(j->ests[1]) && !isnan(j->ests[2]);

		if (night_later(&f->undone, i, &f->night, i))
			*word(j, FACT_MADE) = field_of("cut");
		*word(j, FACT_ALIKE) =
		    field_of(all && most - least <= ALIKE_DB + 1e-9 ? "yes" : "no");
		if (!tested)
			j->x[FACT_LOSS] = NAN;
		else if (!j->has_two_way && j->best < JOINT_ESTIMATE)
			*word(j, FACT_BASIS) =
			    field_of(j->best == JOINT_TWO_WAY ? "measured" : "one-way");
		j->x[FACT_EST_LIMIT] = limit_of(f, i, JOINT_ESTIMATE, JOINT_ESTIMATE);
		if (isnan(j->x[FACT_LIMIT]) && j->best < JOINT_ESTIMATE)
			j->x[FACT_LIMIT] = limit_of(f, i, j->best, j->accept);
		if (j->best == JOINT_ONE_WAY && !j->has_two_way && j->accept < JOINT_ONE_WAY)
			j->x[FACT_LOSS] = NAN;
	}
}

void
facts_free(struct facts *f)
{
	night_free(&f->night);
	night_free(&f->undone);
	ids_free(&f->tries);
	ids_free(&f->rules);
	free(f->v);
	region_free(&f->texts);
}
