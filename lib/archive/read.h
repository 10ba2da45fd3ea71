/*
 * read: packs (thrum-pack(5)) read back, from a file or a pipe, whole or not.
 *
 *	struct pack_source source;
 *	struct unpack *u;
 *	struct field bytes;
 *
 *	pack_source_fd(&source, fd, regular);
 *	u = unpack_open(&source, pool_processors(), &err);
 *	unpack_want(u, field_of("closure"), field_of("C-07"));
 *	for (;;)
 *		switch (unpack_next(u, &bytes)) {
 *		case UNPACK_HEADER: a pack begins; bytes is its header row
 *		case UNPACK_ROWS:   bytes is whole rows, each ended by LF
 *		case UNPACK_END:    unpack_pack(u) tells of the pack
 *		case UNPACK_OVER:   unpack_sum(u) and unpack_trouble(u) tell how it went
 *		}
 *	unpack_free(u);
 *
 * What is damaged or missing stops nothing: every row that is known to be whole is given, and no
 * other; what was wrong is kept as lines of text.
 */
#ifndef THRUM_ARCHIVE_READ_H
#define THRUM_ARCHIVE_READ_H

#include <stdbool.h>
#include <stdint.h>

#include "archive/index.h"
#include "archive/source.h"
#include "base/bytes.h"
#include "base/err.h"

enum unpack_event { UNPACK_OVER, UNPACK_HEADER, UNPACK_ROWS, UNPACK_END };

struct unpack;

/* Never NULL. err gets what ends the reading at once; it and the source must outlive u. */
struct unpack *unpack_open(const struct pack_source *source, size_t threads, struct err *err);
void unpack_free(struct unpack *u); /* NULL is fine */

/*
 * To be said before the first unpack_next: rows without this value are not wanted, so that data
 * members without it may be passed over, if the column is a key, the source known and the index
 * sound. Rows without it come nevertheless. The field must outlive u.
 */
void unpack_want(struct unpack *u, struct field column, struct field value);

/* To be said before the first unpack_next: no rows are wanted at all. */
void unpack_skim(struct unpack *u);

/* To be said before the first unpack_next: unpacking more than so many bytes in all is trouble. */
void unpack_limit(struct unpack *u, uint64_t bytes);

/* What comes next. bytes and what unpack_pack gives live until the next call. */
enum unpack_event unpack_next(struct unpack *u, struct field *bytes);

/* the present pack; after UNPACK_HEADER start and keys are known, after UNPACK_END all */
struct unpack_pack {
	uint64_t number;   /* from 1 */
	uint64_t start;    /* offset of its first byte */
	struct field keys; /* names of its key columns, a TAB between them */
	struct pack_end end;
};
const struct unpack_pack *unpack_pack(const struct unpack *u);

/*
 * true as long as no row that would have come before the present ones is known to be missing: what
 * came until now is the table from its beginning.
 */
bool unpack_in_order(const struct unpack *u);

struct unpack_sum {
	uint64_t packs;  /* begun */
	uint64_t rows;   /* given */
	uint64_t lost;   /* known to be lost */
	bool lost_known; /* no others can be lost */
	bool whole;      /* every pack read was, and nothing was between or behind them */
};

/* After UNPACK_OVER. */
struct unpack_sum unpack_sum(const struct unpack *u);

/* After UNPACK_OVER: what was wrong, one line each; empty: nothing. Lives as long as u. */
struct field unpack_trouble(struct unpack *u);

#endif
