#!/bin/sh
# One night's work, from the exports to the archive: nightly.sh [FOLDER]
#
# The tables it makes go to FOLDER (night, beside you, if none is named). It ends with 0 if all is
# right, with 1 if something is not (the tables say what), and at once with 2 if something could
# not be read or written.
set -eu
samples=$(cd "$(dirname "$0")" && pwd)
mkdir -p "${1:-night}" || exit 2
night=$(cd "${1:-night}" && pwd)
cd "$samples"

# 0 and 1 are answers, and the night goes on; anything else ends it.
status=0
judge() {
	"$@" && return
	[ $? -eq 1 ] || exit 2
	status=1
}

# Four crews' sheets, each written in its own way, become tables by their maps. Rows that the
# map cannot make sense of wait for a person.
for sheet in quoinmere.csv larkrope.csv wrackle.txt peltrick.txt; do
	name=${sheet%.*}
	judge thrum-import -m "exports/$name.map.tsv" --set-aside "$night/$name-aside.tsv" \
		-o "$night/$name.tsv" "exports/$sheet"
done

# So do the memories of two splicers.
judge thrum-import -m exports/weaver.map.tsv -o "$night/arcs.tsv" \
	exports/weaver-1.csv exports/weaver-2.csv

# What was handed in late is taken as far as it can be read; the rest waits for a person.
judge thrum-check --rules readable.tsv --pass --set-aside "$night/late-aside.tsv" \
	-o "$night/late.tsv" late.tsv

# The plan of every fibre, out of the schedule; all that is judged lies in one folder with it and with
# the record of the night before.
judge thrum-plan --spans spans.tsv --sites sites.tsv --findings "$night/plan-faults.tsv" \
	-o "$night/plan.tsv" schedule.tsv
cp night1.tsv readings.tsv "$night" || exit 2
cd "$night"

# Where each fibre goes, and what lies along each link, by the plan or by joints that were made.
route() {
	judge thrum-route --spans "$samples/spans.tsv" --ports "$samples/ports.tsv" \
		--splitters "$samples/splitters.tsv" --links "$samples/links.tsv" "$@"
}

# The sheets that crews work from, a page a tray: by the plan it is known which fibres are live.
route -o planned.tsv plan.tsv
thrum-sheet --sites "$samples/sites.tsv" --links "$samples/links.tsv" --elements planned.tsv -o sheets.html plan.tsv

# Which arc was which planned joint, and is it sound by what the machine saw? The clock of
# weaver-2 is 745 s slow; slots are worked from the first on; some arcs were told by the field sheets.
judge thrum-match --plan plan.tsv --order work --answers "$samples/answers.tsv" --clock weaver-2=745 \
	--findings unmatched.tsv --questions questions.tsv -o matched.tsv arcs.tsv
judge thrum-check -o arc-faults.tsv matched.tsv

# The same for a ribbon machine: one arc is twelve joints.
judge thrum-match --plan "$samples/ribbon-plan.tsv" --order work --answers "$samples/answers.tsv" \
	--findings ribbons-left.tsv -o ribbons.tsv <"$samples/ribbon-arcs.tsv"

# Which records are wrong, and what is otherwise than planned.
set -- night1.tsv quoinmere.tsv larkrope.tsv wrackle.tsv peltrick.tsv late.tsv
judge thrum-check --plan plan.tsv -o faults.tsv "$@"

# Which joints to open again while the lid is open, by what the machines recorded.
judge thrum-rework --stage closure --plan plan.tsv --faults faults.tsv --sites "$samples/sites.tsv" \
	--links "$samples/links.tsv" --elements planned.tsv -o reopen.tsv "$@"

# What each joint should lose, by its fibres' categories.
judge thrum-mfd --wavelength 1550 -o expected.tsv "$@"

# Does every link run from its port to its port by the joints that were made? What is wrong names its cause.
route --plan plan.tsv --findings astray.tsv -o elements.tsv "$@"

# What reflectometers read from both ends becomes losses of joints, in one table of all records; then
# what lies along each link once more, with these losses.
thrum-show --tsv -o joints.tsv "$@"
judge thrum-twoway --links "$samples/links.tsv" --elements elements.tsv --plan plan.tsv --fill joints.tsv \
	--filled filled.tsv --findings misread.tsv -o twoway.tsv readings.tsv
route --plan plan.tsv -o elements.tsv filled.tsv

# Whether each link is within its budget as it was joined, and what the tests say to that.
judge thrum-budget --wavelength 1550 --links "$samples/links.tsv" --tests "$samples/tests.tsv" \
	-o budgets.tsv elements.tsv

# Which joints to open again now that they are tested, and the sheets for it.
judge thrum-rework --plan plan.tsv --faults faults.tsv --route-faults astray.tsv --twoway-faults misread.tsv \
	--twoway twoway.tsv --budgets budgets.tsv --sites "$samples/sites.tsv" --links "$samples/links.tsv" \
	--elements elements.tsv -o rework.tsv filled.tsv
thrum-sheet --sites "$samples/sites.tsv" --links "$samples/links.tsv" --elements elements.tsv \
	--rework rework.tsv -o rework.html plan.tsv

# How did each closure turn out: over all joints that could be read, against the plan and what was found?
# Nobody has measured all of them yet, so that the splicers' estimates are enough.
judge thrum-closure --accept estimate --plan plan.tsv --faults faults.tsv -o closures.tsv filled.tsv

# Pictures: how often each loss occurs, a closure as it was left, a link as stairs.
thrum-plot --kind losses --only loss_nm=1550 -o losses.svg filled.tsv
thrum-plot --kind closure --only closure=gullywen-cove --only loss_nm=1550 --plan plan.tsv --faults faults.tsv \
	-o gullywen-cove.svg filled.tsv
thrum-plot --kind link --only link=L11 --budgets budgets.tsv -o L11.svg elements.tsv

# All of it on one page, and for a mail.
report() {
	thrum-report --title "Ring of Quoinmere, March 2026" \
		--facts "$samples/facts.tsv" "$@" "$samples/contents.tsv"
}
report -o night.html
report --text -o night.txt

# For ever: a pack of each night, and all of them joined; is the whole sound?
thrum-pack --name joints --night 2026-03-11 --by nightly.sh -o night1.tsv.gz night1.tsv
thrum-pack --name joints --night 2026-03-12 --by nightly.sh -o night2.tsv.gz \
	quoinmere.tsv larkrope.tsv wrackle.tsv peltrick.tsv
thrum-pack --name joints --night 2026-03-13 --by nightly.sh -o late.tsv.gz late.tsv
cat night1.tsv.gz night2.tsv.gz late.tsv.gz >joints.tsv.gz || exit 2
judge thrum-unpack --test joints.tsv.gz
thrum-pack --name measured --night 2026-03-14 --by nightly.sh -o measured.tsv.gz filled.tsv

exit $status
