/*
 * Packs: the format's bytes, what is packed comes back, and whatever is done to a pack, no row comes
 * out that was not put in.
 */
#include <stdlib.h>

#include "archive/member.h"
#include "archive/pool.h"
#include "archive/read.h"
#include "archive/write.h"
#include "base/mem.h"
#include "table/pick.h"
#include "check.h"

/* --- tools ----------------------------------------------------------------------------------- */

static void
collect(void *arg, const void *p, size_t n)
{
	bytes_add(arg, p, n);
}

/* Packs a table, whose header is its first line; its first column is the key. */
static void
pack_with(struct bytes *packed, struct field table, int level, size_t threads)
{
	struct field left = table, header = field_cut(&left, '\n'), names = header, row;
	struct field key = field_cut(&names, '\t');
	struct pack_setup setup = { .header = header,
		.keys = &key,
		.nkeys = 1,
		.level = level,
		.name = field_of("joints"),
		.threads = threads,
		.write = collect,
		.arg = packed };
	struct err err = { "" };
	struct packer *packer = packer_open(&setup, &err);
	uint32_t start = pack_key_start(key), hash;

	CHECK(packer != NULL, "%s", err.text);
	while (left.n > 0) {
		row = field_cut(&left, '\n');
		hash = pack_key(start, pick_field(row, 0));
		CHECK(packer_row(packer, row, &hash) == 0, "%s", err.text);
	}
	packer_close(packer);
	packer_free(packer);
}

static void
pack(struct bytes *packed, struct field table)
{
	pack_with(packed, table, 6, 1);
}

static bool
is_prefix(struct field a, struct field of)
{
	return a.n <= of.n && (a.n == 0 || memcmp(a.p, of.p, a.n) == 0);
}

enum way { BY_PIPE, BY_FILE, BY_KEY, SKIMMED };

struct got {
	struct bytes all;    /* every row that is proven */
	struct bytes prefix; /* those of plain reading */
	struct bytes trouble;
	struct unpack_sum sum;
	struct err err;
	size_t ends;
};

static void
got_free(struct got *g)
{
	bytes_free(&g->all);
	bytes_free(&g->prefix);
	bytes_free(&g->trouble);
}

static void
read_as(
    struct got *g, const struct pack_source *source, struct unpack_setup *setup, struct bytes *rows)
{
	struct unpack *u;
	struct field bytes;
	enum unpack_event event;

	g->err = (struct err){ "" };
	g->ends = 0;
	u = unpack_open(source, setup, &g->err);
	while ((event = unpack_next(u, &bytes)) != UNPACK_OVER) {
		g->ends += event == UNPACK_END;
		if (event == UNPACK_ROWS)
			bytes_add_field(rows, bytes);
	}
	g->sum = unpack_sum(u);
	g->trouble.n = 0;
	bytes_add_field(&g->trouble, unpack_trouble(u));
	unpack_free(u);
}

/* Reads it twice: as plain reading does, and then what can be salvaged. */
static void
read_from(struct got *g, const struct pack_source *source, enum way way, const char *key,
    const char *value, size_t threads)
{
	struct unpack_want want = { field_of(key), field_of(value) };
	struct unpack_setup setup = { .threads = threads, .want = &want, .nwant = way == BY_KEY };

	*g = (struct got){ .ends = 0 };
	if (way == SKIMMED)
		setup.mode = UNPACK_LIST;
	read_as(g, source, &setup, &g->prefix);
	if (way == SKIMMED)
		return;
	setup.mode = UNPACK_SALVAGE;
	read_as(g, source, &setup, &g->all);
	CHECK(
	    is_prefix(bytes_field(&g->prefix), bytes_field(&g->all)), "plain and salvaged differ");
}

static void
read_back(struct got *g, struct field packed, enum way way, const char *value)
{
	struct pack_source source;

	pack_source_memory(&source, packed.p, packed.n, way != BY_PIPE);
	read_from(g, &source, way, "k", value, 1);
}

static struct field
rows_of(struct field table)
{
	field_cut(&table, '\n');
	return table.p != NULL ? table : (struct field){ "", 0 };
}

/* The rows with this key, out of whole rows. */
static void
with_key(struct bytes *out, struct field rows, const char *value)
{
	struct pick pick = { 0 };
	struct field row;

	pick_add(&pick, 0, field_of(value));
	out->n = 0;
	while (pick_next(&pick, &rows, &row))
		bytes_add(out, row.p, row.n + 1);
	pick_free(&pick);
}

/* true if every row of some stands in all, in the same order */
static bool
among(struct field some, struct field all)
{
	while (some.n > 0) {
		struct field row = field_cut(&some, '\n'), other;

		do {
			if (all.n == 0)
				return false;
			other = field_cut(&all, '\n');
		} while (!field_same(row, other));
	}
	return true;
}

/* A table whose rows all differ: n of them, keys in runs of `run`, each `wide` bytes longer. */
static void
make_table(struct bytes *t, size_t n, size_t run, size_t wide)
{
	t->n = 0;
	bytes_add_text(t, "k\tx\tpad\n");
	for (size_t i = 0; i < n; i++) {
		bytes_add_format(t, "K%zu\t%zu\t", i / run, i);
		memset(bytes_room(t, wide + 1), 'x', wide);
		t->n += wide;
		bytes_add_text(t, "\n");
	}
}

/* --- the format ------------------------------------------------------------------------------ */

static void
numbers_are_little_endian(void)
{
	unsigned char b[8];

	CHECK(put_little(b, 0x0102030405060708, 8) == b + 8, "stops behind it");
	for (int i = 0; i < 8; i++)
		CHECK(b[i] == 8 - i, "byte %d is %d", i, b[i]);
	CHECK(little(b, 2) == 0x0708 && little(b, 8) == 0x0102030405060708, "back");
}

/* every byte of a small pack, by the page thrum-pack(5) */
static void
bytes_are_as_the_page_says(void)
{
	struct field table = field_of("k\tx\nA\t1\nA\t2\n");
	struct bytes packed = { NULL, 0, 0 };
	const unsigned char *p;
	static const unsigned char sign[10] = { 0x1f, 0x8b, 8, 4, 0, 0, 0, 0, 0, 0xff };
	uint32_t hash = codec_crc(0, "k\tA", 3), head = codec_crc(0, "k\tx\n", 4), digest;
	uint32_t all = codec_crc(0, table.p, table.n), rows = codec_crc(0, "A\t1\nA\t2\n", 8);
	size_t header, data, index, end;

	pack(&packed, table);
	p = (const unsigned char *)packed.p;
	CHECK(memcmp(p, sign, 10) == 0, "header's first bytes");
	CHECK(little(p + 10, 2) == 4 + 11 + 6, "XLEN %d", (int)little(p + 10, 2));
	CHECK(memcmp(p + 12, "TP\13\0H\2\0\0\0\0k", 11) == 0, "header's subfield");
	CHECK(little(p + 23, 4) == codec_crc(0, "H\2\0\0\0\0k", 7), "its CRC-32");
	CHECK(memcmp(p + 27, "BC\2\0", 4) == 0, "BC");
	header = (size_t)little(p + 31, 2) + 1;
	CHECK(little(p + header - 4, 4) == 4, "header row's length");
	CHECK(little(p + header - 8, 4) == head, "header row's CRC-32");
	digest = codec_crc(0, "H\2\0\0\0\0kk\tx\n", 11);
	p += header;
	CHECK(memcmp(p, sign, 10) == 0 && memcmp(p + 12, "TP\37\0D\2", 6) == 0, "data member");
	CHECK(little(p + 18, 4) == head && little(p + 22, 8) == 0 && little(p + 30, 8) == 0 &&
		  little(p + 38, 4) == head && p[42] == 1,
	    "its link and place");
	CHECK(little(p + 43, 4) == codec_crc(0, p + 16, 27), "its CRC-32");
	data = (size_t)little(p + 51, 2) + 1;
	CHECK(little(p + data - 4, 4) == 8 && little(p + data - 8, 4) == rows, "rows");
	p += data;
	CHECK(memcmp(p, sign, 10) == 0 && memcmp(p + 12, "TP", 2) == 0, "index member");
	index = (size_t)little(p + 14, 2);
	CHECK(index == 2 + 4 + 27 + 9 + 5 + 4, "index subfield of %zu", index);
	CHECK(memcmp(p + 16, "I\2", 2) == 0 && little(p + 18, 4) == all, "kind, version, link");
	CHECK(little(p + 22, 8) == 0 && little(p + 30, 8) == header && little(p + 38, 8) == 0 &&
		  little(p + 46, 2) == 1 && p[48] == 1,
	    "what the index is of");
	CHECK(little(p + 49, 2) == data - 1 && little(p + 51, 2) == 2 && p[53] == 1 &&
		  little(p + 54, 4) == rows,
	    "its entry");
	CHECK(p[58] == 1 && little(p + 59, 4) == hash, "its hash");
	CHECK(little(p + 63, 4) == codec_crc(0, p + 16, 47), "its CRC-32");
	CHECK(memcmp(p + 73, "\3\0\0\0\0\0\0\0\0\0", 10) == 0, "no payload");
	index = (size_t)little(p + 71, 2) + 1;
	CHECK(index == 83, "index member of %zu bytes", index);
	digest = codec_crc(digest, p + 16, 47);
	p += index;
	end = (size_t)little(p + 14, 2);
	CHECK(memcmp(p + 12, "TP", 2) == 0 && memcmp(p + 16, "E\2", 2) == 0, "end member");
	CHECK(little(p + 18, 4) == all, "its link");
	CHECK(little(p + 22, 8) == packed.n && little(p + 30, 8) == header + data, "offsets");
	CHECK(
	    little(p + 38, 8) == 1 && little(p + 46, 8) == 2 && little(p + 54, 8) == 12, "counts");
	CHECK(little(p + 62, 4) == all, "CRC-32 of the table");
	CHECK(little(p + 66, 4) == digest, "CRC-32 of header and index");
	CHECK(end == 2 + 4 + 48 + 4 + strlen("name\tjoints\ncolumns\tk\tx\n"),
	    "end subfield of %zu", end);
	CHECK(memcmp(p + 70, "name\tjoints\ncolumns\tk\tx\n", 24) == 0, "its text");
	p += 12 + 4 + end + 6 + 10;
	CHECK((const char *)p + 28 == packed.p + packed.n, "the marker is last");
	CHECK(memcmp(p, "\x1f\x8b\x08\x04\0\0\0\0\0\xff\6\0BC\2\0\x1b\0\3\0\0\0\0\0\0\0\0\0", 28) ==
		  0,
	    "marker");
	bytes_free(&packed);
}

static void
index_keeps_up_to_64_hashes(void)
{
	struct index_maker maker = { .nkeys = 1 };
	struct bytes own = { NULL, 0, 0 };
	struct index_place at = { 0 };
	struct member m = { .version = PACK_VERSION };
	struct index_part part;
	struct index_entry entry;
	struct field left;
	uint32_t hash;

	for (hash = 64 * 7919; hash > 0; hash -= 7919)
		for (int i = 0; i < 2; i++)
			CHECK(index_take(&maker, 10, &hash) == 10, "fits");
	CHECK(maker.n == 1280 && maker.sets[0].n == 64, "%zu", maker.sets[0].n);
	maker.rows = 5;
	index_put(&maker, index_end(&maker, true), 1000, 0xabcdef);
	for (hash = 64 * 7919; hash > 0; hash -= 7919)
		index_take(&maker, 10, &hash);
	hash = 1;
	CHECK(index_take(&maker, 100000, &hash) == PAYLOAD_MOST - 640,
	    "as many as there is room for");
	CHECK(maker.n == PAYLOAD_MOST && maker.sets[0].n == INDEX_ANY, "%zu", maker.sets[0].n);
	maker.rows = 7;
	index_put(&maker, index_end(&maker, false), 65536, 1);
	left = bytes_field(&maker.entries);
	CHECK(index_cut(&left, 1, &at, &own) && left.n == 0, "one part");
	m.own = (unsigned char *)own.p;
	m.own_n = own.n;
	CHECK(index_parse(&part, &m) == NULL, "sound");
	CHECK(index_next(&part, &entry) && entry.size == 1000 && entry.rows == 5 && entry.ends &&
		  entry.crc == 0xabcdef,
	    "1st");
	CHECK(index_may_have(&entry, 1, 0, 64 * 7919) && index_may_have(&entry, 1, 0, 7919),
	    "has them");
	CHECK(!index_may_have(&entry, 1, 0, 1), "has it not");
	CHECK(index_may_have(&entry, 1, 1, 1), "no such key: cannot tell");
	CHECK(index_next(&part, &entry) && entry.size == 65536 && !entry.ends, "2nd");
	CHECK(index_may_have(&entry, 1, 0, 1) && index_may_have(&entry, 1, 0, 2), "any");
	CHECK(!index_next(&part, &entry) && part.at.offset == 66536 && part.at.rows == 12, "over");
	for (m.own_n = 0; m.own_n < own.n; m.own_n++)
		CHECK(index_parse(&part, &m) != NULL, "cut to %zu", m.own_n);
	bytes_free(&maker.entries);
	bytes_free(&own);
}

/* --- there and back -------------------------------------------------------------------------- */

static void
round_trip(struct field table)
{
	struct bytes packed = { NULL, 0, 0 }, again = { NULL, 0, 0 };
	struct got got;

	pack(&packed, table);
	for (size_t threads = 2; threads < 6; threads++) {
		again.n = 0;
		pack_with(&again, table, 6, threads);
		CHECK(
		    field_same(bytes_field(&packed), bytes_field(&again)), "%zu threads", threads);
	}
	for (int way = BY_PIPE; way <= BY_KEY; way++) {
		struct pack_source source;

		pack_source_memory(&source, packed.p, packed.n, way != BY_PIPE);
		read_from(&got, &source, way, way == BY_KEY ? "other" : "k", "", 3);
		CHECK(!err_is_set(&got.err) && got.sum.whole && got.trouble.n == 0, "%s%.*s",
		    got.err.text, (int)got.trouble.n, got.trouble.p);
		CHECK(field_same(bytes_field(&got.all), rows_of(table)), "way %d: %zu of %zu bytes",
		    way, got.all.n, table.n);
		got_free(&got);
	}
	bytes_free(&packed);
	bytes_free(&again);
}

static void
all_comes_back(void)
{
	struct bytes t = { NULL, 0, 0 };
	uint64_t random = 1;

	round_trip(field_of("k\n"));
	round_trip(field_of("\n"));
	round_trip(field_of("k\tx\nA\t\n"));
	make_table(&t, 5000, 7, 30);
	round_trip(bytes_field(&t));
	/* a row, and its LF, that end just before, at and behind the ends of blocks */
	for (size_t n = 65275; n < 65285; n++) {
		make_table(&t, 3, 1, n - 6);
		round_trip(bytes_field(&t));
	}
	make_table(&t, 2, 1, 300000);
	round_trip(bytes_field(&t));
	/* what cannot be made smaller */
	t.n = 0;
	bytes_add_text(&t, "k\tx\n");
	for (int i = 0; i < 4000; i++) {
		bytes_add_format(&t, "%d\t", i);
		for (int j = 0; j < 90; j++)
			*bytes_room(&t, 1) = (char)(' ' + 1 + check_random(&random) % 223), t.n++;
		bytes_add_text(&t, "\n");
	}
	round_trip(bytes_field(&t));
	/* a header row in several members */
	t.n = 0;
	bytes_add_text(&t, "k");
	for (int i = 0; i < 20000; i++)
		bytes_add_format(&t, "\tc%d", i);
	bytes_add_text(&t, "\nA\n");
	round_trip(bytes_field(&t));
	bytes_free(&t);
}

static void
rows_too_long_are_refused(void)
{
	struct bytes sink = { NULL, 0, 0 };
	struct pack_setup setup = {
		.header = field_of("k"), .level = 1, .threads = 1, .write = collect, .arg = &sink
	};
	struct err err = { "" };
	struct packer *packer = packer_open(&setup, &err);
	char *row = mem_zeroed(PACK_ROW_MOST, 1);

	CHECK(packer_row(packer, (struct field){ row, PACK_ROW_MOST - 1 }, NULL) == 0, "fits");
	CHECK(packer_row(packer, (struct field){ row, PACK_ROW_MOST }, NULL) == -1, "is too long");
	CHECK(strstr(err.text, "row 2 is longer") != NULL, "%s", err.text);
	packer_free(packer);
	free(row);
	bytes_free(&sink);
}

/* --- looking up ------------------------------------------------------------------------------ */

struct counted {
	struct pack_source plain;
	uint64_t read;
};

static struct counted counted;

static ssize_t
read_counted(const struct pack_source *s, uint64_t at, void *p, size_t n)
{
	ssize_t got = counted.plain.read(s, at, p, n);

	counted.read += (uint64_t)got;
	return got;
}

static void
keys_are_found(void)
{
	struct bytes t = { NULL, 0, 0 }, packed = { NULL, 0, 0 }, want = { NULL, 0, 0 };
	struct bytes found = { NULL, 0, 0 };
	size_t runs[] = { 1, 50, 1500, 20000 };

	for (size_t r = 0; r < 4; r++) {
		make_table(&t, 20000, runs[r], 60);
		packed.n = 0;
		pack(&packed, bytes_field(&t));
		pack(&packed, bytes_field(&t)); /* and joined */
		for (size_t i = 0; i < 20000 / runs[r]; i += i < 20 ? 1 : 997) {
			struct got got;
			char value[24];

			snprintf(value, sizeof value, "K%zu", i);
			read_back(&got, bytes_field(&packed), BY_KEY, value);
			with_key(&want, rows_of(bytes_field(&t)), value);
			bytes_room(&want, want.n); /* so that it can be added to itself */
			bytes_add(&want, want.p, want.n);
			with_key(&found, bytes_field(&got.all), value);
			CHECK(got.sum.whole && field_same(bytes_field(&found), bytes_field(&want)),
			    "runs of %zu: %s", runs[r], value);
			got_free(&got);
		}
	}
	bytes_free(&t);
	bytes_free(&packed);
	bytes_free(&want);
	bytes_free(&found);
}

static void
little_is_read_for_a_key(void)
{
	struct bytes t = { NULL, 0, 0 }, packed = { NULL, 0, 0 };
	struct pack_source source;
	struct got got;

	make_table(&t, 30000, 100, 80);
	pack_with(&packed, bytes_field(&t), 1, 1);
	bytes_room(&packed, 9 * packed.n); /* so that it can be added to itself */
	for (int i = 0; i < 9; i++)
		bytes_add(&packed, packed.p, packed.n / (size_t)(i + 1));
	pack_source_memory(&counted.plain, packed.p, packed.n, true);
	source = counted.plain;
	source.read = read_counted;
	counted.read = 0;
	read_from(&got, &source, BY_KEY, "k", "K170", 1);
	CHECK(got.sum.whole && got.sum.rows > 1000 && got.sum.rows < 30000, "%llu rows",
	    (unsigned long long)got.sum.rows);
	CHECK(counted.read < packed.n / 2, "%llu of %zu bytes", (unsigned long long)counted.read,
	    packed.n);
	got_free(&got);
	counted.read = 0;
	read_from(&got, &source, SKIMMED, "", "", 1);
	CHECK(got.ends == 10 && got.all.n == 0 && got.sum.whole, "%zu ends", got.ends);
	CHECK(counted.read < packed.n / 2, "%llu of %zu bytes", (unsigned long long)counted.read,
	    packed.n);
	got_free(&got);
	bytes_free(&t);
	bytes_free(&packed);
}

/* --- damage ---------------------------------------------------------------------------------- */

/*
 * What holds for anything that was done to a pack of `table`: no row but those of the table, in its
 * order, before the first trouble without a gap; and all of them unless something is said.
 */
static void
only_true_rows(struct field bytes, struct field table, const char *what, size_t at)
{
	struct bytes want = { NULL, 0, 0 }, found = { NULL, 0, 0 };
	struct field rows = rows_of(table);

	for (int way = BY_PIPE; way <= BY_KEY; way++) {
		struct got got;
		bool said;

		read_back(&got, bytes, way, "K1");
		said = err_is_set(&got.err) || !got.sum.whole;
		CHECK(!said || err_is_set(&got.err) || got.trouble.n > 0, "%s %zu way %d: silent",
		    what, at, way);
		CHECK(
		    among(bytes_field(&got.all), rows), "%s %zu way %d: other rows", what, at, way);
		if (way == BY_KEY) {
			with_key(&want, rows, "K1");
			with_key(&found, bytes_field(&got.all), "K1");
			CHECK(said || field_same(bytes_field(&want), bytes_field(&found)),
			    "%s %zu: not all of a key, and silent", what, at);
		} else {
			CHECK(is_prefix(bytes_field(&got.prefix), rows), "%s %zu way %d: no prefix",
			    what, at, way);
			CHECK(said || field_same(bytes_field(&got.all), rows),
			    "%s %zu way %d: not all, and silent", what, at, way);
		}
		got_free(&got);
	}
	bytes_free(&want);
	bytes_free(&found);
}

/* Three packs to be maltreated: small, of several blocks, joined. */
static void
make_victim(int which, struct bytes *table, struct bytes *packed)
{
	packed->n = 0;
	if (which == 1)
		make_table(table, 90, 30, 2000);
	else
		make_table(table, 6, 2, 3);
	pack(packed, bytes_field(table));
	if (which == 2) {
		struct bytes more = { NULL, 0, 0 };
		struct field rows;

		make_table(&more, 9, 3, 5);
		pack(packed, bytes_field(&more));
		rows = rows_of(bytes_field(&more));
		bytes_add_field(table, rows);
		bytes_free(&more);
	}
}

/* The first n of them, one after the other, to be hurt. */
static void
each_victim(int n, void (*hurt)(int which, struct field packed, struct field table))
{
	struct bytes table = { NULL, 0, 0 }, packed = { NULL, 0, 0 };

	for (int which = 0; which < n; which++) {
		make_victim(which, &table, &packed);
		hurt(which, bytes_field(&packed), bytes_field(&table));
	}
	bytes_free(&table);
	bytes_free(&packed);
}

/* Each bit of each byte, and all eight; of the large one's bytes one of these each. */
static void
flip_all(int which, struct field packed, struct field table)
{
	char *bad = mem_zeroed(packed.n, 1);
	struct field f = { memcpy(bad, packed.p, packed.n), packed.n };

	for (size_t i = 0; i < packed.n; i++)
		for (int bit = 0; bit < 9; bit++) {
			char flip = (char)(bit < 8 ? 1 << bit : 0xff);

			if (which == 1 && bit != (int)(i % 9))
				continue;
			bad[i] ^= flip;
			only_true_rows(f, table, "flip at", i);
			bad[i] ^= flip;
		}
	free(bad);
}

static void
every_flip_is_met(void)
{
	each_victim(3, flip_all);
}

static void
cut_everywhere(int which, struct field packed, struct field table)
{
	(void)which;
	for (size_t n = 0; n < packed.n; n++) {
		struct got got;
		/* exactly so many bytes, that one read too far is seen */
		char *cut = mem_zeroed(n, 1);
		struct field f = { memcpy(cut, packed.p, n), n };

		only_true_rows(f, table, "cut to", n);
		read_back(&got, f, BY_FILE, "");
		CHECK(err_is_set(&got.err) || (!got.sum.whole && got.trouble.n > 0),
		    "cut to %zu: silent", n);
		got_free(&got);
		free(cut);
	}
}

static void
every_cut_is_met(void)
{
	each_victim(2, cut_everywhere);
}

/* The members of a pack: where each starts; the last is the end. */
static size_t
members(struct field packed, size_t starts[64])
{
	struct member m;
	size_t n = 0, at = 0;

	while (at < packed.n &&
	       member_parse(&m, (const unsigned char *)packed.p + at, packed.n - at) == NULL) {
		starts[n++] = at;
		at += m.size;
	}
	starts[n] = at;
	return n;
}

/* Whole members left out, doubled, exchanged. A row that spans two blocks is not among the rest. */
static void
members_out_of_place_are_met(void)
{
	struct bytes table = { NULL, 0, 0 }, packed = { NULL, 0, 0 }, bad = { NULL, 0, 0 };
	size_t at[64], n;

	make_victim(1, &table, &packed);
	n = members(bytes_field(&packed), at);
	CHECK(n == 7, "header, 3 blocks, index, end, marker: %zu", n);
	for (size_t i = 0; i < n; i++)
		for (size_t j = 0; j <= n; j++) {
			struct got got;

			/* member i left out (j == n), or in the place of, or before, member j */
			bad.n = 0;
			for (size_t k = 0; k < n; k++) {
				if (k == j)
					bytes_add(&bad, packed.p + at[i], at[i + 1] - at[i]);
				if (k != i)
					bytes_add(&bad, packed.p + at[k], at[k + 1] - at[k]);
			}
			if (field_same(bytes_field(&bad), bytes_field(&packed)))
				continue;
			read_back(&got, bytes_field(&bad), BY_PIPE, "");
			CHECK(err_is_set(&got.err) || (!got.sum.whole && got.trouble.n > 0),
			    "%zu to %zu: silent", i, j);
			got_free(&got);
			if (j > 0) /* before its header a block is taken for a pack of its own */
				only_true_rows(
				    bytes_field(&bad), bytes_field(&table), "member", i * 64 + j);
		}
	bytes_free(&table);
	bytes_free(&packed);
	bytes_free(&bad);
}

/* true if the one line of trouble is this */
static void
says(struct field packed, enum way way, uint64_t rows, const char *want)
{
	struct got got;

	read_back(&got, packed, way, "K1");
	bytes_add(&got.trouble, "", 1);
	CHECK(strcmp(got.trouble.p, want) == 0, "got: %swant: %s", got.trouble.p, want);
	CHECK(got.sum.rows == rows, "%llu rows, not %llu", (unsigned long long)got.sum.rows,
	    (unsigned long long)rows);
	got_free(&got);
}

static void
damage_is_named(void)
{
	struct bytes table = { NULL, 0, 0 }, packed = { NULL, 0, 0 };
	size_t at[64];
	char want[300];

	/* 90 rows of about 2,010 bytes in 3 blocks: 32 end in the first, 32 or 33 in the second */
	make_victim(1, &table, &packed);
	members(bytes_field(&packed), at);
	packed.p[at[2] + 60] ^= 1;
	snprintf(want, sizeof want,
	    "pack 1: block 2 at byte %zu is damaged (its data do not unpack): 34 rows lost\n",
	    at[2]);
	says(bytes_field(&packed), BY_PIPE, 90 - 34, want);
	packed.p[at[2] + 60] ^= 1;
	packed.p[at[1] + 51] ^= 1;
	packed.p[at[2] + 51] ^= 1;
	snprintf(want, sizeof want,
	    "pack 1: blocks 1 to 2 from byte %zu on are damaged (its length is wrong): 66 rows "
	    "lost\n",
	    at[1]);
	says(bytes_field(&packed), BY_FILE, 90 - 66, want);
	packed.p[at[1] + 51] ^= 1;
	packed.p[at[2] + 51] ^= 1;
	packed.p[at[4] + 40] ^= 1;
	snprintf(want, sizeof want,
	    "pack 1: its index is damaged at byte %zu (CRC-32 of its subfield is wrong)\n", at[4]);
	for (int way = BY_PIPE; way <= BY_KEY; way++)
		says(bytes_field(&packed), way, 90, want);
	packed.p[at[4] + 40] ^= 1;
	packed.p[2] ^= 1;
	says(bytes_field(&packed), BY_PIPE, 0,
	    "pack 1: its header, at byte 0, is damaged (no member of a pack)\n");
	says(bytes_field(&packed), BY_FILE, 90,
	    "pack 1: its header, at byte 0, is damaged (no member of a pack)\n");
	packed.p[2] ^= 1;
	bytes_add_text(&packed, "more");
	snprintf(want, sizeof want, "from byte %zu on there is something that is no pack\n",
	    packed.n - 4);
	says(bytes_field(&packed), BY_PIPE, 90, want);
	packed.n -= 4 + MEMBER_LEAST;
	snprintf(want, sizeof want, "pack 1: cut off: its end marker is missing, at byte %zu\n",
	    packed.n);
	says(bytes_field(&packed), BY_PIPE, 90, want);
	packed.n = at[4] - 3;
	snprintf(want, sizeof want, "pack 1: cut off, at byte %zu\n", packed.n);
	says(bytes_field(&packed), BY_FILE, 65, want);
	bytes_free(&table);
	bytes_free(&packed);
}

static void
what_is_no_pack_is_refused(void)
{
	static const char *const no_pack[] = { "", "k\tx\nA\t1\n", "\x1f\x8b\x08", "\x1f" };
	struct bytes junk = { NULL, 0, 0 };
	uint64_t random = 7;
	struct got got;

	for (size_t i = 0; i < sizeof no_pack / sizeof no_pack[0]; i++) {
		read_back(&got, field_of(no_pack[i]), BY_FILE, "");
		CHECK(err_is_set(&got.err), "'%s'", no_pack[i]);
		got_free(&got);
	}
	for (int i = 0; i < 300000; i++)
		*bytes_room(&junk, 1) = (char)check_random(&random), junk.n++;
	for (int way = BY_PIPE; way <= SKIMMED; way++) {
		read_back(&got, bytes_field(&junk), way, "");
		CHECK(strcmp(got.err.text, "not a pack") == 0, "%s", got.err.text);
		got_free(&got);
	}
	bytes_free(&junk);
}

/* What --test says of a pack of these rows. */
static void
tested_under(const char *header, struct field rows, const char *want)
{
	struct unpack_setup setup = { .mode = UNPACK_TEST, .threads = 1 };
	struct bytes table = { NULL, 0, 0 }, packed = { NULL, 0, 0 }, none = { NULL, 0, 0 };
	struct pack_source source;
	struct got got = { .ends = 0 };

	bytes_add_text(&table, header);
	bytes_add_field(&table, rows);
	pack(&packed, bytes_field(&table));
	for (int known = 0; known < 2; known++) {
		pack_source_memory(&source, packed.p, packed.n, known);
		read_as(&got, &source, &setup, &none);
		CHECK(field_is(bytes_field(&got.trouble), want), "got: %.*swant: %s",
		    (int)got.trouble.n, got.trouble.p, want);
	}
	got_free(&got);
	bytes_free(&table);
	bytes_free(&packed);
	bytes_free(&none);
}

static void
tested(struct field rows, const char *want)
{
	tested_under("k\tx\n", rows, want);
}

static void
rows_that_are_none_are_found(void)
{
	tested(field_of("A\t1\nB\t\n"), "");
	tested(field_of("A\t1\nB\n"),
	    "pack 1: row 2 has more or fewer fields than there are columns\n");
	tested(field_of("A\t1\t\nB\n"),
	    "pack 1: row 1 has more or fewer fields than there are columns\n");
	tested(field_of("A\t1\n\nB\t2\n"), "pack 1: row 2 is blank\n");
	tested(field_of("A\t1\nk\tx\n"), "pack 1: row 2 is the header once more\n");
	tested(field_of("A\t1\r\n"), "pack 1: row 1 holds a NUL or CR\n");
	tested_under(
	    "k\tx\x1b\n", field_of("A\t1\n"), "pack 1: a control character in a column's name\n");
	tested((struct field){ "A\t\0\n", 4 }, "pack 1: row 1 holds a NUL or CR\n");
}

/* A pack whose index tells of other keys than its rows have, all else being sound. */
static void
wrong_keys_in_the_index_are_found(void)
{
	struct field table = field_of("k\tx\nA\t1\nA\t2\n");
	struct unpack_setup setup = { .mode = UNPACK_TEST, .threads = 1 };
	struct bytes packed = { NULL, 0, 0 };
	struct pack_source source;
	struct got got = { .ends = 0 };
	size_t at[64], hash;
	unsigned char *p;
	uint32_t digest;

	pack(&packed, table);
	members(bytes_field(&packed), at);
	p = (unsigned char *)packed.p;
	hash = at[2] + 12 + 10 + 27 + 9 + 1;
	CHECK(little(p + hash, 4) == codec_crc(0, "k\tA", 3), "the hash is there");
	p[hash] ^= 1;
	member_link(p + at[2], (uint32_t)little(p + at[2] + 18, 4)); /* and its CRC-32 */
	digest = member_digest(member_digest(0, p, "k\tx\n", 4), p + at[2], NULL, 0);
	put_little(p + at[3] + 12 + 10 + 44, digest, 4);
	member_link(p + at[3], (uint32_t)little(p + at[3] + 18, 4));
	pack_source_memory(&source, packed.p, packed.n, true);
	read_as(&got, &source, &setup, &got.all);
	CHECK(field_is(bytes_field(&got.trouble),
		  "pack 1: the index does not tell the keys in its blocks\n"),
	    "%.*s", (int)got.trouble.n, got.trouble.p);
	got_free(&got);
	/* an index that says other rows, without a digest that fits */
	p[at[2] + 12 + 10 + 27 + 2]++;
	member_link(p + at[2], (uint32_t)little(p + at[2] + 18, 4));
	for (int way = BY_PIPE; way <= BY_KEY; way++) {
		read_back(&got, bytes_field(&packed), way, "A");
		CHECK(!got.sum.whole, "way %d: silent", way);
		got_free(&got);
	}
	bytes_free(&packed);
}

static void
doubles_are_told_of(void)
{
	struct bytes packed = { NULL, 0, 0 }, none = { NULL, 0, 0 };
	struct unpack_setup setup = { .threads = 1 };
	struct pack_source source;
	struct got got = { .ends = 0 };

	pack(&packed, field_of("k\tx\nA\t1\n"));
	pack(&packed, field_of("k\tx\nA\t2\n"));
	pack(&packed, field_of("k\tx\nA\t1\n"));
	pack_source_memory(&source, packed.p, packed.n, true);
	for (setup.mode = UNPACK_LIST; setup.mode <= UNPACK_TEST; setup.mode++) {
		read_as(&got, &source, &setup, &none);
		CHECK(field_is(bytes_field(&got.trouble), "pack 3 is the same as pack 1\n"), "%.*s",
		    (int)got.trouble.n, got.trouble.p);
	}
	got_free(&got);
	bytes_free(&packed);
	bytes_free(&none);
}

static void
a_limit_is_kept(void)
{
	struct bytes t = { NULL, 0, 0 }, packed = { NULL, 0, 0 };
	struct pack_source source;

	make_table(&t, 2, 1, 2000000); /* a bomb: 4 MB out of some thousand bytes */
	pack(&packed, bytes_field(&t));
	pack_source_memory(&source, packed.p, packed.n, true);
	for (uint64_t limit = t.n - 1; limit <= t.n; limit++) {
		struct err err = { "" };
		struct unpack_setup setup = { .threads = 1, .limit = limit };
		struct unpack *u = unpack_open(&source, &setup, &err);
		uint64_t bytes = 0;
		struct field f;

		while (unpack_next(u, &f) != UNPACK_OVER)
			bytes += f.n;
		CHECK(err_is_set(&err) == (limit < t.n) && bytes <= limit, "%llu of %zu: %s",
		    (unsigned long long)bytes, t.n, err.text);
		unpack_free(u);
	}
	bytes_free(&t);
	bytes_free(&packed);
}

/* --- the pool -------------------------------------------------------------------------------- */

enum { ITEMS = 1000 };

static void
count_item(void *arg, size_t item, size_t worker)
{
	unsigned char *done = arg;

	done[item % ITEMS] += worker < 3 ? 1 : 100;
}

static void
every_item_is_done_once(void)
{
	unsigned char done[ITEMS] = { 0 };

	for (size_t threads = 1; threads <= 3; threads++) {
		struct pool *pool = pool_open(threads, count_item, done);

		memset(done, 0, sizeof done);
		pool_wait(pool, 0);
		for (size_t round = 1; round <= 20; round++) {
			pool_add(pool, ITEMS / 2);
			pool_add(pool, ITEMS / 2);
			pool_wait(pool, round * ITEMS - 7);
			for (size_t i = 0; i < ITEMS - 7; i++)
				CHECK(done[i] == round, "item %zu: %d times", i, done[i]);
			pool_wait(pool, round * ITEMS);
			CHECK(done[ITEMS - 1] == round, "the last: %d times", done[ITEMS - 1]);
		}
		pool_add(pool, 1);
		pool_free(pool);
	}
}

int
main(void)
{
	RUN(numbers_are_little_endian);
	RUN(bytes_are_as_the_page_says);
	RUN(index_keeps_up_to_64_hashes);
	RUN(all_comes_back);
	RUN(rows_too_long_are_refused);
	RUN(keys_are_found);
	RUN(little_is_read_for_a_key);
	RUN(every_flip_is_met);
	RUN(every_cut_is_met);
	RUN(members_out_of_place_are_met);
	RUN(damage_is_named);
	RUN(what_is_no_pack_is_refused);
	RUN(rows_that_are_none_are_found);
	RUN(wrong_keys_in_the_index_are_found);
	RUN(doubles_are_told_of);
	RUN(a_limit_is_kept);
	RUN(every_item_is_done_once);
	return check_done();
}
