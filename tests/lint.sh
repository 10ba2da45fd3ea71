#!/bin/sh
# What a reader should not have to look for: lint.sh. Says nothing and exits 0, or says what is
# wrong and exits 1.
set -u
cd "$(dirname "$0")/.." || exit 2
status=0
say() {
	echo "$*" >&2
	status=1
}
c_files() {
	find "$@" -name '*.[ch]' -print0 | sort -z
}
each() { # each COMMAND...: with as many of the files on standard input as it takes, on all processors
	xargs -0 -P "$(nproc)" -n 8 "$@"
}

c_files cmd lib tests | each clang-format --dry-run -Werror || say "lint: clang-format -i mends the above"
find cmd lib -name '*.c' -print0 | sort -z | each sh -c 'clang-tidy --quiet "$@" -- 2>/dev/null' tidy ||
	say "lint: clang-tidy"
cppcheck --quiet --std=c11 --error-exitcode=1 --inline-suppr --suppress=missingIncludeSystem \
	--enable=warning,portability,performance -j "$(nproc)" -Ilib '-DTHRUM_VERSION="0"' cmd lib ||
	say "lint: cppcheck"
shellcheck .ci/run cmd/completion.bash tests/*.bash tests/*.sh tests/*/*.sh samples/*.sh || say "lint: shellcheck"
shellcheck --shell=bats --severity=warning tests/*.bats tests/*/*.bats ||
	say "lint: shellcheck of bats files"
mandoc -Tlint -Wwarning man/*.[1-8] || say "lint: mandoc"

# The floors: what each room may include besides itself; only cmd joins them all.
floor() {
	room=$1 may=$2
	grep -nE '^#include "' lib/"$room"/*.[ch] 2>/dev/null | grep -vE "#include \"($room|$may)/" &&
		say "lint: the above reach over lib/'s floors (DEVELOPERS.md)"
}
floor base base
floor table base
floor archive 'base|table'
floor page 'base|table'
floor fibre 'base|table'
floor import 'base|table|fibre'
floor match 'base|table|fibre'
floor route 'base|table|fibre'
floor picture 'base|table|fibre|page'
floor rework 'base|table|fibre'
floor readings 'base|table|fibre'

# A file's name does not repeat its room's, and its own header comes first, so that this one lacks nothing.
for file in lib/*/*.[ch]; do
	name=${file##*/} room=${file#lib/}
	room=${room%/*}
	case $name in "$room"?*.[ch]) say "lint: $file repeats its room's name" ;; esac
	own=$room/${name%.c}.h
	if [ "$name" != "${name%.c}" ] && [ -f "lib/$own" ] &&
		[ "$(sed -n '/^#include/{s/^#include "\(.*\)"$/\1/p;q;}' "$file")" != "$own" ]; then
		say "lint: $file does not include its own header first"
	fi
done

# Two rooms do not share the name of a function: a program would get whichever is found first.
for lib in build/lint/libthrum.a build/libthrum.a; do
	[ -f "$lib" ] && nm -g --defined-only "$lib" | awk 'NF == 3 { print $3 }' | sort | uniq -d | grep . &&
		say "lint: the above are defined twice in lib/"
done

# The table of promises is its script's, whatever the numbers, and every fuzzer stands in it.
rows=$(tests/promises.sh rows | tail -n +3)
[ "$rows" = "$(sed -n '/^<!-- promises/,/^<!-- end/s/ | [0-9][0-9]* | / | /p' DEVELOPERS.md)" ] ||
	say "lint: DEVELOPERS.md has other promises than tests/promises.sh: see there"
for fuzzer in tests/fuzz/*.c; do
	case $rows in *"$(basename "$fuzzer" .c)"*) ;; *) say "lint: $fuzzer stands for no promise" ;; esac
done
for program in cmd/thrum-*.c; do
	name=$(basename "$program" .c)
	grep -q "X(${name#thrum-})" tests/fuzz/fuzz_programs.c || say "lint: $name is in no job of fuzz_programs"
done

# Library code neither prints nor exits, but for the files named for it.
grep -nE '\b(printf|puts|perror|exit|_exit|abort) ?\(|\bstd(out|err)\b' lib/*/*.c |
	grep -vE '^lib/(base/mem|table/prog)\.c:' && say "lint: the above print or exit"

grep -rnE '[[:blank:]]+$' cmd lib tests samples Makefile ./*.md --include='*.[ch]' \
	--include='*.sh' --include='*.bats' --include='*.md' --include=Makefile &&
	say "lint: blanks at line ends"
# in pages a TAB at the end of a line is an empty field of a table that is shown
grep -nE ' +$' man/*.[1-8] && say "lint: blanks at line ends"

exit $status
