/* season: mean and worst loss of each night of work. */
#include <stdlib.h>

#include "page/plot.h"

enum { HIGH = 220 };

struct night {
	struct field name, worst_joint;
	uint64_t count, over;
	int64_t sum, worst, limit;
};

static int
by_night(const void *a, const void *b)
{
	const struct plot_joint *x = a, *y = b;

	int by = field_order(x->night, y->night);

	return by != 0 ? by : field_order(x->joint, y->joint);
}

/* Joints, or sums, that have a night and a loss, night by night. How many nights there are. */
static size_t
gather(struct plot_joint *j, size_t n, struct night *nights, size_t *without)
{
	size_t k = 0;

	qsort(j, n, sizeof *j, by_night);
	for (size_t i = 0; i < n; i++) {
		struct night *t;

		if (j[i].loss_udb == DB_NONE || j[i].night.n == 0 || j[i].shared ||
		    j[i].count == 0) {
			*without += j[i].count;
			continue;
		}
		if (k == 0 || !field_same(nights[k - 1].name, j[i].night))
			nights[k++] = (struct night){
				.name = j[i].night, .worst = INT64_MIN, .limit = DB_NONE
			};
		t = &nights[k - 1];
		t->count += j[i].count;
		t->sum += j[i].loss_udb * (int64_t)j[i].count;
		t->over += plot_over(&j[i]);
		t->limit = j[i].limit_udb > t->limit ? j[i].limit_udb : t->limit;
		if (j[i].worst_udb > t->worst) {
			t->worst = j[i].worst_udb;
			t->worst_joint = j[i].joint;
		}
	}
	return k;
}

static void
draw(struct plot *p, const struct night *t, size_t n, int64_t most, int64_t limit)
{
	struct svg *s = &p->svg;
	double top = s->y + 30, left = SVG_MARGIN + 40, right = s->width - SVG_MARGIN - 56;
	struct axis y = axis_round(0, db_to(most), top + HIGH, top, 6);
	double gap = (right - left) / (double)n, free_from = 0;

	svg_text(s, SVG_MARGIN, s->y + 12, SVG_SMALL | SVG_GREY, field_of("loss, dB"));
	axis_rows(s, &y, left, right);
	if (limit != DB_NONE) {
		double at = axis_px(&y, db_to(limit));

		svg_put(s, "<path stroke=\"#111\" stroke-dasharray=\"5 4\" d=\"M% %H%\"/>\n", left,
		    at, right);
		svg_text(s, right + 6, at + 4, SVG_SMALL, field_of("limit"));
	}
	for (size_t i = 0; i < n; i++) {
		double at = left + ((double)i + 0.5) * gap;
		double mean = axis_px(&y, db_to(t[i].sum / (int64_t)t[i].count)),
		       worst = axis_px(&y, db_to(t[i].worst)),
		       half = svg_width(t[i].name, SVG_SMALL) / 2;

		svg_put(s, "<path stroke=\"#777\" d=\"M% %V%\"/>\n", at, mean, worst);
		svg_put(s, "<circle cx=\"%\" cy=\"%\" r=\"4\" fill=\"#111\"/>\n", at, mean);
		svg_put(s, "<circle cx=\"%\" cy=\"%\" r=\"4\" fill=\"#fff\" stroke=\"#111\"/>\n",
		    at, worst);
		if (at - half > free_from && at + half < s->width) {
			svg_text(
			    s, at, top + HIGH + 16, SVG_SMALL | SVG_GREY | SVG_MIDDLE, t[i].name);
			free_from = at + half + 10;
		}
	}
	s->y = top + HIGH + 26;
	svg_lines(s, SVG_SMALL,
	    field_of("Black dot: mean of the night. White dot: its worst joint. Nights without a "
		     "joint are left out."));
	s->y += 12;
}

static void
list(struct plot *p, const struct night *t, size_t n)
{
	for (size_t i = 0; i < n; i++) {
		p->words.n = 0;
		bytes_add_text(&p->words, "mean ");
		plot_db(&p->words, t[i].sum / (int64_t)t[i].count);
		bytes_add_text(&p->words, ", worst ");
		plot_db(&p->words, t[i].worst);
		bytes_add_text(&p->words, t[i].worst_joint.n > 0 ? " " : "");
		bytes_add_field(&p->words, t[i].worst_joint);
		bars_row(
		    &p->bars, t[i].name, db_to(t[i].worst), t[i].over > 0, bytes_field(&p->words));
	}
}

void
plot_season(struct plot *p, struct plot_joint *j, size_t n)
{
	struct night *t = mem_zeroed(n + 1, sizeof *t);
	size_t without = 0, nights = gather(j, n, t, &without);
	int64_t most = DB_ONE / 100, limit = DB_NONE, sum = 0;
	size_t worst = 0;
	uint64_t count = 0;

	for (size_t i = 0; i < nights; i++) {
		most = t[i].worst > most ? t[i].worst : most;
		limit = t[i].limit > limit ? t[i].limit : limit;
		sum += t[i].sum;
		count += t[i].count;
		worst = t[i].worst > t[worst].worst ? i : worst;
	}
	most = limit > most ? limit : most;
	bytes_add_text(&p->head, "Losses night by night");
	bytes_add_format(&p->verdict, "%zu night%s, %llu joints with a loss", nights,
	    nights == 1 ? "" : "s", (unsigned long long)count);
	if (without > 0)
		bytes_add_format(
		    &p->verdict, ", %zu without a loss of their own or a night", without);
	if (count > 0) {
		bytes_add_text(&p->verdict, ". Mean ");
		plot_db(&p->verdict, sum / (int64_t)count);
		bytes_add_text(&p->verdict, " dB; worst ");
		plot_db(&p->verdict, t[worst].worst);
		bytes_add_text(&p->verdict, " dB on ");
		bytes_add_field(&p->verdict, t[worst].name);
		bytes_add_text(&p->verdict, t[worst].worst_joint.n > 0 ? ", " : "");
		bytes_add_field(&p->verdict, t[worst].worst_joint);
	}
	bytes_add_text(&p->verdict, ".");
	plot_begin(p);
	p->bars.limit = limit != DB_NONE ? db_to(limit) : 0;
	if (nights > 0 && p->text)
		list(p, t, nights);
	else if (nights > 0)
		draw(p, t, nights, most, limit);
	plot_end(p);
	free(t);
}
