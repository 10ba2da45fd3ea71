/* link: what is lost so far over the distance, as stairs that rise from zero. */
#include <math.h>
#include <stdlib.h>

#include "page/plot.h"

enum { HIGH = 250, LANES = 3 };

struct line {
	int64_t measured, planned,
	    sum; /* of the parts measured; of the allowances; of what is drawn */
	size_t not_measured, not_known;
};

/* What a part adds to the line: its loss, else what is allowed for it. DB_NONE: not known. */
static int64_t
step_of(const struct plot_part *part, size_t w)
{
	return part->measured_udb[w] != DB_NONE ? part->measured_udb[w] : part->planned_udb[w];
}

static bool
is_over(const struct plot_part *part, size_t w)
{
	return part->measured_udb[w] != DB_NONE && part->most_udb[w] != DB_NONE &&
	       part->length_km == 0 && part->measured_udb[w] > part->most_udb[w];
}

static void
sum_up(struct line *line, const struct plot_part *parts, size_t n, size_t w)
{
	*line = (struct line){ 0 };
	for (size_t i = 0; i < n; i++) {
		int64_t step = step_of(&parts[i], w);

		line->not_known += step == DB_NONE;
		line->not_measured += parts[i].measured_udb[w] == DB_NONE;
		line->sum += step != DB_NONE ? step : 0;
		if (parts[i].measured_udb[w] != DB_NONE)
			line->measured += parts[i].measured_udb[w];
		if (parts[i].planned_udb[w] != DB_NONE)
			line->planned += parts[i].planned_udb[w];
	}
}

static void
say(struct plot *p, const struct plot_link *l, const struct line *lines)
{
	struct bytes *v = &p->verdict;
	char text[32];

	bytes_add_text(&p->head, "Link ");
	bytes_add_field(&p->head, l->link);
	for (size_t w = 0; w < l->n; w++) {
		if (w > 0)
			bytes_add_text(v, " ");
		if (l->nm[w] > 0) {
			bytes_add_field(v, svg_number(text, l->nm[w], 1));
			bytes_add_text(v, " nm: ");
		}
		plot_db(v, lines[w].sum);
		bytes_add_text(v, " dB");
		if (l->allowed_udb[w] != DB_NONE) {
			bytes_add_text(v, " of ");
			plot_db(v, l->allowed_udb[w]);
			bytes_add_text(v, " allowed");
		}
		bytes_add_text(v, "; planned ");
		plot_db(v, lines[w].planned);
		if (lines[w].not_measured > 0)
			bytes_add_format(v, "; %zu parts not measured", lines[w].not_measured);
		if (lines[w].not_known > 0)
			bytes_add_format(v, ", of %zu NOTHING IS KNOWN", lines[w].not_known);
		if (l->verdict[w].n > 0) {
			bytes_add_text(v, ". Verdict: ");
			bytes_add_field(v, l->verdict[w]);
		}
		bytes_add_text(v, ".");
	}
}

/* A part whose place is not known stands behind the one before it. */
static void
set_places(struct plot_part *parts, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (isnan(parts[i].km))
			parts[i].km = i > 0 ? parts[i - 1].km + parts[i - 1].length_km : 0;
}

/* The wavelength, where there are several: "1550 ". */
static void
add_nm(struct bytes *b, const struct plot_link *l, size_t w)
{
	char text[32];

	if (l->n > 1) {
		bytes_add_field(b, svg_number(text, l->nm[w], 1));
		bytes_add_text(b, " ");
	}
}

/* One line of steps: `planned` of the allowances alone, else thick where measured. */
static void
draw_stairs(struct plot *p, const struct plot_link *l, const struct axis *x, const struct axis *y,
    const struct plot_part *parts, size_t n, size_t w, bool planned)
{
	static const char *const dashes[PLOT_LINES] = { "none", "9 3", "3 3", "9 3 2 3" };
	struct svg *s = &p->svg;
	int64_t sum = 0;

	for (size_t i = 0; i < n; i++) {
		int64_t step = planned ? parts[i].planned_udb[w] : step_of(&parts[i], w);
		bool thick = !planned && parts[i].measured_udb[w] != DB_NONE;
		double from = axis_px(y, db_to(sum)), at = axis_px(x, parts[i].km);

		sum += step != DB_NONE ? step : 0;
		svg_put(s,
		    "<path fill=\"none\" stroke=\"$\" stroke-width=\"$\" stroke-dasharray=\"$\" "
		    "d=\"M% %L% %\"/>\n",
		    planned ? "#777" : "#111", thick ? "2.4" : "1",
		    planned || step == DB_NONE ? "1 3" : dashes[w], at, from,
		    axis_px(x, parts[i].km + parts[i].length_km), axis_px(y, db_to(sum)));
		if (!planned && is_over(&parts[i], w)) {
			p->words.n = 0;
			add_nm(&p->words, l, w);
			bytes_add_field(&p->words, parts[i].ref);
			bytes_add_text(&p->words, ": ");
			plot_db(&p->words, parts[i].measured_udb[w]);
			bytes_add_text(&p->words, ", over ");
			plot_db(&p->words, parts[i].most_udb[w]);
			bars_line(&p->bars, bytes_field(&p->words));
			svg_put(s,
			    "<circle cx=\"%\" cy=\"%\" r=\"5\" fill=\"none\" stroke=\"#111\"/>\n",
			    at, (from + axis_px(y, db_to(sum))) / 2);
		}
	}
}

/* Sites below the axis, each in the first lane that is free there; where none is, only its mark. */
static void
draw_sites(struct plot *p, const struct plot_link *l, const struct axis *x, double top,
    const struct plot_part *parts, size_t n)
{
	struct svg *s = &p->svg;
	double taken[LANES] = { 0 }, lowest = 0;
	char text[32];

	for (size_t i = 0; i < n; i++) {
		struct field site = parts[i].site.n > 0 ? parts[i].site
				    : i + 1 == n        ? l->site_b
							: field_of("");
		double at = axis_px(x, parts[i].km), wide, from;
		size_t lane = 0;

		if (site.n == 0 || (i > 0 && field_same(site, parts[i - 1].site)))
			continue;
		svg_put(s, "<path stroke=\"#111\" d=\"M% %v6\"/>\n", at, top);
		p->words.n = 0;
		bytes_add_field(&p->words, svg_number(text, parts[i].km, 0.1));
		bytes_add_text(&p->words, " km");
		wide =
		    fmax(svg_width(site, SVG_SMALL), svg_width(bytes_field(&p->words), SVG_SMALL));
		wide = fmin(wide, s->width / 2 - SVG_MARGIN);
		from = fmin(fmax(at - wide / 2, SVG_MARGIN), s->width - SVG_MARGIN - wide);
		while (lane < LANES && taken[lane] > from)
			lane++;
		if (lane == LANES)
			continue;
		taken[lane] = from + wide + 10;
		svg_text_in(s, from, top + 20 + 34 * (double)lane, wide + 1, SVG_SMALL, site);
		svg_text(s, from, top + 35 + 34 * (double)lane, SVG_SMALL | SVG_GREY,
		    bytes_field(&p->words));
		lowest = fmax(lowest, 40 + 34 * (double)lane);
	}
	s->y = top + lowest;
}

/* Names at the right ends of the lines, moved apart. */
static void
draw_names(struct plot *p, const struct plot_link *l, const struct line *lines,
    const struct axis *y, double x)
{
	double at[2 * PLOT_LINES];
	struct bytes *b = &p->words;
	size_t k = 0;
	char text[32];

	for (size_t i = 0; i < 2 * l->n; i++) {
		size_t w = i / 2;
		double py = axis_px(y, db_to(i % 2 == 0 ? lines[w].sum : lines[w].planned)) + 4;

		for (size_t o = 0; o < k; o++)
			if (fabs(at[o] - py) < 15) {
				py = at[o] - 15; /* upwards, and once more past all of them */
				o = SIZE_MAX;
			}
		at[k++] = py;
		b->n = 0;
		if (l->nm[w] > 0) {
			bytes_add_field(b, svg_number(text, l->nm[w], 1));
			bytes_add_text(b, " ");
		}
		bytes_add_text(b, i % 2 == 1                  ? "planned"
				  : lines[w].not_measured > 0 ? "in part"
							      : "measured");
		svg_text(&p->svg, x + 6, py, SVG_SMALL | (i % 2 == 0 ? SVG_BOLD : SVG_GREY),
		    bytes_field(b));
	}
}

static void
draw(struct plot *p, const struct plot_link *l, const struct line *lines,
    const struct plot_part *parts, size_t n)
{
	struct svg *s = &p->svg;
	double left = SVG_MARGIN + 40, top = s->y + 36, most = 0.5, far = 0, right;
	struct axis x, y;

	for (size_t i = 0; i < n; i++)
		far = fmax(far, parts[i].km + parts[i].length_km);
	for (size_t w = 0; w < l->n; w++) {
		most = fmax(
		    most, db_to(lines[w].sum > lines[w].planned ? lines[w].sum : lines[w].planned));
		/* a limit that is far above is told in words only, so that the steps stay visible */
		if (l->allowed_udb[w] != DB_NONE && db_to(l->allowed_udb[w]) < 2 * most)
			most = fmax(most, db_to(l->allowed_udb[w]));
	}
	right =
	    s->width - SVG_MARGIN - svg_width(field_of("1550 measured"), SVG_SMALL | SVG_BOLD) - 8;
	y = axis_round(0, most, top + HIGH, top, 6);
	x = (struct axis){ 0, far > 0 ? far : 1, left, right, 1 };
	svg_text(s, SVG_MARGIN, s->y + 12, SVG_SMALL | SVG_GREY, field_of("dB lost so far"));
	axis_rows(s, &y, left, right);
	for (size_t w = 0; w < l->n; w++) {
		int64_t margin = l->margin_udb[w];
		double at = axis_px(&y, db_to(l->allowed_udb[w]));

		if (l->allowed_udb[w] == DB_NONE || at < top - 1 ||
		    (w > 0 && l->allowed_udb[w] == l->allowed_udb[w - 1]))
			continue;
		svg_put(s, "<path stroke=\"#111\" stroke-dasharray=\"5 4\" d=\"M% %H%\"/>\n", left,
		    at, right);
		p->words.n = 0;
		add_nm(&p->words, l, w);
		bytes_add_text(&p->words, "allowed ");
		plot_db(&p->words, l->allowed_udb[w]);
		if (margin != DB_NONE) {
			bytes_add_text(&p->words, margin < 0 ? ", over by " : ", margin ");
			plot_db(&p->words, margin < 0 ? -margin : margin);
		}
		svg_text(s, left + 4, at - 5, SVG_SMALL | SVG_HALO, bytes_field(&p->words));
	}
	for (size_t w = 0; w < l->n; w++)
		draw_stairs(p, l, &x, &y, parts, n, w, true);
	for (size_t w = 0; w < l->n; w++)
		draw_stairs(p, l, &x, &y, parts, n, w, false);
	draw_names(p, l, lines, &y, right);
	draw_sites(p, l, &x, top + HIGH, parts, n);
	svg_lines(s, SVG_SMALL,
	    field_of(
		"Thick: measured. Thin: not measured, as allowed for. Dotted: planned. A ring: more "
		"than the part may lose."));
	for (struct field rest = bytes_field(&p->bars.lines); rest.n > 0;)
		svg_lines(s, SVG_SMALL | SVG_BOLD, field_cut(&rest, '\n'));
	bytes_free(&p->bars.lines);
	s->y += 12;
}

static void
list(struct plot *p, const struct plot_link *l, const struct plot_part *parts, size_t n)
{
	char text[32];

	p->bars.limit = l->allowed_udb[0] != DB_NONE ? db_to(l->allowed_udb[0]) : 0;
	for (size_t w = 0; w < l->n; w++) {
		int64_t sum = 0;

		for (size_t i = 0; i < n; i++) {
			int64_t step = step_of(&parts[i], w);
			struct bytes cells = { NULL, 0, 0 };

			sum += step != DB_NONE ? step : 0;
			if (l->n > 1)
				bytes_add_field(&cells, svg_number(text, l->nm[w], 1));
			bytes_add_text(&cells, l->n > 1 ? "\t" : "");
			bytes_add_field(&cells, svg_number(text, parts[i].km, 0.001));
			bytes_add_text(&cells, "\t");
			bytes_add_field(&cells, parts[i].ref.n > 0 ? parts[i].ref : parts[i].site);
			p->words.n = 0;
			plot_db(&p->words, sum);
			bytes_add_text(&p->words, step == DB_NONE         ? " NOT KNOWN"
						  : is_over(&parts[i], w) ? " over"
						  : parts[i].measured_udb[w] == DB_NONE ? " planned"
											: "");
			bars_row(&p->bars, bytes_field(&cells), db_to(sum),
			    is_over(&parts[i], w) || step == DB_NONE, bytes_field(&p->words));
			bytes_free(&cells);
		}
	}
}

void
plot_link(struct plot *p, const struct plot_link *l, struct plot_part *parts, size_t n)
{
	struct line lines[PLOT_LINES];

	set_places(parts, n);
	for (size_t w = 0; w < l->n; w++)
		sum_up(&lines[w], parts, n, w);
	say(p, l, lines);
	plot_begin(p);
	if (p->text)
		list(p, l, parts, n);
	else if (n > 0)
		draw(p, l, lines, parts, n);
	plot_end(p);
}
