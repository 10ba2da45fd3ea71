/*
 * find: which packs lie where, told from the source's end, and which of a pack's data members may
 * hold what is wanted, told by its index.
 *
 *	if (find_packs(&finder) == NULL && find_begin(&finder, start, data_at, keys) == NULL)
 *		while (find_fill(&finder, &batch))
 *			use the batch
 */
#ifndef THRUM_ARCHIVE_FIND_H
#define THRUM_ARCHIVE_FIND_H

#include "archive/batch.h"
#include "archive/source.h"

enum { WANTED_MOST = 16 };

struct found_pack {
	uint64_t start, index_at, end_at, after; /* offsets in the source */
	uint64_t blocks;                         /* data members */
};

struct finder {
	const struct pack_source *source; /* known */
	struct err *err;
	struct codec *codec;
	struct wanted {
		struct field column;
		uint32_t hash;
		size_t key; /* of the present pack; PACK_KEYS or more: none */
	} want[WANTED_MOST];
	size_t nwant;
	bool skim; /* nothing is wanted */

	/* all packs, in their order */
	bool walked;
	const char *fault;
	struct found_pack *packs;
	size_t n, cap;

	/* the present pack's index being read */
	const struct found_pack *pack; /* NULL: none */
	uint64_t at;                   /* offset in the source of the next index member */
	struct index_place next;       /* of the next data member */
	struct index_part part;
	bool before_ends;       /* the data member before that one ends in LF */
	unsigned char *member;  /* an index or end member */
	unsigned char *members; /* the data members found */
};

/* Finds all packs from the source's end, once. NULL, or why it cannot: a constant text. */
const char *find_packs(struct finder *f);
void find_free(struct finder *f);

/* Reads an end member; its texts live until the next call of find. NULL, or why it cannot. */
const char *find_end(struct finder *f, const struct found_pack *pack, struct pack_end *end);

/*
 * A pack that was found begins at `start`, with its data members at `data_at` and these keys: find_fill
 * is of it. NULL, or what is wrong with its index; finder.pack is NULL then, or if no such pack was
 * found.
 */
const char *find_begin(struct finder *f, uint64_t start, uint64_t data_at, struct field keys);

/* Fills a cleared batch with data members that may hold what is wanted. false: no more are there. */
bool find_fill(struct finder *f, struct batch *b);

#endif
