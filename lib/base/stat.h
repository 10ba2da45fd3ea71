/*
 * stat: mean, standard deviation and quantiles of whole numbers, e.g. of decibels in millionths
 * (base/db.h). Sums are exact whole numbers, so that the order of the values changes no digit.
 *
 *	struct moments m = { 0 };
 *
 *	for (size_t i = 0; i < n; i++)
 *		moments_add(&m, x_udb[i]);
 *	mean_udb = mean_of(m.sum, m.count);
 *	sd_udb = moments_sd(&m);
 *	median_udb = quantile(x_udb, n, 50);
 */
#ifndef THRUM_BASE_STAT_H
#define THRUM_BASE_STAT_H

#include <stddef.h>
#include <stdint.h>

#include "base/int128.h"

/* --- sums ------------------------------------------------------------------------------------ */

/* count, sum and sum of squares; start it as { 0 } */
struct moments {
	uint64_t count;
	int128 sum;
	uint128 squares;
};

/* The values lie within +-10^14 (10^8 dB), at most 10^10 of them. */
static inline void
moments_add(struct moments *m, int64_t x)
{
	m->count++;
	m->sum += x;
	m->squares += (uint128)((int128)x * x);
}

/* The same value n times. */
static inline void
moments_add_many(struct moments *m, int64_t x, uint64_t n)
{
	m->count += n;
	m->sum += (int128)x * (int128)n;
	m->squares += (uint128)((int128)x * x) * n;
}

/* sum / n, n at least 1: rounded once to a whole number, half away from zero. It must fit. */
int64_t mean_of(int128 sum, uint64_t n);

/*
 * The sample standard deviation, sqrt(sum of (x - mean)^2 / (n - 1)); count at least 2. The
 * deviations are summed exactly; the result is within 1e-15 of itself.
 */
double moments_sd(const struct moments *m);

/* --- quantiles ------------------------------------------------------------------------------- */

/*
 * The quantile at `percent`, 0 to 100, of x[0] to x[n - 1], n at least 1: with h = (n - 1) percent /
 * 100 and the values in order, the one at h counted from 0, in a straight line between neighbours
 * where h is not whole (R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages",
 * American Statistician 50, 361 (1996), definition 7). Exact but for one rounding to a whole number,
 * half away from zero. Puts x into another order, of which nothing is promised. Takes a time
 * proportional to n, whatever the values (expected, over the pivots' pseudo-random choice).
 */
int64_t quantile(int64_t *x, size_t n, unsigned percent);

/* a value, so many times, 1 or more */
struct counted {
	int64_t x;
	uint64_t times;
};

/* The same of values that are counted; n at least 1. Puts them in order. */
int64_t quantile_counted(struct counted *x, size_t n, unsigned percent);

#endif
