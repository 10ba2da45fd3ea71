/*
 * member: one gzip member of a pack, made, taken apart and checked; the only place that knows
 * where its bytes lie. The format is thrum-pack(5).
 *
 *	struct member m;
 *	const char *fault = member_parse(&m, bytes, n);
 *
 *	if (fault == NULL)
 *		fault = member_verify(&m, codec, payload, &crc);
 *	if (fault != NULL)
 *		complain(fault);
 */
#ifndef THRUM_ARCHIVE_MEMBER_H
#define THRUM_ARCHIVE_MEMBER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "archive/codec.h"

enum {
	PACK_VERSION = 2,       /* of the packs that are made; those of version 1 are read */
	MEMBER_MOST = 65536,    /* bytes of a member */
	PAYLOAD_MOST = 65280,   /* bytes it unpacks to */
	OWN_MOST = 65280 - 10,  /* own bytes of a header, index or end member */
	MEMBER_SIGN = 16,       /* bytes by which a member is known */
	MEMBER_LEAST = 28,      /* bytes of the shortest member, the end marker */
	MEMBER_AROUND_OWN = 42, /* bytes of an index or end member beside its own */
	MEMBER_BC = 16,         /* bytes from the subfield BC of one without payload to its end */
};

enum member_kind {
	MEMBER_MARK, /* the end marker */
	MEMBER_HEADER = 'H',
	MEMBER_DATA = 'D',
	MEMBER_INDEX = 'I',
	MEMBER_END = 'E',
};

/* a member taken apart; it points into the bytes it was made from */
struct member {
	enum member_kind kind;
	int version;   /* of the format */
	uint32_t link; /* CRC-32 of the payloads before it in its pack; 0 in version 1 */
	const unsigned char *p;
	size_t size;              /* bytes of the whole member */
	const unsigned char *own; /* own bytes; NULL: none (end marker, data of version 1) */
	size_t own_n;
	size_t deflate_at; /* offset of the deflate data */
	size_t payload_n;  /* bytes it is to unpack to */
};

/* a fault: more bytes have to be there to tell (at most MEMBER_MOST) */
extern const char member_is_cut[];

/*
 * Takes apart the member at p, of which n bytes are there (there may be more behind it). All of its
 * structure is checked, and the CRC-32 of own bytes, but not its payload. NULL, or why it is none: a
 * constant text, member_is_cut if only bytes are missing.
 */
const char *member_parse(struct member *m, const unsigned char *p, size_t n);

/*
 * Unpacks the payload, m->payload_n bytes, to `payload` and checks it against its length and CRC-32,
 * which *crc becomes. NULL, or why it is damaged: a constant text.
 */
const char *
member_verify(const struct member *m, struct codec *codec, unsigned char *payload, uint32_t *crc);

/*
 * Writes a member to dst, which has room for MEMBER_MOST bytes, and returns its length; *crc becomes
 * the payload's CRC-32. own_n is at most OWN_MOST, payload_n at most PAYLOAD_MOST; a header member
 * may have no more than 48 KiB of both together. It is not sound before member_link.
 */
size_t member_make(unsigned char *dst, enum member_kind kind, const void *own, size_t own_n,
    const void *payload, size_t payload_n, struct codec *codec, uint32_t *crc);

/* Finishes a member made: sets the CRC-32 of the payloads before it. */
void member_link(unsigned char *dst, uint32_t link);

/*
 * The digest of header and index members, taken further by a member of version 2 and its payload. It
 * leaves out the CRC-32 of the own bytes, behind which a CRC-32 is the same whatever those are.
 */
uint32_t
member_digest(uint32_t digest, const unsigned char *member, const void *payload, size_t payload_n);

/* The end marker. */
extern const unsigned char member_mark[MEMBER_LEAST];

/* Little-endian numbers of `bytes` bytes, 1 to 8. put_little returns where it stopped. */
uint64_t little(const unsigned char *p, size_t bytes);
unsigned char *put_little(unsigned char *p, uint64_t x, size_t bytes);

#endif
