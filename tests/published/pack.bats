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

@test "what they cannot notice, thrum-unpack does: a cut between two members, a damaged index" {
	size=$(stat -c %s large.gz)
	end=$(tail -c 44 large.gz | head -c 6 | tail -c 2 | od -An -tu2 --endian=little)
	head -c $((size - 28 - end - 1)) large.gz >cut.gz
	{ head -c $((size - 28 - end - 1 - 100)) large.gz; printf '\0'; tail -c $((28 + end + 1 + 99)) large.gz; } >index.gz
	for bad in cut index; do
		gzip -t $bad.gz
		pigz -t $bad.gz
		bgzip -t $bad.gz
		run -1 "$unpack" --test $bad.gz
	done
}

reads() { python3 "$BATS_TEST_DIRNAME/packread.py" "$@"; }

@test "a reader written from the page reads every pack and finds all in it true" {
	is_true() { reads $t.gz | cmp - $t.tsv; }
	each is_true
	reads "$golden" | cmp - <(zcat "$golden")
	# an index of several members, with any keys and few, and rows over several data members
	awk 'BEGIN {
		print "joint\tclosure\tnote\ttray"
		for (i = 0; i < 300000; i++)
			printf "J%06d\tC%05d\t%*s\t%d\n", i, i / 32, i % 50000 == 0 ? 200000 : 20, "x", i / 31
	}' >long.tsv
	"$pack" --level 1 --key closure,tray,joint,note long.tsv -o long.gz
	reads long.gz 2>counts | cmp - long.tsv
	read -r headers blocks index <counts
	echo "$headers $blocks $index"
	[ "$headers" -eq 1 ] && [ "$blocks" -gt 100 ] && [ "$index" -gt 1 ]
	reads wide.gz 2>counts | cmp - wide.tsv
	[ "$(cat counts)" = "4 0 0" ]
}

@test "a reader written from the page finds a key, and reads little for it" {
	finds() { # COLUMN VALUE NUMBER: the rows, in FILE, of FILE.tsv with this field
		reads "$file.gz" "$1" "$2" 2>count | cmp - \
			<(awk -F '\t' -v at="$3" -v value="$2" 'NR == 1 || $at == value' "$file.tsv")
		read -r there read <count
		echo "read $read of $there"
	}
	file=large
	for value in C000 C007 C150 C309 C999; do
		finds closure $value 2
		[ "$read" -le 3 ]
	done
	[ "$there" -gt 15 ]
	"$pack" --key joint,closure,note large.tsv -o large.gz
	finds joint J007919 1
	finds note x 3
	[ "$read" -eq "$there" ]
	file=joined
	cat large.gz large.gz >joined.gz
	{ cat large.tsv large.tsv; } >joined.tsv
	reads joined.gz closure C007 2>count |
		cmp - <(awk -F '\t' '$2 == "closure" || $2 == "C007"' joined.tsv)
}

@test "the example in the page is a pack, all of its bytes" {
	sed -n '/^\.Sh EXAMPLES/,/^\.Sh SEE/p' "$BATS_TEST_DIRNAME/../../man/thrum-pack.5" |
		sed -n 's/^\([0-9a-f][0-9a-f]\( [0-9a-f][0-9a-f]\)*\)\(  .*\)*$/\1/p' | tr -d ' \n' |
		python3 -c 'import sys; sys.stdout.buffer.write(bytes.fromhex(sys.stdin.read()))' >page.gz
	printf 'closure\tjoint\nC1\tJ1\nC1\tJ2\n' >page.tsv
	"$unpack" page.gz | cmp - page.tsv
	"$unpack" --test page.gz
	reads page.gz | cmp - page.tsv
	zcat page.gz | cmp - page.tsv
}
