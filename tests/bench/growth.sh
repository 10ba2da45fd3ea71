#!/bin/sh
# Time and memory of programs on tables of any size: growth.sh BUILD ROWS...
#
# One line each: rows, program, seconds, nanoseconds a row, MiB of memory, bytes written. Tables as generate.c makes
# them, 120 bytes a row, 200 joints a closure; from 20 million rows on only check, closure, mfd and pack.
set -eu
build=$(cd "$1" && pwd)
shift
PATH=$build/bin:$PATH
data=${GROWTH_DATA:-$build/bench/growth}
mkdir -p "$data"
cd "$data"

# takes ROWS NAME COMMAND...: its output goes to `out`
takes() {
	rows=$1 name=$2
	shift 2
	/usr/bin/time -o used -f '%e %M' "$@" >out 2>said || [ $? -eq 1 ] || { cat said >&2; exit 2; }
	tail -n 1 used | awk -v rows="$rows" -v name="$name" -v bytes="$(wc -c <out)" '{
		printf "%11d  %-26s %9.2f s %7.0f ns/row %7.0f MiB %13d bytes\n", rows, name, $1, $1 * 1e9 / rows, $2 / 1024, bytes
	}'
}

for rows; do
	"$build/bench/generate" "$rows" sorted >joints.tsv
	takes "$rows" 'wc -l' wc -l joints.tsv
	takes "$rows" thrum-check thrum-check joints.tsv
	takes "$rows" thrum-closure thrum-closure joints.tsv
	takes "$rows" 'thrum-closure --no-quantiles' thrum-closure --no-quantiles joints.tsv
	takes "$rows" 'thrum-mfd' thrum-mfd --wavelength 1550 joints.tsv
	takes "$rows" thrum-pack thrum-pack --key closure joints.tsv
	mv out joints.gz
	[ "$rows" -lt 20000000 ] || continue
	takes "$rows" thrum-unpack thrum-unpack joints.gz
	takes "$rows" 'thrum-closure --partial' thrum-closure --partial --by jointer joints.tsv
	mv out part
	takes "$rows" 'thrum-closure --merge' thrum-closure --merge --by jointer part
	takes "$rows" thrum-rework thrum-rework joints.tsv
	takes "$rows" 'thrum-show --tsv' thrum-show --tsv --where jointer=Oda joints.tsv
	takes "$rows" 'thrum-plot' thrum-plot --kind losses joints.tsv
	tr '\t' ',' <joints.tsv >joints.csv
	[ -s map ] || thrum-import --draft joints.csv | sed 's/?//' >map
	takes "$rows" thrum-import thrum-import -m map joints.csv
done
rm -f joints.tsv joints.csv joints.gz part out used said
