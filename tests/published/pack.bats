#!/usr/bin/env bats
# Packs against what was not written here: programs that read gzip (RFC 1952) and blocked gzip (the
# SAM specification, section 4.1), and a reader of another hand, in Python, that follows the page
# thrum-pack(5) alone.

# shellcheck disable=SC2016,SC2154 # awk has a $ of its own; run sets stderr
bats_require_minimum_version 1.5.0

setup() {
	export LC_ALL=C
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../../build/bin}
	pack=$bin/thrum-pack
	unpack=$bin/thrum-unpack
	golden=$BATS_TEST_DIRNAME/../thrum-pack/golden.tsv.gz
	cd "$BATS_TEST_TMPDIR" || return
	# a small night, a large table with rows over block borders, one with nothing in it, a header in
	# several members, and two packs joined
	cp "$BATS_TEST_DIRNAME/../../samples/night1.tsv" night.tsv
	awk 'BEGIN {
		print "joint\tclosure\tnote"
		for (i = 0; i < 30000; i++)
			printf "J%06d\tC%03d\t%*s\n", i, i / 97, i * 7919 % 61, "x"
	}' >large.tsv
	printf 'joint\tclosure\n' >empty.tsv
	awk 'BEGIN { printf "closure"; for (i = 0; i < 9000; i++) printf "\tcolumn_%d", i; print "" }' \
		>wide.tsv
	for t in night large empty wide; do
		"$pack" -o $t.gz $t.tsv
	done
	cat large.gz large.gz >joined.gz
	{ cat large.tsv large.tsv; } >joined.tsv # as gzip has it: with both headers
}

each() {
	for t in night large empty wide joined; do
		echo "pack: $t"
		"$@" || return
	done
}

@test "zcat and gzip -t read every pack" {
	unzips() { zcat $t.gz | cmp - $t.tsv && gzip -t $t.gz; }
	each unzips
}

@test "pigz reads every pack" {
	unzips() { pigz -dc $t.gz | cmp - $t.tsv && pigz -t $t.gz; }
	each unzips
}

@test "Python's gzip module reads every pack" {
	unzips() {
		python3 -c 'import gzip, sys; sys.stdout.buffer.write(gzip.open(sys.argv[1]).read())' \
			$t.gz | cmp - $t.tsv
	}
	each unzips
}

@test "bgzip (htslib) reads every pack, tests it, and reads it with threads" {
	unzips() {
		bgzip -dc $t.gz | cmp - $t.tsv && bgzip -t $t.gz && bgzip -@ 2 -dc $t.gz | cmp - $t.tsv
	}
	each unzips
}

@test "the end marker is that of the SAM specification" {
	for t in night large empty wide joined; do
		[ "$(tail -c 28 $t.gz | od -An -v -tx1 | tr -d ' \n')" = \
			1f8b08040000000000ff0600424302001b0003000000000000000000 ]
	done
}

@test "what they cannot notice, thrum-unpack does: a cut between two members" {
	size=$(stat -c %s large.gz)
	end=$(tail -c 44 large.gz | head -c 6 | tail -c 2 | od -An -tu2 --endian=little)
	head -c $((size - 28 - end - 1)) large.gz >cut.gz
	gzip -t cut.gz
	bgzip -t cut.gz
	run -1 "$unpack" --test cut.gz
}

# Another reader: nothing in it but the page, struct and zlib.
reader='
import struct, sys, zlib
data = open(sys.argv[1], "rb").read()

def members():
    at = 0
    while at < len(data):
        assert data[at:at + 10] == bytes.fromhex("1f8b08040000000000ff"), at
        xlen, = struct.unpack_from("<H", data, at + 10)
        extra = data[at + 12:at + 12 + xlen]
        assert extra[-6:-2] == b"BC\2\0"
        size = struct.unpack("<H", extra[-2:])[0] + 1
        member = data[at:at + size]
        payload = zlib.decompress(member[12 + xlen:-8], -15)
        assert struct.unpack("<II", member[-8:]) == (zlib.crc32(payload), len(payload))
        assert len(payload) <= 65280
        kind, own = None, b""
        if xlen > 6:
            assert extra[:2] == b"TP"
            n, = struct.unpack_from("<H", extra, 2)
            assert xlen == n + 10
            assert struct.unpack_from("<I", extra, n)[0] == zlib.crc32(extra[4:n])
            kind, version, own = chr(extra[4]), extra[5], extra[6:n]
            assert version == 1 and kind in "HIE"
        yield at, size, kind, own, payload
        at += size

table, blocks, told, keys, start, header = b"", [], [], [], 0, b""
for at, size, kind, own, payload in members():
    if kind == "H":
        if header == b"" or header.endswith(b"\n"):
            start, table, blocks, told, header = at, b"", [], [], b""
            keys = own.split(b"\t") if own else []
        header += payload
        table += payload
    elif kind == "I":
        first, offset, before, count, nkeys = struct.unpack_from("<QQQHB", own)
        assert first == len(told) and nkeys == len(keys)
        assert start + offset == blocks[first][0]
        assert before == sum(b[1].count(b"\n") for b in blocks[:first])
        p = 27
        for i in range(count):
            bsize, rows, ends = struct.unpack_from("<HHB", own, p)
            p += 5
            sets = []
            for k in keys:
                m = own[p]
                p += 1
                if m == 255:
                    sets.append(None)
                    continue
                assert 1 <= m <= 64
                hashes = struct.unpack_from("<%dI" % m, own, p)
                assert list(hashes) == sorted(set(hashes))
                sets.append(set(hashes))
                p += 4 * m
            told.append((bsize + 1, rows, ends, sets))
        assert p == len(own)
    elif kind == "E":
        length, index_at, nblocks, rows, nbytes, crc = struct.unpack_from("<QQQQQI", own)
        assert length == at + size + 28 - start
        assert nblocks == len(blocks) == len(told)
        assert rows == table.count(b"\n") - 1 and nbytes == len(table) and crc == zlib.crc32(table)
        text = dict(line.split(b"\t", 1) for line in own[44:].split(b"\n")[:-1])
        assert text.get(b"columns", header[:-1]) == header[:-1]
        assert (b"columns" in text) == (len(header) <= 32768)
        # what each block tells is what is in it
        columns = header[:-1].split(b"\t")
        places = [columns.index(k) for k in keys]
        begun, at_row = b"", 0
        spans, pos = [], 0
        body = table[len(header):]
        bounds = []
        for b in blocks:
            bounds.append((pos, pos + len(b[1])))
            pos += len(b[1])
        true = [[set() for k in keys] for b in blocks]
        pos, i = 0, 0
        for row in body.split(b"\n")[:-1]:
            end = pos + len(row) + 1
            while bounds[i][1] <= pos:
                i += 1
            j = i
            while j < len(bounds) and bounds[j][0] < end:
                fields = row.split(b"\t")
                for k, place in enumerate(places):
                    true[j][k].add(zlib.crc32(keys[k] + b"\t" + fields[place]))
                j += 1
            pos = end
        for b, t, h in zip(blocks, told, true):
            assert t[:3] == (b[2], b[1].count(b"\n"), b[1].endswith(b"\n"))
            for said, real in zip(t[3], h):
                assert said == real if len(real) <= 64 else said is None
        for b in blocks[:-1]:
            assert len(b[1]) == 65280
        sys.stdout.buffer.write(table)
    elif payload:
        blocks.append((at, payload, size))
        table += payload
    else:
        assert data[at:at + size] == bytes.fromhex(
            "1f8b08040000000000ff0600424302001b0003000000000000000000")
'

@test "a reader written from the page reads every pack and finds its index true" {
	reads() { python3 -c "$reader" $t.gz | cmp - $t.tsv; }
	each reads
	"$pack" --key joint,closure,note large.tsv >large.gz
	t=large
	reads
	python3 -c "$reader" "$golden" | cmp - <(zcat "$golden")
}
