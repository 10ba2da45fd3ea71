/*
 * read: packs (thrum-pack(5)) read back, from a file or a pipe, whole or not.
 *
 *	struct unpack_want want = { field_of("closure"), field_of("C-07") };
 *	struct unpack_setup setup = { .threads = pool_processors(), .want = &want, .nwant = 1 };
 *	struct pack_source source;
 *	struct unpack *u;
 *	struct field bytes;
 *
 *	pack_source_fd(&source, fd, regular);
 *	u = unpack_open(&source, &setup, &err);
 *	for (;;)
 *		switch (unpack_next(u, &bytes)) {
 *		case UNPACK_HEADER: a pack begins; bytes is its header row
 *		case UNPACK_ROWS:   bytes is whole rows, each ended by LF
 *		case UNPACK_END:    unpack_pack(u) tells of the pack
 *		case UNPACK_OVER:   unpack_sum(u) and unpack_trouble(u) tell how it went
 *		}
 *	unpack_free(u);
 *
 * Rows are given only if it is proven that they were packed, whole, in this pack and in this order;
 * what was wrong is kept as lines of text.
 */
#ifndef THRUM_ARCHIVE_READ_H
#define THRUM_ARCHIVE_READ_H

#include <stdbool.h>
#include <stdint.h>

#include "archive/hashes.h"
#include "archive/source.h"
#include "base/bytes.h"
#include "base/err.h"

enum unpack_mode {
	UNPACK_PLAIN,   /* no row behind one that is missing */
	UNPACK_SALVAGE, /* every row that is proven */
	UNPACK_LIST,    /* no rows; of a known source only the ends are read */
	UNPACK_TEST,    /* as plain; also the form of the rows and all of the index are checked */
};

/* only rows with this value are wanted */
struct unpack_want {
	struct field column, value;
};

struct unpack_setup {
	enum unpack_mode mode;
	size_t threads; /* at least 1 */
	/*
	 * Data members without a row that is wanted may be passed over, if the columns are keys, the
	 * source known and the index sound; of several values of one column a row may have any. Other
	 * rows come nevertheless.
	 */
	const struct unpack_want *want;
	size_t nwant;
	uint64_t limit; /* unpacking more bytes in all is trouble; 0: none */
	bool hashes;    /* with UNPACK_LIST: the index is read for unpack_hashes */
};

enum unpack_event { UNPACK_OVER, UNPACK_HEADER, UNPACK_ROWS, UNPACK_END };

struct unpack;

/*
 * Never NULL. err gets what ends the reading at once; it, the source and what setup points to must
 * outlive u.
 */
struct unpack *
unpack_open(const struct pack_source *source, const struct unpack_setup *setup, struct err *err);
void unpack_free(struct unpack *u); /* NULL is fine */

/*
 * In place of unpack_next, with UNPACK_LIST: appends the packs' header rows, each ended by LF, in their
 * order; one that is that of the pack before may be left out.
 */
void unpack_columns(struct unpack *u, struct bytes *headers);

/* Conditions on this column of setup.want rule out no data members any more. */
void unpack_unwant(struct unpack *u, struct field column);

/* What comes next. bytes and what unpack_pack gives live until the next call. */
enum unpack_event unpack_next(struct unpack *u, struct field *bytes);

/*
 * the present pack; after UNPACK_HEADER start and keys are known, after UNPACK_END all;
 * where rows are looked up the texts of `end` are not
 */
struct unpack_pack {
	uint64_t number;   /* from 1 */
	uint64_t start;    /* offset of its first byte */
	struct field keys; /* names of its key columns, a TAB between them */
	struct pack_end end;
};
const struct unpack_pack *unpack_pack(const struct unpack *u);

/*
 * After UNPACK_END: the hashes of the present pack's keys; NULL: not known, its index cannot be used.
 * They live until the next call.
 */
struct hashes *unpack_hashes(struct unpack *u);

struct unpack_sum {
	uint64_t packs;  /* begun */
	uint64_t rows;   /* proven: given, or to be given by UNPACK_SALVAGE */
	uint64_t lost;   /* known to be lost */
	bool lost_known; /* no others can be lost */
	bool whole;      /* every pack read was, and nothing was between or behind them */
};

/* After UNPACK_OVER. */
struct unpack_sum unpack_sum(const struct unpack *u);

/* After UNPACK_OVER: what was wrong, one line each; empty: nothing. Lives as long as u. */
struct field unpack_trouble(struct unpack *u);

#endif
