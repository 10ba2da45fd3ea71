/*
 * err: what went wrong, as one line of text for a person.
 *
 *	struct err err = { "" };
 *
 *	if (n < 0)
 *		return err_set(&err, "%s: count below zero: '%ld'", file, n);
 *
 * The first failure is kept: later ones usually follow from it. Nothing here prints; the program does,
 * once, at its end.
 */
#ifndef THRUM_BASE_ERR_H
#define THRUM_BASE_ERR_H

#include <stdbool.h>
#include <stddef.h>

struct err {
	char text[1000]; /* empty: nothing has gone wrong */
};

/*
 * Keeps the message unless one is kept already; a message too long for its room ends in "...".
 * Returns -1, so that callers may `return err_set(...)`.
 */
int err_set(struct err *e, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* true once anything has gone wrong */
static inline bool
err_is_set(const struct err *e)
{
	return e->text[0] != '\0';
}

/* How many of n bytes to show: up to 60, without cutting a character of UTF-8 in two. */
size_t err_cut(const void *bytes, size_t n);

enum { ERR_SHOWN = 60 * 4 + 4 };

/*
 * n bytes made fit to stand in a message: escaped as by ESCAPE_BACKSLASH, "..." for all beyond err_cut.
 * Writes to dst and returns it, a string.
 */
const char *err_show(char dst[ERR_SHOWN], const void *bytes, size_t n);

#endif
