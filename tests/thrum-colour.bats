#!/usr/bin/env bats
# thrum-colour as a program: what it reads, what it hands out, what it refuses. The orders themselves
# are in unit/test_colour.c.

# shellcheck source=tests/program.bash disable=SC2154 # bin, exe and samples come from there
load program

setup() {
	begin thrum-colour
	table spans 'cable fibres tube_order fibre_order tube_size' \
		'moor 72 . . .' 'weir 144 red,green iec-60794-2 24' 'pig 12 none . .' \
		'short 96 tia-598 abnt 16'
}

# --- one fibre -----------------------------------------------------------------------------------

@test "one fibre from the options, without any input" {
	gives 0 --fibre 17
	says 'fibre	tube	colour' '17	orange	slate'
	gives 0 --fibre 89
	says 'fibre	tube	colour' '89	black	slate'
	gives 0 --spans spans --cable weir --fibre 72
	says 'cable	fibre	tube	colour' 'weir	72	3	pink ring'
	gives 0 --spans spans --cable pig --fibre 12
	says 'cable	fibre	tube	colour' 'pig	12		aqua'
}

@test "and back" {
	gives 0 --colours red/aqua
	says 'tube	colour	fibre' 'red	aqua	84'
	gives 0 --colours Turquoise/GRAY
	has fibre 137
	gives 0 --spans spans --cable weir --colours '3/pink ring'
	has fibre 72
	gives 0 --spans spans --cable weir --colours red/2
	has fibre 2
	gives 0 --tube-order none --colours purple
	has fibre 10
	gives 0 --tube-size 24 --colours 'orange/blue stripe'
	has fibre 37
}

@test "the options are the fibre: standard input is left alone" {
	printf 'fibre\n1\n' >in
	{ "$exe" --fibre 1 >out && cat; } <in >left
	cmp in left
}

@test "questions that contradict each other are refused" {
	refused '--fibre and --colours are two questions' --fibre 1 --colours blue/blue
	refused '--fibre and --colours are about one fibre: no FILE or --number with them' --fibre 1 spans
	refused '--fibre and --colours are about one fibre: no FILE or --number with them' --fibre 1 --number
	refused '--cable: needs --fibre or --colours' --cable moor
	refused '--cable: --spans is needed, which describes the cables' --cable none --fibre 1
	refused "--cable: not in the spans table: 'none'" --spans spans --cable none --fibre 1
	refused "--fibre: outside 1 to 100000: '0'" --fibre 0
	refused "--tube-size: outside 4 to 24: '3'" --fibre 1 --tube-size 3
}

@test "a fibre or a colour that is not there is trouble" {
	trouble "options:2: column 'fibre': the cable has 72 fibres: '73'" --spans spans --cable moor --fibre 73
	trouble "options:2: column 'colour': the cable has 72 fibres: 'blue'" --spans spans --cable moor --colours red/blue
	trouble "options:2: column 'tube': no tube of the order: 'crimson'" --colours crimson/blue
	trouble "options:2: column 'tube': the fibre stands in a tube: name its colour too, as red/aqua: ''" --colours blue
	trouble "options:2: column 'colour': no colour of the order: 'crimson'" --colours blue/crimson
	trouble "options:2: column 'colour': more than a tube holds: 'blue stripe'" --colours 'blue/blue stripe'
	trouble "options:2: column 'tube': the cable has no tubes: 'blue'" --tube-order none --colours blue/blue
	trouble "options:2: column 'fibre': the order of fibres has no colour for it: '13'" \
		--fibre-order abnt --tube-size 16 --fibre 13
	trouble "options:2: column 'fibre': the order of tubes has no colour for its tube: '145'" \
		--tube-order abnt --fibre 145
	trouble "options:2: column 'fibre': the order of fibres has no colour for it: '13'" \
		--spans spans --cable short --fibre 13
}

# --- tables --------------------------------------------------------------------------------------

@test "a table of joints gets tube and colour of both sides, by each cable's own orders" {
	table in 'joint cable_a fibre_a cable_b fibre_b' 'J-1 moor 13 weir 49' 'J-2 pig 5 moor .' \
		'J-3 . 14 . 1'
	gives 0 --spans spans in
	says 'joint	cable_a	fibre_a	cable_b	fibre_b	tube_a	colour_a	tube_b	colour_b' \
		'J-1	moor	13	weir	49	orange	blue	3	blue' \
		'J-2	pig	5	moor			slate		' \
		'J-3		14		1	orange	orange	blue	blue'
}

@test "only the sides that the table has are made" {
	table in 'port cable fibre' '1 moor 3' '2 moor 15'
	gives 0 in
	says 'port	cable	fibre	tube	colour' '1	moor	3	blue	green' '2	moor	15	orange	green'
	table in 'fibre_b x' '3 1'
	gives 0 in
	says 'fibre_b	x	tube_b	colour_b' '3	1	blue	green'
}

@test "what is there is replaced in place, and what is not known becomes empty" {
	table in 'colour_a fibre_a tube_a n' 'red 1 red 1' 'red . red 2'
	gives 0 in
	says 'colour_a	fibre_a	tube_a	n' 'blue	1	blue	1' '			2'
}

@test "--number finds the number, and gives back what the colours came from" {
	gives 0 --spans "$samples/spans.tsv" "$samples/plan.tsv"
	echo "$output" >there
	sed 1q there | grep -q 'tube_b	colour_b'
	gives 0 --spans "$samples/spans.tsv" --number there
	[ "$output" = "$(cat there)" ]
	awk -F '\t' -v OFS='\t' '{ if (NR > 1) $6 = $10 = ""; print }' there >blank
	gives 0 --spans "$samples/spans.tsv" --number blank
	[ "$output" = "$(cat there)" ]
}

@test "the colours of the sample plan are these" {
	"$exe" --spans "$samples/spans.tsv" "$samples/plan.tsv" | cmp - "$samples/plan.tsv"
}

@test "orders of one's own take the place of the built-in ones" {
	gives 0 --print-orders
	echo "$output" >orders
	gives 0 --orders orders --fibre 29
	has colour slate
	table own 'order position colour mark also' 'mine 1 red dash scarlet,crimson' 'mine 2 blue . .'
	gives 0 --orders own --tube-order mine --fibre-order mine --tube-size 4 --colours 'crimson/red dash'
	has fibre 3
	gives 0 --orders own --tube-order mine --fibre-order mine --tube-size 5 --fibre 5
	has colour 'red 2 dashes'
	trouble "options:2: column 'fibre': the order of fibres has no colour for it: '4'" --orders own \
		--tube-order mine --fibre-order mine --tube-size 4 --fibre 4
	refused "no such colour order: 'tia-598'" --orders own --fibre 1
	table own 'order position colour' 'mine 1 red' 'mine 3 blue'
	refused "colour order 'mine': no colour at position 2" --orders own --tube-order mine --fibre-order mine --fibre 1
	table own 'order position colour' 'mine 1 red' 'mine 1 blue'
	refused "own:3: column 'order': a second row with this key: 'mine'" --orders own --fibre 1
	table own 'order position colour' 'mine 25 red'
	refused "own:2: column 'position': outside 1 to 24: '25'" --orders own --fibre 1
}

@test "a wrong order in the spans table is told with its place" {
	table bad 'cable tube_order' 'moor tia-568'
	trouble "bad:2: column 'tube_order': no such colour order: 'tia-568'; nearest: tia-598: 'tia-568'" \
		--spans bad --cable moor --fibre 1
	table bad 'cable tube_order' 'moor red,'
	trouble "bad:2: column 'tube_order': no two colours, of a pilot and a direction tube: 'red,'" \
		--spans bad --cable moor --fibre 1
	table bad 'cable tube_size' 'moor 3'
	refused "bad:2: column 'tube_size': outside 4 to 24: '3'" --spans bad --cable moor --fibre 1
}

@test "a table without fibres is refused" {
	table in 'joint x' 'J-1 1'
	refused "in:1: no column 'fibre_a': there are 'joint' 'x'" in
	refused "in:1: no column 'colour_a': there are 'joint' 'x'" --number in
}

@test "no colour is no question" {
	refused '--colours: no colour' --colours ''
}
