#!/usr/bin/env bats
# thrum-sheet: the field sheets of closures, on paper and as text
# shellcheck disable=SC2154 # exe is set by begin

load program
load browser

setup() {
	begin thrum-sheet
	table plan 'joint closure tray slot state cable_a fibre_a tube_a colour_a cable_b fibre_b tube_b colour_b ribbon_a kind' \
		'J-2 C-1 1 2 join up 2 blue orange down 2 blue orange . .' \
		'J-1 C-1 1 1 join up 1 blue blue down 1 blue blue . .' \
		'J-3 C-1 10 1 join up 3 blue green down 3 blue green . mechanical' \
		'J-4 C-1 2 1 join up 4 blue brown down 4 blue brown . .' \
		'. C-1 . . express up 13 orange blue . . . . . .' '. C-1 . . express up 14 orange orange . . . . . .' \
		'. C-1 . . express up 25 green blue . . . . . .' '. C-1 2 2 parked up 5 blue slate . . . . . .' \
		'. C-1 2 3 dead up 6 blue white . . . . . .' \
		'R-1 C-2 1 1 join up 1 blue blue side 1 blue blue R1 .' 'R-2 C-2 1 1 join up 2 blue orange side 2 blue orange R1 .'
	table links 'link live hazard' 'L-1 yes 1M' 'L-2 no 3B' 'L-3 . 1'
	table elements 'link ref' 'L-1 J-1' 'L-1 down:1' 'L-2 J-2' 'L-3 up:4'
}

# row KEY: the lines of this joint's row, of the text
row() {
	awk -v key="$1" '/^\[ \]/ { on = index($0 " ", " " key " ") } on && /^$/ { on = 0 } on' <<<"$output"
}

@test "a page a tray, trays and slots by number, pages counted in the closure" {
	gives 0 --text --revision 3 plan
	[ "$(grep -o '^C-.*' <<<"$output")" = "C-1, tray 1  (page 1 of 3, revision 3)
C-1, tray 2  (page 2 of 3, revision 3)
C-1, tray 10  (page 3 of 3, revision 3)
C-2, tray 1  (page 1 of 1, revision 3)" ]
	[ "$(grep -o '^\[ \].*' <<<"$output" | head -n 2)" = $'[ ] 1  J-1\n[ ] 2  J-2' ]
	gives 0 --text plan
	[[ $output == *'revision ________'* ]]
	gives 0 --text --closure C-2 plan
	[ "$(grep -c '^C-' <<<"$output")" = 1 ]
	head -n 1 plan >empty
	gives 0 --text empty
	[ -z "$output" ]
	gives 0 empty
	[[ $output == '<!DOCTYPE html>'*'</html>' && $output != *'<section>'* ]]
	refused_wholly "--closure: the plan has no work there: 'C-9'" --closure C-9 plan
}

@test "a row says which fibres, their colours in words, and has its blanks" {
	gives 0 --text plan
	[ "$(row J-2)" = '[ ] 2  J-2
    up no. 2, blue / orange  to  down no. 2, blue / orange
    numbers 1 ________ 2 ________ 3 ________  differed ______________________' ]
	[[ $(row J-3) == *mechanical* ]]
	[[ $output == *'PARKED: into the tray, no joint'* && $output == *'DEAD: leave it'* ]]
	# a ribbon is one row, named by its first and last joint
	[ "$(row R-1)" = '[ ] 1  R-1 to R-2
    up no. 1 to 2, blue / blue to orange  to  side no. 1 to 2, blue / blue to
    orange
    numbers 1 ________ 2 ________ 3 ________  differed ______________________' ]
}

@test "express tubes are not to be cut, on every page of their closure" {
	gives 0 --text plan
	[ "$(grep -c 'DO NOT CUT: up: orange tube 13-14, green tube 25; and whatever' <<<"$output")" = 3 ]
	[ "$(grep -c 'DO NOT CUT: whatever is not on these sheets' <<<"$output")" = 1 ]
}

@test "light comes first: live, or not said to be dark, or not known" {
	gives 0 --text plan
	[ "${lines[0]}" = '*** LIVE? Nobody has said. Treat every fibre as live. ***' ]
	gives 0 --text --links links --elements elements plan
	[ "${lines[0]}" = '*** LIVE, or not said to be dark: L-1, L-3. Ask before you cut. ***' ]
	[[ $output == *'Hazard level (IEC 60825-2) 3B'* ]]
	[ "$(row J-1 | head -n 1)" = '[ ] 1  J-1  LIVE L-1' ]
	[ "$(row J-4 | head -n 1)" = '[ ] 1  J-4  LIVE L-3' ]
	[ "$(row J-2 | head -n 1)" = '[ ] 2  J-2' ]
	# a link through an express fibre counts; a link without a row of its own is not said to be dark
	table elements 'link ref' 'L-9 up:13'
	gives 0 --text --links links --elements elements plan
	[ "${lines[0]}" = '*** LIVE, or not said to be dark: L-9. Ask before you cut. ***' ]
	table elements 'link ref' 'L-2 J-2'
	gives 0 --text --links links --elements elements plan
	[[ ${lines[0]} == '--- By the links table no link here is live. Treat every fibre as live all'* ]]
	# with one of the two tables nothing is known
	gives 0 --text --links links plan
	[[ ${lines[0]} == '*** LIVE? Nobody'* ]]
}

@test "no page for a tray in which nothing is opened again" {
	table plan 'joint closure tray slot cable_a fibre_a cable_b fibre_b state' 'J-1 C-1 1 1 x 1 y 1 join' \
		'. C-1 2 1 x 2 . . parked' 'J-3 C-1 3 1 x 3 y 3 join'
	table again 'joint cause action' 'J-1 over again'
	gives 0 --text --rework again plan
	[ "$(grep -c '^C-1, tray' <<<"$output")" = 1 ]
	gives 0 --text plan
	[ "$(grep -c '^C-1, tray' <<<"$output")" = 3 ]
}

@test "a closure that is opened again: the joints of the rework list, and why" {
	printf 'joint\tcause\talso\taction\tcaution\tloss_db\tlinks\tlive\n' >again
	printf 'J-4\tproof test failed\twide cleave\tmake it again\tlive beside it\t0.310\tL-7 (over),L-8\tyes\n' >>again
	gives 0 --text --rework again plan
	[ "$(grep -c '^C-' <<<"$output")" = 1 ]
	[ "$(grep -c 'numbers 1' <<<"$output")" = 1 ]
	[ "${lines[0]}" = '*** LIVE, or not said to be dark: L-7, L-8. Ask before you cut. ***' ]
	[[ $(row J-4 | tr -s ' \n' ' ') == *'proof test failed, loss 0.310 dB; also wide cleave. To do: make it again. Caution: live beside it'* ]]
	[[ $output == *'DO NOT CUT: up: orange tube 13-14'* ]]
	# a live neighbour is no light in the joint itself
	sed -i 's/yes/neighbour/' again
	gives 0 --text --rework again plan
	[ "${lines[0]}" = '*** LIVE, or not said to be dark: beside J-4. Ask before you cut. ***' ]
	[ "$(row J-4 | head -n 1)" = '[ ] 1  J-4' ]
	sed -i 's/J-4/J-5/' again
	refused_wholly "again:2: column 'joint': the plan has no such joint: 'J-5'" --rework again plan
}

@test "a joint without a name, a state or a fibre that is none are trouble" {
	table bad 'joint closure cable_a fibre_a' '. C-1 up 1'
	refused_wholly "bad:2: column 'joint': a joint without a name cannot be written down: ''" bad
	table bad 'joint closure cable_a fibre_a state' 'J C-1 up 1 cut'
	refused_wholly "bad:2: column 'state': none of: join express parked dead: 'cut'" bad
	table bad 'joint closure cable_a fibre_a' 'J C-1 up blue'
	refused_wholly "bad:2: column 'fibre_a': no number: 'blue'" bad
}

# hostile N: a plan whose cells are hostile, with words of N letters
hostile() {
	local long
	long=$(printf 'w%.0s' $(seq "$1"))
	{
		printf 'joint\tclosure\ttray\tslot\tcable_a\tfibre_a\ttube_a\tcolour_a\tcable_b\tfibre_b\n'
		printf '<b>J</b>\tC"1\t1\t1\t&amp;\t1\t<script>x()</script>\t%s\t\x27\t2\n' "$long"
		printf '%s\tC"1\t1\t2\tcontrol\x1b[31m\x7f\xff\t2\t\xd7\xa9\xd7\x9c\xd7\x95\xd7\x9d\t\xe2\x80\xaeabc\t]]>\t3\n' "$long"
		printf 'J\tC"1\t1\t3\t\xef\xbf\xbe\xef\xbf\xbf\t3\t<!--\t--\t%%s\t4\n'
	} >hostile
}

@test "whatever is in a cell is text" {
	hostile 300
	gives 0 -o s.html hostile
	run ! grep -aq '<script\|<!--' s.html
	grep -q '&lt;script&gt;x()&lt;/script&gt;' s.html
	grep -q 'control\\x1b\[31m\\x7f\\xff' s.html
	grep -q '\\xef\\xbf\\xbe\\xef\\xbf\\xbf' s.html
	if command -v xmllint >/dev/null; then xmllint --noout s.html; fi
	gives 0 --text -o s.txt hostile
	run ! grep -q $'[\x1b\x7f]' s.txt
}

@test "in a browser: the pages that it counts, and nothing runs out of its box" {
	browser_needed
	"$bin/thrum-sheet" -o night.html "$samples/plan.tsv"
	pages=$(grep -c '<section>' night.html)
	# twelve slots are one page: as many pages as trays
	[ "$pages" = "$(cut -f 2,3 "$samples/plan.tsv" | sed 1d | sort -u | wc -l)" ]
	browser_pdf night.html night.pdf
	[ "$(browser_pages night.pdf)" = "$pages" ]
	browser_sound night.html 1000
	hostile 60
	"$bin/thrum-sheet" --links links --elements elements -o hostile.html hostile
	browser_pdf hostile.html hostile.pdf
	[ "$(browser_pages hostile.pdf)" = "$(grep -c '<section>' hostile.html)" ]
	hostile 300
	"$bin/thrum-sheet" -o hostile.html hostile
	browser_sound hostile.html 1000
	browser_sound hostile.html 390
	# 12 pt on the rows, never under 10 pt
	[ "$(browser_measure night.html | awk -F '\t' '$1 == "least-px" { print ($2 >= 13.3) }')" = 1 ]
}
