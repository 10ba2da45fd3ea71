/*
 * loss: what two readings of one point say, one from each end.
 *
 * From a a reflectometer shows the loss of the point plus the step s, from b the loss less s: the fibre
 * behind the point throws back more or less light than the one before it. With mode fields alone
 * s = 10 log10(w_behind / w_before) dB, as captured backscatter goes as 1 / w^2 (D. Marcuse, Loss Analysis
 * of Single-Mode Fiber Splices, Bell System Technical Journal 56, 703 (1977), for the butt joint).
 */
#ifndef THRUM_READINGS_LOSS_H
#define THRUM_READINGS_LOSS_H

#include <stdint.h>

/* a value and its standard deviation: in dB, but for the ratio */
struct known {
	double is, sd;
};

struct loss {
	struct known loss, step;
	struct known ratio; /* of the mode fields, behind over before; no dB */
	struct known mismatch,
	    excess; /* of a butt joint of that ratio; what the loss is above it */
};

/*
 * Adds a reading of this loss to *sum: noise_db is its standard deviation by noise, linearity the bound of
 * the instrument's error for each dB, taken as even up to it: its standard deviation is linearity x loss /
 * sqrt 3.
 */
void loss_add(struct known *sum, double loss_db, double noise_db, double linearity);

/*
 * The values of a point, and their standard deviations: to first order, for mismatch also to second, as
 * its slope is 0 where the step is.
 */
struct loss loss_of(const struct known *a, const struct known *b);

#endif
