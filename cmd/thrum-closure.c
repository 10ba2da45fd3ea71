/*
 * thrum-closure: how each closure turned out: its joints as they stand after all nights, counted
 * against limits and a plan, and what they lose on average, at the middle, at worst.
 */
#include "fibre/tally_row.h"
#include "table/prog.h"

struct opts {
	struct opt_list by, wavelengths;
	struct opt_pairs only;
	const char *value, *accept;
	int64_t limit_udb;
	bool no_quantiles;
};

#define AT(member) offsetof(struct opts, member)

static const struct opt opts[] = {
	{ 0, "by", OPT_LIST, AT(by), "COL[,COL]",
	    "one row for each value of these columns (closure)" },
	{ 0, "wavelength", OPT_LIST, AT(wavelengths), "NM[,NM]",
	    "one row a closure for each of these (those read in it)" },
	{ 0, "accept", OPT_TEXT, AT(accept), "BASIS",
	    "what is enough for a verdict: one-way, or estimate (two-way)", .words = JOINT_BASES },
	{ 0, "only", OPT_PAIR, AT(only), "COLUMN=VALUE[,VALUE]",
	    "only these rows of the plan are due" },
	{ 0, "value", OPT_TEXT, AT(value), "COLUMN", "judge this column, and read no other loss" },
	{ 0, "limit", OPT_DB, AT(limit_udb), "DB", "what a joint of any kind may lose at most", 0,
	    1000 },
	{ 0, "no-quantiles", OPT_FLAG, AT(no_quantiles), NULL, "leave median_db and p95_db empty" },
	{ 0 },
};

enum {
	NM,
	PLANNED,
	JOINTS,
	PASSED,
	FAILED,
	UNKNOWN,
	MISSING,
	AMISS,
	SURPLUS,
	BASIS,
	MEAN,
	SD_DB,
	MEDIAN,
	P95,
	MAX,
	WORST_JOINT,
	TRAYS,
	FIRST_AT,
	LAST_AT,
	VERDICT
};

enum { PLACES = 6 }; /* decimals of every _db: what is exact is written exactly */

static const struct col sums[] = {
	[NM] = { "loss_nm", COL_OUT, COL_TEXT },
	[PLANNED] = { "planned", COL_OUT, COL_WHOLE },
	[JOINTS] = { "joints", COL_OUT, COL_WHOLE },
	[PASSED] = { "passed", COL_OUT, COL_WHOLE },
	[FAILED] = { "failed", COL_OUT, COL_WHOLE },
	[UNKNOWN] = { "unknown", COL_OUT, COL_WHOLE },
	[MISSING] = { "missing", COL_OUT, COL_WHOLE },
	[AMISS] = { "amiss", COL_OUT, COL_WHOLE },
	[SURPLUS] = { "surplus", COL_OUT, COL_WHOLE },
	[BASIS] = { "basis", COL_OUT, COL_TEXT },
	[MEAN] = { "mean_db", COL_OUT, COL_DB, .places = PLACES },
	[SD_DB] = { "sd_db", COL_OUT, COL_NUM, .places = PLACES },
	[MEDIAN] = { "median_db", COL_OUT, COL_DB, .places = PLACES },
	[P95] = { "p95_db", COL_OUT, COL_DB, .places = PLACES },
	[MAX] = { "max_db", COL_OUT, COL_DB, .places = PLACES },
	[WORST_JOINT] = { "worst_joint", COL_OUT, COL_TEXT },
	[TRAYS] = { "trays", COL_OUT, COL_TEXT },
	[FIRST_AT] = { "first_at", COL_OUT, COL_TEXT },
	[LAST_AT] = { "last_at", COL_OUT, COL_TEXT },
	[VERDICT] = { "verdict", COL_OUT, COL_TEXT },
	{ NULL },
};

enum { RECORDS, PLAN, FAULTS, LIMITS };

static const struct table_in inputs[] = {
	[RECORDS] = { .cols = tally_cols },
	[PLAN] = { "plan", "what is planned", plan_cols, .flags = IN_HELD },
	[FAULTS] = { "faults", "findings: a joint with an error has failed", tally_fault_cols },
	[LIMITS] = { "limits", "limits in place of the built-in ones", limit_cols,
	    .builtin = &limits_tsv, .key = limit_key, .flags = IN_HELD },
	{ NULL },
};

static const struct table_out outputs[] = { { .cols = sums, .flags = OUT_LATER }, { NULL } };

static const struct page page = {
	.name = "thrum-closure",
	.purpose = "how each closure turned out",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

enum { BY_MOST = 16 };

struct work {
	struct opts o;
	struct wavelengths asked;
	struct limits limits;
	struct plan plan;
	struct tally_reader reading;
	size_t by[BY_MOST], nby;
	struct bytes key; /* of more columns than one */
	struct tally tally;
	bool against;
};

static void
one_row(struct prog *p, struct work *w)
{
	struct table *t = &p->in[RECORDS];
	struct tally_row row;

	if (!tally_read(&w->reading, t, &row)) {
		tally_add_undone(&w->tally, &row);
		return;
	}
	row.group = table_key(t, w->by, w->nby, &w->key);
	if (!err_is_set(&p->err))
		tally_add(&w->tally, &row, &p->err);
}

/* --- writing --------------------------------------------------------------------------------- */

static void
put_row(struct sheet *out, const struct work *w, const struct tally_group *g, double nm,
    const struct tally_sum *sum)
{
	static const char *const bases[2 * TALLY_MERGED] = { [1 << JOINT_TWO_WAY] = "two-way",
		[1 << JOINT_ONE_WAY] = "one-way",
		[1 << JOINT_ESTIMATE] = "estimate",
		[TALLY_MERGED] = "merged" };
	static const char *const verdicts[] = { "pass", "fail", "unknown" };
	char text[WAVELENGTHS_TEXT];

	put_lead(out, g->name);
	put_text(out, NM, wavelengths_text(text, nm));
	put_whole(out, JOINTS, (int64_t)g->joints);
	put_whole(out, PASSED, (int64_t)sum->passed);
	put_whole(out, FAILED, (int64_t)sum->failed);
	put_whole(out, UNKNOWN, (int64_t)sum->unknown);
	if (w->tally.plan != NULL) {
		put_whole(out, PLANNED, (int64_t)g->planned);
		put_whole(out, MISSING, (int64_t)g->missing);
		put_whole(out, SURPLUS, (int64_t)g->surplus);
	}
	if (w->tally.plan != NULL || g->amiss > 0)
		put_whole(out, AMISS, (int64_t)g->amiss);
	if (w->o.value == NULL)
		put_text(out, BASIS,
		    field_of(sum->bases == 0             ? ""
			     : bases[sum->bases] != NULL ? bases[sum->bases]
							 : "mixed"));
	put_db(out, MEAN, sum->mean_udb);
	if (sum->sd_udb >= 0)
		put_num(out, SD_DB, sum->sd_udb / DB_ONE);
	put_db(out, MEDIAN, sum->median_udb);
	put_db(out, P95, sum->p95_udb);
	put_db(out, MAX, sum->max_udb);
	put_text(out, WORST_JOINT, sum->worst);
	put_text(out, TRAYS, g->trays);
	put_text(out, FIRST_AT, g->first);
	put_text(out, LAST_AT, g->last);
	put_text(out, VERDICT, field_of(verdicts[sum->verdict]));
	sheet_row(out);
}

static void
put_all(struct prog *p, struct work *w)
{
	struct tally_group g;
	struct tally_sum sum;

	tally_end(&w->tally);
	while (tally_next(&w->tally, &g))
		for (size_t i = 0; i < g.wavelengths.n; i++) {
			tally_sum(&w->tally, &g, i, !w->o.no_quantiles, &sum);
			put_row(&p->out[0], w, &g, g.wavelengths.nm[i], &sum);
			w->against |= sum.verdict != TALLY_PASS;
		}
}

/* --- all of it ------------------------------------------------------------------------------- */

/* Finds the columns to group by: those of --by as the files call them, or the closure's. */
static int
find_by(struct prog *p, struct work *w)
{
	struct table *t = &p->in[RECORDS];
	int n = table_list(t, "by", &w->o.by, BY_MOST, w->by);

	for (size_t i = 0; i < w->o.by.n; i++)
		for (const struct col *c = sums; c->name != NULL; c++)
			if (field_is(w->o.by.v[i], c->name))
				return err_set(
				    &p->err, "--by: is a column this program makes: '%s'", c->name);
	if (n == 0) {
		int at = reader_need(t->reader, table_name(t, TALLY_CLOSURE));

		if (at < 0)
			return -1;
		w->by[n++] = (size_t)at;
	}
	w->nby = (size_t)n;
	return n < 0 ? -1 : 0;
}

/* The header: the columns to group by, then the sums. */
static void
open_sheet(struct prog *p, struct work *w)
{
	w->key.n = 0;
	for (size_t i = 0; i < w->nby; i++) {
		bytes_add_text(&w->key, i > 0 ? "\t" : "");
		bytes_add_field(&w->key,
		    w->o.by.n > 0 ? w->o.by.v[i] : field_of(tally_cols[TALLY_CLOSURE].name));
	}
	prog_sheet(p, 0, sums, bytes_field(&w->key));
}

static int
check_options(struct prog *p, struct work *w)
{
	const struct opts *o = &w->o;

	if (o->limit_udb != DB_NONE && prog_has_input(p, LIMITS))
		return err_set(&p->err, "--limit and --limits: give one of them");
	if (o->by.n > 0 && prog_has_input(p, PLAN))
		return err_set(&p->err, "--plan: counts by closure, not with --by");
	if (o->value != NULL && o->accept != NULL)
		return err_set(&p->err, "--accept: not with --value, which is judged as it is");
	if (o->value != NULL)
		prog_rename(p, tally_cols[TALLY_LOSS].name, o->value);
	return wavelengths_parse(
	    &w->asked, "--wavelength", o->wavelengths.v, o->wavelengths.n, &p->err);
}

/* The tables beside the joints. */
static int
load_sides(struct prog *p, struct work *w)
{
	if (w->o.limit_udb != DB_NONE)
		limits_one(&w->limits, w->o.limit_udb);
	else if (limits_load(&w->limits, &p->in[LIMITS]) != 0)
		return -1;
	w->reading = (struct tally_reader){ .value = w->o.value, .faulty = IDS_NONE };
	if (prog_has_input(p, PLAN))
		w->reading.plan = &w->plan;
	if (plan_load(&w->plan, &p->in[PLAN], &w->o.only) != 0)
		return -1;
	return tally_read_faults(&w->reading, &p->in[FAULTS]);
}

static int
open_all(struct prog *p, struct work *w)
{
	if (check_options(p, w) != 0 || prog_open(p) != 0 || load_sides(p, w) != 0 ||
	    find_by(p, w) != 0)
		return -1;
	tally_start(&w->tally, &w->limits, w->reading.plan, joint_basis_of(w->o.accept), &w->asked);
	open_sheet(p, w);
	return 0;
}

int
main(int argc, char **argv)
{
	struct work w = { .o.limit_udb = DB_NONE };
	struct prog p;

	(void)argc;
	if (prog_begin(&p, &page, &w.o, argv) == 0 && open_all(&p, &w) == 0) {
		while (prog_next(&p))
			one_row(&p, &w);
		if (!err_is_set(&p.err))
			put_all(&p, &w);
	}
	tally_free(&w.tally);
	bytes_free(&w.key);
	tally_reader_free(&w.reading);
	plan_free(&w.plan);
	limit_free(&w.limits);
	return prog_close(&p, w.against ? EXIT_AGAINST : EXIT_DONE);
}
