/*
 * list: a pack told in one row of a table.
 *
 *	bytes_add_text(&text, PACKLIST_HEADER);
 *	packlist_row(file, unpack_pack(u), &text);
 */
#ifndef THRUM_ARCHIVE_LIST_H
#define THRUM_ARCHIVE_LIST_H

#include "archive/read.h"

#define PACKLIST_HEADER                                                                            \
	"file\tpack\tstart\tpack_bytes\ttable_bytes\trows\tblocks\tcrc32\tkey\tname\tnight\tby\n"

/* Appends the row of a pack of this file, which unpack_next has ended (UNPACK_END). */
void packlist_row(const char *file, const struct unpack_pack *pack, struct bytes *text);

#endif
