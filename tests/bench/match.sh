#!/bin/sh
# Measures thrum-match: match.sh BUILD ROWS. Lines as run.sh prints them; theirs is 2 seconds.
#
# 100,000 arcs of 100 machines, and 1,000 of one; closures of so many joints, trays of 12, one attempt in
# fourteen bad. Closures and trays are typed where they begin, a joint at one arc in ten.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh

# night MACHINES JOINTS: the plan and the arcs
night() {
	awk -v machines="$1" -v joints="$2" -v plan="$data/plan" -v OFS='\t' '
	function random() { state = (state * 16807) % 2147483647; return state / 2147483647 }
	BEGIN {
		state = 1
		print "joint", "closure", "tray", "slot" >plan
		print "arc", "splicer", "made_at", "est_db", "tension", "heat_s", "closure", "tray", "joint"
		for (m = 1; m <= machines; m++) {
			at = arc = 0
			for (c = 1; arc < 1000; c++) {
				name = m "-" c
				for (j = 0; j < joints; j++)
					print "J" name "-" j, "C" name, int(j / 12) + 1, j % 12 + 1 >plan
				for (j = 0; j < joints && arc < 1000; j += !bad) {
					first = !bad && j % 12 == 0
					bad = random() < 0.07
					at += int(300 * (0.8 + 0.4 * random()))
					print ++arc, "m" m, sprintf("2026-03-%02dT%02d:%02d:%02dZ", int(at / 86400) + 1,
						int(at / 3600) % 24, int(at / 60) % 60, at % 60),
						bad ? 0.3 : 0.03, bad ? "fail" : "pass", bad ? 0 : 40,
						first && j == 0 ? "C" name : "", first ? int(j / 12) + 1 : "",
						random() < 0.1 ? "J" name "-" j : ""
				}
				bad = 0
				at += 2400
			}
		}
	}' >"$data/arcs"
	"$data/pair" "match, $1 machines, closures of $2" 1 "$times" \
		"thrum-match --plan $data/plan --order work --findings /dev/null $data/arcs" 'sleep 2'
}

: >"$data/arcs"
headline "$data/arcs" 100000
night 1 36
for joints in 36 144 576; do
	night 100 $joints
done
