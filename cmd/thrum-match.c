/*
 * thrum-match: which arc of a machine was which planned joint. Reads arcs and a plan; writes the
 * joints table, and what is left to a person as findings.
 */
#include <inttypes.h>

#include "match/rows.h"
#include "match/words.h"
#include "table/prog.h"

struct opts {
	const char *order;
	int64_t threshold, begins;
	struct opt_pairs clocks;
};

static const struct opt opts[] = {
	{ 0, "order", OPT_TEXT, offsetof(struct opts, order), "ORDER",
	    "by tray and slot, or by the rows of the plan: work or plan (work)",
	    .words = "work plan" },
	{ 0, "clock", OPT_PAIR, offsetof(struct opts, clocks), "SPLICER=SECONDS",
	    "add these to the times of one machine" },
	{ 0, "night-begins", OPT_WHOLE, offsetof(struct opts, begins), "HOUR",
	    "hour at which the date of a shift changes (12)", 0, 23 },
	{ 0, "threshold", OPT_WHOLE, offsetof(struct opts, threshold), "COST",
	    "leave arcs whose second reading is nearer than this (4605)", 0, MATCH_THRESHOLD_MOST },
	{ 0 },
};

static const struct col arc_cols[] = {
	MATCH_ARC_COLUMNS,
	{ NULL },
};

/* For --help only: those of the plan and of the arcs come with them. */
static const struct col joint_cols[] = {
	{ "joint", COL_OUT },
	{ "attempt", COL_OUT },
	{ "stands", COL_OUT },
	{ "closure", COL_OUT },
	{ "tray", COL_OUT },
	{ "slot", COL_OUT },
	{ "cable_a", COL_OUT },
	{ "fibre_a", COL_OUT },
	{ "cable_b", COL_OUT },
	{ "fibre_b", COL_OUT },
	{ "kind", COL_OUT },
	{ "made_at", COL_OUT },
	{ "shift", COL_OUT },
	{ NULL },
};

enum { ARCS, PLAN, COSTS };

static const struct table_in inputs[] = {
	[ARCS] = { .cols = arc_cols },
	[PLAN] = { "plan", "the plan (needed)", planned_cols, .flags = IN_NEEDED },
	[COSTS] = { "costs", "costs in place of the built-in ones", match_cost_cols,
	    .builtin = &match_costs_tsv },
	{ NULL },
};

enum { JOINTS, FINDINGS };

static const struct table_out outputs[] = {
	[JOINTS] = { .cols = joint_cols, .flags = OUT_LATER },
	[FINDINGS] = { "findings", "write what is no joint, and why, to FILE", .flags = OUT_LATER },
	{ NULL },
};

static const struct page page = {
	.name = "thrum-match",
	.purpose = "which arc of a machine was which planned joint",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct night {
	struct prog p;
	struct opts o;
	struct match_table table;
	struct planned plan;
	struct match_arcs arcs;
	struct match_night settled;
	struct findings findings;
};

/* Everything beside the arcs. */
static int
load_sides(struct night *n)
{
	struct table *in = n->p.in;

	if (match_costs_read(&n->table, &in[COSTS]) != 0)
		return -1;
	if (n->o.threshold >= 0)
		n->table.threshold = (int32_t)n->o.threshold;
	if (planned_read(&n->plan, &in[PLAN], strcmp(n->o.order, "plan") == 0) != 0)
		return -1;
	return match_arcs_init(
	    &n->arcs, &n->plan, &n->table, (int)n->o.begins, &n->o.clocks, &n->p.err);
}

/* What is written at the end. */
static void
match_all(struct night *n)
{
	match_settle(&n->settled, &n->arcs, n->table.threshold);
	findings_open(&n->findings, prog_writer(&n->p, FINDINGS));
	match_rows_write(&n->settled, &n->p.in[ARCS], prog_writer(&n->p, JOINTS));
	match_words_all(&n->settled, &n->findings);
}

/* The summary and the exit status come from the same counters. */
static int
finish(struct night *n)
{
	uint64_t errors = n->findings.errors, arcs = n->arcs.n, joined = n->settled.njoined;
	uint64_t warnings = n->findings.warnings;
	int status = prog_close(&n->p, errors > 0 ? EXIT_AGAINST : EXIT_DONE);

	if (status == EXIT_AGAINST)
		prog_say(&n->p,
		    "%" PRIu64 " arc%s, %" PRIu64 " matched, %" PRIu64 " error%s, %" PRIu64
		    " warning%s",
		    arcs, prog_s(arcs), joined, errors, prog_s(errors), warnings, prog_s(warnings));
	return status;
}

int
main(int argc, char **argv)
{
	struct night n = { .o = { .order = "work", .threshold = -1, .begins = 12 } };
	int status;

	(void)argc;
	if (prog_begin(&n.p, &page, &n.o, argv) == 0 && prog_open(&n.p) == 0 &&
	    load_sides(&n) == 0) {
		while (prog_next(&n.p))
			match_arcs_add(&n.arcs, &n.p.in[ARCS]);
		if (match_arcs_order(&n.arcs, &n.p.err) == 0)
			match_all(&n);
	}
	status = finish(&n);
	match_night_free(&n.settled);
	match_arcs_free(&n.arcs);
	planned_free(&n.plan);
	findings_free(&n.findings);
	return status;
}
