#!/usr/bin/env bats
# What every program does in the same way. Each test goes through all programs there are; of the
# lines that a failed test prints the last "program:" names the one that failed.
#
# A program's fixture is common/PROGRAM.tsv: a small sound table of four rows or more. Its first
# column whose name ends in a unit is one that the program reads as a number; its last column, note,
# is free text that the program does not know. common/PROGRAM.args, if it is there, holds arguments
# for all runs; @ in it is the folder common. A program that reads something else than tables is named
# in `no_table` below: thrum-import reads an export, thrum-unpack a pack, which is made of its table.
# They take part in all tests but those that are about what is in a table.

# shellcheck disable=SC2015,SC2154 # what fails shows what it saw; run sets stderr_lines
bats_require_minimum_version 1.5.0

no_table='thrum-import thrum-unpack thrum-report'
# reads whole numbers only, of which its column is the first
no_quantity='thrum-colour thrum-sheet'

setup() {
	export LC_ALL=C
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../build/bin}
	common=$BATS_TEST_DIRNAME/common
	programs=$(cd "$bin" && echo thrum-*)
	readers=
	quantities=
	for p in $programs; do
		case " $no_table " in *" $p "*) continue ;; esac
		readers="$readers $p"
		case " $no_quantity " in *" $p "*) ;; *) quantities="$quantities $p" ;; esac
	done
	cd "$BATS_TEST_TMPDIR" || return
}

# --- the loop's tools ----------------------------------------------------------------------------

# begin PROGRAM: a fresh folder with good.tsv; $exe and ${args[@]} run the program
begin() {
	p=$1
	echo "program: $p"
	exe=$bin/$p
	args=()
	[ ! -f "$common/$p.args" ] || read -ra args <"$common/$p.args"
	args=("${args[@]//@/$common}")
	mkdir -p "$BATS_TEST_TMPDIR/$p"
	cd "$BATS_TEST_TMPDIR/$p" || return
	input "$common/$p.tsv" good.tsv
}

# input TABLE FILE: what the program reads, of this table
input() {
	if [ "$p" = thrum-unpack ]; then
		"$bin/thrum-pack" "$1" >"$2"
	else
		cat "$1" >"$2"
	fi
}

# output FILE: what the program has written, as a table
output() {
	if [ "$p" = thrum-pack ]; then "$bin/thrum-unpack" "$1"; else cat "$1"; fi
}

# begin_file PROGRAM: the same; want.tsv is what the program makes of good.tsv when it is called in.tsv
begin_file() {
	begin "$1"
	cp good.tsv in.tsv
	"$exe" "${args[@]}" in.tsv >want.tsv 2>stderr
	[ ! -s stderr ]
}

# begin_table PROGRAM: the same; `number` is its column of numbers, `at` that column's place
begin_table() {
	begin_file "$1"
	number=$(head -n 1 good.tsv | tr '\t' '\n' | grep -Em1 '_(db|km|m|um|nm|deg|s|ns|dbm)$') ||
		number=fibre_a
	at=$(head -n 1 good.tsv | tr '\t' '\n' | grep -nx "$number" | cut -d : -f 1)
}

# hands on the rows it reads, with what it computes behind them
is_filter() {
	head -n 1 want.tsv | cut -f "1-$(width)" | cmp -s - <(head -n 1 good.tsv)
}

# reports rows of the wrong shape and fields of the wrong kind, and reads on
is_checker() {
	[ "$p" = thrum-check ]
}

# needs no column, and hands on the table as it is, in a form of its own
is_store() {
	[ "$p" = thrum-pack ]
}

# knows no column by name
is_blind() {
	[ "$p" = thrum-show ]
}

# writes no table, but a page or a picture
is_page() {
	[ "$p" = thrum-sheet ] || [ "$p" = thrum-plot ]
}

# makes rows of its own, in which all stands that it has read
is_keeper() {
	[ "$p" = thrum-match ] || is_store
}

# how many columns the fixture has
width() {
	head -n 1 good.tsv | awk -F '\t' '{ print NF }'
}

# put LINE COLUMN VALUE: good.tsv with this field in place of what was there, as in.tsv
put() {
	VALUE=$3 awk -F '\t' -v OFS='\t' -v line="$1" -v column="$2" '
		NR == line { $column = ENVIRON["VALUE"] } { print }' good.tsv >in.tsv
}

# put_want VALUE: want.tsv with this note in line 3, as want2.tsv
put_want() {
	VALUE=$1 awk -F '\t' -v OFS='\t' -v column="$(width)" '
		NR == 3 { $column = ENVIRON["VALUE"] } { print }' want.tsv >want2.tsv
}

show() {
	echo "status $status"
	echo "stdout: $output"
	echo "stderr: $stderr"
	false
}

# accepted [WANT]: in.tsv is read without a word and gives what good.tsv gives, or WANT
accepted() {
	"$exe" "${args[@]}" in.tsv >got.tsv 2>stderr || { cat stderr got.tsv; false; }
	[ ! -s stderr ] || { cat stderr; false; }
	cmp got.tsv "${1:-want.tsv}" || { cat got.tsv; false; }
}

# read_well: in.tsv is read without a word; what comes out is as it may be
read_well() {
	"$exe" "${args[@]}" in.tsv >got.tsv 2>stderr || { cat stderr got.tsv; false; }
	[ ! -s stderr ] || { cat stderr; false; }
	[ "$(head -n 1 got.tsv | cut -f 1-3)" = "$(head -n 1 want.tsv | cut -f 1-3)" ]
}

# kept: in.tsv is read without a word, and every field comes out under its name as it went in
kept() {
	"$exe" "${args[@]}" in.tsv >got.tsv 2>stderr || { cat stderr got.tsv; false; }
	[ ! -s stderr ] || { cat stderr; false; }
	output got.tsv | awk -F '\t' -v OFS='\t' '
		NR == FNR { if (FNR == 1) n = split($0, names); next }
		FNR == 1 { for (i = NF; i > 0; i--) at[$i] = i }
		{
			for (i = 1; i <= n; i++)
				printf "%s%s", $at[names[i]], i < n ? OFS : "\n"
		}' in.tsv - | cmp - in.tsv || { cat got.tsv; false; }
}

# refused MESSAGE [ARGUMENT...]: exit status 2 and this one message, nothing under the output's name
# and nothing beside it; without ARGUMENTs for in.tsv
refused() {
	local message=$1 before

	shift
	[ $# -gt 0 ] || set -- in.tsv
	run --separate-stderr "$exe" "${args[@]}" "$@"
	[ "$status" -eq 2 ] && [ "$stderr" = "$p: $message" ] || show
	echo old >out.tsv
	before=$(ls -A)
	run --separate-stderr "$exe" "${args[@]}" -o out.tsv "$@"
	[ "$status" -eq 2 ] && [ "$stderr" = "$p: $message" ] && [ -z "$output" ] || show
	[ "$(cat out.tsv)" = old ] && [ "$(ls -A)" = "$before" ] || { ls -A; false; }
	rm out.tsv
}

# refused_like PATTERN: the same for in.tsv with a bash pattern
refused_like() {
	run --separate-stderr "$exe" "${args[@]}" in.tsv
	# shellcheck disable=SC2053 # a pattern is meant
	[ "$status" -eq 2 ] && [[ $stderr == "$p: "$1 ]] && [ "${#stderr_lines[@]}" -eq 1 ] || show
}

# found LINE [COLUMN]: a checker's error in this line
found() {
	run --separate-stderr "$exe" "${args[@]}" in.tsv
	[ "$status" -eq 1 ] || show
	awk -F '\t' -v line="$1" -v column="${2:-}" '
		NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; next }
		$at["line"] == line && $at["level"] == "error" &&
		(column == "" || $at["column"] == column) { found = 1 }
		END { exit !found }' <<<"$output" || show
}

# warned LINE COLUMN RULE VALUE: exit status 0, and this warning alone
warned() {
	"$exe" "${args[@]}" in.tsv >got.tsv 2>stderr || { cat stderr got.tsv; false; }
	[ "$(tail -n +2 got.tsv | cut -f 2,3,5-7)" = "$(printf '%s\t' "$1" "$2" "$3" warning)$4" ] ||
		{ cat got.tsv; false; }
}

# accepted_cut LINE WANT: what comes out of in.tsv, whose last line has no end, and what is said of it
accepted_cut() {
	local told="the last line has no end: is it whole?"

	if is_checker; then
		warned "$1" "" shape ""
		return
	fi
	"$exe" "${args[@]}" in.tsv >got.tsv 2>stderr || { cat stderr got.tsv; false; }
	[ "$(cat stderr)" = "$p: in.tsv:$1: warning: $told" ] || { cat stderr; false; }
	is_keeper || cmp got.tsv "$2" || { cat got.tsv; false; }
}

# is_misread VALUE: a spreadsheet takes it for a formula, or UTF-8 was made of it twice
is_misread() {
	[ "$1" = '=1+1' ] || [ "$1" = $'\xc3\x82\xc2\xb0C' ] || [ "$1" = $'e\xcc\x81' ]
}

# bad_shape LINE MESSAGE: a row that does not fit is trouble, to a checker an error
bad_shape() {
	if is_checker; then found "$1"; else refused "in.tsv:$1: $2"; fi
}

# bad_number VALUE WHAT [SHOWN]: a field that is not a number
bad_number() {
	put 3 "$at" "$1"
	if is_checker; then
		found 3 "$number"
	elif is_store; then
		kept
	else
		refused "in.tsv:3: column '$number': $2: '${3:-$1}'"
	fi
}

# bad_head PATTERN: a header without the names; a checker has nothing it could check then
bad_head() {
	if is_checker; then refused_like '*'; else refused_like "in.tsv:1: no column '*': $1"; fi
}

comma_locale() {
	local source=/usr/share/i18n

	mkdir -p "$BATS_TEST_TMPDIR/locale"
	export LOCPATH=$BATS_TEST_TMPDIR/locale
	[ -d "$LOCPATH/de_DE.UTF-8" ] ||
		localedef -i "$source/locales/de_DE" -f UTF-8 "$LOCPATH/de_DE.UTF-8"
	[ "$(LC_ALL=de_DE.UTF-8 locale decimal_point)" = , ]
}

# until_there COMMAND...: waits, 5 s at most, until the command succeeds
until_there() {
	for _ in $(seq 100); do
		"$@" >/dev/null 2>&1 && return
		sleep 0.05
	done
	echo "never happened: $*"
	false
}

# --- what there is -------------------------------------------------------------------------------

@test "every program has a fixture with a column of numbers and a note" {
	[ -n "$programs" ] && [ "$programs" != 'thrum-*' ]
	for p in $programs; do
		begin_file "$p"
		[ -s want.tsv ]
	done
	for p in $readers; do
		begin_table "$p"
		[ -n "$number" ]
		[ "$(head -n 1 good.tsv | cut -f "$(width)")" = note ]
		[ "$(wc -l <good.tsv)" -ge 5 ]
	done
}

@test "--help says what it is, how it is used and which options there are" {
	for p in $programs; do
		begin "$p"
		run --separate-stderr -0 "$exe" --help
		[ -z "$stderr" ]
		[[ ${lines[0]} == "$p - "* ]]
		[[ $output == *$'\n'"usage: $p ["* ]]
		[[ $output == *"exit status: 0 done, 1 "*", 2 trouble"* ]]
		[[ $output == *"man $p"* ]]
		help=$output
		run --separate-stderr -0 "$exe" -h
		[ "$output" = "$help" ] && [ -z "$stderr" ]
		# it is enough by itself: nothing is read
		run --separate-stderr -0 "$exe" -h no/such.tsv <&-
		[ "$output" = "$help" ] && [ -z "$stderr" ]
		awk 'length > 80 { print "long: " $0; bad = 1 } END { exit bad }' <<<"$help"
	done
}

@test "--version names program, suite and version, the same in all of them" {
	for p in $programs; do
		begin "$p"
		run --separate-stderr -0 "$exe" --version
		[ -z "$stderr" ]
		[[ ${lines[0]} =~ ^"$p (thrum) "[0-9]+\.[0-9]+\.[0-9]+$ ]]
		[[ $output == *"no warranty"* ]]
		[ "${lines[0]#"$p"}" = "${version:=${lines[0]#"$p"}}" ]
		text=$output
		run --separate-stderr -0 "$exe" -V no/such.tsv
		[ "$output" = "$text" ] && [ -z "$stderr" ]
	done
}

@test "--print-options is a table of all options, and --help has the same ones" {
	for p in $programs; do
		begin "$p"
		run --separate-stderr -0 "$exe" --print-options
		[ -z "$stderr" ]
		[ "${lines[0]}" = "$(printf 'letter\tname\targument\thelp')" ]
		awk -F '\t' '
			function bad(why) { print why ": " $0; failed = 1 }
			NF != 4 { bad("not four fields") }
			NR == 1 { next }
			$1 !~ /^[a-zA-Z0-9]?$/ { bad("letter") }
			$1 != "" && letters[$1]++ { bad("letter twice") }
			$2 !~ /^[a-z][a-z0-9-]*$/ { bad("name") }
			names[$2]++ { bad("name twice") }
			$3 != "" && $3 !~ /^[A-Z0-9=,.:\[\]|+-]+$/ { bad("argument") }
			$4 !~ /^[a-z0-9]/ || $4 ~ /\.$/ { bad("help") }
			END { exit failed || NR < 6 }' <<<"$output"
		printf '%s\n' "$output" >options
		# one line an option, and one of the usage
		"$exe" --help | sed -E ':a;N;$!ba;s/\n {20,}/ /g' | awk '
			/^usage: / { inside = 1 }
			/^$/ { if (inside) print usage; inside = 0 }
			inside { sub(/^ +/, ""); usage = usage (usage == "" ? "" : " ") $0; next }
			{ print }' >help
		awk -F '\t' '
			NR == FNR { help[NR] = $0; next }
			FNR == 1 { next }
			{
				form = "--" $2 ($3 == "" ? "" : " " $3)
				usage = "[" ($1 == "" ? "--" $2 : "-" $1) ($3 == "" ? "" : " " $3) "]"
				if ($1 != "")
					form = "-" $1 ", " form
				described = used = 0
				for (i in help) {
					behind = substr(help[i], length(help[i]) - length($4) + 1)
					described += index(help[i], " " form " ") && behind == $4
					used += index(help[i], "usage: ") == 1 && index(help[i], usage)
				}
				if (described != 1 || used != 1) {
					print "not in --help: " $0
					bad = 1
				}
			}
			END { exit bad }' help options
	done
}

@test "the house's options mean the same everywhere" {
	for p in $programs; do
		begin "$p"
		"$exe" --print-options | tail -n 5 >house
		[ ! -f ../house ] || cmp house ../house
		cp house ..
	done
}

@test "an option that takes one value is given once" {
	for p in $programs; do
		begin "$p"
		for option in $("$exe" --print-options | awk -F '\t' '$3 == "FILE" { print $2 }'); do
			run --separate-stderr -2 "$exe" "--$option=x" "--$option" y </dev/null
			[ "$stderr" = "$p: --$option: given twice" ] && [ -z "$output" ] || show
		done
		# flags and pairs may come again
		run --separate-stderr -0 "$exe" -h -h --help -c a=b -c b=c
		[ -z "$stderr" ]
		refused "--column: named twice: 'a'" -c a=b -c b=b -c a=c
		# of two tables that are compiled in only one can be printed
		read -r -d '' one two rest <<<"$("$exe" --print-options | awk -F '\t' '$2 ~ /^print-/ && !/options/ { print "--" $2 }')" || :
		[ -z "$two" ] || refused "$two: not with $one: one table at a time" "$one" "$two"
	done
}

# --- wrong use -----------------------------------------------------------------------------------

@test "an unknown option is refused, the nearest one offered" {
	for p in $programs; do
		begin "$p"
		refused "unknown option '--outptu': is it --output?" --outptu x
		refused "unknown option '--Version': is it --version?" --Version
		refused "unknown option '--qqqqqqq': see --help" --qqqqqqq
		refused "unknown option '-Q': see --help" -Q
		refused "--help takes no value" --help=x
		refused "-c: NAME=COLUMN is missing" -c
		refused "--column: not NAME=COLUMN: 'x'" -c x
	done
}

@test "a column that is not read cannot be renamed" {
	for p in $readers; do
		begin_table "$p"
		refused "--column: no column this program reads: 'no_such'" -c no_such=x in.tsv
	done
}

@test "an input that cannot be read is refused before anything is written" {
	for p in $programs; do
		begin_file "$p"
		refused "no/such.tsv: No such file or directory" in.tsv no/such.tsv
		refused ".: Is a directory" in.tsv .
		refused "-: Is a directory" - <.
		nothing='no header line'
		[ "$p" != thrum-unpack ] || nothing='empty, not a pack'
		run --separate-stderr -2 "$exe" "${args[@]}" - - <in.tsv
		[ "$stderr" = "$p: -: standard input is named twice" ] && [ -z "$output" ] || show
		: >empty.tsv
		refused "empty.tsv: $nothing" empty.tsv
		refused "-: $nothing" - </dev/null
		status=0
		"$exe" "${args[@]}" - >got.tsv 2>stderr <&- || status=$?
		[ "$status" -eq 2 ] && [ "$(cat stderr)" = "$p: -: $nothing" ]
	done
}

@test "a file that may not be read is refused" {
	for p in $programs; do
		begin_file "$p"
		chmod 000 in.tsv
		may_not=()
		# root may read everything unless that is taken away
		[ "$(id -u)" -ne 0 ] || may_not=(setpriv "--bounding-set=-dac_override,-dac_read_search")
		run --separate-stderr -2 "${may_not[@]}" "$exe" "${args[@]}" in.tsv
		[ "$stderr" = "$p: in.tsv: Permission denied" ] && [ -z "$output" ] || show
	done
}

@test "an error while reading is trouble" {
	[ -e /proc/self/mem ] || skip "no file here that fails when read"
	for p in $programs; do
		begin_file "$p"
		refused "/proc/self/mem: Input/output error" in.tsv /proc/self/mem
	done
}

@test "an output that is also an input is refused, and left as it was" {
	for p in $programs; do
		begin_file "$p"
		ln in.tsv hard.tsv
		ln -s in.tsv soft.tsv
		for out in in.tsv ./in.tsv hard.tsv soft.tsv; do
			run --separate-stderr -2 "$exe" "${args[@]}" -o $out in.tsv
			[ "$stderr" = "$p: $out: is read and written at once" ] || show
			cmp in.tsv good.tsv
		done
		# shellcheck disable=SC2094 # just that
		run --separate-stderr -2 "$exe" "${args[@]}" -o in.tsv - <in.tsv
		[ "$stderr" = "$p: in.tsv: is read and written at once" ] || show
		status=0
		# shellcheck disable=SC2094
		"$exe" "${args[@]}" in.tsv >>in.tsv 2>stderr || status=$?
		[ "$status" -eq 2 ]
		[ "$(cat stderr)" = "$p: standard output: is read and written at once" ]
		cmp in.tsv good.tsv
	done
}

@test "an output that is also named as another file is refused" {
	for p in $programs; do
		begin_file "$p"
		for option in $("$exe" --print-options | awk -F '\t' '$3 == "FILE" && $2 != "output" { print $2 }'); do
			cp good.tsv other.tsv
			run --separate-stderr "$exe" "${args[@]}" "--$option" other.tsv -o other.tsv in.tsv
			[ "$status" -eq 2 ] || show
			cmp other.tsv good.tsv
		done
	done
}

# --- input and output ----------------------------------------------------------------------------

@test "file, standard input, dash and several files are one and the same" {
	for p in $programs; do
		begin_file "$p"
		"$exe" "${args[@]}" <in.tsv >got.tsv
		cmp got.tsv want.tsv
		"$exe" "${args[@]}" - <in.tsv >got.tsv
		cmp got.tsv want.tsv
		# shellcheck disable=SC2002 # a pipe is meant
		cat in.tsv | "$exe" "${args[@]}" >got.tsv
		cmp got.tsv want.tsv
		t=$common/$p.tsv
		head -n 2 "$t" >part && input part 1.tsv
		{ head -n 1 "$t" && sed -n 3p "$t"; } >part && input part 2.tsv
		{ head -n 1 "$t" && tail -n +4 "$t"; } >part && input part 3.tsv
		"$exe" "${args[@]}" 1.tsv 2.tsv 3.tsv >got.tsv
		cmp got.tsv want.tsv
		"$exe" "${args[@]}" 1.tsv - 3.tsv <2.tsv >got.tsv
		cmp got.tsv want.tsv
	done
}

@test "the order of the columns does not matter, nor that of several files' columns" {
	for p in $readers; do
		begin_table "$p"
		awk -F '\t' -v OFS='\t' '{ for (i = NF; i > 1; i--) printf "%s\t", $i; print $1 }' \
			good.tsv >in.tsv
		if is_filter; then
			n=$(width)
			"$exe" "${args[@]}" in.tsv | cut -f "$((n + 1))-" >got.tsv
			cut -f "$((n + 1))-" want.tsv | cmp - got.tsv
		elif is_keeper; then
			kept
		else
			accepted
		fi
		head -n 3 good.tsv >1.tsv
		{ head -n 1 in.tsv && tail -n +4 in.tsv; } >2.tsv
		"$exe" "${args[@]}" 1.tsv 2.tsv >got.tsv
		cmp got.tsv want.tsv
	done
}

@test "options are the same long and short, before and behind, whatever their order" {
	for p in $programs; do
		begin_file "$p"
		for out in "-o out.tsv" "-oout.tsv" "--output out.tsv" "--output=out.tsv"; do
			# shellcheck disable=SC2086 # words
			"$exe" $out "${args[@]}" in.tsv
			cmp out.tsv want.tsv
			# shellcheck disable=SC2086
			"$exe" in.tsv "${args[@]}" $out
			cmp out.tsv want.tsv
			rm out.tsv
		done
		"$exe" "${args[@]}" -- in.tsv >got.tsv
		cmp got.tsv want.tsv
		"$exe" "${args[@]}" -o - in.tsv >got.tsv
		cmp got.tsv want.tsv
		cp good.tsv ./-odd.tsv
		"$exe" "${args[@]}" -- -odd.tsv >got.tsv
		cmp got.tsv want.tsv
	done
}

@test "-c reads a column under another name" {
	for p in $readers; do
		begin_table "$p"
		! is_blind || continue
		! is_store || number=closure
		sed "1s/\b$number\b/other/" good.tsv >in.tsv
		is_filter && sed "1s/\b$number\b/other/" want.tsv >want2.tsv || cp want.tsv want2.tsv
		for option in "-c $number=other" "-c$number=other" "--column=$number=other" \
			"--column $number=other"; do
			# shellcheck disable=SC2086 # words
			"$exe" "${args[@]}" $option in.tsv >got.tsv
			if is_store; then output got.tsv | cmp - in.tsv; else cmp got.tsv want2.tsv; fi
		done
		# what is asked for must be there
		run --separate-stderr -2 "$exe" "${args[@]}" -c "$number=qqqqqqqq" in.tsv
		[[ $stderr == "$p: in.tsv:1: no column 'qqqqqqqq'"* ]] && [ -z "$output" ] || show
	done
}

@test "two runs give the same bytes, whatever the locale and the time zone" {
	comma_locale
	for p in $programs; do
		begin_file "$p"
		accepted
		LC_ALL=de_DE.UTF-8 LANG=de_DE.UTF-8 accepted
		LC_ALL=de_DE.UTF-8 "$exe" --help >got
		"$exe" --help | cmp - got
		TZ=XYZ-13 accepted
		env -i "$exe" "${args[@]}" in.tsv | cmp - want.tsv
	done
}

@test "-o writes the whole file or nothing" {
	for p in $programs; do
		begin_file "$p"
		before=$(ls -A)
		echo old >out.tsv
		chmod 640 out.tsv
		run --separate-stderr -0 "$exe" "${args[@]}" -o out.tsv in.tsv
		[ -z "$output$stderr" ]
		cmp out.tsv want.tsv
		[ "$(stat -c %a out.tsv)" = 640 ]
		rm out.tsv
		ln -s real.tsv link.tsv
		"$exe" "${args[@]}" -o link.tsv in.tsv
		[ -L link.tsv ]
		cmp real.tsv want.tsv
		rm link.tsv real.tsv
		"$exe" "${args[@]}" -o /dev/stdout in.tsv | cmp - want.tsv
		[ "$(ls -A)" = "$before" ] || { ls -A; false; }
		# trouble in the midst of it
		{ cat good.tsv && printf 'x\0\n'; } >in.tsv
		line=$(wc -l <in.tsv)
		case $p in
		thrum-import) refused "in.tsv:$line: byte 2: NUL" ;;
		thrum-unpack)
			head -c -9 good.tsv >in.tsv
			run --separate-stderr -2 "$exe" in.tsv
			[[ $stderr == "$p: in.tsv: pack 1: cut off"*", at byte "* ]] || show
			run --separate-stderr -2 "$exe" -o out.tsv in.tsv
			[ -z "$output" ] && [ ! -e out.tsv ] || show
			;;
		*) refused "in.tsv:$line: NUL byte at byte 2" ;;
		esac
		run --separate-stderr -2 "$exe" "${args[@]}" -o no/such.tsv good.tsv
		[ "$stderr" = "$p: no/such.tsv: No such file or directory" ] && [ -z "$output" ] || show
	done
}

@test "a full device is trouble" {
	[ -e /dev/full ] || skip "no /dev/full"
	for p in $programs; do
		begin "$p"
		for option in --help --version --print-options; do
			status=0
			"$exe" $option >/dev/full 2>stderr || status=$?
			[ "$status" -eq 2 ]
			[ "$(cat stderr)" = "$p: standard output: No space left on device" ]
		done
	done
	for p in $programs; do
		begin_file "$p"
		status=0
		"$exe" "${args[@]}" in.tsv >/dev/full 2>stderr || status=$?
		[ "$status" -eq 2 ]
		[ "$(cat stderr)" = "$p: standard output: No space left on device" ]
		run --separate-stderr -2 "$exe" "${args[@]}" -o /dev/full in.tsv
		[ "$stderr" = "$p: /dev/full: No space left on device" ] && [ -z "$output" ] || show
	done
}

@test "a closed standard output is trouble" {
	for p in $programs; do
		begin "$p"
		status=0
		"$exe" --help >&- 2>stderr || status=$?
		[ "$status" -eq 2 ]
		[ "$(cat stderr)" = "$p: standard output: Bad file descriptor" ]
	done
	for p in $programs; do
		begin_file "$p"
		status=0
		"$exe" "${args[@]}" in.tsv >&- 2>stderr || status=$?
		[ "$status" -eq 2 ]
		[ "$(cat stderr)" = "$p: standard output: Bad file descriptor" ]
		# with an output of its own it is not missed
		"$exe" "${args[@]}" -o out.tsv in.tsv >&- 2>stderr <&-
		cmp out.tsv want.tsv
	done
}

@test "no table is read from a file that standard output or error could become" {
	for p in $programs; do
		begin_file "$p"
		status=0
		"$exe" "${args[@]}" no/such.tsv in.tsv 2>&- >&- <&- || status=$?
		[ "$status" -eq 2 ]
		cmp in.tsv good.tsv
	done
}

@test "a reader that leaves early makes no noise" {
	for p in $programs; do
		begin_file "$p"
		# many rows where every row comes out again
		! is_filter || awk 'NR == 1 { print; next } { row[NR] = $0 }
			END { for (n = 0; n < 50000; n++) for (i = 2; i <= NR; i++) print row[i] }' \
			good.tsv >in.tsv
		"$exe" "${args[@]}" in.tsv 2>stderr | head -n 1 >got.tsv
		first=${PIPESTATUS[0]}
		[ "$first" -eq 0 ] || [ "$first" -eq 141 ] || { echo "status $first"; false; }
		! is_filter || [ "$first" -eq 141 ]
		[ ! -s stderr ]
		head -n 1 want.tsv | cmp - got.tsv
	done
}

@test "a program that is ended leaves nothing behind" {
	for p in $programs; do
		for signal in TERM HUP INT; do
			begin_file "$p"
			mkdir work
			echo old >work/out.tsv
			mkfifo fifo
			exec {fd}<>fifo
			cat good.tsv >&"$fd"
			# an asynchronous command ignores INT, and one under nohup HUP, unless it is told not to
			env --default-signal=INT,HUP "$exe" "${args[@]}" -o work/out.tsv fifo &
			pid=$!
			until_there sh -c 'ls work | grep -q "~$"'
			kill -s $signal $pid
			status=0
			wait $pid || status=$?
			[ "$status" -eq "$((128 + $(kill -l $signal)))" ] || { echo "status $status"; false; }
			[ "$(ls work)" = out.tsv ] || { ls work; false; }
			[ "$(cat work/out.tsv)" = old ]
			exec {fd}>&-
			rm -r work fifo
		done
	done
}

@test "a row that was written into a pipe comes out of it before the pipe is closed" {
	filters=0
	for p in $readers; do
		begin_table "$p"
		is_filter || continue
		filters=$((filters + 1))
		mkfifo fifo
		exec {fd}<>fifo
		"$exe" "${args[@]}" fifo >got.tsv 2>stderr &
		pid=$!
		# the header by itself, then row by row
		rows=$(wc -l <good.tsv)
		for n in $(seq "$rows"); do
			sed -n "${n}p" good.tsv >&"$fd"
			until_there sh -c "[ \$(wc -l <got.tsv) -eq $n ]"
			head -n "$n" want.tsv | cmp - got.tsv
		done
		kill $pid
		wait $pid || true
		exec {fd}>&-
	done
	[ "$filters" -gt 0 ]
}

@test "fields that are not computed with go through byte for byte" {
	for p in $readers; do
		begin_table "$p"
		for odd in 007 1.10 1e3 E1 TRUE 1/2 0x1A NaN N/A 1,5 '36" tray' ' blanks ' '"quoted"' \
			'"' '=1+1' '<b>&' 3-4 01/02/2024 $'\x1b[31m' $'\xc3\x82\xc2\xb0C' $'e\xcc\x81' \
			$'\xef\xbb\xbf42' '\t\n' '-' '#' $'\x7f'; do
			put 3 "$(width)" "$odd"
			if is_filter; then
				put_want "$odd"
				accepted want2.tsv
			elif is_checker && is_misread "$odd"; then
				warned 3 note text "$odd"
			elif is_keeper; then
				kept
			else
				read_well
			fi
		done
		# not UTF-8: a checker says so, everybody else lets it through
		put 3 "$(width)" $'temp \xb0C'
		if is_checker; then
			found 3 note
		elif is_filter; then
			put_want $'temp \xb0C'
			accepted want2.tsv
		elif is_keeper; then
			kept
		else
			accepted
		fi
	done
}

@test "columns that are not known change nothing" {
	for p in $readers; do
		begin_table "$p"
		# before, between and behind, one of them without a name
		awk -F '\t' -v OFS='\t' '
			NR == 1 { print "zz_first", $1, "", $0, "zz \xb5m"; next }
			{ print "007", $1, "1,5", $0, "\"" }' good.tsv |
			awk -F '\t' -v OFS='\t' 'NR == 1 { $2 = "zz_second" } { print }' >in.tsv
		if is_checker; then
			run --separate-stderr "$exe" "${args[@]}" in.tsv
			[ "$status" -le 1 ]
		elif is_filter; then
			"$exe" "${args[@]}" in.tsv >got.tsv
			n=$(width)
			cut -f "1-$((n + 4))" got.tsv | cmp - in.tsv
			cut -f "$((n + 5))-" got.tsv >computed
			cut -f "$((n + 1))-" want.tsv | cmp - computed
		elif is_keeper; then
			kept
		else
			accepted
		fi
	done
}

@test "a TAB at the end of every line is a column without a name" {
	for p in $readers; do
		begin_table "$p"
		sed 's/$/\t/' good.tsv >in.tsv
		if is_filter; then
			n=$(width)
			"$exe" "${args[@]}" in.tsv >got.tsv
			cut -f "1-$((n + 1))" got.tsv | cmp - in.tsv
			cut -f "1-$n,$((n + 2))-" got.tsv | cmp - want.tsv
		elif is_keeper; then
			kept
		elif is_checker; then
			warned 1 "" shape ""
		else
			accepted
		fi
	done
}

@test "a row of nothing but TABs is a row" {
	for p in $readers; do
		begin_table "$p"
		sed '3s/[^\t]*//g' good.tsv >in.tsv
		if is_checker; then
			found 3
		elif is_filter; then
			sed '3s/[^\t]*//g' want.tsv >want2.tsv
			accepted want2.tsv
		elif is_store; then
			kept
		elif [ "$p" = thrum-match ]; then
			run --separate-stderr -1 "$exe" "${args[@]}" in.tsv
			[ "$stderr" = "$p: 5 arcs, 4 joints told, 1 error, 1 warning" ] || show
		else
			run --separate-stderr "$exe" "${args[@]}" in.tsv
			[ "$status" -le 1 ] && [ -z "$stderr" ] || [[ $stderr == "$p: in.tsv:3: "* ]] || show
		fi
	done
}

@test "a number that cannot be is refused" {
	for p in $readers; do
		begin_table "$p"
		for value in -99999 1e99; do
			put 3 "$at" "$value"
			if is_checker; then
				found 3 "$number"
			elif is_blind; then
				"$exe" "${args[@]}" in.tsv | cmp - in.tsv
			elif is_store || [ "$p $value" = "thrum-match -99999" ]; then
				kept
			else
				refused_like "in.tsv:3: column '$number': *: '$value'"
			fi
		done
	done
}

@test "a filter that is run twice changes nothing" {
	for p in $readers; do
		begin_table "$p"
		is_filter || continue
		cp want.tsv in.tsv
		accepted
	done
}

# --- what is forgiven ----------------------------------------------------------------------------

@test "a byte-order mark in each file is forgiven" {
	for p in $readers; do
		begin_table "$p"
		{ printf '\xef\xbb\xbf' && cat good.tsv; } >in.tsv
		accepted
		{ printf '\xef\xbb\xbf' && head -n 3 good.tsv; } >1.tsv
		{ printf '\xef\xbb\xbf' && head -n 1 good.tsv && tail -n +4 good.tsv; } >2.tsv
		"$exe" "${args[@]}" 1.tsv 2.tsv >got.tsv
		cmp got.tsv want.tsv
	done
}

@test "CRLF is forgiven, everywhere or here and there; LF comes out" {
	for p in $readers; do
		begin_table "$p"
		sed 's/$/\r/' good.tsv >in.tsv
		accepted
		# check says where the ends of lines change
		for some in 1~2:2 3:3; do
			sed "${some%:*}s/\$/\r/" good.tsv >in.tsv
			if is_checker; then warned "${some#*:}" "" shape ""; else accepted; fi
		done
	done
}

@test "a missing last line end is forgiven, and told" {
	for p in $readers; do
		begin_table "$p"
		head -c -1 good.tsv >in.tsv
		accepted_cut "$(wc -l <good.tsv)" want.tsv
		if is_filter || is_checker; then
			head -n 1 good.tsv | head -c -1 >in.tsv
			head -n 1 want.tsv >want2.tsv
			accepted_cut 1 want2.tsv
		fi
		# of two files each is told of
		head -c -1 good.tsv >in.tsv
		cp in.tsv in2.tsv
		run --separate-stderr "$exe" "${args[@]}" in.tsv in2.tsv
		is_checker || [ "$status" -eq 2 ] || [ "$(grep -c 'the last line has no end' <<<"$stderr")" -eq 2 ]
	done
}

@test "blank lines at the end are forgiven" {
	for p in $readers; do
		begin_table "$p"
		{ cat good.tsv && printf '\n\n\r\n'; } >in.tsv
		accepted
		{ cat good.tsv && printf '%0100d' 0 | tr 0 '\n'; } >in.tsv
		accepted
		{ cat good.tsv && printf '\r'; } >in.tsv
		accepted
	done
}

@test "a table without rows gives a table without rows" {
	for p in $readers; do
		begin_table "$p"
		# no joints: its links are open, which thrum-route.bats looks at
		[ "$p" != thrum-route ] || continue
		# no joints: no pages
		! is_page || continue
		head -n 1 good.tsv >in.tsv
		head -n 1 want.tsv >want2.tsv
		! is_store || "$exe" in.tsv >want2.tsv
		! is_keeper || kept
		accepted want2.tsv
	done
}

@test "long fields, many columns and many rows are read" {
	for p in $readers; do
		begin_table "$p"
		# a field of 20 MB
		head -c 20000000 /dev/zero | tr '\0' q >long
		{ head -n 2 good.tsv && sed -n 3p good.tsv | tr -d '\n' && cat long && echo &&
			tail -n +4 good.tsv; } >in.tsv
		if is_filter; then
			"$exe" "${args[@]}" in.tsv >got.tsv
			[ "$(wc -c <got.tsv)" -eq "$(($(wc -c <want.tsv) + 20000000))" ]
			tr -d q <got.tsv | cmp - <(tr -d q <want.tsv)
		elif is_keeper; then
			kept
		else
			accepted
		fi
		# ten thousand columns more
		awk -F '\t' -v OFS='\t' '{
			printf "%s", $0
			for (i = 0; i < 10000; i++) printf "\t%s%d", NR == 1 ? "zz" : "", i
			print "" }' good.tsv >in.tsv
		"$exe" "${args[@]}" in.tsv >got.tsv 2>stderr
		[ ! -s stderr ]
		if is_filter; then
			cut -f "1-$(width),$(($(width) + 10001))-" got.tsv | cmp - want.tsv
		elif is_keeper; then
			kept
		else
			cmp got.tsv want.tsv
		fi
	done
}

@test "numbers may be written in several ways" {
	for p in $quantities; do
		begin_table "$p"
		value=$(sed -n 3p good.tsv | cut -f "$at")
		for form in "+$value" "0$value" "${value}0" "${value}e0" "${value}E+00"; do
			case $form in *.*) ;; *0) [ "$form" != "${value}0" ] || continue ;; esac
			put 3 "$at" "$form"
			if is_filter; then
				VALUE=$form awk -F '\t' -v OFS='\t' -v column="$at" '
					NR == 3 { $column = ENVIRON["VALUE"] } { print }' want.tsv >want2.tsv
				accepted want2.tsv
			elif is_keeper; then
				kept
			else
				accepted
			fi
		done
	done
}

# --- what is refused -----------------------------------------------------------------------------

@test "what is no table is refused by its name" {
	for p in $readers; do
		begin_table "$p"
		: >in.tsv
		refused "in.tsv: no header line"
		printf '\xef\xbb\xbf' >in.tsv
		refused "in.tsv: no header line"
		echo >in.tsv
		refused "in.tsv: no header line"
		{ echo && cat good.tsv; } >in.tsv
		refused "in.tsv: no header line"
		{ printf '\xff\xfe' && iconv -t UTF-16LE good.tsv; } >in.tsv
		refused "in.tsv: UTF-16 text: convert it first (iconv -f UTF-16 -t UTF-8)"
		{ printf '\xfe\xff' && iconv -t UTF-16BE good.tsv; } >in.tsv
		refused "in.tsv: UTF-16 text: convert it first (iconv -f UTF-16 -t UTF-8)"
		iconv -t UTF-16LE good.tsv >in.tsv
		refused "in.tsv:1: NUL byte at byte 2: UTF-16? convert it with iconv first"
		tr '\n' '\r' <good.tsv >in.tsv
		refused "in.tsv:1: CR line ends: convert them to LF first"
		gzip -nc good.tsv >in.tsv
		refused "in.tsv: compressed (gzip), not a table: unpack it first (thrum-unpack, gzip -d)"
		printf 'PK\x03\x04abc' >in.tsv
		refused "in.tsv: a ZIP or spreadsheet file, not a table: export it as text first"
	done
}

@test "NUL bytes and CR inside a line are refused, with their place" {
	for p in $readers; do
		begin_table "$p"
		sed '3s/^./&\x00/' good.tsv >in.tsv
		refused "in.tsv:3: NUL byte at byte 2"
		{ cat good.tsv && printf '\0\0\0'; } >in.tsv
		refused "in.tsv:$(($(wc -l <good.tsv) + 1)): NUL byte at byte 1"
		sed '3s/^./&\r/' good.tsv >in.tsv
		refused "in.tsv:3: CR inside the line, not at its end"
		sed '3s/$/\r\r/' good.tsv >in.tsv
		refused "in.tsv:3: CR inside the line, not at its end"
	done
}

@test "a row that is too short or too long is trouble" {
	for p in $readers; do
		begin_table "$p"
		n=$(width)
		sed '3s/\t[^\t]*$//' good.tsv >in.tsv
		bad_shape 3 "$((n - 1)) fields, $n expected"
		sed '3s/\t.*//' good.tsv >in.tsv
		bad_shape 3 "1 field, $n expected"
		sed '3s/$/\t/' good.tsv >in.tsv
		bad_shape 3 "$((n + 1)) fields, $n expected: the extra ones are empty"
		sed '3s/$/\t7/' good.tsv >in.tsv
		bad_shape 3 "$((n + 1)) fields, $n expected"
		# the last line cut off, a footer, Ctrl-Z
		last=$(wc -l <good.tsv)
		head -c -1 good.tsv | sed "${last}s/\t.*//" >in.tsv
		bad_shape "$last" "1 field, $n expected"
		{ cat good.tsv && printf 'Total\t12.3\n'; } >in.tsv
		bad_shape "$((last + 1))" "2 fields, $n expected"
		{ cat good.tsv && printf '\x1a'; } >in.tsv
		bad_shape "$((last + 1))" "1 field, $n expected"
		# line ends and TABs in quotes
		sed '3s/^\([^\t]*\)/"\1\n"/' good.tsv >in.tsv
		bad_shape 3 "1 field, $n expected: quoted? thrum-import reads quoted files"
		sed '3s/^\([^\t]*\)/"\1\tx"/' good.tsv >in.tsv
		bad_shape 3 "$((n + 1)) fields, $n expected: quoted? thrum-import reads quoted files"
	done
}

@test "a blank line inside, and the header once more, are trouble" {
	for p in $readers; do
		begin_table "$p"
		last=$(wc -l <good.tsv)
		sed '3s/^/\n/' good.tsv >in.tsv
		bad_shape 3 "blank line inside the table"
		sed '3s/^/\r\n\n/' good.tsv >in.tsv
		bad_shape 3 "blank line inside the table"
		{ cat good.tsv && printf '\nc\td\n1\t2\n'; } >in.tsv
		bad_shape "$((last + 1))" "blank line inside the table"
		cat good.tsv good.tsv >in.tsv
		bad_shape "$((last + 1))" "the header line stands here again"
		{ sed 's/$/\r/' good.tsv && printf '\xef\xbb\xbf' && cat good.tsv; } >in.tsv
		bad_shape "$((last + 1))" "the header line stands here again"
	done
}

@test "two columns of one name are refused" {
	for p in $readers; do
		begin_table "$p"
		n=$(width)
		sed "1s/\$/\t$number/;2,\$s/\$/\t/" good.tsv >in.tsv
		refused "in.tsv:1: columns $at and $((n + 1)) have the same name: '$number'"
		sed "1s/\$/\tzz\xc2\xa0\tzz\xc2\xa0/;2,\$s/\$/\t\t/" good.tsv >in.tsv
		refused "in.tsv:1: columns $((n + 1)) and $((n + 2)) have the same name: 'zz\\xc2\\xa0'"
	done
}

@test "several files of unlike columns: a filter refuses them" {
	for p in $readers; do
		begin_table "$p"
		is_filter || continue
		sed '1s/$/\tzz_more/;2,$s/$/\t/' good.tsv >more.tsv
		refused "more.tsv:1: has a column that in.tsv lacks: 'zz_more'" in.tsv more.tsv
		refused "in.tsv:1: lacks a column that more.tsv has: 'zz_more'" more.tsv in.tsv
	done
}

@test "a header whose names are not quite right is refused, with a hint" {
	for p in $readers; do
		begin_table "$p"
		! is_store && ! is_blind || continue # these need no name
		sed '1s/.*/\U&/' good.tsv >in.tsv
		bad_head "is it '*'[?]"
		sed '1s/[^\t]\+/ &\xc2\xa0/g' good.tsv >in.tsv
		bad_head "is it ' *\\\\xc2\\\\xa0'[?]"
		# a zero-width space
		sed '1s/[^\t]\+/&\xe2\x80\x8b/g' good.tsv >in.tsv
		bad_head "is it '*\\\\xe2\\\\x80\\\\x8b'[?]"
		sed 's/[^\t]\+/"&"/g' good.tsv >in.tsv
		bad_head "the names stand in quotes; thrum-import reads quoted files"
		{ printf '\xef\xbb\xbf' && cat in.tsv; } >in2.tsv
		mv in2.tsv in.tsv
		bad_head "the names stand in quotes; thrum-import reads quoted files"
		tr '\t' ';' <good.tsv >in.tsv
		bad_head "only one column: is the delimiter not TAB[?] thrum-import reads such files"
		tr '\t' ',' <good.tsv >in.tsv
		bad_head "only one column: is the delimiter not TAB[?] thrum-import reads such files"
		sed 's/\t/  /g' good.tsv >in.tsv
		bad_head "only one column: blanks instead of TABs, or lines before the header[?]"
		{ printf 'Site: Ombrick Cove\nDate: 2026-03-11\n\n' && cat good.tsv; } >in.tsv
		bad_head "only one column: blanks instead of TABs, or lines before the header[?]"
		{ printf 'UTF-8\n' && cat good.tsv; } >in.tsv
		bad_head "only one column"
		{ printf 'sep=;\r\n' && tr '\t' ';' <good.tsv; } >in.tsv
		bad_head "the first line is a spreadsheet's delimiter mark; thrum-import reads such files"
		{ printf '# the first night\n' && cat good.tsv; } >in.tsv
		bad_head "the first line is a comment, not the column names"
	done
}

@test "what is not wholly a number is refused where a number is due" {
	for p in $quantities; do
		begin_table "$p"
		! is_blind || continue
		bad_number 0,05 "decimal comma: write a point"
		for grouped in 1,234.5 1.234,5 "1 234" $'1\xc2\xa0234' "1'234"; do
			bad_number "$grouped" "grouping marks in the number"
		done
		bad_number $'\xe2\x88\x925' "Unicode minus sign (U+2212)"
		bad_number $'\xe2\x80\x935' "dash in place of a minus sign"
		bad_number 5- "sign behind the number"
		for behind in 0.02dB 1% 5km 5± ; do
			bad_number "$behind" "number with something behind it"
		done
		for before in '<0.02' '>5' '~5' '±5'; do
			bad_number "$before" "number with something before it"
		done
		for blank in ' 5' '5 ' $'5\xc2\xa0'; do
			bad_number "$blank" "blank beside the number"
		done
		bad_number ' ' "only blanks"
		for word in N/A NA - -- --- n.m. OL '#N/A' '#VALUE!' NULL; do
			bad_number "$word" "no number"
		done
		for not in NaN Inf -Inf 1.#IND; do
			bad_number "$not" "not a finite number"
		done
		bad_number 0x1A "hexadecimal number"
		bad_number 4,687E+11 "decimal comma: write a point"
		bad_number 1e999 "number too large"
		bad_number 1e "exponent without digits"
		bad_number 1.2.3 "more than one decimal point"
		bad_number $'\xef\xbb\xbf42' "byte-order mark before the number"
		bad_number $'5\x1a' "number with something behind it" '5\x1a'
		bad_number $'\x1b[31m5' "number with something before it" '\x1b[31m5'
		bad_number dB "no number"
	done
}
