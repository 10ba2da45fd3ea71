#include "archive/inside.h"

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
	u->has_header = false;
	u->fits = true;
	u->seen = (struct pack_end){ 0 };
	u->index_next = (struct index_place){ 0 };
	u->index_seen = false;
	u->place = IN_HEADER;
}

/* The present pack is over. end NULL: how many rows it had is not known. */
static void
finish_pack(struct unpack *u, const struct pack_end *end, bool whole)
{
	damage_tell(u, end);
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
	trouble(u, "pack %llu: %s, at byte %llu", (unsigned long long)u->pack.number, what,
	    (unsigned long long)at);
}

/* What was damaged since the last pack is none. */
static void
between(struct unpack *u)
{
	if (u->ndamage == 0)
		return;
	trouble(u, "from byte %llu on there is something that is no pack",
	    (unsigned long long)u->damage[0].from);
	u->sum.whole = u->sum.lost_known = false;
	u->ndamage = 0;
	u->damaged = false;
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
	struct pack_end end;

	if (!u->source.known || find_packs(u) != NULL)
		return false;
	for (size_t i = 0; i < u->nfound; i++) {
		const struct found_pack *f = &u->found[i];

		if (at < f->start || at >= f->after || find_end(u, f, &end) != NULL ||
		    end.columns.n == 0)
			continue;
		u->pack.start = f->start;
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
	u->has_header = true;
	u->pack.keys = bytes_field(&u->keys);
	u->place = IN_DATA;
	u->in_step = true;
	u->row_at = u->taken;
	*bytes = bytes_field(&u->header);
	if (u->finding)
		find_start(u, data_at);
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
		damage_begin(u, unit->at, "its header row is wrong");
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
	const char *start = u->out.p + unit->out_at, *end = start + unit->m.payload_n, *last = end;
	uint64_t rows = unit->rows;

	if (u->row_at == u->taken || unit->jump) /* no row to be taken further */
		u->row_at = unit->out_at;
	if (unit->jump)
		u->in_step = unit->fresh;
	u->taken = unit->out_at + unit->m.payload_n;
	if (!u->in_step) {
		const char *lf = memchr(start, '\n', (size_t)(end - start));

		if (lf == NULL) {
			u->row_at = u->taken;
			return UNPACK_OVER;
		}
		u->row_at = (size_t)(lf + 1 - u->out.p);
		u->in_step = true;
		rows--;
	}
	if (u->taken - u->row_at > PACK_ROW_MOST && unit->rows == 0) {
		damage_begin(u, unit->at, "a row longer than a pack may hold");
		drop_row(u);
		return UNPACK_OVER;
	}
	if (rows == 0)
		return UNPACK_OVER;
	while (last[-1] != '\n')
		last--;
	*bytes = (struct field){ u->out.p + u->row_at, (size_t)(last - u->out.p) - u->row_at };
	u->row_at = (size_t)(last - u->out.p);
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
			u->unit--; /* once more, after the header */
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
		damage_begin(u, unit->at, fault);
		return;
	}
	damage_name(u, part);
	if (part.at.block != u->index_next.block || part.at.rows != u->index_next.rows ||
	    (part.at.block > 0 && part.at.offset != u->index_next.offset))
		u->fits = false;
	while (index_next(&part, &entry))
		;
	u->index_next = part.at;
}

static enum unpack_event
take_end(struct unpack *u, const struct unit *unit)
{
	struct pack_end *end = &u->pack.end;
	const char *fault;

	need_pack(u, IN_INDEX);
	fault = end_parse(end, unit->m.own, unit->m.own_n);
	if (fault != NULL) {
		damage_begin(u, unit->at, fault);
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
	const struct pack_end *end = &u->pack.end;
	bool rows = u->has_header && u->row_at == u->taken && u->seen.blocks == end->blocks &&
		    u->seen.rows == end->rows && u->seen.bytes == end->bytes &&
		    u->seen.crc == end->crc;

	bool index = u->fits && u->seen.index_at == end->index_at &&
		     u->index_next.offset == end->index_at && u->index_next.block == end->blocks &&
		     u->index_next.rows == end->rows;

	if (u->ndamage == 0 && (!rows || !index || end->length != after - u->pack.start)) {
		trouble(u, "pack %llu: is not what its end member says it is",
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
		damage_begin(u, unit->at, "an end marker where no pack ends");
	else
		abandon_pack(u, "its end member is missing", unit->at);
	u->pack_from = after;
}

/* A sound member. What it gives, or UNPACK_OVER if that is nothing. */
static enum unpack_event
take_sound(struct unpack *u, const struct unit *unit, struct field *bytes)
{
	struct field payload = { u->out.p + unit->out_at, unit->m.payload_n };

	damage_end(u, unit->at);
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

static void
skip_damaged(struct unpack *u, const struct unit *unit)
{
	drop_row(u);
	if (!u->by_index) {
		damage_begin(u, unit->at, unit->fault);
		u->unit = u->nunits = 0;
		batch_resume(u, unit->at);
		return;
	}
	damage_found(u, unit);
	u->cursor.behind = 0;
	if (u->unit < u->nunits)
		u->units[u->unit].jump = true;
}

enum unpack_event
take(struct unpack *u, const struct unit *unit, struct field *bytes)
{
	u->gzip |= unit->at == 0 && unit->m.p[0] == 0x1f;
	if (unit->fault == NULL)
		return take_sound(u, unit, bytes);
	skip_damaged(u, unit);
	return UNPACK_OVER;
}

/* --- ends ------------------------------------------------------------------------------------ */

static void
go_to(struct unpack *u, uint64_t at)
{
	u->at = u->pack_from = at;
	u->n = u->next = 0;
	u->ended = false;
	u->most = 1;
	u->place = BETWEEN;
	u->by_index = false;
}

enum unpack_event
take_found_over(struct unpack *u)
{
	const struct found_pack *f = &u->found[u->find];
	const char *fault = find_end(u, f, &u->pack.end);

	damage_tell(u, NULL);
	drop_row(u);
	go_to(u, f->after);
	if (fault == NULL)
		return UNPACK_END;
	trouble(u, "pack %llu: its end member is damaged (%s)", (unsigned long long)u->pack.number,
	    fault);
	u->sum.whole = false;
	return UNPACK_OVER;
}

void
take_over(struct unpack *u)
{
	if (u->place == AT_MARK)
		abandon_pack(u, "cut off: its end marker is missing", u->at + u->n);
	else if (u->place != BETWEEN)
		abandon_pack(u, "cut off", u->at + u->n);
	between(u);
	if (!u->any_pack)
		err_set(u->err, "%s",
		    u->at + u->n == 0 ? "empty, not a pack"
		    : u->gzip         ? "gzip, but not a pack"
				      : "not a pack");
}
