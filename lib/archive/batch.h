/*
 * batch: some members unpacked and checked together, by all threads.
 *
 *	batch_clear(&batch);
 *	while ((unit = batch_add(&batch, p, n, at)) != NULL && unit->fault == NULL)
 *		p += unit->m.size ...
 *	if (batch_verify(&batch, keep, err) == 0)
 *		each batch.units[i] has a fault, or its payload stands at batch.out.p + out_at
 */
#ifndef THRUM_ARCHIVE_BATCH_H
#define THRUM_ARCHIVE_BATCH_H

#include "archive/index.h"
#include "archive/member.h"
#include "archive/pool.h"
#include "base/err.h"

enum { BATCH_MOST = 32 };

struct unit {
	struct member m;
	uint64_t at;       /* offset in the source */
	const char *fault; /* NULL: it is sound */
	size_t out_at;     /* offset of its payload in batch.out */
	uint32_t crc;      /* of its payload */
	size_t rows;       /* LFs in it */
	bool found;        /* by the index, which says: */
	struct index_entry entry;
	bool begins; /* a row begins with it */
};

struct batch {
	struct unit units[BATCH_MOST];
	size_t n, next; /* units there, and of them taken */
	size_t most;    /* units of the next batch: doubles as long as all goes well */
	struct bytes out;
	uint64_t limit, unpacked; /* bytes unpacked at most, and until now */
	struct codec **codecs;    /* one for each thread */
	size_t threads;
	struct pool *pool; /* NULL until there is work for it */
	size_t pooled;     /* items it was given */
};

void batch_open(struct batch *b, size_t threads);
void batch_free(struct batch *b);

/* Drops all units. */
void batch_clear(struct batch *b);

/*
 * The member at p, of which n bytes are there, `at` in the source; they must stay there until the
 * batch is cleared. NULL: the batch is full.
 */
struct unit *batch_add(struct batch *b, const unsigned char *p, size_t n, uint64_t at);

/*
 * Unpacks and checks all units. Of the payloads that stand in out already, the last `keep` bytes are
 * moved to its front, and the new ones follow. 0, or -1 with err set: the limit is passed.
 */
int batch_verify(struct batch *b, size_t keep, struct err *err);

#endif
