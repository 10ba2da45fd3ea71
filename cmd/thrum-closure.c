/*
 * thrum-closure: how each closure turned out: its joints counted against limits, and what they
 * lose on average, at the middle, at worst.
 */
#include "fibre/joint.h"
#include "fibre/tally.h"
#include "table/prog.h"

struct opts {
	struct opt_list by;
	const char *value;
	int64_t limit_udb;
	bool no_quantiles;
};

static const struct opt opts[] = {
	{ 0, "by", OPT_LIST, offsetof(struct opts, by), "COL[,COL]",
	    "one row for each value of these columns (closure)" },
	{ 0, "value", OPT_TEXT, offsetof(struct opts, value), "COLUMN",
	    "judge this column (loss_db, else est_db)" },
	{ 0, "limit", OPT_DB, offsetof(struct opts, limit_udb), "DB",
	    "what a joint of any kind may lose at most", 0, 1000 },
	{ 0, "no-quantiles", OPT_FLAG, offsetof(struct opts, no_quantiles), NULL,
	    "leave median_db and p95_db empty and need no memory for them" },
	{ 0 },
};

enum {
	LOSS,
	EST,
	LOSS_AB,
	LOSS_BA,
	CLOSURE,
	JOINT,
	STANDS,
	KIND,
	RIBBON_A,
	RIBBON_B,
	TRAY,
	MADE_AT
};

static const struct col cols[] = {
	[LOSS] = { "loss_db", COL_ONE_OF, COL_DB },
	[EST] = { "est_db", COL_ONE_OF, COL_DB },
	[LOSS_AB] = { "loss_ab_db", COL_ONE_OF, COL_DB },
	[LOSS_BA] = { "loss_ba_db", COL_ONE_OF, COL_DB },
	[CLOSURE] = { "closure", COL_MAY, COL_TEXT },
	[JOINT] = { "joint", COL_MAY, COL_TEXT },
	[STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },
	[KIND] = { "kind", COL_MAY, COL_TEXT },
	[RIBBON_A] = { "ribbon_a", COL_MAY, COL_TEXT },
	[RIBBON_B] = { "ribbon_b", COL_MAY, COL_TEXT },
	[TRAY] = { "tray", COL_MAY, COL_TEXT },
	[MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	{ NULL },
};

enum {
	JOINTS,
	PASSED,
	FAILED,
	UNKNOWN,
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
	[JOINTS] = { "joints", COL_OUT, COL_WHOLE },
	[PASSED] = { "passed", COL_OUT, COL_WHOLE },
	[FAILED] = { "failed", COL_OUT, COL_WHOLE },
	[UNKNOWN] = { "unknown", COL_OUT, COL_WHOLE },
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

enum { RECORDS, LIMITS };

static const struct table_in inputs[] = {
	[RECORDS] = { .cols = cols },
	[LIMITS] = { "limits", "limits by kind in place of the built-in ones", limit_cols,
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

static const struct joint_cols joint_cols = { STANDS, LOSS, LOSS_AB, LOSS_BA, EST };

enum { BY_MOST = 16 };

struct work {
	struct opts o;
	struct limits limits;
	struct limit only; /* --limit, for every kind */
	size_t by[BY_MOST], nby;
	struct bytes key; /* of more columns than one */
	struct tally tally;
};

/* --- reading --------------------------------------------------------------------------------- */

static const struct limit *
limit_of(struct table *t, const struct work *w)
{
	struct field kind = field_of("fusion"), ribbon;
	bool is_ribbon;

	if (w->o.limit_udb != DB_NONE)
		return &w->only;
	get_text(t, KIND, &kind);
	is_ribbon = get_text(t, RIBBON_A, &ribbon) || get_text(t, RIBBON_B, &ribbon);
	return limit_find(&w->limits, kind, is_ribbon);
}

static void
one_row(struct prog *p, struct work *w)
{
	struct table *t = &p->in[RECORDS];
	struct tally_joint j = { .loss_udb = DB_NONE };

	if (!joint_stands(t, &joint_cols))
		return;
	if (w->o.value == NULL)
		j.loss_udb = joint_loss(t, &joint_cols, &j.basis);
	else if (!joint_number(t, LOSS, TALLY_MOST_DB, &j.loss_udb))
		j.loss_udb = DB_NONE;
	j.limit = limit_of(t, w);
	get_text(t, JOINT, &j.name);
	get_text(t, TRAY, &j.tray);
	if (get_time(t, MADE_AT, &j.made))
		get_text(t, MADE_AT, &j.made_text);
	j.group = table_key(t, w->by, w->nby, &w->key);
	tally_add(&w->tally, &j);
}

/* --- writing --------------------------------------------------------------------------------- */

static void
put_sum(struct sheet *out, const struct tally_sum *sum)
{
	static const char *const bases[] = { "", "two-way", "estimate", "mixed" };
	static const char *const verdicts[] = { "pass", "fail", "unknown" };

	put_lead(out, sum->group);
	put_whole(out, JOINTS, (int64_t)sum->joints);
	put_whole(out, PASSED, (int64_t)sum->passed);
	put_whole(out, FAILED, (int64_t)sum->failed);
	put_whole(out, UNKNOWN, (int64_t)sum->unknown);
	put_text(out, BASIS, field_of(bases[sum->basis]));
	put_db(out, MEAN, sum->mean_udb);
	if (sum->sd_udb >= 0)
		put_num(out, SD_DB, sum->sd_udb / DB_ONE);
	put_db(out, MEDIAN, sum->median_udb);
	put_db(out, P95, sum->p95_udb);
	put_db(out, MAX, sum->max_udb);
	put_text(out, WORST_JOINT, sum->worst);
	put_text(out, TRAYS, sum->trays);
	put_text(out, FIRST_AT, sum->first);
	put_text(out, LAST_AT, sum->last);
	put_text(out, VERDICT, field_of(verdicts[sum->verdict]));
	sheet_row(out);
}

static void
put_all(struct prog *p, struct work *w)
{
	struct tally_sum sum;

	tally_end(&w->tally);
	for (size_t g = 0; g < w->tally.n; g++) {
		tally_sum(&w->tally, g, &sum);
		put_sum(&p->out[0], &sum);
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
		int at = reader_need(t->reader, table_name(t, CLOSURE));

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
		bytes_add_field(
		    &w->key, w->o.by.n > 0 ? w->o.by.v[i] : field_of(cols[CLOSURE].name));
	}
	prog_sheet(p, 0, sums, bytes_field(&w->key));
}

static int
open_all(struct prog *p, struct work *w)
{
	w->only = (struct limit){ w->o.limit_udb, DB_NONE, 0 };
	if (w->o.limit_udb != DB_NONE && prog_has_input(p, LIMITS))
		return err_set(&p->err, "--limit and --limits: give one of them");
	if (w->o.value != NULL)
		prog_rename(p, cols[LOSS].name, w->o.value);
	if (prog_open(p) != 0 || limits_load(&w->limits, &p->in[LIMITS]) != 0 || find_by(p, w) != 0)
		return -1;
	tally_start(&w->tally, w->limits.nmeans, !w->o.no_quantiles);
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
	limit_free(&w.limits);
	return prog_close(&p, EXIT_DONE);
}
