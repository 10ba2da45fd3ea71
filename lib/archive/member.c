#include "archive/member.h"

#include <string.h>

enum {
	EXTRA = 12,       /* offset of the extra field */
	OWN_HEAD = 6,     /* subfield's id and length, kind, version */
	LINK_BYTES = 4,   /* behind them, from version 2 on */
	OWN_TAIL = 4,     /* its CRC-32 */
	BC_BYTES = 6,     /* the subfield that holds the member's length */
	TRAILER = 8,      /* CRC-32 and length of the payload */
	EMPTY_DEFLATE = 2 /* deflate data of no bytes: 03 00 */
};

const char member_is_cut[] = "cut off";

static const unsigned char sign[10] = { 0x1f, 0x8b, 8, 4, 0, 0, 0, 0, 0, 0xff };
static const unsigned char bc[4] = { 'B', 'C', 2, 0 };
static const unsigned char own_id[2] = { 'T', 'P' };

const unsigned char member_mark[MEMBER_LEAST] = { 0x1f, 0x8b, 8, 4, 0, 0, 0, 0, 0, 0xff, 6, 0, 'B',
	'C', 2, 0, 0x1b, 0, 3 };

uint64_t
little(const unsigned char *p, size_t bytes)
{
	uint64_t x = 0;

	while (bytes-- > 0)
		x = x << 8 | p[bytes];
	return x;
}

unsigned char *
put_little(unsigned char *p, uint64_t x, size_t bytes)
{
	for (; bytes > 0; bytes--, x >>= 8)
		*p++ = (unsigned char)x;
	return p;
}

/* The own subfield, the first `room` bytes of the extra field. */
static const char *
parse_own(struct member *m, const unsigned char *p, size_t room)
{
	size_t n = room < OWN_HEAD + OWN_TAIL ? 0 : (size_t)little(p + 2, 2), head = OWN_HEAD;

	if (n == 0 || memcmp(p, own_id, sizeof own_id) != 0 || n + 4 != room)
		return "no subfield of a pack in it";
	if (little(p + n, 4) != codec_crc(0, p + 4, n - 4))
		return "CRC-32 of its subfield is wrong";
	m->kind = p[4];
	m->version = p[5];
	if (m->version < 1 || m->version > PACK_VERSION)
		return "a version of the format this program does not know";
	if (m->kind != MEMBER_HEADER && m->kind != MEMBER_INDEX && m->kind != MEMBER_END &&
	    (m->kind != MEMBER_DATA || m->version == 1))
		return "unknown kind of member";
	if (m->version > 1) {
		head += LINK_BYTES;
		if (n < head)
			return "its subfield is too short";
		m->link = (uint32_t)little(p + OWN_HEAD, LINK_BYTES);
	}
	m->own = p + head;
	m->own_n = n - head;
	return NULL;
}

const char *
member_parse(struct member *m, const unsigned char *p, size_t n)
{
	size_t extra_n;
	const char *fault;

	*m = (struct member){ .kind = MEMBER_DATA, .version = 1, .p = p };
	if (memcmp(p, sign, n < sizeof sign ? n : sizeof sign) != 0)
		return "no member of a pack";
	if (n < EXTRA)
		return member_is_cut;
	extra_n = (size_t)little(p + 10, 2);
	m->deflate_at = EXTRA + extra_n;
	if (extra_n < BC_BYTES || m->deflate_at + EMPTY_DEFLATE + TRAILER > MEMBER_MOST)
		return "no member of a pack";
	if (n < m->deflate_at)
		return member_is_cut;
	if (memcmp(p + m->deflate_at - BC_BYTES, bc, sizeof bc) != 0)
		return "no member of a pack";
	m->size = (size_t)little(p + m->deflate_at - 2, 2) + 1;
	if (m->size < m->deflate_at + EMPTY_DEFLATE + TRAILER)
		return "its length is wrong";
	if (extra_n > BC_BYTES) {
		fault = parse_own(m, p + EXTRA, extra_n - BC_BYTES);
		if (fault != NULL)
			return fault;
	}
	if (n < m->size)
		return member_is_cut;
	m->payload_n = (size_t)little(p + m->size - 4, 4);
	if (m->payload_n > PAYLOAD_MOST)
		return "its length is wrong";
	if (m->size == MEMBER_LEAST && memcmp(p, member_mark, MEMBER_LEAST) == 0)
		m->kind = MEMBER_MARK;
	else if ((m->payload_n > 0) != (m->kind == MEMBER_DATA || m->kind == MEMBER_HEADER))
		return "its length is wrong";
	return NULL;
}

const char *
member_verify(const struct member *m, struct codec *codec, unsigned char *payload, uint32_t *crc)
{
	const unsigned char *trailer = m->p + m->size - TRAILER;

	if (!codec_inflate(codec, m->p + m->deflate_at, m->size - TRAILER - m->deflate_at, payload,
		m->payload_n))
		return "its data do not unpack";
	*crc = codec_crc(0, payload, m->payload_n);
	return *crc == little(trailer, 4) ? NULL : "its CRC-32 is wrong";
}

size_t
member_make(unsigned char *dst, enum member_kind kind, const void *own, size_t own_n,
    const void *payload, size_t payload_n, struct codec *codec, uint32_t *crc)
{
	static const unsigned char nothing[EMPTY_DEFLATE] = { 3, 0 };
	unsigned char *p = dst + EXTRA, *length;

	memcpy(dst, sign, sizeof sign);
	memcpy(p, own_id, sizeof own_id);
	p = put_little(p + 2, OWN_HEAD - 4 + LINK_BYTES + own_n + OWN_TAIL, 2);
	*p++ = (unsigned char)kind;
	*p++ = PACK_VERSION;
	p += LINK_BYTES;
	if (own_n > 0)
		memcpy(p, own, own_n);
	p += own_n + OWN_TAIL;
	memcpy(p, bc, sizeof bc);
	length = p + sizeof bc;
	p += BC_BYTES;
	put_little(dst + 10, (uint64_t)(p - dst) - EXTRA, 2);
	if (payload_n > 0) {
		p += codec_deflate(codec, payload, payload_n, p);
	} else {
		memcpy(p, nothing, sizeof nothing);
		p += sizeof nothing;
	}
	*crc = codec_crc(0, payload, payload_n);
	p = put_little(p, *crc, 4);
	p = put_little(p, payload_n, 4);
	put_little(length, (uint64_t)(p - dst) - 1, 2);
	return (size_t)(p - dst);
}

void
member_link(unsigned char *dst, uint32_t link)
{
	unsigned char *own = dst + EXTRA;
	size_t n = (size_t)little(own + 2, 2);

	put_little(own + OWN_HEAD, link, LINK_BYTES);
	put_little(own + n, codec_crc(0, own + 4, n - 4), OWN_TAIL);
}

uint32_t
member_digest(uint32_t digest, const unsigned char *member, const void *payload, size_t payload_n)
{
	const unsigned char *own = member + EXTRA;

	digest = codec_crc(digest, own + 4, (size_t)little(own + 2, 2) - OWN_TAIL);
	return codec_crc(digest, payload, payload_n);
}
