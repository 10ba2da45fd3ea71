/*
 * thrum-budget: what each link should lose at each wavelength, from its elements in order, and
 * whether that and what was tested keep to its limits.
 */
#include "fibre/assess.h"
#include "fibre/quick.h"
#include "table/prog.h"

struct opts {
	const char *application, *accept;
	struct budget_limits limits;
	int64_t ageing_udb, repair_udb;
	double sigma;
	struct opt_list wavelengths;
	struct quick quick;
};

#define AT(member) offsetof(struct opts, member)

static const struct opt opts[] = {
	{ 0, "application", OPT_TEXT, AT(application), "NAME",
	    "application, if the links table has none for the link" },
	{ 0, "accept", OPT_TEXT, AT(accept), "WAY",
	    "tests that are enough, two-way or one-way, if the links table says nothing",
	    .words = "two-way one-way" },
	{ 0, "max", OPT_DB, AT(limits.max_udb), "DB",
	    "greatest loss, if the links table has none for the link", -1000, 1000 },
	{ 0, "min", OPT_DB, AT(limits.min_udb), "DB",
	    "least loss, if the links table has none for the link", -1000, 1000 },
	{ 0, "launch", OPT_DB, AT(limits.launch_udbm), "DBM",
	    "lowest power launched, if the links table has none for the link", -200, 100 },
	{ 0, "sensitivity", OPT_DB, AT(limits.sensitivity_udbm), "DBM",
	    "power the receiver needs, if the links table has none", -200, 100 },
	{ 0, "penalty", OPT_DB, AT(limits.penalty_udb), "DB",
	    "path penalty, taken off launch less sensitivity (0)", 0, 100 },
	{ 0, "ageing", OPT_DB, AT(ageing_udb), "DB", "kept back for ageing (0)", 0, 100 },
	{ 0, "repair", OPT_DB, AT(repair_udb), "DB", "kept back for later repairs (0)", 0, 100 },
	{ 0, "sigma", OPT_NUM, AT(sigma), "K",
	    "standard deviations between typical and statistical loss (3)", 0, 10 },
	{ 0, "wavelength", OPT_LIST, AT(wavelengths), "NM[,NM]",
	    "one row a link for each of these" },
	{ 0, "length", OPT_DB, AT(quick.length_ukm), "KM",
	    "one link of so much fibre, in place of any FILE", 0, 100000 },
	{ 0, "sections", OPT_WHOLE, AT(quick.sections), "N",
	    "sections of that fibre (as its joints divide it)", 1, 1000000 },
	{ 0, "joints", OPT_WHOLE, AT(quick.joints), "N", "fusion joints of that link (0)", 0,
	    1000000 },
	{ 0, "connectors", OPT_WHOLE, AT(quick.connectors), "N",
	    "mated connectors of that link (0)", 0, 1000000 },
	{ 0, "splitter", OPT_WHOLE, AT(quick.splitter), "WAYS", "a splitter in that link", 2,
	    1024 },
	{ 0 },
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
	AB,
	BA,
	TESTED_IS,
	ALLOWED,
	MARGIN,
	CD,
	PMD,
	ORL,
	VERDICT,
	SAYS,
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
	[AB] = { "tested_ab_db", COL_OUT, COL_DB, .places = 3 },
	[BA] = { "tested_ba_db", COL_OUT, COL_DB, .places = 3 },
	[TESTED_IS] = { "tested_is", COL_OUT, COL_TEXT },
	[ALLOWED] = { "allowed_db", COL_OUT, COL_DB, .places = 3 },
	[MARGIN] = { "margin_db", COL_OUT, COL_DB, .places = 3 },
	[CD] = { "cd_ps_nm", COL_OUT, COL_DB, .places = 3 },
	[PMD] = { "pmd_ps", COL_OUT, COL_DB, .places = 3 },
	[ORL] = { "orl_db", COL_OUT, COL_DB, .places = 3 },
	[VERDICT] = { "verdict", COL_OUT, COL_TEXT },
	[SAYS] = { "says", COL_OUT, COL_TEXT },
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
	[LINKS] = { "links", "limits of each link", link_cols, .key = link_key,
	    .flags = IN_HELD | IN_MANY },
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
	a->otherwise.limits.reserve_udb = o->ageing_udb + o->repair_udb;
	a->otherwise.one_way = o->accept != NULL && strcmp(o->accept, "one-way") == 0;
	a->otherwise.application = field_of(o->application != NULL ? o->application : "");
	return wavelengths_parse(
	    &a->asked, "--wavelength", o->wavelengths.v, o->wavelengths.n, &r->p.err);
}

/* The one link that the options describe, if they do. */
static int
choose_input(struct run *r)
{
	if (!quick_is_given(&r->o.quick))
		return r->o.quick.sections < 0
			   ? 0
			   : err_set(&r->p.err, "--sections: of what --length?");
	if (prog_has_operands(&r->p) || prog_has_input(&r->p, LINKS) ||
	    prog_has_input(&r->p, TESTS))
		return err_set(&r->p.err,
		    "--length, --joints, --connectors and --splitter make a link of their own: "
		    "no FILE, --links or --tests with them");
	quick_table(&r->o.quick, &r->one_link);
	prog_operands_are(&r->p, "options", bytes_field(&r->one_link));
	return 0;
}

/* The tables beside the elements. */
static int
load_sides(struct run *r)
{
	struct assess *a = &r->a;
	struct table *in = r->p.in;
	char says[APPLICATION_SAYS];

	if (allowances_load(&a->allowances, &in[ALLOWANCES]) != 0 ||
	    applications_load(&a->applications, &in[APPLICATIONS]) != 0)
		return -1;
	if (r->o.application != NULL &&
	    !application_known(&a->applications, a->otherwise.application))
		return err_set(&r->p.err, "--application: %s: '%s'",
		    application_unknown(&a->applications, a->otherwise.application, says),
		    r->o.application);
	a->links = &in[LINKS];
	if (links_check(a->links, &a->applications) != 0)
		return -1;
	return tested_load(&a->tested, &in[TESTS], a->links);
}

static void
write_row(struct run *r, const struct assess_link *link, const struct assess_row *row)
{
	static const char *const verdicts[] = { "pass", "over", "overload", "unknown" };
	static const char *const is[] = { "", "as-computed", "high", "low" };
	struct sheet *out = &r->p.out[0];
	char nm[WAVELENGTHS_TEXT];

	put_text(out, LINK, link->name);
	put_text(out, WAVELENGTH, wavelengths_text(nm, row->wavelength_nm));
	if (link->first < link->end) {
		put_db(out, LENGTH, row->budget.length_ukm);
		put_whole(out, JOINTS, row->budget.joints);
		put_whole(out, CONNECTORS, row->budget.connectors);
		put_whole(out, MEASURED, row->budget.measured);
	}
	put_db(out, TYPICAL, row->sums.typical_udb);
	put_db(out, STAT, row->sums.stat_udb);
	put_db(out, WORST, row->sums.worst_udb);
	put_db(out, AB, row->tested.end[TESTED_AB].loss_udb);
	put_db(out, BA, row->tested.end[TESTED_BA].loss_udb);
	put_text(out, TESTED_IS, field_of(is[row->tested.is]));
	put_db(out, ALLOWED, row->allowed_udb);
	put_db(out, MARGIN, row->margin_udb);
	put_db(out, CD, row->cd_ups_nm);
	put_db(out, PMD, row->pmd_ups);
	put_db(out, ORL, row->orl_udb);
	put_text(out, VERDICT, field_of(verdicts[row->verdict]));
	put_text(out, SAYS, row->says);
	put_text(out, UNKNOWN, row->unknown);
	sheet_row(out);
	if (row->verdict != ASSESS_PASS)
		r->against = true;
}

static void
write_all(struct run *r)
{
	struct assess_link link = ASSESS_FIRST;
	struct err *err = &r->p.err;
	struct assess_row row;

	if (elements_arrange(&r->a.elements, err) != 0)
		return;
	while (assess_next(&r->a, &link, err))
		for (size_t w = 0; w < link.wavelengths.n; w++) {
			if (assess_row(&r->a, &link, w, &row, err) != 0)
				return;
			write_row(r, &link, &row);
		}
}

int
main(int argc, char **argv)
{
	struct run r = {
		.o = { .sigma = 3,
		    .quick = QUICK_NONE,
		    .limits = { .max_udb = DB_NONE,
			.min_udb = DB_NONE,
			.launch_udbm = DB_NONE,
			.sensitivity_udbm = DB_NONE,
			.launch_max_udbm = DB_NONE,
			.receive_max_udbm = DB_NONE,
			.max_ukm = DB_NONE,
			.min_orl_udb = DB_NONE } },
		.a = ASSESS_NONE,
	};

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && read_options(&r) == 0 &&
	    choose_input(&r) == 0 && prog_open(&r.p) == 0 && load_sides(&r) == 0) {
		while (prog_next(&r.p))
			elements_read(&r.a.elements, &r.p.in[ELEMENTS]);
		if (!err_is_set(&r.p.err))
			write_all(&r);
	}
	assess_free(&r.a);
	bytes_free(&r.one_link);
	return prog_close(&r.p, r.against ? EXIT_AGAINST : EXIT_DONE);
}
