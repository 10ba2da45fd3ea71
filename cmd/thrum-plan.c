/*
 * thrum-plan: the plan of every fibre in every closure, from a schedule of fibres to be joined alike;
 * what contradicts itself there as findings; or what has changed since an older plan.
 */
#include <inttypes.h>
#include <stdlib.h>

#include "fibre/schedule.h"
#include "table/prog.h"

struct opts {
	double wavelength_nm;
	struct cable_usual usual;
};

static const struct opt opts[] = {
	{ 0, "wavelength", OPT_NUM, offsetof(struct opts, wavelength_nm), "NM",
	    "wavelength of the expected loss (1550)", 600, 1700 },
	CABLE_OPTIONS(offsetof(struct opts, usual)),
	{ 0 },
};

static const int was_key[] = { SCHEDULE_CLOSURE, SCHEDULE_CABLE_A, SCHEDULE_FIBRE_A,
	SCHEDULE_TOWARD_A, -1 };

enum { SCHEDULE, SPANS, SITES, WAS, ORDERS, CATEGORIES, ALLOWANCES };

static const struct table_in inputs[] = {
	[SCHEDULE] = { .cols = schedule_cols },
	[SPANS] = { "spans", "cables: where they run, their fibres, orders and categories",
	    cable_span_cols, .key = cable_span_key, .flags = IN_HELD | IN_MANY },
	[SITES] = { "sites", "closures, with their trays and slots", schedule_site_cols,
	    .key = schedule_site_key, .flags = IN_HELD },
	[WAS] = { "was", "an older plan: what changed since is written, not the plan",
	    plan_was_cols, .key = was_key, .flags = IN_HELD | IN_MANY, .arg = "PLAN" },
	[ORDERS] = { "orders", "orders of colours in place of the built-in ones", colour_cols,
	    .builtin = &colours_tsv, .key = colour_key, .flags = IN_HELD },
	[CATEGORIES] = { "categories", "fibre categories in place of the built-in ones",
	    category_cols, .builtin = &categories_tsv, .key = category_key, .flags = IN_HELD },
	[ALLOWANCES] = { "allowances", "loss to plan with, in place of the built-in table",
	    allowance_cols, .builtin = &allowances_tsv },
	{ NULL },
};

/* of what is written with --was, in place of the plan */
enum { CHANGE, JOINT, CLOSURE, CABLE_A, FIBRE_A, TOWARD_A, COLUMN, BEFORE, NOW };

static const struct col change_cols[] = {
	[CHANGE] = { "change", COL_OUT, COL_TEXT },
	[JOINT] = { "joint", COL_OUT, COL_TEXT },
	[CLOSURE] = { "closure", COL_OUT, COL_TEXT },
	[CABLE_A] = { "cable_a", COL_OUT, COL_TEXT },
	[FIBRE_A] = { "fibre_a", COL_OUT, COL_TEXT },
	[TOWARD_A] = { "toward_a", COL_OUT, COL_TEXT },
	[COLUMN] = { "column", COL_OUT, COL_TEXT },
	[BEFORE] = { "was", COL_OUT, COL_TEXT },
	[NOW] = { "now", COL_OUT, COL_TEXT },
	{ NULL },
};

enum { PLAN, FINDINGS };

static const struct table_out outputs[] = {
	[PLAN] = { .cols = plan_out_cols, .flags = OUT_LATER },
	[FINDINGS] = { "findings", "write what is wrong, and where, to FILE", .flags = OUT_LATER },
	{ NULL },
};

static const struct page page = {
	.name = "thrum-plan",
	.purpose = "the plan of every fibre, from a schedule of ranges of fibres",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct cables cables;
	struct allowances allowances;
	struct schedule schedule;
	struct findings found;
	struct col made[SCHEDULE_COLUMNS + 1]; /* plan_out_cols, but those left out */
	struct ids keys;                       /* of the plan's rows: was_key */
	size_t *times, times_cap;              /* of each of them, how many rows there were */
	bool *met;                             /* of each row of the older plan */
	uint64_t rows;
};

/* Everything beside the schedule. */
static int
load_sides(struct run *r)
{
	struct table *in = r->p.in;
	struct opts *o = &r->o;

	if (cables_init(&r->cables, &in[SPANS], &in[ORDERS], &o->usual, &r->p.err) != 0 ||
	    categories_check(&in[CATEGORIES]) != 0 ||
	    allowances_load(&r->allowances, &in[ALLOWANCES]) != 0)
		return -1;
	r->schedule = (struct schedule){ .rows = &in[SCHEDULE],
		.spans = &in[SPANS],
		.sites = &in[SITES],
		.categories = &in[CATEGORIES],
		.allowances = &r->allowances,
		.cables = &r->cables,
		.wavelength_nm = o->wavelength_nm,
		.found = &r->found };
	findings_open(&r->found, prog_writer(&r->p, FINDINGS));
	return 0;
}

/* The plan's columns are those that something is known about. */
static void
choose_columns(struct run *r)
{
	for (int c = 0; c <= SCHEDULE_COLUMNS; c++) {
		r->made[c] = plan_out_cols[c];
		if (c < SCHEDULE_COLUMNS && !schedule_makes(&r->schedule, c))
			r->made[c].role = COL_MAY;
	}
	if (prog_has_input(&r->p, WAS)) {
		prog_sheet(&r->p, PLAN, change_cols, field_of(""));
		r->met = mem_zeroed(table_rows(&r->p.in[WAS]) + 1, sizeof *r->met);
	} else {
		prog_sheet(&r->p, PLAN, r->made, field_of(""));
	}
}

/* --- the plan -------------------------------------------------------------------------------- */

static void
write_fibre(struct run *r)
{
	struct sheet *out = &r->p.out[PLAN];

	for (int c = 0; c < SCHEDULE_COLUMNS; c++)
		if (r->made[c].role == COL_OUT)
			put_text(out, c, schedule_cell(&r->schedule, c));
	sheet_row(out);
}

/* --- what changed ---------------------------------------------------------------------------- */

static void
write_change(struct run *r, const char *change, const struct field cell[SCHEDULE_COLUMNS],
    int column, struct field was, struct field now)
{
	struct sheet *out = &r->p.out[PLAN];

	put_text(out, CHANGE, field_of(change));
	put_text(out, JOINT, cell[SCHEDULE_JOINT]);
	put_text(out, CLOSURE, cell[SCHEDULE_CLOSURE]);
	put_text(out, CABLE_A, cell[SCHEDULE_CABLE_A]);
	put_text(out, FIBRE_A, cell[SCHEDULE_FIBRE_A]);
	put_text(out, TOWARD_A, cell[SCHEDULE_TOWARD_A]);
	put_text(
	    out, COLUMN, field_of(column < SCHEDULE_COLUMNS ? plan_out_cols[column].name : ""));
	put_text(out, BEFORE, was);
	put_text(out, NOW, now);
	sheet_row(out);
}

/* The older plan's row of this fibre becomes the present one: of several rows the one as far on. */
static bool
find_was(struct run *r, const struct field cell[SCHEDULE_COLUMNS])
{
	struct table *was = &r->p.in[WAS];
	struct field key[] = { cell[SCHEDULE_CLOSURE], cell[SCHEDULE_CABLE_A],
		cell[SCHEDULE_FIBRE_A], cell[SCHEDULE_TOWARD_A] };
	bool fresh, there;
	size_t id = ids_add(&r->keys, key, 4, &fresh);

	r->times = mem_grow(r->times, &r->times_cap, id + 1, sizeof *r->times);
	r->times[id] = fresh ? 0 : r->times[id] + 1;
	there = table_rows(was) > 0 && table_find(was, key);
	for (size_t i = 0; there && i < r->times[id]; i++)
		there = table_find_next(was);
	return there;
}

static void
compare_fibre(struct run *r)
{
	struct table *was = &r->p.in[WAS];
	struct field cell[SCHEDULE_COLUMNS], none = { "", 0 };

	for (int c = 0; c < SCHEDULE_COLUMNS; c++)
		cell[c] = schedule_cell(&r->schedule, c);
	if (!find_was(r, cell)) {
		write_change(r, "added", cell, SCHEDULE_COLUMNS, none, none);
		return;
	}
	r->met[table_place(was)] = true;
	for (int c = 0; c < SCHEDULE_COLUMNS; c++)
		if (table_has(was, c) && r->made[c].role == COL_OUT &&
		    !field_same(table_field(was, c), cell[c]))
			write_change(r, "changed", cell, c, table_field(was, c), cell[c]);
}

static void
write_removed(struct run *r)
{
	struct table *was = &r->p.in[WAS];
	struct field cell[SCHEDULE_COLUMNS], none = { "", 0 };

	for (size_t i = 0; i < table_rows(was); i++) {
		if (r->met[i])
			continue;
		table_at(was, i);
		for (int c = 0; c < SCHEDULE_COLUMNS; c++)
			cell[c] = table_field(was, c);
		write_change(r, "removed", cell, SCHEDULE_COLUMNS, none, none);
	}
}

/* --------------------------------------------------------------------------------------------- */

static void
read_all(struct run *r)
{
	while (prog_next(&r->p)) {
		if (!schedule_row(&r->schedule))
			continue;
		while (schedule_fibre(&r->schedule)) {
			r->rows++;
			if (r->met != NULL)
				compare_fibre(r);
			else
				write_fibre(r);
		}
	}
	if (r->met != NULL && !err_is_set(&r->p.err))
		write_removed(r);
}

/* The summary and the exit status come from the same counter. */
static int
finish(struct run *r)
{
	uint64_t errors = r->found.errors;
	int status = prog_close(&r->p, errors > 0 ? EXIT_AGAINST : EXIT_DONE);

	if (status == EXIT_AGAINST)
		prog_say(&r->p, "%" PRIu64 " fibre%s, %" PRIu64 " error%s", r->rows,
		    prog_s(r->rows), errors, prog_s(errors));
	return status;
}

int
main(int argc, char **argv)
{
	struct run r = { .o = { .wavelength_nm = 1550, .usual = CABLE_USUAL }, .keys = IDS_NONE };
	int status;

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && prog_open(&r.p) == 0 &&
	    load_sides(&r) == 0) {
		choose_columns(&r);
		read_all(&r);
	}
	status = finish(&r);
	schedule_free(&r.schedule);
	cables_free(&r.cables);
	allowance_free(&r.allowances);
	findings_free(&r.found);
	ids_free(&r.keys);
	free(r.times);
	free(r.met);
	return status;
}
