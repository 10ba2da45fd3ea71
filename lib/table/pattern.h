/*
 * pattern: regular expressions that somebody else wrote, compiled only if they stay small.
 *
 *	char why[PATTERN_WHY];
 *	regex_t regex;
 *
 *	if (pattern_compile(&regex, "T([0-9]+)-F([0-9]+)", 0, why) != 0)
 *		return err_set(err, "%s", why);
 *	...
 *	regfree(&regex);
 */
#ifndef THRUM_TABLE_PATTERN_H
#define THRUM_TABLE_PATTERN_H

#include <regex.h>

enum { PATTERN_LONGEST = 500, PATTERN_LARGEST = 1000, PATTERN_WHY = 160 };

/*
 * Compiles a POSIX extended regular expression (XBD 9.4); flags are those of regcomp besides
 * REG_EXTENDED. 0, or -1 with why fit for a message and nothing to free: not a pattern, longer than
 * PATTERN_LONGEST bytes, a back-reference, or more than PATTERN_LARGEST parts once every repeat is
 * written out, as C libraries do: that takes memory without bound ("(((a+)+)+)+" and so on).
 */
int pattern_compile(regex_t *regex, const char *text, int flags, char why[PATTERN_WHY]);

#endif
