/*
 * bytes: slices of memory that others own, and buffers that grow.
 */
#ifndef THRUM_BASE_BYTES_H
#define THRUM_BASE_BYTES_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

/* a slice: n bytes at p, never NUL-terminated, not owned */
struct field {
	const char *p;
	size_t n;
};

/* the slice of a string, without its NUL; the string must outlive it */
static inline struct field
field_of(const char *s)
{
	return (struct field){ s, strlen(s) };
}

/* equal byte for byte */
static inline bool
field_same(struct field a, struct field b)
{
	return a.n == b.n && (a.n == 0 || memcmp(a.p, b.p, a.n) == 0);
}

static inline bool
field_is(struct field f, const char *s)
{
	return field_same(f, field_of(s));
}

/* f begins with `start`, or with the string */
static inline bool
field_begins(struct field f, struct field start)
{
	return f.n >= start.n && (start.n == 0 || memcmp(f.p, start.p, start.n) == 0);
}

static inline bool
field_starts(struct field f, const char *s)
{
	return field_begins(f, field_of(s));
}

/* what is left of f behind its first n bytes, which it has */
static inline struct field
field_behind(struct field f, size_t n)
{
	return (struct field){ f.p + n, f.n - n };
}

/* A to Z in small letters; ASCII only, whatever the locale */
static inline char
byte_lower(char c)
{
	return c >= 'A' && c <= 'Z' ? (char)(c + ('a' - 'A')) : c;
}

/* equal but for the case of ASCII letters */
bool field_same_word(struct field a, struct field b);

/* the byte-order mark of UTF-8 */
#define BYTES_BOM "\xef\xbb\xbf"

/* eight bytes as a number, the first one lowest, on every machine; and back */
static inline uint64_t
bytes_word(const char *p)
{
	uint64_t word = 0;

#if defined __BYTE_ORDER__ && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
	memcpy(&word, p, sizeof word);
#else
	for (int i = 0; i < 8; i++)
		word |= (uint64_t)(unsigned char)p[i] << 8 * i;
#endif
	return word;
}

static inline void
bytes_put_word(char *p, uint64_t word)
{
#if defined __BYTE_ORDER__ && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__
	memcpy(p, &word, sizeof word);
#else
	for (int i = 0; i < 8; i++)
		p[i] = (char)(word >> 8 * i);
#endif
}

/* byte order, as strcmp gives; of two of which one begins with the other, the shorter comes first */
int field_order(struct field a, struct field b);

/*
 * Cuts the next piece, up to but without `sep`, off the front of *rest and returns it; at the last
 * piece *rest becomes { NULL, 0 }. Loop while rest.p is not NULL.
 */
struct field field_cut(struct field *rest, char sep);

/* The index of a piece in a list of pieces separated by `sep`, from 0; SIZE_MAX: not in it. */
size_t field_among(struct field list, char sep, struct field piece);

/* the offset of the first byte that is not part of well-formed UTF-8 (RFC 3629), or f.n if all is */
size_t utf8_fault(struct field f);

/* what field_escape writes as \xNN besides control bytes and DEL, and what it doubles */
enum { ESCAPE_NOT_UTF8 = 1, ESCAPE_NOT_ASCII = 2, ESCAPE_BACKSLASH = 4 };

/*
 * Writes f to dst, which has room for 4 f.n: control characters as \xNN, each byte; by the bits of `how` also
 * bytes that are not part of UTF-8, or all from 0x80; a backslash doubled. Returns the length; adds no
 * NUL.
 */
size_t field_escape(char *dst, struct field f, unsigned how);

/* a buffer that grows; start it as { NULL, 0, 0 } */
struct bytes {
	char *p;
	size_t n, cap;
};

/* Makes the buffer larger, so that n more bytes fit. Called by bytes_room if they do not. */
void bytes_grow(struct bytes *b, size_t n);

/* Room for n more bytes at the end; the caller writes there and adds to b->n what it has written. */
static inline char *
bytes_room(struct bytes *b, size_t n)
{
	if (n > b->cap - b->n)
		bytes_grow(b, n);
	return b->p + b->n;
}

void bytes_add(struct bytes *b, const void *p, size_t n);
void bytes_add_field(struct bytes *b, struct field f);
void bytes_add_text(struct bytes *b, const char *s);
void bytes_add_format(struct bytes *b, const char *fmt, ...) __attribute__((format(printf, 2, 3)));
void bytes_add_formatted(struct bytes *b, const char *fmt, va_list args)
    __attribute__((format(printf, 2, 0)));

/* f escaped as by `how`. */
void bytes_add_escaped(struct bytes *b, struct field f, unsigned how);

/* The same by ESCAPE_NOT_UTF8: for a table, of file names and other text that was not checked. */
void bytes_add_clean(struct bytes *b, struct field f);

void bytes_add_list(struct bytes *b, const struct field *f, size_t n, char sep); /* sep between */
struct field bytes_field(const struct bytes *b); /* valid until the buffer grows or is freed */
void bytes_free(struct bytes *b);

/*
 * A file that was compiled into the program, e.g. a table of reference figures. The rule in the
 * Makefile makes one for every lib/fibre/NAME.tsv, called NAME_tsv.
 */
struct blob {
	const char *name; /* the file's name, for messages */
	const unsigned char *p;
	size_t n;
};

#endif
