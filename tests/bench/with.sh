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

# night ARCS JOINTS COLUMN: the plan and the arcs of one machine; COLUMN (closure, joint) is filled in
# at one arc in ten
night() {
	awk -v n="$1" -v joints="$2" -v typed="$3" -v plan="$data/plan" -v OFS='\t' '
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
