/*
 * fuzz_num: any bytes as one field, through everything that reads single fields. The grammar of
 * numbers is written down here a second time, in another way.
 *
 *	clang -fsanitize=fuzzer,address,undefined
 */
#include <float.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/bytes.h"
#include "base/db.h"
#include "base/err.h"
#include "base/spelling.h"
#include "base/num.h"
#include "base/when.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void
must(bool good)
{
	if (!good)
		abort();
}

/* the grammar, as a machine that eats one byte after the other */
static bool
is_number(const uint8_t *p, size_t n, bool *whole)
{
	enum { START, SIGN, DIGITS, BARE_POINT, DECIMALS, E, E_SIGN, E_DIGITS } at = START;

	for (size_t i = 0; i < n; i++) {
		bool digit = p[i] >= '0' && p[i] <= '9', sign = p[i] == '+' || p[i] == '-';
		bool e = p[i] == 'e' || p[i] == 'E';

		if (digit && at <= DIGITS)
			at = DIGITS;
		else if (digit && at <= DECIMALS)
			at = DECIMALS;
		else if (digit)
			at = E_DIGITS;
		else if (sign && at == START)
			at = SIGN;
		else if (sign && at == E)
			at = E_SIGN;
		else if (p[i] == '.' && at <= DIGITS)
			at = at == DIGITS ? DECIMALS : BARE_POINT;
		else if (e && (at == DIGITS || at == DECIMALS))
			at = E;
		else
			return false;
	}
	*whole = at == DIGITS;
	return at == DIGITS || at == DECIMALS || at == E_DIGITS;
}

static void
check_fixed(double x)
{
	for (int places = 0; places <= NUM_PLACES; places++) {
		char got[NUM_FIXED], want[NUM_FIXED + 8], *w = want;
		size_t n = num_fixed(got, x, places);

		snprintf(want, sizeof want, "%.*f", places, x);
		if (want[0] == '-' && strpbrk(want, "123456789") == NULL)
			w++;
		must(n == strlen(w) && memcmp(got, w, n) == 0);
	}
}

static void
check_db(struct field f, bool number, double x)
{
	int64_t udb = 12345, again = 0;
	int rc = db_parse(f, &udb);
	char text[DB_FIXED];

	if (!number || fabs(x) > 9.2001e12) {
		must(rc == -1 && udb == 12345);
		return;
	}
	must(rc == 0 || (fabs(x) > 9.1999e12 && udb == 12345));
	if (rc != 0)
		return;
	must(fabs((double)udb - x * DB_ONE) <= 0.5 + fabs(x) * DB_ONE * DBL_EPSILON * 2);
	must(db_parse((struct field){ text, db_fixed(text, udb, 6) }, &again) == 0 && again == udb);
	must(db_times(udb, DB_ONE, &again) == 0 && again == udb);
	if (llabs(udb) < INT64_C(1) << 51)
		must(db_from(db_to(udb), &again) == 0 && again == udb);
}

static void
check_number(struct field f, const char *string)
{
	bool whole = false, number = is_number((const uint8_t *)f.p, f.n, &whole);
	double x = 12345, want = number ? strtod(string, NULL) : 0;
	int64_t n = 12345;

	if (num_parse(f, &x) == 0) {
		must(number && x == want && (x != 0 || !signbit(x)));
		check_fixed(x);
	} else {
		must(x == 12345 && (!number || fabs(want) > DBL_MAX));
		must(num_fault(f)[0] != '\0');
	}
	check_db(f, number, want);
	if (num_whole(f, &n) == 0)
		must(whole && (double)n == want);
	else
		must(n == 12345 && num_fault(f)[0] != '\0' && (!whole || fabs(want) >= 0x1p63));
}

static void
check_when(struct field f)
{
	struct when w = { .seconds = 12345 };

	if (when_parse(f, &w) != 0) {
		must(w.seconds == 12345 && when_fault(f)[0] != '\0');
		return;
	}
	must(f.n >= 10 && w.nanos >= 0 && w.nanos < 1000000000 && !(w.date_only && w.has_zone));
	/* the years 0000 to 9999, and a day for zones */
	must(w.seconds >= -62167219200 - 86400 && w.seconds < 253402300800 + 86400);
	must(when_order(&w, &w) == 0);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	/* copies of exactly that size, so that a byte too many is seen */
	char *copy = malloc(size + (size == 0)), *string = malloc(size + 1), shown[ERR_SHOWN];
	struct field f = { copy, size }, half = { copy, size / 2 };
	size_t at;

	if (copy == NULL || string == NULL)
		abort();
	if (size > 0) {
		memcpy(copy, data, size);
		memcpy(string, data, size);
	}
	string[size] = '\0';
	check_number(f, string);
	check_when(f);
	at = utf8_fault(f);
	must(at <= size && utf8_fault((struct field){ copy, at }) == at);
	must(strlen(err_show(shown, copy, size)) < sizeof shown);
	at = spelling_edits(half, f, 5);
	must(at == spelling_edits(f, half, 5) && at <= 6);
	must(size < 1 || spelling_best(f, (struct field[]){ half, f }, 2) == 1);
	free(copy);
	free(string);
	return 0;
}
