#!/bin/sh
# Measures thrum-twoway: twoway.sh BUILD ROWS. Lines as run.sh prints them; theirs is thrum-closure, on the same file.
#
# Readings of links from both ends, 25 points each, in no order. The peak by the rows is at most 64 bytes a reading.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
readings "$rows"
headline "$data/readings" "$rows"
"$data/pair" 'readings of both ends: thrum-closure' 6 "$times" \
	"thrum-twoway --links $data/readings.links --findings /dev/null $data/readings" \
	"thrum-closure -c closure=link $data/readings"
