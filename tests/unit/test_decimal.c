/* Exact decimals and units, against figures written out by hand. */
#include "check.h"

#include <stdbool.h>
#include <stdlib.h>

#include "import/decimal.h"
#include "base/num.h"
#include "import/unit.h"

static void
styles(void)
{
	static const struct {
		const char *text;
		struct decimal_style style;
		const char *want; /* NULL: refused */
	} cases[] = {
		{ "0.05", { '.', DECIMAL_NONE }, "0.05" },
		{ "0,05", { ',', DECIMAL_NONE }, "0.05" },
		{ "0,05", { '.', DECIMAL_NONE }, NULL },
		{ "0.05", { ',', DECIMAL_NONE }, NULL },
		{ "-1.10", { '.', DECIMAL_NONE }, "-1.10" },
		{ "-0.00", { '.', DECIMAL_NONE }, "0.00" },
		{ "+007", { '.', DECIMAL_NONE }, "7" },
		{ ".5", { '.', DECIMAL_NONE }, "0.5" },
		{ "5.", { '.', DECIMAL_NONE }, "5" },
		{ "\xe2\x88\x92"
		  "5",
		    { '.', DECIMAL_NONE }, "-5" },
		{ "1.2E-02", { '.', DECIMAL_NONE }, "0.012" },
		{ "4,687E+11", { ',', DECIMAL_NONE }, "468700000000" },
		{ "0e5", { '.', DECIMAL_NONE }, "0" },
		{ "1.234,5", { ',', DECIMAL_POINT }, "1234.5" },
		{ "12.345.678", { ',', DECIMAL_POINT }, "12345678" },
		{ "1.23", { ',', DECIMAL_POINT }, NULL },
		{ "1,234.5", { '.', DECIMAL_COMMA }, "1234.5" },
		{ "1,234,56", { '.', DECIMAL_COMMA }, NULL },
		{ "1234.5", { '.', DECIMAL_COMMA }, "1234.5" },
		{ "1 234", { ',', DECIMAL_BLANK }, "1234" },
		{ "1\xc2\xa0"
		  "234\xc2\xa0"
		  "567",
		    { ',', DECIMAL_BLANK }, "1234567" },
		{ "1\xe2\x80\xaf"
		  "234",
		    { ',', DECIMAL_BLANK }, "1234" },
		{ "1 234\xc2\xa0"
		  "567",
		    { ',', DECIMAL_BLANK }, NULL },
		{ "0.050", { ',', DECIMAL_POINT }, NULL }, /* no group begins with 0 */
		{ "0.050,5", { ',', DECIMAL_POINT }, NULL },
		{ "-0.050", { ',', DECIMAL_POINT }, NULL },
		{ "12.0345", { ',', DECIMAL_POINT }, NULL },
		{ "1234.567", { ',', DECIMAL_POINT }, NULL },
		{ "10.050", { ',', DECIMAL_POINT }, "10050" },
		{ "(0.02)", { '.', DECIMAL_NONE, DECIMAL_BRACKETS }, "-0.02" },
		{ "(0.02)", { '.', DECIMAL_NONE, DECIMAL_BEHIND }, NULL },
		{ "(0.02", { '.', DECIMAL_NONE, DECIMAL_BRACKETS }, NULL },
		{ "(-0.02)", { '.', DECIMAL_NONE, DECIMAL_BRACKETS }, NULL },
		{ "0.02-", { '.', DECIMAL_NONE, DECIMAL_BEHIND }, "-0.02" },
		{ "-0.02-", { '.', DECIMAL_NONE, DECIMAL_BEHIND }, NULL },
		{ "0.02+", { '.', DECIMAL_NONE, DECIMAL_BEHIND }, NULL },
		{ "- 0.02", { '.', DECIMAL_NONE, DECIMAL_APART }, "-0.02" },
		{ "+ 0.02", { '.', DECIMAL_NONE, DECIMAL_APART }, NULL },
		{ "- 0.02", { '.', DECIMAL_NONE, DECIMAL_BEHIND }, NULL },
		{ "-0.02", { '.', DECIMAL_NONE, DECIMAL_APART }, "-0.02" },
		{ "1'234.5", { '.', DECIMAL_APOSTROPHE }, "1234.5" },
		{ "1\xe2\x80\x99"
		  "234",
		    { '.', DECIMAL_APOSTROPHE }, "1234" },
		{ "1234'567", { '.', DECIMAL_APOSTROPHE }, NULL },
		{ "", { '.', DECIMAL_NONE }, NULL },
		{ " 5", { '.', DECIMAL_NONE }, NULL },
		{ "5-", { '.', DECIMAL_NONE }, NULL },
		{ "0x1A", { '.', DECIMAL_NONE }, NULL },
		{ "1e", { '.', DECIMAL_NONE }, NULL },
		{ "1e401", { '.', DECIMAL_NONE }, NULL },
		{ "nan", { '.', DECIMAL_NONE }, NULL },
	};
	struct decimal d = { 0 };
	struct bytes out = { 0 };

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		const char *why = decimal_read(field_of(cases[i].text), &cases[i].style, &d);

		CHECK((why == NULL) == (cases[i].want != NULL), "'%s': %s", cases[i].text,
		    why != NULL ? why : "taken");
		out.n = 0;
		if (why == NULL)
			decimal_write(&d, &out);
		if (why == NULL && cases[i].want != NULL)
			CHECK(field_is(bytes_field(&out), cases[i].want), "'%s': '%.*s'",
			    cases[i].text, (int)out.n, out.p);
		if (why != NULL)
			CHECK(why[0] != '\0', "'%s': no reason", cases[i].text);
	}
	decimal_free(&d);
	bytes_free(&out);
}

static void
faults_say_what_to_do(void)
{
	struct decimal_style point = { '.', DECIMAL_NONE }, comma = { ',', DECIMAL_NONE };
	struct decimal d = { 0 };

#define WHY(text, style, want)                                                                     \
	CHECK(strcmp(decimal_read(field_of(text), &(style), &d), want) == 0, "'%s': %s", text,     \
	    decimal_read(field_of(text), &(style), &d))
	WHY("0,05", point, "decimal comma: the map says decimal point");
	WHY("0.05", comma, "point in the number: the map says decimal comma");
	WHY("1,234.5", point, "grouping marks in the number");
	WHY("1.234,5", comma, "point in the number: the map says decimal comma");
	WHY("0,05dB", comma, "number with something behind it");
	WHY("5-", comma, "sign behind the number");
	decimal_free(&d);
}

/* Random numbers: a plain one is written as it was; times and back again. */
static void
digits_stay(void)
{
	struct decimal_style style = { '.', DECIMAL_NONE };
	struct decimal d = { 0 };
	struct bytes out = { 0 };
	uint64_t state = 5;

	for (int round = 0; round < 20000; round++) {
		char text[64];
		int places = (int)(check_random(&state) % 8);
		size_t n = num_scaled(text, check_random(&state) >> (check_random(&state) % 60),
		    places, check_random(&state) % 2 == 0);
		struct field f = { text, n };
		double x, y;

		CHECK(decimal_read(f, &style, &d) == NULL, "%.*s", (int)n, text);
		out.n = 0;
		decimal_write(&d, &out);
		CHECK(field_same(bytes_field(&out), f), "%.*s: %.*s", (int)n, text, (int)out.n,
		    out.p);
		decimal_times(&d, 3048, -4);
		out.n = 0;
		decimal_write(&d, &out);
		num_parse(f, &x);
		num_parse(bytes_field(&out), &y);
		NEAR(y, x * 0.3048, fabs(x) * 1e-15);
	}
	decimal_free(&d);
	bytes_free(&out);
}

static void
units_convert(void)
{
	static const struct {
		const char *text, *unit, *column, *want;
	} cases[] = {
		{ "50", "mdB", "est_db", "0.050" },
		{ "1.2", "km", "km", "1.2" },
		{ "850", "m", "fibre_km", "0.850" },
		{ "10400", "nm", "mfd_um", "10.400" },
		{ "1.31", "um", "loss_nm", "1310" },
		{ "1", "ft", "mark_a_m", "0.3048" },
		{ "1", "mi", "fibre_km", "1.609344" },
		{ "12.5", "kft", "fibre_km", "3.81000" },
		{ "2", "yd", "slack_m", "1.8288" },
		{ "3", "in", "sleeve_mm", "76.2" },
		{ "123456789012345678901234567890", "mi", "km",
		    "198684442656284444265628444426.364160" },
		{ "0.35", "dB/km", "atten_1550_db_km", "0.35" },
		{ "1.609344", "dB/mi", "a_db_km", "1.00000000000" },
		{ "0.3048", "dB/kft", "a_db_km", "1.00000000000" },
		{ "3.14159265358979", "rad", "tilt_deg", "180.000000000" },
		{ "1", "mrad", "tilt_deg", "0.0572957795131" },
		{ "0", "rad", "tilt_deg", "0.0000000000000000" },
		{ "5", "percent", "share_ratio", "0.05" },
		{ "0.05", "ratio", "share_percent", "5" },
		{ "1500", "ps", "pulse_ns", "1.500" },
		{ "2", "min", "heat_s", "120" },
	};
	struct decimal_style style = { '.', DECIMAL_NONE };
	struct decimal d = { 0 };
	struct bytes out = { 0 };

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		const struct unit *from = unit_named(field_of(cases[i].unit));
		const struct unit *to = unit_of_column(field_of(cases[i].column));

		CHECK(from != NULL && to != NULL && from->kind == to->kind, "case %zu", i);
		if (from == NULL || to == NULL)
			continue;
		decimal_read(field_of(cases[i].text), &style, &d);
		unit_convert(&d, from, to);
		out.n = 0;
		decimal_write(&d, &out);
		CHECK(field_is(bytes_field(&out), cases[i].want), "%s %s: %.*s", cases[i].text,
		    cases[i].unit, (int)out.n, out.p);
	}
	CHECK(unit_of_column(field_of("blade_n")) == NULL, "n is no unit");
	CHECK(unit_of_column(field_of("item")) == NULL, "item does not end in _m");
	CHECK(unit_named(field_of("Km")) == NULL, "Km in a map");
	CHECK(unit_in_cell(field_of("Km")) == unit_named(field_of("km")), "Km in a cell");
	CHECK(unit_in_cell(field_of("\xc2\xb5m")) == unit_named(field_of("um")), "micro sign");
	CHECK(unit_in_cell(field_of("\xce\xbcm")) == unit_named(field_of("um")), "Greek mu");
	CHECK(unit_in_cell(field_of("\xc2\xba")) == NULL, "ordinal sign is no degree");
	CHECK(unit_in_cell((struct field){ "", 0 }) == NULL, "nothing is no unit");
	decimal_free(&d);
	bytes_free(&out);
}

int
main(void)
{
	RUN(styles);
	RUN(faults_say_what_to_do);
	RUN(digits_stay);
	RUN(units_convert);
	return check_done();
}
