/*
 * hashes: those of all keys in a pack, as its index tells them: without one of them the pack has no row
 * with that key.
 *
 *	struct hashes h = { .nkeys = 0 };
 *
 *	hashes_begin(&h);
 *	hashes_add(&h, &entry, nkeys);		for each entry of the index
 *	hashes_end(&h, &all);			all: text, 8 hexadecimal digits each, in their order
 *	h.many[k]: key k has too many of them, or not all are known
 *	hashes_free(&h);
 */
#ifndef THRUM_ARCHIVE_HASHES_H
#define THRUM_ARCHIVE_HASHES_H

#include "archive/index.h"

enum {
	HASHES_MOST = 16384, /* of one key; more are not kept */
	HASHES_DIGITS = 8,
};

struct hashes {
	size_t nkeys;
	bool many[PACK_KEYS];
	size_t n[PACK_KEYS], cap[PACK_KEYS];
	size_t sorted[PACK_KEYS]; /* so many of them are ascending, and each is there once */
	uint32_t *v[PACK_KEYS];
};

/* Forgets what it has, but not the memory for it. */
void hashes_begin(struct hashes *h);

void hashes_add(struct hashes *h, const struct index_entry *entry, size_t nkeys);

/* Appends the hashes of all keys that have not too many, ascending. */
void hashes_end(struct hashes *h, struct bytes *text);

void hashes_free(struct hashes *h);

#endif
