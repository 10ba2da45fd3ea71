#!/bin/sh
# shellcheck disable=SC2317 # the makers are called by their names
# Does the time grow as the input does? linear.sh BUILD
#
# Each line: a job on N of something and on 8 N of it, the least time of three runs each, and their ratio:
# 8 if the time grows as the input does, 64 if it grows as its square. The goal is a ratio of 20 at most,
# as a larger job also leaves the caches. Exit status 1 if one of them is missed.
set -eu
PATH=$PWD/$1/bin:$PATH
LC_ALL=C
export PATH LC_ALL
data=$1/bench/linear
missed=0
mkdir -p "$data"

# seconds COMMAND: the least of three runs
seconds() {
	for _ in 1 2 3; do
		start=$(date +%s%N)
		sh -c "$1" >/dev/null 2>&1 || [ $? -eq 1 ] || { echo "failed: $1" >&2; exit 1; }
		echo $(($(date +%s%N) - start))
	done | sort -n | head -n 1
}

# linear WHAT N MAKE COMMAND: MAKE N writes the input, COMMAND, with FILE for @, reads it
linear() {
	what=$1 n=$2 make=$3 command=$4
	for times in 1 8; do
		file=$data/$make.$((n * times))
		[ -s "$file" ] || $make $((n * times)) >"$file"
	done
	one=$(seconds "$(echo "$command" | sed "s|@|$data/$make.$n|g")")
	eight=$(seconds "$(echo "$command" | sed "s|@|$data/$make.$((n * 8))|g")")
	awk -v what="$what" -v n="$n" -v one="$one" -v eight="$eight" 'BEGIN {
		bad = eight > 20 * one && eight > 0.2e9
		printf "%-28s %8d %7.3f s %8d %7.3f s   ratio %5.1f%s\n", what, n, one / 1e9, 8 * n, eight / 1e9,
			eight / one, bad ? "   MISSED" : ""
		exit bad }' || missed=1
}

columns() {
	seq "$1" | tr '\n' ,
	echo end
	seq "$1" | tr '\n' ,
	echo end
}

rules() {
	printf 'rule\tlevel\tkind\tcolumns\n'
	seq "$1" | awk '{ print "r" $1 "\terror\tpresent\tunknown_" $1 "\nx" $1 "\terror\tnumber\tx" }'
}

# packs joined, of a row each
packs() {
	printf 'k\n1\n' | thrum-pack >"$data/pack"
	seq 100 | while read -r _; do cat "$data/pack"; done >"$data/packs"
	seq $(($1 / 100)) | while read -r _; do cat "$data/packs"; done
}

# Keys that all have the quick hash of lib/table/ids.c in common; python3 reckons it backwards.
crafted() {
	python3 - "$1" <<'END'
import sys
odd, mask = 0x9e3779b97f4a7c15, 2**64 - 1
back = pow(odd, -1, 2**64)
out, i, left = sys.stdout.buffer, 0, int(sys.argv[1])
out.write(b"closure\tloss_nm\tloss_db\n")
while left:
    h = (7 << 32 | i) * back & mask
    h ^= h >> 32
    h = h * back & mask
    h ^= h >> 32
    key = ((h * back & mask) ^ (8 * odd & mask)).to_bytes(8, "little")
    i += 1
    if not set(key) & set(b"\0\t\n\r"):
        out.write(key + b"\t1550\t0.05\n")
        left -= 1
END
}

linear 'draft of so many columns' 10000 columns 'thrum-import --draft @'
linear 'so many rules' 25000 rules 'printf "y\tx\n1\t2\n" | thrum-check --rules @'
linear 'so many packs' 20000 packs 'thrum-unpack @'
linear 'so many packs, tested' 20000 packs 'thrum-unpack --test @'
linear 'keys of one hash' 12500 crafted 'thrum-closure @'
exit $missed
