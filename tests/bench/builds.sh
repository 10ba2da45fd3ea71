#!/bin/sh
# Measures one build against another: builds.sh BUILD ROWS OLD NEW. OLD and NEW are folders with a
# bin/ each; BUILD has the tools that measure, and keeps the tables.
#
# Every figure is the median ratio of NEW's time by OLD's over paired, alternating runs: processor time,
# which other work on the machine disturbs less (BENCH_BY=wall: time on the clock). The goal is 1.03.
# Ends with 1 if a program exceeds it, with 2 if a program is not measured or cannot be.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
. tests/bench/jobs.sh
old=$3 new=$4 times=${BENCH_TIMES:-11} by=${BENCH_BY:-cpu}
measured=$data/builds.log arcs_most=20000

# job FILE PROGRAM WHAT ARGUMENT...: one line
job() {
	program=$2 what="$2, $3"
	shift 3
	"$data/pair" "$what" 1.03 "$times" "$new/bin/$program $*" "$old/bin/$program $*" "$by" |
		tee -a "$measured"
}

: >"$measured"
headline /dev/null "$rows"
jobs "$rows"
for program in "$new"/bin/*; do
	program=${program##*/}
	grep -q "^$program," "$measured" || { echo "builds.sh: not measured: $program" >&2 && exit 2; }
done
! grep -q 'NOT MET' "$measured"
