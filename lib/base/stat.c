#include "base/stat.h"

#include <math.h>

int64_t
mean_of(int128 sum, uint64_t n)
{
	uint128 size = sum < 0 ? -(uint128)sum : (uint128)sum;
	int64_t mean = (int64_t)(size / n + (size % n >= n - size % n));

	return sum < 0 ? -mean : mean;
}

double
moments_sd(const struct moments *m)
{
	/*
	 * With d = x - mean, the mean rounded: sum of (x - m)^2 = sum of d^2 - (sum of d)^2 / n. Each
	 * d is at most 1/2 off, so that the second term is at most half the first. Intermediate
	 * products may pass 2^128 and wrap around; the sum of d^2 fits, and so comes out exact.
	 */
	int128 mean = mean_of(m->sum, m->count), n = (int128)m->count, rest = m->sum - mean * n;
	uint128 squares = m->squares - 2 * (uint128)mean * (uint128)m->sum +
			  (uint128)mean * (uint128)mean * (uint128)n;

	return sqrt(((double)squares - (double)rest * (double)rest / (double)n) / (double)(n - 1));
}

/* --- quantiles ------------------------------------------------------------------------------- */

/* Brings those of x[from] to x[to - 1] that are below `bound` to the front; returns their end. */
static size_t
gather_below(int64_t *x, size_t from, size_t to, int64_t bound)
{
	/* without a branch on the values, which would be unpredictable */
	for (size_t i = from; i < to; i++) {
		int64_t here = x[i];

		x[i] = x[from];
		x[from] = here;
		from += here < bound;
	}
	return from;
}

/* Moves the value that sorting would put at k there, with no larger one before and no smaller after. */
static void
place(int64_t *x, size_t n, size_t k)
{
	size_t from = 0, to = n;
	uint64_t state = 0x9e3779b97f4a7c15u;

	while (to - from > 1) {
		int64_t pivot;
		size_t middle;

		state ^= state << 13; /* xorshift64 (Marsaglia 2003) */
		state ^= state >> 7;
		state ^= state << 17;
		pivot = x[from + state % (to - from)];
		middle = gather_below(x, from, to, pivot);
		if (k < middle) {
			to = middle;
			continue;
		}
		middle = gather_below(x, middle, to, pivot + 1);
		if (k < middle)
			return;
		from = middle;
	}
}

int64_t
quantile(int64_t *x, size_t n, unsigned percent)
{
	size_t k = (n - 1) / 100 * percent + (n - 1) % 100 * percent / 100;
	uint64_t part = (n - 1) % 100 * percent % 100, step, rest;
	int64_t next, whole;

	place(x, n, k);
	if (part == 0)
		return x[k];
	next = x[k + 1];
	for (size_t i = k + 2; i < n; i++)
		next = x[i] < next ? x[i] : next;
	/* x[k] + step * part / 100, in whole hundredths of which none overflows */
	step = (uint64_t)next - (uint64_t)x[k];
	rest = step % 100 * part;
	whole = (int64_t)((uint64_t)x[k] + step / 100 * part + rest / 100);
	rest %= 100;
	return whole + (whole < 0 ? rest > 50 : rest >= 50);
}
