#include "archive/packpool.h"

#include <pthread.h>
#include <stdbool.h>
#include <stdlib.h>
#include <unistd.h>

#include "base/mem.h"

struct pool {
	void (*work)(void *arg, size_t item, size_t worker);
	void *arg;
	pthread_mutex_t lock; /* of all below */
	pthread_cond_t more;  /* there is an item to take, or it is over */
	pthread_cond_t done;  /* the last item is done */
	size_t n, next, undone;
	bool over;
	size_t nthreads;
	struct pool_thread {
		pthread_t id;
		struct pool *pool;
		size_t worker;
	} * threads;
};

size_t
pool_processors(void)
{
	long n = sysconf(_SC_NPROCESSORS_ONLN);

	return n > 0 ? (size_t)n : 1;
}

/* Takes items as long as there are any. The lock is held on entry and on return. */
static void
take_items(struct pool *p, size_t worker)
{
	while (p->next < p->n) {
		size_t item = p->next++;

		pthread_mutex_unlock(&p->lock);
		p->work(p->arg, item, worker);
		pthread_mutex_lock(&p->lock);
		if (--p->undone == 0)
			pthread_cond_signal(&p->done);
	}
}

static void *
run(void *arg)
{
	struct pool_thread *t = arg;
	struct pool *p = t->pool;

	pthread_mutex_lock(&p->lock);
	while (!p->over) {
		take_items(p, t->worker);
		if (!p->over)
			pthread_cond_wait(&p->more, &p->lock);
	}
	pthread_mutex_unlock(&p->lock);
	return NULL;
}

struct pool *
pool_open(size_t threads, void (*work)(void *arg, size_t item, size_t worker), void *arg)
{
	struct pool *p = mem_zeroed(1, sizeof *p);

	p->work = work;
	p->arg = arg;
	p->threads = mem_zeroed(threads, sizeof *p->threads);
	pthread_mutex_init(&p->lock, NULL);
	pthread_cond_init(&p->more, NULL);
	pthread_cond_init(&p->done, NULL);
	while (p->nthreads + 1 < threads) {
		struct pool_thread *t = &p->threads[p->nthreads];

		*t = (struct pool_thread){ .pool = p, .worker = p->nthreads + 1 };
		if (pthread_create(&t->id, NULL, run, t) != 0)
			break;
		p->nthreads++;
	}
	return p;
}

void
pool_start(struct pool *p, size_t n)
{
	pthread_mutex_lock(&p->lock);
	p->n = p->undone = n;
	p->next = 0;
	pthread_cond_broadcast(&p->more);
	pthread_mutex_unlock(&p->lock);
}

void
pool_wait(struct pool *p)
{
	pthread_mutex_lock(&p->lock);
	take_items(p, 0);
	while (p->undone > 0)
		pthread_cond_wait(&p->done, &p->lock);
	pthread_mutex_unlock(&p->lock);
}

void
pool_free(struct pool *p)
{
	if (p == NULL)
		return;
	pool_wait(p);
	pthread_mutex_lock(&p->lock);
	p->over = true;
	pthread_cond_broadcast(&p->more);
	pthread_mutex_unlock(&p->lock);
	for (size_t i = 0; i < p->nthreads; i++)
		pthread_join(p->threads[i].id, NULL);
	pthread_cond_destroy(&p->done);
	pthread_cond_destroy(&p->more);
	pthread_mutex_destroy(&p->lock);
	free(p->threads);
	free(p);
}
