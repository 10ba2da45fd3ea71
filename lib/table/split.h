/*
 * split: where the bytes are that give a table its shape. A window is marked once, all at a time, and
 * the reader then only walks the marks.
 *
 *	struct marks marks = { 0 };
 *
 *	marks_room(&marks, n);
 *	split_marks(text, n, &marks);
 *	for (size_t i = 0; i < marks.n; i++)
 *		look(text[marks.at[i]]);
 *	marks_free(&marks);
 */
#ifndef THRUM_TABLE_SPLIT_H
#define THRUM_TABLE_SPLIT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct marks {
	uint32_t *at; /* the offset of every byte not above CR (0x0d), rising */
	size_t n;
	uint32_t *ends; /* of those, every LF */
	size_t nends;
	bool
	    odd; /* there are others than TAB and LF: CR, NUL or the rarer control bytes near them */
	size_t room;
};

/* Makes room for the marks of n bytes. */
void marks_room(struct marks *m, size_t n);
void marks_free(struct marks *m);

/*
 * Marks p[0] to p[n - 1]; n fits 32 bits and the room made. Uses SSE2 where the compiler targets it
 * (every x86-64), else 8 bytes at a time.
 */
void split_marks(const char *p, size_t n, struct marks *m);

/* The portable way of the above on every machine: the same answer, for tests to compare. */
void split_marks_portable(const char *p, size_t n, struct marks *m);

#endif
