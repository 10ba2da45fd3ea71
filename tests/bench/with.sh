# Sourced by the scripts that measure, which are called with BUILD ROWS; run.sh says what they print.
# shellcheck shell=sh disable=SC2034 # for those scripts
set -eu
build=$1 rows=$2 times=${BENCH_TIMES:-5}
PATH=$PWD/$build/bin:$PATH
LC_ALL=C
export PATH LC_ALL
data=$build/bench

# against TOOL WHAT GOAL OURS THEIRS: one line; GOAL 0 is none
against() {
	if command -v "$1" >/dev/null 2>&1; then
		"$data/pair" "$2: $1" "$3" "$times" "$4" "$5"
	else
		printf '%-46s not installed, left out\n' "$2: $1"
	fi
}

# headline FILE ROWS: what the lines below are of
headline() {
	printf '%s rows, %s bytes, %s pairs, %s processors\n' "$2" "$(wc -c <"$1")" "$times" "$(nproc)"
	printf '%-46s %7s  %15s %6s %7s %11s %11s\n' 'ours by theirs' median least-greatest goal '' time peak
}
