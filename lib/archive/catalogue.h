/*
 * catalogue: what packs cannot have, told by a list of them (list.h) without opening one.
 *
 *	catalogue_load(&c, &table, files, nfiles, want, nwant);
 *	if (catalogue_rules_out(&c, i, late))
 *		files[i] has no row that meets the conditions; its columns are catalogue_columns(&c, i)
 *	catalogue_free(&c);
 *
 * The list is not believed of a file of another length or time of change than it says, nor where a
 * row of it was changed: such a file is to be opened.
 */
#ifndef THRUM_ARCHIVE_CATALOGUE_H
#define THRUM_ARCHIVE_CATALOGUE_H

#include "archive/read.h"
#include "table/ids.h"
#include "table/table.h"

extern const struct col catalogue_cols[];

struct catalogue {
	char *const *files;
	const struct unpack_want *want;
	size_t nwant;
	struct ids names, columns;
	struct catalogue_file *v; /* by numbers of names */
	size_t *number;           /* of each file's name */
	size_t unlike;            /* files that are not as the list says, of those asked for */
};

/* Which of these files cannot have which values. 0, or -1 with the table's err set. */
int catalogue_load(struct catalogue *c, struct table *list, char *const *files, size_t n,
    const struct unpack_want *want, size_t nwant);

/*
 * true if no row of file i, which is no standard input, meets the conditions, those left out that are
 * late[w]. May be asked once for each file.
 */
bool catalogue_rules_out(struct catalogue *c, size_t i, const bool *late);

/* The header row of all packs of a file that is ruled out; lives as long as c. */
struct field catalogue_columns(const struct catalogue *c, size_t i);

void catalogue_free(struct catalogue *c);

#endif
