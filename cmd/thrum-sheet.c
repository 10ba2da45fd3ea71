/*
 * thrum-sheet: the field sheets of closures, a page a tray, from the plan: what to joint, in order, and
 * where light may be.
 */
#include "page/sheets.h"
#include "table/prog.h"

struct opts {
	const char *closure, *revision;
	bool text;
};

static const struct opt opts[] = {
	{ 0, "closure", OPT_TEXT, offsetof(struct opts, closure), "CLOSURE",
	    "only the sheets of this closure (all)" },
	{ 0, "revision", OPT_TEXT, offsetof(struct opts, revision), "TEXT",
	    "the plan's revision, printed on each page (a line to write it on)" },
	{ 0, "text", OPT_FLAG, offsetof(struct opts, text), NULL, "plain text in place of HTML" },
	{ 0 },
};

static const struct table_in inputs[] = {
	[SHEETS_PLAN] = { .cols = sheets_plan_cols },
	[SHEETS_LINKS] = { "links", "which links are live, and their hazard levels",
	    sheets_link_cols, .key = sheets_link_key, .flags = IN_HELD | IN_MANY },
	[SHEETS_ELEMENTS] = { "elements", "what lies along each link, as thrum-route writes it",
	    sheets_element_cols, .key = sheets_element_key, .flags = IN_HELD | IN_MANY },
	[SHEETS_SITES] = { "sites", "closures, with their places", sheets_site_cols,
	    .key = sheets_site_key, .flags = IN_HELD },
	[SHEETS_REWORK] = { "rework", "only the joints of this list, as thrum-rework writes it",
	    sheets_rework_cols, .key = sheets_rework_key, .flags = IN_HELD },
	{ NULL },
};
static const struct table_out outputs[] = { { .flags = OUT_LATER }, { NULL } };

static const struct page page = {
	.name = "thrum-sheet",
	.purpose = "the field sheets of closures, a page a tray, from the plan",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

int
main(int argc, char **argv)
{
	struct sheets w = { .closures = IDS_NONE, .lit = IDS_NONE };
	struct opts o = { .text = false };
	struct prog p;

	(void)argc;
	if (prog_begin(&p, &page, &o, argv) == 0 && prog_open(&p) == 0) {
		w.in = p.in;
		w.closure = o.closure;
		w.revision = o.revision;
		w.text_only = o.text;
		for (size_t i = 0; i < SHEETS_TABLES; i++)
			w.has[i] = prog_has_input(&p, i);
		while (prog_next(&p))
			sheets_add(&w);
		if (!err_is_set(&p.err) && sheets_sort(&w) == 0) {
			sheets_write(&w);
			writer_bytes(prog_writer(&p, 0), w.out.p, w.out.n);
		}
	}
	sheets_free(&w);
	return prog_close(&p, EXIT_DONE);
}
