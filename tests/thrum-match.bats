#!/usr/bin/env bats
# thrum-match as a program: what it reads, what it hands out, what it leaves. How well it does is in
# unit/test_match_night.c.

# shellcheck disable=SC2016,SC2154 # awk has a $ of its own; run sets stderr
load program

setup() {
	begin thrum-match
	match=$exe
	night=$BATS_TEST_DIRNAME/night
	plan_of 6 >plan.tsv
}

# plan_of N: the joints J1 to JN of the closure cove, trays of 3
plan_of() {
	printf 'joint\tclosure\ttray\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b\tstate\tkind\n'
	for i in $(seq "$1"); do
		printf 'J%d\tcove\t%d\t%d\tin\t%d\tout\t%d\tjoin\tfusion\n' "$i" $(((i + 2) / 3)) \
			$(((i + 2) % 3 + 1)) "$i" "$i"
	done
}

# arcs LINE...: arcs.tsv; a line is: number time est tension heat note; "." is an empty field, and
# what stands for a blank in the note is "_"
arcs() {
	{
		printf 'arc\tmade_at\test_db\ttension\theat_s\tnote\n'
		printf '%s\n' "$@" | awk -v OFS='\t' '{
			for (i = 1; i <= 6; i++) if ($i == ".") $i = ""
			gsub("_", " ", $6)
			print $1, "2026-03-" $2 ":00+00:00", $3, $4, $5, $6 }'
	} >arcs.tsv
}

# six good joints
six() {
	arcs "1 11T22:00 0.02 pass 25 J1" "2 11T22:10 0.01 pass 25 ." "3 11T22:20 0.03 pass 25 ." \
		"4 11T22:30 0.02 pass 25 ." "5 11T22:40 0.02 pass 25 ." "6 11T22:50 0.04 pass 25 J6"
}

# matches STATUS ARGUMENT...: this exit status; found.tsv are the findings, of single arcs too
matches() {
	local want=$1

	shift
	run --separate-stderr "-$want" "$match" --plan plan.tsv --findings found.tsv --each-arc "$@"
	if [ "$want" -eq 0 ]; then [ -z "$stderr" ] || { echo "stderr: $stderr"; false; }; fi
}

# found RULE LINE...: the lines of the arcs (or, of unrecorded, of the plan) with this finding
found() {
	local rule=$1 got

	shift
	got=$(awk -F '\t' -v rule="$rule" '$5 == rule { print $2 }' found.tsv)
	[ "$(sort -nu <<<"$got")" = "$(printf '%s\n' "$@")" ] || { cat found.tsv; false; }
}

# finding RULE TEXT: the finding of this rule says this
finding() {
	[ "$(awk -F '\t' -v rule="$1" '$5 == rule { print $9 }' found.tsv)" = "$2" ] ||
		{ cat found.tsv; false; }
}

# --- joints --------------------------------------------------------------------------------------

@test "arcs between two typed joints are the joints between" {
	six
	matches 0 --order work arcs.tsv
	[ "${lines[0]}" = "$(printf '%s\t' joint attempt stands closure tray slot cable_a fibre_a \
		cable_b fibre_b kind est_db tension heat_s made_at shift arc)note" ]
	[ "${lines[2]}" = "$(printf '%s\t' J2 1 yes cove 1 2 in 2 out 2 fusion 0.01 pass 25 \
		2026-03-11T22:10:00+00:00 2026-03-11 2)" ]
	has joint J1 J2 J3 J4 J5 J6
	has attempt 1 1 1 1 1 1
	has stands yes yes yes yes yes yes
	[ "$(wc -l <found.tsv)" -eq 1 ]
}

@test "a retry follows a bad arc; the last attempt stands" {
	arcs "1 11T22:00 0.02 pass 25 J1" "2 11T22:10 0.21 . . ." "3 11T22:14 0.02 fail . ." \
		"4 11T22:18 0.02 pass 25 ." "5 11T22:28 0.02 pass 25 J3"
	sed -i 5,7d plan.tsv
	matches 0 --order work --odds 20 arcs.tsv
	has joint J1 J2 J2 J2 J3
	has attempt 1 1 2 3 1
	has stands yes no no yes yes
}

@test "practice is set apart" {
	arcs "1 11T21:50 0.02 . . practice" "2 11T21:52 0.04 . . practice" "3 11T22:02 0.02 pass 25 J1" \
		"4 11T22:12 0.01 pass 25 J2" "5 11T22:13 0.01 . . practice" "6 11T22:22 0.03 pass 25 J3"
	matches 0 --order work arcs.tsv
	has joint J1 J2 J3
	found practice 2 3 6
	found unrecorded 5 6 7
	grep -q $'practice\twarning\tarc 1 of \t\tpractice: 1, 2, 5$' found.tsv
	grep -q $'unrecorded\twarning\tcove\t\tno arc is known to be: J4 to J6$' found.tsv
}

@test "words of a note: practice, retry, a joint" {
	arcs "1 11T22:00 0.02 pass 25 J1,_dry" "2 11T22:05 0.01 pass 25 broken,_retry" \
		"3 11T22:20 0.02 . . practice" "4 11T22:30 0.03 pass 25 (J9;_J2:" \
		"5 11T22:40 0.03 pass 25 J3_not_J2"
	matches 0 --order work --odds 5 arcs.tsv
	has joint J1 J1 J2 J3
	has note "J1, dry" "broken, retry" "(J9; J2:" "J3 not J2"
	found practice 4
}

@test "fibres may be typed from either side; slot, tray and closure are taken together" {
	printf 'made_at\tclosure\ttray\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b\n' >arcs.tsv
	printf '2026-03-11T22:%s\n' $'00\t\t\t\tin\t1\t\t' $'10\t\t\t\tout\t2\t\t' \
		$'20\t\t\t\tout\t3\tin\t3' $'30\tcove\t2\t1\t\t\t\t' $'40\t\t\t\t\t\tin\t5' \
		$'50\t\t2\t3\t\t\t\t' >>arcs.tsv
	matches 0 --order work arcs.tsv
	has joint J1 J2 J3 J4 J5 J6
	has cable_a in in in in in in
}

@test "the order of slots: work, reverse, alternate, and the plan's own" {
	six
	plan_of 12 | awk -F '\t' -v OFS='\t' 'NR > 1 { $3 = 1; $4 = NR - 1 } NR == 1 || NR > 7' >plan.tsv
	printf '%s\n' "$(sort -r plan.tsv)" >reverse.tsv # J9 J8 J7 J12 J11 J10, below the header
	head -n 1 plan.tsv >plan2.tsv
	grep '^J[0-9]' reverse.tsv >>plan2.tsv
	mv plan2.tsv plan.tsv
	sed -i 's/J1$/J7/; s/J6$/J12/' arcs.tsv
	matches 0 --order work arcs.tsv
	has joint J7 J8 J9 J10 J11 J12
	sed -i 's/J7$/J9/; s/J12$/J10/' arcs.tsv
	matches 0 --order plan arcs.tsv
	has joint J9 J8 J7 J12 J11 J10
	sed -i 's/J9$/J12/; s/J10$/J7/' arcs.tsv
	matches 0 --order reverse arcs.tsv
	has joint J12 J11 J10 J9 J8 J7
	sed -i 's/J12$/J7/; 7s/J7$/J12/' arcs.tsv
	matches 0 --order alternate arcs.tsv
	has joint J7 J9 J11 J8 J10 J12
}

@test "an order of slots that is not stated is to be proven" {
	six
	plan_of 6 | awk -F '\t' -v OFS='\t' 'NR > 1 { $3 = 1; $4 = NR - 1 } 1' >plan.tsv
	awk -F '\t' -v OFS='\t' '{ sub(/J[0-9]/, "", $6); print $0, NR == 1 ? "closure" : NR == 2 ? "cove" : "" }' \
		arcs.tsv >a && mv a arcs.tsv
	matches 1 arcs.tsv
	[ "${#lines[@]}" -eq 1 ]
	found slot-order 2 3 4 5 6 7
	# one typed joint beside the middle proves it
	sed -i '3s/\t\t$/\tJ2\t/' arcs.tsv
	matches 0 --odds 20 arcs.tsv
	has joint J1 J2 J3 J4 J5 J6
	sed -i '3s/\tJ2\t/\tJ5\t/' arcs.tsv
	matches 0 --odds 20 arcs.tsv
	has joint J6 J5 J4 J3 J2 J1
}

@test "express, parked and dead fibres, mechanical joints and connectors have no arc" {
	six
	{
		cat plan.tsv
		printf 'J7\tcove\t1\t2\tin\t7\tout\t7\texpress\tfusion\n'
		printf '\tcove\t1\t2\tin\t8\tout\t8\tparked\t\n'
		printf '\tcove\t1\t2\tin\t9\tout\t9\tdead\t\n'
		printf 'J8\tcove\t1\t2\tin\t8\tout\t8\tjoin\tmechanical\n'
		printf 'J9\tcove\t1\t2\tin\t9\tout\t9\tjoin\tconnector\n'
	} >all.tsv
	mv all.tsv plan.tsv
	matches 0 --order work arcs.tsv
	has joint J1 J2 J3 J4 J5 J6
	[ "$(wc -l <found.tsv)" -eq 1 ]
}

@test "columns of the plan and of the arcs go along; the plan says place and kind" {
	six
	awk -F '\t' -v OFS='\t' '{ print $0, NR == 1 ? "expected_db" : "0.04", NR == 1 ? "own" : "p" NR }' \
		plan.tsv >p && mv p plan.tsv
	sed -i '2s/fusion/ribbon/; 3s/fusion//' plan.tsv
	awk -F '\t' -v OFS='\t' '
		{ print $0, NR == 1 ? "kind" : "x", NR == 1 ? "stands" : "x", NR == 1 ? "extra" : "\"" NR }' \
		arcs.tsv >a && mv a arcs.tsv
	matches 0 --order work arcs.tsv
	has kind ribbon fusion fusion fusion fusion fusion
	has expected_db 0.04 0.04 0.04 0.04 0.04 0.04
	has own p2 p3 p4 p5 p6 p7
	has extra '"2' '"3' '"4' '"5' '"6' '"7'
	has stands yes yes yes yes yes yes
	# running it on what it made changes nothing
	printf '%s\n' "$output" >once.tsv
	"$match" --plan plan.tsv --order work once.tsv >twice.tsv
	cmp once.tsv twice.tsv
}

# --- machines and clocks -------------------------------------------------------------------------

@test "the order of rows and files does not matter, nor a row that is there twice" {
	six
	matches 0 --order work arcs.tsv
	want=$output
	{ head -n 1 arcs.tsv; tail -n +2 arcs.tsv | sort -r | head -n 4; } >1.tsv
	{ head -n 1 arcs.tsv; tail -n +2 arcs.tsv | sort -r | tail -n 4; } >2.tsv
	matches 0 --order work 1.tsv 2.tsv
	[ "$output" = "$want" ]
	found repeated 2 3
	run --separate-stderr -0 "$match" --plan plan.tsv --order work <arcs.tsv
	[ "$output" = "$want" ]
}

@test "a clock's correction keeps zone, seconds and decimals as they were written" {
	printf 'splicer\tmade_at\tnote\n' >arcs.tsv
	printf 'm\t%s\n' $'2026-02-28T23:59+02:00\tJ1' $'2026-03-01T00:09:30.25+0200\tJ2' \
		$'2026-03-01T00:20:00+02:00\tJ3' $'2026-03-01T11:58:00+02:00\tJ4' >>arcs.tsv
	matches 0 --order work --odds 20 --clock m=120 arcs.tsv
	has made_at 2026-03-01T00:01+02:00 2026-03-01T00:11:30.25+0200 2026-03-01T00:22:00+02:00 \
		2026-03-01T12:00:00+02:00
	has shift 2026-02-28 2026-02-28 2026-02-28 2026-03-01
	matches 0 --order work --odds 20 --clock m=-61 --night-begins 0 arcs.tsv
	has made_at 2026-02-28T23:57:59+02:00 2026-03-01T00:08:29.25+0200 2026-03-01T00:18:59+02:00 \
		2026-03-01T11:56:59+02:00
	has shift 2026-02-28 2026-03-01 2026-03-01 2026-03-01
	matches 0 --order work --odds 20 --clock m=0 arcs.tsv
	has made_at 2026-02-28T23:59+02:00 2026-03-01T00:09:30.25+0200 2026-03-01T00:20:00+02:00 \
		2026-03-01T11:58:00+02:00
}

@test "years and leap days by the clock" {
	printf 'splicer\tmade_at\tnote\n' >arcs.tsv
	printf 'm\t%s\n' $'2023-12-31T23:59:59\tJ2' $'2024-02-28T23:59:59\tJ3' $'2024-02-29T23:59:59\tJ4' \
		$'2100-02-28T23:59:59\tJ5' $'0000-02-28T23:59:59\tJ1' $'9999-12-31T23:59:57\tJ6' >>arcs.tsv
	matches 0 --order work --odds 1 --clock m=1 arcs.tsv
	has made_at 0000-02-29T00:00:00 2024-01-01T00:00:00 2024-02-29T00:00:00 2024-03-01T00:00:00 \
		2100-03-01T00:00:00 9999-12-31T23:59:58
	refused_wholly "arcs.tsv:7: column 'made_at': by --clock outside the years 0000 to 9999: '9999-12-31T23:59:57'" \
		--plan plan.tsv --clock m=9 arcs.tsv
}

@test "numbers are followed where a clock was set wrong for a part of the night" {
	six
	sed -i '4s/11T22:20/11T20:20/; 5s/11T22:30/11T20:30/' arcs.tsv
	matches 0 --order work --odds 20 arcs.tsv
	[ "$(tail -n +2 <<<"$output" | cut -f 1,17 | sort)" = "$(printf 'J%d\t%d\n' 1 1 2 2 3 3 4 4 5 5 6 6)" ]
}

@test "two machines at once: each has its own way; rows come by time" {
	plan_of 3 >plan.tsv
	plan_of 3 | tail -n +2 | sed 's/^J/K/; s/cove/bay/; s/in/up/; s/out/down/' >>plan.tsv
	printf 'arc\tsplicer\tmade_at\tclosure\theat_s\n' >arcs.tsv
	for i in 1 2 3; do
		printf '%d\ta\t2026-03-11T22:%d0:00\t%s\t25\n' "$i" "$i" "$([ $i -ne 1 ] || echo cove)"
		printf '%d\tb\t2026-03-11T22:%d5:00\t%s\t25\n' "$i" "$i" "$([ $i -ne 1 ] || echo bay)"
	done >>arcs.tsv
	matches 0 --order work arcs.tsv
	has joint J1 K1 J2 K2 J3 K3
}

@test "a joint typed at two machines has attempts by time" {
	arcs "1 11T22:00 0.02 pass 25 J1"
	sed 's/22:00/21:00/' arcs.tsv >other.tsv
	awk -F '\t' -v OFS='\t' '{ print $0, NR == 1 ? "splicer" : FILENAME }' arcs.tsv >a
	awk -F '\t' -v OFS='\t' '{ print $0, NR == 1 ? "splicer" : FILENAME }' other.tsv >b
	plan_of 1 >plan.tsv
	matches 0 --order work a b
	has splicer other.tsv arcs.tsv
	has attempt 1 2
	has stands no yes
}

@test "two machines come to the same joints: neither is told unless it is typed at both" {
	printf 'arc\tsplicer\tmade_at\tclosure\theat_s\tnote\n' >arcs.tsv
	for m in a b; do
		for i in 1 2 3 4 5 6; do
			printf '%d\t%s\t2026-03-11T22:%d0:00\t%s\t25\t\n' "$i" $m $((i - 1)) \
				"$([ $i -ne 1 ] || echo cove)"
		done
	done >>arcs.tsv
	matches 1 --order work arcs.tsv
	[ "${#lines[@]}" -eq 1 ]
}

@test "two machines share a closure: one that goes on elsewhere takes no joint from the other, who typed them" {
	awk 'BEGIN {
		print "joint\tclosure\ttray\tslot\tcable_a\tfibre_a"
		for (j = 1; j <= 12; j++)
			printf "J%d\tcove\t%d\t%d\tin\t%d\n", j, int((j + 5) / 6), (j - 1) % 6 + 1, j
	}' >plan.tsv
	awk -v OFS='\t' 'BEGIN {
		print "arc\tsplicer\tmade_at\test_db\theat_s\tclosure\ttray\tcable_a\tfibre_a"
		for (i = 1; i <= 6; i++)
			print i, "a", sprintf("2026-03-11T22:%02d:00\t0.03\t40", i * 5), (i > 1 ? "\t" : "cove\t1"), (i < 6 ? "\t" : "in\t6")
		for (i = 1; i <= 12; i++)
			print i, "b", sprintf("2026-03-12T0%d:%02d:00\t0.03\t40", 2 + (i > 6), i * 4), (i > 1 ? "\t\t\t" : "cove\t2\tin\t7")
	}' >arcs.tsv
	matches 1 --order work --odds 20 arcs.tsv
	has joint J1 J2 J3 J4 J5 J6 J7 J8 J9 J10 J11 J12
	found unplaced 14 15 16 17 18 19
}

@test "numbers as far apart as they can be are two runs: time orders them" {
	arcs "-9000000000000000000 11T22:00 0.02 pass 25 ." "9000000000000000000 11T21:50 0.02 pass 25 ."
	matches 1 arcs.tsv
	[ "$(awk '/^arcs/ { print $2 }' found.tsv | uniq)" = "$(printf '%s\n' 3 2)" ] || { cat found.tsv; false; }
}

@test "a missing number of the counter is a record that was lost" {
	arcs "1 11T22:00 0.02 pass 25 J1" "2 11T22:10 0.01 pass 25 ." "4 11T22:30 0.03 pass 25 ." \
		"5 11T22:40 0.02 pass 25 ." "6 11T22:50 0.04 pass 25 J6"
	matches 0 --order work --odds 10 arcs.tsv
	has joint J1 J2 J4 J5 J6
	found unrecorded 4
	# without a gap in the numbers nobody knows which joint was left out
	sed -i 's/^4/3/; s/^5/4/; s/^6/5/; s/22:30/22:22/; s/22:40/22:34/; s/22:50/22:46/' arcs.tsv
	matches 1 --order work --odds 10 arcs.tsv
	has joint J1 J6
	found unsure 3 4 5
}

# --- ribbons -------------------------------------------------------------------------------------

# ribbons N: a plan of N ribbons of four, one a slot
ribbons() {
	printf 'joint\tclosure\ttray\tslot\tribbon_a\tposition\n'
	for i in $(seq $((4 * $1))); do
		printf 'J%02d\tcove\t1\t%d\tR%d\t%d\n' "$i" $(((i + 3) / 4)) $(((i + 3) / 4)) $(((i - 1) % 4 + 1))
	done
}

@test "an arc of a ribbon machine is as many joints, positions in order" {
	ribbons 3 >plan.tsv
	printf 'arc\tmade_at\test_db\theat_s\tfibres_n\tjoint\n' >arcs.tsv
	printf '%d\t2026-03-11T22:%d0:00\t0.0%d\t40\t4\t%s\n' 1 0 1 J01 2 1 2 '' 3 2 3 J12 >>arcs.tsv
	matches 0 --order work --odds 20 arcs.tsv
	has joint J01 J02 J03 J04 J05 J06 J07 J08 J09 J10 J11 J12
	has position 1 2 3 4 1 2 3 4 1 2 3 4
	has arc 1 1 1 1 2 2 2 2 3 3 3 3
	# the plan's ribbons say how many, if the arcs do not
	cut -f 1-4,6 arcs.tsv >a && mv a arcs.tsv
	matches 0 --order work --odds 20 arcs.tsv
	[ "${#lines[@]}" -eq 13 ]
}

@test "rows of one arc are its fibres, each with its own estimate" {
	ribbons 2 >plan.tsv
	printf 'arc\tmade_at\tposition\test_db\theat_s\tfibres_n\tjoint\n' >arcs.tsv
	for arc in 1 2; do
		for p in 3 1 4 2; do
			printf '%d\t2026-03-11T22:%d0:00\t%d\t0.%d%d\t40\t4\t%s\n' $arc $arc $p 0 $p \
				"$([ $p -ne 1 ] || echo "J0$((4 * arc - 2))")"
		done
	done >>arcs.tsv
	matches 0 --order work --odds 20 arcs.tsv
	has joint J01 J02 J03 J04 J05 J06 J07 J08
	has est_db 0.01 0.02 0.03 0.04 0.01 0.02 0.03 0.04
}

# --- what people know ----------------------------------------------------------------------------

@test "a mistyped fibre: the order of work stands, an error names both" {
	printf 'arc\tmade_at\tcable_a\tfibre_a\theat_s\n' >arcs.tsv
	printf '%d\t2026-03-11T22:%d0:00\tin\t%d\t25\n' 1 0 1 2 1 2 3 2 6 4 3 4 5 4 5 6 5 6 >>arcs.tsv
	matches 1 --order work --odds 20 arcs.tsv
	has joint J1 J2 J3 J4 J5 J6
	[ "$(awk -F '\t' '$5 == "typed" { print $2, $4, $7, $9 }' found.tsv)" = \
		"4 J3 in 6 by the order of work arc 3 is J3" ]
}

@test "a value that is left over does not take a standing joint" {
	arcs "1 11T22:00 0.02 pass 25 J1" "2 11T22:10 0.01 pass 25 J2" "3 11T22:20 0.03 pass 25 J2" \
		"4 11T22:30 0.02 pass 25 J4" "5 11T22:40 0.02 pass 25 J5" "6 11T22:50 0.04 pass 25 J6"
	matches 0 --order work --odds 5 arcs.tsv
	has joint J1 J2 J3 J4 J5 J6
}

@test "a return to a joint that was left out" {
	arcs "1 11T22:00 0.02 pass 25 J1" "2 11T22:10 0.01 pass 25 ." "3 11T22:20 0.03 pass 25 J4" \
		"4 11T22:30 0.02 pass 25 J5" "5 11T22:40 0.02 pass 25 ." "6 11T22:50 0.04 pass 25 J3"
	matches 0 --order work --odds 20 arcs.tsv
	has joint J1 J2 J4 J5 J6 J3
}

@test "visits say which machine stood where, and in which order" {
	plan_of 3 >plan.tsv
	plan_of 3 | tail -n +2 | sed 's/^J/K/; s/cove/bay/' >>plan.tsv
	printf 'arc\tsplicer\tmade_at\theat_s\n' >arcs.tsv
	printf '%d\tm\t2026-03-11T22:%d0:00\t25\n' 1 0 2 1 3 2 >>arcs.tsv
	printf '%d\tm\t2026-03-11T23:%d0:00\t25\n' 4 3 5 4 6 5 >>arcs.tsv
	matches 1 arcs.tsv
	[ "${#lines[@]}" -eq 1 ]
	found unplaced 2 3 4 5 6 7
	printf '%s\t%s\t%s\t%s\t%s\t%s\n' splicer closure tray from_at to_at order \
		m bay 1 2026-03-11T21:50 2026-03-11T22:50 work m cove 1 2026-03-11T23:20 '' reverse >visits.tsv
	matches 0 --visits visits.tsv --odds 10 arcs.tsv
	has joint K1 K2 K3 J3 J2 J1
}

@test "questions begin with the one that settles most; filled in they are the answers" {
	six
	sed -i 's/J6$//; s/^6/5/; 4d' arcs.tsv
	matches 1 --order work --questions q.tsv arcs.tsv
	[ "$(head -n 1 q.tsv)" = $'splicer\tarc\tis\tjoint\tsettles\tmade_at\tsays\tlikely' ]
	[ "$(wc -l <q.tsv)" -ge 2 ]
	awk -F '\t' 'NR > 2 && $5 > last { exit 1 } NR > 1 { last = $5 }' q.tsv
	arc=$(sed -n 2p q.tsv | cut -f 2)
	awk -F '\t' -v OFS='\t' 'NR == 2 { $3 = "joint"; $4 = "J" ($2 + ($2 > 2)) } 1' q.tsv >answers.tsv
	run --separate-stderr "$match" --plan plan.tsv --order work --answers answers.tsv arcs.tsv
	grep -q "$arc" <<<"$output"
	[ "${#lines[@]}" -gt 2 ]
}

@test "answers: retry, practice, elsewhere" {
	arcs "1 11T22:00 0.02 pass 25 J1" "2 11T22:10 0.01 pass 25 ." "3 11T22:20 0.03 pass 25 ." \
		"4 11T22:30 0.02 pass 25 ." "5 11T22:40 0.02 pass 25 J2"
	printf 'splicer\tarc\tis\tjoint\n\t2\tretry\t\n\t3\tpractice\t\n\t4\telsewhere\t\n' >answers.tsv
	matches 0 --order work --answers answers.tsv --odds 20 arcs.tsv
	has joint J1 J1 J2
	has attempt 1 2 1
	found practice 4
	found elsewhere 5
	printf '\t77\tpractice\t\n' >>answers.tsv
	matches 0 --order work --answers answers.tsv --odds 20 arcs.tsv
	grep -q $'no-arc\twarning\tarc 77 of ' found.tsv
}

@test "attempts of other nights go on counting; the latest standing one stands" {
	six
	printf 'joint\tattempt\tstands\tmade_at\n' >earlier.tsv
	printf '%s\n' $'J1\t1\tno\t2026-03-10T22:00:00Z' $'J1\t2\tno\t2026-03-10T22:10:00Z' \
		$'J9\t1\tyes\t2026-03-10T22:10:00Z' >>earlier.tsv
	matches 0 --order work --earlier earlier.tsv arcs.tsv
	has attempt 3 1 1 1 1 1
	has stands yes yes yes yes yes yes
	# made again by another crew, later
	sed -i '3s/no.*/yes\t2026-03-20T22:10:00Z/' earlier.tsv
	run "$match" --plan plan.tsv --order work --earlier earlier.tsv --odds 5 arcs.tsv
	[ "$(sed -n 's/^J1\t3\t\([a-z]*\).*/\1/p' <<<"$output")" = no ]
}

@test "arcs of earlier nights that are read out again are not new work" {
	six
	sed -e '1s/$/\tsplicer/' -e '2,$s/$/\tw1/' arcs.tsv >named.tsv
	again() {
		run --separate-stderr -0 "$match" --plan plan.tsv --order work --findings found.tsv -o "$@" named.tsv
		[ -z "$stderr" ] || [[ $stderr == *" warning"* ]] || { echo "$stderr"; false; }
	}
	again all.tsv
	[ "$(wc -l <all.tsv)" -eq 7 ]
	again none.tsv --earlier all.tsv
	[ "$(wc -l <none.tsv)" -eq 1 ]
	grep -q $'repeated\twarning.*joints of an earlier night: 1 to 6$' found.tsv
	# half of them: the others are what they are alone
	head -n 4 all.tsv >half.tsv
	again rest.tsv --earlier half.tsv
	[ "$(tail -n +2 rest.tsv)" = "$(tail -n +5 all.tsv)" ] || { cat rest.tsv; false; }
	again rest.tsv --earlier half.tsv --each-arc
	[ "$(grep -c 'a joint of an earlier night$' found.tsv)" -eq 3 ]
	# by times put right, as the joints have them
	again all.tsv --clock w1=60
	again none.tsv --clock w1=60 --earlier all.tsv
	[ "$(wc -l <none.tsv)" -eq 1 ]
}

@test "a night of rework: joints made again in closures that are done are told if they are typed" {
	{
		printf 'joint\tclosure\ttray\tslot\n'
		for c in A B; do
			for i in $(seq 24); do
				printf '%s-%s\t%s\t%s\t%s\n' $c "$i" $c $(((i + 11) / 12)) $(((i - 1) % 12 + 1))
			done
		done
	} >done.tsv
	awk -F '\t' 'NR == 1 { print $0 "\tattempt\tstands\tmade_at"; next } { print $0 "\t1\tyes\t2026-03-11T22:00:00Z" }' done.tsv >earlier.tsv
	printf '%s\n' $'arc\tsplicer\tmade_at\test_db\ttension\theat_s\tclosure\ttray\tjoint' \
		$'31\tw1\t2026-03-20T22:00:00Z\t0.02\tpass\t30\tA\t1\tA-7' \
		$'32\tw1\t2026-03-20T23:10:00Z\t0.03\tpass\t31\tB\t2\tB-20' >again.tsv
	run --separate-stderr -0 "$match" --plan done.tsv --order work --earlier earlier.tsv again.tsv
	[ "$(cut -f 1-3 <<<"$output" | sed 1d)" = $'A-7\t2\tyes\nB-20\t2\tyes' ] || { echo "$output"; echo "$stderr"; false; }
}

# --- what is left --------------------------------------------------------------------------------

@test "the odds say what is sure enough" {
	six
	matches 0 --order work --odds 1 arcs.tsv
	[ "${#lines[@]}" -eq 7 ]
	matches 1 --order work --odds 100000 arcs.tsv
	[ "${#lines[@]}" -lt 7 ]
	grep -q $'unsure\terror\tarc [12] of ' found.tsv
}

@test "a night's findings are a row a stretch unless single arcs are asked for" {
	six
	sed -i 's/J6$//; s/^6/5/; 4d' arcs.tsv
	run -1 "$match" --plan plan.tsv --order work --findings found.tsv -o joints.tsv arcs.tsv
	[ "$(grep -c unsure found.tsv)" -eq 1 ]
	[ "$(grep -c unrecorded found.tsv)" -eq 1 ]
	run -1 "$match" --plan plan.tsv --order work --each-arc --findings found.tsv -o joints.tsv arcs.tsv
	[ "$(grep -c unsure found.tsv)" -gt 3 ]
}

@test "closures nobody named are not guessed" {
	six
	sed -i 's/J[16]$//' arcs.tsv
	plan_of 6 | tail -n +2 | sed 's/^J/K/; s/cove/bay/' >>plan.tsv
	matches 1 --order work arcs.tsv
	[ "${#lines[@]}" -eq 1 ]
	found unplaced 2 3 4 5 6 7
	grep -q 'work in a closure nobody has named: 1 to 6$' found.tsv
}

@test "what is not in the plan is work elsewhere" {
	printf 'arc\tmade_at\tclosure\theat_s\tnote\n' >arcs.tsv
	printf '%s\n' $'1\t2026-03-11T22:00:00\tcove\t25\tJ1' $'2\t2026-03-11T22:10:00\t\t25\tJ2' \
		$'3\t2026-03-11T23:40:00\tbay\t25\t' $'4\t2026-03-11T23:50:00\tbay\t25\t' >>arcs.tsv
	matches 0 --order work --odds 20 arcs.tsv
	has joint J1 J2
	found elsewhere 4 5
}

@test "where a closure was typed, work is not said to be in one that nobody named" {
	plan_of 6 | awk -F '\t' -v OFS='\t' 'NR > 1 { $3 = 1; $4 = NR - 1 } 1' >plan.tsv
	awk 'BEGIN {
		print "arc\tmade_at\theat_s\tclosure"
		for (i = 1; i <= 12; i++)
			printf "%d\t2026-03-11T%d:%02d:00\t40\t%s\n", i, 20 + 2 * (i > 6), i * 4, i % 6 == 1 ? "cove" : ""
	}' >arcs.tsv
	matches 1 --order work --odds 20 arcs.tsv
	! grep -q unplaced found.tsv || { cat found.tsv; false; }
	# nor where one was that the plan does not have
	sed -i '8s/cove/bay/' arcs.tsv
	matches 0 --order work --odds 20 arcs.tsv
	found elsewhere 8 9 10 11 12 13
}

@test "an arc without a time of day is nowhere" {
	six
	printf '7\t2026-03-11\t0.02\tpass\t25\t\n8\t\t0.02\tpass\t25\t\n' >>arcs.tsv
	matches 1 --order work arcs.tsv
	has joint J1 J2 J3 J4 J5 J6
	found no-time 8 9
}

@test "every arc is in exactly one of the two tables" {
	run --separate-stderr -1 "$match" --plan "$samples/plan.tsv" --order work --clock weaver-2=745 \
		--findings found.tsv --each-arc -o joints.tsv "$night/arcs.tsv"
	{
		awk -F '\t' 'NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; next }
			{ print $at["splicer"], $at["arc"] }' joints.tsv
		awk -F '\t' '$5 ~ /^(unsure|slot-order|twice|unplaced|practice|elsewhere)$/ {
			split($7, w, " "); print w[4], w[2] }' found.tsv | sort -u
	} | sort >got
	awk -F '\t' 'FNR > 1 { print $2, $1 }' "$night/arcs.tsv" | sort | cmp - got
}

@test "the sample's arcs are what the records of the nights say" {
	"$match" --plan "$samples/plan.tsv" --order work --clock weaver-2=745 -o joints.tsv "$night/arcs.tsv" ||
		[ $? -eq 1 ]
	# larkrope.tsv lacks a row that was set aside: its degree sign is not UTF-8
	LC_ALL=C sed 's/\xb0//' "$samples/exports/larkrope.csv" |
		"$bin/thrum-import" -m "$samples/exports/larkrope.map.tsv" -o larkrope.tsv
	# machine and number of the arc, joint, stands; an earlier attempt may be left; QUO-022 has its number written wrongly
	for f in joints.tsv larkrope.tsv "$samples/night1.tsv" "$night/quoinmere.tsv"; do
		awk -F '\t' 'NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; next }
			{
				n = "arc" in at ? $at["arc"] : $at["arcs_n"]
				sub(/\..*/, "", n)
				print $at["splicer"], n, $at["joint"], $at["stands"], $at["shift"]
			}' "$f" | sort >"$(basename "$f").key"
	done
	sort night1.tsv.key larkrope.tsv.key quoinmere.tsv.key >truth
	[ "$(wc -l <joints.tsv.key)" -ge 110 ]
	comm -23 joints.tsv.key truth >wrong
	[ ! -s wrong ] || { cat wrong; false; }
}

@test "nights of a second simulation: told as the page says, hardly any wrongly" {
	# KIND, told at least, wrong at most, both in percent
	while read -r kind told wrong; do
		run -0 python3 "$BATS_TEST_DIRNAME/match/crew.py" score "$match" 4 "$kind" 50 8
		awk -v told="$told" -v wrong="$wrong" '{ gsub(/[%,]/, ""); exit !($6 >= told && $10 <= wrong) }' \
			<<<"$output" || { echo "$output"; false; }
	done <<-'END'
		all1 90 1
		careful10 50 2
		ribbon 30 2
	END
}

@test "nights by another hand, who knew the page alone: every fibre typed, and careful typing" {
	# of joints told at 50 to 1 at most so many wrong, in percent
	while read -r habit told wrong; do
		run -0 python3 "$BATS_TEST_DIRNAME/match/second.py" "$(dirname "$match")" --seed 7 --nights 6 --habit "$habit" --odds 50
		awk -v told="$told" -v wrong="$wrong" 'NR == 2 { exit !($6 >= told && $7 <= wrong) }' <<<"$output" ||
			{ echo "$output"; false; }
	done <<-'END'
		all-1pc 90 1
		careful 40 2
	END
}

# --- refusals ------------------------------------------------------------------------------------

@test "wrong use" {
	six
	refused_wholly "--plan FILE is needed" arcs.tsv
	refused_wholly "--order: none of: work reverse alternate plan: 'tray'" --plan plan.tsv --order tray arcs.tsv
	refused_wholly "--clock: no arc of this splicer: 'm'" --plan plan.tsv --clock m=1 arcs.tsv
	refused_wholly "--clock: not a whole number of seconds: '1.5'" --plan plan.tsv --clock m=1.5 arcs.tsv
	refused_wholly "--night-begins: outside 0 to 23: '24'" --plan plan.tsv --night-begins 24 arcs.tsv
	refused_wholly "--odds: outside 1 to 100000: '0.5'" --plan plan.tsv --odds 0.5 arcs.tsv
}

@test "tables that cannot be read" {
	six
	cut -f 1,3- arcs.tsv >no.tsv
	run --separate-stderr -2 "$match" --plan plan.tsv no.tsv
	[[ $stderr == "thrum-match: no.tsv:1: no column 'made_at'"* ]]
	cut -f 2- plan.tsv >no.tsv
	run --separate-stderr -2 "$match" --plan no.tsv arcs.tsv
	[[ $stderr == "thrum-match: no.tsv:1: no column 'joint'"* ]]
	sed '3s/J2/J1/' plan.tsv >no.tsv
	refused_wholly "no.tsv:3: column 'joint': a second row of this joint: 'J1'" --plan no.tsv arcs.tsv
	sed '3s/cove//' plan.tsv >no.tsv
	refused_wholly "no.tsv:3: column 'closure': is empty: ''" --plan no.tsv arcs.tsv
	sed '3s/join/joined/' plan.tsv >no.tsv
	refused_wholly "no.tsv:3: column 'state': none of: join express parked dead: 'joined'" --plan no.tsv arcs.tsv
	sed '3s/0.01/0,01/' arcs.tsv >no.tsv
	refused_wholly "no.tsv:3: column 'est_db': decimal comma: write a point: '0,01'" --plan plan.tsv no.tsv
	sed '3s/pass/ok/' arcs.tsv >no.tsv
	refused_wholly "no.tsv:3: column 'tension': none of: pass fail: 'ok'" --plan plan.tsv no.tsv
	sed '3s/+00:00//' arcs.tsv >no.tsv
	refused_wholly "some arcs were made at a time with a zone, others without: they cannot be put in order" \
		--plan plan.tsv no.tsv
}

@test "what people state and cannot be" {
	six
	printf 'splicer\tarc\tis\tjoint\n\t2\tjoint\t%s\n' J99 >no.tsv
	refused_wholly "no.tsv:2: column 'joint': the plan has no such joint: 'J99'" --plan plan.tsv --answers no.tsv arcs.tsv
	printf 'splicer\tarc\tis\tjoint\n\t2\tjoint\t\n' >no.tsv
	refused_wholly "no.tsv:2: column 'joint': is empty: say which: ''" --plan plan.tsv --answers no.tsv arcs.tsv
	printf 'splicer\tarc\tis\n\t2\tjoined\n' >no.tsv
	refused_wholly "no.tsv:2: column 'is': none of: joint retry practice elsewhere: 'joined'" --plan plan.tsv --answers no.tsv arcs.tsv
	printf 'splicer\tclosure\ttray\tfrom_at\n\tcove\t9\t2026-03-11T21:00Z\n' >no.tsv
	refused_wholly "no.tsv:2: column 'tray': the plan has no such tray in this closure: '9'" --plan plan.tsv --visits no.tsv arcs.tsv
	printf 'splicer\tclosure\tfrom_at\n\tcove\t2026-03-11T21:00\n' >no.tsv
	refused_wholly "no.tsv:2: column 'from_at': without a zone, which the arcs have: '2026-03-11T21:00'" --plan plan.tsv --visits no.tsv arcs.tsv
	printf 'splicer\tclosure\tfrom_at\tto_at\n\tcove\t2026-03-11T21:00Z\t2026-03-11T20:00Z\n' >no.tsv
	refused_wholly "no.tsv:2: column 'to_at': before from_at: '2026-03-11T20:00Z'" --plan plan.tsv --visits no.tsv arcs.tsv
	printf 'joint\tattempt\nJ1\t0\n' >no.tsv
	refused_wholly "no.tsv:2: column 'attempt': outside 1 to 100000: '0'" --plan plan.tsv --earlier no.tsv arcs.tsv
}

@test "an empty table, an empty plan" {
	six
	head -n 1 arcs.tsv >none.tsv
	matches 0 --order work none.tsv
	[ "${#lines[@]}" -eq 1 ]
	found unrecorded 2 3 4 5 6 7
	head -n 1 plan.tsv >p && mv p plan.tsv
	sed -i 's/J[16]$//' arcs.tsv
	matches 1 --order work arcs.tsv
	[ "${#lines[@]}" -eq 1 ]
	found unplaced 2 3 4 5 6 7
}

@test "the same bytes from a pipe, in another locale, and twice" {
	head -n 100 "$night/arcs.tsv" >a.tsv
	{ head -n 1 "$night/arcs.tsv" && tail -n +101 "$night/arcs.tsv"; } >b.tsv
	args=(--plan "$samples/plan.tsv" --order work a.tsv b.tsv)
	"$match" "${args[@]}" --findings found1.tsv >1.tsv || [ $? -eq 1 ]
	"$match" --plan "$samples/plan.tsv" --order work --findings found2.tsv - b.tsv <a.tsv \
		>2.tsv || [ $? -eq 1 ]
	cmp 1.tsv 2.tsv
	TZ=UTC-9 LC_ALL=C.UTF-8 "$match" "${args[@]}" --findings found3.tsv >3.tsv || [ $? -eq 1 ]
	cmp 1.tsv 3.tsv
	cmp found1.tsv found3.tsv
}

# typed FIRST COLUMN: 24 joints of two trays; each from FIRST to 24 made once, COLUMN typed, closure and tray at the first
typed() {
	awk 'BEGIN {
		print "joint\tclosure\ttray\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b"
		for (j = 1; j <= 24; j++)
			printf "J%d\tcove\t1\t%d\tin\t%d\tout\t%d\n", j, j, j, j + 12
	}' >plan.tsv
	awk -v first="$1" -v column="$2" 'BEGIN {
		printf "arc\tmade_at\test_db\theat_s\tclosure\ttray\t%s\n", column
		for (j = first; j <= 24; j++)
			printf "%d\t2026-03-11T%02d:%02d:00\t%s\t40\t%s\t%s\t%s\n", j, 20 + int(j / 12), j * 5 % 60,
				j == 3 ? 0.3 : 0.03, j == first ? "cove" : "", j == first ? 1 : "", column == "joint" ? "J" j : j
	}' >arcs.tsv
}

@test "a kept joint of a closure where all is made, made again: the old one is not told, and an answer is believed" {
	typed 1 joint
	printf '25\t2026-03-11T22:07:00\t0.02\t40\t\t\tJ3\n' >>arcs.tsv
	matches 1 --order work --odds 1000 arcs.tsv
	! grep '^J3	' <<<"$output" || false
	printf 'splicer\tarc\tis\tjoint\n\t25\tjoint\tJ3\n' >answers.tsv
	matches 0 --order work --answers answers.tsv arcs.tsv
	[ "$(grep '^J3	' <<<"$output" | cut -f 1-3)" = $'J3\t1\tno\nJ3\t2\tyes' ]
}

@test "a fibre typed without its cable is of side a" {
	typed 13 fibre_a
	matches 0 --order work --odds 50 arcs.tsv
	has joint J13 J14 J15 J16 J17 J18 J19 J20 J21 J22 J23 J24
}

@test "an arc on which a joint is typed is not passed over as practice" {
	# all is typed, but the joints of four trays were made in no order
	read -ra made <<<"44 15 45 9 5 35 2 14 19 34 33 46 40 26 11 38 37 12 21 17 20 22 29 32 10 3 18 43 25 23 47 41 0 27 39 1 42 6 13 24 30 28 31 7 16 4 36 8"
	printf '%s\n' joint$'\t'closure$'\t'tray$'\t'slot$'\t'cable_a$'\t'fibre_a$'\t'cable_b$'\t'fibre_b >plan.tsv
	printf 'arc\tmade_at\test_db\tjoint\tclosure\ttray\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b\n' >arcs.tsv
	for i in {0..47}; do
		printf 'J%d\tC\t%d\t%d\ta\t%d\tb\t%d\n' "$i" $((i / 12 + 1)) $((i % 12 + 1)) $((i + 1)) $((i + 1)) >>plan.tsv
		j=${made[i]}
		printf '%d\t2026-03-11T%02d:%02d:00\t0.05\tJ%d\tC\t%d\t%d\ta\t%d\tb\t%d\n' $((i + 1)) $((12 + i / 12)) $((i % 12 * 5)) \
			"$j" $((j / 12 + 1)) $((j % 12 + 1)) $((j + 1)) $((j + 1)) >>arcs.tsv
	done
	run --separate-stderr -1 "$match" --plan plan.tsv --order work --findings f.tsv --questions q.tsv -o out.tsv arcs.tsv
	[ "$(cut -f 5 f.tsv | grep -c practice)" = 0 ]
	grep -q $'\tunsure\terror' f.tsv
	[ "$(wc -l <q.tsv)" -ge 2 ]
}
