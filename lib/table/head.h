/*
 * head: messages about a file whose header or rows are not those of a table. All functions set err and
 * return -1 unless said otherwise. Columns are counted from 0 here, from 1 in the text.
 */
#ifndef THRUM_TABLE_HEAD_H
#define THRUM_TABLE_HEAD_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"

/* true if a file's first bytes are a byte-order mark of UTF-16; sets no err */
bool head_is_utf16(struct field start);

/* true, with err set, if a file's first bytes say that it is something else: UTF-16, gzip ... */
bool head_is_foreign(struct err *err, const char *file, struct field start);

/* two columns of one name */
int head_doubled(struct err *err, const char *file, struct field name, size_t a, size_t b);

/* a file that "has" or "lacks" a column against the first file */
int head_unlike(
    struct err *err, const char *file, const char *verb, struct field name, const char *first);

/* In a few words, why a header seems to be that of an export and not of a table; NULL: it does not. */
const char *head_of_export(struct field header);

/* Something is wrong with a header as a whole: says what, and what it looks like. */
int head_fail(struct err *err, const char *file, const char *what, struct field header);

/*
 * None of n columns, of which one must be there: names the nearest, or says what the header looks
 * like.
 */
int head_missing(
    struct err *err, const char *file, const struct field *wanted, size_t n, struct field header);

/*
 * Whether a row can stand in a table of one column: one without anything would be a blank line, and one
 * that says what the header says the header once more. file and line are those it was made from.
 */
int
head_alone(struct err *err, const char *file, uint64_t line, struct field row, struct field header);

/*
 * Writes to what (room bytes) the reason why a row of nf fields does not fit under a header of
 * ncols. Sets no err.
 */
void head_wrong_count(char *what, size_t room, const struct field *fields, size_t nf, size_t ncols);

#endif
