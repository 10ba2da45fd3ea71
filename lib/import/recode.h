/*
 * recode: text of any encoding the C library knows, line by line, into UTF-8. The one place where
 * iconv(3) is called.
 *
 *	struct recode *r = recode_open("WINDOWS-1252", &why);
 *
 *	fault = recode_line(r, raw, &out);
 */
#ifndef THRUM_IMPORT_RECODE_H
#define THRUM_IMPORT_RECODE_H

#include <iconv.h>
#include <stdbool.h>
#include <stddef.h>

#include "base/bytes.h"

struct recode {
	iconv_t to_utf8;
	size_t unit; /* how many bytes its line feed has, 1, 2 or 4 */
	bool little; /* the first of them is the lowest */
};

/*
 * A name iconv(3) knows, without its extensions ("//TRANSLIT"). The encoding must write the line
 * feed as the single byte 0x0a, and digits, letters and punctuation as ASCII does, or be a UTF-16
 * or UTF-32 of named byte order. NULL with *why set, fit for a message.
 */
struct recode *recode_open(const char *name, const char **why);

/*
 * Appends the line, as UTF-8, to out. Bytes that are not of the encoding become '?', a unit each.
 * Returns the offset of the first such byte, or raw.n if there is none.
 */
size_t recode_line(struct recode *r, struct field raw, struct bytes *out);

void recode_close(struct recode *r);

/* true if the name says UTF-8, where there is nothing to convert */
bool recode_is_utf8(const char *name);

#endif
