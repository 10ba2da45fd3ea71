/*
 * fuzz_unpack: any bytes as a pack, read in every way there is: forwards from a pipe and from a
 * file, by key, only listed; and any bytes as rows, packed and read back.
 *
 * The first byte says what to do. With MEND all lengths and CRC-32s are put right first, so that
 * wrong contents get past them.
 */
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "archive/member.h"
#include "archive/read.h"
#include "archive/write.h"
#include "table/pick.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { MEND = 1, PACK = 2, TWO_THREADS = 4, LIMIT = 1 << 22 };

static void
must(bool good)
{
	if (!good)
		abort();
}

/* The CRC-32 of a member's own subfield, and of its payload. */
static void
mend_member(unsigned char *p, size_t n, size_t extra_n, struct codec *codec)
{
	static unsigned char payload[MEMBER_MOST];
	unsigned char *own = p + 12;
	size_t deflate_at = 12 + extra_n, length;

	if (extra_n >= 16) {
		length = (size_t)little(own + 2, 2);
		if (length >= 6 && length + 4 <= extra_n - 6)
			put_little(own + length, codec_crc(0, own + 4, length - 4), 4);
	}
	length = (size_t)little(p + n - 4, 4);
	if (length <= PAYLOAD_MOST &&
	    codec_inflate(codec, p + deflate_at, n - 8 - deflate_at, payload, length))
		put_little(p + n - 8, codec_crc(0, payload, length), 4);
}

static void
mend(unsigned char *p, size_t n)
{
	struct codec *codec = codec_open(1);

	while (n >= MEMBER_LEAST) {
		size_t extra_n = (size_t)little(p + 10, 2), size;

		if (extra_n < 6 || n < 12 + extra_n + 10)
			break;
		size = (size_t)little(p + 12 + extra_n - 2, 2) + 1;
		if (size < 12 + extra_n + 10 || size > n)
			break;
		mend_member(p, size, extra_n, codec);
		p += size;
		n -= size;
	}
	codec_free(codec);
}

struct read {
	struct bytes rows;
	struct unpack_sum sum;
	bool failed;
	uint64_t ends;
};

enum way { BY_PIPE, BY_FILE, BY_KEY, SKIMMED };

static void
read_back(struct read *r, const void *p, size_t n, enum way way, size_t threads)
{
	struct err err = { "" };
	struct pack_source source;
	struct unpack *u;
	struct field bytes;
	enum unpack_event event;
	uint64_t rows = 0;

	*r = (struct read){ .ends = 0 };
	pack_source_memory(&source, p, n, way != BY_PIPE);
	u = unpack_open(&source, threads, &err);
	unpack_limit(u, LIMIT);
	if (way == BY_KEY)
		unpack_want(u, field_of("k"), field_of("b"));
	if (way == SKIMMED)
		unpack_skim(u);
	while ((event = unpack_next(u, &bytes)) != UNPACK_OVER) {
		if (event == UNPACK_HEADER)
			must(bytes.n == 0 || memchr(bytes.p, '\n', bytes.n) == NULL);
		if (event == UNPACK_END)
			r->ends++;
		if (event != UNPACK_ROWS)
			continue;
		must(bytes.n > 0 && bytes.p[bytes.n - 1] == '\n');
		for (size_t i = 0; i < bytes.n; i++)
			rows += bytes.p[i] == '\n';
		bytes_add_field(&r->rows, bytes);
	}
	r->failed = err_is_set(&err);
	r->sum = unpack_sum(u);
	must(r->failed || (rows == r->sum.rows && r->rows.n <= LIMIT));
	must(r->failed || r->sum.whole || unpack_trouble(u).n > 0);
	unpack_free(u);
}

static void
unpack_it(const unsigned char *p, size_t n, unsigned mode)
{
	size_t threads = mode & TWO_THREADS ? 2 : 1;
	struct read pipe, file, key, skim;

	read_back(&pipe, p, n, BY_PIPE, threads);
	read_back(&file, p, n, BY_FILE, threads);
	read_back(&key, p, n, BY_KEY, threads);
	read_back(&skim, p, n, SKIMMED, threads);
	/* how it is read does not matter but for a header borrowed from the end of a file */
	must(pipe.failed == file.failed && pipe.sum.whole == file.sum.whole);
	must(file.sum.rows >= pipe.sum.rows || file.failed);
	if (pipe.sum.whole && !pipe.failed) {
		must(pipe.rows.n == file.rows.n);
		must(pipe.rows.n == 0 || memcmp(pipe.rows.p, file.rows.p, pipe.rows.n) == 0);
		must(skim.ends == pipe.ends && pipe.sum.lost == 0 && pipe.sum.lost_known);
	}
	bytes_free(&pipe.rows);
	bytes_free(&file.rows);
	bytes_free(&key.rows);
	bytes_free(&skim.rows);
}

static void
collect(void *arg, const void *p, size_t n)
{
	bytes_add(arg, p, n);
}

/* Any lines as rows of a table whose first column, k, is the key. */
static void
pack_it(const unsigned char *p, size_t n, unsigned mode)
{
	struct field key = field_of("k"), left = { (const char *)p, n }, row, all;
	struct bytes packed = { NULL, 0, 0 }, rows = { NULL, 0, 0 };
	struct pack_setup setup = { .header = field_of("k\tx"),
		.keys = &key,
		.nkeys = 1,
		.level = 1 + (int)(mode >> 4) % 9,
		.threads = mode & TWO_THREADS ? 2 : 1,
		.write = collect,
		.arg = &packed };
	struct err err = { "" };
	struct packer *packer = packer_open(&setup, &err);
	uint32_t start = pack_key_start(key), hash;
	struct pick pick = { 0 };
	struct read r;
	size_t want = 0, got = 0;

	while (left.p != NULL) {
		row = field_cut(&left, '\n');
		hash = pack_key(start, pick_field(row, 0));
		must(packer_row(packer, row, &hash) == 0);
		bytes_add_field(&rows, row);
		bytes_add_text(&rows, "\n");
	}
	packer_close(packer);
	packer_free(packer);
	read_back(&r, packed.p, packed.n, BY_PIPE, 1);
	must(r.sum.whole && !r.failed && r.rows.n == rows.n &&
	     memcmp(r.rows.p, rows.p, rows.n) == 0);
	bytes_free(&r.rows);
	read_back(&r, packed.p, packed.n, BY_KEY, 1);
	must(r.sum.whole && !r.failed);
	pick_add(&pick, 0, field_of("b"));
	all = bytes_field(&rows);
	while (pick_next(&pick, &all, &row))
		want++;
	all = bytes_field(&r.rows);
	while (pick_next(&pick, &all, &row))
		got++;
	must(got == want);
	bytes_free(&r.rows);
	bytes_free(&packed);
	bytes_free(&rows);
	pick_free(&pick);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	unsigned char *copy;
	unsigned mode;

	if (size == 0)
		return 0;
	mode = data[0];
	size--;
	copy = malloc(size + (size == 0)); /* exactly so many, so that a byte too many is seen */
	if (copy == NULL)
		abort();
	memcpy(copy, data + 1, size);
	if (mode & PACK) {
		pack_it(copy, size, mode);
	} else {
		if (mode & MEND)
			mend(copy, size);
		unpack_it(copy, size, mode);
	}
	free(copy);
	return 0;
}
