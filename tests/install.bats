#!/usr/bin/env bats
# What make install puts where, and what make uninstall leaves.

bats_require_minimum_version 1.5.0

setup() {
	root=$BATS_TEST_DIRNAME/..
	cd "$root" || return
	build=${THRUM_BIN:-build/bin}
	build=${build%/bin}
	build=${build#"$PWD"/}
	dest=$BATS_TEST_TMPDIR/dest
}

# quietly make, not as a part of the make that runs the tests
remake() {
	env -u MAKEFLAGS -u MAKELEVEL -u MFLAGS make -s "BUILD=$build" "DESTDIR=$dest" "$@" >/dev/null
}

@test "install: every program with its page and its completion" {
	remake install
	for source in cmd/*.c; do
		program=$(basename "$source" .c)
		[ -x "$dest/usr/local/bin/$program" ]
		[ -f "$dest/usr/local/share/man/man1/$program.1" ]
		[ -f "$dest/usr/local/share/bash-completion/completions/$program" ]
		run -0 "$dest/usr/local/bin/$program" --version
	done
	[ -f "$dest/usr/local/share/man/man5/thrum-tables.5" ]
	[ -f "$dest/usr/local/share/man/man7/thrum.7" ]
	run -1 grep -rlF "$dest" "$dest"
}

@test "install: PREFIX; uninstall: nothing is left" {
	remake PREFIX=/opt/thrum install
	[ -x "$dest/opt/thrum/bin/thrum-mfd" ]
	remake PREFIX=/opt/thrum uninstall
	[ -z "$(find "$dest" -type f)" ]
}

@test "make: without a library it is said what is missing, and nothing is compiled" {
	run -2 remake "BUILD=$BATS_TEST_TMPDIR/build" CPPFLAGS=-nostdinc
	[[ $output == *"libcsv and zlib are needed"*"apt-get install gcc libc6-dev libcsv-dev zlib1g-dev"* ]]
	[ -z "$(find "$BATS_TEST_TMPDIR/build" -name '*.o')" ]
	# found by other flags than usual, they are taken from there
	mkdir -p "$BATS_TEST_TMPDIR/there"
	cp /usr/include/csv.h "$BATS_TEST_TMPDIR/there/elsewhere.h"
	remake "BUILD=$BATS_TEST_TMPDIR/build" \
		CPPFLAGS="-I$BATS_TEST_TMPDIR/there -include elsewhere.h" "$BATS_TEST_TMPDIR/build/libraries"
	[ -x "$BATS_TEST_TMPDIR/build/libraries" ]
}

@test "completion: options by the program's own table, files where a FILE is due" {
	remake install
	touch "$BATS_TEST_TMPDIR/some.tsv"
	cat >"$BATS_TEST_TMPDIR/try" <<-'END'
		complete_line() {
			COMP_WORDS=("$@") COMP_CWORD=$(($# - 1))
			COMPREPLY=()
			_thrum "$1" "${!#}" "${COMP_WORDS[COMP_CWORD - 1]}"
			printf '%s\n' "${COMPREPLY[@]}"
		}
		. "$1/thrum-mfd"
		complete_line thrum-mfd --til
		complete_line thrum-mfd --categories some
		complete_line thrum-mfd --tilt some
		complete_line thrum-import -m some
		complete_line thrum-unpack some
		for program; do
			[ "$program" = "$1" ] || complete_line "${program##*/}" --
		done
	END
	cd "$BATS_TEST_TMPDIR"
	PATH=$dest/usr/local/bin:$PATH run -0 bash "$BATS_TEST_TMPDIR/try" \
		"$dest/usr/local/share/bash-completion/completions" "$dest"/usr/local/bin/*
	[ "${lines[*]:0:4}" = '--tilt some.tsv some.tsv some.tsv' ]
	for program in "$dest"/usr/local/bin/*; do
		"$program" --print-options | awk -F '\t' 'NR > 1 { print "--" $2 }'
	done | diff - <(printf '%s\n' "${lines[@]:4}")
}
