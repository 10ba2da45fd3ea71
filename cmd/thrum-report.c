/*
 * thrum-report: tables, pictures and texts as one page that people read, sign and keep: what is wrong
 * first, and a verdict that rests on all the tables.
 */
#include <stdio.h>
#include <stdlib.h>

#include "page/html.h"
#include "page/part.h"
#include "page/picture.h"
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
	[WHAT] = { "what", COL_NEED, COL_WORD, .words = "table picture text" },
	[FILE_NAME] = { "file", COL_NEED, COL_TEXT },
	[TITLE] = { "title", COL_MAY, COL_TEXT },
	[NOTE] = { "note", COL_MAY, COL_TEXT },
	{ NULL },
};
enum { TABLE, PICTURE, TEXT };

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

static const char style[] =
    "@page { size: A4; margin: 20mm; @bottom-right { font: 9pt sans-serif;\n"
    "  content: 'page ' counter(page) ' of ' counter(pages); } }\n"
    "body { font-size: 10pt; max-width: 170mm; margin: 6mm auto; padding: 0 3mm; }\n"
    "@media print { body { margin: 0; padding: 0; max-width: none; } }\n"
    "h1 { font-size: 18pt; line-height: 1.15; margin: 0 0 2mm; }\n"
    "h2 { font-size: 12.5pt; margin: 8mm 0 1mm; break-after: avoid; }\n"
    "h2 + p { break-after: avoid; }\n"
    "p { max-width: 75ch; margin: 1mm 0; }\n"
    ".verdict { border-left: 1.2mm solid #000; padding-left: 3mm; margin: 3mm 0; }\n"
    ".verdict p:first-child { font-size: 13pt; font-weight: bold; }\n"
    ".table { overflow-x: auto; margin: 2mm 0; }\n"
    ".table table { min-width: 50%; }\n"
    "@media print { .table, figure { overflow: visible; } }\n"
    "th, td { padding: 0.5mm 3mm 0.5mm 0; min-width: 2.5em; }\n"
    "th { font-weight: normal; color: #444; border-bottom: 0.25mm solid #000; vertical-align: bottom;\n"
    "  overflow-wrap: normal; }\n"
    "td.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }\n"
    "th.n { text-align: right; }\n"
    "tbody tr:nth-child(5n) td { border-bottom: 0.2mm solid #bbb; }\n"
    "td { overflow-wrap: anywhere; }\n"
    "td.s { white-space: nowrap; }\n"
    "td b { white-space: nowrap; }\n"
    "pre { white-space: pre-wrap; font: inherit; max-width: 75ch; }\n"
    ".note { color: #444; font-size: 9.5pt; }\n"
    "figure { margin: 2mm 0; overflow-x: auto; }\n"
    "figure svg { max-width: 100%; height: auto; }\n"
    "@media screen and (max-width: 170mm) { figure svg { max-width: none; } }\n"
    ".sign { display: flex; gap: 6mm; flex-wrap: wrap; break-inside: avoid; }\n"
    ".sign p { flex: 1; min-width: 50mm; border-top: 0.3mm solid #000; margin-top: 16mm; }\n";

static const char *const cautions[] = {
	"These programs read records. They do not see the joint.",
	"Light in a fibre is invisible. Never look into an end or a connector; before work, have the "
	"far end switched off and locked. IEC 60825-2 rates each place by its hazard level.",
	"Offcuts are sharp glass: closed container, eye protection, no food.",
	"Arcs and heaters ignite gas and solvent. Test the air before going into a chamber, and do "
	"not go alone.",
	"Local rules and the licensed people on site have priority over everything written here.",
};

struct listed {
	int what;
	const char *path;
	struct field title, note;
	struct part part;
	struct bytes text; /* of a picture or a text */
};

struct run {
	struct prog p;
	struct opts o;
	struct listed *v;
	size_t n, cap;
	struct region keep;
	struct bytes out, one;
};

/* --- what is listed --------------------------------------------------------------------------- */

static void
read_row(struct run *r)
{
	struct table *t = &r->p.in[CONTENTS];
	struct listed *l;
	int what = 0;

	if (!get_word(t, WHAT, &what)) {
		table_fail(t, WHAT, "says not what it is: table, picture or text");
		return;
	}
	if (table_field(t, FILE_NAME).n == 0) {
		table_fail(t, FILE_NAME, "no file");
		return;
	}
	r->v = mem_grow(r->v, &r->cap, r->n + 1, sizeof *r->v);
	l = &r->v[r->n++];
	*l = (struct listed){ .what = what,
		.path = region_string(&r->keep, table_field(t, FILE_NAME)),
		.title = region_keep(&r->keep, table_field(t, TITLE)),
		.note = region_keep(&r->keep, table_field(t, NOTE)) };
	if (l->title.n == 0)
		l->title = field_of(l->path);
	if (what == TABLE)
		part_open(&l->part, l->path, (size_t)r->o.rows, &r->p.err);
	else if (file_read(l->path, &l->text, &r->p.err) == 0 && what == PICTURE)
		picture_check(l->path, bytes_field(&l->text), &r->p.err);
}

static int
read_contents(struct run *r)
{
	while (prog_next(&r->p))
		read_row(r);
	for (size_t i = 0; i < r->n && !err_is_set(&r->p.err); i++)
		if (r->v[i].what == PICTURE && (i + 1 == r->n || r->v[i + 1].what == TEXT))
			err_set(&r->p.err, "%s: a picture stands before the table it shows",
			    r->v[i].path);
	return err_is_set(&r->p.err) ? -1 : 0;
}

/* --- the verdict ------------------------------------------------------------------------------ */

/* The next name and value of what is signed for. */
static bool
next_fact(struct run *r, size_t i, struct field fact[2])
{
	if (i >= table_rows(&r->p.in[FACTS]))
		return false;
	table_at(&r->p.in[FACTS], i);
	fact[NAME] = table_field(&r->p.in[FACTS], NAME);
	fact[VALUE] = table_field(&r->p.in[FACTS], VALUE);
	return true;
}

/* How much of what is signed for has no value; all of it counts as one. */
static size_t
unstated(struct run *r)
{
	size_t n = table_rows(&r->p.in[FACTS]) == 0;
	struct field fact[2];

	for (size_t i = 0; next_fact(r, i, fact); i++)
		n += fact[VALUE].n == 0;
	return n;
}

/* Passed is said only if every table that judges says so, and nothing is missing, open or unstated. */
static const char *
verdict(struct run *r)
{
	size_t fail = 0, unknown = unstated(r), pass = 0;

	for (size_t i = 0; i < r->n; i++) {
		const struct part_counts *c = &r->v[i].part.counts;

		fail += c->fail + c->errors;
		unknown +=
		    c->unknown + c->open + c->look + (c->missing > 0) + (c->judged && c->rows == 0);
		pass += c->pass;
	}
	if (fail > 0)
		return "Not passed";
	return unknown > 0 || pass == 0 ? "Not known to pass" : "Passed";
}

static struct field
says(struct run *r, const struct part *part)
{
	r->one.n = 0;
	part_says(part, &r->one);
	return bytes_field(&r->one);
}

/* --- HTML ------------------------------------------------------------------------------------- */

static void
facts_html(struct run *r, struct bytes *b)
{
	struct field fact[2];

	bytes_add_text(b, "<h2>What is signed for</h2>\n");
	if (table_rows(&r->p.in[FACTS]) == 0)
		bytes_add_text(b,
		    "<p><b>! Nothing is stated: not how it was measured, nor by which "
		    "limits.</b></p>\n");
	else
		bytes_add_text(b, "<div class=\"table\"><table><tbody>\n");
	for (size_t i = 0; next_fact(r, i, fact); i++)
		if (fact[VALUE].n > 0)
			html_fill(b, "<tr><td>%</td><td>%</td></tr>\n", fact[NAME], fact[VALUE]);
		else
			html_fill(
			    b, "<tr><td>%</td><td><b>! not stated</b></td></tr>\n", fact[NAME]);
	if (table_rows(&r->p.in[FACTS]) > 0)
		bytes_add_text(b, "</tbody></table></div>\n");
}

static void
write_html(struct run *r, struct field title)
{
	struct bytes *b = &r->out;

	html_begin(b, title, style);
	html_fill(b, "<h1>%</h1>\n<div class=\"verdict\"><p>%</p>\n", title, field_of(verdict(r)));
	for (size_t i = 0; i < r->n; i++)
		if (r->v[i].what == TABLE && says(r, &r->v[i].part).n > 0)
			html_fill(b, "<p>%: %.</p>\n", r->v[i].title, bytes_field(&r->one));
	bytes_add_text(b, "</div>\n");
	for (size_t i = 0; i < r->n; i++) {
		struct listed *l = &r->v[i];

		html_fill(b, "<h2>%</h2>\n", l->title);
		if (l->note.n > 0)
			html_fill(b, "<p>%</p>\n", l->note);
		if (l->what == TABLE)
			part_html(&l->part, b);
		else if (l->what == TEXT)
			html_fill(b, "<pre>%</pre>\n", bytes_field(&l->text));
		else
			picture_html(bytes_field(&l->text), b);
	}
	facts_html(r, b);
	bytes_add_text(b, "<h2>Cautions</h2>\n");
	for (size_t i = 0; i < sizeof cautions / sizeof cautions[0]; i++)
		html_fill(b, "<p>%</p>\n", field_of(cautions[i]));
	bytes_add_text(b, "<div class=\"sign\"><p>for the crew: name, date, signature</p>"
			  "<p>for the client: name, date, signature</p></div>\n");
	html_end(b);
}

/* --- text ------------------------------------------------------------------------------------- */

/* A start and words behind it, in lines of 80 columns. */
static void
add_wrapped(struct bytes *b, const char *start, struct field rest)
{
	bytes_add_text(b, start);
	while (rest.n > 0)
		opt_wrap(b, 2, field_cut(&rest, ' '));
	bytes_add_text(b, "\n");
}

static void
heading(struct bytes *b, struct field title, char line)
{
	bytes_add_text(b, "\n");
	bytes_add_clean(b, title);
	bytes_add_text(b, "\n");
	for (size_t i = 0; i < 70; i++)
		bytes_add(b, &line, 1);
	bytes_add_text(b, "\n");
}

static void
write_text(struct run *r, struct field title)
{
	struct bytes *b = &r->out;
	struct field fact[2];

	bytes_add_clean(b, title);
	bytes_add_format(b, "\n%s.\n", verdict(r));
	for (size_t i = 0; i < r->n; i++)
		if (r->v[i].what == TABLE && says(r, &r->v[i].part).n > 0) {
			bytes_add_text(b, "  ");
			bytes_add_clean(b, r->v[i].title);
			bytes_add_text(b, ": ");
			bytes_add_field(b, bytes_field(&r->one));
			bytes_add_text(b, ".\n");
		}
	for (size_t i = 0; i < r->n; i++) {
		struct listed *l = &r->v[i];

		heading(b, l->title, '-');
		bytes_add_clean(b, l->note);
		bytes_add_text(b, l->note.n > 0 ? "\n" : "");
		if (l->what == TABLE)
			part_text(&l->part, b);
		else if (l->what == PICTURE)
			bytes_add_format(b, "(a picture: %s)\n", l->path);
		for (struct field rest = bytes_field(&l->text); l->what == TEXT && rest.n > 0;) {
			bytes_add_clean(b, field_cut(&rest, '\n'));
			bytes_add_text(b, "\n");
		}
	}
	heading(b, field_of("What is signed for"), '-');
	if (table_rows(&r->p.in[FACTS]) == 0)
		bytes_add_text(
		    b, "! Nothing is stated: not how it was measured, nor by which limits.\n");
	for (size_t i = 0; next_fact(r, i, fact); i++) {
		bytes_add_clean(b, fact[NAME]);
		bytes_add_text(b, ": ");
		bytes_add_clean(b, fact[VALUE].n > 0 ? fact[VALUE] : field_of("! not stated"));
		bytes_add_text(b, "\n");
	}
	heading(b, field_of("Cautions"), '-');
	for (size_t i = 0; i < sizeof cautions / sizeof cautions[0]; i++)
		add_wrapped(b, "-", field_of(cautions[i]));
	bytes_add_text(b, "\nfor the crew:   ______________________________\n"
			  "\nfor the client: ______________________________\n");
}

int
main(int argc, char **argv)
{
	struct run r = { .o = { .rows = 60 } };

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && prog_open(&r.p) == 0 &&
	    read_contents(&r) == 0) {
		(r.o.text ? write_text : write_html)(
		    &r, field_of(r.o.title != NULL ? r.o.title : "Report"));
		writer_bytes(prog_writer(&r.p, 0), r.out.p, r.out.n);
	}
	for (size_t i = 0; i < r.n; i++) {
		part_close(&r.v[i].part);
		bytes_free(&r.v[i].text);
	}
	free(r.v);
	region_free(&r.keep);
	bytes_free(&r.out);
	bytes_free(&r.one);
	return prog_close(&r.p, EXIT_DONE);
}
