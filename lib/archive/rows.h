/*
 * rows: payloads, one behind the other in one buffer, into whole rows.
 *
 *	rows_follow(&r, out.p, at, begins);		or, if something is missing before it:
 *	rows_jump(&r, at, false);
 *	n = rows_take(&r, out.p, at, payload_n, lfs, &rows);
 *	keep = rows_move(&r);			before the buffer's next payloads: the last `keep` bytes
 *						in use have to be moved to its front
 */
#ifndef THRUM_ARCHIVE_ROWS_H
#define THRUM_ARCHIVE_ROWS_H

#include "base/bytes.h"

/* the row being put together is out[at] to out[taken - 1]; all zero: none */
struct rows {
	size_t at, taken;
	bool in_step; /* taken is where a row begins, or within one whose start is there */
};

/* The row being put together is not to be had. */
void rows_drop(struct rows *r);

/*
 * The next payload, at out[at], follows the one before; something else may stand between them in out.
 * begins: a row begins with it.
 */
void rows_follow(struct rows *r, char *out, size_t at, bool begins);

/* The next payload, at out[at], does not follow the one before. */
void rows_jump(struct rows *r, size_t at, bool begins);

/*
 * Takes the payload of n bytes at out[at], in which there are `lfs` LFs. How many whole rows there are
 * now: *rows.
 */
size_t
rows_take(struct rows *r, const char *out, size_t at, size_t n, size_t lfs, struct field *rows);

/* Bytes of the row being put together; it is at the front of the buffer from now on. */
size_t rows_move(struct rows *r);

#endif
