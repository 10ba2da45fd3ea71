/* ends: the reading from a against the reading from b: their mean is the loss, their half difference the
 * step of the fibres. */
#include <math.h>
#include <stdlib.h>

#include "page/plot.h"

enum { NAMED = 12, MANY = 2000, SIDE = 420 };

static bool
is_read(const struct plot_joint *j)
{
	return j->ab_udb != DB_NONE && j->ba_udb != DB_NONE;
}

/* The greatest half difference first. */
static int
by_mean(const void *a, const void *b)
{
	const struct plot_joint *x = a, *y = b;
	int64_t by;

	if (is_read(x) != is_read(y))
		return is_read(x) ? -1 : 1;
	if (!is_read(x))
		return field_order(x->joint, y->joint);
	by = (y->ab_udb + y->ba_udb) - (x->ab_udb + x->ba_udb);
	return by != 0 ? (by > 0) - (by < 0) : field_order(x->joint, y->joint);
}

static bool
is_over(const struct plot_joint *j)
{
	return j->limit_udb != DB_NONE && j->ab_udb + j->ba_udb > 2 * j->limit_udb;
}

/* A line where ab + ba, or ab - ba, is `sum`, as far as it lies within the axes; its name at its end. */
static void
diagonal(struct svg *s, const struct axis *x, const struct axis *y, double sum, bool mean,
    const char *dashes, struct field name)
{
	double x0, x1, px, py;

	x0 = mean ? sum - y->hi : sum + y->lo;
	x1 = mean ? sum - y->lo : sum + y->hi;
	x0 = x0 < x->lo ? x->lo : x0;
	x1 = x1 > x->hi ? x->hi : x1;
	if (x0 >= x1)
		return;
	svg_put(s, "<path fill=\"none\" stroke=\"#777\" stroke-dasharray=\"$\" d=\"M% %L% %\"/>\n",
	    dashes, axis_px(x, x0), axis_px(y, mean ? sum - x0 : x0 - sum), axis_px(x, x1),
	    axis_px(y, mean ? sum - x1 : x1 - sum));
	px = axis_px(x, mean ? x0 : x1);
	py = axis_px(y, mean ? sum - x0 : x1 - sum);
	svg_text(s, mean ? px + 4 : px - 4, mean ? py + 14 : py + 16,
	    SVG_SMALL | SVG_GREY | SVG_HALO | (mean ? 0 : SVG_END), name);
}

/* Names of outliers, each where it hides no other. */
static void
draw_names(struct plot *p, const struct axis *x, const struct axis *y, const struct plot_joint *j,
    size_t n)
{
	double at[NAMED][3];
	size_t k = 0;

	for (size_t i = 0; i < n && k < NAMED && is_over(&j[i]); i++) {
		double px = axis_px(x, db_to(j[i].ab_udb)), py = axis_px(y, db_to(j[i].ba_udb)) + 4;
		double wide = svg_width(j[i].joint, SVG_SMALL | SVG_BOLD);
		bool left = px + 8 + wide > x->to, free = true;

		px += left ? -8 - wide : 8;
		py = py > y->at - 20 ? y->at - 20 : py < y->to + 34 ? y->to + 34 : py;
		for (size_t o = 0; o < k; o++)
			free &= fabs(at[o][1] - py) > 15 || px > at[o][2] || px + wide < at[o][0];
		if (!free || px < x->at + 90)
			continue;
		at[k][0] = px;
		at[k][1] = py;
		at[k++][2] = px + wide;
		svg_text(&p->svg, px, py, SVG_SMALL | SVG_BOLD | SVG_HALO, j[i].joint);
	}
}

/* Very many dots: a small square wherever one lies, black if it is over the limit. */
static void
draw_many(
    struct svg *s, const struct axis *x, const struct axis *y, const struct plot_joint *j, size_t n)
{
	enum { CELL = 2, CELLS = SIDE / CELL + 1 };
	char *cells = mem_zeroed((size_t)CELLS * CELLS, 1);

	for (size_t i = 0; i < n; i++) {
		size_t cx = (size_t)((axis_px(x, db_to(j[i].ab_udb)) - x->at) / CELL);
		size_t cy = (size_t)((axis_px(y, db_to(j[i].ba_udb)) - y->to) / CELL);

		cells[cy * CELLS + cx] |= is_over(&j[i]) ? 2 : 1;
	}
	for (char over = 0; over < 2; over++) {
		svg_put(s, "<path fill=\"$\" d=\"", over ? "#111" : "#8a8f98");
		for (int cy = 0; cy < CELLS; cy++)
			for (int cx = 0; cx < CELLS; cx++) {
				char is = cells[cy * CELLS + cx];

				if (is != 0 && (is >= 2) == over)
					svg_put(s, "M% %h2v2h-2z", x->at + CELL * cx,
					    y->to + CELL * cy);
			}
		svg_put(s, "\"/>\n");
	}
	free(cells);
}

static void
draw(struct plot *p, const struct plot_joint *j, size_t n, int64_t limit)
{
	struct svg *s = &p->svg;
	double side = s->width - 2 * SVG_MARGIN - 60, top = s->y + 24, left = SVG_MARGIN + 44,
	       lo = 0, hi = limit != DB_NONE ? 2.2 * db_to(limit) : 0.1, step;
	struct axis x, y;

	for (size_t i = 0; i < n; i++) {
		double a = db_to(j[i].ab_udb), b = db_to(j[i].ba_udb);

		hi = fmax(hi, fmax(a, b));
		lo = fmin(lo, fmin(a, b));
	}
	side = side > SIDE ? SIDE : side;
	x = axis_round(lo, hi, left, left + side, s->width < 500 ? 5 : 8);
	y = axis_round(lo, hi, top + side, top, s->width < 500 ? 5 : 8);
	svg_text(s, SVG_MARGIN, s->y + 12, SVG_SMALL | SVG_GREY, field_of("read from b, dB"));
	axis_rows(s, &y, left, left + side);
	axis_columns(s, &x, top, top + side);
	step = svg_step((hi - lo) / 2, 2);
	if (n > MANY)
		draw_many(s, &x, &y, j, n);
	diagonal(s, &x, &y, 0, false, "none", field_of("no step"));
	diagonal(s, &x, &y, 2 * step, false, "1 4", field_of("equal step"));
	diagonal(s, &x, &y, -2 * step, false, "1 4", field_of(""));
	if (limit != DB_NONE) {
		p->words.n = 0;
		bytes_add_text(&p->words, "mean ");
		plot_db(&p->words, limit);
		bytes_add_text(&p->words, ": the limit");
		diagonal(s, &x, &y, 2 * db_to(limit), true, "5 4", bytes_field(&p->words));
	}
	for (size_t i = 0; i < n && n <= MANY; i++)
		svg_put(s, "<circle cx=\"%\" cy=\"%\" r=\"3\"$/>\n",
		    axis_px(&x, db_to(j[i].ab_udb)), axis_px(&y, db_to(j[i].ba_udb)),
		    is_over(&j[i]) ? "" : " fill=\"#fff\" stroke=\"#111\"");
	draw_names(p, &x, &y, j, n);
	s->y = top + side + 20;
	svg_text(s, left + side / 2, s->y + 14, SVG_SMALL | SVG_GREY | SVG_MIDDLE,
	    field_of("read from a, dB"));
	s->y += 20;
	svg_lines(s, SVG_SMALL,
	    field_of(
		"Black dots lose more on average than the limit. Far from the line of no step the "
		"two fibres differ."));
	s->y += 12;
}

static void
list(struct plot *p, const struct plot_joint *j, size_t n)
{
	for (size_t i = 0; i < n && i < 200; i++) {
		int64_t twice = j[i].ab_udb + j[i].ba_udb;
		struct bytes cells = { NULL, 0, 0 };

		bytes_add_field(&cells, j[i].joint);
		bytes_add_text(&cells, "\ta ");
		plot_db(&cells, j[i].ab_udb);
		bytes_add_text(&cells, "\tb ");
		plot_db(&cells, j[i].ba_udb);
		p->words.n = 0;
		bytes_add_text(&p->words, "mean ");
		plot_db(&p->words, twice / 2);
		bytes_add_text(&p->words, ", step ");
		plot_db(&p->words, (j[i].ab_udb - j[i].ba_udb) / 2);
		bytes_add_text(&p->words, is_over(&j[i]) ? " over" : "");
		bars_row(&p->bars, bytes_field(&cells), db_to(twice / 2), is_over(&j[i]),
		    bytes_field(&p->words));
		bytes_free(&cells);
	}
	p->words.n = 0;
	bytes_add_format(&p->words, "%zu more are not listed.", n > 200 ? n - 200 : 0);
	if (n > 200)
		bars_line(&p->bars, bytes_field(&p->words));
}

void
plot_ends(struct plot *p, struct plot_joint *j, size_t n)
{
	size_t read = 0, over = 0;
	int64_t limit = DB_NONE;

	if (n > 0)
		qsort(j, n, sizeof *j, by_mean);
	while (read < n && is_read(&j[read])) {
		over += is_over(&j[read]);
		limit = j[read].limit_udb > limit ? j[read].limit_udb : limit;
		read++;
	}
	bytes_add_text(&p->head, "Readings from both ends");
	bytes_add_format(
	    &p->verdict, "%zu joint%s read from both ends", read, read == 1 ? "" : "s");
	if (n > read)
		bytes_add_format(&p->verdict, ", %zu not", n - read);
	if (limit != DB_NONE)
		bytes_add_format(&p->verdict, "; %zu with a mean over the limit", over);
	bytes_add_text(&p->verdict, ".");
	plot_begin(p);
	p->bars.limit = limit != DB_NONE ? db_to(limit) : 0;
	if (read > 0 && p->text)
		list(p, j, read);
	else if (read > 0)
		draw(p, j, read, limit);
	plot_end(p);
}
