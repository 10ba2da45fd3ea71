/*
 * thrum-rework: which joints to open again, and why, what to do there, in which order.
 */
#include <stdio.h>

#include "rework/work.h"
#include "table/prog.h"

struct opts {
	const char *stage;
};

static const struct opt opts[] = {
	{ 0, "stage", OPT_TEXT, offsetof(struct opts, stage), "STAGE",
	    "closure: the lid is open, by the machine's data alone; or tested (tested)",
	    .words = "closure tested" },
	{ 0 },
};

enum {
	JOINTS,
	FAULTS,
	ROUTE_FAULTS,
	TWOWAY_FAULTS,
	TWOWAY,
	BUDGETS,
	LINKS,
	ELEMENTS,
	PLAN,
	LIMITS,
	SITES,
	CAUSES
};

static const struct table_in inputs[] = {
	[JOINTS] = { .cols = fact_joint_cols },
	[FAULTS] = { "faults", "what thrum-check has found", fact_fault_cols },
	[ROUTE_FAULTS] = { "route-faults", "what thrum-route has found", fact_fault_cols },
	[TWOWAY_FAULTS] = { "twoway-faults", "what thrum-twoway has found", fact_fault_cols },
	[TWOWAY] = { "twoway", "what was read from both ends", fact_twoway_cols },
	[BUDGETS] = { "budgets", "which links are over", work_budget_cols },
	[LINKS] = { "links", "which links are live", rework_link_cols },
	[ELEMENTS] = { "elements", "which joints are on which links", rework_element_cols },
	[PLAN] = { "plan", "what was planned", plan_cols, .flags = IN_HELD },
	[LIMITS] = { "limits", "limits of joints, in place of the built-in table", limit_cols,
	    .builtin = &limits_tsv, .key = limit_key, .flags = IN_HELD },
	[SITES] = { "sites", "which closures are sealed", rework_site_cols },
	[CAUSES] = { "causes", "what decides, in place of the built-in table", cause_cols,
	    .builtin = &causes_tsv, .flags = IN_HELD },
	{ NULL },
};

static const struct table_out outputs[] = { { .cols = work_cols }, { NULL } };

static const struct page page = {
	.name = "thrum-rework",
	.purpose = "which joints to open again, why, and what to do",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct limits limits;
	struct plan plan;
	struct causes causes;
	struct facts facts;
	struct work work;
};

static bool
is_tested(const struct run *r)
{
	return r->o.stage == NULL || strcmp(r->o.stage, "tested") == 0;
}

/* What is known beside the joints, once these are read. */
static void
read_sides(struct run *r)
{
	struct table *in = r->p.in;

	for (int i = FAULTS; i <= TWOWAY_FAULTS; i++)
		while (table_next(&in[i]))
			facts_fault(&r->facts, &in[i]);
	while (is_tested(r) && table_next(&in[TWOWAY]))
		facts_twoway(&r->facts, &in[TWOWAY]);
	facts_end(&r->facts, is_tested(r));
	while (table_next(&in[LINKS]))
		work_link(&r->work, &in[LINKS]);
	while (table_next(&in[ELEMENTS]))
		work_element(&r->work, &in[ELEMENTS]);
	while (table_next(&in[BUDGETS]))
		work_budget(&r->work, &in[BUDGETS]);
	while (table_next(&in[SITES]))
		work_site(&r->work, &in[SITES]);
}

/* One line that names the tables nobody gave. */
static void
say_absent(const struct run *r)
{
	char text[200] = "";
	size_t n = 0;

	for (size_t i = FAULTS; i <= SITES; i++)
		if (i != LIMITS && (is_tested(r) || (i != TWOWAY && i != TWOWAY_FAULTS)) &&
		    !prog_has_input(&r->p, i))
			n += (size_t)snprintf(text + n, sizeof text - n, "%s--%s",
			    n > 0 ? ", " : "", inputs[i].option);
	if (n > 0)
		prog_say(&r->p, "not considered: %s", text);
}

static int
load_sides(struct run *r)
{
	static const struct opt_pairs all = { 0 };
	struct table *in = r->p.in;

	r->facts.limits = &r->limits;
	r->facts.plan = &r->plan;
	r->work.facts = &r->facts;
	r->work.causes = &r->causes;
	r->work.out = &r->p.out[0];
	if (limits_load(&r->limits, &in[LIMITS]) != 0 ||
	    causes_load(&r->causes, &in[CAUSES], is_tested(r), &r->facts) != 0)
		return -1;
	return plan_load(&r->plan, &in[PLAN], &all);
}

int
main(int argc, char **argv)
{
	struct run r = { .facts = { .night = NIGHT_NONE } };
	size_t opens = 0;
	int status;

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && prog_open(&r.p) == 0 &&
	    load_sides(&r) == 0) {
		while (prog_next(&r.p))
			facts_joint(&r.facts, &r.p.in[JOINTS]);
		if (!err_is_set(&r.p.err))
			read_sides(&r);
		if (!err_is_set(&r.p.err)) {
			say_absent(&r);
			opens = rework_write(&r.work);
		}
	}
	rework_free(&r.work);
	facts_free(&r.facts);
	causes_free(&r.causes);
	plan_free(&r.plan);
	limit_free(&r.limits);
	status = prog_close(&r.p, opens > 0 ? EXIT_AGAINST : EXIT_DONE);
	if (status == EXIT_AGAINST)
		prog_say(&r.p, "%zu joint%s to open", opens, prog_s(opens));
	return status;
}
