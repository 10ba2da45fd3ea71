/*
 * check: are the rows of a pack those of a table, and is what its index tells of keys theirs?
 *
 *	checker_begin(&c, header, keys);
 *	while (...)
 *		fault = checker_rows(&c, rows);
 *	checker_end(&c);
 *	c.keys is the CRC-32 of what the entries should tell of keys
 */
#ifndef THRUM_ARCHIVE_CHECK_H
#define THRUM_ARCHIVE_CHECK_H

#include "archive/index.h"

struct checker {
	struct field header;
	size_t columns;
	size_t nkeys, key_columns[PACK_KEYS];
	uint32_t starts[PACK_KEYS];
	uint64_t rows; /* taken */
	struct index_maker index;
	uint32_t keys;
};

/* A header row, without its LF: NULL, or what is wrong with its names: a constant text. */
const char *check_names(struct field header);

/* header, without its LF, must outlive the checker; keys: names, a TAB between them. */
void checker_begin(struct checker *c, struct field header, struct field keys);

/*
 * The next whole rows, each ended by LF. NULL, or what is wrong with the first that is no row of a
 * table, a constant text, and *row is its number from 1.
 */
const char *checker_rows(struct checker *c, struct field rows, uint64_t *row);
void checker_end(struct checker *c);
void checker_free(struct checker *c);

/* true if the entry tells the hashes of all these rows */
bool checker_agrees(
    const struct checker *c, struct field rows, const struct index_entry *entry, size_t nkeys);

#endif
