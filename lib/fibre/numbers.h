/*
 * numbers: a list of fibres as people write it, "1-24,37", in the order in which it is written: "24-1"
 * counts down.
 *
 *	struct numbers n = { NULL, 0, 0 };
 *	const char *why = numbers_read(&n, field_of("3-1,7"));	n.v is 3 2 1 7
 *	...
 *	numbers_free(&n);
 */
#ifndef THRUM_FIBRE_NUMBERS_H
#define THRUM_FIBRE_NUMBERS_H

#include <stddef.h>
#include <stdint.h>

#include "base/bytes.h"

enum { NUMBERS_MOST = 100000 }; /* the greatest number, and how many in one list */

struct numbers {
	int64_t *v;
	size_t n, cap;
};

/*
 * The text's numbers in place of those that were there; an empty text has none. NULL, or why it is no
 * such list, a constant string: blanks are not allowed, numbers are 1 to NUMBERS_MOST.
 */
const char *numbers_read(struct numbers *n, struct field text);

void numbers_free(struct numbers *n);

#endif
