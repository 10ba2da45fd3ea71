#include "route/pairs.h"

#include <stdlib.h>

#include "base/mem.h"

/* The place of the key, or the empty one where it belongs. */
static struct pair *
place_of(const struct pairs *p, uint64_t key)
{
	/* Fibonacci hashing (Knuth, TAOCP 3, 6.4) */
	for (size_t i = (size_t)((key * 0x9e3779b97f4a7c15u) >> 32);; i++) {
		struct pair *at = &p->v[i & (p->places - 1)];

		if (at->value == PAIRS_NONE || at->key == key)
			return at;
	}
}

static void
grow(struct pairs *p)
{
	struct pairs old = *p;

	p->places = old.places > 0 ? 2 * old.places : 64;
	p->v = mem_zeroed(p->places, sizeof *p->v);
	for (size_t i = 0; i < p->places; i++)
		p->v[i].value = PAIRS_NONE;
	for (size_t i = 0; i < old.places; i++)
		if (old.v[i].value != PAIRS_NONE)
			*place_of(p, old.v[i].key) = old.v[i];
	free(old.v);
}

uint32_t
pairs_put(struct pairs *p, uint64_t key, uint32_t value)
{
	struct pair *at;

	if (4 * (p->n + 1) > 3 * p->places)
		grow(p);
	at = place_of(p, key);
	if (at->value == PAIRS_NONE) {
		*at = (struct pair){ key, value };
		p->n++;
	}
	return at->value;
}

uint32_t
pairs_get(const struct pairs *p, uint64_t key)
{
	return p->n == 0 ? PAIRS_NONE : place_of(p, key)->value;
}

void
pairs_free(struct pairs *p)
{
	free(p->v);
	*p = (struct pairs){ .n = 0 };
}
