#include "base/stat.h"

#include <math.h>
#include <stdlib.h>

#include "base/mem.h"

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

enum { CHUNK = 8000 };

struct pile_chunk {
	struct pile_chunk *next;
	size_t n;
	int64_t values[CHUNK];
	uint32_t groups[CHUNK];
};

void
pile_add(struct pile *p, uint32_t group, int64_t x)
{
	struct pile_chunk *c = p->last;

	if (c == NULL || c->n == CHUNK) {
		c = mem_zeroed(1, sizeof *c);
		*(p->last != NULL ? &p->last->next : &p->first) = c;
		p->last = c;
	}
	c->values[c->n] = x;
	c->groups[c->n++] = group;
	p->n++;
}

static void
free_chunks(struct pile *p)
{
	while (p->first != NULL) {
		struct pile_chunk *next = p->first->next;

		free(p->first);
		p->first = next;
	}
	p->last = NULL;
}

void
pile_sort(struct pile *p, size_t ngroups)
{
	/* start[g + 1] is where the next value of g goes, and so in the end where g ends */
	p->values = mem_zeroed(p->n + 1, sizeof *p->values);
	p->start = mem_zeroed(ngroups + 2, sizeof *p->start);
	for (const struct pile_chunk *c = p->first; c != NULL; c = c->next)
		for (size_t i = 0; i < c->n; i++)
			p->start[c->groups[i] + (size_t)2]++;
	for (size_t g = 2; g < ngroups + 2; g++)
		p->start[g] += p->start[g - 1];
	for (const struct pile_chunk *c = p->first; c != NULL; c = c->next)
		for (size_t i = 0; i < c->n; i++)
			p->values[p->start[c->groups[i] + (size_t)1]++] = c->values[i];
	free_chunks(p);
}

void
pile_free(struct pile *p)
{
	free_chunks(p);
	free(p->values);
	free(p->start);
	*p = (struct pile){ NULL };
}
