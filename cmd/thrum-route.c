/*
 * thrum-route: which fibre goes where: each link from its port through spans, joints and splitters to its
 * far port, and what is wrong on the way.
 */
#include <inttypes.h>

#include "base/num.h"
#include "route/judge.h"
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
	bool against;
};

static int
load_sides(struct run *run)
{
	struct table *in = run->p.in;
	struct records *r = &run->r;

	if (run->o.between.n > 0 && (run->o.between.n != 2 || run->o.through != NULL))
		return err_set(
		    &run->p.err, "--between: two ports, SITE:PORT,SITE:PORT, and no --through");
	if (records_spans(r, &in[SPANS]) != 0 || records_links(r, &in[LINKS]) != 0 ||
	    records_ports(r, &in[PORTS]) != 0 || records_splitters(r, &in[SPLITTERS]) != 0)
		return -1;
	return records_plan(r, &in[PLAN]);
}

/* The two sides of the last colon of an option's value; their numbers as texts. 0, or -1 with err set. */
static int
cut_name(
    struct run *run, const char *option, struct field value, uint32_t *name, struct field *rest)
{
	char shown[ERR_SHOWN];
	size_t colon = value.n, found;

	while (colon > 0 && value.p[colon - 1] != ':')
		colon--;
	if (colon == 0)
		return err_set(
		    &run->p.err, "%s: no colon: '%s'", option, err_show(shown, value.p, value.n));
	found = ids_find_one(run->r.texts, (struct field){ value.p, colon - 1 });
	*rest = (struct field){ value.p + colon, value.n - colon };
	*name = found == SIZE_MAX ? HOLD_NO_TEXT : (uint32_t)found;
	return 0;
}

/* The port that is called so; 0, or -1 with err set. */
static int
find_port(struct run *run, struct field value, uint32_t *port)
{
	struct records *r = &run->r;
	char shown[ERR_SHOWN];
	struct field name = { NULL, 0 };
	uint32_t site = HOLD_NO_TEXT;

	if (cut_name(run, "--between", value, &site, &name) != 0)
		return -1;
	for (*port = 0; *port < r->ports_n; (*port)++)
		if (r->ports[*port].site == site &&
		    field_same(ids_key(r->texts, r->ports[*port].port), name))
			return 0;
	return err_set(
	    &run->p.err, "--between: no such port: '%s'", err_show(shown, value.p, value.n));
}

/* What the path is called: by the link of its port, else by what was asked. */
static struct field
name_path(const struct run *run, uint32_t port, struct field asked)
{
	uint32_t link = port != RECORD_NONE ? run->r.ports[port].link : RECORD_NONE;

	return link != RECORD_NONE ? ids_key(&run->r.link_names, link) : asked;
}

static int
answer_between(struct run *run)
{
	const struct field *ask = run->o.between.v;
	struct judge *j = &run->judge;
	uint32_t port[2];
	bool whole;

	for (int k = 0; k < 2; k++)
		if (find_port(run, ask[k], &port[k]) != 0)
			return -1;
	whole = walk_ports(&run->g, port[0], port[1], &j->path, &j->back);
	judge_lay(j, name_path(run, port[0], ask[0]), !whole);
	if (!whole)
		prog_say(&run->p, "%.*s: not joined to %.*s", (int)ask[0].n, ask[0].p,
		    (int)ask[1].n, ask[1].p);
	run->against = !whole;
	return 0;
}

static int
answer_through(struct run *run)
{
	struct records *r = &run->r;
	struct judge *j = &run->judge;
	struct field fibre = { NULL, 0 };
	int64_t number = 0;
	uint32_t cable = HOLD_NO_TEXT, at = END_NONE;
	bool whole;

	if (cut_name(run, "--through", field_of(run->o.through), &cable, &fibre) != 0)
		return -1;
	if (cable < r->net.texts_n)
		at = r->net.of_cable[cable];
	if (at == END_NONE || num_whole(fibre, &number) != 0 || number < 1 ||
	    number > r->net.v[at].fibres)
		return err_set(&run->p.err, "--through: no such fibre: '%s'", run->o.through);
	walk_through(&run->g, r->net.v[at].first + 2 * ((uint32_t)number - 1), &j->path, &j->back);
	whole = j->path.stop == STOP_PORT && j->path.v[0].what == STEP_PORT;
	judge_lay(j,
	    name_path(run, j->path.v[0].what == STEP_PORT ? j->path.v[0].number : RECORD_NONE,
		field_of(run->o.through)),
	    !whole);
	run->against = !whole;
	return 0;
}

static void
route_all(struct run *run)
{
	struct prog *p = &run->p;
	int status = 0;

	if (joined_make(&run->g, &run->r, &p->err) != 0)
		return;
	lay_begin(&run->lay, &run->g, &p->in[SPANS], &p->out[ELEMENTS]);
	judge_begin(&run->judge, &run->g, &run->lay);
	if (run->o.between.n > 0)
		status = answer_between(run);
	else if (run->o.through != NULL)
		status = answer_through(run);
	else
		judge_links(&run->judge);
	if (status != 0)
		return;
	found_write(&run->r.found, run->r.texts, &run->r.joint_names, &run->r.link_names,
	    &p->out[FINDINGS]);
	if (run->o.between.n == 0 && run->o.through == NULL)
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
	if (status == EXIT_AGAINST && errors > 0 && run.o.between.n == 0 && run.o.through == NULL)
		prog_say(&run.p, "%zu link%s, %" PRIu64 " error%s, %" PRIu64 " warning%s", links,
		    prog_s(links), errors, prog_s(errors), warnings, prog_s(warnings));
	return status;
}
