#!/usr/bin/env bats
# thrum-check as a program: findings and set-aside rows, its status and its summary, rules of one's
# own, input that is damaged. What each kind of rule finds is in unit/test_rule.c, what the built-in
# rules find in the sample tables in night.bats.

# shellcheck disable=SC2016 # awk has a $ of its own
# shellcheck source=tests/program.bash disable=SC2154 # bin, exe and samples come from there
load program

setup() {
	begin thrum-check
	head=$(printf '%s	' file line column joint rule level found wanted)says
}

# finds FINDING...: exit status 1, and these findings: line, column, rule, level
finds() {
	local got

	[ "$status" -eq 1 ] || { echo "status $status: $output $stderr"; false; }
	[ "${lines[0]}" = "$head" ]
	got=$(awk -F '\t' 'NR > 1 { print $2, $3, $5, $6 }' <<<"$output")
	[ "$got" = "$(printf '%s\n' "$@")" ] || { echo "$got"; false; }
}

# --- findings ------------------------------------------------------------------------------------

@test "nothing to find: the header alone, silence, 0" {
	table t 'joint cleave_a_deg' 'SKE-1 0.5'
	run --separate-stderr -0 "$exe" t
	[ "$output" = "$head" ]
	[ -z "$stderr" ]
}

@test "a finding says where, what was found, what was wanted, and what that means" {
	table t 'joint cleave_a_deg' 'SKE-1 1.6'
	run --separate-stderr -1 "$exe" t
	[ "${lines[1]}" = "t	2	cleave_a_deg	SKE-1	cleave-angle	error	1.6	0 to 1	the end was not cleaved square" ]
	[ "$stderr" = 'thrum-check: 1 row, 1 error, 0 warnings' ]
}

@test "warnings alone: status 0, and they are counted" {
	table t 'joint cleave_a_deg' 'SKE-1 0.51' 'SKE-2 1'
	run --separate-stderr -0 "$exe" t
	[ "${#lines[@]}" -eq 3 ]
	[ "$stderr" = 'thrum-check: 2 rows, 0 errors, 2 warnings' ]
	run --separate-stderr -1 "$exe" --strict t
	[ "$stderr" = 'thrum-check: 2 rows, 2 errors, 0 warnings' ]
	[ "$(cut -f 6 <<<"$output" | sort -u)" = "$(printf 'error\nlevel')" ]
}

@test "the summary, the table and the status agree, whatever is found" {
	for n in 0 1 2 3; do
		table t 'joint cleave_a_deg est_db' 'A 0.4 0.02'
		for ((i = 0; i < n; i++)); do
			printf 'J%d\t0.7\t0.0%d\n' $i $i >>t
			[ $((i % 2)) -eq 0 ] || printf 'K%d\t2\t0,1\n' $i >>t
		done
		run --separate-stderr "$exe" t
		errors=$(awk -F '\t' '$6 == "error"' <<<"$output" | wc -l)
		warnings=$(awk -F '\t' '$6 == "warning"' <<<"$output" | wc -l)
		[ "$warnings" -eq "$n" ]
		[ "$status" -eq $((errors > 0)) ]
		[ "$n" -eq 0 ] || [[ $stderr =~ "$((1 + n + n / 2)) rows, $errors error"s?", $warnings warning" ]]
	done
}

@test "findings stand in the order of rows, then rules; those of the end by first appearance" {
	table t 'joint attempt stands cleave_a_deg est_db' 'B 1 no . .' 'A 2 yes 1.5 0.5' 'B 3 no . .' \
		'C 1 yes 2 .'
	run --separate-stderr "$exe" t
	finds '3 cleave_a_deg cleave-angle error' '3 est_db estimate error' \
		'5 est_db estimate-missing warning' '5 cleave_a_deg cleave-angle error' '4 attempt attempt-hole error' \
		'4 stands stands-one error' '3 attempt attempt-hole error'
}

@test "several files: each finding has its own file; uniqueness is over all of them" {
	table a 'joint attempt' 'SKE-1 1'
	table b 'attempt joint' '1 SKE-1' 'x SKE-2'
	run --separate-stderr "$exe" a b
	finds '2 attempt attempt-twice error' '3 attempt attempt-number error'
	[ "$(cut -f 1 <<<"$output" | tail -n 2 | sort -u)" = b ]
	run --separate-stderr "$exe" - <b
	finds '3 attempt attempt-number error'
	[[ ${lines[1]} = -$'\t'* ]]
}

@test "what was found is shown whole and valid, whatever its bytes" {
	long=$(printf '%059d' 7)
	printf 'joint\test_db\tnote\n\xff\t\x1b[1\\2\x7f\t\nL\t%s\303\244b\t\xe2\x82\n' "$long" >t
	run --separate-stderr "$exe" t
	finds '2 joint utf8 error' '2 est_db estimate-number error' '3 note utf8 error' \
		'3 est_db estimate-number error'
	[ "$(cut -f 4,7 <<<"$output" | sed -n 2p)" = '\xff	\xff' ]
	[ "$(cut -f 7 <<<"$output" | sed -n 3p)" = '\x1b[1\\2\x7f' ]
	[ "$(cut -f 7 <<<"$output" | sed -n 4p)" = '\xe2\x82' ]
	[ "$(cut -f 7 <<<"$output" | sed -n 5p)" = "$long..." ] # not cut inside a character
}

@test "-c reads another column, and the finding names that one" {
	table t 'joint winkel' 'SKE-1 3'
	run --separate-stderr "$exe" -c cleave_a_deg=winkel t
	finds '2 winkel cleave-angle error'
	refused "t:1: no column 'winkl': is it 'winkel'?" -c cleave_a_deg=winkl t
}

@test "-o holds the findings, also with status 1; nothing is left at trouble" {
	table t 'joint est_db' 'SKE-1 3'
	run --separate-stderr -1 "$exe" -o found t
	[ -z "$output" ]
	[ "$(wc -l <found)" -eq 2 ]
	rm found
	printf 'SKE-2\t\0\n' >>t
	run --separate-stderr -2 "$exe" -o found t
	[ ! -e found ]
}

# --- the built-in rules ---------------------------------------------------------------------------

@test "an attempt that does not stand may be bad, but not nonsense" {
	table t 'joint attempt stands kind cleave_a_deg est_db tension protector' \
		'A 1 no fusion 7 0.9 fail .' 'A 2 yes fusion 0.3 0.02 pass pass'
	run --separate-stderr -0 "$exe" t
	table t 'joint attempt stands kind cleave_a_deg est_db tension protector' \
		'A 1 no fusion -7 x bad bad' 'A 2 . . 7 0.9 fail .'
	run --separate-stderr "$exe" t
	finds '2 cleave_a_deg cleave-number error' '2 est_db estimate-number error' \
		'2 tension tension-word error' '2 protector protector-word error' \
		'3 cleave_a_deg cleave-angle error' '3 est_db estimate error' \
		'3 tension tension-failed error' '3 protector protector-missing error'
}

@test "a mechanical joint needs no arc, tension test or protector" {
	table t 'joint kind est_db tension protector heat_s' 'A mechanical . . . .' 'B fusion . . . 20'
	run --separate-stderr "$exe" t
	finds '3 est_db estimate-missing warning' '3 tension tension-missing error' \
		'3 protector protector-missing error'
}

@test "a ribbon may be cleaved to 3 degrees and estimated to 0.20 dB, a single fibre not" {
	table t 'joint ribbon_a ribbon_b cleave_a_deg est_db' 'A 1 1 3 0.2' 'B 1 . 3 0.2' 'C . 1 3 0.2' \
		'D 1 1 3.1 0.21' 'E . . 1.1 0.11' 'F . . 1 0.1'
	run --separate-stderr "$exe" t
	finds '5 cleave_a_deg cleave-ribbon error' '5 est_db estimate-ribbon error' \
		'6 cleave_a_deg cleave-angle error' '6 est_db estimate error' \
		'7 cleave_a_deg cleave-wide warning'
	[[ ${lines[3]} = *$'\t'"0 to 1"$'\t'* ]]
}

@test "of a joint one of whose rows cannot be read nothing is said at the end" {
	table t 'joint attempt stands note' 'A 1 no x' 'A 2 yes' 'B 1 no x'
	run --separate-stderr "$exe" t
	finds '3  shape error' '4 stands stands-one error'
}

@test "each built-in rule has a source, and words for people" {
	run -0 --separate-stderr "$exe" --print-rules
	awk -F '\t' 'NR > 1 && ($10 == "" || $11 == "" || $10 ~ /[.]$/ || $10 ~ /^[A-Z]/) {
		print; bad = 1 } END { exit bad || NR < 40 }' <<<"$output"
}

@test "--help names the columns that the built-in rules read" {
	"$exe" --print-rules | awk -F '\t' 'NR > 1 {
		n = split($4, list, ",")
		for (i = 1; i <= n; i++) { sub(/[?]$/, "", list[i]); print list[i] }
		n = split($9, list, ";")
		for (i = 1; i <= n; i++) {
			sub(/=.*/, "", list[i])
			m = split(list[i], any, "|")
			for (k = 1; k <= m; k++) print any[k]
		} }' | sort -u >asked
	"$exe" --help | awk '/^read if there:/ { on = 1; sub(/.*:/, "") } /^columns made/ { on = 0 }
		on { for (i = 1; i <= NF; i++) print $i }' | sort >named
	diff asked named
}

@test "text that others will read as something else" {
	printf 'joint\tclosure\tjointer\tnote\n' >t
	printf '%s\tcove\tTamsel\t%s\n' J-1 '=1+1' J-2 '+44' @J-3 'a=b, -3 dB' J-4 'São João, Ângela' \
		J-5 'CÃO 30 €' J-6 $'20 \xc3\x82\xc2\xb0C' J-7 $'M\xc3\x83\xc2\xbcller' \
		J-8 $'10 \xc3\xa2\xe2\x82\xac\xe2\x80\x9c 20' J-9 $'\xc3\x83\xe2\x80\x93st' >>t
	"$exe" t >got || [ $? -eq 1 ]
	grep -P '\ttext\twarning\t' got | cut -f 2,3,9 >found
	diff - found <<-END
		2	note	a spreadsheet takes this for a formula
		3	note	a spreadsheet takes this for a formula
		4	joint	a spreadsheet takes this for a formula
		7	note	UTF-8 was made of this text twice
		8	note	UTF-8 was made of this text twice
		9	note	UTF-8 was made of this text twice
		10	note	UTF-8 was made of this text twice
	END
	printf 'joint\tclosure\tnote\n' >t
	printf '%s\t%s\t%s\n' J-1 04-Mar 4-3 J-2 Mar-04 MAR-4 J-3 4-mar-2026 Jan-003 \
		J-4 '' $'u\xcc\x88ber' J-5 '' $'\xcd\xb0 is a letter' >>t
	"$exe" t >got || [ $? -eq 1 ]
	grep -P '\ttext\twarning\t' got | cut -f 2,3,9 >found
	diff - found <<-END
		2	closure	a spreadsheet has made a date of this
		3	closure	a spreadsheet has made a date of this
		3	note	a spreadsheet has made a date of this
		4	closure	a spreadsheet has made a date of this
		5	note	a letter with a combining mark: the same name spelt otherwise is another
	END
}

@test "headers that are not as they should be" {
	printf 'joint\tn\xf6te\t\tLOSS_DB\tMine\nA\t\t\t\t\n' >t
	run --separate-stderr "$exe" t
	finds '1 n\xf6te utf8 error' '1  shape warning' '1 LOSS_DB shape warning'
	[ "$(cut -f 8,9 <<<"$output" | sed 1d)" = "UTF-8	not UTF-8 at byte 8 of the line
a name	column 3 has no name
loss_db	no program knows a column of this name: small letters are meant" ]
	printf 'joint\tLOSS_DB\tloss_db\nA\t\t\n' >u
	run --separate-stderr "$exe" --strict t u
	[ "$(grep -c 'LOSS_DB.*error' <<<"$output")" -eq 2 ]
	[ "$(grep -c '^u' <<<"$output")" -eq 1 ]
}

@test "line ends of two kinds" {
	printf 'joint\tnote\r\nA\t\r\nB\t\nC\t\r\n' >t
	printf 'joint\tnote\nA\t\nB\t\r\nC\t\r\n' >u
	run --separate-stderr -0 "$exe" t u
	[ "$(cut -f 1,2,5,6,9 <<<"$output" | sed 1d)" = \
		"t	3	shape	warning	LF and CR LF: this line ends otherwise than the header
u	3	shape	warning	LF and CR LF: this line ends otherwise than the header" ]
	# one kind, whichever; a last line without an end has none
	printf 'joint\tnote\r\nA\t\r\nB\t\r\n' >t
	printf 'joint\tnote\r\nA\t\r\nB\tx' >u
	run --separate-stderr -0 "$exe" t u
	[[ ${#lines[@]} -eq 2 && ${lines[1]} = u*'is it whole?' ]]
}

# --- joints over wavelengths and nights -----------------------------------------------------------

@test "rows that differ only in wavelength and losses are one attempt" {
	table t 'joint attempt stands tray loss_nm loss_db' 'A 1 no 1 . .' 'A 2 yes 1 1310 0.03' \
		'A 2 yes 1 1550 0.02'
	run --separate-stderr -0 "$exe" t
	[ "$output" = "$head" ]
	printf 'A\t2\tyes\t7\t1625\t0.02\nA\t2\tyes\t1\t1310\t0.04\n' >>t
	run --separate-stderr "$exe" t
	finds '5 attempt attempt-differs error' '6 attempt attempt-twice error'
}

@test "a joint opened again another night is judged as it stands now" {
	table n1 'joint attempt stands closure cable_a fibre_a cable_b fibre_b shift made_at loss_nm loss_ab_db loss_ba_db loss_db' \
		'A 1 yes x k 1 m 2 2026-03-11 2026-03-11T22:00:00Z 1550 0.4 0.4 0.4' \
		'B 1 yes x k 2 m 3 2026-03-11 2026-03-11T22:10:00Z 1550 0.02 0.02 0.02'
	table n2 'joint attempt stands closure cable_a fibre_a cable_b fibre_b shift made_at loss_nm loss_ab_db loss_ba_db loss_db' \
		'A 1 yes x k 1 m 1 2026-03-12 2026-03-12T22:00:00Z 1550 0.03 0.03 0.03' \
		'C 1 yes x k 3 m 2 2026-03-12 2026-03-12T22:10:00Z 1550 0.02 0.02 0.02'
	for nights in 'n1 n2' 'n2 n1'; do
		# shellcheck disable=SC2086 # two files
		run --separate-stderr -0 "$exe" $nights
		[ "$output" = "$head" ]
	done
	run --separate-stderr "$exe" n1
	finds '2 loss_db loss error'
	# what cannot be is an error in any attempt
	sed -i 's/0.4$/x/' n1
	run --separate-stderr "$exe" n1 n2
	finds '2 loss_db loss-number error'
	# in one night one stands
	sed -i 's/2026-03-12/2026-03-11/g; s/^A	1/A	2/' n2
	run --separate-stderr "$exe" n1 n2
	finds '2 loss_db loss-number error' '2 stands stands-one error'
}

@test "a later attempt that does not stand: what stood before it was cut" {
	table t 'joint attempt stands made_at' 'A 1 yes .' 'A 2 no .' 'B 2 no .' 'B 1 yes .' 'C 1 no .' 'C 2 yes .' \
		'D 1 no .'
	run --separate-stderr "$exe" t
	[ "$(awk -F '\t' '$5 == "last-stands" { print $2, $4, $6, $7 }' <<<"$output")" = "$(printf '%s\n' \
		'3 A error no in attempt 2' '5 B error no in attempt 2')" ]
	# the next night's attempt took it away as well, and by time, not by its number
	table t 'joint attempt stands shift made_at' 'A 2 yes 2026-03-11 2026-03-11T22:00:00Z' \
		'A 1 no 2026-03-11 2026-03-11T21:00:00Z'
	run --separate-stderr "$exe" t
	[[ $output != *last-stands* ]]
	table u 'joint attempt stands shift made_at' 'A 1 no 2026-03-12 2026-03-12T22:00:00Z'
	for nights in 't u' 'u t'; do
		# shellcheck disable=SC2086 # two files
		run --separate-stderr -1 "$exe" $nights
		[[ $output = *"	A	last-stands	error	no in attempt 1	"* ]]
	done
}

@test "a fibre end joined twice is found whichever side it is called; cut ends are two" {
	table t 'joint closure cable_a fibre_a toward_a cable_b fibre_b toward_b' 'A x k 1 . m 1 .' \
		'B x m 01 . n 1 .' 'C x r 1 north r 1 south' 'D x r 2 north r 2 north' 'E x r 3 north m 3 .' \
		'F x r 3 south m 4 .'
	run --separate-stderr "$exe" t
	finds '5 cable_b fibre-itself error' '3 fibre_a fibre-twice error'
	[[ ${lines[2]} = *"m 1	not a fibre of joint A"* ]]
}

# --- more of what a foreman looks for -------------------------------------------------------------

@test "losses: above the limit, gained, readings too far apart" {
	table t 'joint kind loss_nm loss_ab_db loss_ba_db loss_db category_a category_b' \
		'A fusion 1550 0.1 0.1 0.1 . .' 'B fusion 1550 0.1 0.102 0.101 . .' 'C mechanical 1550 0.2 0.4 0.3 . .' \
		'D fusion 1550 -0.1 -0.02 -0.06 . .' 'E fusion 1550 0.8 -0.7 0.05 G.652.D G.652.D' \
		'F fusion 1550 0.8 -0.7 0.05 G.652.D G.657.A1'
	run --separate-stderr "$exe" t
	finds '3 loss_db loss error' '5 loss_db gain error' '6 loss_ab_db step error'
	table limits.tsv 'kind each_db' 'fusion 0.05'
	run --separate-stderr "$exe" --limits limits.tsv t
	[ "$(grep -c '	loss	error' <<<"$output")" -eq 2 ]
}

@test "a loss that several share is held against the sum of their limits" {
	table t 'joint closure loss_nm loss_db loss_with' 'A p 1550 0.85 p:1' 'B p 1550 0.851 p:2' 'C p 1550 0.2 D' 'D p 1550 0.2 C'
	run --separate-stderr "$exe" t
	finds '3 loss_db loss error'
	[[ ${lines[1]} = *"at most 0.850"* ]]
}

@test "gains: the mean of both readings is judged, one reading only where that is enough" {
	table t 'joint loss_nm loss_ab_db loss_ba_db loss_db accept' 'A 1550 -0.12 0.01 . .' 'B 1550 -0.12 0.02 . .' \
		'C 1550 -0.3 . . .' 'D 1550 . -0.3 . one-way' 'E 1550 -0.04 -0.04 . .'
	run --separate-stderr "$exe" t
	finds '2 loss_ab_db gain error' '5 loss_ba_db gain error'
	[[ ${lines[1]} = *"	gain	error	-0.12 0.01	"* ]]
	run --separate-stderr "$exe" --accept one-way t
	[ "$(grep -c '	gain	error' <<<"$output")" -eq 3 ]
}

@test "--accept: what is judged against the limit of two-way losses" {
	table t 'joint kind loss_nm loss_ab_db est_db accept' 'A fusion 1550 0.9 0.03 .' 'B mechanical . . 0.4 .' \
		'C mechanical . . 0.4 estimate'
	run --separate-stderr "$exe" t
	finds '4 accept accept-estimate error' '4 est_db loss error'
	run --separate-stderr "$exe" --accept estimate t
	finds '2 loss_ab_db loss error' '3 est_db loss error' '4 accept accept-estimate error' '4 est_db loss error'
}

@test "what a good loss proves is taken back: a wide cleave, a high estimate" {
	table t 'joint cleave_a_deg est_db loss_nm loss_ab_db loss_ba_db loss_db' 'A 1.6 0.3 . . . .' \
		'B 1.6 0.3 1550 0.02 0.02 0.02' 'C 1.6 0.3 1550 0.02 0.02 .' 'D 1.6 0.3 1550 0.3 0.4 .' \
		'E 1.6 0.3 1550 0.02 . .'
	run --separate-stderr "$exe" t
	finds '2 cleave_a_deg cleave-angle error' '2 est_db estimate error' '5 loss_ab_db loss error' \
		'6 cleave_a_deg cleave-angle error' '6 est_db estimate error'
}

@test "coatings, sleeves and heating as they are met" {
	table t 'joint coating_a_um sleeve_mm heat_s est_db' 'A 180 30 9 0.02' 'B 245 40 60 0.02' 'C 400 50 8 0.02'
	run --separate-stderr "$exe" t
	finds '4 coating_a_um coating error' '4 sleeve_mm sleeve error' '4 heat_s heat warning'
}

@test "a slot used twice, unless by one ribbon; high is how many it holds" {
	table t 'joint closure tray slot ribbon_a' 'A x 1 1 .' 'B x 1 1 .' 'C x 1 2 R1' 'D x 1 2 R1'
	run --separate-stderr "$exe" t
	finds '3 slot slot-twice error'
	printf 'rule\tlevel\tkind\tcolumns\thigh\nslot-twice\terror\tslot-once\tclosure,tray,slot,ribbon_a?,ribbon_b?\t2\n' >also
	run --separate-stderr -0 "$exe" --also also t
}

@test "a record copied to another joint; wavelengths and ribbons are none" {
	table t 'joint attempt loss_nm made_at est_db arcs_n ribbon_a' 'A 1 1310 2026-03-11T22:00:00Z 0.02 17 .' \
		'A 1 1550 2026-03-11T22:00:00Z 0.02 17 .' 'B 1 . 2026-03-11T22:00:00Z 0.02 17 .' \
		'C 1 . 2026-03-11T22:09:00Z 0.02 18 R1' 'D 1 . 2026-03-11T22:09:00Z 0.02 18 R1'
	run --separate-stderr "$exe" t
	finds '4 made_at copied error'
}

@test "what should have been recorded" {
	table t 'joint made_at splicer cleaver est_db cleave_a_deg kind' 'A . . . . . fusion' 'B . . . . . mechanical'
	run --separate-stderr -0 "$exe" t
	[ "$(awk -F '\t' 'NR > 1 { print $2, $5 }' <<<"$output")" = "$(printf '%s\n' '2 cleave-missing' \
		'2 estimate-missing' '2 cleaver-missing' '2 splicer-missing' '2 time-missing' '3 time-missing')" ]
}

# --- the plan -------------------------------------------------------------------------------------

# against FINDING...: joint, rule and found of what is found against the plan
against() {
	local got

	run --separate-stderr "$exe" --plan plan.tsv "${only[@]}" t
	got=$(awk -F '\t' 'NR > 1 && $5 ~ /^plan-/ { print $4, $5, $7 }' <<<"$output")
	[ "$got" = "$(printf '%s\n' "$@")" ] || { echo "$got"; false; }
}

@test "--plan: what is missing, surplus, exchanged or in another place" {
	only=()
	table plan.tsv 'joint closure tray slot cable_a fibre_a cable_b fibre_b state night' \
		'A x 1 1 k 1 m 1 join 1' 'B x 1 2 k 2 m 2 join 1' 'C x 1 3 k 3 m 3 . 2' \
		'. x . . k 4 . . express 1' '. x . . k 5 . . parked 1' '. x . . k 6 . . dead 1'
	good='joint closure tray slot cable_a fibre_a cable_b fibre_b|A x 1 1 k 1 m 1|B x 01 2 m 2 k 2|C x 1 3 k 3 m 3'
	try() { # EDIT: the good records, changed by sed
		IFS='|' read -r -a rows <<<"$(sed "$1" <<<"$good")"
		table t "${rows[@]}"
	}
	try ''
	against ''
	try 's/|B[^|]*//'
	against 'B plan-missing '
	[[ $output = *"plan.tsv	3	joint	B"* ]]
	try 's/$/|D x 1 4 k 9 m 9/'
	against 'D plan-surplus k 9 m 9'
	try 's/k 1 m 1/k 1 m 9/'
	against 'A plan-fibres k 1 m 9'
	try 's/k 1 m 1/k 2 m 2/; s/m 2 k 2/k 1 m 1/'
	against 'A plan-exchanged B'
	try 's/x 1 1/x 1 7/'
	against 'A plan-place x 1 7'
	try 's/A x/A y/'
	against 'A plan-place y 1 1'
	for fibre in 4 5 6; do
		try "s/\$/|D x 1 4 k $fibre w 1/"
		against "D plan-state k $fibre w 1"
	done
	# a row without a name finds its own
	try 's/|A /|. /'
	against ''
	try 's/|C[^|]*//'
	only=(--only night=1)
	against ''
	only=(--only "night=1,2")
	against 'C plan-missing '
	refused '--only: is about a plan: give one with --plan' --only night=1 t
	refused "--only: no row of the plan has closure 'X': is it 'x'?" --plan plan.tsv --only closure=X t
	refused "--only: no row of the plan has night '3'" --plan plan.tsv --only night=1,3 t
}

@test "--plan: its limit is the joint's" {
	table plan.tsv 'joint closure limit_db' 'A x 0.3' 'B x 0.01'
	table t 'joint closure loss_nm loss_ab_db loss_ba_db loss_db' 'A x 1550 0.2 0.2 0.2' 'B x 1550 0.02 0.02 0.02'
	run --separate-stderr "$exe" --plan plan.tsv t
	finds '3 loss_db loss error' '1  shape error'
	[[ ${lines[1]} = *'at most 0.010'* ]]
}

@test "--plan: where no record has a tray or a slot, one warning says that places are not compared" {
	table plan.tsv 'joint closure tray slot cable_a fibre_a cable_b fibre_b kind' 'A x 1 1 k 1 m 1 mechanical' 'B x 1 2 k 2 m 2 mechanical'
	table t 'joint closure tray slot cable_a fibre_a cable_b fibre_b jointer kind' 'A x . . k 1 m 1 J mechanical' 'B x . 2 k 2 m 2 J mechanical'
	run --separate-stderr -0 "$exe" --plan plan.tsv t
	[ "$(cut -f 1,2,5,6,8 <<<"$output" | grep plan)" = $'t\t1\tplan-unplaced\twarning\ttray' ]
	table t 'joint closure cable_a fibre_a cable_b fibre_b jointer kind' 'A x k 1 m 1 J mechanical' 'B x k 2 m 2 J mechanical'
	run --separate-stderr -0 "$exe" --plan plan.tsv t
	[ "$(cut -f 1,2,5,6,8 <<<"$output" | grep plan)" = $'t\t1\tplan-unplaced\twarning\ttray, slot' ]
}

@test "--plan: of a column that rules demand and the table does not have, one error" {
	table plan.tsv 'joint closure kind' 'A x fusion' 'B x mechanical'
	table t 'joint closure kind protector cable_a fibre_a cable_b fibre_b' 'A x fusion pass k 1 m 1'
	run --separate-stderr -0 "$exe" t
	[ "$output" = "$head" ]
	run --separate-stderr -1 "$exe" --plan plan.tsv --only kind=fusion t
	[ "$(cut -f 1-3,5-8 <<<"${lines[1]}")" = $'t\t1\t\tshape\terror\t\ta column jointer, tension' ]
	[ "${#lines[@]}" -eq 2 ]
	run --separate-stderr "$exe" --plan plan.tsv --only kind=fusion --pass --set-aside aside t
	[ "$status" -eq 1 ]
	[ "${#lines[@]}" -eq 2 ] && [ "$(wc -l <aside)" -eq 1 ]
	# a mechanical joint needs no tension test; a rule that is off demands nothing
	table t 'joint closure kind cable_a fibre_a cable_b fibre_b' 'B x mechanical k 1 m 1'
	run --separate-stderr -1 "$exe" --plan plan.tsv --only kind=mechanical t
	[ "$(cut -f 7-8 <<<"${lines[1]}")" = $'\ta column jointer' ]
	table off 'rule level kind columns' 'jointer-missing off present jointer'
	run --separate-stderr -0 "$exe" --plan plan.tsv --only kind=mechanical --also off t
	[ "$output" = "$head" ]
}

@test "--plan: a joint is judged as of the plan's kind, and of its ribbon" {
	table plan.tsv 'joint closure kind ribbon_a cable_a fibre_a cable_b fibre_b' 'A x . R1 k 1 m 1' \
		'B x mechanical . k 2 m 2' 'C x . . k 3 m 3' '. x mechanical . k 4 m 4' 'E x mechanical . k 5 m 5'
	table t 'joint closure kind cable_a fibre_a cable_b fibre_b loss_nm loss_ab_db loss_ba_db loss_db' \
		'A x . k 1 m 1 1550 0.15 0.15 0.15' 'B x . k 2 m 2 1550 0.2 0.2 0.2' \
		'C x . k 3 m 3 1550 0.15 0.15 0.15' '. x . k 4 m 4 1550 0.2 0.2 0.2' \
		'E x fusion k 5 m 5 1550 0.2 0.2 0.2'
	run --separate-stderr "$exe" --plan plan.tsv t
	[ "$(awk -F '\t' '$5 == "loss" || $5 == "plan-kind" { print $2, $5, $7, $8 }' <<<"$output")" = \
		"$(printf '%s\n' '4 loss 0.15 at most 0.100' '6 plan-kind fusion mechanical')" ]
	run --separate-stderr "$bin/thrum-closure" --plan plan.tsv t
	has passed 4
	has failed 1
	has amiss 1
	# a record that calls itself of a ribbon, or a mechanical joint, is judged as planned
	table t 'joint closure kind ribbon_a cable_a fibre_a cable_b fibre_b loss_nm loss_db' \
		'C x mechanical 1 k 3 m 3 1550 0.15'
	sed -i 's/^C	x	/C	x	fusion/' plan.tsv
	run --separate-stderr -1 "$bin/thrum-closure" --plan plan.tsv t
	has failed 1
}

@test "--summary: one row a rule, how often, where first" {
	table t 'joint cleave_a_deg est_db' 'A 1.6 0.5' 'B 1.7 0.02' 'C 0.7 0.02'
	run --separate-stderr -1 "$exe" --summary t
	[ "$output" = "rule	level	count	file	line	column	joint
cleave-angle	error	2	t	2	cleave_a_deg	A
estimate	error	1	t	2	est_db	A
cleave-wide	warning	1	t	4	cleave_a_deg	C" ]
	[ "$stderr" = 'thrum-check: 3 rows, 3 errors, 1 warning' ]
	refused '--summary: not with --pass' --summary --pass --set-aside x t
}

# --- rules of one's own ---------------------------------------------------------------------------

@test "--rules replaces the built-in rules; --print-rules is such a table" {
	printf 'rule\tlevel\tkind\tcolumns\nj\terror\tpresent\tnote\n' >rules
	table t 'joint cleave_a_deg note' 'A 7 .'
	run --separate-stderr "$exe" --rules rules t
	finds '2 note j error'
	"$exe" --print-rules >built-in
	"$exe" "$samples/night1.tsv" >one 2>/dev/null || [ $? -eq 1 ]
	"$exe" --rules built-in "$samples/night1.tsv" >two 2>/dev/null || [ $? -eq 1 ]
	cmp one two
}

@test "--also adds rules, moves a limit, turns a rule off" {
	printf '%s\n' 'rule,level,kind,columns,low,high,when' 'cleave-wide,off,,,,,' \
		'cleave-angle,error,number,cleave_a_deg,0,2,' 'note,warning,present,note,,,joint=B' |
		tr , '\t' >also
	table t 'joint cleave_a_deg note' 'A 1.9 .' 'B 2.1 .'
	run --separate-stderr "$exe" --also also t
	finds '3 cleave_a_deg cleave-angle error' '3 note note warning'
	refused "also:2: column 'rule': there is no rule of this name to turn off: 'cleave-wide'" \
		--rules <(printf 'rule\tlevel\tkind\tcolumns\n') --also also t
}

@test "a table of rules that is wrong is trouble, by file, line and column" {
	table t 'joint' 'A'
	printf 'rule\tlevel\tkind\tcolumns\tlow\thigh\nok\terror\tpresent\tjoint\t\t\n' >rules
	printf 'bad\terror\tnumbr\tjoint\t1\t\n' | cat rules - >kind
	printf 'bad\terror\tnumber\tjoint\t2\t1\n' | cat rules - >range
	printf 'ok\terror\tpresent\tjoint\t\t\n' | cat rules - >doubled
	printf 'bad\tnasty\tpresent\tjoint\t\t\n' | cat rules - >level
	printf 'rule\tlevel\tkind\tcolumns\tpattern\np\terror\tpattern\tjoint\t(\n' >pattern
	refused "kind:3: column 'kind': no such kind of rule; nearest: number: 'numbr'" --rules kind t
	refused "range:3: column 'low': low is above high: '2'" --also range t
	refused "doubled:3: column 'rule': a second rule of this name: 'ok'" --rules doubled t
	refused "level:3: column 'level': none of: off warning error: 'nasty'" --rules level t
	run --separate-stderr -2 "$exe" --rules pattern t
	[[ $stderr = "thrum-check: pattern:2: column 'pattern': no pattern: "*": '('" ]]
	run --separate-stderr -2 "$exe" --rules nowhere t
	[ "$stderr" = 'thrum-check: nowhere: No such file or directory' ]
	printf 'rule\tlevel\tkin\tcolumns\n' >rules
	refused "rules:1: no column 'kind': is it 'kin'?" --rules rules t
}

@test "a rule about a column that cannot be is refused; an optional one may be missing" {
	table t 'joint cable_b note' 'A k x' 'B k x'
	printf 'rule\tlevel\tkind\tcolumns\nr\terror\tpresent\tcabel_b\n' >rules
	refused "rules:2: no column 'cabel_b': is it 'cable_b'?" --rules rules t
	printf 'rule\tlevel\tkind\tcolumns\twhen\nr\terror\tpresent\tjoint\tnotes=x\n' >rules
	refused "rules:2: no column 'notes': is it 'note'?" --rules rules t
	printf 'rule\tlevel\tkind\tcolumns\nr\terror\tunique\tcable_b,note,slot?\nq\terror\tunique\tcable_b,slot\n' >rules
	run --separate-stderr "$exe" --rules rules t
	finds '3 note r error'
}

@test "a table that no rule reads is trouble" {
	table t 'a b' '1 2'
	why='no rule applies: the table has none of the columns that the rules read'
	refused "t:1: $why" t
	echo 'joint,est_db' >t
	refused "t:1: $why: only one column: is the delimiter not TAB? thrum-import reads such files" t
}

# --- rows set aside -------------------------------------------------------------------------------

@test "every row is in exactly one of the two, byte for byte" {
	nights=("$samples/night1.tsv" "$BATS_TEST_DIRNAME"/night/{quoinmere,larkrope,wrackle,peltrick}.tsv)
	run --separate-stderr -1 "$exe" --pass --set-aside aside -o good --findings found "${nights[@]}"
	[ -z "$output" ]
	[ "$stderr" = 'thrum-check: 325 rows, 24 errors, 1 warning' ]
	n=$(sed 1q "${nights[0]}" | awk -F '\t' '{ print NF }')
	{
		tail -n +2 good
		tail -n +2 aside | cut -f "1-$n"
	} | sort >both
	tail -q -n +2 "${nights[@]}" | sort | cmp - both
	[ "$(sed 1q good)" = "$(sed 1q "$samples/night1.tsv")" ]
	[ "$(sed 1q aside)" = "$(sed 1q good)$(printf '\t%s' aside_file aside_line aside_why)" ]
	[ $(($(wc -l <good) + $(wc -l <aside))) -eq $((325 + 2)) ]
	# what is aside is what has an error of its own row; the ends of joints are not
	awk -F '\t' 'NR > 1 && $6 == "error" && $5 !~ /attempt-hole|stands-one|fibre-twice/ { print $1, $2 }' found |
		sort -u >errors
	tail -n +2 aside | awk -F '\t' '{ print $(NF - 2), $(NF - 1) }' | sort | diff errors -
	# and the findings are those without --pass
	"$exe" "${nights[@]}" 2>/dev/null | cmp - found
}

@test "rows that are none are set aside with every byte they had" {
	printf 'joint\tcleave_a_deg\tnote\nA\t0.3\tx\nB\t0.3\nC\t0.3\tx\ty;\xb0\t\n\nD\t0.9\tx\njoint\tcleave_a_deg\tnote\n\t\t\nE\t0.3\tx\n' >t
	run --separate-stderr -1 "$exe" --pass --set-aside aside t
	[ "$output" = "$(printf 'joint\tcleave_a_deg\tnote\nA\t0.3\tx\nD\t0.9\tx\nE\t0.3\tx')" ]
	[ "$stderr" = 'thrum-check: 8 rows, 5 errors, 1 warning' ]
	printf '%s\n' "joint	cleave_a_deg	note	aside_file	aside_line	aside_why" \
		"B	0.3		t	3	shape: 2 fields, 3 expected: '2 fields'" \
		"C	0.3	x	t	4	shape: 5 fields, 3 expected: '5 fields'; not kept in a column: 'y;\\xb0', ''" \
		"			t	5	shape: blank line inside the table" \
		"joint	cleave_a_deg	note	t	7	shape: the header line stands here again" \
		"			t	8	shape: a row without any value" | diff - aside
}

@test "a row has all its reasons; rows set aside once more keep one set of columns" {
	table t 'joint cleave_a_deg est_db' 'A 3 x' 'B 0.6 0.02'
	run --separate-stderr -1 "$exe" --pass --set-aside aside t
	[ "$output" = "$(printf 'joint\tcleave_a_deg\test_db\nB\t0.6\t0.02')" ] # a warning passes
	[ "$(tail -n 1 aside | cut -f 6)" = "cleave-angle: column 'cleave_a_deg': the end was not cleaved square: '3'; estimate-number: column 'est_db': no number: 'x'" ]
	run --separate-stderr -1 "$exe" --pass --set-aside again aside
	[ "$(sed 's/t\t2/aside\t2/' aside)" = "$(cat again)" ]
}

@test "files with their columns in another order keep the first one's" {
	table a 'joint est_db' 'A 0.02' 'B 9'
	table b 'est_db joint' '0.03 C' 'x D' '0.04'
	run --separate-stderr -1 "$exe" --pass --set-aside aside a b
	[ "$output" = "$(printf 'joint\test_db\nA\t0.02\nC\t0.03')" ]
	[ "$(cut -f 1-2 aside)" = "$(printf 'joint\test_db\nB\t9\nD\tx\n\t0.04')" ]
	table c 'joint' 'A'
	run --separate-stderr -2 "$exe" --pass --set-aside aside a c
	[ "$stderr" = "thrum-check: c:1: lacks a column that a has: 'est_db'" ]
}

@test "at trouble neither file is left" {
	table t 'joint est_db' 'A 9'
	printf 'B\t\r0\n' >>t
	run --separate-stderr -2 "$exe" --pass --set-aside aside --findings found -o good t
	[ "$stderr" = 'thrum-check: t:3: CR inside the line, not at its end' ]
	[ ! -e aside ] && [ ! -e found ] && [ ! -e good ]
}

@test "good rows come at once through a pipe" {
	mkfifo in
	"$exe" --pass --set-aside /dev/null <in >good &
	exec 9>in
	printf 'joint\test_db\nA\t0.02\n' >&9
	for ((i = 0; i < 50; i++)); do
		[ "$(wc -l <good)" -lt 2 ] || break
		sleep 0.1
	done
	[ "$(tail -n 1 good)" = "$(printf 'A\t0.02')" ]
	exec 9>&-
	wait
}

@test "options that do not go together" {
	table t 'joint' 'A'
	refused '--pass: say where faulty rows go with --set-aside' --pass t
	refused '--set-aside: only with --pass' --set-aside x t
	refused '--findings: only with --pass; else the findings are the output' --findings x t
	refused '-: is written twice at once' --pass --set-aside - t
	refused 'x: is written twice at once' --pass --set-aside x --findings x t
	[ ! -e x ]
}

# --- damaged input --------------------------------------------------------------------------------

@test "what spreadsheets and loggers do to a table is found, and the rest is still judged" {
	printf '\xef\xbb\xbfjoint\test_db\tcleave_a_deg\r\nA\t0,05\t0.3\r\nB\t0.05 \t0.3\r\nC\t\xe2\x88\x920.1\t0.3\r\nD\t0.02dB\t0.3\r\nE\t1.234,5\t0.3\r\nF\tN/A\t-Inf\r\nG\t1.2E-02\t+0.3\r\nH\t0.02\t0.3\x1a\r\nI\t-999\t9999\r\nJ\t2\xc2\xa0\t0.3\r\n' >t
	run --separate-stderr "$exe" t
	finds '2 est_db estimate-number error' '3 est_db estimate-number error' \
		'4 est_db estimate-number error' '5 est_db estimate-number error' \
		'6 est_db estimate-number error' '7 cleave_a_deg cleave-number error' \
		'7 est_db estimate-number error' '9 cleave_a_deg cleave-number error' \
		'10 cleave_a_deg cleave-number error' '10 est_db estimate-number error' \
		'11 est_db estimate-number error'
	[[ ${lines[1]} = *'decimal comma'* ]]
	[[ ${lines[2]} = *'blank'* ]]
	[[ ${lines[3]} = *'U+2212'* ]]
	[[ ${lines[8]} = *'\x1a'* ]]
}

@test "dates that are none" {
	table t 'joint made_at' 'A 03/04/2024' 'B 2026-02-29' 'C 01/01/00' 'D 2026-03-11T24:00' \
		'E 2026-03-11T10:00:00Z'
	run --separate-stderr "$exe" t
	finds '2 made_at made-at error' '3 made_at made-at error' '4 made_at made-at error' \
		'5 made_at made-at error'
}

@test "ragged rows say which way" {
	printf 'joint\test_db\tnote\nA\t0.02\nB\t0.02\tx\t\nC\t0.02\tx\ty\n"D"\t0.02\n' >t
	run --separate-stderr "$exe" t
	finds '2  shape error' '3  shape error' '4  shape error' '5  shape error'
	[ "$(cut -f 7-9 <<<"$output" | tail -n 4)" = "$(printf '%s\n' \
		'2 fields	3 fields	2 fields, 3 expected' \
		'4 fields	3 fields	4 fields, 3 expected: the extra ones are empty' \
		'4 fields	3 fields	4 fields, 3 expected' \
		'2 fields	3 fields	2 fields, 3 expected: quoted? thrum-import reads quoted files')" ]
}

@test "NUL and UTF-16 are trouble; an empty file too" {
	printf 'joint\nA\0\n' >t
	run --separate-stderr -2 "$exe" t
	[ "$stderr" = 'thrum-check: t:2: NUL byte at byte 2' ]
	printf '\xff\xfej\0' >t
	run --separate-stderr -2 "$exe" t
	[[ $stderr = *UTF-16* ]]
	: >t
	refused 't: no header line' t
}

@test "a field of many megabytes" {
	{
		printf 'joint\test_db\tnote\nA\t0.02\t'
		head -c 20000000 /dev/zero | tr '\0' x
		printf '\nB\t0,02\t\n'
	} >t
	run --separate-stderr "$exe" t
	finds '3 est_db estimate-number error'
}

@test "memory does not grow with rows but for the rules that remember them" {
	"$exe" --print-rules |
		awk -F '\t' '$3 !~ /^(unique|.*-once|attempts|one-stands|last-stands|agree|copied)$/ && $9 !~ /stands/' >rules
	awk 'BEGIN { print "joint\tcleave_a_deg\test_db\tnote"
		for (i = 0; i < 300000; i++) print "J" i "\t0." i % 1000 "\t0.0" i % 777 "\tsome words" }' >t
	(ulimit -v 40000 && "$exe" -V) >/dev/null 2>&1 || skip 'a sanitizer needs more to start'
	(ulimit -v 40000 && "$exe" --rules rules t) >/dev/null 2>&1 || [ $? -eq 1 ]
}
