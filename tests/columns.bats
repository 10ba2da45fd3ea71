#!/usr/bin/env bats
# The names of columns: one list, by which a slip of the hand in a side table is found.
# shellcheck disable=SC2154 # bats sets stderr
bats_require_minimum_version 1.5.0

setup() {
	export LC_ALL=C
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../build/bin}
	root=$BATS_TEST_DIRNAME/..
	cd "$BATS_TEST_TMPDIR" || return
	sed 1d "$root/lib/table/columns.tsv" >known
}

@test "the list is sorted, and names each column once" {
	sort -cu known
}

@test "it has every column that a program reads or makes, that a page describes or a sample has" {
	for p in "$bin"/thrum-*; do
		"$p" --help | awk '
			/^(columns needed|one of|read if there|columns made):/ { inside = 1; sub(/^[^:]*:/, "") }
			/^$/ { inside = 0 }
			inside { for (i = 1; i <= NF; i++) print $i }'
	done >named
	for table in "$root"/lib/*/*.tsv "$root"/samples/*.tsv; do
		head -n 1 "$table" | tr '\t' '\n'
	done >>named
	[ "$(wc -l <named)" -gt 100 ]
	sort -u named | grep -vx column | comm -23 - known >missing
	[ ! -s missing ] || { cat missing; false; }
}

# a side table, named wrongly: is it noticed by every program that reads one
@test "a column nearly named is asked about; other columns are passed over" {
	printf 'link\tmaxdb\nL-1\t3\n' >links
	printf 'link\tkind\nL-1\tfusion\n' >elements
	run --separate-stderr -2 "$bin/thrum-budget" --links links elements
	[ "$stderr" = "thrum-budget: links:1: column 'maxdb': is it max_db?" ]
	[ -z "$output" ]
	printf 'kind\tribbon\teach_db\tmean_db\tjointr\tsource\nfusion\t\t0.1\t\t\tme\n' >limits
	printf 'closure\tloss_db\nC-1\t0.05\n' >joints
	run --separate-stderr -0 "$bin/thrum-closure" --limits limits joints
	printf 'kind\tribon\tribbon\teach_db\tmean_db\nfusion\t\t\t0.1\t\n' >limits
	run --separate-stderr -0 "$bin/thrum-closure" --limits limits joints
	printf 'kind\tribbon\teachdb\tmean_db\nfusion\t\t0.1\t\n' >limits
	run --separate-stderr -2 "$bin/thrum-closure" --limits limits joints
	[[ "$stderr" = "thrum-closure: limits:1: no column 'each_db': is it 'eachdb'?" ]]
}
