#!/usr/bin/env bats
# The colour rules of thrum-check against ANSI/TIA-598: twelve colours in order, and the same again
# in each further dozen, for fibres in tubes and for the tubes. EN 50174-1 has the same order.

# shellcheck disable=SC2016 # awk has a $ of its own
bats_require_minimum_version 1.5.0

setup() {
	export LC_ALL=C
	check=${THRUM_BIN:-$BATS_TEST_DIRNAME/../../build/bin}/thrum-check
	cd "$BATS_TEST_TMPDIR" || return
	# ANSI/TIA-598-C, positions 1 to 12
	order='blue orange green brown slate white red black yellow violet rose aqua'
}

# cable: a joint for each of 144 fibres and each of the twelve colours on it; joint is N-COLOUR
cable() {
	awk -v order="$order" 'BEGIN {
		split(order, colour, " ")
		print "joint\tfibre_a\t'"$1"'"
		for (n = 1; n <= 144; n++)
			for (c = 1; c <= 12; c++)
				print n "-" colour[c] "\t" n "\t" colour[c]
	}' >cable
}

# kept RULE: the joints of which this rule found nothing
kept() {
	"$check" cable 2>/dev/null >found || [ $? -eq 1 ]
	awk -F '\t' -v rule="$1" 'FNR == NR { if ($5 == rule) bad[$2] = 1; next }
		FNR > 1 && !(FNR in bad) { print $1 }' found cable
}

@test "of twelve colours on each of 144 fibres just that of the standard passes" {
	cable colour_a
	for ((n = 1; n <= 144; n++)); do
		echo "$n-$(cut -d ' ' -f $(((n - 1) % 12 + 1)) <<<"$order")"
	done >standard
	kept fibre-colour | diff standard -
}

@test "of twelve colours on the tube of each of 144 fibres just that of the standard passes" {
	cable tube_a
	for ((n = 1; n <= 144; n++)); do
		echo "$n-$(cut -d ' ' -f $(((n - 1) / 12 + 1)) <<<"$order")"
	done >standard
	kept tube-colour | diff standard -
}

@test "a stripe on a fibre of the second dozen and above is not a fault of colour" {
	# ANSI/TIA-598-C: beyond twelve the colours repeat with a black stripe, black with a yellow one
	printf 'joint\tfibre_a\tcolour_a\nA\t13\tblue-black\nB\t20\tblack-yellow\nC\t24\taqua-black\n' >t
	run -0 --separate-stderr "$check" t
	[ -z "$stderr" ]
}

@test "what a rule demands is the standard's colour" {
	cable colour_a
	"$check" cable 2>/dev/null >found || [ $? -eq 1 ]
	for ((n = 1; n <= 12; n++)); do
		colour=$(cut -d ' ' -f "$n" <<<"$order")
		[ "$(awk -F '\t' -v n="$n" '$4 ~ "^" n "-" { print $8 }' found | sort -u)" = "$colour" ]
	done
}
