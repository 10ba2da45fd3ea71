#!/usr/bin/env bats
# thrum-budget as a program: what it reads, what it hands out, what it refuses. What the figures ought
# to be is in published/budget.bats.

# shellcheck disable=SC2016 # awk has a $ of its own
# shellcheck source=tests/program.bash disable=SC2154 # bin, exe and samples come from there
load program

setup() {
	begin thrum-budget
	head=$(printf '%s	' link wavelength_nm length_km joints connectors measured typical_db \
		stat_db worst_db tested_ab_db tested_ba_db tested_is allowed_db margin_db cd_ps_nm pmd_ps \
		orl_db verdict says)unknown
	made=$(printf '%s	' allowance kind ways category per from_nm to_nm typical_db sd_db)max_db
}

# --- one link from options -----------------------------------------------------------------------

@test "a link from options, by the built-in allowances, against an application" {
	# six joints, of them two of pigtails: five sections of 1.96 km;
	# 3 sqrt(5 (0.02 x 1.96)^2 + 6 x 0.03^2 + 2 x 0.13^2) = 0.650
	gives 0 --length 9.8 --joints 6 --connectors 2 --application 10GBASE-LR
	[ "$output" = "$head
options	1310	9.800	6	2	0	4.132	4.782	7.220				6.200	1.418				pass		" ]
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
options		10.000	0	0	0							20.000					unknown		wavelength (for fibre: 1260 to 1625, 1626 to 1650 nm)" ]
	gives 1 --length 10 --max 20 --wavelength 1100
	has unknown "element 1: fibre without loss or allowance at 1100 nm"
}

@test "a link from options stands alone" {
	trouble "--length, --joints, --connectors and --splitter make a link of their own: no FILE, --links or --tests with them" \
		--length 3 elements.tsv
	trouble "--length, --joints, --connectors and --splitter make a link of their own: no FILE, --links or --tests with them" \
		--joints 3 --tests "$samples/tests.tsv"
	trouble "--length, --joints, --connectors and --splitter make a link of their own: no FILE, --links or --tests with them" \
		--connectors 3 --links "$samples/links.tsv"
}

# --- elements --------------------------------------------------------------------------------------

@test "several wavelengths: one row each, ascending, each once" {
	run --separate-stderr -2 "$exe" --length 10 --max 20 --wavelength 1625,1310,1550,1310.0
	[ "$stderr" = "thrum-budget: --wavelength: named twice: '1310.0'" ]
	gives 0 --length 10 --max 20 --wavelength 1625,1310,1550
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
	gives 1 --accept one-way --links links --tests tests elements
	has link A A B C D D
	has wavelength_nm 1310 1550 1625 "" 1310 1490
	has typical_db 0.050 0.030 0.050 0.050 0.050 0.050
	has verdict pass unknown pass unknown overload overload
	has unknown "" test "" test test test
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
	local elements=$BATS_TEST_DIRNAME/night/elements.tsv
	local other='{ print $15, $4, $2, $1, $14, $10, $13, $5, $11, $7, $12, $17, $16 }'
	gives 1 --wavelength 1550 --links "$samples/links.tsv" --tests "$samples/tests.tsv" \
		"$elements"
	whole=$output
	head -n 1 "$elements" >a.tsv
	tail -n +2 "$elements" | sed -n '1~2p' >>a.tsv
	head -n 1 "$elements" | awk -F '\t' -v OFS='\t' "$other" >b.tsv
	tail -n +2 "$elements" | sed -n '2~2p' | tac | awk -F '\t' -v OFS='\t' "$other" >>b.tsv
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
	has verdict unknown
	has unknown "10GBASE-LR has no wavelength 1550 nm"
}

@test "at a wavelength that its application does not have a link is unknown, whatever else limits it" {
	gives 1 --length 60 --application 10GBASE-LR --max 30 --wavelength 1310,1550
	has verdict over unknown
	has unknown "" "10GBASE-LR has no wavelength 1550 nm"
	table elements 'link kind loss_db' 'A fusion 1' 'B fusion 1' 'C fusion 1' 'D fusion 9.5'
	table l 'link wavelength_nm application max_db' 'A 1550 10GBASE-LR 9' 'B . 10GBASE-ER 9' 'C . NG-PON2/N1 .' \
		'D . 10GBASE-LR 9'
	gives 1 --links l --wavelength 1550 --max 8 --min 0.1 elements
	has verdict unknown overload overload over
	has unknown "10GBASE-LR has no wavelength 1550 nm" "" "" "10GBASE-LR has no wavelength 1550 nm"
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
	gives 0 --connectors 1 --max 4 --ageing 0.5 --repair 2.25
	has allowed_db 1.250
	gives 1 --connectors 1 --max 2 --ageing 0.5 --repair 2.25
	has allowed_db -0.750
	has verdict over
	has says 'loss 0.640 above -0.750'
	# a path penalty is part of what an application or a greatest loss allows already
	gives 0 --connectors 1 --max 4 --penalty 3
	has allowed_db 4.000
	gives 0 --connectors 1 --max 4 --penalty 3 --launch 0 --sensitivity -6
	has allowed_db 3.000
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

@test "the links of the night at 1550 nm are as samples/FAULTS.md says" {
	local elements=$BATS_TEST_DIRNAME/night/elements.tsv
	local open='unknown unknown unknown unknown unknown unknown unknown'

	gives 1 --links "$samples/links.tsv" --tests "$samples/tests.tsv" --wavelength 1550 "$elements"
	# shellcheck disable=SC2086 # words
	has verdict pass unknown unknown unknown pass over overload pass unknown over overload pass $open
	grep -q '^L03	.*	test from quoinmere-panel$' <<<"$output"
	grep -q '^L09	.*	seq 15: other without loss$' <<<"$output"
	grep -q '^L13	.*	the link is not whole at quoinmere-panel; tests from both ends$' <<<"$output"
	[ "$("$bin/thrum-show" --tsv --columns link,tested_is <<<"$output" | grep -c '	as-computed$')" -eq 9 ]
	grep -q '^L02	.*	low	' <<<"$output"
	grep -q '^L04	.*	high	' <<<"$output"
	grep -q '^L08	.*	4.550	4.550	as-computed	4.550	0.000	' <<<"$output"
	gives 1 --links "$samples/links.tsv" --wavelength 1550 "$elements"
	# shellcheck disable=SC2086
	has verdict pass pass pass pass pass over overload over unknown over overload pass $open
}

@test "the latest test of each end counts, timed before untimed" {
	table elements 'link kind loss_db sd_db' 'A other 5 1'
	table tests 'link from wavelength_nm method loss_db tested_at' \
		'A x 1550 one_cord 9 2026-03-01T10:00Z' 'A x 1550 one_cord 5 2026-03-02T10:00+02:00' \
		'A x 1550 one_cord 8 2026-03-02T07:59Z' 'A x 1550 one_cord 7 .' \
		'A y 1550 one_cord 7 .' 'A y 1550 one_cord 6 .' 'A y 1310 one_cord 6.2 2026-03-02' \
		'Z y 1550 one_cord 55 .' 'A y 1550 one_cord . 2026-03-09'
	gives 1 --max 9 --tests tests elements
	has link A A Z
	has wavelength_nm 1310 1550 1550
	has tested_ab_db "" 5.000 55.000
	has tested_ba_db 6.200 6.000 ""
	has margin_db 2.800 3.000 ""
	has verdict unknown pass unknown
	has unknown "test from x" "" "no elements; test from the other end"
	# of two at one time the greater: one of them is wrong
	table tests 'link from wavelength_nm method loss_db tested_at' 'A x 1550 one_cord 8 2026-03-14T10:00Z' \
		'A x 1550 one_cord 5 2026-03-14T10:00Z' 'A y 1550 one_cord 5 2026-03-14T10:00Z'
	table elements 'link kind loss_db sd_db' 'A other 5 0.1'
	gives 1 --max 9 --tests tests elements
	has tested_ab_db 8.000
	sed -i '2s/2026-03-14T10:00Z/2026-03-14/' tests
	gives 1 --max 9 --tests tests elements
	has tested_ab_db 8.000
	sed -i '2s/2026-03-14/2026-03-12/' tests
	gives 0 --max 9 --tests tests elements
	has tested_ab_db 5.000
}

@test "each end is compared by itself: a good one hides no bad one" {
	table elements 'link kind loss_db sd_db' 'A other 5 0.1'
	table tests 'link from wavelength_nm method loss_db' 'A x 1550 one_cord 5.5' \
		'A y 1550 one_cord 4.5'
	# the bounds are 5 +- 3 x 0.1 and the 0.2 dB by which good tests differ
	gives 0 --max 9 --tests tests elements
	has tested_is as-computed
	sed -i 's/5\.5/5.501/' tests
	gives 1 --max 9 --tests tests elements
	has tested_is high
	has verdict unknown
	has says "test from x 5.501 high, above 5.500"
	sed -i 's/4\.5/4.499/' tests
	gives 1 --max 9 --tests tests elements
	has tested_is low
	has says "test from x 5.501 high, above 5.500; test from y 4.499 low, below 4.500"
}

@test "a link that comes out below zero is unknown" {
	table elements 'link kind loss_db' 'A fusion -100' 'A fusion 50'
	gives 1 --max 9 --wavelength 1550 elements
	has verdict unknown
	has unknown 'loss, which comes out below zero'
}

@test "below zero is low, even where nothing can be computed" {
	table elements 'link kind' 'A other'
	table tests 'link wavelength_nm method loss_db' 'A 1550 one_cord -0.01'
	gives 1 --max 9 --tests tests elements
	has tested_is low
	has tested_ab_db -0.010
	has verdict unknown
}

@test "what a method leaves out is added before the verdict" {
	table elements 'link kind loss_db sd_db' 'A connector 0.2 .' 'A other 5 0.5' 'A connector 0.4 .'
	for case in 'one_cord 3.800' 'two_cord 3.400' 'three_cord 3.200'; do
		table tests 'link wavelength_nm method loss_db' "A 1550 ${case% *} 5.2"
		gives 0 --accept one-way --max 9 --tests tests elements
		has margin_db "${case#* }"
	done
}

@test "too little by a test is overload, what it leaves out being taken at its least" {
	table elements 'link kind loss_db sd_db' 'A connector 0.4 0.1' 'A other 5 1' 'A connector 0.4 0.1'
	table tests 'link wavelength_nm method loss_db' 'A 1550 three_cord 4.5'
	# 4.5 + 0.8 - 3 sqrt(2 x 0.1^2) = 4.875736
	gives 0 --accept one-way --max 9 --min 4.875736 --tests tests elements
	gives 1 --accept one-way --max 9 --min 4.875737 --tests tests elements
	has verdict overload
	has says "test 4.876 at least, below 4.876"
}

@test "a test without its method decides nothing" {
	table elements 'link kind loss_db' 'A other 5'
	table tests 'link wavelength_nm method loss_db' 'A 1550 . 4.5'
	gives 1 --accept one-way --max 9 --tests tests elements
	has tested_ab_db 4.500
	has tested_is ""
	has verdict unknown
	has unknown "method of test"
}

# --- tables of one's own -----------------------------------------------------------------------------

@test "allowances and applications of one's own; the printed ones read back the same" {
	gives 0 --print-allowances
	printf '%s\n' "$output" >allowances
	gives 0 --print-applications
	printf '%s\n' "$output" >applications
	gives 0 --length 9.8 --joints 6 --connectors 2 --application 10GBASE-LR
	built_in=$output
	gives 0 --length 9.8 --joints 6 --connectors 2 --application 10GBASE-LR \
		--allowances allowances --applications applications
	[ "$output" = "$built_in" ]
	cmp allowances "$BATS_TEST_DIRNAME/../lib/fibre/allowances.tsv"
	cmp applications "$BATS_TEST_DIRNAME/../lib/fibre/applications.tsv"
	table own 'kind from_nm to_nm typical_db sd_db max_db' 'fibre 850 850 2.5 . 3.5' 'fusion . . 1 . 1'
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
	trouble "link 'A': seq 1: two rows that do not agree in kind, ways, count, length_km, category or allowance" e
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
	trouble "--application: no such application: is it 10GBASE-LR?: '10gbase-lr'" \
		--connectors 1 --application 10gbase-lr
	trouble "--application: no such application: --print-applications lists them: 'radio'" \
		--connectors 1 --application radio
	trouble "--sections: of what --length?" --sections 3
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
	table l 'link max_db application' 'A 9 10GBASE-lr'
	trouble "l:2: column 'application': no such application: is it 10GBASE-LR?: '10GBASE-lr'" \
		--links l e
	table l 'link max_db' 'A 9' 'A 9'
	trouble "l:3: column 'link': a second row of this link for this wavelength_nm: 'A'" --links l e
	table l 'link wavelength_nm max_db' 'A 1310 9' 'A 1550 9' 'A 1310.0 8'
	trouble "l:4: column 'link': a second row of this link for this wavelength_nm: 'A'" --links l e
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
		. fusion . . each . . 0.2 . 0.1|'max_db': below typical_db: '0.1'
		. fusion . . each . . . . 0.1|'typical_db': empty: ''
		. fusion . . each . . 0.1 . .|'max_db': empty: ''
		. fusion . . km . . 0.1 . 0.2|'per': a fibre is taken per km, all else each: 'km'
		. fibre . . each . . 0.1 . 0.2|'per': a fibre is taken per km, all else each: 'each'
		. fusion 2 . each . . 0.1 . 0.2|'ways': only a splitter has ways: '2'
		. splitter . . each . . 0.1 . 0.2|'ways': a splitter without ways or a name: ''
		. other . . each . . 0.1 . 0.2|'kind': no two of these are alike: give it a name: 'other'
		. fibre . . km 1310 . 0.1 . 0.2|'to_nm': not a range from from_nm to to_nm: ''
		. fibre . . km 1310 1260 0.1 . 0.2|'to_nm': not a range from from_nm to to_nm: '1260'
	EOF
	for second in '1300 1320' '1310 1320' '1250 1300' '1310.0 1330'; do
		table a "$(tr '\t' ' ' <<<"$made")" '. fibre . . km 1310 1330 0.1 . 0.2' \
			'. fibre . G.654.E km 1310 1330 0.1 . 0.2' '. fibre . . km 1260 1310 0.1 . 0.2' \
			". fibre . . km $second 0.1 . 0.2"
		trouble "a:5: column 'kind': a second row for this at one wavelength: 'fibre'" \
			--allowances a e
	done
}

@test "in trouble no output file is left; a verdict against it leaves one" {
	table e 'link kind loss_db' 'A other 5'
	gives 1 --max 1 -o out e
	[ "$(sed -n 2p out | cut -f 18)" = over ]
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
	[ "$(tail -n +2 <<<"$output" | cut -f 4,7,14 | sort -u)" = "100	5.000	0.000" ]
}

# --- no false pass -----------------------------------------------------------------------------------

@test "beyond the reach of its application or of its own limit a link is over, whatever it loses" {
	gives 1 --length 12.4 --joints 6 --connectors 2 --application 10GBASE-LR
	has verdict over
	has says "length 12.400 km, beyond the reach of 10.000"
	gives 0 --length 10 --joints 6 --connectors 2 --application 10GBASE-LR
	# a multimode fibre of 900 m that was read at 2.2 dB, on a system for 300 m
	table e 'link kind length_km category loss_db wavelength_nm' 'A fibre 0.9 OM3 2.2 850'
	gives 1 --application 10GBASE-SR/OM3 e
	has verdict over
	has says "length 0.900 km, beyond the reach of 0.300"
	table l 'link max_db max_km' 'A 9 0.899999'
	gives 1 --links l e
	has verdict over
	table l 'link max_db max_km' 'A 9 0.9'
	gives 0 --links l e
	# where there is a reach, a length that nobody knows is missing
	table e 'link kind loss_db' 'A fibre 2.2'
	gives 1 --links l e
	has verdict unknown
	has unknown length
}

@test "too little is judged by the least that the parts may lose" {
	# 13.24 - 3 x 0.38 = 12.1
	gives 1 --splitter 16 --application G-PON/B+
	has verdict overload overload
	has says "loss 12.100 at least, below 13.000" "loss 12.100 at least, below 13.000"
	gives 0 --splitter 16 --max 28 --min 12.1
	gives 1 --splitter 16 --max 28 --min 12.100001
	# nothing passive gains: a least loss of nothing is kept by all
	gives 0 --connectors 1 --max 1 --min 0
}

@test "from the highest power launched and the most the receiver bears, the link's own before the application's" {
	table e 'link kind loss_db' 'A other 5' 'B other 5' 'C other 5' 'D other 5' 'E other 5'
	table l 'link application max_db launch_max_dbm receive_max_dbm min_db' 'A . 9 2 -3 .' \
		'B . 9 2 -3.1 .' 'C 10GBASE-ER 9 . . .' 'D 10GBASE-ER 9 4.1 . .' 'E . 9 2 . 5.1'
	gives 1 --wavelength 1550 --links l e
	has verdict pass overload pass overload overload
	# 10GBASE-ER: +4.0 dBm into a receiver that bears -1.0 dBm; L-16.1: +3 dBm, -9 dBm
	gives 1 --connectors 2 --application 10GBASE-ER
	has verdict overload
	table e 'link kind loss_db' 'A other 11.999999' 'B other 12' 'C other 24' 'D other 24.000001'
	gives 1 --application L-16.1 e
	has verdict overload pass pass over
}

@test "each direction of a test is judged by itself" {
	table e 'link kind length_km loss_db sd_db' 'A fibre 5 6.1 0.5'
	table t 'link from wavelength_nm method loss_db' 'A left 1310 one_cord 5.80' \
		'A right 1310 one_cord 6.50'
	gives 1 --application 10GBASE-LR --tests t e
	has tested_ab_db 5.800
	has tested_ba_db 6.500
	has margin_db -0.300
	has verdict over
	has says "test from right 6.500 above 6.200"
	table t 'link from wavelength_nm method loss_db' 'A left 1310 one_cord 5.80' \
		'A right 1310 one_cord 6.20'
	gives 0 --application 10GBASE-LR --tests t e
}

@test "which direction a test is of, the links table says" {
	table e 'link kind loss_db sd_db' 'A other 5 1'
	table l 'link site_a site_b max_db accept' 'A west east 9 .'
	table t 'link from wavelength_nm method loss_db' 'A east 1310 one_cord 5.1' \
		'A west 1310 one_cord 5.2'
	gives 0 --links l --tests t e
	has tested_ab_db 5.200
	has tested_ba_db 5.100
	table t 'link from wavelength_nm method loss_db' 'A east 1310 one_cord 5.1' \
		'A North 1310 one_cord 5.2'
	trouble "t:3: column 'from': neither of the two ends of this link: 'North'" --links l --tests t e
	# without sites the end that appears first is a; there is no third
	table t 'link from wavelength_nm method loss_db' 'A x 1310 one_cord 5.1' \
		'A y 1310 one_cord 5.2' 'A z 1550 one_cord 5.2'
	trouble "t:4: column 'from': neither of the two ends of this link: 'z'" --max 9 --tests t e
}

@test "where there are tests, an untested link is unknown, though what was computed keeps to its limit" {
	table e 'link kind loss_db' 'A other 5' 'B other 5'
	table t 'link from wavelength_nm method loss_db' 'A x 1550 one_cord 5' 'A y 1550 one_cord 5'
	gives 1 --max 9 --wavelength 1310,1550 --tests t e
	has verdict unknown pass unknown unknown
	has unknown "tests from both ends" "" "tests from both ends" "tests from both ends"
	has margin_db 4.000 4.000 4.000 4.000
	head -n 1 t >none
	gives 1 --max 9 --wavelength 1550 --accept one-way --tests none e
	has unknown test test
	gives 0 --max 9 --wavelength 1550 e
}

@test "a link tested from one end only is unknown, unless that is accepted" {
	table e 'link kind loss_db sd_db' 'A other 5 1'
	table l 'link site_a site_b max_db accept' 'A west east 9 .'
	table t 'link from wavelength_nm method loss_db' 'A west 1310 one_cord 5.2'
	gives 1 --links l --tests t e
	has verdict unknown
	has unknown "test from east"
	gives 0 --links l --tests t --accept one-way e
	table l 'link site_a site_b max_db accept' 'A west east 9 two-way'
	gives 1 --links l --tests t --accept one-way e
	table l 'link site_a site_b max_db accept' 'A west east 9 one-way'
	gives 0 --links l --tests t e
	# over is over from any end
	table l 'link max_db' 'A 5.1'
	gives 1 --links l --tests t e
	has verdict over
}

@test "a test older than a joint of the link does not count, and the link does not pass by it" {
	table e 'link seq kind loss_db made_at' 'A 1 fusion 2 2026-03-14T20:00:00Z' \
		'A 2 fusion 3 2026-03-15T22:10:00+01:00' 'B 1 fusion 5 2026-03-15'
	table t 'link from wavelength_nm method loss_db tested_at' 'A x 1310 one_cord 5 2026-03-15T21:09:59Z' \
		'A y 1310 one_cord 5 2026-03-15T21:10:00Z' 'B x 1310 one_cord 5 2026-03-15T04:00:00' \
		'B y 1310 one_cord 5 2026-03-13'
	gives 1 --max 9 --tests t e
	has verdict unknown unknown
	has tested_ab_db "" 5.000
	has tested_ba_db 5.000 ""
	has unknown "test from x later than the joint of 2026-03-15T21:10:00Z" \
		"test from y later than the joint of 2026-03-15"
	# where one test is enough, one that counts is
	gives 0 --max 9 --accept one-way --tests t e
	sed -i '/y/d' t
	gives 1 --max 9 --accept one-way --tests t e
	has verdict unknown pass
	# over is over, also as computed
	gives 1 --max 4 --accept one-way --tests t e
	has verdict over over
	# what cannot be told apart counts: a date alone, a zone that only one of them has, no time
	table t 'link from wavelength_nm method loss_db tested_at' 'A x 1310 one_cord 5 2026-03-15' \
		'A y 1310 one_cord 5 2026-03-15T07:10:00' 'B x 1310 one_cord 5 .' 'B y 1310 one_cord 5 2026-03-15'
	gives 0 --max 9 --tests t e
	sed -i 's/07:10:00/07:09:59/' t
	gives 1 --max 9 --tests t e
	has verdict unknown pass
}

@test "tests high and above the limit from every end that is needed: over" {
	table e 'link kind loss_db sd_db' 'A other 5 0.1'
	table t 'link from wavelength_nm method loss_db' 'A x 1310 one_cord 7.1' 'A y 1310 one_cord 7.1'
	gives 1 --max 7 --tests t e
	has tested_is high
	has verdict over
	sed -i '3s/7\.1/7.0/' t
	gives 1 --max 7 --tests t e
	has verdict unknown
	sed -i 3d t
	gives 1 --max 7 --tests t e
	has verdict unknown
	gives 1 --max 7 --accept one-way --tests t e
	has verdict over
}

@test "a link with a test or a limit but no element has a row, and it is unknown" {
	table e 'link kind loss_db' 'A other 5'
	table l 'link max_db' 'A 9' 'B 9'
	table t 'link from wavelength_nm method loss_db' 'C x 1550 one_cord 5.2' 'C y 1550 one_cord 5.1' \
		'B x 1310 one_cord 3' 'B x 1550 one_cord 2'
	gives 1 --links l --tests t e
	has link A B B C
	has wavelength_nm "" 1310 1550 1550
	has length_km 0.000 "" "" ""
	has tested_ab_db "" 3.000 2.000 5.200
	has allowed_db 9.000 9.000 9.000 ""
	has verdict unknown unknown unknown unknown
	has unknown "tests from both ends" "no elements; test from the other end" "no elements; test from the other end" \
		"no elements; limit"
}

@test "return loss is judged where a least one is given, and must be known where the link gives it" {
	table e 'link kind loss_db sd_db' 'A other 15 1' 'B other 15 1'
	table t 'link from wavelength_nm method loss_db orl_db' 'A x 1490 one_cord 15 32' \
		'A y 1490 one_cord 15 40' 'B x 1490 one_cord 15 31.9' 'B y 1490 one_cord 15 40'
	gives 1 --wavelength 1490 --application G-PON/B+ --tests t e
	has orl_db 32.000 31.900
	has verdict pass over
	has says "" "return loss 31.900 below 32.000"
	table l 'link max_db min_orl_db' 'A 20 33' 'B 20 30'
	gives 1 --wavelength 1490 --links l --tests t e
	has verdict over pass
	gives 1 --links l e
	has verdict unknown unknown
	has unknown "return loss" "return loss"
}

@test "a row of the links table for one wavelength before the row for all" {
	table e 'link kind loss_db' 'A other 5'
	table l 'link wavelength_nm max_db min_db' 'A . 9 1' 'A 1550 4 .' 'A 1310 . 6'
	gives 1 --links l e
	has wavelength_nm 1310 1550
	has allowed_db 9.000 4.000
	has verdict overload over
}

@test "a fibre that is not of the application's category has no limit" {
	table e 'link kind category length_km' 'A fibre OM3 0.2' 'B fibre OM2 0.2' 'C fibre . 0.2' \
		'D fibre om-3 0.2'
	gives 1 --application 10GBASE-SR/OM3 e
	has typical_db 0.480 0.480 0.480 ""
	has verdict pass unknown pass unknown
	has unknown "" "limit for OM2 fibre" "" \
		"element 1: fibre of a category that is not known: is it OM3?; limit for om-3 fibre"
}

# --- the quick sum -----------------------------------------------------------------------------------

@test "joints divide the fibre into sections; those of pigtails do not" {
	# 80 km, 21 joints, 2 connectors: 20 drums of 4 km, as in a table of them
	{
		printf 'link\tkind\tcount\tlength_km\n'
		for _ in {1..20}; do printf 'A\tfibre\t\t4\n'; done
		printf 'A\tfusion\t21\t\nA\tconnector\t2\t\n'
	} >e
	gives 0 --wavelength 1550 --max 20 e
	table_margin=$(tail -n 1 <<<"$output" | cut -f 3-14)
	gives 0 --wavelength 1550 --max 20 --length 80 --joints 21 --connectors 2
	[ "$(tail -n 1 <<<"$output" | cut -f 3-14)" = "$table_margin" ]
	has stat_db 19.625 # 18.35 + 3 sqrt(20 (0.02 x 4)^2 + 21 x 0.03^2 + 2 x 0.13^2)
	gives 1 --wavelength 1550 --max 20 --length 80 --joints 21 --connectors 2 --sections 1
	has stat_db 23.199 # 18.35 + 3 sqrt((0.02 x 80)^2 + 21 x 0.03^2 + 2 x 0.13^2)
	for case in '0 0 1' '1 0 2' '3 1 3' '3 2 2' '3 9 2' '1 2 1' '2 2 1'; do
		read -r joints connectors sections <<<"$case"
		gives 0 --wavelength 1550 --max 99 --length 10 --joints "$joints" --connectors "$connectors"
		by_joints=$output
		gives 0 --wavelength 1550 --max 99 --length 10 --joints "$joints" \
			--connectors "$connectors" --sections "$sections"
		[ "$output" = "$by_joints" ]
	done
	# what does not divide is not lost
	gives 0 --wavelength 1550 --max 99 --length 10.000001 --sections 7
	has length_km 10.000
	has typical_db 2.100
}

@test "a splitter, with its ways" {
	gives 0 --splitter 32 --length 5 --connectors 4 --joints 6 --application G-PON/B+
	has typical_db 19.550 19.050
	gives 1 --splitter 3 --max 9
	has unknown "element 1: splitter without loss or allowance"
}

# --- allowances by range, category and name ----------------------------------------------------------

@test "an allowance holds over its range: 1300, 1311, 1383, 1471 and 1650 nm are known" {
	gives 0 --length 10 --max 9 --wavelength 1260,1300,1310,1311,1383,1471,1530,1565,1625,1650
	has typical_db 3.800 3.800 3.400 3.400 3.100 2.600 2.100 2.200 2.400 2.800
	gives 1 --length 10 --max 9 --wavelength 1259,1625.5,1651
	has verdict unknown unknown unknown
}

@test "multimode fibre by its category at 850 and 1300 nm, and at no other wavelength" {
	table e 'link kind category length_km' 'A fibre OM1 1' 'B fibre OM5 1' 'C fibre G.652.D 1'
	gives 1 --max 9 --wavelength 850,1300,1310 e
	has worst_db 3.500 1.500 "" 3.000 1.500 "" "" 0.470 0.400
	gives 0 --length 0.3 --connectors 2 --application 10GBASE-SR/OM3
	has worst_db 2.550
}

@test "named allowances; one that the table does not have is unknown" {
	table e 'link seq kind ways allowance' 'A 1 connector . grade-b' 'A 2 splitter . leg-10' \
		'A 3 splitter 8 two-inputs' 'A 4 other . attenuator-5' 'A 5 connector . .' \
		'B 1 other . open' 'B 2 connector . leg-10'
	gives 1 --max 40 e
	has typical_db 25.800 ""
	has worst_db 29.100 ""
	has verdict pass unknown
	has unknown "" "the link is not whole; seq 2: connector without loss or allowance"
	table e 'link seq kind allowance site' 'A 1 connector . panel' 'A 2 other open bank hut' 'B 1 other opened hut'
	sed 's/bank.hut/bank hut/' e >f
	gives 1 --max 9 f
	has unknown "the link is not whole at bank hut" "seq 1: other without loss, no allowance is called opened"
	table e 'link kind allowance loss_db' 'A other open 0.2'
	gives 0 --max 9 e
	has typical_db 0.200
}

# --- dispersion, polarisation, reflection --------------------------------------------------------------

@test "dispersion adds up, PMD as squares; beyond what the application bears the link is over" {
	table e 'link kind length_km loss_db cd_ps_nm_km pmd_ps_sqrt_km' 'A fibre 16 4 17 0.1' \
		'A fibre 9 2 18 0.2' 'B fibre 16 4 17 0.1' 'B fibre 9 2 . .' 'C fibre 20 8 36.4 1.4' \
		'D fibre 20 8 -36.401 1' 'E fibre 20 8 1 1.409' 'F connector . 6 . .'
	gives 1 --application 10GBASE-ER e
	has cd_ps_nm 434.000 "" 728.000 -728.020 20.000 ""
	has pmd_ps 0.721 "" 6.261 4.472 6.301 "" # sqrt(16 x 0.1^2 + 9 x 0.2^2)
	has verdict pass pass pass over over pass
	has says "" "" "" "dispersion 728.020 ps/nm above 728.000" "PMD 6.301 ps above 6.300" ""
}

@test "a fibre whose loss nobody knows still disperses" {
	table e 'link kind length_km category loss_db cd_ps_nm_km' 'A fibre 10 . 2 17' 'A fibre 20 OM3 . 17'
	gives 1 --max 9 --wavelength 1550 e
	has cd_ps_nm 510.000
	has verdict unknown
}

@test "return loss of what reflects, weakened twice by what lies before it" {
	# -40 dB at the start and behind 5 dB: 10 log10(10^-4 + 10^-5) = -39.586 dB from a; from b the
	# second lies behind nothing and the first behind 5.5 dB: 10 log10(10^-4 + 10^-5.1) = -39.668
	table e 'link seq kind loss_db reflectance_db' 'A 1 connector 0.5 -40' 'A 2 fusion 4.5 .' \
		'A 3 connector 0.5 -40' 'B 1 connector 0.5 -40' 'B 2 connector 0.5 .' 'C 1 fusion 0.1 .'
	gives 0 --max 9 e
	has orl_db 39.586 "" ""
	table l 'link max_db min_orl_db' 'A 9 39.6' 'B 9 39' 'C 9 39'
	gives 1 --links l e
	has verdict over unknown unknown
	has says "return loss 39.586 below 39.600" "" ""
}

@test "a mark of no reading is no loss, of an element or of a test" {
	for value in -999 99.999 65.535; do
		table elements 'link kind loss_db' 'A fusion 0.05' "A fusion $value"
		trouble "elements:3: column 'loss_db': a mark of no reading: leave the field empty: '$value'" --max 9 elements
		table elements 'link kind loss_db wavelength_nm' 'A fusion 0.05 1550'
		table tests 'link wavelength_nm method loss_db' "A 1550 one_cord $value"
		trouble "tests:2: column 'loss_db': a mark of no reading: leave the field empty: '$value'" \
			--max 9 --tests tests elements
	done
}
