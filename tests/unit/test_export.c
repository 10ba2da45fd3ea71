/* The border to exports: the splitter against a naive one, rows against libcsv's own. */
#include "check.h"

#include <csv.h>
#include <stdbool.h>
#include <stdlib.h>
#include <unistd.h>

#include "base/mem.h"
#include "import/recode.h"
#include "import/export.h"
#include "import/lines.h"

/* --- the scanner ----------------------------------------------------------------------------- */

static bool
same_scan(const struct scan *a, const struct scan *b)
{
	return a->at == b->at && a->n == b->n && a->nul == b->nul && a->cr == b->cr &&
	       a->first_quote == b->first_quote && a->last_quote == b->last_quote &&
	       a->tab == b->tab && a->beyond == b->beyond &&
	       (a->n == 0 || memcmp(a->marks, b->marks, a->n * sizeof *a->marks) == 0);
}

static void
scanner_is_the_naive_one(void)
{
	static const char alphabet[] = "aaaaaaaaaaaaaaaaaaaaaaaaaaaa;;;;;;\"\t\xc3\r";
	struct scan fast = { .delimiter = ';', .quote = '"' }, slow = fast;
	uint64_t state = 7;

	for (int round = 0; round < 20000; round++) {
		size_t n = check_random(&state) % 300, cut = n > 0 ? check_random(&state) % n : 0;
		char *p = mem_zeroed(n + 1, 1);
		size_t end = n;
		bool found, by_bytes = false;

		for (size_t i = 0; i < n; i++)
			p[i] = check_random(&state) % 90 == 0
				   ? '\n'
				   : alphabet[check_random(&state) % (sizeof alphabet)];
		scan_begin(&fast);
		scan_begin(&slow);
		/* in two pieces and in one */
		found = scan_line(&fast, p, cut) || scan_line(&fast, p, n);
		/* less than a block at once is looked at byte by byte */
		for (size_t k = 1; k <= n && !by_bytes; k++)
			by_bytes = scan_line(&slow, p, k);
		CHECK(by_bytes == found, "round %d", round);
		CHECK(same_scan(&fast, &slow), "round %d: at %zu, %zu", round, fast.at, slow.at);
		for (size_t i = n; i-- > 0;)
			end = p[i] == '\n' ? i : end;
		CHECK(fast.at == end && found == (end < n), "round %d: %zu, not %zu", round,
		    fast.at, end);
		for (size_t i = 0, k = 0; i < end; i++)
			if (p[i] == ';')
				CHECK(k < fast.n && fast.marks[k++] == i, "round %d", round);
		free(p);
	}
	scan_free(&fast);
	scan_free(&slow);
}

/* --- rows, against libcsv over the whole text ------------------------------------------------ */

struct rows {
	struct bytes text; /* cells ended by TAB, rows by LF */
	size_t n;
};

static void
lib_cell(void *p, size_t n, void *arg)
{
	struct rows *r = arg;
	const char *s = p;

	for (size_t i = 0; i < n; i++)
		bytes_add(&r->text, s[i] == '\t' || s[i] == '\n' ? " " : s + i, 1);
	bytes_add(&r->text, "\t", 1);
}

static void
lib_row(int c, void *arg)
{
	struct rows *r = arg;

	(void)c;
	bytes_add(&r->text, "\n", 1);
	r->n++;
}

static int
never(unsigned char c)
{
	(void)c;
	return 0;
}

static int
feed(unsigned char c)
{
	return c == '\n';
}

static void
by_libcsv(struct field text, struct rows *r)
{
	struct csv_parser p;

	r->text.n = r->n = 0;
	csv_init(&p, 0);
	csv_set_delim(&p, ';');
	csv_set_space_func(&p, never);
	csv_set_term_func(&p, feed);
	csv_parse(&p, text.p, text.n, lib_cell, lib_row, r);
	csv_fini(&p, lib_cell, lib_row, r);
	csv_free(&p);
}

/* true if it was read to its end without trouble */
static bool
by_us(const char *path, size_t block, struct rows *r)
{
	struct dialect dialect = { .layout = LAYOUT_CELLS, .delimiter = ';', .quote = '"' };
	struct err err = { "" };
	struct export *in = export_open(path, block, &err);
	struct record row;

	r->text.n = r->n = 0;
	if (in != NULL && export_begin(in, &dialect, NULL) == 0)
		while (export_next(in, &row)) {
			if (row.blank)
				continue;
			for (size_t i = 0; i < row.n; i++) {
				bytes_add_field(&r->text, row.f[i]);
				bytes_add(&r->text, "\t", 1);
				CHECK(i == 0 || row.f[i].p == row.f[i - 1].p + row.f[i - 1].n + 1,
				    "cells not side by side");
			}
			bytes_add(&r->text, "\n", 1);
			r->n++;
		}
	export_close(in);
	return !err_is_set(&err);
}

/* Writes a text to a file of its own and compares, with several block sizes. */
static bool
compare(struct field text, const char *path, struct rows *ours, struct rows *theirs)
{
	static const size_t blocks[] = { 1, 7, 64, LINES_BLOCK };
	FILE *f = fopen(path, "w");
	bool whole = false;

	CHECK(f != NULL && fwrite(text.p, 1, text.n, f) == text.n && fclose(f) == 0, "%s", path);
	by_libcsv(text, theirs);
	for (size_t b = 0; b < sizeof blocks / sizeof blocks[0]; b++) {
		whole = by_us(path, blocks[b], ours);
		/* where a quote is not doubled or never closed we stop, libcsv guesses */
		CHECK(ours->text.n <= theirs->text.n &&
			  (ours->text.n == 0 ||
			      memcmp(ours->text.p, theirs->text.p, ours->text.n) == 0) &&
			  (!whole || ours->text.n == theirs->text.n),
		    "block %zu: '%.*s' is not '%.*s' for '%.*s'", blocks[b], (int)ours->text.n,
		    ours->text.p, (int)theirs->text.n, theirs->text.p, (int)text.n, text.p);
	}
	return whole;
}

static void
random_texts_are_libcsv_s(void)
{
	static const char alphabet[] = "aab;;\"\" \t\xc3\xa4";
	struct rows ours = { { 0 } }, theirs = { { 0 } };
	struct bytes text = { 0 };
	char path[] = "/tmp/test_export.XXXXXX";
	uint64_t state = 11;
	int whole = 0, fd = mkstemp(path);

	CHECK(fd >= 0, "no temporary file");
	for (int round = 0; round < 3000; round++) {
		size_t n = 1 + check_random(&state) % 60;

		text.n = 0;
		bytes_add_text(&text, "x");
		for (size_t i = 0; i < n; i++) {
			size_t k = check_random(&state) % sizeof alphabet;

			if (k >= sizeof alphabet - 3)
				bytes_add_text(&text, k == sizeof alphabet - 1 ? "\n" : "\xc3\xa4");
			else
				bytes_add(&text, alphabet + k, 1);
		}
		whole += compare(bytes_field(&text), path, &ours, &theirs);
	}
	CHECK(whole > 300, "only %d of 3000 read to their end", whole);
	close(fd);
	unlink(path);
	bytes_free(&text);
	bytes_free(&ours.text);
	bytes_free(&theirs.text);
}

/* cells quoted as they should be, so that every text is read to its end */
static void
quoted_texts_are_libcsv_s(void)
{
	static const char alphabet[] = "ab;\"\n \t";
	struct rows ours = { { 0 } }, theirs = { { 0 } };
	struct bytes text = { 0 };
	char path[] = "/tmp/test_export.XXXXXX";
	uint64_t state = 13;
	int fd = mkstemp(path);

	CHECK(fd >= 0, "no temporary file");
	for (int round = 0; round < 2000; round++) {
		size_t rows = 1 + check_random(&state) % 5, cells = 1 + check_random(&state) % 6;

		text.n = 0;
		for (size_t r = 0; r < rows * cells; r++) {
			bool quoted = check_random(&state) % 3 == 0;

			bytes_add_text(&text, r % cells > 0 ? ";" : r > 0 ? "\n" : "");
			bytes_add_text(&text, quoted ? "\"" : "c");
			for (uint64_t n = check_random(&state) % 8; n > 0; n--) {
				char ch = alphabet[check_random(&state) % (quoted ? 7 : 2)];

				bytes_add(&text, &ch, 1);
				bytes_add(&text, &ch, ch == '"');
			}
			bytes_add_text(&text, quoted ? "\"" : "");
		}
		CHECK(compare(bytes_field(&text), path, &ours, &theirs), "round %d: '%.*s'", round,
		    (int)text.n, text.p);
	}
	close(fd);
	unlink(path);
	bytes_free(&text);
	bytes_free(&ours.text);
	bytes_free(&theirs.text);
}

/* --- encodings ------------------------------------------------------------------------------- */

static void
lines_are_converted(void)
{
	static const struct {
		const char *encoding;
		struct field raw;
		const char *want;
		size_t fault;
	} cases[] = {
		{ "WINDOWS-1252",
		    { "4 \xb0"
		      "C \x80",
			6 },
		    "4 \xc2\xb0"
		    "C \xe2\x82\xac",
		    6 },
		{ "WINDOWS-1252",
		    { "a\x81"
		      "b",
			3 },
		    "a?b", 1 },
		{ "ISO-8859-15", { "\xa4", 1 }, "\xe2\x82\xac", 1 },
		{ "UTF-16LE", { "a\0\xe4\0", 4 }, "a\xc3\xa4", 4 },
		{ "UTF-16BE", { "\0a\0\xe4", 4 }, "a\xc3\xa4", 4 },
		{ "UTF-16LE",
		    { "a\0\0\xdc"
		      "b\0",
			6 },
		    "a?b", 2 }, /* half a pair */
		{ "UTF-16LE", { "a\0b", 3 }, "a?", 2 },
		{ "ASCII", { "a\xff", 2 }, "a?", 1 },
	};
	struct bytes out = { 0 };
	const char *why;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct recode *r = recode_open(cases[i].encoding, &why);

		CHECK(r != NULL, "%s", cases[i].encoding);
		if (r == NULL)
			continue;
		out.n = 0;
		CHECK(recode_line(r, cases[i].raw, &out) == cases[i].fault, "case %zu", i);
		CHECK(field_is(bytes_field(&out), cases[i].want), "case %zu: '%.*s'", i, (int)out.n,
		    out.p);
		recode_close(r);
	}
	CHECK(recode_open("no-such-thing", &why) == NULL, "opened");
	CHECK(recode_open("UTF-8//TRANSLIT", &why) == NULL, "opened");
	CHECK(recode_open("", &why) == NULL, "opened");
	CHECK(recode_open("IBM037", &why) == NULL, "EBCDIC opened");
	bytes_free(&out);
}

int
main(void)
{
	RUN(scanner_is_the_naive_one);
	RUN(random_texts_are_libcsv_s);
	RUN(quoted_texts_are_libcsv_s);
	RUN(lines_are_converted);
	return check_done();
}
