/*
 * list: packs told as a table, one row each.
 *
 *	struct packlist list = { .hashes = true };
 *
 *	packlist_begin(&list, header);			after UNPACK_HEADER
 *	packlist_end(&list, file, &source, u);		after UNPACK_END
 *	write list.text, which is lines, and empty it
 *	packlist_free(&list);
 */
#ifndef THRUM_ARCHIVE_LIST_H
#define THRUM_ARCHIVE_LIST_H

#include "archive/read.h"

/* all zero but `hashes` at the start */
struct packlist {
	/*
	 * Behind the other columns: when the file was changed last, of which keys all hashes are known,
	 * the hashes, and the CRC-32 of the row before it: for a catalogue (catalogue.h). Of a name with
	 * a comma or what has to be escaped none are told.
	 */
	bool hashes;
	struct bytes text;

	/* for list.c alone */
	bool begun;
	struct bytes header, columns;
};

/* A pack with this header row begins. */
void packlist_begin(struct packlist *l, struct field header);

/* The present pack of u, which reads this source, has ended; nothing if it had no header. */
void packlist_end(
    struct packlist *l, const char *file, const struct pack_source *source, struct unpack *u);

void packlist_free(struct packlist *l);

#endif
