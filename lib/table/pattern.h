/*
 * pattern: regular expressions from outside, at a bounded cost.
 *
 *	char why[PATTERN_WHY];
 *	struct field part[PATTERN_GROUPS];
 *	struct pattern *p = pattern_compile(field_of("T([0-9]+)-F([0-9]+)"), why);
 *
 *	if (p == NULL)
 *		return err_set(err, "%s", why);
 *	if (pattern_matches(p, text, part))
 *		use(part[0], part[1]);
 *	pattern_free(p);
 *
 * The expressions are the extended ones of POSIX (XBD 9.4) in letters of UTF-8, without
 * back-references, equivalence classes and collating symbols, ranges by code point. They run on a
 * matcher of our own (Thompson 1968, with groups as Pike wrote it): it takes a step for each letter of
 * the text and each state of the expression, and all its memory when it is compiled. So there is no
 * text on which it takes long or runs out of memory, as the C library's does, and its answer is a
 * match or no match, nothing else. Of several ways to match, the groups are those of the first
 * alternative that leads to the end, each repeat taking as much as it can.
 */
#ifndef THRUM_TABLE_PATTERN_H
#define THRUM_TABLE_PATTERN_H

#include <stdbool.h>

#include "base/bytes.h"

enum { PATTERN_LONGEST = 500, PATTERN_LARGEST = 1000, PATTERN_GROUPS = 9, PATTERN_WHY = 160 };

struct pattern;

/*
 * NULL with why fit for a message: not a pattern, longer than PATTERN_LONGEST bytes, a back-reference,
 * or more than PATTERN_LARGEST parts once every {n} is written out.
 */
struct pattern *pattern_compile(struct field text, char why[PATTERN_WHY]);

size_t pattern_groups(const struct pattern *p);

/* Whether it is found anywhere in the text. Not const for its working memory: one thread at a time. */
bool pattern_found(struct pattern *p, struct field text);

/*
 * Whether it matches the whole text; if so, part (may be NULL) gets what each of the first PATTERN_GROUPS
 * groups holds, { NULL, 0 } where it took no part.
 */
bool pattern_matches(struct pattern *p, struct field text, struct field part[PATTERN_GROUPS]);

/* The letter at the start of f, which is not empty: how many bytes; what is no UTF-8 is one byte. */
size_t pattern_letter(struct field f, uint32_t *letter);

/* NULL is fine. */
void pattern_free(struct pattern *p);

#endif
