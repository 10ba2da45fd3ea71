/*
 * out: one table, written.
 *
 *	struct tout *out = tout_open(path, &err);
 *
 *	tout_text(out, "closure");
 *	tout_text(out, "mean_db");
 *	tout_end_row(out);
 *	tout_field(out, row_field(&row, closure));
 *	tout_num(out, mean_db, 4);
 *	tout_end_row(out);
 *	if (tout_close(out, true) != 0)
 *		complain(err.text);
 *
 * Every write is checked; the first trouble is kept in err and all later calls do nothing.
 */
#ifndef THRUM_TABLE_OUT_H
#define THRUM_TABLE_OUT_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/os.h"

struct tout;

/* path NULL or "-": standard output; else as os_output_open does it. NULL with err set. */
struct tout *tout_open(const char *path, struct err *err);

/* Which file its target was before it was opened. */
struct os_id tout_id(const struct tout *t);

/* true if these bytes may stand in a field; else they are trouble ("TAB ... inside a field"). */
bool tout_fits(struct tout *t, struct field f);

/* Any bytes as a field, if tout_fits. */
void tout_field(struct tout *t, struct field f);
void tout_text(struct tout *t, const char *s);

/* One or more fields as the reader gave them: written as they are. */
void tout_slice(struct tout *t, struct field f);

/* Whole rows, or any bytes of what is no table; not within a row begun by the functions here. */
void tout_bytes(struct tout *t, const void *p, size_t n);

/*
 * Room for up to n bytes of finished fields, TABs and line ends, to be filled by the caller, who
 * then says how many it took; NULL if n is too much to ask for (over 128 KiB). For whole rows made
 * at once; not within a row begun by the functions here.
 */
char *tout_room(struct tout *t, size_t n);
void tout_took(struct tout *t, size_t n);

/* Numbers by num_fixed, db_fixed and in decimal. */
void tout_num(struct tout *t, double x, int places);
void tout_db(struct tout *t, int64_t udb, int places);
void tout_whole(struct tout *t, int64_t n);

void tout_end_row(struct tout *t);

/* Writes what is held back; t is a struct tout *, so that tin_on_wait can take this function. */
void tout_flush(void *t);

/*
 * keep: writes what is held back and gives the output its name; else removes it (what went to
 * standard output, a device or a FIFO cannot be taken back). 0, or -1 with err set.
 */
int tout_close(struct tout *t, bool keep);

#endif
