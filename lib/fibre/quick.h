/*
 * quick: one link described by a few numbers, as a table of elements.
 *
 *	struct quick q = QUICK_NONE;
 *
 *	q.length_ukm = 12400000;
 *	q.joints = 6;
 *	if (quick_is_given(&q))
 *		quick_table(&q, &text);
 */
#ifndef THRUM_FIBRE_QUICK_H
#define THRUM_FIBRE_QUICK_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"

/* each -1: not given */
struct quick {
	int64_t length_ukm; /* 0 and up */
	int64_t joints, connectors;
	int64_t sections; /* of fibre, all of one length, 1 and up */
	int64_t splitter; /* its ways */
};

#define QUICK_NONE                                                                                 \
	{                                                                                          \
		-1, -1, -1, -1, -1                                                                 \
	}

/* true if anything that makes a link is given: sections alone do not */
bool quick_is_given(const struct quick *q);

/*
 * Into how many sections the fibre is divided: what is given, else by the joints. A joint beside an end
 * connector is a pigtail's and divides nothing: one of the first two connectors takes one joint each.
 */
int64_t quick_sections(const struct quick *q);

/* Appends a table of the elements of one link called "options" to text. */
void quick_table(const struct quick *q, struct bytes *text);

#endif
