/*
 * num: decimal numbers from text and back, independent of the locale.
 *
 *	double mfd_um;
 *	char text[NUM_FIXED];
 *	size_t n;
 *
 *	if (num_parse(field, &mfd_um) != 0)
 *		return err_set(err, "%s", num_fault(field));
 *	n = num_fixed(text, mfd_um, 4);
 */
#ifndef THRUM_BASE_NUM_H
#define THRUM_BASE_NUM_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"

/*
 * The whole field as a number: an optional sign, digits with an optional point (a digit on at
 * least one side of it), an optional exponent (e or E, optional sign, digits). Nothing else: no
 * blanks, hexadecimal, "inf", "nan", grouping marks or units. An empty field is not a number.
 * Correctly rounded to the nearest double (ties to even): short decimals by one exact operation
 * (Clinger 1990, "How to read floating point numbers accurately", the fast case), all others by
 * the C library's strtod. Minus zero is read as zero. A magnitude above DBL_MAX is refused; one
 * below the smallest double becomes zero.
 * Returns 0, or -1 with *x untouched.
 */
int num_parse(struct field f, double *x);

/*
 * The whole field as a whole number: an optional sign and digits, nothing else.
 * Returns 0, or -1 with *n untouched (not a whole number, or beyond 64 bits).
 */
int num_whole(struct field f, int64_t *n);

/*
 * Why num_parse refuses this field, in a few words fit for a message ("decimal comma: write a
 * point", "number with something behind it", "Unicode minus sign (U+2212)", "no number", "blank
 * beside the number", "more than one number", "number too large", ...), or why num_whole does ("not
 * a whole number", "number too large"). Only for refused fields. A constant string.
 */
const char *num_fault(struct field f);

enum { NUM_PLACES = 15, NUM_FIXED = 1 + 309 + 1 + NUM_PLACES + 1 };

/*
 * x with exactly `places` decimals, 0 to NUM_PLACES, as printf("%.*f") in the C locale would write
 * it (correctly rounded on the exact binary value, ties to even), except that what rounds to zero
 * has no minus sign. x must be finite. Writes to dst and returns the length; adds no NUL.
 */
size_t num_fixed(char dst[NUM_FIXED], double x, int places);

enum { NUM_SCALED = 32 };

/*
 * n / 10^places with exactly `places` decimals, 0 to NUM_PLACES, with a minus sign before it if
 * `negative` and n is not 0; with 0 places it is a whole number. Exact. Writes to dst and returns
 * the length; adds no NUL.
 */
size_t num_scaled(char dst[NUM_SCALED], uint64_t n, int places, bool negative);

/* for code that reads numbers in another way */
static inline bool
num_is_digit(char c)
{
	return (unsigned)(c - '0') < 10;
}

/* how many digits f begins with */
static inline size_t
num_digits(struct field f)
{
	size_t n = 0;

	while (n < f.n && num_is_digit(f.p[n]))
		n++;
	return n;
}

/*
 * The text after the e of an exponent, all of [p, end): an optional sign and digits. Limited to
 * about +-10^18, which is more than any text has digits. False, with *exponent untouched, if it is
 * something else.
 */
bool num_exponent(const char *p, const char *end, int64_t *exponent);

#endif
