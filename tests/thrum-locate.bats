#!/usr/bin/env bats
# thrum-locate: where a distance is
# shellcheck disable=SC2154 # exe and samples are set by begin

load program

setup() {
	begin thrum-locate
	# 10,000 m of sheath from A to B, 10,100 m of fibre; the cable runs the other way round in the second section
	table elements 'link seq kind ref site section reversed' 'L1 1 connector A:1 A . .' 'L1 2 fibre k:1 A 1 no' \
		'L1 3 fusion J1 B . .' 'L1 4 fibre k:1 B 2 yes' 'L1 5 connector C:1 C . .'
	table spans 'cable section site_a site_b fibre_km mark_a_m mark_b_m slack_a_m slack_b_m index' \
		'k 1 A B 10.1 1000 11000 20 30 1.4680' 'k 2 C B 5.05 8000 3000 0 10 1.4680'
}

# place COLUMNS ARGUMENT...: these columns of the answer to one question
place() {
	local columns=$1

	shift
	"$exe" --elements elements --spans spans "$@" >out
	"$bin/thrum-show" --tsv --columns "$columns" out | tail -n +2
}

@test "sheath is fibre by proportion of the section, the mark counts with the cable" {
	# 5.05 of 10.1 km of fibre: half of 10,000 m of sheath, mark 6000; less 20 m of slack from A, 30 from B
	[ "$(place cable,section,site_a,to_a_m,site_b,to_b_m,mark_m --link L1 --km 5.05 --index 1.468)" = \
		$'k\t1\tA\t4980.0\tB\t4970.0\t6000.0' ]
	# 2.02 km behind B: 2000 of 5000 m of sheath from B, where the mark is 3000 and rises
	[ "$(place section,site_a,to_a_m,site_b,to_b_m,mark_m --link L1 --km 12.12 --index 1.468)" = \
		$'2\tC\t3000.0\tB\t1990.0\t5000.0' ]
	# from the other end the same place is 15.15 - 12.12 km away
	[ "$(place section,mark_m --link L1 --km 3.03 --from C --index 1.468)" = $'2\t5000.0' ]
	[ "$(place section,mark_m --link L1 --km 3.03 --from C:1 --index 1.468)" = $'2\t5000.0' ]
}

@test "an index that is not the cable's: 0.001 is 14 m in 20 km" {
	# 20 km x 0.001 / 1.468 = 13.6 m
	table spans 'cable section site_a site_b fibre_km mark_a_m mark_b_m index' 'k 1 A B 25 0 25000 1.4680' 'k 2 C B 1 0 1000 1.4680'
	[ "$(place mark_m,section --link L1 --km 20 --index 1.4680)" = $'20000.0\t1' ]
	[ "$(place mark_m,section --link L1 --km 20 --index 1.4690)" = $'20013.6\t1' ]
	grep -q '13.6 m' out
}

@test "inside a coil of slack the site is named" {
	[ "$(place in_coil,to_a_m --link L1 --km 0.015 --index 1.468)" = $'A\t0.0' ]
	[ "$(place in_coil,to_b_m --link L1 --km 10.08 --index 1.468)" = $'B\t0.0' ]
	[ "$(place in_coil,section --link L1 --km 5 --index 1.468)" = $'\t1' ]
}

@test "closures that were read on both sides count before lengths" {
	# nobody has measured the fibre; the trace says 10.12 km: 5.06 km are half way, whatever the excess is
	table spans 'cable section site_a site_b mark_a_m mark_b_m slack_a_m slack_b_m index' \
		'k 1 A B 1000 11000 20 30 1.4680' 'k 2 C B 8000 3000 0 10 1.4680'
	table readings 'link from index km kind' 'L1 A 1.468 0 start' 'L1 A 1.468 10.12 step' 'L1 A 1.468 15.17 end'
	loose=$(place uncertainty_m,section --link L1 --km 5.06 --index 1.468)
	sure=$(place uncertainty_m,mark_m --link L1 --km 5.06 --index 1.468 --readings readings)
	awk -v a="${loose%%	*}" -v b="${sure%%	*}" 'BEGIN { exit !(b < a) }'
	awk -v m="${sure#*	}" 'BEGIN { exit !(m > 5999 && m < 6001) }'
	grep -q 'known on both sides' out
}

@test "a table of distances: each row comes out, also those without a place" {
	table distances 'link from km far_km note' 'L1 A 5.05 10.1 a' 'L1 . . . b' 'L1 C 3.03 . c' 'L1 A 5.05 9 d' 'L1 A 99 . e'
	"$exe" --elements elements --spans spans --index 1.468 distances >out
	[ "$("$bin/thrum-show" --tsv --columns note,mark_m out | tr '\t\n' ' ,')" = 'note mark_m,a 6000.0,b ,c 5000.0,d 6000.0,e ,' ]
	[[ $(sed -n 5p out) = *'far_km is elsewhere, 1100.4 m apart: are there two faults'* ]]
	[[ $(sed -n 6p out) = *'behind the end of the link'* ]]
	"$exe" --elements elements --spans spans --index 1.468 out >again
	cmp out again
}

@test "what is asked wrongly is refused" {
	refused "--link and --km together make a question" --elements elements --spans spans --link L1
	refused "--elements FILE is needed" --spans spans --link L1 --km 1
	run --separate-stderr -2 "$exe" --elements elements --spans spans --link L9 --km 1
	[[ $stderr = *"column 'link': no fibre of such a link in the elements: 'L9'"* ]]
	run --separate-stderr -2 "$exe" --elements elements --spans spans --link L1 --km 1 --from X
	[[ $stderr = *"column 'from': "*"'X'"* ]]
	sed -i 's/k:1/z:1/' elements
	run --separate-stderr -2 "$exe" --elements elements --spans spans --link L1 --km 1
	[[ $stderr = *"not a fibre of a section that spans have"* ]]
}

@test "10,000 random routes: the place is within what is said in 95 % and more, and that is no more than twice what is needed" {
	"$BATS_TEST_DIRNAME/route/locate.py" "$bin" 7 10000
}
