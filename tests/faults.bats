#!/usr/bin/env bats
# Each allocation and each call of the system fails in turn, in every program (tests/faults).
# shellcheck disable=SC2154 # begin sets bin

load program

setup() {
	begin thrum-check
	# the sanitizers want to be the first library; they may be the second as well
	export ASAN_OPTIONS=verify_asan_link_order=0:detect_leaks=0
}

@test "whatever allocation or call of the system fails: said, nothing by halves, nothing different" {
	trials=0 failed=0
	for exe in "$bin"/thrum-*; do
		mkdir "${exe##*/}"
		(cd "${exe##*/}" && python3 "$BATS_TEST_DIRNAME/faults/every.py" "$bin" "$bin/../tests/faults.so" \
			"$BATS_TEST_DIRNAME/.." "${exe##*/}" >../log) || failed=1
		grep -v ^TRIALS log || :
		trials=$((trials + $(sed -n 's/^TRIALS //p' log)))
	done
	[ "$failed" -eq 0 ]
	echo "# trials $trials" >&3
}
