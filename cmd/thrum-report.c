/*
 * thrum-report: tables, pictures and texts as one page that people read, sign and keep: what is wrong
 * first, and a verdict that rests on all the tables.
 */
#include <stdlib.h>

#include "page/picture.h"
#include "page/report.h"
#include "table/prog.h"

struct opts {
	const char *title;
	int64_t rows;
	bool text;
};

static const struct opt opts[] = {
	{ 0, "title", OPT_TEXT, offsetof(struct opts, title), "TEXT",
	    "what the page is called (Report)" },
	{ 0, "rows", OPT_WHOLE, offsetof(struct opts, rows), "N",
	    "rows of a table that are shown at most, the worst first (60)", 1, 1e6 },
	{ 0, "text", OPT_FLAG, offsetof(struct opts, text), NULL, "plain text in place of HTML" },
	{ 0 },
};

enum { WHAT, FILE_NAME, TITLE, NOTE };
static const struct col contents_columns[] = {
	[WHAT] = { "what", COL_NEED, COL_WORD,
	    .words = "table picture text" }, /* as enum report_what */
	[FILE_NAME] = { "file", COL_NEED, COL_TEXT },
	[TITLE] = { "title", COL_MAY, COL_TEXT },
	[NOTE] = { "note", COL_MAY, COL_TEXT },
	{ NULL },
};

enum { NAME, VALUE };
static const struct col fact_columns[] = {
	[NAME] = { "name", COL_NEED, COL_TEXT },
	[VALUE] = { "value", COL_NEED, COL_TEXT },
	{ NULL },
};
static const int fact_keys[] = { NAME, -1 };

enum { CONTENTS, FACTS };
static const struct table_in inputs[] = {
	[CONTENTS] = { .cols = contents_columns },
	[FACTS] = { "facts", "what is signed for", fact_columns, .key = fact_keys,
	    .flags = IN_HELD },
	{ NULL },
};
static const struct table_out outputs[] = { { .flags = OUT_LATER }, { NULL } };

static const struct page page = {
	.name = "thrum-report",
	.purpose = "tables, pictures and texts as one page to read, print and sign",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct report report;
	struct report_fact *facts;
	struct region keep;
	struct bytes out;
};

static void
read_row(struct run *r)
{
	struct table *t = &r->p.in[CONTENTS];
	struct report_item *l;
	int what = 0;

	if (!get_word(t, WHAT, &what)) {
		table_fail(t, WHAT, "says not what it is: table, picture or text");
		return;
	}
	if (table_field(t, FILE_NAME).n == 0) {
		table_fail(t, FILE_NAME, "no file");
		return;
	}
	l = report_add(&r->report);
	*l = (struct report_item){ .what = (enum report_what)what,
		.path = region_string(&r->keep, table_field(t, FILE_NAME)),
		.title = region_keep(&r->keep, table_field(t, TITLE)),
		.note = region_keep(&r->keep, table_field(t, NOTE)) };
	if (l->title.n == 0)
		l->title = field_of(l->path);
	if (what == REPORT_TABLE)
		part_open(&l->part, l->path, (size_t)r->o.rows, &r->p.err);
	else if (file_read(l->path, &l->text, &r->p.err) == 0 && what == REPORT_PICTURE)
		picture_check(l->path, bytes_field(&l->text), &r->p.err);
}

static int
read_contents(struct run *r)
{
	const struct report_item *v;

	while (prog_next(&r->p))
		read_row(r);
	v = r->report.items;
	for (size_t i = 0; i < r->report.n && !err_is_set(&r->p.err); i++)
		if (v[i].what == REPORT_PICTURE &&
		    (i + 1 == r->report.n || v[i + 1].what == REPORT_TEXT))
			err_set(
			    &r->p.err, "%s: a picture stands before the table it shows", v[i].path);
	return err_is_set(&r->p.err) ? -1 : 0;
}

/* A question mark or a stroke states nothing: a letter or a digit does. */
static bool
is_stated(struct field f)
{
	for (size_t i = 0; i < f.n; i++) {
		char c = byte_lower(f.p[i]);

		if ((c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || (c & 0x80) != 0)
			return true;
	}
	return false;
}

static void
read_facts(struct run *r)
{
	struct table *t = &r->p.in[FACTS];
	size_t n = table_rows(t);

	r->facts = mem_zeroed(n + 1, sizeof *r->facts);
	for (size_t i = 0; i < n; i++) {
		table_at(t, i);
		r->facts[i] = (struct report_fact){ table_field(t, NAME), table_field(t, VALUE) };
		if (!is_stated(r->facts[i].value))
			r->facts[i].value.n = 0;
	}
	r->report.facts = r->facts;
	r->report.nfacts = n;
}

int
main(int argc, char **argv)
{
	struct run r = { .o = { .rows = 60 } };

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && prog_open(&r.p) == 0 &&
	    read_contents(&r) == 0) {
		read_facts(&r);
		r.report.title = field_of(r.o.title != NULL ? r.o.title : "Report");
		(r.o.text ? report_text : report_html)(&r.report, &r.out);
		writer_bytes(prog_writer(&r.p, 0), r.out.p, r.out.n);
	}
	report_free(&r.report);
	free(r.facts);
	region_free(&r.keep);
	bytes_free(&r.out);
	return prog_close(&r.p, EXIT_DONE);
}
