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

# matches STATUS ARGUMENT...: this exit status; found.tsv are the findings
matches() {
	local want=$1

	shift
	run --separate-stderr "-$want" "$match" --plan plan.tsv --findings found.tsv "$@"
	if [ "$want" -eq 0 ]; then [ -z "$stderr" ] || { echo "stderr: $stderr"; false; }; fi
}

# found RULE LINE...: the lines of the arcs (or, of unrecorded, of the plan) with this finding
found() {
	local rule=$1 got

	shift
	got=$(awk -F '\t' -v rule="$rule" '$5 == rule { print $2 }' found.tsv)
	[ "$got" = "$(printf '%s\n' "$@")" ] || { cat found.tsv; false; }
}

# finding RULE TEXT: the finding of this rule says this
finding() {
	[ "$(awk -F '\t' -v rule="$1" '$5 == rule { print $9 }' found.tsv)" = "$2" ] ||
		{ cat found.tsv; false; }
}

# --- joints --------------------------------------------------------------------------------------

@test "arcs between two typed joints are the joints between" {
	six
	matches 0 arcs.tsv
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
	matches 0 arcs.tsv
	has joint J1 J2 J2 J2 J3
	has attempt 1 1 2 3 1
	has stands yes no no yes yes
}

@test "practice is set apart, with the reason" {
	arcs "1 11T21:50 0.02 . . ." "2 11T21:52 0.04 . . ." "3 11T22:02 0.02 pass 25 J1" \
		"4 11T22:12 0.01 pass 25 ." "5 11T22:13 0.01 . . ." "6 11T22:22 0.03 pass 25 J3"
	matches 0 arcs.tsv
	has joint J1 J2 J3
	found practice 2 3 6
	awk -F '\t' '$2 == 6 { print $9 }' found.tsv |
		grep -qx 'practice: not kept, 60 s after the arc before; else most likely J3'
	found unrecorded 5 6 7
	awk -F '\t' '$5 == "unrecorded" { print $1, $4, $9 }' found.tsv >got
	printf 'plan.tsv J%d no arc is this joint\n' 4 5 6 | cmp - got
}

@test "words of a note: practice, retry, a joint" {
	arcs "1 11T22:00 0.02 pass 25 J1,_dry" "2 11T22:10 0.01 pass 25 broken,_retry" \
		"3 11T22:20 0.02 pass 25 practice" "4 11T22:30 0.03 pass 25 (J9;_J2:" \
		"5 11T22:40 0.03 pass 25 J3_not_J2"
	matches 1 arcs.tsv
	has joint J1 J1 J2
	has note "J1, dry" "broken, retry" "(J9; J2:"
	found practice 4
	finding practice 'practice, as was typed'
	found left 6 # two joints are named, so none is
}

@test "fibres may be typed from either side; slot, tray and closure are taken together" {
	printf 'made_at\tclosure\ttray\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b\n' >arcs.tsv
	printf '2026-03-11T22:%s\n' $'00\t\t\t\tin\t1\t\t' $'10\t\t\t\tout\t2\t\t' \
		$'20\t\t\t\tout\t3\tin\t3' $'30\tcove\t2\t1\t\t\t\t' $'40\t\t\t\t\t\tin\t5' \
		$'50\t\t2\t3\t\t\t\t' >>arcs.tsv
	matches 0 arcs.tsv
	has joint J1 J2 J3 J4 J5 J6
	has cable_a in in in in in in
}

@test "the order of work is tray and slot by number, or the plan's own" {
	six
	plan_of 12 | awk -F '\t' -v OFS='\t' 'NR > 1 { $3 = 1; $4 = NR - 1 } NR == 1 || NR > 7' >plan.tsv
	printf '%s\n' "$(sort -r plan.tsv)" >reverse.tsv # J9 J8 J7 J12 J11 J10, below the header
	head -n 1 plan.tsv >plan2.tsv
	grep '^J[0-9]' reverse.tsv >>plan2.tsv
	mv plan2.tsv plan.tsv
	sed -i 's/J1$/J7/; s/J6$/J12/' arcs.tsv
	matches 0 arcs.tsv
	has joint J7 J8 J9 J10 J11 J12
	sed -i 's/J7$/J9/; s/J12$/J10/' arcs.tsv
	matches 0 --order plan arcs.tsv
	has joint J9 J8 J7 J12 J11 J10
}

@test "express and parked fibres, mechanical joints and connectors have no arc" {
	six
	{
		printf 'J7\tcove\t1\t2\tin\t7\tout\t7\texpress\tfusion\n'
		printf '\tcove\t1\t2\tin\t8\tout\t8\tparked\t\n'
		printf 'J8\tcove\t1\t2\tin\t8\tout\t8\tjoin\tmechanical\n'
		printf 'J9\tcove\t1\t2\tin\t9\tout\t9\tjoin\tconnector\n'
	} >>plan.tsv
	matches 0 arcs.tsv
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
	matches 0 arcs.tsv
	has kind ribbon fusion fusion fusion fusion fusion
	has expected_db 0.04 0.04 0.04 0.04 0.04 0.04
	has own p2 p3 p4 p5 p6 p7
	has extra '"2' '"3' '"4' '"5' '"6' '"7'
	has stands yes yes yes yes yes yes
	# running it on what it made changes nothing
	printf '%s\n' "$output" >once.tsv
	"$match" --plan plan.tsv once.tsv >twice.tsv
	cmp once.tsv twice.tsv
}

# --- machines and clocks -------------------------------------------------------------------------

@test "the order of rows and files does not matter, nor a row that is there twice" {
	six
	matches 0 arcs.tsv
	want=$output
	{ head -n 1 arcs.tsv; tail -n +2 arcs.tsv | sort -r | head -n 4; } >1.tsv
	{ head -n 1 arcs.tsv; tail -n +2 arcs.tsv | sort -r | tail -n 4; } >2.tsv
	matches 0 1.tsv 2.tsv
	[ "$output" = "$want" ]
	found repeated 3 2
	run --separate-stderr -0 "$match" --plan plan.tsv <arcs.tsv
	[ "$output" = "$want" ]
}

@test "a clock's correction keeps zone, seconds and decimals as they were written" {
	printf 'splicer\tmade_at\tnote\n' >arcs.tsv
	printf 'm\t%s\n' $'2026-02-28T23:59+02:00\tJ1' $'2026-03-01T00:09:30.25+0200\tJ2' \
		$'2026-03-01T00:20:00+02:00\tJ3' $'2026-03-01T11:58:00+02:00\tJ4' >>arcs.tsv
	matches 0 --clock m=120 arcs.tsv
	has made_at 2026-03-01T00:01+02:00 2026-03-01T00:11:30.25+0200 2026-03-01T00:22:00+02:00 \
		2026-03-01T12:00:00+02:00
	has shift 2026-02-28 2026-02-28 2026-02-28 2026-03-01
	matches 0 --clock m=-61 --night-begins 0 arcs.tsv
	has made_at 2026-02-28T23:57:59+02:00 2026-03-01T00:08:29.25+0200 2026-03-01T00:18:59+02:00 \
		2026-03-01T11:56:59+02:00
	has shift 2026-02-28 2026-03-01 2026-03-01 2026-03-01
	matches 0 --clock m=0 arcs.tsv
	has made_at 2026-02-28T23:59+02:00 2026-03-01T00:09:30.25+0200 2026-03-01T00:20:00+02:00 \
		2026-03-01T11:58:00+02:00
}

@test "years and leap days by the clock" {
	printf 'splicer\tmade_at\tnote\n' >arcs.tsv
	printf 'm\t%s\n' $'2023-12-31T23:59:59\tJ1' $'2024-02-28T23:59:59\tJ2' $'2024-02-29T23:59:59\tJ3' \
		$'2100-02-28T23:59:59\tJ4' $'0000-02-28T23:59:59\tJ5' $'9999-12-31T23:59:57\tJ6' >>arcs.tsv
	matches 0 --clock m=1 arcs.tsv
	has made_at 0000-02-29T00:00:00 2024-01-01T00:00:00 2024-02-29T00:00:00 2024-03-01T00:00:00 \
		2100-03-01T00:00:00 9999-12-31T23:59:58
	refused_wholly "arcs.tsv:7: column 'made_at': by --clock outside the years 0000 to 9999: '9999-12-31T23:59:57'" \
		--plan plan.tsv --clock m=9 arcs.tsv
}

@test "two machines at once: each has its own way; rows come by time" {
	plan_of 3 >plan.tsv
	plan_of 3 | tail -n +2 | sed 's/^J/K/; s/cove/bay/; s/in/up/; s/out/down/' >>plan.tsv
	printf 'arc\tsplicer\tmade_at\tclosure\theat_s\n' >arcs.tsv
	for i in 1 2 3; do
		printf '%d\ta\t2026-03-11T22:%d0:00\t%s\t25\n' "$i" "$i" "$([ $i -ne 1 ] || echo cove)"
		printf '%d\tb\t2026-03-11T22:%d5:00\t%s\t25\n' "$i" "$i" "$([ $i -ne 1 ] || echo bay)"
	done >>arcs.tsv
	matches 0 arcs.tsv
	has joint J1 K1 J2 K2 J3 K3
}

@test "a joint typed at two machines has attempts by time" {
	arcs "1 11T22:00 0.02 pass 25 J1"
	sed 's/22:00/21:00/' arcs.tsv >other.tsv
	awk -F '\t' -v OFS='\t' '{ print $0, NR == 1 ? "splicer" : FILENAME }' arcs.tsv >a
	awk -F '\t' -v OFS='\t' '{ print $0, NR == 1 ? "splicer" : FILENAME }' other.tsv >b
	plan_of 1 >plan.tsv
	matches 0 a b
	has splicer other.tsv arcs.tsv
	has attempt 1 2
	has stands no yes
}

# --- what is left --------------------------------------------------------------------------------

@test "a record lost anywhere leaves the stretch, with both readings" {
	arcs "1 11T22:00 0.02 pass 25 J1" "2 11T22:10 0.01 pass 25 ." "3 11T22:20 0.03 pass 25 ." \
		"4 11T22:30 0.02 pass 25 ." "5 11T22:40 0.04 pass 25 J6"
	matches 1 arcs.tsv
	[ "$stderr" = "thrum-match: 5 arcs, 2 matched, 1 error, 7 warnings" ]
	has joint J1 J6
	found ambiguous 3
	grep -q $'ambiguous\terror\tarcs 2 to 4\t' found.tsv
	finding ambiguous 'either J3 to J5; or J2 to J3, J5'
	found left 3 4 5
	found unrecorded 3 4 5 6
	grep -q $'J2\tunrecorded\twarning\t.*might be$' found.tsv
	# a gap twice as long tells where
	sed -i 's/22:20/22:30/; 5s/22:30/22:40/; 6s/22:40/22:50/' arcs.tsv
	matches 0 --threshold 1500 arcs.tsv
	has joint J1 J2 J4 J5 J6
	found unrecorded 4
}

@test "of two long readings only where they differ is said" {
	plan_of 30 >plan.tsv
	# every third joint was made twice, and one somewhere in the midst has no record
	awk -v OFS='\t' 'BEGIN {
		print "arc", "made_at", "est_db", "tension", "heat_s", "note"
		for (j = 1; j <= 30; j++) {
			for (bad = j % 3 == 2; j != 16 && bad >= 0; bad--) {
				at = sprintf("2026-03-11T%02d:%02d:00+00:00", 10 + t / 60, t % 60)
				print ++n, at, bad ? 0.4 : 0.02, bad ? "fail" : "pass", bad ? 0 : 25, \
					j % 29 == 1 ? "J" j : ""
				t += bad ? 4 : 10
			}
		}
	}' >arcs.tsv
	matches 1 arcs.tsv
	grep -q $'ambiguous\terror\tarcs 1 to 39\t' found.tsv
	finding ambiguous "they differ at arcs 1 to 21: \
either J1, J3 2 times, J4 to J6, J6 to J9 again, J9 to J12 again, J12 to J15 again, J15 to J17 again; \
or J1 to J2, J2 to J5 again, J5 to J8 again, J8 to J11 again, J11 to J14 again, J14 to J15 again, J17"
}

@test "of two long readings that differ at their first arc that is said" {
	plan_of 24 >plan.tsv
	# before the first joint an arc that may be practice; every third joint was made twice
	awk -v OFS='\t' 'BEGIN {
		print "arc", "made_at", "est_db", "tension", "heat_s", "note"
		print 1, "2026-03-11T08:00:00Z", 0.02, "pass", "", ""
		t = 5
		for (j = 1; j <= 24; j++)
			for (bad = j % 3 == 2; bad >= 0; bad--) {
				at = sprintf("2026-03-11T%02d:%02d:00Z", 8 + t / 60, t % 60)
				print ++n + 1, at, bad ? 0.4 : 0.02, bad ? "fail" : "pass", bad ? 0 : 25, \
					j == 24 ? "J24" : ""
				t += bad ? 4 : 10
			}
	}' >arcs.tsv
	matches 1 --threshold 60000 arcs.tsv
	finding ambiguous 'they differ at arcs 1 to 2: either practice, J1; or J1 2 times'
}

@test "the threshold says what is sure enough" {
	arcs "1 11T22:00 0.02 pass 25 J1" "2 11T22:10 0.01 pass 25 ." "3 11T22:20 0.03 pass 25 ." \
		"4 11T22:30 0.02 pass 25 ." "5 11T22:40 0.04 pass 25 J6"
	matches 0 --threshold 0 arcs.tsv
	[ "${#lines[@]}" -eq 6 ]
	six
	matches 1 --threshold 100000 arcs.tsv
	[ "${#lines[@]}" -eq 1 ] # even a typed joint might have one more attempt
}

@test "two machines that come to one joint are left, unless it was typed at both" {
	printf 'arc\tsplicer\tmade_at\tclosure\theat_s\tnote\n' >arcs.tsv
	for m in a b; do
		for i in 1 2 3 4 5 6; do
			printf '%d\t%s\t2026-03-11T22:%d0:00\t%s\t25\t\n' "$i" $m $((i - 1)) \
				"$([ $i -ne 1 ] || echo cove)"
		done
	done >>arcs.tsv
	matches 1 arcs.tsv
	[ "${#lines[@]}" -eq 1 ]
	found doubtful 2 8
	grep -q 'perhaps J1 to J6, but other arcs come to the same joints' found.tsv
}

@test "closures nobody named are not guessed" {
	six
	sed -i 's/J[16]$//' arcs.tsv
	plan_of 6 | tail -n +2 | sed 's/^J/K/; s/cove/bay/' >>plan.tsv
	matches 1 arcs.tsv
	[ "${#lines[@]}" -eq 1 ]
	found unplaced 2
	finding unplaced 'work in a closure nobody has named'
	found left 2 3 4 5 6 7
}

@test "what is not in the plan is outside; what contradicts itself is said" {
	printf 'arc\tmade_at\tclosure\tslot\theat_s\tnote\n' >arcs.tsv
	printf '%s\n' $'1\t2026-03-11T22:00:00\tcove\t\t25\tJ1' $'2\t2026-03-11T22:10:00\tcove\t9\t25\t' \
		$'3\t2026-03-11T22:20:00\t\t\t25\tJ3' $'4\t2026-03-11T23:40:00\tbay\t\t25\t' \
		$'5\t2026-03-11T23:50:00\t\t\t25\t' $'6\t2026-03-12T22:00:00\tbay\t\t25\tJ4' >>arcs.tsv
	matches 1 arcs.tsv
	has joint J1 J3
	found unfitting 3
	found outside 5 6 7
	run ! grep ambiguous found.tsv
}

@test "numbers that run against time make the visit doubtful" {
	six
	sed -i '4s/^3/33/' arcs.tsv
	matches 1 arcs.tsv
	found backward 5
	has joint J1 J6
	found left 3 4 5 6
}

@test "an arc without a time of day is nowhere" {
	six
	printf '7\t2026-03-11\t0.02\tpass\t25\t\n8\t\t0.02\tpass\t25\t\n' >>arcs.tsv
	matches 1 arcs.tsv
	has joint J1 J2 J3 J4 J5 J6
	found no-time 8 9
}

@test "every arc is in exactly one of the two tables" {
	run --separate-stderr -1 "$match" --plan "$samples/plan.tsv" --clock weaver-2=745 \
		--findings found.tsv -o joints.tsv "$night/arcs.tsv"
	{
		awk -F '\t' 'NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; next }
			{ print $at["splicer"], $at["arc"] }' joints.tsv
		awk -F '\t' '$5 ~ /^(left|practice|outside|no-time|repeated)$/ {
			split($7, w, " "); print w[4], w[2] }' found.tsv
	} | sort >got
	awk -F '\t' 'FNR > 1 { print $2, $1 }' "$night/arcs.tsv" | sort | cmp - got
}

@test "the sample's arcs are what the records of the nights say" {
	"$match" --plan "$samples/plan.tsv" --clock weaver-2=745 -o joints.tsv "$night/arcs.tsv" ||
		[ $? -eq 1 ]
	# larkrope.tsv lacks a row that was set aside: its degree sign is not UTF-8
	LC_ALL=C sed 's/\xb0//' "$samples/exports/larkrope.csv" |
		"$bin/thrum-import" -m "$samples/exports/larkrope.map.tsv" -o larkrope.tsv
	# machine and number of the arc, joint, attempt, stands; QUO-022 has its number written wrongly
	for f in joints.tsv larkrope.tsv "$samples/night1.tsv" "$night/quoinmere.tsv"; do
		awk -F '\t' 'NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; next }
			{
				n = "arc" in at ? $at["arc"] : $at["arcs_n"]
				sub(/\..*/, "", n)
				print $at["splicer"], n, $at["joint"], $at["attempt"], $at["stands"], $at["shift"]
			}' "$f" | sort >"$(basename "$f").key"
	done
	sort night1.tsv.key larkrope.tsv.key quoinmere.tsv.key >truth
	[ "$(wc -l <joints.tsv.key)" -ge 160 ]
	comm -23 joints.tsv.key truth >wrong
	# QUO-027's retry was numbered 1 again by whoever wrote the record
	grep -v 'QUO-027' wrong || [ $? -eq 1 ]
}

# --- refusals ------------------------------------------------------------------------------------

@test "wrong use" {
	six
	refused_wholly "--plan FILE is needed" arcs.tsv
	refused_wholly "--order: none of: work plan: 'tray'" --plan plan.tsv --order tray arcs.tsv
	refused_wholly "--clock: no arc of this splicer: 'm'" --plan plan.tsv --clock m=1 arcs.tsv
	refused_wholly "--clock: not a whole number of seconds: '1.5'" --plan plan.tsv --clock m=1.5 arcs.tsv
	refused_wholly "--night-begins: outside 0 to 23: '24'" --plan plan.tsv --night-begins 24 arcs.tsv
	refused_wholly "--threshold: outside 0 to 100000: '-1'" --plan plan.tsv --threshold -1 arcs.tsv
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
	refused_wholly "no.tsv:3: column 'state': none of: join express parked: 'joined'" --plan no.tsv arcs.tsv
	sed '3s/0.01/0,01/' arcs.tsv >no.tsv
	refused_wholly "no.tsv:3: column 'est_db': decimal comma: write a point: '0,01'" --plan plan.tsv no.tsv
	sed '3s/pass/ok/' arcs.tsv >no.tsv
	refused_wholly "no.tsv:3: column 'tension': none of: pass fail: 'ok'" --plan plan.tsv no.tsv
	sed '3s/+00:00//' arcs.tsv >no.tsv
	refused_wholly "some arcs were made at a time with a zone, others without: they cannot be put in order" \
		--plan plan.tsv no.tsv
}

@test "an empty table, an empty plan" {
	six
	head -n 1 arcs.tsv >none.tsv
	matches 0 none.tsv
	[ "${#lines[@]}" -eq 1 ]
	found unrecorded 2 3 4 5 6 7
	head -n 1 plan.tsv >p && mv p plan.tsv
	sed -i 's/J[16]$//' arcs.tsv
	matches 1 arcs.tsv
	[ "${#lines[@]}" -eq 1 ]
	found unplaced 2
}

# --- costs ---------------------------------------------------------------------------------------

@test "the built-in costs can be printed, changed and given" {
	"$match" --print-costs >costs.tsv
	six
	matches 0 --costs costs.tsv arcs.tsv
	has joint J1 J2 J3 J4 J5 J6
	sed -i 's/^high_db\t0.1/high_db\t0.01/; s/^\(threshold\t\)[0-9]*/\1100000/' costs.tsv
	matches 1 --costs costs.tsv arcs.tsv
	[ "${#lines[@]}" -eq 1 ]
}

@test "costs that cannot be used" {
	six
	"$match" --print-costs >costs.tsv
	grep -v ^stop costs.tsv >no.tsv
	refused_wholly "no.tsv: the row 'stop' is missing" --plan plan.tsv --costs no.tsv arcs.tsv
	{ cat costs.tsv; grep ^move costs.tsv; } >no.tsv
	refused_wholly "no.tsv:$(wc -l <no.tsv): column 'what': this row is there twice: 'move'" --plan plan.tsv \
		--costs no.tsv arcs.tsv
	sed 's/^stop/stops/' costs.tsv >no.tsv
	refused_wholly "no.tsv:$(wc -l <no.tsv): column 'what': no such row: --print-costs shows them all: 'stops'" \
		--plan plan.tsv --costs no.tsv arcs.tsv
	sed 's/^gap\t0\t/gap\t0.1\t/' costs.tsv >no.tsv
	run --separate-stderr -2 "$match" --plan plan.tsv --costs no.tsv arcs.tsv
	[[ $stderr == *"column 'from': the first gap does not begin at 0: '0.1'" ]]
	sed 's/^\(move\t\t\)[0-9]*/\120001/' costs.tsv >no.tsv
	run --separate-stderr -2 "$match" --plan plan.tsv --costs no.tsv arcs.tsv
	[[ $stderr == *"column 'next': outside 0 to 20000: '20001'" ]]
	sed 's/^\(threshold\t\)4605/\1100001/' costs.tsv >no.tsv
	run --separate-stderr -2 "$match" --plan plan.tsv --costs no.tsv arcs.tsv
	[[ $stderr == *"column 'from': above 100000: '100001'" ]]
	sed 's/^\(move\t\)/\11/' costs.tsv >no.tsv
	run --separate-stderr -2 "$match" --plan plan.tsv --costs no.tsv arcs.tsv
	[[ $stderr == *"column 'from': this row has no such number: '1'" ]]
}

@test "the same bytes from a pipe, in another locale, and twice" {
	head -n 100 "$night/arcs.tsv" >a.tsv
	{ head -n 1 "$night/arcs.tsv" && tail -n +101 "$night/arcs.tsv"; } >b.tsv
	args=(--plan "$samples/plan.tsv" a.tsv b.tsv)
	"$match" "${args[@]}" --findings found1.tsv >1.tsv || [ $? -eq 1 ]
	"$match" --plan "$samples/plan.tsv" --findings found2.tsv - b.tsv <a.tsv \
		>2.tsv || [ $? -eq 1 ]
	cmp 1.tsv 2.tsv
	TZ=UTC-9 LC_ALL=C.UTF-8 "$match" "${args[@]}" --findings found3.tsv >3.tsv || [ $? -eq 1 ]
	cmp 1.tsv 3.tsv
	cmp found1.tsv found3.tsv
}
