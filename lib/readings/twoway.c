#include "readings/twoway.h"

#include <math.h>
#include <stdlib.h>

#include "base/num.h"
#include "fibre/link.h"
#include "fibre/wavelengths.h"
#include "readings/fit.h"

enum {
	LINK,
	WAVELENGTH,
	KM,
	KIND,
	JOINT,
	AB,
	BA,
	LOSS,
	SD,
	STEP,
	STEP_SD,
	RATIO,
	RATIO_SD,
	MISMATCH,
	MISMATCH_SD,
	EXCESS,
	EXCESS_SD,
	BEND,
	BEND_SD,
	BASIS,
	WITH,
	SCALE,
	LIMIT,
	READ_AGAIN
};

#define OUT_DB COL_OUT, COL_NUM, .places = 6

const struct col twoway_cols[] = {
	[LINK] = { "link", COL_OUT, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_OUT, COL_TEXT },
	[KM] = { "km", COL_OUT, COL_NUM, .places = 6 },
	[KIND] = { "kind", COL_OUT, COL_TEXT },
	[JOINT] = { "joint", COL_OUT, COL_TEXT },
	[AB] = { "loss_ab_db", OUT_DB },
	[BA] = { "loss_ba_db", OUT_DB },
	[LOSS] = { "loss_db", COL_OUT, COL_DB, .places = 6 },
	[SD] = { "sd_db", OUT_DB },
	[STEP] = { "step_db", OUT_DB },
	[STEP_SD] = { "step_sd_db", OUT_DB },
	[RATIO] = { "mfd_ratio", OUT_DB },
	[RATIO_SD] = { "mfd_ratio_sd", OUT_DB },
	[MISMATCH] = { "mismatch_db", OUT_DB },
	[MISMATCH_SD] = { "mismatch_sd_db", OUT_DB },
	[EXCESS] = { "excess_db", OUT_DB },
	[EXCESS_SD] = { "excess_sd_db", OUT_DB },
	[BEND] = { "bend_db", OUT_DB },
	[BEND_SD] = { "bend_sd_db", OUT_DB },
	[BASIS] = { "basis", COL_OUT, COL_TEXT },
	[WITH] = { "loss_with", COL_OUT, COL_TEXT },
	[SCALE] = { "scale", COL_OUT, COL_NUM, .places = 6 },
	[LIMIT] = { "limit_db", COL_OUT, COL_DB, .places = 6 },
	[READ_AGAIN] = { "read_again", COL_OUT, COL_TEXT },
	{ NULL },
};

/* Half a difference above it is not of two fibres of one category; common practice. */
#define STEP_MOST_DB 0.7

/* A bend is told above so much, and so many standard deviations; common practice. */
#define BEND_LEAST_DB 0.1
enum { BEND_SIGMAS = 3 };

/* 95 % of a normal distribution lie within so many standard deviations. */
#define COVER_95 1.96

/* what is known of a group at one wavelength */
struct judged {
	struct known side[2];
	enum group_read got[2];
	enum { TWO_WAY, ONE_WAY, MERGED, NONE } basis;
	bool known; /* it has a loss */
	struct known loss, bend;
	bool outdated;         /* it was read before a joint of it was made */
	bool shared;           /* the loss is also of something that is no joint: a splitter */
	bool has_bend, single; /* single: one point, so that its step is that of one joint */
	struct loss both;      /* of TWO_WAY and MERGED */
	int64_t loss_udb, limit_udb;
};

/* --- findings --------------------------------------------------------------------------------- */

static struct field
ref_of(const struct twoway *t, const struct member *m)
{
	return m->spot != NULL ? spots_name(t->spots, m->spot->ref) : field_of("");
}

static bool
is_joint(const struct spot *spot)
{
	return spot != NULL && (spot->kind == KIND_FUSION || spot->kind == KIND_MECHANICAL);
}

static struct found_row
finding(const struct twoway *t, enum found_rule rule, double nm, const char *says)
{
	return (
	    struct found_row){ .rule = rule, .link = t->name, .nm = nm, .km = NAN, .says = says };
}

/* A finding of a member, with the row that tells of it and a number. */
static void
found_at(struct twoway *t, enum found_rule rule, double nm, const struct member *m, double found_db,
    const char *wanted, const char *says)
{
	struct found_row row = finding(t, rule, nm, says);
	const struct reading *x = NULL;
	char text[NUM_FIXED];

	if (m->point != NULL)
		x = m->point->from[0] != NULL ? m->point->from[0] : m->point->from[1];
	if (x != NULL) {
		row.file = t->readings->files[x->file];
		row.line = x->line;
	}
	row.joint = ref_of(t, m);
	row.site = m->spot != NULL ? spots_name(t->spots, m->spot->site) : field_of("");
	row.km = m->at_m / 1000;
	row.wanted = wanted;
	if (!isnan(found_db))
		row.found = (struct field){ text, num_fixed(text, found_db, 3) };
	found_reading(t->found, &row);
}

/* Where an open link ends, and at which joint, if one is there within 20 m or 0.5 %; common practice. */
static void
name_place(const struct twoway *t, const struct spot *spots, size_t nspots, struct found_row *row)
{
	double both_m = t->line.lengths_m[0] + t->line.lengths_m[1];
	double end_m = nspots > 0 ? spots[nspots - 1].km * 1000 : NAN;
	double at_m = t->line.lengths_m[0] * end_m / both_m; /* by the elements */
	double least_m = fmax(20, 0.005 * end_m);

	row->km = t->line.lengths_m[0] / 1000;
	for (size_t i = 0; i < nspots; i++)
		if (is_joint(&spots[i]) && fabs(spots[i].km * 1000 - at_m) < least_m) {
			least_m = fabs(spots[i].km * 1000 - at_m);
			row->joint = spots_name(t->spots, spots[i].ref);
			row->site = spots_name(t->spots, spots[i].site);
		}
}

/* A reading that is another one's copy; `found` says whose. */
static void
found_copied(const struct twoway *t, struct found_row *row, const struct trace *of)
{
	struct bytes text = { NULL, 0, 0 };
	char nm[WAVELENGTHS_TEXT];

	bytes_add_field(&text, ids_key(&t->readings->names, of->link));
	bytes_add_text(&text, " ");
	bytes_add_field(&text, t->readings->site[2 * of->link + of->end]);
	bytes_add_text(&text, " ");
	bytes_add_field(&text, wavelengths_text(nm, of->nm));
	row->rule = FOUND_COPIED;
	row->found = bytes_field(&text);
	row->says =
	    "each loss and each place is the same in the reading of this link, site and wavelength: neither counts";
	found_reading(t->found, row);
	bytes_free(&text);
}

/* What can be said of a line before its points are looked at. */
static void
check_line(struct twoway *t, double nm, const struct spot *spots, size_t nspots)
{
	static const char *const faults[] = {
		[LINE_LENGTH] =
		    "the two lengths differ: another index of refraction, or another fibre; nothing is paired",
		[LINE_ROUTE] =
		    "read, and by the elements: another unit or index, another fibre, a wrong length of a span, or the link is open; nothing is paired",
		[LINE_OPEN] =
		    "the two lengths add up to the link's: it is open here (or its spans are written there and back); nothing is paired",
		[LINE_ENDS] =
		    "the points fit the elements from the other end: ends exchanged in the readings or in the links, or two spans; nothing is paired",
		[LINE_NO_END] = "neither reading has a row of kind end; nothing is paired",
		[LINE_CROWDED] = "too many points within reach of one another; nothing is paired",
	};
	const struct line *l = &t->line;
	char lengths[2 * NUM_FIXED + 4];
	struct found_row row;
	size_t n;

	for (int end = 0; end < 2; end++) {
		bool twice = l->view[end].twice;

		row = finding(t, twice ? FOUND_READ_TWICE : FOUND_UNREAD, nm,
		    l->view[end].torn
			? "the latest reading from here has no start or end, an earlier one has: one reading has one tested_at; none counts"
		    : twice
			? "read twice from here, and no tested_at says which is the later: neither counts"
			: "not read from here: points have no loss that is known from both ends");
		row.site = t->site[end];
		if (l->view[end].copied != NULL && !twice) {
			found_copied(t, &row, l->view[end].copied);
			continue;
		}
		if (twice || (!l->view[end].read && !t->one_way))
			found_reading(t->found, &row);
	}
	if (l->fault == LINE_SOUND)
		return;
	row = finding(t,
	    l->fault == LINE_OPEN   ? FOUND_OPEN
	    : l->fault == LINE_ENDS ? FOUND_ENDS
				    : FOUND_LENGTH,
	    nm, faults[l->fault]);
	if (l->fault == LINE_OPEN)
		name_place(t, spots, nspots, &row);
	n = num_fixed(lengths, l->lengths_m[0] / 1000, 4);
	lengths[n++] = ' ';
	n += num_fixed(lengths + n, l->lengths_m[1] / 1000, 4);
	if (l->fault <= LINE_OPEN)
		row.found = (struct field){ lengths, n };
	found_reading(t->found, &row);
}

/* Whether the fibres on either side of a group can be of one category. */
static bool
same_category(const struct member *first, const struct member *last)
{
	return first->spot == NULL || last->spot == NULL ||
	       first->spot->category[0] == HOLD_NO_TEXT ||
	       first->spot->category[0] == last->spot->category[1];
}

/* Whether neither an element nor a panel is in the group that begins at i, though the elements are known. */
static bool
is_astray(const struct twoway *t, size_t i)
{
	const struct member *v = t->groups.v;

	for (size_t k = i; k < v[i].end; k++)
		if (v[k].spot != NULL || v[k].point->panel >= 0)
			return false;
	return t->drawn && t->line.fault == LINE_SOUND; /* else the line's fault says it */
}

/* Whether the group that begins at i loses too much, and no record of a joint is there to be judged. */
static bool
is_over(const struct twoway *t, size_t i, const struct judged *j)
{
	const struct member *v = t->groups.v;

	for (size_t k = i; k < v[i].end; k++)
		if (is_joint(v[k].spot))
			return false;
	return t->drawn && !j->shared && j->known && j->limit_udb != DB_NONE &&
	       j->loss_udb > j->limit_udb;
}

/* The findings of the group that begins at i; what its readings cannot be is said of each member. */
static void
check_group(struct twoway *t, double nm, size_t i, const struct judged *j)
{
	const struct line *l = &t->line;
	const struct member *v = t->groups.v, *m = &v[i];
	const struct reading *x;
	bool both = j->known && j->basis != ONE_WAY;

	for (size_t k = i; k < v[i].end; k++) {
		if (both && j->loss_udb < JOINT_GAIN_UDB)
			found_at(t, FOUND_NEGATIVE, nm, &v[k], j->loss.is, "-0.05 or more",
			    "a joint that gains: wrongly paired, or readings of two fibres");
		if (both && fabs(j->both.step.is) > STEP_MOST_DB &&
		    same_category(m, &v[v[i].end - 1]))
			found_at(t, FOUND_STEP, nm, &v[k], j->both.step.is, "at most 0.7",
			    "the two readings differ more than fibres of one category: wrongly paired, or another fibre");
	}
	if (is_over(t, i, j))
		found_at(t, FOUND_OVER, nm, m, j->loss.is, NULL,
		    is_astray(t, i)
			? "a loss where no element of the link is drawn: in the fibre itself, or the ends are exchanged"
			: "above the limit, and no joint: inspect and clean the connector");
	else if (is_astray(t, i))
		found_at(t, FOUND_ASTRAY, nm, m, NAN, NULL,
		    "no element of the link is drawn here: ends exchanged, a wrong length of a span, or a loss of the fibre itself");
	if (j->has_bend && j->bend.is > BEND_LEAST_DB && j->bend.is > BEND_SIGMAS * j->bend.sd)
		found_at(t, FOUND_BEND, nm, m, j->bend.is, "at most 0.1",
		    "more loss than at 1310 nm: the fibre is bent too tightly");
	if (l->fault == LINE_SOUND && l->view[0].read && l->view[1].read && j->basis == ONE_WAY)
		found_at(t, FOUND_UNPAIRED, nm, m, NAN, NULL,
		    "only one end has read it: no loss that is known from both");
	for (int end = 0; m->point != NULL && m->point->panel >= 0 && end < 2; end++) {
		x = m->point->from[end];
		if (x == NULL || x->loss_udb == DB_NONE || line_cord(l, m->point->panel, x) > 0)
			continue;
		found_at(t, FOUND_CORD, nm, m, NAN, NULL,
		    line_cord(l, m->point->panel, x) == 0
			? "the cord before this panel is shorter than the dead zone: not measured"
			: "how long the cord before this panel is, is not known: taken as read");
		break;
	}
}

/* --- values ----------------------------------------------------------------------------------- */

/* The limit of one member; DB_NONE: none. */
static int64_t
limit_of(struct twoway *t, double nm, const struct member *m, const struct judged *j)
{
	struct limit_case c = { .nm = nm,
		.planned_udb = DB_NONE,
		.basis = j->basis == ONE_WAY ? JOINT_ONE_WAY : JOINT_TWO_WAY,
		.accept = t->one_way ? JOINT_ONE_WAY : JOINT_TWO_WAY };
	struct plan_record record = { .joint = ref_of(t, m) };
	size_t row =
	    m->spot != NULL && record.joint.n > 0 ? plan_find(t->plan, &record) : PLAN_NONE;
	struct limit limit;

	if (m->spot != NULL) {
		c.kind = kind_word((enum kind)m->spot->kind);
		c.closure = spots_name(t->spots, m->spot->site);
	} else if (m->point->panel >= 0 ||
		   (m->point->from[0] != NULL && m->point->from[0]->kind == READING_REFLECTIVE)) {
		c.kind = kind_word(KIND_CONNECTOR);
	}
	if (row != PLAN_NONE)
		limit_plan(&c, &t->plan->rows[row]);
	limit_judge(t->limits, &c, &limit);
	return limit.accepted ? limit.each_udb : DB_NONE;
}

/* The sum of the limits of the group that begins at i; DB_NONE unless all have one. */
static int64_t
group_limit(struct twoway *t, double nm, size_t i, const struct judged *j)
{
	const struct member *v = t->groups.v;
	bool named = false;
	int64_t sum_udb = 0;

	for (size_t k = i; k < v[i].end; k++)
		named |= v[k].spot != NULL;
	for (size_t k = i; k < v[i].end; k++) {
		int64_t each_udb;

		if (named && v[k].spot == NULL)
			continue; /* the reading of those that are named */
		each_udb = limit_of(t, nm, &v[k], j);

		if (each_udb == DB_NONE || db_add(&sum_udb, each_udb) != 0)
			return DB_NONE;
	}
	return sum_udb;
}

/* From which ends the loss is known: losses from other ends differ by the step. */
static unsigned
ends_of(const struct judged *j)
{
	return (j->got[0] == GROUP_WHOLE ? 1u : 0) | (j->got[1] == GROUP_WHOLE ? 2u : 0);
}

/* At 1310 nm a loss is kept, at the longer wavelengths it is what a bend is measured from. */
static void
judge_bend(struct twoway *t, double nm, double at_m, struct judged *j)
{
	double reach_m = 2 * (1 + line_instrument_m(at_m));

	if (!j->known || isnan(at_m))
		return;
	if (nm == 1310) {
		t->at_1310 = mem_grow(t->at_1310, &t->cap_1310, t->n_1310 + 1, sizeof *t->at_1310);
		t->at_1310[t->n_1310++] = (struct twoway_1310){ at_m, j->loss, ends_of(j) };
		return;
	}
	while (t->next_1310 + 1 < t->n_1310 && fabs(t->at_1310[t->next_1310 + 1].at_m - at_m) <=
						   fabs(t->at_1310[t->next_1310].at_m - at_m))
		t->next_1310++;
	if (nm < 1500 || t->next_1310 >= t->n_1310 ||
	    fabs(t->at_1310[t->next_1310].at_m - at_m) > reach_m ||
	    t->at_1310[t->next_1310].ends != ends_of(j))
		return;
	j->has_bend = true;
	j->bend.is = j->loss.is - t->at_1310[t->next_1310].loss.is;
	j->bend.sd = hypot(j->loss.sd, t->at_1310[t->next_1310].loss.sd);
}

/* Whether what was read from an end of the group that begins at i is of joints that stand no longer. */
static bool
is_outdated(const struct twoway *t, size_t i, int end)
{
	const struct member *v = t->groups.v;
	const struct reading *x = v[i].point != NULL ? v[i].point->from[end] : NULL;
	const struct trace *trace = x != NULL ? &t->readings->traces[x->trace] : NULL;
	struct when made;

	for (size_t k = i; k < v[i].end && x != NULL && trace->timed && t->fills != NULL; k++)
		if (is_joint(v[k].spot) && fill_made(t->fills, ref_of(t, &v[k]), &made) &&
		    when_surely_before(&trace->at, &made))
			return true;
	return false;
}

static struct judged
judge(struct twoway *t, double nm, size_t i)
{
	struct judged j = { .basis = NONE, .loss_udb = DB_NONE, .limit_udb = DB_NONE };
	const struct member *m = &t->groups.v[i];
	const struct reading *x;
	bool several = m->end > i + 1;
	int whole = 0;

	for (int end = 0; end < 2; end++) {
		j.got[end] = group_sum(
		    &t->groups, &t->line, i, end, t->noise_db, t->linearity, &j.side[end]);
		if (j.got[end] != GROUP_NONE && is_outdated(t, i, end)) {
			j.got[end] = GROUP_NONE;
			j.outdated = true;
		}
		whole += j.got[end] == GROUP_WHOLE;
		x = m->point != NULL ? m->point->from[end] : NULL;
		several = several || (x != NULL && x->kind == READING_MERGED);
	}
	if (t->line.fault != LINE_SOUND || whole == 0)
		return j;
	j.basis = whole < 2 ? ONE_WAY : several ? MERGED : TWO_WAY;
	j.single = !several;
	if (whole == 2) {
		j.both = loss_of(&j.side[0], &j.side[1]);
		j.loss = j.both.loss;
	} else {
		j.loss = j.side[j.got[0] == GROUP_WHOLE ? 0 : 1];
	}
	j.known = whole == 2 || t->one_way;
	if (!j.known || db_from(j.loss.is, &j.loss_udb) != 0)
		return j;
	j.limit_udb = group_limit(t, nm, i, &j);
	judge_bend(t, nm, m->at_m, &j);
	return j;
}

/* --- rows ------------------------------------------------------------------------------------- */

static void
put_known(struct sheet *out, int col, const struct known *x)
{
	put_num(out, col, x->is);
	put_num(out, col + 1, x->sd);
}

/* The names of the other members of the group that begins at i, by commas. */
static struct field
others(struct twoway *t, size_t i, size_t but)
{
	t->with.n = 0;
	for (size_t k = i; k < t->groups.v[i].end; k++) {
		struct field name = ref_of(t, &t->groups.v[k]);

		if (k == but || name.n == 0)
			continue;
		if (t->with.n > 0)
			bytes_add_text(&t->with, ",");
		bytes_add_field(&t->with, name);
	}
	return bytes_field(&t->with);
}

static void
put_values(struct twoway *t, double nm, const struct judged *j)
{
	static const char *const bases[] = { "two-way", "one-way", "merged", "none" };
	struct sheet *out = t->out;

	for (int end = 0; end < 2; end++)
		if (j->got[end] == GROUP_WHOLE || (j->got[end] == GROUP_PART && j->basis == NONE))
			put_num(out, end == 0 ? AB : BA, j->side[end].is);
	put_text(out, BASIS, field_of(bases[j->basis]));
	if (!isnan(t->line.scale))
		put_num(out, SCALE, t->line.scale);
	if (!j->known)
		return;
	put_db(out, LOSS, j->loss_udb);
	put_num(out, SD, j->loss.sd);
	if (j->basis != ONE_WAY)
		put_known(out, STEP, &j->both.step);
	if (j->basis == TWO_WAY && nm > 1000 && nm != 1300) {
		put_known(out, RATIO, &j->both.ratio);
		put_known(out, MISMATCH, &j->both.mismatch);
		put_known(out, EXCESS, &j->both.excess);
	}
	if (j->has_bend)
		put_known(out, BEND, &j->bend);
	put_db(out, LIMIT, j->limit_udb);
	if (j->limit_udb != DB_NONE)
		put_text(out, READ_AGAIN,
		    field_of(fabs(j->loss.is - db_to(j->limit_udb)) < COVER_95 * j->loss.sd
				 ? "yes"
				 : "no"));
}

static int64_t
udb_of(const struct judged *j, int end)
{
	int64_t udb;

	return j->got[end] != GROUP_WHOLE || db_from(j->side[end].is, &udb) != 0 ? DB_NONE : udb;
}

static void
keep_fill(struct twoway *t, double nm, size_t i, size_t k, const struct judged *j)
{
	const struct spot *spot = t->groups.v[k].spot;
	struct field with = others(t, i, k);
	struct fill one = { .nm = (float)nm,
		.one_way = t->one_way,
		.with = HOLD_NO_TEXT,
		.loss_udb = j->basis == ONE_WAY ? DB_NONE : j->loss_udb };

	if (spot == NULL || spot->ref == HOLD_NO_TEXT || j->basis == NONE || j->shared)
		return;
	one.joint = spot->ref;
	if (with.n > 0)
		one.with = (uint32_t)ids_add(&t->fills->with, &with, 1, NULL);
	one.ab_udb = udb_of(j, spot->reversed);
	one.ba_udb = udb_of(j, !spot->reversed);
	fill_add(t->fills, &one);
}

static void
write_member(struct twoway *t, double nm, size_t i, size_t k, const struct judged *j)
{
	static const char *const kinds[] = { "start", "end", "step", "reflective", "merged" };
	const struct member *m = &t->groups.v[k];
	const struct reading *x = NULL;
	char nm_text[WAVELENGTHS_TEXT];

	if (m->point != NULL)
		x = m->point->from[0] != NULL ? m->point->from[0] : m->point->from[1];
	put_text(t->out, LINK, t->name);
	put_text(t->out, WAVELENGTH, wavelengths_text(nm_text, nm));
	if (!isnan(m->at_m))
		put_num(t->out, KM, m->at_m / 1000);
	put_text(t->out, KIND,
	    m->spot != NULL ? kind_word((enum kind)m->spot->kind)
	    : x != NULL     ? field_of(kinds[x->kind])
			    : field_of(""));
	put_text(t->out, JOINT, ref_of(t, m));
	put_text(t->out, WITH, others(t, i, k));
	put_values(t, nm, j);
	sheet_row(t->out);
	if (t->fills != NULL)
		keep_fill(t, nm, i, k, j);
}

static void
do_group(struct twoway *t, double nm, size_t i)
{
	const struct member *v = t->groups.v;
	struct judged j = judge(t, nm, i);
	bool twice = t->line.view[0].twice || t->line.view[1].twice;
	bool none = j.got[0] == GROUP_NONE && j.got[1] == GROUP_NONE;
	bool sound = t->line.fault == LINE_SOUND; /* else the line's fault says it */

	for (size_t k = i; k < v[i].end && j.outdated; k++)
		if (is_joint(v[k].spot))
			found_at(t, FOUND_OUTDATED, nm, &v[k], NAN, NULL,
			    "read before the attempt that stands: such a reading is not of this joint");
	for (size_t k = i; k < v[i].end && !j.outdated; k++)
		if (is_joint(v[k].spot) && twice)
			found_at(t, FOUND_UNDATED, nm, &v[k], NAN, NULL,
			    "read twice from one end, and no tested_at says which is the later");
		else if (is_joint(v[k].spot) && none && sound)
			found_at(t, FOUND_UNREAD, nm, &v[k], NAN, NULL,
			    "no reading of this joint from either end");
	if (none)
		return;
	for (size_t k = i; k < v[i].end; k++)
		j.shared |= v[k].spot != NULL && v[k].spot->kind >= KIND_SPLITTER;
	check_group(t, nm, i, &j);
	for (size_t k = i; k < v[i].end; k++) {
		if (j.shared && is_joint(v[k].spot))
			found_at(t, FOUND_SHARED, nm, &v[k], NAN, NULL,
			    "a splitter lies inside the same dead zone: the joint's own loss cannot be read");
		write_member(t, nm, i, k, &j);
	}
}

/* The next wavelength above this one at which a link was read; 0: none. */
static double
next_nm(const struct twoway *t, const struct reading *here, size_t n, double above)
{
	double nm = 0;

	for (size_t i = 0; i < n; i++) {
		double x = t->readings->traces[here[i].trace].nm;

		if (x > above && (nm == 0 || x < nm))
			nm = x;
	}
	return nm;
}

static void
one_wavelength(struct twoway *t, struct reading *here, size_t n, double nm,
    const struct spot *spots, size_t nspots, double length_km)
{
	struct link_limits limits = { .one_way = false };

	links_limits(t->links, t->name, nm, &limits);
	t->one_way = limits.one_way;
	t->drawn = nspots > 0;
	t->next_1310 = 0;
	line_make(&t->line, t->readings, here, n, nm);
	line_fit(&t->line, spots, nspots, length_km);
	check_line(t, nm, spots, nspots);
	groups_make(&t->groups, &t->line, spots, nspots, length_km);
	for (size_t i = 0; i < t->groups.n; i = t->groups.v[i].end)
		do_group(t, nm, i);
}

void
twoway_link(struct twoway *t, size_t link)
{
	struct reading *here;
	const struct spot *spots = NULL;
	size_t n = readings_of(t->readings, link, &here), nspots;
	double length_km, nm = 0;

	t->name = ids_key(&t->readings->names, link);
	t->site[0] = t->readings->site[2 * link];
	t->site[1] = t->readings->site[2 * link + 1];
	t->n_1310 = 0;
	nspots = spots_of(t->spots, ids_find_one(&t->spots->links, t->name), &spots, &length_km);
	while ((nm = next_nm(t, here, n, nm)) > 0)
		one_wavelength(t, here, n, nm, spots, nspots, length_km);
}

void
twoway_free(struct twoway *t)
{
	line_free(&t->line);
	groups_free(&t->groups);
	bytes_free(&t->with);
	free(t->at_1310);
}
