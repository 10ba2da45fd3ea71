#include "archive/packread.h"

#include <errno.h>
#include <stdlib.h>
#include <unistd.h>

#include "archive/packinside.h"
#include "base/mem.h"
#include "base/os.h"

enum { WINDOW = BATCH * MEMBER_MOST, FIRST_READ = 8192, ENOUGH_FOR_THREADS = 4 };

/* --- sources --------------------------------------------------------------------------------- */

static ssize_t
read_fd(const struct pack_source *s, uint64_t at, void *p, size_t n)
{
	ssize_t got;

	if (!s->known)
		return os_read(s->fd, p, n);
	do
		got = pread(s->fd, p, n, (off_t)(s->start + at));
	while (got < 0 && errno == EINTR);
	return got;
}

static ssize_t
read_memory(const struct pack_source *s, uint64_t at, void *p, size_t n)
{
	uint64_t left = at < s->size ? s->size - at : 0;

	if (n > left)
		n = (size_t)left;
	if (n > 0)
		memcpy(p, s->bytes + at, n);
	return (ssize_t)n;
}

void
pack_source_fd(struct pack_source *s, int fd, bool regular)
{
	off_t start = regular ? lseek(fd, 0, SEEK_CUR) : -1;
	off_t end = start >= 0 ? lseek(fd, 0, SEEK_END) : -1;

	*s = (struct pack_source){ .read = read_fd, .fd = fd };
	if (start < 0 || end < start)
		return;
	s->known = true;
	s->start = (uint64_t)start;
	s->size = (uint64_t)(end - start);
}

void
pack_source_memory(struct pack_source *s, const void *bytes, size_t n, bool known)
{
	*s = (struct pack_source){ .read = read_memory, .known = known, .size = n, .bytes = bytes };
}

bool
read_at(struct unpack *u, uint64_t at, void *p, size_t n, size_t *got)
{
	*got = 0;
	while (*got < n) {
		ssize_t more =
		    u->source.read(&u->source, at + *got, (unsigned char *)p + *got, n - *got);

		if (more < 0) {
			err_set(u->err, "%s", strerror(errno));
			return false;
		}
		if (more == 0)
			break;
		*got += (size_t)more;
	}
	return true;
}

/* --- filling a batch ------------------------------------------------------------------------- */

struct unit *
add_unit(struct unpack *u, const unsigned char *p, size_t n, uint64_t at)
{
	struct unit *unit;

	if (u->nunits == u->most)
		return NULL;
	unit = &u->units[u->nunits++];
	*unit = (struct unit){ .at = at };
	unit->fault = member_parse(&unit->m, p, n);
	return unit;
}

/* Reads on, once, into the window; what is done with gives way. */
static bool
read_on(struct unpack *u)
{
	size_t want = u->most == 1 ? FIRST_READ : u->most * MEMBER_MOST, left = u->n - u->next;
	ssize_t got;

	if (u->next > 0) {
		memmove(u->window, u->window + u->next, left);
		u->at += u->next;
		u->n = left;
		u->next = 0;
	}
	if (want > WINDOW + MEMBER_MOST - u->n)
		want = WINDOW + MEMBER_MOST - u->n;
	got = u->source.read(&u->source, u->at + u->n, u->window + u->n, want);
	if (got < 0) {
		err_set(u->err, "%s", strerror(errno));
		return false;
	}
	u->ended = got == 0;
	u->n += (size_t)got;
	return true;
}

/* Takes the members that stand in the window, one behind the other. false: the source is over. */
static bool
fill_forward(struct unpack *u)
{
	size_t at = u->next;
	struct unit *unit;

	for (;;) {
		if (u->nunits > 0 && u->units[u->nunits - 1].fault != NULL)
			break;
		if (at == u->n && (u->nunits > 0 || u->ended))
			break;
		unit = add_unit(u, u->window + at, u->n - at, u->at + at);
		if (unit == NULL)
			break;
		if (unit->fault == member_is_cut && !u->ended) {
			u->nunits--; /* it may be whole yet */
			if (u->nunits > 0)
				break;
			if (!read_on(u))
				return false;
			at = u->next;
			continue;
		}
		if (unit->fault == NULL)
			at += unit->m.size;
	}
	u->next = at;
	return u->nunits > 0;
}

/*
 * Goes to the next bytes that look like a member, behind offset `after`, which still is in the
 * window. What only looks so will be found out when it is verified.
 */
static void
resynchronize(struct unpack *u, uint64_t after)
{
	struct member m;

	u->next = (size_t)(after - u->at) + 1;
	u->most = 1;
	for (;;) {
		const unsigned char *p = u->window + u->next, *hit;
		const char *fault;

		hit = u->next < u->n ? memchr(p, 0x1f, u->n - u->next) : NULL;
		u->next = hit != NULL ? (size_t)(hit - u->window) : u->n;
		if (u->n - u->next < MEMBER_SIGN && !u->ended) {
			if (!read_on(u))
				return;
			continue;
		}
		if (hit == NULL)
			return;
		fault = member_parse(&m, u->window + u->next, u->n - u->next);
		if (fault == NULL || (fault == member_is_cut && !u->ended))
			return;
		u->next++;
	}
}

/* Moves the row being put together to the front of out; the payloads will follow it. */
static void
keep_row(struct unpack *u)
{
	size_t n = u->taken - u->row_at;

	if (n > 0 && u->row_at > 0)
		memmove(u->out.p, u->out.p + u->row_at, n);
	u->row_at = 0;
	u->taken = u->out.n = n;
}

/* Unpacks one member of the batch; done by any thread. */
static void
verify(void *arg, size_t item, size_t worker)
{
	struct unpack *u = arg;
	struct unit *unit = &u->units[item];
	unsigned char *payload = (unsigned char *)u->out.p + unit->out_at, *p = payload, *end;

	if (unit->fault != NULL)
		return;
	unit->fault = member_verify(&unit->m, u->codecs[worker], payload, &unit->crc);
	if (unit->fault != NULL)
		return;
	end = payload + unit->m.payload_n;
	while (p < end && (p = memchr(p, '\n', (size_t)(end - p))) != NULL) {
		unit->rows++;
		p++;
	}
}

static void
verify_batch(struct unpack *u)
{
	if (u->nunits < ENOUGH_FOR_THREADS || u->threads == 1) {
		for (size_t i = 0; i < u->nunits; i++)
			verify(u, i, 0);
		return;
	}
	if (u->pool == NULL)
		u->pool = pool_open(u->threads, verify, u);
	pool_start(u->pool, u->nunits);
	pool_wait(u->pool);
}

/* The next batch, unpacked and checked. false: this pack or the source is over, or err is set. */
static bool
load(struct unpack *u)
{
	size_t n = 0;

	keep_row(u);
	u->nunits = u->unit = 0;
	if (u->by_index ? !find_fill(u) : !fill_forward(u))
		return false;
	for (size_t i = 0; i < u->nunits; i++) {
		u->units[i].out_at = u->out.n + n;
		if (u->units[i].fault == NULL)
			n += u->units[i].m.payload_n;
	}
	if (n > u->limit - u->unpacked) {
		err_set(u->err, "unpacks to more than %llu bytes", (unsigned long long)u->limit);
		return false;
	}
	u->unpacked += n;
	bytes_room(&u->out, n + 1); /* 1: never NULL */
	verify_batch(u);
	if (u->most < BATCH)
		u->most *= 2;
	return true;
}

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
take(struct unpack *u, const struct unit *unit, struct field *bytes)
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
		u->gzip |= unit->at == 0 && u->window[0] == 0x1f;
		damage_begin(u, unit->at, unit->fault);
		u->unit = u->nunits = 0;
		resynchronize(u, unit->at);
		return;
	}
	damage_found(u, unit);
	u->cursor.behind = 0;
	if (u->unit < u->nunits)
		u->units[u->unit].jump = true;
}

/* --- the whole ------------------------------------------------------------------------------- */

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

/* A pack's data members found by its index have all been given. */
static enum unpack_event
found_over(struct unpack *u)
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

/* The source is over: what should have come? */
static void
finish(struct unpack *u)
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

/* Can it be looked up? Else it is read wholly. */
static void
begin(struct unpack *u)
{
	const char *fault;

	u->begun = true;
	if (!u->source.known || (u->nwant == 0 && !u->skim))
		return;
	fault = find_packs(u);
	u->finding = fault == NULL;
	if (fault != NULL && u->source.size > 0)
		trouble(u, "the index cannot be used (%s): read wholly", fault);
}

enum unpack_event
unpack_next(struct unpack *u, struct field *bytes)
{
	enum unpack_event event = UNPACK_OVER;

	*bytes = (struct field){ "", 0 };
	if (!u->begun)
		begin(u);
	while (event == UNPACK_OVER && !err_is_set(u->err)) {
		if (u->unit < u->nunits) {
			struct unit *unit = &u->units[u->unit++];

			if (unit->fault != NULL)
				skip_damaged(u, unit);
			else
				event = take(u, unit, bytes);
		} else if (!load(u) && !err_is_set(u->err)) {
			if (!u->by_index) {
				finish(u);
				break;
			}
			event = found_over(u);
		}
	}
	return event;
}

struct unpack *
unpack_open(const struct pack_source *source, size_t threads, struct err *err)
{
	struct unpack *u = mem_zeroed(1, sizeof *u);
	size_t room = 0;

	u->source = *source;
	u->err = err;
	u->threads = threads;
	u->codecs = mem_zeroed(threads, sizeof(struct codec *));
	for (size_t i = 0; i < threads; i++)
		u->codecs[i] = codec_open(1);
	u->limit = UINT64_MAX;
	u->window = mem_grow(NULL, &room, WINDOW + MEMBER_MOST, 1);
	room = 0;
	u->cursor.member = mem_grow(NULL, &room, MEMBER_MOST + MEMBER_LEAST, 1);
	u->most = 1;
	u->sum.whole = u->sum.lost_known = true;
	return u;
}

void
unpack_free(struct unpack *u)
{
	if (u == NULL)
		return;
	pool_free(u->pool);
	for (size_t i = 0; i < u->threads; i++)
		codec_free(u->codecs[i]);
	free(u->codecs);
	free(u->window);
	free(u->cursor.member);
	free(u->found);
	bytes_free(&u->out);
	bytes_free(&u->header);
	bytes_free(&u->keys);
	bytes_free(&u->trouble);
	free(u);
}

void
unpack_want(struct unpack *u, struct field column, struct field value)
{
	if (u->nwant < WANTED)
		u->want[u->nwant++] = (struct wanted){ .column = column,
			.hash = pack_key(pack_key_start(column), value) };
}

void
unpack_skim(struct unpack *u)
{
	u->skim = true;
}

void
unpack_limit(struct unpack *u, uint64_t bytes)
{
	u->limit = bytes;
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
	size_t more = u->ntrouble > TROUBLES ? u->ntrouble - TROUBLES : 0;

	if (more > 0)
		bytes_add_format(&u->trouble, "and %zu more\n", more);
	u->ntrouble -= more;
	return bytes_field(&u->trouble);
}
