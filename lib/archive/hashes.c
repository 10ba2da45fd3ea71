#include "archive/hashes.h"

#include <inttypes.h>
#include <stdlib.h>

#include "base/mem.h"

static int
ascending(const void *a, const void *b)
{
	uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;

	return x < y ? -1 : x > y;
}

/* Puts n numbers in order, each once; how many are left. */
static size_t
sort_once(uint32_t *v, size_t n)
{
	size_t left = 0;

	if (n > 0)
		qsort(v, n, sizeof *v, ascending);
	for (size_t i = 0; i < n; i++)
		if (left == 0 || v[left - 1] != v[i])
			v[left++] = v[i];
	return left;
}

void
hashes_begin(struct hashes *h)
{
	h->nkeys = 0;
	memset(h->many, 0, sizeof h->many);
	memset(h->n, 0, sizeof h->n);
	memset(h->sorted, 0, sizeof h->sorted);
}

static void
add(struct hashes *h, size_t k, const unsigned char *p, size_t n)
{
	h->v[k] = mem_grow(h->v[k], &h->cap[k], h->n[k] + n, sizeof *h->v[k]);
	for (size_t i = 0; i < n; i++)
		h->v[k][h->n[k]++] = (uint32_t)little(p + 4 * i, 4);
	if (h->n[k] > 2 * h->sorted[k] + HASHES_MOST)
		h->sorted[k] = h->n[k] = sort_once(h->v[k], h->n[k]);
	h->many[k] |= h->sorted[k] > HASHES_MOST;
}

void
hashes_add(struct hashes *h, const struct index_entry *entry, size_t nkeys)
{
	const unsigned char *p = entry->keys;

	h->nkeys = nkeys;
	for (size_t k = 0; k < nkeys; k++) {
		size_t n = *p++;

		h->many[k] |= n == INDEX_ANY;
		if (n == INDEX_ANY)
			n = 0;
		if (!h->many[k])
			add(h, k, p, n);
		p += 4 * n;
	}
}

void
hashes_end(struct hashes *h, struct bytes *text)
{
	size_t n = 0, most = 1;
	uint32_t *all;

	for (size_t k = 0; k < h->nkeys; k++) {
		h->n[k] = sort_once(h->v[k], h->n[k]);
		h->many[k] |= h->n[k] > HASHES_MOST;
		most += h->n[k];
	}
	all = mem_zeroed(most, sizeof *all);
	for (size_t k = 0; k < h->nkeys; k++)
		for (size_t i = 0; i < h->n[k] && !h->many[k]; i++)
			all[n++] = h->v[k][i];
	n = sort_once(all, n);
	for (size_t i = 0; i < n; i++)
		bytes_add_format(text, "%08" PRIx32, all[i]);
	free(all);
}

void
hashes_free(struct hashes *h)
{
	for (size_t k = 0; k < PACK_KEYS; k++)
		free(h->v[k]);
}
