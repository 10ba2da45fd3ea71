/*
 * inside: what the files behind read.h share; nobody else includes it.
 *
 *	packread.c     the interface, and what comes next
 *	packbatch.c    the source's bytes into a batch of members, unpacked and checked
 *	packfind.c     which members may hold what is wanted, by the index
 *	packtake.c     members, sound or not, into rows, and what each means for its pack
 *	packtrouble.c  what was wrong, in words
 */
#ifndef THRUM_ARCHIVE_INSIDE_H
#define THRUM_ARCHIVE_INSIDE_H

#include "archive/member.h"
#include "archive/pool.h"
#include "archive/read.h"

enum { BATCH = 32, WANTED = 16, TROUBLES = 20, WINDOW = (BATCH + 1) * MEMBER_MOST };

/* a stretch that could not be read, up to the next sound member */
struct damage {
	uint64_t from, to; /* offsets in the source */
	const char *why;
	/* which data members it is, and where the rows lost begin and end, if the index tells */
	bool begins, ends;
	uint64_t block, block_end, rows, rows_end;
};

/* a member in the batch; its payload is u->out.p + out_at */
struct unit {
	struct member m;
	uint64_t at;       /* offset in the source */
	const char *fault; /* NULL: it is sound */
	size_t out_at;
	uint32_t crc;
	size_t rows;        /* LFs in the payload */
	bool jump;          /* found by the index: the member before it was not read ... */
	bool fresh;         /* ... and ends in LF */
	struct damage told; /* found by the index: what it would be if it were damaged */
};

/* which pack lies where, read from the back */
struct found_pack {
	uint64_t start, index_at, end_at, after; /* offsets in the source */
	uint64_t blocks;                         /* data members */
};

/* walks one pack's index */
struct cursor {
	const struct found_pack *pack;
	uint64_t at;             /* offset in the source of the next index member */
	struct index_place next; /* of the next data member */
	struct index_part part;
	bool before_ends;      /* the data member before that one ends in LF */
	bool lost;             /* the index is damaged from here on: every data member is read */
	uint64_t behind;       /* offset in the source behind the data member read last */
	unsigned char *member; /* holds the index member, or an end member */
};

enum place {
	BETWEEN, /* outside of packs: a header member is to come */
	IN_HEADER,
	IN_DATA,
	IN_INDEX,
	AT_MARK, /* only the end marker is missing */
};

struct unpack {
	struct pack_source source;
	struct err *err;
	size_t threads;
	struct pool *pool; /* NULL until there is work for it */
	size_t verified;   /* items it has done before this batch */
	struct codec **codecs;
	uint64_t limit, unpacked;

	/* the source's bytes: window[0] is that at offset `at`, those before `next` are done with */
	unsigned char *window;
	size_t n, next;
	uint64_t at;
	bool ended;

	/* members being gone through */
	struct unit units[BATCH];
	size_t nunits, unit;
	size_t most; /* to take into the next batch: grows as long as all goes well */

	/* payloads; the row being put together is out[row_at] to out[taken - 1] */
	struct bytes out;
	size_t row_at, taken;
	bool in_step; /* taken is where a row begins, or within one whose start is there */

	/* the present pack */
	enum place place;
	struct unpack_pack pack;
	struct bytes header, keys;
	bool has_header;      /* its columns are known */
	bool fits;            /* no member of it was out of place */
	struct pack_end seen; /* what has been read of it, to be compared with its end member */
	struct index_place index_next;
	bool index_seen;
	struct damage damage[TROUBLES];
	size_t ndamage;
	bool damaged;       /* the last one's end has not been reached */
	bool broken;        /* see unpack_in_order */
	uint64_t pack_from; /* where a pack has to begin */

	struct unpack_sum sum;
	bool begun;
	bool any_pack; /* a member of a pack has been seen */
	bool gzip;     /* it begins as gzip does */
	struct bytes trouble;
	size_t ntrouble;

	/* looking up */
	struct wanted {
		struct field column;
		uint32_t hash;
		size_t key; /* of the present pack; PACK_KEYS or more: none */
	} want[WANTED];
	size_t nwant;
	bool skim, finding;
	bool walked;
	const char *walk_fault;
	struct found_pack *found;
	size_t nfound, cap_found, find; /* find: the present one */
	struct cursor cursor;
	bool by_index; /* the present pack's data members come by its index */
};

/* packbatch.c */

/* Adds a member to the batch; NULL if it is full. */
struct unit *add_unit(struct unpack *u, const unsigned char *p, size_t n, uint64_t at);

/* The next batch, unpacked and checked. false: this pack or the source is over, or err is set. */
bool batch_load(struct unpack *u);

/*
 * Goes to the next bytes that look like a member, behind offset `after`, which still is in the
 * window.
 */
void batch_resume(struct unpack *u, uint64_t after);

/* packtake.c */

/* A member of the batch, sound or not. What it gives, or UNPACK_OVER if that is nothing. */
enum unpack_event take(struct unpack *u, const struct unit *unit, struct field *bytes);

/* The present pack's data members found by its index have all been taken. */
enum unpack_event take_found_over(struct unpack *u);

/* The source is over: what should have come? */
void take_over(struct unpack *u);

/* packfind.c */

/* Finds all packs from the source's end. NULL, or why it cannot. Does it once only. */
const char *find_packs(struct unpack *u);

/* Reads an end member found; its texts live until the next call. NULL, or why it cannot. */
const char *find_end(struct unpack *u, const struct found_pack *f, struct pack_end *end);

/*
 * The present pack's header is known, its first data member is at `data_at`: what is wanted of them
 * comes by the index from now on, if the pack was found.
 */
void find_start(struct unpack *u, uint64_t data_at);

/* Fills the batch with data members that may hold what is wanted. false: no more in this pack. */
bool find_fill(struct unpack *u);

/* packtrouble.c */

/* A line for unpack_trouble; after some of them they are only counted. */
void trouble(struct unpack *u, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* Nothing sound at this offset. */
void damage_begin(struct unpack *u, uint64_t from, const char *why);

/* A data member found by the index is damaged. */
void damage_found(struct unpack *u, const struct unit *unit);

/* A sound member at this offset: damage, if there is any, goes up to here. */
void damage_end(struct unpack *u, uint64_t to);

/* What an index member says about the damage met. */
void damage_name(struct unpack *u, struct index_part part);

/* Turns the present pack's damage into lines. end NULL: its end member is not known. */
void damage_tell(struct unpack *u, const struct pack_end *end);

#endif
