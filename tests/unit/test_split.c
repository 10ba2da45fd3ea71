/*
 * split: both ways of marking against the plainest loop there is, at every alignment and length.
 */
#include "table/split.h"

#include <stdlib.h>

#include "check.h"

enum { LONGEST = 300, ALIGNMENTS = 64 };

static void
plain_marks(const char *p, size_t n, struct marks *m)
{
	for (size_t i = 0; i < n; i++) {
		if ((unsigned char)p[i] <= 0x0d)
			m->at[m->n++] = (uint32_t)i;
		if (p[i] == '\n')
			m->ends[m->nends++] = (uint32_t)i;
		if ((unsigned char)p[i] <= 0x0d && p[i] != '\t' && p[i] != '\n')
			m->odd = true;
	}
}

static bool
same(const uint32_t *a, size_t na, const uint32_t *b, size_t nb)
{
	return na == nb && (na == 0 || memcmp(a, b, na * sizeof *a) == 0);
}

/* Marks p[0] to p[n - 1] in both ways, into room for just that, and compares. */
static void
compare(const char *p, size_t n, const char *what)
{
	static void (*const ways[])(
	    const char *, size_t, struct marks *) = { split_marks, split_marks_portable };
	struct marks want = { NULL };

	marks_room(&want, n);
	plain_marks(p, n, &want);
	for (size_t way = 0; way < 2; way++) {
		struct marks got = { .odd = true, .n = 7, .nends = 7 };

		marks_room(&got, n);
		ways[way](p, n, &got);
		CHECK(same(got.at, got.n, want.at, want.n), "%s: way %zu, %zu bytes: marks", what,
		    way, n);
		CHECK(same(got.ends, got.nends, want.ends, want.nends),
		    "%s: way %zu, %zu bytes: line ends", what, way, n);
		CHECK(got.odd == want.odd, "%s: way %zu, %zu bytes: odd", what, way, n);
		marks_free(&got);
	}
	marks_free(&want);
}

/* bytes dense in what is marked and in its neighbours, so that off-by-one in value shows */
static char
dense(uint64_t *state)
{
	static const unsigned char near[] = { 0x00, 0x01, '\t', '\n', 0x0b, 0x0c, '\r', 0x0e, 0x0f,
		0x1f, ' ', '0', 'z', 0x7f, 0x80, 0x81, 0x89, 0x8a, 0x8d, 0x8e, 0xfe, 0xff };
	uint64_t r = check_random(state) >> 33;

	return (char)(r & 1 ? near[(r >> 1) % sizeof near] : (unsigned char)(r >> 1));
}

/* text as tables have it: marks are rare, so that whole words without any are met */
static char
sparse(uint64_t *state)
{
	uint64_t r = check_random(state) >> 33;

	return r % 23 == 0 ? '\t' : r % 101 == 0 ? '\n' : (char)(' ' + r % 95);
}

static void
every_alignment_and_length(void)
{
	char *room = malloc(ALIGNMENTS + LONGEST);
	uint64_t state = 1;

	for (size_t align = 0; room != NULL && align < ALIGNMENTS; align++)
		for (size_t n = 0; n <= LONGEST; n++) {
			for (size_t i = 0; i < n; i++)
				room[align + i] =
				    (n + align) % 2 == 0 ? dense(&state) : sparse(&state);
			compare(room + align, n, "random");
		}
	free(room);
}

/* one byte of every value at every place, in the midst of bytes just above and far above CR */
static void
every_byte_at_every_place(void)
{
	enum { N = 150 };
	static const unsigned char others[] = { 0x0e, 'x', 0xff };
	char p[N];

	for (size_t o = 0; o < sizeof others; o++)
		for (int c = 0; c < 256; c++)
			for (size_t at = 0; at < N; at += c < 0x20 ? 1 : 7) {
				memset(p, others[o], N);
				p[at] = (char)c;
				compare(p, N, "single");
			}
}

/* what lies behind the end is not looked at: with exactly n bytes allocated the sanitizer sees it */
static void
reads_not_beyond_the_end(void)
{
	uint64_t state = 2;

	for (size_t n = 1; n <= LONGEST; n++) {
		char *p = malloc(n);

		for (size_t i = 0; p != NULL && i < n; i++)
			p[i] = dense(&state);
		if (p != NULL)
			compare(p, n, "exact");
		free(p);
	}
	compare(NULL, 0, "nothing");
}

static void
all_bytes_are_marks(void)
{
	char p[LONGEST];

	for (int c = 0; c <= 0x0d; c++) {
		memset(p, c, sizeof p);
		compare(p, sizeof p, "all");
	}
}

int
main(void)
{
	RUN(every_alignment_and_length);
	RUN(every_byte_at_every_place);
	RUN(reads_not_beyond_the_end);
	RUN(all_bytes_are_marks);
	return check_done();
}
