#include "archive/find.h"

#include <stdlib.h>

#include "base/mem.h"

enum { TAIL = 4096 };

/* --- from the back --------------------------------------------------------------------------- */

/* Takes the end member at p apart. NULL, or why it cannot. */
static const char *
parse_end(struct finder *f, const unsigned char *p, size_t n, struct pack_end *end, int *version)
{
	struct member m;
	const char *fault = member_parse(&m, p, n);
	unsigned char nothing;
	uint32_t crc;

	if (fault == NULL && (m.kind != MEMBER_END || m.size != n))
		fault = "no end member in its place";
	if (fault == NULL)
		fault = member_verify(&m, f->codec, &nothing, &crc);
	*version = m.version;
	return fault != NULL ? fault : end_parse(end, &m);
}

static void
keep_header(struct finder *f, struct field columns)
{
	struct field last = bytes_field(&f->headers);

	if (last.n > 0) {
		last.p += f->last_header;
		last.n -= f->last_header;
	}
	f->untold |= columns.n == 0;
	if (last.n == columns.n + 1 && field_begins(last, columns))
		return;
	f->last_header = f->headers.n;
	bytes_add_field(&f->headers, columns);
	bytes_add_text(&f->headers, "\n");
}

/* The pack that ends at offset `after`. NULL, or why it cannot be had. */
static const char *
pack_before(struct finder *f, uint64_t after, struct found_pack *pack)
{
	static const char no_end[] = "it does not end as a pack does";
	unsigned char *tail = f->member;
	size_t n = after < TAIL ? (size_t)after : TAIL, size;
	const char *fault;
	struct pack_end end;

	if (n < MEMBER_LEAST + MEMBER_BC)
		return no_end;
	if (!pack_source_all(f->source, after - n, tail, n, f->err))
		return "it cannot be read";
	if (memcmp(tail + n - MEMBER_LEAST, member_mark, MEMBER_LEAST) != 0)
		return no_end;
	size = (size_t)little(tail + n - MEMBER_LEAST - MEMBER_BC + 4, 2) + 1;
	if (size + MEMBER_LEAST > after)
		return no_end;
	pack->after = after;
	pack->end_at = after - MEMBER_LEAST - size;
	fault = size + MEMBER_LEAST > n
		    ? find_end(f, pack, &end)
		    : parse_end(f, tail + n - MEMBER_LEAST - size, size, &end, &pack->version);
	if (fault != NULL)
		return fault;
	if (end.length > after || end.length < size + MEMBER_LEAST ||
	    end.index_at > end.length - size - MEMBER_LEAST)
		return "its end member is wrong";
	keep_header(f, end.columns);
	pack->start = after - end.length;
	pack->index_at = pack->start + end.index_at;
	pack->end = end;
	pack->end.name = pack->end.night = pack->end.by = pack->end.columns =
	    (struct field){ "", 0 };
	return NULL;
}

const char *
find_packs(struct finder *f)
{
	uint64_t after = f->source->size;
	size_t room = 0;

	if (f->walked)
		return f->fault;
	f->walked = true;
	f->member = mem_grow(NULL, &room, MEMBER_MOST, 1);
	while (f->fault == NULL && after > 0) {
		f->packs = mem_grow(f->packs, &f->cap, f->n + 1, sizeof *f->packs);
		f->fault = pack_before(f, after, &f->packs[f->n]);
		after = f->packs[f->n].start;
		f->n += f->fault == NULL;
	}
	for (size_t i = 0; i < f->n / 2; i++) {
		struct found_pack pack = f->packs[i];

		f->packs[i] = f->packs[f->n - 1 - i];
		f->packs[f->n - 1 - i] = pack;
	}
	return f->fault;
}

const char *
find_end(struct finder *f, struct found_pack *pack, struct pack_end *end)
{
	size_t n = (size_t)(pack->after - MEMBER_LEAST - pack->end_at);

	if (!pack_source_all(f->source, pack->end_at, f->member, n, f->err))
		return "it cannot be read";
	return parse_end(f, f->member, n, end, &pack->version);
}

void
find_free(struct finder *f)
{
	bytes_free(&f->headers);
	free(f->packs);
	free(f->want);
	free(f->member);
	free(f->members);
}

/* --- by the index ---------------------------------------------------------------------------- */

/* Reads the next index member. NULL, or why it cannot be used. */
static const char *
read_part(struct finder *f, uint32_t *digest)
{
	uint64_t left = f->pack->end_at - f->at;
	size_t n = left < MEMBER_MOST ? (size_t)left : MEMBER_MOST;
	const char *fault;
	struct member m;
	unsigned char nothing;
	uint32_t crc;

	if (!pack_source_all(f->source, f->at, f->member, n, f->err))
		return "it cannot be read";
	fault = member_parse(&m, f->member, n);
	if (fault == NULL && (m.kind != MEMBER_INDEX || m.version != f->pack->version))
		fault = "no index member in its place";
	if (fault == NULL)
		fault = member_verify(&m, f->codec, &nothing, &crc);
	if (fault == NULL)
		fault = index_parse(&f->part, &m);
	f->whole = f->part;
	if (fault == NULL && !index_same(&f->part.at, &f->next))
		fault = "its entries do not follow each other";
	f->at += m.size;
	if (fault == NULL && m.version > 1)
		*digest = member_digest(*digest, f->member, NULL, 0);
	return fault;
}

/* Goes to the first index member; an index of one member that has just been checked is still there. */
static void
rewind_index(struct finder *f, uint64_t data_at, bool checked)
{
	if (checked && f->whole.at.block == 0) {
		f->part = f->whole;
	} else {
		f->at = f->pack->index_at;
		f->part.left = 0;
	}
	f->ends = true;
	f->next = (struct index_place){ .offset = data_at - f->pack->start };
}

/*
 * Moves to the next entry. NULL, or why it cannot; also at the end of the index, where finder.next
 * is at the number of data members.
 */
static const char *
next_entry(struct finder *f, uint32_t *digest)
{
	const char *fault;

	if (f->next.block > 0)
		f->ends = f->entry.ends;
	while (f->part.left == 0) {
		fault = f->next.block < f->pack->end.blocks ? read_part(f, digest) : "it is over";
		if (fault != NULL)
			return fault;
	}
	index_next(&f->part, &f->entry);
	f->next = f->part.at;
	return NULL;
}

/* Reads all of the index. NULL, or why it cannot be used. */
static const char *
check_index(struct finder *f, uint32_t digest)
{
	const struct found_pack *pack = f->pack;
	const char *fault = NULL;

	if (f->hashes != NULL)
		hashes_begin(f->hashes);
	while (fault == NULL && (f->next.block < pack->end.blocks || f->part.left > 0)) {
		fault = next_entry(f, &digest);
		if (fault == NULL && f->hashes != NULL)
			hashes_add(f->hashes, &f->entry, f->part.nkeys);
	}
	if (fault != NULL)
		return fault;
	if (f->next.offset > pack->index_at - pack->start)
		return "its entries reach beyond the data";
	if (f->next.block != pack->end.blocks || f->at != pack->end_at)
		return "it tells of more data than there are";
	return pack->version > 1 && digest != pack->end.digest
		   ? "header, index and end do not belong together"
		   : NULL;
}

struct found_pack *
find_pack(struct finder *f, uint64_t at)
{
	size_t low = 0, high = f->n;

	while (low < high) {
		size_t middle = low + (high - low) / 2;

		if (f->packs[middle].after <= at)
			low = middle + 1;
		else
			high = middle;
	}
	return low < f->n && f->packs[low].start <= at ? &f->packs[low] : NULL;
}

const char *
find_begin(
    struct finder *f, struct found_pack *pack, uint64_t data_at, struct field keys, uint32_t digest)
{
	const char *fault;

	f->pack = pack;
	rewind_index(f, data_at, false);
	fault = f->skim && f->hashes == NULL ? NULL : check_index(f, digest);
	if (fault != NULL)
		f->pack = NULL;
	else
		rewind_index(f, data_at, !f->skim && pack->end.blocks > 0);
	for (size_t w = 0; w < f->nwant; w++)
		f->want[w].key = field_among(keys, '\t', f->want[w].column);
	return fault;
}

/* Trouble: what is damaged now was sound when it was read before. */
static bool
has_changed(struct finder *f)
{
	err_set(f->err, "has changed while it was read");
	return false;
}

const struct index_entry *
find_entry(struct finder *f, uint64_t block, uint64_t offset)
{
	uint32_t digest = 0;

	while (f->next.block == 0 || f->entry.at.block < block || f->entry.at.offset < offset) {
		if (f->next.block == f->pack->end.blocks)
			return NULL;
		if (next_entry(f, &digest) != NULL && !has_changed(f))
			return NULL;
	}
	return &f->entry;
}

/* true if the present data member may have a row with one of the values wanted in this key */
static bool
may_have(const struct finder *f, size_t key)
{
	for (size_t w = 0; w < f->nwant; w++)
		if (f->want[w].key == key &&
		    index_may_have(&f->entry, f->part.nkeys, key, f->want[w].hash))
			return true;
	return false;
}

static bool
may_have_all(const struct finder *f)
{
	for (size_t w = 0; w < f->nwant; w++)
		if (f->want[w].key < PACK_KEYS && !may_have(f, f->want[w].key))
			return false;
	return true;
}

/* The data member of the present entry, into a batch that has room. false: err is set. */
static bool
add_found(struct finder *f, struct batch *b)
{
	uint64_t at = f->pack->start + f->entry.at.offset;
	size_t n = f->entry.size, room = 0;
	unsigned char *p;
	struct unit *unit;

	if (f->members == NULL)
		f->members = mem_grow(NULL, &room, BATCH_MOST * MEMBER_MOST, 1);
	p = f->members + b->n * MEMBER_MOST;
	if (!pack_source_all(f->source, at, p, n, f->err))
		return false;
	unit = batch_add(b, p, n, at);
	if (unit->fault == NULL && (unit->m.kind != MEMBER_DATA || unit->m.size != n))
		unit->fault = "no data member in its place";
	unit->found = true;
	unit->begins = f->ends;
	unit->entry = f->entry;
	return true;
}

bool
find_fill(struct finder *f, struct batch *b)
{
	uint32_t digest = 0;

	while (b->n < b->most && !f->skim && f->next.block < f->pack->end.blocks) {
		if (f->part.left == 0 && b->n > 0)
			break; /* units point into the present index member */
		if (next_entry(f, &digest) != NULL)
			return has_changed(f);
		if (may_have_all(f) && !add_found(f, b))
			return false;
	}
	return b->n > 0;
}
