#include "readings/loss.h"

#include <math.h>

void
loss_add(struct known *sum, double loss_db, double noise_db, double linearity)
{
	sum->is += loss_db;
	sum->sd = hypot(sum->sd, hypot(noise_db, linearity * loss_db / sqrt(3)));
}

struct loss
loss_of(const struct known *a, const struct known *b)
{
	const double per_db = log(10) / 10;
	double sd_db = hypot(a->sd, b->sd) / 2, u, first, second;
	struct loss l = { .loss = { (a->is + b->is) / 2, sd_db },
		.step = { (a->is - b->is) / 2, sd_db } };

	u = l.step.is * per_db; /* the ratio's logarithm */
	l.ratio.is = exp(u);
	l.ratio.sd = l.ratio.is * per_db * sd_db;
	first = 2 * tanh(u);
	second = 2 * per_db / (cosh(u) * cosh(u));
	l.mismatch.is = 20 * log10(cosh(u));
	l.mismatch.sd = hypot(first * sd_db, second * sd_db * sd_db / sqrt(2));
	l.excess.is = l.loss.is - l.mismatch.is;
	l.excess.sd = hypot(sd_db, l.mismatch.sd);
	return l;
}
