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
	const char *limits;
	bool no_quantiles;
};

static const struct opt opts[] = {
	{ 0, "by", OPT_LIST, offsetof(struct opts, by), "COL[,COL]",
	    "one row for each value of these columns (closure)" },
	{ 0, "value", OPT_TEXT, offsetof(struct opts, value), "COLUMN",
	    "judge this column (loss_db, else est_db)" },
	{ 0, "limit", OPT_DB, offsetof(struct opts, limit_udb), "DB",
	    "what a joint of any kind may lose at most", 0, 1000 },
	{ 0, "limits", OPT_TEXT, offsetof(struct opts, limits), "FILE",
	    "limits by kind in place of the built-in ones" },
	{ 0, "no-quantiles", OPT_FLAG, offsetof(struct opts, no_quantiles), NULL,
	    "leave median_db and p95_db empty and need no memory for them" },
	{ 0, "print-limits", OPT_PRINT, .help = "print the built-in limits and exit",
	    .table = &limits_tsv },
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

enum { PLACES = 6 }; /* decimals of every _db: what is exact is written exactly */

/* The written ones stand in their order; put_sum has to follow it. */
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
	{ "joints", COL_OUT, COL_WHOLE },
	{ "passed", COL_OUT, COL_WHOLE },
	{ "failed", COL_OUT, COL_WHOLE },
	{ "unknown", COL_OUT, COL_WHOLE },
	{ "basis", COL_OUT, COL_TEXT },
	{ "mean_db", COL_OUT, COL_DB },
	{ "sd_db", COL_OUT, COL_DB },
	{ "median_db", COL_OUT, COL_DB },
	{ "p95_db", COL_OUT, COL_DB },
	{ "max_db", COL_OUT, COL_DB },
	{ "worst_joint", COL_OUT, COL_TEXT },
	{ "trays", COL_OUT, COL_TEXT },
	{ "first_at", COL_OUT, COL_TEXT },
	{ "last_at", COL_OUT, COL_TEXT },
	{ "verdict", COL_OUT, COL_TEXT },
	{ NULL },
};

static const struct page page = {
	.name = "thrum-closure",
	.purpose = "how each closure turned out",
	.operands = "[FILE ...]",
	.opts = opts,
	.cols = cols,
	.flags = PROG_NO_SHEET,
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
	struct writer *out;
};

/* --- reading --------------------------------------------------------------------------------- */

static const struct limit *
limit_of(struct prog *p, const struct work *w)
{
	struct field kind = field_of("fusion"), ribbon;
	bool is_ribbon;

	if (w->o.limit_udb != DB_NONE)
		return &w->only;
	get_text(&p->in, KIND, &kind);
	is_ribbon = get_text(&p->in, RIBBON_A, &ribbon) || get_text(&p->in, RIBBON_B, &ribbon);
	return limit_find(&w->limits, kind, is_ribbon);
}

static void
one_row(struct prog *p, struct work *w)
{
	struct tally_joint j = { .loss_udb = DB_NONE };

	if (!joint_stands(&p->in, &joint_cols))
		return;
	if (w->o.value == NULL)
		j.loss_udb = joint_loss(&p->in, &joint_cols, &j.basis);
	else if (!joint_number(&p->in, LOSS, TALLY_MOST_DB, &j.loss_udb))
		j.loss_udb = DB_NONE;
	j.limit = limit_of(p, w);
	get_text(&p->in, JOINT, &j.name);
	get_text(&p->in, TRAY, &j.tray);
	if (get_time(&p->in, MADE_AT, &j.made))
		get_text(&p->in, MADE_AT, &j.made_text);
	j.group = table_key(&p->in, w->by, w->nby, &w->key);
	tally_add(&w->tally, &j);
}

/* --- writing --------------------------------------------------------------------------------- */

static void
put_udb(struct writer *out, int64_t udb)
{
	if (udb != DB_NONE)
		writer_db(out, udb, PLACES);
	else
		writer_text(out, "");
}

static void
put_sum(struct writer *out, const struct tally_sum *sum)
{
	static const char *const bases[] = { "", "two-way", "estimate", "mixed" };
	static const char *const verdicts[] = { "pass", "fail", "unknown" };

	writer_slice(out, sum->group);
	writer_whole(out, (int64_t)sum->joints);
	writer_whole(out, (int64_t)sum->passed);
	writer_whole(out, (int64_t)sum->failed);
	writer_whole(out, (int64_t)sum->unknown);
	writer_text(out, bases[sum->basis]);
	put_udb(out, sum->mean_udb);
	if (sum->sd_udb >= 0)
		writer_num(out, sum->sd_udb / DB_ONE, PLACES);
	else
		writer_text(out, "");
	put_udb(out, sum->median_udb);
	put_udb(out, sum->p95_udb);
	put_udb(out, sum->max_udb);
	writer_slice(out, sum->worst);
	writer_slice(out, sum->trays);
	writer_slice(out, sum->first);
	writer_slice(out, sum->last);
	writer_text(out, verdicts[sum->verdict]);
	writer_end_row(out);
}

static void
put_all(struct work *w)
{
	struct tally_sum sum;

	tally_end(&w->tally);
	for (size_t g = 0; g < w->tally.n; g++) {
		tally_sum(&w->tally, g, &sum);
		put_sum(w->out, &sum);
	}
}

static int
put_header(struct prog *p, struct work *w)
{
	for (size_t i = 0; i < w->nby; i++)
		writer_slice(w->out, w->o.by.n > 0 ? w->o.by.v[i] : field_of(cols[CLOSURE].name));
	for (const struct col *c = cols; c->name != NULL; c++)
		if (c->role == COL_OUT)
			writer_text(w->out, c->name);
	writer_end_row(w->out);
	return err_is_set(&p->err) ? -1 : 0;
}

/* --- all of it ------------------------------------------------------------------------------- */

/* Finds the columns to group by: those of --by as the files call them, or the closure's. */
static int
find_by(struct prog *p, struct work *w)
{
	struct reader *reader = p->in.reader;
	int n = table_list(&p->in, "by", &w->o.by, BY_MOST, w->by);

	for (size_t i = 0; i < w->o.by.n; i++)
		for (const struct col *c = cols; c->name != NULL; c++)
			if (c->role == COL_OUT && field_is(w->o.by.v[i], c->name))
				return err_set(
				    &p->err, "--by: is a column this program makes: '%s'", c->name);
	if (n == 0) {
		bool has = table_has(&p->in, CLOSURE);
		int at = has ? p->in.at[CLOSURE] : -1;

		at = reader_need(
		    reader, has ? reader_name(reader, (size_t)at) : field_of(cols[CLOSURE].name));
		if (at < 0)
			return -1;
		w->by[n++] = (size_t)at;
	}
	w->nby = (size_t)n;
	return n < 0 ? -1 : 0;
}

static int
open_all(struct prog *p, struct work *w)
{
	w->only = (struct limit){ w->o.limit_udb, DB_NONE, 0 };
	if (w->o.limit_udb != DB_NONE && w->o.limits != NULL)
		return err_set(&p->err, "--limit and --limits: give one of them");
	if (w->o.limit_udb == DB_NONE && limit_read(&w->limits, w->o.limits, &p->err) != 0)
		return -1;
	tally_start(&w->tally, w->limits.nmeans, !w->o.no_quantiles);
	if (w->o.value != NULL)
		prog_rename(p, cols[LOSS].name, w->o.value);
	if (prog_open(p) != 0 || find_by(p, w) != 0)
		return -1;
	w->out = prog_output(p, p->house.output);
	if (w->out == NULL)
		return -1;
	reader_on_wait(p->in.reader, writer_flush, w->out);
	return put_header(p, w);
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
			put_all(&w);
	}
	tally_free(&w.tally);
	bytes_free(&w.key);
	limit_free(&w.limits);
	return prog_close(&p, EXIT_DONE);
}
