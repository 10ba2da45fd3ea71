#!/bin/sh
# Runs every test: run.sh BUILD. What is not ok is shown; the last line counts.
#
# Each C test and each bats file speaks TAP; a test program that dies, or says fewer tests than it
# planned, is one more that failed.
set -u
cd "$(dirname "$0")/.." || exit 2
build=$1
THRUM_BIN=$PWD/$build/bin
export THRUM_BIN
log=$build/tests/log
mkdir -p "$build/tests"
: >"$log"

run() {
	name=$1
	shift
	echo "# $name" >>"$log"
	"$@" >"$log.one" 2>&1 </dev/null
	status=$?
	cat "$log.one" >>"$log"
	sed -n '/^not ok/,/^ok/{/^ok/d;p;}' "$log.one"
	planned=$(sed -n 's/^1\.\.\([0-9]*\)$/\1/p' "$log.one")
	done=$(grep -c '^\(not \)\{0,1\}ok ' "$log.one")
	bad=$(grep -c '^not ok ' "$log.one")
	if [ "${planned:-none}" != "$done" ] || { [ $status -ne 0 ] && [ "$bad" -eq 0 ]; }; then
		echo "not ok 0 - $name: ended with status $status, $done of ${planned:-no} tests" | tee -a "$log"
		[ "$bad" -gt 0 ] || tail -n 5 "$log.one"
	fi
	rm -f "$log.one"
}

for source in tests/unit/test_*.c tests/published/*.c; do
	name=$(basename "$source" .c)
	run "$name" "$build/tests/$name"
done
for file in tests/*.bats tests/published/*.bats; do
	run "$file" bats --tap "$file"
done

failed=$(grep -c '^not ok ' "$log")
skipped=$(grep -c '^ok .*# skip' "$log")
passed=$(($(grep -c '^ok ' "$log") - skipped))
if [ "$skipped" -gt 0 ]; then
	grep '^ok .*# skip' "$log"
	echo "$passed passed, $failed failed, $skipped skipped"
else
	echo "$passed passed, $failed failed"
fi
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
