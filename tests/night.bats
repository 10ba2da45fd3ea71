#!/usr/bin/env bats
# The night of the demonstration network, from end to end, and what README.md shows of it.

bats_require_minimum_version 1.5.0

setup() {
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../build/bin}
	root=$BATS_TEST_DIRNAME/..
	PATH=$bin:$PATH
	cd "$BATS_TEST_TMPDIR" || return
}

# same_tables: every table of the night, and no other, is as it is kept in tests/night
same_tables() {
	diff -r night "$BATS_TEST_DIRNAME/night"
}

@test "every table of the night comes out byte for byte, and the night returns 1" {
	run --separate-stderr -1 "$root/samples/nightly.sh" night
	[ -z "$output" ]
	[ "$stderr" = "thrum-match: 202 arcs, 170 matched, 5 errors, 180 warnings
thrum-check: 15 rows, 6 errors, 0 warnings
thrum-check: 336 rows, 26 errors, 3 warnings" ]
	same_tables
}

@test "the same under a locale with a decimal comma, another time zone, another umask" {
	mkdir -p locale
	localedef -i de_DE -f UTF-8 "$PWD/locale/de_DE.UTF-8" 2>/dev/null || [ $? -eq 1 ]
	umask 077
	run -1 env LOCPATH="$PWD/locale" LC_ALL=de_DE.UTF-8 TZ=XYZ-5:45 \
		"$root/samples/nightly.sh" night
	same_tables
}

@test "a second night over the first changes nothing" {
	run -1 "$root/samples/nightly.sh" night
	run -1 "$root/samples/nightly.sh" night
	same_tables
}

@test "what cannot be read stops the night at once, with 2" {
	cp -r "$root/samples" .
	printf 'joint\tcut here' >>samples/night2.tsv
	run --separate-stderr -2 samples/nightly.sh night
	[[ $stderr = *"thrum-closure: night2.tsv:164: 2 fields, 38 expected" ]]
	[ ! -e night/closures.tsv ]
	[ ! -e night/budgets.tsv ]
}

@test "a night without a fault returns 0" {
	cp -r "$root/samples" .
	for table in elements links; do
		grep -v '^L0[24679]' "$root/samples/$table.tsv" >samples/$table.tsv
	done
	for table in night1 night2 late; do
		head -n 1 "$root/samples/night1.tsv" >samples/$table.tsv
	done
	for table in arcs-1 arcs-2 plan; do
		head -n 1 "$root/samples/$table.tsv" >samples/$table.tsv
	done
	grep '^SKE-00[1-9]	1	yes' "$root/samples/night1.tsv" >>samples/night1.tsv
	run --separate-stderr -0 samples/nightly.sh night
	[ -z "$stderr" ]
	[ "$(wc -l <night/faults.tsv)" -eq 1 ]
}

@test "samples/FAULTS.md lists what thrum-check finds, and nothing else" {
	awk -F ' *[|] *' '$2 ~ /^[0-9]+$/ { print $3 "\t" $4 "\t" $9 "\t" $10 }' \
		"$root/samples/FAULTS.md" | sort >listed
	cd "$root/samples"
	for tables in 'night1.tsv night2.tsv' late.tsv; do
		# shellcheck disable=SC2086 # one word a table
		thrum-check $tables || [ $? -eq 1 ]
	done 2>/dev/null | awk -F '\t' '$2 != "line" { print $1 "\t" $2 "\t" $5 "\t" $6 }' |
		sort >"$BATS_TEST_TMPDIR/found"
	diff "$BATS_TEST_TMPDIR/listed" "$BATS_TEST_TMPDIR/found"
	[ "$(wc -l <"$BATS_TEST_TMPDIR/found")" -eq 35 ]
}

@test "the demonstration ends by showing where its tables lie" {
	run -0 sh "$root/samples/demo.sh" "$bin" demo
	[[ $output = *"The tables of this night are in $PWD/demo:"* ]]
	[[ $output = *"L06"*"over"*"L07"*"overload"*"L09"*"unknown"* ]]
}

@test "README.md: its examples run as printed" {
	cd "$root"
	awk '/^    \$ / { on = 1; sub(/^    \$ /, ""); print > "'"$BATS_TEST_TMPDIR"'/commands"; next }
		on && /^    / { sub(/^    /, ""); print > "'"$BATS_TEST_TMPDIR"'/shown"; next }
		{ on = 0 }' README.md
	[ "$(wc -l <"$BATS_TEST_TMPDIR/commands")" -ge 1 ]
	sh -c ". $BATS_TEST_TMPDIR/commands" >"$BATS_TEST_TMPDIR/said" 2>/dev/null || [ $? -eq 1 ]
	diff "$BATS_TEST_TMPDIR/shown" "$BATS_TEST_TMPDIR/said"
}
