/*
 * list: a pack told in one row of a table.
 *
 *	bytes_add_text(&text, PACKLIST_HEADER);
 *	packlist_row(file, unpack_pack(u), columns, &text);
 */
#ifndef THRUM_ARCHIVE_LIST_H
#define THRUM_ARCHIVE_LIST_H

#include "archive/read.h"

#define PACKLIST_HEADER                                                                            \
	"file\tpack\tstart\tpack_bytes\ttable_bytes\trows\tblocks\tcrc32\tkey\tname\tnight\tby\tcolumns\n"

/*
 * Appends the row of a pack of this file, which unpack_next has ended (UNPACK_END); columns: its
 * header row, empty if it is that of the pack before.
 */
void packlist_row(
    const char *file, const struct unpack_pack *pack, struct field columns, struct bytes *text);

#endif
