#include "base/err.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/bytes.h"

enum { SHOWN = 60 };

/*
 * The most bytes of p, at most `most`, that do not cut a character of UTF-8 in two. Text that is
 * not UTF-8 loses three bytes at the most.
 */
static size_t
whole_characters(const char *p, size_t most)
{
	size_t n = most;

	while (n > 0 && most - n < 3 && ((unsigned char)p[n] & 0xc0) == 0x80)
		n--;
	return ((unsigned char)p[n] & 0xc0) == 0x80 ? most : n;
}

int
err_set(struct err *e, const char *fmt, ...)
{
	va_list args;
	size_t cut;
	int n;

	if (err_is_set(e))
		return -1;
	va_start(args, fmt);
	n = vsnprintf(e->text, sizeof e->text, fmt, args);
	va_end(args);
	if (n < 0) /* too long for printf itself: the format alone still helps */
		n = snprintf(e->text, sizeof e->text, "%s", fmt);
	if (n >= 0 && (size_t)n >= sizeof e->text) {
		cut = whole_characters(e->text, sizeof e->text - sizeof "...");
		memcpy(e->text + cut, "...", sizeof "...");
	}
	return -1;
}

size_t
err_cut(const void *bytes, size_t n)
{
	return n > SHOWN ? whole_characters(bytes, SHOWN) : n;
}

const char *
err_show(char dst[ERR_SHOWN], const void *bytes, size_t n)
{
	size_t most = err_cut(bytes, n);
	size_t length = field_escape(dst, (struct field){ bytes, most }, ESCAPE_BACKSLASH);

	memcpy(dst + length, most < n ? "..." : "", most < n ? 4 : 1);
	return dst;
}
