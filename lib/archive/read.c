#include "archive/read.h"

#include <inttypes.h>
#include <stdlib.h>

#include "archive/check.h"
#include "archive/find.h"
#include "archive/rows.h"
#include "archive/told.h"
#include "archive/window.h"
#include "base/mem.h"

enum stage {
	BETWEEN, /* outside of packs: a header member is to come */
	IN_HEADER,
	IN_DATA,
	IN_INDEX,
	AT_MARK, /* only the end marker is missing */
};

struct unpack {
	struct pack_source source;
	struct unpack_setup setup;
	struct err *err;
	struct window window;
	struct batch batch;
	struct finder finder;
	struct hashes hashes;
	struct checker checker;
	struct told told;
	struct rows rows;
	struct unpack_sum sum;
	bool any_pack; /* a member of a pack has been seen */
	bool gzip;     /* the source begins as gzip does */
	bool broken;   /* a row may be missing before those that come now */

	/* the present pack */
	enum stage stage;
	struct unpack_pack pack;
	int version;
	struct found_pack *found;  /* NULL: not from the source's end */
	bool by_index;             /* its data members come by its index */
	struct bytes header, keys; /* the header row, with its LF */
	uint32_t header_crc;
	bool has_header;
	bool fits;            /* no member of it was out of place */
	bool gaps;            /* gaps in it have been told of */
	bool adrift;          /* which data member comes next is not known (version 1) */
	bool index_seen, odd; /* its index has begun; a row without the form of a table was seen */
	struct pack_end seen; /* of it, to be compared with its end member */
	struct pack_place next;        /* of the next data member */
	struct index_place index_next; /* of the next index entry */
	uint32_t heads, heads_told;    /* CRC-32s of the entries' heads, */
	uint32_t keys_told;            /* and of what they tell of keys */
	struct gap {
		bool open; /* nothing sound was seen since this offset in the source */
		uint64_t from;
		const char *why;
	} gap;
	uint64_t pack_from; /* where a pack has to begin */
};

/* --- trouble --------------------------------------------------------------------------------- */

/* The present pack's end member is known. */
static enum unpack_event
known_end(struct unpack *u)
{
	if (u->setup.mode == UNPACK_LIST || u->setup.mode == UNPACK_TEST)
		told_pack(&u->told, u->pack.number, &u->pack.end);
	return UNPACK_END;
}

/* Notes that what stands at this offset is damaged, or does not belong there. */
static void
damage(struct unpack *u, uint64_t from, const char *why)
{
	u->broken = true;
	if (!u->gap.open)
		u->gap = (struct gap){ true, from, why };
}

/* Data members from `first` to before `behind` are lost, and rows that would have ended in them. */
static void
say_lost(struct unpack *u, uint64_t first, uint64_t behind, uint64_t from, const char *why,
    uint64_t rows)
{
	if (behind - first == 1)
		told_say(&u->told,
		    "pack %" PRIu64 ": block %" PRIu64 " at byte %" PRIu64
		    " is damaged (%s): %" PRIu64 " row%s lost",
		    u->pack.number, behind, from, why, rows, rows == 1 ? "" : "s");
	else
		told_say(&u->told,
		    "pack %" PRIu64 ": blocks %" PRIu64 " to %" PRIu64 " from byte %" PRIu64
		    " on are damaged (%s): %" PRIu64 " row%s "
		    "lost",
		    u->pack.number, first + 1, behind, from, why, rows, rows == 1 ? "" : "s");
}

/*
 * The gap ends at offset `to`, 0 for the source's end. at: the place of the data member there, or
 * behind the last; NULL: not known.
 */
static void
end_gap(struct unpack *u, uint64_t to, const struct pack_place *at)
{
	const struct gap *gap = &u->gap;
	uint64_t number = u->pack.number, from = gap->from;

	if (!gap->open)
		return;
	u->gap.open = false;
	u->gaps = true;
	if (from == u->pack.start)
		told_say(&u->told,
		    "pack %" PRIu64 ": its header, at byte %" PRIu64 ", is damaged (%s)", number,
		    from, gap->why);
	else if (at != NULL && at->block > u->next.block)
		say_lost(u, u->next.block, at->block, from, gap->why,
		    at->rows - u->next.rows + !at->begins);
	else if (to > from)
		told_say(&u->told,
		    "pack %" PRIu64 ": bytes %" PRIu64 " to %" PRIu64 " are damaged (%s)", number,
		    from, to - 1, gap->why);
	else if (to == 0 && gap->why != member_is_cut) /* a cut is told of anyhow */
		told_say(&u->told,
		    "pack %" PRIu64 ": from byte %" PRIu64 " on nothing can be read (%s)", number,
		    from, gap->why);
	else if (to != 0)
		told_say(
		    &u->told, "pack %" PRIu64 ": at byte %" PRIu64 ": %s", number, from, gap->why);
}

/* --- packs ----------------------------------------------------------------------------------- */

static void
begin_pack(struct unpack *u, uint64_t start, int version)
{
	u->sum.packs++;
	u->pack = (struct unpack_pack){ .number = u->sum.packs, .start = start };
	u->version = version;
	u->found = find_pack(&u->finder, start);
	u->finder.pack = NULL;
	u->by_index = false;
	u->header.n = u->keys.n = 0;
	u->has_header = u->gaps = u->adrift = u->index_seen = u->odd = false;
	u->fits = true;
	u->seen = (struct pack_end){ 0 };
	u->next = (struct pack_place){ .begins = true };
	u->index_next = (struct index_place){ 0 };
	u->heads = u->heads_told = u->keys_told = 0;
	rows_drop(&u->rows);
	u->stage = IN_HEADER;
}

/* Ends the present pack. end NULL: how many rows it had is not known. */
static void
finish_pack(struct unpack *u, const struct pack_end *end, bool whole)
{
	u->sum.whole &= whole;
	if (end != NULL && end->rows >= u->seen.rows)
		u->sum.lost += end->rows - u->seen.rows;
	else
		u->sum.lost_known = false;
	u->broken = !u->sum.whole;
	rows_drop(&u->rows);
	u->stage = BETWEEN;
}

/* Ends the present pack at this offset, without its end member. */
static void
abandon_pack(struct unpack *u, const char *what, uint64_t at, bool over)
{
	end_gap(u, over ? 0 : at, NULL);
	finish_pack(u, u->stage == AT_MARK ? &u->pack.end : NULL, false);
	told_say(&u->told, "pack %" PRIu64 ": %s, at byte %" PRIu64, u->pack.number, what, at);
}

/* Reports damage since the last pack, which is not part of a pack. */
static void
between(struct unpack *u)
{
	if (!u->gap.open)
		return;
	told_say(
	    &u->told, "from byte %" PRIu64 " on there is something that is no pack", u->gap.from);
	u->sum.whole = u->sum.lost_known = false;
	u->gap.open = false;
}

/*
 * A member, no header member, of a pack: of one of which nothing was seen before, or out of place?
 * false: it is another pack's.
 */
static bool
need_pack(struct unpack *u, const struct unit *unit, enum stage most)
{
	if (u->stage == BETWEEN)
		begin_pack(u, u->pack_from, unit->m.version);
	if (u->stage > most)
		u->fits = false;
	if (u->version == unit->m.version)
		return true;
	damage(u, unit->at, "a member of another version");
	return false;
}

/* true if this is more than the pack's end says that there is */
static bool
is_too_much(const struct unpack *u, size_t bytes)
{
	return u->found != NULL && u->seen.bytes + bytes > u->found->end.bytes;
}

static void
count(struct unpack *u, const struct unit *unit)
{
	u->seen.bytes += unit->m.payload_n;
	u->seen.crc = codec_crc_join(u->seen.crc, unit->crc, unit->m.payload_n);
}

/* --- header ---------------------------------------------------------------------------------- */

static enum unpack_event
header_known(struct unpack *u, uint64_t data_at, struct field *bytes)
{
	bool look_up = u->setup.nwant > 0 || u->setup.mode == UNPACK_LIST;

	u->has_header = true;
	u->header_crc = u->seen.crc;
	u->pack.keys = bytes_field(&u->keys);
	u->stage = IN_DATA;
	*bytes = (struct field){ u->header.p, u->header.n - 1 };
	checker_begin(&u->checker, *bytes, u->pack.keys);
	if (u->setup.mode == UNPACK_TEST && check_names(*bytes) != NULL)
		told_say(&u->told, "pack %" PRIu64 ": %s", u->pack.number, check_names(*bytes));
	if (u->found != NULL && data_at != 0)
		find_begin(&u->finder, u->found, data_at, u->pack.keys, u->seen.digest);
	u->by_index = look_up && u->finder.pack != NULL && !u->gap.open && !u->gaps;
	if (u->by_index) {
		batch_clear(&u->batch);
		u->batch.most = 1;
	}
	return UNPACK_HEADER;
}

static enum unpack_event
take_header(struct unpack *u, const struct unit *unit, struct field payload, struct field *bytes)
{
	const char *lf = memchr(payload.p, '\n', payload.n);

	if (u->stage != BETWEEN && u->stage != IN_HEADER)
		abandon_pack(u, "cut off: another begins", unit->at, false);
	if (u->stage == BETWEEN) {
		between(u);
		begin_pack(u, unit->at, unit->m.version);
		bytes_add(&u->keys, unit->m.own, unit->m.own_n);
	}
	if (unit->m.version != u->version || (u->version > 1 && unit->m.link != u->seen.crc) ||
	    (lf != NULL && lf + 1 != payload.p + payload.n) ||
	    u->header.n + payload.n > PACK_HEADER_MOST || is_too_much(u, payload.n)) {
		damage(u, unit->at, "its header row is wrong");
		return UNPACK_OVER;
	}
	bytes_add_field(&u->header, payload);
	count(u, unit);
	if (u->version > 1)
		u->seen.digest = member_digest(u->seen.digest, unit->m.p, payload.p, payload.n);
	return lf != NULL ? header_known(u, unit->at + unit->m.size, bytes) : UNPACK_OVER;
}

/* Takes the columns of a pack without a header member from its end member. false: it has none. */
static bool
borrow_header(struct unpack *u, uint64_t at)
{
	struct pack_end end;

	u->found = find_pack(&u->finder, at);
	if (u->found == NULL || find_end(&u->finder, u->found, &end) != NULL || end.columns.n == 0)
		return false;
	u->pack.start = u->found->start;
	u->header.n = 0;
	bytes_add_field(&u->header, end.columns);
	bytes_add_text(&u->header, "\n");
	u->seen.bytes = u->header.n;
	u->seen.crc = codec_crc(0, u->header.p, u->header.n);
	return true;
}

/* --- rows ------------------------------------------------------------------------------------ */

/* Does a data member found hold what the index says of it? NULL, or why not. */
static const char *
compare(const struct unpack *u, const struct unit *unit, const struct index_entry *entry)
{
	const char *p = u->batch.out.p + unit->out_at, *end = p + unit->m.payload_n, *lf;
	struct field rows;

	if (unit->m.size != entry->size || unit->rows != entry->rows ||
	    (end[-1] == '\n') != entry->ends || (u->version > 1 && unit->crc != entry->crc))
		return "it is not what the index says of it";
	if (!unit->found || unit->rows == 0 || u->version > 1)
		return NULL; /* in version 2 the CRC-32 proves the rows, and the digest the keys */
	lf = unit->begins ? p : (const char *)memchr(p, '\n', unit->m.payload_n) + 1;
	while (end[-1] != '\n')
		end--;
	rows = (struct field){ lf, (size_t)(end - lf) };
	return checker_agrees(&u->checker, rows, entry, u->finder.part.nkeys)
		   ? NULL
		   : "the index does not tell its keys";
}

/* The place of a data member of version 1, which does not say it: from the index, or assumed. */
static const char *
find_place(struct unpack *u, const struct unit *unit, struct pack_place *at)
{
	uint64_t offset = unit->at - u->pack.start;
	const struct index_entry *entry;

	*at = u->next;
	if (u->finder.pack == NULL)
		return NULL;
	entry = unit->found ? &unit->entry : find_entry(&u->finder, 0, offset);
	if (entry == NULL || entry->at.offset != offset)
		return "the index tells of no block there";
	at->block = entry->at.block;
	at->rows = entry->at.rows;
	at->begins = unit->found ? unit->begins : u->finder.ends;
	return compare(u, unit, entry);
}

/* Where in its pack a data member stands. NULL, or why it does not belong there. */
static const char *
place_of(struct unpack *u, const struct unit *unit, struct pack_place *at)
{
	static const char other[] = "a block of another pack, or out of its order";
	const struct index_entry *entry = NULL;
	const char *fault;

	if (u->version == 1)
		return find_place(u, unit, at);
	fault = place_parse(at, &unit->m);
	if (fault != NULL)
		return fault;
	if (at->header != u->header_crc || at->block < u->next.block || at->rows < u->next.rows)
		return other;
	if (at->block == u->next.block && unit->m.link == u->seen.crc && !unit->found)
		return at->rows == u->next.rows && at->begins == u->next.begins ? NULL : other;
	if (unit->found)
		entry = &unit->entry;
	else if (at->block == u->next.block)
		return other;
	else if (u->finder.pack != NULL)
		entry = find_entry(&u->finder, at->block, 0);
	else
		return NULL;
	if (entry == NULL || entry->at.block != at->block || entry->at.rows != at->rows)
		return other;
	return compare(u, unit, entry);
}

/* The whole rows that end in a data member, whatever its place. */
static enum unpack_event
take_rows(struct unpack *u, const struct unit *unit, struct field *bytes)
{
	uint64_t row, rows = rows_take(&u->rows, u->batch.out.p, unit->out_at, unit->m.payload_n,
			  unit->rows, bytes);
	const char *fault;

	if (u->rows.taken - u->rows.at > PACK_ROW_MOST) {
		damage(u, unit->at, "a row longer than a pack may hold");
		rows_drop(&u->rows);
	}
	if (rows == 0)
		return UNPACK_OVER;
	u->seen.rows += rows;
	u->sum.rows += rows;
	if (u->setup.mode == UNPACK_TEST) {
		fault = checker_rows(&u->checker, *bytes, &row);
		if (fault != NULL && !u->odd)
			told_say(&u->told, "pack %" PRIu64 ": row %" PRIu64 " %s", u->pack.number,
			    row, fault);
		u->odd |= fault != NULL;
	}
	if (u->setup.mode == UNPACK_LIST || (u->broken && u->setup.mode != UNPACK_SALVAGE))
		return UNPACK_OVER;
	return UNPACK_ROWS;
}

static void
lose_found(struct unpack *u, const struct unit *unit, const char *why)
{
	uint64_t rows = unit->entry.rows + !unit->entry.ends;

	say_lost(u, unit->entry.at.block, unit->entry.at.block + 1, unit->at, why, rows);
	u->sum.lost += rows;
	u->sum.whole = false;
	u->broken = true;
}

/*
 * A data member whose place is known: does it follow the one before? If not, what is missing is told
 * of, and no row is taken further. Without an index that is not known of version 1: then rows over
 * borders are given in plain reading only, which comes to 2 if they are wrong.
 */
static void
go_to(struct unpack *u, const struct unit *unit, struct pack_place *at)
{
	bool follows = at->block == u->next.block && at->begins == u->next.begins && !u->adrift;

	if (u->version == 1 && u->finder.pack == NULL) {
		follows = !u->gap.open && u->setup.mode != UNPACK_SALVAGE;
		at->begins &= follows;
		u->adrift |= u->gap.open;
	} else if (!follows && !unit->found) {
		damage(u, unit->at, "it is missing");
	}
	end_gap(u, unit->at, u->adrift ? NULL : at);
	if (follows)
		rows_follow(&u->rows, u->batch.out.p, unit->out_at, at->begins);
	else
		rows_jump(&u->rows, unit->out_at, at->begins);
}

/* What is known of a data member taken, to be compared with the index and the end. */
static void
count_data(struct unpack *u, const struct unit *unit, const struct pack_place *at)
{
	unsigned char head[INDEX_HEAD], *p = put_little(head, unit->m.size - 1, 2);

	if (u->version > 1)
		u->seen.crc = unit->m.link;
	count(u, unit);
	u->seen.blocks++;
	u->next = (struct pack_place){ .block = at->block + 1,
		.rows = at->rows + unit->rows,
		.begins = u->batch.out.p[unit->out_at + unit->m.payload_n - 1] == '\n' };
	p = put_little(p, unit->rows, 2);
	*p++ = u->next.begins;
	if (u->version > 1)
		p = put_little(p, unit->crc, 4);
	u->heads = codec_crc(u->heads, head, (size_t)(p - head));
}

static enum unpack_event
take_data(struct unpack *u, const struct unit *unit, struct field *bytes)
{
	struct pack_place at = { 0 };
	const char *fault;

	if (!need_pack(u, unit, IN_DATA))
		return UNPACK_OVER;
	if (!u->has_header && borrow_header(u, unit->at)) {
		u->batch.next--; /* once more, after the header */
		damage(u, u->pack.start, "it is missing");
		return header_known(u, 0, bytes);
	}
	fault = !u->has_header ? "there is no header" : place_of(u, unit, &at);
	if (fault == NULL && is_too_much(u, unit->m.payload_n))
		fault = "more than its end member says";
	if (fault != NULL) {
		if (unit->found)
			lose_found(u, unit, fault);
		else
			damage(u, unit->at, fault);
		return UNPACK_OVER;
	}
	go_to(u, unit, &at);
	count_data(u, unit, &at);
	return take_rows(u, unit, bytes);
}

/* --- index and end --------------------------------------------------------------------------- */

static void
take_index(struct unpack *u, const struct unit *unit)
{
	struct index_part part;
	struct index_entry entry;
	const char *fault;

	if (!need_pack(u, unit, IN_INDEX))
		return;
	if (!u->index_seen)
		u->seen.index_at = unit->at - u->pack.start;
	u->index_seen = true;
	u->stage = IN_INDEX;
	if (u->version > 1)
		u->seen.digest = member_digest(u->seen.digest, unit->m.p, NULL, 0);
	fault = index_parse(&part, &unit->m);
	if (fault != NULL) {
		damage(u, unit->at, fault);
		return;
	}
	if (u->index_next.block == 0)
		u->index_next.offset = part.at.offset;
	u->fits &= index_same(&part.at, &u->index_next);
	while (index_next(&part, &entry)) {
		u->heads_told = codec_crc(u->heads_told, entry.head, entry.head_n);
		u->keys_told = codec_crc(u->keys_told, entry.keys, entry.keys_n);
	}
	u->index_next = part.at;
}

static enum unpack_event
take_end(struct unpack *u, const struct unit *unit)
{
	struct pack_end *end = &u->pack.end;
	const char *fault;

	if (!need_pack(u, unit, IN_INDEX))
		return UNPACK_OVER;
	fault = end_parse(end, &unit->m);
	if (fault != NULL) {
		damage(u, unit->at, fault);
		return UNPACK_OVER;
	}
	if (!u->index_seen)
		u->seen.index_at = u->index_next.offset = unit->at - u->pack.start;
	u->stage = AT_MARK;
	u->pack.keys = bytes_field(&u->keys);
	return known_end(u);
}

/* All data members and their rows are there, and they are those that the end member tells of. */
static bool
has_all(const struct unpack *u)
{
	const struct pack_end *end = &u->pack.end, *seen = &u->seen;

	return u->has_header && u->rows.at == u->rows.taken && seen->blocks == end->blocks &&
	       seen->rows == end->rows && seen->bytes == end->bytes && seen->crc == end->crc;
}

/* What is wrong with the index, all else being as it should be; NULL: nothing. */
static const char *
index_fault(struct unpack *u, uint64_t after)
{
	const struct pack_end *end = &u->pack.end;
	struct index_place last = { end->blocks, end->index_at, end->rows };

	if (!u->fits || u->seen.index_at != end->index_at || !index_same(&u->index_next, &last) ||
	    end->length != after - u->pack.start)
		return "is not what its end member says it is";
	if (u->version > 1 && u->seen.digest != end->digest)
		return "header, index and end do not belong together";
	if (u->heads != u->heads_told)
		return "the index does not tell what is in its blocks";
	checker_end(&u->checker);
	if (u->setup.mode == UNPACK_TEST && u->checker.keys != u->keys_told)
		return "the index does not tell the keys in its blocks";
	return NULL;
}

/* Judges at its end whether the present pack is whole. */
static void
judge(struct unpack *u, uint64_t after)
{
	const struct pack_end *end = &u->pack.end;
	struct pack_place last = { end->blocks, end->rows, 0, true };
	bool all = has_all(u),
	     in_index = u->gap.open && u->gap.from - u->pack.start >= end->index_at;
	bool sure = u->version == 1 || all || u->seen.digest == end->digest;
	const char *fault = NULL;

	if (u->gap.open && all && in_index) { /* all rows are proven without it */
		told_say(&u->told,
		    "pack %" PRIu64 ": its index is damaged at byte %" PRIu64 " (%s)",
		    u->pack.number, u->gap.from, u->gap.why);
		u->gap.open = false;
	} else if (u->gap.open || (end->blocks > u->next.block && !u->adrift)) {
		damage(u, u->pack.start + u->seen.index_at, "it is missing");
		end_gap(u, after, u->adrift ? NULL : &last);
	} else if (!u->gaps && !all && u->version == 1 && u->setup.mode == UNPACK_SALVAGE) {
		fault =
		    "rows over borders of blocks cannot be proven (version 1, without its index)";
	} else if (!u->gaps) {
		fault = all ? index_fault(u, after) : "is not what its end member says it is";
	}
	if (fault != NULL)
		told_say(&u->told, "pack %" PRIu64 ": %s", u->pack.number, fault);
	finish_pack(u, sure ? end : NULL, all && !u->gaps && fault == NULL);
}

static void
take_mark(struct unpack *u, const struct unit *unit)
{
	uint64_t after = unit->at + unit->m.size;

	if (u->stage == AT_MARK)
		judge(u, after);
	else if (u->stage == BETWEEN)
		damage(u, unit->at, "an end marker where no pack ends");
	else
		abandon_pack(u, "its end member is missing", unit->at, false);
	u->pack_from = after;
}

/* --- members --------------------------------------------------------------------------------- */

/* A member of the batch. What it gives, or UNPACK_OVER if that is nothing. */
static enum unpack_event
take(struct unpack *u, const struct unit *unit, struct field *bytes)
{
	struct field payload = { u->batch.out.p + unit->out_at, unit->m.payload_n };

	u->gzip |= unit->at == 0 && unit->m.p[0] == 0x1f;
	if (unit->fault != NULL && unit->found) {
		lose_found(u, unit, unit->fault);
		return UNPACK_OVER;
	}
	if (unit->fault != NULL) {
		damage(u, unit->at, unit->fault);
		window_resume(&u->window, &u->batch, unit->at);
		return UNPACK_OVER;
	}
	u->any_pack |= unit->m.own != NULL;
	if (u->stage == AT_MARK && unit->m.kind != MEMBER_MARK)
		abandon_pack(u, "its end marker is missing", unit->at, false);
	switch (unit->m.kind) {
	case MEMBER_HEADER:
		return take_header(u, unit, payload, bytes);
	case MEMBER_DATA:
		return take_data(u, unit, bytes);
	case MEMBER_INDEX:
		take_index(u, unit);
		break;
	case MEMBER_END:
		return take_end(u, unit);
	case MEMBER_MARK:
		take_mark(u, unit);
		break;
	}
	return UNPACK_OVER;
}

/* The present pack's data members found by its index have all been taken. */
static enum unpack_event
take_found_over(struct unpack *u)
{
	struct found_pack *pack = u->found;
	const char *fault = NULL;

	u->pack.end = pack->end;
	if (u->setup.mode == UNPACK_LIST)
		fault = find_end(&u->finder, pack, &u->pack.end);
	u->by_index = false;
	rows_drop(&u->rows);
	window_go(&u->window, pack->after);
	u->pack_from = pack->after;
	u->batch.most = 1;
	u->stage = BETWEEN;
	if (fault == NULL)
		return known_end(u);
	told_say(
	    &u->told, "pack %" PRIu64 ": its end member is damaged (%s)", u->pack.number, fault);
	u->sum.whole = false;
	return UNPACK_OVER;
}

/* Ends the source, and reports what is missing. */
static void
take_over(struct unpack *u)
{
	uint64_t end = u->window.at + u->window.n;

	if (u->stage == AT_MARK)
		abandon_pack(u, "cut off: its end marker is missing", end, true);
	else if (u->stage != BETWEEN)
		abandon_pack(u, "cut off", end, true);
	between(u);
	told_doubles(&u->told);
	if (!u->any_pack)
		err_set(u->err, "%s",
		    end == 0  ? "empty, not a pack"
		    : u->gzip ? "gzip, but not a pack"
			      : "not a pack");
}

/* --- the interface --------------------------------------------------------------------------- */

/* The next batch, behind the row being put together. false: this pack or the source is over. */
static bool
load(struct unpack *u)
{
	batch_clear(&u->batch);
	if (u->by_index ? !find_fill(&u->finder, &u->batch) : !window_fill(&u->window, &u->batch))
		return false;
	u->batch.out.n = u->rows.taken;
	return batch_verify(&u->batch, rows_move(&u->rows), u->err) == 0;
}

enum unpack_event
unpack_next(struct unpack *u, struct field *bytes)
{
	enum unpack_event event = UNPACK_OVER;

	*bytes = (struct field){ "", 0 };
	while (event == UNPACK_OVER && !err_is_set(u->err)) {
		if (u->batch.next < u->batch.n) {
			event = take(u, &u->batch.units[u->batch.next++], bytes);
		} else if (!load(u) && !err_is_set(u->err)) {
			if (!u->by_index) {
				take_over(u);
				break;
			}
			event = take_found_over(u);
		}
	}
	return event;
}

struct unpack *
unpack_open(const struct pack_source *source, const struct unpack_setup *setup, struct err *err)
{
	struct unpack *u = mem_zeroed(1, sizeof *u);
	struct finder *f = &u->finder;

	u->source = *source;
	u->setup = *setup;
	u->err = err;
	u->sum.whole = u->sum.lost_known = true;
	window_open(&u->window, &u->source, err);
	batch_open(&u->batch, setup->threads);
	u->batch.limit = setup->limit > 0 ? setup->limit : UINT64_MAX;
	f->source = &u->source;
	f->err = err;
	f->codec = u->batch.codecs[0];
	f->skim = setup->mode == UNPACK_LIST;
	f->hashes = setup->hashes ? &u->hashes : NULL;
	f->want = mem_zeroed(setup->nwant, sizeof *f->want);
	for (; f->nwant < setup->nwant; f->nwant++) {
		const struct unpack_want *want = &setup->want[f->nwant];

		f->want[f->nwant] = (struct wanted){ .column = want->column,
			.hash = pack_key(pack_key_start(want->column), want->value) };
	}
	if (source->known && source->size > 0)
		find_packs(f);
	return u;
}

void
unpack_free(struct unpack *u)
{
	if (u == NULL)
		return;
	batch_free(&u->batch);
	window_free(&u->window);
	find_free(&u->finder);
	hashes_free(&u->hashes);
	checker_free(&u->checker);
	bytes_free(&u->header);
	bytes_free(&u->keys);
	told_free(&u->told);
	free(u);
}

void
unpack_columns(struct unpack *u, struct bytes *headers)
{
	const struct finder *f = &u->finder;
	struct field left = bytes_field(&f->headers);
	bool told = f->walked && f->fault == NULL && !f->untold;
	const char *p;
	enum unpack_event event;
	struct field bytes;

	for (; told && left.n > 0; left.n = (size_t)(p - left.p)) {
		for (p = left.p + left.n - 1; p > left.p && p[-1] != '\n'; p--)
			;
		bytes_add(headers, p, (size_t)(left.p + left.n - p));
	}
	while (!told && (event = unpack_next(u, &bytes)) != UNPACK_OVER)
		if (event == UNPACK_HEADER) {
			bytes_add_field(headers, bytes);
			bytes_add_text(headers, "\n");
		}
}

void
unpack_unwant(struct unpack *u, struct field column)
{
	struct finder *f = &u->finder;

	for (size_t w = f->nwant; w-- > 0;)
		if (field_same(f->want[w].column, column))
			f->want[w] = f->want[--f->nwant];
}

const struct unpack_pack *
unpack_pack(const struct unpack *u)
{
	return &u->pack;
}

struct hashes *
unpack_hashes(struct unpack *u)
{
	return u->setup.hashes && u->finder.pack != NULL ? &u->hashes : NULL;
}

struct unpack_sum
unpack_sum(const struct unpack *u)
{
	return u->sum;
}

struct field
unpack_trouble(struct unpack *u)
{
	return told_lines(&u->told);
}
