#!/bin/sh
# Measures packs against gzip, pigz, bgzip and tabix: pack.sh BUILD ROWS. Lines as run.sh prints them.
#
# Looking up is measured on all rows, packing and unpacking on no more than 1000000, as it takes long.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
threads=$(nproc)
most=1000000
[ "$rows" -gt $most ] || most=$rows

t=$data/$most.tsv
[ -s "$t" ] || "$data/generate" "$most" shuffled >"$t"
[ -s "$t.gz" ] || gzip -6 -k "$t"
thrum-pack -o "$t.pack.gz" "$t"
bgzip -l 6 -@ "$threads" -c "$t" >"$t.bgz"

headline "$t" "$most"
for level in 1 6; do
	against pigz "pack, level $level" 1 "thrum-pack --level $level $t" "pigz -$level -p $threads -c $t"
done
against bgzip 'pack, level 6' 0 "thrum-pack $t" "bgzip -l 6 -@ $threads -c $t"
# size NAME GOAL OURS THEIRS: lengths of files
size() {
	echo "$1" "$2" "$(wc -c <"$3")" "$(wc -c <"$4")" |
		awk '{ printf "%-46s %7.3f %24.3f %s\n", "size: " $1, $3 / $4, $2, $3 / $4 <= $2 ? "met" : "NOT MET" }'
}
size gzip 1.04 "$t.pack.gz" "$t.gz"
size bgzip 1.04 "$t.pack.gz" "$t.bgz"
against gzip unpack 0 "thrum-unpack $t.pack.gz" "gzip -dc $t.gz"
against bgzip unpack 0 "thrum-unpack $t.pack.gz" "bgzip -dc -@ $threads $t.bgz"
against bgzip 'unpack, 1 thread' 0 "thrum-unpack --threads 1 $t.pack.gz" "bgzip -dc $t.bgz"

# one closure: sorted by closure, every closure twice in strides, anyhow
sorted=$data/$rows.sorted
for order in sorted visits shuffled; do
	pack=$data/$rows.$order.gz
	[ -s "$pack" ] || "$data/generate" "$rows" "$order" | thrum-pack -o "$pack"
done
if [ ! -s "$sorted.bgz.tbi" ]; then
	thrum-unpack "$sorted.gz" | bgzip -@ "$threads" -c >"$sorted.bgz"
	tabix -f -s 2 -b 6 -e 6 -S 1 "$sorted.bgz" # fibre_a is its "position"
fi
closure=$(thrum-unpack "$sorted.gz" | sed -n "$((rows / 2)){p;q;}" | cut -f 2)
look() { # ORDER
	echo "thrum-unpack --where closure=$closure $data/$rows.$1.gz"
}
scan="bgzip -dc -@ $threads $sorted.bgz | grep -F '	$closure	'"

printf '\n'
times=50
headline "$sorted.gz" "$rows"
against tabix 'one closure, sorted' 0.2 "$(look sorted)" "tabix $sorted.bgz $closure"
times=${BENCH_TIMES:-5}
against bgzip 'one closure, sorted, theirs reads all' 0 "$(look sorted)" "$scan"
against bgzip 'one closure, visits, theirs reads all' 0 "$(look visits)" "$scan"
against bgzip 'one closure, shuffled, theirs reads all' 0 "$(look shuffled)" "$scan"
