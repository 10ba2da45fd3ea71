#!/bin/sh
# Measures one build against another: builds.sh BUILD ROWS OLD NEW. OLD and NEW are folders with a
# bin/ each; BUILD has the tools that measure, and keeps the tables.
#
# Every figure is the median ratio of NEW's time by OLD's over paired, alternating runs: processor time,
# which other work on the machine disturbs less (BENCH_BY=wall: time on the clock). The goal is 1.03.
# Ends with 1 if a program exceeds it, with 2 if a program is not measured or cannot be.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
old=$3 new=$4 times=${BENCH_TIMES:-11} by=${BENCH_BY:-cpu}
t=$data/$rows.tsv
measured=$data/builds.log

[ -s "$t" ] || "$data/generate" "$rows" shuffled >"$t"
export_of "$t" 8 "$data/$rows.csv.8"
maps "$t"
night "$rows" 144 closure
awk -v n="$rows" -v OFS='\t' '
	BEGIN {
		print "link", "seq", "kind", "count", "length_km", "wavelength_nm", "loss_db", "sd_db"
		for (i = 0; i < n; i++) {
			seq = i % 8 + 1
			kind = seq % 7 == 1 ? "connector" : seq % 2 ? "fusion" : "fibre"
			print "L" int(i / 8), seq, kind, kind == "fibre" ? "" : 1,
				kind == "fibre" ? i % 997 / 100 + 0.1 : "", i % 16 < 8 ? 1310 : 1550,
				i % 3 ? "" : i % 89 / 1000, i % 3 ? "" : 0.01
		}
	}' >"$data/$rows.elements"
"$old/bin/thrum-pack" -o "$data/$rows.pack.gz" "$t"

# of PROGRAM WHAT ARGUMENT...: one line
of() {
	program=$1 what="$1, $2"
	shift 2
	"$data/pair" "$what" 1.03 "$times" "$new/bin/$program $*" "$old/bin/$program $*" "$by" |
		tee -a "$measured"
}

: >"$measured"
headline "$t" "$rows"
of thrum-budget 'elements' --max 8 "$data/$rows.elements"
of thrum-check 'every rule' "$t"
of thrum-check 'rows without an error' --pass --set-aside /dev/null "$t"
of thrum-closure 'every figure' "$t"
of thrum-closure 'no quantiles' --no-quantiles "$t"
of thrum-import 'text' -m "$data/text.map" "$data/$rows.csv.8"
of thrum-import 'typed' -m "$data/typed.map" "$data/$rows.csv.8"
of thrum-match 'closures of 144' --plan "$data/plan" --findings /dev/null "$data/arcs"
of thrum-mfd '8 columns appended' "$t"
of thrum-pack 'level 6' "$t"
network "$rows"
of thrum-route 'every link' --spans "$net/spans" --ports "$net/ports" "$net/joints"
of thrum-unpack 'all of it' "$data/$rows.pack.gz"
of thrum-unpack 'one closure' --where closure=C00007 "$data/$rows.pack.gz"

for program in "$new"/bin/*; do
	program=${program##*/}
	grep -q "^$program," "$measured" || { echo "builds.sh: not measured: $program" >&2 && exit 2; }
done
! grep -q 'NOT MET' "$measured"
