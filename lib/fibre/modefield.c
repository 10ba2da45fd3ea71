/*
 * modefield: losses of joined Gaussian mode fields. The header says what and from where.
 *
 * Losses are built from log1p and squares rather than from transmissions: a joint that is nearly
 * perfect keeps all its digits, a perfect one is exactly zero.
 */
#include "fibre/modefield.h"

#include <math.h>
#include <stdbool.h>

#define PI           3.14159265358979323846
#define DB_PER_NEPER 4.34294481903251827651 /* 10 log10(e) */
#define RAD_PER_DEG  (PI / 180)
#define UM_PER_NM    1e-3

static double
square(double x)
{
	return x * x;
}

/* wa^2 + wb^2 */
static double
spots_um2(const struct mode_joint *j)
{
	return (square(j->mfd_a_um) + square(j->mfd_b_um)) / 4;
}

static double
wave_number_per_um(const struct mode_joint *j)
{
	return 2 * PI * j->index / (j->wavelength_nm * UM_PER_NM);
}

double
mode_silica_index(double wavelength_nm)
{
	double l2 = square(wavelength_nm * UM_PER_NM);

	return sqrt(1 + 0.6961663 * l2 / (l2 - square(0.0684043)) +
		    0.4079426 * l2 / (l2 - square(0.1162414)) +
		    0.8974794 * l2 / (l2 - square(9.896161)));
}

double
mode_mismatch_db(double mfd_a_um, double mfd_b_um)
{
	/* ((a/b + b/a) / 2)^2 = 1 + ((a^2 - b^2) / (2 a b))^2 */
	double x = (mfd_a_um - mfd_b_um) * (mfd_a_um + mfd_b_um) / (2 * mfd_a_um * mfd_b_um);

	return DB_PER_NEPER * log1p(x * x);
}

double
mode_offset_db(const struct mode_joint *j)
{
	return DB_PER_NEPER * 2 * square(j->offset_um) / spots_um2(j);
}

double
mode_tilt_db(const struct mode_joint *j)
{
	double half_k_wa_wb = wave_number_per_um(j) * j->mfd_a_um * j->mfd_b_um / 8;

	return DB_PER_NEPER * 2 * square(half_k_wa_wb * j->tilt_deg * RAD_PER_DEG) / spots_um2(j);
}

double
mode_gap_db(const struct mode_joint *j)
{
	double x = 2 * j->gap_um / (wave_number_per_um(j) * spots_um2(j));

	return DB_PER_NEPER * log1p(x * x);
}

double
mode_faces_db(double index, double index_glass)
{
	double r = square((index_glass - index) / (index_glass + index));

	return -2 * DB_PER_NEPER * log1p(-r);
}

/* What offset and tilt lose, coupled over the gap. */
static double
coupled_db(const struct mode_joint *j)
{
	/* Nemoto and Makimoto's T = (4s/q) exp(-rho u/q); 4s/q is mismatch and gap */
	double k = wave_number_per_um(j);
	double wa2_um2 = square(j->mfd_a_um) / 4;
	double theta = j->tilt_deg * RAD_PER_DEG;
	double s = square(j->mfd_b_um / j->mfd_a_um);
	double f = 2 * j->offset_um / (k * wa2_um2);
	double g = 2 * j->gap_um / (k * wa2_um2);
	double q = square(g) + square(s + 1);
	double rho = square(k) * wa2_um2 / 2;
	/* the term in f g theta changes its sign with the way the tilt leans: plus loses more */
	double u =
	    (s + 1) * square(f) + 2 * s * f * g * theta + s * (square(g) + s + 1) * square(theta);

	return DB_PER_NEPER * rho * u / q;
}

double
mode_joint_db(const struct mode_joint *j)
{
	return mode_mismatch_db(j->mfd_a_um, j->mfd_b_um) + mode_gap_db(j) + coupled_db(j) +
	       mode_faces_db(j->index, j->index_glass);
}

void
mode_losses(const struct mode_joint *j, struct mode_losses *l)
{
	l->mismatch_db = mode_mismatch_db(j->mfd_a_um, j->mfd_b_um);
	l->offset_db = mode_offset_db(j);
	l->tilt_db = mode_tilt_db(j);
	l->gap_db = mode_gap_db(j);
	l->faces_db = mode_faces_db(j->index, j->index_glass);
	l->joint_db = l->mismatch_db + l->gap_db + coupled_db(j) + l->faces_db;
}

/*
 * The greatest loss on the straight line between two pairs of MFDs, (a.min, b.min) and (a.max,
 * b.max): at equal steps, then again between the neighbours of the best one.
 *
 * Without a gap its ends are enough when one MFD stands still: with x and y the squared radii,
 * the slope of the loss in x has the sign of x^2 + 2 c x - y^2, where c does not depend on x. That
 * changes sign only once, from minus to plus.
 */
static double
worst_between(struct mode_joint j, struct mode_range a, struct mode_range b)
{
	int steps = j.gap_um > 0 ? 16 : 1, rounds = j.gap_um > 0 ? 7 : 1;
	double from = 0, to = 1, at = 0, worst_db = 0;

	for (int round = 0; round < rounds; round++) {
		double step = (to - from) / steps;

		for (int i = 0; i <= steps; i++) {
			double t = from + i * step, db;

			j.mfd_a_um = a.min_um + t * (a.max_um - a.min_um);
			j.mfd_b_um = b.min_um + t * (b.max_um - b.min_um);
			db = mode_joint_db(&j);
			if (db > worst_db) {
				worst_db = db;
				at = t;
			}
		}
		from = fmax(at - step, 0);
		to = fmin(at + step, 1);
	}
	return worst_db;
}

double
mode_worst_db(const struct mode_joint *j, struct mode_range a, struct mode_range b)
{
	double worst_db = worst_between(*j, a, (struct mode_range){ b.min_um, b.min_um });

	worst_db = fmax(worst_db, worst_between(*j, a, (struct mode_range){ b.max_um, b.max_um }));
	worst_db = fmax(worst_db, worst_between(*j, (struct mode_range){ a.min_um, a.min_um }, b));
	return fmax(worst_db, worst_between(*j, (struct mode_range){ a.max_um, a.max_um }, b));
}

double
mode_step_db(double mfd_a_um, double mfd_b_um)
{
	return 10 * log10(mfd_b_um / mfd_a_um);
}

/*
 * Without a gap the reading changes with the logarithm of an MFD by at least 1.37 dB while the two are
 * within 0.7 of each other, and offset and tilt change it by no more than twice what they lose: then it
 * only rises or only falls along an edge, and corners are enough.
 */
static bool
only_corners(struct mode_joint j, struct mode_range a, struct mode_range b)
{
	double moving_db;

	if (j.gap_um > 0 || a.min_um < 0.7 * b.max_um || b.min_um < 0.7 * a.max_um)
		return false;
	j.mfd_a_um = a.min_um;
	j.mfd_b_um = b.min_um;
	moving_db = mode_offset_db(&j);
	j.mfd_a_um = a.max_um;
	j.mfd_b_um = b.max_um;
	return moving_db + mode_tilt_db(&j) < 0.6;
}

/*
 * The greatest of `sense` times the reading on the straight line between (a.min, b.min) and (a.max,
 * b.max): at equal steps, then again between the neighbours of the best one.
 */
static double
most_between(struct mode_joint j, struct mode_range a, struct mode_range b, int sign, int sense,
    bool corners)
{
	int steps = corners ? 1 : 16, rounds = corners ? 1 : 7;
	double from = 0, to = 1, at = 0, most_db = -INFINITY;

	for (int round = 0; round < rounds; round++) {
		double step = (to - from) / steps;

		for (int i = 0; i <= steps; i++) {
			double t = from + i * step, db;

			j.mfd_a_um = a.min_um + t * (a.max_um - a.min_um);
			j.mfd_b_um = b.min_um + t * (b.max_um - b.min_um);
			db = sense *
			     (mode_joint_db(&j) + sign * mode_step_db(j.mfd_a_um, j.mfd_b_um));
			if (db > most_db) {
				most_db = db;
				at = t;
			}
		}
		from = fmax(at - step, 0);
		to = fmin(at + step, 1);
	}
	return most_db;
}

struct mode_seen
mode_seen(const struct mode_joint *j, struct mode_range a, struct mode_range b, int sign)
{
	struct mode_seen seen = { INFINITY, -INFINITY };
	bool corners = only_corners(*j, a, b);

	for (int i = 0; i < 4; i++) {
		double a_um = i & 1 ? a.max_um : a.min_um, b_um = i & 1 ? b.max_um : b.min_um;
		struct mode_range along_a = i < 2 ? a : (struct mode_range){ a_um, a_um };
		struct mode_range along_b = i < 2 ? (struct mode_range){ b_um, b_um } : b;

		seen.most_db =
		    fmax(seen.most_db, most_between(*j, along_a, along_b, sign, 1, corners));
		seen.least_db =
		    fmin(seen.least_db, -most_between(*j, along_a, along_b, sign, -1, corners));
	}
	return seen;
}

double
mode_v(double wavelength_nm, double cutoff_nm)
{
	return MODE_V_CUTOFF * cutoff_nm / wavelength_nm;
}

double
mode_spot(double v)
{
	return 0.65 + 1.619 / (v * sqrt(v)) + 2.879 / square(v * v * v);
}

double
mode_spot_scale(double wavelength_nm, double reference_nm, double cutoff_nm)
{
	return mode_spot(mode_v(wavelength_nm, cutoff_nm)) /
	       mode_spot(mode_v(reference_nm, cutoff_nm));
}
