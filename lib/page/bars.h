/*
 * bars: a picture in letters, for a terminal or a mail: a row for each thing, with its cells, a bar and
 * words behind it.
 *
 *	struct bars bars = { .limit = 0.1 };
 *
 *	bars_row(&bars, field_of("13 blue\t13 blue"), 0.042, false, field_of("0.042"));
 *	bars_write(&bars, title, verdict, 80, &out);
 */
#ifndef THRUM_PAGE_BARS_H
#define THRUM_PAGE_BARS_H

#include <stdbool.h>

#include "base/bytes.h"
#include "base/mem.h"

struct bars {
	struct bars_row *v;
	size_t n, cap;
	struct region text;
	struct bytes lines; /* below the rows */
	double limit;       /* marked across the bars; 0: none */
	bool ascii;         /* in no other letters, to be set before the first row */
};

/* One row: up to 8 cells with a TAB between, a bar of this length (0 or less: none), words; all copied. */
void bars_row(struct bars *b, struct field cells, double length, bool wrong, struct field words);

/* A line of words below the rows. */
void bars_line(struct bars *b, struct field words);

/* Title, verdict and rows, no line wider than `width` (40 and up). Frees b. */
void bars_write(
    struct bars *b, struct field title, struct field verdict, size_t width, struct bytes *out);

#endif
