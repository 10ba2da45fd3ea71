/*
 * num: reading and writing numbers, against the C library. `test_num N` tries N random values in
 * place of two millions.
 */
#include "base/num.h"

#include <errno.h>
#include <float.h>
#include <inttypes.h>
#include <regex.h>
#include <stdlib.h>

#include "check.h"

static long values = 2000000;

/* num_parse(text) must do what strtod says, apart from minus zero and too large ones */
static void
same_as_strtod(struct field f)
{
	double want = strtod(f.p, NULL), got = 12345;
	int rc = num_parse(f, &got);

	if (want > DBL_MAX || want < -DBL_MAX)
		CHECK(rc == -1 && got == 12345, "'%.60s' is too large, got %g", f.p, got);
	else
		CHECK(rc == 0 && got == want && (want != 0 || !signbit(got)),
		    "'%.60s': got %a, want %a", f.p, got, want);
}

static void
reads_known_values(void)
{
	static const struct {
		const char *text;
		double want;
	} known[] = {
		{ "0", 0 },
		{ "-0", 0 },
		{ "+0.00", 0 },
		{ "-0e5", 0 },
		{ "-1e-400", 0 },
		{ "5.", 5 },
		{ ".5", 0.5 },
		{ "+0.02", 0x1.47ae147ae147bp-6 },
		{ "007", 7 },
		{ "1.2E-02", 0x1.89374bc6a7efap-7 },
		{ "1e22", 1e22 },
		{ "9007199254740992", 0x1p53 },
		/* half way between two doubles: to the even one */
		{ "9007199254740993", 0x1p53 },
		{ "9007199254740995", 0x1.0000000000002p53 },
		{ "9007199254740993.00000000000000000000000000000000001", 0x1.0000000000001p53 },
		{ "1.7976931348623157e308", DBL_MAX },
		{ "1.7976931348623158e308", DBL_MAX },
		{ "2.2250738585072014e-308", 0x1p-1022 },
		{ "4.9406564584124654e-324", 0x1p-1074 },
		{ "2.4703282292062327e-324", 0 },
		{ "2.4703282292062328e-324", 0x1p-1074 },
		{ "0e99999999999999999999", 0 },
		{ "1e-99999999999999999999", 0 },
		{ "0000000000000000000000000001", 1 },
		{ "18446744073709551617", 0x1p64 },
	};

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		double got = -1;

		CHECK(num_parse(field_of(known[i].text), &got) == 0 && got == known[i].want &&
			  (got != 0 || !signbit(got)),
		    "'%s': got %a, want %a", known[i].text, got, known[i].want);
	}
}

static const struct {
	const char *text, *says;
} refused[] = {
	{ "", "no number" },
	{ "-", "no number" },
	{ ".", "no number" },
	{ "e5", "number with something before it" },
	{ "N/A", "no number" },
	{ "--", "no number" },
	{ "n.m.", "no number" },
	{ "#VALUE!", "no number" },
	{ "0,05", "decimal comma: write a point" },
	{ "-0,05", "decimal comma: write a point" },
	{ "4,687E+11", "decimal comma: write a point" },
	{ "1,234,567", "grouping marks in the number" },
	{ "1,234.5", "grouping marks in the number" },
	{ "1.234,5", "grouping marks in the number" },
	{ "1.234.567", "grouping marks in the number" },
	{ "1 234", "grouping marks in the number" },
	{ "1\xc2\xa0"
	  "234",
	    "grouping marks in the number" },
	{ "1\xe2\x80\xaf"
	  "234,5",
	    "grouping marks in the number" },
	{ "1'234", "grouping marks in the number" },
	{ "-1 234 567", "grouping marks in the number" },
	{ "1.2.3", "more than one decimal point" },
	{ "1 2", "more than one number" },
	{ "1.5;2.5", "more than one number" },
	{ "3-4", "more than one number" },
	{ "1/2", "more than one number" },
	{ "\xe2\x88\x92"
	  "5",
	    "Unicode minus sign (U+2212)" },
	{ "1e\xe2\x88\x92"
	  "5",
	    "Unicode minus sign (U+2212)" },
	{ "\xe2\x80\x93"
	  "5",
	    "dash in place of a minus sign" },
	{ "5-", "sign behind the number" },
	{ "0.02dB", "number with something behind it" },
	{ "1%", "number with something behind it" },
	{ "2\x1a", "number with something behind it" },
	{ "<0.02", "number with something before it" },
	{ "~5", "number with something before it" },
	{ "\xc2\xb1"
	  "5",
	    "number with something before it" },
	{ "--5", "number with something before it" },
	{ "\xef\xbb\xbf"
	  "42",
	    "byte-order mark before the number" },
	{ " 5", "blank beside the number" },
	{ "5 ", "blank beside the number" },
	{ "5\t", "blank beside the number" },
	{ "5\xc2\xa0", "blank beside the number" },
	{ "  ", "only blanks" },
	{ "nan", "not a finite number" },
	{ "NaN", "not a finite number" },
	{ "-Inf", "not a finite number" },
	{ "infinity", "not a finite number" },
	{ "1.#IND", "not a finite number" },
	{ "0x1p3", "hexadecimal number" },
	{ "0X10", "hexadecimal number" },
	{ "1e", "exponent without digits" },
	{ "1.5E+", "exponent without digits" },
	{ "1.7976931348623159e308", "number too large" },
	{ "-1e309", "number too large" },
	{ "1e99999999999999999999", "number too large" },
};

static void
tells_why_not(void)
{
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		struct field f = field_of(refused[i].text);
		const char *says = num_fault(f);
		double x = 12345;

		CHECK(num_parse(f, &x) == -1 && x == 12345, "'%s' accepted", f.p);
		CHECK(strcmp(says, refused[i].says) == 0, "'%s': says '%s'", f.p, says);
	}
	CHECK(num_parse((struct field){ "1\0", 2 }, &(double){ 0 }) == -1, "NUL accepted");
	CHECK(num_parse((struct field){ "12", 1 }, &(double){ 0 }) == 0, "read past the field");
	CHECK(num_parse((struct field){ NULL, 0 }, &(double){ 0 }) == -1, "NULL accepted");
	CHECK(strcmp(num_fault((struct field){ NULL, 0 }), "no number") == 0, "NULL");
	CHECK(strcmp(num_fault(field_of("1.5")), "not a whole number") == 0, "for num_whole");
}

/* every string over an alphabet that makes trouble, against a regular expression of the grammar */
static void
keeps_to_its_grammar(void)
{
	static const char letters[] = "0195.eE+-, xn";
	uint64_t state = 4;
	regex_t number, whole;

	if (regcomp(&number, "^[-+]?([0-9]+[.]?[0-9]*|[.][0-9]+)([eE][-+]?[0-9]+)?$",
		REG_EXTENDED | REG_NOSUB) != 0 ||
	    regcomp(&whole, "^[-+]?[0-9]+$", REG_EXTENDED | REG_NOSUB) != 0) {
		CHECK(false, "no regular expressions");
		return;
	}
	for (int i = 0; i < 100000; i++) {
		char text[10];
		size_t n = check_random(&state) % sizeof text;
		double x = 12345;
		int64_t w;
		int rc;

		for (size_t k = 0; k < n; k++)
			text[k] = letters[check_random(&state) % (sizeof letters - 1)];
		text[n] = '\0';
		rc = num_parse((struct field){ text, n }, &x);
		if (rc == 0 || fabs(strtod(text, NULL)) <= DBL_MAX)
			CHECK(rc == (regexec(&number, text, 0, NULL, 0) == 0 ? 0 : -1),
			    "'%s' gives %d", text, rc);
		if (rc == 0)
			same_as_strtod((struct field){ text, n });
		else
			CHECK(x == 12345 && num_fault((struct field){ text, n })[0] != '\0',
			    "'%s' left %g", text, x);
		rc = num_whole((struct field){ text, n }, &w);
		CHECK(rc == (regexec(&whole, text, 0, NULL, 0) == 0 ? 0 : -1), "'%s' gives %d",
		    text, rc);
	}
	regfree(&number);
	regfree(&whole);
}

/* what stands in tables: a few digits and a point somewhere among them */
static void
reads_short_decimals(void)
{
	uint64_t state = 1;

	for (long i = 0; i < values / 4; i++) {
		char text[32], *p = text;
		int digits = 1 + (int)(check_random(&state) % 19);
		int point = (int)(check_random(&state) % ((unsigned)digits + 1));
		uint64_t random = check_random(&state);

		if (random & 1)
			*p++ = '-';
		for (int k = 0; k < digits; k++) {
			if (k == point)
				*p++ = '.';
			*p++ = (char)('0' + random % 10);
			random = k == 9 ? check_random(&state) : random / 10;
		}
		*p = '\0';
		same_as_strtod((struct field){ text, (size_t)(p - text) });
	}
}

/* doubles of every size, printed so that they can be read back, and one digit less and more */
static void
reads_any_double(void)
{
	uint64_t state = 2;

	for (long i = 0; i < values / 8; i++) {
		uint64_t bits = check_random(&state);
		char text[40];
		double x;
		int n;

		if (i % 8 == 0)
			bits &= UINT64_C(0x800fffffffffffff); /* subnormal */
		memcpy(&x, &bits, sizeof x);
		if (!isfinite(x))
			continue;
		n = snprintf(text, sizeof text, "%.*g", 16 + (int)(i % 4), x);
		same_as_strtod((struct field){ text, (size_t)n });
		if (i % 4 == 1) {
			double back = 0;

			CHECK(num_parse((struct field){ text, (size_t)n }, &back) == 0 && back == x,
			    "%s reads as %a, was %a", text, back, x);
		}
	}
}

/* a short mantissa and an exponent around what is exact, and around the ends of the doubles */
static void
reads_exponents(void)
{
	uint64_t state = 3;

	for (long i = 0; i < values / 8; i++) {
		char text[60];
		uint64_t mantissa = check_random(&state) >> check_random(&state) % 64;
		int exponent = (int)(check_random(&state) % (i % 4 == 0 ? 800 : 60));
		int n;

		exponent -= i % 4 == 0 ? 400 : 30;
		n = snprintf(text, sizeof text, "%" PRIu64 "%s%d", mantissa,
		    check_random(&state) & 1 ? "e" : ".0E", exponent);
		same_as_strtod((struct field){ text, (size_t)n });
	}
}

/* half way between two doubles, written in full, and a hair beside it */
static void
reads_ties(void)
{
	uint64_t state = 5;

	for (int i = 0; i < 5000; i++) {
		uint64_t odd = ((uint64_t)1 << 52 | check_random(&state) >> 12) << 1 | 1;
		uint64_t scale = check_random(&state) % 10;
		char text[80];
		double got = 0, below = ldexp((double)(odd >> 1), 1), want;
		int n;

		/* odd has 54 bits, the last of them set: it lies between two doubles */
		n = snprintf(text, sizeof text, "%" PRIu64, odd);
		want = (odd >> 1) % 2 == 0 ? below : ldexp((double)((odd >> 1) + 1), 1);
		CHECK(num_parse((struct field){ text, (size_t)n }, &got) == 0 && got == want,
		    "%s: %a, want %a", text, got, want);
		n = snprintf(text, sizeof text, "%" PRIu64 ".%0*d1", odd, (int)scale + 1, 0);
		want = ldexp((double)((odd >> 1) + 1), 1);
		CHECK(num_parse((struct field){ text, (size_t)n }, &got) == 0 && got == want,
		    "%s: %a, want %a", text, got, want);
	}
}

static void
reads_megabytes_of_digits(void)
{
	enum { LONG = 1000000 };
	char *text = malloc(LONG + 40);
	double x = 0;
	size_t n;

	if (text == NULL) {
		CHECK(false, "no memory");
		return;
	}
	memset(text, '3', LONG);
	for (size_t length = 20; length < 300; length++) { /* short copies and long ones */
		text[length - 1] = '5';
		CHECK(num_parse((struct field){ text + 1, length - 1 }, &x) == 0 &&
			  fabs(x * pow(10, 1 - (double)length) - 1.0 / 3) < 1e-14,
		    "%zu digits: %g", length - 1, x);
		text[length - 1] = '3';
	}
	text[1] = '.';
	CHECK(num_parse((struct field){ text, LONG }, &x) == 0 && x == 0x1.aaaaaaaaaaaabp+1,
	    "got %.17g", x);
	memset(text, '0', LONG);
	text[1] = '.';
	n = LONG + (size_t)sprintf(text + LONG, "15e%d", LONG);
	CHECK(num_parse((struct field){ text, n }, &x) == 0 && x == 15, "got %.17g", x);
	memset(text, '0', LONG);
	text[0] = '7';
	n = LONG + (size_t)sprintf(text + LONG, "e-%d", LONG - 1);
	CHECK(num_parse((struct field){ text, n }, &x) == 0 && x == 7, "got %.17g", x);
	CHECK(num_parse((struct field){ text, LONG }, &x) == -1, "got %.17g", x);
	free(text);
}

static void
reads_whole_numbers(void)
{
	uint64_t state = 6;
	int64_t got = 0;

	for (int i = 0; i < 100000; i++) {
		char text[40];
		uint64_t random = check_random(&state) >> check_random(&state) % 64;
		int n = snprintf(text, sizeof text, "%s%" PRIu64,
		    (const char *[]){ "", "-", "+", "00", "-0" }[i % 5], random);
		long long want;
		int rc;

		errno = 0;
		want = strtoll(text, NULL, 10);
		rc = num_whole((struct field){ text, (size_t)n }, &got);
		CHECK(rc == (errno == ERANGE ? -1 : 0) && (rc != 0 || got == want),
		    "%s: %d, %" PRId64, text, rc, got);
	}
	CHECK(num_whole(field_of("-9223372036854775808"), &got) == 0 && got == INT64_MIN, "low");
	CHECK(num_whole(field_of("9223372036854775807"), &got) == 0 && got == INT64_MAX, "high");
	CHECK(num_whole(field_of("9223372036854775808"), &got) == -1, "too high");
	CHECK(num_whole(field_of("-9223372036854775809"), &got) == -1, "too low");
	CHECK(num_whole(field_of("1.0"), &got) == -1 && num_whole(field_of("+"), &got) == -1 &&
		  num_whole((struct field){ NULL, 0 }, &got) == -1 && got == INT64_MAX,
	    "not whole, %" PRId64, got);
	CHECK(strcmp(num_fault(field_of("99999999999999999999")), "number too large") == 0, "why");
}

/* num_fixed must write what printf does, but no minus zero */
static void
same_as_printf(double x, int places)
{
	char got[NUM_FIXED + 1], want[NUM_FIXED + 8];
	size_t n = num_fixed(got, x, places), wanted;
	const char *w = want;

	wanted = (size_t)snprintf(want, sizeof want, "%.*f", places, x);
	if (want[0] == '-' && strpbrk(want, "123456789") == NULL)
		w++, wanted--;
	got[n] = '\0';
	CHECK(n == wanted && memcmp(got, w, n) == 0, "%a with %d places: got %s, want %s", x,
	    places, got, w);
}

static void
writes_what_printf_does(void)
{
	uint64_t state = 7;

	for (long i = 0; i < values / 4; i++) {
		int places = (int)(check_random(&state) % (i % 4 == 0 ? NUM_PLACES + 1 : 7));
		/* up to 2^56 when scaled */
		double x = (double)(int64_t)check_random(&state) *
			   ldexp(1, -63 + (int)(check_random(&state) % 56));

		same_as_printf(x / pow(10, places), places);
	}
}

/* what lies exactly half way, and the doubles beside what nearly does */
static void
writes_ties(void)
{
	uint64_t state = 8;

	for (long i = 0; i < values / 8; i++) {
		int places = (int)(check_random(&state) % 7);
		double half =
		    (double)(check_random(&state) % (UINT64_C(1) << (check_random(&state) % 53))) +
		    0.5;
		double x = i % 2 == 0 ? half / pow(10, places) : half * ldexp(1, -places);

		if (check_random(&state) & 1)
			x = -x;
		same_as_printf(x, places);
		same_as_printf(nextafter(x, 0), places);
		same_as_printf(nextafter(x, 2 * x), places);
	}
}

static void
writes_the_extremes(void)
{
	static const double extremes[] = { 0.0, -0.0, DBL_MAX, -DBL_MAX, DBL_MIN, -0x1p-1074, 0.5,
		1.5, 2.5, -0.5, 999999999.5, 1e9, 0.9999999995, 0x1p52, 0x1p52 - 0.5, 0x1p51 - 0.25,
		1e15, 0x1p63, 0x1p64, 1e22, -0.00004, -0.00005, -0.00006, 0.125, 0.375 };

	for (size_t i = 0; i < sizeof extremes / sizeof extremes[0]; i++)
		for (int places = 0; places <= NUM_PLACES; places++)
			same_as_printf(extremes[i], places);
}

static void
writes_scaled_numbers(void)
{
	uint64_t state = 9;

	for (int i = 0; i < 100000; i++) {
		uint64_t n = check_random(&state) >> check_random(&state) % 64;
		int places = (int)(check_random(&state) % (NUM_PLACES + 1));
		bool negative = check_random(&state) & 1;
		char got[NUM_SCALED + 1], digits[40], want[40];
		int all = snprintf(digits, sizeof digits, "%0*" PRIu64, places + 1, n);
		int wanted = snprintf(want, sizeof want, "%s%.*s%s%s", negative && n > 0 ? "-" : "",
		    all - places, digits, places > 0 ? "." : "", digits + all - places);
		size_t length = num_scaled(got, n, places, negative);

		got[length] = '\0';
		CHECK(length == (size_t)wanted && strcmp(got, want) == 0, "got %s, want %s", got,
		    want);
	}
}

int
main(int argc, char **argv)
{
	int64_t n;

	if (argc > 1) {
		if (num_whole(field_of(argv[1]), &n) != 0 || n < 0 || n > INT32_MAX) {
			fprintf(stderr, "usage: test_num [values]\n");
			return 2;
		}
		values = (long)n;
	}
	RUN(reads_known_values);
	RUN(tells_why_not);
	RUN(keeps_to_its_grammar);
	RUN(reads_short_decimals);
	RUN(reads_any_double);
	RUN(reads_exponents);
	RUN(reads_ties);
	RUN(reads_megabytes_of_digits);
	RUN(reads_whole_numbers);
	RUN(writes_what_printf_does);
	RUN(writes_ties);
	RUN(writes_the_extremes);
	RUN(writes_scaled_numbers);
	return check_done();
}
