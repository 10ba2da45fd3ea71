/* losses: how often each loss occurs, the limits, and the share beyond them. */
#include <stdlib.h>

#include "page/plot.h"

enum { LIMITS = 4, HIGH = 220, BINS_MOST = 120 };

struct losses {
	int64_t limit[LIMITS];
	size_t nlimits, known, over, unknown, missing, shared, estimates;
	int64_t least, most, sum;
	const struct plot_joint *worst;
	int64_t from, step; /* of the first bin; how wide one is */
	size_t nbins, bins[BINS_MOST + 1], most_in;
};

static void
look(struct losses *l, const struct plot_joint *j)
{
	size_t i = 0;

	l->missing += j->missing;
	l->unknown += !j->missing && j->loss_udb == DB_NONE;
	l->shared += j->shared;
	if (j->loss_udb == DB_NONE || j->shared)
		return;
	l->estimates += strcmp(j->basis, "two-way") != 0;
	l->known++;
	l->sum += j->loss_udb;
	l->over += plot_over(j);
	l->least = j->loss_udb < l->least ? j->loss_udb : l->least;
	if (l->worst == NULL || j->loss_udb > l->worst->loss_udb)
		l->worst = j;
	while (i < l->nlimits && l->limit[i] != j->limit_udb)
		i++;
	if (i == l->nlimits && i < LIMITS && j->limit_udb != DB_NONE)
		l->limit[l->nlimits++] = j->limit_udb;
}

/* A bin a hundredth of a decibel, or wider where there would be too many; far outliers share the last. */
static void
count(struct losses *l, const struct plot_joint *j, size_t n)
{
	int64_t reach = DB_ONE / 20, least = -DB_ONE / 2;

	for (size_t i = 0; i < l->nlimits; i++)
		reach = l->limit[i] > reach ? l->limit[i] : reach;
	l->most = l->worst->loss_udb > 4 * reach ? 4 * reach : l->worst->loss_udb;
	l->most = l->most < reach ? reach : l->most;
	l->step = DB_ONE / 100;
	l->least = l->least < least ? least : l->least > 0 ? 0 : l->least;
	while ((l->most - l->least) / l->step > 60)
		l->step *= 2;
	l->from = l->least < 0 ? -(-l->least / l->step + 1) * l->step : 0;
	l->nbins = (size_t)((l->most - l->from) / l->step) + 1;
	for (size_t i = 0; i < n; i++) {
		int64_t x = j[i].loss_udb;
		size_t bin;

		if (x == DB_NONE || j[i].shared)
			continue;
		x = x < l->from ? l->from : x;
		bin = (size_t)((x - l->from) / l->step);
		bin = bin > l->nbins ? l->nbins : bin; /* the last one: beyond the picture */
		if (++l->bins[bin] > l->most_in)
			l->most_in = l->bins[bin];
	}
}

static void
say(struct plot *p, const struct losses *l)
{
	struct bytes *v = &p->verdict;

	bytes_add_text(&p->head, "Losses of the joints");
	bytes_add_format(v, "%zu joint%s with a loss", l->known, l->known == 1 ? "" : "s");
	if (l->estimates > 0)
		bytes_add_format(
		    v, ", %zu of them estimated or read from one end only", l->estimates);
	if (l->unknown > 0)
		bytes_add_format(v, "; %zu without a loss", l->unknown);
	if (l->shared > 0)
		bytes_add_format(v, "; %zu that share one with others are left out", l->shared);
	if (l->missing > 0)
		bytes_add_format(v, "; %zu planned and not made", l->missing);
	if (l->known == 0) {
		bytes_add_text(v, ".");
		return;
	}
	if (l->nlimits > 0) {
		int64_t tenths = (int64_t)((2000 * l->over / l->known + 1) / 2);

		bytes_add_format(v, ". Beyond their limit: %zu (%lld.%lld %%)", l->over,
		    (long long)(tenths / 10), (long long)(tenths % 10));
	}
	bytes_add_text(v, ". Mean ");
	plot_db(v, l->sum / (int64_t)l->known);
	bytes_add_text(v, " dB, worst ");
	plot_db(v, l->worst->loss_udb);
	bytes_add_text(v, l->worst->joint.n > 0 ? " dB (" : " dB");
	bytes_add_field(v, l->worst->joint);
	bytes_add_text(v, l->worst->joint.n > 0 ? ")." : ".");
}

/* What a bin shows lies wholly beyond all limits. */
static bool
beyond(const struct losses *l, size_t bin)
{
	for (size_t i = 0; i < l->nlimits; i++)
		if (bin < l->nbins && l->from + (int64_t)bin * l->step < l->limit[i])
			return false;
	return l->nlimits > 0;
}

static void
draw(struct plot *p, const struct losses *l)
{
	struct svg *s = &p->svg;
	double top = s->y + 30, left = SVG_MARGIN + 40, right = s->width - SVG_MARGIN - 20;
	struct axis y =
	    axis_round(0, (double)(l->most_in > 4 ? l->most_in : 5), top + HIGH, top, 5);
	struct axis x =
	    axis_round(db_to(l->from), db_to(l->from + (int64_t)(l->nbins + 1) * l->step), left,
		right, s->width < 500 ? 5 : 10);
	double wide = axis_px(&x, x.lo + db_to(l->step)) - left;
	bool beside = false;

	svg_text(s, SVG_MARGIN, s->y + 12, SVG_SMALL | SVG_GREY, field_of("joints"));
	axis_rows(s, &y, left, right);
	axis_columns(s, &x, top + HIGH, top + HIGH);
	for (size_t i = 0; i <= l->nbins; i++) {
		double at = axis_px(&x, db_to(l->from + (int64_t)i * l->step));
		double up = axis_px(&y, (double)l->bins[i]);

		if (l->bins[i] > 0)
			svg_bar(s, at + wide * 0.1, up, wide * 0.8, top + HIGH - up,
			    beyond(l, i) ? SVG_HATCHED : SVG_FILLED);
		beside |= i == l->nbins && l->bins[i] > 0;
	}
	for (size_t i = 0; i < l->nlimits; i++) {
		double at = axis_px(&x, db_to(l->limit[i]));

		svg_put(s, "<path stroke=\"#111\" stroke-dasharray=\"5 4\" d=\"M% %V%\"/>\n", at,
		    top - 6, top + HIGH);
		p->words.n = 0;
		bytes_add_text(&p->words, "limit ");
		plot_db(&p->words, l->limit[i]);
		/* each name on a line of its own, or beside its line if the picture ends there */
		svg_text(s, at + 70 > right ? at - 4 : at + 4, top - 8 - 14 * (double)(i % 2),
		    SVG_SMALL | SVG_HALO | (at + 70 > right ? SVG_END : 0), bytes_field(&p->words));
	}
	s->y = top + HIGH + 20;
	svg_text(s, (left + right) / 2, s->y + 14, SVG_SMALL | SVG_GREY | SVG_MIDDLE,
	    field_of("loss of a joint, dB"));
	s->y += 20;
	p->words.n = 0;
	bytes_add_format(
	    &p->words, "The last bar holds all that is greater (%zu).", l->bins[l->nbins]);
	if (beside)
		svg_lines(s, SVG_SMALL, bytes_field(&p->words));
	s->y += 12;
}

static void
list(struct plot *p, const struct losses *l)
{
	for (size_t i = 0; i <= l->nbins; i++) {
		char text[DB_FIXED];

		/* of a long gap only its ends */
		if (i > 0 && i < l->nbins && l->bins[i - 1] + l->bins[i] + l->bins[i + 1] == 0)
			continue;
		p->words.n = 0;
		bytes_add(&p->words, text, db_fixed(text, l->from + (int64_t)i * l->step, 2));
		bytes_add_text(&p->words, i == l->nbins ? " and more" : " dB");
		if (i == l->nbins && l->bins[i] == 0)
			break;
		{
			struct bytes n = { NULL, 0, 0 };

			bytes_add_format(&n, "%zu%s", l->bins[i],
			    l->bins[i] > 0 && beyond(l, i) ? " beyond the limit" : "");
			bars_row(&p->bars, bytes_field(&p->words), (double)l->bins[i], beyond(l, i),
			    bytes_field(&n));
			bytes_free(&n);
		}
	}
}

void
plot_losses(struct plot *p, struct plot_joint *j, size_t n)
{
	struct losses l = { .least = INT64_MAX };

	for (size_t i = 0; i < n; i++)
		look(&l, &j[i]);
	say(p, &l);
	plot_begin(p);
	if (l.known > 0) {
		count(&l, j, n);
		if (p->text)
			list(p, &l);
		else
			draw(p, &l);
	}
	plot_end(p);
}
