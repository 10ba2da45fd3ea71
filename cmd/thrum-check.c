/*
 * thrum-check: the records of joints, or any other table, against a table of rules. What is wrong
 * comes out as a table of findings; or good rows pass and faulty ones are set aside.
 */
#include <inttypes.h>

#include "fibre/joint_rule.h"
#include "table/findings.h"
#include "table/prog.h"
#include "table/rule.h"

struct opts {
	bool strict, pass;
};

static const struct opt opts[] = {
	{ 0, "strict", OPT_FLAG, offsetof(struct opts, strict), NULL, "every warning is an error" },
	{ 0, "pass", OPT_FLAG, offsetof(struct opts, pass), NULL,
	    "write the rows without an error, not the findings" },
	{ 0 },
};

/* For --help only: what the built-in rules read. The columns really read are those of the rules. */
static const struct col cols[] = {
	{ "joint", COL_MAY },
	{ "cable_a", COL_MAY },
	{ "fibre_a", COL_MAY },
	{ "cable_b", COL_MAY },
	{ "fibre_b", COL_MAY },
	{ "closure", COL_MAY },
	{ "tray", COL_MAY },
	{ "slot", COL_MAY },
	{ "jointer", COL_MAY },
	{ "splicer", COL_MAY },
	{ "cleaver", COL_MAY },
	{ "note", COL_MAY },
	{ "attempt", COL_MAY },
	{ "stands", COL_MAY },
	{ "kind", COL_MAY },
	{ "colour_a", COL_MAY },
	{ "colour_b", COL_MAY },
	{ "tube_a", COL_MAY },
	{ "tube_b", COL_MAY },
	{ "coating_a_um", COL_MAY },
	{ "coating_b_um", COL_MAY },
	{ "mfd_a_um", COL_MAY },
	{ "mfd_b_um", COL_MAY },
	{ "cleave_a_deg", COL_MAY },
	{ "cleave_b_deg", COL_MAY },
	{ "ribbon_a", COL_MAY },
	{ "ribbon_b", COL_MAY },
	{ "est_db", COL_MAY },
	{ "tension", COL_MAY },
	{ "protector", COL_MAY },
	{ "sleeve_mm", COL_MAY },
	{ "heat_s", COL_MAY },
	{ "blade_n", COL_MAY },
	{ "arcs_n", COL_MAY },
	{ "made_at", COL_MAY },
	{ "shift", COL_MAY },
	{ "loss_nm", COL_MAY },
	{ "loss_db", COL_MAY },
	{ "loss_ab_db", COL_MAY },
	{ "loss_ba_db", COL_MAY },
	{ NULL },
};

/* for --help only, as findings and rows set aside write their headers themselves */
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

enum { RECORDS, RULES, ALSO };

static const struct table_in inputs[] = {
	[RECORDS] = { .cols = cols, .flags = IN_MISSHAPEN | IN_LATER },
	[RULES] = { "rules", "rules in place of the built-in ones", rule_cols,
	    .builtin = &rules_tsv },
	[ALSO] = { "also", "more rules; one of the same name takes the other's place", rule_cols },
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

struct check {
	struct prog p;
	struct opts o;
	struct rules rules;
	struct findings findings;
	struct writer *aside;
	struct bytes why;
	bool in_row, bad; /* bad: the present row has an error */
	uint64_t rows;
};

static void
report(void *arg, const struct finding *f)
{
	struct check *c = arg;

	findings_add(&c->findings, f);
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
	    prog_bind(&c->p, RECORDS, c->rules.cols) != 0)
		return -1;
	return rules_bind(&c->rules, &in[RECORDS]);
}

static void
write_heads(struct check *c)
{
	prog_sheet(&c->p, PASSED, c->rules.cols, field_of(""));
	findings_open(&c->findings, prog_writer(&c->p, FINDINGS));
	c->aside = prog_writer(&c->p, ASIDE);
	if (c->aside != NULL)
		aside_head(c->aside, c->p.in[RECORDS].reader);
}

static void
one_row(struct check *c)
{
	const struct table *records = &c->p.in[RECORDS];
	const struct row *row = &records->row;

	c->rows++;
	c->bad = false;
	c->why.n = 0;
	rules_row(&c->rules);
	if (!c->o.pass || !c->bad)
		return;
	if (row->fault == ROW_LONG)
		findings_why_extra(&c->why, row);
	aside_row(c->aside, records->reader, row, &c->why);
	prog_drop(&c->p);
}

/* The summary and the exit status come from the same counters. */
static int
finish(struct check *c)
{
	uint64_t errors = c->findings.errors, warnings = c->findings.warnings;
	int status = prog_close(&c->p, errors > 0 ? EXIT_AGAINST : EXIT_DONE);

	if (status == EXIT_TROUBLE || errors + warnings == 0)
		return status;
	prog_say(&c->p, "%" PRIu64 " row%s, %" PRIu64 " error%s, %" PRIu64 " warning%s", c->rows,
	    prog_s(c->rows), errors, prog_s(errors), warnings, prog_s(warnings));
	return status;
}

int
main(int argc, char **argv)
{
	struct check c = { .aside = NULL };
	int status;

	(void)argc;
	if (prog_begin(&c.p, &page, &c.o, argv) == 0 && check_options(&c) == 0 &&
	    prog_open(&c.p) == 0 && read_rules(&c) == 0) {
		write_heads(&c);
		c.in_row = true;
		while (prog_next(&c.p))
			one_row(&c);
		c.in_row = false;
		if (!err_is_set(&c.p.err))
			rules_end(&c.rules);
	}
	status = finish(&c);
	findings_free(&c.findings);
	rules_free(&c.rules);
	bytes_free(&c.why);
	return status;
}
