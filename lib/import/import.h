/*
 * import: records of exports made into rows of one table, as a map says. An export's records go through
 * these stages, each in a file: lines, cells, records (export), values that hold for the rows below
 * (blocks), rows out of wide ones, records out of several rows (sides), columns (cell).
 *
 *	struct import *im = import_new(&map, NULL, &err);
 *	struct import_row row;
 *
 *	if (import_add(im, in) == 0) {
 *		import_header(im, out);
 *		while (import_next(im, 0, &row))
 *			use(&row);
 *		while (import_rest(im, &row))
 *			use(&row);
 *	}
 *	import_free(im);
 */
#ifndef THRUM_IMPORT_IMPORT_H
#define THRUM_IMPORT_IMPORT_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/opt.h"
#include "import/export.h"
#include "import/map.h"
#include "table/writer.h"

struct import;

/* a row that comes out, or one that cannot; lives until the next */
struct import_row {
	const char *wrong; /* NULL: it comes out; else what is wrong */
	struct field line; /* its fields with TABs between */
	struct field
	    column; /* the column at fault, as the map calls it; empty: the row as a whole */
	struct field value; /* the cell at fault; { NULL, 0 }: none */
	const char *file;
	uint64_t at_line;
	struct field raw; /* of a row that is wrong: the export's own bytes */
};

/*
 * renames (may be NULL): pairs NAME=COLUMN, COLUMN is read where the map says NAME. All arguments
 * must outlive the import.
 */
struct import *import_new(const struct map *map, const struct opt_pairs *renames, struct err *err);

/*
 * Begins one more export, opened, and finds its columns. 0, or -1 with err set: as export_begin says;
 * a column is missing, doubled where it is needed, or named by no rule; carried columns differ from
 * the first export's; the header tells a unit and the map none.
 */
int import_add(struct import *im, struct export *in);

/* What a person should check in export i (from 0); empty: nothing. */
struct field import_notes(const struct import *im, size_t i);

/* Writes the header row. */
void import_header(const struct import *im, struct writer *out);

/* The next row of export i, one after the other. false at its end and at trouble (err is set). */
bool import_next(struct import *im, size_t i, struct import_row *row);

/* The next of the rows that had to wait until all exports were read; false at the end. */
bool import_rest(struct import *im, struct import_row *row);

/*
 * The row's own bytes as a field may hold them, appended to out: what is not printable ASCII, and
 * the backslash, as \xNN; but if they are UTF-8 as they are, all from 0x80 up stays.
 */
void import_raw(struct field raw, struct bytes *out);

/* what became of records */
struct import_counts {
	uint64_t replaced;    /* TABs and line breaks in cells, of rows that came out */
	uint64_t filled, cut; /* rows with too few, too many cells */
	bool unended;         /* the last line has no end */
	uint64_t *dropped;    /* for each of the map's rules `drop` */
};

/* Of the export being read, as far as it has been; until the next one begins. */
const struct import_counts *import_counts(const struct import *im);

void import_free(struct import *im);

#endif
