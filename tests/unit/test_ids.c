/*
 * ids: keys to numbers, against a plain list.
 */
#include "table/ids.h"

#include <stdlib.h>

#include "check.h"

static size_t
add(struct ids *ids, const char *text, bool *fresh)
{
	struct field key = field_of(text);

	return ids_add(ids, &key, 1, fresh);
}

static size_t
find(struct ids *ids, const char *text)
{
	struct field key = field_of(text);

	return ids_find(ids, &key, 1);
}

static void
numbers_in_order(void)
{
	static const char *const words[] = { "quoin", "", "fell", "quoi", "quoins", "Quoin" };
	enum { WORDS = sizeof words / sizeof words[0] };
	struct ids ids = IDS_NONE;
	bool fresh = false;

	CHECK(find(&ids, "quoin") == SIZE_MAX && find(&ids, "") == SIZE_MAX, "found in nothing");
	for (size_t round = 0; round < 3; round++)
		for (size_t i = 0; i < WORDS; i++) {
			CHECK(find(&ids, words[i]) == (round == 0 ? SIZE_MAX : i), "%s", words[i]);
			CHECK(add(&ids, words[i], &fresh) == i && fresh == (round == 0), "%s",
			    words[i]);
			CHECK(add(&ids, words[i], NULL) == i, "%s", words[i]);
			CHECK(field_is(ids_key(&ids, i), words[i]), "%s", words[i]);
		}
	CHECK(ids.n == WORDS && find(&ids, "cove") == SIZE_MAX, "%zu", ids.n);
	ids_free(&ids);
	CHECK(ids.n == 0 && find(&ids, "quoin") == SIZE_MAX, "not empty");
	CHECK(add(&ids, "again", &fresh) == 0 && fresh, "not fresh");
	ids_free(&ids);
}

/* there is room to search in at any number of keys: a search for what is not there ends */
static void
finds_nothing_at_any_size(void)
{
	struct ids ids = IDS_NONE;
	char text[20];

	for (size_t i = 0; i < 3000; i++) {
		CHECK(find(&ids, "not there") == SIZE_MAX, "%zu keys", i);
		sprintf(text, "%zu", i);
		add(&ids, text, NULL);
	}
	ids_free(&ids);
}

/* a key is kept, not borrowed */
static void
copies_keys(void)
{
	struct ids ids = IDS_NONE;
	char text[] = "tide-1";

	add(&ids, text, NULL);
	memcpy(text, "moor-1", sizeof text);
	CHECK(find(&ids, "tide-1") == 0 && find(&ids, text) == SIZE_MAX, "borrowed");
	CHECK(field_is(ids_key(&ids, 0), "tide-1"), "borrowed");
	ids_free(&ids);
}

static void
takes_any_bytes(void)
{
	struct ids ids = IDS_NONE;
	bool fresh, all_fresh = true;
	char long_text[100000];
	struct field nothing = { NULL, 0 };

	/* every string of zero to two bytes, most of them odd */
	for (int a = -1; a < 256; a++)
		for (int b = -1; b < (a < 0 ? 0 : 256); b++) {
			char text[2] = { (char)a, (char)b };
			struct field key = { text, (size_t)(a >= 0) + (b >= 0) };

			ids_add(&ids, &key, 1, &fresh);
			all_fresh &= fresh;
		}
	CHECK(all_fresh && ids.n == 1 + 256 + 65536, "%zu", ids.n);
	CHECK(ids_find(&ids, &nothing, 1) == 0 && ids_find_one(&ids, nothing) == 0, "not found");
	/* bytes alone tell keys apart, their number too */
	memset(long_text, 0, sizeof long_text);
	for (size_t n = 3; n < sizeof long_text; n = n * 3 / 2) {
		struct field key = { long_text, n };

		ids_add(&ids, &key, 1, &fresh);
		CHECK(fresh && ids_find_one(&ids, key) == ids.n - 1, "%zu bytes", n);
	}
	ids_free(&ids);
}

static void
joins_fields(void)
{
	const struct field pairs[][2] = { { { "a", 1 }, { "b", 1 } }, { { "ab", 2 }, { "", 0 } },
		{ { "", 0 }, { "ab", 2 } }, { { "", 0 }, { NULL, 0 } }, { { "a", 1 }, { "", 0 } } };
	enum { PAIRS = sizeof pairs / sizeof pairs[0] };
	const struct field three[3] = { { "a", 1 }, { "b", 1 }, { "", 0 } };
	struct ids ids = IDS_NONE;
	bool fresh;

	for (size_t round = 0; round < 2; round++)
		for (size_t i = 0; i < PAIRS; i++) {
			CHECK(ids_find(&ids, pairs[i], 2) == (round == 0 ? SIZE_MAX : i), "%zu", i);
			CHECK(ids_add(&ids, pairs[i], 2, &fresh) == i && fresh == (round == 0),
			    "%zu", i);
		}
	CHECK(field_is(ids_key(&ids, 0), "a\tb") && field_is(ids_key(&ids, 1), "ab\t") &&
		  field_is(ids_key(&ids, 2), "\tab") && field_is(ids_key(&ids, 3), "\t"),
	    "keys");
	CHECK(ids_add(&ids, three, 3, &fresh) == PAIRS && fresh, "a field more is another key");
	CHECK(ids_find(&ids, three, 1) == SIZE_MAX, "a field less is another key");
	ids_free(&ids);
}

/* every key is found, with the number it got, and its bytes have not moved or changed */
static void
holds_millions(void)
{
	enum { KEYS = 2000000 };
	struct ids ids = IDS_NONE;
	size_t bad = 0;
	char text[40];

	for (size_t i = 0; i < KEYS; i++) {
		struct field key = { text, (size_t)sprintf(text, "MOR-%zu", i) };
		bool fresh;

		bad += ids_add(&ids, &key, 1, &fresh) != i || !fresh;
	}
	CHECK(bad == 0 && ids.n == KEYS, "%zu wrong of %zu", bad, ids.n);
	for (size_t i = 0; i < KEYS; i++) {
		struct field key = { text, (size_t)sprintf(text, "MOR-%zu", i) };

		bad += ids_find_one(&ids, key) != i || !field_same(ids_key(&ids, i), key);
		text[0] = 'm';
		bad += ids_find_one(&ids, key) != SIZE_MAX;
	}
	CHECK(bad == 0, "%zu not found", bad);
	ids_free(&ids);
}

/* seeded random keys of few kinds, so that most are met again, against a plain list */
static void
agrees_with_a_list(void)
{
	enum { KINDS = 300, ROUNDS = 40000 };
	static char list[KINDS][16];
	struct ids ids = IDS_NONE;
	uint64_t state = 3;
	size_t n = 0;

	for (int i = 0; i < ROUNDS; i++) {
		uint64_t kind = (check_random(&state) >> 33) % KINDS;
		char text[16];
		size_t at = 0, got;
		bool fresh;

		/* of 7 to 9 bytes: about the 8 that are hashed at a time */
		sprintf(text, "%.*s%03d", 4 + (int)(kind % 3), "xxxxxxx", (int)kind);
		while (at < n && strcmp(list[at], text) != 0)
			at++;
		got = add(&ids, text, &fresh);
		CHECK(got == at && fresh == (at == n), "%s: %zu, want %zu", text, got, at);
		if (at == n)
			strcpy(list[n++], text);
	}
	CHECK(n == KINDS && ids.n == n, "%zu, %zu", n, ids.n);
	ids_free(&ids);
}

/*
 * Keys of one length that differ in a single byte, or bit, at one place: were any byte left out of
 * the hash they would all meet in one slot, and this would take minutes.
 */
static void
spreads_like_keys(void)
{
	struct ids ids = IDS_NONE;
	bool fresh, all_fresh = true;
	char text[64];

	for (size_t length = 1; length < sizeof text; length++)
		for (size_t at = 0; at < length; at++)
			for (int c = 1; c < 256; c++) {
				struct field key = { text, length };

				memset(text, '0', sizeof text);
				if (c == '0')
					continue;
				text[at] = (char)c;
				ids_add(&ids, &key, 1, &fresh);
				all_fresh &= fresh;
			}
	CHECK(all_fresh, "two keys taken for one");
	ids_free(&ids);
}

/* The quick hash backwards: the key of eight bytes whose 64 bits, before the last cut, are `end`. */
static void
key_of(uint64_t end, char key[8])
{
	const uint64_t odd = 0x9e3779b97f4a7c15u;
	uint64_t inverse = odd, h = end;

	for (int i = 0; i < 6; i++) /* Newton: 3, 6, 12 ... bits are right */
		inverse *= 2 - odd * inverse;
	h *= inverse;
	h ^= h >> 32;
	h *= inverse;
	h ^= h >> 32;
	h = (h * inverse) ^ (8 * odd);
	for (int i = 0; i < 8; i++)
		key[i] = (char)(h >> 8 * i);
}

/*
 * Keys chosen on purpose: all of one hash; of one slot; one behind the other, and looked for by keys
 * that are not there. Without a bound each of them takes minutes.
 */
static void
bears_chosen_keys(void)
{
	enum { KEYS = 200000 };
	static size_t numbers[KEYS];
	static struct field keys[KEYS];
	static char text[KEYS][8];

	for (int way = 0; way < 4; way++) {
		struct ids ids = IDS_NONE;
		size_t bad = 0;

		for (size_t i = 0; i < KEYS; i++) {
			uint64_t hash = way == 0 ? 7 : way == 1 ? i << 20 | 7 : i;

			key_of(hash << 32 | i, text[i]);
			keys[i] = (struct field){ text[i], 8 };
		}
		if (way == 3)
			ids_add_many(&ids, keys, KEYS, numbers);
		for (size_t i = 0; i < KEYS; i++)
			bad +=
			    ids_add(&ids, &keys[i], 1, NULL) != i || (way == 3 && numbers[i] != i);
		for (size_t i = 0; i < KEYS; i++)
			bad += ids_find_one(&ids, keys[i]) != i;
		CHECK(bad == 0 && ids.n == KEYS, "way %d: %zu wrong", way, bad);
		CHECK(way > 1 || ids.secret[0] != 0, "way %d: the hash is the quick one", way);
		for (uint64_t i = 0; i < KEYS; i++) {
			key_of(i | (uint64_t)1 << 31, text[0]);
			bad += ids_find_one(&ids, (struct field){ text[0], 8 }) != SIZE_MAX;
		}
		CHECK(bad == 0, "way %d: found what is not there", way);
		ids_free(&ids);
	}
}

int
main(void)
{
	RUN(numbers_in_order);
	RUN(finds_nothing_at_any_size);
	RUN(copies_keys);
	RUN(takes_any_bytes);
	RUN(joins_fields);
	RUN(holds_millions);
	RUN(agrees_with_a_list);
	RUN(spreads_like_keys);
	RUN(bears_chosen_keys);
	return check_done();
}
