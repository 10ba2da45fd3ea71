/*
 * index: what index and end members hold as their own bytes (thrum-pack(5)), made and taken
 * apart.
 */
#ifndef THRUM_ARCHIVE_INDEX_H
#define THRUM_ARCHIVE_INDEX_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"

enum {
	PACK_KEYS = 16,            /* key columns at most */
	PACK_ROW_MOST = 64 << 20,  /* bytes of a row, its LF included */
	PACK_HEADER_PIECE = 32768, /* bytes of the header row in one member */
	PACK_TEXT_MOST = 4096,     /* bytes of name, night and by together, and of all key names */
	INDEX_HASHES = 64,         /* more in one data member become INDEX_ANY */
	INDEX_ANY = 255,
};

/* The hash of a key is made from its column's name first, then, for every row, from its field. */
uint32_t pack_key_start(struct field name);
uint32_t pack_key(uint32_t start, struct field value);

/* --- index ----------------------------------------------------------------------------------- */

/* the hashes of one key in one data member, ascending; all zero: none yet */
struct index_set {
	size_t n;      /* or INDEX_ANY */
	uint32_t last; /* the one added last: mostly the next one, too */
	uint32_t v[INDEX_HASHES];
};

void index_set_add(struct index_set *s, uint32_t hash);

/*
 * Appends the entry of a data member: rows that end in it, whether its last byte is LF, the hashes
 * of each key. Returns the entry's offset, at which the member's size is filled in once it is known.
 */
size_t
index_add(struct bytes *index, size_t rows, bool ends, const struct index_set *sets, size_t nkeys);
void index_put_size(struct bytes *index, size_t entry, size_t size);

/* Where in the pack an index member begins to tell; all zero but the offset for the first. */
struct index_place {
	uint64_t block, offset, rows;
};

/* true if they are the same place */
bool index_same(const struct index_place *a, const struct index_place *b);

/*
 * Makes the own bytes of the next index member out of as many entries at the front of *left as it
 * can hold, and moves *left and *at on. false if none are left.
 */
bool index_cut(struct field *left, size_t nkeys, struct index_place *at, struct bytes *own);

/* one data member, as its index entry tells */
struct index_entry {
	struct index_place at;
	size_t size; /* bytes of the member */
	size_t rows;
	bool ends;
	const unsigned char *keys;
};

/* an index member being read */
struct index_part {
	struct index_place at; /* of the next entry, or behind the last */
	size_t left;           /* entries */
	size_t nkeys;
	const unsigned char *p;
};

/* Checks own bytes wholly. NULL, or a constant text: what is wrong. They must outlive part. */
const char *index_parse(struct index_part *part, const unsigned char *own, size_t n);

/* The next entry; false if there is none left. */
bool index_next(struct index_part *part, struct index_entry *entry);

/* false: no row of which the data member holds a byte has this hash in key column k */
bool index_may_have(
    const struct index_part *part, const struct index_entry *entry, size_t k, uint32_t hash);

/* --- end ------------------------------------------------------------------------------------- */

struct pack_end {
	uint64_t length, index_at, blocks, rows, bytes;
	uint32_t crc;
	struct field name, night, by, columns; /* empty: not told */
};

void end_make(const struct pack_end *end, struct bytes *own);

/* NULL, or a constant text: what is wrong. The texts point into own. */
const char *end_parse(struct pack_end *end, const unsigned char *own, size_t n);

#endif
