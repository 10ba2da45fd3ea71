/*
 * The budget of a link on plain structs: what parts lose, how they add up, what a test may show, what
 * is allowed.
 */
#include "fibre/application.h"
#include "fibre/budget.h"
#include "fibre/element.h"
#include "check.h"

/* typical, sd and max, of two kinds at one wavelength and of two at every wavelength */
static struct allowance table[] = {
	{ { .kind = KIND_FIBRE }, 1300, 1320, 350000, 400000, 0.02 },
	{ { .kind = KIND_SPLITTER, .ways = 4 }, 1310, 1310, 6600000, 7600000, 0.3 },
	{ { .kind = KIND_FUSION }, 0, 0, 50000, 300000, 0.03 },
	{ { .kind = KIND_CONNECTOR }, 0, 0, 250000, 750000, 0.13 },
	{ { .kind = KIND_CONNECTOR }, 1625, 1650, 300000, 900000, 0.15 },
	{ { KIND_CONNECTOR, 0, { "b", 1 }, { "", 0 } }, 0, 0, 120000, 250000, 0.07 },
	{ { KIND_FIBRE, 0, { "", 0 }, { "OM3", 3 } }, 850, 850, 2400000, 3500000, 0.2 },
};
static const struct allowances allowances = { table, sizeof table / sizeof *table, 0, { NULL, 0 } };

static const double k = 3;

static struct budget_item
item(enum kind kind, int64_t count)
{
	return (struct budget_item){
		.of = { .kind = kind }, .count = count, .length_ukm = DB_NONE, .loss_udb = DB_NONE
	};
}

static struct budget_item
fibre(int64_t length_ukm)
{
	struct budget_item it = item(KIND_FIBRE, 1);

	it.length_ukm = length_ukm;
	return it;
}

static struct budget_item
measured(enum kind kind, int64_t loss_udb, double sd_db)
{
	struct budget_item it = item(kind, 1);

	it.loss_udb = loss_udb;
	it.sd_db = sd_db;
	return it;
}

static struct budget_sums
sums_of(const struct budget *b)
{
	struct budget_sums sums = { 0 };

	CHECK(budget_sums(&b->sum, k, &sums) == 0, "the sums do not fit");
	return sums;
}

#define SAME(got, want)                                                                            \
	CHECK((got) == (want), "got %lld, want %lld", (long long)(got), (long long)(want))

static void
each_kind_by_its_allowance(void)
{
	struct budget_item it;
	struct budget b = BUDGET_NONE;

	it = fibre(12400000);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_KNOWN);
	SAME(b.sum.typical_udb, 4340000); /* 12.4 x 0.35 */
	SAME(b.sum.worst_udb, 4960000);   /* 12.4 x 0.40 */
	NEAR(b.sum.variance, 0.248 * 0.248, 1e-15);
	SAME(b.length_ukm, 12400000);
	it = item(KIND_FUSION, 6);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_KNOWN);
	SAME(b.sum.typical_udb, 4640000);
	SAME(b.sum.worst_udb, 6760000);
	NEAR(b.sum.variance, 0.248 * 0.248 + 6 * 0.0009, 1e-15);
	it = item(KIND_SPLITTER, 1);
	it.of.ways = 4;
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_KNOWN);
	SAME(b.sum.typical_udb, 11240000);
	it = item(KIND_CONNECTOR, 2);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_KNOWN);
	SAME(b.sum.typical_udb, 11740000);
	SAME(b.joints, 6);
	SAME(b.connectors, 2);
	SAME(b.measured, 0);
	SAME(sums_of(&b).typical_udb, 11740000);
	/* 3 sqrt(0.061504 + 0.0054 + 0.09 + 0.0338) = 1.310090 */
	SAME(sums_of(&b).stat_udb, 11740000 + 1310090);
	SAME(sums_of(&b).worst_udb, 4960000 + 1800000 + 7600000 + 1500000);
}

static void
own_wavelength_before_every_wavelength(void)
{
	struct budget_item it = item(KIND_CONNECTOR, 1);
	struct budget b = BUDGET_NONE;

	budget_add(&b, &it, &allowances, 1625, k);
	SAME(b.sum.typical_udb, 300000);
	budget_add(&b, &it, &allowances, 1650, k);
	SAME(b.sum.typical_udb, 600000);
	budget_add(&b, &it, &allowances, 1624.9, k);
	SAME(b.sum.typical_udb, 850000);
	budget_add(&b, &it, &allowances, 1650.1, k);
	SAME(b.sum.typical_udb, 1100000);
	budget_add(&b, &it, &allowances, 0, k);
	SAME(b.sum.typical_udb, 1350000);
	it.of.name = field_of("b");
	budget_add(&b, &it, &allowances, 1625, k);
	SAME(b.sum.typical_udb, 1470000);
}

static void
own_loss_before_any_allowance(void)
{
	struct budget_item it = measured(KIND_CONNECTOR, 310000, 0.05);
	struct budget b = BUDGET_NONE;

	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_KNOWN);
	SAME(b.sum.typical_udb, 310000);
	SAME(b.sum.worst_udb, 460000);
	NEAR(b.sum.variance, 0.0025, 1e-18);
	it.count = 4;
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_KNOWN);
	SAME(b.sum.typical_udb, 5 * 310000);
	SAME(b.sum.worst_udb, 5 * 460000);
	NEAR(b.sum.variance, 5 * 0.0025, 1e-16);
	SAME(b.measured, 5);
	/* a whole fibre's loss is not taken times its length; other needs a loss and then has one */
	it = measured(KIND_FIBRE, -20000, 0);
	it.length_ukm = 3000000;
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_KNOWN);
	it = measured(KIND_OTHER, 1000000, 0);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_KNOWN);
	SAME(b.sum.typical_udb, 1550000 - 20000 + 1000000);
	SAME(b.length_ukm, 3000000);
	SAME(b.not_known, 0);
}

static void
what_is_not_known(void)
{
	struct budget_item it;
	struct budget b = BUDGET_NONE;

	it = item(KIND_UNKNOWN, 1);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_KIND);
	it = measured(KIND_UNKNOWN, 100000, 0);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_KIND);
	it = item(KIND_OTHER, 1);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_LOSS);
	it = fibre(DB_NONE);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_LENGTH);
	SAME(b.length_ukm, DB_NONE);
	it = fibre(1000000);
	SAME(budget_add(&b, &it, &allowances, 1550, k), BUDGET_NO_ALLOWANCE);
	SAME(b.length_ukm, DB_NONE);
	SAME(budget_add(&b, &it, &allowances, 0, k), BUDGET_NO_ALLOWANCE);
	it = item(KIND_SPLITTER, 1);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_WAYS);
	it.of.ways = 8;
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_ALLOWANCE);
	it = item(KIND_MECHANICAL, 1);
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_ALLOWANCE);
	SAME(b.not_known, 9);
	SAME(b.sum.typical_udb, 0);
	it = item(KIND_CONNECTOR, 1);
	it.of.name = field_of("c");
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_NAME);
	it = fibre(1000000);
	it.of.category = field_of("om 3");
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_CATEGORY);
	it.of.category = field_of("OM3"); /* known, but not at this wavelength */
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_NO_ALLOWANCE);
	it.count = 0; /* nothing of it is there: nothing is missing */
	SAME(budget_add(&b, &it, &allowances, 1310, k), BUDGET_KNOWN);
	SAME(b.not_known, 12);
	SAME(b.items, 12);
}

static void
statistics_never_above_the_worst(void)
{
	struct budget_part part = { 1000000, 1200000, 1.0 };
	struct budget_sums sums;

	SAME(budget_sums(&part, 3, &sums), 0);
	SAME(sums.stat_udb, 1200000);
	part.variance = 0.0025;
	SAME(budget_sums(&part, 3, &sums), 0);
	SAME(sums.stat_udb, 1150000);
	SAME(budget_sums(&part, 0, &sums), 0);
	SAME(sums.stat_udb, 1000000);
}

static void
a_fibre_is_one_random_amount(void)
{
	struct budget_item whole = fibre(20000000), half = fibre(10000000);
	struct budget one = BUDGET_NONE, two = BUDGET_NONE;

	budget_add(&one, &whole, &allowances, 1310, k);
	budget_add(&two, &half, &allowances, 1310, k);
	budget_add(&two, &half, &allowances, 1310, k);
	SAME(one.sum.typical_udb, two.sum.typical_udb);
	NEAR(one.sum.variance, 2 * two.sum.variance, 1e-15);
}

static void
sums_do_not_hang_on_the_order(void)
{
	enum { N = 50 };
	struct budget_item items[N];
	uint64_t state = 20261125;
	struct budget first = BUDGET_NONE;

	for (int i = 0; i < N; i++) {
		items[i] = i % 3 == 0 ? fibre((int64_t)(check_random(&state) % 9000000))
				      : measured(KIND_FUSION,
					    (int64_t)(check_random(&state) % 400000) - 40000, 0.01);
		budget_add(&first, &items[i], &allowances, 1310, k);
	}
	for (int turn = 0; turn < 200; turn++) {
		struct budget b = BUDGET_NONE;

		for (int i = N - 1; i > 0; i--) {
			int j = (int)(check_random(&state) % (uint64_t)(i + 1));
			struct budget_item swap = items[i];

			items[i] = items[j];
			items[j] = swap;
		}
		for (int i = 0; i < N; i++)
			budget_add(&b, &items[i], &allowances, 1310, k);
		SAME(b.sum.typical_udb, first.sum.typical_udb);
		SAME(b.sum.worst_udb, first.sum.worst_udb);
		SAME(b.length_ukm, first.length_ukm);
	}
}

static void
tenths_add_up(void)
{
	struct budget b = BUDGET_NONE;
	struct budget_item it;

	it = measured(KIND_FUSION, 100000, 0);
	budget_add(&b, &it, &allowances, 1310, k);
	it = measured(KIND_FUSION, 200000, 0);
	budget_add(&b, &it, &allowances, 1310, k);
	SAME(sums_of(&b).stat_udb, 300000);
}

static void
what_does_not_fit_is_trouble(void)
{
	struct budget_item it = measured(KIND_OTHER, 1000 * (int64_t)DB_ONE, 0);
	struct budget b = BUDGET_NONE;
	enum budget_why why = BUDGET_KNOWN;
	int n = 0;

	it.count = 1000000; /* 10^9 dB each time; 9.2 10^12 fit */
	while (why == BUDGET_KNOWN && n < 20000) {
		why = budget_add(&b, &it, &allowances, 1310, k);
		n++;
	}
	SAME(why, BUDGET_TOO_LARGE);
	CHECK(n > 9000 && n < 9300, "after %d", n);
}

/* a fibre between connectors of 0.2 and 0.5 dB, sd 0.03 each */
static struct budget
between_connectors(void)
{
	struct budget b = BUDGET_NONE;
	struct budget_item it = measured(KIND_CONNECTOR, 200000, 0.03);

	budget_add(&b, &it, &allowances, 1310, k);
	it = measured(KIND_FIBRE, 2000000, 0.04);
	budget_add(&b, &it, &allowances, 1310, k);
	it = measured(KIND_CONNECTOR, 500000, 0.03);
	budget_add(&b, &it, &allowances, 1310, k);
	return b;
}

static void
each_method_over_its_own_connectors(void)
{
	struct budget b = between_connectors();
	struct budget_bounds bounds;

	SAME(budget_bounds(&b, BUDGET_ONE_CORD, k, &bounds), 0);
	SAME(bounds.low_udb, 2700000 - 174929);  /* 3 sqrt(0.0016 + 2 x 0.0009) = 0.174929 */
	SAME(bounds.high_udb, 2700000 + 300000); /* 3 (0.03 + 0.04 + 0.03) */
	SAME(bounds.left_least_udb, 0);
	SAME(bounds.left_stat_udb, 0);
	SAME(budget_bounds(&b, BUDGET_THREE_CORD, k, &bounds), 0);
	SAME(bounds.low_udb, 2000000 - 120000);
	SAME(bounds.high_udb, 2000000 + 120000);
	SAME(bounds.left_least_udb, 700000 - 127279);
	SAME(bounds.left_stat_udb, 700000 + 127279); /* 3 sqrt(2 x 0.0009) = 0.127279 */
	/* which one is left out is not known: low without the greater, high without the lesser */
	SAME(budget_bounds(&b, BUDGET_TWO_CORD, k, &bounds), 0);
	SAME(bounds.low_udb, 2200000 - 150000); /* 3 sqrt(0.0016 + 0.0009) */
	SAME(bounds.high_udb, 2500000 + 210000);
	SAME(bounds.left_least_udb, 200000 - 90000);
	SAME(bounds.left_stat_udb, 500000 + 90000);
}

static void
only_connectors_at_the_ends_are_left_out(void)
{
	struct budget_item joint = item(KIND_FUSION, 1), pair = item(KIND_CONNECTOR, 2);
	struct budget b = BUDGET_NONE;
	struct budget_bounds bounds;

	/* a connector, a joint, a connector, a joint: one end only */
	pair.count = 1;
	budget_add(&b, &pair, &allowances, 1310, k);
	budget_add(&b, &joint, &allowances, 1310, k);
	budget_add(&b, &pair, &allowances, 1310, k);
	budget_add(&b, &joint, &allowances, 1310, k);
	SAME(budget_bounds(&b, BUDGET_THREE_CORD, k, &bounds), 0);
	SAME(bounds.left_stat_udb, 250000 + 390000);
	/* one row of two connectors is both ends, one of one is one */
	b = (struct budget)BUDGET_NONE;
	pair.count = 2;
	budget_add(&b, &pair, &allowances, 1310, k);
	SAME(budget_bounds(&b, BUDGET_THREE_CORD, k, &bounds), 0);
	SAME(bounds.left_stat_udb, 500000 + 551543);
	SAME(bounds.high_udb, 0);
	b = (struct budget)BUDGET_NONE;
	pair.count = 1;
	budget_add(&b, &pair, &allowances, 1310, k);
	SAME(budget_bounds(&b, BUDGET_THREE_CORD, k, &bounds), 0);
	SAME(bounds.left_stat_udb, 250000 + 390000);
	SAME(bounds.high_udb, 0);
}

static void
all_limits_hold_at_once(void)
{
	struct application a = { .max_udb = DB_NONE,
		.min_udb = DB_NONE,
		.launch_max_udbm = DB_NONE,
		.receive_max_udbm = DB_NONE };
	struct budget_limits l = { .max_udb = DB_NONE,
		.min_udb = DB_NONE,
		.launch_udbm = DB_NONE,
		.sensitivity_udbm = DB_NONE,
		.launch_max_udbm = DB_NONE,
		.receive_max_udbm = DB_NONE };
	int64_t allowed, lower;

	budget_allowed(&l, NULL, &allowed, &lower);
	SAME(allowed, DB_NONE);
	SAME(lower, DB_NONE);
	l.reserve_udb = 3000000;
	l.penalty_udb = 500000;
	l.launch_udbm = -8200000; /* half of it says nothing */
	budget_allowed(&l, &a, &allowed, &lower);
	SAME(allowed, DB_NONE);
	l.sensitivity_udbm = -14400000;
	budget_allowed(&l, &a, &allowed, &lower);
	SAME(allowed, 2700000);
	l.max_udb = 6500000;
	budget_allowed(&l, &a, &allowed, &lower);
	SAME(allowed, 2700000);
	a.max_udb = 5600000; /* the penalty is in it */
	l.min_udb = 1000000;
	budget_allowed(&l, &a, &allowed, &lower);
	SAME(allowed, 2600000);
	SAME(lower, 1000000);
	l.max_udb = 2000000;
	a.min_udb = 5000000;
	budget_allowed(&l, &a, &allowed, &lower);
	SAME(allowed, -1000000);
	SAME(lower, 5000000);
	a.launch_max_udbm = 4000000; /* powers before the application's min */
	a.receive_max_udbm = -2000000;
	budget_allowed(&l, &a, &allowed, &lower);
	SAME(lower, 6000000);
	l.launch_max_udbm = 1000000; /* the link's own before the application's */
	budget_allowed(&l, &a, &allowed, &lower);
	SAME(lower, 3000000);
	l.min_udb = 3500000;
	budget_allowed(&l, &a, &allowed, &lower);
	SAME(lower, 3500000);
}

static void
the_least_is_no_gain(void)
{
	struct budget_part part = { 1000000, 1200000, 0.0025 };
	struct budget_sums sums;

	SAME(budget_sums(&part, 3, &sums), 0);
	SAME(sums.least_udb, 850000);
	part.variance = 1;
	SAME(budget_sums(&part, 3, &sums), 0);
	SAME(sums.least_udb, 0);
	part.typical_udb = -1000000;
	SAME(budget_sums(&part, 3, &sums), 0);
	SAME(sums.least_udb, -4000000);
}

static void
fibres_alike_are_sections_of_their_own(void)
{
	struct budget_item it = fibre(4000000), one = fibre(4000000);
	struct budget many = BUDGET_NONE, by_hand = BUDGET_NONE;

	it.count = 20;
	SAME(budget_add(&many, &it, &allowances, 1310, k), BUDGET_KNOWN);
	for (int i = 0; i < 20; i++)
		SAME(budget_add(&by_hand, &one, &allowances, 1310, k), BUDGET_KNOWN);
	SAME(many.sum.typical_udb, by_hand.sum.typical_udb);
	SAME(many.sum.worst_udb, by_hand.sum.worst_udb);
	SAME(many.length_ukm, 80000000);
	NEAR(many.sum.variance, by_hand.sum.variance, 1e-12);
}

static void
wavelengths_that_would_do(void)
{
	static struct allowance rows[] = {
		{ { .kind = KIND_FIBRE }, 1530, 1565, 1, 1, 0 },
		{ { .kind = KIND_FIBRE }, 1310, 1360, 1, 1, 0 },
		{ { .kind = KIND_FIBRE }, 1260, 1310, 1, 1, 0 },
		{ { .kind = KIND_FIBRE }, 850, 850, 1, 1, 0 },
		{ { .kind = KIND_FUSION }, 600, 1700, 1, 1, 0 },
	};
	const struct allowances a = { rows, sizeof rows / sizeof *rows, 0, { NULL, 0 } };
	const struct allowance_of of = { .kind = KIND_FIBRE };
	struct bytes says = { NULL, 0, 0 };

	allowance_wavelengths(&a, &of, &says);
	CHECK(field_is(bytes_field(&says), "850, 1260 to 1360, 1530 to 1565"), "%.*s", (int)says.n,
	    says.p);
	CHECK(
	    allowance_find(&a, &of, 1310) == &rows[1], "where two touch, not the one that begins");
	bytes_free(&says);
}

/* --- elements: rows brought into order ------------------------------------------------------------- */

static struct element_row
row_of(int64_t seq, double wavelength_nm, int64_t loss_udb)
{
	return (struct element_row){ .seq = seq,
		.loss_udb = loss_udb,
		.length_ukm = DB_NONE,
		.wavelength_nm = wavelength_nm,
		.count = 1,
		.kind = KIND_FUSION };
}

static void
elements_stand_in_order(void)
{
	static const struct {
		const char *link;
		int64_t seq, loss_udb;
	} in[] = { { "B", 2, 10 }, { "A", ELEMENT_NO_SEQ, 20 }, { "B", 1, 30 }, { "A", 7, 40 },
		{ "A", ELEMENT_NO_SEQ, 50 }, { "B", 0, 60 } };
	static const int64_t want[] = { 60, 30, 10, 40, 20, 50 };
	struct elements e = ELEMENTS_NONE;
	struct err err = { "" };
	size_t n = 0;

	for (size_t i = 0; i < sizeof in / sizeof *in; i++)
		elements_add(&e, field_of(in[i].link), row_of(in[i].seq, 0, in[i].loss_udb));
	SAME(elements_arrange(&e, &err), 0);
	for (size_t i = 0; i < e.n; i = elements_after(&e, i))
		SAME(elements_item(&e, i, 1310).loss_udb, want[n++]);
	SAME(n, 6);
	CHECK(sizeof *e.v <= 64, "the manual page says 64 bytes: %zu", sizeof *e.v);
	SAME(elements_after_link(&e, 0), 3);
	SAME(elements_after_link(&e, 3), 6);
	elements_free(&e);
}

static void
a_loss_counts_at_its_own_wavelength(void)
{
	struct elements e = ELEMENTS_NONE;
	struct err err = { "" };

	elements_add(&e, field_of("A"), row_of(1, 1550, 15));
	elements_add(&e, field_of("A"), row_of(1, 0, 99));
	elements_add(&e, field_of("A"), row_of(1, 1310, 13));
	elements_add(&e, field_of("A"), row_of(1, 1625, DB_NONE));
	elements_add(&e, field_of("A"), row_of(2, 1550, 25));
	SAME(elements_arrange(&e, &err), 0);
	SAME(elements_after(&e, 0), 4);
	SAME(elements_item(&e, 0, 1310).loss_udb, 13);
	SAME(elements_item(&e, 0, 1550).loss_udb, 15);
	SAME(elements_item(&e, 0, 1490).loss_udb, 99);
	SAME(elements_item(&e, 0, 1625).loss_udb, 99);
	SAME(elements_item(&e, 0, 0).loss_udb, 99);
	SAME(elements_item(&e, 4, 1550).loss_udb, 25);
	SAME(elements_item(&e, 4, 1310).loss_udb, DB_NONE);
	SAME(elements_item(&e, 4, 0).loss_udb, DB_NONE);
	elements_free(&e);
}

static void
rows_of_one_element_must_agree(void)
{
	struct element_row other = row_of(3, 1550, 10);

	for (int fault = 0; fault < 6; fault++) {
		struct elements e = ELEMENTS_NONE;
		struct err err = { "" };
		struct element_row row = other;

		row.wavelength_nm = fault == 1 ? 1550 : 1310;
		row.kind = fault == 2 ? KIND_MECHANICAL : other.kind;
		row.count = fault == 3 ? 2 : other.count;
		row.ways = fault == 4 ? 2 : other.ways;
		row.length_ukm = fault == 5 ? 0 : other.length_ukm;
		elements_add(&e, field_of("A"), other);
		elements_add(&e, field_of("B"), other);
		elements_add(&e, field_of("A"), row);
		SAME(elements_arrange(&e, &err), fault == 0 ? 0 : -1);
		CHECK(strcmp(err.text, fault == 0 ? ""
				       : fault == 1
					   ? "link 'A': seq 3: two rows for one wavelength"
					   : "link 'A': seq 3: two rows that do not agree in "
					     "kind, ways, count, length_km, category or "
					     "allowance") == 0,
		    "%s", err.text);
		elements_free(&e);
	}
}

static void
the_unknown_is_named_but_not_without_end(void)
{
	struct elements e = ELEMENTS_NONE;
	struct bytes unknown = { NULL, 0, 0 };
	struct err err = { "" };
	struct elements_sum sum;
	struct element_row row;

	row = row_of(4, 0, DB_NONE);
	row.kind = KIND_SPLITTER;
	elements_add(&e, field_of("A"), row);
	row = row_of(ELEMENT_NO_SEQ, 0, DB_NONE);
	row.kind = KIND_OTHER;
	elements_add(&e, field_of("A"), row);
	row.kind = KIND_UNKNOWN;
	elements_add(&e, field_of("A"), row);
	row.kind = KIND_FIBRE;
	elements_add(&e, field_of("A"), row);
	row.kind = KIND_MECHANICAL;
	elements_add(&e, field_of("A"), row);
	SAME(elements_arrange(&e, &err), 0);
	SAME(elements_sum(&e, 0, e.n, &allowances, field_of(""), 1264.5, k, &sum, &unknown, &err),
	    0);
	CHECK(field_is(bytes_field(&unknown),
		  "seq 4: splitter without ways; element 2: other without loss; element 3: without "
		  "kind; element 4: fibre without length; element 5: mechanical without loss or "
		  "allowance at 1264.5 nm"),
	    "%.*s", (int)unknown.n, unknown.p);
	SAME(elements_sum(&e, 4, e.n, &allowances, field_of(""), 0, k, &sum, &unknown, &err), 0);
	CHECK(field_is(bytes_field(&unknown), "element 1: mechanical without loss or allowance"),
	    "%.*s", (int)unknown.n, unknown.p);
	row.kind = KIND_OTHER;
	for (int i = 0; i < 12; i++)
		elements_add(&e, field_of("B"), row);
	SAME(elements_arrange(&e, &err), 0);
	SAME(elements_sum(&e, 5, e.n, &allowances, field_of(""), 1310, k, &sum, &unknown, &err), 0);
	CHECK(unknown.n > 12 && memcmp(unknown.p + unknown.n - 12, "; and 2 more", 12) == 0, "%.*s",
	    (int)unknown.n, unknown.p);
	SAME(sum.budget.not_known, 12);
	bytes_free(&unknown);
	elements_free(&e);
}

int
main(void)
{
	RUN(each_kind_by_its_allowance);
	RUN(own_wavelength_before_every_wavelength);
	RUN(own_loss_before_any_allowance);
	RUN(what_is_not_known);
	RUN(statistics_never_above_the_worst);
	RUN(a_fibre_is_one_random_amount);
	RUN(sums_do_not_hang_on_the_order);
	RUN(tenths_add_up);
	RUN(what_does_not_fit_is_trouble);
	RUN(each_method_over_its_own_connectors);
	RUN(only_connectors_at_the_ends_are_left_out);
	RUN(all_limits_hold_at_once);
	RUN(the_least_is_no_gain);
	RUN(fibres_alike_are_sections_of_their_own);
	RUN(wavelengths_that_would_do);
	RUN(elements_stand_in_order);
	RUN(a_loss_counts_at_its_own_wavelength);
	RUN(rows_of_one_element_must_agree);
	RUN(the_unknown_is_named_but_not_without_end);
	return check_done();
}
