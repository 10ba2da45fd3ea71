#!/bin/sh
# Time and memory of programs on tables of any size: growth.sh BUILD ROWS...
#
# One line each: rows, program, seconds, nanoseconds a row, MiB of memory, bytes written. From 20 million rows on
# only closure, mfd, pack and check, and check by regions of a million rows, as many at once as there are
# processors: its memory is then that of the largest.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
. tests/bench/jobs.sh
shift
order=sorted arcs_most=1000000

# job FILE PROGRAM WHAT ARGUMENT...: its output goes to `out`
job() {
	of=$1 name="$2, $3" program=$2
	shift 3
	takes "$(($(wc -l <"$of") - 1))" "$name" "$program" "$@"
}

# takes ROWS NAME COMMAND...
takes() {
	n=$1 name=$2
	shift 2
	/usr/bin/time -o "$data/used" -f '%e %M' "$@" >"$data/out" 2>"$data/said" || [ $? -eq 1 ] ||
		{ cat "$data/said" >&2; exit 2; }
	tail -n 1 "$data/used" | awk -v rows="$n" -v name="$name" -v bytes="$(wc -c <"$data/out")" '{
		printf "%11d  %-34s %9.2f s %7.0f ns/row %7.0f MiB %7.1f bytes/row\n",
			rows, name, $1, $1 * 1e9 / rows, $2 / 1024, bytes / rows
	}'
}

for rows; do
	if [ "$rows" -lt 20000000 ]; then
		jobs "$rows"
		continue
	fi
	t=$data/jobs.tsv
	"$data/generate" "$rows" $order >"$t"
	takes "$rows" 'wc -l' wc -l "$t"
	takes "$rows" 'thrum-closure, every figure' thrum-closure "$t"
	takes "$rows" 'thrum-mfd, 8 columns appended' thrum-mfd "$t"
	takes "$rows" 'thrum-pack, level 6' thrum-pack --key closure "$t"
	takes "$rows" "thrum-check, $(nproc) at once" \
		parallel --header 1 --pipepart --block 120M -a "$t" 'thrum-check || [ $? -eq 1 ]'
done
rm -f "$t" "$data/out" "$data/used" "$data/said"
