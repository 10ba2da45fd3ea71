#!/bin/sh
# Measures packs against gzip, pigz, bgzip and tabix: pack.sh BUILD ROWS [ROWS_TO_PACK]. Lines as
# run.sh prints them: the median ratio of our time by theirs. Packing is measured on fewer rows
# (1000000), as it takes long.
set -eu
build=$1 rows=$2 packed=${3:-1000000} times=${BENCH_TIMES:-5}
PATH=$PWD/$build/bin:$PATH
LC_ALL=C
export PATH LC_ALL
data=$build/bench
threads=$(nproc)

against() {
	if command -v "$1" >/dev/null 2>&1; then
		"$data/pair" "$2: $1" "$3" "$times" "$4" "$5"
	else
		printf '%-46s not installed, left out\n' "$2: $1"
	fi
}

t=$data/$packed.tsv
[ -s "$t" ] || "$data/generate" "$packed" shuffled >"$t"
printf '%s rows, %s bytes, %s pairs, %s processors\n' "$packed" "$(wc -c <"$t")" "$times" "$threads"
against pigz 'pack, level 6' 1 "thrum-pack $t" "pigz -6 -p $threads -c $t"
against bgzip 'pack, level 6' 0 "thrum-pack $t" "bgzip -l 6 -@ $threads -c $t"
against pigz 'pack, level 1' 1 "thrum-pack --level 1 $t" "pigz -1 -p $threads -c $t"
[ -s "$t.gz" ] || gzip -6 -k "$t"
thrum-pack -o "$t.pack.gz" "$t"
bgzip -l 6 -@ "$threads" -c "$t" >"$t.bgz"
ours=$(wc -c <"$t.pack.gz")
for theirs in gz bgz; do
	echo "size: by $theirs" "$ours" "$(wc -c <"$t.$theirs")" |
		awk '{ printf "%-46s %7.4f\n", $1 " " $2 " " $3, $4 / $5 }'
done
against gzip unpack 1 "thrum-unpack $t.pack.gz" "gzip -dc $t.gz"
against bgzip unpack 0 "thrum-unpack $t.pack.gz" "bgzip -dc -@ $threads $t.bgz"
against bgzip 'unpack, 1 thread' 0 "thrum-unpack --threads 1 $t.pack.gz" "bgzip -dc $t.bgz"

for order in sorted visits shuffled; do
	t=$data/$rows.$order
	[ -s "$t.gz" ] || "$data/generate" "$rows" "$order" | thrum-pack -o "$t.gz"
	# a closure from the midst
	closure=$(thrum-unpack "$t.gz" | sed -n "$((rows / 2)){p;q;}" | cut -f 2)
	what="one closure of $rows rows, $order"
	if [ $order = sorted ]; then
		if command -v tabix >/dev/null 2>&1 && [ ! -s "$t.bgz.tbi" ]; then
			thrum-unpack "$t.gz" | { IFS= read -r header; echo "$header"; sort -t "$(printf '\t')" -s -k 2,2 -k 3,3n; } |
				bgzip -@ "$threads" -c >"$t.bgz"
			tabix -f -s 2 -b 3 -e 3 -S 1 "$t.bgz"
		fi
		times=50
		against tabix "$what" 0.2 "thrum-unpack --where closure=$closure $t.gz" "tabix $t.bgz $closure"
	fi
	times=5
	against bgzip "$what, theirs reads all" 0 "thrum-unpack --where closure=$closure $t.gz" \
		"bgzip -dc -@ $threads $data/$rows.sorted.bgz | grep -F '	$closure	'"
done
