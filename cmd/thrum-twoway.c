/*
 * thrum-twoway: readings from both ends of each link, made into what each point really loses.
 */
#include "fibre/link.h"
#include "readings/twoway.h"
#include "readings/unread.h"
#include "table/prog.h"

struct opts {
	double noise_db, linearity;
};

static const struct opt opts[] = {
	{ 0, "noise", OPT_NUM, offsetof(struct opts, noise_db), "DB",
	    "standard deviation of a reading whose row has no sd_db (0.02)", 0, 10 },
	{ 0, "linearity", OPT_NUM, offsetof(struct opts, linearity), "DB",
	    "greatest error of the instrument for each decibel (0.03)", 0, 1 },
	{ 0 },
};

enum { READINGS, LINKS, ELEMENTS, LIMITS, PLAN, FILL };

static const struct table_in inputs[] = {
	[READINGS] = { .cols = reading_cols },
	[LINKS] = { "links", "which site is a, and where one end is enough (needed)", link_cols,
	    .key = link_key, .flags = IN_HELD | IN_MANY | IN_NEEDED },
	[ELEMENTS] = { "elements", "what stands along each link", spot_cols },
	[LIMITS] = { "limits", "limits of joints, in place of the built-in table", limit_cols,
	    .builtin = &limits_tsv, .key = limit_key, .flags = IN_HELD },
	[PLAN] = { "plan", "what was planned, with limits of single joints", plan_cols,
	    .flags = IN_HELD },
	[FILL] = { "fill", "records of joints to put the losses into", fill_cols, .key = fill_key,
	    .flags = IN_HELD | IN_MANY },
	{ NULL },
};

enum { POINTS, FINDINGS, FILLED };

static const struct table_out outputs[] = {
	[POINTS] = { .cols = twoway_cols },
	[FINDINGS] = { "findings", "write what is wrong with the readings to FILE",
	    found_reading_cols },
	[FILLED] = { "filled", "write the records of --fill, with the losses, to FILE",
	    .cols = fill_cols, .flags = OUT_LATER },
	{ NULL },
};

static const struct page page = {
	.name = "thrum-twoway",
	.purpose = "what each point of a link loses, from readings of both ends",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct readings readings;
	struct spots spots;
	struct limits limits;
	struct plan plan;
	struct found found;
	struct fills fills;
	struct twoway twoway;
};

static int
load_sides(struct run *r)
{
	static const struct opt_pairs all = { 0 };
	struct table *in = r->p.in;

	if (prog_has_input(&r->p, FILL) != prog_has_output(&r->p, FILLED))
		return err_set(&r->p.err, "--fill and --filled: one needs the other");
	r->readings.links = &in[LINKS];
	while (table_next(&in[ELEMENTS]))
		spots_read(&r->spots, &in[ELEMENTS]);
	spots_arrange(&r->spots);
	if (limits_load(&r->limits, &in[LIMITS]) != 0)
		return -1;
	if (plan_load(&r->plan, &in[PLAN], &all) != 0)
		return -1;
	return fill_start(&r->fills, &in[FILL]);
}

static void
write_all(struct run *r)
{
	r->found.out = &r->p.out[FINDINGS];
	r->fills.found = &r->found;
	r->twoway.readings = &r->readings;
	r->twoway.spots = &r->spots;
	r->twoway.limits = &r->limits;
	r->twoway.plan = &r->plan;
	r->twoway.links = &r->p.in[LINKS];
	r->twoway.out = &r->p.out[POINTS];
	r->twoway.found = &r->found;
	r->twoway.fills = prog_has_input(&r->p, FILL) ? &r->fills : NULL;
	r->twoway.noise_db = r->o.noise_db;
	r->twoway.linearity = r->o.linearity;
	readings_arrange(&r->readings);
	for (size_t link = 0; link < r->readings.names.n; link++)
		twoway_link(&r->twoway, link);
	unread_links(&r->readings, &r->spots, &r->found);
	if (r->twoway.fills != NULL)
		fill_write(&r->fills, &r->spots.names, &r->p.in[FILL], prog_writer(&r->p, FILLED));
}

int
main(int argc, char **argv)
{
	struct run r = { .o = { .noise_db = 0.02, .linearity = 0.03 } };
	uint64_t errors, warnings;
	int status;

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && prog_open(&r.p) == 0 &&
	    load_sides(&r) == 0) {
		while (prog_next(&r.p))
			if (readings_read(&r.readings, &r.p.in[READINGS]) != 0)
				break;
		if (!err_is_set(&r.p.err))
			write_all(&r);
	}
	errors = r.found.errors;
	warnings = r.found.warnings;
	twoway_free(&r.twoway);
	fill_free(&r.fills);
	plan_free(&r.plan);
	limit_free(&r.limits);
	spots_free(&r.spots);
	readings_free(&r.readings);
	status = prog_close(&r.p, errors > 0 ? EXIT_AGAINST : EXIT_DONE);
	if (status != EXIT_TROUBLE && errors + warnings > 0)
		prog_say_found(&r.p, 0, NULL, errors, warnings);
	return status;
}
