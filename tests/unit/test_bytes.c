/* err, bytes, mem and near: what everything else is built of */
#include "base/bytes.h"

#include <stdbool.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <unistd.h>

#include "base/err.h"
#include "base/mem.h"
#include "base/spelling.h"
#include "check.h"

/* ---- err -------------------------------------------------------------------------------- */

static void
keeps_the_first_failure(void)
{
	struct err e = { "" };

	CHECK(!err_is_set(&e), "set before anything happened");
	CHECK(err_set(&e, "%s:%d: first", "file", 7) == -1, "returned something else");
	CHECK(err_is_set(&e), "not set");
	CHECK(err_set(&e, "second") == -1, "returned something else");
	CHECK(strcmp(e.text, "file:7: first") == 0, "'%s'", e.text);
}

static void
cuts_long_failures(void)
{
	enum { ROOM = sizeof((struct err *)0)->text };
	char text[2 * ROOM];

	for (size_t n = ROOM - 3; n < ROOM + 3; n++) {
		struct err e = { "" };

		memset(text, 'x', n);
		text[n] = '\0';
		err_set(&e, "%s", text);
		if (n < ROOM)
			CHECK(strcmp(e.text, text) == 0, "%zu bytes were changed", n);
		else
			CHECK(strlen(e.text) == ROOM - 1 && strcmp(e.text + ROOM - 4, "...") == 0 &&
				  memcmp(e.text, text, ROOM - 4) == 0,
			    "%zu bytes end in '%s'", n, e.text + ROOM - 9);
	}
	for (size_t before = 0; before < 4; before++) { /* characters of four bytes stay whole */
		struct err e = { "" };
		struct field f;

		memset(text, 'x', before);
		for (size_t at = before; at < sizeof text - 4; at += 4)
			memcpy(text + at, "\xf0\x9f\xa7\xb5", 5);
		err_set(&e, "%s", text);
		f = field_of(e.text);
		CHECK(utf8_fault(f) == f.n, "cut at byte %zu", utf8_fault(f));
		CHECK(f.n > ROOM - 5 && strcmp(e.text + f.n - 3, "...") == 0, "%zu bytes", f.n);
	}
}

static void
shows_any_bytes(void)
{
	static const struct {
		const char *bytes;
		size_t n;
		const char *shown;
	} known[] = {
		{ "", 0, "" },
		{ "plain \"text\"", 12, "plain \"text\"" },
		{ "a\tb\0c\x1a\x7f", 7, "a\\x09b\\x00c\\x1a\\x7f" },
		{ "back\\slash", 10, "back\\\\slash" },
		{ "25 \xc2\xb0", 5, "25 \xc2\xb0" },
		{ "\xff\xfe", 2, "\xff\xfe" },
	};
	char dst[ERR_SHOWN], text[100];

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++)
		CHECK(strcmp(err_show(dst, known[i].bytes, known[i].n), known[i].shown) == 0,
		    "shown as '%s'", dst);
	CHECK(err_show(dst, NULL, 0) == dst && dst[0] == '\0', "nothing is '%s'", dst);
	memset(text, 'y', sizeof text);
	CHECK(strlen(err_show(dst, text, 60)) == 60, "60 bytes: '%s'", dst);
	CHECK(strlen(err_show(dst, text, 61)) == 63 && strcmp(dst + 59, "y...") == 0, "'%s'", dst);
	memset(text, '\1', sizeof text);
	CHECK(strlen(err_show(dst, text, 100)) == ERR_SHOWN - 1, "'%s'", dst);
	memset(text, 'y', sizeof text);
	memcpy(text + 58, "\xe2\x82\xac", 3); /* ends with byte 61: leaves as a whole */
	CHECK(strlen(err_show(dst, text, 61)) == 61 && strcmp(dst + 57, "y...") == 0, "'%s'", dst);
	memset(text, '\x80', sizeof text); /* no characters at all */
	CHECK(strlen(err_show(dst, text, 100)) == 63, "'%s'", dst);
}

/* ---- bytes ------------------------------------------------------------------------------ */

static void
orders_fields(void)
{
	static const char *const rising[] = { "", "A", "AA", "AB", "B", "a", "aa", "\x80", "\xff" };
	size_t n = sizeof rising / sizeof rising[0];

	for (size_t i = 0; i < n; i++)
		for (size_t k = 0; k < n; k++) {
			int order = field_order(field_of(rising[i]), field_of(rising[k]));

			CHECK((order > 0) - (order < 0) == (i > k) - (i < k), "'%s', '%s': %d",
			    rising[i], rising[k], order);
			CHECK(field_is(field_of(rising[i]), rising[k]) == (i == k), "'%s', '%s'",
			    rising[i], rising[k]);
		}
	CHECK(field_order((struct field){ NULL, 0 }, (struct field){ NULL, 0 }) == 0, "NULL");
	CHECK(field_order((struct field){ NULL, 0 }, field_of("a")) < 0, "NULL");
	CHECK(field_order((struct field){ "a\0b", 3 }, (struct field){ "a\0c", 3 }) < 0, "NUL");
}

static void
cuts_fields(void)
{
	static const struct {
		const char *text;
		size_t n;
		const char *piece[4];
	} known[] = {
		{ "", 1, { "" } },
		{ "a", 1, { "a" } },
		{ "a,b", 2, { "a", "b" } },
		{ ",", 2, { "", "" } },
		{ "one,,three,", 4, { "one", "", "three", "" } },
	};
	struct field nothing = { NULL, 0 };

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		struct field rest = field_of(known[i].text);
		size_t n = 0;

		while (rest.p != NULL) {
			struct field piece = field_cut(&rest, ',');

			CHECK(n < known[i].n && field_is(piece, known[i].piece[n]), "'%s', %zu",
			    known[i].text, n);
			n++;
		}
		CHECK(n == known[i].n && rest.n == 0, "'%s' has %zu pieces", known[i].text, n);
	}
	CHECK(field_cut(&nothing, ',').n == 0 && nothing.p == NULL, "nothing was cut");
}

static void
grows_buffers(void)
{
	struct bytes b = { NULL, 0, 0 };
	char want[20000], text[700];
	size_t n = 0;
	uint64_t state = 1;

	CHECK(bytes_field(&b).n == 0, "not empty");
	bytes_add(&b, NULL, 0);
	bytes_add_text(&b, "");
	CHECK(b.n == 0, "not empty");
	while (n < sizeof want - sizeof text) {
		size_t more = check_random(&state) % (sizeof text - 1);

		memset(text, 'a' + (char)(n % 26), more);
		text[more] = '\0';
		memcpy(want + n, text, more);
		n += more;
		if (more % 4 == 0)
			bytes_add(&b, text, more);
		else if (more % 4 == 1)
			bytes_add_field(&b, (struct field){ text, more });
		else if (more % 4 == 2)
			bytes_add_text(&b, text);
		else
			bytes_add_format(&b, "%.10s%s", text, more > 10 ? text + 10 : "");
	}
	CHECK(field_same(bytes_field(&b), (struct field){ want, n }), "%zu and %zu bytes", b.n, n);
	CHECK(b.cap >= b.n, "%zu bytes in %zu", b.n, b.cap);
	bytes_free(&b);
	CHECK(b.p == NULL && b.n == 0 && b.cap == 0, "not empty");
	bytes_free(&b);
	for (int width = 0; width < 100; width++) { /* room for what printf writes behind it */
		bytes_add_format(&b, "%*d", width, 7);
		CHECK(b.n == (width > 0 ? (size_t)width : 1) && b.p[b.n - 1] == '7', "%d", width);
		bytes_free(&b);
	}
}

/* ---- UTF-8 ------------------------------------------------------------------------------ */

/* RFC 3629, section 3: the bits of a code point, spread over as few bytes as hold them */
static size_t
encode(uint32_t c, unsigned char *to)
{
	size_t n = c < 0x80 ? 1 : c < 0x800 ? 2 : c < 0x10000 ? 3 : 4;
	static const unsigned char first[] = { 0, 0, 0xc0, 0xe0, 0xf0 };

	for (size_t i = n - 1; i > 0; i--, c >>= 6)
		to[i] = (unsigned char)(0x80 | (c & 0x3f));
	to[0] = (unsigned char)(first[n] | c);
	return n;
}

static bool
is_utf8(const unsigned char *s, size_t n)
{
	return utf8_fault((struct field){ (const char *)s, n }) == n;
}

/* every code point is taken, and as many sequences of each length as there are code points */
static void
knows_utf8(void)
{
	unsigned char s[4];
	long taken = 0;

	for (uint32_t c = 0; c <= 0x10ffff; c++) {
		size_t n = encode(c, s);
		bool surrogate = c >= 0xd800 && c <= 0xdfff;

		CHECK(is_utf8(s, n) == !surrogate, "U+%04X", (unsigned)c);
		if (n > 1)
			CHECK(!is_utf8(s, n - 1), "part of U+%04X", (unsigned)c);
	}
	for (uint32_t bits = 0; bits < 1 << 24; bits++) {
		s[0] = (unsigned char)(bits >> 16);
		s[1] = (unsigned char)(bits >> 8);
		s[2] = (unsigned char)bits;
		if (s[0] >= 0x80)
			taken += is_utf8(s, 3);
	}
	/* three bytes; two and an ASCII character; the surrogates are out */
	CHECK(
	    taken == 0x10000 - 0x800 - 0x800 + (0x800 - 0x80) * 0x80, "%ld of three bytes", taken);
	taken = 0;
	for (uint32_t bits = 0; bits < 1 << 20; bits++) {
		static const unsigned char last[] = { 0x7f, 0x80, 0xbf, 0xc0 };

		s[0] = (unsigned char)(0xf0 | bits >> 16);
		s[1] = (unsigned char)(bits >> 8);
		s[2] = (unsigned char)bits;
		for (size_t i = 0; i < 4; i++) {
			s[3] = last[i];
			taken += is_utf8(s, 4);
		}
	}
	CHECK(taken == 0x100000 / 64 * 2, "%ld of four bytes", taken);
}

/* at any place between ASCII characters, which are skipped by eights */
static void
finds_the_place(void)
{
	char text[64];

	for (size_t n = 1; n <= sizeof text; n++)
		for (size_t at = 0; at < n; at++) {
			memset(text, 'a', sizeof text);
			text[at] = '\xff';
			CHECK(
			    utf8_fault((struct field){ text, n }) == at, "byte %zu of %zu", at, n);
			text[at] = '\xc3';
			CHECK(
			    utf8_fault((struct field){ text, n }) == at, "byte %zu of %zu", at, n);
			if (at + 1 < n) {
				text[at + 1] = '\xbc';
				CHECK(utf8_fault((struct field){ text, n }) == n, "%zu of %zu", at,
				    n);
				CHECK(utf8_fault((struct field){ text, at + 1 }) == at, "%zu", at);
			}
		}
	CHECK(utf8_fault((struct field){ NULL, 0 }) == 0, "NULL");
	CHECK(utf8_fault((struct field){ "a\0b", 3 }) == 3, "NUL is a character like any other");
}

/* ---- mem -------------------------------------------------------------------------------- */

static void
gives_zeroed_memory(void)
{
	static const char zero[1000];
	char *p = mem_zeroed(10, 100);
	void *none = mem_zeroed(0, 0);

	CHECK(memcmp(p, zero, sizeof zero) == 0, "not zero");
	CHECK(none != NULL, "NULL for nothing");
	free(p);
	free(none);
}

static void
grows_arrays(void)
{
	uint32_t *array = NULL;
	size_t cap = 0, moves = 0;

	for (uint32_t i = 0; i < 100000; i++) {
		size_t before = cap;

		array = mem_grow(array, &cap, i + 1, sizeof *array);
		CHECK(cap > i, "room for %zu, wanted %u", cap, (unsigned)i + 1);
		moves += cap != before;
		array[i] = i;
	}
	CHECK(moves < 20, "grown %zu times", moves);
	for (uint32_t i = 0; i < 100000; i++)
		CHECK(array[i] == i, "element %u is %u", (unsigned)i, (unsigned)array[i]);
	free(array);
}

static void
region_keeps_pieces_apart(void)
{
	enum { PIECES = 3000 };
	struct field kept[PIECES];
	struct region r = { NULL, 0 };
	char text[70000];
	uint64_t state = 2;

	for (int i = 0; i < PIECES; i++) {
		/* mostly small ones, some too large for a block */
		size_t n = check_random(&state) % (i % 100 == 0 ? sizeof text - 1 : 60);

		memset(text, i % 251, n);
		text[n] = '\0';
		if (i % 3 == 0) {
			char *p = region_get(&r, n);

			CHECK((uintptr_t)p % _Alignof(max_align_t) == 0, "%p", (void *)p);
			kept[i] = (struct field){ memcpy(p, text, n), n };
		} else if (i % 3 == 1) {
			kept[i] = region_keep(&r, (struct field){ text, n });
		} else {
			char *p = region_string(&r, (struct field){ text, n });

			CHECK(p[n] == '\0', "no NUL");
			kept[i] = (struct field){ p, n };
		}
	}
	for (int i = 0; i < PIECES; i++) {
		memset(text, i % 251, kept[i].n);
		CHECK(field_same(kept[i], (struct field){ text, kept[i].n }), "piece %d", i);
	}
	CHECK(region_keep(&r, (struct field){ NULL, 0 }).n == 0, "nothing");
	CHECK(region_string(&r, (struct field){ NULL, 0 })[0] == '\0', "nothing");
	region_free(&r);
	CHECK(r.last == NULL && r.left == 0, "not empty");
	region_free(&r);
}

/* in a child of its own, whose standard error comes back; -1 if it did not end by itself */
static int
status_of(void (*work)(void), char *said, size_t room)
{
	int fd[2], status;
	ssize_t n;
	size_t all = 0;
	pid_t child;

	said[0] = '\0';
	fflush(stdout);
	if (pipe(fd) != 0)
		return -1;
	child = fork();
	if (child == 0) {
		dup2(fd[1], STDERR_FILENO);
		close(fd[0]);
		close(fd[1]);
		work();
		_exit(0);
	}
	close(fd[1]);
	while (child > 0 && all + 1 < room && (n = read(fd[0], said + all, room - 1 - all)) > 0)
		all += (size_t)n;
	said[all] = '\0';
	close(fd[0]);
	if (child < 0 || waitpid(child, &status, 0) != child || !WIFEXITED(status))
		return -1;
	return WEXITSTATUS(status);
}

static void
want_too_many(void)
{
	size_t cap = 0;

	free(mem_grow(NULL, &cap, SIZE_MAX / 8 + 2, 8));
}

static void
want_too_long(void)
{
	struct bytes b = { NULL, 0, 0 };

	bytes_add(&b, "a", 1);
	bytes_add(&b, "a", SIZE_MAX);
}

static void
want_too_large_a_piece(void)
{
	struct region r = { NULL, 0 };

	region_get(&r, SIZE_MAX - 8);
}

static void
ends_without_memory(void)
{
	static void (*const work[])(
	    void) = { mem_none, want_too_many, want_too_long, want_too_large_a_piece };
	char said[100];

	for (size_t i = 0; i < sizeof work / sizeof work[0]; i++) {
		int status = status_of(work[i], said, sizeof said);

		CHECK(status == 2, "%zu: status %d", i, status);
#ifdef __linux__
		CHECK(strcmp(said, "test_bytes: out of memory\n") == 0, "%zu: '%s'", i, said);
#else
		CHECK(strcmp(said, "thrum: out of memory\n") == 0, "%zu: '%s'", i, said);
#endif
	}
}

/* ---- near ------------------------------------------------------------------------------- */

static unsigned
least(unsigned a, unsigned b)
{
	return a < b ? a : b;
}

/* the whole matrix, as it is defined */
static unsigned
slow_edits(const char *a, size_t an, const char *b, size_t bn)
{
	unsigned d[16][16];

	for (size_t i = 0; i <= an; i++)
		for (size_t k = 0; k <= bn; k++) {
			if (i == 0 || k == 0) {
				d[i][k] = (unsigned)(i + k);
				continue;
			}
			d[i][k] = d[i - 1][k - 1] + ((a[i - 1] | 0x20) != (b[k - 1] | 0x20));
			d[i][k] = least(d[i][k], least(d[i - 1][k], d[i][k - 1]) + 1);
		}
	return d[an][bn];
}

static void
counts_edits(void)
{
	uint64_t state = 3;
	char a[15], b[15], longer[SPELLING_LONGEST + 1];

	for (int i = 0; i < 100000; i++) {
		struct field fa = { a, check_random(&state) % sizeof a };
		struct field fb = { b, check_random(&state) % sizeof b };
		size_t most = check_random(&state) % 16, want, got;

		for (size_t k = 0; k < sizeof a; k++) {
			a[k] = "abAC"[check_random(&state) % 4];
			b[k] = "abAC"[check_random(&state) % 4];
		}
		want = slow_edits(a, fa.n, b, fb.n);
		if (want > most)
			want = most + 1;
		got = spelling_edits(fa, fb, most);
		CHECK(got == want, "%.*s, %.*s, at most %zu: %zu, want %zu", (int)fa.n, a,
		    (int)fb.n, b, most, got, want);
	}
	CHECK(spelling_edits((struct field){ NULL, 0 }, (struct field){ NULL, 0 }, 0) == 0, "NULL");
	CHECK(spelling_edits((struct field){ NULL, 0 }, field_of("ab"), 5) == 2, "NULL");
	memset(longer, 'x', sizeof longer);
	CHECK(spelling_edits((struct field){ longer, SPELLING_LONGEST },
		  (struct field){ longer, SPELLING_LONGEST }, 0) == 0,
	    "the longest");
	CHECK(spelling_edits((struct field){ longer, SPELLING_LONGEST + 1 },
		  (struct field){ longer, SPELLING_LONGEST + 1 }, 5) == 6,
	    "too long");
	CHECK(spelling_edits((struct field){ longer, SPELLING_LONGEST + 1 },
		  (struct field){ longer, SPELLING_LONGEST }, 5) == 6,
	    "one too long");
}

static void
offers_the_nearest_name(void)
{
	static const char *const names[] = { "joint", "closure", "tray", "slot", "lost",
		"loss_ab_db", "loss_db", "mfd_a_um", "mfd_b_um", "attempt", "kind", "at" };
	static const struct {
		const char *wanted, *offered;
	} known[] = {
		{ "Joint", "joint" }, { "LOSS_DB", "loss_db" }, { "joints", "joint" },
		{ "jiont", "joint" }, { "los_db", "loss_db" }, { "loss", "loss_db" },
		{ "Loss (dB)", "loss_db" }, { "ab_db", "loss_ab_db" }, { "mfd_um", "mfd_a_um" },
		{ "my_attempt", "attempt" }, { "closuer", "closure" }, { "tay", "tray" },
		{ "At", "at" }, { "ut", NULL }, { "", NULL }, { "wavelength", NULL },
		{ "kite", NULL }, { "rating", NULL }, /* though it holds "at" */
	};
	struct field have[sizeof names / sizeof names[0]];
	size_t n = sizeof names / sizeof names[0];

	for (size_t i = 0; i < n; i++)
		have[i] = field_of(names[i]);
	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		size_t at = spelling_best(field_of(known[i].wanted), have, n);
		const char *offered = at < n ? names[at] : NULL;

		CHECK(offered == known[i].offered || (offered != NULL && known[i].offered != NULL &&
							 strcmp(offered, known[i].offered) == 0),
		    "'%s': %s", known[i].wanted, offered != NULL ? offered : "none");
	}
	CHECK(spelling_best(field_of("joint"), NULL, 0) == SIZE_MAX, "out of nothing");
}

int
main(void)
{
	RUN(keeps_the_first_failure);
	RUN(cuts_long_failures);
	RUN(shows_any_bytes);
	RUN(orders_fields);
	RUN(cuts_fields);
	RUN(grows_buffers);
	RUN(knows_utf8);
	RUN(finds_the_place);
	RUN(gives_zeroed_memory);
	RUN(grows_arrays);
	RUN(region_keeps_pieces_apart);
	RUN(ends_without_memory);
	RUN(counts_edits);
	RUN(offers_the_nearest_name);
	return check_done();
}
