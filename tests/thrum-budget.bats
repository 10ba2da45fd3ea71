#!/usr/bin/env bats
# thrum-budget as a program: what it reads, what it hands out, what it refuses. What the figures ought
# to be is in published/budget.bats.

# shellcheck disable=SC2016 # awk has a $ of its own
# shellcheck source=tests/program.bash disable=SC2154 # bin, exe and samples come from there
load program

setup() {
	begin thrum-budget
	head=$(printf '%s	' link wavelength_nm length_km joints connectors measured typical_db \
		stat_db worst_db tested_db tested_is allowed_db margin_db verdict)unknown
	made=$(printf '%s	' kind ways per wavelength_nm typical_db sd_db)max_db
}

# --- one link from options -----------------------------------------------------------------------

@test "a link from options, by the built-in allowances, against an application" {
	gives 0 --length 12.4 --joints 6 --connectors 2 --application 10GBASE-LR
	[ "$output" = "$head
options	1310	12.400	6	2	0	5.016	5.968	8.260			6.200	0.232	pass	" ]
}

@test "standard input is not read for it" {
	mkfifo nobody
	run --separate-stderr -0 timeout 10 "$exe" --joints 1 --max 1 <>nobody
	has joints 1
}

@test "each of the three makes a link; none of a thing is fine" {
	gives 0 --connectors 0 --max 1
	has typical_db 0.000
	has wavelength_nm ""
	gives 0 --joints 2 --max 1
	has stat_db 0.227
	gives 0 --length 0 --wavelength 1550 --max 0
	has margin_db 0.000
}

@test "a length needs a wavelength: none is assumed" {
	gives 1 --length 10 --max 20
	[ "$output" = "$head
options		10.000	0	0	0						20.000		unknown	wavelength" ]
	gives 1 --length 10 --max 20 --wavelength 1100
	has unknown "element 1: fibre without loss or allowance at 1100 nm"
}

@test "a link from options stands alone" {
	trouble "--length, --joints and --connectors make a link of their own: no FILE, --links or --tests with them" \
		--length 3 elements.tsv
	trouble "--length, --joints and --connectors make a link of their own: no FILE, --links or --tests with them" \
		--joints 3 --tests "$samples/tests.tsv"
	trouble "--length, --joints and --connectors make a link of their own: no FILE, --links or --tests with them" \
		--connectors 3 --links "$samples/links.tsv"
}

# --- elements --------------------------------------------------------------------------------------

@test "several wavelengths: one row each, ascending, each once" {
	gives 0 --length 10 --max 20 --wavelength 1625,1310,1550,1310
	has wavelength_nm 1310 1550 1625
	has typical_db 3.400 2.100 2.400
	gives 0 --length 10 --max 20 --wavelength 1625 --wavelength 1310.0
	has wavelength_nm 1310 1625
}

@test "wavelengths of the application, else of the losses and tests, else none" {
	table elements 'link seq kind loss_db wavelength_nm' 'A 1 fusion 0.03 1550' \
		'A 1 fusion 0.05 1310' 'B 1 fusion . .' 'C 1 fusion . .' 'D 1 fusion 0.03 1550'
	table links 'link application max_db' 'A . 9' 'B . 9' 'C . 9' 'D G-PON/B+ 9'
	table tests 'link wavelength_nm method loss_db' 'B 1625 one_cord 0.05' 'A 1310 one_cord 0.05'
	gives 1 --links links --tests tests elements
	has link A A B C D D
	has wavelength_nm 1310 1550 1625 "" 1310 1490
	has typical_db 0.050 0.030 0.050 0.050 0.050 0.050
	has verdict pass pass pass pass overload overload
	# A name with no wavelength of its own leaves it to the losses.
	gives 1 --application NG-PON2/N1 elements
	has wavelength_nm 1310 1550 "" "" 1550
	has allowed_db 29.000 29.000 29.000 29.000 29.000
}

@test "a loss counts at its own wavelength, a stated one at all, else the allowance" {
	table elements 'link seq kind loss_db wavelength_nm sd_db' 'A 1 fusion 0.11 1550 .' \
		'A 2 connector 0.40 . 0.05'
	gives 0 --max 9 --wavelength 1310,1550 elements
	has measured 1 2
	has typical_db 0.450 0.510
	has worst_db 0.850 0.660
	gives 0 --max 9 --sigma 0 elements
	has worst_db 0.510
	has stat_db 0.510
}

@test "count stands for alike ones, joints are fusion and mechanical" {
	table elements 'link kind count loss_db' 'A connector 2 0.3' 'A fusion 3 .' \
		'A mechanical 2 .' 'A connector . .' 'A fusion 0 9'
	gives 0 --max 9 elements
	has joints 5
	has connectors 3
	has measured 2
	has typical_db 1.300
}

@test "the order of rows, files and columns does not matter where there is seq" {
	gives 1 --wavelength 1550 --links "$samples/links.tsv" --tests "$samples/tests.tsv" \
		"$samples/elements.tsv"
	whole=$output
	head -n 1 "$samples/elements.tsv" >a.tsv
	tail -n +2 "$samples/elements.tsv" | sed -n '1~2p' >>a.tsv
	head -n 1 "$samples/elements.tsv" | awk -F '\t' -v OFS='\t' '{ print $11, $4, $2, $1, $10, $9, $8, $12, $5 }' >b.tsv
	tail -n +2 "$samples/elements.tsv" | sed -n '2~2p' | tac |
		awk -F '\t' -v OFS='\t' '{ print $11, $4, $2, $1, $10, $9, $8, $12, $5 }' >>b.tsv
	gives 1 --wavelength 1550 --links "$samples/links.tsv" --tests "$samples/tests.tsv" a.tsv b.tsv
	[ "$(sort <<<"$output")" = "$(sort <<<"$whole")" ]
}

@test "what is not known is named, and the sums are empty" {
	table elements 'link seq kind ways length_km loss_db' 'A 3 fibre . . .' 'A 7 other . . .' \
		'A 8 . . . 0.1' 'A 9 splitter . . .' 'A 10 splitter 3 . .'
	gives 1 --max 9 --wavelength 1550 elements
	has typical_db ""
	has stat_db ""
	has worst_db ""
	has margin_db ""
	has length_km ""
	has allowed_db 9.000
	has verdict unknown
	has unknown "seq 3: fibre without length; seq 7: other without loss; seq 8: without kind; seq 9: splitter without ways; seq 10: splitter without loss or allowance at 1550 nm"
}

@test "no limit is unknown, and the sums are there" {
	gives 1 --connectors 1 --min 0.1 --launch -3
	has typical_db 0.250
	has allowed_db ""
	has verdict unknown
	has unknown limit
	# an application has no limit at a wavelength that is not its own
	gives 1 --connectors 1 --application 10GBASE-LR --wavelength 1550
	has unknown limit
}

@test "a table without rows: a header and nothing against it" {
	table elements 'link kind'
	gives 0 elements
	[ "$output" = "$head" ]
}

# --- limits ----------------------------------------------------------------------------------------

@test "a link's own limits before the options, which fill what it lacks" {
	table elements 'link kind loss_db' 'A other 5' 'B other 5' 'C other 5' 'D other 5'
	table links 'link max_db min_db launch_dbm sensitivity_dbm application' 'B 4 . . . .' \
		'A 6 . . . .' 'C . 7 . . .' 'D . . -1 . .'
	gives 1 --links links --max 10 --sensitivity -9 elements
	has link A B C D
	has allowed_db 6.000 4.000 10.000 8.000
	has verdict pass over overload pass
}

@test "all limits that are known hold at once, less the reserves" {
	gives 0 --connectors 1 --application 10GBASE-LR --wavelength 1310 --max 7 \
		--launch -8.2 --sensitivity -14.1
	has allowed_db 5.900
	gives 0 --connectors 1 --application 10GBASE-LR --max 7 --launch -8.2 --sensitivity -15
	has allowed_db 6.200
	gives 0 --connectors 1 --max 5 --penalty 1 --ageing 0.5 --repair 2.25
	has allowed_db 1.250
	gives 1 --connectors 1 --max 3 --penalty 1 --ageing 0.5 --repair 2.25
	has allowed_db -0.750
	has verdict over
	gives 1 --connectors 1 --max 3 --launch -20 --sensitivity -10
	has allowed_db -10.000
}

@test "exactly at the limit passes, a millionth above it does not" {
	table elements 'link kind loss_db' 'A other 0.1' 'A other 0.2' 'B other 0.100001' 'B other 0.2'
	gives 1 --max 0.3 elements
	has verdict pass over
	has margin_db 0.000 0.000
	gives 1 --max 9 --min 0.300001 elements
	has verdict overload pass
}

@test "a thousand times 0.1 is 100" {
	{
		printf 'link\tkind\tloss_db\n'
		for _ in {1..1000}; do printf 'A\tother\t0.1\n'; done
	} >elements
	gives 0 --max 100 --min 100 elements
	has margin_db 0.000
}

@test "links without elements come after the others, as unknown" {
	table elements 'link kind loss_db' 'C other 1' 'A other 1'
	table links 'link max_db' 'A 2' 'B 2' 'C 2' 'D 2'
	gives 1 --links links elements
	has link C A B D
	has verdict pass pass unknown unknown
	has unknown "" "" "no elements" "no elements"
}

# --- tests -----------------------------------------------------------------------------------------

@test "the samples at 1550 nm are as FAULTS.md says" {
	gives 1 --links "$samples/links.tsv" --tests "$samples/tests.tsv" --wavelength 1550 \
		"$samples/elements.tsv"
	has link L01 L02 L03 L04 L05 L06 L07 L08 L09 L10 L11 L12
	has verdict pass pass pass pass pass over overload pass unknown pass pass pass
	has tested_is as-computed low as-computed high as-computed as-computed as-computed \
		as-computed "" as-computed as-computed as-computed
	awk -F '\t' '$1 == "L08" && $8 == "4.550" && $13 == "0.000" { ok = 1 } END { exit !ok }' <<<"$output"
	awk -F '\t' '$1 == "L09" && $15 == "seq 11: other without loss" { ok = 1 } END { exit !ok }' <<<"$output"
	gives 1 --links "$samples/links.tsv" --wavelength 1550 "$samples/elements.tsv"
	has verdict pass pass pass pass pass over overload pass unknown pass pass pass
}

@test "the latest test of each end counts, timed before untimed; their mean is tested_db" {
	table elements 'link kind loss_db sd_db' 'A other 5 1'
	table tests 'link from wavelength_nm method loss_db tested_at' \
		'A x 1550 one_cord 9 2026-03-01T10:00Z' 'A x 1550 one_cord 5 2026-03-02T10:00+02:00' \
		'A x 1550 one_cord 8 2026-03-02T07:59Z' 'A x 1550 one_cord 7 .' \
		'A y 1550 one_cord 7 .' 'A y 1550 one_cord 6 .' 'A y 1310 one_cord 6.2 2026-03-02' \
		'Z y 1550 one_cord 99 .' 'A y 1550 one_cord . 2026-03-09'
	gives 0 --max 9 --tests tests elements
	has wavelength_nm 1310 1550
	has tested_db 6.200 5.500
	has margin_db 2.800 3.500
}

@test "each end is compared by itself: a good one hides no bad one" {
	table elements 'link kind loss_db sd_db' 'A other 5 0.1'
	table tests 'link from wavelength_nm method loss_db' 'A x 1550 one_cord 5.3' \
		'A y 1550 one_cord 4.7'
	gives 0 --max 9 --tests tests elements
	has tested_is as-computed
	sed -i 's/5\.3/5.301/' tests
	gives 1 --max 9 --tests tests elements
	has tested_is high
	has verdict pass
	sed -i 's/4\.7/4.699/' tests
	gives 1 --max 9 --tests tests elements
	has tested_is low
	has tested_db 5.000
}

@test "below zero is low, even where nothing can be computed" {
	table elements 'link kind' 'A other'
	table tests 'link wavelength_nm method loss_db' 'A 1550 one_cord -0.01'
	gives 1 --max 9 --tests tests elements
	has tested_is low
	has tested_db -0.010
	has verdict unknown
}

@test "what a method leaves out is added before the verdict" {
	table elements 'link kind loss_db sd_db' 'A connector 0.2 .' 'A other 5 0.5' 'A connector 0.4 .'
	for case in 'one_cord 3.800' 'two_cord 3.400' 'three_cord 3.200'; do
		table tests 'link wavelength_nm method loss_db' "A 1550 ${case% *} 5.2"
		gives 0 --max 9 --tests tests elements
		has margin_db "${case#* }"
	done
}

@test "too little by a test is overload, without what statistics add" {
	table elements 'link kind loss_db sd_db' 'A connector . .' 'A other 5 1' 'A connector . .'
	table tests 'link wavelength_nm method loss_db' 'A 1550 three_cord 4.5'
	gives 0 --max 9 --min 5 --tests tests elements
	gives 1 --max 9 --min 5.001 --tests tests elements
	has verdict overload
}

@test "a test without its method decides nothing" {
	table elements 'link kind loss_db' 'A other 5'
	table tests 'link wavelength_nm method loss_db' 'A 1550 . 4.5'
	gives 1 --max 9 --tests tests elements
	has tested_db 4.500
	has tested_is ""
	has verdict unknown
	has unknown "method of a test"
}

# --- tables of one's own -----------------------------------------------------------------------------

@test "allowances and applications of one's own; the printed ones read back the same" {
	gives 0 --print-allowances
	printf '%s\n' "$output" >allowances
	gives 0 --print-applications
	printf '%s\n' "$output" >applications
	gives 0 --length 12.4 --joints 6 --connectors 2 --application 10GBASE-LR
	built_in=$output
	gives 0 --length 12.4 --joints 6 --connectors 2 --application 10GBASE-LR \
		--allowances allowances --applications applications
	[ "$output" = "$built_in" ]
	cmp allowances "$BATS_TEST_DIRNAME/../lib/fibre/allowances.tsv"
	cmp applications "$BATS_TEST_DIRNAME/../lib/fibre/applications.tsv"
	table own 'kind wavelength_nm typical_db sd_db max_db' 'fibre 850 2.5 . 3.5' 'fusion . 1 . 1'
	gives 0 --length 2 --joints 1 --application 1000BASE-SX/OM2 --allowances own --max 9 --sigma 0 \
		--applications <(printf 'application\twavelength_nm\tmax_db\n1000BASE-SX/OM2\t850\t6\n')
	has margin_db 0.000
}

@test "every application built in can be planned with" {
	"$exe" --print-applications | awk -F '\t' 'NR > 1 && !seen[$1]++ { print $1 }' >names
	[ "$(wc -l <names)" -gt 80 ]
	while read -r name; do
		run --separate-stderr "$exe" --connectors 1 --application "$name"
		[ "$status" -le 1 ] && [ -z "$stderr" ]
		! grep -q limit <<<"${lines[1]}"
	done <names
}

# --- what is trouble -------------------------------------------------------------------------------

@test "elements that cannot be" {
	table e 'link kind' '. fusion'
	sed -i 's/^\.//' e
	trouble "e:2: column 'link': empty: ''" e
	table e 'link kind' 'A splice'
	trouble "e:2: column 'kind': none of: connector fibre fusion mechanical splitter other: 'splice'" e
	table e 'link kind count length_km' 'A fibre 2 3'
	trouble "e:2: column 'count': a fibre is one section: give each a row of its own: '2'" e
	table e 'link kind loss_db' 'A fusion 0,1'
	trouble "e:2: column 'loss_db': decimal comma: write a point: '0,1'" e
	table e 'link kind length_km' 'A fibre -1'
	trouble "e:2: column 'length_km': outside 0 to 100000: '-1'" e
	table e 'link kind sd_db' 'A fusion -1'
	trouble "e:2: column 'sd_db': outside 0 to 1000: '-1'" e
	table e 'link kind seq' 'A fusion 1.5'
	trouble "e:2: column 'seq': not a whole number: '1.5'" e
	table e 'link kind seq wavelength_nm' 'A fusion 1 1550' 'A fusion 1 1550.0'
	trouble "link 'A': seq 1: two rows for one wavelength" e
	table e 'link kind seq wavelength_nm' 'A fusion 1 1550' 'A mechanical 1 1310'
	trouble "link 'A': seq 1: two rows that do not agree in kind, ways, count or length_km" e
	table e 'link kinds'
	trouble "e:1: no column 'kind': is it 'kinds'?" e
}

@test "sums that do not fit, and too many wavelengths" {
	{
		printf 'link\tkind\tcount\tloss_db\n'
		for _ in {1..9300}; do printf 'A\tother\t1000000\t1000\n'; done
	} >e
	trouble "link 'A': the sum of the link is too large" --max 9 e
	{
		printf 'link\tkind\tloss_db\twavelength_nm\n'
		for i in {1..65}; do printf 'A\tother\t1\t%s\n' $((1300 + i)); done
	} >e
	trouble "more than 64 wavelengths for one link" --max 9 e
	gives 1 --max 9 --wavelength 1301 e
}

@test "options that cannot be" {
	trouble "--application: no such application: --print-applications lists them: '10GBASE'" \
		--connectors 1 --application 10GBASE
	trouble "--wavelength: outside 600 to 1700: '1.55'" --connectors 1 --wavelength 1310,1.55
	trouble "--wavelength: number with something behind it: '1310nm'" \
		--connectors 1 --wavelength 1310nm
	trouble "--length: outside 0 to 100000: '-1'" --length -1
	trouble "--joints: not a whole number: '1.5'" --joints 1.5
	trouble "--repair: outside 0 to 100: '-1'" --connectors 1 --repair -1
	trouble "--max: decimal comma: write a point: '4,5'" --connectors 1 --max 4,5
}

@test "side tables that cannot be" {
	table e 'link kind' 'A fusion'
	table l 'link max_db application' 'A 9 10GBASE'
	trouble "l:2: column 'application': no such application: --print-applications lists them: '10GBASE'" \
		--links l e
	table l 'link max_db' 'A 9' 'A 9'
	trouble "l:3: column 'link': a second row with this key: 'A'" --links l e
	printf 'link\tmax_db\n\t9\n' >l
	trouble "l:2: column 'link': empty: ''" --links l e
	table t 'link wavelength_nm method loss_db' 'A . one_cord 1'
	trouble "t:2: column 'wavelength_nm': a loss without its wavelength: ''" --tests t e
	printf 'link\twavelength_nm\tmethod\tloss_db\n\t1550\tone_cord\t1\n' >t
	trouble "t:2: column 'link': a loss without its link: ''" --tests t e
	table t 'link wavelength_nm method loss_db' 'A 1550 four_cord 1'
	trouble "t:2: column 'method': none of: one_cord two_cord three_cord: 'four_cord'" --tests t e
	table a 'application wavelength_nm max_db' 'X 1310 1' 'X 1310.0 2'
	trouble "a:3: column 'application': a second row for this wavelength_nm: 'X'" --applications a e
}

@test "allowances that cannot be" {
	table e 'link kind' 'A fusion'
	while IFS='|' read -r row message; do
		table a "$(tr '\t' ' ' <<<"$made")" "$row"
		trouble "a:2: column $message" --allowances a e
	done <<-'EOF'
		fusion . each . 0.2 . 0.1|'max_db': below typical_db: '0.1'
		fusion . each . . . 0.1|'typical_db': empty: ''
		fusion . each . 0.1 . .|'max_db': empty: ''
		fusion . km . 0.1 . 0.2|'per': a fibre is taken per km, all else each: 'km'
		fibre . each . 0.1 . 0.2|'per': a fibre is taken per km, all else each: 'each'
		fusion 2 each . 0.1 . 0.2|'ways': only a splitter has ways: '2'
		splitter . each . 0.1 . 0.2|'ways': a splitter without ways: ''
		other . each . 0.1 . 0.2|'kind': no two of these are alike: state the loss of each: 'other'
	EOF
	table a "$(tr '\t' ' ' <<<"$made")" 'fibre . km 1310 0.1 . 0.2' 'fibre . km 1310.0 0.1 . 0.2'
	trouble "a:3: column 'kind': a second row for this kind, ways and wavelength_nm: 'fibre'" \
		--allowances a e
}

@test "in trouble no output file is left; a verdict against it leaves one" {
	table e 'link kind loss_db' 'A other 5'
	gives 1 --max 1 -o out e
	[ "$(sed -n 2p out | cut -f 14)" = over ]
	rm out
	table e 'link kind loss_db' 'A other 5' 'A other x'
	run --separate-stderr -2 "$exe" --max 1 -o out e
	[ ! -e out ]
}

@test "columns under other names" {
	table e 'strecke kind loss_db' 'A other 5'
	gives 0 --max 9 -c link=strecke e
	has link A
	trouble "--column: no column this program reads: 'verdict'" -c verdict=kind e
}

@test "half a million elements, those of every link strewn over the table" {
	awk 'BEGIN { print "link\tseq\tkind\tloss_db"
		for (i = 0; i < 500000; i++) printf "L%d\t%d\tfusion\t0.05\n", i % 5000, 999 - i / 5000 }' >e
	gives 0 --max 5 e
	[ "${#lines[@]}" -eq 5001 ]
	[ "$(tail -n +2 <<<"$output" | cut -f 4,7,13 | sort -u)" = "100	5.000	0.000" ]
}
