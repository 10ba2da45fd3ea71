/*
 * thrum-route: which fibre goes where: each link from its port through spans, joints and splitters to its
 * far port, and what is wrong on the way.
 */
#include "route/ask.h"
#include "table/prog.h"

struct opts {
	struct opt_list between;
	const char *through;
};

static const struct opt opts[] = {
	{ 0, "between", OPT_LIST, offsetof(struct opts, between), "SITE:PORT,SITE:PORT",
	    "only what lies between these two ports" },
	{ 0, "through", OPT_TEXT, offsetof(struct opts, through), "CABLE:FIBRE",
	    "only what this fibre is part of" },
	{ 0 },
};

enum { JOINTS, SPANS, PORTS, SPLITTERS, PLAN, LINKS };

static const struct table_in inputs[] = {
	[JOINTS] = { .cols = route_joint_cols },
	[SPANS] = { "spans", "the sections of the cables (needed)", span_cols,
	    .flags = IN_COLUMNS | IN_NEEDED },
	[PORTS] = { "ports", "the panel ports of the links", route_port_cols },
	[SPLITTERS] = { "splitters", "splitters, taps and multiplexers", route_splitter_cols },
	[PLAN] = { "plan", "what is to be joined, goes through, is put away", route_plan_cols },
	[LINKS] = { "links", "which links are a pair, apart, live", route_link_cols },
	{ NULL },
};

enum { ELEMENTS, FINDINGS };

static const struct table_out outputs[] = {
	[ELEMENTS] = { .cols = element_out_cols },
	[FINDINGS] = { "findings", "write what is wrong, and because of what, to FILE",
	    found_cols },
	{ NULL },
};

static const struct page page = {
	.name = "thrum-route",
	.purpose = "which fibre goes where, and what lies along each link",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct records r;
	struct joined g;
	struct lay lay;
	struct judge judge;
	bool asks; /* one question, in place of all links */
	bool against;
};

static int
load_sides(struct run *run)
{
	struct table *in = run->p.in;
	struct records *r = &run->r;

	run->asks = run->o.between.n > 0 || run->o.through != NULL;
	if (run->o.between.n > 0 && (run->o.between.n != 2 || run->o.through != NULL))
		return err_set(
		    &run->p.err, "--between: two ports, SITE:PORT,SITE:PORT, and no --through");
	if (records_spans(r, &in[SPANS]) != 0 || records_links(r, &in[LINKS]) != 0 ||
	    records_ports(r, &in[PORTS]) != 0 || records_splitters(r, &in[SPLITTERS]) != 0)
		return -1;
	return records_plan(r, &in[PLAN]);
}

/* One question. 0, or -1 with err set. */
static int
answer(struct run *run)
{
	const struct field *ports = run->o.between.v;
	int whole = run->o.through != NULL
			? ask_through(&run->judge, field_of(run->o.through), &run->p.err)
			: ask_between(&run->judge, ports[0], ports[1], &run->p.err);

	if (whole == 0 && run->o.through == NULL)
		prog_say(&run->p, "%.*s: not joined to %.*s", (int)ports[0].n, ports[0].p,
		    (int)ports[1].n, ports[1].p);
	run->against = whole == 0;
	return whole < 0 ? -1 : 0;
}

static void
route_all(struct run *run)
{
	struct prog *p = &run->p;

	if (joined_make(&run->g, &run->r, &p->err) != 0)
		return;
	lay_begin(&run->lay, &run->g, &p->in[SPANS], &p->out[ELEMENTS]);
	judge_begin(&run->judge, &run->g, &run->lay);
	if (!run->asks)
		judge_links(&run->judge);
	else if (answer(run) != 0)
		return;
	found_write(&run->r.found, run->r.texts, &run->r.joint_names, &run->r.link_names,
	    &p->out[FINDINGS]);
	if (!run->asks)
		run->against = run->r.found.errors > 0;
}

int
main(int argc, char **argv)
{
	struct run run = { .against = false };
	uint64_t errors, warnings;
	size_t links;
	int status;

	(void)argc;
	records_begin(&run.r, &run.p.texts_of_columns);
	if (prog_begin(&run.p, &page, &run.o, argv) == 0 && prog_open(&run.p) == 0 &&
	    load_sides(&run) == 0) {
		while (prog_next(&run.p))
			if (records_joint(&run.r, &run.p.in[JOINTS]) != 0)
				break;
		if (!err_is_set(&run.p.err))
			route_all(&run);
	}
	errors = run.r.found.errors;
	warnings = run.r.found.warnings;
	links = run.r.link_names.n;
	judge_free(&run.judge);
	lay_free(&run.lay);
	joined_free(&run.g);
	records_free(&run.r);
	status = prog_close(&run.p, run.against ? EXIT_AGAINST : EXIT_DONE);
	if (status == EXIT_AGAINST && !run.asks)
		prog_say_found(&run.p, links, "link", errors, warnings);
	return status;
}
