/*
 * pairs: whole numbers to numbers, for the few things of a large network that are out of order.
 *
 *	struct pairs causes = { .n = 0 };
 *
 *	pairs_put(&causes, end, finding);
 *	if (pairs_get(&causes, end) != PAIRS_NONE)
 *		...
 *	pairs_free(&causes);
 *
 * Start it all zero.
 */
#ifndef THRUM_ROUTE_PAIRS_H
#define THRUM_ROUTE_PAIRS_H

#include <stddef.h>
#include <stdint.h>

#define PAIRS_NONE UINT32_MAX

struct pairs {
	struct pair {
		uint64_t key;
		uint32_t value; /* PAIRS_NONE: an empty place */
	} * v;
	size_t n, places; /* places: a power of two, or 0 */
};

/* Gives the key this value, unless it has one: the value it has now. value is not PAIRS_NONE. */
uint32_t pairs_put(struct pairs *p, uint64_t key, uint32_t value);

/* The key's value, or PAIRS_NONE. */
uint32_t pairs_get(const struct pairs *p, uint64_t key);

void pairs_free(struct pairs *p);

#endif
