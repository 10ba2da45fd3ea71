/*
 * lines: the physical lines of an export, as they are or converted to UTF-8, with the places of
 * their delimiters and quotes.
 *
 *	struct lines in;
 *	struct line line = { 0 };
 *
 *	if (lines_open(&in, path, LINES_BLOCK, &err) == 0 && lines_decode(&in, NULL) == 0)
 *		while (lines_take(&in, &line)) {
 *			use(lines_text(&in, &line), line.text_n);
 *			in.at += line.taken;
 *		}
 *	lines_close(&in);
 *
 *	buf        at          at + line.at               len         cap
 *	 | done with | record's first lines | the present line ... | free |
 */
#ifndef THRUM_IMPORT_LINES_H
#define THRUM_IMPORT_LINES_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "import/recode.h"

enum { LINES_BLOCK = 128 * 1024, LINES_FAULT = 160 };

/* one line, its end and its delimiters found in one pass */
struct scan {
	char delimiter, quote; /* '\0': there is none */
	size_t *marks;         /* the offsets of the delimiters */
	size_t n, cap;
	size_t at;  /* scanned so far; at the end, the offset of the line feed */
	size_t nul; /* the offset of the first NUL, or SIZE_MAX */
	size_t cr;  /* the offset of the first CR, or SIZE_MAX */
	size_t first_quote, last_quote; /* their offsets, SIZE_MAX: there is none */
	bool tab;                       /* a TAB that is no delimiter was met */
	bool beyond;                    /* a byte from 0x80 up was met */
};

void scan_begin(struct scan *s);

/*
 * Goes on from s->at to the line feed, true, or to n, false. What was scanned must stay what it
 * was, wherever it may have moved. 64 bytes at a time with SSE2 where the compiler targets it.
 */
bool scan_line(struct scan *s, const char *line, size_t n);

void scan_free(struct scan *s);

struct lines {
	const char *name;
	struct err *err;
	size_t at;            /* what is before has been used; the owner moves it on */
	uint64_t number;      /* of the line to be taken, from 1; its owner says it */
	struct scan scan;     /* of the line taken; its owner says delimiter and quote */
	struct bytes decoded; /* lines taken, converted, if they had to be; its owner empties it */
	char fault[LINES_FAULT];
	uint64_t fault_line; /* of the first fault, 0: none; its owner sets it back */
	bool regular;        /* reading does not wait for anybody */
	void (*wait)(void *);
	void *wait_arg;

	/* the rest is its own */
	int fd; /* -1: in memory */
	bool ended;
	char *buf;
	size_t len, cap; /* cap 0: buf belongs to the caller */
	size_t block;
	const char *encoding;
	struct recode *recode; /* NULL: UTF-8 */
	size_t unit, low;      /* how many bytes a line feed has, and which of them is the lowest */
};

/* a line, as offsets: from `at` on in the buffer, and in `decoded` if that is used */
struct line {
	size_t at, n;           /* the file's bytes, without the line feed */
	size_t taken;           /* how many with it */
	size_t text_at, text_n; /* in UTF-8, without the line's end */
};

/*
 * Opens a file ("-": standard input) and reads its first bytes, or takes a text, which must outlive it.
 * 0, or -1 with err set: it cannot be read, or is no text (gzip, ZIP). err must outlive it. To be
 * closed in any case. block is for tests: the answer does not depend on it.
 */
int lines_open(struct lines *in, const char *path, size_t block, struct err *err);
int lines_memory(struct lines *in, const char *name, struct field text, struct err *err);
void lines_close(struct lines *in);

/* The file's first bytes, until a line has been taken. */
struct field lines_start(const struct lines *in);

/*
 * Says how the text is encoded (NULL: UTF-8; the string must outlive it), before a line is taken. 0,
 * or -1 with err set: not known, or not what the text's first bytes say.
 */
int lines_decode(struct lines *in, const char *encoding);

/*
 * Takes the line that starts l->at bytes behind `at`; scan then knows its delimiters. false at the end
 * of the file and at trouble (err is set). Bytes that no text has are a fault of the line.
 */
bool lines_take(struct lines *in, struct line *l);

/* Keeps the first fault of the lines taken; value below 0, or the byte that is wrong. */
void lines_fault(struct lines *in, size_t byte, const char *what, int value);

/* n bytes from `at` on, without a CR at their end. */
struct field lines_raw(const struct lines *in, size_t n);

/* Where the text of a line begins, until the next is taken. */
static inline const char *
lines_text(const struct lines *in, const struct line *l)
{
	return in->recode != NULL ? in->decoded.p + l->text_at : in->buf + in->at + l->text_at;
}

#endif
