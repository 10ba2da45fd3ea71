/*
 * thrum-plot: one picture of a table: losses, a link, a closure, both ends, a season; as SVG, or in letters.
 */
#include <stdio.h>
#include <stdlib.h>

#include "base/os.h"
#include "picture/rows.h"
#include "table/prog.h"

struct opts {
	const char *kind, *title, *accept;
	struct opt_pairs only;
	int64_t limit_udb, width;
	bool text, ascii;
};

#define AT(member) offsetof(struct opts, member)
#define KINDS      "losses link closure ends season"

static const struct opt opts[] = {
	{ 0, "kind", OPT_TEXT, AT(kind), "KIND",
	    "what to draw: losses, link, closure, ends or season (needed)", .words = KINDS },
	{ 0, "only", OPT_PAIR, AT(only), "COLUMN=VALUE[,VALUE]", "only these rows" },
	{ 0, "title", OPT_TEXT, AT(title), "TEXT", "the picture's title (the kind's own)" },
	{ 0, "accept", OPT_TEXT, AT(accept), "BASIS",
	    "what is enough for a verdict: one-way, or estimate (two-way)", .words = JOINT_BASES },
	{ 0, "limit", OPT_DB, AT(limit_udb), "DB", "what a joint of any kind may lose at most", 0,
	    1000 },
	{ 0, "text", OPT_FLAG, AT(text), NULL, "in letters, for a terminal or a mail" },
	{ 0, "ascii", OPT_FLAG, AT(ascii), NULL, "with --text: in the letters of ASCII" },
	{ 0, "width", OPT_WHOLE, AT(width), "N",
	    "pixels (680), or with --text columns (the terminal's, or 80)", 40, 4000 },
	{ 0 },
};

enum { ROWS, PLAN, FAULTS, LIMITS, BUDGETS, ALLOWANCES };

static const struct table_in inputs[] = {
	[ROWS] = { .cols = picture_cols },
	[PLAN] = { "plan", "what is planned: joints that are not made are missing", plan_cols,
	    .flags = IN_HELD },
	[FAULTS] = { "faults", "findings, of which a joint's errors are told", picture_fault_cols,
	    .key = picture_fault_key, .flags = IN_HELD | IN_MANY },
	[LIMITS] = { "limits", "limits in place of the built-in ones", limit_cols,
	    .builtin = &limits_tsv, .key = limit_key, .flags = IN_HELD },
	[BUDGETS] = { "budgets", "what each link may lose", picture_budget_cols,
	    .key = picture_budget_key, .flags = IN_HELD | IN_MANY },
	[ALLOWANCES] = { "allowances", "allowances in place of the built-in ones", allowance_cols,
	    .builtin = &allowances_tsv },
	{ NULL },
};

static const struct table_out outputs[] = { { .flags = OUT_LATER }, { NULL } };

static const struct page page = {
	.name = "thrum-plot",
	.purpose = "a picture of a table",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct picture r;
};

static bool
is_kind(const struct run *run, const char *kind)
{
	return strcmp(run->o.kind, kind) == 0;
}

/* The columns that the kind cannot do without. */
static int
check_columns(struct run *run)
{
	static const int losses[] = { ROW_LOSS, ROW_LOSS_AB, ROW_EST, ROW_MEAN };
	struct table *t = &run->p.in[ROWS];
	int needed[3] = { -1, -1, -1 };
	bool any = false;

	if (is_kind(run, "link"))
		needed[0] = ROW_LINK, needed[1] = ROW_KIND;
	else if (is_kind(run, "closure"))
		needed[0] = ROW_CLOSURE, needed[1] = ROW_SLOT;
	else if (is_kind(run, "ends"))
		needed[0] = ROW_LOSS_AB, needed[1] = ROW_LOSS_BA;
	else
		for (size_t i = 0; i < sizeof losses / sizeof losses[0]; i++)
			any |= table_has(t, losses[i]);
	if (needed[0] < 0 && !any)
		needed[0] = ROW_LOSS;
	for (int i = 0; needed[i] >= 0; i++)
		if (!table_has(t, needed[i]))
			return reader_need(t->reader, field_of(picture_cols[needed[i]].name));
	return 0;
}

static int
open_all(struct run *run)
{
	static const struct opt_pairs none = { NULL, 0, 0 };
	struct picture *r = &run->r;
	struct table *in;

	if (run->o.kind == NULL)
		return err_set(&run->p.err, "--kind is needed: one of: " KINDS);
	if (run->o.ascii && !run->o.text)
		return err_set(&run->p.err, "--ascii: only with --text");
	if (!run->o.text && run->o.width >= 0 && run->o.width < 320)
		return err_set(&run->p.err, "--width: a picture has at least 320 pixels");
	if (run->o.limit_udb != DB_NONE && prog_has_input(&run->p, LIMITS))
		return err_set(&run->p.err, "--limit and --limits: give one of them");
	if (prog_open(&run->p) != 0 || check_columns(run) != 0)
		return -1;
	in = run->p.in;
	*r = (struct picture){ .rows = &in[ROWS],
		.plan_rows = &in[PLAN],
		.faults = &in[FAULTS],
		.budgets = &in[BUDGETS],
		.only = run->o.only,
		.accept = joint_basis_of(run->o.accept),
		.night = NIGHT_NONE,
		.seqs = IDS_NONE };
	if (run->o.limit_udb != DB_NONE)
		limits_one(&r->limits, run->o.limit_udb);
	else if (limits_load(&r->limits, &in[LIMITS]) != 0)
		return -1;
	if (plan_load(&r->plan, &in[PLAN], &none) != 0 ||
	    allowances_load(&r->allowances, &in[ALLOWANCES]) != 0)
		return -1;
	return picture_ready(r);
}

static void
draw(struct run *run)
{
	struct picture *r = &run->r;
	struct plot plot = { .text = run->o.text,
		.ascii = run->o.ascii || (run->o.text && prog_output_path(&run->p, 0) == NULL &&
					     os_terminal_is_ascii()),
		.width = run->o.width >= 0 ? (double)run->o.width : 680,
		.title = field_of(run->o.title != NULL ? run->o.title : "") };
	char note[100], nm[32];

	if (run->o.text && run->o.width < 0) {
		size_t width = os_terminal_width();

		plot.width = width == 0 ? 80 : width < 40 ? 40 : (double)width;
	}
	if (r->nm > 0 && !is_kind(run, "link")) {
		struct field f = svg_number(nm, r->nm, 1);

		plot.note.n = (size_t)snprintf(note, sizeof note, "At %.*s nm%s.", (int)f.n, f.p,
		    r->other_nm ? "; other wavelengths are not drawn" : "");
		plot.note.p = note;
	}
	if (is_kind(run, "link"))
		picture_link(r, &plot);
	else
		picture_planned(r);
	if (is_kind(run, "losses"))
		plot_losses(&plot, r->joints, r->n);
	else if (is_kind(run, "closure"))
		plot_closure(&plot, r->joints, r->n);
	else if (is_kind(run, "ends"))
		plot_ends(&plot, r->joints, r->n);
	else if (is_kind(run, "season"))
		plot_season(&plot, r->joints, r->n);
	if (run->o.only.n > 0 && !r->fits)
		err_set(&run->p.err, "--only: no row has all of these");
	else
		writer_bytes(prog_writer(&run->p, 0), plot.out.p, plot.out.n);
	bytes_free(&plot.out);
}

int
main(int argc, char **argv)
{
	struct run run = { .o = { .limit_udb = DB_NONE, .width = -1 }, .r = PICTURE_NONE };

	(void)argc;
	if (prog_begin(&run.p, &page, &run.o, argv) == 0 && open_all(&run) == 0) {
		bool sums = is_kind(&run, "season") && table_has(&run.p.in[ROWS], ROW_MEAN);

		while (prog_next(&run.p))
			if (is_kind(&run, "link"))
				picture_element(&run.r);
			else if (sums)
				picture_sums(&run.r);
			else
				picture_joint(&run.r);
		if (!err_is_set(&run.p.err))
			draw(&run);
	}
	picture_free(&run.r);
	return prog_close(&run.p, EXIT_DONE);
}
