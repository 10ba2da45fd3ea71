/* joints: rows of joints, and of sums of them, for a picture. */
#include <stdio.h>
#include <stdlib.h>

#include "picture/rows.h"

enum { F_JOINT, F_LEVEL, F_SAYS };
const struct col picture_fault_cols[] = { { "joint", COL_NEED, COL_TEXT },
	{ "level", COL_NEED, COL_WORD, .words = "error warning" }, { "says", COL_NEED, COL_TEXT },
	{ NULL } };
const int picture_fault_key[] = { F_JOINT, -1 };

/* A number for the joint: by its name, else its link and place, else by nothing. */
static size_t
number_of(struct picture *r, bool *fresh)
{
	struct table *t = r->rows;
	struct field key[2] = { table_field(t, ROW_JOINT), field_of("") };
	char nameless[24];
	size_t before = r->night.joints.n, number;

	if (key[0].n == 0 && table_field(t, ROW_LINK).n > 0) {
		key[0] = table_field(t, ROW_LINK);
		key[1] = table_field(t, ROW_KM);
	} else if (key[0].n == 0) {
		key[1].p = nameless;
		key[1].n = (size_t)snprintf(nameless, sizeof nameless, "%zu", ++r->nameless);
	}
	number = night_joint(&r->night, key, key[1].n > 0 ? 2 : 1);
	*fresh = r->night.joints.n > before;
	return number;
}

static void
judge(struct picture *r, struct plot_joint *j, enum joint_basis basis, size_t planned)
{
	struct table *t = r->rows;
	struct limit_case c = { .closure = j->closure,
		.kind = table_field(t, ROW_KIND),
		.basis = basis,
		.nm = r->nm,
		.ribbon = table_field(t, ROW_RIBBON_A).n > 0,
		.accept = r->accept,
		.planned_udb = DB_NONE };
	struct limit limit;
	int accept;

	if (get_word(t, ROW_ACCEPT, &accept) && (enum joint_basis)accept > c.accept)
		c.accept = (enum joint_basis)accept;
	if (planned != PLAN_NONE)
		limit_plan(&c, &r->plan.rows[planned]);
	limit_shared(&r->limits, &c, j->shared ? table_field(t, ROW_LOSS_WITH) : field_of(""),
	    r->plan.n > 0 ? &r->plan : NULL, &limit);
	j->estimate_counts = limit.accepted;
	/* what loses too much by a doubtful reading is told against the two-way limit */
	if (limit.each_udb != DB_NONE)
		j->limit_udb = limit.each_udb;
	get_db(t, ROW_LIMIT, &j->limit_udb);
}

/* The loss of the present row, if it is of the wavelength that is drawn. */
static void
read_loss(struct picture *r, struct plot_joint *j, size_t planned)
{
	static const char *const bases[] = { "two-way", "one-way", "estimate", "" };
	static const struct joint_cols at = { ROW_STANDS, ROW_LOSS, ROW_LOSS_AB, ROW_LOSS_BA };
	struct table *t = r->rows;
	enum joint_basis basis;
	int64_t loss_udb = joint_loss(t, &at, &basis);
	double nm = 0;

	if (!get_num(t, ROW_LOSS_NM, &nm))
		get_num(t, ROW_WAVELENGTH, &nm);
	if (loss_udb != DB_NONE && r->nm == 0)
		r->nm = nm;
	if (loss_udb != DB_NONE && nm > 0 && nm != r->nm) {
		r->other_nm = true;
		loss_udb = DB_NONE;
	} else {
		get_db(t, ROW_LOSS_AB, &j->ab_udb);
		get_db(t, ROW_LOSS_BA, &j->ba_udb);
	}
	if (loss_udb == DB_NONE)
		basis = joint_reading(t, ROW_EST, &loss_udb) ? JOINT_ESTIMATE : JOINT_UNKNOWN;
	if (basis == JOINT_UNKNOWN ||
	    (j->loss_udb != DB_NONE &&
		(basis == JOINT_ESTIMATE || strcmp(j->basis, "estimate") != 0)))
		return;
	j->basis = bases[basis];
	j->loss_udb = j->worst_udb = loss_udb;
	j->shared = basis <= JOINT_ONE_WAY && table_field(t, ROW_LOSS_WITH).n > 0;
	judge(r, j, basis, planned);
}

/* What is wrong with it besides its loss. */
static struct field
read_faults(struct picture *r, size_t planned, const struct plan_record *rec)
{
	struct table *t = r->rows, *faults = r->faults;
	struct field says = { "", 0 };
	int level;

	if (table_rows(faults) > 0 && rec->joint.n > 0 && table_find(faults, &rec->joint))
		do
			if (says.n == 0 && get_word(faults, F_LEVEL, &level) && level == 0)
				says = table_field(faults, F_SAYS);
		while (table_find_next(faults));
	if (says.n > 0)
		return says;
	if (field_is(table_field(t, ROW_TENSION), "fail"))
		return field_of("failed its tension test");
	if (field_is(table_field(t, ROW_PROTECTOR), "fail"))
		return field_of("its protector failed");
	if (planned != PLAN_NONE && plan_amiss(&r->plan, planned, rec) != 0)
		return field_of("recorded otherwise than planned");
	return field_of(planned == PLAN_NONE && r->plan.n > 0 ? "not in the plan" : "");
}

/* The joint of the present row, all but its loss. */
static struct plot_joint
begin_joint(struct picture *r)
{
	struct plot_joint j = { .joint = picture_keep(r, ROW_JOINT),
		.closure = picture_keep(r, ROW_CLOSURE),
		.tray = picture_keep(r, ROW_TRAY),
		.slot = picture_keep(r, ROW_SLOT),
		.basis = "",
		.count = 1,
		.night = picture_keep(r, ROW_SHIFT),
		.loss_udb = DB_NONE,
		.limit_udb = DB_NONE,
		.ab_udb = DB_NONE,
		.ba_udb = DB_NONE,
		.worst_udb = DB_NONE };

	for (int side = 0; side < 2; side++) {
		j.cable[side] = picture_keep(r, ROW_CABLE_A + side);
		j.fibre[side] = picture_keep(r, ROW_FIBRE_A + side);
		j.tube[side] = picture_keep(r, ROW_TUBE_A + side);
		j.colour[side] = picture_keep(r, ROW_COLOUR_A + side);
	}
	if (j.night.n == 0) {
		j.night = picture_keep(r, ROW_MADE_AT);
		j.night.n = j.night.n > 10 ? 10 : j.night.n;
	}
	return j;
}

void
picture_joint(struct picture *r)
{
	struct table *t = r->rows;
	static const struct joint_cols at = { ROW_STANDS, ROW_LOSS, ROW_LOSS_AB, ROW_LOSS_BA };
	struct plan_record rec = { table_field(t, ROW_JOINT), table_field(t, ROW_CLOSURE),
		table_field(t, ROW_TRAY), table_field(t, ROW_SLOT),
		{ { table_field(t, ROW_CABLE_A), table_field(t, ROW_FIBRE_A), { "", 0 } },
		    { table_field(t, ROW_CABLE_B), table_field(t, ROW_FIBRE_B), { "", 0 } } },
		table_field(t, ROW_KIND) };
	struct night_attempt attempt;
	size_t planned = r->plan.n > 0 ? plan_find(&r->plan, &rec) : PLAN_NONE, number;
	enum night_is is;
	struct plot_joint *j;
	bool fresh;

	if (planned != PLAN_NONE)
		table_at(r->plan_rows, planned);
	if (!joint_stands(t, &at) ||
	    (planned != PLAN_NONE && !picture_asked(r, r->plan_rows, false)))
		return;
	if (!picture_asked(r, t, false)) {
		if (planned != PLAN_NONE && r->made[planned] == MADE_NOT)
			r->made[planned] =
			    picture_asked(r, t, true) ? MADE_NOT_READ : MADE_NOT_ASKED;
		return;
	}
	attempt = night_read(t, ROW_ATTEMPT, ROW_SHIFT, ROW_MADE_AT);
	number = number_of(r, &fresh);
	is = night_add(&r->night, number, &attempt);
	r->joints = mem_grow(r->joints, &r->cap, number + 1, sizeof *r->joints);
	j = &r->joints[number];
	if (is == NIGHT_OLDER)
		return;
	if (fresh || is == NIGHT_NEWER) {
		*j = begin_joint(r);
		for (int side = 0; side < 2 && planned != PLAN_NONE; side++) {
			const struct field *has = plan_colours(&r->plan, planned, &rec, side);

			if (has == NULL || j->tube[side].n > 0 || j->colour[side].n > 0)
				continue;
			j->tube[side] = has[0];
			j->colour[side] = has[1];
		}
		j->says = region_keep(&r->texts, read_faults(r, planned, &rec));
		judge(r, j, JOINT_TWO_WAY, planned);
	}
	if (number == r->n)
		r->n++;
	read_loss(r, j, planned);
	if (planned != PLAN_NONE) {
		const struct plan_row *row = &r->plan.rows[planned];

		r->made[planned] = MADE_SHOWN;
		j->closure = row->is.closure;
		j->tray = row->is.tray;
		j->slot = row->is.slot;
	}
}

/* A night's or a closure's sums. */
void
picture_sums(struct picture *r)
{
	struct table *t = r->rows;
	struct plot_joint j = { .joint = picture_keep(r, ROW_WORST),
		.night = picture_keep(r, ROW_SHIFT),
		.basis = "two-way",
		.loss_udb = DB_NONE,
		.limit_udb = DB_NONE,
		.worst_udb = DB_NONE,
		.count = 1 };
	int64_t joints = 1;

	if (!picture_asked(r, t, false))
		return;
	if (j.night.n == 0) {
		j.night = picture_keep(r, ROW_FIRST_AT);
		j.night.n = j.night.n > 10 ? 10 : j.night.n;
	}
	get_whole(t, ROW_JOINTS, &joints);
	get_db(t, ROW_MEAN, &j.loss_udb);
	if (!get_db(t, ROW_MAX, &j.worst_udb))
		j.worst_udb = j.loss_udb;
	j.count = (uint64_t)joints;
	r->joints = mem_grow(r->joints, &r->cap, r->n + 1, sizeof *r->joints);
	r->joints[r->n++] = j;
}

/* What is planned and not made, and fibres that are put away in a slot. */
void
picture_planned(struct picture *r)
{
	static const char *const states[] = { "", "express", "parked", "dead" };
	struct table *t = r->plan_rows;

	for (size_t i = 0; i < r->plan.n; i++) {
		const struct plan_row *row = &r->plan.rows[i];
		struct plot_joint j = { .joint = row->is.joint,
			.closure = row->is.closure,
			.tray = row->is.tray,
			.slot = row->is.slot,
			.basis = "",
			.missing = row->state == PLAN_JOIN && r->made[i] == MADE_NOT,
			.state = field_of(states[row->state]),
			.loss_udb = DB_NONE,
			.limit_udb = DB_NONE,
			.ab_udb = DB_NONE,
			.ba_udb = DB_NONE,
			.worst_udb = DB_NONE,
			.count = 1 };

		table_at(t, i);
		if (r->made[i] == MADE_SHOWN || r->made[i] == MADE_NOT_ASKED ||
		    !picture_asked(r, t, false) || (!j.missing && j.slot.n == 0))
			continue;
		for (int side = 0; side < 2; side++) {
			j.cable[side] = row->is.end[side].cable;
			j.fibre[side] = row->is.end[side].fibre;
			j.tube[side] = row->colours[side][0];
			j.colour[side] = row->colours[side][1];
		}
		r->joints = mem_grow(r->joints, &r->cap, r->n + 1, sizeof *r->joints);
		r->joints[r->n++] = j;
	}
}
