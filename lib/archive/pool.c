#include "archive/pool.h"

#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <unistd.h>

#include "base/mem.h"

struct pool {
	void (*work)(void *arg, size_t item, size_t worker);
	void *arg;
	pthread_mutex_t lock; /* of all below */
	pthread_cond_t more;  /* there is an item to take, or it is over */
	pthread_cond_t done;  /* an item is done */
	size_t n, next;       /* items added, and of them begun */
	bool over;
	size_t nthreads; /* the caller's is the first */
	struct pool_thread {
		pthread_t id;
		struct pool *pool;
		size_t worker;
		size_t item; /* being done; SIZE_MAX: none */
	} * threads;
};

size_t
pool_processors(void)
{
	long n = sysconf(_SC_NPROCESSORS_ONLN);

	return n < 1 ? 1 : n > POOL_MOST ? POOL_MOST : (size_t)n;
}

/* Does the next item. The lock is held on entry and on return. */
static void
do_next(struct pool *p, struct pool_thread *t)
{
	t->item = p->next++;
	pthread_mutex_unlock(&p->lock);
	p->work(p->arg, t->item, t->worker);
	pthread_mutex_lock(&p->lock);
	t->item = SIZE_MAX;
	pthread_cond_signal(&p->done);
}

static void *
run(void *arg)
{
	struct pool_thread *t = arg;
	struct pool *p = t->pool;

	pthread_mutex_lock(&p->lock);
	while (!p->over)
		if (p->next < p->n)
			do_next(p, t);
		else
			pthread_cond_wait(&p->more, &p->lock);
	pthread_mutex_unlock(&p->lock);
	return NULL;
}

struct pool *
pool_open(size_t threads, void (*work)(void *arg, size_t item, size_t worker), void *arg)
{
	struct pool *p = mem_zeroed(1, sizeof *p);
	sigset_t all, before;

	p->work = work;
	p->arg = arg;
	p->threads = mem_zeroed(threads, sizeof *p->threads);
	for (size_t i = 0; i < threads; i++)
		p->threads[i] = (struct pool_thread){ .pool = p, .worker = i, .item = SIZE_MAX };
	pthread_mutex_init(&p->lock, NULL);
	pthread_cond_init(&p->more, NULL);
	pthread_cond_init(&p->done, NULL);
	sigfillset(&all);
	pthread_sigmask(SIG_BLOCK, &all, &before); /* threads inherit the mask */
	p->nthreads = 1;
	while (p->nthreads < threads) {
		struct pool_thread *t = &p->threads[p->nthreads];

		if (pthread_create(&t->id, NULL, run, t) != 0)
			break;
		p->nthreads++;
	}
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	return p;
}

void
pool_add(struct pool *p, size_t n)
{
	pthread_mutex_lock(&p->lock);
	p->n += n;
	if (n == 1)
		pthread_cond_signal(&p->more);
	else
		pthread_cond_broadcast(&p->more);
	pthread_mutex_unlock(&p->lock);
}

static bool
are_done(const struct pool *p, size_t n)
{
	if (p->next < n)
		return false;
	for (size_t i = 0; i < p->nthreads; i++)
		if (p->threads[i].item < n)
			return false;
	return true;
}

void
pool_wait(struct pool *p, size_t n)
{
	pthread_mutex_lock(&p->lock);
	while (!are_done(p, n))
		if (p->next < p->n)
			do_next(p, &p->threads[0]);
		else
			pthread_cond_wait(&p->done, &p->lock);
	pthread_mutex_unlock(&p->lock);
}

void
pool_free(struct pool *p)
{
	if (p == NULL)
		return;
	pthread_mutex_lock(&p->lock);
	p->over = true;
	pthread_cond_broadcast(&p->more);
	pthread_mutex_unlock(&p->lock);
	for (size_t i = 1; i < p->nthreads; i++)
		pthread_join(p->threads[i].id, NULL);
	pthread_cond_destroy(&p->done);
	pthread_cond_destroy(&p->more);
	pthread_mutex_destroy(&p->lock);
	free(p->threads);
	free(p);
}
