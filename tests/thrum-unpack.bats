#!/usr/bin/env bats
# thrum-unpack as a program. Every flip of a bit and every cut is tried by unit/test_pack.c.

# shellcheck disable=SC2016,SC2154 # awk has a $ of its own; run sets stderr
load program

setup() {
	begin thrum-unpack
	unpack=$exe
	pack=$bin/thrum-pack
	night=$samples/night1.tsv
	golden=$BATS_TEST_DIRNAME/thrum-pack/golden.tsv
}

# ends STATUS MESSAGE ARGUMENT...: with this status, and says this; what comes out is in $output
ends() {
	local status_due=$1 message=$2

	shift 2
	run --separate-stderr "-$status_due" "$unpack" "$@"
	[ "$stderr" = "$message" ] || { echo "stderr: $stderr"; false; }
}

# blocks: 4 data members of 20,000 rows in all, 1000 a closure
blocks() {
	awk 'BEGIN {
		print "joint\tclosure\ttray"
		for (i = 0; i < 20000; i++)
			printf "%s%05d\t%s%02d\t%d\n", "J", i, "C", i / 1000, i % 7
	}' >in.tsv
	"$pack" -o in.gz in.tsv
}

# at N: the offset of the N-th member of in.gz, from 0; by their lengths as RFC 1952 readers would
at() {
	python3 -c '
import sys
data = open("in.gz", "rb").read()
at = 0
for i in range(int(sys.argv[1])):
    behind = at + 12 + int.from_bytes(data[at + 10:at + 12], "little")
    at += int.from_bytes(data[behind - 2:behind], "little") + 1
print(at)' "$1"
}

# flip OFFSET: in.gz with that byte's bits turned over, as bad.gz
flip() {
	python3 -c '
import sys
data = bytearray(open("in.gz", "rb").read())
data[int(sys.argv[1])] ^= 0xff
open("bad.gz", "wb").write(data)' "$1"
}

# --- whole packs ---------------------------------------------------------------------------------

@test "the pack made on the first day unpacks for ever" {
	[ "$(sha256sum <"$golden.gz")" = \
		"0954f5e4492513e263f079fa24fb4cc4e157264bf5c8e4f494a54d78294b421a  -" ]
	"$unpack" "$golden.gz" | cmp - "$golden"
	cat "$golden.gz" | "$unpack" | cmp - "$golden"
	ends 0 '' --test "$golden.gz"
	ends 0 '' --list "$golden.gz"
	columns=joint,attempt,stands,closure,tray,note
	[ "$output" = "file	pack	start	pack_bytes	table_bytes	rows	blocks	crc32	key	name	night	by	columns
$golden.gz	1	0	487	154	4	1	7b1d82da	closure,joint	joints	2026-03-11	crew 4	$columns
$golden.gz	2	487	439	107	2	1	dcbab55f	closure	joints	2026-03-12		" ] || { echo "$output"; false; }
	ends 0 '' --where joint=Q-2 --where stands=yes "$golden.gz"
	[ "$output" = "$(grep -E '^joint|^Q-2' "$golden")" ]
}

@test "joined packs and several files are one table, with one header" {
	head -n 20 "$night" >a.tsv
	{ head -n 1 "$night"; tail -n +21 "$night"; } >b.tsv
	"$pack" a.tsv >a.gz
	"$pack" b.tsv >b.gz
	"$unpack" a.gz b.gz | cmp - "$night"
	"$unpack" a.gz - <b.gz | cmp - "$night"
	cat a.gz b.gz | "$unpack" | cmp - "$night"
	cat a.gz b.gz >ab.gz
	"$unpack" -o ab.tsv ab.gz
	cmp ab.tsv "$night"
	"$unpack" <ab.gz | cmp - "$night"
}

@test "the same bytes for any number of threads" {
	awk 'NR == 1 { print; next } { for (i = 0; i < 50; i++) print }' "$night" >in.tsv
	"$pack" -o in.gz in.tsv
	for n in 1 2 5 16; do
		"$unpack" --threads $n in.gz | cmp - in.tsv
		"$unpack" --threads $n <in.gz | cmp - in.tsv
	done
}

@test "packs whose columns differ are one table, with the columns of all" {
	printf 'joint\tclosure\nJ1\tC1\n' | "$pack" >a.gz
	printf 'joint\tclosure\ttray\nJ2\tC1\t4\n' | "$pack" >b.gz
	printf 'closure\tjoint\nC3\tJ3\n' | "$pack" >c.gz
	cat a.gz b.gz c.gz >abc.gz
	ends 0 '' abc.gz
	[ "$output" = $'joint\tclosure\ttray\nJ1\tC1\t\nJ2\tC1\t4\nJ3\tC3\t' ]
	ends 0 '' c.gz a.gz b.gz
	[ "$output" = $'closure\tjoint\ttray\nC3\tJ3\t\nC1\tJ1\t\nC1\tJ2\t4' ]
	ends 0 '' --where tray=4 abc.gz
	[ "$output" = $'joint\tclosure\ttray\nJ2\tC1\t4' ]
	ends 0 '' --where closure=C1 --where tray= abc.gz
	[ "$output" = $'joint\tclosure\ttray\nJ1\tC1\t' ]
	ends 0 '' --test abc.gz
	ends 0 '' --list abc.gz
	has columns joint,closure joint,closure,tray closure,joint
	cat a.gz a.gz >aa.gz
	ends 0 'thrum-unpack: aa.gz: pack 2 is the same as pack 1' --list aa.gz
	[ "$(cut -f 13 <<<"$output")" = $'columns\njoint,closure' ]
	# a file that comes behind a pipe is known before; what comes in the pipe behind the first is not
	run --separate-stderr -0 sh -c 'cat a.gz | "$1" - b.gz' sh "$unpack"
	[ "$output" = $'joint\tclosure\ttray\nJ1\tC1\t\nJ2\tC1\t4' ]
	cat b.gz a.gz | "$unpack" | cmp - <(printf 'joint\tclosure\ttray\nJ2\tC1\t4\nJ1\tC1\t\n')
	run --separate-stderr -2 sh -c 'cat abc.gz | "$1"' sh "$unpack"
	[ "$stderr" = "thrum-unpack: -: pack 2 has a column that the first has not: 'tray'" ]
}

@test "a value that is not there: the nearest that is, and status 1" {
	ends 1 "thrum-unpack: no row with closure 'quilwort': is it 'quillwort'?" --where closure=quilwort "$golden.gz"
	[ "$output" = "$(head -n 1 "$golden")" ]
	ends 1 "thrum-unpack: no row with closure 'xxx'" --where closure=xxx "$golden.gz"
	ends 1 "thrum-unpack: no row with closure 'sedgebank' meets the other conditions
thrum-unpack: no row with joint 'Q-1' meets the other conditions" --where closure=sedgebank --where joint=Q-1 "$golden.gz"
	ends 1 "thrum-unpack: no row with joint 'Q-9': is it 'Q-1'?" --where joint=Q-1 --where joint=Q-9 "$golden.gz"
	[ "$(grep -c ^Q-1 <<<"$output")" -eq "$(grep -c ^Q-1 "$golden")" ]
	run --separate-stderr -1 sh -c 'cat "$2" | "$1" --where closure=quilwort' sh "$unpack" "$golden.gz"
	[ "$stderr" = "thrum-unpack: no row with closure 'quilwort'" ]
	ends 1 "thrum-unpack: no row with attempt '7'" --latest --where attempt=7 "$golden.gz"
}

@test "--where twice for one column: rows with either value" {
	blocks
	awk -F '\t' 'NR == 1 || $2 == "C03" || $2 == "C17"' in.tsv >want.tsv
	"$unpack" --where closure=C03 --where closure=C17 in.gz | cmp - want.tsv
	cat in.gz | "$unpack" --where closure=C03 --where closure=C17 | cmp - want.tsv
	awk -F '\t' 'NR == 1 || (($2 == "C03" || $2 == "C17") && ($3 == 2 || $3 == 5))' in.tsv >want.tsv
	"$unpack" --where closure=C03 --where tray=5 --where tray=2 --where closure=C17 in.gz | cmp - want.tsv
	set --
	for n in $(seq 100 119); do
		set -- "$@" --where "closure=C${n#1}"
	done
	"$unpack" "$@" in.gz | cmp - in.tsv
}

@test "--where: by the index, by reading, from a pipe: the same rows" {
	blocks
	awk -F '\t' 'NR == 1 || $2 == "C07"' in.tsv >want.tsv
	ends 0 '' --where closure=C07 in.gz
	[ "$output" = "$(cat want.tsv)" ]
	cat in.gz | "$unpack" --where closure=C07 | cmp - want.tsv
	"$pack" --key joint in.tsv | "$unpack" --where closure=C07 | cmp - want.tsv
	awk -F '\t' 'NR == 1 || ($2 == "C07" && $3 == 4)' in.tsv >want.tsv
	"$unpack" --where tray=4 --where closure=C07 in.gz | cmp - want.tsv
	awk -F '\t' 'NR == 1 || $3 == 4' in.tsv >want.tsv
	"$unpack" --where tray=4 in.gz | cmp - want.tsv
	ends 1 "thrum-unpack: no row with closure 'C99': is it 'C09'?" --where closure=C99 in.gz
	[ "$output" = "$(head -n 1 in.tsv)" ]
	ends 1 "thrum-unpack: no row with closure 'C0'" --where closure=C0 in.gz
	cat in.gz in.gz >two.gz
	[ "$("$unpack" --where closure=C07 two.gz | wc -l)" -eq 2001 ]
	leaves_nothing "in.gz:1: no column 'closur': is it 'closure'?" --where closur=C07 in.gz
	trouble "--where: not COL=VALUE: 'closure'" --where closure in.gz
	trouble "--where: not COL=VALUE: '=C07'" --where =C07 in.gz
}

@test "--where without a value: where it is not known" {
	printf 'joint\ttray\nQ-1\t1\nQ-2\t\nQ-3\t2\nQ-4\t\n' | "$pack" --key tray -o in.gz
	ends 0 '' --where tray= in.gz
	[ "$output" = $'joint\ttray\nQ-2\t\nQ-4\t' ]
	"$unpack" --where tray= <in.gz | cmp - <(printf '%s\n' "$output")
	ends 1 "thrum-unpack: no row with joint ''" --where joint= in.gz
	[ "$output" = $'joint\ttray' ]
}

@test "--latest: the last standing record of each joint, in order of first appearance" {
	ends 0 '' --latest "$golden.gz"
	[ "$output" = "$(grep -E '^joint' "$golden"; printf '%s\t%s\tyes\t%s\t%s\t%s\n' Q-1 2 quillwort 1 \
		'dust, cleaned' Q-2 2 quillwort 2 'made again' S-1 1 sedgebank 1 '')" ]
	ends 0 '' --latest --where closure=quillwort "$golden.gz"
	[ "$(cut -f 1,2 <<<"$output")" = $'joint\tattempt\nQ-1\t2\nQ-2\t2' ]
	# a condition on what is no key is one on the record that stands
	ends 0 '' --latest --where attempt=1 "$golden.gz"
	[ "$(cut -f 1,2 <<<"$output")" = $'joint\tattempt\nS-1\t1' ]
	printf 'closure\ttray\nC1\t1\n' | "$pack" >a.gz
	leaves_nothing "a.gz:1: no column 'joint': there are 'closure' 'tray'" --latest a.gz
	printf 'joint\tclosure\nJ1\tC1\nJ1\tC2\n' | "$pack" >a.gz
	ends 0 '' --latest a.gz
	[ "$output" = $'joint\tclosure\nJ1\tC2' ]
	printf 'joint\tstands\nJ1\tmaybe\n' | "$pack" >a.gz
	leaves_nothing "joint 'J1': column 'stands': neither yes nor no: 'maybe'" --latest a.gz
	printf 'joint\tok\nJ1\tno\nJ2\tyes\n' | "$pack" >a.gz
	ends 0 '' -c stands=ok --latest a.gz
	[ "$output" = $'joint\tok\nJ2\tyes' ]
}

# latest WANT FILE...: --latest of packs of these tables, blanks for TABs, gives these rows
latest() {
	local want=$1

	shift
	for t in "$@"; do
		tr ' ' '\t' <"$t" | "$pack" >"$t.gz"
	done
	ends 0 '' --latest "${@/%/.gz}"
	[ "$(tail -n +2 <<<"$output" | tr '\t' ' ')" = "$want" ] || { echo "$output"; false; }
}

@test "--latest: by made_at, without it by the order of packs and rows" {
	printf '%s\n' 'joint stands made_at' 'J1 yes 2026-03-11T22:00Z' >a
	printf '%s\n' 'joint stands made_at' 'J1 yes 2031-07-01T01:00Z' >b
	latest 'J1 yes 2031-07-01T01:00Z' a b
	latest 'J1 yes 2031-07-01T01:00Z' b a
	printf '%s\n' 'joint stands made_at' 'J1 yes ' >c
	latest 'J1 yes ' b c
	latest 'J1 yes 2031-07-01T01:00Z' c b
	# attempts of all nights: a joint that was opened again, its attempts counted anew
	printf '%s\n' 'joint attempt stands made_at' 'J1 1 no 2026-03-11T22:00Z' 'J1 2 yes 2026-03-11T23:00Z' >a
	printf '%s\n' 'joint attempt stands made_at' 'J1 1 yes 2026-05-01T22:00Z' >b
	latest 'J1 1 yes 2026-05-01T22:00Z' a b
	latest 'J1 1 yes 2026-05-01T22:00Z' b a
	# what no longer stands does not come back
	printf '%s\n' 'joint attempt stands made_at' 'J1 1 no 2026-05-01T22:00Z' >c
	latest "J1 2 yes 2026-03-11T23:00Z"$'\n'"J1 1 no 2026-05-01T22:00Z" a b c
	# of a date alone and a time of that day the number tells which was later
	printf '%s\n' 'joint attempt stands made_at' 'J1 1 no 2026-03-11T22:00Z' 'J1 2 yes 2026-03-11' >a
	latest 'J1 2 yes 2026-03-11' a
}

@test "--latest: wavelengths of one attempt, and newer records of it" {
	printf '%s\n' 'joint attempt stands loss_nm loss_db' 'J1 1 yes  0.1' 'J2 1   0.2' >a
	printf '%s\n' 'joint attempt stands loss_nm loss_db' 'J1 1 yes 1310 0.3' 'J1 1 yes 1550 0.4' >b
	latest $'J1 1 yes 1310 0.3\nJ1 1 yes 1550 0.4\nJ2 1   0.2' a b
	# the newest record replaces all rows of the older one
	latest $'J1 1 yes  0.1\nJ2 1   0.2' b a
	# in one record a row without wavelength yields, and the last of a wavelength counts
	printf '%s\n' 'joint attempt stands loss_nm loss_db' 'J1 1 yes  0.1' 'J1 1 yes 1310 0.3' 'J1 1 yes 1310 0.5' >c
	latest 'J1 1 yes 1310 0.5' c
	# two nights in one pack
	printf '%s\n' 'joint attempt shift loss_nm' 'J1 1 2026-03-11 1310' 'J1 1 2026-03-11 1550' 'J1 1 2026-05-01 1550' >d
	latest 'J1 1 2026-05-01 1550' d
	# packs with and without the column
	printf '%s\n' 'joint attempt' 'J1 1' >e
	latest $'J1 1 yes 1310 0.3\nJ1 1 yes 1550 0.4' e b
}

@test "--latest: a condition on what only a later pack has as a key hides none of its records" {
	printf 'joint\tattempt\tclosure\nJ-1\t1\tX\nJ-2\t1\tX\n' | "$pack" --key joint >a.gz
	printf 'joint\tattempt\tclosure\nJ-1\t2\tY\n' | "$pack" --key closure >b.gz
	cat a.gz b.gz >ab.gz
	for files in 'a.gz b.gz' ab.gz -; do
		# shellcheck disable=SC2086 # words
		ends 0 '' --latest --where closure=X $files < <(cat a.gz b.gz)
		[ "$output" = $'joint\tattempt\tclosure\nJ-2\t1\tX' ]
	done
}

# --- cut and damaged -----------------------------------------------------------------------------

@test "a pack cut at a member's border: how many rows can be had, and --salvage has them" {
	blocks
	head -c "$(at 3)" in.gz >cut.gz
	gzip -t cut.gz
	run --separate-stderr -2 "$unpack" cut.gz
	pattern='^thrum-unpack: cut.gz: pack 1: cut off, at byte [0-9]+
thrum-unpack: cut.gz: not whole: ([0-9]+) whole rows can be had, by --salvage$'
	[[ $stderr =~ $pattern ]]
	n=${BASH_REMATCH[1]}
	head -n $((n + 1)) in.tsv >want.tsv
	[ "$output" = "$(cat want.tsv)" ]
	run --separate-stderr -1 "$unpack" --salvage -o saved.tsv cut.gz
	[ "$stderr" = "thrum-unpack: cut.gz: pack 1: cut off, at byte $(stat -c %s cut.gz)
thrum-unpack: cut.gz: $n rows saved; how many are lost is not known" ]
	cmp saved.tsv want.tsv
	ends 1 "thrum-unpack: cut.gz: pack 1: cut off, at byte $(stat -c %s cut.gz)" --test cut.gz
	[ -z "$output" ]
	leaves_nothing "cut.gz: pack 1: cut off, at byte $(stat -c %s cut.gz)
thrum-unpack: cut.gz: not whole: $n whole rows can be had, by --salvage" cut.gz
	head -c -28 in.gz >cut.gz
	leaves_nothing "cut.gz: pack 1: cut off: its end marker is missing, at byte $(stat -c %s cut.gz)
thrum-unpack: cut.gz: not whole: 20000 whole rows can be had, by --salvage" cut.gz
	"$unpack" --salvage cut.gz 2>/dev/null | cmp - in.tsv
}

@test "every byte of a small pack turned over, and every cut: the table, or a status and true rows" {
	printf 'k\tx\nA\t1\nA\t2\nB\t3\n' >in.tsv
	"$pack" --key k -o in.gz in.tsv
	python3 - "$unpack" <<'END'
import re, subprocess, sys
pack = open("in.gz", "rb").read()
table = open("in.tsv", "rb").read()
rows = table.splitlines(True)

def unpack(*options):
    run = subprocess.run([sys.argv[1], *options, "bad.gz"], capture_output=True)
    assert run.returncode in (0, 1, 2)
    assert run.returncode == 0 or run.stderr
    return run.returncode, run.stdout, run.stderr

def among(some, whole):
    rest = iter(whole)
    return all(row in rest for row in some)  # in the same order: `in` takes from rest

def hurt(what, at, bad):
    print(what, at)
    open("bad.gz", "wb").write(bad)
    status, out, said = unpack()
    assert out == table if status == 0 else status == 2 and table.startswith(out)
    saved_status, saved, _ = unpack("--salvage")
    saved = saved.splitlines(True)
    assert saved == rows if saved_status == 0 else among(saved, rows)
    can_be_had = re.search(rb"(\d+) whole rows can be had", said)
    assert not can_be_had or len(saved) == (saved_status < 2) + int(can_be_had[1])
    found_status, found, _ = unpack("--where", "k=A")
    found = found.splitlines(True)
    assert found == rows[:3] if found_status == 0 else among(found, rows[:3])
    assert status == 0 or unpack("--test")[0] != 0
    return status

for i in range(len(pack)):
    hurt("byte", i, pack[:i] + bytes([pack[i] ^ 0xff]) + pack[i + 1:])
for n in range(len(pack)):
    assert hurt("cut to", n, pack[:n]) == 2
END
}

# out_of_place VERSION: in.gz, whose rows are in in.tsv, and other.gz, of the same columns, mixed at the
# borders of members in many ways: no way of reading gives a row that in.tsv does not have, or twice or
# out of its order, and none says that all is well
out_of_place() {
	python3 - "$unpack" "$1" <<'END'
import subprocess, sys
unpack, version = sys.argv[1], int(sys.argv[2])
key = (b"C03", b"C07")[version - 1]

def members(name):
    data, at, found = open(name, "rb").read(), 0, []
    while at < len(data):
        behind = at + 12 + int.from_bytes(data[at + 10:at + 12], "little")
        size = int.from_bytes(data[behind - 2:behind], "little") + 1
        found.append(data[at:at + size])
        at += size
    return found

m, o = members("in.gz"), members("other.gz")
rows = open("in.tsv", "rb").read().splitlines(True)[1:]
place = {row: i for i, row in enumerate(rows)}
other = set(open("other.tsv", "rb").read().splitlines(True)[1:])

def check(what, bad, pipe, options, status, also, in_order=True):
    with open("bad.gz", "wb") as f:
        f.write(b"".join(bad))
    source = open("bad.gz", "rb")
    run = subprocess.run(["sh", "-c", 'cat | "$@"', "sh", unpack, *options] if pipe else
                         [unpack, *options, "bad.gz"], stdin=source, capture_output=True)
    out = run.stdout.splitlines(True)[1:]
    print(what, pipe, options, run.returncode, len(out), run.stderr.decode())
    assert run.returncode in status
    at = [place[row] for row in out if not (also and row in other and row not in place)]
    if "--where" in options:
        at = [i for i in at if key in rows[i]]
        assert run.returncode or len(at) == sum(key in row for row in rows)
    else:
        assert run.stderr
    assert at == sorted(set(at)) or not in_order
    assert options or at == list(range(len(at)))
    return len(out)

last = len(m) - 3  # the index; before it header and data, behind it end and marker
cases = {"exchanged": m[:2] + [m[3], m[2]] + m[4:], "missing": m[:2] + m[3:],
    "first missing": m[:1] + m[2:], "last missing": m[:last - 1] + m[last:],
    "doubled": m[:3] + m[2:], "moved": m[:1] + m[2:last] + [m[1]] + m[last:],
    "another's block": m[:2] + o[2:3] + m[3:], "another's last": m[:last - 1] + o[last - 1:last] + m[last:],
    "another's index": m[:last] + o[last:last + 1] + m[last + 1:],
    "another's end": m[:-2] + o[-2:], "another's index and end": m[:last] + o[last:],
    "another's header": o[:1] + m[1:], "without index": m[:last] + m[last + 1:],
    "without end": m[:-2] + m[-1:], "a block behind": m + m[2:3], "a block before": m[2:3] + m,
    "two headers": m[:1] + m, "two ends": m[:-1] + m[-2:]}
for what, bad in cases.items():
    if b"".join(bad) == b"".join(m):
        continue
    for pipe in (False, True):
        # without its index version 1 cannot know this before its end: see thrum-pack(5)
        unknown = version == 1 and (pipe or len(b"".join(bad)) != len(b"".join(m)))
        plain = 0 if unknown else check(what, bad, pipe, [], (2,), False)
        # what another pack's blocks hold, under the same columns, was packed as well
        saved = check(what, bad, pipe, ["--salvage"], (1, 2), True, not unknown)
        assert version == 1 or saved >= plain
        unknown or check(what, bad, pipe, ["--where", "closure=" + key.decode()], (0, 2), False)
        check(what, bad, pipe, ["--test"], (1,), False)
saved = check("missing", cases["missing"], False, ["--salvage"], (1,), False)
print(saved)
assert saved > len(rows) / 3
END
}

@test "members out of their places, or another pack's" {
	blocks
	awk 'NR > 12000 { $2 = "D" substr($2, 2); sub("J", "K") } { print }' FS='\t' OFS='\t' in.tsv >other.tsv
	"$pack" -o other.gz other.tsv
	out_of_place 2
}

@test "members out of their places in a pack of version 1" {
	cp "$BATS_TEST_DIRNAME/thrum-pack/v1.tsv.gz" in.gz
	ends 0 '' -o in.tsv in.gz
	awk 'BEGIN {
		print "joint\tclosure\tnote"
		for (i = 0; i < 60; i++) {
			s = sprintf("%3000s", "")
			gsub(" ", sprintf("%c", 97 + i % 26), s)
			printf "J%05d\tC%02d\t%s\n", i, i / 10, s
		}
	}' | cmp - in.tsv
	ends 0 '' --test in.gz
	ends 1 "thrum-unpack: -: pack 1: rows over borders of blocks cannot be proven (version 1, without its index)
thrum-unpack: -: 57 rows saved, 3 lost" --salvage < <(cat in.gz)
	cp in.gz other.gz
	cp in.tsv other.tsv
	out_of_place 1
}

@test "a damaged block is named, the rest is saved" {
	blocks
	flip $(($(at 2) + 90))
	m='bad.gz: pack 1: block 2 at byte '$(at 2)' is damaged (its data do not unpack): 5023 rows lost'
	leaves_nothing "$m
thrum-unpack: bad.gz: not whole: 14977 whole rows can be had, by --salvage" bad.gz
	ends 1 "thrum-unpack: $m" --test bad.gz
	run --separate-stderr -1 "$unpack" --salvage -o saved.tsv bad.gz
	[ "$stderr" = "thrum-unpack: $m
thrum-unpack: bad.gz: 14977 rows saved, 5023 lost" ]
	[ "$(wc -l <saved.tsv)" -eq 14978 ]
	# every row saved is a row of the table, and in its order
	[ "$(diff in.tsv saved.tsv | grep -c '^>')" -eq 0 ]
	# rows elsewhere are found all the same
	ends 0 '' --where closure=C00 bad.gz
	run --separate-stderr -2 "$unpack" --where closure=C06 bad.gz
	[[ $stderr == "thrum-unpack: bad.gz: pack 1: block 2 at byte "* ]]
	[[ $stderr == *"thrum-unpack: bad.gz: not whole: something may be missing" ]]
}

@test "a damaged index: looked up by reading, with a warning" {
	blocks
	flip $(($(at 5) + 30))
	m="thrum-unpack: bad.gz: pack 1: its index is damaged"
	ends 0 "$m at byte $(at 5) (CRC-32 of its subfield is wrong)" --where closure=C07 -o out.tsv bad.gz
	awk -F '\t' 'NR == 1 || $2 == "C07"' in.tsv | cmp - out.tsv
	ends 0 "$m at byte $(at 5) (CRC-32 of its subfield is wrong)" -o out.tsv bad.gz
	cmp out.tsv in.tsv
	ends 1 "$m at byte $(at 5) (CRC-32 of its subfield is wrong)" --test bad.gz
}

@test "a damaged header is made good from the end, in a file" {
	blocks
	flip $(($(at 1) - 12))
	leaves_nothing 'bad.gz: pack 1: its header, at byte 0, is damaged (its CRC-32 is wrong)
thrum-unpack: bad.gz: not whole: 20000 whole rows can be had, by --salvage' bad.gz
	run -1 "$unpack" --salvage -o saved.tsv bad.gz
	cmp in.tsv saved.tsv
	run --separate-stderr -2 sh -c 'cat bad.gz | "$1" --salvage' sh "$unpack"
	[[ $stderr == *"thrum-unpack: no columns, and so no rows, can be saved" ]]
}

@test "garbage behind, other gzip, no pack" {
	blocks
	{ cat in.gz; echo more; } >bad.gz
	leaves_nothing "bad.gz: from byte $(stat -c %s in.gz) on there is something that is no pack
thrum-unpack: bad.gz: not whole: 20000 whole rows can be had, by --salvage" bad.gz
	gzip -c in.tsv >other.gz
	leaves_nothing 'other.gz: gzip, but not a pack' other.gz
	trouble 'other.gz: gzip, but not a pack' --test other.gz
	bgzip -c in.tsv >blocked.gz
	leaves_nothing 'blocked.gz: gzip, but not a pack' blocked.gz
	leaves_nothing 'in.tsv: not a pack' in.tsv
	: >empty
	leaves_nothing 'empty: empty, not a pack' empty
	cat in.gz other.gz >bad.gz
	run --separate-stderr -2 "$unpack" bad.gz
	[[ $stderr == *"on there is something that is no pack"* ]]
	cat in.gz blocked.gz >bad.gz
	leaves_nothing "bad.gz: pack 2: its header, at byte $(stat -c %s in.gz), is damaged (there is no header)
thrum-unpack: bad.gz: pack 2: its end member is missing, at byte $(($(stat -c %s bad.gz) - 28))
thrum-unpack: bad.gz: not whole: 20000 whole rows can be had, by --salvage" bad.gz
	cat blocked.gz in.gz >bad.gz
	run --separate-stderr -2 "$unpack" bad.gz
	[[ $stderr == *"whole rows can be had"* ]]
	leaves_nothing "missing.gz: No such file or directory" in.gz missing.gz
	leaves_nothing ".: Is a directory" .
}

# forge KIND N: N members of 65,280 times x, as bomb.gz; the first is a header, and sound
forge() {
	python3 - "$@" <<'END'
import struct, sys, zlib
kind, n = sys.argv[1].encode(), int(sys.argv[2])
crc = 0

def member(kind, own, payload):
    global crc
    own = kind + b"\2" + struct.pack("<I", crc) + own
    extra = b"TP" + struct.pack("<H", len(own) + 4) + own + struct.pack("<I", zlib.crc32(own))
    z = zlib.compressobj(9, zlib.DEFLATED, -15)
    data = z.compress(payload) + z.flush()
    size = 12 + len(extra) + 6 + len(data) + 8
    crc = zlib.crc32(payload, crc)
    return (bytes.fromhex("1f8b08040000000000ff") + struct.pack("<H", len(extra) + 6) + extra + b"BC\2\0" +
            struct.pack("<H", size - 1) + data + struct.pack("<II", zlib.crc32(payload), len(payload)))

with open("bomb.gz", "wb") as f:
    if kind == b"D":
        f.write(member(b"H", b"", b"joint\n"))
        header = crc
    for i in range(n):
        f.write(member(kind, b"" if kind == b"H" else struct.pack("<QQIB", i, 0, header, i == 0), b"x" * 65280))
END
}

# kilobytes ARGUMENT...: the memory it takes at most, of bomb.gz on standard input; its end in $status
kilobytes() {
	run python3 -c '
import resource, subprocess, sys
done = subprocess.run(sys.argv[1:], stdin=open("bomb.gz"), capture_output=True)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
sys.exit(done.returncode)' "$unpack" --threads 1 "$@"
	echo "$output kB, status $status"
}

@test "memory is what the page says, whatever a pack is made to be" {
	(ulimit -v 300000 && "$unpack" -V) >/dev/null 2>&1 || skip 'a sanitizer needs more to start'
	forge H 2600
	[ "$(stat -c %s bomb.gz)" -lt 400000 ]
	for options in "" --test --salvage --list; do
		# shellcheck disable=SC2086 # none or one
		kilobytes $options
		[ "$status" -ne 0 ] && [ "$output" -lt $((16 * 1024)) ]
	done
	forge D 2600
	for options in "" --test --salvage --list; do
		# shellcheck disable=SC2086 # none or one
		kilobytes $options
		[ "$status" -ne 0 ] && [ "$output" -lt $((160 * 1024)) ]
	done
}

@test "--max-out holds bombs" {
	{ printf 'joint\tnote\nJ1\t'; head -c 30000000 /dev/zero | tr '\0' x; echo; } | "$pack" >bomb.gz
	[ "$(stat -c %s bomb.gz)" -lt 100000 ]
	leaves_nothing 'bomb.gz: unpacks to more than 1000000 bytes' --max-out 1000000 bomb.gz
	"$unpack" --max-out 30000015 bomb.gz | tail -c 1 | cmp - <(echo)
}

@test "what goes together and what does not" {
	trouble '--list, --test and --salvage exclude each other' --list --test in.gz
	trouble '--list and --test are of packs, not of rows' --test --latest in.gz
	"$pack" -o in.gz "$night"
	trouble 'in.gz: is read and written at once' -o in.gz in.gz
	"$unpack" in.gz | cmp - "$night"
	run --separate-stderr -2 sh -c '"$1" in.gz >/dev/full' sh "$unpack"
	[ "$stderr" = "thrum-unpack: standard output: No space left on device" ]
}

# --- many packs --------------------------------------------------------------------------------------

@test "a catalogue: files without a row wanted are not opened, others and changed ones are" {
	for n in 1 2 3; do
		printf 'joint\tclosure\ttray\nJ-%s\tC-%s\t1\nK-%s\tC-9\t2\n' $n $n $n | "$pack" --key closure -o $n.gz
	done
	ends 0 '' --list --hashes -o packs.tsv 1.gz 2.gz 3.gz
	[ "$(sed -n 1p packs.tsv | cut -f 13-)" = $'columns\tmodified_ns\thashed\thashes\trow_crc32' ]
	[ "$(sed -n 3p packs.tsv | cut -f 13,15)" = $'joint,closure,tray\tclosure' ]
	[ "$(sed -n 3p packs.tsv | cut -f 16 | tr -d '\n' | wc -c)" -eq 16 ]
	# what is in the way of being opened is not seen
	cp -p 2.gz kept.gz
	tr '[:print:]' x <kept.gz >2.gz
	touch -r kept.gz 2.gz
	ends 0 '' --catalogue packs.tsv --where closure=C-3 1.gz 2.gz 3.gz
	[ "$output" = $'joint\tclosure\ttray\nJ-3\tC-3\t1' ]
	ends 0 '' --latest --catalogue packs.tsv --where closure=C-3 1.gz 2.gz 3.gz
	[ "$output" = $'joint\tclosure\ttray\nJ-3\tC-3\t1' ]
	ends 2 'thrum-unpack: 2.gz: gzip, but not a pack' --catalogue packs.tsv --where closure=C-2 1.gz 2.gz 3.gz
	ends 2 'thrum-unpack: 2.gz: gzip, but not a pack' --catalogue packs.tsv --where tray=2 1.gz 2.gz 3.gz
	cp -p kept.gz 2.gz
	ends 1 "thrum-unpack: no row with closure 'C-4'" --catalogue packs.tsv --where closure=C-4 1.gz 2.gz 3.gz
	# changed, not in it, another name
	printf 'joint\tclosure\tnote\nJ-4\tC-4\tx\n' | "$pack" --key closure -o 2.gz
	cp -p 3.gz 4.gz
	ends 0 'thrum-unpack: packs.tsv: 2 of 4 files are not as it says: opened' \
		--catalogue packs.tsv --where closure=C-4 1.gz 2.gz 3.gz 4.gz
	[ "$output" = $'joint\tclosure\ttray\tnote\nJ-4\tC-4\t\tx' ]
	# a row that was edited is not believed
	sed 's/1.gz\t1\t0/1.gz\t2\t0/' packs.tsv >edited.tsv
	ends 0 'thrum-unpack: edited.tsv: 1 of 2 files are not as it says: opened' \
		--catalogue edited.tsv --where closure=C-1 3.gz 1.gz
	# a time of change beyond 2262, in nanoseconds
	touch -d 9999-01-01 3.gz
	ends 0 '' --list --hashes -o packs.tsv 1.gz 3.gz
	ends 0 '' --catalogue packs.tsv --where closure=C-1 1.gz 3.gz
	refused '--hashes is for --list' --hashes 1.gz
	refused '--catalogue is for --where' --catalogue packs.tsv 1.gz
}

@test "random look-ups with a catalogue that is true, old or damaged: as without one" {
	run -0 python3 "$BATS_TEST_DIRNAME/archive/catalogue.py" "$bin" 1 15
	[ "$output" = "105 look-ups" ]
	echo "# trials 105" >&3
}
