#!/usr/bin/env bats
# thrum-closure as a program: what it reads, what it hands out, what it refuses. What the figures
# ought to be is in published/closure.bats and unit/test_stat.c.

# shellcheck disable=SC2016 # awk has a $ of its own
# shellcheck source=tests/program.bash disable=SC2154 # bin, exe and samples come from there
load program

made='joints	passed	failed	unknown	basis	mean_db	sd_db	median_db	p95_db	max_db	worst_joint'
made="$made	trays	first_at	last_at	verdict"

setup() {
	begin thrum-closure
}

# stops MESSAGE ARGUMENT...: trouble in a row, after the header and before any sum has come out
stops() {
	trouble "$@"
	says "closure	$made"
}

# --- one closure ---------------------------------------------------------------------------------

@test "everything there is to say of a closure" {
	table j.tsv 'joint closure tray made_at loss_db' \
		'J-1 north 2 2026-03-11T22:10:00Z 0.02' \
		'J-2 north 1 2026-03-11T21:50:00Z 0.05' \
		'J-3 north 2 2026-03-11T23:30:00Z 0.11' \
		'J-4 north 1 2026-03-11T22:40:00Z 0.02'
	gives 0 j.tsv
	# sd: the squares of the deviations from 0.05 are 9, 0, 36, 9 millionths x 100, by three
	says "closure	$made" "north	4	3	1	0	two-way	0.050000	0.042426	0.035000	0.101000	0.110000	J-3	1,2	2026-03-11T21:50:00Z	2026-03-11T23:30:00Z	fail"
}

@test "one joint has no standard deviation, and is its own median" {
	table j.tsv 'closure loss_db' 'north 0.04'
	gives 0 j.tsv
	says "closure	$made" "north	1	1	0	0	two-way	0.040000		0.040000	0.040000	0.040000					pass"
}

@test "a header alone gives a header alone" {
	table j.tsv 'closure loss_db'
	gives 0 j.tsv
	says "closure	$made"
	gives 0 --no-quantiles --by closure j.tsv
	says "closure	$made"
}

@test "closures stand in the order of their first joint, an unnamed one among them" {
	table j.tsv 'closure loss_db' 'south 0.01' '. 0.02' 'north 0.03' 'south 0.03'
	gives 0 j.tsv
	has closure south '' north
	has joints 2 1 1
	has mean_db 0.020000 0.020000 0.030000
}

@test "several files are one table, each needs only the columns read" {
	table a.tsv 'closure loss_db note' 'north 0.01 x' 'south 0.02 y'
	table b.tsv 'loss_db closure' '0.03 north' '0.05 east'
	gives 0 a.tsv b.tsv
	has closure north south east
	has mean_db 0.020000 0.020000 0.050000
	gives 0 - b.tsv <a.tsv
	has joints 2 1 1
	table c.tsv 'loss_db' '0.03'
	refused "c.tsv:1: no column 'closure': only one column" a.tsv c.tsv
}

@test "the sample nights: every standing joint is counted once" {
	nights=("$samples/night1.tsv" "$BATS_TEST_DIRNAME"/night/{quoinmere,larkrope,wrackle,peltrick}.tsv)
	gives 0 "${nights[@]}"
	[ "${#lines[@]}" -eq 9 ]
	[ "$(awk -F '\t' 'NR > 1 { n += $2 } END { print n }' <<<"$output")" = \
	  "$(awk -F '\t' '$3 == "yes"' "${nights[@]}" | wc -l)" ]
	[ "$(awk -F '\t' 'NR > 1 && $2 != $3 + $4 + $5' <<<"$output")" = "" ]
}

# --- what a joint loses --------------------------------------------------------------------------

@test "the loss from both ends goes before the estimate, the mean of two readings between them" {
	table j.tsv 'closure est_db loss_ab_db loss_ba_db loss_db' \
		'a 0.01 0.05 0.03 0.08' 'b 0.01 0.05 0.03 .' 'c 0.01 0.05 . .' 'd 0.01 . 0.03 .' \
		'e . 0.05 . .' 'f 0.01 -0.02 0.01 .' 'f 0.01 . . .'
	gives 0 j.tsv
	has max_db 0.080000 0.040000 0.010000 0.010000 '' 0.010000
	has mean_db 0.080000 0.040000 0.010000 0.010000 '' 0.002500
	has basis two-way two-way estimate estimate '' mixed
	has unknown 0 0 0 0 1 0
	has verdict fail pass pass pass unknown pass # on average above 0.05
}

@test "the mean of two readings is exact, a half going away from zero" {
	table j.tsv 'closure loss_ab_db loss_ba_db' 'a 0.000001 0' 'b -0.000001 0' 'c 0.1 0.300001' \
		'd 1000 999.999999'
	gives 0 j.tsv
	has max_db 0.000001 -0.000001 0.200001 1000.000000
}

@test "--value judges another column and says nothing of its basis" {
	table j.tsv 'closure excess_db loss_db' 'a 0.02 0.5' 'a . 0.4' 'b 0.2 0.01'
	gives 0 --value excess_db j.tsv
	has mean_db 0.020000 0.200000
	has basis '' ''
	has unknown 1 0
	has verdict unknown fail
	gives 0 --value excess_db -c loss_db=closure j.tsv
	has mean_db 0.020000 0.200000
}

@test "--value needs no other column" {
	table j.tsv 'closure excess_db' 'a 0.02'
	gives 0 --value excess_db j.tsv
	has mean_db 0.020000
}

@test "without a column to judge there is trouble" {
	table j.tsv 'closure joint' 'a J-1'
	refused "j.tsv:1: no column 'loss_db' or 'est_db' or 'loss_ab_db' or 'loss_ba_db': there are \
'closure' 'joint'" j.tsv
	table j.tsv 'closure los_db' 'a 0.1'
	refused "j.tsv:1: no column 'excess_db': there are 'closure' 'los_db'" --value excess_db j.tsv
	gives 0 -c est_db=los_db j.tsv
	has basis estimate
}

@test "a loss that is no number is trouble" {
	table j.tsv 'closure loss_db' 'a 0.1' 'a 0,1'
	stops "j.tsv:3: column 'loss_db': decimal comma: write a point: '0,1'" j.tsv
	refused "j.tsv:3: column 'loss_db': decimal comma: write a point: '0,1'" -o out.tsv j.tsv
	[ ! -e out.tsv ]
	table j.tsv 'closure x_db' 'a dark'
	stops "j.tsv:2: column 'x_db': no number: 'dark'" --value x_db j.tsv
}

@test "a value too large to be summed up with others is trouble" {
	table j.tsv 'closure x_db' 'a 1e8' 'a -1e8' 'b 0.1' 'a 100000000.000001'
	stops "j.tsv:5: column 'x_db': above 100000000: '100000000.000001'" --value x_db j.tsv
	table j.tsv 'closure x_db' 'a -9e12'
	stops "j.tsv:2: column 'x_db': below -100000000: '-9e12'" --value x_db j.tsv
}

@test "an instrument's mark for no reading is no loss, but any other column may hold it" {
	local name

	for name in loss_db est_db; do
		table j.tsv "closure $name" 'a 1000' 'a -1000'
		run --separate-stderr -0 "$exe" j.tsv
		table j.tsv "closure $name" 'a 0.1' 'a -9999'
		stops "j.tsv:3: column '$name': below -1000: '-9999'" j.tsv
		run --separate-stderr -0 "$exe" --value "$name" j.tsv
		table j.tsv "closure $name" 'a 0.1' 'a 1000.000001'
		stops "j.tsv:3: column '$name': above 1000: '1000.000001'" j.tsv
	done
	table j.tsv 'closure loss_ab_db loss_ba_db' 'a 0.1 0.2' 'a 0.1 9999'
	stops "j.tsv:3: column 'loss_ba_db': above 1000: '9999'" j.tsv
}

# --- what counts ---------------------------------------------------------------------------------

@test "an attempt that does not stand counts nowhere" {
	table j.tsv 'joint closure tray made_at stands loss_db' \
		'J-1 a 9 2020-01-01 no 7' 'J-1 a 1 2026-03-11 yes 0.01' 'J-2 a 1 2026-03-11 . 0.03' \
		'J-3 b 1 2026-03-11 no 0.01'
	gives 0 j.tsv
	says "closure	$made" "a	2	2	0	0	two-way	0.020000	0.014142	0.020000	0.029000	0.030000	J-2	1	2026-03-11	2026-03-11	pass"
}

@test "stands is yes, no or empty" {
	table j.tsv 'closure stands loss_db' 'a yes 0.1' 'a maybe 0.1'
	stops "j.tsv:3: column 'stands': none of: yes no: 'maybe'" j.tsv
}

@test "a faulty field of an attempt that does not stand is not read" {
	table j.tsv 'closure stands loss_db made_at' 'a no dark never' 'a yes 0.1 2026-03-11'
	gives 0 j.tsv
	has joints 1
}

# --- limits --------------------------------------------------------------------------------------

@test "a joint exactly at its limit has passed, a millionth above it has failed" {
	table j.tsv 'closure loss_db' 'a 0.1' 'b 0.1000004' 'c 0.1000005' 'd 0.100001'
	gives 0 j.tsv
	has verdict fail fail fail fail # on average above 0.05
	has failed 0 0 1 1
}

@test "each kind has its limit, no kind is fusion" {
	table j.tsv 'closure kind loss_db' 'a fusion 0.2' 'b mechanical 0.2' 'c connector 0.5' \
		'd . 0.2' 'e mechanical 0.31' 'f connector 0.76' 'g glue 0.01'
	gives 0 j.tsv
	has failed 1 0 0 1 1 1 0
	has unknown 0 0 0 0 0 0 1
	has verdict fail pass pass fail fail fail unknown
}

@test "a ribbon on either side is a ribbon joint" {
	table j.tsv 'closure ribbon_a ribbon_b loss_db' 'a . . 0.15' 'a . . 0.01' 'b R1 . 0.15' \
		'b . R1 0.01' 'c . . 0.15' 'c R1 R1 0.15'
	gives 0 j.tsv
	has failed 1 0 1
	has verdict fail pass fail
	table j.tsv 'closure ribbon_b loss_db' 'a R1 0.15' 'a R1 0.05'
	gives 0 j.tsv
	has verdict pass
}

@test "the mean of each kind's joints has a limit of its own" {
	# single fibres 0.05, ribbons 0.10; both exactly there, then one millionth above
	table j.tsv 'closure kind ribbon_a loss_db' 'a fusion . 0.04' 'a fusion . 0.06' \
		'a fusion R1 0.12' 'a fusion R1 0.08' 'a mechanical . 0.29' \
		'b fusion . 0.04' 'b fusion . 0.060001' 'b fusion R1 0.01' \
		'c fusion R1 0.1' 'c fusion R1 0.100001'
	gives 0 j.tsv
	has failed 0 0 0
	has verdict pass fail fail
}

@test "a failed joint goes before an unknown one, and so does a mean" {
	table j.tsv 'closure loss_db' 'a .' 'a 0.2' 'b 0.09' 'b .' 'c .' 'c 0.01'
	gives 0 j.tsv
	has verdict fail fail unknown
	has unknown 1 1 1
}

@test "--limit is for every kind, known or not, and limits no mean" {
	table j.tsv 'closure kind loss_db' 'a fusion 0.15' 'a glue 0.15' 'a connector 0.15' 'b . 0.150001'
	gives 0 --limit 0.15 j.tsv
	has passed 3 0
	has verdict pass fail
	refused "--limit: outside 0 to 1000: '-1'" --limit -1 j.tsv
	refused "--limit and --limits: give one of them" --limit 1 --limits j.tsv j.tsv
}

@test "--limits replaces the built-in set" {
	table limits.tsv 'kind ribbon each_db mean_db' 'glue . 0.5 .' 'fusion yes . 0.02' 'fusion no 0.01 .'
	table j.tsv 'closure kind ribbon_a loss_db' 'a glue . 0.5' 'a glue R 0.5' 'b fusion R 0.01' \
		'c fusion R 0.03' 'd fusion . 0.011' 'e mechanical . 0.01'
	gives 0 --limits limits.tsv j.tsv
	has passed 2 0 0 0 0
	has unknown 0 1 1 0 1
	has verdict pass unknown fail fail unknown
	table limits.tsv 'kind ribbon each_db mean_db' 'glue maybe 0.5 .'
	refused "limits.tsv:2: column 'ribbon': none of: no yes: 'maybe'" --limits limits.tsv j.tsv
	table limits.tsv 'kind ribbon each_db mean_db' 'glue . 0.5 .' 'glue . 0.6 .'
	refused "limits.tsv:3: column 'kind': a second row with this key: 'glue'" --limits limits.tsv j.tsv
	table limits.tsv 'kind ribbon each_db mean_db' 'glue . -0.5 .'
	refused "limits.tsv:2: column 'each_db': outside 0 to 1000: '-0.5'" --limits limits.tsv j.tsv
}

@test "--print-limits prints what --limits reads" {
	gives 0 --print-limits
	echo "$output" >limits.tsv
	gives 0 "$samples/night1.tsv" "$BATS_TEST_DIRNAME/night/larkrope.tsv"
	echo "$output" >built-in
	gives 0 --limits limits.tsv "$samples/night1.tsv" "$BATS_TEST_DIRNAME/night/larkrope.tsv"
	diff -u built-in - <<<"$output"
}

# --- groups --------------------------------------------------------------------------------------

@test "--by groups by any columns" {
	table j.tsv 'closure jointer shift loss_db' 'a Irrick 1 0.01' 'b Tamsel 1 0.02' \
		'c Irrick 2 0.03' 'd Irrick 1 0.03'
	gives 0 --by jointer j.tsv
	[ "${lines[0]}" = "jointer	$made" ]
	has jointer Irrick Tamsel
	has joints 3 1
	gives 0 --by shift,jointer j.tsv
	[ "${lines[0]}" = "shift	jointer	$made" ]
	has shift 1 1 2
	has jointer Irrick Tamsel Irrick
	has joints 2 1 1
}

@test "columns side by side are not one word" {
	table j.tsv 'x y loss_db' 'ab c 0.01' 'a bc 0.01' 'abc . 0.01' '. abc 0.01'
	gives 0 --by x,y j.tsv
	has joints 1 1 1 1
}

@test "--by names columns as the files do, -c renames the closure's" {
	table j.tsv 'box loss_db' 'a 0.01'
	refused "j.tsv:1: no column 'closure': there are 'box' 'loss_db'" j.tsv
	gives 0 -c closure=box j.tsv
	[ "${lines[0]}" = "closure	$made" ]
	refused "j.tsv:1: no column 'closure': there are 'box' 'loss_db'" -c closure=box --by closure j.tsv
	gives 0 --by box j.tsv
	[ "${lines[0]}" = "box	$made" ]
}

@test "--by refuses what would make a wrong table" {
	table j.tsv 'closure trays loss_db' 'a 1 0.01'
	refused "--by: the same column twice: 'closure'" --by closure,closure j.tsv
	refused "--by: is a column this program makes: 'trays'" --by closure,trays j.tsv
	refused "--by: more than 16 columns" --by a,b,c,d,e,f,g,h,i,j,k,l,m,n,o,p,q j.tsv
}

# --- quantiles -----------------------------------------------------------------------------------

@test "--no-quantiles leaves two columns empty and the others as they are" {
	gives 0 "$samples/night1.tsv"
	awk -F '\t' -v OFS='\t' 'NR > 1 { $9 = $10 = "" } { print }' <<<"$output" >want
	gives 0 --no-quantiles "$samples/night1.tsv"
	diff -u want - <<<"$output"
	has median_db '' '' '' '' ''
}

@test "quantiles are of each closure's own losses, in whatever order they come" {
	awk 'BEGIN {
		print "closure\tloss_db"
		for (i = 0; i < 30000; i++) {
			x = i * 7919 % 10000
			print (x % 3 == 0 ? "three" : "other") "\t" x / 1000
		}
	}' >j.tsv
	gives 0 --limit 100 j.tsv
	# by sorting: multiples of 3 from 0 to 9999, and the others, three times each
	for name in three other; do
		want=$(awk -F '\t' -v name=$name '$1 == name { print $2 }' j.tsv | sort -n | awk '
			{ x[NR - 1] = $1 }
			function at(p) {
				h = (NR - 1) * p
				k = int(h + 1e-9)
				return sprintf("%.6f", x[k] + (h - k) * (x[k + 1] - x[k]))
			}
			END { print at(0.5) "\t" at(0.95) }')
		[ "$(awk -F '\t' -v OFS='\t' -v name=$name '$1 == name { print $9, $10 }' \
			<<<"$output")" = "$want" ]
	done
}

# --- joints, trays, times ------------------------------------------------------------------------

@test "of equally bad joints the first is named" {
	table j.tsv 'joint closure loss_db' 'J-1 a 0.01' 'J-22 a 0.03' 'J-3 a 0.03' 'J-4 b -0.5' '. b -0.4'
	gives 0 j.tsv
	has worst_joint J-22 ''
	has max_db 0.030000 -0.400000
}

@test "trays stand once each, numbers in their order, then the others" {
	table j.tsv 'closure tray loss_db' 'a 10 0' 'a 2 0' 'b 70 0' 'a B 0' 'a 10 0' 'a 64 0' 'a 63 0' \
		'a A2 0' 'a 0 0' 'a -1 0' 'a 02 0' 'a 64 0' 'a . 0' 'a 1.5 0' 'b 9 0' 'c . 0' 'd A10 0'
	gives 0 j.tsv
	has trays -1,0,02,2,10,63,64,1.5,A2,B 9,70 '' A10
}

@test "first and last by time, not by text, as they were written" {
	table j.tsv 'closure made_at loss_db' \
		'a 2026-03-12T00:30:00+02:00 0' 'a 2026-03-11T22:00:00Z 0' 'a 2026-03-11T23:00:00Z 0' \
		'a 2026-03-11T21:00:00-03:00 0' 'a . 0' 'b . 0' \
		'c 2026-03-11T22:00:00.5Z 0' 'c 2026-03-11T22:00:00.25Z 0' 'c 2026-03-11T22:00:00.75Z 0' \
		'd 2026-03-11 0' 'd 2026-03-11T00:00Z 0'
	gives 0 j.tsv
	has first_at 2026-03-11T22:00:00Z '' 2026-03-11T22:00:00.25Z 2026-03-11
	has last_at 2026-03-11T21:00:00-03:00 '' 2026-03-11T22:00:00.75Z 2026-03-11
}

@test "a date that does not exist is trouble" {
	table j.tsv 'closure made_at loss_db' 'a 2026-03-11 0' 'a 2026-03-32 0'
	stops "j.tsv:3: column 'made_at': no such day: '2026-03-32'" j.tsv
}

@test "columns named otherwise" {
	table j.tsv 'box id box_tray done_at kept db how loss_db' 'a J-1 1 2026-03-11 yes 0.2 mechanical 5'
	gives 0 -c closure=box -c joint=id -c tray=box_tray -c made_at=done_at -c stands=kept -c loss_db=db \
		-c kind=how j.tsv
	says "closure	$made" "a	1	1	0	0	two-way	0.200000		0.200000	0.200000	0.200000	J-1	1	2026-03-11	2026-03-11	pass"
}
