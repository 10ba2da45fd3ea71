#include "base/stat.h"

#include <math.h>
#include <stdlib.h>

#include "base/mem.h"

/* --- sums ------------------------------------------------------------------------------------ */

uint64_t
moments_square(uint64_t size, uint64_t *high)
{
	uint64_t low = size & UINT32_MAX, top = size >> 32, cross = low * top;
	uint64_t result = low * low + (cross << 33);

	*high = top * top + (cross >> 31) + (result < low * low);
	return result;
}

/* |w| */
static struct wide
size_of(struct wide w)
{
	if (w.high >= 0)
		return w;
	return (struct wide){ 0 - w.low, (int64_t)(~(uint64_t)w.high + (w.low == 0)) };
}

/* w / divisor, a half rounded up; w is not negative and the result fits */
static uint64_t
divide(struct wide w, uint64_t divisor)
{
	uint64_t rest = (uint64_t)w.high, quotient = 0;

	if (rest == 0) {
		quotient = w.low / divisor;
		rest = w.low % divisor;
	} else {
		/* bit by bit; the rest is below the divisor at every step */
		for (int bit = 63; bit >= 0; bit--) {
			bool beyond = rest >> 63;

			rest = rest << 1 | (w.low >> bit & 1);
			quotient <<= 1;
			if (beyond || rest >= divisor) {
				rest -= divisor;
				quotient |= 1;
			}
		}
	}
	return quotient + (rest >= divisor - rest);
}

int64_t
moments_mean(const struct moments *m)
{
	uint64_t size = divide(size_of(m->sum), m->count);

	return m->sum.high < 0 ? -(int64_t)size : (int64_t)size;
}

enum { HALF = 4, LIMBS = 2 * HALF };

/* a natural number in 32-bit limbs, the lowest first */
struct natural {
	uint32_t limb[LIMBS];
};

static struct natural
natural_of(uint64_t high, uint64_t low)
{
	return (struct natural){ { (uint32_t)low, (uint32_t)(low >> 32), (uint32_t)high,
	    (uint32_t)(high >> 32) } };
}

/* a * b, both below 2^128 */
static struct natural
multiply(struct natural a, struct natural b)
{
	struct natural product = { { 0 } };

	for (int i = 0; i < HALF; i++) {
		uint64_t carry = 0;

		if (a.limb[i] == 0)
			continue;
		for (int j = 0; j < HALF; j++) {
			carry += (uint64_t)a.limb[i] * b.limb[j] + product.limb[i + j];
			product.limb[i + j] = (uint32_t)carry;
			carry >>= 32;
		}
		product.limb[i + HALF] = (uint32_t)carry;
	}
	return product;
}

/* a - b, b not above a */
static struct natural
subtract(struct natural a, struct natural b)
{
	uint64_t borrow = 0;

	for (int i = 0; i < LIMBS; i++) {
		uint64_t limb = (uint64_t)a.limb[i] - b.limb[i] - borrow;

		a.limb[i] = (uint32_t)limb;
		borrow = limb >> 63;
	}
	return a;
}

double
moments_sd(const struct moments *m)
{
	struct wide sum = size_of(m->sum);
	struct natural s1 = natural_of((uint64_t)sum.high, sum.low), n = natural_of(0, m->count);
	struct natural s2 = natural_of(m->squares_high, m->squares_low);
	struct natural spread = subtract(multiply(n, s2), multiply(s1, s1));
	double x = 0;

	for (int i = LIMBS - 1; i >= 0; i--)
		x = x * 4294967296.0 + spread.limb[i];
	return sqrt(x / ((double)m->count * (double)(m->count - 1)));
}

/* --- quantiles ------------------------------------------------------------------------------- */

/* Brings those of x[from] to x[to - 1] that are below `bound` to the front; returns their end. */
static size_t
gather_below(int64_t *x, size_t from, size_t to, int64_t bound)
{
	/* without a branch that depends on the values, as no processor could foretell it */
	for (size_t i = from; i < to; i++) {
		int64_t here = x[i];

		x[i] = x[from];
		x[from] = here;
		from += here < bound;
	}
	return from;
}

/* Brings the one that belongs at k in order there, none larger before it, none smaller behind. */
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
