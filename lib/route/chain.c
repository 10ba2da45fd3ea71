#include "route/chain.h"

#include <math.h>
#include <stdlib.h>

#include "base/mem.h"

/* group indices of single-mode fibre are 1.466 to 1.469: common practice */
#define INDEX_HALF 0.0015

#define SQUARE(x) ((x) * (x))
#define EVEN(x)   (SQUARE(x) / 3) /* the variance of what lies evenly within +-x */

/* the next section from a side: of the place of its near end, and of its own length */
struct chain_part {
	double at_m, length_m;
	double var, both, length_var; /* variances of the two, and their covariance */
	double index, length_index;   /* covariances with the error of an unstated index */
};

double
chain_bound(double m, double sample_m)
{
	return 1 + 5e-5 * fabs(m) + sample_m / 2;
}

static double *
row(const struct chain *c, size_t i)
{
	return c->cov + i * (c->n + 1);
}

/* The section that is passed `step` sections after the end `side`. */
static size_t
passed(const struct chain *c, unsigned side, size_t step)
{
	return side == 0 ? step : c->n - 1 - step;
}

/* --- what is known of the lengths --------------------------------------------------------------- */

/* The expected sum of the lengths, each `with` times; *var becomes its variance. */
static double
foresee(const struct chain *c, double *var)
{
	size_t n = c->n + 1;
	double sum = 0;

	*var = 0;
	for (size_t i = 0; i < n; i++) {
		const double *cov = row(c, i);

		c->gain[i] = 0;
		for (size_t k = 0; k < n; k++)
			c->gain[i] += cov[k] * c->with[k];
		sum += c->with[i] * c->mean[i];
		*var += c->with[i] * c->gain[i];
	}
	return sum;
}

/* That sum was measured: it is z, with the variance noise. Least squares, one measurement at a time. */
static void
observe(struct chain *c, double z, double noise)
{
	size_t n = c->n + 1;
	double var, miss = z - foresee(c, &var);

	var += noise;
	for (size_t i = 0; i < n; i++) {
		double *cov = row(c, i);

		c->mean[i] += c->gain[i] * miss / var;
		for (size_t k = 0; k < n; k++)
			cov[k] -= c->gain[i] * c->gain[k] / var;
	}
	c->misses += miss * miss / var;
	c->read++;
}

/* Lengths by sheath and excess, else as measured; a section without either ends what can be told. */
static void
expect(struct chain *c, const struct chain_sd *sd)
{
	for (size_t i = 0; i < c->n; i++) {
		const struct chain_section *s = &c->v[i];
		bool by_sheath = !s->inside && !isnan(s->sheath_m);
		double m = isnan(s->fibre_m) ? s->sheath_m : s->fibre_m;

		if (isnan(m)) {
			c->reach[0] = i < c->reach[0] ? i : c->reach[0];
			c->reach[1] = c->n - 1 - i;
			continue;
		}
		c->mean[i] = by_sheath ? s->sheath_m * (1 + CHAIN_EXCESS) : m;
		row(c, i)[i] = by_sheath ? 2 * SQUARE(sd->mark_m) + SQUARE(sd->length * m)
					 : EVEN(chain_bound(m, 0));
		for (size_t k = 0; by_sheath && k <= i; k++)
			if (c->v[k].cable == s->cable && !c->v[k].inside &&
			    !isnan(c->v[k].sheath_m)) {
				row(c, i)[k] +=
				    EVEN(CHAIN_EXCESS_HALF) * s->sheath_m * c->v[k].sheath_m;
				row(c, k)[i] = row(c, i)[k];
			}
	}
	for (size_t i = 0; i < c->n; i++) {
		const struct chain_section *s = &c->v[i];

		if (s->inside || isnan(s->sheath_m) || isnan(s->fibre_m))
			continue;
		c->with[i] = 1;
		observe(c, s->fibre_m, EVEN(chain_bound(s->fibre_m, 0)));
		c->with[i] = 0;
	}
}

/* From metres of fibre to what light sees of them. */
static void
make_optical(struct chain *c, double index_sd)
{
	double sum = 0, weighed = 0;

	for (size_t i = 0; i < c->n; i++) {
		double index = isnan(c->v[i].index) ? CHAIN_INDEX : c->v[i].index;

		c->gain[i] = isnan(c->v[i].index) ? sqrt(EVEN(INDEX_HALF)) : index_sd;
		c->with[i] = index / CHAIN_INDEX;
		c->gain[i] *= c->mean[i] / CHAIN_INDEX;
		sum += c->mean[i];
		weighed += c->mean[i] * index;
	}
	for (size_t i = 0; i < c->n; i++) {
		c->mean[i] *= c->with[i];
		for (size_t k = 0; k < c->n; k++)
			row(c, i)[k] =
			    row(c, i)[k] * c->with[i] * c->with[k] +
			    (c->v[i].cable == c->v[k].cable ? c->gain[i] * c->gain[k] : 0);
	}
	c->index = sum > 0 ? weighed / sum : CHAIN_INDEX;
	row(c, c->n)[c->n] = EVEN(INDEX_HALF / CHAIN_INDEX);
}

void
chain_begin(struct chain *c, const struct chain_section *v, size_t n, const struct chain_sd *sd)
{
	*c = (struct chain){ .v = v, .n = n, .reach = { n, n } };
	c->mean = mem_zeroed(n + 1, sizeof *c->mean);
	c->cov = mem_zeroed((n + 1) * (n + 1), sizeof *c->cov);
	c->with = mem_zeroed(n + 1, sizeof *c->with);
	c->gain = mem_zeroed(n + 1, sizeof *c->gain);
	c->seen = mem_zeroed(n + 1, sizeof *c->seen);
	for (int side = 0; side < 2; side++)
		c->parts[side] = mem_zeroed(n + 1, sizeof *c->parts[side]);
	expect(c, sd);
	make_optical(c, sd->index);
	c->misses = 0;
	c->read = 0;
}

/* --- readings ----------------------------------------------------------------------------------- */

/*
 * The site that the sections at the steps lo to hi - 1 lie within; where hi is the last one, its far
 * connector.
 */
static void
read_site(struct chain *c, unsigned side, const struct chain_reading *r, size_t lo, size_t hi)
{
	double scale = (isnan(r->index) ? c->index : r->index) / CHAIN_INDEX;
	double width = 0, at = 0, var, bound, first = 0, last = 0, best = NAN, gate;
	bool far = hi == c->n;

	for (size_t step = 0; step < c->n; step++) {
		size_t i = passed(c, side, step);

		c->with[i] = step < lo || far ? 1 : step < hi ? 0.5 : 0;
		at += c->with[i] * c->mean[i];
		width += c->with[i] == 0.5 ? c->mean[i] : 0;
	}
	c->with[c->n] = isnan(r->index) ? -at : 0;
	at = foresee(c, &var);
	bound = chain_bound(at, r->sample_m);
	gate = 3 * sqrt(var + EVEN(bound) + EVEN(width / 2));
	gate = fmin(gate, 0.45 * c->mean[passed(c, side, lo - 1)]);
	if (!far)
		gate = fmin(gate, 0.45 * c->mean[passed(c, side, hi)]);
	for (size_t i = 0; i < r->n; i++) {
		double z = r->v[i].m * scale;

		if (r->v[i].last != far || fabs(z - at) > gate)
			continue;
		first = isnan(best) ? z : first;
		last = z;
		if (isnan(best) || fabs(z - at) < fabs(best - at))
			best = z;
	}
	if (isnan(best) || last - first > 2 * bound + width)
		return;
	observe(c, best, EVEN(bound) + EVEN(width / 2));
	for (size_t step = lo; step <= hi; step++)
		c->seen[side == 0 ? step : c->n - step] = true;
}

void
chain_read(struct chain *c, unsigned side, const struct chain_reading *reading)
{
	for (size_t lo = 0, hi; lo <= c->n; lo = hi + 1) {
		for (hi = lo; hi < c->n && c->v[passed(c, side, hi)].inside; hi++)
			;
		if (hi > c->reach[side])
			return;
		if (lo > 0)
			read_site(c, side, reading, lo, hi);
	}
}

void
chain_settle(struct chain *c)
{
	enum { SPREAD_LEAST = 3 }; /* of fewer readings a spread says nothing */
	size_t n = c->n;
	double more = c->read >= SPREAD_LEAST ? c->misses / (double)c->read : 1;

	for (size_t i = 0; more > 1 && i < (n + 1) * (n + 1); i++)
		c->cov[i] *= more;
	for (unsigned side = 0; side < 2; side++)
		for (size_t step = 0; step < n; step++) {
			struct chain_part *p = &c->parts[side][step];
			size_t i = passed(c, side, step);

			p->length_m = fmax(c->mean[i], 0);
			p->length_var = row(c, i)[i];
			p->length_index = row(c, i)[n];
			for (size_t k = 0; k < step; k++)
				p->both += row(c, i)[passed(c, side, k)];
			p[1].at_m = p->at_m + p->length_m;
			p[1].var = p->var + 2 * p->both + p->length_var;
			p[1].index = p->index + p->length_index;
		}
}

/* --- distances ---------------------------------------------------------------------------------- */

/* The step at which something lies at x, seen from a side. */
static size_t
step_at(const struct chain *c, unsigned side, double x)
{
	size_t low = 0, high = c->n;

	while (high - low > 1) {
		size_t middle = low + (high - low) / 2;

		if (c->parts[side][middle].at_m <= x)
			low = middle;
		else
			high = middle;
	}
	return low;
}

/* How far along the section at this step x lies, seen from a side, put on its end if off the link. */
static double
part_at(const struct chain *c, unsigned side, size_t step, double x)
{
	const struct chain_part *p = &c->parts[side][step];

	return p->length_m > 0 ? fmax(0, fmin(1, (x - p->at_m) / p->length_m)) : 0;
}

static void
put_place(const struct chain *c, unsigned side, size_t step, struct chain_found *f)
{
	double part = part_at(c, side, step, f->at_m);

	f->section = passed(c, side, step);
	f->part = side == 0 ? part : 1 - part;
	f->length_m = c->parts[side][step].length_m;
}

/* The variance of the place x, seen from a side, but for the instrument's; loose_m as in chain_found. */
static double
spread_at(const struct chain *c, unsigned side, double x, double loose_m)
{
	size_t step = step_at(c, side, x);
	const struct chain_part *p = &c->parts[side][step];
	double part = part_at(c, side, step, x);

	return p->var + part * (2 * p->both + part * p->length_var) +
	       SQUARE(loose_m) * row(c, c->n)[c->n] -
	       2 * loose_m * (p->index + part * p->length_index);
}

enum chain_where
chain_find(const struct chain *c, unsigned side, double m, double index, double sample_m,
    struct chain_found *f)
{
	double end = c->parts[side][c->n].at_m;
	double x = m * (isnan(index) ? c->index : index) / CHAIN_INDEX;
	size_t step;

	*f = (struct chain_found){ .loose_m = isnan(index) ? x : 0 };
	x += f->loose_m * c->mean[c->n];
	step = step_at(c, side, x);
	if (step >= c->reach[side]) {
		f->section = passed(c, side, c->reach[side]);
		return CHAIN_UNKNOWN;
	}
	f->noise = EVEN(chain_bound(m, sample_m));
	f->sd_m = sqrt(f->noise + spread_at(c, side, x, f->loose_m));
	f->off_m = x < 0 ? -x : x > end ? x - end : 0;
	f->at_m = fmax(0, fmin(x, end));
	put_place(c, side, step, f);
	return f->off_m <= 1.96 * f->sd_m ? CHAIN_IN : x < 0 ? CHAIN_BEFORE : CHAIN_BEHIND;
}

bool
chain_meet(const struct chain *c, unsigned side, struct chain_found *f,
    const struct chain_found *other, double *apart_m)
{
	enum { TIMES = 3 }; /* the variances are those of the place, which the weight gives */
	const struct chain_part *whole = &c->parts[side][c->n];
	double loose = f->loose_m + other->loose_m, far = whole->at_m - other->at_m;
	double sum = whole->var + SQUARE(loose) * row(c, c->n)[c->n] - 2 * loose * whole->index;
	double x = f->at_m, var = 0, weight;

	*apart_m = fabs(f->at_m - far);
	for (int i = 0; i < TIMES; i++) {
		double near_var = spread_at(c, side, x, f->loose_m);
		double far_var = spread_at(c, 1 - side, whole->at_m - x, other->loose_m);
		/* but for the instrument's, the errors of both add up to that of the whole */
		double both = (near_var + far_var - sum) / 2, apart;

		near_var += f->noise;
		far_var += other->noise;
		apart = near_var + far_var - 2 * both;
		if (SQUARE(*apart_m) > 9 * apart)
			return false;
		weight = fmax(0, fmin(1, (far_var - both) / apart));
		x = weight * f->at_m + (1 - weight) * far;
		var = SQUARE(weight) * near_var + SQUARE(1 - weight) * far_var +
		      2 * weight * (1 - weight) * both;
	}
	f->at_m = x;
	f->sd_m = sqrt(var);
	put_place(c, side, step_at(c, side, x), f);
	return true;
}

void
chain_free(struct chain *c)
{
	free(c->mean);
	free(c->cov);
	free(c->with);
	free(c->gain);
	free(c->seen);
	free(c->parts[0]);
	free(c->parts[1]);
	*c = (struct chain){ .n = 0 };
}
