/*
 * export: what a machine or a spreadsheet has written, read as records of named cells. Everything a
 * table must know besides the cells is watched here: lines, ends, encodings, the header.
 *
 *	struct export *in = export_open(path, LINES_BLOCK, &err);
 *	struct record r;
 *
 *	if (in != NULL && export_begin(in, &dialect) == 0)
 *		while (export_next(in, &r))
 *			use(r.f, r.n);
 *	export_close(in);
 *
 * One record is one of RFC 4180, quoted line breaks and all. Lines are the file's physical ones,
 * from 1. Nothing is allocated per record, and no limit is set to anything.
 */
#ifndef THRUM_IMPORT_EXPORT_H
#define THRUM_IMPORT_EXPORT_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/mem.h"
#include "import/cells.h"
#include "import/lines.h"

/* how a record lies in the file */
enum {
	LAYOUT_CELLS = 'c',  /* cells with delimiters between */
	LAYOUT_FIXED = 'f',  /* a line, each cell at its place in it */
	LAYOUT_LABELS = 'l', /* a block of lines, a label and a value on each */
	LAYOUT_JSON = 'j',   /* a line, a flat object of JSON (RFC 8259) */
};

/* how an export is written; see thrum-map(5) */
struct dialect {
	char layout;
	char delimiter;
	char quote;           /* '\0': none */
	bool header;          /* the first record names the columns */
	bool trim;            /* cut blanks and TABs at both ends of every cell */
	const char *encoding; /* NULL: UTF-8 */
	struct field comment; /* lines beginning with it are skipped; empty: none */
	uint64_t skip;        /* lines before the header, or before the first record */
	uint64_t skip_below;  /* lines between header and first record */
	bool keep_skipped;    /* what those before are wanted */
};

/* what a map without any setting says */
#define DIALECT_USUAL                                                                              \
	((struct dialect){ .layout = LAYOUT_CELLS, .delimiter = ',', .quote = '"', .header = true })

/* what a record is made of lives until the next call */
struct record {
	const struct field *f; /* cells, as struct cells has them */
	size_t n;
	struct field text; /* the first line in UTF-8, without its end */
	bool blank;        /* nothing on the line; f is one empty cell */
	bool cut;          /* the file ends in it, without a line end */
	uint64_t line;     /* of its first line */
	size_t replaced;   /* TABs and line breaks inside cells that became blanks */
	const char
	    *fault; /* NULL, or what is wrong with its bytes ("byte 7: ..."); f is of no use */
};

/* the names that a layout without a header looks for */
struct wanted {
	struct field *names;
	struct place {
		uint64_t first, last; /* of LAYOUT_FIXED, letters from 1 */
	} * places;
	size_t n;
	bool others; /* what else is there is passed over */
	bool *seen;  /* the export's own: which of them were there */
};

struct export
{
	struct lines in;       /* in.name: the file */
	size_t ncols;          /* of the header, or of the first record without one */
	struct field *names;   /* the header's cells; empty ones without a header */
	uint64_t header_line;  /* 0: there is no header */
	struct field *skipped; /* the lines before the header, if they are kept */
	size_t nskipped, cap_skipped;

	/* the rest is its own */
	struct dialect dialect;
	struct wanted wanted;
	struct cells cells;
	size_t *at;   /* of a layout without a header: where each cell begins in cells.copied */
	size_t guess; /* which of the wanted comes next, probably */
	struct bytes string;  /* of JSON */
	size_t raw_n;         /* bytes of the record handed out */
	size_t taken;         /* bytes from in.at on that the record handed out has used */
	uint64_t lines;       /* before in.at */
	uint64_t taken_lines; /* of the record handed out */
	uint64_t blank;       /* the first of the blank lines just before in.at, or 0 */
	struct region kept;
};

/* As lines_open and lines_memory; NULL with err set. */
struct export *export_open(const char *path, size_t block, struct err *err);
struct export *export_memory(const char *name, struct field text, struct err *err);

/*
 * Reads up to the first record. The dialect's strings must outlive the export; `wanted` is of a layout
 * without a header, else NULL. 0, or -1 with err set:
 * nothing there, UTF-16 that the dialect does not name, an encoding that iconv does not know, a
 * header with a fault.
 */
int export_begin(struct export *x, const struct dialect *dialect, const struct wanted *wanted);

/* The file's own bytes of the record handed out, without its last line end. */
struct field export_raw(const struct export *x);

/* true if the record is the header over again */
bool export_is_header(const struct export *x, const struct record *r);

/*
 * The next record; blank lines inside are records, those at the end are none. false at the end and
 * at trouble (err is set then).
 */
bool export_next(struct export *x, struct record *r);

/* NULL is fine. */
void export_close(struct export *x);

/* --- named.c: the layouts without a header, in which names stand in the records or are places ------ */

/*
 * Reads a line of LAYOUT_FIXED, LAYOUT_JSON, or the first of a block of LAYOUT_LABELS that goes on to
 * a blank line, a line of dashes or the like, or a label that the block has already; on return *l is
 * the record's last line. What is wrong is kept by lines_fault. false at trouble.
 */
bool named_read(struct export *x, struct line *l);

/* true if a line has no letter and no digit and ends a block of labels, e.g. "-----" or a blank one */
bool named_is_border(struct field text);

#endif
