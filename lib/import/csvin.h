/*
 * csvin: the border to the world of quoted, semicolon-separated, oddly encoded exports. Cells with
 * quotes are read by libcsv; everything a table must know besides, lines, ends, encodings, is
 * watched here.
 *
 *	struct csvin *in = csvin_open(path, CSVIN_BLOCK, &err);
 *	struct csvin_row row;
 *
 *	if (in != NULL && csvin_begin(in, &dialect) == 0)
 *		while (csvin_next(in, &row))
 *			use(row.f, row.nf);
 *	csvin_close(in);
 *
 * One row is one record of RFC 4180, quoted line breaks and all. Lines are the file's physical
 * ones, from 1. Nothing is allocated per row, and no limit is set to anything.
 */
#ifndef THRUM_IMPORT_CSVIN_H
#define THRUM_IMPORT_CSVIN_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"

enum { CSVIN_BLOCK = 128 * 1024 };

/* how an export is written; see thrum-map(5) */
struct csvin_dialect {
	char delimiter;
	char quote;           /* '\0': none */
	bool header;          /* the first row names the columns */
	bool trim;            /* cut blanks and TABs at both ends of every cell */
	const char *encoding; /* NULL: UTF-8 */
	struct field comment; /* lines beginning with it are skipped; empty: none */
	uint64_t skip;        /* lines before the header, or before the first row */
	uint64_t skip_below;  /* lines between header and first row */
};

enum { CSVIN_FAULT = 120 };

/* what a row is made of lives until the next call */
struct csvin_row {
	const struct field
	    *f; /* cells in UTF-8, without TAB, CR, LF and NUL; each lies one byte behind
				  the one before */
	size_t nf;
	struct field raw;  /* the file's own bytes, without the last line end */
	struct field text; /* the first line in UTF-8, without its end */
	bool blank;        /* nothing on the line; f is one empty cell */
	uint64_t line;     /* of its first line */
	size_t replaced;   /* TABs and line breaks inside cells that became blanks */
	const char
	    *fault; /* NULL, or what is wrong with its bytes ("byte 7: ..."); f then is of no use */
};

struct csvin;

/*
 * Opens a file ("-": standard input) and reads its first block. NULL with err set: it cannot be
 * read, or is no text (gzip, ZIP). err must outlive the csvin. block is for tests: the answer does
 * not depend on it.
 */
struct csvin *csvin_open(const char *path, size_t block, struct err *err);

/* The same from memory. text must outlive the csvin. */
struct csvin *csvin_memory(const char *name, struct field text, struct err *err);

/* The file's first bytes, as many as one block and the file have; until csvin_begin. */
struct field csvin_start(const struct csvin *c);

/*
 * Reads up to the first row. The dialect's strings must outlive the csvin. 0, or -1 with err set:
 * nothing there, UTF-16 that the dialect does not name, an encoding that iconv does not know, a
 * header with a fault.
 */
int csvin_begin(struct csvin *c, const struct csvin_dialect *dialect);

/* How many columns the header, or the first row, has; the header's cells (empty if it has none) and
   its line; they live as long as the csvin. */
size_t csvin_columns(const struct csvin *c);
struct field csvin_name(const struct csvin *c, size_t column);
uint64_t csvin_header_line(const struct csvin *c);

/* true if the row is the header over again */
bool csvin_is_header(const struct csvin *c, const struct csvin_row *row);

/*
 * The next row; blank lines inside are rows, those at the end are none. false at the end and at
 * trouble (err is set then): a read error, a quote that is never closed, a quote inside a quoted
 * cell that is not doubled.
 */
bool csvin_next(struct csvin *c, struct csvin_row *row);

/* Called with arg before any read that may have to wait for somebody. */
void csvin_on_wait(struct csvin *c, void (*wait)(void *arg), void *arg);

const char *csvin_file(const struct csvin *c);

/* NULL is fine. */
void csvin_close(struct csvin *c);

#endif
