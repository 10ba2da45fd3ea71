#include "readings/fit.h"

#include <math.h>

double
fit_astray_m(double length_m)
{
	return fmax(50, 0.05 * length_m);
}

/* How far the points are from the nearest elements, on average; NAN: there is no point between the panels. */
static double
misfit_m(
    const struct line *l, const struct spot *spots, size_t nspots, double drawn, bool backwards)
{
	double sum_m = 0;
	size_t n = 0;

	for (size_t i = 0; i < l->n; i++) {
		double at_m = backwards ? l->length_m - l->v[i].at_m : l->v[i].at_m;
		double least_m = INFINITY;

		if (l->v[i].panel >= 0)
			continue;
		for (size_t k = 0; k < nspots; k++)
			least_m = fmin(least_m, fabs(spots[k].km * 1000 * drawn - at_m));
		sum_m += least_m;
		n++;
	}
	return n > 0 ? sum_m / (double)n : NAN;
}

/* Whether both readings end at one place: the two lengths add up, and neither is the whole. */
static bool
is_open(const struct line *l, double drawn_m)
{
	double a_m = l->lengths_m[0], b_m = l->lengths_m[1];
	double close_m =
	    fmax(2 * (line_instrument_m(a_m) + line_instrument_m(b_m)), 0.01 * drawn_m);

	return l->view[0].read && l->view[1].read && fabs(a_m + b_m - drawn_m) <= close_m &&
	       (l->fault == LINE_LENGTH || fabs(a_m - drawn_m) > fit_astray_m(drawn_m));
}

void
line_fit(struct line *l, const struct spot *spots, size_t nspots, double length_km)
{
	enum { APART_M = 50 };
	double drawn_m = length_km * 1000, as_read_m;

	if ((l->fault != LINE_SOUND && l->fault != LINE_LENGTH) || isnan(drawn_m) ||
	    isnan(l->length_m))
		return;
	if (is_open(l, drawn_m)) {
		l->fault = LINE_OPEN;
	} else if (l->fault == LINE_SOUND && fabs(l->length_m - drawn_m) > fit_astray_m(drawn_m)) {
		l->fault = LINE_ROUTE;
		l->lengths_m[0] = l->length_m;
		l->lengths_m[1] = drawn_m;
	} else if (l->fault == LINE_SOUND) {
		as_read_m = misfit_m(l, spots, nspots, l->length_m / drawn_m, false);
		if (as_read_m > APART_M &&
		    10 * misfit_m(l, spots, nspots, l->length_m / drawn_m, true) < as_read_m)
			l->fault = LINE_ENDS;
	}
}
