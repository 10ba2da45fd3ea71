#include "base/num.h"

#include <assert.h>
#include <float.h>
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/mem.h"

/* the powers of ten that a double holds exactly */
static const double power[] = { 1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12,
	1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22 };

static const uint64_t ten[] = { 1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000,
	1000000000, 10000000000, 100000000000, 1000000000000, 10000000000000, 100000000000000,
	1000000000000000 };

enum {
	POWER_MOST = 22,
	DIGITS_MOST = 19, /* as many digits always fit into 64 bits */
};

/* the whole numbers up to here are doubles, every one of them */
static const uint64_t whole_most = (uint64_t)1 << 53;

/* mantissa * 10^exponent with a single rounding, if that is possible */
static inline bool
exact(uint64_t mantissa, int64_t exponent, double *x)
{
	double whole;

	/* where doubles are computed with more than their own bits this would round twice */
	if (FLT_EVAL_METHOD != 0 || mantissa > whole_most || exponent < -POWER_MOST ||
	    exponent > POWER_MOST)
		return false;
	whole = (double)(int64_t)mantissa; /* from a signed one it is a single instruction */
	*x = exponent <= 0 ? whole / power[-exponent] : whole * power[exponent];
	return true;
}

/* the well-formed number without sign in f, by the C library */
static double
by_strtod(struct field f)
{
	char small[128], *copy = f.n < sizeof small ? small : mem_zeroed(f.n + 1, 1);
	double x;

	memcpy(copy, f.p, f.n);
	copy[f.n] = '\0';
	x = strtod(copy, NULL);
	if (copy != small)
		free(copy);
	return x;
}

bool
num_exponent(const char *p, const char *end, int64_t *exponent)
{
	bool negative = p < end && *p == '-';
	int64_t e = 0;

	if (p < end && (*p == '-' || *p == '+'))
		p++;
	if (p == end)
		return false;
	for (; p < end; p++) {
		if (!num_is_digit(*p))
			return false;
		if (e < INT64_C(100000000000000000))
			e = e * 10 + (*p - '0');
	}
	*exponent = negative ? -e : e;
	return true;
}

int
num_parse(struct field f, double *x)
{
	const char *p = f.p, *end, *start, *point = NULL;
	uint64_t mantissa = 0;
	int64_t exponent = 0, digits;
	double value;

	if (f.n == 0)
		return -1;
	end = p + f.n;
	p += *p == '-' || *p == '+';
	start = p;
	for (; p < end && num_is_digit(*p); p++)
		mantissa = mantissa * 10 + (uint64_t)(*p - '0');
	digits = p - start;
	if (p < end && *p == '.') {
		point = ++p;
		for (; p < end && num_is_digit(*p); p++)
			mantissa = mantissa * 10 + (uint64_t)(*p - '0');
		digits += p - point;
		exponent = point - p;
	}
	if (digits == 0)
		return -1;
	if (p < end) {
		int64_t written;

		if ((*p != 'e' && *p != 'E') || !num_exponent(p + 1, end, &written))
			return -1;
		exponent += written;
	}
	if (digits > DIGITS_MOST || !exact(mantissa, exponent, &value)) {
		value = by_strtod((struct field){ start, (size_t)(end - start) });
		if (!(value <= DBL_MAX))
			return -1;
	}
	/* 0 - 0 is +0: there is no minus zero */
	*x = *f.p == '-' ? 0 - value : value;
	return 0;
}

int
num_whole(struct field f, int64_t *n)
{
	bool negative = f.n > 0 && f.p[0] == '-';
	size_t i = f.n > 0 && (f.p[0] == '-' || f.p[0] == '+');
	uint64_t most = (uint64_t)INT64_MAX + negative, value = 0;

	if (i == f.n)
		return -1;
	for (; i < f.n; i++) {
		uint64_t digit = (uint64_t)(f.p[i] - '0');

		if (!num_is_digit(f.p[i]) || value > (most - digit) / 10)
			return -1;
		value = value * 10 + digit;
	}
	/* the lowest of all has no positive counterpart */
	*n = !negative ? (int64_t)value : value == 0 ? 0 : -(int64_t)(value - 1) - 1;
	return 0;
}

/* ---- why not ---------------------------------------------------------------------------- */

static bool
ends_with(struct field f, const char *s)
{
	return f.n >= strlen(s) && memcmp(f.p + f.n - strlen(s), s, strlen(s)) == 0;
}

static bool
holds(struct field f, const char *s)
{
	for (; f.n > 0; f.p++, f.n--)
		if (field_starts(f, s))
			return true;
	return false;
}

/* the field consists of nothing but bytes of the set */
static bool
only(struct field f, const char *set)
{
	for (size_t i = 0; i < f.n; i++)
		if (f.p[i] == '\0' || strchr(set, f.p[i]) == NULL)
			return false;
	return true;
}

static struct field
behind(struct field f, size_t n)
{
	return (struct field){ f.p + n, f.n - n };
}

/* a blank, TAB, and what spreadsheets put between digits: no-break, narrow, thin, zero-width */
static const char *const blanks[] = { " ", "\t", "\xc2\xa0", "\xe2\x80\xaf", "\xe2\x80\x89",
	"\xe2\x80\x87", "\xe2\x80\x8b" };

/* how many bytes of a blank stand at the start of f */
static size_t
blank_at(struct field f)
{
	for (size_t i = 0; i < sizeof blanks / sizeof blanks[0]; i++)
		if (field_starts(f, blanks[i]))
			return strlen(blanks[i]);
	return 0;
}

static bool
blank_at_end(struct field f)
{
	for (size_t i = 0; i < sizeof blanks / sizeof blanks[0]; i++)
		if (ends_with(f, blanks[i]))
			return true;
	return false;
}

static size_t
digits_at(struct field f, size_t i)
{
	size_t n = 0;

	while (i + n < f.n && num_is_digit(f.p[i + n]))
		n++;
	return n;
}

/* how many bytes at the start of f are a number; its exponent only if that is whole */
static size_t
number_at(struct field f)
{
	size_t i = f.n > 0 && (f.p[0] == '-' || f.p[0] == '+'), digits = digits_at(f, i), e;

	i += digits;
	if (i < f.n && f.p[i] == '.') {
		size_t more = digits_at(f, i + 1);

		if (digits + more > 0)
			i += 1 + more;
		digits += more;
	}
	if (digits == 0)
		return 0;
	if (i < f.n && (f.p[i] == 'e' || f.p[i] == 'E')) {
		e = i + 1;
		if (e < f.n && (f.p[e] == '-' || f.p[e] == '+'))
			e++;
		if (digits_at(f, e) > 0)
			i = e + digits_at(f, e);
	}
	return i;
}

/* "nan", "inf" or "infinity" in any case, and what some runtimes print for them: "1.#IND" */
static bool
is_not_finite(struct field f)
{
	static const char *const words[] = { "nan", "inf", "infinity" };

	if (holds(f, ".#"))
		return true;
	if (f.n > 0 && (f.p[0] == '-' || f.p[0] == '+'))
		f = behind(f, 1);
	for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
		if (field_same_word(f, field_of(words[i])))
			return true;
	return false;
}

/*
 * Digits in groups of three, behind blanks, apostrophes, commas or points: rest is what follows the
 * first digits. The last group may be decimals, of any length.
 */
static bool
is_grouped(struct field rest)
{
	static const char *const marks[] = { ",", ".", "'", "\xe2\x80\x99" };

	for (size_t groups = 0; rest.n > 0; groups++) {
		size_t mark = blank_at(rest), digits;

		for (size_t i = 0; mark == 0 && i < sizeof marks / sizeof marks[0]; i++)
			if (field_starts(rest, marks[i]))
				mark = strlen(marks[i]);
		digits = digits_at(rest, mark);
		rest = behind(rest, mark + digits);
		if (mark == 0 || digits == 0 || (digits != 3 && (rest.n > 0 || groups == 0)))
			return false;
	}
	return true;
}

/* a field that starts with a number of n bytes, and has more */
static const char *
fault_behind(struct field f, size_t n)
{
	struct field rest = behind(f, n);
	size_t sign = *f.p == '-' || *f.p == '+';
	bool whole = !holds((struct field){ f.p, n }, ".");

	if (only(rest, "-+"))
		return "sign behind the number";
	if (*rest.p == 'e' || *rest.p == 'E')
		if (only(behind(rest, 1), "-+"))
			return "exponent without digits";
	if (*rest.p == ',' && whole && (n = number_at(behind(rest, 1))) > 0 &&
	    num_is_digit(rest.p[1]) && n + 1 == rest.n && !holds(rest, "."))
		return "decimal comma: write a point";
	if (n == 1 && only((struct field){ f.p, 1 }, "0") && (*rest.p == 'x' || *rest.p == 'X'))
		return "hexadecimal number";
	if (is_grouped(behind(f, sign + digits_at(f, sign))))
		return "grouping marks in the number";
	if (*rest.p == '.')
		return "more than one decimal point";
	n = blank_at(rest);
	if (n == 0 && only((struct field){ rest.p, 1 }, ";,/|:+-"))
		n = 1;
	if (n > 0 && number_at(behind(rest, n)) > 0)
		return "more than one number";
	return "number with something behind it";
}

const char *
num_fault(struct field f)
{
	size_t n;

	if (f.n == 0)
		return "no number";
	if (field_starts(f, BYTES_BOM))
		return "byte-order mark before the number";
	if (blank_at(f) > 0 || blank_at_end(f))
		return only(f, " \t") ? "only blanks" : "blank beside the number";
	if (holds(f, "\xe2\x88\x92"))
		return "Unicode minus sign (U+2212)";
	if (field_starts(f, "\xe2\x80\x93") || field_starts(f, "\xe2\x80\x94"))
		return "dash in place of a minus sign";
	if (is_not_finite(f))
		return "not a finite number";
	n = number_at(f);
	if (n > 0 && n < f.n)
		return fault_behind(f, n);
	if (n == f.n) {
		double x;

		/* num_whole refuses these */
		if (num_parse(f, &x) == 0 && !only(f, "+-0123456789"))
			return "not a whole number";
		return "number too large";
	}
	for (size_t i = 0; i < f.n; i++)
		if (num_is_digit(f.p[i]))
			return "number with something before it";
	return "no number";
}

/* ---- writing ---------------------------------------------------------------------------- */

/* writes the lowest `digits` digits of n, the last before `end` */
static inline void
put_digits(char *end, uint64_t n, int digits)
{
	for (; digits >= 2; digits -= 2, n /= 100) {
		unsigned pair = (unsigned)(n % 100);

		*--end = (char)('0' + pair % 10);
		*--end = (char)('0' + pair / 10);
	}
	if (digits > 0)
		*--end = (char)('0' + n % 10);
}

/*
 * The eight decimal digits of n, below 10^8, as the eight bytes of a word, the first digit in the
 * lowest: halves, then pairs, then digits, all of a kind at once. The factors divide by 100 (10486 /
 * 2^20) and by 10 (103 / 2^10) exactly for numbers below 10^4 and 100.
 */
static inline uint64_t
eight_digits(uint32_t n)
{
	uint64_t x = n / 10000 | (uint64_t)(n % 10000) << 32, high;

	high = (x * 10486 >> 20) & 0x0000007f0000007fu;
	x = high | (x - high * 100) << 16;
	high = (x * 103 >> 10) & 0x000f000f000f000fu;
	return high | (x - high * 10) << 8;
}

/* the usual case of num_scaled: n below 10^8, at most 7 places; stores up to 17 bytes */
static inline size_t
small_scaled(char *dst, uint32_t n, int places)
{
	const uint64_t last = (uint64_t)1 << 63; /* so that of zeros one digit is left */
	uint64_t word = eight_digits(n);
	int digits = 8 - __builtin_ctzll(word | last) / 8;

	/* without a branch, which would be unpredictable */
	digits += (digits <= places) * (places + 1 - digits);
	word |= 0x3030303030303030u;
	bytes_put_word(dst, word >> 8 * (8 - digits));
	if (places == 0)
		return (size_t)digits;
	dst += digits - places;
	*dst = '.';
	bytes_put_word(dst + 1, word >> 8 * (8 - places));
	return (size_t)digits + 1;
}

__attribute__((noinline)) static size_t
long_scaled(char *dst, uint64_t n, int places)
{
	uint64_t whole = n / ten[places];
	char *p = dst;
	int digits = 1;

	for (uint64_t unit = 10; digits < 20 && whole >= unit; unit *= 10)
		digits++;
	p += digits;
	put_digits(p, whole, digits);
	if (places == 0)
		return (size_t)digits;
	*p = '.';
	p += 1 + places;
	put_digits(p, n % ten[places], places);
	return (size_t)(p - dst);
}

/* as num_scaled */
static inline size_t
scaled_text(char *dst, uint64_t n, int places, bool negative)
{
	size_t sign = negative && n > 0;

	dst[0] = '-';
	if (n < 100000000 && places < 8)
		return sign + small_scaled(dst + sign, (uint32_t)n, places);
	return sign + long_scaled(dst + sign, n, places);
}

size_t
num_scaled(char dst[NUM_SCALED], uint64_t n, int places, bool negative)
{
	assert(places >= 0 && places <= NUM_PLACES);
	return scaled_text(dst, n, places, negative);
}

/* as num_fixed, by the C library */
__attribute__((noinline)) static size_t
by_printf(char *dst, double x, int places)
{
	size_t n = (size_t)snprintf(dst, NUM_FIXED, "%.*f", places, x);

	if (dst[0] == '-' && only((struct field){ dst + 1, n - 1 }, "0."))
		memmove(dst, dst + 1, --n);
	return n;
}

size_t
num_fixed(char dst[NUM_FIXED], double x, int places)
{
	double scaled;

	assert(places >= 0 && places <= NUM_PLACES);
	scaled = fabs(x) * power[places];
	if (scaled < 0x1p52) {
		uint64_t whole = (uint64_t)(int64_t)scaled;
		double half = (double)(int64_t)whole + 0.5;

		/*
		 * Half way between whole numbers there is a double as well, so that rounding the
		 * product may have led up to it but never past it: only there is the side unknown.
		 */
		if (scaled != half)
			return scaled_text(dst, whole + (scaled > half), places, x < 0);
	}
	return by_printf(dst, x, places);
}
