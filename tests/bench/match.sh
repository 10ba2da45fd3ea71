#!/bin/sh
# Measures thrum-match: match.sh BUILD ROWS. Lines as run.sh prints them; theirs is 2 seconds.
#
# 100,000 arcs of one machine, closures of so many joints, one attempt in fourteen bad. Something is
# typed at one arc in ten: the closure alone, so that nearly all is left; or the joint.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
arcs=100000

# night JOINTS COLUMN: the plan and the arcs
night() {
	awk -v n=$arcs -v joints="$1" -v typed="$2" -v plan="$data/plan" -v OFS='\t' '
	function random() { state = (state * 16807) % 2147483647; return state / 2147483647 }
	BEGIN {
		state = 1
		print "joint", "closure", "tray", "slot" >plan
		print "arc", "made_at", "est_db", "tension", "heat_s", typed
		for (c = 1; arc < n; c++) {
			for (j = 0; j < joints; j++)
				print "J" c "-" j, "C" c, int(j / 12) + 1, j % 12 + 1 >plan
			for (j = 0; j < joints && arc < n; j += !bad) {
				bad = random() < 0.07
				at += 90 + int(150 * random())
				minutes = int(at / 60)
				made_at = sprintf("%d-%02d-%02dT%02d:%02d:%02dZ", 2026 + int(minutes / 483840),
					int(minutes / 40320) % 12 + 1, int(minutes / 1440) % 28 + 1,
					int(minutes / 60) % 24, minutes % 60, at % 60)
				print ++arc, made_at, bad ? 0.3 : 0.03, bad ? "fail" : "pass", bad ? 0 : 40,
					random() < 0.1 ? typed == "closure" ? "C" c : "J" c "-" j : ""
			}
			at += 2400
		}
	}' >"$data/arcs"
	"$data/pair" "match, closures of $1, $2 typed" 1 "$times" \
		"thrum-match --plan $data/plan --findings /dev/null $data/arcs" 'sleep 2'
}

: >"$data/arcs"
headline "$data/arcs" $arcs
for joints in 36 144 576; do
	night $joints closure
	night $joints joint
done
