#include "table/ids.h"

#include <stdlib.h>
#include <string.h>

#include "base/os.h"

struct id_slot {
	uint32_t hash;
	uint32_t id; /* 1 more than the number; 0: empty */
};

/*
 * A key stands at most REACH_MOST slots behind the one of its hash. Of two million ordinary keys none
 * stands 400 behind. Keys chosen on purpose would: when the first one does, all are placed anew by a
 * hash whose secret differs from run to run, so that no keys can be chosen for it. Numbers are in order
 * of first appearance and do not depend on the hash.
 */
enum { REACH_MOST = 512 };

/* Eight bytes at a time, multiplied and folded: fast, and good enough for keys that were not chosen. */
static uint32_t
quick_hash(struct field f)
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

static uint64_t
turn(uint64_t x, unsigned bits)
{
	return x << bits | x >> (64 - bits);
}

static void
sip_round(uint64_t v[4])
{
	v[0] += v[1];
	v[1] = turn(v[1], 13) ^ v[0];
	v[0] = turn(v[0], 32);
	v[2] += v[3];
	v[3] = turn(v[3], 16) ^ v[2];
	v[0] += v[3];
	v[3] = turn(v[3], 21) ^ v[0];
	v[2] += v[1];
	v[1] = turn(v[1], 17) ^ v[2];
	v[2] = turn(v[2], 32);
}

/* SipHash-1-3 (Aumasson and Bernstein 2012) of this secret, the upper half of it. */
static uint32_t
secret_hash(const uint64_t secret[2], struct field f)
{
	uint64_t v[4] = { secret[0] ^ 0x736f6d6570736575u, secret[1] ^ 0x646f72616e646f6du,
		secret[0] ^ 0x6c7967656e657261u, secret[1] ^ 0x7465646279746573u };
	uint64_t word;
	size_t i = 0;

	for (; i + 8 <= f.n; i += 8) {
		word = bytes_word(f.p + i);
		v[3] ^= word;
		sip_round(v);
		v[0] ^= word;
	}
	word = (uint64_t)f.n << 56;
	for (size_t shift = 0; i < f.n; i++, shift += 8)
		word |= (uint64_t)(unsigned char)f.p[i] << shift;
	v[3] ^= word;
	sip_round(v);
	v[0] ^= word;
	v[2] ^= 0xff;
	for (int round = 0; round < 3; round++)
		sip_round(v);
	return (uint32_t)((v[0] ^ v[1] ^ v[2] ^ v[3]) >> 32);
}

static uint32_t
hash_of(const struct ids *ids, struct field f)
{
	return ids->secret[0] == 0 ? quick_hash(f) : secret_hash(ids->secret, f);
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

static struct id_slot *
slot(const struct ids *ids, size_t i)
{
	return &ids->slots[i & (ids->nslots - 1)];
}

/* The slot that holds the key, or NULL. */
static struct id_slot *
find(const struct ids *ids, struct field key, uint32_t hash)
{
	for (size_t i = 0; i <= ids->reach; i++) {
		struct id_slot *s = slot(ids, hash + i);

		if (s->id == 0)
			return NULL;
		if (s->hash == hash && field_same(ids->keys[s->id - 1], key))
			return s;
	}
	return NULL;
}

/* Puts a new key into the first empty slot from that of its hash on. */
static void
put(struct ids *ids, struct id_slot fresh)
{
	size_t behind = 0;

	while (slot(ids, fresh.hash + behind)->id != 0)
		behind++;
	*slot(ids, fresh.hash + behind) = fresh;
	if (behind > ids->reach)
		ids->reach = behind;
}

static void
grow(struct ids *ids)
{
	struct id_slot *old = ids->slots;
	size_t nold = ids->nslots;

	ids->nslots = nold > 0 ? nold * 2 : 16;
	ids->slots = mem_zeroed(ids->nslots, sizeof *ids->slots);
	ids->reach = 0;
	for (size_t i = 0; i < nold; i++)
		if (old[i].id != 0)
			put(ids, old[i]);
	free(old);
}

/* The keys seem to be chosen: places all of them again, by the secret hash. */
static void
keep_secret(struct ids *ids)
{
	ids->secret[0] = os_random() | 1;
	ids->secret[1] = os_random();
	memset(ids->slots, 0, ids->nslots * sizeof *ids->slots);
	ids->reach = 0;
	for (size_t i = 0; i < ids->n; i++)
		put(ids, (struct id_slot){ hash_of(ids, ids->keys[i]), (uint32_t)i + 1 });
}

static size_t
add(struct ids *ids, struct field key, uint32_t hash, bool *fresh)
{
	struct id_slot *s;

	if (ids->n + 1 > ids->nslots / 4 * 3)
		grow(ids);
	s = find(ids, key, hash);
	if (fresh != NULL)
		*fresh = s == NULL;
	if (s != NULL)
		return s->id - 1;
	if (ids->n >= UINT32_MAX - 1)
		mem_none();
	ids->keys = mem_grow(ids->keys, &ids->cap, ids->n + 1, sizeof *ids->keys);
	ids->keys[ids->n++] = region_keep(&ids->text, key);
	put(ids, (struct id_slot){ hash, (uint32_t)ids->n });
	if (ids->reach > REACH_MOST && ids->secret[0] == 0)
		keep_secret(ids);
	return ids->n - 1;
}

size_t
ids_add(struct ids *ids, const struct field *key, size_t nfields, bool *fresh)
{
	struct field k = join(ids, key, nfields);

	return add(ids, k, hash_of(ids, k), fresh);
}

/* The probable number of a key, by its hash alone; 0: it has none. */
static size_t
guess(const struct ids *ids, uint32_t hash)
{
	for (size_t i = 0; i <= ids->reach; i++) {
		const struct id_slot *s = slot(ids, hash + i);

		if (s->id == 0)
			return 0;
		if (s->hash == hash)
			return s->id - 1;
	}
	return 0;
}

void
ids_add_many(struct ids *ids, const struct field *keys, size_t n, size_t *numbers)
{
	uint32_t hashes[IDS_MANY];
	uint64_t secret = ids->secret[0];

	for (; n > IDS_MANY; n -= IDS_MANY, keys += IDS_MANY, numbers += IDS_MANY)
		ids_add_many(ids, keys, IDS_MANY, numbers);
	if (ids->nslots == 0)
		grow(ids);
	for (size_t i = 0; i < n; i++) {
		hashes[i] = hash_of(ids, keys[i]);
		mem_soon(&ids->slots[hashes[i] & (ids->nslots - 1)]);
	}
	for (size_t i = 0; ids->n > 0 && i < n; i++) {
		numbers[i] = guess(ids, hashes[i]);
		mem_soon(&ids->keys[numbers[i]]);
	}
	for (size_t i = 0; ids->n > 0 && i < n; i++)
		mem_soon(ids->keys[numbers[i]].p);
	for (size_t i = 0; i < n; i++)
		numbers[i] = add(ids, keys[i],
		    secret == ids->secret[0] ? hashes[i] : hash_of(ids, keys[i]), NULL);
}

size_t
ids_find_one(const struct ids *ids, struct field key)
{
	struct id_slot *s;

	if (ids->nslots == 0)
		return SIZE_MAX;
	s = find(ids, key, hash_of(ids, key));
	return s == NULL ? SIZE_MAX : s->id - 1;
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
ids_seal(struct ids *ids)
{
	free(ids->slots);
	ids->slots = NULL;
	ids->nslots = 0;
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
