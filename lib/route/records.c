#include "route/records.h"

#include <math.h>
#include <stdlib.h>

#include "base/num.h"
#include "fibre/joint.h"

/* the columns that name a fibre at a site */
struct fibre_cols {
	int site, cable, fibre, toward, section; /* -1: there is none */
};

/* --- what all of them read ------------------------------------------------------------------- */

static uint32_t
text_of(struct records *r, struct table *t, int col)
{
	struct field f;

	return col >= 0 && get_text(t, col, &f) ? (uint32_t)ids_add(r->texts, &f, 1, NULL)
						: HOLD_NO_TEXT;
}

static int64_t
whole_of(struct table *t, int col)
{
	int64_t x = HOLD_NO_WHOLE;

	if (col >= 0)
		get_whole(t, col, &x);
	return x;
}

/* Reads which fibre it is; how many spots it can be at. */
static unsigned
spots_of(struct records *r, struct table *t, const struct fibre_cols *at, struct spot spot[2])
{
	struct place place = { .cable = text_of(r, t, at->cable),
		.site = text_of(r, t, at->site),
		.toward = text_of(r, t, at->toward),
		.section = whole_of(t, at->section),
		.fibre = whole_of(t, at->fibre) };
	unsigned n;

	if (place.cable == HOLD_NO_TEXT || place.fibre == HOLD_NO_WHOLE) {
		spot[0] = (struct spot){ SPOT_UNNAMED, 0 };
		return 1;
	}
	n = network_find(&r->net, &place, spot);
	if (n == 0)
		spot[0] = (struct spot){ SPOT_UNREACHED, place.cable };
	return n;
}

/* A finding about the present row, which is the cause of others. */
static uint32_t
add_row(struct records *r, const struct table *t, enum found_rule rule, uint32_t site,
    struct field what, const char *says)
{
	return found_add(&r->found, &(struct found_row){ .rule = rule,
					.joint = FOUND_NONE,
					.link = FOUND_NONE,
					.site = site,
					.because = FOUND_NONE,
					.at_ukm = DB_NONE,
					.file = t->row.file,
					.line = (uint32_t)t->row.line,
					.found = region_keep(&r->found.texts, what),
					.says = says });
}

/* A table that says what there should be names a fibre where no section is: once for each cable. */
static void
miss_section(struct records *r, struct table *t, const struct fibre_cols *at, uint32_t cable)
{
	if (found_at(&r->found, FOUND_CABLE, cable) == FOUND_NONE)
		found_mark(&r->found, FOUND_CABLE, cable,
		    add_row(r, t, RULE_SECTION_MISSING, text_of(r, t, at->site),
			ids_key(r->texts, cable),
			"spans have no such section or fibre of this cable"));
}

/* The one spot of a row of such a table; what is wrong with it is a finding. */
static struct spot
declared_spot(struct records *r, struct table *t, const struct fibre_cols *at)
{
	struct spot spot[2];
	unsigned n = spots_of(r, t, at, spot);

	if (n == 1)
		return spot[0];
	if (n == 0) {
		miss_section(r, t, at, spot[0].fibre);
		return spot[0];
	}
	add_row(r, t, RULE_IN_DOUBT, text_of(r, t, at->site), field_of(""),
	    "the cable goes both ways from here: say toward");
	return (struct spot){ SPOT_DOUBT, r->net.v[spot[0].at >> 2].cable };
}

/* Puts a loss before the others of a list. */
static void
add_loss(struct records *r, uint32_t *list, double nm, int64_t loss_udb, uint32_t with)
{
	r->losses = mem_grow(r->losses, &r->losses_cap, r->losses_n + 1, sizeof *r->losses);
	r->losses[r->losses_n] = (struct record_loss){ (float)nm, (int32_t)loss_udb, *list, with };
	*list = (uint32_t)r->losses_n++;
}

/* --- spans ----------------------------------------------------------------------------------- */

void
records_begin(struct records *r, struct ids *texts)
{
	*r = (struct records){ .texts = texts,
		.joint_names = IDS_NONE,
		.link_names = IDS_NONE,
		.leg_names = IDS_NONE,
		.splitter_names = IDS_NONE };
}

int
records_spans(struct records *r, struct table *spans)
{
	if (network_load(&r->net, spans, r->texts) != 0)
		return -1;
	for (size_t i = network_hole(&r->net, 0); i > 0; i = network_hole(&r->net, i)) {
		const struct section *s = &r->net.v[i];

		table_at(spans, s->row);
		found_mark(&r->found, FOUND_CABLE, s->cable,
		    add_row(r, spans, RULE_SECTION_MISSING, s[-1].site[1],
			ids_key(r->texts, s->cable),
			"spans lack the section between this site and the row's site_a"));
	}
	return 0;
}

/* --- links ----------------------------------------------------------------------------------- */

enum { LINK_NAME, LINK_PAIR, LINK_APART, LINK_LIVE };

const struct col route_link_cols[] = {
	[LINK_NAME] = { "link", COL_NEED, COL_TEXT },
	[LINK_PAIR] = { "pair", COL_MAY, COL_TEXT },
	[LINK_APART] = { "apart", COL_MAY, COL_TEXT },
	[LINK_LIVE] = { "live", COL_MAY, COL_WORD, .words = "yes no" },
	{ NULL },
};

static struct record_link *
link_named(struct records *r, struct field name)
{
	bool fresh;
	size_t i = ids_add(&r->link_names, &name, 1, &fresh);

	r->links = mem_grow(r->links, &r->links_cap, i + 1, sizeof *r->links);
	if (fresh)
		r->links[i] = (struct record_link){ { RECORD_NONE, RECORD_NONE }, HOLD_NO_TEXT,
			HOLD_NO_TEXT, false, false };
	return &r->links[i];
}

int
records_links(struct records *r, struct table *t)
{
	while (table_next(t)) {
		struct record_link *l;
		struct field name;
		uint32_t text;
		int live = 1;

		if (!get_text(t, LINK_NAME, &name))
			return table_fail(t, LINK_NAME, "is empty");
		l = link_named(r, name);
		text = text_of(r, t, LINK_PAIR);
		l->pair = text != HOLD_NO_TEXT ? text : l->pair;
		text = text_of(r, t, LINK_APART);
		l->apart = text != HOLD_NO_TEXT ? text : l->apart;
		get_word(t, LINK_LIVE, &live);
		l->live |= live == 0;
	}
	return t->err != NULL && err_is_set(t->err) ? -1 : 0;
}

/* --- ports ----------------------------------------------------------------------------------- */

enum { PORT_SITE, PORT_PORT, PORT_LINK, PORT_END, PORT_CABLE, PORT_FIBRE, PORT_TOWARD };

const struct col route_port_cols[] = {
	[PORT_SITE] = { "site", COL_NEED, COL_TEXT },
	[PORT_PORT] = { "port", COL_NEED, COL_TEXT },
	[PORT_LINK] = { "link", COL_NEED, COL_TEXT },
	[PORT_END] = { "end", COL_NEED, COL_WORD, .words = "a b" },
	[PORT_CABLE] = { "cable", COL_NEED, COL_TEXT },
	[PORT_FIBRE] = { "fibre", COL_NEED, COL_WHOLE, 1, 100000 },
	[PORT_TOWARD] = { "toward", COL_MAY, COL_TEXT },
	{ NULL },
};

static int
read_port(struct records *r, struct table *t)
{
	static const struct fibre_cols at = { PORT_SITE, PORT_CABLE, PORT_FIBRE, PORT_TOWARD, -1 };
	struct record_port port = { .site = text_of(r, t, PORT_SITE),
		.port = text_of(r, t, PORT_PORT),
		.link = RECORD_NONE,
		.line = (uint32_t)t->row.line,
		.end = END_NONE };
	struct record_link *link;
	struct field name;
	int end = -1;

	if (port.site == HOLD_NO_TEXT || port.port == HOLD_NO_TEXT)
		return table_fail(t, port.site == HOLD_NO_TEXT ? PORT_SITE : PORT_PORT, "is empty");
	r->ports_file = t->row.file;
	port.spot = declared_spot(r, t, &at);
	get_word(t, PORT_END, &end);
	if (get_text(t, PORT_LINK, &name)) {
		link = link_named(r, name);
		port.link = (uint32_t)(link - r->links);
		if (end < 0)
			return table_fail(t, PORT_END, "neither a nor b");
		if (link->port[end] == RECORD_NONE)
			link->port[end] = (uint32_t)r->ports_n;
		else
			add_row(r, t, RULE_PORT_DOUBLE, port.site, name,
			    "a second port of this end of the link");
	}
	r->ports = mem_grow(r->ports, &r->ports_cap, r->ports_n + 1, sizeof *r->ports);
	r->ports[r->ports_n++] = port;
	return 0;
}

int
records_ports(struct records *r, struct table *t)
{
	while (table_next(t))
		if (read_port(r, t) != 0)
			return -1;
	return t->err != NULL && err_is_set(t->err) ? -1 : 0;
}

/* --- splitters ------------------------------------------------------------------------------- */

enum {
	LEG_SPLITTER,
	LEG_KIND,
	LEG_CLOSURE,
	LEG_SIDE,
	LEG_PORT,
	LEG_CABLE,
	LEG_FIBRE,
	LEG_TOWARD,
	LEG_WAYS,
	LEG_FROM,
	LEG_TO,
	LEG_WAVELENGTH,
	LEG_LOSS,
	LEG_SD
};

const struct col route_splitter_cols[] = {
	[LEG_SPLITTER] = { "splitter", COL_NEED, COL_TEXT },
	[LEG_KIND] = { "kind", COL_MAY, COL_WORD, .words = "splitter tap multiplexer" },
	[LEG_CLOSURE] = { "closure", COL_NEED, COL_TEXT },
	[LEG_SIDE] = { "side", COL_NEED, COL_WORD, .words = "in out" },
	[LEG_PORT] = { "port", COL_NEED, COL_TEXT },
	[LEG_CABLE] = { "cable", COL_NEED, COL_TEXT },
	[LEG_FIBRE] = { "fibre", COL_NEED, COL_WHOLE, 1, 100000 },
	[LEG_TOWARD] = { "toward", COL_MAY, COL_TEXT },
	[LEG_WAYS] = { "ways", COL_MAY, COL_WHOLE, 2, 1024 },
	[LEG_FROM] = { "channel_from_nm", COL_MAY, COL_NUM, 600, 1700 },
	[LEG_TO] = { "channel_to_nm", COL_MAY, COL_NUM, 600, 1700 },
	[LEG_WAVELENGTH] = { "wavelength_nm", COL_MAY, COL_NUM, 600, 1700 },
	[LEG_LOSS] = { "loss_db", COL_MAY, COL_DB, -1000, 1000 },
	[LEG_SD] = { "sd_db", COL_MAY, COL_NUM, 0, 1000 },
	{ NULL },
};

/* A leg seen for the first time. */
static int
read_leg(struct records *r, struct table *t, uint32_t splitter, int side)
{
	static const struct fibre_cols at = { LEG_CLOSURE, LEG_CABLE, LEG_FIBRE, LEG_TOWARD, -1 };
	struct record_splitter *s;
	double from_nm = 0, to_nm = 0;
	int64_t ways = 0;
	int kind = 0;

	if (splitter == r->splitters_n) {
		get_word(t, LEG_KIND, &kind);
		r->splitters = mem_grow(
		    r->splitters, &r->splitters_cap, r->splitters_n + 1, sizeof *r->splitters);
		r->splitters[r->splitters_n++] =
		    (struct record_splitter){ .name = text_of(r, t, LEG_SPLITTER),
			    .site = text_of(r, t, LEG_CLOSURE),
			    .only = { RECORD_NONE, RECORD_NONE },
			    .plain = kind == 0 };
	}
	s = &r->splitters[splitter];
	get_whole(t, LEG_WAYS, &ways);
	get_num(t, LEG_FROM, &from_nm);
	get_num(t, LEG_TO, &to_nm);
	r->legs = mem_grow(r->legs, &r->legs_cap, r->legs_n + 1, sizeof *r->legs);
	r->legs[r->legs_n] = (struct record_leg){ .spot = declared_spot(r, t, &at),
		.splitter = splitter,
		.port = text_of(r, t, LEG_PORT),
		.losses = RECORD_NONE,
		.end = END_NONE,
		.next = s->only[side],
		.channel_nm = { (float)from_nm, (float)to_nm },
		.ways = (uint16_t)ways,
		.side = (uint8_t)side };
	s->n[side]++;
	s->only[side] = (uint32_t)r->legs_n++;
	return 0;
}

static int
read_splitter_row(struct records *r, struct table *t)
{
	struct field key[3];
	double nm = 0, sd_db = -1;
	int64_t loss_udb;
	size_t splitter, leg;
	int side = -1;
	bool fresh;

	for (int i = 0; i < 3; i++) {
		static const int cols[] = { LEG_SPLITTER, LEG_SIDE, LEG_PORT };

		if (!get_text(t, cols[i], &key[i]))
			return table_fail(t, cols[i], "is empty");
	}
	if (!get_word(t, LEG_SIDE, &side))
		return -1;
	splitter = ids_add(&r->splitter_names, key, 1, NULL);
	leg = ids_add(&r->leg_names, key, 3, &fresh);
	if (fresh && read_leg(r, t, (uint32_t)splitter, side) != 0)
		return -1;
	get_num(t, LEG_WAVELENGTH, &nm);
	get_num(t, LEG_SD, &sd_db);
	if (get_db(t, LEG_LOSS, &loss_udb)) {
		add_loss(r, &r->legs[leg].losses, nm, loss_udb, HOLD_NO_TEXT);
		r->sds_db = mem_grow(r->sds_db, &r->sds_cap, r->sds_n + 1, sizeof *r->sds_db);
		r->sds_db[r->sds_n++] = (float)sd_db;
	}
	return 0;
}

int
records_splitters(struct records *r, struct table *t)
{
	while (table_next(t))
		if (read_splitter_row(r, t) != 0)
			return -1;
	return t->err != NULL && err_is_set(t->err) ? -1 : 0;
}

/* --- plan ------------------------------------------------------------------------------------ */

enum {
	PLAN_JOINT,
	PLAN_CLOSURE,
	PLAN_CABLE_A,
	PLAN_FIBRE_A,
	PLAN_TOWARD_A,
	PLAN_SECTION_A,
	PLAN_CABLE_B,
	PLAN_FIBRE_B,
	PLAN_TOWARD_B,
	PLAN_SECTION_B,
	PLAN_STATE,
	PLAN_RIBBON,
	PLAN_POSITION
};

const struct col route_plan_cols[] = {
	[PLAN_JOINT] = { "joint", COL_NEED, COL_TEXT },
	[PLAN_CLOSURE] = { "closure", COL_NEED, COL_TEXT },
	[PLAN_CABLE_A] = { "cable_a", COL_NEED, COL_TEXT },
	[PLAN_FIBRE_A] = { "fibre_a", COL_NEED, COL_WHOLE, 1, 100000 },
	[PLAN_TOWARD_A] = { "toward_a", COL_MAY, COL_TEXT },
	[PLAN_SECTION_A] = { "section_a", COL_MAY, COL_WHOLE, 0, 1e9 },
	[PLAN_CABLE_B] = { "cable_b", COL_NEED, COL_TEXT },
	[PLAN_FIBRE_B] = { "fibre_b", COL_NEED, COL_WHOLE, 1, 100000 },
	[PLAN_TOWARD_B] = { "toward_b", COL_MAY, COL_TEXT },
	[PLAN_SECTION_B] = { "section_b", COL_MAY, COL_WHOLE, 0, 1e9 },
	[PLAN_STATE] = { "state", COL_MAY, COL_WORD, .words = "join express parked dead" },
	[PLAN_RIBBON] = { "ribbon_a", COL_MAY, COL_TEXT },
	[PLAN_POSITION] = { "position", COL_MAY, COL_WHOLE, 1, 10000 },
	{ NULL },
};

/* The number of a joint's name; a joint named for the first time is not made. */
static uint32_t
joint_named(struct records *r, struct field name)
{
	bool fresh;
	size_t i = ids_add(&r->joint_names, &name, 1, &fresh);

	r->joints = mem_grow(r->joints, &r->joints_cap, i + 1, sizeof *r->joints);
	if (fresh)
		r->joints[i] = (struct record_joint){ .losses = RECORD_NONE };
	return (uint32_t)i;
}

/*
 * Of a planned row: a fibre that can be on either side is on both where it goes through or is put away; a joint
 * of one fibre with itself joins the two sides.
 */
static void
planned_spots(struct records *r, struct table *t, struct record_planned *row)
{
	static const struct fibre_cols at[2] = {
		{ PLAN_CLOSURE, PLAN_CABLE_A, PLAN_FIBRE_A, PLAN_TOWARD_A, PLAN_SECTION_A },
		{ PLAN_CLOSURE, PLAN_CABLE_B, PLAN_FIBRE_B, PLAN_TOWARD_B, PLAN_SECTION_B },
	};
	struct spot spot[2][2];
	unsigned n[2];

	for (int i = 0; i < 2; i++) {
		n[i] = spots_of(r, t, &at[i], spot[i]);
		row->spot[i] = spot[i][0];
		if (n[i] == 0)
			miss_section(r, t, &at[i], spot[i][0].fibre);
	}
	if (n[0] == 2 && (row->state != PLAN_JOIN || (n[1] == 2 && spot[0][0].at == spot[1][0].at &&
							 spot[0][0].fibre == spot[1][0].fibre)))
		row->spot[1] = spot[0][1];
	else
		for (int i = 0; i < 2; i++)
			if (n[i] > 1)
				row->spot[i] =
				    (struct spot){ SPOT_DOUBT, r->net.v[spot[i][0].at >> 2].cable };
}

static int
read_planned(struct records *r, struct table *t)
{
	struct record_planned row = { .closure = text_of(r, t, PLAN_CLOSURE),
		.joint = RECORD_NONE,
		.ribbon = text_of(r, t, PLAN_RIBBON),
		.position = (int32_t)whole_of(t, PLAN_POSITION),
		.line = (uint32_t)t->row.line };
	struct field name;
	int state = PLAN_JOIN;

	get_word(t, PLAN_STATE, &state);
	row.state = (uint8_t)state;
	r->plan_file = t->row.file;
	if (get_text(t, PLAN_JOINT, &name)) {
		row.joint = joint_named(r, name);
		r->plan_of =
		    mem_grow(r->plan_of, &r->planned_joints, r->joint_names.n, sizeof *r->plan_of);
		r->plan_of[row.joint] = (uint32_t)r->plan_n;
	} else if (state == PLAN_JOIN)
		return table_fail(t, PLAN_JOINT, "is empty");
	planned_spots(r, t, &row);
	if (row.spot[0].at == SPOT_DOUBT || row.spot[1].at == SPOT_DOUBT)
		add_row(r, t, RULE_IN_DOUBT, row.closure, field_of(""),
		    "the cable goes both ways from here: say toward");
	r->plan = mem_grow(r->plan, &r->plan_cap, r->plan_n + 1, sizeof *r->plan);
	r->plan[r->plan_n++] = row;
	return 0;
}

int
records_plan(struct records *r, struct table *t)
{
	r->has_plan = t->reader != NULL;
	while (table_next(t))
		if (read_planned(r, t) != 0)
			return -1;
	r->planned_joints = r->joint_names.n;
	return t->err != NULL && err_is_set(t->err) ? -1 : 0;
}

/* --- joints ---------------------------------------------------------------------------------- */

enum {
	JOINT,
	STATE,
	ATTEMPT,
	STANDS,
	SHIFT,
	CLOSURE,
	CABLE_A,
	FIBRE_A,
	TOWARD_A,
	SECTION_A,
	CABLE_B,
	FIBRE_B,
	TOWARD_B,
	SECTION_B,
	KIND,
	POLISH_A,
	POLISH_B,
	MADE_AT,
	LOSS_NM,
	LOSS_AB,
	LOSS_BA,
	LOSS,
	LOSS_WITH,
	ACCEPT,
	TENSION,
	PROTECTOR
};

const struct col route_joint_cols[] = {
	[JOINT] = { "joint", COL_NEED, COL_TEXT },
	[STATE] = { "state", COL_MAY, COL_WORD, .words = "join express parked dead" },
	[ATTEMPT] = { "attempt", COL_MAY, COL_WHOLE, 0, 1e6 },
	[STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },
	[SHIFT] = { "shift", COL_MAY, COL_TEXT },
	[CLOSURE] = { "closure", COL_NEED, COL_TEXT },
	[CABLE_A] = { "cable_a", COL_NEED, COL_TEXT },
	[FIBRE_A] = { "fibre_a", COL_NEED, COL_WHOLE, 1, 100000 },
	[TOWARD_A] = { "toward_a", COL_MAY, COL_TEXT },
	[SECTION_A] = { "section_a", COL_MAY, COL_WHOLE, 0, 1e9 },
	[CABLE_B] = { "cable_b", COL_NEED, COL_TEXT },
	[FIBRE_B] = { "fibre_b", COL_NEED, COL_WHOLE, 1, 100000 },
	[TOWARD_B] = { "toward_b", COL_MAY, COL_TEXT },
	[SECTION_B] = { "section_b", COL_MAY, COL_WHOLE, 0, 1e9 },
	[KIND] = { "kind", COL_MAY, COL_WORD, .words = "fusion mechanical connector" },
	[POLISH_A] = { "polish_a", COL_MAY, COL_TEXT },
	[POLISH_B] = { "polish_b", COL_MAY, COL_TEXT },
	[MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	[LOSS_NM] = { "loss_nm", COL_MAY, COL_NUM, 600, 1700 },
	[LOSS_AB] = { "loss_ab_db", COL_MAY, COL_DB, -1000, 1000 },
	[LOSS_BA] = { "loss_ba_db", COL_MAY, COL_DB, -1000, 1000 },
	[LOSS] = { "loss_db", COL_MAY, COL_DB, -1000, 1000 },
	[LOSS_WITH] = { "loss_with", COL_MAY, COL_TEXT },
	[ACCEPT] = { "accept", COL_MAY, COL_WORD, .words = JOINT_BASES },
	[TENSION] = { "tension", COL_MAY, COL_TEXT },
	[PROTECTOR] = { "protector", COL_MAY, COL_TEXT },
	{ NULL },
};

/* What was measured of it, if that is enough; an estimate is none. */
static bool
measured(struct table *t, int64_t *loss_udb)
{
	static const struct joint_cols at = { STANDS, LOSS, LOSS_AB, LOSS_BA };
	enum joint_basis basis;
	int accept = JOINT_TWO_WAY;

	get_word(t, ACCEPT, &accept);
	*loss_udb = joint_loss(t, &at, &basis);
	return basis != JOINT_UNKNOWN && (int)basis <= accept;
}

/*
 * Of a fibre that can be on either side: the plan's row of this joint may say which; a joint of one fibre
 * with itself joins the two sides.
 */
static void
settle_doubt(struct records *r, uint32_t joint, struct spot spot[2][2], const unsigned n[2],
    struct spot out[2])
{
	const struct record_planned *plan =
	    joint < r->planned_joints ? &r->plan[r->plan_of[joint]] : NULL;

	if (n[0] == 2 && n[1] == 2 && spot[0][0].at == spot[1][0].at &&
	    spot[0][0].fibre == spot[1][0].fibre) {
		out[1] = spot[0][1];
		return;
	}
	for (int i = 0; i < 2; i++) {
		bool said = false;

		for (int k = 0; n[i] == 2 && plan != NULL && k < 4; k++)
			if (spot_is(plan->spot[k & 1]) &&
			    plan->spot[k & 1].at == spot[i][k >> 1].at) {
				out[i] = spot[i][k >> 1];
				said = true;
			}
		if (n[i] > 1 && !said)
			out[i] = (struct spot){ SPOT_DOUBT, r->net.v[spot[i][0].at >> 2].cable };
	}
}

static uint8_t
polish_flags(struct table *t, int col, uint8_t angled, uint8_t straight)
{
	struct field f;

	if (!get_text(t, col, &f))
		return 0;
	return field_same_word(f, field_of("apc")) || field_same_word(f, field_of("angled"))
		   ? angled
		   : straight;
}

static uint16_t
file_of(struct records *r, const char *file)
{
	if (r->files_n == 0 || r->files[r->files_n - 1] != file) {
		r->files = mem_grow(r->files, &r->files_cap, r->files_n + 1, sizeof *r->files);
		r->files[r->files_n++] = file;
	}
	return (uint16_t)(r->files_n - 1);
}

static void
take_joint(struct records *r, struct table *t, uint32_t number, bool failed)
{
	static const struct fibre_cols at[2] = {
		{ CLOSURE, CABLE_A, FIBRE_A, TOWARD_A, SECTION_A },
		{ CLOSURE, CABLE_B, FIBRE_B, TOWARD_B, SECTION_B },
	};
	struct record_joint *j = &r->joints[number];
	struct spot spot[2][2], settled[2];
	unsigned n[2];
	int kind = 0;

	for (int i = 0; i < 2; i++) {
		n[i] = spots_of(r, t, &at[i], spot[i]);
		settled[i] = spot[i][0];
	}
	if (n[0] > 1 || n[1] > 1)
		settle_doubt(r, number, spot, n, settled);
	get_word(t, KIND, &kind);
	memcpy(j->spot, settled, sizeof settled);
	j->closure = text_of(r, t, CLOSURE);
	j->line = (uint32_t)t->row.line;
	j->file = file_of(r, t->row.file);
	j->kind = (uint8_t)(kind == 0 ? KIND_FUSION : kind == 1 ? KIND_MECHANICAL : KIND_CONNECTOR);
	j->flags = (uint8_t)(JOINT_MADE | (failed ? JOINT_FAILED : 0) |
			     polish_flags(t, POLISH_A, JOINT_ANGLED_A, JOINT_STRAIGHT_A) |
			     polish_flags(t, POLISH_B, JOINT_ANGLED_B, JOINT_STRAIGHT_B));
}

/* A loss takes the place of one that was read at the same wavelength before. */
static void
take_loss(struct records *r, struct table *t, struct record_joint *j)
{
	int64_t loss_udb;
	double nm = 0;
	uint32_t with;

	if (!measured(t, &loss_udb))
		return;
	get_num(t, LOSS_NM, &nm);
	with = text_of(r, t, LOSS_WITH);
	r->has_shared = r->has_shared || with != HOLD_NO_TEXT;
	for (uint32_t i = j->losses; i != RECORD_NONE; i = r->losses[i].next)
		if (r->losses[i].nm == (float)nm) {
			r->losses[i].loss_udb = (int32_t)loss_udb;
			r->losses[i].with = with;
			return;
		}
	add_loss(r, &j->losses, nm, loss_udb, with);
}

int
records_joint(struct records *r, struct table *t)
{
	struct night_attempt attempt;
	struct record_joint *j;
	struct field name;
	enum night_is is;
	uint32_t number;
	int stands = 0, state = PLAN_JOIN;
	bool failed;

	get_word(t, STATE, &state);
	if (state != PLAN_JOIN)
		return 0; /* a plan's row of a fibre that is not joined */
	if (!get_text(t, JOINT, &name))
		return table_fail(t, JOINT, "is empty");
	get_word(t, STANDS, &stands);
	whole_of(t, ATTEMPT); /* anything else is trouble */
	attempt = night_read(t, ATTEMPT, SHIFT, MADE_AT);
	number = joint_named(r, name);
	if (stands == 1) {
		night_add_undone(&r->undone, number, &attempt);
		return 0;
	}
	j = &r->joints[number];
	is = night_add(&r->night, number, &attempt);
	if (is == NIGHT_OLDER)
		return 0;
	/* one of several rows of an attempt is enough */
	failed = field_is(table_field(t, TENSION), "fail") ||
		 field_is(table_field(t, PROTECTOR), "fail") ||
		 (is == NIGHT_SAME && (j->flags & JOINT_FAILED));
	if (is == NIGHT_NEWER || failed)
		j->losses = RECORD_NONE;
	take_joint(r, t, number, failed);
	if (!failed)
		take_loss(r, t, j);
	return err_is_set(t->err) ? -1 : 0;
}

void
records_cut(struct records *r)
{
	for (size_t i = 0; i < r->joint_names.n; i++) {
		struct record_joint *j = &r->joints[i];

		if (!night_later(&r->undone, i, &r->night, i))
			continue;
		j->flags |= JOINT_FAILED;
		j->cut = true;
		j->losses = RECORD_NONE;
	}
}

void
records_free(struct records *r)
{
	network_free(&r->net);
	found_free(&r->found);
	ids_free(&r->joint_names);
	ids_free(&r->link_names);
	ids_free(&r->leg_names);
	ids_free(&r->splitter_names);
	free(r->joints);
	free(r->losses);
	free(r->sds_db);
	free(r->plan);
	free(r->ports);
	free(r->legs);
	free(r->splitters);
	free(r->links);
	free(r->plan_of);
	free(r->files);
	night_free(&r->night);
	night_free(&r->undone);
	*r = (struct records){ .has_plan = false };
}
