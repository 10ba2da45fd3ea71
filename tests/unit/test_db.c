/*
 * db: exact decibels, against schoolbook arithmetic on strings of decimal digits.
 */
#include "base/db.h"

#include <inttypes.h>
#include <stdbool.h>
#include <stdlib.h>

#include "base/num.h"
#include "check.h"

/* a natural number, lowest digit first */
struct big {
	int n;
	unsigned char digit[200];
};

static struct big
big_of(uint64_t value)
{
	struct big b = { 0 };

	for (; value > 0; value /= 10)
		b.digit[b.n++] = (unsigned char)(value % 10);
	return b;
}

static struct big
big_times(struct big a, struct big b)
{
	struct big product = { 0 };

	for (int i = 0; i < a.n; i++) {
		int carry = 0;

		for (int j = 0; j < b.n || carry > 0; j++) {
			int sum = product.digit[i + j] + carry;

			sum += j < b.n ? a.digit[i] * b.digit[j] : 0;
			product.digit[i + j] = (unsigned char)(sum % 10);
			carry = sum / 10;
			if (i + j >= product.n)
				product.n = i + j + 1;
		}
	}
	return product;
}

/* drops the `drop` lowest digits, a half and more rounded up */
static struct big
big_round(struct big a, int drop)
{
	struct big rounded = { 0 };
	int carry = drop > 0 && drop <= a.n && a.digit[drop - 1] >= 5;

	for (int i = drop; i < a.n || carry > 0; i++) {
		int sum = (i < a.n ? a.digit[i] : 0) + carry;

		rounded.digit[rounded.n++] = (unsigned char)(sum % 10);
		carry = sum / 10;
	}
	return rounded;
}

/* -1 if it is above `most` */
static int
big_value(struct big a, uint64_t most, uint64_t *value)
{
	uint64_t v = 0;

	for (int i = a.n - 1; i >= 0; i--) {
		if (v > (most - a.digit[i]) / 10)
			return -1;
		v = v * 10 + a.digit[i];
	}
	*value = v;
	return 0;
}

static int64_t
random_udb(uint64_t *state)
{
	int64_t udb = (int64_t)(check_random(state) >> (1 + check_random(state) % 63));

	return check_random(state) & 1 ? -udb : udb;
}

static uint64_t
size_of(int64_t n)
{
	return n < 0 ? 0 - (uint64_t)n : (uint64_t)n;
}

static void
reads_known_values(void)
{
	static const struct {
		const char *text;
		int64_t udb;
	} known[] = {
		{ "0", 0 },
		{ "-0", 0 },
		{ "0.1", 100000 },
		{ "-0.35", -350000 },
		{ "+3", 3000000 },
		{ "5.", 5000000 },
		{ ".5", 500000 },
		{ "1.2E-02", 12000 },
		{ "0.0000005", 1 },
		{ "-0.0000005", -1 },
		{ "0.00000049999999999999999999999999999", 0 },
		{ "0.00000050000000000000000000000000000", 1 },
		{ "0.0000015", 2 },
		{ "0.0000025", 3 },
		{ "0.9999994", 999999 },
		{ "0.9999995", 1000000 },
		{ "1.005", 1005000 },
		{ "5e-7", 1 },
		{ "4.9e-7", 0 },
		{ "5e-8", 0 },
		{ "0.5e-6", 1 },
		{ ".00005e2", 5000 },
		{ "1e-99999999999999999999", 0 },
		{ "0e99999999999999999999", 0 },
		{ "0.0e5", 0 },
		{ "00000000000000000000000000012.5", 12500000 },
		{ "9200000000000", 9200000000000000000 },
		{ "-9.2e12", -9200000000000000000 },
		{ "9199999999999.9999994", 9199999999999999999 },
		{ "9200000000000.00000049", 9200000000000000000 },
		{ "92000000000000000000e-7", 9200000000000000000 },
	};
	static const char *const refused[] = { "", "-", ".", "1,5", "1 ", " 1", "nan", "inf", "0x1",
		"1e", "1e+", "e1", "1.2.3", "1e5.0", "0.1dB", "9200000000000.0000005",
		"9200000000001", "-9200000000000.000001", "1e13", "1e99999999999999999999",
		"99999999999999999999999", "18446744073709.551617" };
	int64_t udb;

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		udb = DB_NONE;
		CHECK(db_parse(field_of(known[i].text), &udb) == 0 && udb == known[i].udb,
		    "'%s': %" PRId64, known[i].text, udb);
	}
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		udb = 12345;
		CHECK(db_parse(field_of(refused[i]), &udb) == -1 && udb == 12345, "'%s': %" PRId64,
		    refused[i], udb);
	}
	CHECK(db_parse((struct field){ NULL, 0 }, &udb) == -1, "NULL accepted");
}

/* any number of digits, a point somewhere, perhaps an exponent */
static void
reads_what_arithmetic_says(void)
{
	uint64_t state = 1;

	for (int i = 0; i < 300000; i++) {
		char text[80], *p = text;
		int digits = 1 + (int)(check_random(&state) % (i % 4 == 0 ? 40 : 14)), rc, wanted;
		int point = (int)(check_random(&state) % ((unsigned)digits + 1));
		int exponent = i % 3 == 0 ? (int)(check_random(&state) % 50) - 25 : 0, drop;
		bool negative = check_random(&state) & 1;
		struct big all = { 0 };
		uint64_t size = 0;
		int64_t got = 12345;

		if (negative)
			*p++ = '-';
		for (int k = 0; k < digits; k++) {
			unsigned digit = (unsigned)(check_random(&state) % 10);

			/* many zeros, fives and nines, for the sake of ties and carries */
			if (check_random(&state) % 3 == 0)
				digit = (unsigned)"0059"[check_random(&state) % 4] - '0';
			if (k == point)
				*p++ = '.';
			*p++ = (char)('0' + digit);
			all.digit[digits - 1 - k] = (unsigned char)digit;
		}
		all.n = digits;
		if (exponent != 0)
			p += sprintf(p, "e%d", exponent);
		*p = '\0';
		/* the decimals beyond the sixth are to go, or as many zeros to come */
		drop = digits - point - exponent - 6;
		if (drop < 0) {
			memmove(all.digit - drop, all.digit, sizeof all.digit + (size_t)drop);
			memset(all.digit, 0, (size_t)-drop);
			all.n -= drop;
			drop = 0;
		}
		wanted = big_value(big_round(all, drop), 9200000000000000000u, &size);
		rc = db_parse((struct field){ text, (size_t)(p - text) }, &got);
		CHECK(rc == wanted &&
			  (rc == 0 ? size_of(got) == size && (got < 0) == (negative && size > 0)
				   : got == 12345),
		    "%s: %d, %" PRId64 ", want %d, %" PRIu64, text, rc, got, wanted, size);
	}
}

static void
reads_many_digits(void)
{
	enum { LONG = 1000000 };
	char *text = malloc(LONG + 40);
	int64_t udb = 0;
	size_t n;

	if (text == NULL) {
		CHECK(false, "no memory");
		return;
	}
	memset(text, '9', LONG);
	memcpy(text, "0.0000004", 9);
	CHECK(db_parse((struct field){ text, LONG }, &udb) == 0 && udb == 0, "%" PRId64, udb);
	memset(text, '0', LONG);
	text[1] = '.';
	n = LONG + (size_t)sprintf(text + LONG, "25e%d", LONG - 6);
	CHECK(db_parse((struct field){ text, n }, &udb) == 0 && udb == 25, "%" PRId64, udb);
	memset(text, '0', LONG);
	text[0] = '7';
	n = LONG + (size_t)sprintf(text + LONG, "e-%d", LONG);
	CHECK(db_parse((struct field){ text, n }, &udb) == 0 && udb == 700000, "%" PRId64, udb);
	CHECK(db_parse((struct field){ text, LONG }, &udb) == -1, "%" PRId64, udb);
	free(text);
}

static void
rounds_computed_values(void)
{
	static const struct {
		double db;
		int64_t udb;
	} known[] = {
		{ 0, 0 },
		{ -0.0, 0 },
		{ 0.1 + 0.2, 300000 },
		{ 0x1p-20, 1 },
		{ 0x1p-21, 0 },
		{ -0x1p-20, -1 },
		{ 0.5 / 1048576, 0 },
		{ 0x1p-7, 7813 }, /* exactly 7812.5 */
		{ -0x1p-7, -7813 },
		{ 0x3p-7, 23438 },
		{ 9.2e12, 9200000000000000000 },
		{ -9.2e12, -9200000000000000000 },
	};
	static const double refused[] = { NAN, INFINITY, -INFINITY, 9.2001e12, -1e13, 1e300 };
	int64_t udb;
	uint64_t state = 2;

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		udb = DB_NONE;
		CHECK(db_from(known[i].db, &udb) == 0 && udb == known[i].udb, "%.17g: %" PRId64,
		    known[i].db, udb);
	}
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		udb = 12345;
		CHECK(db_from(refused[i], &udb) == -1 && udb == 12345, "%g: %" PRId64, refused[i],
		    udb);
	}
	for (int i = 0; i < 100000; i++) { /* there and back */
		int64_t from = (int64_t)(check_random(&state) >> (13 + check_random(&state) % 51));

		if (check_random(&state) & 1)
			from = -from;
		CHECK(db_from(db_to(from), &udb) == 0 && udb == from, "%" PRId64 ": %" PRId64, from,
		    udb);
	}
}

/* strtod of the text with six decimals is the nearest double */
static void
gives_the_nearest_double(void)
{
	uint64_t state = 3;

	for (int i = 0; i < 200000; i++) {
		int64_t udb = random_udb(&state);
		char text[40];

		if (i % 4 == 0) /* whole 64ths of a large number: ties */
			udb = udb / 15625 * 15625;
		snprintf(text, sizeof text, "%s%" PRIu64 ".%06" PRIu64, udb < 0 ? "-" : "",
		    size_of(udb) / 1000000, size_of(udb) % 1000000);
		CHECK(db_to(udb) == strtod(text, NULL), "%s: %.17g", text, db_to(udb));
	}
}

static void
adds_in_any_order(void)
{
	uint64_t state = 4;
	int64_t part[1000], sum = 0;

	for (int i = 0; i < 1000; i++)
		part[i] = (int64_t)(check_random(&state) >> 12) - (INT64_C(1) << 51);
	for (int i = 0; i < 1000; i++)
		CHECK(db_add(&sum, part[i]) == 0, "no room");
	for (int round = 0; round < 100; round++) {
		int64_t again = 0;

		for (int i = 999; i > 0; i--) {
			int k = (int)(check_random(&state) % ((unsigned)i + 1));
			int64_t swap = part[i];

			part[i] = part[k];
			part[k] = swap;
		}
		for (int i = 0; i < 1000; i++)
			CHECK(db_add(&again, part[i]) == 0, "no room");
		CHECK(again == sum, "%" PRId64 " or %" PRId64, sum, again);
	}
}

static void
finds_a_link_at_its_limit(void)
{
	int64_t sum = 0, each = 0, limit = 0;

	/* in doubles ten times 0.1 is 0.9999999999999999 and three times it 0.30000000000000004 */
	CHECK(db_parse(field_of("0.1"), &each) == 0 && db_parse(field_of("1"), &limit) == 0, "no");
	for (int i = 0; i < 10; i++)
		CHECK(db_add(&sum, each) == 0, "no room");
	CHECK(sum == limit, "%" PRId64, sum);
}

static void
refuses_sums_without_room(void)
{
	static const struct {
		int64_t a, b;
	} refused[] = {
		{ INT64_MAX, 1 },
		{ 1, INT64_MAX },
		{ -INT64_MAX, -1 }, /* that would be DB_NONE */
		{ INT64_MAX, INT64_MAX },
		{ -INT64_MAX, -INT64_MAX },
		{ DB_NONE, 0 },
		{ DB_NONE, 5 },
		{ 0, DB_NONE },
		{ INT64_MAX, DB_NONE },
	};
	int64_t sum;

	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		sum = refused[i].a;
		CHECK(db_add(&sum, refused[i].b) == -1 && sum == refused[i].a, "%zu: %" PRId64, i,
		    sum);
	}
	sum = INT64_MAX;
	CHECK(db_add(&sum, -INT64_MAX) == 0 && sum == 0, "%" PRId64, sum);
	CHECK(db_add(&sum, -INT64_MAX) == 0 && sum == -INT64_MAX, "%" PRId64, sum);
	CHECK(db_add(&sum, 0) == 0 && sum == -INT64_MAX, "%" PRId64, sum);
}

static void
multiplies_known_values(void)
{
	static const struct {
		int64_t a, b, want;
	} known[] = {
		{ 350000, 12345678, 4320987 }, /* 0.35 dB/km over 12.345678 km: 4.3209873 dB */
		{ 350000, 2000000, 700000 },
		{ 1, 500000, 1 }, /* ties, away from zero */
		{ -1, 500000, -1 },
		{ 1, 499999, 0 },
		{ 3, -500000, -2 },
		{ 0, INT64_MAX, 0 },
		{ INT64_MAX, DB_ONE, INT64_MAX },
		{ -INT64_MAX, DB_ONE, -INT64_MAX },
		{ -INT64_MAX, -DB_ONE, INT64_MAX },
	};
	static const int64_t refused[][2] = {
		{ INT64_MAX, DB_ONE + 1 }, { INT64_MAX, INT64_MAX }, { -INT64_MAX, INT64_MAX },
		{ DB_NONE, DB_ONE }, { DB_ONE, DB_NONE }, { DB_NONE, 0 },
		/* (x + 1)(x - 1) with x^2 = 2^64 10^6: the quotient, 2^64 - 1, rounds up */
		{ INT64_C(4294967296001), INT64_C(4294967295999) }, { INT64_MAX, 2 * DB_ONE },
		/* (2 x + 2)(x - 1) with 2 x^2 = 2^63 10^6: 2^63 - 1 rounds up */
		{ INT64_C(4294967296002), INT64_C(2147483647999) },
		{ INT64_C(4611686018427387904), 2 * DB_ONE }, /* 2^63 */
	};
	int64_t got;

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		got = 12345;
		CHECK(db_times(known[i].a, known[i].b, &got) == 0 && got == known[i].want,
		    "%zu: %" PRId64, i, got);
	}
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		got = 12345;
		CHECK(db_times(refused[i][0], refused[i][1], &got) == -1 && got == 12345,
		    "%zu: %" PRId64, i, got);
	}
}

static void
multiplies_as_arithmetic_says(void)
{
	uint64_t state = 5;

	for (int i = 0; i < 200000; i++) {
		int64_t a = random_udb(&state), b = random_udb(&state), got = 12345;
		struct big product = big_times(big_of(size_of(a)), big_of(size_of(b)));
		uint64_t size = 0;
		int wanted = big_value(big_round(product, 6), INT64_MAX, &size);
		int rc = db_times(a, b, &got);

		CHECK(rc == wanted && (rc == 0 ? size_of(got) == size &&
						     (got < 0) == ((a < 0) != (b < 0) && size > 0)
					       : got == 12345),
		    "%" PRId64 " * %" PRId64 ": %d, %" PRId64 ", want %d, %" PRIu64, a, b, rc, got,
		    wanted, size);
	}
}

static void
writes_as_arithmetic_says(void)
{
	uint64_t state = 6;

	for (int i = 0; i < 200000; i++) {
		int64_t udb = i == 0 ? INT64_MAX : i == 1 ? -INT64_MAX : random_udb(&state), back;
		int places = i < 2 ? 6 : (int)(check_random(&state) % 7);
		struct big rounded = big_round(big_of(size_of(udb)), 6 - places);
		char got[DB_FIXED + 1], want[40], *p = want;
		size_t n = db_fixed(got, udb, places);

		if (udb < 0 && rounded.n > 0)
			*p++ = '-';
		for (int k = rounded.n > places ? rounded.n - 1 : places; k >= 0; k--) {
			*p++ = (char)('0' + rounded.digit[k]);
			if (k == places && places > 0)
				*p++ = '.';
		}
		*p = '\0';
		got[n] = '\0';
		CHECK(strcmp(got, want) == 0, "%" PRId64 " with %d places: %s, want %s", udb,
		    places, got, want);
		if (places == 6 && size_of(udb) <= 9200000000000000000u)
			CHECK(db_parse((struct field){ got, n }, &back) == 0 && back == udb,
			    "%s is read as %" PRId64, got, back);
	}
}

static void
writes_known_values(void)
{
	static const struct {
		int64_t udb;
		int places;
		const char *want;
	} known[] = {
		{ 0, 0, "0" },
		{ 0, 2, "0.00" },
		{ -4999, 2, "0.00" },
		{ -5000, 2, "-0.01" },
		{ 5000, 2, "0.01" },
		{ 15000, 2, "0.02" },
		{ 25000, 2, "0.03" },
		{ 499999, 0, "0" },
		{ 500000, 0, "1" },
		{ 999995, 5, "1.00000" },
		{ 12345678, 6, "12.345678" },
	};

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		char got[DB_FIXED + 1];

		got[db_fixed(got, known[i].udb, known[i].places)] = '\0';
		CHECK(strcmp(got, known[i].want) == 0, "got %s, want %s", got, known[i].want);
	}
}

/* where both readers take a field they mean the same */
static void
agrees_with_num(void)
{
	uint64_t state = 7;

	for (int i = 0; i < 100000; i++) {
		char text[60];
		int n = snprintf(text, sizeof text, "%.*g", 1 + (int)(check_random(&state) % 17),
		    (double)random_udb(&state) * pow(10, -(double)(check_random(&state) % 20)));
		struct field f = { text, (size_t)n };
		double db = 0;
		int64_t udb = 0;

		CHECK(num_parse(f, &db) == 0, "%s", text);
		if (fabs(db) > 9e12)
			continue;
		CHECK(db_parse(f, &udb) == 0 &&
			  fabs((double)udb - db * 1e6) <= 0.5 + fabs(db) * 1e6 * 0x1p-51,
		    "%s: %" PRId64, text, udb);
	}
}

int
main(void)
{
	RUN(reads_known_values);
	RUN(reads_what_arithmetic_says);
	RUN(reads_many_digits);
	RUN(rounds_computed_values);
	RUN(gives_the_nearest_double);
	RUN(adds_in_any_order);
	RUN(finds_a_link_at_its_limit);
	RUN(refuses_sums_without_room);
	RUN(multiplies_known_values);
	RUN(multiplies_as_arithmetic_says);
	RUN(writes_known_values);
	RUN(writes_as_arithmetic_says);
	RUN(agrees_with_num);
	return check_done();
}
