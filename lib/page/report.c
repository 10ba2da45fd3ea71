#include "page/report.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/opt.h"
#include "page/html.h"
#include "page/picture.h"

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
    ".signed { break-inside: avoid; }\n"
    ".sign { display: flex; gap: 6mm; flex-wrap: wrap; }\n"
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

struct report_item *
report_add(struct report *r)
{
	r->items = mem_grow(r->items, &r->cap, r->n + 1, sizeof *r->items);
	return &r->items[r->n++];
}

void
report_free(struct report *r)
{
	for (size_t i = 0; i < r->n; i++) {
		part_close(&r->items[i].part);
		bytes_free(&r->items[i].text);
	}
	free(r->items);
}

/* Passed is said only if every table that judges says so, and nothing is missing, open or unstated. */
static const char *
verdict(const struct report *r)
{
	size_t fail = 0, unknown = r->nfacts == 0, pass = 0;

	for (size_t i = 0; i < r->nfacts; i++)
		unknown += r->facts[i].value.n == 0;
	for (size_t i = 0; i < r->n; i++) {
		const struct part_counts *c = &r->items[i].part.counts;

		fail += c->fail + c->errors + c->over;
		unknown += c->unknown + c->open + c->look + c->waiting + c->odd + c->not_due +
			   (c->missing > 0) + (c->judged && c->rows == 0);
		pass += c->pass;
	}
	if (fail > 0)
		return "Not passed";
	return unknown > 0 || pass == 0 ? "Not known to pass" : "Passed";
}

/* What a table says of itself, in *b; of what is no table nothing. */
static struct field
what_it_says(const struct report_item *item, struct bytes *b)
{
	b->n = 0;
	if (item->what == REPORT_TABLE)
		part_says(&item->part, b);
	return bytes_field(b);
}

/* --- HTML ------------------------------------------------------------------------------------- */

static void
facts_html(const struct report *r, struct bytes *b)
{
	bytes_add_text(b, "<h2>What is signed for</h2>\n");
	if (r->nfacts == 0)
		bytes_add_text(b,
		    "<p><b>! Nothing is stated: not how it was measured, nor by which "
		    "limits.</b></p>\n");
	else
		bytes_add_text(b, "<div class=\"table\"><table><tbody>\n");
	for (size_t i = 0; i < r->nfacts; i++)
		if (r->facts[i].value.n > 0)
			html_fill(b, "<tr><td>%</td><td>%</td></tr>\n", r->facts[i].name,
			    r->facts[i].value);
		else
			html_fill(b, "<tr><td>%</td><td><b>! not stated</b></td></tr>\n",
			    r->facts[i].name);
	if (r->nfacts > 0)
		bytes_add_text(b, "</tbody></table></div>\n");
}

void
report_html(const struct report *r, struct bytes *b)
{
	struct bytes says = { NULL, 0, 0 };

	html_begin(b, r->title, style);
	html_fill(
	    b, "<h1>%</h1>\n<div class=\"verdict\"><p>%</p>\n", r->title, field_of(verdict(r)));
	for (size_t i = 0; i < r->n; i++)
		if (what_it_says(&r->items[i], &says).n > 0)
			html_fill(b, "<p>%: %.</p>\n", r->items[i].title, bytes_field(&says));
	bytes_add_text(b, "</div>\n");
	for (size_t i = 0; i < r->n; i++) {
		struct report_item *l = &r->items[i];

		html_fill(b, "<h2>%</h2>\n", l->title);
		if (l->note.n > 0)
			html_fill(b, "<p>%</p>\n", l->note);
		if (l->what == REPORT_TABLE)
			part_html(&l->part, b);
		else if (l->what == REPORT_TEXT)
			html_fill(b, "<pre>%</pre>\n", bytes_field(&l->text));
		else
			picture_html(bytes_field(&l->text), b);
	}
	bytes_add_text(b, "<h2>Cautions</h2>\n");
	for (size_t i = 0; i < sizeof cautions / sizeof cautions[0]; i++)
		html_fill(b, "<p>%</p>\n", field_of(cautions[i]));
	bytes_add_text(b, "<section class=\"signed\">\n");
	facts_html(r, b);
	bytes_add_text(b, "<div class=\"sign\"><p>for the crew: name, date, signature</p>"
			  "<p>for the client: name, date, signature</p></div>\n</section>\n");
	html_end(b);
	bytes_free(&says);
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

void
report_text(const struct report *r, struct bytes *b)
{
	struct bytes says = { NULL, 0, 0 };

	bytes_add_clean(b, r->title);
	bytes_add_format(b, "\n%s.\n", verdict(r));
	for (size_t i = 0; i < r->n; i++)
		if (what_it_says(&r->items[i], &says).n > 0) {
			bytes_add_text(b, "  ");
			bytes_add_clean(b, r->items[i].title);
			bytes_add_text(b, ": ");
			bytes_add_field(b, bytes_field(&says));
			bytes_add_text(b, ".\n");
		}
	for (size_t i = 0; i < r->n; i++) {
		struct report_item *l = &r->items[i];

		heading(b, l->title, '-');
		bytes_add_clean(b, l->note);
		bytes_add_text(b, l->note.n > 0 ? "\n" : "");
		if (l->what == REPORT_TABLE)
			part_text(&l->part, b);
		else if (l->what == REPORT_PICTURE)
			bytes_add_format(b, "(a picture: %s)\n", l->path);
		for (struct field rest = bytes_field(&l->text);
		     l->what == REPORT_TEXT && rest.n > 0;) {
			bytes_add_clean(b, field_cut(&rest, '\n'));
			bytes_add_text(b, "\n");
		}
	}
	heading(b, field_of("Cautions"), '-');
	for (size_t i = 0; i < sizeof cautions / sizeof cautions[0]; i++)
		add_wrapped(b, "-", field_of(cautions[i]));
	heading(b, field_of("What is signed for"), '-');
	if (r->nfacts == 0)
		bytes_add_text(
		    b, "! Nothing is stated: not how it was measured, nor by which limits.\n");
	for (size_t i = 0; i < r->nfacts; i++) {
		struct field value = r->facts[i].value;

		bytes_add_clean(b, r->facts[i].name);
		bytes_add_text(b, ": ");
		bytes_add_clean(b, value.n > 0 ? value : field_of("! not stated"));
		bytes_add_text(b, "\n");
	}
	bytes_add_text(b, "\nfor the crew:   ______________________________\n"
			  "\nfor the client: ______________________________\n");
	bytes_free(&says);
}
