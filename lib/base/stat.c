#include "base/stat.h"

#include <math.h>
#include <stdlib.h>

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

/* Where the quantile of n values lies: behind the one at the result, counted from 0, by *part hundredths. */
static uint64_t
quantile_at(uint64_t n, unsigned percent, uint64_t *part)
{
	*part = (n - 1) % 100 * percent % 100;
	return (n - 1) / 100 * percent + (n - 1) % 100 * percent / 100;
}

/* x + (next - x) * part / 100, in whole hundredths of which none overflows */
static int64_t
between(int64_t x, int64_t next, uint64_t part)
{
	uint64_t step = (uint64_t)next - (uint64_t)x, rest = step % 100 * part;
	int64_t whole = (int64_t)((uint64_t)x + step / 100 * part + rest / 100);

	rest %= 100;
	return whole + (whole < 0 ? rest > 50 : rest >= 50);
}

int64_t
quantile(int64_t *x, size_t n, unsigned percent)
{
	uint64_t part;
	size_t k = quantile_at(n, percent, &part);
	int64_t next;

	place(x, n, k);
	if (part == 0)
		return x[k];
	next = x[k + 1];
	for (size_t i = k + 2; i < n; i++)
		next = x[i] < next ? x[i] : next;
	return between(x[k], next, part);
}

static int
counted_order(const void *a, const void *b)
{
	const struct counted *x = a, *y = b;

	return x->x < y->x ? -1 : x->x > y->x;
}

int64_t
quantile_counted(struct counted *x, size_t n, unsigned percent)
{
	uint64_t all = 0, part, k, end;
	size_t i = 0;

	qsort(x, n, sizeof *x, counted_order);
	for (size_t v = 0; v < n; v++)
		all += x[v].times;
	k = quantile_at(all, percent, &part);
	for (end = x[0].times; end <= k; end += x[i].times)
		i++;
	return part == 0 || k + 1 < end ? x[i].x : between(x[i].x, x[i + 1].x, part);
}
