#include "archive/batch.h"

#include <stdlib.h>

#include "base/mem.h"

enum { ENOUGH_FOR_THREADS = 4 };

void
batch_open(struct batch *b, size_t threads)
{
	b->threads = threads;
	b->codecs = mem_zeroed(threads, sizeof(struct codec *));
	for (size_t i = 0; i < threads; i++)
		b->codecs[i] = codec_open(1);
	b->limit = UINT64_MAX;
	b->most = 1;
}

void
batch_free(struct batch *b)
{
	pool_free(b->pool);
	for (size_t i = 0; i < b->threads; i++)
		codec_free(b->codecs[i]);
	free(b->codecs);
	bytes_free(&b->out);
}

void
batch_clear(struct batch *b)
{
	b->n = b->next = 0;
}

struct unit *
batch_add(struct batch *b, const unsigned char *p, size_t n, uint64_t at)
{
	struct unit *unit;

	if (b->n == b->most)
		return NULL;
	unit = &b->units[b->n++];
	*unit = (struct unit){ .at = at };
	unit->fault = member_parse(&unit->m, p, n);
	return unit;
}

static void
verify(struct batch *b, struct unit *unit, struct codec *codec)
{
	unsigned char *payload = (unsigned char *)b->out.p + unit->out_at, *p = payload, *end;

	if (unit->fault == NULL)
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
	struct batch *b = arg;

	verify(b, &b->units[item - b->pooled], b->codecs[worker]);
}

static void
verify_all(struct batch *b)
{
	if (b->n < ENOUGH_FOR_THREADS || b->threads == 1) {
		for (size_t i = 0; i < b->n; i++)
			verify(b, &b->units[i], b->codecs[0]);
		return;
	}
	if (b->pool == NULL)
		b->pool = pool_open(b->threads, verify_item, b);
	pool_add(b->pool, b->n);
	pool_wait(b->pool, b->pooled + b->n);
	b->pooled += b->n;
}

int
batch_verify(struct batch *b, size_t keep, struct err *err)
{
	size_t n = 0;

	if (keep > 0)
		memmove(b->out.p, b->out.p + b->out.n - keep, keep);
	for (size_t i = 0; i < b->n; i++) {
		b->units[i].out_at = keep + n;
		if (b->units[i].fault == NULL)
			n += b->units[i].m.payload_n;
	}
	if (n > b->limit - b->unpacked)
		return err_set(
		    err, "unpacks to more than %llu bytes", (unsigned long long)b->limit);
	b->unpacked += n;
	b->out.n = keep;
	bytes_room(&b->out, n + 1); /* 1: never NULL */
	b->out.n += n;
	verify_all(b);
	if (b->most < BATCH_MOST)
		b->most *= 2;
	return 0;
}
