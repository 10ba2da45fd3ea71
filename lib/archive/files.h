/*
 * files: those that packs are in, opened, and what columns all of them have together.
 *
 *	struct pack_files f = { .names = names, .n = n, .want = want, .nwant = nwant };
 *
 *	if (pack_files_open(&f, list, &err) == 0)
 *		for (size_t i = 0; i < n; i++)
 *			if (!f.out[i])
 *				read f.sources[i]
 *	pack_files_free(&f);
 */
#ifndef THRUM_ARCHIVE_FILES_H
#define THRUM_ARCHIVE_FILES_H

#include "archive/catalogue.h"

struct pack_files {
	char *const *names; /* "-": standard input */
	size_t n;
	struct unpack_want *want; /* as in unpack_setup */
	size_t nwant;
	bool latest; /* a condition on what is no key of the first pack rules out nothing */

	struct pack_source *sources; /* of those that are not ruled out */
	bool *out;                   /* ruled out: no row in it is wanted */
	struct bytes
	    columns; /* the header rows of all packs in files that can be read twice, LF behind
				 each; one that is that of the pack before may be left out */
	struct catalogue catalogue;
};

/*
 * Opens them. list: a table of catalogue_cols, or one that is all zero: then nothing is ruled out; the
 * first file never is. 0, or -1 with err set.
 */
int pack_files_open(struct pack_files *f, struct table *list, struct err *err);

/* Finds f->columns. */
void pack_files_foresee(struct pack_files *f, size_t threads, uint64_t limit);

void pack_files_free(struct pack_files *f);

#endif
