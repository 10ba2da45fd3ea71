/*
 * thrum-check: the records of joints, or any other table, against a table of rules. What is wrong
 * comes out as a table of findings; or good rows pass and faulty ones are set aside.
 */
#include "fibre/joint_rule.h"
#include "fibre/plan_check.h"
#include "table/prog.h"
#include "table/summary.h"

struct opts {
	bool strict, pass, summary;
	const char *accept;
	struct opt_pairs only;
};

static const struct opt opts[] = {
	{ 0, "strict", OPT_FLAG, offsetof(struct opts, strict), NULL, "every warning is an error" },
	{ 0, "pass", OPT_FLAG, offsetof(struct opts, pass), NULL,
	    "write the rows without an error, not the findings" },
	{ 0, "summary", OPT_FLAG, offsetof(struct opts, summary), NULL,
	    "write one row for each rule, not the findings" },
	{ 0, "accept", OPT_TEXT, offsetof(struct opts, accept), "BASIS",
	    "what is enough to judge a loss: one-way, or estimate (two-way)",
	    .words = JOINT_BASES },
	{ 0, "only", OPT_PAIR, offsetof(struct opts, only), "COLUMN=VALUE[,VALUE]",
	    "only these rows of the plan are due" },
	{ 0 },
};

/* For --help only: what the built-in rules read. */
#define MAY(name)                                                                                  \
	{                                                                                          \
		name, COL_MAY                                                                      \
	}
static const struct col cols[] = { MAY("joint"), MAY("cable_a"), MAY("fibre_a"), MAY("cable_b"),
	MAY("fibre_b"), MAY("closure"), MAY("tray"), MAY("slot"), MAY("jointer"), MAY("splicer"),
	MAY("cleaver"), MAY("note"), MAY("attempt"), MAY("stands"), MAY("kind"), MAY("colour_a"),
	MAY("colour_b"), MAY("tube_a"), MAY("tube_b"), MAY("coating_a_um"), MAY("coating_b_um"),
	MAY("mfd_a_um"), MAY("mfd_b_um"), MAY("cleave_a_deg"), MAY("cleave_b_deg"), MAY("ribbon_a"),
	MAY("ribbon_b"), MAY("est_db"), MAY("tension"), MAY("protector"), MAY("sleeve_mm"),
	MAY("heat_s"), MAY("blade_n"), MAY("arcs_n"), MAY("made_at"), MAY("shift"), MAY("loss_nm"),
	MAY("loss_db"), MAY("loss_ab_db"), MAY("loss_ba_db"), MAY("toward_a"), MAY("toward_b"),
	MAY("position"), MAY("accept"), MAY("loss_with"), MAY("category_a"), MAY("category_b"),
	{ NULL } };

static const struct col finding_cols[] = {
	{ "file", COL_OUT },
	{ "line", COL_OUT },
	{ "column", COL_OUT },
	{ "joint", COL_OUT },
	{ "rule", COL_OUT },
	{ "level", COL_OUT },
	{ "found", COL_OUT },
	{ "wanted", COL_OUT },
	{ "says", COL_OUT },
	{ NULL },
};

static const struct col aside_cols[] = {
	{ "aside_file", COL_OUT },
	{ "aside_line", COL_OUT },
	{ "aside_why", COL_OUT },
	{ NULL },
};

enum { RECORDS, PLAN, RULES, ALSO, LIMITS };

static const struct table_in inputs[] = {
	[RECORDS] = { .cols = cols, .flags = IN_MISSHAPEN | IN_LATER },
	[PLAN] = { "plan", "what is planned, to be compared with the records", plan_cols,
	    .flags = IN_HELD },
	[RULES] = { "rules", "rules in place of the built-in ones", rule_cols,
	    .builtin = &rules_tsv },
	[ALSO] = { "also", "more rules; one of the same name takes the other's place", rule_cols },
	[LIMITS] = { "limits", "limits of losses in place of the built-in ones", limit_cols,
	    .builtin = &limits_tsv, .key = limit_key, .flags = IN_HELD },
	{ NULL },
};

enum { PASSED, ASIDE, FINDINGS };

static const struct table_out outputs[] = {
	[PASSED] = { .flags = OUT_FILTER | OUT_LATER },
	[ASIDE] = { "set-aside", "with --pass: where the other rows go", aside_cols,
	    .flags = OUT_LATER },
	[FINDINGS] = { "findings", "with --pass: where the findings go", finding_cols,
	    .flags = OUT_LATER },
	{ NULL },
};

static const struct page page = {
	.name = "thrum-check",
	.purpose = "records against a table of rules",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

/* of the records, to be compared with a plan */
static const char *const places[] = { "closure", "tray", "slot", "cable_a", "fibre_a", "toward_a",
	"cable_b", "fibre_b", "toward_b", "kind" };
enum { PLACES = sizeof places / sizeof places[0] };

struct check {
	struct prog p;
	struct opts o;
	struct rules rules;
	struct joint_rules nights;
	struct limits limits;
	struct plan plan;
	struct plan_check against;
	size_t places[PLACES];
	struct findings findings;
	struct findings_held held;
	struct summary summary;
	struct writer *aside;
	struct bytes why;
	bool in_row, bad; /* bad: the present row has an error */
	uint64_t rows;
};

/*
 * Findings wait for the end of the table: a later night may have replaced the attempt. Rows that are
 * set aside cannot wait.
 */
static void
report(void *arg, const struct finding *f)
{
	struct check *c = arg;
	size_t joint = SIZE_MAX;

	if (c->in_row && f->standing && !c->o.pass)
		joint = rules_subject(&c->rules);
	findings_hold(&c->held, f, joint, c->nights.of_row);
	if (!c->in_row || !f->error)
		return;
	c->bad = true;
	if (c->o.pass)
		findings_why(&c->why, f);
}

static int
check_options(struct check *c)
{
	bool aside = prog_has_output(&c->p, ASIDE), found = prog_has_output(&c->p, FINDINGS);
	struct err *err = &c->p.err;

	if (c->o.pass && !aside)
		return err_set(err, "--pass: say where faulty rows go with --set-aside");
	if (!c->o.pass && aside)
		return err_set(err, "--set-aside: only with --pass");
	if (!c->o.pass && found)
		return err_set(
		    err, "--findings: only with --pass; else the findings are the output");
	if (c->o.summary && c->o.pass)
		return err_set(err, "--summary: not with --pass");
	if (!c->o.pass)
		prog_move_output(&c->p, PASSED, FINDINGS);
	return 0;
}

/* The rules say which columns of the records are read. */
static int
read_rules(struct check *c)
{
	struct table *in = c->p.in;

	rules_init(&c->rules, "joint", joint_rule_kinds, report, c);
	c->rules.strict = c->o.strict;
	if (rules_read(&c->rules, &in[RULES]) != 0 || rules_read(&c->rules, &in[ALSO]) != 0 ||
	    limits_load(&c->limits, &in[LIMITS]) != 0 ||
	    plan_load(&c->plan, &in[PLAN], &c->o.only) != 0)
		return -1;
	joint_rules_start(&c->nights, &c->rules);
	c->nights.limits = &c->limits;
	c->nights.accept = joint_basis_of(c->o.accept);
	c->against.plan = prog_has_input(&c->p, PLAN) ? &c->plan : NULL;
	c->nights.needed |= c->against.plan != NULL;
	c->rules.demands = c->against.plan != NULL;
	for (size_t i = 0; i < PLACES; i++)
		c->places[i] = rules_reads(&c->rules, places[i]);
	if (prog_bind(&c->p, RECORDS, c->rules.cols) != 0)
		return -1;
	return rules_bind(&c->rules, &in[RECORDS]);
}

static void
write_heads(struct check *c)
{
	prog_sheet(&c->p, PASSED, c->rules.cols, field_of(""));
	findings_open(&c->findings, c->o.summary ? NULL : prog_writer(&c->p, FINDINGS));
	c->aside = prog_writer(&c->p, ASIDE);
	if (c->aside != NULL)
		aside_head(c->aside, c->p.in[RECORDS].reader);
}

/* The present row against the plan, of which the rules are told its row. */
static void
compare(struct check *c)
{
	const struct table *t = &c->p.in[RECORDS];
	struct plan_record rec;
	struct field f[PLACES];
	size_t planned;

	for (size_t i = 0; i < PLACES; i++)
		f[i] = table_field(t, (int)c->places[i]);
	rec = (struct plan_record){ table_field(t, 0), f[0], f[1], f[2],
		{ { f[3], f[4], f[5] }, { f[6], f[7], f[8] } }, f[9] };
	planned = plan_find(&c->plan, &rec);
	c->nights.plan = &c->plan;
	c->nights.planned = planned != PLAN_NONE ? &c->plan.rows[planned] : NULL;
	if (c->nights.is != NIGHT_OLDER)
		plan_check_row(&c->against, &rec, rules_subject(&c->rules),
		    c->nights.is == NIGHT_NEWER, t->row.file, t->row.line);
}

static void
one_row(struct check *c)
{
	const struct row *row = &c->p.in[RECORDS].row;

	c->rows++;
	c->bad = false;
	c->why.n = 0;
	joint_rules_row(&c->rules);
	if (c->against.plan != NULL && row->fault == ROW_FINE)
		compare(c);
	rules_row(&c->rules);
	if (!c->o.pass || !c->bad)
		return;
	if (row->fault == ROW_LONG)
		findings_why_extra(&c->why, row);
	aside_row(c->aside, c->p.in[RECORDS].reader, row, &c->why);
	prog_drop(&c->p);
}

/* Hands out the findings that are still ones. */
static void
tell(struct check *c)
{
	for (size_t i = 0; i < c->held.n; i++) {
		const struct finding_held *h = &c->held.v[i];

		if (h->owner != SIZE_MAX && !joint_rules_counts(&c->nights, h->owner, h->of))
			continue;
		findings_add(&c->findings, &h->is);
		if (c->o.summary)
			summary_add(&c->summary, &h->is);
	}
	if (c->o.summary)
		summary_write(&c->summary, prog_writer(&c->p, FINDINGS));
}

/* The summary and the exit status come from the same counters. */
static int
finish(struct check *c)
{
	uint64_t errors = c->findings.errors, warnings = c->findings.warnings;
	int status = prog_close(&c->p, errors > 0 ? EXIT_AGAINST : EXIT_DONE);

	if (status != EXIT_TROUBLE && errors + warnings > 0)
		prog_say_found(&c->p, c->rows, "row", errors, warnings);
	return status;
}

int
main(int argc, char **argv)
{
	struct check c = { .summary = SUMMARY_NONE };
	int status;

	(void)argc;
	if (prog_begin(&c.p, &page, &c.o, argv) == 0 && check_options(&c) == 0 &&
	    prog_open(&c.p) == 0 && read_rules(&c) == 0) {
		write_heads(&c);
		c.in_row = true;
		while (prog_next(&c.p))
			one_row(&c);
		c.in_row = false;
		if (!err_is_set(&c.p.err)) {
			rules_end(&c.rules);
			if (c.against.plan != NULL)
				plan_check_end(&c.against, report, &c);
			tell(&c);
		}
	}
	status = finish(&c);
	findings_free(&c.findings);
	findings_held_free(&c.held);
	summary_free(&c.summary);
	plan_check_free(&c.against);
	plan_free(&c.plan);
	limit_free(&c.limits);
	joint_rules_free(&c.nights);
	rules_free(&c.rules);
	bytes_free(&c.why);
	return status;
}
