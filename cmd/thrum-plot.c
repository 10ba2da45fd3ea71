/*
 * thrum-plot: one picture of a table: losses, a link, a closure, both ends, a season; as SVG, or in letters.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/num.h"
#include "base/os.h"
#include "fibre/allowance.h"
#include "fibre/budget.h"
#include "fibre/limit.h"
#include "fibre/night.h"
#include "page/plot.h"
#include "table/prog.h"

struct opts {
	const char *kind, *title, *accept;
	struct opt_pairs only;
	int64_t limit_udb, width;
	bool text, ascii;
};

#define AT(member) offsetof(struct opts, member)
#define KINDS      "losses link closure ends season"

static const struct opt opts[] = {
	{ 0, "kind", OPT_TEXT, AT(kind), "KIND",
	    "what to draw: losses, link, closure, ends or season (needed)", .words = KINDS },
	{ 0, "only", OPT_PAIR, AT(only), "COLUMN=VALUE[,VALUE]", "only these rows" },
	{ 0, "title", OPT_TEXT, AT(title), "TEXT", "the picture's title (the kind's own)" },
	{ 0, "accept", OPT_TEXT, AT(accept), "BASIS",
	    "what is enough for a verdict: one-way, or estimate (two-way)", .words = JOINT_BASES },
	{ 0, "limit", OPT_DB, AT(limit_udb), "DB", "what a joint of any kind may lose at most", 0,
	    1000 },
	{ 0, "text", OPT_FLAG, AT(text), NULL, "in letters, for a terminal or a mail" },
	{ 0, "ascii", OPT_FLAG, AT(ascii), NULL, "with --text: in the letters of ASCII" },
	{ 0, "width", OPT_WHOLE, AT(width), "N",
	    "pixels (680), or with --text columns (the terminal's, or 80)", 40, 4000 },
	{ 0 },
};

/* what each kind reads of its rows */
enum {
	JOINT,
	ATTEMPT,
	STANDS,
	CLOSURE,
	TRAY,
	SLOT,
	CABLE_A,
	CABLE_B,
	FIBRE_A,
	FIBRE_B,
	TUBE_A,
	TUBE_B,
	COLOUR_A,
	COLOUR_B,
	KIND,
	RIBBON_A,
	ACCEPT,
	TENSION,
	PROTECTOR,
	SHIFT,
	MADE_AT,
	LOSS_NM,
	WAVELENGTH,
	LOSS_AB,
	LOSS_BA,
	LOSS,
	EST,
	LIMIT,
	JOINTS,
	MEAN,
	MAX,
	WORST,
	FIRST_AT,
	LINK,
	SEQ,
	KM,
	WAYS,
	REF,
	SITE,
	COUNT,
	LENGTH,
	CATEGORY,
	ALLOWANCE
};

static const struct col cols[] = {
	[JOINT] = { "joint", COL_MAY, COL_TEXT },
	[ATTEMPT] = { "attempt", COL_MAY, COL_TEXT },
	[STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },
	[CLOSURE] = { "closure", COL_MAY, COL_TEXT },
	[TRAY] = { "tray", COL_MAY, COL_TEXT },
	[SLOT] = { "slot", COL_MAY, COL_TEXT },
	[CABLE_A] = { "cable_a", COL_MAY, COL_TEXT },
	[CABLE_B] = { "cable_b", COL_MAY, COL_TEXT },
	[FIBRE_A] = { "fibre_a", COL_MAY, COL_TEXT },
	[FIBRE_B] = { "fibre_b", COL_MAY, COL_TEXT },
	[TUBE_A] = { "tube_a", COL_MAY, COL_TEXT },
	[TUBE_B] = { "tube_b", COL_MAY, COL_TEXT },
	[COLOUR_A] = { "colour_a", COL_MAY, COL_TEXT },
	[COLOUR_B] = { "colour_b", COL_MAY, COL_TEXT },
	[KIND] = { "kind", COL_MAY, COL_TEXT },
	[RIBBON_A] = { "ribbon_a", COL_MAY, COL_TEXT },
	[ACCEPT] = { "accept", COL_MAY, COL_WORD, .words = JOINT_BASES },
	[TENSION] = { "tension", COL_MAY, COL_TEXT },
	[PROTECTOR] = { "protector", COL_MAY, COL_TEXT },
	[SHIFT] = { "shift", COL_MAY, COL_TEXT },
	[MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	[LOSS_NM] = { "loss_nm", COL_MAY, COL_NUM, 600, 1700 },
	[WAVELENGTH] = { "wavelength_nm", COL_MAY, COL_NUM, 600, 1700 },
	[LOSS_AB] = { "loss_ab_db", COL_MAY, COL_DB },
	[LOSS_BA] = { "loss_ba_db", COL_MAY, COL_DB },
	[LOSS] = { "loss_db", COL_MAY, COL_DB },
	[EST] = { "est_db", COL_MAY, COL_DB },
	[LIMIT] = { "limit_db", COL_MAY, COL_DB, 0, 1000 },
	[JOINTS] = { "joints", COL_MAY, COL_WHOLE, 0, 1e9 },
	[MEAN] = { "mean_db", COL_MAY, COL_DB, -1000, 1000 },
	[MAX] = { "max_db", COL_MAY, COL_DB, -1000, 1000 },
	[WORST] = { "worst_joint", COL_MAY, COL_TEXT },
	[FIRST_AT] = { "first_at", COL_MAY, COL_TEXT },
	[LINK] = { "link", COL_MAY, COL_TEXT },
	[SEQ] = { "seq", COL_MAY, COL_WHOLE, 0, 1e9 },
	[KM] = { "km", COL_MAY, COL_NUM, -1e5, 1e5 },
	[WAYS] = { "ways", COL_MAY, COL_WHOLE, 2, 1024 },
	[REF] = { "ref", COL_MAY, COL_TEXT },
	[SITE] = { "site", COL_MAY, COL_TEXT },
	[COUNT] = { "count", COL_MAY, COL_WHOLE, 0, 1e6 },
	[LENGTH] = { "length_km", COL_MAY, COL_DB, 0, 100000 },
	[CATEGORY] = { "category", COL_MAY, COL_TEXT },
	[ALLOWANCE] = { "allowance", COL_MAY, COL_TEXT },
	{ NULL },
};

enum { F_JOINT, F_LEVEL, F_SAYS };
static const struct col fault_cols[] = { { "joint", COL_NEED, COL_TEXT },
	{ "level", COL_NEED, COL_WORD, .words = "error warning" }, { "says", COL_NEED, COL_TEXT },
	{ NULL } };
static const int fault_key[] = { F_JOINT, -1 };

enum { B_LINK, B_NM, B_ALLOWED, B_VERDICT };
static const struct col budget_cols[] = { { "link", COL_NEED, COL_TEXT },
	{ "wavelength_nm", COL_MAY, COL_NUM, 600, 1700 },
	{ "allowed_db", COL_NEED, COL_DB, -1000, 1000 }, { "verdict", COL_MAY, COL_TEXT },
	{ NULL } };
static const int budget_key[] = { B_LINK, -1 };

enum { ROWS, PLAN, FAULTS, LIMITS, BUDGETS, ALLOWANCES };

static const struct table_in inputs[] = {
	[ROWS] = { .cols = cols },
	[PLAN] = { "plan", "what is planned: joints that are not made are missing", plan_cols,
	    .flags = IN_HELD },
	[FAULTS] = { "faults", "findings, of which a joint's errors are told", fault_cols,
	    .key = fault_key, .flags = IN_HELD | IN_MANY },
	[LIMITS] = { "limits", "limits in place of the built-in ones", limit_cols,
	    .builtin = &limits_tsv, .key = limit_key, .flags = IN_HELD },
	[BUDGETS] = { "budgets", "what each link may lose", budget_cols, .key = budget_key,
	    .flags = IN_HELD | IN_MANY },
	[ALLOWANCES] = { "allowances", "allowances in place of the built-in ones", allowance_cols,
	    .builtin = &allowances_tsv },
	{ NULL },
};

static const struct table_out outputs[] = { { .flags = OUT_LATER }, { NULL } };

static const struct page page = {
	.name = "thrum-plot",
	.purpose = "a picture of a table",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct limits limits;
	struct plan plan;
	struct allowances allowances;
	struct night night;
	struct region texts;
	struct plot_joint *joints; /* by their numbers in night */
	size_t n, cap, nameless;
	bool *made; /* for each row of the plan */
	double nm;  /* of the losses that are drawn; 0: of any */
	bool other_nm;

	struct plot_link link;
	struct ids seqs;
	struct part {
		struct plot_part is;
		struct budget_item item;
		int64_t seq;
		size_t order;
	} * parts; /* by their numbers in seqs */
	size_t nparts, cap_parts, npart_rows;
	bool fits; /* some row was asked for */
};

static struct field
keep(struct run *r, int col)
{
	return region_keep(&r->texts, table_field(&r->p.in[ROWS], col));
}

/* --- which rows ------------------------------------------------------------------------------ */

/* Whether the present row has what --only asks for in the columns that its table has. */
static bool
is_asked(struct run *r, const struct table *t)
{
	for (size_t i = 0; i < r->o.only.n; i++) {
		const struct opt_pair *pair = &r->o.only.v[i];
		int column = reader_column(t->reader, pair->name);
		struct field f = column >= 0 ? row_field(&t->row, (size_t)column) : field_of("");

		/* an element without a wavelength is there at all of them */
		if (column < 0 || (f.n == 0 && column == t->at[WAVELENGTH] && t == &r->p.in[ROWS]))
			continue;
		if (field_among(pair->value, ',', f) == SIZE_MAX)
			return false;
	}
	r->fits = true;
	return true;
}

static int
check_only(struct run *r)
{
	const struct table *t = &r->p.in[ROWS], *plan = &r->p.in[PLAN];

	for (size_t i = 0; i < r->o.only.n; i++)
		if ((plan->reader == NULL ||
			reader_column(plan->reader, r->o.only.v[i].name) < 0) &&
		    reader_need(t->reader, r->o.only.v[i].name) < 0)
			return -1;
	return 0;
}

/* --- joints ---------------------------------------------------------------------------------- */

/* A number for the joint: by its name, else its link and place, else by nothing. */
static size_t
number_of(struct run *r, bool *fresh)
{
	struct table *t = &r->p.in[ROWS];
	struct field key[2] = { table_field(t, JOINT), field_of("") };
	char nameless[24];
	size_t before = r->night.joints.n, number;

	if (key[0].n == 0 && table_field(t, LINK).n > 0) {
		key[0] = table_field(t, LINK);
		key[1] = table_field(t, KM);
	} else if (key[0].n == 0) {
		key[1].p = nameless;
		key[1].n = (size_t)snprintf(nameless, sizeof nameless, "%zu", ++r->nameless);
	}
	number = night_joint(&r->night, key, key[1].n > 0 ? 2 : 1);
	*fresh = r->night.joints.n > before;
	return number;
}

static void
judge(struct run *r, struct plot_joint *j, enum joint_basis basis, size_t planned)
{
	struct table *t = &r->p.in[ROWS];
	struct limit_case c = { .closure = j->closure,
		.kind = table_field(t, KIND),
		.basis = basis,
		.nm = r->nm,
		.ribbon = table_field(t, RIBBON_A).n > 0,
		.accept = joint_basis_of(r->o.accept),
		.planned_udb = DB_NONE };
	struct limit limit;
	int accept;

	if (get_word(t, ACCEPT, &accept) && (enum joint_basis)accept > c.accept)
		c.accept = (enum joint_basis)accept;
	if (planned != PLAN_NONE)
		limit_plan(&c, &r->plan.rows[planned]);
	limit_judge(&r->limits, &c, &limit);
	j->estimate_counts = limit.accepted;
	/* what loses too much by a doubtful reading is told against the two-way limit */
	if (limit.each_udb != DB_NONE)
		j->limit_udb = limit.each_udb;
	get_db(t, LIMIT, &j->limit_udb);
}

/* The loss of the present row, if it is of the wavelength that is drawn. */
static void
read_loss(struct run *r, struct plot_joint *j, size_t planned)
{
	static const char *const bases[] = { "two-way", "one-way", "estimate", "" };
	static const struct joint_cols at = { STANDS, LOSS, LOSS_AB, LOSS_BA };
	struct table *t = &r->p.in[ROWS];
	enum joint_basis basis;
	int64_t loss_udb = joint_loss(t, &at, &basis);
	double nm = 0;

	if (!get_num(t, LOSS_NM, &nm))
		get_num(t, WAVELENGTH, &nm);
	if (loss_udb != DB_NONE && r->nm == 0)
		r->nm = nm;
	if (loss_udb != DB_NONE && nm > 0 && nm != r->nm) {
		r->other_nm = true;
		loss_udb = DB_NONE;
	} else {
		get_db(t, LOSS_AB, &j->ab_udb);
		get_db(t, LOSS_BA, &j->ba_udb);
	}
	if (loss_udb == DB_NONE)
		basis = joint_reading(t, EST, &loss_udb) ? JOINT_ESTIMATE : JOINT_UNKNOWN;
	if (basis == JOINT_UNKNOWN ||
	    (j->loss_udb != DB_NONE &&
		(basis == JOINT_ESTIMATE || strcmp(j->basis, "estimate") != 0)))
		return;
	j->basis = bases[basis];
	j->loss_udb = j->worst_udb = loss_udb;
	judge(r, j, basis, planned);
}

/* What is wrong with it besides its loss. */
static struct field
read_faults(struct run *r, size_t planned, const struct plan_record *rec)
{
	struct table *t = &r->p.in[ROWS], *faults = &r->p.in[FAULTS];
	struct field says = { "", 0 };
	int level;

	if (table_rows(faults) > 0 && rec->joint.n > 0 && table_find(faults, &rec->joint))
		do
			if (says.n == 0 && get_word(faults, F_LEVEL, &level) && level == 0)
				says = table_field(faults, F_SAYS);
		while (table_find_next(faults));
	if (says.n > 0)
		return says;
	if (field_is(table_field(t, TENSION), "fail"))
		return field_of("failed its tension test");
	if (field_is(table_field(t, PROTECTOR), "fail"))
		return field_of("its protector failed");
	if (planned != PLAN_NONE && plan_amiss(&r->plan, planned, rec) != 0)
		return field_of("recorded otherwise than planned");
	return field_of(planned == PLAN_NONE && r->plan.n > 0 ? "not in the plan" : "");
}

static void
read_joint(struct run *r)
{
	struct table *t = &r->p.in[ROWS];
	static const struct joint_cols at = { STANDS, LOSS, LOSS_AB, LOSS_BA };
	struct plan_record rec = { table_field(t, JOINT), table_field(t, CLOSURE),
		table_field(t, TRAY), table_field(t, SLOT),
		{ { table_field(t, CABLE_A), table_field(t, FIBRE_A), { "", 0 } },
		    { table_field(t, CABLE_B), table_field(t, FIBRE_B), { "", 0 } } } };
	struct night_attempt attempt = { table_field(t, ATTEMPT), table_field(t, SHIFT),
		.timed = false };
	size_t planned = r->plan.n > 0 ? plan_find(&r->plan, &rec) : PLAN_NONE, number;
	enum night_is is;
	struct plot_joint *j;
	bool fresh;

	if (planned != PLAN_NONE)
		table_at(&r->p.in[PLAN], planned);
	if (!joint_stands(t, &at) || !is_asked(r, t) ||
	    (planned != PLAN_NONE && !is_asked(r, &r->p.in[PLAN])))
		return;
	attempt.timed = get_time(t, MADE_AT, &attempt.made);
	number = number_of(r, &fresh);
	is = night_add(&r->night, number, &attempt);
	r->joints = mem_grow(r->joints, &r->cap, number + 1, sizeof *r->joints);
	j = &r->joints[number];
	if (is == NIGHT_OLDER)
		return;
	if (fresh || is == NIGHT_NEWER) {
		*j = (struct plot_joint){ .joint = keep(r, JOINT),
			.closure = keep(r, CLOSURE),
			.tray = keep(r, TRAY),
			.slot = keep(r, SLOT),
			.basis = "",
			.count = 1,
			.night = keep(r, SHIFT),
			.loss_udb = DB_NONE,
			.limit_udb = DB_NONE,
			.ab_udb = DB_NONE,
			.ba_udb = DB_NONE,
			.worst_udb = DB_NONE };
		for (int side = 0; side < 2; side++) {
			j->cable[side] = keep(r, CABLE_A + side);
			j->fibre[side] = keep(r, FIBRE_A + side);
			j->tube[side] = keep(r, TUBE_A + side);
			j->colour[side] = keep(r, COLOUR_A + side);
		}
		if (j->night.n == 0) {
			j->night = keep(r, MADE_AT);
			j->night.n = j->night.n > 10 ? 10 : j->night.n;
		}
		j->says = region_keep(&r->texts, read_faults(r, planned, &rec));
		judge(r, j, JOINT_TWO_WAY, planned);
	}
	if (number == r->n)
		r->n++;
	read_loss(r, j, planned);
	if (planned != PLAN_NONE) {
		const struct plan_row *row = &r->plan.rows[planned];

		r->made[planned] = true;
		j->closure = row->is.closure;
		j->tray = row->is.tray;
		j->slot = row->is.slot;
	}
}

/* A night's or a closure's sums. */
static void
read_sums(struct run *r)
{
	struct table *t = &r->p.in[ROWS];
	struct plot_joint j = { .joint = keep(r, WORST),
		.night = keep(r, SHIFT),
		.basis = "two-way",
		.loss_udb = DB_NONE,
		.limit_udb = DB_NONE,
		.worst_udb = DB_NONE,
		.count = 1 };
	int64_t joints = 1;

	if (!is_asked(r, t))
		return;
	if (j.night.n == 0) {
		j.night = keep(r, FIRST_AT);
		j.night.n = j.night.n > 10 ? 10 : j.night.n;
	}
	get_whole(t, JOINTS, &joints);
	get_db(t, MEAN, &j.loss_udb);
	if (!get_db(t, MAX, &j.worst_udb))
		j.worst_udb = j.loss_udb;
	j.count = (uint64_t)joints;
	r->joints = mem_grow(r->joints, &r->cap, r->n + 1, sizeof *r->joints);
	r->joints[r->n++] = j;
}

/* What is planned and not made, and fibres that are put away in a slot. */
static void
add_planned(struct run *r)
{
	static const char *const states[] = { "", "express", "parked", "dead" };
	struct table *t = &r->p.in[PLAN];
	static const char *const names[2][2] = { { "tube_a", "tube_b" },
		{ "colour_a", "colour_b" } };
	int at[2][2];

	for (int i = 0; i < 4 && r->plan.n > 0; i++)
		at[i / 2][i % 2] = reader_column(t->reader, field_of(names[i / 2][i % 2]));
	for (size_t i = 0; i < r->plan.n; i++) {
		const struct plan_row *row = &r->plan.rows[i];
		struct plot_joint j = { .joint = row->is.joint,
			.closure = row->is.closure,
			.tray = row->is.tray,
			.slot = row->is.slot,
			.basis = "",
			.missing = row->state == PLAN_JOIN,
			.state = field_of(states[row->state]),
			.loss_udb = DB_NONE,
			.limit_udb = DB_NONE,
			.ab_udb = DB_NONE,
			.ba_udb = DB_NONE,
			.worst_udb = DB_NONE,
			.count = 1 };

		table_at(t, i);
		if (r->made[i] || !is_asked(r, t) || (!j.missing && j.slot.n == 0))
			continue;
		for (int side = 0; side < 2; side++) {
			j.cable[side] = row->is.end[side].cable;
			j.fibre[side] = row->is.end[side].fibre;
			if (at[0][side] >= 0)
				j.tube[side] = row_field(&t->row, (size_t)at[0][side]);
			if (at[1][side] >= 0)
				j.colour[side] = row_field(&t->row, (size_t)at[1][side]);
		}
		r->joints = mem_grow(r->joints, &r->cap, r->n + 1, sizeof *r->joints);
		r->joints[r->n++] = j;
	}
}

/* --- a link ---------------------------------------------------------------------------------- */

/* The wavelength's place among those of the picture, PLOT_LINES at the most. SIZE_MAX: err is set. */
static size_t
line_of(struct run *r, double nm)
{
	for (size_t w = 0; w < r->link.n; w++)
		if (r->link.nm[w] == nm)
			return w;
	if (r->link.n == PLOT_LINES) {
		err_set(&r->p.err,
		    "more than %d wavelengths: choose some with --only wavelength_nm=NM",
		    PLOT_LINES);
		return SIZE_MAX;
	}
	r->link.nm[r->link.n] = nm;
	return r->link.n++;
}

/* The part that the present row is of. */
static struct part *
part_of(struct run *r)
{
	struct table *t = &r->p.in[ROWS];
	struct field key[2] = { table_field(t, SEQ), field_of("") };
	char unnumbered[24];
	size_t number, known = r->seqs.n;
	struct part *part;
	int64_t length_ukm = 0, count = 1, ways = 0;
	static const char *const words = KIND_WORDS;

	if (key[0].n == 0) {
		key[1].p = unnumbered;
		key[1].n = (size_t)snprintf(unnumbered, sizeof unnumbered, "%zu", ++r->nameless);
	}
	number = ids_add(&r->seqs, key, key[1].n > 0 ? 2 : 1, NULL);
	r->parts = mem_grow(r->parts, &r->cap_parts, r->seqs.n, sizeof *r->parts);
	part = &r->parts[number];
	if (number < known)
		return part;
	*part = (struct part){ .order = number, .seq = INT64_MAX, .is = { .km = NAN } };
	get_whole(t, SEQ, &part->seq);
	part->is.site = keep(r, SITE);
	part->is.ref = keep(r, REF);
	get_num(t, KM, &part->is.km);
	part->item = (struct budget_item){ .loss_udb = DB_NONE, .length_ukm = DB_NONE };
	part->item.of.kind = (enum kind)field_among(field_of(words), ' ', table_field(t, KIND));
	if (part->item.of.kind > KIND_OTHER)
		table_fail(t, KIND, "not one of: " KIND_WORDS);
	if (get_db(t, LENGTH, &length_ukm))
		part->item.length_ukm = length_ukm;
	get_whole(t, COUNT, &count);
	get_whole(t, WAYS, &ways);
	part->item.count = count;
	part->item.of.ways = ways;
	part->item.of.name = keep(r, ALLOWANCE);
	part->item.of.category = keep(r, CATEGORY);
	part->is.length_km = part->item.of.kind == KIND_FIBRE ? db_to(length_ukm) : 0;
	for (size_t w = 0; w < PLOT_LINES; w++)
		part->is.measured_udb[w] = DB_NONE;
	return part;
}

static void
read_element(struct run *r)
{
	struct table *t = &r->p.in[ROWS];
	struct field link = table_field(t, LINK);
	struct part *part;
	int64_t loss_udb;
	double nm = 0;
	size_t w;

	if (!is_asked(r, t))
		return;
	if (r->npart_rows++ == 0)
		r->link.link = keep(r, LINK);
	if (!field_same(link, r->link.link)) {
		table_fail(t, LINK, "a second link: choose one with --only link=NAME");
		return;
	}
	part = part_of(r);
	if (!joint_reading(t, LOSS, &loss_udb))
		return;
	if (!get_num(t, WAVELENGTH, &nm)) {
		part->item.loss_udb = loss_udb; /* at every wavelength */
		return;
	}
	w = line_of(r, nm);
	if (w != SIZE_MAX)
		part->is.measured_udb[w] = loss_udb;
}

static int
by_seq(const void *a, const void *b)
{
	const struct part *x = a, *y = b;

	if (x->seq != y->seq)
		return x->seq < y->seq ? -1 : 1;
	return (x->order > y->order) - (x->order < y->order);
}

/* What the budgets say of the link: wavelengths, if the elements have none, limits, verdicts. */
static void
read_budgets(struct run *r)
{
	struct table *t = &r->p.in[BUDGETS];
	bool own = r->link.n > 0;
	double nm;

	for (size_t w = 0; w < PLOT_LINES; w++)
		r->link.allowed_udb[w] = DB_NONE;
	if (table_rows(t) > 0 && table_find(t, &r->link.link))
		do {
			size_t w = 0;

			nm = 0;
			get_num(t, B_NM, &nm);
			if (own || r->link.n == PLOT_LINES)
				while (w < r->link.n && r->link.nm[w] != nm)
					w++;
			else
				w = line_of(r, nm);
			if (w >= r->link.n)
				continue;
			get_db(t, B_ALLOWED, &r->link.allowed_udb[w]);
			r->link.verdict[w] = table_field(t, B_VERDICT);
		} while (table_find_next(t));
	if (r->link.n == 0)
		line_of(r, 0);
}

static void
plan_parts(struct run *r, struct plot_part *parts)
{
	for (size_t i = 0; i < r->nparts; i++) {
		struct part *part = &r->parts[i];

		parts[i] = part->is;
		for (size_t w = 0; w < r->link.n; w++) {
			struct budget b = BUDGET_NONE;
			struct budget_item item = part->item;

			if (parts[i].measured_udb[w] == DB_NONE)
				parts[i].measured_udb[w] = item.loss_udb;
			if (parts[i].measured_udb[w] != DB_NONE)
				parts[i].measured_udb[w] *= item.count;
			item.loss_udb = DB_NONE;
			parts[i].planned_udb[w] = parts[i].most_udb[w] = DB_NONE;
			if (budget_add(&b, &item, &r->allowances, r->link.nm[w], 0) != BUDGET_KNOWN)
				continue;
			parts[i].planned_udb[w] = b.sum.typical_udb;
			parts[i].most_udb[w] = b.sum.worst_udb;
		}
	}
}

static void
draw_link(struct run *r, struct plot *plot)
{
	struct plot_part *parts;

	r->nparts = r->seqs.n;
	parts = mem_zeroed(r->nparts + 1, sizeof *parts);
	if (r->nparts > 0)
		qsort(r->parts, r->nparts, sizeof *r->parts, by_seq);
	read_budgets(r);
	plan_parts(r, parts);
	plot_link(plot, &r->link, parts, r->nparts);
	free(parts);
}

/* --- all of it ------------------------------------------------------------------------------- */

static bool
is_kind(const struct run *r, const char *kind)
{
	return strcmp(r->o.kind, kind) == 0;
}

/* The columns that the kind cannot do without. */
static int
check_columns(struct run *r)
{
	static const int losses[] = { LOSS, LOSS_AB, EST, MEAN };
	struct table *t = &r->p.in[ROWS];
	int needed[3] = { -1, -1, -1 };
	bool any = false;

	if (is_kind(r, "link"))
		needed[0] = LINK, needed[1] = KIND;
	else if (is_kind(r, "closure"))
		needed[0] = CLOSURE, needed[1] = SLOT;
	else if (is_kind(r, "ends"))
		needed[0] = LOSS_AB, needed[1] = LOSS_BA;
	else
		for (size_t i = 0; i < sizeof losses / sizeof losses[0]; i++)
			any |= table_has(t, losses[i]);
	if (needed[0] < 0 && !any)
		needed[0] = LOSS;
	for (int i = 0; needed[i] >= 0; i++)
		if (!table_has(t, needed[i]))
			return reader_need(t->reader, field_of(cols[needed[i]].name));
	return 0;
}

static int
open_all(struct run *r)
{
	static const struct opt_pairs none = { NULL, 0, 0 };

	if (r->o.kind == NULL)
		return err_set(&r->p.err, "--kind is needed: one of: " KINDS);
	if (r->o.ascii && !r->o.text)
		return err_set(&r->p.err, "--ascii: only with --text");
	if (!r->o.text && r->o.width >= 0 && r->o.width < 320)
		return err_set(&r->p.err, "--width: a picture has at least 320 pixels");
	if (r->o.limit_udb != DB_NONE && prog_has_input(&r->p, LIMITS))
		return err_set(&r->p.err, "--limit and --limits: give one of them");
	if (prog_open(&r->p) != 0 || check_columns(r) != 0 || check_only(r) != 0)
		return -1;
	if (r->o.limit_udb != DB_NONE)
		limits_one(&r->limits, r->o.limit_udb);
	else if (limits_load(&r->limits, &r->p.in[LIMITS]) != 0)
		return -1;
	if (plan_load(&r->plan, &r->p.in[PLAN], &none) != 0 ||
	    allowances_load(&r->allowances, &r->p.in[ALLOWANCES]) != 0)
		return -1;
	r->made = mem_zeroed(r->plan.n + 1, sizeof *r->made);
	return 0;
}

static void
draw(struct run *r)
{
	struct plot plot = { .text = r->o.text,
		.ascii = r->o.ascii || (r->o.text && prog_output_path(&r->p, 0) == NULL &&
					   os_terminal_is_ascii()),
		.width = r->o.width >= 0 ? (double)r->o.width : 680,
		.title = field_of(r->o.title != NULL ? r->o.title : "") };
	char note[100], nm[32];

	if (r->o.text && r->o.width < 0) {
		size_t width = os_terminal_width();

		plot.width = width == 0 ? 80 : width < 40 ? 40 : (double)width;
	}
	if (r->nm > 0 && !is_kind(r, "link")) {
		struct field f = svg_number(nm, r->nm, 1);

		plot.note.n = (size_t)snprintf(note, sizeof note, "At %.*s nm%s.", (int)f.n, f.p,
		    r->other_nm ? "; other wavelengths are not drawn" : "");
		plot.note.p = note;
	}
	if (is_kind(r, "link"))
		draw_link(r, &plot);
	else
		add_planned(r);
	if (is_kind(r, "losses"))
		plot_losses(&plot, r->joints, r->n);
	else if (is_kind(r, "closure"))
		plot_closure(&plot, r->joints, r->n);
	else if (is_kind(r, "ends"))
		plot_ends(&plot, r->joints, r->n);
	else if (is_kind(r, "season"))
		plot_season(&plot, r->joints, r->n);
	if (r->o.only.n > 0 && !r->fits)
		err_set(&r->p.err, "--only: no row has all of these");
	else
		writer_bytes(prog_writer(&r->p, 0), plot.out.p, plot.out.n);
	bytes_free(&plot.out);
}

int
main(int argc, char **argv)
{
	struct run r = {
		.o = { .limit_udb = DB_NONE, .width = -1 }, .night = NIGHT_NONE, .seqs = IDS_NONE
	};

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && open_all(&r) == 0) {
		bool sums = is_kind(&r, "season") && table_has(&r.p.in[ROWS], MEAN);

		while (prog_next(&r.p))
			if (is_kind(&r, "link"))
				read_element(&r);
			else if (sums)
				read_sums(&r);
			else
				read_joint(&r);
		if (!err_is_set(&r.p.err))
			draw(&r);
	}
	free(r.joints);
	free(r.parts);
	free(r.made);
	ids_free(&r.seqs);
	night_free(&r.night);
	region_free(&r.texts);
	plan_free(&r.plan);
	limit_free(&r.limits);
	allowance_free(&r.allowances);
	return prog_close(&r.p, EXIT_DONE);
}
