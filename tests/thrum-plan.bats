#!/usr/bin/env bats
# thrum-plan as a program: schedules into plans, what contradicts itself, what changed. thrum-plan/naive.py
# expands random schedules in its own way.

# shellcheck disable=SC2016 # awk has a $ of its own
# shellcheck source=tests/program.bash disable=SC2154 # bin, exe and samples come from there
load program

setup() {
	begin thrum-plan
	# a chain of four sites; the cable "long" is cut at B and at C
	table spans 'cable section site_a site_b fibres category' 'ab 1 A B 24 G.652.D' \
		'bc 1 B C 24 G.654.E' 'long 1 A B 48 G.652.D' 'long 2 B C 48 G.652.D' \
		'long 3 C D 48 G.652.D' 'pig 1 A A 12 G.657.A1'
	table sites 'site trays slots' 'A 6 12' 'B 2 12' 'C 2 6' 'D 1 12'
	head='closure cable_a fibres_a cable_b fibres_b'
}

# finds RULES ARGUMENT...: the rules of the findings, by blanks; the status fits
finds() {
	local rules=$1

	shift
	run --separate-stderr "$exe" --findings found "$@"
	[ "$status" -eq "$([ -z "$rules" ] && echo 0 || echo 1)" ] || { echo "status $status: $stderr"; false; }
	[ "$(tail -n +2 found | cut -f 5 | paste -sd ' ')" = "$rules" ] || { cat found; false; }
}

# --- what comes out ------------------------------------------------------------------------------

@test "a row is as many rows as it has fibres, counted as it is written" {
	table in "$head tray slot" 'B ab 1-3,24 bc 13,3-1 1 11'
	gives 0 --spans spans --sites sites in
	has joint B:ab:1 B:ab:2 B:ab:3 B:ab:24
	has tray 1 1 2 2
	has slot 11 12 1 2
	has fibre_a 1 2 3 24
	has fibre_b 13 3 2 1
	has tube_a blue blue blue orange
	has colour_a blue orange green aqua
	has tube_b orange blue blue blue
	has colour_b blue green orange blue
	has kind fusion fusion fusion fusion
	has state join join join join
}

@test "the sample schedule makes the sample plan" {
	gives 0 --spans "$samples/spans.tsv" --sites "$samples/sites.tsv" "$samples/schedule.tsv"
	[ "$output" = "$(cat "$samples/plan.tsv")" ]
}

@test "expected_db: the allowance, and the mismatch of both categories" {
	table in "$head kind" 'B ab 1 bc 1 fusion' 'B ab 2 bc 2 mechanical' 'B ab 3 long 3 fusion'
	# of 10.105 and 12.0 um at 1550 nm, by thrum-mfd
	run --separate-stderr -0 "$bin/thrum-mfd" -a G.652.D -b G.654.E --wavelength 1550
	want=$(cut -f 3 <<<"${lines[1]}")
	gives 0 --spans <(grep -v '^long	[13]' spans) in
	has expected_db "$(awk "BEGIN { printf \"%.3f\", 0.05 + $want }")" \
		"$(awk "BEGIN { printf \"%.3f\", 0.15 + $want }")" 0.050
	# where one is not known
	gives 0 in
	[[ $output != *expected_db* ]]
	sed 's/G.654.E/OM4/' spans | grep -v '^long	[13]' >other
	gives 0 --spans other in
	has expected_db '' '' 0.050
}

@test "limit_db stands in the plan only if the schedule has it" {
	table in "$head limit_db" 'B ab 1 bc 1 0.15' 'B ab 2 bc 2 .' 'B ab 3 bc 3 0.0805'
	gives 0 in
	has limit_db 0.150 '' 0.080500
	table in "$head" 'B ab 1 bc 1'
	gives 0 in
	[[ $output != *limit_db* ]]
}

@test "a ribbon takes one slot, and each fibre has its position" {
	table in "$head tray ribbon_size" 'B ab 1-8 bc 9-16 1 4'
	gives 0 in
	has slot 1 1 1 1 2 2 2 2
	has ribbon_a 1 1 1 1 2 2 2 2
	has ribbon_b 3 3 3 3 4 4 4 4
	has position 1 2 3 4 1 2 3 4
	table in "$head tray ribbon_size" 'B ab 1-8 bc 8-15 1 4'
	finds 'ribbon-split ribbon-split ribbon-split ribbon-split ribbon-split ribbon-split' in
}

@test "fibres that are not joined: no joint, no slot, no kind" {
	table in 'closure cable_a fibres_a tray state' 'B ab 1,2 1 parked' 'B long 3 . express' \
		'B ab 4 . dead'
	gives 0 --sites sites in
	has joint '' '' '' ''
	has tray 1 1 '' ''
	has slot '' '' '' ''
	has state parked parked express dead
	has kind '' '' '' ''
}

@test "names count up from the row's first one, and stay when other rows come and go" {
	table in "$head joint" 'B ab 1-3 bc 1-3 X-098' 'B ab 4 bc 4 .'
	gives 0 in
	has joint X-098 X-099 X-100 B:ab:4
	table in "$head joint" 'B ab 9 bc 9 .' 'B ab 4 bc 4 .' 'B ab 1-3 bc 1-3 X-098'
	gives 0 in
	has joint B:ab:9 B:ab:4 X-098 X-099 X-100
	table in "$head joint" 'B ab 1-3 bc 1-3 X'
	finds joint-name in
	has joint X B:ab:2 B:ab:3
	table in "$head joint" 'B ab 1,2 bc 1,2 X-1' 'B ab 3 bc 3 X-2'
	finds joint-twice in
}

@test "where a cable goes both ways, the row says toward which site" {
	table in 'closure cable_a toward_a fibres_a cable_b toward_b fibres_b' 'B long A 1-2 long C 1-2'
	finds '' --spans spans in
	has joint B:long:1:A B:long:2:A
	has section_a 1 1
	has section_b 2 2
	table in "$head" 'B long 1-2 ab 1-2'
	finds toward-missing --spans spans in
	table in 'closure cable_a section_a fibres_a cable_b section_b fibres_b' 'B long 1 1 long 2 1'
	finds '' --spans spans in
}

# --- findings ------------------------------------------------------------------------------------

@test "unequal ranges: nothing is dropped" {
	table in "$head" 'B ab 1-3 bc 1-5'
	finds unequal in
	has fibre_a 1 2 3 '' ''
	has fibre_b 1 2 3 4 5
	has joint B:ab:1 B:ab:2 B:ab:3 B:bc:4 B:bc:5
	[ "$(sed 1d found)" = 'in	2	fibres_b		unequal	error	3 and 5		the two sides have not as many fibres' ]
	[ "$stderr" = 'thrum-plan: 5 fibres, 1 error' ]
	table in 'closure cable_a fibres_a' 'B ab 1-3'
	finds unequal in
	has fibre_a 1 2 3
}

@test "a fibre end used twice, in one range, in two rows, on both sides" {
	table in "$head" 'B ab 1-3,2 bc 1-4'
	finds 'joint-twice fibre-twice' in
	[[ $(cat found) = *'the fibre is used already in this row'* ]]
	table in "$head" 'B ab 1-3 bc 1-3' 'B ab 3-4 bc 5-6' 'C bc 1 long 1'
	finds 'joint-twice fibre-twice' in
	[[ $(cat found) = *'	3	'*'the fibre is used already by in:2' ]]
	table in "$head" 'B ab 1 ab 1'
	finds fibre-twice in
	# the other end of the same fibre, beyond the site, is another end
	table in 'closure cable_a toward_a fibres_a cable_b toward_b fibres_b' 'B long A 1 long C 1' \
		'B long . 2 ab . 1'
	finds toward-missing --spans spans in
	table in 'closure cable_a fibres_a state' 'B ab 1 parked' 'B ab 1 dead'
	finds fibre-twice in
}

@test "a fibre that runs through has no end to be joined" {
	table in 'closure cable_a toward_a fibres_a cable_b fibres_b state' 'B long . 1-4 . . express' \
		'B long A 4 ab 4 join'
	finds express-joined --spans spans in
	table in 'closure cable_a toward_a fibres_a cable_b fibres_b state' 'B long A 4 ab 4 join' \
		'B long . 1-4 . . express' 'B long . 4 . . express'
	finds 'express-joined express-joined fibre-twice' --spans spans in
	table in "$head state" 'B long 1 ab 1 express'
	finds side-b in
}

@test "fibres beyond the cable, cables that do not come here, sites that are not there" {
	table in "$head" 'B ab 20-25 bc 1-6'
	finds fibre-beyond --spans spans in
	[[ $(sed 1d found) = *'	25		the cable has 24 fibres' ]]
	table in "$head" 'C ab 1 bc 1'
	finds not-met --spans spans in
	table in 'closure cable_a toward_a fibres_a cable_b fibres_b' 'B long D 1 ab 1'
	finds not-met --spans spans in
	table in "$head" 'B ab 1 cb 1'
	finds cable-unknown --spans spans in
	table in "$head" 'X ab 1 bc 1'
	finds 'not-met not-met site-unknown' --spans spans --sites sites in
}

@test "a tray or a closure too full, a slot taken twice" {
	table in "$head tray" 'B ab 1-24 bc 1-24 1'
	finds '' --sites sites in
	table in "$head tray" 'B ab 1-24 bc 1-24 2'
	finds closure-full --sites sites in
	table in "$head tray tray_slots" 'C ab 1-6 bc 1-6 1 12'
	finds tray-full --sites sites in
	table in "$head tray slot" 'B ab 1 bc 1 1 13'
	finds tray-full --sites sites in
	table in "$head tray" 'B ab 1-14 bc 1-14 left'
	finds tray-full --sites sites in
	has tray left left left left left left left left left left left left left left
	table in "$head tray slot" 'B ab 1-3 bc 1-3 1 1' 'B ab 4 bc 4 1 3'
	finds slot-twice --sites sites in
}

@test "a colour that the order does not have is said, and the fibre comes out" {
	table in "$head" 'B ab 1-13 bc 1-13'
	finds 'colour-unknown colour-unknown' --fibre-order abnt --tube-size 16 in
	[ "${#lines[@]}" -eq 14 ]
}

@test "random schedules: plan and rules are those of a naive expansion" {
	for seed in $(seq 40); do
		echo "seed $seed"
		mkdir -p naive
		python3 "$BATS_TEST_DIRNAME/thrum-plan/naive.py" "$seed" naive
		run "$exe" --spans naive/spans --sites naive/sites --findings found -o got naive/schedule
		[ "$status" -eq "$([ -s naive/rules ] && echo 1 || echo 0)" ]
		diff naive/plan got
		tail -n +2 found | awk -F '\t' '{ print $2 " " $5 }' | sort | diff naive/rules -
	done
}

@test "joints are counted by all the digits of the first one's name" {
	table in "$head joint" 'B ab 1-3 bc 1-3 J-99999999999999999998' 'B ab 4-5 bc 4-5 X-099' 'B ab 6-7 bc 6-7 1-9'
	gives 0 in
	has joint J-99999999999999999998 J-99999999999999999999 J-100000000000000000000 X-099 X-100 1-9 1-10
}

# --- what changed --------------------------------------------------------------------------------

changes='change	joint	closure	cable_a	fibre_a	toward_a	column	was	now'

@test "--was: nothing, what came, what went, what is another" {
	table in "$head tray joint" 'B ab 1-3 bc 1-3 1 X-1'
	"$exe" in >old
	gives 0 --was old in
	says "$changes"
	table in "$head tray joint" 'B ab 1-2 bc 2-1 1 X-1' 'B ab 4 bc 4 2 X-4'
	gives 0 --was old in
	says "$changes" \
		'changed	X-1	B	ab	1		fibre_b	1	2' \
		'changed	X-1	B	ab	1		colour_b	blue	orange' \
		'changed	X-2	B	ab	2		fibre_b	2	1' \
		'changed	X-2	B	ab	2		colour_b	orange	blue' \
		'added	X-4	B	ab	4				' \
		'removed	X-3	B	ab	3				'
}

@test "--was: columns that one plan lacks are not compared; rows of one fibre go by their order" {
	table in "$head" 'B ab 1-2 bc 1-2'
	"$exe" in | cut -f 1-9 >old
	gives 0 --was old in
	says "$changes"
	table in "$head" 'B ab 1,1 bc 1-2'
	run --separate-stderr -1 "$exe" in
	echo "$output" >old
	run --separate-stderr -1 "$exe" --was old in
	says "$changes"
	table in "$head" 'B ab 1,1,1 bc 1-3'
	run --separate-stderr -1 "$exe" --was old in
	says "$changes" 'added	B:ab:1	B	ab	1				'
}

@test "--was refuses a table that is no plan" {
	table in "$head" 'B ab 1 bc 1'
	refused "in:1: no column 'fibre_a': is it 'fibres_a'?" --was in in
	cp "$samples/night1.tsv" joints
	run --separate-stderr -2 "$exe" --was joints in
	[[ $stderr = "thrum-plan: joints:1: no column 'state'"* ]]
}

# --- what is refused -----------------------------------------------------------------------------

@test "what is no schedule is trouble" {
	table in "$head" 'B ab 1- bc 1'
	trouble "in:2: column 'fibres_a': no list of fibres, such as 1-24,37: '1-'" in
	table in "$head" 'B ab . bc .'
	trouble "in:2: column 'fibres_a': no fibres: ''" in
	table in "$head" '. ab 1 bc 1'
	trouble "in:2: column 'closure': empty: ''" in
	table in "$head" 'B ab 1 . 1'
	trouble "in:2: column 'cable_b': empty, and there are fibres: ''" in
	table in "$head state" 'B ab 1 bc 1 spliced'
	trouble "in:2: column 'state': none of: join express parked dead: 'spliced'" in
	table in 'closure cable_a' 'B ab'
	refused "in:1: no column 'fibres_a': there are 'closure' 'cable_a'" in
	table bad 'cable tube_order' 'ab blue-first'
	table in "$head" 'B ab 1 bc 1'
	trouble "bad:2: column 'tube_order': no such colour order: 'blue-first': 'blue-first'" --spans bad in
	refused "no such colour order: 'tia'" --fibre-order tia in
}

@test "trouble leaves neither plan nor findings" {
	table in "$head" 'B ab 1 bc 1' 'B ab x bc 2'
	run --separate-stderr -2 "$exe" --findings found -o plan in
	[ ! -e found ]
	[ ! -e plan ]
}
