#include "base/bytes.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/mem.h"

int
field_order(struct field a, struct field b)
{
	size_t n = a.n < b.n ? a.n : b.n;
	int order = n > 0 ? memcmp(a.p, b.p, n) : 0;

	return order != 0 ? order : (a.n > b.n) - (a.n < b.n);
}

bool
field_same_word(struct field a, struct field b)
{
	size_t i = 0;

	while (i < a.n && i < b.n && byte_lower(a.p[i]) == byte_lower(b.p[i]))
		i++;
	return i == a.n && i == b.n;
}

struct field
field_cut(struct field *rest, char sep)
{
	struct field piece = *rest;
	const char *at = rest->n > 0 ? memchr(rest->p, sep, rest->n) : NULL;

	if (at == NULL) {
		*rest = (struct field){ NULL, 0 };
	} else {
		piece.n = (size_t)(at - rest->p);
		rest->p = at + 1;
		rest->n -= piece.n + 1;
	}
	return piece;
}

size_t
field_among(struct field list, char sep, struct field piece)
{
	for (size_t i = 0; list.p != NULL; i++)
		if (field_same(field_cut(&list, sep), piece))
			return i;
	return SIZE_MAX;
}

/*
 * The length of the character at s, of which n > 0 bytes are there; 0 if it is not well-formed.
 * The ranges of the second byte are those of the table in RFC 3629, section 4: they keep out
 * overlong forms, surrogates and what lies above U+10FFFF.
 */
static size_t
utf8_length(const unsigned char *s, size_t n)
{
	unsigned char low = 0x80, high = 0xbf;
	size_t length;

	if (s[0] < 0x80)
		return 1;
	if (s[0] < 0xc2 || s[0] > 0xf4)
		return 0;
	length = s[0] < 0xe0 ? 2 : s[0] < 0xf0 ? 3 : 4;
	if (n < length)
		return 0;
	if (s[0] == 0xe0)
		low = 0xa0;
	else if (s[0] == 0xed)
		high = 0x9f;
	else if (s[0] == 0xf0)
		low = 0x90;
	else if (s[0] == 0xf4)
		high = 0x8f;
	if (s[1] < low || s[1] > high)
		return 0;
	for (size_t i = 2; i < length; i++)
		if ((s[i] & 0xc0) != 0x80)
			return 0;
	return length;
}

size_t
utf8_fault(struct field f)
{
	const uint64_t high_bits = 0x8080808080808080u;
	const unsigned char *s = (const unsigned char *)f.p;
	size_t i = 0, length;
	uint64_t ascii[4];

	while (i < f.n) {
		if (f.n - i >= sizeof ascii) { /* 32 ASCII characters at once */
			memcpy(ascii, s + i, sizeof ascii);
			if (((ascii[0] | ascii[1] | ascii[2] | ascii[3]) & high_bits) == 0) {
				i += sizeof ascii;
				continue;
			}
		}
		if (f.n >= sizeof ascii[0]) { /* or eight, which may be the last ones */
			size_t from = f.n - i >= sizeof ascii[0] ? i : f.n - sizeof ascii[0];

			memcpy(ascii, s + from, sizeof ascii[0]);
			if ((ascii[0] & high_bits) == 0) {
				i = from + sizeof ascii[0];
				continue;
			}
		}
		length = utf8_length(s + i, f.n - i);
		if (length == 0)
			return i;
		i += length;
	}
	return f.n;
}

/* Whether byte i is of a control character of two bytes, U+0080 to U+009F: terminals obey some of them. */
static bool
is_c1(struct field f, size_t i)
{
	const unsigned char *s = (const unsigned char *)f.p;

	if (s[i] == 0xc2)
		return i + 1 < f.n && s[i + 1] >= 0x80 && s[i + 1] < 0xa0;
	return s[i] >= 0x80 && s[i] < 0xa0 && i > 0 && s[i - 1] == 0xc2;
}

size_t
field_escape(char *dst, struct field f, unsigned how)
{
	static const char hex[] = "0123456789abcdef";
	size_t bad = how & ESCAPE_NOT_UTF8 ? utf8_fault(f) : f.n;
	char *to = dst;

	for (size_t i = 0; i < f.n; i++) {
		unsigned char c = (unsigned char)f.p[i];

		if (c < 0x20 || c == 0x7f || i == bad ||
		    (c >= 0x80 && ((how & ESCAPE_NOT_ASCII) || is_c1(f, i)))) {
			*to++ = '\\';
			*to++ = 'x';
			*to++ = hex[c >> 4];
			*to++ = hex[c & 15];
		} else {
			if (c == '\\' && (how & ESCAPE_BACKSLASH))
				*to++ = '\\';
			*to++ = (char)c;
		}
		if (i == bad)
			bad = i + 1 + utf8_fault((struct field){ f.p + i + 1, f.n - i - 1 });
	}
	return (size_t)(to - dst);
}

void
bytes_grow(struct bytes *b, size_t n)
{
	if (n > SIZE_MAX - b->n)
		mem_none();
	b->p = mem_grow(b->p, &b->cap, b->n + n, 1);
}

void
bytes_add(struct bytes *b, const void *p, size_t n)
{
	if (n == 0)
		return;
	memcpy(bytes_room(b, n), p, n);
	b->n += n;
}

void
bytes_add_field(struct bytes *b, struct field f)
{
	bytes_add(b, f.p, f.n);
}

void
bytes_add_text(struct bytes *b, const char *s)
{
	bytes_add(b, s, strlen(s));
}

void
bytes_add_list(struct bytes *b, const struct field *f, size_t n, char sep)
{
	for (size_t i = 0; i < n; i++) {
		if (i > 0)
			bytes_add(b, &sep, 1);
		bytes_add_field(b, f[i]);
	}
}

void
bytes_add_formatted(struct bytes *b, const char *fmt, va_list args)
{
	va_list again;
	size_t need;
	int n;

	va_copy(again, args);
	n = vsnprintf(NULL, 0, fmt, again);
	va_end(again);
	if (n < 0 || (size_t)n >= SIZE_MAX - b->n) /* longer than an int can tell */
		mem_none();
	need = b->n + (size_t)n + 1; /* printf writes a NUL, which we do not count */
	if (need > b->cap)
		b->p = mem_grow(b->p, &b->cap, need, 1);
	vsnprintf(b->p + b->n, (size_t)n + 1, fmt, args);
	b->n += (size_t)n;
}

void
bytes_add_format(struct bytes *b, const char *fmt, ...)
{
	va_list args;

	va_start(args, fmt);
	bytes_add_formatted(b, fmt, args);
	va_end(args);
}

void
bytes_add_escaped(struct bytes *b, struct field f, unsigned how)
{
	if (f.n > SIZE_MAX / 4)
		mem_none();
	if (f.n > 0) /* an empty buffer has no place to begin at */
		b->n += field_escape(bytes_room(b, 4 * f.n), f, how);
}

void
bytes_add_clean(struct bytes *b, struct field f)
{
	bytes_add_escaped(b, f, ESCAPE_NOT_UTF8);
}

struct field
bytes_field(const struct bytes *b)
{
	return (struct field){ b->p, b->n };
}

void
bytes_free(struct bytes *b)
{
	free(b->p);
	*b = (struct bytes){ NULL, 0, 0 };
}
