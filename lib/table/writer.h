/*
 * writer: one table, written.
 *
 *	struct outputs all = { .n = 0 };
 *	struct writer *out = writer_open(&all, path, &err);
 *
 *	writer_text(out, "closure");
 *	writer_text(out, "mean_db");
 *	writer_end_row(out);
 *	writer_field(out, row_field(&row, closure));
 *	writer_num(out, mean_db, 4);
 *	writer_end_row(out);
 *	if (outputs_finish(&all, true, &err) != 0)
 *		complain(err.text);
 *
 * Every write is checked; the first trouble is kept in err and all later calls do nothing.
 */
#ifndef THRUM_TABLE_WRITER_H
#define THRUM_TABLE_WRITER_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/output.h"

struct writer;

/*
 * An output of `all`, as output_add does it; err must be the one that outputs_finish gets, which
 * writes what is held back and frees the writer. NULL with err set.
 */
struct writer *writer_open(struct outputs *all, const char *path, struct err *err);

/* true if these bytes may stand in a field; else they are trouble ("TAB ... inside a field"). */
bool writer_fits(struct writer *t, struct field f);

/* Any bytes as a field, if writer_fits. */
void writer_field(struct writer *t, struct field f);
void writer_text(struct writer *t, const char *s);

/* One or more fields as the reader gave them: written as they are. */
void writer_slice(struct writer *t, struct field f);

/* Whole rows, or any bytes of what is no table; not within a row begun by the functions here. */
void writer_bytes(struct writer *t, const void *p, size_t n);

/*
 * Room for up to n bytes of finished fields, TABs and line ends, to be filled by the caller, who
 * then says how many it took; NULL if n is too much to ask for (over 128 KiB). For whole rows made
 * at once; not within a row begun by the functions here.
 */
char *writer_room(struct writer *t, size_t n);
void writer_took(struct writer *t, size_t n);

/* Numbers by num_fixed, db_fixed and in decimal. */
void writer_num(struct writer *t, double x, int places);
void writer_db(struct writer *t, int64_t udb, int places);
void writer_whole(struct writer *t, int64_t n);

void writer_end_row(struct writer *t);

/* Writes what is held back; t is a struct writer *, so that reader_on_wait can take this function. */
void writer_flush(void *t);

#endif
