#include "base/db.h"

#include <assert.h>
#include <stdbool.h>

#include "base/int128.h"
#include "base/num.h"

/* 9.2e12 dB, the largest magnitude that is taken from outside */
static const uint64_t udb_most = 9200000000000000000u;

static const uint64_t power[] = { 1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000,
	1000000000, 10000000000, 100000000000, 1000000000000 };

enum {
	DECIMALS = 6,    /* what a millionth has */
	DIGITS_MOST = 18 /* as many always fit */
};

/* n / divisor, a half rounded up */
static inline uint64_t
divide(uint64_t n, uint64_t divisor)
{
	return n / divisor + (n % divisor * 2 >= divisor);
}

static inline int64_t
with_sign(uint64_t size, bool negative)
{
	return negative ? -(int64_t)size : (int64_t)size;
}

static inline uint64_t
size_of(int64_t n)
{
	return n < 0 ? 0 - (uint64_t)n : (uint64_t)n;
}

/*
 * Any number of digits: those of [p, end), which may contain one point. The value has its point after
 * the first `whole` digits. The first digit that is dropped decides the rounding, because a half is
 * rounded away from zero.
 */
static int
long_digits(const char *p, const char *end, int64_t whole, uint64_t *size)
{
	int64_t keep = whole + DECIMALS, i = 0;
	uint64_t n = 0;
	unsigned digit = 0;

	if (keep < 0) {
		*size = 0;
		return 0;
	}
	for (;; i++) {
		if (p < end && *p == '.')
			p++;
		if (p == end && n == 0)
			break; /* zero, however many more of it are wanted */
		digit = p < end ? (unsigned)(*p++ - '0') : 0;
		if (i == keep)
			break;
		if (n > udb_most / 10)
			return -1;
		n = n * 10 + digit;
	}
	if (i == keep && digit >= 5)
		n++;
	if (n > udb_most)
		return -1;
	*size = n;
	return 0;
}

int
db_parse(struct field f, int64_t *udb)
{
	const char *p = f.p, *end, *start;
	uint64_t n = 0;
	int64_t whole, decimals = 0, exponent = 0;
	bool has_exponent = false;

	if (f.n == 0)
		return -1;
	end = p + f.n;
	p += *p == '-' || *p == '+';
	start = p;
	for (; p < end && num_is_digit(*p); p++)
		n = n * 10 + (uint64_t)(*p - '0');
	whole = p - start;
	if (p < end && *p == '.') {
		const char *point = ++p;

		for (; p < end && num_is_digit(*p); p++)
			n = n * 10 + (uint64_t)(*p - '0');
		decimals = p - point;
	}
	if (whole + decimals == 0)
		return -1;
	if (p < end) {
		if ((*p != 'e' && *p != 'E') || !num_exponent(p + 1, end, &exponent))
			return -1;
		has_exponent = true;
	}
	if (has_exponent || whole + decimals > DIGITS_MOST) {
		if (long_digits(start, p, whole + exponent, &n) != 0)
			return -1;
	} else if (decimals > DECIMALS) {
		n = divide(n, power[decimals - DECIMALS]);
	} else if (n > udb_most / power[DECIMALS - decimals]) {
		return -1;
	} else {
		n *= power[DECIMALS - decimals];
	}
	*udb = with_sign(n, *f.p == '-');
	return 0;
}

int
db_from(double db, int64_t *udb)
{
	double scaled = db * DB_ONE, rest;
	int64_t n;

	if (!(scaled >= -(double)udb_most && scaled <= (double)udb_most))
		return -1;
	n = (int64_t)scaled;
	rest = scaled - (double)n; /* exact: both are doubles close together */
	*udb = n + (rest >= 0.5) - (rest <= -0.5);
	return 0;
}

double
db_to(int64_t udb)
{
	/*
	 * Up to 2^53 both are exact and the quotient is rounded once. Above it, whole decibels are
	 * exact. The rest is a multiple of 10^-6 and never so close to half a unit of the sum that
	 * its own rounding changes the result.
	 */
	int64_t whole = udb / DB_ONE;

	if (size_of(udb) <= (uint64_t)1 << 53)
		return (double)udb / DB_ONE;
	return (double)whole + (double)(udb % DB_ONE) / DB_ONE;
}

int
db_add(int64_t *sum, int64_t udb)
{
	if (*sum == DB_NONE || udb == DB_NONE)
		return -1;
	if (udb > 0 ? *sum > INT64_MAX - udb : *sum < -INT64_MAX - udb)
		return -1;
	*sum += udb;
	return 0;
}

int
db_times(int64_t udb, int64_t times_u, int64_t *out)
{
	uint128 product = (uint128)size_of(udb) * size_of(times_u);

	product = (product + DB_ONE / 2) / DB_ONE;
	if (udb == DB_NONE || times_u == DB_NONE || product > INT64_MAX)
		return -1;
	*out = with_sign((uint64_t)product, (udb < 0) != (times_u < 0));
	return 0;
}

size_t
db_fixed(char dst[DB_FIXED], int64_t udb, int places)
{
	assert(places >= 0 && places <= DECIMALS);
	return num_scaled(dst, divide(size_of(udb), power[DECIMALS - places]), places, udb < 0);
}
