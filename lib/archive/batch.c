#include "archive/inside.h"

enum { FIRST_READ = 8192, ENOUGH_FOR_THREADS = 4 };

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
	if (want > WINDOW - u->n)
		want = WINDOW - u->n;
	got = pack_source_some(&u->source, u->at + u->n, u->window + u->n, want, u->err);
	if (got < 0)
		return false;
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

/* What only looks like a member will be found out when it is verified. */
void
batch_resume(struct unpack *u, uint64_t after)
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

/* Unpacks one member of the batch. */
static void
verify(struct unpack *u, struct unit *unit, struct codec *codec)
{
	unsigned char *payload = (unsigned char *)u->out.p + unit->out_at, *p = payload, *end;

	if (unit->fault != NULL)
		return;
	unit->fault = member_verify(&unit->m, codec, payload, &unit->crc);
	if (unit->fault != NULL)
		return;
	end = payload + unit->m.payload_n;
	while (p < end && (p = memchr(p, '\n', (size_t)(end - p))) != NULL) {
		unit->rows++;
		p++;
	}
}

static void
verify_item(void *arg, size_t item, size_t worker)
{
	struct unpack *u = arg;

	verify(u, &u->units[item - u->verified], u->codecs[worker]);
}

static void
verify_batch(struct unpack *u)
{
	if (u->nunits < ENOUGH_FOR_THREADS || u->threads == 1) {
		for (size_t i = 0; i < u->nunits; i++)
			verify(u, &u->units[i], u->codecs[0]);
		return;
	}
	if (u->pool == NULL)
		u->pool = pool_open(u->threads, verify_item, u);
	pool_add(u->pool, u->nunits);
	pool_wait(u->pool, u->verified + u->nunits);
	u->verified += u->nunits;
}

bool
batch_load(struct unpack *u)
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
