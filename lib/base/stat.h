/*
 * stat: mean, standard deviation and quantiles of whole numbers, e.g. of decibels in millionths
 * (base/db.h). Sums are kept whole, so that no order of the values and no number of them changes
 * a digit; there is nothing to cancel.
 *
 *	struct moments m = { 0 };
 *
 *	for (size_t i = 0; i < n; i++)
 *		if (moments_add(&m, x_udb[i]) != 0)
 *			return err_set(err, "too large to be summed up");
 *	mean_udb = moments_mean(&m);
 *	sd_udb = moments_sd(&m);
 *	median_udb = quantile(x_udb, n, 50);
 *
 * Values lie between -(2^63 - 2) and 2^63 - 2; db_parse makes no others.
 */
#ifndef THRUM_BASE_STAT_H
#define THRUM_BASE_STAT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* --- sums ------------------------------------------------------------------------------------ */

/* high * 2^64 + low: room for the sum of 2^63 values of any size */
struct wide {
	uint64_t low;
	int64_t high;
};

static inline void
wide_add(struct wide *w, int64_t x)
{
	uint64_t low = w->low + (uint64_t)x;

	w->high += (low < w->low) - (x < 0); /* carried, and the sign stretched to 128 bits */
	w->low = low;
}

static inline bool
wide_above_zero(struct wide w)
{
	return w.high > 0 || (w.high == 0 && w.low > 0);
}

/* count, sum and sum of squares; start it as { 0 } */
struct moments {
	uint64_t count;
	struct wide sum;
	uint64_t squares_low, squares_high;
};

/* size^2 = *high * 2^64 + the result */
uint64_t moments_square(uint64_t size, uint64_t *high);

/*
 * Takes in one value. 0, or -1 if the squares no longer fit 128 bits; m is of no use then. They fit
 * while the root of their sum is below 2^64: in millionths of a decibel, 10^7 values of 5.8e9 dB.
 */
static inline int
moments_add(struct moments *m, int64_t x)
{
	uint64_t size = x < 0 ? 0 - (uint64_t)x : (uint64_t)x, low, high = 0, carry;

	low = size <= UINT32_MAX ? size * size : moments_square(size, &high);
	m->count++;
	wide_add(&m->sum, x);
	m->squares_low += low;
	carry = m->squares_low < low;
	if (high >=
	    UINT64_MAX - m->squares_high) /* at this edge a sum that just fits is refused too */
		return -1;
	m->squares_high += high + carry;
	return 0;
}

/* The mean, exact but for one rounding to a whole number, half away from zero. count at least 1. */
int64_t moments_mean(const struct moments *m);

/*
 * The sample standard deviation, sqrt((n S2 - S1^2) / (n (n - 1))) with S1 the sum and S2 the sum of
 * squares; count at least 2. The difference is exact; what follows is within 5e-16 of itself.
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

/*
 * Values kept until all are there, each with the number of its group: 12 bytes each, 20 while they
 * are being sorted, 8 after it. Start it as { 0 }.
 */
struct pile {
	struct pile_chunk *first, *last;
	size_t n;
	int64_t
	    *values; /* once sorted: those of group g are values[start[g]] to [start[g + 1] - 1] */
	size_t *start;
};

void pile_add(struct pile *p, uint32_t group, int64_t x);

/* Groups the values; all group numbers must be below ngroups. Add no more afterwards. */
void pile_sort(struct pile *p, size_t ngroups);

void pile_free(struct pile *p);

#endif
