/*
 * write: rows into a pack (thrum-pack(5)).
 *
 *	struct pack_setup setup = { .header = header, .keys = &closure, .nkeys = 1, .level = 6,
 *		.threads = pool_processors(), .write = write_bytes, .arg = out };
 *	struct packer *p = packer_open(&setup, &err);
 *	uint32_t start = pack_key_start(closure), key;
 *
 *	while (p != NULL && next(&row)) {
 *		key = pack_key(start, row.closure);
 *		packer_row(p, row.raw, &key);
 *	}
 *	packer_close(p);
 */
#ifndef THRUM_ARCHIVE_WRITE_H
#define THRUM_ARCHIVE_WRITE_H

#include <stdint.h>

#include "archive/index.h"
#include "base/bytes.h"
#include "base/err.h"

struct pack_setup {
	struct field header;      /* the header row, without its LF */
	const struct field *keys; /* names of the key columns */
	size_t nkeys;
	struct field name, night, by; /* for people; empty: not said. No TAB, LF, CR or NUL */
	int level;                    /* 1 to 9 */
	size_t threads;               /* at least 1 */
	void (*write)(void *arg, const void *p, size_t n); /* is given the pack, bit by bit */
	void *arg;
};

struct packer;

/*
 * Writes the header. What setup points to must outlive the packer. NULL with err set: too many or
 * too long keys, texts, header.
 */
struct packer *packer_open(const struct pack_setup *setup, struct err *err);

/*
 * Adds a row, without its LF, and the hash of each of its keys in setup's order. 0, or -1 with err
 * set: the row is too long.
 */
int packer_row(struct packer *p, struct field row, const uint32_t *hashes);

/* Writes all that is left, index and end. Its memory is for packer_free still. */
void packer_close(struct packer *p);

/* Ends the threads and gives the memory back; NULL is fine. Alone, it leaves an unfinished pack. */
void packer_free(struct packer *p);

#endif
