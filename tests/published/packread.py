"""Another reader of packs, by another hand: written from the page thrum-pack(5) alone, with nothing
but Python's struct and zlib (for CRC-32s and deflate data).

    packread.py FILE                  checks everything there is; the table, as zcat has it
    packread.py FILE COLUMN VALUE     looks a key up from the back: its rows

Standard error: how many header, data and index members each pack has; how many data members there
are, and how many were read.
"""
import struct
import sys
import zlib

SIGN = bytes.fromhex("1f8b08040000000000ff")
MARK = bytes.fromhex("1f8b08040000000000ff0600424302001b0003000000000000000000")


class Member:
    """One gzip member, and all that holds for any of them."""

    def __init__(self, data, at):
        self.at = at
        assert data[at:at + 10] == SIGN, f"no member at {at}"
        xlen, = struct.unpack_from("<H", data, at + 10)
        extra = data[at + 12:at + 12 + xlen]
        assert extra[-6:-2] == b"BC\2\0"
        self.size = struct.unpack("<H", extra[-2:])[0] + 1
        self.bytes = data[at:at + self.size]
        assert len(self.bytes) == self.size, "cut off"
        self.kind, self.version, self.link, self.own = "D", 1, None, b""
        if xlen > 6:
            assert extra[:2] == b"TP"
            n, = struct.unpack_from("<H", extra, 2)
            assert xlen == n + 10 and n <= 65280
            assert struct.unpack_from("<I", extra, n)[0] == zlib.crc32(extra[4:n])
            self.kind, self.version, self.own = chr(extra[4]), extra[5], extra[6:n]
            self.checked = extra[4:n]
            assert self.version in (1, 2) and self.kind in ("HIE", "HDIE")[self.version - 1]
            if self.version == 2:
                self.link, = struct.unpack_from("<I", self.own)
                self.own = self.own[4:]
        unpacker = zlib.decompressobj(-15)
        self.payload = unpacker.decompress(self.bytes[12 + xlen:-8])
        assert unpacker.eof and not unpacker.unused_data
        assert struct.unpack("<II", self.bytes[-8:]) == (zlib.crc32(self.payload), len(self.payload))
        assert len(self.payload) <= 65280
        if self.bytes == MARK:
            self.kind = "mark"
        assert bool(self.payload) == (self.kind in "DH")


def index_entries(member, nkeys):
    """Number and offset of the first data member it tells of, the rows before it, and of each (its
    size, rows that end in it, whether its last does, hashes of each key, bytes of the entry, CRC-32
    of its payload)."""
    own = member.own
    first, offset, before, count, k = struct.unpack_from("<QQQHB", own)
    assert k == nkeys and count > 0
    entries, p = [], 27
    for _ in range(count):
        begun = p
        size, rows, ends = struct.unpack_from("<HHB", own, p)
        assert ends in (0, 1)
        p += 5
        crc = None
        if member.version == 2:
            crc, = struct.unpack_from("<I", own, p)
            p += 4
        keys = []
        for _ in range(nkeys):
            m = own[p]
            p += 1
            hashes = None
            if m != 255:
                assert 1 <= m <= 64
                hashes = struct.unpack_from(f"<{m}I", own, p)
                assert list(hashes) == sorted(set(hashes))
                p += 4 * m
            keys.append(hashes)
        entries.append((size + 1, rows, ends == 1, keys, p - begun, crc))
    assert p == len(own)
    return first, offset, before, entries


def end_counts(end):
    """length, offset of the index, data members, rows, bytes, CRC-32, digest; and the text's lines"""
    form = ("<QQQQQI", "<QQQQQII")[end.version - 1]
    lines = end.own[struct.calcsize(form):].split(b"\n")
    assert lines.pop() == b""
    counts = struct.unpack_from(form, end.own) + (None,) * (2 - end.version)
    return counts, [line.split(b"\t", 1) for line in lines]


def key_names(own):
    return own.split(b"\t") if own else []


def key_hash(column, value):
    return zlib.crc32(column + b"\t" + value)


def true_hashes(blocks, rows, header, keys):
    """For each data member and key the hashes of all rows of which it holds a byte."""
    columns = header.split(b"\t")
    found = [[set() for _ in keys] for _ in blocks]
    at = 0
    for row in rows:
        fields = row.split(b"\t")
        behind = at + len(row) + 1
        for block in range(at // 65280, (behind - 1) // 65280 + 1):
            for key, hashes in zip(keys, found[block]):
                hashes.add(key_hash(key, fields[columns.index(key)]))
        at = behind
    return found


def check_index(start, blocks, index, rows, header, keys):
    told, room = [], 0
    for member in index:
        first, offset, before, entries = index_entries(member, len(keys))
        assert first == len(told)
        assert start + offset == blocks[first].at
        assert before == sum(b.payload.count(b"\n") for b in blocks[:first])
        assert entries[0][4] > room  # the member before holds as many as it can
        room = 65274 - 4 * (member.version == 2) - len(member.own)
        told += entries
    assert len(told) == len(blocks)
    for block, entry, hashes in zip(blocks, told, true_hashes(blocks, rows, header, keys)):
        assert entry[:3] == (block.size, block.payload.count(b"\n"), block.payload.endswith(b"\n"))
        assert entry[5] == (zlib.crc32(block.payload) if block.version == 2 else None)
        for said, true in zip(entry[3], hashes):
            assert said == (tuple(sorted(true)) if len(true) <= 64 else None)


def check_links(members, head):
    """What members of version 2 say of those before them."""
    seen, number, rows, begins = 0, 0, 0, 1
    for m in members:
        assert m.version == members[0].version or m.kind == "mark"
        assert m.link in (None, seen)
        if m.kind == "D":
            if m.version == 2:
                assert m.own == struct.pack("<QQIB", number, rows, zlib.crc32(head), begins)
            number += 1
            rows += m.payload.count(b"\n")
            begins = m.payload.endswith(b"\n")
        seen = zlib.crc32(m.payload, seen)


def check_pack(members):
    """One pack from its first member to its end marker."""
    kinds = [m.kind for m in members]
    counts = [kinds.count(k) for k in ("H", "D", "I", "E", "mark")]
    assert kinds == ["H"] * counts[0] + ["D"] * counts[1] + ["I"] * counts[2] + ["E", "mark"]
    heads, blocks = members[:counts[0]], members[counts[0]:counts[0] + counts[1]]
    index, end = members[-2 - counts[2]:-2], members[-2]
    start = members[0].at

    head = b"".join(m.payload for m in heads)
    assert head.endswith(b"\n") and head.count(b"\n") == 1
    assert [len(m.payload) for m in heads[:-1]] == [32768] * (len(heads) - 1)
    assert len(heads[-1].payload) <= 32768 and not any(m.own for m in heads[1:])
    keys = key_names(heads[0].own)
    assert all(len(b.payload) == 65280 for b in blocks[:-1])
    body = b"".join(b.payload for b in blocks)
    assert body == b"" or body.endswith(b"\n")
    rows = body.split(b"\n")[:-1]
    check_index(start, blocks, index, rows, head[:-1], keys)

    table = head + body
    (length, index_at, nblocks, nrows, nbytes, crc, digest), lines = end_counts(end)
    assert length == members[-1].at + len(MARK) - start
    assert index_at == (index + [end])[0].at - start
    assert (nblocks, nrows) == (len(blocks), len(rows))
    assert (nbytes, crc) == (len(table), zlib.crc32(table))
    assert digest in (None, zlib.crc32(b"".join(m.checked + m.payload for m in heads + index)))
    check_links(members, head)
    names = [line[0] for line in lines]
    assert names == [n for n in (b"name", b"night", b"by", b"columns") if n in names]
    assert dict(lines).get(b"columns") == (head[:-1] if len(head) <= 32768 else None)
    return table, counts


def check(data):
    """(table, numbers of members of each kind) of each pack"""
    at, pack = 0, []
    while at < len(data):
        member = Member(data, at)
        pack.append(member)
        at += member.size
        if member.kind == "mark":
            yield check_pack(pack)
            pack = []
    assert not pack, "cut off"


def packs_from_the_back(data):
    """(start, end member) of each pack, the first one first"""
    found, after = [], len(data)
    while after > 0:
        assert data[after - 28:after] == MARK
        size = struct.unpack_from("<H", data, after - 28 - 16 + 4)[0] + 1
        end = Member(data, after - 28 - size)
        assert end.kind == "E"
        start = after - end_counts(end)[0][0]
        found.append((start, end))
        after = start
    return reversed(found)


def find(data, column, value):
    """The header rows and the rows with this key; how many data members there are and were read."""
    out, there, read = [], 0, 0
    for start, end in packs_from_the_back(data):
        at, head, keys = start, b"", None
        while not head.endswith(b"\n"):
            member = Member(data, at)
            keys = key_names(member.own) if keys is None else keys
            head += member.payload
            at += member.size
        out.append(head)
        place, key = head[:-1].split(b"\t").index(column), keys.index(column)
        part, at_row = b"", True  # of a row begun; what comes next is the row's next, or a row's first
        at = start + end_counts(end)[0][1]
        while at < end.at:
            member = Member(data, at)
            at += member.size
            _, offset, _, entries = index_entries(member, len(keys))
            for size, _, ends, hashes, _, _ in entries:
                there += 1
                if hashes[key] is None or key_hash(column, value) in hashes[key]:
                    read += 1
                    payload = Member(data, start + offset).payload
                    if not at_row:
                        _, lf, payload = payload.partition(b"\n")
                        at_row = lf != b""
                    *rows, part = (part + payload).split(b"\n")
                    out += [row + b"\n" for row in rows if row.split(b"\t")[place] == value]
                else:
                    part, at_row = b"", ends
                offset += size
    return out, there, read


if __name__ == "__main__":
    contents = open(sys.argv[1], "rb").read()
    if len(sys.argv) == 2:
        for table, counts in check(contents):
            sys.stdout.buffer.write(table)
            print(*counts[:3], file=sys.stderr)
    else:
        lines, there, read = find(contents, *(a.encode() for a in sys.argv[2:4]))
        sys.stdout.buffer.writelines(lines)
        print(there, read, file=sys.stderr)
