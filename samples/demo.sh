#!/bin/sh
# Runs the night of this folder and shows what came of it: demo.sh BIN OUT
set -eu
bin=$(cd "$1" && pwd)
mkdir -p "$2"
night=$(cd "$2" && pwd)
PATH=$bin:$PATH
export PATH

status=0
sh "$(dirname "$0")/nightly.sh" "$night" || status=$?
[ $status -le 1 ] || exit $status
cd "$night"

# columns NAMES FILE...: columns of tables by name, laid out for the eye
columns() {
	want=$1
	shift
	thrum-show --columns "$want" -o shown.txt "$@"
	sed 's/^/  /' shown.txt
}

printf '\nThe night ended with status %s (1: something is not right).\n' $status
printf '\nRows that could not be read, for a person to mend:\n'
for aside in ./*-aside.tsv; do
	[ "$(wc -l <"$aside")" -le 1 ] || columns aside_file,aside_line,aside_why "$aside"
done
printf '\nArcs of the machines that a person has to tell:\n'
columns splicer,arc,settles,says questions.tsv
printf '\nFaults found in the records:\n'
columns joint,level,file,line,says faults.tsv
printf '\nClosures:\n'
columns closure,planned,joints,failed,missing,amiss,mean_db,max_db,verdict closures.tsv
printf '\nWhere fibres do not go as planned:\n'
columns finding,joint,link,site,rule,found,wanted,because --where level=error astray.tsv
printf '\nRead from both ends, what joints lose above their limit:\n'
awk -F '\t' 'NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i }
	NR == 1 || ($at["joint"] != "" && $at["limit_db"] != "" && $at["loss_db"] > $at["limit_db"])' twoway.tsv |
	columns link,wavelength_nm,joint,loss_db,step_db,bend_db,basis,limit_db,read_again -
printf '\nWhat to open again, one closure after the other:\n'
columns urgency,closure,tray,slot,joint,cause,action rework.tsv
printf '\nLinks:\n'
columns link,stat_db,tested_ab_db,tested_ba_db,allowed_db,margin_db,verdict,says budgets.tsv
printf '\nThe archive, one pack a night:\n  $ thrum-unpack --list joints.tsv.gz\n'
thrum-unpack --list joints.tsv.gz | columns night,name,rows,table_bytes,pack_bytes -
printf '\nTray 2 of ombrick-cove as it stands, out of the archive (some columns):\n'
printf '  $ thrum-unpack --latest --where closure=ombrick-cove --where tray=2 joints.tsv.gz\n'
thrum-unpack --latest --where closure=ombrick-cove --where tray=2 joints.tsv.gz |
	columns joint,slot,cable_a,fibre_a,cable_b,fibre_b,loss_db,made_at -
rm -f shown.txt
cat <<END

The tables of this night are in $night:
  quoinmere, larkrope, wrackle, peltrick, late   what the crews handed in
  *-aside                                        what of it could not be read
  arcs, matched, unmatched, arc-faults           what the machines remember, tied to the plan
  questions                                      which arcs a person should tell
  ribbons, ribbons-left                          the same of a ribbon machine
  faults                                         what is wrong in the records
  planned, elements, astray                      what should lie along each link, what does, what is wrong there
  twoway, misread, filled                        what was read from both ends, and the joints with these losses
  reopen, rework                                 what to open again, before the test and after it
  closures, budgets, expected                    closures, links, and what joints should lose
  joints.tsv.gz, measured.tsv.gz                 the archive
The pages for people, which a browser opens and prints:
  $night/sheets.html   field sheets, a page a tray; rework.html: those of closures to open again
  $night/night.html    the report, to read and sign; night.txt is the same for a mail
  $night/losses.svg, gullywen-cove.svg, L11.svg   pictures of all losses, a closure, a link
END
