/*
 * window: a source's bytes from front to back, as members.
 *
 *	while (window_fill(&window, &batch))
 *		use the batch; at a unit with a fault:
 *			window_resume(&window, &batch, unit->at);
 */
#ifndef THRUM_ARCHIVE_WINDOW_H
#define THRUM_ARCHIVE_WINDOW_H

#include "archive/batch.h"
#include "archive/source.h"

struct window {
	const struct pack_source *source;
	struct err *err;
	unsigned char *bytes; /* bytes[0] is that at offset `at` of the source */
	uint64_t at;
	size_t n, next; /* bytes there, and of them done with */
	bool ended;     /* there are no more behind them */
};

/* The source and err, which gets read errors, must outlive the window. */
void window_open(struct window *w, const struct pack_source *source, struct err *err);
void window_free(struct window *w);

/* Goes to this offset of a source that is known. */
void window_go(struct window *w, uint64_t at);

/*
 * Fills a cleared batch with the next members; after one with a fault none follows. false: the
 * source is over, or err is set.
 */
bool window_fill(struct window *w, struct batch *b);

/*
 * Clears the batch and goes to the next bytes that look like a member, behind offset `after`, which
 * a unit of the last batch has.
 */
void window_resume(struct window *w, struct batch *b, uint64_t after);

#endif
