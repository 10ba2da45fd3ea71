#!/bin/sh
# Measures against other tools: run.sh BUILD ROWS
#
# Every figure is the median ratio of our time by theirs over paired, alternating runs, with the least
# and the greatest; below 1 we are faster. Tools that are not installed are named and left out.
set -eu
build=$1 rows=$2 times=${BENCH_TIMES:-5}
PATH=$PWD/$build/bin:$PATH
LC_ALL=C
export PATH LC_ALL
data=$build/bench
pair=$build/bench/pair
t=$data/$rows.tsv

[ -s "$t" ] || "$build/bench/generate" "$rows" shuffled >"$t"
have() {
	command -v "$1" >/dev/null 2>&1 || {
		echo "($1 is not installed: left out)"
		return 1
	}
}
# against NAME GOAL OURS THEIRS: a line; GOAL 0: none
against() {
	"$pair" "$1" "$2" "$times" "$3" "$4"
}

echo "$rows rows, $(wc -c <"$t") bytes, $times pairs, $(nproc) processors"
printf '%-46s %7s  %15s %6s\n' 'ours by theirs' median 'least-greatest' goal
against 'mfd, 8 columns appended: wc -l' 7 "thrum-mfd $t" "wc -l $t"
against 'closure, count mean max sd: wc -l' 5 "thrum-closure --no-quantiles $t" "wc -l $t"
against 'closure, with median and p95: wc -l' 10 "thrum-closure $t" "wc -l $t"
against 'check, rules within a row: wc -l' 10 "thrum-check --rules $data/row.rules $t" "wc -l $t"
against 'check, all rules: wc -l' 0 "thrum-check $t" "wc -l $t"
against 'start-up: true' 1.3 "thrum-mfd -V" "true"
