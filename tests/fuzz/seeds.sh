#!/bin/sh
# Inputs for fuzz_programs: seeds.sh FOLDER. A line below is one of its jobs, in their order: its tables are
# the first lines of the demonstration network's, or stand here, a comma for each TAB.
set -eu
folder=$1
cd "$(dirname "$0")/../.."
mkdir -p "$folder"
job=65 # 'A'
while read -r tables; do
	mark=
	for table in $tables; do
		printf %s "$mark"
		mark='----
'
		case $table in
		=*) echo "${table#=}" | tr ',;' '\t\n' ;;
		*/*) head -n "${table##*:}" "${table%:*}" ;;
		*) head -n "${table##*:}" "samples/${table%:*}.tsv" ;;
		esac
	done >"$folder/tables"
	for way in 0 1 2; do
		printf '%b%s' "\\0$(printf %o $job)" $way | cat - "$folder/tables" >"$folder/job$job-$way"
	done
	job=$((job + 1))
done <<'END'
tests/night/arcs.tsv:21 plan:25 =splicer,closure,from_at,order;weaver-1,larkrope-panel,2026-03-11T21:40:00+00:00,work answers:5 tests/night/matched.tsv:8
samples/ribbon-arcs.tsv:6 ribbon-plan:30
night1:16 spans:16 ports:9 splitters:7 plan:20 links:9
schedule:12 spans:12 sites:7 lib/fibre/colours.tsv:30 lib/fibre/categories.tsv:12 lib/fibre/allowances.tsv:20
schedule:5 spans:5 plan:20
tests/night/elements.tsv:30 links:5 tests:12 lib/fibre/allowances.tsv:40 lib/fibre/applications.tsv:20
late:12 plan:12 lib/fibre/limits.tsv:6 readable:4
night1:12 plan:20
night1:16 plan:20 tests/night/faults.tsv:6 lib/fibre/limits.tsv:6
readings:25 links:9 tests/night/elements.tsv:30 lib/fibre/limits.tsv:6 plan:12 night1:12
night1:16 tests/night/faults.tsv:6 tests/night/twoway.tsv:12 tests/night/elements.tsv:20 plan:12 links:9
night1:16 tests/night/astray.tsv:6 tests/night/misread.tsv:6 tests/night/budgets.tsv:8 sites:7 lib/rework/causes.tsv:26
=link,from,km,sample_m,far_km,index;L01,larkrope-panel,1.5,1,,1.468;L01,larkrope-panel,2.5,1,17.3,;L01,larkrope-panel,0.5,,, tests/night/elements.tsv:15 spans:22 sites:7 readings:12
=joint,cable_a,fibre_a,cable_b,fibre_b,note;S,tide-1,1,tide-2,13,;T,tide-1,14,tide-2,26,dust spans:12 lib/fibre/colours.tsv:40
night1:9 lib/fibre/categories.tsv:24
tests/night/twoway.tsv:12
=what,file,title,note;text,2,Facts,n;picture,P,Losses,;table,3,Closures, facts:9 tests/night/closures.tsv:6 night1:9
plan:24 links:9 tests/night/elements.tsv:12 sites:7 =urgency,closure,joint,cause,action,open;1,larkrope-panel,LAR-003,loss,cut,yes
night1:16 lib/fibre/limits.tsv:6
night1:16 plan:20 tests/night/faults.tsv:6 lib/fibre/limits.tsv:6
tests/night/elements.tsv:18 tests/night/budgets.tsv:8 lib/fibre/allowances.tsv:40
samples/exports/quoinmere.csv:20 samples/exports/quoinmere.map.tsv:40
night1:16
night1:16
night1:16 =kind,part,part_name,loss_nm,joints,mean_db,basis,failed,unknown,worst_joint,part_kind,part_ribbon,part_accept,part_limit_db,part_closure,part_with,planned,amiss,surplus,first_at,last_at;fusion,group,,,1,,,,,,,,,,,,,,,,;fusion,tray,2,,,,,,,,,,,,,,,,,,;fusion,losses,,,1,0.050000,two-way,,,J-1,fusion,,two-way,,,,,,,,;fusion,other,,,1,,,,,,,,,,,,,,,,;,group,,,1,,,,,,,,,,,,,,,,;,tray,1,,,,,,,,,,,,,,,,,,;,losses,,,1,0.070000,two-way,,,J-2,,,two-way,,,,,,,,;,other,,,1,,,,,,,,,,,,,,,,;,joint,J-1,,,,,,,,,,,,,,,,,,;,joint,J-2,,,,,,,,,,,,,,,,,,;,end,value=none:accept=two-way:plan=0:closures=0,,10,,,,,,,,,,,,,,,, lib/fibre/limits.tsv:6
END
rm "$folder/tables"
