#include "archive/index.h"

#include "archive/member.h"
#include "base/lower_bound.h"

enum {
	PART_HEAD = 8 + 8 + 8 + 2 + 1,
	ENTRY_CRC = 4, /* from version 2 on; so is the digest of the end member */
	END_DIGEST = 4,
	END_HEAD = 5 * 8 + 4 + END_DIGEST,
};

uint32_t
pack_key_start(struct field name)
{
	return codec_crc(codec_crc(0, name.p, name.n), "\t", 1);
}

uint32_t
pack_key(uint32_t start, struct field value)
{
	return codec_crc(start, value.p, value.n);
}

/* --- places ---------------------------------------------------------------------------------- */

void
place_make(const struct pack_place *place, unsigned char own[PLACE_BYTES])
{
	unsigned char *p = put_little(own, place->block, 8);

	p = put_little(p, place->rows, 8);
	p = put_little(p, place->header, 4);
	*p = place->begins;
}

const char *
place_parse(struct pack_place *place, const struct member *m)
{
	const unsigned char *p = m->own;

	if (m->own_n != PLACE_BYTES || p[20] > 1)
		return "its own bytes are wrong";
	*place = (struct pack_place){ little(p, 8), little(p + 8, 8), (uint32_t)little(p + 16, 4),
		p[20] == 1 };
	return NULL;
}

/* --- index ----------------------------------------------------------------------------------- */

void
index_set_add(struct index_set *s, uint32_t hash)
{
	size_t at;

	if (s->n == INDEX_ANY || (s->n > 0 && s->last == hash))
		return;
	s->last = hash;
	at = lower_bound_32(s->v, s->n, hash);
	if (at < s->n && s->v[at] == hash)
		return;
	if (s->n == INDEX_HASHES) {
		s->n = INDEX_ANY;
		return;
	}
	memmove(s->v + at + 1, s->v + at, (s->n - at) * sizeof s->v[0]);
	s->v[at] = hash;
	s->n++;
}

size_t
index_take(struct index_maker *m, size_t n, const uint32_t *hashes)
{
	if (n > PAYLOAD_MOST - m->n)
		n = PAYLOAD_MOST - m->n;
	for (size_t k = 0; k < m->nkeys; k++)
		index_set_add(&m->sets[k], hashes[k]);
	m->n += n;
	return n;
}

size_t
index_end(struct index_maker *m, bool ends)
{
	size_t entry = m->entries.n;
	unsigned char *start = (unsigned char *)bytes_room(
			  &m->entries, INDEX_HEAD + m->nkeys * (1 + 4 * INDEX_HASHES)),
		      *p = put_little(start, 0, 2);

	p = put_little(p, m->rows, 2);
	*p++ = ends;
	p = put_little(p, 0, ENTRY_CRC);
	for (size_t k = 0; k < m->nkeys; k++) {
		struct index_set *set = &m->sets[k];

		*p++ = (unsigned char)set->n;
		for (size_t i = 0; set->n != INDEX_ANY && i < set->n; i++)
			p = put_little(p, set->v[i], 4);
		set->n = 0;
	}
	m->entries.n += (size_t)(p - start);
	m->n = m->rows = 0;
	return entry;
}

void
index_put(struct index_maker *m, size_t entry, size_t size, uint32_t crc)
{
	unsigned char *p = (unsigned char *)m->entries.p + entry;

	put_little(p, size - 1, 2);
	put_little(p + INDEX_HEAD - ENTRY_CRC, crc, ENTRY_CRC);
}

static size_t
head_bytes(int version)
{
	return version > 1 ? INDEX_HEAD : INDEX_HEAD - ENTRY_CRC;
}

/* The bytes of an entry of which n are there; 0 if it is none. */
static size_t
entry_bytes(const unsigned char *p, size_t n, size_t nkeys, int version)
{
	size_t at = head_bytes(version);

	if (n < at || p[4] > 1)
		return 0;
	for (size_t k = 0; k < nkeys; k++) {
		size_t hashes;

		if (at >= n)
			return 0;
		hashes = p[at++];
		if (hashes == INDEX_ANY)
			continue;
		if (hashes == 0 || hashes > INDEX_HASHES || n - at < 4 * hashes)
			return 0;
		for (size_t i = 1; i < hashes; i++)
			if (little(p + at + 4 * (i - 1), 4) >= little(p + at + 4 * i, 4))
				return 0;
		at += 4 * hashes;
	}
	return at;
}

bool
index_same(const struct index_place *a, const struct index_place *b)
{
	return a->block == b->block && a->offset == b->offset && a->rows == b->rows;
}

/* Moves on by one entry. */
static void
pass(struct index_place *at, const unsigned char *entry)
{
	at->block++;
	at->offset += little(entry, 2) + 1;
	at->rows += little(entry + 2, 2);
}

bool
index_cut(struct field *left, size_t nkeys, struct index_place *at, struct bytes *own)
{
	unsigned char head[PART_HEAD], *p = put_little(head, at->block, 8);
	size_t count = 0, n;

	p = put_little(p, at->offset, 8);
	p = put_little(p, at->rows, 8);
	own->n = 0;
	bytes_add(own, head, PART_HEAD);
	for (; left->n > 0; count++) {
		n = entry_bytes((const unsigned char *)left->p, left->n, nkeys, PACK_VERSION);
		if (own->n + n > OWN_MOST)
			break;
		bytes_add(own, left->p, n);
		pass(at, (const unsigned char *)left->p);
		left->p += n;
		left->n -= n;
	}
	p = put_little((unsigned char *)own->p + (p - head), count, 2);
	*p = (unsigned char)nkeys;
	return count > 0;
}

const char *
index_parse(struct index_part *part, const struct member *m)
{
	static const char wrong[] = "its index entries are wrong";
	const unsigned char *p = m->own;
	size_t left = m->own_n, bytes;

	if (left < PART_HEAD)
		return wrong;
	*part = (struct index_part){ .at = { little(p, 8), little(p + 8, 8), little(p + 16, 8) },
		.left = (size_t)little(p + 24, 2),
		.nkeys = p[26],
		.version = m->version,
		.p = p + PART_HEAD };
	p += PART_HEAD;
	left -= PART_HEAD;
	if (part->nkeys > PACK_KEYS || part->left == 0)
		return wrong;
	for (size_t i = 0; i < part->left; i++) {
		bytes = entry_bytes(p, left, part->nkeys, part->version);
		if (bytes == 0)
			return wrong;
		p += bytes;
		left -= bytes;
	}
	return left == 0 ? NULL : wrong;
}

bool
index_next(struct index_part *part, struct index_entry *entry)
{
	const unsigned char *p = part->p, *keys = p + head_bytes(part->version);

	if (part->left == 0)
		return false;
	part->left--;
	*entry = (struct index_entry){ .at = part->at,
		.size = (size_t)little(p, 2) + 1,
		.rows = (size_t)little(p + 2, 2),
		.ends = p[4] == 1,
		.crc = part->version > 1 ? (uint32_t)little(p + 5, 4) : 0,
		.head = p,
		.head_n = (size_t)(keys - p),
		.keys = keys };
	pass(&part->at, p);
	for (size_t k = 0; k < part->nkeys; k++)
		keys += 1 + (*keys == INDEX_ANY ? 0 : 4 * (size_t)*keys);
	entry->keys_n = (size_t)(keys - entry->keys);
	part->p = keys;
	return true;
}

bool
index_may_have(const struct index_entry *entry, size_t nkeys, size_t k, uint32_t hash)
{
	const unsigned char *p = entry->keys;

	if (k >= nkeys)
		return true;
	for (; k > 0; k--)
		p += 1 + (*p == INDEX_ANY ? 0 : 4 * (size_t)*p);
	if (*p == INDEX_ANY)
		return true;
	for (size_t i = 0; i < *p; i++)
		if (little(p + 1 + 4 * i, 4) == hash)
			return true;
	return false;
}

/* --- end ------------------------------------------------------------------------------------- */

static void
add_line(struct bytes *own, const char *name, struct field value)
{
	if (value.n == 0)
		return;
	bytes_add_text(own, name);
	bytes_add_text(own, "\t");
	bytes_add_field(own, value);
	bytes_add_text(own, "\n");
}

void
end_make(const struct pack_end *end, struct bytes *own)
{
	unsigned char head[END_HEAD], *p = put_little(head, end->length, 8);

	p = put_little(p, end->index_at, 8);
	p = put_little(p, end->blocks, 8);
	p = put_little(p, end->rows, 8);
	p = put_little(p, end->bytes, 8);
	p = put_little(p, end->crc, 4);
	put_little(p, end->digest, END_DIGEST);
	own->n = 0;
	bytes_add(own, head, END_HEAD);
	add_line(own, "name", end->name);
	add_line(own, "night", end->night);
	add_line(own, "by", end->by);
	add_line(own, "columns", end->columns);
}

const char *
end_parse(struct pack_end *end, const struct member *m)
{
	size_t head = m->version > 1 ? END_HEAD : END_HEAD - END_DIGEST;
	const unsigned char *p = m->own;
	struct field text, line, name;

	if (m->own_n < head)
		return "its counts are missing";
	*end = (struct pack_end){ little(p, 8), little(p + 8, 8), little(p + 16, 8),
		little(p + 24, 8), little(p + 32, 8), (uint32_t)little(p + 40, 4) };
	if (m->version > 1)
		end->digest = (uint32_t)little(p + 44, END_DIGEST);
	text = (struct field){ (const char *)p + head, m->own_n - head };
	while (text.p != NULL) {
		line = field_cut(&text, '\n');
		name = field_cut(&line, '\t');
		if (line.p == NULL)
			continue;
		if (field_is(name, "name"))
			end->name = line;
		else if (field_is(name, "night"))
			end->night = line;
		else if (field_is(name, "by"))
			end->by = line;
		else if (field_is(name, "columns"))
			end->columns = line;
	}
	return NULL;
}
