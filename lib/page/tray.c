#include "page/tray.h"

#include <stdio.h>

#include "base/opt.h"
#include "page/html.h"
#include "page/width.h"

/* widths in millimetres of what is printed; a letter of 12 point is reckoned wide */
#define LETTER 2.35
enum { WHOLE = 186, JOINT = 27, SIDE = 43, LINE = 6 };
enum { PAGE = 277, FIXED = 126 }; /* FIXED: all but the light, what to keep and the rows */

const char tray_style[] =
    "@page { size: A4; margin: 10mm; }\n"
    "body { font-size: 12pt; line-height: 4.9mm; }\n"
    "section { width: 190mm; margin: 4mm auto; break-after: page; }\n"
    "section:last-child { break-after: auto; }\n"
    "@media print { section { margin: 0; } }\n"
    "header { display: flex; justify-content: space-between; gap: 6mm; }\n"
    "header p { text-align: right; }\n"
    "h1 { font-size: 17pt; line-height: 7mm; margin: 0; }\n"
    "p { margin: 0.8mm 0; }\n"
    ".light, .keep { border: 0.7mm solid #000; padding: 1.5mm 2mm; margin: 2mm 0;\n"
    "  font-weight: bold; }\n"
    ".live { background: #000; color: #fff; print-color-adjust: exact;\n"
    "  -webkit-print-color-adjust: exact; }\n"
    ".live-here { border: 0.5mm solid #000; padding: 0 1mm; font-weight: bold; }\n"
    ".blanks { display: flex; gap: 3mm; }\n"
    ".blanks span { flex: auto; display: flex; white-space: nowrap; padding-top: 2mm; }\n"
    ".blanks span::after { content: ''; flex: 1; border-bottom: 0.4mm solid #000;\n"
    "  margin-left: 1mm; min-width: 9mm; }\n"
    "table { width: 190mm; table-layout: fixed; border-bottom: 0.7mm solid #000; margin: 2mm 0; }\n"
    "th { border-bottom: 0.7mm solid #000; font-size: 11pt; padding: 0.2mm 1mm;\n"
    "  vertical-align: bottom; }\n"
    "td { padding: 0.4mm 1mm; }\n"
    "tbody { break-inside: avoid; border-top: 0.3mm solid #000; }\n"
    ".write { border-left: 0.4mm solid #000; }\n"
    ".row { height: 10.8mm; }\n"
    ".slot { font-size: 14pt; font-weight: bold; }\n"
    "ol { margin: 0; padding-left: 7mm; columns: 2; column-gap: 8mm; font-size: 10pt;\n"
    "  line-height: 4.1mm; }\n"
    "li { break-inside: avoid; }\n"
    ".type-in { font-size: 10pt; line-height: 4.1mm; }\n"
    "@media screen and (max-width: 195mm) {\n"
    "  section, table { width: 100%; padding: 0 1mm; }\n"
    "  header, .blanks { flex-direction: column; gap: 0; }\n"
    "  header p { text-align: left; }\n"
    "  .table { overflow-x: auto; }\n"
    "  .table table { width: 190mm; }\n"
    "  ol { columns: 1; }\n"
    "}\n";

/* common practice, and TIA-455-57-B for the ends */
static const char *const steps[] = {
	"Eye protection on. No food or drink. Offcut container open and in reach, dark mat under it.",
	"Compare cable, tube, colour and number with the row, on both sides. In doubt: ask, do not cut.",
	"Protector on, before stripping.",
	"Strip. Wipe with solvent: none near the arc, none near a flame.",
	"Cleave. Offcut at once into the container; count them.",
	"Load, close, fuse. Write down the machine's number, each attempt. No arc near gas.",
	"Let the machine pull: proof test.",
	"Centre the protector over the bare glass. Shrink it (hot), let it cool.",
	"Stow it in its slot, without a tight bend. Tick the row.",
};
static const char never[] =
    "Never look into an end. Light is invisible; a fibre that was dark can be lit at any time. Local "
    "rules, the permit and the engineer in charge come before this sheet.";
static const char type_in[] =
    "To type in, as answers of thrum-match: splicer (machine), arc (its number), is (joint or retry), "
    "joint (name in the row); or as joints: joint, attempt, stands, note. On the machine, of a joint that is "
    "made again: its name, and retry as note.";

/* --- how high --------------------------------------------------------------------------------- */

/* How many lines a text takes: it is broken between words, and within those that are too long. */
static double
lines_of(struct field f, double width_mm)
{
	size_t most = (size_t)(width_mm / LETTER), lines = f.n > 0, used = 0;

	while (f.n > 0) {
		size_t word = width_field(field_cut(&f, ' '));

		if (used > 0 && used + 1 + word > most)
			lines++, used = 0;
		used += word + (used > 0);
		lines += used > 0 ? (used - 1) / most : 0;
		used = used > 0 ? (used - 1) % most + 1 : 0;
	}
	return (double)lines;
}

static double
height_of(const struct tray_line *l)
{
	double joint = lines_of(l->joint, JOINT - 2) + lines_of(l->last, JOINT - 8) +
		       lines_of(l->kind, JOINT - 2) + lines_of(l->live, JOINT - 5),
	       most = joint;

	for (int side = 0; side < 2; side++) {
		double lines =
		    lines_of(l->fibre[side], SIDE - 2) + lines_of(l->colours[side], SIDE - 2);

		if (lines > most)
			most = lines;
	}
	if (most < 2)
		most = 2;
	return most * 4.9 + 1.1 + lines_of(l->say, WHOLE) * 4.9 + (l->say.n > 0 ? 1 : 0);
}

size_t
tray_fits(const struct tray_page *p, const struct tray_line *lines, size_t n)
{
	double left = PAGE - FIXED - LINE * lines_of(p->light, WHOLE - 6) -
		      LINE * lines_of(p->keep, WHOLE - 6);
	double toward = lines_of(p->toward[0], SIDE - 2);
	size_t i;

	if (lines_of(p->toward[1], SIDE - 2) > toward)
		toward = lines_of(p->toward[1], SIDE - 2);
	left -= toward > 1 ? (toward - 1) * 4.9 : 0;
	for (i = 0; i < n; i++) {
		left -= height_of(&lines[i]);
		if (left < 0 && i > 0)
			break;
	}
	return i;
}

/* --- on paper --------------------------------------------------------------------------------- */

static void
head_html(const struct tray_page *p, struct bytes *b)
{
	char pages[60];

	snprintf(pages, sizeof pages, "%zu of %zu", p->page, p->pages);
	html_fill(b,
	    "<section>\n<div class=\"light%\"><bdi>%</bdi></div>\n<header><div><h1><bdi>%</bdi>",
	    field_of(p->live ? " live" : ""), p->light, p->closure);
	if (p->tray.n > 0)
		html_fill(b, ", tray <bdi>%</bdi>", p->tray);
	html_fill(b, "</h1><p><bdi>%</bdi></p></div>\n<p>page %<br />", p->place, field_of(pages));
	if (p->revision.n > 0)
		html_fill(b, "revision <bdi>%</bdi></p></header>\n", p->revision);
	else
		bytes_add_text(b, "revision ____________</p></header>\n");
	bytes_add_text(b, "<div class=\"blanks\">");
	if (p->hazard.n > 0)
		html_fill(b, "<span>Hazard level (IEC 60825-2) <b>&#160;%</b></span>", p->hazard);
	else
		bytes_add_text(b, "<span>Hazard level (IEC 60825-2)</span>");
	bytes_add_text(b,
	    "<span>Permit no.</span></div>\n"
	    "<div class=\"blanks\"><span>Far ends off and locked by</span><span>at</span>"
	    "<span>Air tested at</span></div>\n"
	    "<div class=\"blanks\"><span>Machine</span><span>Cleaver, blade</span>"
	    "<span>Jointer</span><span>Date</span></div>\n");
	if (p->keep.n > 0)
		html_fill(b, "<div class=\"keep\">DO NOT CUT: <bdi>%</bdi></div>\n", p->keep);
}

static void
line_html(const struct tray_line *l, struct bytes *b)
{
	html_fill(
	    b, "<tbody><tr class=\"row\"><td class=\"slot\">%</td><td><b>%</b>", l->slot, l->joint);
	if (l->kind.n > 0)
		html_fill(b, "<br />%", l->kind);
	if (l->live.n > 0)
		html_fill(b, "<br /><span class=\"live-here\">LIVE <bdi>%</bdi></span>", l->live);
	for (int side = 0; side < 2; side++)
		html_fill(b, "</td><td>%<br /><bdi>%</bdi>", l->fibre[side], l->colours[side]);
	if (l->left_alone)
		html_fill(b, "</td><td class=\"write\" colspan=\"4\"><b>%</b></td></tr></tbody>\n",
		    l->say);
	else
		bytes_add_text(b,
		    "</td><td class=\"write\"></td><td class=\"write\"></td><td class=\"write\"></td>"
		    "<td class=\"write\"></td></tr>");
	if (!l->left_alone && l->say.n > 0)
		html_fill(b, "<tr><td></td><td colspan=\"7\">%</td></tr>", l->say);
	if (!l->left_alone)
		bytes_add_text(b, "</tbody>\n");
}

void
tray_html(const struct tray_page *p, struct bytes *b)
{
	head_html(p, b);
	bytes_add_text(b,
	    "<div class=\"table\"><table>\n<colgroup><col style=\"width: 11mm\" />"
	    "<col style=\"width: 27mm\" /><col style=\"width: 43mm\" /><col style=\"width: 43mm\" />"
	    "<col style=\"width: 12mm\" /><col style=\"width: 12mm\" />"
	    "<col style=\"width: 12mm\" /><col /></colgroup>\n"
	    "<thead><tr><th rowspan=\"2\">slot</th><th rowspan=\"2\">joint</th>");
	for (int side = 0; side < 2; side++)
		html_fill(b, "<th rowspan=\"2\">side %<bdi>%</bdi><br />tube / fibre</th>",
		    field_of(side == 0 ? "a" : "b"), p->toward[side]);
	bytes_add_text(b,
	    "<th colspan=\"3\" class=\"write\">record no. of attempt</th>"
	    "<th rowspan=\"2\" class=\"write\">done? differed?</th></tr>\n"
	    "<tr><th class=\"write\">1</th><th class=\"write\">2</th><th class=\"write\">3</th></tr>"
	    "</thead>\n");
	for (size_t i = 0; i < p->n; i++)
		line_html(&p->lines[i], b);
	bytes_add_text(b, "</table></div>\n<ol>\n");
	for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
		html_fill(b, "<li>%</li>\n", field_of(steps[i]));
	html_fill(b,
	    "</ol>\n<p class=\"type-in\"><b>%</b></p>\n<p class=\"type-in\">%</p>\n</section>\n",
	    field_of(never), field_of(type_in));
}

/* --- as text ---------------------------------------------------------------------------------- */

/* Words behind what stands in the line, wrapped. */
static void
words(struct bytes *b, size_t indent, struct field f)
{
	struct bytes clean = { NULL, 0, 0 };
	struct field rest;

	bytes_add_clean(&clean, f);
	rest = bytes_field(&clean);
	while (rest.n > 0)
		opt_wrap(b, indent, field_cut(&rest, ' '));
	bytes_free(&clean);
}

static void
line_text(const struct tray_line *l, struct bytes *b)
{
	bytes_add_text(b, "\n[ ]");
	words(b, 4, l->slot);
	bytes_add_text(b, " ");
	words(b, 4, l->joint);
	if (l->last.n > 0)
		bytes_add_text(b, " to");
	words(b, 4, l->last);
	words(b, 4, l->kind);
	if (l->live.n > 0) {
		bytes_add_text(b, "  LIVE");
		words(b, 4, l->live);
	}
	bytes_add_text(b, "\n   ");
	for (int side = 0; side < 2; side++) {
		words(b, 4, l->fibre[side]);
		if (l->colours[side].n > 0)
			bytes_add_text(b, ",");
		words(b, 4, l->colours[side]);
		if (side == 0 && l->fibre[1].n > 0)
			bytes_add_text(b, "  to ");
	}
	bytes_add_text(b, "\n");
	if (l->say.n > 0) {
		bytes_add_text(b, "   ");
		words(b, 4, l->say);
		bytes_add_text(b, "\n");
	}
	if (!l->left_alone)
		bytes_add_text(b, "    numbers 1 ________ 2 ________ 3 ________  differed "
				  "______________________\n");
}

void
tray_text(const struct tray_page *p, struct bytes *b)
{
	bytes_add_text(b, p->live ? "***" : "---");
	words(b, 4, p->light);
	bytes_add_text(b, p->live ? " ***\n\n" : "\n\n");
	bytes_add_clean(b, p->closure);
	if (p->tray.n > 0) {
		bytes_add_text(b, ", tray ");
		bytes_add_clean(b, p->tray);
	}
	bytes_add_format(b, "  (page %zu of %zu, revision ", p->page, p->pages);
	bytes_add_clean(b, p->revision.n > 0 ? p->revision : field_of("________"));
	bytes_add_text(b, ")\n");
	bytes_add_clean(b, p->place);
	bytes_add_text(b, "\n\nHazard level (IEC 60825-2) ");
	bytes_add_clean(b, p->hazard.n > 0 ? p->hazard : field_of("________"));
	bytes_add_text(b,
	    "  Permit no. ________________\n"
	    "Far ends off and locked by ________________ at ________  Air tested at ________\n"
	    "Machine __________  Cleaver, blade __________  Jointer __________  Date ________\n");
	if (p->keep.n > 0) {
		bytes_add_text(b, "\nDO NOT CUT:");
		words(b, 4, p->keep);
		bytes_add_text(b, "\n");
	}
	for (int side = 0; side < 2; side++)
		if (p->toward[side].n > 0) {
			bytes_add_format(b, "\nSide %c:", "ab"[side]);
			words(b, 4, p->toward[side]);
		}
	bytes_add_text(b, p->toward[0].n + p->toward[1].n > 0 ? "\n" : "");
	for (size_t i = 0; i < p->n; i++)
		line_text(&p->lines[i], b);
	bytes_add_text(b, "\n");
	for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
		bytes_add_format(b, "%zu.", i + 1);
		words(b, 3, field_of(steps[i]));
		bytes_add_text(b, "\n");
	}
	bytes_add_text(b, "Caution.");
	words(b, 0, field_of(never));
	bytes_add_text(b, "\nAfter.");
	words(b, 0, field_of(type_in));
	bytes_add_text(b, "\n");
}
