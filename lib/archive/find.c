#include <stdlib.h>

#include "archive/inside.h"
#include "base/mem.h"

enum { TAIL = 4096 };

/* --- from the back --------------------------------------------------------------------------- */

/* Takes the end member at p apart. NULL, or why it cannot. */
static const char *
parse_end(struct unpack *u, const unsigned char *p, size_t n, struct pack_end *end)
{
	struct member m;
	const char *fault = member_parse(&m, p, n);
	unsigned char nothing;
	uint32_t crc;

	if (fault == NULL && (m.kind != MEMBER_END || m.size != n))
		fault = "no end member in its place";
	if (fault == NULL)
		fault = member_verify(&m, u->codecs[0], &nothing, &crc);
	return fault != NULL ? fault : end_parse(end, m.own, m.own_n);
}

/* The pack that ends at offset `after`. NULL, or why it cannot be had. */
static const char *
pack_before(struct unpack *u, uint64_t after, struct found_pack *f)
{
	unsigned char *tail = u->cursor.member;
	size_t n = after < TAIL ? (size_t)after : TAIL, size;
	const char *fault;
	struct pack_end end;

	if (n < MEMBER_LEAST + MEMBER_BC)
		return "it does not end as a pack does";
	if (!pack_source_all(&u->source, after - n, tail, n, u->err))
		return "it cannot be read";
	if (memcmp(tail + n - MEMBER_LEAST, member_mark, MEMBER_LEAST) != 0)
		return "it does not end as a pack does";
	size = (size_t)little(tail + n - MEMBER_LEAST - MEMBER_BC + 4, 2) + 1;
	if (size + MEMBER_LEAST > after)
		return "it does not end as a pack does";
	f->after = after;
	f->end_at = after - MEMBER_LEAST - size;
	if (size + MEMBER_LEAST > n) {
		if (!pack_source_all(&u->source, f->end_at, tail, size, u->err))
			return "it cannot be read";
		n = size + MEMBER_LEAST;
	}
	fault = parse_end(u, tail + n - MEMBER_LEAST - size, size, &end);
	if (fault != NULL)
		return fault;
	if (end.length > after || end.length < size + MEMBER_LEAST ||
	    end.index_at > end.length - size - MEMBER_LEAST)
		return "its end member is wrong";
	f->start = after - end.length;
	f->index_at = f->start + end.index_at;
	f->blocks = end.blocks;
	return NULL;
}

const char *
find_packs(struct unpack *u)
{
	uint64_t after = u->source.size;

	if (u->walked)
		return u->walk_fault;
	u->walked = true;
	while (u->walk_fault == NULL && after > 0) {
		u->found = mem_grow(u->found, &u->cap_found, u->nfound + 1, sizeof *u->found);
		u->walk_fault = pack_before(u, after, &u->found[u->nfound]);
		after = u->found[u->nfound].start;
		u->nfound += u->walk_fault == NULL;
	}
	for (size_t i = 0; i < u->nfound / 2; i++) {
		struct found_pack f = u->found[i];

		u->found[i] = u->found[u->nfound - 1 - i];
		u->found[u->nfound - 1 - i] = f;
	}
	return u->walk_fault;
}

const char *
find_end(struct unpack *u, const struct found_pack *f, struct pack_end *end)
{
	size_t n = (size_t)(f->after - MEMBER_LEAST - f->end_at);

	if (!pack_source_all(&u->source, f->end_at, u->cursor.member, n, u->err))
		return "it cannot be read";
	return parse_end(u, u->cursor.member, n, end);
}

/* --- by the index ---------------------------------------------------------------------------- */

void
find_start(struct unpack *u, uint64_t data_at)
{
	struct cursor *c = &u->cursor;
	size_t i = 0;

	while (i < u->nfound && u->found[i].start != u->pack.start)
		i++;
	if (i == u->nfound)
		return;
	u->find = i;
	u->by_index = true;
	u->unit = u->nunits = 0;
	u->most = 1;
	*c = (struct cursor){ .pack = &u->found[i], .member = c->member };
	c->at = c->pack->index_at;
	c->next.offset = data_at - c->pack->start;
	for (size_t w = 0; w < u->nwant; w++)
		u->want[w].key = field_among(u->pack.keys, '\t', u->want[w].column);
}

/* true if all data members that an index member tells of lie before the index */
static bool
lies_in_pack(struct index_part part, const struct found_pack *pack)
{
	struct index_entry entry;

	while (index_next(&part, &entry))
		;
	return part.at.offset <= pack->index_at - pack->start;
}

/* Reads the next index member. NULL, or why it cannot be used. */
static const char *
read_part(struct unpack *u)
{
	struct cursor *c = &u->cursor;
	uint64_t left = c->pack->end_at - c->at;
	size_t n = left < MEMBER_MOST ? (size_t)left : MEMBER_MOST;
	unsigned char nothing;
	const char *fault;
	struct member m;
	uint32_t crc;

	if (!pack_source_all(&u->source, c->at, c->member, n, u->err))
		return "it cannot be read";
	fault = member_parse(&m, c->member, n);
	if (fault == NULL && m.kind != MEMBER_INDEX)
		fault = "no index member in its place";
	if (fault == NULL)
		fault = member_verify(&m, u->codecs[0], &nothing, &crc);
	if (fault == NULL)
		fault = index_parse(&c->part, m.own, m.own_n);
	if (fault == NULL &&
	    (c->part.at.block != c->next.block || c->part.at.offset != c->next.offset ||
		c->part.at.rows != c->next.rows))
		fault = "its entries do not follow each other";
	if (fault == NULL && !lies_in_pack(c->part, c->pack))
		fault = "its entries reach beyond the data";
	c->at += m.size;
	return fault;
}

/* Where the index is damaged every data member is one that may hold what is wanted. */
static bool
without_index(struct unpack *u)
{
	struct cursor *c = &u->cursor;
	uint64_t at = c->pack->start + c->next.offset;
	unsigned char *p = u->window + u->nunits * MEMBER_MOST;
	size_t n = MEMBER_MOST;
	struct unit *unit;

	if (at >= c->pack->index_at)
		return false;
	if (n > c->pack->index_at - at)
		n = (size_t)(c->pack->index_at - at);
	if (!pack_source_all(&u->source, at, p, n, u->err))
		return false;
	unit = add_unit(u, p, n, at);
	if (unit->fault == NULL && unit->m.kind != MEMBER_DATA)
		unit->fault = "no data member in its place";
	unit->jump = at != c->behind;
	unit->fresh = c->next.block == 0 || c->before_ends;
	if (unit->fault != NULL)
		unit->m.size = n; /* all that is left cannot be had without the index */
	c->next.block++;
	c->next.offset = unit->fault != NULL ? c->pack->index_at - c->pack->start
					     : c->next.offset + unit->m.size;
	c->behind = at + unit->m.size;
	return true;
}

static bool
may_have_all(const struct unpack *u, const struct index_entry *entry)
{
	if (u->skim)
		return false;
	for (size_t w = 0; w < u->nwant; w++)
		if (u->want[w].key < PACK_KEYS &&
		    !index_may_have(&u->cursor.part, entry, u->want[w].key, u->want[w].hash))
			return false;
	return true;
}

static void
add_found(struct unpack *u, const struct index_entry *entry, bool fresh)
{
	struct cursor *c = &u->cursor;
	uint64_t at = c->pack->start + entry->at.offset;
	unsigned char *p = u->window + u->nunits * MEMBER_MOST;
	struct unit *unit;

	if (!pack_source_all(&u->source, at, p, entry->size, u->err))
		return;
	unit = add_unit(u, p, entry->size, at);
	if (unit->fault == NULL && (unit->m.kind != MEMBER_DATA || unit->m.size != entry->size))
		unit->fault = "no data member in its place";
	if (unit->fault != NULL)
		unit->m.size = entry->size;
	unit->jump = at != c->behind;
	unit->fresh = fresh;
	unit->told = (struct damage){ .begins = true,
		.ends = true,
		.block = entry->at.block,
		.block_end = entry->at.block + 1,
		.rows = entry->at.rows,
		.rows_end = entry->at.rows + entry->rows + !entry->ends };
	c->behind = at + entry->size;
}

bool
find_fill(struct unpack *u)
{
	struct cursor *c = &u->cursor;
	struct index_entry entry;

	while (u->nunits < u->most && !err_is_set(u->err)) {
		if (c->lost) {
			if (!without_index(u))
				break;
		} else if (c->part.left > 0) {
			bool fresh = c->next.block == 0 || c->before_ends;

			index_next(&c->part, &entry);
			c->next = c->part.at;
			c->before_ends = entry.ends;
			if (may_have_all(u, &entry))
				add_found(u, &entry, fresh);
		} else {
			const char *fault;

			if (u->skim || c->next.block == c->pack->blocks)
				break;
			fault = read_part(u);
			c->lost = fault != NULL;
			if (c->lost)
				trouble(u, "pack %llu: its index is damaged (%s): read without it",
				    (unsigned long long)u->pack.number, fault);
		}
	}
	return u->nunits > 0;
}
