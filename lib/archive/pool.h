/*
 * pool: the same work done on many items by all processors.
 *
 *	struct pool *pool = pool_open(pool_processors(), pack_one, ring);
 *
 *	while (fill(ring, n % 16)) {
 *		pool_add(pool, 1);		pack_one(ring, n, worker) is called meanwhile
 *		if (++n >= 16) {
 *			pool_wait(pool, n - 15);
 *			write_out(ring, (n - 16) % 16);
 *		}
 *	}
 *	pool_free(pool);
 *
 * What comes out depends on the items alone, never on which thread took which.
 */
#ifndef THRUM_ARCHIVE_POOL_H
#define THRUM_ARCHIVE_POOL_H

#include <stddef.h>

struct pool;

enum { POOL_MOST = 256 }; /* threads */

/* How many processors there are, from 1 to POOL_MOST. */
size_t pool_processors(void);

/*
 * work(arg, item, worker) is called for every item; `worker`, from 0 to threads - 1, is no other
 * call's at that moment. The caller's own thread is worker 0 and works within pool_wait; with 1
 * thread it is the only one. Where the system refuses a thread, fewer do the same. Signals are left
 * to the threads that were there before.
 */
struct pool *
pool_open(size_t threads, void (*work)(void *arg, size_t item, size_t worker), void *arg);

/*
 * n more items; they are numbered from 0 on, as they are added, and begun in that order. What work
 * touches for them belongs to it until pool_wait has returned.
 */
void pool_add(struct pool *p, size_t n);

/* Helps, and returns when the first n items ever added are done. */
void pool_wait(struct pool *p, size_t n);

/* Ends the threads; items not begun are dropped. NULL is fine. */
void pool_free(struct pool *p);

#endif
