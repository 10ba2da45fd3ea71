#!/bin/sh
# The promises and how often each was tried: promises.sh BUILD [write], promises.sh rows
#
# Reads what the tests and fuzzers of BUILD have left behind (make test, make fuzz) and prints a table; with
# "write" puts it into DEVELOPERS.md between its marks. A test says "# trials N" for itself; of others each
# test is one. What has not been run is an error. Counts are rounded down to two digits, as some differ a
# little from one C library to the next. "rows" prints the table without them, and wants no BUILD.
set -eu
cd "$(dirname "$0")/.."
build=$1

# trials SOURCE...: how often these tests and fuzzers have tried, together
trials() {
	sum=0
	for source in "$@"; do
		case $source in
		fuzz_*) log=$build/fuzz/$source.log ;;
		*) log=$build/tests/logs/tests_$(echo "$source" | tr / _) ;;
		esac
		[ -s "$log" ] || { echo "promises: $source has not been run" >&2; exit 1; }
		! grep -q '^not ok' "$log" || { echo "promises: $source has failed" >&2; exit 1; }
		n=$(awk '
			/^# trials / { said += $3 }
			/^ok / { tests++ }
			/^Done [0-9]+ runs/ { said += $2 }
			END { print said ? said : tests + 0 }' "$log")
		[ "$n" -gt 0 ] || { echo "promises: $source has tried nothing" >&2; exit 1; }
		sum=$((sum + n))
	done
	echo "$sum"
}

# promise TEXT SOURCE...: one row
promise() {
	text=$1
	shift
	[ "$build" != rows ] || { echo "| $text | $(echo "$*" | sed 's/ /, /g') |" && return; }
	n=$(trials "$@")
	n=$(echo "$n" | sed 's/^\(..\)\(.*\)$/\1 \2/' | awk '{ gsub(/./, "0", $2); print $1 $2 }')
	echo "| $text | $n | $(echo "$*" | sed 's/ /, /g') |"
}

table() {
	echo '| promise | trials | made by |'
	echo '|---|---|---|'
	promise 'Whatever allocation or call of the system fails: 0, 1 or 2, a message, nothing by halves' \
		faults.bats outputs.bats
	promise 'What is no table is refused, with its place, by every program' common.bats
	promise 'A table is read the same from memory, files and pipes, in blocks of any size' \
		unit/test_reader.c fuzz_reader
	promise 'Numbers are read and written as the C library does it' unit/test_num.c fuzz_num
	promise 'Keys are found, chosen ones too, at a bounded cost' unit/test_ids.c
	promise 'Side tables in memory are what their files say; each row is found by its key' \
		unit/test_table.c fuzz_side
	promise 'Any words as a command line: refused, or each value in its range' unit/test_opt.c fuzz_opt
	promise 'Any rules on any table: the findings are a table' unit/test_rule.c fuzz_rules
	promise 'Any map on any export: each row is made, dropped or wrong' unit/test_export.c fuzz_import
	promise 'Random exports in random dialects come back; every row comes out or is set aside' thrum-import.bats
	promise 'A sound night with one record changed for the worse: no closure it touches passes' passes.bats
	promise 'A pattern finds what is there, at a step for each letter and state' unit/test_pattern.c
	promise 'Any readings of two links: each is in its place once, and what is made of them is a table' fuzz_readings
	promise 'A pack gives no row but those packed, whatever was cut, flipped, moved or doubled' \
		unit/test_pack.c fuzz_unpack
	promise 'Any tables in any program: 0, 1 or 2; what is written is a table, no row lost or doubled; the same rows give the same, with other line ends or in two files' \
		fuzz_programs
}

text=$(table)
if [ "${2:-}" != write ]; then
	echo "$text"
	exit
fi
TEXT=$text awk '
	/^<!-- promises -->$/ { print; print ENVIRON["TEXT"]; skip = 1; next }
	/^<!-- end of promises -->$/ { skip = 0 }
	!skip' DEVELOPERS.md >"$build/developers"
cat "$build/developers" >DEVELOPERS.md
