/*
 * group: the points of a line and the elements of its link brought together: which point is which
 * element, and what lies so close that it has one loss.
 *
 *	struct groups g = { 0 };
 *
 *	groups_make(&g, &line, spots, nspots, length_km);
 *	for (size_t i = 0; i < g.n; i = g.v[i].end)
 *		if (group_sum(&g, &line, i, 0, ...))
 *			...
 *	groups_free(&g);
 */
#ifndef THRUM_READINGS_GROUP_H
#define THRUM_READINGS_GROUP_H

#include "readings/line.h"
#include "readings/loss.h"
#include "readings/spot.h"

/* a point, an element, or both; those from i up to v[i].end are one group if i begins one */
struct member {
	double at_m;
	const struct line_point *point; /* NULL: nothing was read there */
	const struct spot *spot;        /* NULL: no element is known there */
	size_t end;
};

struct groups {
	struct member *v;
	size_t n, cap;
};

/*
 * The members of a line by place. Where all elements outside the panels' dead zones were read, in sections
 * as long as they are drawn, the order says which point is which; else a point is the nearest element, one
 * to one, if it is not astray and at most 0.45 of the way to the next that is not inside the same dead zone.
 * Places of elements are drawn out to the length that was read if the link's is known and within a tenth.
 * Neighbours are one group if they are inside a dead zone of either end, unless each was
 * read by itself from all ends that were read.
 */
void groups_make(struct groups *g, const struct line *l, const struct spot *spots, size_t nspots,
    double length_km);

enum group_read { GROUP_NONE, GROUP_PART, GROUP_WHOLE };

/*
 * What was read from an end of the group that begins at i, as a sum; GROUP_WHOLE if the readings cover all
 * its members. A panel whose cord is too short is not read.
 */
enum group_read group_sum(const struct groups *g, const struct line *l, size_t i, int end,
    double noise_db, double linearity, struct known *sum);

void groups_free(struct groups *g);

#endif
