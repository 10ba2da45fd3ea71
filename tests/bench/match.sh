#!/bin/sh
# Measures thrum-match: match.sh BUILD ROWS. Lines as run.sh prints them; theirs is 2 seconds.
#
# 100,000 arcs of one machine, closures of so many joints, one attempt in fourteen bad. Something is
# typed at one arc in ten: the closure alone, so that nearly all is left; or the joint.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
arcs=100000

# against_goal JOINTS COLUMN
against_goal() {
	night $arcs "$1" "$2"
	"$data/pair" "match, closures of $1, $2 typed" 1 "$times" \
		"thrum-match --plan $data/plan --findings /dev/null $data/arcs" 'sleep 2'
}

: >"$data/arcs"
headline "$data/arcs" $arcs
for joints in 36 144 576; do
	against_goal $joints closure
	against_goal $joints joint
done
