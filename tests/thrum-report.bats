#!/usr/bin/env bats
# thrum-report: tables, pictures and texts as one page, and what its verdict rests on
# shellcheck disable=SC2154 # exe is set by begin

load program
load browser

setup() {
	begin thrum-report
	printf 'what\tfile\ttitle\tnote\ntable\tclosures\tClosures\tat 1550 nm\n' >one
	printf 'closure\tmissing\tmean_db\tbasis\tverdict\nC-1\t0\t0.03\ttwo-way\tpass\n' >closures
	printf 'name\tvalue\nmethod\tfrom both ends\n' >facts
	echo '<svg xmlns="http://www.w3.org/2000/svg" width="20" height="10"><title>t</title></svg>' >p.svg
}

# verdict WORDS: what the second line of the text says of the contents in `one`
verdict() {
	run --separate-stderr -0 "$exe" --text "${with[@]}" one
	[ "${lines[1]}" = "$1." ] || { echo "$output"; false; }
}

@test "passed is said only if every table says so, and nothing is missing" {
	with=(--facts facts)
	verdict Passed
	# one word otherwise, and it is not
	sed -i 's/pass$/fail/' closures && verdict 'Not passed'
	sed -i 's/fail$/overload/' closures && verdict 'Not passed'
	sed -i 's/overload$/unknown/' closures && verdict 'Not known to pass'
	sed -i 's/unknown$//' closures && verdict 'Not known to pass'
	printf 'closure\tmissing\tverdict\nC-1\t1\tpass\n' >closures && verdict 'Not known to pass'
	[[ $output == *'Closures: 1 joint missing, 1 passes.'* ]]
	# a closure at two wavelengths lacks its joints once
	printf 'closure\tloss_nm\tmissing\tverdict\nC-1\t1310\t2\tpass\nC-1\t1550\t3\tpass\nC-2\t1550\t1\tpass\n' >closures
	verdict 'Not known to pass'
	[[ $output == *'Closures: 4 joints missing, 3 pass.'* ]]
	printf 'closure\tverdict\n' >closures && verdict 'Not known to pass'
	printf 'closure\tmean_db\nC-1\t0.03\n' >closures && verdict 'Not known to pass'
	# what is wrong elsewhere counts too
	printf 'closure\tverdict\nC-1\tpass\n' >closures && verdict Passed
	printf 'table\tfaults\t\t\n' >>one
	printf 'joint\tlevel\nJ-1\twarning\n' >faults && verdict Passed
	printf 'joint\tlevel\nJ-1\terror\n' >faults && verdict 'Not passed'
	printf 'joint\taction\nJ-1\tmake it again\n' >faults && verdict 'Not known to pass'
	printf 'joint\tverdict\nJ-1\tunknown\n' >faults && verdict 'Not known to pass'
	printf 'joint\tloss_db\tlimit_db\nJ-1\t0.1\t0.100\n' >faults && verdict Passed
	sed -i 's/0\.1	/0.101	/' faults && verdict 'Not passed'
	[[ $output == *': 1 loss above its limit.'* ]]
	printf 'joint\taside_why\nJ-1\tshape\n' >faults && verdict 'Not known to pass'
	printf 'splicer\tarc\tis\tsettles\na\t1\tjoint\t3\n' >faults && verdict Passed
	sed -i 's/joint	3/	3/' faults && verdict 'Not known to pass'
	[[ $output == *': 1 row for a person.'* ]]
	# and what cannot be read
	for row in 'loss_db	limit_db|9,9	0.1' 'missing	x|x	1' 'not_due	x|x	1' 'level	x|error 	1'; do
		printf '%s\n%s\n' "${row%|*}" "${row#*|}" >faults && verdict 'Not known to pass'
		[[ $output == *': 1 row that cannot be read'* ]]
	done
	printf 'closure\tverdict\tnot_due\nC\tpass\t0\n' >faults && verdict Passed
	sed -i 's/0$/12/' faults && verdict 'Not known to pass'
	[[ $output == *': 1 passes, 1 row of only a part of its joints.'* ]]
	# so does what nobody states
	printf 'joint\tlevel\n' >faults && verdict Passed
	echo $'limits\t' >>facts && verdict 'Not known to pass'
	sed -i '$d' facts && verdict Passed
	echo $'limits\t?' >>facts && verdict 'Not known to pass'
	with=() && verdict 'Not known to pass'
	[[ $output == *'! Nothing is stated'* ]]
}

@test "the parts in their order, missing and faulty rows first" {
	{
		printf 'joint\trule\tlevel\nJ-1\tloss\terror\nJ-2\tattempt-many\twarning\n'
		printf 'J-3\tplan-missing\terror\nJ-4\tcount\terror\n'
	} >faults
	printf 'first line\nsecond\n' >words
	printf 'what\tfile\ttitle\tnote\ntext\twords\tWords\t\npicture\tp.svg\tPicture\t\ntable\tfaults\tFaults\tnote\n' >one
	gives 0 --text --title Night one
	[ "${lines[0]}" = Night ]
	[ "$(grep -o '^J-.' <<<"$output" | tr '\n' ' ')" = 'J-3 J-1 J-4 J-2 ' ]
	[ "$(grep -nE '^(Words|first line|Picture|\(a picture: p.svg\)|Faults|note|What is signed for|Cautions)$' <<<"$output" |
		cut -d : -f 2- | tr '\n' '|')" = 'Words|first line|Picture|(a picture: p.svg)|Faults|note|Cautions|What is signed for|' ]
	gives 0 one
	[[ $output == *'<figure><svg '*'</svg>'*'</figure>'* && $output == *'<pre>first line'* ]]
	[[ $output == *'<b>! error</b>'* ]]
}

@test "estimates and readings from one end do not look like losses" {
	printf 'joint\test_db\tloss_ab_db\tloss_db\nJ-1\t0.02\t0.05\t0.04\n' >closures
	gives 0 one
	[[ $output == *'<i>≈0.02</i>'*'<i>→0.05</i>'*'<span>0.04</span>'* ]]
	[[ $output == *"≈ rests on a machine&#39;s estimate"*'→ read from one end only'* ]]
	for basis in estimate mixed one-way two-way merged; do
		printf 'closure\tbasis\tmean_db\nC-1\t%s\t0.03\n' "$basis" >closures
		gives 0 --text one
		case $basis in
		estimate | mixed) [[ $output == *'≈0.03'* ]] ;;
		one-way) [[ $output == *'→0.03'* ]] ;;
		*) [[ $output != *[≈→]* ]] ;;
		esac
	done
}

@test "a long table is shortened, the greatest losses stay, and it is said" {
	awk -v OFS='\t' 'BEGIN { print "joint", "loss_db", "note"; for (i = 1; i <= 500; i++) print "J-" i, i * 7 % 501 / 1000, "" }' >closures
	gives 0 --text --rows 3 one
	[ "$(grep -o '^J-[0-9]* *[0-9.]*' <<<"$output" | tr -s ' ' | cut -d ' ' -f 2 | tr '\n' ' ')" = '0.5 0.499 0.498 ' ]
	[[ $(tr '\n' ' ' <<<"$output") == *'Note: 3 of 500 rows, the worst first.'*'not shown, or empty: note. All of it is in closures.'* ]]
	# columns too: what matters is not what is left out
	awk -v OFS='\t' 'BEGIN { for (i = 1; i < 40; i++) printf "column_%d\t", i; print "verdict"
		for (i = 1; i < 40; i++) printf "value-%d\t", i; print "fail" }' >closures
	for text in '' --text; do
		gives 0 $text one
		[[ $output == *'! fail'* && $output == *'column_39'* && $output != *'value-39'* ]]
	done
}

@test "a hundred thousand joints in less than two seconds" {
	awk -v OFS='\t' 'BEGIN { print "joint", "closure", "loss_db", "verdict"
		for (i = 1; i <= 100000; i++) print "J-" i, "C-" i % 90, i % 997 / 1000, "pass" }' >closures
	time=$({ TIMEFORMAT=%U && time "$exe" -o big.html one; } 2>&1)
	[ "$(awk -v t="$time" 'BEGIN { print (t < 2) }')" = 1 ] || { echo "$time s"; false; }
	[ "$(grep -c '<tr>' big.html)" -lt 100 ]
}

@test "a picture that runs something, leads out of the page or is not whole is refused" {
	printf 'what\tfile\npicture\tp.svg\ntable\tclosures\n' >one
	bad() { # WHAT SVG
		printf '%s' "$2" >p.svg
		refused "p.svg: $1" one
	}
	gives 0 one
	bad "has no place in a picture: 'SCRIPT'" '<svg><SCRIPT>x()</SCRIPT></svg>'
	for before in ' ' $'\n' $'\t' ' width="1"'; do
		bad "has no place in a picture: 'onload'" "<svg${before}onload=\"x()\"></svg>"
	done
	bad "has no place in a picture: 'a'" '<svg><a href="x"/></svg>'
	bad "has no place in a picture: 'src'" '<svg><text src = "x"/></svg>'
	bad "has no place in a picture: 'href'" '<svg><text href="x"/></svg>'
	bad "has no place in a picture: '('" '<svg><path fill="url(x)"/></svg>'
	bad "has no place in a picture: '&'" '<svg><path fill="u&#114;l"/></svg>'
	bad "has no place in a picture: '!--'" '<svg><!-- --></svg>'
	bad "has no place in a picture: 'style'" '<svg><style media="all"></style ></svg>'
	bad "has no place in a picture: 'meta'" '<svg><title><meta http-equiv="refresh"/></title></svg>'
	bad "has no place in a picture: 'h1'" '<svg><h1>Passed.</h1></svg>'
	bad "has no place in a picture: 'form'" '<svg><form action="x"/></svg>'
	bad "a control byte has no place in a picture" $'<svg>\x01</svg>'
	bad "not UTF-8" $'<svg>\xff</svg>'
	bad "cut off, or more than one element" '<svg/onload="x()"></svg>'
	bad "cut off, or more than one element" '<svg><text></svg>'
	bad "cut off, or more than one element" '<svg><text></title></text></svg>'
	bad "cut off, or more than one element" '<svg width=1></svg>'
	bad "cut off, or more than one element" '<svg></svg></div>'
	bad "cut off, or more than one element" '<svg></svg>text'
	bad "cut off, or more than one element" '<svg width="'
	bad "no picture of SVG" 'closure'
	printf 'what\tfile\npicture\tp.svg\n' >one
	echo '<svg></svg>' >p.svg
	refused "p.svg: a picture stands before the table it shows" one
}

@test "what is listed wrongly is trouble" {
	printf 'what\tfile\nlist\tx\n' >one
	refused_wholly "one:2: column 'what': none of: table picture text: 'list'" one
	printf 'what\tfile\n\tx\n' >one
	refused_wholly "one:2: column 'what': says not what it is: table, picture or text: ''" one
	printf 'what\tfile\ntext\t\n' >one
	refused_wholly "one:2: column 'file': no file: ''" one
	printf 'what\tfile\ntable\tno-such\n' >one
	refused_wholly "no-such: No such file or directory" one
	printf 'what\tfile\ntable\tragged\n' >one
	printf 'a\tb\n1\n' >ragged
	refused_wholly "ragged:2: 1 field, 2 expected" one
}

# a report whose cells, names and texts are hostile
hostile() {
	local long
	long=$(printf 'w%.0s' $(seq 300))
	{
		printf 'joint<i>\tsays\tverdict\tloss_db\n'
		printf '<script>x()</script>\t%s\t"\x27&\t0.1\n' "$long"
		printf 'control\x1b[31m\x7f\xff\t\xd7\xa9\xd7\x9c\xd7\x95\xd7\x9d\t]]>\t0.12345\n'
		printf '<!--\t\xe2\x80\xaeabc\tpass\t7\n%%s\t--\xef\xbf\xbf\tpass\t\n'
	} >closures
	printf '</pre><script>y()</script>\n%s\n' "$long" >words
	printf 'name\tvalue\n<b>\t%s\n' "$long" >facts
	printf 'what\tfile\ttitle\tnote\ntable\tclosures\t<script>\t<img src=x>\ntext\twords\t%s\t"\n' "$long" >one
}

@test "whatever is in a cell is text" {
	hostile
	gives 0 --facts facts --title '<script>' -o r.html one
	run ! grep -aqE '<script|<img|<i>x|<!--' r.html
	grep -q '&lt;script&gt;y()' r.html
	if command -v xmllint >/dev/null; then xmllint --noout r.html; fi
	gives 0 --text --facts facts -o r.txt one
	run ! grep -q $'[\x1b\x7f]' r.txt
}

@test "in a browser: on a screen, on a telephone, on paper" {
	browser_needed
	hostile
	"$exe" --facts facts -o hostile.html one
	browser_sound hostile.html 1000
	browser_sound hostile.html 390
	{
		printf 'closure\tmissing\tmean_db\tbasis\tverdict\n'
		for i in $(seq 120); do printf 'some-cove-%s\t0\t0.03\tone-way\tfail\n' "$i"; done
	} >closures
	printf 'what\tfile\ttitle\npicture\tp.svg\tP\ntable\tclosures\tClosures\n' >one
	"$exe" --rows 120 -o night.html one
	browser_sound night.html 1000
	browser_sound night.html 390
	browser_pdf night.html night.pdf
	[ "$(browser_pages night.pdf)" -ge 3 ]
	[ "$(browser_measure night.html | awk -F '\t' '$1 == "least-px" { print ($2 >= 12) }')" = 1 ]
	command -v pdftotext >/dev/null || skip "no pdftotext"
	# nothing is cut off at the right: what is printed ends 20 mm before the edge of A4
	run "$bin/thrum-closure" -o closures "$samples/night1.tsv"
	run "$bin/thrum-check" -o faults "$samples/night1.tsv"
	printf 'what\tfile\ntable\tclosures\ntable\tfaults\ntable\t%s\n' "$samples/night1.tsv" >one
	"$exe" -o wide.html one
	browser_pdf wide.html wide.pdf
	pdftotext -bbox wide.pdf - | sed -n 's/.*xMax="\([0-9.]*\)".*/\1/p' >right
	[ "$(wc -l <right)" -gt 500 ]
	[ "$(sort -g right | tail -n 1 | cut -d . -f 1)" -le 540 ]
	# the heads of a table stand on each of its pages
	for page in 1 2 3; do
		pdftotext -layout -f $page -l $page night.pdf - | grep -q 'closure .* missing .* verdict'
	done
}
