/*
 * thrum-match: which arc of a machine was which planned joint. Reads arcs, a plan and what people
 * state; writes the joints table, what is left to a person, and what to ask.
 */
#include <inttypes.h>

#include "match/findings.h"
#include "match/rows.h"
#include "table/prog.h"

struct opts {
	const char *order;
	int64_t begins;
	double odds;
	bool each;
	struct opt_pairs clocks;
};

static const struct opt opts[] = {
	{ 0, "order", OPT_TEXT, offsetof(struct opts, order), "ORDER",
	    "how slots are worked: work, reverse, alternate or plan", .words = MATCH_ORDERS },
	{ 0, "clock", OPT_PAIR, offsetof(struct opts, clocks), "SPLICER=SECONDS",
	    "add these to the times of one machine" },
	{ 0, "night-begins", OPT_WHOLE, offsetof(struct opts, begins), "HOUR",
	    "hour at which the date of a shift changes (12)", 0, 23 },
	{ 0, "odds", OPT_NUM, offsetof(struct opts, odds), "ODDS",
	    "tell a joint at these odds to 1 (50)", 1, 100000 },
	{ 0, "each-arc", OPT_FLAG, offsetof(struct opts, each), NULL,
	    "findings also of single arcs and joints" },
	{ 0 },
};

static const struct col arc_cols[] = { MATCH_ARC_COLUMNS, { NULL } };
static const struct col plan_cols[] = { PLANNED_COLUMNS, { NULL } };
static const struct col visit_cols[] = { MATCH_VISIT_COLUMNS, { NULL } };
static const struct col answer_cols[] = { MATCH_ANSWER_COLUMNS, { NULL } };
static const struct col earlier_cols[] = { MATCH_EARLIER_COLUMNS, { NULL } };

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

enum { ARCS, PLAN, VISITS, ANSWERS, EARLIER };

static const struct table_in inputs[] = {
	[ARCS] = { .cols = arc_cols, .flags = IN_HELD },
	[PLAN] = { "plan", "the plan (needed)", plan_cols, .flags = IN_NEEDED | IN_HELD },
	[VISITS] = { "visits", "which machine stood where, when", visit_cols },
	[ANSWERS] = { "answers", "what a person said of single arcs", answer_cols },
	[EARLIER] = { "earlier", "joints of other nights", earlier_cols },
	{ NULL },
};

enum { JOINTS, FINDINGS, QUESTIONS };

static const struct table_out outputs[] = {
	[JOINTS] = { .cols = joint_cols, .flags = OUT_LATER },
	[FINDINGS] = { "findings", "write what is no joint, and why, to FILE", .flags = OUT_LATER },
	[QUESTIONS] = { "questions", "write what a person should answer to FILE",
	    match_question_cols },
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
	struct planned plan;
	struct match_earlier earlier;
	struct match_arcs arcs;
	struct match_stated stated;
	struct match_night read;
	struct findings findings;
};

static void
match_all(struct night *n)
{
	struct table *in = n->p.in;

	if (planned_read(&n->plan, &in[PLAN]) != 0 ||
	    match_earlier_read(&n->earlier, &in[EARLIER], &n->plan) != 0 ||
	    match_arcs_read(
		&n->arcs, &in[ARCS], &n->plan, &n->earlier, (int)n->o.begins, &n->o.clocks) != 0 ||
	    match_stated_read(
		&n->stated, &n->arcs, n->o.order, &in[VISITS], &in[ANSWERS], &n->earlier) != 0)
		return;
	match_night_read(&n->read, &n->arcs, &n->stated, n->o.odds);
	findings_open(&n->findings, prog_writer(&n->p, FINDINGS));
	match_rows_write(&n->read, prog_writer(&n->p, JOINTS));
	match_findings(&n->read, n->o.each, &n->findings);
	if (prog_has_output(&n->p, QUESTIONS))
		match_questions_write(&n->read, &n->p.out[QUESTIONS]);
}

/* The summary and the exit status come from the same counters. */
static int
finish(struct night *n)
{
	uint64_t errors = n->findings.errors, arcs = n->arcs.n, told = n->read.ntold;
	uint64_t warnings = n->findings.warnings;
	int status = prog_close(&n->p, errors > 0 ? EXIT_AGAINST : EXIT_DONE);

	if (status == EXIT_AGAINST)
		prog_say(&n->p,
		    "%" PRIu64 " arc%s, %" PRIu64 " joint%s told, %" PRIu64 " error%s, %" PRIu64
		    " warning%s",
		    arcs, prog_s(arcs), told, prog_s(told), errors, prog_s(errors), warnings,
		    prog_s(warnings));
	return status;
}

int
main(int argc, char **argv)
{
	struct night n = { .o = { .odds = 50, .begins = 12 } };
	int status;

	(void)argc;
	if (prog_begin(&n.p, &page, &n.o, argv) == 0 && prog_open(&n.p) == 0)
		match_all(&n);
	status = finish(&n);
	match_night_free(&n.read);
	match_stated_free(&n.stated);
	match_arcs_free(&n.arcs);
	match_earlier_free(&n.earlier);
	planned_free(&n.plan);
	findings_free(&n.findings);
	return status;
}
