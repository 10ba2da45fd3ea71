/*
 * lower_bound: where a number has its place among numbers that rise.
 *
 *	size_t at = lower_bound_32(v, n, x);
 *
 *	if (at < n && v[at] == x)
 *		it is there
 */
#ifndef THRUM_BASE_LOWER_BOUND_H
#define THRUM_BASE_LOWER_BOUND_H

#include <stddef.h>
#include <stdint.h>

/* How many of the n numbers of v are below x. */
#define LOWER_BOUND(name, type)                                                                    \
	static inline size_t name(const type *v, size_t n, type x)                                 \
	{                                                                                          \
		size_t low = 0;                                                                    \
                                                                                                   \
		while (low < n) {                                                                  \
			size_t middle = low + (n - low) / 2;                                       \
                                                                                                   \
			if (v[middle] < x)                                                         \
				low = middle + 1;                                                  \
			else                                                                       \
				n = middle;                                                        \
		}                                                                                  \
		return low;                                                                        \
	}

LOWER_BOUND(lower_bound_32, uint32_t)
LOWER_BOUND(lower_bound_size, size_t)

#endif
