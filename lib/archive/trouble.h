/*
 * trouble: what was wrong with packs, as lines of text, and the damage of the present pack until it
 * is known where it lies.
 *
 *	trouble_begin(&t, 1000, "its CRC-32 is wrong");
 *	trouble_end(&t, 2000);
 *	trouble_place(&t, start, part);
 *	trouble_tell(&t, number, start, index_at, false);
 *	lines = trouble_lines(&t);
 */
#ifndef THRUM_ARCHIVE_TROUBLE_H
#define THRUM_ARCHIVE_TROUBLE_H

#include "archive/index.h"

enum { TROUBLES = 20 };

/* a stretch that could not be read, up to the next sound member */
struct damage {
	uint64_t from, to; /* offsets in the source */
	const char *why;
	/* which data members it is, and where the rows lost begin and end, if the index tells */
	bool begins, ends;
	uint64_t block, block_end, rows, rows_end;
};

struct trouble {
	struct bytes lines;
	size_t n; /* lines, also those beyond TROUBLES, which are only counted */
	struct damage damage[TROUBLES];
	size_t ndamage;
	bool open; /* the last one's end has not been reached */
};

/* One line. */
void trouble_say(struct trouble *t, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* All lines; they live as long as t. */
struct field trouble_lines(struct trouble *t);

/* Nothing sound at this offset. */
void trouble_begin(struct trouble *t, uint64_t from, const char *why);

/* A sound member at this offset: damage that is open goes up to here. */
void trouble_end(struct trouble *t, uint64_t to);

/* The data member of this entry, at offset `from`, is damaged. Returns how many rows are lost. */
uint64_t
trouble_block(struct trouble *t, uint64_t from, const char *why, const struct index_entry *entry);

/* What an index member of the pack that begins at `start` says about the damage. */
void trouble_place(struct trouble *t, uint64_t start, struct index_part part);

/*
 * Turns the present pack's damage into lines. index_at: of the index in the source, or UINT64_MAX;
 * damage behind it is left out if the index has been told of.
 */
void trouble_tell(
    struct trouble *t, uint64_t number, uint64_t start, uint64_t index_at, bool index_told);

#endif
