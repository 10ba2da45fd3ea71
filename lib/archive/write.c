#include "archive/write.h"

#include <stdlib.h>

#include "archive/index.h"
#include "archive/member.h"
#include "archive/pool.h"
#include "base/mem.h"

/* a data member being made: filled by the caller's thread, packed by any */
struct block {
	size_t n, size; /* bytes of payload and of the member made */
	size_t entry;   /* offset of its entry in the index */
	uint32_t crc;   /* of the payload */
	struct pack_place place;
	unsigned char payload[PAYLOAD_MOST];
	unsigned char member[MEMBER_MOST];
};

struct packer {
	struct pack_setup setup;
	struct err *err;
	struct pool *pool;
	struct codec **codecs;  /* one for each thread */
	struct block *ring;     /* block i of the pack is ring[i % nring] */
	size_t nring;           /* enough that no thread waits while the caller's packs one, too */
	size_t filled, written; /* blocks */
	struct pack_place next; /* of the block being filled */
	struct index_maker index;
	struct pack_end end;
};

static struct block *
block_at(struct packer *p, size_t i)
{
	return &p->ring[i % p->nring];
}

static void
pack_block(void *arg, size_t item, size_t worker)
{
	struct packer *p = arg;
	struct block *b = block_at(p, item);
	unsigned char own[PLACE_BYTES];

	place_make(&b->place, own);
	b->size = member_make(
	    b->member, MEMBER_DATA, own, sizeof own, b->payload, b->n, p->codecs[worker], &b->crc);
}

/* Writes a member made, of this payload. */
static void
write_out(struct packer *p, unsigned char *member, size_t n, size_t payload_n, uint32_t crc)
{
	member_link(member, p->end.crc);
	p->setup.write(p->setup.arg, member, n);
	p->end.length += n;
	p->end.bytes += payload_n;
	p->end.crc = codec_crc_join(p->end.crc, crc, payload_n);
}

static void
write_member(struct packer *p, enum member_kind kind, struct field own, struct field payload)
{
	unsigned char *member =
	    p->ring[0].member; /* free before the first block and after the last */
	uint32_t crc;
	size_t n =
	    member_make(member, kind, own.p, own.n, payload.p, payload.n, p->codecs[0], &crc);

	write_out(p, member, n, payload.n, crc);
	if (kind != MEMBER_END)
		p->end.digest = member_digest(p->end.digest, member, payload.p, payload.n);
}

/* Writes the oldest block that is not yet written, once it is packed. */
static void
write_block(struct packer *p)
{
	struct block *b = block_at(p, p->written);

	pool_wait(p->pool, ++p->written);
	index_put(&p->index, b->entry, b->size, b->crc);
	write_out(p, b->member, b->size, b->n, b->crc);
	p->end.blocks++;
}

/* Hands over the block being filled, to be packed while the next one is filled. */
static void
end_block(struct packer *p)
{
	struct block *b = block_at(p, p->filled++);

	b->n = p->index.n;
	b->place = p->next;
	p->next.block++;
	p->next.rows += p->index.rows;
	p->next.begins = b->payload[b->n - 1] == '\n';
	b->entry = index_end(&p->index, p->next.begins);
	pool_add(p->pool, 1);
	if (p->filled - p->written == p->nring)
		write_block(p);
}

/* Adds bytes of a row, and its hashes to every block they are in. */
static void
add_bytes(struct packer *p, struct field bytes, const uint32_t *hashes)
{
	while (bytes.n > 0) {
		size_t at = p->index.n, n = index_take(&p->index, bytes.n, hashes);

		memcpy(block_at(p, p->filled)->payload + at, bytes.p, n);
		bytes.p += n;
		bytes.n -= n;
		p->index.rows += bytes.n == 0 && bytes.p[-1] == '\n';
		if (p->index.n == PAYLOAD_MOST)
			end_block(p);
	}
}

int
packer_row(struct packer *p, struct field row, const uint32_t *hashes)
{
	if (row.n + 1 > PACK_ROW_MOST)
		return err_set(p->err, "row %llu is longer than a pack can hold: %zu bytes",
		    (unsigned long long)p->end.rows + 1, row.n + 1);
	p->end.rows++;
	add_bytes(p, row, hashes);
	add_bytes(p, field_of("\n"), hashes);
	return 0;
}

/* The names of the key columns, a TAB between them. */
static void
key_names(const struct pack_setup *s, struct bytes *b)
{
	for (size_t k = 0; k < s->nkeys; k++) {
		if (k > 0)
			bytes_add_text(b, "\t");
		bytes_add_field(b, s->keys[k]);
	}
}

static void
write_header(struct packer *p)
{
	struct bytes row = { NULL, 0, 0 }, names = { NULL, 0, 0 };
	struct field own, left;

	key_names(&p->setup, &names);
	own = bytes_field(&names);
	bytes_add_field(&row, p->setup.header);
	bytes_add_text(&row, "\n");
	left = bytes_field(&row);
	while (left.n > 0) {
		struct field piece = left;

		if (piece.n > PACK_HEADER_PIECE)
			piece.n = PACK_HEADER_PIECE;
		write_member(p, MEMBER_HEADER, own, piece);
		own.n = 0;
		left.p += piece.n;
		left.n -= piece.n;
	}
	bytes_free(&row);
	bytes_free(&names);
}

static int
check_setup(const struct pack_setup *s, struct err *err)
{
	size_t names = 0;

	for (size_t k = 0; k < s->nkeys; k++)
		names += s->keys[k].n + 1;
	if (s->nkeys > PACK_KEYS || names > PACK_TEXT_MOST)
		return err_set(err, "more than %d key columns, or names of more than %d bytes",
		    PACK_KEYS, PACK_TEXT_MOST);
	if (s->name.n + s->night.n + s->by.n > PACK_TEXT_MOST)
		return err_set(
		    err, "name, night and maker have more than %d bytes", PACK_TEXT_MOST);
	if (s->header.n + 1 > PACK_HEADER_MOST)
		return err_set(err, "the header row is longer than a pack can hold: %zu bytes",
		    s->header.n + 1);
	return 0;
}

struct packer *
packer_open(const struct pack_setup *setup, struct err *err)
{
	struct packer *p;

	if (check_setup(setup, err) != 0)
		return NULL;
	p = mem_zeroed(1, sizeof *p);
	p->setup = *setup;
	p->err = err;
	p->pool = pool_open(setup->threads, pack_block, p);
	p->codecs = mem_zeroed(setup->threads, sizeof(struct codec *));
	for (size_t i = 0; i < setup->threads; i++)
		p->codecs[i] = codec_open(setup->level);
	p->nring = 4 * setup->threads + 8;
	p->ring = mem_zeroed(p->nring, sizeof *p->ring);
	p->index.nkeys = setup->nkeys;
	write_header(p);
	p->end.index_at = p->end.length;
	p->next.header = p->end.crc;
	p->next.begins = true;
	return p;
}

static void
write_index(struct packer *p)
{
	struct index_place at = { .offset = p->end.index_at };
	struct bytes own = { NULL, 0, 0 };
	struct field left = bytes_field(&p->index.entries);

	p->end.index_at = p->end.length;
	while (index_cut(&left, p->setup.nkeys, &at, &own))
		write_member(p, MEMBER_INDEX, bytes_field(&own), (struct field){ "", 0 });
	bytes_free(&own);
}

static void
write_end(struct packer *p)
{
	const struct pack_setup *s = &p->setup;
	struct bytes own = { NULL, 0, 0 };

	p->end.name = s->name;
	p->end.night = s->night;
	p->end.by = s->by;
	if (s->header.n < PACK_HEADER_PIECE)
		p->end.columns = s->header;
	/* the length counted in is its own as well; how long that is does not depend on it */
	for (int i = 0; i < 2; i++) {
		own.n = 0;
		end_make(&p->end, &own);
		if (i == 0)
			p->end.length += own.n + MEMBER_AROUND_OWN + MEMBER_LEAST;
	}
	write_member(p, MEMBER_END, bytes_field(&own), (struct field){ "", 0 });
	s->write(s->arg, member_mark, sizeof member_mark);
	bytes_free(&own);
}

void
packer_close(struct packer *p)
{
	if (p->index.n > 0)
		end_block(p);
	while (p->written < p->filled)
		write_block(p);
	write_index(p);
	write_end(p);
}

void
packer_free(struct packer *p)
{
	if (p == NULL)
		return;
	pool_free(p->pool);
	for (size_t i = 0; i < p->setup.threads; i++)
		codec_free(p->codecs[i]);
	free(p->codecs);
	free(p->ring);
	bytes_free(&p->index.entries);
	free(p);
}
