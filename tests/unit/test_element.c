/*
 * element: the order along links, one element read at several wavelengths, rows that contradict each
 * other; sums by hand.
 */
#include "fibre/element.h"

#include <stdlib.h>

#include "check.h"

static void
add(struct elements *e, const char *link, int64_t seq, double wavelength_nm, int64_t loss_udb)
{
	elements_add(e, field_of(link),
	    (struct element_row){ .seq = seq,
		.loss_udb = loss_udb,
		.length_ukm = DB_NONE,
		.wavelength_nm = wavelength_nm,
		.count = 1,
		.kind = KIND_FUSION });
}

/* random places, against the order they must have: link, seq, wavelength, then appearance */
static void
rows_are_sorted_along_each_link(void)
{
	enum { N = 3000 };
	struct elements e = ELEMENTS_NONE;
	struct err err = { "" };
	uint64_t state = 5;

	for (int i = 0; i < N; i++) {
		uint64_t r = check_random(&state);
		char link[20];

		snprintf(link, sizeof link, "L%d", (int)(r % 7));
		add(&e, link, r % 5 == 0 ? ELEMENT_NO_SEQ : i * 7919 % N, 0, i);
	}
	CHECK(elements_arrange(&e, &err) == 0, "%s", err.text);
	CHECK(e.n == N && e.links.n == 7, "%zu rows, %zu links", e.n, e.links.n);
	for (size_t i = 1; i < e.n; i++) {
		const struct element_row *a = &e.v[i - 1], *b = &e.v[i];

		CHECK(a->link < b->link || (a->link == b->link && a->seq <= b->seq), "row %zu", i);
		if (a->link == b->link && a->seq == b->seq)
			CHECK(a->seq == ELEMENT_NO_SEQ && a->row < b->row, "row %zu", i);
		CHECK(b->loss_udb == b->row, "row %zu has another's loss", i);
	}
	elements_free(&e);
}

static void
an_element_has_the_loss_of_its_wavelength(void)
{
	struct elements e = ELEMENTS_NONE;
	struct err err = { "" };

	add(&e, "a", 2, 1550, 200);
	add(&e, "a", 1, 0, 50);
	add(&e, "a", 2, 0, 100);
	add(&e, "a", 2, 1310, 300);
	add(&e, "b", 2, 1310, 400);
	CHECK(elements_arrange(&e, &err) == 0, "%s", err.text);
	CHECK(elements_after(&e, 0) == 1 && elements_after(&e, 1) == 4, "ends");
	CHECK(elements_after_link(&e, 0) == 4 && elements_after_link(&e, 4) == 5, "link ends");
	CHECK(elements_item(&e, 1, 1310).loss_udb == 300, "1310");
	CHECK(elements_item(&e, 1, 1550).loss_udb == 200, "1550");
	CHECK(elements_item(&e, 1, 1625).loss_udb == 100, "the one of every wavelength");
	CHECK(elements_item(&e, 4, 1550).loss_udb == DB_NONE, "none at 1550");
	elements_free(&e);
}

static void
contradictions_are_trouble(void)
{
	struct elements e = ELEMENTS_NONE;
	struct err err = { "" };

	add(&e, "a", 4, 1310, 300);
	add(&e, "a", 4, 1310, 400);
	CHECK(elements_arrange(&e, &err) == -1, "taken");
	CHECK(
	    strcmp(err.text, "link 'a': seq 4: two rows for one wavelength") == 0, "%s", err.text);
	elements_free(&e);
	err = (struct err){ "" };
	add(&e, "a", 4, 1310, 300);
	add(&e, "a", 4, 1550, 300);
	e.v[1].count = 2;
	CHECK(elements_arrange(&e, &err) == -1 && strstr(err.text, "do not agree") != NULL, "%s",
	    err.text);
	elements_free(&e);
}

static void
a_link_is_summed_and_what_is_unknown_is_named(void)
{
	const struct allowances none = { 0 };
	struct elements e = ELEMENTS_NONE;
	struct bytes unknown = { NULL, 0, 0 };
	struct err err = { "" };
	struct elements_sum sum;

	add(&e, "a", 1, 0, 50000);
	add(&e, "a", 2, 0, 70000);
	CHECK(elements_arrange(&e, &err) == 0, "%s", err.text);
	CHECK(elements_sum(&e, 0, 2, &none, field_of(""), 1310, 3, &sum, &unknown, &err) == 0, "%s",
	    err.text);
	CHECK(sum.budget.sum.typical_udb == 120000 && sum.budget.joints == 2 && unknown.n == 0,
	    "sum");
	add(&e, "a", 7, 0, DB_NONE);
	e.v[2].kind = KIND_OTHER;
	CHECK(elements_sum(&e, 0, 3, &none, field_of(""), 1310, 3, &sum, &unknown, &err) == 0, "%s",
	    err.text);
	CHECK(field_is(bytes_field(&unknown), "seq 7: other without loss") &&
		  sum.budget.not_known == 1,
	    "%.*s", (int)unknown.n, unknown.p);
	bytes_free(&unknown);
	elements_free(&e);
}

int
main(void)
{
	RUN(rows_are_sorted_along_each_link);
	RUN(an_element_has_the_loss_of_its_wavelength);
	RUN(contradictions_are_trouble);
	RUN(a_link_is_summed_and_what_is_unknown_is_named);
	return check_done();
}
