/*
 * tally: groups, verdicts, trays and texts, against figures worked by hand and against a second,
 * slow count of random joints.
 */
#include "fibre/tally.h"

#include <inttypes.h>
#include <stdlib.h>

#include "check.h"

static const struct limit each = { 100000, DB_NONE, 0 }, mean = { DB_NONE, 50000, 1 };

static bool
text_is(struct field f, const char *s)
{
	return field_is(f, s);
}

static struct tally_joint
joint(const char *group, const char *name, const char *tray, int64_t loss_udb)
{
	return (struct tally_joint){ .group = field_of(group),
		.name = field_of(name),
		.tray = field_of(tray),
		.loss_udb = loss_udb,
		.limit = &each,
		.basis = loss_udb == DB_NONE ? 0 : JOINT_TWO_WAY };
}

static void
add_at(struct tally *t, struct tally_joint j, const char *made_at)
{
	j.made_text = field_of(made_at);
	CHECK(when_parse(j.made_text, &j.made) == 0, "%s", made_at);
	tally_add(t, &j);
}

static void
two_groups_by_hand(void)
{
	struct tally t;
	struct tally_sum s;

	tally_start(&t, 2, true);
	add_at(&t, joint("n", "N1", "2", 20000), "2026-03-11T23:30:00Z");
	add_at(&t, joint("s", "S1", "", 100000), "2026-03-11");
	add_at(&t, joint("n", "N2", "1", 110000), "2026-03-12T00:30:00+02:00");
	add_at(&t, joint("n", "N3", "2", 110000), "2026-03-11T23:00:00.5Z");
	tally_add(&t, &(struct tally_joint){ .group = field_of("s"), .loss_udb = DB_NONE });
	tally_end(&t);
	CHECK(t.n == 2, "%zu", t.n);
	tally_sum(&t, 0, &s);
	CHECK(text_is(s.group, "n") && text_is(s.worst, "N2") && text_is(s.trays, "1,2"), "n");
	CHECK(text_is(s.first, "2026-03-12T00:30:00+02:00"), "%.*s", (int)s.first.n, s.first.p);
	CHECK(text_is(s.last, "2026-03-11T23:30:00Z"), "%.*s", (int)s.last.n, s.last.p);
	CHECK(s.joints == 3 && s.passed == 1 && s.failed == 2 && s.known == 3, "counts");
	CHECK(s.verdict == TALLY_FAIL && s.basis == JOINT_TWO_WAY, "verdict %d", s.verdict);
	CHECK(s.mean_udb == 80000 && s.max_udb == 110000, "%" PRId64, s.mean_udb);
	CHECK(s.median_udb == 110000 && s.p95_udb == 110000, "%" PRId64, s.median_udb);
	NEAR(s.sd_udb, sqrt(2700000000.0), 1e-9);
	tally_sum(&t, 1, &s);
	CHECK(s.joints == 2 && s.passed == 1 && s.unknown == 1 && s.known == 1, "counts");
	CHECK(s.verdict == TALLY_UNKNOWN && s.sd_udb == -1 && s.trays.n == 0, "verdict");
	tally_free(&t);
}

static void
a_mean_above_its_limit_fails(void)
{
	static const int64_t losses[][2] = { { 50000, 50000 }, { 50000, 50001 } };

	for (size_t i = 0; i < 2; i++) {
		struct tally t;
		struct tally_sum s;

		tally_start(&t, 2, false);
		for (int k = 0; k < 2; k++) {
			struct tally_joint j = joint("g", "", "", losses[i][k]);

			j.limit = &mean;
			tally_add(&t, &j);
		}
		tally_end(&t);
		tally_sum(&t, 0, &s);
		CHECK(s.verdict == (i == 0 ? TALLY_UNKNOWN : TALLY_FAIL), "%zu: %d", i, s.verdict);
		CHECK(s.median_udb == DB_NONE, "a median without its losses");
		tally_free(&t);
	}
}

/* whole numbers in their order, then the others; 7 and 07 are two ways to write one tray */
static void
trays_are_listed_in_order(void)
{
	static const char *const trays[] = { "64", "9", "b", "63", "07", "7", "10", "0", "-1", "9",
		"b", "00", "100", "a", "99999999999999999999", "007" };
	struct tally t;
	struct tally_sum s;

	tally_start(&t, 0, false);
	for (int g = 0; g < 3; g++) /* the middle one has none */
		for (size_t i = 0; i < sizeof trays / sizeof *trays; i++) {
			struct tally_joint j = joint(
			    (const char *[]){ "a", "b", "c" }[g], "", g == 1 ? "" : trays[i], 0);

			tally_add(&t, &j);
		}
	tally_end(&t);
	for (size_t g = 0; g < 3; g++) {
		tally_sum(&t, g, &s);
		CHECK(text_is(s.trays,
			  g == 1 ? "" : "-1,00,0,007,07,7,9,10,63,64,100,99999999999999999999,a,b"),
		    "%.*s", (int)s.trays.n, s.trays.p);
	}
	tally_free(&t);
}

/* what tally_add is given may go at once; long and short texts, groups enough for joints to wait */
static void
random_joints_against_a_slow_count(void)
{
	enum { GROUPS = 2700, JOINTS = 80000 };
	static struct {
		uint64_t n, worst_at;
		int64_t sum, max;
	} want[GROUPS];
	uint64_t state = 11;
	struct tally t;

	tally_start(&t, 2, true);
	for (int g = 0; g < GROUPS; g++)
		want[g].max = INT64_MIN;
	for (uint64_t i = 0; i < JOINTS; i++) {
		size_t g = i < GROUPS ? i : check_random(&state) % GROUPS;
		int64_t loss = (int64_t)(check_random(&state) % 2000) - 100;
		char group[100], name[100];

		memset(name, 'x', sizeof name);
		snprintf(group, sizeof group, "%0*zu", g % 5 == 0 ? 60 : 3, g);
		snprintf(name, sizeof name, "%0*" PRIu64, g % 3 == 0 ? 50 : 1, i);
		tally_add(&t, &(struct tally_joint){ .group = field_of(group),
				  .name = field_of(name),
				  .loss_udb = loss,
				  .limit = &each });
		want[g].n++;
		want[g].sum += loss;
		if (loss > want[g].max) {
			want[g].max = loss;
			want[g].worst_at = i;
		}
	}
	tally_end(&t);
	CHECK(t.n == GROUPS, "%zu groups", t.n);
	for (size_t g = 0; g < GROUPS && g < t.n; g++) {
		struct tally_sum s;
		char name[100];

		tally_sum(&t, g, &s);
		snprintf(name, sizeof name, "%0*" PRIu64, g % 3 == 0 ? 50 : 1, want[g].worst_at);
		CHECK(s.joints == want[g].n && s.max_udb == want[g].max, "group %zu", g);
		CHECK(
		    s.mean_udb == llround((double)want[g].sum / (double)want[g].n), "group %zu", g);
		CHECK(text_is(s.worst, name), "group %zu: %.*s", g, (int)s.worst.n, s.worst.p);
	}
	tally_free(&t);
}

static void
nothing_to_tally(void)
{
	struct tally t;

	tally_start(&t, 2, true);
	tally_end(&t);
	CHECK(t.n == 0, "%zu", t.n);
	tally_free(&t);
	tally_free(&t);
}

int
main(void)
{
	RUN(two_groups_by_hand);
	RUN(a_mean_above_its_limit_fails);
	RUN(trays_are_listed_in_order);
	RUN(random_joints_against_a_slow_count);
	RUN(nothing_to_tally);
	return check_done();
}
