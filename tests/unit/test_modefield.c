/*
 * test_modefield: the mode-field losses against values computed another way, their limits and
 * symmetries. tests/published/published_modefield.c has the integrals and the printed examples.
 */
#include "fibre/modefield.h"

#include "check.h"

#define PI 3.14159265358979323846

static double
uniform(uint64_t *state, double lo, double hi)
{
	return lo + (hi - lo) * (double)(check_random(state) >> 11) / 9007199254740992.0;
}

/* evenly spread over the orders of magnitude */
static double
log_uniform(uint64_t *state, double lo, double hi)
{
	return lo * pow(hi / lo, uniform(state, 0, 1));
}

static const struct mode_joint perfect = { .mfd_a_um = 9.2,
	.mfd_b_um = 9.2,
	.wavelength_nm = 1310,
	.index = 1.4677,
	.index_glass = 1.4677 };

/*
 * Overlaps of two complex Gaussian beams, computed beforehand by integration. Radii here, and the
 * index 1.4677 or 1.4682, because that is what they were computed with.
 */
static const struct {
	double wa_um, wb_um, offset_um, tilt_deg, gap_um, index, wavelength_nm, db;
} vectors[] = {
	{ 4.6, 4.6, 1.0, 0, 0, 1.4677, 1310, 0.205243 },
	{ 4.6, 4.3, 0.5, 0, 0, 1.4677, 1310, 0.074504 },
	{ 5.2, 5.2, 0, 1.0, 0, 1.4682, 1550, 0.316776 },
	{ 5.2, 4.8, 0.7, 0.5, 0, 1.4682, 1550, 0.185649 },
	{ 5.2, 4.8, 0.7, 0.5, 10, 1.4682, 1550, 0.214762 }, /* leaning the other way: 0.195352 */
	{ 4.6, 4.6, 0, 0, 10, 1.0, 1310, 0.041960 },
};

static struct mode_joint
vector_joint(size_t n)
{
	return (struct mode_joint){ .mfd_a_um = 2 * vectors[n].wa_um,
		.mfd_b_um = 2 * vectors[n].wb_um,
		.offset_um = vectors[n].offset_um,
		.tilt_deg = vectors[n].tilt_deg,
		.gap_um = vectors[n].gap_um,
		.wavelength_nm = vectors[n].wavelength_nm,
		.index = vectors[n].index,
		.index_glass = vectors[n].index };
}

static void
joint_vectors(void)
{
	for (size_t n = 0; n < sizeof vectors / sizeof *vectors; n++) {
		struct mode_joint j = vector_joint(n);

		NEAR(mode_joint_db(&j), vectors[n].db, 5.001e-7);
	}
}

static void
mismatch_vectors(void)
{
	static const struct {
		double a_um, b_um, db;
	} pairs[] = {
		{ 9.2, 8.6, 0.019738 },
		{ 9.2, 8.8, 0.008579 },
		{ 9.2, 9.6, 0.007864 },
		{ 8.2, 9.6, 0.107465 },
		{ 9.0, 10.4, 0.090469 },
		{ 10.4, 9.6, 0.027795 },
		{ 10.4, 12.5, 0.146091 },
		{ 9.2, 12.0, 0.303063 },
		{ 10, 12, 0.143572 },
		{ 10, 15, 0.695242 },
		{ 10, 20, 1.938200 },
	};

	for (size_t n = 0; n < sizeof pairs / sizeof *pairs; n++) {
		double db = mode_mismatch_db(pairs[n].a_um, pairs[n].b_um);

		NEAR(db, pairs[n].db, 5.001e-7);
		CHECK(mode_mismatch_db(pairs[n].b_um, pairs[n].a_um) == db, "row %zu", n);
		/* only the ratio counts: radii do as well */
		NEAR(mode_mismatch_db(pairs[n].a_um / 2, pairs[n].b_um / 2), db, 1e-15);
	}
}

/* what a reflectometer reads from either end of a joint of which the loss is known */
static void
step_seen_from_both_ends(void)
{
	static const struct {
		double a_um, b_um, loss_db, from_a_db, from_b_db;
	} rows[] = {
		{ 9.2, 8.6, 0.05, -0.242894, 0.342894 },
		{ 9.2, 8.8, 0.02, -0.173052, 0.213052 },
		{ 10.4, 9.6, 0.03, -0.317621, 0.377621 },
	};

	for (size_t n = 0; n < sizeof rows / sizeof *rows; n++) {
		double step_db = mode_step_db(rows[n].a_um, rows[n].b_um);

		NEAR(rows[n].loss_db + step_db, rows[n].from_a_db, 5.001e-7);
		NEAR(rows[n].loss_db - step_db, rows[n].from_b_db, 5.001e-7);
		NEAR(mode_step_db(rows[n].b_um, rows[n].a_um), -step_db, 1e-15);
		NEAR(pow(10, step_db / 10), rows[n].b_um / rows[n].a_um, 1e-15);
	}
	NEAR(mode_step_db(8.6, 9.5), 0.432252, 5.001e-7);
	NEAR(mode_step_db(8.2, 9.6), 0.684574, 5.001e-7);
	NEAR(mode_step_db(9.0, 10.4), 0.627908, 5.001e-7);
}

/* == 0 holds for minus zero as well, which would be printed */
#define ZERO(x) CHECK((x) == 0 && !signbit(x), "%g", (double)(x))

static void
no_fault_is_exactly_zero(void)
{
	static const double mfd_um[] = { 1, 3.7, 8.6, 9.2, 10.4, 12.3456789, 50 };

	for (size_t n = 0; n < sizeof mfd_um / sizeof *mfd_um; n++) {
		struct mode_joint j = perfect;
		struct mode_range only = { mfd_um[n], mfd_um[n] };

		j.mfd_a_um = j.mfd_b_um = mfd_um[n];
		ZERO(mode_mismatch_db(mfd_um[n], mfd_um[n]));
		ZERO(mode_step_db(mfd_um[n], mfd_um[n]));
		ZERO(mode_offset_db(&j));
		ZERO(mode_tilt_db(&j));
		ZERO(mode_gap_db(&j));
		ZERO(mode_joint_db(&j));
		ZERO(mode_worst_db(&j, only, only));
	}
	ZERO(mode_faces_db(1, 1));
	ZERO(mode_faces_db(1.4677, 1.4677));
	CHECK(mode_spot_scale(1310, 1310, 1260) == 1, "the same wavelength");
}

/* the smallest faults still count: nothing is lost beside 1 */
static void
small_faults_keep_their_digits(void)
{
	struct mode_joint j = perfect;

	/* 10 log10(e) (1e-9)^2, for MFDs that differ by 1e-9 of themselves */
	NEAR(mode_mismatch_db(1, 1 + 1e-9) / 4.342944819e-18, 1, 1e-6);
	j.offset_um = 4.6e-9;
	NEAR(mode_joint_db(&j) / 4.342944819e-18, 1, 1e-9);
}

static void
parts_add_up_without_a_gap(void)
{
	uint64_t state = 3;

	for (int n = 0; n < 1000; n++) {
		struct mode_joint j = perfect;
		double sum;

		j.mfd_a_um = uniform(&state, 1, 50);
		j.mfd_b_um = uniform(&state, 1, 50);
		j.offset_um = uniform(&state, 0, 10);
		j.tilt_deg = uniform(&state, 0, 10);
		j.index = uniform(&state, 1, 2);
		sum = mode_mismatch_db(j.mfd_a_um, j.mfd_b_um) + mode_offset_db(&j) +
		      mode_tilt_db(&j) + mode_faces_db(j.index, j.index_glass);
		NEAR(mode_joint_db(&j) / sum, 1, 1e-13);
		j.offset_um = j.tilt_deg = 0;
		j.gap_um = uniform(&state, 0, 1000);
		sum = mode_mismatch_db(j.mfd_a_um, j.mfd_b_um) + mode_gap_db(&j) +
		      mode_faces_db(j.index, j.index_glass);
		NEAR(mode_joint_db(&j) / sum, 1, 1e-13);
	}
}

static void
exchanging_the_ends_changes_nothing(void)
{
	uint64_t state = 4;

	for (int n = 0; n < 1000; n++) {
		struct mode_joint j = perfect, back;

		j.mfd_a_um = uniform(&state, 1, 50);
		j.mfd_b_um = uniform(&state, 1, 50);
		j.offset_um = uniform(&state, 0, 10);
		/* a tilt or a gap; with both, the offset is another one seen from the other end */
		if (n % 2)
			j.tilt_deg = uniform(&state, 0, 10);
		else
			j.gap_um = uniform(&state, 0, 1000);
		back = j;
		back.mfd_a_um = j.mfd_b_um;
		back.mfd_b_um = j.mfd_a_um;
		NEAR(mode_offset_db(&back), mode_offset_db(&j), 1e-14 * mode_offset_db(&j));
		NEAR(mode_gap_db(&back), mode_gap_db(&j), 1e-14 * mode_gap_db(&j));
		NEAR(mode_tilt_db(&back), mode_tilt_db(&j), 1e-14 * mode_tilt_db(&j));
		NEAR(mode_joint_db(&back), mode_joint_db(&j), 1e-13 * mode_joint_db(&j));
	}
}

static void
worse_faults_lose_more(void)
{
	struct mode_joint j = perfect;
	double last_offset = 0, last_tilt = 0, last_gap = 0, last_mfd = 0, last_all = 0;

	for (int n = 1; n <= 100; n++) {
		struct mode_joint all = perfect;

		j.offset_um = all.offset_um = n * 0.1;
		j.tilt_deg = all.tilt_deg = n * 0.05;
		j.gap_um = n * 10;
		CHECK(mode_offset_db(&j) > last_offset, "%d", n);
		CHECK(mode_tilt_db(&j) > last_tilt, "%d", n);
		CHECK(mode_gap_db(&j) > last_gap, "%d", n);
		CHECK(mode_mismatch_db(9.2, 9.2 + n * 0.1) > last_mfd, "%d", n);
		CHECK(mode_mismatch_db(9.2, 9.2 - n * 0.05) > 0, "%d", n);
		CHECK(mode_joint_db(&all) > last_all, "%d", n);
		last_offset = mode_offset_db(&j);
		last_tilt = mode_tilt_db(&j);
		last_gap = mode_gap_db(&j);
		last_mfd = mode_mismatch_db(9.2, 9.2 + n * 0.1);
		last_all = mode_joint_db(&all);
	}
}

/* what larger mode fields, longer waves and a denser medium do to each fault */
static void
faults_scale_as_they_should(void)
{
	struct mode_joint j = perfect, twice;

	j.offset_um = 0.5;
	j.tilt_deg = 0.5;
	j.gap_um = 10;
	twice = j;
	twice.mfd_a_um = twice.mfd_b_um = 2 * perfect.mfd_a_um;
	NEAR(mode_offset_db(&twice), mode_offset_db(&j) / 4, 1e-15);
	NEAR(mode_tilt_db(&twice), mode_tilt_db(&j) * 4, 1e-14);
	CHECK(mode_gap_db(&twice) < mode_gap_db(&j) / 15, "%g", mode_gap_db(&twice));
	twice = j;
	twice.wavelength_nm *= 2;
	CHECK(mode_offset_db(&twice) == mode_offset_db(&j), "the offset does not know the wave");
	NEAR(mode_tilt_db(&twice), mode_tilt_db(&j) / 4, 1e-15);
	CHECK(mode_gap_db(&twice) > mode_gap_db(&j) * 3.9, "%g", mode_gap_db(&twice));
	twice = j;
	twice.index = 1;
	NEAR(mode_tilt_db(&twice), mode_tilt_db(&j) / (1.4677 * 1.4677), 1e-14);
	twice.index_glass = 1;
	NEAR(mode_tilt_db(&twice), mode_tilt_db(&j) / (1.4677 * 1.4677), 1e-14);
}

/* an offset of one mode-field radius, not of one diameter, costs a neper of power */
static void
takes_diameters_not_radii(void)
{
	struct mode_joint j = perfect;

	j.offset_um = j.mfd_a_um / 2;
	NEAR(mode_offset_db(&j), 10 * log10(exp(1)), 1e-13);
	NEAR(mode_joint_db(&j), 10 * log10(exp(1)), 1e-13);
	/* so does a tilt of wavelength / (pi index w) */
	j.offset_um = 0;
	j.tilt_deg = 1.31 / (PI * j.index * 4.6) * 180 / PI;
	NEAR(mode_tilt_db(&j), 10 * log10(exp(1)), 1e-13);
	NEAR(mode_joint_db(&j), 10 * log10(exp(1)), 1e-13);
	/* and a gap of twice the Rayleigh length pi index w^2 / wavelength costs half the power */
	j.tilt_deg = 0;
	j.gap_um = 2 * PI * j.index * 4.6 * 4.6 / 1.31;
	NEAR(mode_gap_db(&j), 10 * log10(2), 1e-13);
	NEAR(mode_joint_db(&j), 10 * log10(2), 1e-13);
}

/* two faces: Airy's transmission in dB, averaged over a full turn of the phase */
static void
faces_are_the_mean_over_interference(void)
{
	enum { STEPS = 2000 };
	static const double glass[] = { 1.01, 1.4468, 1.4677, 1.5, 2 };

	for (size_t n = 0; n < sizeof glass / sizeof *glass; n++) {
		double r = pow((glass[n] - 1) / (glass[n] + 1), 2), mean_db = 0, most_db = 0;

		for (int i = 0; i < STEPS; i++) {
			double half = PI * i / STEPS;
			double t = 1 / (1 + 4 * r / pow(1 - r, 2) * pow(sin(half), 2));

			mean_db -= 10 * log10(t) / STEPS;
			most_db = fmax(most_db, -10 * log10(t));
		}
		NEAR(mode_faces_db(1, glass[n]), mean_db, 1e-12);
		NEAR(20 * log10((1 + r) / (1 - r)), most_db, 1e-12);
		CHECK(mode_faces_db(glass[n], 1) == mode_faces_db(1, glass[n]), "%g", glass[n]);
	}
	/* 16 n^2 / (1 + n)^4 */
	NEAR(mode_faces_db(1, 1.5), -10 * log10(16 * 2.25 / pow(2.5, 4)), 1e-14);
	NEAR(mode_faces_db(1, 1.4677), 0.3177, 5e-5);
}

static void
faces_are_part_of_the_joint(void)
{
	struct mode_joint j = perfect;

	j.index = 1;
	NEAR(mode_joint_db(&j), mode_faces_db(1, 1.4677), 1e-15);
	j.gap_um = 10;
	NEAR(mode_joint_db(&j), mode_faces_db(1, 1.4677) + 0.041960, 5.001e-7);
}

/* the greatest loss on a grid over the whole rectangle, and at its four corners */
static double
grid_worst_db(struct mode_joint j, struct mode_range a, struct mode_range b, double *corner_db)
{
	enum { STEPS = 24 };
	double worst_db = 0;

	*corner_db = 0;
	for (int i = 0; i <= STEPS; i++) {
		for (int k = 0; k <= STEPS; k++) {
			double db;

			j.mfd_a_um = a.min_um + (a.max_um - a.min_um) * i / STEPS;
			j.mfd_b_um = b.min_um + (b.max_um - b.min_um) * k / STEPS;
			db = mode_joint_db(&j);
			worst_db = fmax(worst_db, db);
			if (i % STEPS == 0 && k % STEPS == 0)
				*corner_db = fmax(*corner_db, db);
		}
	}
	return worst_db;
}

/* ranges as fibre categories have them, faults as joints have them */
static void
worst_of_usual_ranges_is_a_corner(void)
{
	uint64_t state = 5;

	for (int n = 0; n < 1000; n++) {
		struct mode_joint j = perfect;
		struct mode_range a = { uniform(&state, 6, 11), 0 };
		struct mode_range b = { uniform(&state, 6, 11), 0 };
		double corner_db, worst_db;

		a.max_um = a.min_um + uniform(&state, 0, 3);
		b.max_um = b.min_um + uniform(&state, 0, 3);
		j.offset_um = uniform(&state, 0, 3);
		j.tilt_deg = uniform(&state, 0, 2);
		j.gap_um = n % 2 ? uniform(&state, 0, 50) : 0;
		worst_db = mode_worst_db(&j, a, b);
		NEAR(grid_worst_db(j, a, b, &corner_db), worst_db, 1e-12);
		NEAR(corner_db, worst_db, 1e-12);
	}
}

/* all that the header allows, where corners are not always enough */
static void
worst_of_any_ranges_is_not_below_a_grid(void)
{
	uint64_t state = 6;
	int off_corner = 0;

	for (int n = 0; n < 3000; n++) {
		struct mode_joint j = perfect;
		struct mode_range a = { log_uniform(&state, 1, 50), 0 };
		struct mode_range b = { log_uniform(&state, 1, 50), 0 };
		double corner_db, grid_db, worst_db;

		a.max_um = log_uniform(&state, a.min_um, n % 2 ? 50 : fmin(50, 1.3 * a.min_um));
		b.max_um = log_uniform(&state, b.min_um, n % 2 ? 50 : fmin(50, 1.3 * b.min_um));
		j.offset_um = n % 3 ? log_uniform(&state, 0.01, 100) : 0;
		j.tilt_deg = n % 5 ? log_uniform(&state, 0.01, 10) : 0;
		j.gap_um = n % 7 ? log_uniform(&state, 0.1, 1000) : 0;
		j.wavelength_nm = uniform(&state, 400, 2000);
		j.index = uniform(&state, 1, 2);
		worst_db = mode_worst_db(&j, a, b);
		grid_db = grid_worst_db(j, a, b, &corner_db);
		CHECK(worst_db >= grid_db * (1 - 1e-9), "%d: %.12g, grid %.12g", n, worst_db,
		    grid_db);
		off_corner += worst_db > corner_db * (1 + 1e-9);
		if (worst_db > corner_db * (1 + 1e-9))
			CHECK(j.gap_um > 0 && worst_db > 9, "%d: %g", n, worst_db);
	}
	CHECK(off_corner > 20, "the search was needed only %d times", off_corner);
}

/* a case where it lies between corners, and by how much */
static void
worst_between_corners(void)
{
	struct mode_joint j = perfect, at;
	struct mode_range a = { 6, 16 }, b = { 8, 8 };
	double best_db = 0;

	j.offset_um = 28;
	j.gap_um = 250;
	at = j;
	at.mfd_b_um = 8;
	for (int n = 0; n <= 100000; n++) {
		at.mfd_a_um = 6 + n * 1e-4;
		best_db = fmax(best_db, mode_joint_db(&at));
	}
	at.mfd_a_um = 6;
	CHECK(best_db > mode_joint_db(&at) + 0.1, "%g", best_db);
	at.mfd_a_um = 16;
	CHECK(best_db > mode_joint_db(&at) + 0.1, "%g", best_db);
	NEAR(mode_worst_db(&j, a, b), best_db, 1e-7);
	CHECK(mode_worst_db(&j, a, b) >= best_db * (1 - 1e-12), "below a grid of 0.1 nm");
}

static void
spot_from_wavelength(void)
{
	NEAR(mode_v(1260, 1260), 2.404826, 1e-15);
	NEAR(mode_v(1550, 1260), 1.954891, 5e-7);
	/* by hand: 0.65 + 1.619/2^1.5 + 2.879/2^6 */
	NEAR(mode_spot(2), 0.65 + 1.619 / 2.8284271247 + 2.879 / 64, 1e-10);
	NEAR(mode_spot(1), 0.65 + 1.619 + 2.879, 1e-15);
	NEAR(mode_spot_scale(1550, 1310, 1260),
	    mode_spot(2.404826 * 1260 / 1550) / mode_spot(2.404826 * 1260 / 1310), 1e-15);
	CHECK(mode_spot_scale(1550, 1310, 1260) > 1.14 && mode_spot_scale(1550, 1310, 1260) < 1.15,
	    "%g", mode_spot_scale(1550, 1310, 1260));
	NEAR(mode_spot_scale(1550, 1310, 1260) * mode_spot_scale(1310, 1550, 1260), 1, 1e-15);
	for (int nm = 1310; nm < 1650; nm += 10)
		CHECK(mode_spot_scale(nm + 10, 1310, 1260) > mode_spot_scale(nm, 1310, 1260), "%d",
		    nm);
}

/* what is seen of every pair on a grid over two ranges is seen within what mode_seen says */
static void
seen_holds_a_grid(void)
{
	enum { GRID = 24 };
	uint64_t state = 11;

	for (int n = 0; n < 300; n++) {
		struct mode_joint j = { .offset_um = n % 3 * uniform(&state, 0, 2),
			.tilt_deg = n % 2 * uniform(&state, 0, 1.5),
			.gap_um = n % 5 == 4 ? uniform(&state, 0, 40) : 0,
			.wavelength_nm = uniform(&state, 1260, 1650),
			.index = 1.45,
			.index_glass = 1.45 };
		double low_um = uniform(&state, 6, 10), wide = n % 4 == 3 ? 1.7 : 1.25;
		struct mode_range a = { low_um, low_um * uniform(&state, 1, wide) };
		struct mode_range b = { low_um, low_um * uniform(&state, 1, wide) };
		int sign = n % 7 < 3 ? 1 : -1;
		struct mode_seen seen = mode_seen(&j, a, b, sign);
		double least_db = INFINITY, most_db = -INFINITY;

		for (int i = 0; i <= GRID; i++)
			for (int k = 0; k <= GRID; k++) {
				double db;

				j.mfd_a_um = a.min_um + (a.max_um - a.min_um) * i / GRID;
				j.mfd_b_um = b.min_um + (b.max_um - b.min_um) * k / GRID;
				db =
				    mode_joint_db(&j) + sign * mode_step_db(j.mfd_a_um, j.mfd_b_um);
				least_db = fmin(least_db, db);
				most_db = fmax(most_db, db);
			}
		CHECK(seen.least_db <= least_db + 1e-9 && seen.least_db > least_db - 0.02,
		    "%d: least %.9g, grid %.9g", n, seen.least_db, least_db);
		CHECK(seen.most_db >= most_db - 1e-9 && seen.most_db < most_db + 0.02,
		    "%d: most %.9g, grid %.9g", n, seen.most_db, most_db);
	}
}

int
main(void)
{
	RUN(joint_vectors);
	RUN(mismatch_vectors);
	RUN(step_seen_from_both_ends);
	RUN(no_fault_is_exactly_zero);
	RUN(small_faults_keep_their_digits);
	RUN(parts_add_up_without_a_gap);
	RUN(exchanging_the_ends_changes_nothing);
	RUN(worse_faults_lose_more);
	RUN(faults_scale_as_they_should);
	RUN(takes_diameters_not_radii);
	RUN(faces_are_the_mean_over_interference);
	RUN(faces_are_part_of_the_joint);
	RUN(worst_of_usual_ranges_is_a_corner);
	RUN(worst_of_any_ranges_is_not_below_a_grid);
	RUN(worst_between_corners);
	RUN(seen_holds_a_grid);
	RUN(spot_from_wavelength);
	return check_done();
}
