#!/bin/sh
# Measures thrum-twoway: twoway.sh BUILD ROWS. Lines as run.sh prints them; theirs is thrum-closure, on the same file.
#
# Readings of links from both ends, 25 points each, in no order. The peak by the rows is at most 64 bytes a reading.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
t=$data/readings.$rows
links=$data/readings.links
each=50
rows=$((rows / each * each))

# 48271 is prime, and no factor of the rows: every row once
[ -s "$t" ] || awk -v n="$rows" -v each=$each -v links="$links" -v OFS='\t' '
	BEGIN {
		print "link", "site_a", "site_b" >links
		for (link = 0; link < n / each; link++)
			print "L" link, "A", "B" >links
		print "link", "from", "wavelength_nm", "index", "pulse_ns", "km", "kind", "loss_db", "tested_at"
		for (i = 0; i < n; i++) {
			row = (i * 48271) % n
			point = row % (each / 2)
			b = row % each >= each / 2
			print "L" int(row / each), b ? "B" : "A", 1550, 1.468, 100,
				(b ? each / 2 - 1 - point : point) * 1.25,
				(b ? each / 2 - 1 - point : point) == 0 ? "start" : point == (b ? 0 : each / 2 - 1) ? "end" : "step",
				(row % 97 - 10) / 1000, "2026-03-14T15:04:00Z"
		}
	}' >"$t"
headline "$t" "$rows"
"$data/pair" 'readings of both ends: thrum-closure' 6 "$times" \
	"thrum-twoway --links $links --findings /dev/null $t" "thrum-closure -c closure=link $t"
