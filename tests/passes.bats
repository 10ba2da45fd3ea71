#!/usr/bin/env bats
# No false pass: random sound nights pass, and with any single record deleted, read from one end,
# failed or misplaced, no closure that it touches does.

bats_require_minimum_version 1.5.0

setup() {
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../build/bin}
	cd "$BATS_TEST_TMPDIR" || return
}

@test "one record changed for the worse: no closure it touches passes" {
	run -0 python3 "$BATS_TEST_DIRNAME/closure/random.py" "$bin" 1 8
	[ "$output" = "408 changes, none passed" ]
	echo "# trials ${output%% *}" >&3
}
