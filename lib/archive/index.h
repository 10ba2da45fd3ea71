/*
 * index: what data, index and end members hold as their own bytes (thrum-pack(5)), made and taken
 * apart.
 */
#ifndef THRUM_ARCHIVE_INDEX_H
#define THRUM_ARCHIVE_INDEX_H

#include <stdbool.h>
#include <stdint.h>

#include "archive/member.h"
#include "base/bytes.h"

enum {
	PACK_KEYS = 16,             /* key columns at most */
	PACK_ROW_MOST = 64 << 20,   /* bytes of a row, its LF included */
	PACK_HEADER_MOST = 1 << 20, /* bytes of the header row, likewise */
	PACK_HEADER_PIECE = 32768,  /* bytes of the header row in one member */
	PACK_TEXT_MOST = 4096,      /* bytes of name, night and by together, and of all key names */
	INDEX_HASHES = 64,          /* more in one data member become INDEX_ANY */
	INDEX_ANY = 255,
	PLACE_BYTES = 21, /* own bytes of a data member */
	INDEX_HEAD = 9,   /* bytes of an entry before its keys */
};

/* The hash of a key is made from its column's name first, then, for every row, from its field. */
uint32_t pack_key_start(struct field name);
uint32_t pack_key(uint32_t start, struct field value);

/* --- places ---------------------------------------------------------------------------------- */

/* where in its pack a data member stands */
struct pack_place {
	uint64_t block;  /* its number, from 0 */
	uint64_t rows;   /* that end before it */
	uint32_t header; /* CRC-32 of the header row and its LF */
	bool begins;     /* a row begins with it */
};

void place_make(const struct pack_place *place, unsigned char own[PLACE_BYTES]);

/* Those of a data member of version 2. NULL, or a constant text: what is wrong. */
const char *place_parse(struct pack_place *place, const struct member *m);

/* --- index ----------------------------------------------------------------------------------- */

/* the hashes of one key in one data member, ascending; all zero: none yet */
struct index_set {
	size_t n;      /* or INDEX_ANY */
	uint32_t last; /* the one added last: mostly the next one, too */
	uint32_t v[INDEX_HASHES];
};

void index_set_add(struct index_set *s, uint32_t hash);

/* the entries of data members, as rows are cut into them; all zero but nkeys at the start */
struct index_maker {
	size_t nkeys;
	size_t n, rows; /* bytes in the present data member, rows that end in it */
	struct index_set sets[PACK_KEYS];
	struct bytes entries;
};

/*
 * Of the next n bytes of a row, which has these hashes, those that the present data member has room
 * for; it is full when maker.n is PAYLOAD_MOST.
 */
size_t index_take(struct index_maker *m, size_t n, const uint32_t *hashes);

/*
 * The present data member is complete: appends its entry and goes to the next. ends: its last byte
 * is LF. Returns the entry's offset in m->entries, where index_put fills in what is known later.
 */
size_t index_end(struct index_maker *m, bool ends);
void index_put(struct index_maker *m, size_t entry, size_t size, uint32_t crc);

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
	uint32_t crc;              /* of its payload; 0 in version 1 */
	const unsigned char *head; /* the entry's bytes before its keys */
	size_t head_n;
	const unsigned char *keys;
	size_t keys_n;
};

/* an index member being read */
struct index_part {
	struct index_place at; /* of the next entry, or behind the last */
	size_t left;           /* entries */
	size_t nkeys;
	int version;
	const unsigned char *p;
};

/* Checks an index member wholly. NULL, or a constant text: what is wrong. m must outlive part. */
const char *index_parse(struct index_part *part, const struct member *m);

/* The next entry; false if there is none left. */
bool index_next(struct index_part *part, struct index_entry *entry);

/* false: no row of which the data member holds a byte has this hash in key column k of nkeys */
bool index_may_have(const struct index_entry *entry, size_t nkeys, size_t k, uint32_t hash);

/* --- end ------------------------------------------------------------------------------------- */

struct pack_end {
	uint64_t length, index_at, blocks, rows, bytes;
	uint32_t crc;                          /* of all payloads */
	uint32_t digest;                       /* of all header and index members; 0 in version 1 */
	struct field name, night, by, columns; /* empty: not told */
};

void end_make(const struct pack_end *end, struct bytes *own);

/* NULL, or a constant text: what is wrong. The texts point into the member. */
const char *end_parse(struct pack_end *end, const struct member *m);

#endif
