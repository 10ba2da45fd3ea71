/* colours of fibres and tubes by their numbers, and back; lists of fibres, and how many a schedule may have */
#include "fibre/cable.h"
#include "fibre/numbers.h"
#include "fibre/schedule.h"

#include "check.h"

/* all orders of a table of them, each under its name */
struct book {
	struct table orders, spans;
	struct cables cables;
	struct err err;
};

static void
book_open(struct book *k, const char *spans, const struct cable_usual *usual)
{
	*k = (struct book){ .err = { "" } };
	table_open_side(&k->orders, colour_cols, NULL, &colours_tsv, &k->err);
	table_hold(&k->orders, HOLD_ROWS, colour_key, false, NULL);
	if (spans != NULL) {
		table_open_reader(&k->spans, cable_span_cols,
		    reader_memory("spans", field_of(spans), &k->err), NULL, &k->err);
		table_hold(&k->spans, HOLD_ROWS, cable_span_key, true, NULL);
	}
	CHECK(
	    cables_init(&k->cables, &k->spans, &k->orders, usual, &k->err) == 0, "%s", k->err.text);
}

static void
book_close(struct book *k)
{
	cables_free(&k->cables);
	table_close(&k->spans);
	table_close(&k->orders);
}

static const char *
text_of(struct bytes *b)
{
	bytes_add(b, "", 1);
	return b->p;
}

/* the colours of number 1, 2, ... of an order, by blanks, those with a blank in brackets */
static void
first_colours(const char *name, int n, struct bytes *b)
{
	struct colour_order o;
	struct err err = { "" };

	b->n = 0;
	CHECK(colour_order_read(&o, field_of(name), &err) == 0, "%s", err.text);
	for (int i = 1; i <= n; i++) {
		size_t before = b->n;

		bytes_add_text(b, i > 1 ? " " : "");
		if (!colour_add(b, &o, (uint64_t)i))
			b->n = before;
	}
	colour_order_free(&o);
}

static void
orders_are_those_of_their_sources(void)
{
	struct bytes b = { NULL, 0, 0 };

	/* ANSI/TIA-598-C; the same order in EN 50174-1 */
	first_colours("tia-598", 12, &b);
	CHECK(strcmp(text_of(&b),
		  "blue orange green brown slate white red black yellow violet rose aqua") == 0,
	    "%s", b.p);
	/* DIN EN 60794-1-1 supplement 1 */
	first_colours("din-en-60794-1-1", 12, &b);
	CHECK(strcmp(text_of(&b),
		  "red green blue yellow white grey brown violet turquoise black orange pink") == 0,
	    "%s", b.p);
	/* IEC 60794-2, colours of IEC 60304 */
	first_colours("iec-60794-2", 12, &b);
	CHECK(strcmp(text_of(&b),
		  "blue yellow red white green violet orange grey turquoise black brown pink") == 0,
	    "%s", b.p);
	/* ABNT NBR (from memory) */
	first_colours("abnt", 24, &b);
	CHECK(strcmp(text_of(&b),
		  "green yellow white blue red violet brown pink black grey orange aqua") == 0,
	    "%s", b.p);
	bytes_free(&b);
}

static void
marks_are_part_of_the_colour(void)
{
	struct bytes b = { NULL, 0, 0 };
	struct colour_order o;
	struct err err = { "" };

	/* ANSI/TIA-598-C: behind the twelfth a stripe, one more for each further dozen */
	CHECK(colour_order_read(&o, field_of("tia-598"), &err) == 0, "%s", err.text);
	colour_add(&b, &o, 14);
	CHECK(strcmp(text_of(&b), "orange stripe") == 0, "%s", b.p);
	b.n = 0;
	colour_add(&b, &o, 26);
	CHECK(strcmp(text_of(&b), "orange 2 stripes") == 0, "%s", b.p);
	CHECK(colour_find(&o, field_of("orange stripe")) == 14, "no");
	CHECK(colour_find(&o, field_of("Orange-Black")) == 14, "no");
	CHECK(colour_find(&o, field_of("orange black stripe")) == 14, "no");
	CHECK(colour_find(&o, field_of("orange 2 stripes")) == 26, "no");
	CHECK(colour_find(&o, field_of("black-yellow")) == 20, "no");
	CHECK(colour_find(&o, field_of("purple stripe")) == 22, "no");
	CHECK(colour_find(&o, field_of("orange ring")) == 0, "no ring in this order");
	CHECK(colour_find(&o, field_of("orange 0 stripes")) == 0, "no");
	CHECK(colour_find(&o, field_of("orange 2")) == 0, "no");
	CHECK(colour_find(&o, field_of("orange ")) == 0, "no");
	CHECK(colour_find(&o, field_of("orang")) == 0, "no");
	CHECK(colour_find(&o, field_of("")) == 0, "no");
	colour_order_free(&o);
	/* black carries no black ring */
	CHECK(colour_order_read(&o, field_of("iec-60794-2"), &err) == 0, "%s", err.text);
	b.n = 0;
	colour_add(&b, &o, 22);
	CHECK(strcmp(text_of(&b), "uncoloured ring") == 0, "%s", b.p);
	CHECK(colour_find(&o, field_of("slate ring")) == 20, "no");
	b.n = 0;
	CHECK(!colour_add(&b, &o, 25) && b.n == 0, "nothing is known behind the 24th");
	colour_order_free(&o);
	bytes_free(&b);
}

static void
other_names_go_in(void)
{
	static const struct {
		const char *text;
		uint64_t number;
	} names[] = { { "slate", 5 }, { "gray", 5 }, { "grey", 5 }, { "GREY", 5 }, { "violet", 10 },
		{ "purple", 10 }, { "rose", 11 }, { "pink", 11 }, { "aqua", 12 },
		{ "turquoise", 12 } };
	struct colour_order o;
	struct err err = { "" };

	CHECK(colour_order_read(&o, field_of("tia-598"), &err) == 0, "%s", err.text);
	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
		CHECK(colour_find(&o, field_of(names[i].text)) == names[i].number, "%s",
		    names[i].text);
	colour_order_free(&o);
}

static void
typed_records_may_leave_marks_out(void)
{
	struct colour_order o;
	struct err err = { "" };

	CHECK(colour_order_read(&o, field_of("iec-60794-2"), &err) == 0, "%s", err.text);
	CHECK(colour_is(&o, 3, field_of("red")), "no");
	CHECK(colour_is(&o, 3, field_of("red-black")), "a mark that the order does not know");
	CHECK(!colour_is(&o, 3, field_of("red ring")), "that is 15");
	CHECK(!colour_is(&o, 15, field_of("red")), "that is 3");
	CHECK(colour_is(&o, 15, field_of("red ring")), "no");
	CHECK(!colour_is(&o, 3, field_of("blue")), "no");
	colour_order_free(&o);
	CHECK(colour_order_read(&o, field_of("tia-598"), &err) == 0, "%s", err.text);
	CHECK(colour_is(&o, 13, field_of("blue")) && colour_is(&o, 13, field_of("blue stripe")),
	    "no");
	CHECK(!colour_is(&o, 13, field_of("orange")), "no");
	colour_order_free(&o);
}

static const char *const every_order[] = { "tia-598", "din-en-60794-1-1", "iec-60794-2", "abnt",
	"swiss" };
enum { ORDERS = sizeof every_order / sizeof every_order[0] };

/* of one cable: every fibre of 24 tubes; how many have a colour */
static int
round_trip(const struct cable *c)
{
	struct bytes tube = { NULL, 0, 0 }, colour = { NULL, 0, 0 };
	int known = 0;

	for (int64_t n = 1; n <= 24 * c->tube_size; n++) {
		const char *why = "";
		bool by_tube;
		int64_t back;

		tube.n = colour.n = 0;
		if (!cable_tube(c, n, &tube) || !cable_colour(c, n, &colour))
			continue;
		known++;
		back = cable_fibre(c, bytes_field(&tube), bytes_field(&colour), &by_tube, &why);
		CHECK(back == n, "%s: %lld comes back as %lld (%s)", c->name.p, (long long)n,
		    (long long)back, why);
	}
	bytes_free(&tube);
	bytes_free(&colour);
	return known;
}

static void
every_number_comes_back(void)
{
	char names[ORDERS + 2][24];
	int whole = 0;

	snprintf(names[ORDERS], sizeof names[0], "red,green");
	snprintf(names[ORDERS + 1], sizeof names[0], "none");
	for (size_t t = 0; t < ORDERS + 2; t++)
		for (size_t f = 0; f < ORDERS; f++)
			for (int64_t size = 4; size <= 24; size++) {
				struct cable_usual usual = CABLE_USUAL;
				const struct cable *c;
				struct book k;
				int known;

				if (t < ORDERS)
					snprintf(names[t], sizeof names[t], "%s", every_order[t]);
				usual.tube_order = names[t];
				usual.fibre_order = every_order[f];
				usual.tube_size = size;
				book_open(&k, NULL, &usual);
				c = cables_find(&k.cables, field_of("c"), &k.err);
				known = round_trip(c);
				CHECK(known >= 12, "%s, %s: %d known", names[t], every_order[f],
				    known);
				whole += known == 24 * size;
				book_close(&k);
			}
	/* whole: 24 tubes are told apart by 3 orders and by counting, more than 12 fibres by 3 */
	CHECK(whole == 4 * (3 * 21 + 2 * 9) + 21, "%d", whole);
}

static void
cables_have_their_own_orders(void)
{
	struct cable_usual usual = CABLE_USUAL;
	struct bytes b = { NULL, 0, 0 };
	const struct cable *c;
	const char *why;
	bool by_tube;
	struct book k;

	book_open(&k,
	    "cable\ttube_order\tfibre_order\ttube_size\n"
	    "one\tred,green\tiec-60794-2\t6\n"
	    "one\t\t\t\n"
	    "two\tnone\t\t\n"
	    "bad\ttia-589\t\t\n",
	    &usual);
	c = cables_find(&k.cables, field_of("one"), &k.err);
	cable_tube(c, 7, &b);
	bytes_add_text(&b, "/");
	cable_colour(c, 7, &b);
	bytes_add_text(&b, " ");
	cable_tube(c, 24, &b);
	bytes_add_text(&b, "/");
	cable_colour(c, 24, &b);
	CHECK(strcmp(text_of(&b), "green/blue 4/violet") == 0, "%s", b.p);
	CHECK(cable_fibre(c, field_of("Green"), field_of("purple"), &by_tube, &why) == 12, "no");
	CHECK(cable_fibre(c, field_of("4"), field_of("1"), &by_tube, &why) == 19, "no");
	CHECK(
	    cable_fibre(c, field_of("green"), field_of("orange"), &by_tube, &why) == 0 && !by_tube,
	    "no");
	CHECK(cable_fibre(c, field_of("white"), field_of("blue"), &by_tube, &why) == 0 && by_tube,
	    "no");
	c = cables_find(&k.cables, field_of("two"), &k.err);
	b.n = 0;
	CHECK(cable_tube(c, 14, &b) && b.n == 0, "no tubes");
	cable_colour(c, 14, &b);
	CHECK(strcmp(text_of(&b), "orange stripe") == 0, "%s", b.p);
	CHECK(cable_fibre(c, field_of("blue"), field_of("blue"), &by_tube, &why) == 0 && by_tube,
	    "no");
	CHECK(cables_find(&k.cables, field_of("bad"), &k.err) == NULL, "no");
	CHECK(strcmp(k.err.text, "spans:5: column 'tube_order': no such colour order: 'tia-589'; "
				 "nearest: tia-598: 'tia-589'") == 0,
	    "%s", k.err.text);
	book_close(&k);
	bytes_free(&b);
}

static void
sections_of_a_cable_agree(void)
{
	struct cable_usual usual = CABLE_USUAL;
	struct book k;

	book_open(&k, "cable\ttube_size\none\t12\ntwo\t8\none\t6\n", &usual);
	CHECK(cables_find(&k.cables, field_of("one"), &k.err) == NULL, "no");
	CHECK(
	    strcmp(k.err.text, "spans:4: column 'tube_size': not what another section of the cable "
			       "has: '6'") == 0,
	    "%s", k.err.text);
	book_close(&k);
}

/* the numbers of a list, or why there are none */
static const char *
list(const char *text, struct bytes *b)
{
	struct numbers n = { NULL, 0, 0 };
	const char *why = numbers_read(&n, field_of(text));

	b->n = 0;
	for (size_t i = 0; why == NULL && i < n.n; i++)
		bytes_add_format(b, "%s%lld", i > 0 ? " " : "", (long long)n.v[i]);
	bytes_add(b, "", 1);
	numbers_free(&n);
	return why != NULL ? why : b->p;
}

static void
lists_count_as_they_are_written(void)
{
	static const char no_list[] = "no list of fibres, such as 1-24,37";
	static const char *const cases[][2] = { { "1-4,7", "1 2 3 4 7" }, { "4-1", "4 3 2 1" },
		{ "3-3", "3" }, { "007", "7" }, { "", "" }, { "1,,2", no_list }, { ",1", no_list },
		{ "1,", "a comma at the end" }, { "1-", no_list }, { "-1", no_list },
		{ "1-2-3", no_list }, { "1 - 2", no_list }, { "+1", no_list }, { "1;2", no_list },
		{ "1.5", no_list }, { "0", "fibres are numbered from 1 to 100000" },
		{ "1-100001", "fibres are numbered from 1 to 100000" },
		{ "99999999999999999999", no_list }, { "1-100000,1", "more than 100000 fibres" } };
	struct bytes b = { NULL, 0, 0 };

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
		CHECK(strcmp(list(cases[i][0], &b), cases[i][1]) == 0, "%s: %s", cases[i][0],
		    list(cases[i][0], &b));
	bytes_free(&b);
}

/* rows alone cost nothing: it is fibres that are held */
static void
a_schedule_has_an_end(void)
{
	struct book k;
	struct table rows;
	struct bytes text = { NULL, 0, 0 };
	struct schedule s = {
		.rows = &rows, .spans = &k.spans, .sites = &k.spans, .cables = &k.cables
	};
	int n = 0;

	book_open(&k, NULL, &(struct cable_usual)CABLE_USUAL);
	bytes_add_text(&text, "closure\tcable_a\tfibres_a\tcable_b\tfibres_b\n");
	for (int i = 0; i < 102; i++)
		bytes_add_text(&text, "C\ta\t1-100000\tb\t100000-1\n");
	table_open_reader(
	    &rows, schedule_cols, reader_memory("s", bytes_field(&text), &k.err), NULL, &k.err);
	while (table_next(&rows) && schedule_row(&s))
		n++;
	CHECK(n == SCHEDULE_MOST / 100000, "%d rows", n);
	CHECK(strstr(k.err.text, "s:102: column 'fibres_a': more than 10000000 fibres") != NULL,
	    "%s", k.err.text);
	schedule_free(&s);
	table_close(&rows);
	bytes_free(&text);
	book_close(&k);
}

int
main(void)
{
	RUN(orders_are_those_of_their_sources);
	RUN(marks_are_part_of_the_colour);
	RUN(other_names_go_in);
	RUN(typed_records_may_leave_marks_out);
	RUN(every_number_comes_back);
	RUN(cables_have_their_own_orders);
	RUN(sections_of_a_cable_agree);
	RUN(lists_count_as_they_are_written);
	RUN(a_schedule_has_an_end);
	return check_done();
}
