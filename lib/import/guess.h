/*
 * guess: how an export is written, as far as its first bytes show it, for a draft.
 */
#ifndef THRUM_IMPORT_GUESS_H
#define THRUM_IMPORT_GUESS_H

#include "import/export.h"
#include "import/map.h"
#include "table/ids.h"

enum { GUESS_LABELS = 20, GUESS_LINES = 200 };

struct guess {
	struct dialect dialect; /* what the map gives, and a guess for the rest */
	struct wanted wanted;   /* of a layout without a header */
	struct guess_label {
		const char *label, *name, *value; /* above the header */
	} labels[GUESS_LABELS];
	size_t nlabels;

	/* the rest is its own */
	struct bytes text;               /* the first bytes in UTF-8, or nearly */
	struct field lines[GUESS_LINES]; /* the first lines behind the map's skip */
	size_t nlines;
	struct region kept;
	struct ids found;       /* the wanted names */
	struct field *headings; /* of fixed places, what stands above each */
	struct ids names;       /* the header's, to see which stands there twice */
	size_t *first; /* for each name the column that has it first; SIZE_MAX: several have it */
};

/* Guesses from a file's first bytes. */
void guess_begin(struct guess *g, const struct map *map, struct field start);

/* Of an export begun: which of its names stand there twice, and what stands above its fixed places. */
void guess_headings(struct guess *g, const struct export *in);

/*
 * A column's name as the suite would write it, a string in b: lower-case words joined by _, with the
 * unit (NULL: none) as the last.
 */
void guess_name(const struct guess *g, const struct export *in, size_t column,
    const struct unit *unit, struct bytes *b);

/* The column as `from` says it, a string in b: its header if that is enough, else its position. */
void guess_from(const struct guess *g, const struct export *in, size_t column, struct bytes *b);

/* A pattern that is found in this text alone, a string in b. */
void guess_exactly(struct field text, struct bytes *b);

void guess_free(struct guess *g);

#endif
