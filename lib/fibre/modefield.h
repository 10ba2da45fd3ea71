/*
 * modefield: what a joint of two single-mode fibres should lose, each fibre's light taken for a
 * Gaussian beam.
 *
 *	struct mode_joint j = { .mfd_a_um = 9.2, .mfd_b_um = 8.6, .offset_um = 0.5,
 *	    .wavelength_nm = 1310, .index = 1.4468, .index_glass = 1.4468 };
 *	double loss_db = mode_joint_db(&j);
 *	double step_db = mode_step_db(j.mfd_a_um, j.mfd_b_um);
 *
 *	seen_from_a_db = loss_db + step_db;
 *	seen_from_b_db = loss_db - step_db;
 *
 * A mode-field DIAMETER goes in (what data sheets state); w = MFD / 2 is the radius at which the
 * field has fallen to 1/e of its height. Some books call w / sqrt(2) the spot size.
 *
 * Every function is pure, allocates nothing and cannot fail; the caller checks the ranges below.
 * Outside them the results mean nothing. Every loss is at least zero, and exactly zero (never
 * minus zero) without the fault that makes it.
 *
 * Accuracy of the arithmetic: 1e-9 dB (losses to 11 dB, gaps to 60 um, against the overlap of two
 * beams integrated numerically). Accuracy of the model: against exact LP01 modes of step-index
 * fibres, V from 1.8 to 2.4, MFD as a data sheet states it (Petermann's second definition), the
 * loss by
 *	offset	is too high by 0.4 % of itself at a quarter of the core radius, 1.4 % at half of
 *		it, 5 % at the whole
 *	tilt	is too low by 4 % of itself at V 2.4, 8 % at 2.0, 12 % at 1.8
 *	gap	is too low by 0.03 dB where the formula says 0.04, by 0.17 where it says 0.37
 *	mismatch	of equal V is too high by 11 % of itself at V 2.4, 31 % at 2.0, 45 % at 1.8;
 *		of unequal V it is at most 0.025 dB too low
 * All of it is measured in tests/published/published_modefield.c. Angles are small (paraxial).
 *
 * Sources: D. Marcuse, "Loss analysis of single-mode fiber splices", Bell Syst. Tech. J. 56(5),
 * 703 (1977), for each fault alone and for w from V; S. Nemoto and T. Makimoto, "Analysis of splice
 * loss in single-mode fibres using a Gaussian field approximation", Opt. Quantum Electron. 11, 447
 * (1979), for all at once. The formulas are from memory; the tests check them by integration.
 */
#ifndef THRUM_FIBRE_MODEFIELD_H
#define THRUM_FIBRE_MODEFIELD_H

/*
 * Two fibre ends before each other. Give a fault that is not there as 0.
 *
 * The tilt is the angle between the two fibres' axes in the medium, not a cleave angle. The offset
 * is how far the middle of b's end lies from a's axis; it matters which end only once there are
 * both a gap and a tilt, and then exchanging a and b is a slightly different joint.
 *
 * The indices are those of phase, not the group index a reflectometer is set to, which is about
 * 0.02 larger (common practice) and would make the tilt loss 3 % too high: see mode_silica_index.
 * Where the medium matches the glass, as in a fusion splice or in index gel, give both alike.
 */
struct mode_joint {
	double mfd_a_um, mfd_b_um; /* 1 to 50 */
	double offset_um;          /* 0 to 100 */
	double tilt_deg;           /* 0 to 10 */
	double gap_um;             /* 0 to 1000, along the axis */
	double wavelength_nm;      /* 400 to 2000, in vacuum */
	double index;              /* 1 (air) to 2, of the medium between the ends */
	double index_glass;        /* 1 to 2, of the fibres at the end faces */
};

/*
 * The phase index of fused silica, wavelength 210 to 3710 nm, to 2e-5: 1.4468 at 1310 nm, 1.4440 at
 * 1550 nm (I. H. Malitson, "Interspecimen comparison of the refractive index of fused silica",
 * J. Opt. Soc. Am. 55, 1205 (1965), the three-term dispersion formula; coefficients from memory).
 * Light in a fibre finds up to 0.4 % more, the core being doped.
 */
double mode_silica_index(double wavelength_nm);

/*
 * Two mode-field diameters, both in one unit, 1 to 50 um; only their ratio counts. Loss in dB
 *	20 log10((a/b + b/a) / 2)
 * from a to b and from b to a alike (Marcuse 1977).
 */
double mode_mismatch_db(double mfd_a_um, double mfd_b_um);

/*
 * What the offset alone, the tilt alone, the gap alone adds to the mismatch of the same two fibres,
 * in dB, w being the radii and theta in radians (Marcuse 1977):
 *	offset	10 log10(e) 2 d^2 / (wa^2 + wb^2)
 *	tilt	10 log10(e) 2 (pi index theta wa wb / wavelength)^2 / (wa^2 + wb^2)
 *	gap	10 log10(1 + (wavelength z / (pi index (wa^2 + wb^2)))^2)
 * Without a gap mismatch, offset and tilt add up to the whole. With one they do not: the three
 * couple. The gap's reflections are not in mode_gap_db but in mode_faces_db.
 */
double mode_offset_db(const struct mode_joint *j);
double mode_tilt_db(const struct mode_joint *j);
double mode_gap_db(const struct mode_joint *j);

/*
 * What two faces between glass and medium lose by reflection, in dB, indices 1 to 2: with
 * R = ((n - m) / (n + m))^2 for one face (Fresnel),
 *	20 log10(1 / (1 - R))
 * The light between the faces interferes, T = (1 - R)^2 / (1 + R^2 - 2 R cos phi) (Airy; phi = 4 pi
 * index gap / wavelength), and a gap is rarely known to a fraction of a wavelength. This is
 * nevertheless the exact mean in dB over all phi, because the mean of ln(1 + R^2 - 2 R cos phi)
 * is 0 for R < 1: it is ln|1 - R e^(i phi)|^2, and ln|1 - x| is harmonic where |x| < 1, so that its
 * mean on a circle is its value in the middle, ln 1. A single joint lies between 0 and
 * 20 log10((1 + R) / (1 - R)) dB, ends that touch at 0: for those give the glass as the medium.
 */
double mode_faces_db(double index, double index_glass);

/*
 * The whole joint in dB: all faults at once (Nemoto and Makimoto 1979), and the faces. Offset and
 * tilt are taken to lie in one plane, the tilt leaning the way that loses more: over a gap, b
 * facing away from where a's light comes from. No other direction loses more.
 */
double mode_joint_db(const struct mode_joint *j);

/* all of the above about one joint, in dB; each as its own function gives it */
struct mode_losses {
	double mismatch_db, offset_db, tilt_db, gap_db, faces_db, joint_db;
};

/* Works them all out at once, which takes half the time. */
void mode_losses(const struct mode_joint *j, struct mode_losses *l);

/* an MFD that is only known to lie from min_um to max_um, 1 to 50, min_um <= max_um */
struct mode_range {
	double min_um, max_um;
};

/*
 * The greatest mode_joint_db of any two MFDs in a and b; the MFDs in j do not count. Without a gap
 * that is at one of the four corners. With a gap it may lie between two of them on an edge (seen
 * only where the loss is above 9 dB), which is searched, to 1e-9 of the loss. That it is always on an
 * edge is not proved; it was checked on grids over all of the ranges above.
 */
double mode_worst_db(const struct mode_joint *j, struct mode_range a, struct mode_range b);

/* what a reflectometer may show of a joint, in dB; of either sign */
struct mode_seen {
	double least_db, most_db;
};

/*
 * mode_joint_db + sign mode_step_db of any two MFDs in a and b, the least and the greatest; sign 1:
 * looking from a into b, -1: from b into a. The MFDs in j do not count. Searched along the edges of both
 * ranges, to 1e-6 dB; that they lie on an edge was checked on grids over the ranges above, MFDs up to
 * 1 to 1.7.
 */
struct mode_seen
mode_seen(const struct mode_joint *j, struct mode_range a, struct mode_range b, int sign);

/*
 * 10 log10(b/a) dB: what a reflectometer adds to the joint's loss when it looks from a into b, and
 * subtracts when it looks from b into a; so the mean of both readings is the loss, half their
 * difference is this, and 10^(step/10) is b/a. MFDs 1 to 50 um; the result has either sign.
 * Holds where both fibres scatter alike: the share of scattered light that is caught goes as
 * 1/MFD^2, and a reflectometer halves decibels.
 */
double mode_step_db(double mfd_a_um, double mfd_b_um);

/* V of a step-index fibre: 2.404826 cutoff / wavelength (both in nm, 400 to 2000) */
double mode_v(double wavelength_nm, double cutoff_nm);

/*
 * The range of V over which mode_spot is within 0.81 % of the best Gaussian, measured against exact
 * LP01 modes. Above MODE_V_CUTOFF, the first zero of J0, a second mode is guided.
 */
#define MODE_V_MIN    1.2
#define MODE_V_CUTOFF 2.404826
#define MODE_V_MAX    3.0

/*
 * w / a, mode-field radius by core radius, of a matched-cladding step-index fibre:
 * 0.65 + 1.619 V^-1.5 + 2.879 V^-6 (Marcuse 1977), V from MODE_V_MIN to MODE_V_MAX. It is the
 * radius of the Gaussian that overlaps the mode best, larger than the radius a data sheet states
 * (Petermann's second definition): by 1.7 % at V 2.4, 2.7 % at 1.8, 15 % at 1.2.
 */
double mode_spot(double v);

/*
 * MFD at wavelength_nm / MFD at reference_nm of a matched-cladding step-index fibre with that
 * cut-off of the bare fibre; all in nm, 400 to 2000. mode_v of both must lie from MODE_V_MIN to
 * MODE_V_MAX; the caller asks. Of the MFD a data sheet states, from 1310 to 1550 nm and with the
 * cut-off at 1100 to 1310 nm, the ratio is too high by 0.3 to 1.1 % of itself (exact LP01 modes).
 */
double mode_spot_scale(double wavelength_nm, double reference_nm, double cutoff_nm);

#endif
