# What the tests of single programs share. A file loads it and says which program it is about:
#
#	load program
#	setup() { begin thrum-mfd; }
#
# The tests then run "$exe" in a folder of their own; $bin and $samples are where they should be.

bats_require_minimum_version 1.5.0

begin() {
	export LC_ALL=C
	program=$1
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../build/bin}
	# shellcheck disable=SC2034 # for the files that load this one
	samples=$BATS_TEST_DIRNAME/../samples
	exe=$bin/$program
	cd "$BATS_TEST_TMPDIR" || return
}

# table FILE LINE...: a table, a blank for each TAB, "." for an empty field
table() {
	local file=$1

	shift
	printf '%s\n' "$@" | awk -F '[ ]' -v OFS='\t' '
		{ for (i = 1; i <= NF; i++) if ($i == ".") $i = ""; $1 = $1; print }' >"$file"
}

# gives STATUS ARGUMENT...: this exit status, nothing on standard error
gives() {
	local want=$1

	shift
	run --separate-stderr "-$want" "$exe" "$@"
	[ -z "$stderr" ] || { echo "stderr: $stderr"; false; }
}

# trouble MESSAGE ARGUMENT...: exit status 2, and this is all that is said of it
trouble() {
	local message=$1

	shift
	run --separate-stderr -2 "$exe" "$@"
	[ "$stderr" = "$program: $message" ] || { echo "stderr: $stderr"; false; }
}

# refused MESSAGE ARGUMENT...: trouble, and nothing comes out
refused() {
	trouble "$@"
	[ -z "$output" ] || { echo "stdout: $output"; false; }
}

# leaves_nothing MESSAGE ARGUMENT...: trouble, and with -o nothing is left behind
leaves_nothing() {
	trouble "$@"
	run --separate-stderr -2 "$exe" -o left "${@:2}"
	[ -z "$(ls left* 2>/dev/null)" ] || { ls; false; }
}

# refused_wholly MESSAGE ARGUMENT...: trouble, and nothing comes out, under a name or on standard output
refused_wholly() {
	refused "$@"
	leaves_nothing "$@"
}

# says LINE...: standard output is these lines
says() {
	[ "$output" = "$(printf '%s\n' "$@")" ] || { echo "stdout:"; echo "$output"; false; }
}

# has COLUMN VALUE...: the fields of this column, row by row
has() {
	local name=$1 got

	shift
	got=$(awk -F '\t' -v name="$name" '
		NR == 1 { for (i = 1; i <= NF; i++) if ($i == name) at = i; next }
		{ print at ? $at : "no such column" }' <<<"$output")
	[ "$got" = "$(printf '%s\n' "$@")" ] || { echo "$name:"; echo "$got"; echo "$output"; false; }
}
