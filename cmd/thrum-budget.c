/*
 * thrum-budget: what each link should lose at each wavelength, from its elements in order, and
 * whether that and what was tested keep to its limits.
 */
#include "fibre/assess.h"
#include "table/prog.h"

struct opts {
	const char *application;
	struct budget_limits limits;
	int64_t penalty_udb, ageing_udb, repair_udb;
	double sigma;
	struct opt_list wavelengths;
	int64_t length_ukm, joints, connectors;
};

#define AT(member) offsetof(struct opts, member)

static const struct opt opts[] = {
	{ 0, "application", OPT_TEXT, AT(application), "NAME",
	    "application, if the links table has none for the link" },
	{ 0, "max", OPT_DB, AT(limits.max_udb), "DB",
	    "greatest loss, if the links table has none for the link", -1000, 1000 },
	{ 0, "min", OPT_DB, AT(limits.min_udb), "DB",
	    "least loss, if the links table has none for the link", -1000, 1000 },
	{ 0, "launch", OPT_DB, AT(limits.launch_udbm), "DBM",
	    "power launched, if the links table has none for the link", -200, 100 },
	{ 0, "sensitivity", OPT_DB, AT(limits.sensitivity_udbm), "DBM",
	    "power the receiver needs, if the links table has none", -200, 100 },
	{ 0, "penalty", OPT_DB, AT(penalty_udb), "DB", "kept back for path penalties (0)", 0, 100 },
	{ 0, "ageing", OPT_DB, AT(ageing_udb), "DB", "kept back for ageing (0)", 0, 100 },
	{ 0, "repair", OPT_DB, AT(repair_udb), "DB", "kept back for later repairs (0)", 0, 100 },
	{ 0, "sigma", OPT_NUM, AT(sigma), "K",
	    "standard deviations added for the statistical loss (3)", 0, 10 },
	{ 0, "wavelength", OPT_LIST, AT(wavelengths), "NM[,NM]",
	    "one row a link for each of these" },
	{ 0, "length", OPT_DB, AT(length_ukm), "KM",
	    "one link of so much fibre, in place of any FILE", 0, 100000 },
	{ 0, "joints", OPT_WHOLE, AT(joints), "N", "fusion joints of that link (0)", 0, 1000000 },
	{ 0, "connectors", OPT_WHOLE, AT(connectors), "N", "mated connectors of that link (0)", 0,
	    1000000 },
	{ 0 },
};

enum {
	IN_LINK,
	SEQ,
	KIND,
	WAYS,
	COUNT,
	IN_LENGTH,
	IN_WAVELENGTH,
	LOSS,
	SD,
};

static const struct col element_cols[] = {
	[IN_LINK] = { "link", COL_NEED, COL_TEXT },
	[SEQ] = { "seq", COL_MAY, COL_WHOLE, 0, 1e9 },
	[KIND] = { "kind", COL_NEED, COL_WORD, .words = KIND_WORDS },
	[WAYS] = { "ways", COL_MAY, COL_WHOLE, 2, 1024 },
	[COUNT] = { "count", COL_MAY, COL_WHOLE, 0, 1e6 },
	[IN_LENGTH] = { "length_km", COL_MAY, COL_DB, 0, 100000 },
	[IN_WAVELENGTH] = { "wavelength_nm", COL_MAY, COL_NUM, 600, 1700 },
	[LOSS] = { "loss_db", COL_MAY, COL_DB, -1000, 1000 },
	[SD] = { "sd_db", COL_MAY, COL_NUM, 0, 1000 },
	{ NULL },
};

enum {
	LINK,
	WAVELENGTH,
	LENGTH,
	JOINTS,
	CONNECTORS,
	MEASURED,
	TYPICAL,
	STAT,
	WORST,
	TESTED,
	TESTED_IS,
	ALLOWED,
	MARGIN,
	VERDICT,
	UNKNOWN,
};

static const struct col budget_cols[] = {
	[LINK] = { "link", COL_OUT, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_OUT, COL_TEXT },
	[LENGTH] = { "length_km", COL_OUT, COL_DB, .places = 3 },
	[JOINTS] = { "joints", COL_OUT, COL_WHOLE },
	[CONNECTORS] = { "connectors", COL_OUT, COL_WHOLE },
	[MEASURED] = { "measured", COL_OUT, COL_WHOLE },
	[TYPICAL] = { "typical_db", COL_OUT, COL_DB, .places = 3 },
	[STAT] = { "stat_db", COL_OUT, COL_DB, .places = 3 },
	[WORST] = { "worst_db", COL_OUT, COL_DB, .places = 3 },
	[TESTED] = { "tested_db", COL_OUT, COL_DB, .places = 3 },
	[TESTED_IS] = { "tested_is", COL_OUT, COL_TEXT },
	[ALLOWED] = { "allowed_db", COL_OUT, COL_DB, .places = 3 },
	[MARGIN] = { "margin_db", COL_OUT, COL_DB, .places = 3 },
	[VERDICT] = { "verdict", COL_OUT, COL_TEXT },
	[UNKNOWN] = { "unknown", COL_OUT, COL_TEXT },
	{ NULL },
};

enum { ELEMENTS, ALLOWANCES, APPLICATIONS, LINKS, TESTS };

static const struct table_in inputs[] = {
	[ELEMENTS] = { .cols = element_cols },
	[ALLOWANCES] = { "allowances", "loss to plan with, in place of the built-in table",
	    allowance_cols, .builtin = &allowances_tsv },
	[APPLICATIONS] = { "applications", "applications in place of the built-in table",
	    application_cols, .builtin = &applications_tsv },
	[LINKS] = { "links", "limits of each link", link_cols, .key = link_key, .flags = IN_HELD },
	[TESTS] = { "tests", "insertion-loss tests", tested_cols },
	{ NULL },
};

static const struct table_out outputs[] = { { .cols = budget_cols }, { NULL } };

static const struct page page = {
	.name = "thrum-budget",
	.purpose = "what a link should lose, and whether it keeps to its limits",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct assess a;
	struct bytes one_link; /* the one the options describe */
	bool against;
};

/* What the options say about limits and wavelengths. */
static int
read_options(struct run *r)
{
	struct opts *o = &r->o;
	struct assess *a = &r->a;

	a->k = o->sigma;
	a->otherwise.limits = o->limits;
	a->otherwise.limits.reserve_udb = o->penalty_udb + o->ageing_udb + o->repair_udb;
	a->otherwise.application = field_of(o->application != NULL ? o->application : "");
	return wavelengths_parse(
	    &a->asked, "--wavelength", o->wavelengths.v, o->wavelengths.n, &r->p.err);
}

/* The one link that the options describe, if they do. */
static int
choose_input(struct run *r)
{
	const struct opts *o = &r->o;
	struct bytes *b = &r->one_link;
	char km[DB_FIXED];

	if (o->length_ukm < 0 && o->joints < 0 && o->connectors < 0)
		return 0;
	if (prog_has_operands(&r->p) || prog_has_input(&r->p, LINKS) ||
	    prog_has_input(&r->p, TESTS))
		return err_set(&r->p.err,
		    "--length, --joints and --connectors make a link of their own: "
		    "no FILE, --links or --tests with them");
	bytes_add_text(b, "link\tkind\tcount\tlength_km\n");
	if (o->length_ukm >= 0)
		bytes_add_format(
		    b, "options\tfibre\t\t%.*s\n", (int)db_fixed(km, o->length_ukm, 6), km);
	if (o->joints >= 0)
		bytes_add_format(b, "options\tfusion\t%lld\t\n", (long long)o->joints);
	if (o->connectors >= 0)
		bytes_add_format(b, "options\tconnector\t%lld\t\n", (long long)o->connectors);
	prog_operands_are(&r->p, "options", bytes_field(b));
	return 0;
}

/* The tables beside the elements. */
static int
load_sides(struct run *r)
{
	struct assess *a = &r->a;
	struct table *in = r->p.in;

	if (allowances_load(&a->allowances, &in[ALLOWANCES]) != 0 ||
	    applications_load(&a->applications, &in[APPLICATIONS]) != 0)
		return -1;
	if (r->o.application != NULL &&
	    !application_known(&a->applications, a->otherwise.application))
		return err_set(
		    &r->p.err, "--application: " APPLICATION_UNKNOWN ": '%s'", r->o.application);
	a->links = &in[LINKS];
	if (links_check(a->links, &a->applications) != 0)
		return -1;
	return tested_load(&a->tested, &in[TESTS]);
}

static void
read_row(struct run *r)
{
	struct element_row row = {
		.seq = ELEMENT_NO_SEQ, .loss_udb = DB_NONE, .length_ukm = DB_NONE
	};
	struct table *t = &r->p.in[ELEMENTS];
	struct field link = { NULL, 0 };
	int64_t count = 1, ways = 0;
	int kind = KIND_UNKNOWN;

	if (!get_text(t, IN_LINK, &link))
		table_fail(t, IN_LINK, "empty");
	get_whole(t, SEQ, &row.seq);
	get_word(t, KIND, &kind);
	get_whole(t, WAYS, &ways);
	if (get_whole(t, COUNT, &count) && kind == KIND_FIBRE && count != 1)
		table_fail(t, COUNT, "a fibre is one section: give each a row of its own");
	get_db(t, IN_LENGTH, &row.length_ukm);
	get_num(t, IN_WAVELENGTH, &row.wavelength_nm);
	get_db(t, LOSS, &row.loss_udb);
	get_num(t, SD, &row.sd_db);
	row.count = (uint32_t)count;
	row.ways = (uint16_t)ways;
	row.kind = (uint8_t)kind;
	if (!err_is_set(&r->p.err))
		elements_add(&r->a.elements, link, row);
}

static void
write_row(struct run *r, struct field link, const struct assess_row *row)
{
	static const char *const verdicts[] = { "pass", "over", "overload", "unknown" };
	static const char *const is[] = { "", "as-computed", "high", "low" };
	struct sheet *out = &r->p.out[0];
	char nm[WAVELENGTHS_TEXT];

	put_text(out, LINK, link);
	put_text(out, WAVELENGTH, wavelengths_text(nm, row->wavelength_nm));
	put_db(out, LENGTH, row->budget.length_ukm);
	put_whole(out, JOINTS, row->budget.joints);
	put_whole(out, CONNECTORS, row->budget.connectors);
	put_whole(out, MEASURED, row->budget.measured);
	put_db(out, TYPICAL, row->sums.typical_udb);
	put_db(out, STAT, row->sums.stat_udb);
	put_db(out, WORST, row->sums.worst_udb);
	put_db(out, TESTED, row->tested.mean_udb);
	put_text(out, TESTED_IS, field_of(is[row->tested.is]));
	put_db(out, ALLOWED, row->allowed_udb);
	put_db(out, MARGIN, row->margin_udb);
	put_text(out, VERDICT, field_of(verdicts[row->verdict]));
	put_text(out, UNKNOWN, row->unknown);
	sheet_row(out);
	if (row->verdict != BUDGET_PASS || row->tested.is >= TESTED_HIGH)
		r->against = true;
}

/* All links in order of first appearance, then those of the links table that have no elements. */
static void
write_all(struct run *r)
{
	struct assess *a = &r->a;
	struct err *err = &r->p.err;
	struct sheet *out = &r->p.out[0];
	struct assess_link link;
	struct assess_row row;

	if (elements_arrange(&a->elements, err) != 0)
		return;
	for (size_t i = 0; i < a->elements.n; i = link.end) {
		if (assess_link(a, i, &link, err) != 0)
			return;
		for (size_t w = 0; w < link.wavelengths.n; w++) {
			if (assess_row(a, &link, w, &row, err) != 0)
				return;
			write_row(r, link.name, &row);
		}
	}
	for (size_t i = 0; i < table_rows(a->links); i++) {
		struct field name = links_name(a->links, i);

		if (ids_find(&a->elements.links, &name, 1) != SIZE_MAX)
			continue;
		put_text(out, LINK, name);
		put_text(out, VERDICT, field_of("unknown"));
		put_text(out, UNKNOWN, field_of("no elements"));
		sheet_row(out);
		r->against = true;
	}
}

int
main(int argc, char **argv)
{
	struct run r = {
		.o = { .sigma = 3,
		    .length_ukm = -1,
		    .joints = -1,
		    .connectors = -1,
		    .limits = { .max_udb = DB_NONE,
			.min_udb = DB_NONE,
			.launch_udbm = DB_NONE,
			.sensitivity_udbm = DB_NONE } },
		.a = ASSESS_NONE,
	};

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && read_options(&r) == 0 &&
	    choose_input(&r) == 0 && prog_open(&r.p) == 0 && load_sides(&r) == 0) {
		while (prog_next(&r.p))
			read_row(&r);
		if (!err_is_set(&r.p.err))
			write_all(&r);
	}
	assess_free(&r.a);
	bytes_free(&r.one_link);
	return prog_close(&r.p, r.against ? EXIT_AGAINST : EXIT_DONE);
}
