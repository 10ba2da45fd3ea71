/*
 * import: rows of exports made into rows of one table, as a map says.
 *
 *	struct import *im = import_new(&map, NULL, &err);
 *	struct import_fault fault;
 *
 *	if (import_add(im, in) == 0) {
 *		import_header(im, out);
 *		while (export_next(in, &row))
 *			switch (import_row(im, 0, &row, &fault)) ...
 *	}
 *	import_free(im);
 */
#ifndef THRUM_IMPORT_IMPORT_H
#define THRUM_IMPORT_IMPORT_H

#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/opt.h"
#include "import/export.h"
#include "import/map.h"
#include "table/writer.h"

struct import;

/* what keeps a row from coming out */
struct import_fault {
	struct field column; /* of the export, as the map calls it; empty: the row as a whole */
	const char *what;    /* lives until the next row */
	struct field value;  /* the cell; { NULL, 0 }: none */
};

enum import_result {
	IMPORT_DONE,    /* the row is in import_line */
	IMPORT_DROPPED, /* a rule `drop` took it */
	IMPORT_WRONG,   /* see the fault */
};

/*
 * renames (may be NULL): pairs NAME=COLUMN, COLUMN is read where the map says NAME. All arguments
 * must outlive the import.
 */
struct import *import_new(const struct map *map, const struct opt_pairs *renames, struct err *err);

/*
 * One more export, begun by export_begin, whose columns are found now. 0, or -1 with err set: a
 * column is missing, doubled where it is needed, or named by no rule; or carried columns differ
 * from the first export's.
 */
int import_add(struct import *im, struct export *in);

/* The columns of export i (from 0) that only an `ignore *` has named, appended to b: " 'a' 'b'". */
void import_unnamed(const struct import *im, size_t i, struct bytes *b);

/* Writes the header row. */
void import_header(const struct import *im, struct writer *out);

/* Converts a row of export i. */
enum import_result
import_row(struct import *im, size_t i, const struct record *row, struct import_fault *fault);

/* The row made, its fields with TABs between; valid until the next row. */
struct field import_line(const struct import *im);

/*
 * The row's own bytes as a field may hold them, appended to out: what is not printable ASCII, and
 * the backslash, as \xNN; but if they are UTF-8 as they are, all from 0x80 up stays.
 */
void import_raw(struct field raw, struct bytes *out);

/* what has been mended, dropped and replaced since the last call of import_forget */
struct import_counts {
	uint64_t replaced;       /* TABs and line breaks in cells, of rows that came out */
	uint64_t filled, cut;    /* rows with too few, too many cells */
	const uint64_t *dropped; /* for each of the map's rules `drop` */
};

struct import_counts import_counts(const struct import *im);
void import_forget(struct import *im);

void import_free(struct import *im);

#endif
