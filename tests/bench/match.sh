#!/bin/sh
# Measures thrum-match: match.sh BUILD ROWS. Lines as run.sh prints them; theirs is 2 seconds.
#
# 100,000 arcs of 100 machines, and 1,000 of one; closures of so many joints, trays of 12, one attempt in
# fourteen bad. Closures and trays are typed where they begin, a joint at one arc in ten.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh

# of MACHINES JOINTS
of() {
	night "$1" "$2"
	"$data/pair" "match, $1 machines, closures of $2" 1 "$times" \
		"thrum-match --plan $data/plan --order work --findings /dev/null $data/arcs" 'sleep 2'
}

: >"$data/arcs"
headline "$data/arcs" 100000
of 1 36
for joints in 36 144 576; do
	of 100 $joints
done
