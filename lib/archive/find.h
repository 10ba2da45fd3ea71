/*
 * find: which packs lie where, told from the source's end, and which of a pack's data members may
 * hold what is wanted, told by its index.
 *
 *	find_packs(&finder);
 *	pack = find_pack(&finder, start);
 *	if (pack != NULL && find_begin(&finder, pack, data_at, keys, digest) == NULL)
 *		while (find_fill(&finder, &batch))
 *			use the batch
 */
#ifndef THRUM_ARCHIVE_FIND_H
#define THRUM_ARCHIVE_FIND_H

#include "archive/batch.h"
#include "archive/hashes.h"
#include "archive/source.h"

struct found_pack {
	uint64_t start, index_at, end_at, after; /* offsets in the source */
	struct pack_end end;                     /* without its texts */
	int version;
};

struct finder {
	const struct pack_source *source; /* known */
	struct err *err;
	struct codec *codec;
	struct wanted {
		struct field column;
		uint32_t hash;
		size_t key; /* of the present pack; PACK_KEYS or more: none */
	} * want;           /* of those on one column a row has to meet one */
	size_t nwant;
	bool skim;             /* nothing is wanted */
	struct hashes *hashes; /* those of the present pack's keys are wanted; NULL: not */

	/* all packs, in their order */
	bool walked;
	const char *fault;
	struct found_pack *packs;
	size_t n, cap;
	struct bytes headers; /* their header rows as their ends tell them, LF behind each, the last
				 pack's first; one that is that of the pack before it once only */
	size_t last_header;   /* where the last of them begins */
	bool untold;          /* some end does not tell */

	/* the present pack's index, of which all has been checked; read once more, bit by bit */
	struct found_pack *pack;       /* NULL: none that can be used */
	uint64_t at;                   /* offset in the source of the next index member */
	struct index_place next;       /* of the next data member */
	struct index_part part, whole; /* the latter: before any entry was taken */
	bool ends;                     /* the data member before that one ends in LF */
	struct index_entry entry;      /* the one read last */
	unsigned char *member;         /* an index or end member */
	unsigned char *members;        /* the data members found */
};

/* Finds all packs from the source's end, once. NULL, or why it cannot: a constant text. */
const char *find_packs(struct finder *f);
void find_free(struct finder *f);

/* Reads an end member; its texts live until the next call of find. NULL, or why it cannot. */
const char *find_end(struct finder *f, struct found_pack *pack, struct pack_end *end);

/* The pack that holds this offset; NULL: none was found. */
struct found_pack *find_pack(struct finder *f, uint64_t at);

/*
 * Goes to a pack, whose data members begin at offset `data_at`, which has these keys, and header
 * members of this CRC-32. NULL, or why its index cannot be used; finder.pack is NULL then.
 */
const char *find_begin(struct finder *f, struct found_pack *pack, uint64_t data_at,
    struct field keys, uint32_t digest);

/*
 * The first entry that is neither of a data member before `block` nor before `offset` in the pack;
 * both may only grow from call to call. NULL: there is none.
 */
const struct index_entry *find_entry(struct finder *f, uint64_t block, uint64_t offset);

/* Fills a cleared batch with data members that may hold what is wanted. false: no more are there. */
bool find_fill(struct finder *f, struct batch *b);

#endif
