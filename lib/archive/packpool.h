/*
 * packpool: the same work done on many items by all processors.
 *
 *	struct pool *pool = pool_open(pool_processors(), pack_one, batch);
 *
 *	pool_start(pool, 16);		pack_one(batch, 0 to 15, worker) is called meanwhile
 *	fill_the_next_batch();
 *	pool_wait(pool);
 *	pool_free(pool);
 *
 * What comes out depends on the items alone, never on which thread took which.
 */
#ifndef THRUM_ARCHIVE_PACKPOOL_H
#define THRUM_ARCHIVE_PACKPOOL_H

#include <stddef.h>

struct pool;

/* How many processors there are, at least 1. */
size_t pool_processors(void);

/*
 * work(arg, item, worker) is called for every item; `worker`, from 0 to threads - 1, is no other
 * call's at that moment. The caller's own thread is worker 0 and works within pool_wait; with 1
 * thread it is the only one. Where the system refuses a thread, fewer do the same.
 */
struct pool *
pool_open(size_t threads, void (*work)(void *arg, size_t item, size_t worker), void *arg);

/* Begins with items 0 to n - 1. What work touches belongs to it until pool_wait has returned. */
void pool_start(struct pool *p, size_t n);

/* Helps, and returns when all items are done; at once if nothing was started. */
void pool_wait(struct pool *p);

/* Waits and ends the threads; NULL is fine. */
void pool_free(struct pool *p);

#endif
