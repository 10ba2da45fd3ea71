/*
 * ids: keys to numbers 0, 1, 2 ... in order of first appearance. Used for groups,
 * for uniqueness and to look up rows of side tables.
 *
 *	struct ids closures = IDS_NONE;
 *	bool fresh;
 *	struct field key = row_field(&row, closure);
 *	size_t i = ids_add(&closures, &key, 1, &fresh);
 *
 * A key is one or more fields; fields hold no TAB, so a key is kept as its fields joined by TAB. Whatever
 * chosen keys, a key costs no more than some hundred slots looked at.
 */
#ifndef THRUM_TABLE_IDS_H
#define THRUM_TABLE_IDS_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/mem.h"

struct ids {
	struct id_slot *slots; /* a power of two of them, at most three quarters in use */
	size_t nslots;
	size_t reach;       /* how far behind the slot of its hash a key may stand */
	uint64_t secret[2]; /* of the hash; 0: the quick one without */
	struct field *keys;
	size_t n, cap;
	struct region text;
	struct bytes joined; /* the key being looked up, if it has more fields than one */
};

#define IDS_NONE                                                                                   \
	{                                                                                          \
		NULL, 0, 0, { 0, 0 }, NULL, 0, 0, { NULL, 0 },                                     \
		{                                                                                  \
			NULL, 0, 0                                                                 \
		}                                                                                  \
	}

/* The key's number, a new one if it has none; *fresh (may be NULL) says which. */
size_t ids_add(struct ids *ids, const struct field *key, size_t nfields, bool *fresh);

enum { IDS_MANY = 32 };

/*
 * The numbers of n keys of one field each, as ids_add one by one would give them. With more keys
 * than the cache holds this is several times as fast: it asks for the memory of IDS_MANY keys at once.
 */
void ids_add_many(struct ids *ids, const struct field *keys, size_t n, size_t *numbers);

/* The key's number, or SIZE_MAX. Not const, because it joins a key in `joined`. */
size_t ids_find(struct ids *ids, const struct field *key, size_t nfields);

/* The same for a key of one field. */
size_t ids_find_one(const struct ids *ids, struct field key);

/* The key of a number, its fields joined by TAB; lives as long as the ids. */
struct field ids_key(const struct ids *ids, size_t id);

/* Frees what finding and adding need: from now on there is only ids_key. */
void ids_seal(struct ids *ids);

void ids_free(struct ids *ids);

#endif
