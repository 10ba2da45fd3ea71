# Sourced by the scripts that measure, which are called with BUILD ROWS; run.sh says what they print.
# shellcheck shell=sh disable=SC2034 # for those scripts
set -eu
build=$1 rows=$2 times=${BENCH_TIMES:-5}
PATH=$PWD/$build/bin:$PATH
LC_ALL=C
export PATH LC_ALL
data=$build/bench
net=$data/route

# against TOOL WHAT GOAL OURS THEIRS: one line; GOAL 0 is none
against() {
	if command -v "$1" >/dev/null 2>&1; then
		"$data/pair" "$2: $1" "$3" "$times" "$4" "$5"
	else
		printf '%-46s not installed, left out\n' "$2: $1"
	fi
}

# headline FILE ROWS: what the lines below are of
headline() {
	printf '%s rows, %s bytes, %s pairs, %s processors\n' "$2" "$(wc -c <"$1")" "$times" "$(nproc)"
	printf '%-46s %7s  %15s %6s %7s %11s %11s\n' 'ours by theirs' median least-greatest goal '' time peak
}

# export_of TABLE EACH FILE: the same rows as CSV; one cell in quotes in each EACH-th row, 0: none
export_of() {
	[ -s "$3" ] || awk -F '\t' -v OFS=, -v each="$2" '
		each && NR % each == 0 { $17 = "\"" $17 "\"" } { $1 = $1; print }' "$1" >"$3"
}

# maps TABLE: text.map takes every column as text, typed.map looks at every number, date and word
maps() {
	{
		printf 'rule\tname\tfrom\n'
		head -n 1 "$1" | tr '\t' '\n' | sed 's/.*/column\t&\t&/'
	} >"$data/text.map"
	{
		printf 'rule\tname\tfrom\tholds\tform\twords\n'
		head -n 1 "$1" | tr '\t' '\n' | awk -v OFS='\t' '
			/_(um|deg|db)$/ { print "column", $1, $1, "number", "", ""; next }
			/^(tray|slot|fibre_.)$/ { print "column", $1, $1, "whole", "", ""; next }
			/_at$/ { print "column", $1, $1, "date", "YYYY-MM-DDThh:mm:ssZ", ""; next }
			/^(tension|protector)$/ { print "column", $1, $1, "word", "", "pass=pass;fail=fail"; next }
			{ print "column", $1, $1, "text", "", "" }'
	} >"$data/typed.map"
}

# night MACHINES JOINTS: as $data/plan and $data/arcs, 1,000 arcs a machine, in closures of so many joints
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
}

# readings ROWS: of links from both ends, 50 points a link, in no order, as $data/readings, $data/readings.links.
# 48271 is prime, and no factor of the rows: every row once.
readings() {
	awk -v n=$(($1 / 50 * 50)) -v each=50 -v links="$data/readings.links" -v OFS='\t' '
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
				((int(row / 25) * point * 31 + row * 69069) % 1000003 % 97 - 10) / 1000, "2026-03-14T15:04:00Z"
		}
	}' >"$data/readings"
}

# network JOINTS: the tables of a network with so many joints, under $net, in cables of 144 fibres
network() {
	mkdir -p "$net"
	awk -v n="$1" -v dir="$net" -v OFS='\t' '
	function span(cable, a, b, km) { print cable, 1, a, b, "yes", "yes", km, 144, 0.2 >spans }
	function joint(closure, a, b) {
		print "J" made++, closure, a, f, b, f, 1550, made % 97 / 1000 >joints
	}
	function port(site, end, cable) { print site, f, "L" links, end, cable, f >ports }
	BEGIN {
		spans = dir "/spans"; joints = dir "/joints"; ports = dir "/ports"
		print "cable", "section", "site_a", "site_b", "cut_a", "cut_b", "fibre_km", "fibres", "atten_1550_db_km" >spans
		print "joint", "closure", "cable_a", "fibre_a", "cable_b", "fibre_b", "loss_nm", "loss_db" >joints
		print "site", "port", "link", "end", "cable", "fibre" >ports
		for (g = 0; made < n; g++) {
			a = "A" g; m = "M" g; z = "Z" g
			span("p" g, a, a, 0.002); span("c" g, a, m, g % 97 / 10 + 0.1)
			span("q" g, m, m, 0.002); span("d" g, m, z, g % 89 / 10 + 0.1); span("r" g, z, z, 0.002)
			for (f = 1; f <= 144 && made < n; f++) {
				links++
				port(a, "a", "p" g)
				joint(a, "p" g, "c" g)
				if (f % 2) {
					joint(m, "c" g, "q" g); port(m, "b", "q" g)
				} else {
					joint(m, "c" g, "d" g); joint(z, "d" g, "r" g); port(z, "b", "r" g)
				}
			}
		}
	}'
}
