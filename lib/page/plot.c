#include "page/plot.h"

#include <math.h>

void
plot_db(struct bytes *b, int64_t udb)
{
	char text[DB_FIXED];

	bytes_add(b, text, db_fixed(text, udb, 3));
}

bool
plot_over(const struct plot_joint *j)
{
	return j->loss_udb != DB_NONE && j->limit_udb != DB_NONE && j->loss_udb > j->limit_udb;
}

bool
plot_unknown(const struct plot_joint *j)
{
	return j->loss_udb == DB_NONE || (strcmp(j->basis, "two-way") != 0 && !j->estimate_counts);
}

void
plot_begin(struct plot *p)
{
	struct field title = p->title.n > 0 ? p->title : bytes_field(&p->head);

	if (p->note.n > 0) {
		bytes_add_text(&p->verdict, " ");
		bytes_add_field(&p->verdict, p->note);
	}
	p->bars.ascii = p->ascii;
	if (!p->text)
		svg_open(&p->svg, p->width, title, bytes_field(&p->verdict));
}

void
plot_end(struct plot *p)
{
	struct field title = p->title.n > 0 ? p->title : bytes_field(&p->head);

	if (p->text)
		bars_write(&p->bars, title, bytes_field(&p->verdict), (size_t)p->width, &p->out);
	else
		svg_close(&p->svg, &p->out);
	bytes_free(&p->head);
	bytes_free(&p->verdict);
	bytes_free(&p->words);
}

struct axis
axis_round(double lo, double hi, double at, double to, int most)
{
	double step = svg_step(hi > lo ? hi - lo : 1, most);

	lo = floor(lo / step + 1e-9) * step;
	hi = hi > lo ? ceil(hi / step - 1e-9) * step : lo + step;
	return (struct axis){ lo, hi, at, to, step };
}

double
axis_px(const struct axis *a, double x)
{
	return a->at + (x - a->lo) / (a->hi - a->lo) * (a->to - a->at);
}

void
axis_rows(struct svg *s, const struct axis *y, double x0, double x1)
{
	char text[32];

	for (int i = 0; y->lo + i * y->step <= y->hi + y->step / 2; i++) {
		double v = y->lo + i * y->step, py = axis_px(y, v);

		svg_put(s, "<path stroke=\"#ccc\" d=\"M% %H%\"/>\n", x0, py, x1);
		svg_text(s, x0 - 6, py + 4, SVG_SMALL | SVG_GREY | SVG_END,
		    svg_number(text, v, y->step));
	}
}

void
axis_columns(struct svg *s, const struct axis *x, double y0, double y1)
{
	char text[32];

	for (int i = 0; x->lo + i * x->step <= x->hi + x->step / 2; i++) {
		double v = x->lo + i * x->step, px = axis_px(x, v);

		svg_put(s, "<path stroke=\"#ccc\" d=\"M% %V%\"/>\n", px, y0, y1);
		svg_text(s, px, y1 + 16, SVG_SMALL | SVG_GREY | SVG_MIDDLE,
		    svg_number(text, v, x->step));
	}
}
