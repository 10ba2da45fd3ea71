/*
 * stat: the three NIST sets that are made by a rule, sums at the edges of what fits, and quantiles
 * against sorting. The NIST sets that are files go through the program in published/closure.bats.
 */
#include "base/stat.h"

#include <inttypes.h>
#include <stdlib.h>

#include "base/db.h"
#include "check.h"

#define MOST (100000000 * (int64_t)DB_ONE) /* the most there may be */

static struct moments
moments_of(const int64_t *x, size_t n)
{
	struct moments m = { 0 };

	for (size_t i = 0; i < n; i++)
		moments_add(&m, x[i]);
	return m;
}

/* NumAcc2, 3, 4: whole + 0.2 once, then whole + 0.1 and whole + 0.3 in turn, 500 of each */
static struct moments
num_acc(int64_t whole)
{
	struct moments m = { 0 };

	moments_add(&m, whole * DB_ONE + 200000);
	for (int i = 0; i < 1000; i++)
		moments_add(&m, whole * DB_ONE + (i % 2 == 0 ? 100000 : 300000));
	return m;
}

/*
 * Certified means and standard deviations: NIST, Statistical Reference Datasets, Univariate Summary
 * Statistics (itl.nist.gov/div898/strd), NumAcc1 to NumAcc4.
 */
static void
nist_numeric_accuracy(void)
{
	static const int64_t one[] = { 10000001 * (int64_t)DB_ONE, 10000003 * (int64_t)DB_ONE,
		10000002 * (int64_t)DB_ONE };
	static const int64_t whole[] = { 1, 1000000, 10000000 };
	struct moments m = moments_of(one, 3);

	CHECK(mean_of(m.sum, m.count) == 10000002 * (int64_t)DB_ONE, "%" PRId64,
	    mean_of(m.sum, m.count));
	NEAR(moments_sd(&m) / DB_ONE, 1, 1e-15);
	for (int i = 0; i < 3; i++) {
		m = num_acc(whole[i]);
		CHECK(mean_of(m.sum, m.count) == whole[i] * DB_ONE + 200000, "%" PRId64,
		    mean_of(m.sum, m.count));
		NEAR(moments_sd(&m) / DB_ONE, 0.1, 1e-16);
	}
}

static void
order_changes_nothing(void)
{
	enum { N = 2000 };
	static int64_t x[N];
	uint64_t state = 7;
	struct moments a, b = { 0 };

	for (int i = 0; i < N; i++)
		x[i] = (int64_t)check_random(&state) >> (17 + i % 34);
	a = moments_of(x, N);
	for (int i = N - 1; i >= 0; i--)
		moments_add(&b, x[i]);
	CHECK(a.count == b.count && a.sum == b.sum && a.squares == b.squares,
	    "another sum backwards");
}

static void
means_are_rounded_half_away_from_zero(void)
{
	static const struct {
		int64_t x[3], want;
		size_t n;
	} cases[] = {
		{ { 1, 2 }, 2, 2 },
		{ { -1, -2 }, -2, 2 },
		{ { 0, 1 }, 1, 2 },
		{ { 0, -1 }, -1, 2 },
		{ { -3, 4 }, 1, 2 },
		{ { 1, 0, 0 }, 0, 3 },
		{ { 1, 1, 0 }, 1, 3 },
		{ { -1, -1, 0 }, -1, 3 },
		{ { MOST, MOST - 1 }, MOST, 2 },
		{ { -MOST, -MOST, -MOST }, -MOST, 3 },
		{ { MOST, -MOST, 7 }, 2, 3 },
	};

	for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
		struct moments m = moments_of(cases[i].x, cases[i].n);

		CHECK(mean_of(m.sum, m.count) == cases[i].want, "case %zu: %" PRId64, i,
		    mean_of(m.sum, m.count));
	}
}

/* every sum of at most nine whole numbers, against the C library's rounding */
static void
means_against_the_c_library(void)
{
	for (int64_t sum = -60; sum <= 60; sum++)
		for (uint64_t n = 1; n <= 9; n++)
			CHECK(mean_of(sum, n) == llround((double)sum / (double)n),
			    "%" PRId64 " / %" PRIu64, sum, n);
	CHECK(mean_of((int128)INT64_MAX * 9, 9) == INT64_MAX, "the greatest");
	CHECK(mean_of((int128)INT64_MAX * -9, 9) == -INT64_MAX, "the least");
}

/* sums that need more than 64 bits: n times one large value, shifted by what is known */
static void
large_values(void)
{
	const int64_t large = MOST - 4;
	struct moments m = { 0 };

	for (int i = 0; i < 4000000; i++)
		moments_add(&m, large + i % 5);
	CHECK(mean_of(m.sum, m.count) == large + 2, "%" PRId64, mean_of(m.sum, m.count));
	NEAR(moments_sd(&m), sqrt(2.0 * 4000000 / 3999999), 1e-15);
}

/*
 * As many of the greatest values as there may be, set as sums of 2^32 equal ones: n values of MOST
 * and n of -MOST deviate by MOST sqrt(2 n / (2 n - 1)); the products inside pass 2^128.
 */
static void
very_many_large_values(void)
{
	const uint64_t n = 5000000000;
	struct moments m = { 2 * n, 0, (uint128)MOST * (uint128)MOST * 2 * n };

	NEAR(moments_sd(&m) / MOST, sqrt(2.0 * (double)n / (2.0 * (double)n - 1)), 1e-15);
	m = (struct moments){ 2 * n, (int128)MOST * 2 * n, (uint128)MOST * (uint128)MOST * 2 * n };
	CHECK(moments_sd(&m) == 0, "%g", moments_sd(&m));
	/* and one of them a millionth less: 1 / sqrt(2 n) */
	m.sum--;
	m.squares -= 2 * (uint128)MOST - 1;
	NEAR(moments_sd(&m) * sqrt(2.0 * (double)n), 1, 1e-15);
}

/* two values by turns: the second term is then as large as it gets, against sqrt(n / 4 / (n - 1)) */
static void
deviations_between_two_neighbours(void)
{
	for (int64_t n = 2; n < 3000; n += 2) {
		struct moments m = { 0 };

		for (int64_t i = 0; i < n; i++)
			moments_add(&m, 46000 + i % 2);
		NEAR(moments_sd(&m), sqrt((double)n / 4 / (double)(n - 1)), 1e-15);
	}
}

static void
equal_values_do_not_deviate(void)
{
	static const int64_t x[] = { -177435000, -177435000, -177435000 };
	struct moments m = moments_of(x, 3);

	CHECK(moments_sd(&m) == 0, "%g", moments_sd(&m));
}

static int
order(const void *a, const void *b)
{
	const int64_t *x = a, *y = b;

	return (*x > *y) - (*x < *y);
}

/* by the definition, in hundredths, which the small values here have room for */
static int64_t
slow_quantile(const int64_t *sorted, size_t n, unsigned percent)
{
	size_t k = (n - 1) * percent / 100;
	int64_t part = (int64_t)((n - 1) * percent % 100), hundredths = sorted[k] * 100;

	if (part > 0)
		hundredths += (sorted[k + 1] - sorted[k]) * part;
	return hundredths < 0 ? -((50 - hundredths) / 100) : (hundredths + 50) / 100;
}

/* the values with every run of equal ones cut into two at most */
static size_t
count_values(const int64_t *sorted, size_t n, struct counted *counted)
{
	size_t runs = 0;

	for (size_t i = 0; i < n; i++)
		if (runs > 0 && counted[runs - 1].x == sorted[i] && i % 5 > 0)
			counted[runs - 1].times++;
		else
			counted[runs++] = (struct counted){ sorted[i], 1 };
	return runs;
}

static void
quantiles_against_sorting(void)
{
	static int64_t x[700], sorted[700];
	static struct counted counted[700];
	uint64_t state = 42;

	for (int round = 0; round < 3000; round++) {
		size_t n = 1 + check_random(&state) % (round % 10 == 0 ? 700 : 30);
		uint64_t span = 1 + check_random(&state) % (round % 3 == 0 ? 4 : 1000000);

		for (size_t i = 0; i < n; i++)
			x[i] = (int64_t)(check_random(&state) % span) - (int64_t)(span / 2);
		if (round % 7 == 0)
			qsort(x, n, sizeof *x, order);
		memcpy(sorted, x, n * sizeof *x);
		qsort(sorted, n, sizeof *x, order);
		for (unsigned percent = 0; percent <= 100; percent += round % 2 == 0 ? 5 : 1) {
			int64_t want = slow_quantile(sorted, n, percent);
			int64_t got = quantile(x, n, percent);
			size_t runs = count_values(sorted, n, counted);

			CHECK(quantile_counted(counted, runs, percent) == want, "counted");
			CHECK(got == want, "n %zu, %u %%: %" PRId64 ", not %" PRId64, n, percent,
			    got, want);
		}
		qsort(x, n, sizeof *x, order);
		CHECK(memcmp(x, sorted, n * sizeof *x) == 0, "a value was lost");
	}
}

/* R. J. Hyndman and Y. Fan, American Statistician 50, 361 (1996), definition 7, worked by hand */
static void
quantiles_worked_by_hand(void)
{
	int64_t ten[] = { 7, 2, 10, 1, 3, 9, 5, 4, 8, 6 };
	int64_t losses[] = { 20, 20, 30, 30, 40, 50, 50, 60, 70, 80, 110, 190 };

	for (int i = 0; i < 10; i++)
		ten[i] *= 100;
	CHECK(quantile(ten, 10, 25) == 325, "%" PRId64, quantile(ten, 10, 25));
	CHECK(quantile(ten, 10, 50) == 550, "%" PRId64, quantile(ten, 10, 50));
	CHECK(quantile(ten, 10, 90) == 910, "%" PRId64, quantile(ten, 10, 90));
	CHECK(quantile(losses, 12, 90) == 107, "%" PRId64, quantile(losses, 12, 90));
	CHECK(quantile(losses, 12, 95) == 146, "%" PRId64, quantile(losses, 12, 95));
}

static void
quantiles_of_far_apart_values(void)
{
	int64_t x[] = { 9200000000000000000, -9200000000000000000 };

	CHECK(quantile(x, 2, 50) == 0, "%" PRId64, quantile(x, 2, 50));
	CHECK(quantile(x, 2, 95) == 8280000000000000000, "%" PRId64, quantile(x, 2, 95));
	CHECK(quantile(x, 2, 0) == -9200000000000000000, "%" PRId64, quantile(x, 2, 0));
	CHECK(quantile(x, 2, 100) == 9200000000000000000, "%" PRId64, quantile(x, 2, 100));
}

/* linear time: all equal, rising, falling, two values; n log n would pass too, n^2 would not end */
static void
quantiles_of_many(void)
{
	enum { N = 1000000 };
	int64_t *x = malloc(N * sizeof *x);

	for (int shape = 0; shape < 4 && x != NULL; shape++) {
		static const int64_t want[] = { 5, 500000, 500000, 1 };

		for (int64_t i = 0; i < N; i++)
			x[i] = shape == 0 ? 5 : shape == 1 ? i : shape == 2 ? N - 1 - i : i % 2;
		CHECK(quantile(x, N, 50) == want[shape], "shape %d: %" PRId64, shape,
		    quantile(x, N, 50));
	}
	free(x);
}

int
main(void)
{
	RUN(nist_numeric_accuracy);
	RUN(order_changes_nothing);
	RUN(means_are_rounded_half_away_from_zero);
	RUN(means_against_the_c_library);
	RUN(large_values);
	RUN(very_many_large_values);
	RUN(deviations_between_two_neighbours);
	RUN(equal_values_do_not_deviate);
	RUN(quantiles_against_sorting);
	RUN(quantiles_worked_by_hand);
	RUN(quantiles_of_far_apart_values);
	RUN(quantiles_of_many);
	return check_done();
}
