#include "archive/index.h"

#include "archive/member.h"
#include "base/lower_bound.h"

enum {
	PART_HEAD = 8 + 8 + 8 + 2 + 1,
	ENTRY_HEAD = 2 + 2 + 1,
	END_HEAD = 5 * 8 + 4,
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
index_add(struct bytes *index, size_t rows, bool ends, const struct index_set *sets, size_t nkeys)
{
	size_t entry = index->n;
	unsigned char *start = (unsigned char *)bytes_room(
			  index, ENTRY_HEAD + nkeys * (1 + 4 * INDEX_HASHES)),
		      *p = put_little(start, 0, 2);

	p = put_little(p, rows, 2);
	*p++ = ends;
	for (size_t k = 0; k < nkeys; k++) {
		*p++ = (unsigned char)sets[k].n;
		for (size_t i = 0; sets[k].n != INDEX_ANY && i < sets[k].n; i++)
			p = put_little(p, sets[k].v[i], 4);
	}
	index->n += (size_t)(p - start);
	return entry;
}

void
index_put_size(struct bytes *index, size_t entry, size_t size)
{
	put_little((unsigned char *)index->p + entry, size - 1, 2);
}

/* The bytes of an entry of which n are there; 0 if it is none. */
static size_t
entry_bytes(const unsigned char *p, size_t n, size_t nkeys)
{
	size_t at = ENTRY_HEAD;

	if (n < ENTRY_HEAD || p[4] > 1)
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
		n = entry_bytes((const unsigned char *)left->p, left->n, nkeys);
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
index_parse(struct index_part *part, const unsigned char *own, size_t n)
{
	static const char wrong[] = "its index entries are wrong";
	size_t left = n, bytes;
	const unsigned char *p = own;

	if (n < PART_HEAD)
		return wrong;
	part->at.block = little(p, 8);
	part->at.offset = little(p + 8, 8);
	part->at.rows = little(p + 16, 8);
	part->left = (size_t)little(p + 24, 2);
	part->nkeys = p[26];
	part->p = p = own + PART_HEAD;
	left -= PART_HEAD;
	if (part->nkeys > PACK_KEYS || part->left == 0)
		return wrong;
	for (size_t i = 0; i < part->left; i++) {
		bytes = entry_bytes(p, left, part->nkeys);
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
	const unsigned char *p = part->p;

	if (part->left == 0)
		return false;
	part->left--;
	*entry = (struct index_entry){ part->at, (size_t)little(p, 2) + 1, (size_t)little(p + 2, 2),
		p[4] == 1, p + ENTRY_HEAD };
	pass(&part->at, p);
	p += ENTRY_HEAD;
	for (size_t k = 0; k < part->nkeys; k++)
		p += 1 + (*p == INDEX_ANY ? 0 : 4 * (size_t)*p);
	part->p = p;
	return true;
}

bool
index_may_have(
    const struct index_part *part, const struct index_entry *entry, size_t k, uint32_t hash)
{
	const unsigned char *p = entry->keys;

	if (k >= part->nkeys)
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
	put_little(p, end->crc, 4);
	own->n = 0;
	bytes_add(own, head, END_HEAD);
	add_line(own, "name", end->name);
	add_line(own, "night", end->night);
	add_line(own, "by", end->by);
	add_line(own, "columns", end->columns);
}

const char *
end_parse(struct pack_end *end, const unsigned char *own, size_t n)
{
	struct field text, line, name;

	if (n < END_HEAD)
		return "its counts are missing";
	*end = (struct pack_end){ little(own, 8), little(own + 8, 8), little(own + 16, 8),
		little(own + 24, 8), little(own + 32, 8), (uint32_t)little(own + 40, 4) };
	text = (struct field){ (const char *)own + END_HEAD, n - END_HEAD };
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
