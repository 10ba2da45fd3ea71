/*
 * pair: the line against NIST's certified values, pairs against every way there is to make them.
 */
#include "readings/pair.h"

#include <stdlib.h>

#include "check.h"

/*
 * NIST, Statistical Reference Datasets, Linear Regression, Norris (itl.nist.gov/div898/strd): x and y, and
 * the certified intercept and slope.
 */
static void
fits_norris(void)
{
	static const double xy[][2] = { { 0.2, 0.1 }, { 337.4, 338.8 }, { 118.2, 118.1 },
		{ 884.6, 888.0 }, { 10.1, 9.2 }, { 226.5, 228.1 }, { 666.3, 668.5 },
		{ 996.3, 998.5 }, { 448.6, 449.1 }, { 777.0, 778.9 }, { 558.2, 559.2 },
		{ 0.4, 0.3 }, { 0.6, 0.1 }, { 775.5, 778.1 }, { 666.9, 668.8 }, { 338.0, 339.3 },
		{ 447.5, 448.9 }, { 11.6, 10.8 }, { 556.0, 557.7 }, { 228.1, 228.3 },
		{ 995.8, 998.0 }, { 887.6, 888.8 }, { 120.2, 119.6 }, { 0.3, 0.3 }, { 0.3, 0.6 },
		{ 556.8, 557.6 }, { 339.1, 339.3 }, { 887.2, 888.0 }, { 999.0, 998.5 },
		{ 779.0, 778.9 }, { 11.1, 10.2 }, { 118.3, 117.6 }, { 229.2, 228.9 },
		{ 669.1, 668.4 }, { 448.9, 449.2 }, { 0.5, 0.2 } };
	enum { N = sizeof xy / sizeof xy[0] };
	double x[N], y[N];
	struct pair_line line;

	for (int i = 0; i < N; i++) {
		x[i] = xy[i][0];
		y[i] = xy[i][1];
	}
	line = pair_fit(x, y, N);
	CHECK(N == 36, "%d points", (int)N);
	NEAR(line.offset, -0.262323073774029, 1e-12);
	NEAR(line.slope, 1.00211681802045, 1e-13);
}

/* The best of all ways to pair a[i...] with b[j...] that do not cross. */
static void
try_all(const struct pair_place *a, size_t na, const struct pair_place *b, size_t nb, size_t i,
    size_t from, int pairs, double sum_m, int *most, double *least_m)
{
	if (i == na) {
		if (pairs > *most || (pairs == *most && sum_m < *least_m)) {
			*most = pairs;
			*least_m = sum_m;
		}
		return;
	}
	try_all(a, na, b, nb, i + 1, from, pairs, sum_m, most, least_m);
	for (size_t j = from; j < nb; j++) {
		double apart_m = fabs(a[i].at_m - b[j].at_m);

		if (apart_m <= fmax(a[i].reach_m, b[j].reach_m))
			try_all(
			    a, na, b, nb, i + 1, j + 1, pairs + 1, sum_m + apart_m, most, least_m);
	}
}

static size_t
any_places(uint64_t *seed, struct pair_place *v, double reach_m)
{
	size_t n = check_random(seed) % 7;
	double at_m = 0;

	for (size_t i = 0; i < n; i++) {
		at_m += (double)(check_random(seed) % 120) / 10;
		v[i] = (struct pair_place){ at_m,
			check_random(seed) % 5 == 0 ? 2 * reach_m : reach_m, 0 };
	}
	return n;
}

/* Every way of up to 6 with up to 6 places. */
static void
pairs_as_brute_force_does(void)
{
	uint64_t seed = 20261126;

	for (int trial = 0; trial < 20000; trial++) {
		struct pair_place a[8], b[8];
		double reach_m = (double)(check_random(&seed) % 100) / 10, least_m = 0, sum_m = 0;
		size_t na = any_places(&seed, a, reach_m), nb = any_places(&seed, b, reach_m);
		int most = 0, pairs = 0;

		try_all(a, na, b, nb, 0, 0, 0, 0, &most, &least_m);
		CHECK(pair_places(a, na, b, nb) == 0, "refused");
		for (size_t i = 0; i < na; i++) {
			if (a[i].other == PAIR_NONE)
				continue;
			CHECK(b[a[i].other].other == i, "trial %d: not of each other", trial);
			sum_m += fabs(a[i].at_m - b[a[i].other].at_m);
			pairs++;
		}
		CHECK(pairs == most, "trial %d: %d pairs of %d", trial, pairs, most);
		NEAR(sum_m, least_m, 1e-9);
	}
}

static void
refuses_a_crowd(void)
{
	size_t n = PAIR_MOST + 1;
	struct pair_place *a = calloc(n, sizeof *a), *b = calloc(n, sizeof *b);

	for (size_t i = 0; i < n; i++)
		a[i] = b[i] = (struct pair_place){ (double)i, 1, 0 };
	CHECK(pair_places(a, n, b, n) != 0, "taken");
	for (size_t i = 0; i < n; i++)
		a[i].at_m = b[i].at_m = 3 * (double)i;
	CHECK(pair_places(a, n, b, n) == 0, "refused");
	CHECK(a[n - 1].other == n - 1, "not paired");
	free(a);
	free(b);
}

int
main(void)
{
	RUN(fits_norris);
	RUN(pairs_as_brute_force_does);
	RUN(refuses_a_crowd);
	return check_done();
}
