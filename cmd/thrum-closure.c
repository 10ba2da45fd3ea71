/*
 * thrum-closure: how each closure turned out: its joints as they stand after all nights, counted
 * against limits and a plan, and what they lose on average, at the middle, at worst.
 */
#include <inttypes.h>

#include "fibre/tally_part.h"
#include "fibre/tally_row.h"
#include "fibre/tally_sheet.h"
#include "table/prog.h"

struct opts {
	struct opt_list by, wavelengths;
	struct opt_pairs only;
	const char *value, *accept;
	int64_t limit_udb;
	bool no_quantiles, partial, merge;
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
	{ 0, "partial", OPT_FLAG, AT(partial), NULL,
	    "write what --merge needs of these joints in place of sums" },
	{ 0, "merge", OPT_FLAG, AT(merge), NULL,
	    "the files are written by --partial: sum them up" },
	{ 0, "no-quantiles", OPT_FLAG, AT(no_quantiles), NULL, "leave median_db and p95_db empty" },
	{ 0 },
};

enum { RECORDS, PLAN, FAULTS, LIMITS };

static const struct table_in inputs[] = {
	[RECORDS] = { .cols = tally_cols, .flags = IN_LATER },
	[PLAN] = { "plan", "what is planned", plan_cols, .flags = IN_HELD },
	[FAULTS] = { "faults", "findings: a joint with an error has failed", tally_fault_cols },
	[LIMITS] = { "limits", "limits in place of the built-in ones", limit_cols,
	    .builtin = &limits_tsv, .key = limit_key, .flags = IN_HELD },
	{ NULL },
};

static const struct table_out outputs[] = { { .cols = tally_sheet_cols, .flags = OUT_LATER },
	{ NULL } };

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
	struct bytes how; /* what --partial and --merge must do alike */
	struct tally tally;
	bool against;
};

static void
one_row(struct prog *p, struct work *w)
{
	struct table *t = &p->in[RECORDS];
	struct tally_row row;

	if (w->o.merge) {
		tally_part_read(
		    &w->tally, t, table_key(t, w->by, w->nby, &w->key), bytes_field(&w->how));
		return;
	}
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
put_all(struct prog *p, struct work *w)
{
	struct tally_group g;
	struct tally_sum sum;

	char *const *files;

	if (w->o.partial) {
		tally_part_write(&w->tally, &p->out[0], w->nby, bytes_field(&w->how));
		return;
	}
	if (w->o.merge && tally_part_end(&w->tally, prog_files(p, &files), &p->err) != 0)
		return;
	tally_end(&w->tally);
	while (tally_next(&w->tally, &g))
		for (size_t i = 0; i < g.wavelengths.n; i++) {
			tally_sum(&w->tally, &g, i, !w->o.no_quantiles, &sum);
			tally_sheet_row(&p->out[0], &w->tally, &g, g.wavelengths.nm[i], &sum,
			    w->o.value == NULL);
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
		for (const struct col *c = tally_sheet_cols; c->name != NULL; c++)
			if (field_is(w->o.by.v[i], c->name))
				return err_set(
				    &p->err, "--by: is a column this program makes: '%s'", c->name);
	if (n == 0) {
		struct field closure = w->o.merge ? field_of(tally_cols[TALLY_CLOSURE].name)
						  : table_name(t, TALLY_CLOSURE);
		int at = w->o.merge ? reader_column(t->reader, closure)
				    : reader_need(t->reader, closure);

		if (at < 0 && w->o.merge)
			return err_set(&p->err, "%s: made with --by: give --merge the same columns",
			    reader_file(t->reader));
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
	prog_sheet(p, 0, w->o.partial ? tally_part_made : tally_sheet_cols, bytes_field(&w->key));
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
	if (o->partial && (o->merge || o->wavelengths.n > 0 || o->no_quantiles))
		return err_set(&p->err, "--partial: not with %s",
		    o->merge               ? "--merge"
		    : o->wavelengths.n > 0 ? "--wavelength, which is for --merge"
					   : "--no-quantiles, which is for --merge");
	if (o->merge && prog_has_input(p, FAULTS))
		return err_set(&p->err, "--merge: not with --faults, which is for --partial");
	if (o->value != NULL && !o->merge)
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
	if (tally_read_faults(&w->reading, &p->in[FAULTS]) != 0)
		return -1;
	if (w->reading.nameless > 0)
		prog_say(p, "--faults: not counted: %" PRIu64 " error%s of no joint",
		    w->reading.nameless, prog_s(w->reading.nameless));
	return 0;
}

static int
open_all(struct prog *p, struct work *w)
{
	const struct opts *o = &w->o;

	if (check_options(p, w) != 0 || prog_open(p) != 0 ||
	    prog_bind(p, RECORDS, o->merge ? tally_part_cols : tally_cols) != 0 ||
	    load_sides(p, w) != 0 || find_by(p, w) != 0)
		return -1;
	tally_start(&w->tally, &w->limits, w->reading.plan, joint_basis_of(o->accept), &w->asked);
	w->tally.mode = o->partial ? TALLY_PARTIAL : o->merge ? TALLY_MERGE : TALLY_WHOLE;
	bytes_add_format(&w->how, "value=%s:accept=%s:plan=%zu:closures=%d",
	    o->value != NULL ? o->value : "none", o->accept != NULL ? o->accept : "two-way",
	    w->plan.n, w->tally.closures);
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
	bytes_free(&w.how);
	tally_reader_free(&w.reading);
	plan_free(&w.plan);
	limit_free(&w.limits);
	return prog_close(&p, w.against ? EXIT_AGAINST : EXIT_DONE);
}
