#include "readings/pair.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "base/mem.h"

/* the best of a beginning of both lists */
struct best {
	double distance_m;
	unsigned pairs : 30, step : 2; /* how it ends */
};

enum { SKIP_A, SKIP_B, PAIR };

static bool
better(const struct best *x, const struct best *y)
{
	return x->pairs != y->pairs ? x->pairs > y->pairs : x->distance_m < y->distance_m;
}

static struct best
best_end(const struct best *cells, size_t i, size_t j, size_t width, const struct pair_place *a,
    const struct pair_place *b)
{
	const struct best *here = &cells[i * width + j];
	struct best best = here[-(ptrdiff_t)width], other = here[-1];
	double apart_m = fabs(a->at_m - b->at_m);

	best.step = SKIP_A;
	other.step = SKIP_B;
	if (better(&other, &best))
		best = other;
	if (apart_m <= fmax(a->reach_m, b->reach_m)) {
		other = here[-(ptrdiff_t)width - 1];
		other.pairs++;
		other.distance_m += apart_m;
		other.step = PAIR;
		if (better(&other, &best))
			best = other;
	}
	return best;
}

static int
pair_piece(struct pair_place *a, size_t na, struct pair_place *b, size_t nb, size_t first_a,
    size_t first_b)
{
	size_t width = nb + 1;
	struct best *cells;

	if (na == 0 || nb == 0)
		return 0;
	if (na > PAIR_MOST || nb > PAIR_MOST)
		return -1;
	cells = mem_zeroed((na + 1) * width, sizeof *cells);
	for (size_t i = 1; i <= na; i++)
		for (size_t j = 1; j <= nb; j++)
			cells[i * width + j] = best_end(cells, i, j, width, &a[i - 1], &b[j - 1]);
	while (na > 0 && nb > 0) {
		unsigned step = cells[na * width + nb].step;

		if (step == PAIR) {
			a[na - 1].other = first_b + nb - 1;
			b[nb - 1].other = first_a + na - 1;
		}
		na -= step != SKIP_B;
		nb -= step != SKIP_A;
	}
	free(cells);
	return 0;
}

/* Where the next piece ends: behind it no place lies within the greatest reach of one before. */
static void
piece_end(const struct pair_place *a, size_t na, const struct pair_place *b, size_t nb,
    double reach_m, size_t *i, size_t *j)
{
	double last_m = INFINITY;

	while (*i < na || *j < nb) {
		bool from_a = *j == nb || (*i < na && a[*i].at_m <= b[*j].at_m);
		double at_m = from_a ? a[*i].at_m : b[*j].at_m;

		if (at_m - last_m > reach_m)
			return;
		last_m = at_m;
		*(from_a ? i : j) += 1;
	}
}

int
pair_places(struct pair_place *a, size_t na, struct pair_place *b, size_t nb)
{
	double reach_m = 0;
	size_t i = 0, j = 0;

	for (size_t k = 0; k < na; k++) {
		a[k].other = PAIR_NONE;
		reach_m = fmax(reach_m, a[k].reach_m);
	}
	for (size_t k = 0; k < nb; k++) {
		b[k].other = PAIR_NONE;
		reach_m = fmax(reach_m, b[k].reach_m);
	}
	while (i < na || j < nb) {
		size_t from_i = i, from_j = j;

		piece_end(a, na, b, nb, reach_m, &i, &j);
		if (pair_piece(a + from_i, i - from_i, b + from_j, j - from_j, from_i, from_j) != 0)
			return -1;
	}
	return 0;
}

struct pair_line
pair_fit(const double *x, const double *y, size_t n)
{
	double mean_x = 0, mean_y = 0, xx = 0, xy = 0;
	struct pair_line line;

	for (size_t i = 0; i < n; i++) {
		mean_x += x[i] / (double)n;
		mean_y += y[i] / (double)n;
	}
	for (size_t i = 0; i < n; i++) {
		xx += (x[i] - mean_x) * (x[i] - mean_x);
		xy += (x[i] - mean_x) * (y[i] - mean_y);
	}
	line.slope = xy / xx;
	line.offset = mean_y - line.slope * mean_x;
	return line;
}
