/*
 * mem: memory, or the end of the program. This is one of the files that may print and exit: without
 * memory the program says so and ends with status 2.
 */
#ifndef THRUM_BASE_MEM_H
#define THRUM_BASE_MEM_H

#include <stddef.h>

#include "base/bytes.h"

/* n elements of `size` bytes, all zero; never NULL; free() gives them back */
void *mem_zeroed(size_t n, size_t size);

/*
 * Makes room for at least `need` elements of `size` bytes at p, of which *cap are there already;
 * doubles, so that growing one by one costs little. Returns where they are now. What is new is not
 * set to zero.
 */
void *mem_grow(void *p, size_t *cap, size_t need, size_t size);

/*
 * Loads the cache line at p, which will be read soon, while other work is done. Only a hint: p may be
 * any address.
 */
static inline void
mem_soon(const void *p)
{
#ifdef __GNUC__
	__builtin_prefetch(p);
#else
	(void)p;
#endif
}

/* no memory: says so on standard error in one write, removes unfinished outputs, ends the program with 2 */
_Noreturn void mem_none(void);

/*
 * A region: many small pieces that live equally long. Start it as { NULL, 0 }; pieces never move.
 */
struct region {
	struct region_block *last;
	size_t left; /* bytes free in the last block */
};

void *region_get(struct region *r, size_t n);               /* n bytes, aligned for anything */
struct field region_keep(struct region *r, struct field f); /* a copy that lives as long as r */
char *region_string(struct region *r, struct field f);      /* the same, NUL-terminated */
void region_free(struct region *r);

#endif
