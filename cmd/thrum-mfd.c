/*
 * thrum-mfd: what a joint of two single-mode fibres should lose, from their mode-field diameters
 * and from how well their ends meet; and what a reflectometer will show from either side.
 */
#include "base/num.h"
#include "fibre/category.h"
#include "fibre/modefield.h"
#include "table/prog.h"

struct opts {
	const char *side[2]; /* a and b: an MFD in um, or a category */
	struct mode_joint joint;
	double index; /* 0: that of fused silica at the wavelength */
	bool air, by_claddings;
};

static const struct opt opts[] = {
	{ 'a', "side-a", OPT_TEXT, offsetof(struct opts, side[0]), "MFD",
	    "side a: mode-field diameter in um, or fibre category" },
	{ 'b', "side-b", OPT_TEXT, offsetof(struct opts, side[1]), "MFD", "side b: the same" },
	{ 0, "offset", OPT_NUM, offsetof(struct opts, joint.offset_um), "UM",
	    "lateral offset of the cores (0)", 0, 50 },
	{ 0, "tilt", OPT_NUM, offsetof(struct opts, joint.tilt_deg), "DEG",
	    "angle between the fibre axes; not a cleave angle (0)", 0, 10 },
	{ 0, "gap", OPT_NUM, offsetof(struct opts, joint.gap_um), "UM", "gap between the ends (0)",
	    0, 1000 },
	{ 0, "air", OPT_FLAG, offsetof(struct opts, air), NULL,
	    "the ends stand in air, not in something matched to the glass" },
	{ 0, "by-claddings", OPT_FLAG, offsetof(struct opts, by_claddings), NULL,
	    "claddings were aligned, not cores: the worst case has both cores off centre" },
	{ 0, "wavelength", OPT_NUM, offsetof(struct opts, joint.wavelength_nm), "NM",
	    "wavelength (1310)", 600, 1700 },
	{ 0, "index", OPT_NUM, offsetof(struct opts, index), "N",
	    "index of the glass (fused silica at the wavelength)", 1, 2 },
	{ 0 },
};

enum {
	MFD_A,
	MFD_B,
	CATEGORY_A,
	CATEGORY_B,
	OFFSET,
	TILT,
	GAP,
	WAVELENGTH,
	INDEX,
	MISMATCH,
	OFFSET_DB,
	TILT_DB,
	GAP_DB,
	JOINT,
	SEEN_AB,
	SEEN_BA,
	LEAST_AB,
	MOST_AB,
	LEAST_BA,
	MOST_BA,
	WORST,
};

static const struct col cols[] = {
	[MFD_A] = { "mfd_a_um", COL_MAY, COL_NUM, 1, 50 },
	[MFD_B] = { "mfd_b_um", COL_MAY, COL_NUM, 1, 50 },
	[CATEGORY_A] = { "category_a", COL_MAY, COL_TEXT },
	[CATEGORY_B] = { "category_b", COL_MAY, COL_TEXT },
	[OFFSET] = { "offset_um", COL_MAY, COL_NUM, 0, 50 },
	[TILT] = { "tilt_deg", COL_MAY, COL_NUM, 0, 10 },
	[GAP] = { "gap_um", COL_MAY, COL_NUM, 0, 1000 },
	[WAVELENGTH] = { "wavelength_nm", COL_MAY, COL_NUM, 600, 1700 },
	[INDEX] = { "index", COL_MAY, COL_NUM, 1, 2 },
	[MISMATCH] = { "mismatch_db", COL_OUT, COL_NUM, .places = 4 },
	[OFFSET_DB] = { "offset_db", COL_OUT, COL_NUM, .places = 4 },
	[TILT_DB] = { "tilt_db", COL_OUT, COL_NUM, .places = 4 },
	[GAP_DB] = { "gap_db", COL_OUT, COL_NUM, .places = 4 },
	[JOINT] = { "joint_db", COL_OUT, COL_NUM, .places = 4 },
	[SEEN_AB] = { "seen_ab_db", COL_OUT, COL_NUM, .places = 4 },
	[SEEN_BA] = { "seen_ba_db", COL_OUT, COL_NUM, .places = 4 },
	[LEAST_AB] = { "least_ab_db", COL_OUT, COL_NUM, .places = 4 },
	[MOST_AB] = { "most_ab_db", COL_OUT, COL_NUM, .places = 4 },
	[LEAST_BA] = { "least_ba_db", COL_OUT, COL_NUM, .places = 4 },
	[MOST_BA] = { "most_ba_db", COL_OUT, COL_NUM, .places = 4 },
	[WORST] = { "worst_db", COL_OUT, COL_NUM, .places = 4 },
	{ NULL },
};

enum { PAIRS, CATEGORIES };

static const struct table_in inputs[] = {
	[PAIRS] = { .cols = cols },
	[CATEGORIES] = { "categories", "fibre categories in place of the built-in ones",
	    category_cols, .builtin = &categories_tsv, .key = category_key, .flags = IN_HELD },
	{ NULL },
};

static const struct table_out outputs[] = { { .cols = cols, .flags = OUT_FILTER }, { NULL } };

static const struct page page = {
	.name = "thrum-mfd",
	.purpose = "what a joint of two single-mode fibres should lose",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

static int
bad_side(struct prog *p, int side, const char *what, struct field given)
{
	char shown[ERR_SHOWN];

	return err_set(
	    &p->err, "-%c: %s: '%s'", 'a' + side, what, err_show(shown, given.p, given.n));
}

/* -a and -b as far as they can be judged before any row: numbers, and what was meant to be one. */
static int
check_sides(struct prog *p, const struct opts *o)
{
	for (int side = 0; side < 2; side++) {
		struct field given = field_of(o->side[side] != NULL ? o->side[side] : "1");
		double um;

		if (num_parse(given, &um) == 0) {
			if (um < 1 || um > 50)
				return bad_side(p, side, "outside 1 to 50", given);
		} else if (given.n == 0 || strchr("0123456789.,+-", given.p[0]) != NULL)
			return bad_side(p, side, num_fault(given), given);
	}
	return 0;
}

/*
 * The mode field of a side, 0 for a and 1 for b: the row's MFD, else its category, else the option.
 * *by_category says that it is a range. false: not known, or trouble.
 */
static bool
side_mfd(
    struct prog *p, const struct opts *o, int side, double nm, struct mfd *mfd, bool *by_category)
{
	struct table *pairs = &p->in[PAIRS];
	struct field text = field_of(o->side[side] != NULL ? o->side[side] : ""), given = text;
	char why[CATEGORY_SAYS];
	double um;

	if (!get_num(pairs, MFD_A + side, &um)) {
		get_text(pairs, CATEGORY_A + side, &text);
		if (text.n == 0 || err_is_set(&p->err))
			return false;
		if (text.p != given.p || num_parse(text, &um) != 0) {
			*by_category = true;
			if (category_mfd(&p->in[CATEGORIES], text, nm, mfd, why) == 0)
				return true;
			if (text.p != given.p)
				table_fail(pairs, CATEGORY_A + side, why);
			else
				bad_side(p, side, why, given);
			return false;
		}
	}
	*mfd = (struct mfd){ um, { um, um }, 0 };
	return true;
}

/* What any two fibres that the categories allow may lose, and what may be seen of them. */
static void
put_ranges(struct sheet *out, const struct mode_joint *joint, const struct mfd *a,
    const struct mfd *b, bool by_claddings)
{
	struct mode_seen ab = mode_seen(joint, a->range, b->range, 1);
	struct mode_seen ba = mode_seen(joint, a->range, b->range, -1);
	struct mode_joint off = *joint;

	if (by_claddings) {
		off.offset_um += a->concentricity_um + b->concentricity_um;
		ab.most_db = mode_seen(&off, a->range, b->range, 1).most_db;
		ba.most_db = mode_seen(&off, a->range, b->range, -1).most_db;
	}
	put_num(out, LEAST_AB, ab.least_db);
	put_num(out, MOST_AB, ab.most_db);
	put_num(out, LEAST_BA, ba.least_db);
	put_num(out, MOST_BA, ba.most_db);
	put_num(out, WORST, mode_worst_db(&off, a->range, b->range));
}

static void
one_joint(struct prog *p, const struct opts *o)
{
	struct table *pairs = &p->in[PAIRS];
	struct sheet *out = &p->out[0];
	struct mode_joint j = o->joint;
	double step_db;
	bool by_category = false;
	struct mode_losses loss;
	struct mfd a, b;

	get_num(pairs, OFFSET, &j.offset_um);
	get_num(pairs, TILT, &j.tilt_deg);
	get_num(pairs, GAP, &j.gap_um);
	if (get_num(pairs, WAVELENGTH, &j.wavelength_nm) && o->index == 0)
		j.index_glass = mode_silica_index(j.wavelength_nm);
	get_num(pairs, INDEX, &j.index_glass);
	if (!side_mfd(p, o, 0, j.wavelength_nm, &a, &by_category) ||
	    !side_mfd(p, o, 1, j.wavelength_nm, &b, &by_category))
		return;
	j.mfd_a_um = a.nominal_um;
	j.mfd_b_um = b.nominal_um;
	j.index = o->air ? 1 : j.index_glass;

	mode_losses(&j, &loss);
	step_db = mode_step_db(j.mfd_a_um, j.mfd_b_um);
	put_num(out, MISMATCH, loss.mismatch_db);
	put_num(out, OFFSET_DB, loss.offset_db);
	put_num(out, TILT_DB, loss.tilt_db);
	put_num(out, GAP_DB, loss.gap_db + loss.faces_db);
	put_num(out, JOINT, loss.joint_db);
	put_num(out, SEEN_AB, loss.joint_db + step_db);
	put_num(out, SEEN_BA, loss.joint_db - step_db);
	if (by_category)
		put_ranges(out, &j, &a, &b, o->by_claddings);
}

/* A table of one joint, as the options give it. */
static void
one_row(const struct opts *o, struct bytes *text)
{
	double um;
	bool number[2];

	for (int i = 0; i < 2; i++)
		number[i] = num_parse(field_of(o->side[i]), &um) == 0;
	bytes_add_format(text, "%s\t%s\n%s\t%s\n", cols[number[0] ? MFD_A : CATEGORY_A].name,
	    cols[number[1] ? MFD_B : CATEGORY_B].name, o->side[0], o->side[1]);
}

/* Without files, both sides given are one joint. */
static void
choose_input(struct prog *p, const struct opts *o, struct bytes *text)
{
	if (o->side[0] == NULL || o->side[1] == NULL || prog_has_operands(p))
		return;
	one_row(o, text);
	prog_operands_are(p, "options", bytes_field(text));
}

/* Each side needs a column or an option. */
static int
check_columns(struct prog *p, const struct opts *o)
{
	const struct table *pairs = &p->in[PAIRS];

	for (int i = 0; i < 2; i++)
		if (o->side[i] == NULL && !table_has(pairs, CATEGORY_A + i) &&
		    !table_has(pairs, MFD_A + i))
			return reader_need(pairs->reader, field_of(cols[MFD_A + i].name));
	return categories_check(&p->in[CATEGORIES]);
}

int
main(int argc, char **argv)
{
	struct opts o = { .joint = { .wavelength_nm = 1310 } };
	struct bytes text = { 0 };
	struct prog p;

	(void)argc;
	if (prog_begin(&p, &page, &o, argv) == 0 && check_sides(&p, &o) == 0) {
		choose_input(&p, &o, &text);
		o.joint.index_glass =
		    o.index > 0 ? o.index : mode_silica_index(o.joint.wavelength_nm);
		if (prog_open(&p) == 0 && check_columns(&p, &o) == 0)
			while (prog_next(&p))
				one_joint(&p, &o);
	}
	bytes_free(&text);
	return prog_close(&p, EXIT_DONE);
}
