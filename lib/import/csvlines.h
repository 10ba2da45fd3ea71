/*
 * csvlines: the physical lines of an export, as they are or converted to UTF-8, with the places of
 * their delimiters and quotes. For csvin alone.
 *
 *	buf        at          at + line.at               len         cap
 *	 | done with | row's first lines | the present line ... | free |
 */
#ifndef THRUM_IMPORT_CSVLINES_H
#define THRUM_IMPORT_CSVLINES_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "import/recode.h"
#include "import/csvin.h"
#include "import/csvscan.h"

struct csvlines {
	const char *name;
	struct err *err;
	size_t at;            /* what is before is done with; its owner moves it on */
	uint64_t number;      /* of the line to be taken, from 1; its owner says it */
	struct csvscan scan;  /* of the line taken; its owner says delimiter and quote */
	struct bytes decoded; /* lines taken, converted, if they had to be; its owner empties it */
	char fault[CSVIN_FAULT];
	uint64_t fault_line; /* of the first fault, 0: none; its owner sets it back */
	bool regular;        /* reading does not wait for anybody */
	void (*wait)(void *);
	void *wait_arg;

	/* the rest is csvlines' own */
	int fd; /* -1: in memory */
	bool ended;
	char *buf;
	size_t len, cap; /* cap 0: the memory is somebody else's */
	size_t block;
	const char *encoding;
	struct recode *recode; /* NULL: UTF-8 */
};

/* a line, as offsets: from `at` on in the buffer, and in `decoded` if that is used */
struct csvline {
	size_t at, n;           /* the file's bytes, without the line feed */
	size_t taken;           /* how many with it */
	size_t text_at, text_n; /* in UTF-8, without the line's end */
};

/*
 * Opens a file ("-": standard input) and reads its first bytes, or takes a text, which must outlive it.
 * 0, or -1 with err set: as csvin_open says. err must outlive it. To be closed in any case.
 */
int csvlines_open(struct csvlines *in, const char *path, size_t block, struct err *err);
int csvlines_memory(struct csvlines *in, const char *name, struct field text, struct err *err);
void csvlines_close(struct csvlines *in);

/* The file's first bytes, until a line has been taken. */
struct field csvlines_start(const struct csvlines *in);

/*
 * Says how the text is encoded (NULL: UTF-8; the string must outlive it), before a line is taken. 0,
 * or -1 with err set: not known, or not what the text's first bytes say.
 */
int csvlines_decode(struct csvlines *in, const char *encoding);

/*
 * Takes the line that starts l->at bytes behind `at`; scan then knows its delimiters. false at the end
 * of the file and at trouble (err is set). Bytes that no text has are a fault of the line.
 */
bool csvlines_take(struct csvlines *in, struct csvline *l);

/* Keeps the first fault of the lines taken; value below 0, or the byte that is wrong. */
void csvlines_fault(struct csvlines *in, size_t byte, const char *what, int value);

/* n bytes from `at` on, without a CR at their end. */
struct field csvlines_raw(const struct csvlines *in, size_t n);

/* Where the text of a line begins, until the next is taken. */
static inline const char *
csvlines_text(const struct csvlines *in, const struct csvline *l)
{
	return in->recode != NULL ? in->decoded.p + l->text_at : in->buf + in->at + l->text_at;
}

#endif
