#!/usr/bin/env bats
# The manual pages against the programs: usage, options, columns, and every example as it is shown.

# shellcheck disable=SC2016 # awk has a $ of its own
bats_require_minimum_version 1.5.0

setup() {
	export LC_ALL=C
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../build/bin}
	man=$BATS_TEST_DIRNAME/../man
	samples=$BATS_TEST_DIRNAME/../samples
	cd "$BATS_TEST_TMPDIR" || return
	programs=$(cd "$bin" && echo thrum-*)
	paged=
	for p in $programs; do
		[ ! -f "$man/$p.1" ] || paged="$paged $p"
	done
}

# section NAME FILE: the source of one section of a page
section() {
	awk -v name="$1" '
		/^\.Sh / { inside = substr($0, 5) == name }
		inside && !/^\.Sh / { print }' "$2"
}

# unescape: roff's escapes, those that a literal block may need; any other is an error
unescape() {
	awk '{
		out = ""
		while ((i = index($0, "\\")) > 0) {
			out = out substr($0, 1, i - 1)
			rest = substr($0, i + 1)
			if (rest ~ /^e/) { out = out "\\"; n = 1 }
			else if (rest ~ /^&/) { n = 1 }
			else if (rest ~ /^-/) { out = out "-"; n = 1 }
			else if (rest ~ /^\(aq/) { out = out "\047"; n = 3 }
			else if (rest ~ /^\(dq/) { out = out "\""; n = 3 }
			else { print "escape not known here: \\" rest | "cat >&2"; exit 1 }
			$0 = substr(rest, n + 1)
		}
		print out $0
	}'
}

# words: all white space is one blank
words() {
	tr -s ' \n' ' ' | sed 's/^ //;s/ $//'
}

@test "every program has a page, every page of section 1 a program" {
	for p in $programs; do
		echo "program: $p"
		[ -f "$man/$p.1" ]
	done
	for page in "$man"/*.1; do
		echo "page: $page"
		[ -x "$bin/$(basename "$page" .1)" ]
	done
}

@test "pages are sound mdoc" {
	for page in "$man"/*.[1-8]; do
		echo "page: $page"
		run mandoc -Tlint -Wwarning "$page"
		[ "$status" -eq 0 ] || { echo "$output"; false; }
	done
}

@test "words that people look for lead to the overview, which explains them" {
	for word in splice fusion OTDR 'proof test' pigtail GPON; do
		echo "word: $word"
		grep -qE "^\.Nd .*\b$word\b" "$man/thrum.7"
		section GLOSSARY "$man/thrum.7" | grep -qx ".It $word"
	done
	# sorted, so that a word is found
	section GLOSSARY "$man/thrum.7" | sed -n 's/^\.It //p' >words
	LC_ALL=C sort -f words | diff words -
}

@test "the synopsis is the usage line, the description the purpose" {
	for p in $paged; do
		echo "program: $p"
		"$bin/$p" --help | sed -n '/^usage: /,/^$/{s/^usage: //;p;}' | words >usage
		mandoc -Tascii -O width=500 "$man/$p.1" | col -b |
			sed -n '/^SYNOPSIS$/,/^DESCRIPTION$/{//d;p;}' | words >synopsis
		diff usage synopsis
		"$bin/$p" --help | sed -n "1s/^$p - //p" >purpose
		sed -n 's/^\.Nd //p' "$man/$p.1" | unescape | diff purpose -
	done
}

@test "the page describes every option the program has, in order, and no other" {
	for p in $paged; do
		echo "program: $p"
		"$bin/$p" --print-options | awk -F '\t' -v OFS='\t' 'NR > 1 { print $2, $1, $3 }' |
			sort >options
		section DESCRIPTION "$man/$p.1" | sed -n 's/^\.It Fl /Fl /p' | awk -v OFS='\t' '
			{
				letter = name = argument = ""
				for (i = 1; i <= NF; i++) {
					if ($i == "Fl" && $(i + 1) ~ /^-./)
						name = substr($(i + 1), 2)
					else if ($i == "Fl")
						letter = $(i + 1)
					if ($i == "Ar")
						argument = $(i + 1)
				}
				print name, letter, argument
			}' >described
		sort described | diff options -
		awk -F '\t' '{ print tolower($2 == "" ? $1 : $2) }' described >order
		sort order | diff order -
	done
}

# columns LIST...: the columns that --help names in these lists
columns() {
	awk -v lists="$1" '
		/^(columns needed|one of|read if there|columns made):/ {
			name = $0
			sub(/:.*/, "", name)
			inside = index("," lists ",", "," name ",") > 0
			sub(/^[^:]*:/, "")
		}
		/^$/ { inside = 0 }
		inside { for (i = 1; i <= NF; i++) print $i }' help
}

@test "the page describes every column that --help names" {
	for p in $paged; do
		echo "program: $p"
		"$bin/$p" --help >help
		section DESCRIPTION "$man/$p.1" | sed -n 's/^\.It Cm //p' | tr -s ' ,' '\n' |
			sort -u >described
		columns "columns needed,one of,read if there,columns made" | sort -u >named
		comm -23 named described >missing
		[ ! -s missing ] || { echo "not in the page:" && cat missing && false; }
	done
}

@test "what the page says is made is made" {
	for p in $paged; do
		echo "program: $p"
		"$bin/$p" --help >help
		section DESCRIPTION "$man/$p.1" | awk '
			/^\.Ss / { inside = $0 == ".Ss Columns made" }
			inside && /^\.It Cm / { sub(/^\.It Cm /, ""); gsub(/ , /, "\n"); print }' |
			sort -u >described
		columns "columns made" | sort -u | diff - described
	done
}

@test "every example gives what the page shows" {
	examples=0
	PATH=$(cd "$bin" && pwd):$PATH
	for page in "$man"/*.[1-8]; do
		name=$(basename "$page")
		echo "page: $name"
		rm -rf work && cp -r "$samples" work
		# the examples and their outputs, one file each
		rm -f command.* shown.*
		section EXAMPLES "$page" | awk '
			/^\.Dl \$ / { print substr($0, 5); print "$"; next }
			/^\.Bd -literal/ { literal = 1; next }
			/^\.Ed/ { literal = 0; print "$"; next }
			literal { print }' | unescape | awk -v page="$name" '
			$0 == "$" { on = 0; next }
			/^\$ / {
				n++
				on = 1
				print substr($0, 3) >("command." n)
				printf "" >("shown." n)
				next
			}
			on { print >("shown." n) }
			# the pages of formats show tables too
			!on && page ~ /\.1$/ { print "not below a command: " $0; exit 1 }'
		n=1
		while [ -f "command.$n" ]; do
			echo "example: $(cat command.$n)"
			# messages first, as the pages show them: which comes first by itself is chance
			(cd work && sh "../command.$n" >../out 2>../got </dev/null) || true
			cat out >>got
			diff -u "shown.$n" got
			n=$((n + 1))
			examples=$((examples + 1))
		done
		case $name in *.1) [ "$n" -gt 1 ] ;; esac
	done
	[ "$examples" -gt 0 ]
}
