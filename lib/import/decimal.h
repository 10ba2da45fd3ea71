/*
 * decimal: numbers as people and machines of any country write them, exactly. A double would lose
 * digits; here every digit read is there when it is written.
 *
 *	struct decimal d = { .digits = { NULL, 0, 0 } };
 *	struct decimal_style german = { ',', DECIMAL_POINT };
 *	const char *why = decimal_read(field, &german, &d);
 *
 *	if (why == NULL) {
 *		decimal_times(&d, 3048, -4);
 *		decimal_write(&d, &out);
 *	}
 *	decimal_free(&d);
 */
#ifndef THRUM_IMPORT_DECIMAL_H
#define THRUM_IMPORT_DECIMAL_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"

/* what may stand between groups of three digits before the decimals */
enum {
	DECIMAL_NONE = '\0',
	DECIMAL_POINT = '.',
	DECIMAL_COMMA = ',',
	DECIMAL_BLANK = ' ',       /* or a no-break (U+00A0), narrow (U+202F), thin (U+2009) one */
	DECIMAL_APOSTROPHE = '\'', /* or U+2019 */
};

struct decimal_style {
	char point; /* '.' or ',' */
	char grouping;
	unsigned char minus; /* ways to write a number below zero besides a sign before it */
};

enum { DECIMAL_BRACKETS = 1, DECIMAL_BEHIND = 2, DECIMAL_APART = 4 }; /* (1), 1-, - 1 */

/* digits * 10^exponent; start it as all zero; it may be used again */
struct decimal {
	bool negative;
	struct bytes digits; /* '0' to '9', the first is not '0' unless it is the only one */
	int64_t exponent;    /* -DECIMAL_EXPONENT to DECIMAL_EXPONENT, plus what is written out */
	struct bytes text;   /* room for the fault's text */
};

enum { DECIMAL_EXPONENT = 400 };

/*
 * The whole field as a number: an optional sign (+, - or U+2212), digits with an optional decimal
 * mark (a digit on at least one side), an optional exponent. Between digits before the mark the
 * style's grouping may stand, the same each time, every group behind it of three digits, the first
 * of one to three and not beginning with 0; or not at all. NULL, or why not, in a few words fit for a
 * message; then d is not a number.
 */
const char *decimal_read(struct field f, const struct decimal_style *style, struct decimal *d);

/* How many bytes at the start of the field are a number, of the longest kind decimal_read takes; blanks
   between the digits and a minus sign behind them count. */
size_t decimal_span(struct field f, const struct decimal_style *style);

/* d = d * factor * 10^power, exactly; factor from 1 to 10^18 - 1, power within +-40. */
void decimal_times(struct decimal *d, uint64_t factor, int power);

/* Rounds to at most so many (at least 1) significant digits, half away from zero. */
void decimal_round(struct decimal *d, size_t digits);

/* Takes away decimals that are all zero; false, with d unchanged, if they are not. */
bool decimal_to_whole(struct decimal *d);

/* Appends it: sign, digits, point, decimals; no exponent, no plus, no minus zero. */
void decimal_write(const struct decimal *d, struct bytes *out);

void decimal_free(struct decimal *d);

#endif
