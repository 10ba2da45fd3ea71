/*
 * tally: groups, verdicts, trays and texts, against figures worked by hand and against a second,
 * slow count of random joints. What nights, bases and plans change is in thrum-closure.bats.
 */
#include "fibre/tally.h"

#include <inttypes.h>
#include "base/num.h"
#include "check.h"

static const struct wavelengths none;

static bool
text_is(struct field f, const char *s)
{
	return field_is(f, s);
}

static struct tally_row
joint(const char *group, const char *name, const char *tray, int64_t loss_udb)
{
	return (struct tally_row){ .group = field_of(group),
		.closure = field_of(group),
		.name = field_of(name),
		.tray = field_of(tray),
		.loss_udb = loss_udb,
		.est_udb = DB_NONE,
		.basis = JOINT_TWO_WAY,
		.plan = PLAN_NONE };
}

static void
add(struct tally *t, const struct tally_row *row)
{
	struct err err = { "" };

	CHECK(tally_add(t, row, &err) == 0, "%s", err.text);
}

static void
add_at(struct tally *t, struct tally_row j, const char *made_at)
{
	j.made_text = field_of(made_at);
	j.attempt.timed = true;
	CHECK(when_parse(j.made_text, &j.attempt.made) == 0, "%s", made_at);
	add(t, &j);
}

static void
two_groups_by_hand(void)
{
	struct tally_row unknown = joint("s", "S2", "", DB_NONE);
	struct limits limits;
	struct tally t;
	struct tally_group g;
	struct tally_sum s;

	limits_one(&limits, 100000);
	tally_start(&t, &limits, NULL, JOINT_TWO_WAY, &none);
	add_at(&t, joint("n", "N1", "2", 20000), "2026-03-11T23:30:00Z");
	add_at(&t, joint("s", "S1", "", 100000), "2026-03-11");
	add_at(&t, joint("n", "N2", "1", 110000), "2026-03-12T00:30:00+02:00");
	add_at(&t, joint("n", "N3", "2", 110000), "2026-03-11T23:00:00.5Z");
	add(&t, &unknown);
	tally_end(&t);
	CHECK(tally_next(&t, &g), "no group");
	CHECK(g.wavelengths.n == 1 && g.wavelengths.nm[0] == 0, "a wavelength");
	tally_sum(&t, &g, 0, true, &s);
	CHECK(text_is(g.name, "n") && text_is(s.worst, "N2") && text_is(g.trays, "1,2"), "n");
	CHECK(text_is(g.first, "2026-03-12T00:30:00+02:00"), "%.*s", (int)g.first.n, g.first.p);
	CHECK(text_is(g.last, "2026-03-11T23:30:00Z"), "%.*s", (int)g.last.n, g.last.p);
	CHECK(g.joints == 3 && s.passed == 1 && s.failed == 2 && s.known == 3, "counts");
	CHECK(s.verdict == TALLY_FAIL && s.bases == 1 << JOINT_TWO_WAY, "verdict %d", s.verdict);
	CHECK(s.mean_udb == 80000 && s.max_udb == 110000, "%" PRId64, s.mean_udb);
	CHECK(s.median_udb == 110000 && s.p95_udb == 110000, "%" PRId64, s.median_udb);
	NEAR(s.sd_udb, sqrt(2700000000.0), 1e-9);
	CHECK(tally_next(&t, &g), "no second group");
	tally_sum(&t, &g, 0, false, &s);
	CHECK(g.joints == 2 && s.passed == 1 && s.unknown == 1 && s.known == 1, "counts");
	CHECK(s.verdict == TALLY_UNKNOWN && s.sd_udb == -1 && g.trays.n == 0, "verdict");
	CHECK(s.median_udb == DB_NONE, "a median that nobody asked for");
	CHECK(!tally_next(&t, &g), "a third group");
	tally_free(&t);
	limit_free(&limits);
}

/* whole numbers in their order, then the others; 7 and 07 are two ways to write one tray */
static void
trays_are_listed_in_order(void)
{
	static const char *const trays[] = { "64", "9", "b", "63", "07", "7", "10", "0", "-1", "9",
		"b", "00", "100", "a", "99999999999999999999", "007" };
	struct limits limits = { NULL };
	struct tally t;
	struct tally_group g;

	tally_start(&t, &limits, NULL, JOINT_TWO_WAY, &none);
	for (int k = 0; k < 3; k++) /* the middle one has none */
		for (size_t i = 0; i < sizeof trays / sizeof *trays; i++) {
			struct tally_row j = joint(
			    (const char *[]){ "a", "b", "c" }[k], "", k == 1 ? "" : trays[i], 0);

			add(&t, &j);
		}
	tally_end(&t);
	for (int k = 0; tally_next(&t, &g); k++)
		CHECK(text_is(g.trays,
			  k == 1 ? "" : "-1,0,00,007,07,7,9,10,63,64,100,99999999999999999999,a,b"),
		    "%.*s", (int)g.trays.n, g.trays.p);
	tally_free(&t);
}

/* what tally_add is given may go at once; long and short texts, joints that come again */
static void
random_joints_against_a_slow_count(void)
{
	enum { GROUPS = 270, JOINTS = 8000, ROWS = 20000 };
	static struct {
		size_t group;
		int64_t loss;
		bool known;
	} last[JOINTS];
	struct limits limits;
	uint64_t state = 11, groups = 0;
	struct tally t;
	struct tally_group g;

	limits_one(&limits, 1000);
	tally_start(&t, &limits, NULL, JOINT_TWO_WAY, &none);
	for (uint64_t i = 0; i < ROWS; i++) {
		size_t k = check_random(&state) % JOINTS, group = check_random(&state) % GROUPS;
		int64_t loss = (int64_t)(check_random(&state) % 2000) - 100;
		char name[100], place[100], attempt[30];
		struct tally_row row;

		snprintf(place, sizeof place, "%0*zu", group % 5 == 0 ? 60 : 3, group);
		snprintf(name, sizeof name, "%0*zu", k % 3 == 0 ? 50 : 1, k);
		snprintf(attempt, sizeof attempt, "%" PRIu64, i);
		row = joint(place, name, "", loss);
		row.attempt.attempt = field_of(attempt);
		add(&t, &row);
		last[k].group = group;
		last[k].loss = loss;
		last[k].known = true;
	}
	tally_end(&t);
	while (tally_next(&t, &g)) {
		int64_t whole = -1;
		size_t number;
		uint64_t n = 0, passed = 0;
		int64_t sum = 0, max = INT64_MIN;
		struct tally_sum s;

		CHECK(num_whole(g.name, &whole) == 0, "a name");
		number = (size_t)whole;
		for (size_t k = 0; k < JOINTS; k++)
			if (last[k].known && last[k].group == number) {
				n++;
				passed += last[k].loss <= 1000;
				sum += last[k].loss;
				max = last[k].loss > max ? last[k].loss : max;
			}
		tally_sum(&t, &g, 0, true, &s);
		CHECK(g.joints == n && s.passed == passed && s.failed == n - passed, "group %zu",
		    number);
		CHECK(s.max_udb == max && s.mean_udb == llround((double)sum / (double)n),
		    "group %zu", number);
		groups++;
	}
	CHECK(groups == GROUPS, "%" PRIu64 " groups", groups);
	tally_free(&t);
	limit_free(&limits);
}

static void
nothing_to_tally(void)
{
	struct limits limits = { NULL };
	struct tally_group g;
	struct tally t;

	tally_start(&t, &limits, NULL, JOINT_TWO_WAY, &none);
	tally_end(&t);
	CHECK(!tally_next(&t, &g), "a group of nothing");
	tally_free(&t);
	tally_free(&t);
}

static void
more_wavelengths_than_there_is_room_for(void)
{
	struct limits limits = { NULL };
	struct tally_row row = joint("a", "J", "", 0);
	struct err err = { "" };
	struct tally t;

	tally_start(&t, &limits, NULL, JOINT_TWO_WAY, &none);
	for (int i = 0; i < WAVELENGTHS_MOST; i++) {
		row.nm = 1300 + i;
		add(&t, &row);
	}
	row.nm = 1500;
	CHECK(tally_add(&t, &row, &err) == -1 && err_is_set(&err), "no trouble");
	tally_free(&t);
}

int
main(void)
{
	RUN(two_groups_by_hand);
	RUN(trays_are_listed_in_order);
	RUN(random_joints_against_a_slow_count);
	RUN(nothing_to_tally);
	RUN(more_wavelengths_than_there_is_room_for);
	return check_done();
}
