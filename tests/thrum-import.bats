#!/usr/bin/env bats
# thrum-import: every way in which an export is known to be odd is accepted, converted or refused
# with these words; maps; rows set aside; drafts.

# shellcheck disable=SC2154,SC2030,SC2031 # run sets stderr, each test has its own shell
bats_require_minimum_version 1.5.0

setup() {
	export LC_ALL=C
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../build/bin}
	cd "$BATS_TEST_TMPDIR" || return
	tab=$(printf '\t')
}

# map NAME: a map of the lines on standard input, "|" between their fields, those at the end left out
map() {
	{ echo 'rule|name|from|pattern|holds|unit|form|words|default|need|note' && cat; } |
		awk -F '|' -v OFS='\t' '{ $11 = $11; print }' >"$1"
}

# the maps that most tests here want: TABs between two texts, or a number and a text
maps() {
	map text.map <<-'END'
		file|delimiter|tab
		column|a|a
		column|b|b
	END
	map number.map <<-'END'
		file|delimiter|tab
		column|a|a||number
		column|b|b
	END
}

# with LINE ...: text.map with these lines more, as more.map
with() {
	{ cat text.map && printf '%s\n' "$@" | awk -F '|' -v OFS='\t' '{ $11 = $11; print }'; } >more.map
}

# takes MAP INPUT WANT [STDERR]: status 0, and exactly this; all but MAP for printf
takes() {
	# shellcheck disable=SC2059
	printf "$2" >in.csv
	# shellcheck disable=SC2059
	printf "$3" >want
	"$bin/thrum-import" -m "$1" in.csv >out 2>err || { echo "status $?"; cat err; return 1; }
	diff -u want out
	# shellcheck disable=SC2059
	[ "$(cat err)" = "${4:+$(printf "thrum-import: in.csv: $4")}" ] || { cat err; return 1; }
}

# refuses MAP INPUT MESSAGE: status 2, and exactly this message
refuses() {
	# shellcheck disable=SC2059
	printf "$2" >in.csv
	run --separate-stderr -2 "$bin/thrum-import" -m "$1" in.csv
	[ "$stderr" = "thrum-import: $3" ] || { printf 'said: %s\n' "$stderr"; return 1; }
}

# --- what exports get wrong ----------------------------------------------------------------------

@test "01 UTF-8 byte-order mark" {
	maps
	takes text.map '\xef\xbb\xbfa\tb\n1\t2\n' 'a\tb\n1\t2\n'
}

@test "02 byte-order mark before a quoted header" {
	maps
	takes text.map '\xef\xbb\xbf"a"\tb\n1\t2\n' 'a\tb\n1\t2\n'
}

@test "03 byte-order mark in the second file, and in a number" {
	maps
	printf '\xef\xbb\xbfa\tb\n3\t4\n' >two.csv
	printf 'a\tb\n1\t2\n' >one.csv
	run -0 "$bin/thrum-import" -m text.map one.csv two.csv
	[ "$output" = "$(printf 'a\tb\n1\t2\n3\t4')" ]
	refuses number.map 'a\tb\n\xef\xbb\xbf42\t2\n' \
		'in.csv:2: byte-order mark inside the export: does another one begin here?'
	# a second export behind the first, in one file
	refuses text.map 'a\tb\n1\t2\n\xef\xbb\xbfa\tb\n3\t4\n' 'in.csv:3: the header line stands here again'
	refuses text.map 'a\tb\n1\t2\n\xef\xbb\xbfb\ta\n3\t4\n' \
		'in.csv:3: byte-order mark inside the export: does another one begin here?'
}

@test "04 CRLF" {
	maps
	takes text.map 'a\tb\r\n1\t2\r\n' 'a\tb\n1\t2\n'
	takes text.map 'a\tb\r\n"1"\t"2"\r\n' 'a\tb\n1\t2\n'
}

@test "05 mixed line ends" {
	maps
	takes text.map 'a\tb\r\n1\t2\n3\t4\r\n' 'a\tb\n1\t2\n3\t4\n'
}

@test "06 CR alone ends lines" {
	maps
	refuses text.map 'a\tb\r1\t2\r' 'in.csv:1: byte 4: CR line ends: convert them to LF first'
}

@test "07 CR inside a line, and inside quotes" {
	maps
	refuses text.map 'a\tb\nx\ry\t2\n' 'in.csv:2: byte 2: CR inside the line, not at its end'
	refuses text.map 'a\tb\nx\ry\t"2"\n' 'in.csv:2: byte 2: CR inside the line, not at its end'
	takes text.map 'a\tb\n"x\ry"\t2\n' 'a\tb\nx y\t2\n' '1 TAB or line break inside a cell made a blank'
}

@test "08 UTF-16 with a byte-order mark" {
	maps
	refuses text.map '\xff\xfea\0\t\0b\0\n\0' 'in.csv: UTF-16 text: the map must name it (encoding UTF-16)'
	with 'file|encoding|UTF-16'
	takes more.map '\xff\xfea\0\t\0b\0\r\0\n\0\xe4\0\t\0\n\0' 'a\tb\n\xc3\xa4\t\n'
	takes more.map '\xfe\xff\0a\0\t\0b\0\n\x0a\x0a\0\t\0\x32\0\n' 'a\tb\n\xe0\xa8\x8a\t2\n'
	refuses more.map 'a\0\t\0b\0\n\0' 'in.csv: no byte-order mark: the map must say UTF-16LE or UTF-16BE'
	# a line of half a unit, half a surrogate pair
	refuses more.map '\xff\xfea\0\t\0b\0\n\0\x31' "in.csv:2: byte 1 is not UTF-16: \\x31"
	refuses more.map '\xff\xfea\0\t\0b\0\n\0\x31\0\0\xd8\t\0\n\0' "in.csv:2: byte 3 is not UTF-16: \\x00"
}

@test "09 UTF-16 without a byte-order mark" {
	maps
	refuses text.map 'a\0\t\0b\0\n\0' \
		'in.csv:1: byte 2: NUL: UTF-16? the map must name it (encoding UTF-16LE or UTF-16BE)'
	with 'file|encoding|UTF-16LE'
	takes more.map 'a\0\t\0b\0\n\0\x31\0\t\0\x32\0' 'a\tb\n1\t2\n' \
		'warning: the last line has no end: is it whole?'
}

@test "10 Windows-1252" {
	maps
	refuses text.map 'a\tb\n1\t4 \xb0C\n' 'in.csv:2: byte 5 is not UTF-8: \xb0: name the encoding in the map'
	with 'file|encoding|WINDOWS-1252'
	takes more.map 'a\tb\n1\t4 \xb0C \x96 \x80\n' 'a\tb\n1\t4 \xc2\xb0C \xe2\x80\x93 \xe2\x82\xac\n'
	refuses more.map 'a\tb\n1\t2\x81\n' 'in.csv:2: byte 4 is not WINDOWS-1252: \x81'
	refuses more.map '\xef\xbb\xbfa\tb\n' 'in.csv: UTF-8 text by its byte-order mark, not WINDOWS-1252'
}

@test "11 unit signs that look alike" {
	map unit.map <<-'END'
		column|w_um|w||number|cell
		column|t_deg|t||number|cell
	END
	takes unit.map 'w,t\n9.2 \xc2\xb5m,1\xc2\xb0\n9.2\xce\xbcm,1 deg\n' 'w_um\tt_deg\n9.2\t1\n9.2\t1\n'
	refuses unit.map 'w,t\n9.2 um,1\xc2\xba\n' \
		"in.csv:2: column 't': unit that is not known: '1$(printf '\xc2\xba')'"
}

@test "12 UTF-8 encoded twice is kept" {
	maps
	takes text.map 'a\tb\n1\t\xc3\x82\xc2\xb0C\n' 'a\tb\n1\t\xc3\x82\xc2\xb0C\n'
}

@test "13 NUL in a cell" {
	maps
	refuses text.map 'a\tb\n1\0x\t2\n' 'in.csv:2: byte 2: NUL'
	refuses text.map 'a\tb\n"1\0x"\t2\n' 'in.csv:2: byte 3: NUL'
}

@test "14 NULs behind the last row" {
	maps
	refuses text.map 'a\tb\n1\t2\n\0\0\0' 'in.csv:3: byte 1: NUL'
	[ "$output" = "$(printf 'a\tb\n1\t2')" ]
}

@test "15 last line cut" {
	maps
	refuses number.map 'a\tb\n1\t' \
		'in.csv:2: the last line has no end and nothing behind its last delimiter: is it cut?'
	refuses number.map 'a\tb\n1' 'in.csv:2: 1 cell, 2 expected: the last line has no end and is cut'
	takes number.map 'a\tb\n1\t2' 'a\tb\n1\t2\n' 'warning: the last line has no end: is it whole?'
	takes number.map 'a\tb\n1\t""' 'a\tb\n1\t\n' 'warning: the last line has no end: is it whole?'
	with 'file|ragged|mend'
	refuses more.map 'a\tb\n1' 'in.csv:2: 1 cell, 2 expected: the last line has no end and is cut'
	map need.map <<-'END'
		file|delimiter|tab
		column|a|a
		column|b|b||number|||||yes
	END
	refuses need.map 'a\tb\n1\t\n' "in.csv:2: column 'b': empty, but needed"
}

@test "16 Ctrl-Z at the end" {
	map b.map <<-'END'
		file|delimiter|tab
		column|a|a
		column|b|b||number
	END
	refuses b.map 'a\tb\n1\t2\x1a' "in.csv:2: column 'b': number with something behind it: '2\\x1a'"
}

@test "17 nothing at all" {
	maps
	refuses text.map '' 'in.csv: no header line'
	map headless.map <<-'END'
		file|header|no
		column|a|#1
	END
	refuses headless.map '' 'in.csv: no rows'
}

@test "18 header alone" {
	maps
	takes text.map 'a\tb\n' 'a\tb\n'
	takes text.map 'a\tb' 'a\tb\n'
}

@test "19 byte-order mark or line end alone" {
	maps
	refuses text.map '\xef\xbb\xbf' 'in.csv: no header line'
	refuses text.map '\n' 'in.csv: no header line'
}

@test "20 too few cells" {
	map abc.map <<-'END'
		file|delimiter|tab
		column|a|a
		column|c|c
		ignore||b
	END
	refuses abc.map 'a\tb\tc\n1\t2\n' 'in.csv:2: 2 cells, 3 expected'
	cp abc.map mend.map
	printf 'file\tragged\tmend\t\t\t\t\t\t\t\t\n' >>mend.map
	takes mend.map 'a\tb\tc\n1\t2\n' 'a\tc\n1\t\n' '1 row with missing cells at its end filled up'
	# but no value is moved that was not at the end
	refuses mend.map 'a\tb\tc\n1\t\n' 'in.csv:2: 2 cells, 3 expected, and the last is empty: which one is missing?'
	sed -i 's/^column\tc\tc\t\t/&number/' mend.map
	refuses mend.map 'a\tb\tc\n1\t2\n' \
		"in.csv:2: 2 cells, 3 expected, and the last may be the last column's: which one is missing?"
	takes mend.map 'a\tb\tc\n1\tx\n' 'a\tc\n1\t\n' '1 row with missing cells at its end filled up'
}

@test "21 too many cells, empty ones" {
	maps
	refuses text.map 'a\tb\n1\t2\t\n' 'in.csv:2: 3 cells, 2 expected: the extra ones are empty'
	with 'file|ragged|mend'
	takes more.map 'a\tb\n1\t2\t\n3\t4\t\t\n' 'a\tb\n1\t2\n3\t4\n' '2 rows with empty cells too many cut'
}

@test "22 too many cells" {
	maps
	with 'file|ragged|mend'
	refuses text.map 'a\tb\n1\t2\t3\n' 'in.csv:2: 3 cells, 2 expected'
	refuses more.map 'a\tb\n1\t2\t3\n' 'in.csv:2: 3 cells, 2 expected'
}

@test "23 delimiter at the end of every line" {
	maps
	refuses text.map 'a\tb\t\n1\t2\t\n' \
		'in.csv:1: columns that no rule of the map names: #3: say ignore or carry'
	with 'ignore||#3'
	takes more.map 'a\tb\t\n1\t2\t\n' 'a\tb\n1\t2\n'
}

@test "24 blank lines, rows of delimiters" {
	maps
	refuses text.map 'a\tb\n1\t2\n\n3\t4\n' 'in.csv:3: blank line inside the export'
	takes text.map 'a\tb\n1\t2\n\n\r\n\n' 'a\tb\n1\t2\n'
	refuses text.map 'a\tb\n\t\n1\t2\n' 'in.csv:2: empty record: all its cells are empty'
	with 'drop|||^$' 'drop|||^[[:blank:]]+$'
	takes more.map 'a\tb\n1\t2\n\n\n\t\n3\t4\n' 'a\tb\n1\t2\n3\t4\n' \
		'1 row dropped by more.map:5\nthrum-import: in.csv: 1 row dropped by more.map:6'
}

@test "25 lines before the header" {
	maps
	refuses text.map 'Site: X\nDate: 1\n\na\tb\n1\t2\n' \
		"in.csv:1: no column 'a': there is only 'Site: X': see the map's settings 'delimiter' and 'skip'"
	with 'file|skip|3'
	takes more.map 'Site: X\nDate: "1\n\na\tb\n1\t2\n' 'a\tb\n1\t2\n'
	refuses more.map 'a\nb\n' "in.csv: ends within the lines of the map's setting 'skip'"
	refuses text.map '\na\tb\n' "in.csv:1: blank line where the table should begin: see the map's setting 'skip'"
}

@test "26 name of the encoding as first line" {
	maps
	refuses text.map 'UTF-8\na\tb\n1\t2\n' \
		"in.csv:1: no column 'a': there is only 'UTF-8': see the map's settings 'delimiter' and 'skip'"
}

@test "27 line of units below the header" {
	maps
	refuses number.map 'a\tb\ndB\tkm\n1\t2\n' "in.csv:2: column 'a': no number: 'dB'"
	{ cat number.map && printf 'file\tskip_below\t1\t\t\t\t\t\t\t\t\n'; } >more.map
	takes more.map 'a\tb\ndB\tkm\n1\t2\n' 'a\tb\n1\t2\n'
}

@test "28 comment lines" {
	maps
	refuses text.map '# made by hand\na\tb\n1\t2\n' \
		"in.csv:1: no column 'a': there is only '# made by hand': see the map's settings 'delimiter' and 'skip'"
	with 'file|comment|#'
	takes more.map '# made by "hand\na\tb\n#\n1\t2\n"#"\t"x\n# y"\n' 'a\tb\n1\t2\n#\tx # y\n' \
		'1 TAB or line break inside a cell made a blank'
}

@test "29 a spreadsheet's delimiter mark" {
	map semicolon.map <<-'END'
		file|delimiter|semicolon
		column|a|a
		column|b|b
	END
	refuses semicolon.map 'sep=;\r\na;b\r\n' \
		"in.csv:1: the line is a spreadsheet's delimiter mark: see the map's setting 'skip'"
	printf 'file\tskip\t1\t\t\t\t\t\t\t\t\n' >>semicolon.map
	takes semicolon.map 'sep=;\r\na;b\r\n1;2\r\n' 'a\tb\n1\t2\n'
}

@test "30 footer" {
	maps
	refuses number.map 'a\tb\n1\t2\nTotal\t12.3\n' "in.csv:3: column 'a': no number: 'Total'"
	{ cat number.map && printf 'drop\t\ta\t^Total$\t\t\t\t\t\t\t\n'; } >more.map
	takes more.map 'a\tb\n1\t2\nTotal\t12.3\n' 'a\tb\n1\t2\n' '1 row dropped by more.map:5'
}

@test "31 header repeated" {
	maps
	refuses text.map 'a\tb\n1\t2\na\tb\n' 'in.csv:3: the header line stands here again'
	with 'drop||a|^a$'
	takes more.map 'a\tb\n1\t2\n"a"\tb\n3\t4\n' 'a\tb\n1\t2\n3\t4\n' '1 row dropped by more.map:5'
}

@test "32 two tables in one file" {
	maps
	refuses text.map 'a\tb\n1\t2\n\nc\td\n' 'in.csv:3: blank line inside the export'
}

@test "33 another delimiter" {
	maps
	refuses text.map 'a;b\n1;2\n' \
		"in.csv:1: no column 'a': there is only 'a;b': see the map's settings 'delimiter' and 'skip'"
}

@test "34 blanks for TABs" {
	maps
	refuses text.map 'a   b\n1   2\n' \
		"in.csv:1: no column 'a': there is only 'a   b': see the map's settings 'delimiter' and 'skip'"
}

@test "35 header with blanks of all kinds" {
	map loss.map <<-'END'
		column|loss_db|loss
		column|b|b
	END
	refuses loss.map ' loss,b\n1,2\n' "in.csv:1: no column 'loss': is it ' loss'?"
	refuses loss.map 'loss\xc2\xa0,b\n1,2\n' "in.csv:1: no column 'loss': is it 'loss\\xc2\\xa0'?"
	refuses loss.map 'loss\xe2\x80\x8b,b\n1,2\n' "in.csv:1: no column 'loss': is it 'loss\\xe2\\x80\\x8b'?"
	printf 'file\ttrim\tyes\t\t\t\t\t\t\t\t\n' >>loss.map
	takes loss.map ' loss, "b"\n1\xc2\xa0, " 2 " \n' 'loss_db\tb\n1\t2\n'
	printf 'file\tdelimiter\tblank\t\t\t\t\t\t\t\t\n' >>loss.map
	takes loss.map 'loss b\n1\t \t"2"\t\n' 'loss_db\tb\n1\t2\n'
}

@test "36 two columns of one name" {
	maps
	refuses text.map 'a\tb\ta\n1\t2\t3\n' \
		"in.csv:1: columns 1 and 3 are both called 'a': write #1 or #3 in the map"
	map position.map <<-'END'
		file|delimiter|tab
		column|a|#3
		ignore||#1
		ignore||b
	END
	takes position.map 'a\tb\ta\n1\t2\t3\n' 'a\n3\n'
}

@test "37 a column without a name" {
	map abc.map <<-'END'
		file|delimiter|tab
		column|a|a
		column|b|#2
		column|c|c
	END
	takes abc.map 'a\t\tc\n1\t2\t3\n' 'a\tb\tc\n1\t2\t3\n'
}

@test "38 another letter case" {
	map loss.map <<-'END'
		column|loss_db|loss
	END
	refuses loss.map 'Loss\n1\n' "in.csv:1: no column 'loss': is it 'Loss'?"
}

@test "39 everything in quotes" {
	maps
	takes text.map '"a"\t"b"\n"1"\t"2"\n' 'a\tb\n1\t2\n'
}

@test "40 inch marks" {
	maps
	takes text.map 'a\tb\n36" tray\tx\n1\t2"\n' 'a\tb\n36" tray\tx\n1\t2"\n'
	with 'file|quote|none'
	takes more.map 'a\tb\n"36\tx\n' 'a\tb\n"36\tx\n'
}

@test "41 line break in quotes; the lines behind it keep their numbers" {
	maps
	takes text.map 'a\tb\n"x\ny"\t2\n' 'a\tb\nx y\t2\n' '1 TAB or line break inside a cell made a blank'
	refuses number.map 'a\tb\n1\t"x\r\n\ny"\nz\t2\n' "in.csv:5: column 'a': no number: 'z'"
}

@test "42 TAB in quotes" {
	maps
	takes text.map 'a\tb\n"x\ty\t"\t3\n' 'a\tb\nx y \t3\n' '2 TABs or line breaks inside cells made blanks'
	map comma.map <<-'END'
		column|a|a
		column|b|b
	END
	takes comma.map 'a,b\nx\ty,3\n' 'a\tb\nx y\t3\n' '1 TAB or line break inside a cell made a blank'
}

@test "43 quote never closed, or closed too early" {
	map comma.map <<-'END'
		column|a|a
		column|b|b
	END
	refuses comma.map 'a,b\n"1,2\n3,4\n' 'in.csv:2: quote opened here is never closed'
	refuses comma.map 'a,b\n"1\n2","3\n4,5\n' 'in.csv:3: quote opened here is never closed'
	refuses comma.map 'a,b\n"1,2\n"3,4\n' "in.csv:3: byte 2: quoted cell, opened on line 2, goes on behind its closing quote: is a quote not doubled, or is the map's setting 'quote' wrong?"
	refuses comma.map 'a,b\n1,"2" \n' "in.csv:2: byte 6: quoted cell, opened on line 2, goes on behind its closing quote: is a quote not doubled, or is the map's setting 'quote' wrong?"
}

@test "44 decimal comma" {
	maps
	refuses number.map 'a\tb\n0,05\t2\n' "in.csv:2: column 'a': decimal comma: the map says decimal point: '0,05'"
	{ cat number.map && printf 'file\tdecimal\tcomma\t\t\t\t\t\t\t\t\n'; } >more.map
	takes more.map 'a\tb\n0,05\t0,05\n' 'a\tb\n0.05\t0,05\n'
	refuses more.map 'a\tb\n0.05\t2\n' \
		"in.csv:2: column 'a': point in the number: the map says decimal comma: '0.05'"
}

@test "45 grouping" {
	maps
	for n in '1,234.5' '1.234,5' '1 234' '1\xc2\xa0234' "1'234"; do
		# shellcheck disable=SC2059
		refuses number.map "a\tb\n$n\t2\n" \
			"in.csv:2: column 'a': $(case $n in 1?234* | *xa0*) echo 'grouping marks in the number' ;; esac): '$(printf "$n")'"
	done
	group() { { cat number.map && printf 'file\t%s\t%s\t\t\t\t\t\t\t\t\n' decimal "$1" grouping "$2"; } >more.map; }
	group point comma
	takes more.map 'a\tb\n1,234.5\t\n1234\t\n' 'a\tb\n1234.5\t\n1234\t\n'
	refuses more.map 'a\tb\n1,23\t\n' \
		"in.csv:2: column 'a': grouping mark not between groups of three digits: '1,23'"
	group comma point
	takes more.map 'a\tb\n1.234.567,5\t\n' 'a\tb\n1234567.5\t\n'
	group comma blank
	takes more.map 'a\tb\n1 234\t\n1\xc2\xa0234,0\t\n' 'a\tb\n1234\t\n1234.0\t\n'
	group point apostrophe
	takes more.map "a\tb\n1'234\t\n" 'a\tb\n1234\t\n'
}

@test "46 minus signs" {
	maps
	takes number.map 'a\tb\n\xe2\x88\x925\t-5\n' 'a\tb\n-5\t-5\n'
	refuses number.map 'a\tb\n\xe2\x80\x935\t2\n' \
		"in.csv:2: column 'a': dash in place of a minus sign: '$(printf '\xe2\x80\x93')5'"
	refuses number.map 'a\tb\n5-\t2\n' "in.csv:2: column 'a': sign behind the number: '5-'"
}

@test "47 numbers with signs and units" {
	maps
	refuses number.map 'a\tb\n0.02dB\t2\n' "in.csv:2: column 'a': number with something behind it: '0.02dB'"
	refuses number.map 'a\tb\n1%%\t2\n' "in.csv:2: column 'a': number with something behind it: '1%'"
	for n in '<0.02' '>0.02' '~0.02' '±0.02'; do
		refuses number.map "a\tb\n$n\t2\n" "in.csv:2: column 'a': number with something before it: '$n'"
	done
	takes number.map 'a\tb\n+0.02\t2\n' 'a\tb\n0.02\t2\n'
}

@test "48 blanks beside numbers" {
	maps
	refuses number.map 'a\tb\n 5\t2\n' "in.csv:2: column 'a': blank beside the number: ' 5'"
	refuses number.map 'a\tb\n5 \t2\n' "in.csv:2: column 'a': blank beside the number: '5 '"
	refuses number.map 'a\tb\n  \t2\n' "in.csv:2: column 'a': only blanks: '  '"
	{ cat number.map && printf 'file\ttrim\tyes\t\t\t\t\t\t\t\t\n'; } >more.map
	takes more.map 'a\tb\n 5 \t2\n  \t2\n' 'a\tb\n5\t2\n\t2\n'
}

@test "49 words for not known" {
	maps
	refuses number.map 'a\tb\nN/A\t2\n' "in.csv:2: column 'a': no number: 'N/A'"
	{ cat number.map && printf 'file\tunknown\tN/A;NA;-;--;---;n.m.;OL;#N/A;#VALUE!;NULL\t\t\t\t\t\t\t\t\n'; } >more.map
	takes more.map 'a\tb\nN/A\t2\nNA\t2\n-\t2\n--\t2\n---\t2\nn.m.\t2\nOL\t2\n#N/A\t2\n#VALUE!\t2\nNULL\t2\n' \
		'a\tb\n\t2\n\t2\n\t2\n\t2\n\t2\n\t2\n\t2\n\t2\n\t2\n\t2\n'
	refuses more.map 'a\tb\nn/a\t2\n' "in.csv:2: column 'a': no number: 'n/a'"
}

@test "50 numbers that mean not known" {
	maps
	{ cat number.map && printf 'file\tunknown\t-999;1e99\t\t\t\t\t\t\t\t\n'; } >more.map
	takes more.map 'a\tb\n-999\t2\n1e99\t3\n0\t4\n' 'a\tb\n\t2\n\t3\n0\t4\n'
}

@test "51 not a number, infinity" {
	maps
	for n in NaN -Inf inf '1.#IND'; do
		refuses number.map "a\tb\n$n\t2\n" "in.csv:2: column 'a': not a finite number: '$n'"
	done
}

@test "52 exponents" {
	maps
	takes number.map 'a\tb\n1.2E-02\t4,687E+11\n' 'a\tb\n0.012\t4,687E+11\n'
	refuses number.map 'a\tb\n1e999\t2\n' "in.csv:2: column 'a': exponent too large: '1e999'"
}

@test "53 leading zeros" {
	maps
	takes text.map 'a\tb\n007\t7\n' 'a\tb\n007\t7\n'
	takes number.map 'a\tb\n007\t07\n' 'a\tb\n7\t07\n'
}

@test "54 names that look like dates or numbers stay" {
	maps
	takes text.map 'a\tb\n3-4\t1E5\n04-Mar\tTRUE\n1.10\t1/2\n' 'a\tb\n3-4\t1E5\n04-Mar\tTRUE\n1.10\t1/2\n'
}

@test "55 order of day and month" {
	map date.map <<-'END'
		column|a|a||date||DD/MM/YYYY
		column|b|b||date||MM/DD/YYYY
	END
	takes date.map 'a,b\n03/04/2024,03/04/2024\n' 'a\tb\n2024-04-03\t2024-03-04\n'
	refuses date.map 'a,b\n03/13/2024,03/04/2024\n' "in.csv:2: column 'a': no such month: '03/13/2024'"
	refuses date.map 'a,b\n2024-04-03,\n' "in.csv:2: column 'a': not a date of the map's form: '2024-04-03'"
	map bare.map <<-'END'
		column|a|a||date
	END
	refuses bare.map 'a\n1\n' "bare.map:2: column 'name': date or fibre without a form: 'a'"
}

@test "56 two digits of a year, 24:00, no zone" {
	map date.map <<-'END'
		file|zone|UTC+01:00
		column|a|a||date||DD/MM/YY
		column|b|b||date||YYYY-MM-DD hh:mm
		column|c|b||date|Z|YYYY-MM-DD hh:mm
	END
	takes date.map 'a,b\n01/01/00,1970-01-01 00:00\n' \
		'a\tb\tc\n2000-01-01\t1970-01-01T00:00+01:00\t1970-01-01T00:00Z\n'
	refuses date.map 'a,b\n01/01/00,2026-01-01 24:00\n' \
		"in.csv:2: column 'b': 24:00 is not a time: write 00:00 of the next day: '2026-01-01 24:00'"
	refuses date.map 'a,b\n29/02/23,\n' "in.csv:2: column 'a': no such day: '29/02/23'"
}

@test "57 rows out of order, and twice, come out as they are" {
	maps
	takes text.map 'a\tb\n2\tx\n1\ty\n2\tx\n' 'a\tb\n2\tx\n1\ty\n2\tx\n'
}

@test "58 a cell of 20 MB, 10,000 columns" {
	maps
	{ printf 'a\tb\n"' && head -c 20000000 /dev/zero | tr '\0' x && printf '"\t2\n3\t' &&
		head -c 20000000 /dev/zero | tr '\0' y && printf '\n'; } >in.csv
	"$bin/thrum-import" -m text.map in.csv >out
	[ "$(wc -c <out)" -eq 40000010 ]
	tr -d 'xy' <out >small
	[ "$(cat small)" = "$(printf 'a\tb\n\t2\n3\t')" ]
	awk 'BEGIN { for (i = 1; i <= 10000; i++) printf "%sc%d", (i > 1 ? "," : ""), i; print ""
		for (i = 1; i <= 10000; i++) { q = i % 7 ? "" : "\""; printf "%s%s%d%s", (i > 1 ? "," : ""), q, i, q }
		print "" }' >wide.csv
	map wide.map <<-'END'
		column|first|c1
		column|last|c10000
		carry|x_|*
	END
	run -0 "$bin/thrum-import" -m wide.map wide.csv
	[ "$(echo "${lines[0]}" | cut -f 1,2,3,10000)" = "first${tab}last${tab}x_c2${tab}x_c9999" ]
	[ "$(echo "${lines[1]}" | cut -f 1,2,3,10000)" = "1${tab}10000${tab}2${tab}9999" ]
	"$bin/thrum-import" --draft wide.csv >draft
	[ "$(grep -c '^column?' draft)" -eq 10000 ]
}

@test "59 control bytes are kept, and shown" {
	maps
	takes text.map 'a\tb\n\x1b[31m\t2\n' 'a\tb\n\x1b[31m\t2\n'
	refuses number.map 'a\tb\n\x1b[31m\t2\n' "in.csv:2: column 'a': number with something before it: '\\x1b[31m'"
}

@test "60 formulas and markup are kept" {
	maps
	takes text.map 'a\tb\n<script>\t=1+1\n' 'a\tb\n<script>\t=1+1\n'
}

@test "61 compressed" {
	maps
	refuses text.map '\x1f\x8b\x08\0' 'in.csv: compressed (gzip), not a table: unpack it first (thrum-unpack, gzip -d)'
}

@test "62 archives and spreadsheets" {
	maps
	refuses text.map 'PK\x03\x04\x14\0' \
		"in.csv: a ZIP or spreadsheet file: if it is .xlsx: xlsx2csv 'in.csv' | thrum-import -m MAP"
	refuses text.map '\xd0\xcf\x11\xe0\xa1\xb1' \
		"in.csv: an old spreadsheet or document: if it is .xls: xls2csv -d utf-8 'in.csv' | thrum-import -m MAP"
}

@test "63 directory, nothing there, in and out the same" {
	maps
	run --separate-stderr -2 "$bin/thrum-import" -m text.map .
	[ "$stderr" = 'thrum-import: .: Is a directory' ]
	run --separate-stderr -2 "$bin/thrum-import" -m text.map none.csv
	[ "$stderr" = 'thrum-import: none.csv: No such file or directory' ]
	run --separate-stderr -2 "$bin/thrum-import" -m none.map text.map
	[ "$stderr" = 'thrum-import: none.map: No such file or directory' ]
	printf 'a\tb\n1\t2\n' >in.csv
	cp in.csv before
	run --separate-stderr -2 "$bin/thrum-import" -m text.map -o in.csv in.csv
	[ "$stderr" = 'thrum-import: in.csv: is read and written at once' ]
	run --separate-stderr -2 "$bin/thrum-import" -m text.map -o text.map in.csv
	[ "$stderr" = 'thrum-import: text.map: is written, and named by --map as well' ]
	cmp in.csv before
	run -2 "$bin/thrum-import" -m text.map -o new.tsv none.csv
	[ ! -e new.tsv ]
}

@test "64 letters of one code point or two" {
	printf 'rule\tname\tfrom\ncolumn\ta\trelev\xc3\xa9\n' >loss.map
	refuses loss.map 'releve\xcc\x81\n1\n' \
		"in.csv:1: no column '$(printf 'relev\xc3\xa9')': there is only 'releve\\xcc\\x81': see the map's settings 'delimiter' and 'skip'"
}

# --- columns -------------------------------------------------------------------------------------

@test "several columns feed one, one feeds several" {
	map m <<-'END'
		column|made_at|day + time||date||DD.MM.YYYY hh:mm
		column|tube|id|T([0-9]+)-F[0-9]+|whole
		column|fibre|id|T[0-9]+-F([0-9]+)|whole
		column|fibre_a|id|T([0-9]+)-F([0-9]+)|fibre||12
		column|fibre_b|tube + fibre||fibre||24
		column|both|day + time
		column|where|#file + #line
		column|closure|||||||C-7
	END
	printf 'day,time,id,tube,fibre\n11.03.2026,21:45,T2-F05,3,24\n' >in.csv
	run -0 "$bin/thrum-import" -m m in.csv
	[ "${lines[1]}" = "$(printf '2026-03-11T21:45\t2\t5\t17\t72\t11.03.2026 21:45\tin.csv 2\tC-7')" ]
	refuses m 'day,time,id,tube,fibre\n11.03.2026,,T2-F05,3,24\n' \
		"in.csv:2: column 'day + time': not a date of the map's form: '11.03.2026'"
	refuses m 'day,time,id,tube,fibre\n,,T2-F13,3,24\n' \
		"in.csv:2: column 'id': fibre within the tube is outside 1 to 12: 'T2-F13'"
	refuses m 'day,time,id,tube,fibre\n,,T2F5,3,24\n' \
		"in.csv:2: column 'id': does not match the map's pattern: 'T2F5'"
	refuses m 'day,time,id,tube,fibre\n,,,3,\n' "in.csv:2: column 'tube + fibre': not a tube and a fibre: '3'"
	refuses m 'day,time,id,tube,fibre\n,,,0,1\n' \
		"in.csv:2: column 'tube + fibre': tube is not a whole number from 1 to 100000: '0 1'"
}

@test "units" {
	map m <<-'END'
		column|est_db|mdb||number|mdB
		column|mfd_um|nm||number|nm
		column|mark_m|mark||whole|km
		column|tilt_deg|rad||number|rad
		column|loss_db|cell||number|cell
	END
	takes m 'mdb,nm,mark,rad,cell\n50,10400,1.2,0.5,0.05 dB\n-7,1,0.001,0,50mdB\n' \
		'est_db\tmfd_um\tmark_m\ttilt_deg\tloss_db\n0.050\t10.400\t1200\t28.6478897565\t0.05\n-0.007\t0.001\t1\t0.0000000000000000\t0.050\n'
	refuses m 'mdb,nm,mark,rad,cell\n,,1.2345,,\n' "in.csv:2: column 'mark': not a whole number: '1.2345'"
	refuses m 'mdb,nm,mark,rad,cell\n,,,,5\n' "in.csv:2: column 'cell': no unit behind the number: '5'"
	refuses m 'mdb,nm,mark,rad,cell\n,,,,5 km\n' \
		"in.csv:2: column 'cell': unit of another kind than the column's: '5 km'"
	refuses m 'mdb,nm,mark,rad,cell\n,,,,dB\n' "in.csv:2: column 'cell': no number: 'dB'"
}

@test "words, defaults, need, columns that may be absent" {
	map m <<-'END'
		column|tension|t||word|||OK=pass; not ok = fail ;n.m.=
		column|kind|k||text|||F=fusion|fusion
		column|est_db|e||number||||0.1
		column|extra|x||number|||||absent
		column|joint|j|||||||yes
	END
	takes m 't,k,e,j\nOK,F,0.2,A\nnot ok,,,B\nn.m.,M,,C\n' \
		'tension\tkind\test_db\textra\tjoint\npass\tfusion\t0.2\t\tA\nfail\tfusion\t0.1\t\tB\n\tM\t0.1\t\tC\n'
	takes m 't,k,e,j,x\nOK,F,0.2,A,5\n' 'tension\tkind\test_db\textra\tjoint\npass\tfusion\t0.2\t5\tA\n'
	refuses m 't,k,e,j\nok,F,0.2,A\n' "in.csv:2: column 't': none of the map's words: 'ok'"
	refuses m 't,k,e,j\nOK,F,0.2,\n' "in.csv:2: column 'j': empty, but needed"
}

@test "columns of the export that the map does not want" {
	map m <<-'END'
		column|a|a
		ignore||serial
		carry|x_|temp
	END
	takes m 'a,serial,temp\n1,2,3\n' 'a\tx_temp\n1\t3\n'
	takes m 'a,temp\n1,3\n' 'a\tx_temp\n1\t3\n'
	refuses m 'a,serial,temp,new,\n' \
		"in.csv:1: columns that no rule of the map names: 'new' #5: say ignore or carry"
	map star.map <<-'END'
		column|a|a
		ignore||*
	END
	takes star.map 'a,serial,temp\n1,2,3\n' 'a\n1\n' "columns ignored: 'serial' 'temp'"
	map carry.map <<-'END'
		column|a|a||number||||9
		carry||*
	END
	takes carry.map 'a,b,\n1, 2,N/A\n' 'a\tb\t3\n1\t 2\tN/A\n'
	map twice.map <<-'END'
		column|b|a
		carry||*
	END
	refuses twice.map 'a,b\n1,2\n' "in.csv: carried column would be made twice: 'b': give it a prefix"
}

@test "several exports are one table; carried columns must agree" {
	map m <<-'END'
		column|a|a
		carry|x_|*
	END
	printf 'a,b,c\n1,2,3\n' >one.csv
	printf 'c,a,b\n6,4,5\n' >two.csv
	run -0 "$bin/thrum-import" -m m one.csv two.csv
	[ "$output" = "$(printf 'a\tx_b\tx_c\n1\t2\t3\n4\t5\t6')" ]
	printf 'c,a,d\n6,4,5\n' >two.csv
	run --separate-stderr -2 "$bin/thrum-import" -m m one.csv two.csv
	[ "$stderr" = "thrum-import: two.csv: a carried column that one.csv lacks: 'x_d'" ]
	[ -z "$output" ]
	printf 'c,a\n6,4\n' >two.csv
	run --separate-stderr -2 "$bin/thrum-import" -m m one.csv two.csv
	[ "$stderr" = "thrum-import: two.csv: lacks a carried column that one.csv has" ]
}

@test "-c reads another column than the map says" {
	maps
	printf 'a\tbee\n1\t2\n' >in.csv
	run -0 "$bin/thrum-import" -m text.map -c b=bee in.csv
	[ "$output" = "$(printf 'a\tb\n1\t2')" ]
	run --separate-stderr -2 "$bin/thrum-import" -m text.map -c x=bee in.csv
	[ "$stderr" = "thrum-import: --column: no column the map reads: 'x'" ]
}

@test "an export without a header" {
	map m <<-'END'
		file|header|no
		column|a|#2||number
		carry|x|*
	END
	takes m 'x,1\ny,2\n' 'a\tx1\n1\tx\n2\ty\n'
	takes m '"x",1\n' 'a\tx1\n1\tx\n'
	map named.map <<-'END'
		file|header|no
		column|a|a
	END
	refuses named.map 'x,1\n' "in.csv: no column 'a': there is no header: write #1 to #2 in the map"
	refuses m 'x\n' 'in.csv: no column #2: there are 1'
}

# --- rows set aside ------------------------------------------------------------------------------

@test "every row comes out or is set aside, with its own bytes" {
	map m <<-'END'
		file|delimiter|semicolon
		file|encoding|WINDOWS-1252
		column|a|a||number
		column|b|b
	END
	printf 'a;b\r\n1;\xe4\r\nx;"\xe4\\\ty\r\n2"\r\n2;3;4\r\n3;\x81\r\n\r\n4;z\r\n' >in.csv
	run --separate-stderr -1 "$bin/thrum-import" -m m --set-aside aside.tsv -o out.tsv in.csv
	[ "$stderr" = 'thrum-import: in.csv: 4 rows set aside' ]
	printf 'a\tb\n1\t\xc3\xa4\n4\tz\n' | diff -u - out.tsv
	printf '%s\t%s\t%s\t%s\t%s\n' aside_file aside_line aside_column aside_why aside_raw \
		in.csv 3 a "no number: 'x'" 'x;"\xe4\x5c\x09y\x0d\x0a2"' \
		in.csv 5 '' '3 cells, 2 expected' '2;3;4' \
		in.csv 6 '' 'byte 3 is not WINDOWS-1252: \x81' '3;\x81' \
		in.csv 7 '' 'blank line inside the export' '' | diff -u - aside.tsv
	# UTF-8 is kept readable
	maps
	printf 'a\tb\nx\xc3\xa4\t2\n' >in.csv
	run -1 "$bin/thrum-import" -m number.map --set-aside - -o out.tsv in.csv
	[[ $output = *"$(printf 'x\xc3\xa4')\\x092" ]]
}

@test "a quote that spoils what follows stops the run all the same" {
	maps
	printf 'a\tb\n1\t2\n"3\t4\n' >in.csv
	run --separate-stderr -2 "$bin/thrum-import" -m text.map --set-aside aside.tsv -o out.tsv in.csv
	[ "$stderr" = 'thrum-import: in.csv:3: quote opened here is never closed' ]
	[ ! -e aside.tsv ] && [ ! -e out.tsv ]
}

@test "exports of many kinds, each with its map, come out right cell by cell" {
	run python3 "$BATS_TEST_DIRNAME/import/run.py" "$bin/thrum-import" .
	echo "$output"
	[ "$status" -eq 0 ]
	[[ $output = *' exports, 0 not as they should be' ]]
	[ "${output%% *}" -ge 40 ]
}

@test "random tables in random dialects come back, and the counts of rows add up" {
	# RANDOM_EXPORTS=10000, with the sanitizers, is what a release is held to
	run python3 "$BATS_TEST_DIRNAME/import/random_exports.py" "$bin/thrum-import" . "${RANDOM_EXPORTS:-150}"
	echo "$output" | tail -n 60
	[ "$output" = "${RANDOM_EXPORTS:-150} exports, 0 tables that did not come back" ]
	echo "# trials ${output%% *}" >&3
}

@test "the only column cannot make a blank line or a second header" {
	map m <<-'END'
		column|a|a
		ignore||b
	END
	refuses m 'a,b\nx,1\n,2\n' \
		'in.csv:3: the only column would make this row a blank line: give the table a second column'
	refuses m 'a,b\na,1\n' \
		'in.csv:2: the only column would make this row the header again: give the table a second column'
}

@test "the two directions may stand in two exports, their columns in another order" {
	map m <<-'END'
		key||joint
		side|ab|#file|ab.*
		side|ba|#file|ba.*
		column|joint|joint
		column|loss_ab_db|loss @ab||number
		column|loss_ba_db|loss @ba||number
	END
	printf 'joint,loss\nJ-1,0.1\nJ-2,0.2\n' >ab.csv
	printf 'loss,joint\n0.4,J-2\n0.3,J-1\nx,J-3\n' >ba.csv
	run --separate-stderr -1 "$bin/thrum-import" -m m --set-aside aside ab.csv ba.csv
	[ "$output" = "$(printf 'joint\tloss_ab_db\tloss_ba_db\nJ-1\t0.1\t0.3\nJ-2\t0.2\t0.4')" ]
	[ "$stderr" = 'thrum-import: 1 row set aside at the end' ]
	[ "$(sed 1d aside)" = "$(printf "ba.csv\t4\tloss @ba\tno number: 'x'\tx,J-3")" ]
}

@test "a header that tells another unit is questioned" {
	map m <<-'END'
		column|est_db|l mdB||number
	END
	refuses m 'l mdB\n50\n' "in.csv:1: column 'l mdB' says mdB, and the map makes est_db of it without a unit: write what it is into 'unit'"
	map m <<-'END'
		column|est_db|l (mdB)||number|dB
		column|length_km|length in km||number
	END
	takes m 'l (mdB),length in km\n50,1\n' 'est_db\tlength_km\n50\t1\n' "column 'l (mdB)' says mdB, the map dB"
}

@test "what stands above, the layouts and the sides: what is wrong is named" {
	map m <<-'END'
		file|skip|2
		above|day|Date
		column|a|a
		column|day|day
	END
	refuses m 'x,y\n,\na\n1\n' "in.csv: nothing above the header at 'Date'"
	refuses m 'Date,1\nDate:2\na\n1\n' "in.csv: 'Date' stands above the header more than once"
	map m <<-'END'
		file|layout|json
		column|a|a
		column|b|bee
	END
	refuses m '{"a":1}\n' "in.csv: no record has 'bee': is it absent?"
	map m <<-'END'
		file|layout|fixed
		column|a|a
	END
	refuses m 'x\n' "m: layout fixed: not a place as #9-14: 'a'"
	wrong 'side|ab|d|x' "bad.map: rule 'side' without a rule 'key'"
	wrong 'key||d' "bad.map: rule 'key' without a rule 'side'"
	wrong 'above|x|Date' "bad.map: rule 'above' without the setting 'skip': nothing stands above"
	wrong 'wide|w|b' "bad.map:3: column 'from': one column: write A | B | C: 'b'"
	wrong 'section|w|b' "bad.map:3: column 'rule': rule without a pattern: 'section'"
	wrong 'column|b|b||night||DD.MM.YYYY' "bad.map:3: column 'form': a night needs a form with a time of day: 'DD.MM.YYYY'"
	wrong 'column|b|b||fibre||12 tia-589' "bad.map:3: column 'form': no such colour order: 'tia-589'; nearest: tia-598: '12 tia-589'"
	wrong 'file|minus|front' "bad.map:3: column 'from': none of: brackets behind apart, with semicolons: 'front'"
}

# --- maps ----------------------------------------------------------------------------------------

# wrong LINE MESSAGE: a map of one sound column and this line is refused
wrong() {
	printf 'column|a|a\n%s\n' "$1" | map bad.map
	printf 'a\n1\n' >in.csv
	run --separate-stderr -2 "$bin/thrum-import" -m bad.map in.csv
	[ "$stderr" = "thrum-import: $2" ] || { printf 'said: %s\n' "$stderr"; return 1; }
}

@test "what is wrong in a map is named" {
	wrong 'colum|b|b' "bad.map:3: column 'rule': none of: file column ignore carry drop above section fill wide key side words: 'colum'"
	wrong 'column?|b|b' "bad.map:3: column 'rule': unfinished map: look at this rule, then take the question mark away: 'column?'"
	wrong 'file|delimeter|tab' "bad.map:3: column 'name': none of: bounds comment decimal delimiter encoding grouping header layout minus months quote ragged skip skip_below trim unknown zone: 'delimeter'"
	wrong 'file|delimiter|;;' "bad.map:3: column 'from': no delimiter: ';;'"
	wrong 'file|delimiter|x' "bad.map:3: column 'from': no delimiter: 'x'"
	wrong 'file|delimiter|"' "bad.map:3: column 'from': no delimiter: '\"'"
	wrong 'file|quote|"' "bad.map:3: column 'from': none of: double single none: '\"'"
	wrong 'file|decimal|,' "bad.map:3: column 'from': none of: point comma: ','"
	wrong 'file|skip|-1' "bad.map:3: column 'from': no number of lines: '-1'"
	wrong 'file|encoding|UTF-9' "bad.map:3: column 'from': encoding that iconv does not know: 'UTF-9'"
	wrong 'file|encoding|IBM037' "bad.map:3: column 'from': encoding without ASCII's characters in their places: 'IBM037'"
	wrong 'file|zone|CET' "bad.map:3: column 'from': no zone: write Z, +hh:mm or UTC+hh:mm: 'CET'"
	wrong 'file|months|a;b' "bad.map:3: column 'from': not twelve names with semicolons between them: 'a;b'"
	wrong 'file|comment|' "bad.map:3: column 'from': setting without a value"
	wrong 'file|skip|1|x' "bad.map:3: column 'pattern': of no use in a rule of this kind: 'x'"
	wrong 'column|a|b' "bad.map:3: column 'name': column made twice: 'a'"
	# a header that begins so would be no table
	wrong $'column|\xff\xfe|b' "bad.map:3: column 'name': not UTF-8, or with a byte-order mark: '\\xff\\xfe'"
	wrong $'column|\xef\xbb\xbfb|b' \
		"bad.map:3: column 'name': not UTF-8, or with a byte-order mark: '"$'\xef\xbb\xbf'"b'"
	wrong 'column|b|' "bad.map:3: column 'name': column with neither 'from' nor 'default': 'b'"
	wrong 'column|b|b + ' "bad.map:3: column 'from': nothing beside a ' + ': 'b + '"
	wrong 'column|b|b||nummer' "bad.map:3: column 'holds': none of: text number whole date night word fibre colour: 'nummer'"
	printf 'column|b|b|(\n' | map bad.map
	run --separate-stderr -2 "$bin/thrum-import" -m bad.map in.csv
	[[ $stderr = "thrum-import: bad.map:2: column 'pattern': no pattern: "*": '('" ]]
	wrong 'column|b|b|(a)\1' "bad.map:3: column 'pattern': pattern with a back-reference: '(a)\\\\1'"
	wrong 'column|b|b|(a{40}){40}' "bad.map:3: column 'pattern': pattern with more than 1000 repeats: '(a{40}){40}'"
	wrong 'column|b_db|b||number|km' "bad.map:3: column 'unit': cannot become dB: 'km'"
	wrong 'column|b|b||number|km' "bad.map:3: column 'name': a unit comes in, but the name does not end in one: 'b'"
	wrong 'column|b_db|b||number|bel' "bad.map:3: column 'unit': none of: cell, m:ss, h:mm, h:mm:ss, nm, um, mm, cm, m, km, in, ft, kft, yd, mi, ps, ns, us, ms, s, min, h, dB, mdB, dB/km, mdB/km, dB/m, dB/kft, dB/mi, dBm, deg, rad, mrad, percent, ratio: 'bel'"
	wrong 'column|b_db|b|||dB' "bad.map:3: column 'unit': unit of something that is no number: 'dB'"
	wrong 'column|b|b||date||DD.MM' "bad.map:3: column 'form': date form without year, month or day: 'DD.MM'"
	wrong 'column|b|b||date||DD.MM.YYYY Uhr' "bad.map:3: column 'form': date form with a letter that means nothing: 'DD.MM.YYYY Uhr'"
	wrong 'column|b|b||word' "bad.map:3: column 'name': word without words: 'b'"
	wrong 'column|b|b||word|||OK' "bad.map:3: column 'words': not THEIRS=OURS;THEIRS=OURS: 'OK'"
	wrong 'column|b|b||word|||a=1;a=2' "bad.map:3: column 'words': one word twice: 'a=1;a=2'"
	wrong 'column|b|b||||||| maybe' "bad.map:3: column 'need': none of: no yes absent: ' maybe'"
	wrong 'drop||b' "bad.map:3: column 'rule': rule without a pattern: 'drop'"
	wrong 'ignore||' "bad.map:3: column 'rule': rule without a column in 'from': 'ignore'"
	printf 'rule\tname\tfrom\tholds\tunits\n' >bad.map
	run --separate-stderr -2 "$bin/thrum-import" -m bad.map in.csv
	[ "$stderr" = "thrum-import: bad.map:1: column 'units': is it unit?" ]
	map bad.map <<<'file|skip|1'
	run --separate-stderr -2 "$bin/thrum-import" -m bad.map in.csv
	[ "$stderr" = "thrum-import: bad.map: no rule 'column' in the map" ]
	printf 'file|skip|1\nfile|skip|2\ncolumn|a|a\n' | map bad.map
	run --separate-stderr -2 "$bin/thrum-import" -m bad.map in.csv
	[ "$stderr" = "thrum-import: bad.map:3: column 'name': setting given twice: 'skip'" ]
}

@test "remarks, blank rows and absent columns of a map are fine" {
	printf 'note\tname\trule\tfrom\nhello\t\t\t\n\t\t\t\n\ta\tcolumn\ta\n' >m
	takes m 'a\n1\n' 'a\n1\n'
}

@test "months in another language, AM and PM, single quotes" {
	map m <<-'END'
		file|quote|single
		file|months|Jan;Feb;Mär;Apr;Mai;Jun;Jul;Aug;Sep;Okt;Nov;Dez
		column|a|a||date|+02:00|D. MON YYYY h:mm AM
	END
	takes m "a\n'1. Mär 2026 1:05 pm'\n31. DEZ 2026 12:00 AM\n" 'a\n2026-03-01T13:05+02:00\n2026-12-31T00:00+02:00\n'
}

# --- drafts --------------------------------------------------------------------------------------

@test "a draft lists every column, marks proposals, and is refused as it is" {
	printf 'Bericht\n\nTag;Verlust;Winkel;Notiz;\n11.03.2026;0,05;1°;;x\n12.03.2026;0,04;2°;a;y\n13.03.2026;1;;b;z\n' >in.csv
	run --separate-stderr -0 "$bin/thrum-import" --draft in.csv
	[ -z "$stderr" ]
	printf '%s\n' "$output" >draft.map
	# shellcheck disable=SC2059
	want() { grep -qxF "$(printf "$@")" draft.map || { cat draft.map; false; }; }
	want 'file?\tencoding\tUTF-8\t\t\t\t\t\t\t\t'
	want 'file?\tdelimiter\tsemicolon\t\t\t\t\t\t\t\t'
	want 'file?\tskip\t2\t\t\t\t\t\t\t\t'
	want 'file?\tdecimal\tcomma\t\t\t\t\t\t\t\t3 rows of this shape, 0 others'
	want "column?\ttag\tTag\t\tdate\t\tD.M.YYYY\t\t\t\t3 cells: 0 numbers, 3 dates, 0 empty; '11.03.2026' '12.03.2026' '13.03.2026'"
	want "column?\tverlust\tVerlust\t\tnumber\t\t\t\t\t\t3 cells: 3 numbers, 0 dates, 0 empty; '0,05' '0,04' '1'"
	want "column?\twinkel_deg\tWinkel\t\tnumber\tcell\t\t\t\t\t3 cells: 2 numbers, 0 dates, 1 empty; '1°' '2°'"
	want "column?\tcolumn_5\t#5\t\ttext\t\t\t\t\t\t3 cells: 0 numbers, 0 dates, 0 empty; 'x' 'y' 'z'"
	[ "$(grep -c . draft.map)" -eq 12 ]
	run --separate-stderr -2 "$bin/thrum-import" -m draft.map in.csv
	[ "$stderr" = "thrum-import: draft.map:2: column 'rule': unfinished map: look at this rule, then take the question mark away: 'file?'" ]
	# finished, it works
	sed 's/?//' draft.map >done.map
	run -0 "$bin/thrum-import" -m done.map in.csv
	[ "${lines[1]}" = "$(printf '2026-03-11\t0.05\t1\t\tx')" ]
}

@test "a draft leaves open what the cells leave open" {
	printf 'a\tb\n03/04/2024\t1\n05/06/2024\t2\n' >in.csv
	run -0 "$bin/thrum-import" --draft in.csv
	[[ $output = *"$(printf 'column?\ta\ta\t\tdate\t\t\t\t\t\t2 cells: 0 numbers, 2 dates, 0 empty;')"*'day and month order is open'* ]]
	[[ $output = *"$(printf 'file?\tdelimiter\ttab')"* ]]
}

@test "a draft finds a line of units below the header" {
	printf '%s\n' 'Nr;MFD;Verlust;Wann' ';[nm];dB;' 'J-1;9200;0,02;11.03.2026 22:10' \
		'J-2;9150;0,03;11.03.2026 22:20' >in.csv
	run --separate-stderr -0 "$bin/thrum-import" --draft in.csv
	printf '%s\n' "$output" >draft.map
	# shellcheck disable=SC2059
	want() { grep -qF "$(printf "$@")" draft.map || { cat draft.map; false; }; }
	want 'file?\tskip_below\t1\t\t\t\t\t\t\t\ta line of units'
	want 'file?\tdecimal\tcomma\t\t\t\t\t\t\t\t2 rows of this shape, 0 others'
	want "column?\tmfd_nm\tMFD\t\tnumber\tnm\t\t\t\t\t2 cells: 2 numbers, 0 dates, 0 empty; '9200' '9150'"
	want 'column?\tverlust_db\tVerlust\t\tnumber\tdB\t'
	# finished, it works; in another unit of the same kind, too
	sed 's/?//; s/mfd_nm/mfd_um/' draft.map >done.map
	run -0 "$bin/thrum-import" -m done.map in.csv
	[ "${lines[1]}" = "$(printf 'J-1\t9.200\t0.02\t2026-03-11T22:10')" ]
	# a record that holds a word like a unit is a record
	printf 'a,b\nm,1\nkm,2\n' >in.csv
	run -0 "$bin/thrum-import" --draft in.csv
	[[ $output != *skip_below* ]]
}

@test "a draft by a given dialect; Windows-1252 and UTF-16 are proposed" {
	map dialect.map <<-'END'
		file|delimiter|colon
		file|skip|1
	END
	printf 'x\na:b\n1:2\n' >in.csv
	run -0 "$bin/thrum-import" --draft -m dialect.map in.csv
	[ "${lines[2]}" = "$(printf 'file\tdelimiter\tcolon\t\t\t\t\t\t\t\t')" ]
	[[ ${lines[6]} = "$(printf 'column?\ta\ta\t\twhole')"* ]]
	# every setting that is given stays as it is
	map dialect.map <<-'END'
		file|bounds|take
		file|comment|%
		file|decimal|comma
		file|encoding|ISO-8859-15
		file|grouping|point
		file|header|no
		file|layout|cells
		file|minus|behind;apart
		file|months|a;b;c;d;e;f;g;h;i;j;k;l
		file|quote|single
		file|ragged|mend
		file|skip_below|1
		file|trim|yes
		file|unknown|-;n/a
		file|zone|UTC+01:00
	END
	printf 'a;b\nx;y\n1.5;2\n1.25;OL\n' >in.csv
	"$bin/thrum-import" --draft -m dialect.map in.csv | grep "^file$tab" | cut -f 1-3 | sort >kept
	sed 1d dialect.map | cut -f 1-3 | sort | diff - kept
	printf 'a,b\n\xe4,2\n' >in.csv
	run -0 "$bin/thrum-import" --draft in.csv
	[ "${lines[1]}" = "$(printf 'file?\tencoding\tWINDOWS-1252\t\t\t\t\t\t\t\t')" ]
	# what stands above the header is UTF-8 in the map, and found by it
	printf 'Ger\xe4t;S\xfcd 1\na;b;c\nx;2;3\ny;3;4\n' >in.csv
	"$bin/thrum-import" --draft in.csv | sed 's/?//' >draft.map
	grep -q "^above${tab}gert${tab}Gerät${tab}.*Süd 1$" draft.map
	run -0 "$bin/thrum-import" -m draft.map in.csv
	[ "${lines[1]}" = "x${tab}2${tab}3" ]
	printf 'a,b\n\xc3\xa4,2\n' | iconv -f UTF-8 -t UTF-16 >in.csv
	run -0 "$bin/thrum-import" --draft in.csv
	[ "${lines[1]}" = "$(printf 'file?\tencoding\tUTF-16\t\t\t\t\t\t\t\t')" ]
	[[ ${lines[6]} = *"'ä'" ]]
}

@test "a draft of padded titles, grouping, units in headers, serial days, marks, rows to drop" {
	printf '%s\n' 'Report;;;;' 'Date:;12.03.2026;;;' ';;;;' 'No;Wann;l mdB;Länge;Note' \
		'J-1;46092,90685;50;1.250,5;' 'J-2;46092,91;n/a;2.300,0;x' 'J-3;46092,915;-999;850;y' \
		'J-4;46093,1;30;12.345,5;' '' 'No;Wann;l mdB;Länge;Note' 'J-5;46093,2;20;900;' \
		'Total;;;17.645,5;' >in.csv
	run --separate-stderr -0 "$bin/thrum-import" --draft in.csv
	printf '%s\n' "$output" >draft.map
	# shellcheck disable=SC2059
	want() { grep -qF "$(printf "$@")" draft.map || { cat draft.map; false; }; }
	want 'file?\tskip\t3\t'
	want 'file?\tdecimal\tcomma\t'
	want 'file?\tgrouping\tpoint\t'
	want 'file?\tunknown\tn/a;-999\t'
	want 'above?\tdate\tDate\t'
	want 'drop?\t\t\t^$\t'
	want 'drop?\t\tNo\t^No$\t'
	want 'drop?\t\tNo\t^Total$\t'
	want 'column?\twann\tWann\t\tdate\t\tserial\t'
	want 'column?\tl_db\tl mdB\t\tnumber\tmdB\t'
	# finished, it works
	sed 's/?\t/\t/; s/lnge/length_m/; s/^column\tdate/&/' draft.map >done.map
	printf 'column\tday\tdate\t\t\t\t\t\t\t\t\n' >>done.map
	run --separate-stderr -0 "$bin/thrum-import" -m done.map in.csv
	[ "${lines[1]}" = "$(printf 'J-1\t2026-03-11T21:45:52\t0.050\t1250.5\t\t12.03.2026')" ]
	[ "${#lines[@]}" -eq 6 ]
}

@test "a draft of fixed places, of times with zones, and by a map of one line" {
	printf '%s\n' 'Joint   Loss  Made' 'J-1     0.05  2026-03-11 21:45:00 +01:00' \
		'J-2    -0.02  2026-03-11 22:05:00 +01:00' 'J-3     0.10  2026-03-11 22:15:00 +01:00' >in.txt
	run --separate-stderr -0 "$bin/thrum-import" --draft in.txt
	printf '%s\n' "$output" >draft.map
	grep -q "^file?${tab}layout${tab}fixed" draft.map
	grep -q "^file?${tab}skip${tab}1$tab" draft.map
	grep -q "^column?${tab}loss${tab}#8-12$tab${tab}number" draft.map
	sed 's/?\t/\t/' draft.map >done.map
	run --separate-stderr -0 "$bin/thrum-import" -m done.map in.txt
	[ "${lines[2]%%2026*}" = "J-2$tab-0.02$tab" ]
	# what the map gives is not proposed, the rest is
	printf 'x\ny\nz\na;b\n1,5;2\n2,5;3\n' >in.csv
	map skip.map <<<'file|skip|3'
	run --separate-stderr -0 "$bin/thrum-import" --draft -m skip.map in.csv
	[[ $output = *"file?${tab}delimiter${tab}semicolon"*"file${tab}skip${tab}3$tab"*"column?${tab}a${tab}a"* ]]
	[[ $output = *'A draft cannot see: '* ]]
}

@test "a draft of blocks of labels, and of lines of JSON" {
	samples=$BATS_TEST_DIRNAME/../samples/exports
	for export in halyard.txt halyard.jsonl; do
		"$bin/thrum-import" --draft "$samples/$export" | sed 's/?\t/\t/' >"$export.map"
	done
	grep -q "^file${tab}layout${tab}labels" halyard.txt.map
	grep -q "^file${tab}layout${tab}json" halyard.jsonl.map
	run --separate-stderr -0 "$bin/thrum-import" -m halyard.txt.map "$samples/halyard.txt"
	[ "${lines[0]}" = "$(printf 'joint\tloss_db\theating_s\twhen\tremark')" ] || { echo "$output"; false; }
	run --separate-stderr -0 "$bin/thrum-import" -m halyard.jsonl.map "$samples/halyard.jsonl"
	[ "${lines[1]}" = "$(printf '511\t0.02\t2026-03-12T23:52:00Z\ttrue\t2.1')" ]
}

@test "a draft of 80,000 columns takes no time that grows with their square" {
	awk 'BEGIN { for (r = 0; r < 3; r++) { for (i = 1; i <= 80000; i++) printf "%s%s%d", (i > 1 ? "," : ""),
		r ? "" : "c", i + r; print "" } }' >wide.csv
	# half a second; it took 27
	timeout 10 "$bin/thrum-import" --draft wide.csv >draft.map
	[ "$(grep -c '^column?' draft.map)" -eq 80000 ]
}

# --- the program ---------------------------------------------------------------------------------

@test "options that do not go together" {
	maps
	run --separate-stderr -2 "$bin/thrum-import" x
	[ "$stderr" = 'thrum-import: -m MAP is missing; --draft writes a first one' ]
	run --separate-stderr -2 "$bin/thrum-import" --draft --set-aside y x
	[ "$stderr" = 'thrum-import: --set-aside: not with --draft' ]
	run --separate-stderr -2 "$bin/thrum-import" --draft x y
	[ "$stderr" = 'thrum-import: --draft: one export at a time' ]
	run --separate-stderr -2 "$bin/thrum-import" -m text.map - -
	[ "$stderr" = 'thrum-import: -: standard input is named twice' ]
	printf 'a\tb\n' >in.csv
	run --separate-stderr -2 "$bin/thrum-import" -m text.map --set-aside s -o s in.csv
	[ "$stderr" = 'thrum-import: s: is written twice at once' ]
}

@test "from a pipe, row by row, in any locale, the same bytes" {
	maps
	mkfifo pipe
	"$bin/thrum-import" -m text.map pipe >live 2>err &
	exec 7>pipe
	printf 'a\tb\n1\t"2"\n3' >&7
	for _ in 1 2 3 4 5 6 7 8 9 10; do
		[ "$(cat live)" != "$(printf 'a\tb\n1\t2')" ] || break
		sleep 0.1
	done
	[ "$(cat live)" = "$(printf 'a\tb\n1\t2')" ]
	exec 7>&-
	wait $! && false
	[ "$(cat err)" = "thrum-import: pipe:3: 1 cell, 2 expected: the last line has no end and is cut" ]
	mkdir -p locale
	localedef -i de_DE -f UTF-8 locale/de_DE.UTF-8 2>/dev/null || true
	printf 'a\tb\n1.5\tx\n' >in.csv
	"$bin/thrum-import" -m number.map in.csv >want
	LOCPATH=$PWD/locale LC_ALL=de_DE.UTF-8 "$bin/thrum-import" -m number.map <in.csv | cmp - want
}

@test "a full device is trouble" {
	maps
	printf 'a\tb\n1\t2\n' >in.csv
	run --separate-stderr -2 "$bin/thrum-import" -m text.map -o /dev/full in.csv
	[ "$stderr" = 'thrum-import: /dev/full: No space left on device' ]
	run --separate-stderr -2 "$bin/thrum-import" -m text.map --set-aside /dev/full -o out in.csv
	[ ! -e out ]
}

@test "memory does not grow with the export" {
	maps
	awk 'BEGIN {
		print "a\tb"
		for (i = 0; i < 400000; i++) print (i % 3 ? "row " i : "\"row " i "\"") "\t" i
	}' >big.csv
	(ulimit -v 16384 && "$bin/thrum-import" -V) >/dev/null 2>&1 || skip 'a sanitizer needs more to start'
	(ulimit -v 16384 && "$bin/thrum-import" -m text.map big.csv) >out
	[ "$(wc -l <out)" -eq 400001 ]
}

# --- the samples ---------------------------------------------------------------------------------

# pick COLUMNS FILE: these columns of a table, sorted, without the header; numbers and times as one
# would write them by hand
pick() {
	awk -F '\t' -v columns="$1" '
		BEGIN { n = split(columns, want, " ") }
		NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; next }
		{
			for (i = 1; i <= n; i++) {
				if (!(want[i] in at)) exit 1
				x = $at[want[i]]
				sub(/[+]00:00$/, "Z", x)
				if (x ~ /^[0-9]+[.][0-9]*0$/) sub(/[.]?0+$/, "", x)
				printf "%s%s", x, i < n ? "\t" : "\n"
			}
		}' "$2" | sort
}

@test "the sample exports: what a machine remembers is what the sheets say of it" {
	samples=$BATS_TEST_DIRNAME/../samples
	for sheet in quoinmere.csv larkrope.csv; do
		"$bin/thrum-import" -m "$samples/exports/${sheet%.*}.map.tsv" --set-aside "${sheet%.*}-aside" \
			-o "${sheet%.*}" "$samples/exports/$sheet" 2>said || [ $? -eq 1 ]
	done
	"$bin/thrum-import" -m "$samples/exports/weaver.map.tsv" -o arcs "$samples/exports/weaver-1.csv" \
		"$samples/exports/weaver-2.csv"
	columns='splicer arc est_db cleave_a_deg cleave_b_deg tension heat_s'
	pick "$columns" arcs >remembered
	[ "$(wc -l <remembered)" -eq 202 ]
	for sheet in "$samples/night1.tsv" quoinmere larkrope; do
		pick "${columns/arc/arcs_n}" "$sheet"
	done | grep '^weaver-[12]' | sort >written
	[ "$(wc -l <written)" -eq 188 ]
	# FAULTS.md: LAR-021, QUO-022, QUO-045 and GUL-014 were written wrongly, LAR-044 was lost
	comm -13 remembered written | cut -f 2 | diff - <(printf '%s\n' 2170 2214.5 2242 931 975)
}

@test "the sample exports: fibres, places and colours are those of the plan" {
	samples=$BATS_TEST_DIRNAME/../samples
	columns='joint closure tray slot cable_a fibre_a cable_b fibre_b kind tube_a colour_a tube_b colour_b'
	pick "$columns" "$samples/plan.tsv" >planned
	for sheet in quoinmere.csv larkrope.csv wrackle.txt peltrick.txt; do
		"$bin/thrum-import" -m "$samples/exports/${sheet%.*}.map.tsv" --set-aside aside -o table \
			"$samples/exports/$sheet" 2>said || [ $? -eq 1 ]
		pick "$columns" table
	done | sort -u >written
	[ "$(comm -12 planned written | wc -l)" -eq 140 ]
	# GUL-021 and WRA-020 were written wrongly: see FAULTS.md
	[ "$(comm -13 planned written | cut -f 1 | xargs)" = "GUL-021 WRA-020" ]
}

@test "the sample exports: the clean one is a table already" {
	samples=$BATS_TEST_DIRNAME/../samples
	"$bin/thrum-import" -m "$samples/exports/quoinmere.map.tsv" -o got "$samples/exports/quoinmere.csv"
	grep -v '"' "$samples/exports/quoinmere.csv" | tr , '\t' >want
	# but for the two columns that its map adds
	grep -v , got | cut -f -38 | diff -u want -
	[ "$(wc -l <want)" -gt 45 ]
}
