#!/usr/bin/env bats
# thrum-closure as a program: what it reads, what it hands out, what it refuses. What the figures
# ought to be is in published/closure.bats and unit/test_stat.c.

# shellcheck disable=SC2016 # awk has a $ of its own
# shellcheck source=tests/program.bash disable=SC2154 # bin, exe and samples come from there
load program

made='loss_nm	planned	joints	passed	failed	unknown	missing	amiss	surplus	basis	mean_db	sd_db	median_db'
made="$made	p95_db	max_db	worst_joint	trays	first_at	last_at	verdict	not_due"

setup() {
	begin thrum-closure
}

# judges ARGUMENT...: nothing on standard error, and 0 if every row passes, else 1
judges() {
	local want

	run --separate-stderr "$exe" "$@"
	[ -z "$stderr" ] || { echo "stderr: $stderr"; false; }
	want=$(awk -F '\t' 'NR == 1 { for (i = 1; i <= NF; i++) if ($i == "verdict") at = i; next }
		$at != "pass" { bad = 1 } END { print bad + 0 }' <<<"$output")
	[ "$status" -eq "$want" ] || { echo "status $status: $output"; false; }
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
	judges j.tsv
	# sd: the squares of the deviations from 0.05 are 9, 0, 36, 9 millionths x 100, by three
	says "closure	$made" "north			4	3	1	0				two-way	0.050000	0.042426	0.035000	0.101000	0.110000	J-3	1,2	2026-03-11T21:50:00Z	2026-03-11T23:30:00Z	fail	"
}

@test "one joint has no standard deviation, and is its own median" {
	table j.tsv 'closure loss_db' 'north 0.04'
	judges j.tsv
	says "closure	$made" "north			1	1	0	0				two-way	0.040000		0.040000	0.040000	0.040000					pass	"
}

@test "a header alone gives a header alone" {
	table j.tsv 'closure loss_db'
	judges j.tsv
	says "closure	$made"
	judges --no-quantiles --by closure j.tsv
	says "closure	$made"
}

@test "closures stand in the order of their first joint, an unnamed one among them" {
	table j.tsv 'closure loss_db' 'south 0.01' '. 0.02' 'north 0.03' 'south 0.03'
	judges j.tsv
	has closure south '' north
	has joints 2 1 1
	has mean_db 0.020000 0.020000 0.030000
}

@test "several files are one table, each needs only the columns read" {
	table a.tsv 'closure loss_db note' 'north 0.01 x' 'south 0.02 y'
	table b.tsv 'loss_db closure' '0.03 north' '0.05 east'
	judges a.tsv b.tsv
	has closure north south east
	has mean_db 0.020000 0.020000 0.050000
	judges - b.tsv <a.tsv
	has joints 2 1 1
	table c.tsv 'loss_db' '0.03'
	refused "c.tsv:1: no column 'closure': only one column" a.tsv c.tsv
}

@test "the sample nights: every standing joint is counted once" {
	nights=("$samples/night1.tsv" "$BATS_TEST_DIRNAME"/night/{quoinmere,larkrope,wrackle,peltrick}.tsv)
	judges "${nights[@]}"
	[ "${#lines[@]}" -eq 9 ]
	[ "$(awk -F '\t' 'NR > 1 { n += $4 } END { print n }' <<<"$output")" = \
	  "$(awk -F '\t' '$3 == "yes" { print $1 }' "${nights[@]}" | sort -u | wc -l)" ]
	[ "$(awk -F '\t' 'NR > 1 && $4 != $5 + $6 + $7' <<<"$output")" = "" ]
}

# --- what a joint loses --------------------------------------------------------------------------

@test "the loss from both ends goes before the estimate, the mean of two readings between them" {
	table j.tsv 'closure est_db loss_ab_db loss_ba_db loss_db' \
		'a 0.01 0.05 0.03 0.08' 'b 0.01 0.05 0.03 .' 'c 0.01 0.05 . .' 'd 0.01 . 0.03 .' \
		'e . 0.05 . .' 'f 0.01 -0.02 0.01 .' 'f 0.01 . . .'
	judges j.tsv
	has max_db 0.080000 0.040000 '' '' '' -0.005000
	has basis two-way two-way '' '' '' two-way
	has unknown 0 0 1 1 1 1
	has verdict fail pass unknown unknown unknown unknown # on average above 0.05
	judges --accept one-way j.tsv
	has max_db 0.080000 0.040000 0.050000 0.030000 0.050000 -0.005000
	has basis two-way two-way one-way one-way one-way two-way
	judges --accept estimate j.tsv
	has max_db 0.080000 0.040000 0.050000 0.030000 0.050000 0.010000
	has mean_db 0.080000 0.040000 0.050000 0.030000 0.050000 0.002500
	has basis two-way two-way one-way one-way one-way mixed
	has unknown 0 0 0 0 0 0
	refused "--accept: none of: two-way one-way estimate: 'all'" --accept all j.tsv
}

@test "the mean of two readings is exact, a half going away from zero" {
	table j.tsv 'closure loss_ab_db loss_ba_db' 'a 0.000001 0' 'b -0.000001 0' 'c 0.1 0.300001' \
		'd 1000 999.999997'
	judges j.tsv
	has max_db 0.000001 -0.000001 0.200001 999.999999
}

@test "--value judges another column and says nothing of its basis" {
	table j.tsv 'closure excess_db loss_db' 'a 0.02 0.5' 'a . 0.4' 'b 0.2 0.01'
	judges --value excess_db j.tsv
	has mean_db 0.020000 0.200000
	has basis '' ''
	has unknown 1 0
	has verdict unknown fail
	judges --value excess_db -c loss_db=closure j.tsv
	has mean_db 0.020000 0.200000
}

@test "--value needs no other column" {
	table j.tsv 'closure excess_db' 'a 0.02'
	judges --value excess_db j.tsv
	has mean_db 0.020000
}

@test "without a column to judge there is trouble" {
	table j.tsv 'closure joint' 'a J-1'
	refused "j.tsv:1: no column 'loss_db' or 'est_db' or 'loss_ab_db' or 'loss_ba_db': there are \
'closure' 'joint'" j.tsv
	table j.tsv 'closure los_db' 'a 0.1'
	refused "j.tsv:1: no column 'excess_db': there are 'closure' 'los_db'" --value excess_db j.tsv
	judges --accept estimate -c est_db=los_db j.tsv
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
		judges j.tsv
		for value in -9999 -999 -99.99 99 99.999 999.9 65.535 -32.768 32.767; do
			table j.tsv "closure $name" 'a 0.1' "a $value"
			stops "j.tsv:3: column '$name': a mark of no reading: leave the field empty: '$value'" j.tsv
			judges --value "$name" j.tsv
		done
		table j.tsv "closure $name" 'a 98.999' 'a 9.999' 'a -9.9' 'a 199.9' 'a 999.998' 'a 65.536' 'a 32.766'
		judges j.tsv
		table j.tsv "closure $name" 'a 0.1' 'a -1000.5'
		stops "j.tsv:3: column '$name': below -1000: '-1000.5'" j.tsv
		table j.tsv "closure $name" 'a 0.1' 'a 1000.000001'
		stops "j.tsv:3: column '$name': above 1000: '1000.000001'" j.tsv
	done
	table j.tsv 'closure loss_ab_db loss_ba_db' 'a 0.1 0.2' 'a 0.1 9999.5'
	stops "j.tsv:3: column 'loss_ba_db': above 1000: '9999.5'" j.tsv
}

# --- what counts ---------------------------------------------------------------------------------

@test "an attempt that does not stand counts nowhere" {
	table j.tsv 'joint closure tray made_at stands loss_db' \
		'J-1 a 9 2020-01-01 no 7' 'J-1 a 1 2026-03-11 yes 0.01' 'J-2 a 1 2026-03-11 . 0.03' \
		'J-3 b 1 2026-03-11 no 0.01'
	judges j.tsv
	says "closure	$made" "a			2	2	0	0				two-way	0.020000	0.014142	0.020000	0.029000	0.030000	J-2	1	2026-03-11	2026-03-11	pass	"
}

@test "stands is yes, no or empty" {
	table j.tsv 'closure stands loss_db' 'a yes 0.1' 'a maybe 0.1'
	stops "j.tsv:3: column 'stands': none of: yes no: 'maybe'" j.tsv
}

@test "a faulty field of an attempt that does not stand is not read" {
	table j.tsv 'closure stands loss_db made_at' 'a no dark never' 'a yes 0.1 2026-03-11'
	judges j.tsv
	has joints 1
}

# --- what a verdict rests on -----------------------------------------------------------------------

@test "read from one end only, with a good estimate beside it: unknown, not pass" {
	table j.tsv 'joint closure loss_nm loss_ab_db loss_ba_db loss_db est_db' \
		'J-1 a 1550 0.9 . . 0.03' 'J-2 b 1550 0.9 . 0.03 0.03' 'J-3 c 1550 0.02 0.04 0.03 0.9'
	judges j.tsv
	has verdict unknown unknown pass
	judges --accept one-way j.tsv
	has verdict fail fail pass
	judges --accept estimate j.tsv
	has verdict fail fail pass
}

@test "a loss below the mean of both readings is not believed" {
	table j.tsv 'closure loss_ab_db loss_ba_db loss_db' 'a 0.5 0.5 0.01' 'b 0.05 0.041 0.046' \
		'c 0.05 0.041 0.045'
	judges j.tsv
	has max_db 0.500000 0.046000 0.045000
	has verdict fail pass pass
}

@test "a joint's own accept says that less is enough" {
	table j.tsv 'joint closure loss_ab_db est_db accept' 'J-1 a 0.03 . one-way' 'J-2 b . 0.03 estimate' \
		'J-3 c . 0.03 one-way' 'J-4 d 0.03 . two-way'
	judges j.tsv
	has verdict pass pass unknown unknown
	table j.tsv 'joint closure loss_ab_db accept' 'J-1 a 0.03 yes'
	stops "j.tsv:2: column 'accept': none of: two-way one-way estimate: 'yes'" j.tsv
}

@test "a limit for its own basis goes before the two-way one" {
	table limits.tsv 'basis each_db' '. 0.1' 'one-way 0.3' 'estimate 0.02'
	table j.tsv 'joint closure loss_ab_db est_db' 'J-1 a 0.25 .' 'J-2 b . 0.03' 'J-3 c . 0.02'
	for accept in two-way one-way estimate; do
		judges --accept $accept --limits limits.tsv j.tsv
		has verdict pass fail pass
	done
}

@test "a failed proof test or protector fails the joint" {
	table j.tsv 'joint closure loss_db tension protector' 'J-1 a 0.01 pass pass' 'J-2 b 0.01 fail pass' \
		'J-3 c 0.01 pass fail' 'J-4 d 0.01 ok .'
	judges j.tsv
	has verdict pass fail fail unknown
	has failed 0 1 1 0
}

@test "--faults: a joint with an error has failed, with a warning not" {
	table j.tsv 'joint closure loss_db' 'J-1 a 0.01' 'J-2 b 0.01' 'J-3 c 0.01'
	table f.tsv 'joint rule level' 'J-1 x error' 'J-2 y warning' '. y warning'
	judges --faults f.tsv j.tsv
	has verdict fail pass pass
	has failed 1 0 0
	table f.tsv 'joint rule level' 'J-1 x error' '. shape error'
	run --separate-stderr -1 "$exe" --faults f.tsv j.tsv
	has verdict fail pass pass
	[ "$stderr" = 'thrum-closure: --faults: not counted: 1 error of no joint' ]
	table f.tsv 'joint rule level' 'J-1 x grave'
	refused "f.tsv:2: column 'level': none of: error warning: 'grave'" --faults f.tsv j.tsv
}

@test "one row a closure and wavelength; who was not read there is unknown there" {
	table j.tsv 'joint closure loss_nm loss_db' 'J-1 a 1550 0.02' 'J-1 a 1310 0.03' 'J-2 a 1550 0.04' \
		'J-3 b 1310 0.2' 'J-4 c . 0.02' 'J-5 d . 0.02' 'J-6 d 1550 0.02'
	judges j.tsv
	has closure a a b c d
	has loss_nm 1310 1550 1310 '' 1550
	has joints 2 2 1 1 2
	has unknown 1 0 0 0 1
	has verdict unknown pass fail pass unknown
	judges --wavelength 1550,1625 j.tsv
	has loss_nm 1550 1625 1550 1625 1550 1625 1550 1625
	has verdict pass unknown unknown unknown unknown unknown unknown unknown
}

@test "an estimate has no wavelength" {
	table j.tsv 'joint closure loss_nm loss_db est_db' 'J-1 a 1550 0.02 0.01' 'J-2 a . . 0.03'
	judges j.tsv
	has verdict unknown
	judges --accept estimate j.tsv
	has loss_nm 1550
	has basis mixed
	has verdict pass
	judges --accept estimate --wavelength 1310 j.tsv
	has max_db 0.030000
	has basis estimate
}

@test "a loss without its wavelength yields to rows with one" {
	table j.tsv 'joint attempt closure loss_nm loss_db' 'J-1 1 a . 0.5' 'J-1 1 a 1550 0.02'
	judges j.tsv
	has joints 1
	has loss_nm 1550
	has verdict pass
}

# --- nights --------------------------------------------------------------------------------------

@test "rows that differ in wavelength are one joint" {
	table j.tsv 'joint attempt stands closure loss_nm loss_db' 'J-1 1 no a 1310 0.4' 'J-1 2 yes a 1310 0.02' \
		'J-1 2 yes a 1550 0.04'
	judges j.tsv
	has joints 1 1
	has max_db 0.020000 0.040000
}

@test "a joint opened again another night counts once, as it stands now" {
	table n1 'joint attempt closure shift made_at loss_nm loss_db' \
		'J-1 1 a 2026-03-11 2026-03-11T22:00:00Z 1550 0.4' 'J-2 1 a 2026-03-11 2026-03-11T22:10:00Z 1550 0.02'
	table n2 'joint attempt closure shift made_at loss_nm loss_db' \
		'J-1 1 a 2026-03-12 2026-03-12T22:00:00Z 1550 0.03'
	for nights in 'n1 n2' 'n2 n1'; do
		# shellcheck disable=SC2086 # two files
		judges $nights
		has joints 2
		has failed 0
		has verdict pass
	done
	judges n1
	has verdict fail
	# without times the dates of the shifts decide, without these the order of the files
	cut -f 1-4,6- n1 >m1
	cut -f 1-4,6- n2 >m2
	judges m1 m2
	has verdict pass
	judges m2 m1
	has verdict pass
	cut -f 1-3,6- n1 >m1
	cut -f 1-3,6- n2 | sed 's/J-1	1/J-1	2/' >m2
	judges m1 m2
	has verdict pass
	judges m2 m1
	has verdict fail
}

@test "of two that stand in one night the latest counts; dates alone leave it to the order" {
	table j.tsv 'joint attempt closure made_at loss_db' 'J-1 2 a 2026-03-11T23:00:00Z 0.02' \
		'J-1 1 a 2026-03-11T22:00:00Z 0.4' 'J-2 1 b 2026-03-11T23:00:00Z 0.4' 'J-2 2 b 2026-03-11 0.02' \
		'J-2 3 b 2026-03-10 0.5'
	judges j.tsv
	has joints 1 1
	has verdict pass pass
	# a date, or a time without a zone, is in the zone of the other
	for rows in '2026-03-12 2026-03-12T09:00:00+10:00' '2026-03-12T08:00:00 2026-03-12T09:00:00+10:00' \
		'2026-03-11T23:00:00-10:00 2026-03-12T01:00:00' '2026-03-12T09:00:00+10:00 2026-03-12'; do
		table j.tsv 'joint attempt closure made_at loss_db' "J-1 1 a ${rows% *} 0.02" "J-1 2 a ${rows#* } 0.4"
		judges j.tsv
		has verdict fail
	done
}

@test "one attempt in two closures: neither passes" {
	table j.tsv 'joint attempt closure loss_nm loss_db' 'J-1 1 a 1310 0.02' 'J-1 1 b 1550 0.02' \
		'J-2 1 b 1550 0.02'
	judges j.tsv
	has verdict fail fail fail
	table j.tsv 'joint attempt closure loss_nm loss_db' 'J-1 1 b 1550 0.02' 'J-1 1 a 1310 0.02' \
		'J-2 1 a 1310 0.02' 'J-2 1 a 1550 0.02'
	judges j.tsv
	has closure b b a a
	has verdict fail fail fail fail
}

@test "a joint without a name is told by its fibres, else each row is one" {
	table j.tsv 'closure cable_a fibre_a cable_b fibre_b loss_nm loss_db' 'a x 1 y 1 1310 0.02' \
		'a x 1 y 1 1550 0.02' 'a x 2 y 2 1310 0.02' 'b . . y 2 1310 0.02' 'b . . y 2 1310 0.02'
	judges j.tsv
	has joints 2 2 2
	has unknown 0 1 0
}

@test "a joint that gains is unknown, and does not lower the mean" {
	table j.tsv 'joint closure loss_ab_db loss_ba_db loss_db est_db' 'A a -0.12 0.01 . .' 'B a . . 0.02 .' \
		'C b . . -0.051 0.02' 'D c -0.3 . . .' 'E d . . -0.05 .' 'F e . . . -0.06'
	judges --accept estimate j.tsv
	has passed 1 0 0 1 0
	has unknown 1 1 1 0 1
	has mean_db 0.020000 '' '' -0.050000 ''
	judges --value loss_db j.tsv
	has mean_db 0.020000 -0.051000 '' -0.050000 ''
}

@test "a later attempt that does not stand leaves nothing that stands: unknown" {
	for rows in 'A 1 yes . .|A 2 no . .' 'A 2 no . .|A 1 yes . .' 'A 3 no . .|A 2 yes . .|A 1 no . .' \
		'A 1 no . .|A 3 no . .|A 2 yes . .' 'A 3 no . .|A 1 no . .|A 2 yes . .' \
		'A 1 yes n 2026-03-11T22:00:00Z|A 2 no n 2026-03-11T22:09:00Z' \
		'A 1 no 2026-03-12 .|A 1 yes 2026-03-11 .' 'A . yes . 2026-03-11T22:00:00Z|A . no . 2026-03-12' \
		'. 2 no . .|. 1 yes . .'; do
		IFS='|' read -r -a row <<<"$rows"
		table j.tsv 'joint attempt stands shift made_at closure cable_a fibre_a cable_b fibre_b loss_db' \
			"${row[@]/%/ c k 1 m 1 0.02}"
		judges j.tsv
		has joints 1
		has passed 0
		has unknown 1
	done
	# the last one stands: without a shift the time tells it, as numbers may begin anew
	for rows in 'A 1 no . .|A 2 yes . .' 'A 2 yes . .|A 1 no . x' 'A 1 no . .' \
		'A 1 no . 2026-03-11T22:00:00Z|A 2 no . 2026-03-11T22:05:00Z|A 1 yes . 2026-03-12T22:00:00Z' \
		'A 1 yes 2026-03-12 .|A 2 no 2026-03-11 .' '. 2 yes . .|. 1 no . .'; do
		IFS='|' read -r -a row <<<"$rows"
		table j.tsv 'joint attempt stands shift made_at closure cable_a fibre_a cable_b fibre_b loss_db' \
			"${row[@]/%/ c k 1 m 1 0.02}" 'B 1 yes . . c k 2 m 2 0.02'
		gives 0 j.tsv
	done
}

# --- the plan ------------------------------------------------------------------------------------

# planned: a plan of two closures, three joints in one
planned() {
	table plan.tsv 'joint closure tray slot cable_a fibre_a cable_b fibre_b state night' \
		'J-1 a 1 1 x 1 y 1 join 1' 'J-2 a 1 2 x 2 y 2 . 1' 'J-3 a 1 3 x 3 y 3 join 2' \
		'. a . . x 4 y 4 express 1' '. a . . x 5 . . parked 1' '. a . . x 6 . . dead 1' \
		'J-4 b 1 1 x 1 z 1 join 1'
	table j.tsv 'joint closure tray slot cable_a fibre_a cable_b fibre_b loss_db' 'J-1 a 1 1 x 1 y 1 0.02' \
		'J-2 a 01 2 y 2 x 02 0.02' 'J-3 a 1 3 x 3 y 3 0.02' 'J-4 b 1 1 x 1 z 1 0.02'
}

@test "--plan: all there and as planned, sides exchanged or not: pass" {
	planned
	gives 0 --plan plan.tsv j.tsv
	has planned 3 1
	has missing 0 0
	has amiss 0 0
	has surplus 0 0
}

@test "--plan: what is missing makes its closure unknown, also a closure without any joint" {
	planned
	sed -i '/^J-2/d; /^J-4/d' j.tsv
	judges --plan plan.tsv j.tsv
	has closure a b
	has planned 3 1
	has joints 2 0
	has missing 1 1
	has unknown 0 0
	has verdict unknown unknown
}

@test "--only: the part of the plan that is due" {
	planned
	sed -i '/^J-3/d; /^J-4/d' j.tsv
	judges --plan plan.tsv --only night=1 --only closure=a j.tsv
	has closure a
	has planned 2
	has verdict pass
	judges --plan plan.tsv --only night=1,2 j.tsv
	has missing 1 1
	# what is planned for another night is not surplus
	planned
	judges --plan plan.tsv --only night=1 j.tsv
	has planned 2 1
	has not_due 1 0
	has joints 3 1
	has verdict pass pass
	refused "plan.tsv:1: no column 'nigt': is it 'night'?" --plan plan.tsv --only nigt=1 j.tsv
	refused '--only: is about a plan: give one with --plan' --only night=1 j.tsv
}

@test "--only: what no row of the plan has is trouble, not a plan turned off" {
	planned
	sed -i '/^J-4/d' j.tsv
	refused "--only: no row of the plan has closure 'B': is it 'b'?" --plan plan.tsv --only closure=B j.tsv
	refused "--only: no row of the plan has closure 'c'" --plan plan.tsv --only closure=a,c j.tsv
	refused "--only: no row of the plan has all of these" --plan plan.tsv --only night=2 --only closure=b j.tsv
	judges --plan plan.tsv --only state=parked j.tsv
	has planned 0
}

@test "--plan: other fibres, tray or slot than planned, or another closure" {
	local edit

	for edit in '1/y	1/y	9/' '1/a	1	1/a	2	1/' '1/a	1	1/a	1	7/'; do
		planned
		sed -i "/^J-1/s/${edit#1/}" j.tsv
		judges --plan plan.tsv j.tsv
		has amiss 1 0
		has surplus 0 0
		has verdict fail pass
	done
	planned
	sed -i '/^J-1/s/	a	/	b	/' j.tsv
	judges --plan plan.tsv j.tsv
	has closure b a
	has amiss 1 0
	has missing 0 1
	has verdict fail unknown
}

@test "--plan: joined though express, parked or dead" {
	local fibre

	for fibre in 4 5 6; do
		planned
		printf 'J-9\ta\t1\t9\tx\t%s\tw\t1\t0.02\n' $fibre >>j.tsv
		judges --plan plan.tsv j.tsv
		has amiss 1 0
		has surplus 0 0
		has verdict fail pass
	done
}

@test "--plan: a joint in no row of it" {
	planned
	printf 'J-9\ta\t1\t9\tx\t9\ty\t9\t0.02\n' >>j.tsv
	judges --plan plan.tsv j.tsv
	has surplus 1 0
	has verdict fail pass
}

@test "--plan: a joint without a name finds its own by closure and fibres" {
	planned
	sed -i 's/^J-[0-9]*//' j.tsv
	gives 0 --plan plan.tsv j.tsv
	has missing 0 0
}

@test "--plan: the ends of one cable are told apart by the sites they run to" {
	table plan.tsv 'joint closure cable_a fibre_a toward_a cable_b fibre_b toward_b state' \
		'J-1 a x 1 north x 1 south join' '. a x 2 north . . . parked'
	table j.tsv 'joint closure cable_a fibre_a toward_a cable_b fibre_b toward_b loss_db' \
		'J-1 a x 1 south x 1 north 0.02'
	gives 0 --plan plan.tsv j.tsv
	sed -i 's/south/north/' j.tsv
	judges --plan plan.tsv j.tsv
	has amiss 1
	table j.tsv 'joint closure cable_a fibre_a toward_a cable_b fibre_b toward_b loss_db' \
		'J-1 a x 1 north x 1 south 0.02' 'J-2 a x 2 south w 1 . 0.02'
	judges --plan plan.tsv j.tsv
	has surplus 1
	has amiss 0
}

@test "--plan: its limit goes before all others, its ribbons count" {
	table plan.tsv 'joint closure cable_a fibre_a cable_b fibre_b limit_db ribbon_a' 'J-1 a x 1 y 1 0.3 .' \
		'J-2 b x 1 z 1 0.02 .' 'J-3 c x 1 w 1 . R1'
	table j.tsv 'joint closure loss_db est_db' 'J-1 a 0.04 .' 'J-2 b 0.03 .' 'J-3 c 0.09 .' \
		'J-1 a . 0.01'
	judges --plan plan.tsv --limits <(printf 'each_db\n0.01\n') j.tsv
	has verdict pass fail fail
	judges --plan plan.tsv j.tsv
	has verdict pass fail pass # 0.09 is above the mean of single fibres
	table j.tsv 'joint closure est_db' 'J-1 a 0.04' 'J-2 b 0.01'
	judges --plan plan.tsv j.tsv
	has verdict unknown unknown unknown
	judges --accept estimate --plan plan.tsv j.tsv
	has verdict pass pass unknown
}

@test "--plan: a name twice, a state that is none, --by" {
	planned
	printf 'J-1\ta\t1\t1\tx\t1\ty\t1\tjoin\t1\n' >>plan.tsv
	refused "plan.tsv:9: column 'joint': a second row of this joint: 'J-1'" --plan plan.tsv j.tsv
	table plan.tsv 'joint closure state' 'J-1 a done'
	refused "plan.tsv:2: column 'state': none of: join express parked dead: 'done'" --plan plan.tsv j.tsv
	planned
	refused '--plan: counts by closure, not with --by' --plan plan.tsv --by closure j.tsv
}

# --- limits --------------------------------------------------------------------------------------

@test "a joint exactly at its limit has passed, a millionth above it has failed" {
	table j.tsv 'closure loss_db' 'a 0.1' 'b 0.1000004' 'c 0.1000005' 'd 0.100001'
	judges j.tsv
	has verdict fail fail fail fail # on average above 0.05
	has failed 0 0 1 1
}

@test "each kind has its limit, no kind is fusion" {
	table j.tsv 'closure kind loss_db' 'a fusion 0.2' 'b mechanical 0.2' 'c connector 0.5' \
		'd . 0.2' 'e mechanical 0.31' 'f connector 0.76' 'g glue 0.01'
	judges j.tsv
	has failed 1 0 0 1 1 1 0
	has unknown 0 0 0 0 0 0 1
	has verdict fail pass pass fail fail fail unknown
}

@test "a ribbon on either side is a ribbon joint" {
	table j.tsv 'closure ribbon_a ribbon_b loss_db' 'a . . 0.15' 'a . . 0.01' 'b R1 . 0.15' \
		'b . R1 0.01' 'c . . 0.15' 'c R1 R1 0.15'
	judges j.tsv
	has failed 1 0 1
	has verdict fail pass fail
	table j.tsv 'closure ribbon_b loss_db' 'a R1 0.15' 'a R1 0.05'
	judges j.tsv
	has verdict pass
}

@test "the mean of each kind's joints has a limit of its own" {
	# single fibres 0.05, ribbons 0.10; both exactly there, then one millionth above
	table j.tsv 'closure kind ribbon_a loss_db' 'a fusion . 0.04' 'a fusion . 0.06' \
		'a fusion R1 0.12' 'a fusion R1 0.08' 'a mechanical . 0.29' \
		'b fusion . 0.04' 'b fusion . 0.060001' 'b fusion R1 0.01' \
		'c fusion R1 0.1' 'c fusion R1 0.100001'
	judges j.tsv
	has failed 0 0 0
	has verdict pass fail fail
}

@test "a failed joint goes before an unknown one, and so does a mean" {
	table j.tsv 'closure loss_db' 'a .' 'a 0.2' 'b 0.09' 'b 0.09' 'b .' 'c .' 'c 0.01'
	judges j.tsv
	has verdict fail fail unknown
	has unknown 1 1 1
	# but not where the unknown one can bring it down: 0.09 and nothing are 0.045 each
	table j.tsv 'closure loss_db' 'b 0.09' 'b .'
	judges j.tsv
	has verdict unknown
}

@test "--limit is for every kind, known or not, and limits no mean" {
	table j.tsv 'closure kind loss_db' 'a fusion 0.15' 'a glue 0.15' 'a connector 0.15' 'b . 0.150001'
	judges --limit 0.15 j.tsv
	has passed 3 0
	has verdict pass fail
	refused "--limit: outside 0 to 1000: '-1'" --limit -1 j.tsv
	refused "--limit and --limits: give one of them" --limit 1 --limits j.tsv j.tsv
}

@test "--limits replaces the built-in set" {
	table limits.tsv 'kind ribbon each_db mean_db' 'glue . 0.5 .' 'fusion yes . 0.02' 'fusion no 0.01 .'
	table j.tsv 'closure kind ribbon_a loss_db' 'a glue . 0.5' 'a glue R 0.5' 'b fusion R 0.01' \
		'c fusion R 0.03' 'd fusion . 0.011' 'e mechanical . 0.01'
	judges --limits limits.tsv j.tsv
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
	judges "$samples/night1.tsv" "$BATS_TEST_DIRNAME/night/larkrope.tsv"
	echo "$output" >built-in
	judges --limits limits.tsv "$samples/night1.tsv" "$BATS_TEST_DIRNAME/night/larkrope.tsv"
	diff -u built-in - <<<"$output"
}

@test "of the limits that fit, the most specific one holds" {
	table limits.tsv 'closure kind loss_nm each_db' '. . . 0.01' '. fusion . 0.02' 'b . . 0.03' \
		'. fusion 1550 0.05' 'b fusion . 0.06' 'b . 1310 0.04'
	table j.tsv 'joint closure kind loss_nm loss_db' 'J-1 a glue 1310 0.01' 'J-2 c fusion 1310 0.02' \
		'J-3 b glue 1550 0.03' 'J-4 d fusion 1550 0.05' 'J-5 b2 fusion 1550 0.05'
	judges --limits limits.tsv j.tsv
	has verdict pass pass pass pass pass
	# of b, fusion, 1310 three rows of two keys fit: the closure goes first, then the kind
	table j.tsv 'joint closure kind loss_nm loss_db' 'J-6 b fusion 1310 0.06'
	judges --limits limits.tsv j.tsv
	has verdict pass
	sed -i 's/0.06$/0.060001/' j.tsv
	judges --limits limits.tsv j.tsv
	has verdict fail
}

# --- groups --------------------------------------------------------------------------------------

@test "--by groups by any columns" {
	table j.tsv 'closure jointer shift loss_db' 'a Irrick 1 0.01' 'b Tamsel 1 0.02' \
		'c Irrick 2 0.03' 'd Irrick 1 0.03'
	judges --by jointer j.tsv
	[ "${lines[0]}" = "jointer	$made" ]
	has jointer Irrick Tamsel
	has joints 3 1
	judges --by shift,jointer j.tsv
	[ "${lines[0]}" = "shift	jointer	$made" ]
	has shift 1 1 2
	has jointer Irrick Tamsel Irrick
	has joints 2 1 1
}

@test "columns side by side are not one word" {
	table j.tsv 'x y loss_db' 'ab c 0.01' 'a bc 0.01' 'abc . 0.01' '. abc 0.01'
	judges --by x,y j.tsv
	has joints 1 1 1 1
}

@test "--by names columns as the files do, -c renames the closure's" {
	table j.tsv 'box loss_db' 'a 0.01'
	refused "j.tsv:1: no column 'closure': there are 'box' 'loss_db'" j.tsv
	judges -c closure=box j.tsv
	[ "${lines[0]}" = "closure	$made" ]
	refused "j.tsv:1: no column 'closure': there are 'box' 'loss_db'" -c closure=box --by closure j.tsv
	judges --by box j.tsv
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
	judges "$samples/night1.tsv"
	awk -F '\t' -v OFS='\t' 'NR > 1 { $14 = $15 = "" } { print }' <<<"$output" >want
	judges --no-quantiles "$samples/night1.tsv"
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
	judges --limit 100 j.tsv
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
		[ "$(awk -F '\t' -v OFS='\t' -v name=$name '$1 == name { print $14, $15 }' \
			<<<"$output")" = "$want" ]
	done
}

# --- joints, trays, times ------------------------------------------------------------------------

@test "of equally bad joints the first is named" {
	table j.tsv 'joint closure loss_db' 'J-1 a 0.01' 'J-22 a 0.03' 'J-3 a 0.03' 'J-4 b -0.05' '. b -0.04'
	judges j.tsv
	has worst_joint J-22 ''
	has max_db 0.030000 -0.040000
}

@test "trays stand once each, numbers in their order, then the others" {
	table j.tsv 'closure tray loss_db' 'a 10 0' 'a 2 0' 'b 70 0' 'a B 0' 'a 10 0' 'a 64 0' 'a 63 0' \
		'a A2 0' 'a 0 0' 'a -1 0' 'a 02 0' 'a 64 0' 'a . 0' 'a 1.5 0' 'b 9 0' 'c . 0' 'd A10 0'
	judges j.tsv
	has trays -1,0,02,2,10,63,64,1.5,A2,B 9,70 '' A10
}

@test "first and last by time, not by text, as they were written" {
	table j.tsv 'closure made_at loss_db' \
		'a 2026-03-12T00:30:00+02:00 0' 'a 2026-03-11T22:00:00Z 0' 'a 2026-03-11T23:00:00Z 0' \
		'a 2026-03-11T21:00:00-03:00 0' 'a . 0' 'b . 0' \
		'c 2026-03-11T22:00:00.5Z 0' 'c 2026-03-11T22:00:00.25Z 0' 'c 2026-03-11T22:00:00.75Z 0' \
		'd 2026-03-11 0' 'd 2026-03-11T00:00Z 0'
	judges j.tsv
	has first_at 2026-03-11T22:00:00Z '' 2026-03-11T22:00:00.25Z 2026-03-11
	has last_at 2026-03-11T21:00:00-03:00 '' 2026-03-11T22:00:00.75Z 2026-03-11
}

@test "a date that does not exist is trouble" {
	table j.tsv 'closure made_at loss_db' 'a 2026-03-11 0' 'a 2026-03-32 0'
	stops "j.tsv:3: column 'made_at': no such day: '2026-03-32'" j.tsv
}

@test "columns named otherwise" {
	table j.tsv 'box id box_tray done_at kept db how loss_db' 'a J-1 1 2026-03-11 yes 0.2 mechanical 5'
	judges -c closure=box -c joint=id -c tray=box_tray -c made_at=done_at -c stands=kept -c loss_db=db \
		-c kind=how j.tsv
	says "closure	$made" "a			1	1	0	0				two-way	0.200000		0.200000	0.200000	0.200000	J-1	1	2026-03-11	2026-03-11	pass	"
}

@test "a shared loss is held against the sum of all limits, and is in no figure" {
	# a pigtail's joint and its connector 0.10 + 0.75, two joints 0.20
	table j.tsv 'closure joint loss_db loss_with' 'a J1 0.85 a:7' 'b J2 0.8500001 b:7' 'c J3 0.20 J4' \
		'c J4 0.20 J3' 'd J5 0.200001 J6' 'd J6 0.200001 J5' 'e J7 0.86 e:7,e:8' 'e J8 0.05 .'
	judges j.tsv
	has passed 1 1 2 0 2
	has failed 0 0 0 2 0
	has basis merged merged merged merged mixed
	has max_db '' '' '' '' 0.050000
	sed -i 's/0.8500001/0.850001/' j.tsv
	judges j.tsv
	has failed 0 1 0 2 0
	# the plan says of the other that it is mechanical, and limits one of them
	table plan.tsv 'joint closure kind limit_db' 'J1 a fusion .' 'J3 c fusion .' 'J4 c mechanical .' 'J5 d . .' 'J6 d . 0.4'
	sed -i 's/0\.20\t/0.4\t/' j.tsv
	judges --plan plan.tsv j.tsv
	[ "$("$exe" --plan plan.tsv j.tsv | "$bin/thrum-show" --tsv --columns closure,passed,failed -)" = $'closure\tpassed\tfailed
a\t1\t0\nb\t0\t1\nc\t2\t0\nd\t2\t0\ne\t2\t0' ]
}

# --- joints in several tables -----------------------------------------------------------------------

@test "random joints in random tables: merged byte for byte as in one run; a joint in two is told" {
	run -0 python3 "$BATS_TEST_DIRNAME/closure/merge.py" "$bin" 1 25
	[ "$output" = "25 trials" ]
	echo "# trials 25" >&3
}

@test "what a part cannot be" {
	table j.tsv 'closure joint loss_db' 'a J-1 0.05'
	refused "--partial: not with --merge" --partial --merge j.tsv
	refused "--partial: not with --wavelength, which is for --merge" --partial --wavelength 1550 j.tsv
	refused "--merge: not with --faults, which is for --partial" --merge --faults j.tsv j.tsv
	gives 0 --partial -o p j.tsv
	gives 0 --partial --by tray -o t <(sed '1s/$/\ttray/; 2,$s/$/\t1/' j.tsv)
	refused "t: made with --by: give --merge the same columns" --merge t
	cp p q
	stops "q:5: column 'part_name': this joint is in a table before as well: 'J-1'" --merge p q
	stops "p:6: column 'part_name': made with other options, or another plan: 'value=none:accept=two-way:plan=0:closures=0'" --merge --accept estimate p
	sed '$d' p >q
	stops "q: cut: the last row is no 'end'" --merge q
	stops "q: cut: the last row is no 'end'" --merge q p
	head -n 1 p >q
	stops "one of the tables: cut: the last row is no 'end'" --merge p q
	sed 4d p >q
	stops "q:5: column 'joints': rows are missing: there were so many: '4'" --merge q
	awk -F '\t' 'NR != 2' p >q
	stops "q:2: column 'part': not behind its group: 'losses'" --merge q
}

@test "with a plan, a closure not read at a wavelength that others were read at is unknown there" {
	table plan 'joint closure' 'A A' 'B B'
	table joints 'joint closure loss_nm loss_db' 'A A 1310 0.03' 'A A 1550 0.03' 'B B 1310 0.03'
	gives 1 --plan plan joints
	has closure A A B B
	has loss_nm 1310 1550 1310 1550
	has verdict pass pass pass unknown
	gives 0 --plan plan --wavelength 1310 joints
	gives 0 joints
	has loss_nm 1310 1550 1310
}
