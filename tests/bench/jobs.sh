# Sourced after with.sh: a job for each program, on tables of about so many rows.
# shellcheck shell=sh disable=SC2154 # what with.sh sets

# jobs ROWS: makes the tables, and calls `job FILE PROGRAM WHAT ARGUMENT...` for each program. FILE is the table
# whose rows count. Joints are as generate.c makes them, 120 bytes a row, 200 a closure; arcs are 1,000 a machine,
# and at most arcs_most.
jobs() {
	t=$data/jobs.tsv
	"$data/generate" "$1" "${order:-shuffled}" >"$t"
	maps "$t"
	rm -f "$data/jobs.csv"
	export_of "$t" 8 "$data/jobs.csv"
	thrum-pack --key closure -o "$data/jobs.gz" "$t"
	job "$t" thrum-check 'every rule' "$t"
	job "$t" thrum-check 'without errors' --pass --set-aside /dev/null "$t"
	job "$t" thrum-closure 'every figure' "$t"
	job "$t" thrum-closure 'no quantiles' --no-quantiles "$t"
	job "$t" thrum-closure 'parts by jointer' --partial --by jointer "$t"
	thrum-closure --partial --by jointer -o "$data/jobs.part" "$t"
	job "$t" thrum-closure 'parts merged' --merge --by jointer "$data/jobs.part"
	job "$t" thrum-mfd '8 columns appended' "$t"
	job "$t" thrum-pack 'level 6' "$t"
	job "$t" thrum-unpack 'all of it' "$data/jobs.gz"
	job "$t" thrum-unpack 'one closure' --where closure=C00007 "$data/jobs.gz"
	job "$t" thrum-rework 'joints alone' "$t"
	job "$t" thrum-show 'one jointer' --tsv --where jointer=Oda "$t"
	job "$t" thrum-plot 'losses' --kind losses "$t"
	job "$t" thrum-colour 'of each fibre' -c fibre=fibre_a -c cable=cable_a "$t"
	job "$data/jobs.csv" thrum-import 'text' -m "$data/text.map" "$data/jobs.csv"
	job "$data/jobs.csv" thrum-import 'typed' -m "$data/typed.map" "$data/jobs.csv"
	printf 'what\tfile\ntable\t%s\n' "$t" >"$data/jobs.contents"
	job "$t" thrum-report 'joints' "$data/jobs.contents"
	rm -f "$t" "$data/jobs.csv" "$data/jobs.gz" "$data/jobs.part"

	network "$1"
	job "$net/joints" thrum-route 'every link' --spans "$net/spans" --ports "$net/ports" "$net/joints"
	thrum-route --spans "$net/spans" --ports "$net/ports" -o "$data/jobs.elements" "$net/joints" 2>/dev/null || :
	job "$data/jobs.elements" thrum-budget 'elements' --max 8 --wavelength 1550 "$data/jobs.elements"
	awk -F '\t' -v OFS='\t' 'BEGIN { print "link", "from", "km" } NR > 1 && $2 == 1 && n++ < 1000 { print $1, $7, 0.05 }' \
		"$data/jobs.elements" >"$data/jobs.km"
	job "$data/jobs.elements" thrum-locate 'a place in 1,000 links' --elements "$data/jobs.elements" \
		--spans "$net/spans" "$data/jobs.km"
	awk -v n="$1" -v OFS='\t' 'BEGIN {
		print "closure", "joint", "cable_a", "fibres_a", "cable_b", "fibres_b", "tray_slots", "tray"
		for (i = 0; i < int(n / 144); i++)
			print "C" i, "J" i "-001", "a" i, "1-144", "b" i, "1-144", 12, 1
	}' >"$data/jobs.schedule"
	thrum-plan -o "$data/jobs.plan" "$data/jobs.schedule" 2>/dev/null || :
	job "$data/jobs.plan" thrum-plan 'closures of 144' "$data/jobs.schedule"
	job "$data/jobs.plan" thrum-sheet 'every tray' "$data/jobs.plan"
	rm -f "$data/jobs.elements" "$data/jobs.km" "$data/jobs.plan" "$net"/*

	night $((($1 < arcs_most ? $1 : arcs_most) / 1000)) 144
	job "$data/arcs" thrum-match 'closures of 144' --plan "$data/plan" --order work --findings /dev/null "$data/arcs"
	readings "$1"
	job "$data/readings" thrum-twoway 'from both ends' --links "$data/readings.links" --findings /dev/null \
		"$data/readings"
	rm -f "$data/plan" "$data/arcs" "$data/readings" "$data/readings.links"
}
