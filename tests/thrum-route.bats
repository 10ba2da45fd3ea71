#!/usr/bin/env bats
# thrum-route: what lies along each link, what is wrong, and because of what.

# shellcheck disable=SC2154 # program.bash sets exe and bin
load program

setup() {
	begin thrum-route
	common=$BATS_TEST_DIRNAME/common
	cp "$common/thrum-route.tsv" joints
	cp "$common/thrum-route.spans.tsv" spans
	cp "$common/thrum-route.ports.tsv" ports
	table plan 'joint closure cable_a fibre_a cable_b fibre_b state' \
		'J-1 C-1 pig-1 1 cable-1 1 join' 'J-2 C-2 cable-1 1 cable-2 1 join' \
		'J-3 C-3 cable-2 1 pig-3 1 join' 'J-4 C-1 pig-1 2 cable-1 2 join' \
		'J-5 C-2 cable-1 2 cable-2 2 join' 'J-6 C-3 cable-2 2 pig-3 2 join'
	all=(--spans spans --ports ports --findings findings)
}

# route STATUS ARGUMENT...: runs it; what it found goes to standard output
route() {
	local want=$1

	shift
	run --separate-stderr "-$want" "$exe" "${all[@]}" -o elements "$@"
	[ -s findings ] && output=$(cat findings)
}

# change FILE SED: edits a table
change() {
	sed "$2" "$1" >changed
	! cmp -s changed "$1"
	mv changed "$1"
}

@test "random networks are recovered exactly; broken in one way, one cause is found" {
	run -0 python3 "$BATS_TEST_DIRNAME/route/property.py" "$bin" 20261126 6
	[[ $output == "6 networks recovered, "[1-6]" with cascaded splitters, "[1-6]" with multiplexers; broken and found: apart "* ]]
}

@test "a whole network: no finding, links from port a to port b" {
	route 0 --plan plan joints
	[ -z "$stderr" ]
	[ "$(wc -l <findings)" -eq 1 ]
	run -0 cut -f 2-4,6,8-10,13-14 elements
	says "$(printf 'seq\tkm\tkind\tref\tsection\treversed\tlength_km\twavelength_nm\tloss_db')" \
		"$(printf '1\t0.000000\tconnector\tC-1:01\t\t\t\t\t')" \
		"$(printf '2\t0.000000\tfibre\tpig-1:1\t1\tno\t0.002000\t\t')" \
		"$(printf '3\t0.002000\tfusion\tJ-1\t\tno\t\t1550\t0.040000')" \
		"$(printf '4\t0.002000\tfibre\tcable-1:1\t1\tno\t3.812000\t1550\t0.762400')" \
		"$(printf '5\t3.814000\tfusion\tJ-2\t\tno\t\t1550\t0.070000')" \
		"$(printf '6\t3.814000\tfibre\tcable-2:1\t1\tno\t1.404000\t1550\t0.280800')" \
		"$(printf '7\t5.218000\tfusion\tJ-3\t\tno\t\t1550\t0.020000')" \
		"$(printf '8\t5.218000\tfibre\tpig-3:1\t1\tno\t0.002000\t\t')" \
		"$(printf '9\t5.220000\tconnector\tC-3:01\t\t\t\t\t')" \
		"$(sed -n '11,$p' elements | cut -f 2-4,6,8-10,13-14)"
}

@test "walked from b to a: reversed" {
	change ports 's/\ta\t/\tx\t/;s/\tb\t/\ta\t/;s/\tx\t/\tb\t/'
	route 0 joints
	[ "$(awk -F '\t' '$1 == "L-1" && $6 ~ /cable|J-/ { printf "%s ", $9 }' elements)" = "yes yes yes yes yes " ]
}

@test "no joints: every link is open, and is said to be" {
	head -n 1 joints >none
	route 1 none
	[ "$stderr" = "thrum-route: 2 links, 4 errors, 0 warnings" ]
	has rule open-end open-end open-end open-end
	has because '' 1 '' 3
	has found pig-1:1 pig-3:1 pig-1:2 pig-3:2
	[ "$(grep -c 'other.*open' elements)" -eq 2 ]
}

@test "a joint of the plan that nobody made: one cause, with link, place and distance" {
	change joints /J-2/d
	route 1 --plan plan joints
	has rule open-end
	has joint J-2
	has link L-1
	has site C-2
	has km 3.814000
	run -1 "$bin/thrum-budget" --max 20 --wavelength 1550 elements
	has verdict unknown pass
	has unknown 'the link is not whole at C-2' ''
}

@test "without a plan the ends are found, one because of the other" {
	change joints /J-2/d
	route 1 joints
	has rule open-end open-end
	has found cable-1:1 cable-2:1
	has because '' 1
}

@test "two joints crossed: the plan shows which; without, two links are exchanged" {
	change joints '/J-2/s/cable-2\t1/cable-2\t2/;/J-5/s/cable-2\t2/cable-2\t1/'
	route 1 --plan plan joints
	has rule crossed crossed links-exchanged links-exchanged
	has because '' 1 1 1
	route 1 joints
	has rule links-exchanged links-exchanged
	has found 'L-2 at C-3:02' 'L-1 at C-3:01'
	has because '' 1
	table links 'link pair live' 'L-1 L-2 yes' 'L-2 . no'
	route 1 --links links joints
	has rule pair-exchanged pair-exchanged
	has says 'the link runs to a port of its pair; the link is live' 'the link runs to a port of its pair'
}

@test "an attempt that another one replaced does not count; of two that stand the later" {
	table joints 'joint attempt stands closure cable_a fibre_a cable_b fibre_b made_at' \
		'J-1 1 no C-1 pig-1 9 cable-1 9 .' 'J-1 2 yes C-1 pig-1 1 cable-1 1 2026-03-12' \
		'J-1 1 yes C-1 pig-1 8 cable-1 8 2026-03-11' \
		'J-2 1 . C-2 cable-1 1 cable-2 1 .' 'J-3 1 yes C-3 cable-2 7 pig-3 7 .' \
		'J-3 2 yes C-3 cable-2 1 pig-3 1 .'
	change ports /L-2/d
	route 0 joints
}

@test "a plan is read as if all were made: fibres that are not joined are passed over" {
	table joints 'joint closure cable_a fibre_a cable_b fibre_b state' 'J-1 C-1 pig-1 1 cable-1 1 join' \
		'. C-1 cable-1 5 . . parked' 'J-2 C-2 cable-1 1 cable-2 1 .' 'J-3 C-3 cable-2 1 pig-3 1 join'
	change ports /L-2/d
	route 0 joints
	table joints 'joint closure cable_a fibre_a cable_b fibre_b state' '. C-1 pig-1 1 cable-1 1 join'
	run -2 "$exe" --spans spans --ports ports joints
}

@test "when the attempt that stands was made: in UTC, without a zone as it is, a date alone as one" {
	table joints 'joint attempt closure cable_a fibre_a cable_b fibre_b made_at' \
		'J-1 1 C-1 pig-1 1 cable-1 1 2026-03-11T20:00:00Z' \
		'J-1 2 C-1 pig-1 1 cable-1 1 2026-03-12T01:02:03.5+02:00' \
		'J-2 1 C-2 cable-1 1 cable-2 1 2026-03-12T01:02' 'J-3 1 C-3 cable-2 1 pig-3 1 2026-03-12'
	change ports /L-2/d
	route 0 joints
	[ "$(awk -F '\t' '/J-/ { printf "%s ", $18 }' elements)" = \
		"2026-03-11T23:02:03Z 2026-03-12T01:02:00 2026-03-12 " ]
}

@test "an attempt is a number" {
	table joints 'joint attempt closure cable_a fibre_a cable_b fibre_b' 'J-1 one C-1 pig-1 1 cable-1 1'
	run --separate-stderr -2 "$exe" --spans spans --ports ports joints
	[[ $stderr == *"joints:2: column 'attempt'"* ]]
}

@test "a later shift counts, and is the time where no other is known" {
	for order in '1p;2p;3p' '1p;3p;2p'; do
		table joints 'joint attempt closure cable_a fibre_a cable_b fibre_b shift loss_nm loss_ab_db loss_ba_db loss_db' \
			'J-1 1 C-1 pig-1 8 cable-1 8 2026-03-11 1550 0.4 0.4 0.4' \
			'J-1 1 C-1 pig-1 1 cable-1 1 2026-03-18 1550 0.1 0.1 0.1'
		for part in ${order//;/ }; do sed -n "$part" joints; done >sorted
		printf 'J-2\t1\tC-2\tcable-1\t1\tcable-2\t1\t\t\t\t\t\nJ-3\t1\tC-3\tcable-2\t1\tpig-3\t1\t\t\t\t\t\n' >>sorted
		change ports /L-2/d
		route 0 sorted
		[ "$(awk -F '\t' '/J-/ { printf "%s ", $18 }' elements)" = "2026-03-18   " ]
		grep -q $'J-1.*\t0.1' elements
	done
}

@test "a joint that a later attempt cut has failed; a date of the same day alone says nothing, the number does" {
	table joints 'joint attempt stands closure cable_a fibre_a cable_b fibre_b made_at' \
		'J-1 1 yes C-1 pig-1 1 cable-1 1 2026-03-11T20:00:00Z' 'J-1 2 no C-1 pig-1 1 cable-1 1 2026-03-18T20:00:00Z' \
		'J-2 1 no C-2 cable-1 1 cable-2 1 2026-03-11T22:00:00Z' 'J-2 2 yes C-2 cable-1 1 cable-2 1 2026-03-11' \
		'J-3 1 yes C-3 cable-2 1 pig-3 1 2026-03-11' 'J-3 2 no C-3 cable-2 1 pig-3 1 2026-03-11T20:00:00Z'
	change ports /L-2/d
	route 1 joints
	has joint J-1 J-3
	has rule joint-failed joint-failed
	has says 'a later attempt at it does not stand' 'a later attempt at it does not stand'
}

@test "a measured loss at each wavelength; an estimate and one reading are none, but where accepted" {
	table joints 'joint closure cable_a fibre_a cable_b fibre_b loss_nm loss_ab_db loss_ba_db loss_db accept est_db' \
		'J-1 C-1 pig-1 1 cable-1 1 1550 0.01 0.04 . . .' 'J-1 C-1 pig-1 1 cable-1 1 1310 . . 0.08 . .' \
		'J-2 C-2 cable-1 1 cable-2 1 1550 0.03 . . . 0.02' \
		'J-3 C-3 cable-2 1 pig-3 1 1550 0.03 . . one-way .'
	change ports /L-2/d
	route 0 joints
	[ "$(awk -F '\t' '/J-/ { printf "%s@%s ", $14, $13 }' elements)" = \
		"0.080000@1310 0.025000@1550 @ 0.030000@1550 " ]
}

@test "a loss beside readings is believed as thrum-closure believes it" {
	table joints 'joint closure cable_a fibre_a cable_b fibre_b kind loss_nm loss_ab_db loss_ba_db loss_db' \
		'J-1 C-1 pig-1 1 cable-1 1 fusion 1550 2.0 2.0 0.03' 'J-2 C-2 cable-1 1 cable-2 1 fusion 1550 0.03 . 0.03' \
		'J-3 C-3 cable-2 1 pig-3 1 fusion 1550 0.02 0.04 0.05'
	change ports /L-2/d
	route 0 joints
	[ "$(awk -F '\t' '/J-/ { printf "%s ", $14 }' elements)" = "2.000000  0.050000 " ]
	"$bin/thrum-closure" --limit 0.15 joints >closed || [ $? -eq 1 ]
	output=$(cat closed)
	has verdict fail unknown pass
	run -1 "$bin/thrum-budget" --max 3 --wavelength 1550 elements
	has measured 4 # two sections, two joints
	has verdict over
	# of a reading from one end and a loss beside it the greater, where one is enough
	table joints 'joint closure cable_a fibre_a cable_b fibre_b loss_nm loss_ab_db loss_db accept' \
		'J-1 C-1 pig-1 1 cable-1 1 1550 0.9 0.03 one-way' 'J-2 C-2 cable-1 1 cable-2 1 1550 0.03 0.8 one-way' \
		'J-3 C-3 cable-2 1 pig-3 1 1550 99.99 . .'
	trouble "joints:4: column 'loss_ab_db': a mark of no reading: leave the field empty: '99.99'" "${all[@]}" joints
	change joints /J-3/d
	route 1 joints
	[ "$(awk -F '\t' '/J-/ { printf "%s ", $14 }' elements)" = "0.900000 0.800000 " ]
}

@test "a loss that several share is counted once, in the first joint of them" {
	table joints 'joint closure cable_a fibre_a cable_b fibre_b loss_nm loss_db loss_with' \
		'J-1 C-1 pig-1 1 cable-1 1 1550 0.45 C-1:01' 'J-1 C-1 pig-1 1 cable-1 1 1310 0.05 .' \
		'J-2 C-2 cable-1 1 cable-2 1 1550 0.10 .' 'J-3 C-3 cable-2 1 pig-3 1 1550 0.60 C-3:01,J-4'
	change ports /L-2/d
	route 0 joints
	[ "$(awk -F '\t' '$6 ~ /^[CJ]-/ { printf "%s@%s=%s ", $6, $13, $14 }' elements)" = \
		"C-1:01@1550=0.000000 J-1@1310=0.050000 J-1@1550=0.450000 J-2@1550=0.100000 J-3@1550=0.600000 C-3:01@1550=0.000000 " ]
	# from the other end, and two joints of one group on one link
	change joints '/^J-2/s/.*/J-4\tC-2\tcable-1\t1\tcable-2\t1\t1550\t0.60\tJ-3,C-3:01/'
	change ports 's/\ta\t/\tx\t/;s/\tb\t/\ta\t/;s/\tx\t/\tb\t/'
	route 0 joints
	[ "$(awk -F '\t' '$6 ~ /^[CJ]-/ && $13 != 1310 { printf "%s=%s ", $6, $14 }' elements)" = \
		"C-3:01=0.000000 J-3=0.600000 J-4=0.000000 J-1=0.450000 C-1:01=0.000000 " ]
	run -0 "$bin/thrum-budget" --max 9 --wavelength 1550 elements
	has typical_db 2.094
}

@test "a joint that failed its tension test, or whose protector failed, lets no link pass" {
	local column

	for column in tension protector; do
		table joints "joint attempt stands closure cable_a fibre_a cable_b fibre_b loss_nm loss_db $column" \
			'J-1 1 yes C-1 pig-1 1 cable-1 1 1550 0.04 pass' 'J-2 1 yes C-2 cable-1 1 cable-2 1 1550 0.03 fail' \
			'J-2 1 yes C-2 cable-1 1 cable-2 1 1310 0.03 .' 'J-3 1 no C-3 cable-2 1 pig-3 1 1550 0.3 fail' \
			'J-3 2 yes C-3 cable-2 1 pig-3 1 1550 0.02 pass'
		table ports 'site port link end cable fibre' 'C-1 01 L-1 a pig-1 1' 'C-3 01 L-1 b pig-3 1'
		route 1 joints
		[ "$stderr" = "thrum-route: 1 link, 1 error, 0 warnings" ]
		has rule joint-failed
		has level error
		has joint J-2
		has link L-1
		has site C-2
		has km 3.814000
		[ "$(awk -F '\t' '/J-/ { printf "%s ", $14 }' elements)" = "0.040000  0.020000 " ]
		run -1 "$bin/thrum-budget" --max 30 --wavelength 1550 elements
		has verdict unknown
		has unknown 'the link is not whole at C-2'
		gives 0 --spans spans --ports ports --between C-1:01,C-3:01 joints
		[ "$(grep -c 'other.*open' <<<"$output")" -eq 1 ]
		# made again
		printf 'J-2\t2\tyes\tC-2\tcable-1\t1\tcable-2\t1\t1550\t0.03\tpass\n' >>joints
		route 0 joints
		run -0 "$bin/thrum-budget" --max 30 --wavelength 1550 elements
		has verdict pass
	done
}

@test "through a site: uncut, or express by the plan; else it ends" {
	table spans 'cable section site_a site_b cut_a cut_b fibres sheath_km' \
		'k 1 A B yes no 4 1' 'k 2 B C no yes 4 1' 'k 3 C D yes yes 4 1'
	table ports 'site port link end cable fibre' 'A 1 L a k 1' 'D 1 L b k 1'
	table joints 'joint closure cable_a fibre_a cable_b fibre_b' 'J C k 1 k 1'
	route 0 joints
	head -n 1 joints >none
	table plan 'joint closure cable_a fibre_a cable_b fibre_b state' '. C k 1 . . express'
	route 0 --plan plan none
	route 1 none
	has site C C
	# not known is not uncut
	change spans 's/no\t4/\t4/;s/C\tno/C\t/'
	route 1 --plan plan none
	has site B B
}

@test "a cable both ways from a site: toward says which, or it is in doubt" {
	table spans 'cable section site_a site_b cut_a cut_b fibres' 'k 1 A B yes yes 4' 'k 2 B C yes yes 4' 'm 1 B D yes yes 4'
	table ports 'site port link end cable fibre' 'A 1 L a k 1' 'D 1 L b m 1'
	table joints 'joint closure cable_a fibre_a toward_a cable_b fibre_b' 'J B k 1 A m 1'
	route 0 joints
	change joints 's/A\tm/\tm/'
	route 1 joints
	[ "$(awk -F '\t' 'NR == 2 { print $4, $8 }' findings)" = "J in-doubt" ]
	# the plan knows
	table plan 'joint closure cable_a fibre_a toward_a cable_b fibre_b state' 'J B k 1 A m 1 join'
	route 0 --plan plan joints
}

@test "a splitter: each leg is a link of its own, the head port is in all of them" {
	table spans 'cable section site_a site_b fibres fibre_km' 'k 1 A B 4 1' 't 1 B B 4 0.001' 'm 1 B C 4 2'
	table ports 'site port link end cable fibre' 'A 1 L1 a k 1' 'C 1 L1 b m 1' 'A 1 L2 a k 1' 'C 2 L2 b m 2'
	table splitters 'splitter kind closure side port cable fibre ways wavelength_nm loss_db sd_db' \
		'X splitter B in 1 t 1 . . . .' 'X splitter B out 1 t 2 2 1550 3.5 0.1' 'X splitter B out 1 t 2 2 1310 3.6 .' \
		'X splitter B out 2 t 3 . . . .'
	table joints 'joint closure cable_a fibre_a cable_b fibre_b' 'J0 B k 1 t 1' 'J1 B t 2 m 1' 'J2 B t 3 m 2'
	route 0 --splitters splitters joints
	[ "$(awk -F '\t' '$4 == "splitter" { print $1, $2, $5, $6, $13 "/" $14 "/" $15 "." }' elements)" = \
"L1 5 2 X:1 1310/3.600000/.
L1 5 2 X:1 1550/3.500000/0.100000.
L2 5 2 X:2 //." ]
	[ "$(awk -F '\t' '{ k = $1; n[k] = $6 } END { print n["L1"], n["L2"] }' elements)" = "C:1 C:2" ]
	# exchanged legs: whole, but not as planned
	table plan 'joint closure cable_a fibre_a cable_b fibre_b state' 'J0 B k 1 t 1 join' 'J1 B t 2 m 2 join' 'J2 B t 3 m 1 join'
	route 1 --splitters splitters --plan plan joints
	has rule crossed crossed legs-exchanged legs-exchanged
	has because '' 1 1 1
}

@test "two multiplexers, one at each end" {
	table spans 'cable section site_a site_b fibres' 't 1 A A 4' 'k 1 A B 1' 'u 1 B B 4'
	table ports 'site port link end cable fibre' 'A 1 L1 a t 2' 'B 1 L1 b u 2' 'A 2 L2 a t 3' 'B 2 L2 b u 3'
	table splitters 'splitter kind closure side port cable fibre loss_db' \
		'X multiplexer A in com t 1 .' 'X multiplexer A out 1 t 2 0.9' 'X multiplexer A out 2 t 3 0.9' \
		'Y multiplexer B in com u 1 .' 'Y multiplexer B out 1 u 2 0.8' 'Y multiplexer B out 2 u 3 0.8'
	table joints 'joint closure cable_a fibre_a cable_b fibre_b' 'J1 A t 1 k 1' 'J2 B k 1 u 1'
	route 0 --splitters splitters joints
	[ "$(awk -F '\t' '$4 == "other" { print $1, $6, $14 }' elements)" = \
"L1 X:1 0.900000
L1 Y:1 0.800000
L2 X:2 0.900000
L2 Y:2 0.800000" ]
}

@test "multiplexers that have no channel in common: the link is not whole" {
	table spans 'cable section site_a site_b fibres fibre_km' 't 1 A A 4 0.002' 'k 1 A B 1 3' 'u 1 B B 4 0.002'
	table ports 'site port link end cable fibre' 'A 1 L1 a t 2' 'B 1 L1 b u 2' 'A 2 L2 a t 3' 'B 2 L2 b u 3'
	table splitters 'splitter kind closure side port cable fibre loss_db channel_from_nm channel_to_nm' \
		'X multiplexer A in com t 1 . . .' 'X multiplexer A out 1 t 2 0.9 1260 1360' 'X multiplexer A out 2 t 3 0.9 1480 1500' \
		'Y multiplexer B in com u 1 . . .' 'Y multiplexer B out 1 u 2 0.8 1300 1320' 'Y multiplexer B out 2 u 3 0.8 1480 .'
	table joints 'joint closure cable_a fibre_a cable_b fibre_b loss_db' 'J1 A t 1 k 1 0.05' 'J2 B k 1 u 1 0.05'
	route 0 --splitters splitters joints
	change ports 's/^B\t1\tL1/B\t1\tL3/;s/^B\t2\tL2/B\t2\tL1/;s/L3/L2/'
	route 1 --splitters splitters joints
	has rule links-exchanged links-exchanged
	has link L1 L2
	has site B B
	has because '' 1
	run -1 "$bin/thrum-budget" --max 30 --wavelength 1550 elements
	has verdict unknown unknown
	# one that states no channel lets all through
	change splitters 's/\t13[0-9]*\t1320/\t\t/;s/1480\t$/\t/'
	route 0 --splitters splitters joints
}

@test "--between: what lies between two ports, or that it does not" {
	gives 0 --spans spans --ports ports --between C-3:02,C-1:02 joints
	has ref C-3:02 pig-3:2 J-6 cable-2:2 J-5 cable-1:2 J-4 pig-1:2 C-1:02
	run --separate-stderr -1 "$exe" --spans spans --ports ports --between C-3:02,C-1:01 joints
	[ "$stderr" = "thrum-route: C-3:02: not joined to C-1:01" ]
	trouble "--between: no such port: 'C-9:1'" --spans spans --ports ports --between C-9:1,C-1:01 joints
	trouble "--between: no colon: '1'" --spans spans --ports ports --between 1,C-1:01 joints
	refused "--between: two ports, SITE:PORT,SITE:PORT, and no --through" \
		--spans spans --ports ports --between C-1:01 joints
}

@test "--through: all that a fibre is part of" {
	gives 0 --spans spans --ports ports --through cable-2:2 joints
	has ref C-1:02 pig-1:2 J-4 cable-1:2 J-5 cable-2:2 J-6 pig-3:2 C-3:02
	has link L-2 L-2 L-2 L-2 L-2 L-2 L-2 L-2 L-2
	gives 1 --spans spans --ports ports --through cable-2:9 joints
	has ref cable-2:9 ''
	trouble "--through: no such fibre: 'cable-2:25'" --spans spans --ports ports --through cable-2:25 joints
}

@test "--between and --through where a splitter has several ways on, and where a cable is cut" {
	table spans 'cable section site_a site_b fibres' 'k 1 A B 4' 't 1 B B 4' 'm 1 B C 4' 'n 1 B C 4' 'n 2 C D 4'
	table ports 'site port link end cable fibre' 'A 1 L1 a k 1' 'C 1 L1 b m 1' 'A 1 L2 a k 1' 'C 2 L2 b m 2' \
		'D 3 L3 a n 2'
	table splitters 'splitter kind closure side port cable fibre' 'X splitter B in 1 t 1' 'X splitter B out 1 t 2' \
		'X splitter B out 2 t 3' 'X splitter B out 3 t 4'
	table joints 'joint closure cable_a fibre_a toward_a cable_b fibre_b toward_b' 'J0 B k 1 . t 1 .' \
		'J1 B t 2 . m 1 .' 'J2 B t 3 . m 2 .' 'J3 B t 4 . m 3 .' 'J4 C n 4 D n 4 B'
	all=(--spans spans --ports ports --splitters splitters)
	# the head port has a row for each of its links
	gives 0 "${all[@]}" --between C:2,A:1 joints
	[ "$(cut -f 1 <<<"$output" | sort -u | xargs)" = "L2 link" ]
	trouble "--between: the same port twice" "${all[@]}" --between A:1,A:1 joints
	# before the splitter the fibre is in both links; behind a leg without a link in none
	gives 0 "${all[@]}" --through k:1 joints
	[ "$(cut -f 1 <<<"$output" | uniq | xargs)" = "link L1 L2" ]
	gives 1 "${all[@]}" --through t:4 joints
	[ "$(cut -f 1 <<<"$output" | uniq | xargs)" = "link t:4" ]
	# fibre 4 goes through the cut; fibre 2 has another life behind it
	gives 1 "${all[@]}" --through n:4 joints
	has ref n:4 J4 n:4 ''
	gives 1 "${all[@]}" --through n:2 joints
	[ "$(awk -F '\t' '$6 == "n:2" { print $1, $8 }' <<<"$output" | xargs)" = "n:2 1 L3 2" ]
}

@test "a joint on no link is a warning; a ring without a port an error" {
	printf 'J-7\tC-2\tcable-1\t7\tcable-2\t7\t\t\t\n' >>joints
	route 0 joints
	has rule no-link
	has level warning
	table spans 'cable section site_a site_b fibres' 'k 1 A B 2' 'm 1 A B 2'
	table joints 'joint closure cable_a fibre_a cable_b fibre_b' 'J1 A k 1 m 1' 'J2 B k 1 m 1'
	table ports 'site port link end cable fibre'
	route 1 joints
	has rule loop
}

@test "what cannot be read is trouble" {
	refused "--spans FILE is needed" joints
	table spans 'cable section site_a site_b' 'k 1 A B' 'k 1 B C'
	refused "spans:3: column 'section': a second row of this cable and section" --spans spans joints
	table ports 'site port link end cable fibre' 'A 1 L . k 1'
	table spans 'cable section site_a site_b' 'k 1 A B'
	refused "ports:2: column 'end': neither a nor b: ''" --spans spans --ports ports joints
}
