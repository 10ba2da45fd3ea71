/*
 * spelling: the name that was probably meant, for "no column 'los_db'; nearest: loss_db".
 */
#ifndef THRUM_BASE_SPELLING_H
#define THRUM_BASE_SPELLING_H

#include <stddef.h>
#include <stdint.h>

#include "base/bytes.h"

enum { SPELLING_LONGEST = 100 };

/*
 * How many bytes have to be put in, taken out or replaced to make b out of a (Levenshtein 1966).
 * The case of ASCII letters is ignored. Anything above `most`, at most SPELLING_LONGEST, becomes
 * most + 1; so does every pair of which one is longer than SPELLING_LONGEST bytes.
 */
size_t spelling_edits(struct field a, struct field b, size_t most);

/*
 * The index of the one of have[0..n) that is nearest to `wanted`, or SIZE_MAX if none is near
 * enough to be offered. Near enough is, best first: what differs in letter case alone; what
 * contains the other in any letter case, both of at least 4 bytes; what is a few edits away: 1 for
 * a `wanted` of 3 or 4 bytes, 2 for up to 8, 3 for up to 12 and so on. Of equally near ones the one
 * nearest in length wins, then the first.
 */
size_t spelling_best(struct field wanted, const struct field *have, size_t n);

#endif
