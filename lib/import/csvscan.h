/*
 * csvscan: one line of an export, its end and its delimiters found in one pass.
 *
 *	struct csvscan scan = { .delimiter = ';', .quote = '"' };
 *
 *	csvscan_begin(&scan);
 *	while (!csvscan(&scan, line, n))
 *		read more behind it, n grows, or end there
 */
#ifndef THRUM_IMPORT_CSVSCAN_H
#define THRUM_IMPORT_CSVSCAN_H

#include <stdbool.h>
#include <stddef.h>

struct csvscan {
	char delimiter, quote; /* quote '\0': there is none */
	size_t *marks;         /* the offsets of the delimiters */
	size_t n, cap;
	size_t at;  /* scanned so far; at the end, the offset of the line feed */
	size_t nul; /* the offset of the first NUL, or SIZE_MAX */
	size_t cr;  /* the offset of the first CR, or SIZE_MAX */
	size_t first_quote, last_quote; /* their offsets, SIZE_MAX: there is none */
	bool tab;                       /* a TAB that is no delimiter was met */
	bool beyond;                    /* a byte from 0x80 up was met */
};

void csvscan_begin(struct csvscan *s);

/*
 * Goes on from s->at to the line feed, true, or to n, false. What was scanned must stay what it
 * was, wherever it may have moved. 64 bytes at a time with SSE2 where the compiler targets it.
 */
bool csvscan(struct csvscan *s, const char *line, size_t n);

/* The portable way of the above on every machine: the same answer, for tests to compare. */
bool csvscan_portable(struct csvscan *s, const char *line, size_t n);

void csvscan_free(struct csvscan *s);

#endif
