#include "archive/told.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/mem.h"

enum { LINES_MOST = 20 };

void
told_say(struct told *t, const char *fmt, ...)
{
	char line[300];
	va_list args;

	if (++t->n > LINES_MOST)
		return;
	va_start(args, fmt);
	vsnprintf(line, sizeof line, fmt, args);
	va_end(args);
	bytes_add_format(&t->lines, "%s\n", line);
}

void
told_pack(struct told *t, uint64_t number, const struct pack_end *end)
{
	uint32_t texts = codec_crc(0, end->name.p, end->name.n);

	texts = codec_crc(texts, end->night.p, end->night.n);
	texts = codec_crc(texts, end->by.p, end->by.n);
	t->known = mem_grow(t->known, &t->cap_known, t->nknown + 1, sizeof *t->known);
	t->known[t->nknown++] = (struct known){ number,
		{ end->length, (uint64_t)end->crc << 32 | end->digest, texts } };
}

static int
compare_known(const void *left, const void *right)
{
	const struct known *a = left, *b = right;
	int order = memcmp(a->marks, b->marks, sizeof a->marks);

	return order != 0 ? order : a->number < b->number ? -1 : a->number > b->number;
}

void
told_doubles(struct told *t)
{
	const struct known *known = t->known;

	if (t->nknown > 0)
		qsort(t->known, t->nknown, sizeof *known, compare_known);
	for (size_t i = 1; i < t->nknown; i++)
		if (memcmp(known[i].marks, known[i - 1].marks, sizeof known->marks) == 0)
			told_say(t, "pack %" PRIu64 " is the same as pack %" PRIu64,
			    known[i].number, known[i - 1].number);
}

struct field
told_lines(struct told *t)
{
	if (t->n > LINES_MOST)
		bytes_add_format(&t->lines, "and %zu more\n", t->n - LINES_MOST);
	t->n = 0;
	return bytes_field(&t->lines);
}

void
told_free(struct told *t)
{
	bytes_free(&t->lines);
	free(t->known);
}
