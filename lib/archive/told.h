/*
 * told: what is to be said of packs when all has been read, as lines of text.
 *
 *	told_say(&told, "pack %d: cut off", 1);
 *	told_pack(&told, 1, &end);
 *	...
 *	told_doubles(&told);
 *	lines = told_lines(&told);
 *	told_free(&told);
 */
#ifndef THRUM_ARCHIVE_TOLD_H
#define THRUM_ARCHIVE_TOLD_H

#include "archive/index.h"

/* all zero: nothing */
struct told {
	struct bytes lines;
	size_t n;      /* lines, also those that were only counted, there being many */
	struct known { /* a pack, and what tells it from others */
		uint64_t number, marks[3];
	} * known;
	size_t nknown, cap_known;
};

/* One line. */
void told_say(struct told *t, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* There is a pack of this number that ends so. */
void told_pack(struct told *t, uint64_t number, const struct pack_end *end);

/* All packs are known: says which are there more than once. */
void told_doubles(struct told *t);

/* All lines; they live as long as t. */
struct field told_lines(struct told *t);

void told_free(struct told *t);

#endif
