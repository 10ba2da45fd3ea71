/*
 * pair: which place read from one end is which read from the other.
 */
#ifndef THRUM_READINGS_PAIR_H
#define THRUM_READINGS_PAIR_H

#include <stddef.h>

/* a place, and how far another may lie from it to be the same */
struct pair_place {
	double at_m, reach_m;
	size_t other; /* pair_places: the place of the other list, or PAIR_NONE */
};

#define PAIR_NONE ((size_t)-1)

/*
 * Pairs places of two lists, each in rising order, one to one: two may be a pair if they are no further
 * apart than the greater reach of the two, and pairs do not cross, as places have one order along a
 * fibre. As many pairs as there can be; of all ways with as many, one with the least sum of distances. 0, or -1: more than PAIR_MOST places within reach of one another.
 *
 * Found by dynamic programming over both lists, in pieces that no pair can join; a piece takes time and
 * memory as its two lengths multiplied.
 */
int pair_places(struct pair_place *a, size_t na, struct pair_place *b, size_t nb);

enum { PAIR_MOST = 2000 };

/* a straight line y = offset + slope x */
struct pair_line {
	double offset, slope;
};

/*
 * The line with the least sum of squares in y through n points, at least two of different x (P. R.
 * Bevington and D. K. Robinson, Data Reduction and Error Analysis, 3rd ed., section 6.3), computed about
 * the means: 12 digits of the certified values of NIST's data set Norris.
 */
struct pair_line pair_fit(const double *x, const double *y, size_t n);

#endif
