#include "fibre/schedule.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/num.h"
#include "fibre/modefield.h"
#include "fibre/plan.h"

/* --- the tables ------------------------------------------------------------------------------ */

/* key: of those by which a table is known as a plan */
#define SCHEDULE_COLS(role, key)                                                                   \
	{                                                                                          \
		[SCHEDULE_JOINT] = { "joint", role, COL_TEXT },                                    \
		[SCHEDULE_CLOSURE] = { "closure", key, COL_TEXT },                                 \
		[SCHEDULE_TRAY] = { "tray", role, COL_TEXT },                                      \
		[SCHEDULE_SLOT] = { "slot", role, COL_TEXT },                                      \
		[SCHEDULE_CABLE_A] = { "cable_a", key, COL_TEXT },                                 \
		[SCHEDULE_FIBRE_A] = { "fibre_a", key, COL_TEXT },                                 \
		[SCHEDULE_TOWARD_A] = { "toward_a", role, COL_TEXT },                              \
		[SCHEDULE_SECTION_A] = { "section_a", role, COL_TEXT },                            \
		[SCHEDULE_CABLE_B] = { "cable_b", role, COL_TEXT },                                \
		[SCHEDULE_FIBRE_B] = { "fibre_b", role, COL_TEXT },                                \
		[SCHEDULE_TOWARD_B] = { "toward_b", role, COL_TEXT },                              \
		[SCHEDULE_SECTION_B] = { "section_b", role, COL_TEXT },                            \
		[SCHEDULE_STATE] = { "state", key, COL_TEXT },                                     \
		[SCHEDULE_KIND] = { "kind", role, COL_TEXT },                                      \
		[SCHEDULE_POLISH_A] = { "polish_a", role, COL_TEXT },                              \
		[SCHEDULE_POLISH_B] = { "polish_b", role, COL_TEXT },                              \
		[SCHEDULE_TUBE_A] = { "tube_a", role, COL_TEXT },                                  \
		[SCHEDULE_COLOUR_A] = { "colour_a", role, COL_TEXT },                              \
		[SCHEDULE_TUBE_B] = { "tube_b", role, COL_TEXT },                                  \
		[SCHEDULE_COLOUR_B] = { "colour_b", role, COL_TEXT },                              \
		[SCHEDULE_RIBBON_A] = { "ribbon_a", role, COL_TEXT },                              \
		[SCHEDULE_RIBBON_B] = { "ribbon_b", role, COL_TEXT },                              \
		[SCHEDULE_POSITION] = { "position", role, COL_TEXT },                              \
		[SCHEDULE_EXPECTED] = { "expected_db", role, COL_TEXT },                           \
		[SCHEDULE_LIMIT] = { "limit_db", role, COL_TEXT }, { NULL },                       \
	}

const struct col plan_out_cols[] = SCHEDULE_COLS(COL_OUT, COL_OUT);
const struct col plan_was_cols[] = SCHEDULE_COLS(COL_MAY, COL_NEED);

enum {
	JOINT,
	CLOSURE,
	CABLE_A,
	TOWARD_A,
	SECTION_A,
	FIBRES_A,
	POLISH_A,
	CABLE_B,
	TOWARD_B,
	SECTION_B,
	FIBRES_B,
	POLISH_B,
	TRAY,
	SLOT,
	TRAY_SLOTS,
	KIND,
	RIBBON_SIZE,
	STATE,
	LIMIT,
	A_SIDE = CABLE_B - CABLE_A
};

const struct col schedule_cols[] = {
	[JOINT] = { "joint", COL_MAY, COL_TEXT },
	[CLOSURE] = { "closure", COL_NEED, COL_TEXT },
	[CABLE_A] = { "cable_a", COL_NEED, COL_TEXT },
	[TOWARD_A] = { "toward_a", COL_MAY, COL_TEXT },
	[SECTION_A] = { "section_a", COL_MAY, COL_TEXT },
	[FIBRES_A] = { "fibres_a", COL_NEED, COL_TEXT },
	[POLISH_A] = { "polish_a", COL_MAY, COL_TEXT },
	[CABLE_B] = { "cable_b", COL_MAY, COL_TEXT },
	[TOWARD_B] = { "toward_b", COL_MAY, COL_TEXT },
	[SECTION_B] = { "section_b", COL_MAY, COL_TEXT },
	[FIBRES_B] = { "fibres_b", COL_MAY, COL_TEXT },
	[POLISH_B] = { "polish_b", COL_MAY, COL_TEXT },
	[TRAY] = { "tray", COL_MAY, COL_TEXT },
	[SLOT] = { "slot", COL_MAY, COL_WHOLE, 1, 100000 },
	[TRAY_SLOTS] = { "tray_slots", COL_MAY, COL_WHOLE, 1, 100000 },
	[KIND] = { "kind", COL_MAY, COL_WORD, .words = "fusion mechanical connector" },
	[RIBBON_SIZE] = { "ribbon_size", COL_MAY, COL_WHOLE, 2, COLOUR_POSITIONS_MOST },
	[STATE] = { "state", COL_MAY, COL_WORD, .words = PLAN_STATES },
	[LIMIT] = { "limit_db", COL_MAY, COL_DB, 0, 1000 },
	{ NULL },
};

enum { SITE, TRAYS, SLOTS };

const int schedule_site_key[] = { SITE, -1 };

const struct col schedule_site_cols[] = {
	[SITE] = { "site", COL_NEED, COL_TEXT },
	[TRAYS] = { "trays", COL_MAY, COL_WHOLE, 1, 100000 },
	[SLOTS] = { "slots", COL_MAY, COL_WHOLE, 1, 100000 },
	{ NULL },
};

/* Whether a cable has more than one section, so that it matters which. */
static bool
has_sections(struct table *spans)
{
	for (size_t i = 0; i < table_rows(spans); i++) {
		table_at(spans, i);
		if (table_find_next(spans))
			return true;
	}
	return false;
}

bool
schedule_makes(const struct schedule *s, int plan_column)
{
	switch (plan_column) {
	case SCHEDULE_TOWARD_A:
	case SCHEDULE_TOWARD_B:
		return table_has(s->rows, TOWARD_A) || table_has(s->rows, TOWARD_B);
	case SCHEDULE_SECTION_A:
	case SCHEDULE_SECTION_B:
		return table_has(s->rows, SECTION_A) || table_has(s->rows, SECTION_B) ||
		       (table_has(s->spans, SPAN_SECTION) && has_sections(s->spans));
	case SCHEDULE_POLISH_A:
	case SCHEDULE_POLISH_B:
		return table_has(s->rows, POLISH_A) || table_has(s->rows, POLISH_B);
	case SCHEDULE_RIBBON_A:
	case SCHEDULE_RIBBON_B:
	case SCHEDULE_POSITION:
		return table_has(s->rows, RIBBON_SIZE);
	case SCHEDULE_EXPECTED:
		return table_has(s->spans, SPAN_CATEGORY);
	case SCHEDULE_LIMIT:
		return table_has(s->rows, LIMIT);
	default:
		return true;
	}
}

/* --- fields of the plan ---------------------------------------------------------------------- */

static void
set(struct schedule *s, int c, struct field f)
{
	s->cell[c].n = 0;
	bytes_add_field(&s->cell[c], f);
}

static void
set_whole(struct schedule *s, int c, int64_t n)
{
	s->cell[c].n = 0;
	bytes_add_format(&s->cell[c], "%lld", (long long)n);
}

struct field
schedule_cell(const struct schedule *s, int c)
{
	return bytes_field(&s->cell[c]);
}

/* --- findings -------------------------------------------------------------------------------- */

static void
report(struct schedule *s, int col, const char *rule, struct field what, const char *says)
{
	findings_add(s->found, &(struct finding){ .file = s->rows->row.file,
				   .line = s->rows->row.line,
				   .column = table_name(s->rows, col),
				   .joint = schedule_cell(s, SCHEDULE_JOINT),
				   .rule = rule,
				   .error = true,
				   .found = what,
				   .says = says });
}

static void
report_whole(struct schedule *s, int col, const char *rule, int64_t n, const char *says)
{
	s->shown.n = 0;
	bytes_add_format(&s->shown, "%lld", (long long)n);
	report(s, col, rule, bytes_field(&s->shown), says);
}

/* The same, and where it was used before. */
static void
report_again(struct schedule *s, int col, const char *rule, struct field what, const char *says,
    const struct schedule_place *before)
{
	s->says.n = 0;
	bytes_add_text(&s->says, says);
	if (before->file == s->rows->row.file && before->line == s->rows->row.line)
		bytes_add_text(&s->says, " in this row");
	else
		bytes_add_format(
		    &s->says, " by %s:%llu", before->file, (unsigned long long)before->line);
	bytes_add(&s->says, "", 1);
	report(s, col, rule, what, s->says.p);
}

/* --- what is used already -------------------------------------------------------------------- */

/* Where the key was used first, or NULL. */
static const struct schedule_place *
used(struct schedule_used *u, const struct field *key, size_t n)
{
	size_t id = ids_find(&u->ids, key, n);

	return id != SIZE_MAX ? &u->v[id] : NULL;
}

/* The same, and uses it now. */
static const struct schedule_place *
use(const struct schedule *s, struct schedule_used *u, const struct field *key, size_t n)
{
	bool fresh;
	size_t id = ids_add(&u->ids, key, n, &fresh);

	if (!fresh)
		return &u->v[id];
	u->v = mem_grow(u->v, &u->cap, id + 1, sizeof *u->v);
	u->v[id] = (struct schedule_place){ s->rows->row.file, s->rows->row.line };
	return NULL;
}

/* One fibre end: once joined, parked or dead; a fibre that runs through has no end here. */
static void
use_end(struct schedule *s, int side, struct field number)
{
	const struct schedule_side *x = &s->side[side];
	char section[32];
	struct field key[4] = { s->closure, x->name, number, x->toward };
	const struct schedule_place *before;
	int col = FIBRES_A + side * A_SIDE;

	if (x->section != SIZE_MAX) {
		snprintf(section, sizeof section, "%zu", x->section);
		key[3] = field_of(section);
	}
	if (s->state == PLAN_EXPRESS) {
		before = used(&s->joined, key, 3);
		if (before != NULL)
			report_again(s, col, "express-joined", number,
			    "runs through, but its end is used", before);
		before = use(s, &s->express, key, 3);
	} else {
		before = used(&s->express, key, 3);
		if (before != NULL)
			report_again(s, col, "express-joined", number,
			    "its end is used, but it runs through", before);
		use(s, &s->joined, key, 3);
		before = use(s, &s->ends, key, 4);
	}
	if (before != NULL)
		report_again(s, col, "fibre-twice", number, "the fibre is used already", before);
}

/* --- a row: cables and sites ----------------------------------------------------------------- */

/* Whether the present section of spans begins or ends here, and leads where the row says. */
static bool
section_fits(const struct schedule *s, const struct schedule_side *x, struct field section)
{
	struct field a = table_field(s->spans, SPAN_SITE_A), b = table_field(s->spans, SPAN_SITE_B);

	if (section.n > 0 && !field_same(section, table_field(s->spans, SPAN_SECTION)))
		return false;
	if (field_same(a, s->closure))
		return x->toward.n == 0 || field_same(b, x->toward);
	return field_same(b, s->closure) && (x->toward.n == 0 || field_same(a, x->toward));
}

/* Finds the section of this side, so far as the spans know it. */
static void
find_section(struct schedule *s, int side)
{
	struct schedule_side *x = &s->side[side];
	struct field section = table_field(s->rows, SECTION_A + side * A_SIDE);
	size_t fits = 0;

	x->section = SIZE_MAX;
	if (x->name.n == 0 || !table_has(s->spans, SPAN_CABLE))
		return;
	if (!table_find(s->spans, &x->name)) {
		report(s, CABLE_A + side * A_SIDE, "cable-unknown", x->name,
		    "no such cable in the spans table");
		return;
	}
	do
		if (section_fits(s, x, section) && fits++ == 0)
			x->section = table_place(s->spans);
	while (table_find_next(s->spans));
	if (fits == 0)
		report(s, CABLE_A + side * A_SIDE, "not-met", x->name,
		    x->toward.n > 0 ? "no section of the cable leads from this closure to there"
				    : "the cable does not come to this closure");
	if (fits > 1 && s->state != PLAN_EXPRESS)
		report(s, TOWARD_A + side * A_SIDE, "toward-missing", x->name,
		    "more than one section of the cable comes here: say toward which site");
	if (fits > 1)
		x->section = SIZE_MAX;
}

/* The greatest fibre of the list against what the cable has. */
static void
check_beyond(struct schedule *s, int side)
{
	const struct schedule_side *x = &s->side[side];
	int64_t most, greatest = 0;

	if (x->section == SIZE_MAX)
		return;
	table_at(s->spans, x->section);
	if (!get_whole(s->spans, SPAN_FIBRES, &most))
		return;
	for (size_t i = 0; i < x->fibres.n; i++)
		if (x->fibres.v[i] > greatest)
			greatest = x->fibres.v[i];
	if (greatest <= most)
		return;
	s->says.n = 0;
	bytes_add_format(&s->says, "the cable has %lld fibres", (long long)most);
	bytes_add(&s->says, "", 1);
	report_whole(s, FIBRES_A + side * A_SIDE, "fibre-beyond", greatest, s->says.p);
}

static void
read_side(struct schedule *s, int side)
{
	struct schedule_side *x = &s->side[side];
	int at = side * A_SIDE, in_plan = side * (SCHEDULE_CABLE_B - SCHEDULE_CABLE_A);
	const char *why = numbers_read(&x->fibres, table_field(s->rows, FIBRES_A + at));

	if (why != NULL) {
		table_fail(s->rows, FIBRES_A + at, why);
		return;
	}
	x->name = table_field(s->rows, CABLE_A + at);
	x->toward = table_field(s->rows, TOWARD_A + at);
	x->cable = cables_find(s->cables, x->name, s->rows->err);
	if (x->cable == NULL)
		return;
	if (x->name.n == 0 && x->fibres.n > 0)
		table_fail(s->rows, CABLE_A + at, "empty, and there are fibres");
	find_section(s, side);
	check_beyond(s, side);
	set(s, SCHEDULE_CABLE_A + in_plan, x->name);
	set(s, SCHEDULE_TOWARD_A + in_plan, x->toward);
	set(s, SCHEDULE_SECTION_A + in_plan, table_field(s->rows, SECTION_A + at));
	if (x->section != SIZE_MAX) {
		table_at(s->spans, x->section);
		set(s, SCHEDULE_SECTION_A + in_plan, table_field(s->spans, SPAN_SECTION));
	}
	set(s, SCHEDULE_POLISH_A + side, table_field(s->rows, POLISH_A + at));
}

/* Trays and slots, by the row and by the site. */
static void
read_place(struct schedule *s)
{
	struct field tray = table_field(s->rows, TRAY);
	int64_t there = 0;

	s->tray_counts = num_whole(tray, &s->tray) == 0;
	s->slot = 1;
	s->slots = s->trays = 0;
	s->full = false;
	get_whole(s->rows, SLOT, &s->slot);
	set(s, SCHEDULE_TRAY, tray);
	if (table_has(s->sites, SITE)) {
		if (!table_find(s->sites, &s->closure)) {
			report(s, CLOSURE, "site-unknown", s->closure,
			    "no such site in the sites table");
		} else {
			get_whole(s->sites, TRAYS, &s->trays);
			get_whole(s->sites, SLOTS, &there);
		}
	}
	if (!get_whole(s->rows, TRAY_SLOTS, &s->slots))
		s->slots = there;
	if (s->state != PLAN_JOIN || tray.n == 0)
		return;
	if (there > 0 && s->slots > there)
		report_whole(s, TRAY_SLOTS, "tray-full", s->slots,
		    "more than the slots of a tray at this site");
	if (s->slots > 0 && s->slot > s->slots)
		report_whole(s, SLOT, "tray-full", s->slot, "behind the last slot of a tray");
}

/* --- a row: losses --------------------------------------------------------------------------- */

/* The mode field of a side by the category of its section. */
static bool
side_mfd(struct schedule *s, int side, struct mfd *mfd)
{
	struct field category;
	char why[CATEGORY_SAYS];

	if (s->side[side].section == SIZE_MAX)
		return false;
	table_at(s->spans, s->side[side].section);
	return get_text(s->spans, SPAN_CATEGORY, &category) &&
	       category_mfd(s->categories, category, s->wavelength_nm, mfd, why) == 0;
}

/* What a joint of this kind should lose: the allowance, and the mismatch of two mode fields. */
static void
set_expected(struct schedule *s, int kind)
{
	static const enum kind kinds[] = { KIND_FUSION, KIND_MECHANICAL, KIND_CONNECTOR };
	struct allowance_of of = { .kind = kinds[kind] };
	const struct allowance *allowance;
	char text[NUM_FIXED];
	struct mfd a, b;

	s->cell[SCHEDULE_EXPECTED].n = 0;
	if (s->state != PLAN_JOIN || !side_mfd(s, 0, &a) || !side_mfd(s, 1, &b))
		return;
	allowance = allowance_find(s->allowances, &of, s->wavelength_nm);
	if (allowance == NULL)
		return;
	set(s, SCHEDULE_EXPECTED,
	    (struct field){ text,
		num_fixed(text,
		    db_to(allowance->typical_udb) + mode_mismatch_db(a.nominal_um, b.nominal_um),
		    3) });
}

/* Three decimals, or as many as there are. */
static void
set_limit(struct schedule *s)
{
	char text[DB_FIXED];
	int64_t limit_udb;

	s->cell[SCHEDULE_LIMIT].n = 0;
	if (get_db(s->rows, LIMIT, &limit_udb))
		set(s, SCHEDULE_LIMIT,
		    (struct field){
			text, db_fixed(text, limit_udb, limit_udb % 1000 == 0 ? 3 : 6) });
}

/* --- a row ----------------------------------------------------------------------------------- */

static void
check_lengths(struct schedule *s)
{
	size_t a = s->side[0].fibres.n, b = s->side[1].fibres.n;

	s->shown.n = 0;
	bytes_add_format(&s->shown, "%zu and %zu", a, b);
	if (s->state == PLAN_JOIN && a != b)
		report(s, FIBRES_B, "unequal", bytes_field(&s->shown),
		    "the two sides have not as many fibres");
	if (s->state != PLAN_JOIN && (b > 0 || s->side[1].name.n > 0))
		report(s, CABLE_B, "side-b", s->side[1].name, "only a joint has a side b");
	if (a == 0 && b == 0)
		table_fail(s->rows, FIBRES_A, "no fibres");
	s->n = a > b ? a : b;
	s->i = 0;
	s->fibres += s->n;
	if (s->fibres > SCHEDULE_MOST)
		table_fail(s->rows, FIBRES_A,
		    "more than 10000000 fibres up to here: give the closures in parts");
}

bool
schedule_row(struct schedule *s)
{
	struct field state = field_of("join"), kind_word = field_of("fusion");
	int kind = 0;

	s->cell[SCHEDULE_JOINT].n = 0;
	s->state = PLAN_JOIN;
	s->ribbon = 0;
	s->closure = table_field(s->rows, CLOSURE);
	s->first_joint = table_field(s->rows, JOINT);
	if (s->closure.n == 0)
		table_fail(s->rows, CLOSURE, "empty");
	get_word(s->rows, STATE, &s->state);
	get_text(s->rows, STATE, &state);
	get_word(s->rows, KIND, &kind);
	get_text(s->rows, KIND, &kind_word);
	get_whole(s->rows, RIBBON_SIZE, &s->ribbon);
	for (int side = 0; side < 2 && !err_is_set(s->rows->err); side++)
		read_side(s, side);
	if (err_is_set(s->rows->err))
		return false;
	check_lengths(s);
	read_place(s);
	set_expected(s, kind);
	set(s, SCHEDULE_CLOSURE, s->closure);
	set(s, SCHEDULE_STATE, state);
	set(s, SCHEDULE_KIND, s->state == PLAN_JOIN ? kind_word : field_of(""));
	set_limit(s);
	return !err_is_set(s->rows->err);
}

/* --- a fibre --------------------------------------------------------------------------------- */

/* The tray and slot of the present fibre; a ribbon takes one slot. */
static void
place_fibre(struct schedule *s)
{
	struct field key[3];
	const struct schedule_place *before;

	if (s->state != PLAN_JOIN || s->cell[SCHEDULE_TRAY].n == 0) {
		s->cell[SCHEDULE_SLOT].n = 0;
		return;
	}
	if (s->i > 0 && (s->ribbon == 0 || s->i % (size_t)s->ribbon == 0)) {
		s->slot++;
		if (s->slots > 0 && s->slot > s->slots && s->tray_counts) {
			s->tray++;
			s->slot = 1;
		}
	} else if (s->i > 0) {
		return;
	}
	if (s->tray_counts)
		set_whole(s, SCHEDULE_TRAY, s->tray);
	set_whole(s, SCHEDULE_SLOT, s->slot);
	if (!s->full && s->tray_counts && s->trays > 0 && s->tray > s->trays) {
		s->full = true;
		report_whole(s, TRAY, "closure-full", s->tray, "the site has not so many trays");
	}
	if (!s->full && !s->tray_counts && s->i > 0 && s->slots > 0 && s->slot > s->slots) {
		s->full = true;
		report_whole(s, TRAY, "tray-full", s->slot,
		    "behind the last slot of the tray, and which is the next is not known");
	}
	key[0] = s->closure;
	key[1] = schedule_cell(s, SCHEDULE_TRAY);
	key[2] = schedule_cell(s, SCHEDULE_SLOT);
	before = use(s, &s->slots_used, key, 3);
	if (before != NULL) {
		s->shown.n = 0;
		bytes_add_format(&s->shown, "tray %.*s, slot %.*s", (int)key[1].n, key[1].p,
		    (int)key[2].n, key[2].p);
		report_again(s, SLOT, "slot-twice", bytes_field(&s->shown),
		    "the slot is taken already", before);
	}
}

/* The digits at the end of a name. */
static size_t
digits_behind(struct field name)
{
	size_t n = 0;

	while (n < name.n && num_is_digit(name.p[name.n - 1 - n]))
		n++;
	return n;
}

/* Adds a name whose last digits are counted up by so much: J-099 and 1 are J-100, J-99 and 1 too. */
static void
add_counted(struct bytes *b, struct field name, size_t digits, size_t by)
{
	size_t first = name.n - digits, carry = by;

	for (size_t i = name.n; i-- > first;)
		carry = (carry + (size_t)(name.p[i] - '0')) / 10;
	bytes_add(b, name.p, first);
	if (carry > 0)
		bytes_add_format(b, "%zu", carry);
	bytes_add(b, name.p + first, digits);
	for (size_t i = b->n, carried = by; i-- > b->n - digits; carried /= 10) {
		carried += (size_t)(b->p[i] - '0');
		b->p[i] = (char)('0' + carried % 10);
	}
}

/*
 * The joint's name: the row's, counted up from fibre to fibre; else what it is, closure, cable and
 * fibre. Either stays as it is when other rows come and go.
 */
static void
name_joint(struct schedule *s)
{
	struct bytes *b = &s->cell[SCHEDULE_JOINT];
	size_t digits = digits_behind(s->first_joint);
	int side = s->i < s->side[0].fibres.n ? 0 : 1;
	const struct schedule_side *x = &s->side[side];
	const struct schedule_place *before;
	struct field name;

	b->n = 0;
	if (s->state != PLAN_JOIN)
		return;
	if (s->first_joint.n > 0 && digits == 0 && s->i == 1)
		report(s, JOINT, "joint-name", s->first_joint,
		    "no number at its end, by which the other joints of the row could be counted");
	if (s->first_joint.n > 0 && (digits > 0 || s->i == 0)) {
		add_counted(b, s->first_joint, digits, s->i);
	} else {
		bytes_add_list(b, (struct field[]){ s->closure, x->name }, 2, ':');
		bytes_add_format(b, ":%lld", (long long)x->fibres.v[s->i]);
		if (x->toward.n > 0) {
			bytes_add_text(b, ":");
			bytes_add_field(b, x->toward);
		}
	}
	name = bytes_field(b);
	before = use(s, &s->joints, &name, 1);
	if (before != NULL)
		report_again(s, JOINT, "joint-twice", name, "the name is used already", before);
}

/* All fibres that go into the machine together lie in one ribbon. */
static void
check_ribbon(struct schedule *s, int side, int64_t fibre)
{
	const struct numbers *f = &s->side[side].fibres;
	size_t first = s->i - s->i % (size_t)s->ribbon;

	if (s->i > first && (f->v[first] - 1) / s->ribbon != (fibre - 1) / s->ribbon)
		report_whole(s, FIBRES_A + side * A_SIDE, "ribbon-split", fibre,
		    "not in one ribbon with the fibres it is joined with at once");
}

static void
set_fibre(struct schedule *s, int side)
{
	struct schedule_side *x = &s->side[side];
	int column = SCHEDULE_FIBRE_A + side * (SCHEDULE_FIBRE_B - SCHEDULE_FIBRE_A);
	int tube = SCHEDULE_TUBE_A + side * (SCHEDULE_TUBE_B - SCHEDULE_TUBE_A);
	int64_t fibre;

	s->cell[column].n = s->cell[tube].n = s->cell[tube + 1].n = 0;
	s->cell[SCHEDULE_RIBBON_A + side].n = 0;
	if (s->i >= x->fibres.n)
		return;
	fibre = x->fibres.v[s->i];
	set_whole(s, column, fibre);
	if (!cable_tube(x->cable, fibre, &s->cell[tube]) ||
	    !cable_colour(x->cable, fibre, &s->cell[tube + 1]))
		report_whole(s, FIBRES_A + side * A_SIDE, "colour-unknown", fibre,
		    "the order of colours does not reach so far");
	if (s->ribbon > 0) {
		check_ribbon(s, side, fibre);
		set_whole(s, SCHEDULE_RIBBON_A + side, (fibre - 1) / s->ribbon + 1);
		if (side == 0)
			set_whole(s, SCHEDULE_POSITION, (fibre - 1) % s->ribbon + 1);
	}
	use_end(s, side, schedule_cell(s, column));
}

bool
schedule_fibre(struct schedule *s)
{
	if (s->i >= s->n || err_is_set(s->rows->err))
		return false;
	name_joint(s);
	place_fibre(s);
	s->cell[SCHEDULE_POSITION].n = 0;
	set_fibre(s, 0);
	set_fibre(s, 1);
	s->i++;
	return true;
}

/* --------------------------------------------------------------------------------------------- */

static void
free_used(struct schedule_used *u)
{
	ids_free(&u->ids);
	free(u->v);
}

void
schedule_free(struct schedule *s)
{
	for (int c = 0; c < SCHEDULE_COLUMNS; c++)
		bytes_free(&s->cell[c]);
	bytes_free(&s->says);
	bytes_free(&s->shown);
	numbers_free(&s->side[0].fibres);
	numbers_free(&s->side[1].fibres);
	free_used(&s->ends);
	free_used(&s->joined);
	free_used(&s->express);
	free_used(&s->slots_used);
	free_used(&s->joints);
}
