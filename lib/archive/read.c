#include "archive/read.h"

#include <stdlib.h>

#include "archive/find.h"
#include "archive/trouble.h"
#include "archive/window.h"
#include "base/mem.h"

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
	struct window window;
	struct batch batch;
	struct finder finder; /* finder.pack: the present pack's data members come by its index */
	struct trouble trouble;
	struct unpack_sum sum;
	bool begun;
	bool finding;  /* packs are looked up */
	bool any_pack; /* a member of a pack has been seen */
	bool gzip;     /* the source begins as gzip does */
	bool broken;   /* see unpack_in_order */

	/* the present pack */
	enum place place;
	struct unpack_pack pack;
	struct bytes header, keys;
	bool has_header;      /* its columns are known */
	bool fits;            /* no member of it was out of place */
	struct pack_end seen; /* what has been read of it, to be compared with its end member */
	struct index_place index_next;
	bool index_seen, index_told; /* its index has begun; what is wrong with it has been said */
	uint64_t behind;             /* offset in the source behind the last sound data member */
	uint64_t pack_from;          /* where a pack has to begin */

	/* the row being put together is batch.out[row_at] to batch.out[taken - 1] */
	size_t row_at, taken;
	bool in_step; /* taken is where a row begins, or within one whose start is there */
};

/* --- packs ----------------------------------------------------------------------------------- */

static void
drop_row(struct unpack *u)
{
	u->row_at = u->taken;
	u->in_step = false;
}

static void
begin_pack(struct unpack *u, uint64_t start)
{
	u->sum.packs++;
	u->pack = (struct unpack_pack){ .number = u->sum.packs, .start = start };
	u->header.n = u->keys.n = 0;
	u->has_header = u->index_seen = u->index_told = false;
	u->fits = true;
	u->seen = (struct pack_end){ 0 };
	u->index_next = (struct index_place){ 0 };
	u->place = IN_HEADER;
}

/* The present pack is over. end NULL: how many rows it had is not known. */
static void
finish_pack(struct unpack *u, const struct pack_end *end, bool whole)
{
	trouble_tell(&u->trouble, u->pack.number, u->pack.start,
	    end != NULL ? u->pack.start + end->index_at : UINT64_MAX, u->index_told);
	if (!whole)
		u->sum.whole = false;
	if (end != NULL && end->rows >= u->seen.rows)
		u->sum.lost += end->rows - u->seen.rows;
	else
		u->sum.lost_known = false;
	u->broken = !u->sum.whole;
	drop_row(u);
	u->place = BETWEEN;
}

/* The present pack ends, at this offset, without its end. */
static void
abandon_pack(struct unpack *u, const char *what, uint64_t at)
{
	finish_pack(u, u->place == AT_MARK ? &u->pack.end : NULL, false);
	trouble_say(&u->trouble, "pack %llu: %s, at byte %llu", (unsigned long long)u->pack.number,
	    what, (unsigned long long)at);
}

/* Nothing sound at this offset. */
static void
damage(struct unpack *u, uint64_t from, const char *why)
{
	u->broken = true;
	trouble_begin(&u->trouble, from, why);
}

/* What was damaged since the last pack is none. */
static void
between(struct unpack *u)
{
	if (u->trouble.ndamage == 0)
		return;
	trouble_say(&u->trouble, "from byte %llu on there is something that is no pack",
	    (unsigned long long)u->trouble.damage[0].from);
	u->sum.whole = u->sum.lost_known = false;
	u->trouble.ndamage = 0;
	u->trouble.open = false;
}

/* A member of a pack of which nothing was seen before, or which is out of place. */
static void
need_pack(struct unpack *u, enum place most)
{
	if (u->place == BETWEEN)
		begin_pack(u, u->pack_from);
	if (u->place > most)
		u->fits = false;
}

/* The columns of a pack without a header member, from its end member. false: not to be had. */
static bool
borrow_header(struct unpack *u, uint64_t at)
{
	struct finder *f = &u->finder;
	struct pack_end end;

	if (!u->source.known || find_packs(f) != NULL)
		return false;
	for (size_t i = 0; i < f->n; i++) {
		if (at < f->packs[i].start || at >= f->packs[i].after ||
		    find_end(f, &f->packs[i], &end) != NULL || end.columns.n == 0)
			continue;
		u->pack.start = f->packs[i].start;
		u->header.n = 0;
		bytes_add_field(&u->header, end.columns);
		u->has_header = true;
		return true;
	}
	return false;
}

/* --- members --------------------------------------------------------------------------------- */

static enum unpack_event
header_known(struct unpack *u, uint64_t data_at, struct field *bytes)
{
	const char *fault = NULL;

	u->has_header = true;
	u->pack.keys = bytes_field(&u->keys);
	u->place = IN_DATA;
	u->in_step = true;
	u->row_at = u->taken;
	*bytes = bytes_field(&u->header);
	if (u->finding)
		fault = find_begin(&u->finder, u->pack.start, data_at, u->pack.keys);
	if (fault != NULL)
		trouble_say(&u->trouble, "pack %llu: its index is damaged (%s): read without it",
		    (unsigned long long)u->pack.number, fault);
	u->index_told = fault != NULL;
	if (u->finder.pack != NULL) {
		batch_clear(&u->batch);
		u->batch.most = 1;
	}
	return UNPACK_HEADER;
}

static enum unpack_event
take_header(struct unpack *u, const struct unit *unit, struct field payload, struct field *bytes)
{
	const char *lf = memchr(payload.p, '\n', payload.n);

	if (u->place != BETWEEN && u->place != IN_HEADER)
		abandon_pack(u, "cut off: another begins", unit->at);
	if (u->place == BETWEEN) {
		between(u);
		begin_pack(u, unit->at);
		bytes_add(&u->keys, unit->m.own, unit->m.own_n);
	}
	if ((lf != NULL && lf + 1 != payload.p + payload.n) ||
	    u->header.n + payload.n > PACK_ROW_MOST) {
		damage(u, unit->at, "its header row is wrong");
		return UNPACK_OVER;
	}
	bytes_add_field(&u->header, payload);
	u->seen.bytes += payload.n;
	u->seen.crc = codec_crc_join(u->seen.crc, unit->crc, payload.n);
	if (lf == NULL)
		return UNPACK_OVER;
	u->header.n--;
	return header_known(u, unit->at + unit->m.size, bytes);
}

static enum unpack_event
take_rows(struct unpack *u, const struct unit *unit, struct field *bytes)
{
	const char *out = u->batch.out.p, *start = out + unit->out_at;
	const char *end = start + unit->m.payload_n, *last = end;
	bool jump = unit->found && unit->at != u->behind;
	uint64_t rows = unit->rows;

	if (u->row_at == u->taken || jump) /* no row to be taken further */
		u->row_at = unit->out_at;
	if (jump)
		u->in_step = unit->fresh;
	u->behind = unit->at + unit->m.size;
	u->taken = unit->out_at + unit->m.payload_n;
	if (!u->in_step) {
		const char *lf = memchr(start, '\n', (size_t)(end - start));

		if (lf == NULL) {
			u->row_at = u->taken;
			return UNPACK_OVER;
		}
		u->row_at = (size_t)(lf + 1 - out);
		u->in_step = true;
		rows--;
	}
	if (u->taken - u->row_at > PACK_ROW_MOST && unit->rows == 0) {
		damage(u, unit->at, "a row longer than a pack may hold");
		drop_row(u);
		return UNPACK_OVER;
	}
	if (rows == 0)
		return UNPACK_OVER;
	while (last[-1] != '\n')
		last--;
	*bytes = (struct field){ out + u->row_at, (size_t)(last - out) - u->row_at };
	u->row_at = (size_t)(last - out);
	u->seen.rows += rows;
	u->sum.rows += rows;
	return UNPACK_ROWS;
}

static enum unpack_event
take_data(struct unpack *u, const struct unit *unit, struct field *bytes)
{
	need_pack(u, IN_DATA);
	if (u->place == IN_HEADER && !u->has_header) {
		u->place = IN_DATA;
		u->fits = false;
		if (borrow_header(u, unit->at)) {
			u->batch.next--; /* once more, after the header */
			header_known(u, unit->at, bytes);
			u->in_step = false;
			return UNPACK_HEADER;
		}
		u->pack.start = u->pack_from;
	}
	u->seen.blocks++;
	u->seen.bytes += unit->m.payload_n;
	u->seen.crc = codec_crc_join(u->seen.crc, unit->crc, unit->m.payload_n);
	return u->has_header ? take_rows(u, unit, bytes) : UNPACK_OVER;
}

static void
take_index(struct unpack *u, const struct unit *unit)
{
	struct index_part part;
	const char *fault = index_parse(&part, unit->m.own, unit->m.own_n);
	struct index_entry entry;

	need_pack(u, IN_INDEX);
	if (!u->index_seen)
		u->seen.index_at = unit->at - u->pack.start;
	u->index_seen = true;
	u->place = IN_INDEX;
	if (fault != NULL) {
		damage(u, unit->at, fault);
		return;
	}
	trouble_place(&u->trouble, u->pack.start, part);
	if (u->index_next.block == 0)
		u->index_next.offset = part.at.offset;
	u->fits &= index_same(&part.at, &u->index_next);
	while (index_next(&part, &entry))
		;
	u->index_next = part.at;
}

static enum unpack_event
take_end(struct unpack *u, const struct unit *unit)
{
	const char *fault;

	need_pack(u, IN_INDEX);
	fault = end_parse(&u->pack.end, unit->m.own, unit->m.own_n);
	if (fault != NULL) {
		damage(u, unit->at, fault);
		return UNPACK_OVER;
	}
	if (!u->index_seen)
		u->seen.index_at = u->index_next.offset = unit->at - u->pack.start;
	u->place = AT_MARK;
	u->pack.keys = bytes_field(&u->keys);
	return UNPACK_END;
}

/* true if all that was read is all that there was */
static bool
whole(struct unpack *u, uint64_t after)
{
	const struct pack_end *end = &u->pack.end, *seen = &u->seen;
	bool rows = u->has_header && u->row_at == u->taken && seen->blocks == end->blocks &&
		    seen->rows == end->rows && seen->bytes == end->bytes && seen->crc == end->crc;
	struct index_place last = { end->blocks, end->index_at, end->rows };

	if (u->trouble.ndamage == 0 &&
	    (!rows || !u->fits || seen->index_at != end->index_at ||
		!index_same(&u->index_next, &last) || end->length != after - u->pack.start)) {
		trouble_say(&u->trouble, "pack %llu: is not what its end member says it is",
		    (unsigned long long)u->pack.number);
		return false;
	}
	return rows;
}

static void
take_mark(struct unpack *u, const struct unit *unit)
{
	uint64_t after = unit->at + unit->m.size;

	if (u->place == AT_MARK)
		finish_pack(u, &u->pack.end, whole(u, after));
	else if (u->place == BETWEEN)
		damage(u, unit->at, "an end marker where no pack ends");
	else
		abandon_pack(u, "its end member is missing", unit->at);
	u->pack_from = after;
}

/* A sound member. What it gives, or UNPACK_OVER if that is nothing. */
static enum unpack_event
take_sound(struct unpack *u, const struct unit *unit, struct field *bytes)
{
	struct field payload = { u->batch.out.p + unit->out_at, unit->m.payload_n };

	trouble_end(&u->trouble, unit->at);
	u->any_pack |= unit->m.own != NULL;
	if (u->place == AT_MARK && unit->m.kind != MEMBER_MARK)
		abandon_pack(u, "its end marker is missing", unit->at);
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

static enum unpack_event
take(struct unpack *u, const struct unit *unit, struct field *bytes)
{
	u->gzip |= unit->at == 0 && unit->m.p[0] == 0x1f;
	if (unit->fault == NULL)
		return take_sound(u, unit, bytes);
	drop_row(u);
	if (unit->found) {
		u->broken = true;
		u->sum.whole = false;
		u->sum.lost += trouble_block(&u->trouble, unit->at, unit->fault, &unit->entry);
		u->behind = 0;
	} else {
		damage(u, unit->at, unit->fault);
		window_resume(&u->window, &u->batch, unit->at);
	}
	return UNPACK_OVER;
}

/* --- ends ------------------------------------------------------------------------------------ */

/* The present pack's data members found by its index have all been taken. */
static enum unpack_event
take_found_over(struct unpack *u)
{
	const struct found_pack *pack = u->finder.pack;
	const char *fault = find_end(&u->finder, pack, &u->pack.end);

	trouble_tell(&u->trouble, u->pack.number, u->pack.start, UINT64_MAX, false);
	drop_row(u);
	window_go(&u->window, pack->after);
	u->pack_from = pack->after;
	u->batch.most = 1;
	u->place = BETWEEN;
	u->finder.pack = NULL;
	if (fault == NULL)
		return UNPACK_END;
	trouble_say(&u->trouble, "pack %llu: its end member is damaged (%s)",
	    (unsigned long long)u->pack.number, fault);
	u->sum.whole = false;
	return UNPACK_OVER;
}

/* The source is over: what should have come? */
static void
take_over(struct unpack *u)
{
	uint64_t end = u->window.at + u->window.n;

	if (u->place == AT_MARK)
		abandon_pack(u, "cut off: its end marker is missing", end);
	else if (u->place != BETWEEN)
		abandon_pack(u, "cut off", end);
	between(u);
	if (!u->any_pack)
		err_set(u->err, "%s",
		    end == 0  ? "empty, not a pack"
		    : u->gzip ? "gzip, but not a pack"
			      : "not a pack");
}

/* --- the interface --------------------------------------------------------------------------- */

/* Can it be looked up? Else it is read wholly. */
static void
begin(struct unpack *u)
{
	const char *fault;

	u->begun = true;
	if (!u->source.known || (u->finder.nwant == 0 && !u->finder.skim))
		return;
	fault = find_packs(&u->finder);
	u->finding = fault == NULL;
	if (fault != NULL && u->source.size > 0)
		trouble_say(&u->trouble, "the index cannot be used (%s): read wholly", fault);
}

/* The next batch, behind the row being put together. false: this pack or the source is over. */
static bool
load(struct unpack *u)
{
	size_t keep = u->taken - u->row_at;

	batch_clear(&u->batch);
	if (u->finder.pack != NULL ? !find_fill(&u->finder, &u->batch)
				   : !window_fill(&u->window, &u->batch))
		return false;
	u->row_at = 0;
	u->taken = keep;
	return batch_verify(&u->batch, keep, u->err) == 0;
}

enum unpack_event
unpack_next(struct unpack *u, struct field *bytes)
{
	enum unpack_event event = UNPACK_OVER;

	*bytes = (struct field){ "", 0 };
	if (!u->begun)
		begin(u);
	while (event == UNPACK_OVER && !err_is_set(u->err)) {
		if (u->batch.next < u->batch.n) {
			event = take(u, &u->batch.units[u->batch.next++], bytes);
		} else if (!load(u) && !err_is_set(u->err)) {
			if (u->finder.pack == NULL) {
				take_over(u);
				break;
			}
			event = take_found_over(u);
		}
	}
	return event;
}

struct unpack *
unpack_open(const struct pack_source *source, size_t threads, struct err *err)
{
	struct unpack *u = mem_zeroed(1, sizeof *u);

	u->source = *source;
	u->err = err;
	window_open(&u->window, &u->source, err);
	batch_open(&u->batch, threads);
	u->finder.source = &u->source;
	u->finder.err = err;
	u->finder.codec = u->batch.codecs[0];
	u->sum.whole = u->sum.lost_known = true;
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
	bytes_free(&u->header);
	bytes_free(&u->keys);
	bytes_free(&u->trouble.lines);
	free(u);
}

void
unpack_want(struct unpack *u, struct field column, struct field value)
{
	if (u->finder.nwant < WANTED_MOST)
		u->finder.want[u->finder.nwant++] = (struct wanted){ .column = column,
			.hash = pack_key(pack_key_start(column), value) };
}

void
unpack_skim(struct unpack *u)
{
	u->finder.skim = true;
}

void
unpack_limit(struct unpack *u, uint64_t bytes)
{
	u->batch.limit = bytes;
}

const struct unpack_pack *
unpack_pack(const struct unpack *u)
{
	return &u->pack;
}

bool
unpack_in_order(const struct unpack *u)
{
	return !u->broken;
}

struct unpack_sum
unpack_sum(const struct unpack *u)
{
	return u->sum;
}

struct field
unpack_trouble(struct unpack *u)
{
	return trouble_lines(&u->trouble);
}
