/*
 * part: a table as part of a report: the worst rows first, no more of them than can be read, no more
 * columns than a page is wide, estimates and one-way readings marked, what is wrong in bold with a mark.
 *
 *	struct part part;
 *
 *	if (part_open(&part, "joints.tsv", 40, &err) == 0)
 *		part_html(&part, &b);
 *	part_close(&part);
 */
#ifndef THRUM_PAGE_PART_H
#define THRUM_PAGE_PART_H

#include "table/hold.h"

/* what its rows say, counted */
struct part_counts {
	bool judged;                      /* it has a column `verdict` */
	size_t rows, pass, fail, unknown; /* of `verdict`: every other word is a failure */
	size_t over;                      /* a loss above the limit beside it */
	size_t not_due;                   /* of a closure only a part was asked for */
	size_t odd;                       /* what is judged by cannot be read */
	size_t waiting;                   /* set aside, or a question without an answer */
	int64_t missing;                  /* of its column `missing`, each closure once */
	size_t errors;                    /* rows of level error */
	size_t open, look; /* rows of a rework list: to open again, to read or correct */
};

struct part {
	struct table table;
	const char *path;
	struct part_counts counts;
	struct ids closures; /* that lack joints, and how many */
	int64_t *missing;
	size_t missing_cap;
	size_t *order, shown; /* the rows that are shown, the worst first */
	size_t *columns, n;   /* of its reader: those that are shown */
};

/* Reads the table, of which at most `most` rows are to be shown. 0, or -1 with err set. */
int part_open(struct part *p, const char *path, size_t most, struct err *err);
void part_close(struct part *p);

/* "7 pass, 1 fails, 2 unknown; 3 joints missing; 4 errors"; nothing if its rows say nothing. */
void part_says(const struct part *p, struct bytes *b);

void part_html(struct part *p, struct bytes *b);
void part_text(struct part *p, struct bytes *b);

#endif
