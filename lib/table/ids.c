#include "table/ids.h"

#include <stdlib.h>

struct id_slot {
	uint32_t hash;
	uint32_t id; /* 1 more than the number; 0: empty */
};

/*
 * Eight bytes at a time by multiplying and folding. Good enough for keys that people type; keys chosen
 * on purpose to collide make it slow.
 */
static uint32_t
hash_of(struct field f)
{
	const uint64_t odd = 0x9e3779b97f4a7c15u; /* 2^64 / golden ratio (Knuth, TAOCP 3, 6.4) */
	uint64_t h = f.n * odd, word;
	size_t i = 0;

	for (; i + 8 <= f.n; i += 8) {
		word = bytes_word(f.p + i);
		h = (h ^ word) * odd;
		h ^= h >> 32;
	}
	word = 0;
	for (size_t shift = 0; i < f.n; i++, shift += 8)
		word |= (uint64_t)(unsigned char)f.p[i] << shift;
	h = (h ^ word) * odd;
	h ^= h >> 32;
	h *= odd;
	return (uint32_t)(h >> 32);
}

static struct field
join(struct ids *ids, const struct field *key, size_t nfields)
{
	if (nfields == 1)
		return key[0];
	ids->joined.n = 0;
	bytes_add_list(&ids->joined, key, nfields, '\t');
	return bytes_field(&ids->joined);
}

/* The slot that holds the key, or the empty one where it belongs. */
static struct id_slot *
find(const struct ids *ids, struct field key, uint32_t hash)
{
	for (size_t i = hash;; i++) {
		struct id_slot *s = &ids->slots[i & (ids->nslots - 1)];

		if (s->id == 0 || (s->hash == hash && field_same(ids->keys[s->id - 1], key)))
			return s;
	}
}

static void
grow(struct ids *ids)
{
	struct id_slot *old = ids->slots;
	size_t nold = ids->nslots;

	ids->nslots = nold > 0 ? nold * 2 : 16;
	ids->slots = mem_zeroed(ids->nslots, sizeof *ids->slots);
	for (size_t i = 0; i < nold; i++)
		if (old[i].id != 0)
			for (size_t j = old[i].hash;; j++)
				if (ids->slots[j & (ids->nslots - 1)].id == 0) {
					ids->slots[j & (ids->nslots - 1)] = old[i];
					break;
				}
	free(old);
}

static size_t
add(struct ids *ids, struct field key, uint32_t hash, bool *fresh)
{
	struct id_slot *s;

	if (ids->n + 1 > ids->nslots / 4 * 3)
		grow(ids);
	s = find(ids, key, hash);
	if (fresh != NULL)
		*fresh = s->id == 0;
	if (s->id == 0) {
		if (ids->n >= UINT32_MAX - 1)
			mem_none();
		ids->keys = mem_grow(ids->keys, &ids->cap, ids->n + 1, sizeof *ids->keys);
		ids->keys[ids->n++] = region_keep(&ids->text, key);
		*s = (struct id_slot){ hash, (uint32_t)ids->n };
	}
	return s->id - 1;
}

size_t
ids_add(struct ids *ids, const struct field *key, size_t nfields, bool *fresh)
{
	struct field k = join(ids, key, nfields);

	return add(ids, k, hash_of(k), fresh);
}

/* The number the key probably has, by its hash alone; 0 if it has none. */
static size_t
guess(const struct ids *ids, uint32_t hash)
{
	for (size_t i = hash;; i++) {
		const struct id_slot *s = &ids->slots[i & (ids->nslots - 1)];

		if (s->id == 0 || s->hash == hash)
			return s->id == 0 ? 0 : s->id - 1;
	}
}

void
ids_add_many(struct ids *ids, const struct field *keys, size_t n, size_t *numbers)
{
	uint32_t hashes[IDS_MANY];

	for (; n > IDS_MANY; n -= IDS_MANY, keys += IDS_MANY, numbers += IDS_MANY)
		ids_add_many(ids, keys, IDS_MANY, numbers);
	if (ids->nslots == 0)
		grow(ids);
	for (size_t i = 0; i < n; i++) {
		hashes[i] = hash_of(keys[i]);
		mem_soon(&ids->slots[hashes[i] & (ids->nslots - 1)]);
	}
	for (size_t i = 0; ids->n > 0 && i < n; i++) {
		numbers[i] = guess(ids, hashes[i]);
		mem_soon(&ids->keys[numbers[i]]);
	}
	for (size_t i = 0; ids->n > 0 && i < n; i++)
		mem_soon(ids->keys[numbers[i]].p);
	for (size_t i = 0; i < n; i++)
		numbers[i] = add(ids, keys[i], hashes[i], NULL);
}

size_t
ids_find_one(const struct ids *ids, struct field key)
{
	struct id_slot *s;

	if (ids->nslots == 0)
		return SIZE_MAX;
	s = find(ids, key, hash_of(key));
	return s->id == 0 ? SIZE_MAX : s->id - 1;
}

size_t
ids_find(struct ids *ids, const struct field *key, size_t nfields)
{
	return ids_find_one(ids, join(ids, key, nfields));
}

struct field
ids_key(const struct ids *ids, size_t id)
{
	return ids->keys[id];
}

void
ids_free(struct ids *ids)
{
	free(ids->slots);
	free(ids->keys);
	region_free(&ids->text);
	bytes_free(&ids->joined);
	*ids = (struct ids)IDS_NONE;
}
