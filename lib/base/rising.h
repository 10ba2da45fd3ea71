/*
 * rising: where a number has its place among numbers that rise.
 *
 *	size_t at = rising_32(v, n, x);
 *
 *	if (at < n && v[at] == x)
 *		it is there
 */
#ifndef THRUM_BASE_RISING_H
#define THRUM_BASE_RISING_H

#include <stddef.h>
#include <stdint.h>

/* How many of the n numbers of v are below x. */
#define RISING(name, type)                                                                         \
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

RISING(rising_32, uint32_t)
RISING(rising_size, size_t)

#endif
