/*
 * fuzz_unpack: any bytes as a pack, read in every way there is: forwards from a pipe and from a
 * file, by key, only listed, tested, salvaged; any bytes as rows, packed and read back; and packs of
 * known rows that are cut, flipped, and whose members are left out, moved, doubled and exchanged: no
 * way of reading gives a row that was not packed, or out of its order, or says that all is well when
 * rows are missing.
 *
 * The first byte says what to do. With MEND all lengths and CRC-32s are put right first, so that
 * wrong contents get past them.
 */
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "archive/member.h"
#include "archive/read.h"
#include "archive/write.h"
#include "table/pick.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

enum { MEND = 1, PACK = 2, TWO_THREADS = 4, KNOWN = 8, LIMIT = 1 << 22 };

static void
must_be(bool good, int line)
{
	if (good)
		return;
	fprintf(stderr, "%s:%d: does not hold\n", __FILE__, line);
	abort();
}

#define must(good) must_be(good, __LINE__)

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

enum way { BY_PIPE, BY_FILE, BY_KEY };

static void
read_back(
    struct read *r, const void *p, size_t n, enum way way, enum unpack_mode mode, size_t threads)
{
	struct unpack_want want = { field_of("k"), field_of("b") };
	struct unpack_setup setup = { .mode = mode,
		.threads = threads,
		.want = &want,
		.nwant = way == BY_KEY,
		.limit = LIMIT };
	struct err err = { "" };
	struct pack_source source;
	struct unpack *u;
	struct field bytes;
	enum unpack_event event;
	uint64_t rows = 0;

	*r = (struct read){ .ends = 0 };
	pack_source_memory(&source, p, n, way != BY_PIPE);
	u = unpack_open(&source, &setup, &err);
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
	must(r->failed || mode != UNPACK_SALVAGE || rows == r->sum.rows);
	must(rows <= r->sum.rows && r->rows.n <= LIMIT);
	must(r->failed || r->sum.whole || unpack_trouble(u).n > 0);
	unpack_free(u);
}

static void
unpack_it(const unsigned char *p, size_t n, unsigned mode)
{
	size_t threads = mode & TWO_THREADS ? 2 : 1;
	struct read pipe, file, key, skim, test, saved;

	read_back(&pipe, p, n, BY_PIPE, UNPACK_PLAIN, threads);
	read_back(&file, p, n, BY_FILE, UNPACK_PLAIN, threads);
	read_back(&key, p, n, BY_KEY, UNPACK_PLAIN, threads);
	read_back(&skim, p, n, BY_FILE, UNPACK_LIST, threads);
	read_back(&test, p, n, BY_FILE, UNPACK_TEST, threads);
	read_back(&saved, p, n, BY_FILE, UNPACK_SALVAGE, threads);
	if (pipe.sum.whole && !pipe.failed && file.sum.whole) {
		must(pipe.rows.n == file.rows.n);
		must(pipe.rows.n == 0 || memcmp(pipe.rows.p, file.rows.p, pipe.rows.n) == 0);
		must(pipe.sum.lost == 0 && pipe.sum.lost_known);
	}
	bytes_free(&pipe.rows);
	bytes_free(&file.rows);
	bytes_free(&key.rows);
	bytes_free(&skim.rows);
	bytes_free(&test.rows);
	bytes_free(&saved.rows);
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
	read_back(&r, packed.p, packed.n, BY_PIPE, UNPACK_PLAIN, 1);
	must(r.sum.whole && !r.failed && r.rows.n == rows.n &&
	     memcmp(r.rows.p, rows.p, rows.n) == 0);
	bytes_free(&r.rows);
	read_back(&r, packed.p, packed.n, BY_KEY, UNPACK_PLAIN, 1);
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

/* --- known rows ------------------------------------------------------------------------------ */

/*
 * The packs, by their letters: a and b have the same columns and their first SHARED rows, as two
 * versions of one table do; c has other columns; d is small, e is empty, f has a header in pieces,
 * and the columns of none.
 */
enum { PACKS = 6, SHARED = 5, RUN = 4, MEMBERS = 200 };

static const size_t rows_of[PACKS] = { 10, 9, 6, 3, 0, 5 };
static struct bytes known[PACKS], headers[PACKS];
static uint32_t digests[PACKS]; /* by which an end member says whose it is */

/* Row i of a pack; its length depends on i, so that rows cross the borders of blocks. */
static void
make_row(struct bytes *row, size_t pack, size_t i)
{
	size_t n = pack == 3 || pack == 5 ? 10 : 9000 + i * 7919 % 30000;

	if (pack == 1 && i < SHARED)
		pack = 0;
	row->n = 0;
	bytes_add_format(row, "K%zu\t%c%zu\t", i / RUN, (int)('a' + pack), i);
	memset(bytes_room(row, n), (int)('a' + (i * 31 + pack) % 26), n);
	row->n += n;
	for (size_t column = 3; pack == 5 && column < 6003; column++)
		bytes_add_text(row, "\t");
}

static uint32_t
end_digest(const struct bytes *packed)
{
	struct pack_end end;
	struct member m;
	size_t at = 0;

	do {
		must(member_parse(&m, (unsigned char *)packed->p + at, packed->n - at) == NULL);
		at += m.size;
	} while (m.kind != MEMBER_END);
	must(end_parse(&end, &m) == NULL);
	return end.digest;
}

static void
make_known(size_t pack)
{
	static const char letters[] = "abcdef";
	struct field key = field_of("k");
	struct pack_setup setup = { .keys = &key,
		.nkeys = 1,
		.name = { letters + pack, 1 },
		.level = 1,
		.threads = 1,
		.write = collect,
		.arg = &known[pack] };
	struct bytes row = { NULL, 0, 0 };
	struct err err = { "" };
	struct packer *packer;
	uint32_t hash;

	bytes_add_text(&headers[pack], pack == 2 ? "k\tpad\tid" : "k\tid\tpad");
	for (size_t column = 3; pack == 5 && column < 6003; column++)
		bytes_add_format(&headers[pack], "\tcolumn_%zu", column);
	setup.header = bytes_field(&headers[pack]);
	packer = packer_open(&setup, &err);
	for (size_t i = 0; i < rows_of[pack]; i++) {
		make_row(&row, pack, i);
		hash = pack_key(pack_key_start(key), pick_field(bytes_field(&row), 0));
		must(packer_row(packer, bytes_field(&row), &hash) == 0);
	}
	packer_close(packer);
	packer_free(packer);
	bytes_free(&row);
	digests[pack] = end_digest(&known[pack]);
}

/* Takes the next byte. */
static size_t
take(const unsigned char **p, size_t *n)
{
	if (*n == 0)
		return 0;
	(*n)--;
	return *(*p)++;
}

/* Some packs, their members out of place as the bytes say, and then bytes changed. */
static void
make_victim(struct bytes *out, const unsigned char *p, size_t n)
{
	struct member members[MEMBERS];
	size_t count = 0, packs = 1 + take(&p, &n) % 3, ops;

	for (size_t i = 0; i < packs; i++) {
		const struct bytes *pack = &known[take(&p, &n) % PACKS];

		for (size_t at = 0; at < pack->n; at += members[count++].size)
			must(member_parse(&members[count], (unsigned char *)pack->p + at,
				 pack->n - at) == NULL);
	}
	for (ops = take(&p, &n) % 4; ops > 0; ops--) {
		size_t what = take(&p, &n) % 4, i = take(&p, &n) % count, j = take(&p, &n) % count;
		struct member m = members[i];

		if (what == 3) { /* exchange two */
			members[i] = members[j];
			members[j] = m;
			continue;
		}
		if (what != 1 && count > 1) { /* leave it out, or move it */
			memmove(members + i, members + i + 1, (count - i - 1) * sizeof *members);
			count--;
			j = j > count ? count : j;
		}
		if (what != 0 && count < MEMBERS) { /* there, or there once more */
			memmove(members + j + 1, members + j, (count - j) * sizeof *members);
			members[j] = m;
			count++;
		}
	}
	for (size_t i = 0; i < count; i++)
		bytes_add(out, members[i].p, members[i].size);
	for (ops = take(&p, &n) % 4; ops > 0; ops--) {
		size_t what = take(&p, &n), at = take(&p, &n) << 8;

		at = (at | take(&p, &n)) * 3 % out->n;
		if (what % 4 == 0 && at > 0)
			out->n = at;
		else if (what % 4 == 1 && out->n - at > 20)
			memmove(out->p + at, out->p + at + 7, (out->n -= 7) - at);
		else
			out->p[at] ^= (char)(1 + what % 255);
	}
}

/* The rows of one pack, between its header and its end. */
struct run {
	size_t header; /* of which pack it is */
	size_t next;   /* the row that comes next, or a later one */
	size_t keyed;  /* rows with the key */
};

/* A row that is given: it was packed, under this header, behind those before. */
static void
check_row(struct run *run, struct field row, bool gaps)
{
	struct field id = pick_field(row, 1);
	struct bytes want = { NULL, 0, 0 };
	size_t pack, i = 0;

	must(id.n > 1 && id.p[0] >= 'a' && id.p[0] < 'a' + PACKS);
	pack = (size_t)(id.p[0] - 'a');
	for (size_t c = 1; c < id.n; c++)
		i = i * 10 + (size_t)(id.p[c] - '0');
	must(i < rows_of[pack] && (gaps ? i >= run->next : i == run->next));
	must(field_same(bytes_field(&headers[pack]), bytes_field(&headers[run->header])));
	make_row(&want, pack, i);
	must(field_same(bytes_field(&want), row));
	bytes_free(&want);
	run->next = i + 1;
	run->keyed += field_is(pick_field(row, 0), "K1");
}

static void
read_known(const struct bytes *in, enum way way, enum unpack_mode mode, size_t threads)
{
	struct unpack_want want = { field_of("k"), field_of("K1") };
	struct unpack_setup setup = {
		.mode = mode, .threads = threads, .want = &want, .nwant = way == BY_KEY
	};
	bool complete = mode != UNPACK_LIST, gaps = way == BY_KEY || mode == UNPACK_SALVAGE;
	struct err err = { "" };
	struct pack_source source;
	struct unpack *u;
	struct run run = { 0 };
	struct field bytes;
	enum unpack_event event;

	pack_source_memory(&source, in->p, in->n, way != BY_PIPE);
	u = unpack_open(&source, &setup, &err);
	while ((event = unpack_next(u, &bytes)) != UNPACK_OVER) {
		if (event == UNPACK_HEADER) {
			run = (struct run){ 0 };
			while (!field_same(bytes, bytes_field(&headers[run.header])))
				must(++run.header < PACKS);
		}
		while (event == UNPACK_ROWS && bytes.n > 0)
			check_row(&run, field_cut(&bytes, '\n'), gaps);
		for (size_t pack = 0; event == UNPACK_END && pack < PACKS; pack++) {
			size_t n = rows_of[pack], keyed;

			if (unpack_pack(u)->end.digest != digests[pack])
				continue;
			keyed = n < RUN ? 0 : n - RUN < RUN ? n - RUN : RUN;
			complete &= way == BY_KEY ? run.keyed == keyed : run.next == n;
		}
	}
	must(complete || mode == UNPACK_LIST || err_is_set(&err) || !unpack_sum(u).whole);
	unpack_free(u);
}

static void
hurt_known(const unsigned char *p, size_t n, unsigned mode)
{
	size_t threads = mode & TWO_THREADS ? 2 : 1;
	struct bytes victim = { NULL, 0, 0 }, exact;

	for (size_t i = 0; i < PACKS; i++)
		if (known[i].n == 0)
			make_known(i);
	make_victim(&victim, p, n);
	exact = (struct bytes){ malloc(victim.n + 1), victim.n, victim.n };
	must(exact.p != NULL);
	memcpy(exact.p, victim.p, victim.n);
	for (enum way way = BY_PIPE; way <= BY_KEY; way++) {
		read_known(&exact, way, UNPACK_PLAIN, threads);
		read_known(&exact, way, UNPACK_SALVAGE, threads);
	}
	read_known(&exact, BY_FILE, UNPACK_TEST, threads);
	read_known(&exact, BY_FILE, UNPACK_LIST, threads);
	bytes_free(&victim);
	bytes_free(&exact);
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
	if (mode & KNOWN) {
		hurt_known(copy, size, mode);
	} else if (mode & PACK) {
		pack_it(copy, size, mode);
	} else {
		if (mode & MEND)
			mend(copy, size);
		unpack_it(copy, size, mode);
	}
	free(copy);
	return 0;
}
