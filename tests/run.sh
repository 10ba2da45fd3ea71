#!/bin/sh
# Runs every test, as many at once as there are processors (JOBS=N: as N): run.sh BUILD. What is not
# ok is shown, in the same order each time; the last line counts. All output is in BUILD/tests/log.
#
# Each C test and each bats file speaks TAP; a test program that dies, or says fewer tests than it
# planned, is one more that failed. run.sh BUILD SOURCE is one of them: it leaves its output, and its
# exit status, in BUILD/tests/logs.
set -u
cd "$(dirname "$0")/.." || exit 2
build=$1
THRUM_BIN=$PWD/$build/bin
export THRUM_BIN
logs=$build/tests/logs
log=$build/tests/log

# the file that keeps what a test says
log_of() {
	echo "$logs/$(echo "$1" | tr / _)"
}

if [ $# -gt 1 ]; then
	one=$(log_of "$2")
	case $2 in
	*.c) "$build/tests/$(basename "$2" .c)" ;;
	*) bats --tap "$2" ;;
	esac >"$one" 2>&1 </dev/null
	echo $? >"$one.status"
	exit 0
fi

# look NAME: what a test has said goes into the log, what is not ok is shown
look() {
	one=$(log_of "$1")
	status=$(cat "$one.status" 2>/dev/null || echo none)
	[ -f "$one" ] || : >"$one"
	{
		echo "# $1"
		cat "$one"
	} >>"$log"
	sed -n '/^not ok/,/^ok/{/^ok/d;p;}' "$one"
	planned=$(sed -n 's/^1\.\.\([0-9]*\)$/\1/p' "$one")
	done=$(grep -c '^\(not \)\{0,1\}ok ' "$one")
	bad=$(grep -c '^not ok ' "$one")
	if [ "${planned:-none}" != "$done" ] || { [ "$status" != 0 ] && [ "$bad" -eq 0 ]; }; then
		echo "not ok 0 - $1: ended with status $status, $done of ${planned:-no} tests" |
			tee -a "$log"
		[ "$bad" -gt 0 ] || tail -n 5 "$one"
	fi
}

rm -rf "$logs"
mkdir -p "$logs"
: >"$log"
# the largest first: the longest should not be the last to start
# shellcheck disable=SC2011 # names of our own
ls -S tests/*.bats tests/published/*.bats tests/unit/test_*.c tests/published/*.c |
	xargs -n 1 -P "${JOBS:-$(nproc)}" sh tests/run.sh "$build"
for source in tests/unit/test_*.c tests/published/*.c tests/*.bats tests/published/*.bats; do
	look "$source"
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
