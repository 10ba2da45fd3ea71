#!/bin/sh
# The records of many regions, on many processors or machines: operator.sh [-l LOGINS] FOLDER REGION...
#
# A region is a folder: joints.gz, packs of its joints; and, if it has them, plan.tsv, elements.tsv and
# links.tsv, tests.tsv. A region keeps a closure and a link together. To FOLDER come, in the order of the regions:
#
#	closures.tsv	how each closure turned out
#	jointers.tsv	the same by who has made the joints, wherever that was
#	findings.tsv	what is wrong with the records
#	budgets.tsv	whether each link is within its budget
#
# GNU parallel does one region after the other on each processor, or on the machines of the file LOGINS (see
# --sshloginfile in parallel(1)): they have the programs on the same PATH, and see the folders under the
# same names. FOLDER/joblog tells what is done. If a region fails it is named and the end is 2, without
# any table; if this is ended, or a machine, start it again in the same way: what is done stays done. It ends
# with 1 if something is not right.
set -eu

# 0 and 1 are answers; anything else ends it.
status=0
judge() {
	"$@" && return
	[ $? -eq 1 ] || exit 2
	status=1
}

# region FOLDER NUMBER REGION: the tables of one, in FOLDER/done/NUMBER, which appears whole
region() {
	done=$1/done/$2 work=$1/work.$2.$$ table=${3##*/}.tsv
	from=$(cd -- "$3" && pwd) || exit 2
	[ ! -e "$done" ] || return 0
	trap 'rm -rf "$work"' EXIT
	trap 'exit 2' HUP INT TERM
	mkdir -p "$work/joints" && cd "$work/joints" || exit 2 # what is made cannot take the table's place
	thrum-unpack --threads 1 -o "$table" "$from/joints.gz" || exit 2
	set --
	[ ! -f "$from/plan.tsv" ] || set -- --plan "$from/plan.tsv"
	judge thrum-check "$@" -o ../findings.tsv "$table"
	set -- "$@" --accept estimate --faults ../findings.tsv
	judge thrum-closure "$@" -o ../closures.tsv "$table"
	thrum-closure --partial --by jointer --accept estimate --faults ../findings.tsv -o ../jointers.tsv "$table" || exit 2
	if [ -f "$from/elements.tsv" ]; then
		set -- --links "$from/links.tsv"
		[ ! -f "$from/tests.tsv" ] || set -- "$@" --tests "$from/tests.tsv"
		judge thrum-budget --wavelength 1550 "$@" -o ../budgets.tsv "$from/elements.tsv"
	fi
	echo $status >../status
	cd .. && rm -r joints
	[ -e "$done" ] || mv "$work" "$done"
}

if [ "${1-}" = --region ]; then
	region "$2" "$3" "$4"
	exit
fi
logins=
if [ "${1-}" = -l ]; then
	logins=$2
	shift 2
fi
[ $# -ge 2 ] || { echo "usage: operator.sh [-l LOGINS] FOLDER REGION..." >&2; exit 2; }
mkdir -p "$1/done" || exit 2
folder=$(cd "$1" && pwd) self=$(cd "$(dirname "$0")" && pwd)/${0##*/}
shift

# The same regions as when it was begun: they go by their numbers.
printf '%s\n' "$@" >"$folder/regions.now"
[ -e "$folder/regions" ] || cp "$folder/regions.now" "$folder/regions"
cmp -s "$folder/regions" "$folder/regions.now" ||
	{ echo "operator.sh: $folder: begun with other regions: take another folder" >&2; exit 2; }
rm -f "$folder/regions.now" "$folder/closures.tsv" "$folder/jointers.tsv" "$folder/findings.tsv" "$folder/budgets.tsv"
trap 'rm -f "$folder"/*.new' EXIT

# A machine that is lost costs a region one of its three tries.
parallel --will-cite --quote --joblog "$folder/joblog" --resume-failed --retries 3 --workdir . \
	${logins:+--sshloginfile "$logins" --env PATH} \
	sh "$self" --region "$folder" '{#}' '{}' ::: "$@" || :
number=0
for region; do
	number=$((number + 1))
	[ -e "$folder/done/$number" ] && continue
	echo "operator.sh: $region: has failed" >&2
	status=2
done
[ $status -eq 0 ] || exit 2

# One table of each kind, if there are any, by a command that takes all of them.
join() { # NAME COMMAND...
	name=$1 n=0
	shift
	words=$#
	while [ $n -lt $number ]; do
		n=$((n + 1))
		[ ! -e "$folder/done/$n/$name" ] || set -- "$@" "$folder/done/$n/$name"
	done
	[ $# -eq "$words" ] || judge "$@" -o "$folder/$name.new"
}
join closures.tsv thrum-show --tsv
join budgets.tsv thrum-show --tsv
join findings.tsv thrum-show --tsv
join jointers.tsv thrum-closure --merge --by jointer --accept estimate
for table in "$folder"/*.new; do
	mv "$table" "${table%.new}"
done
! cat "$folder"/done/*/status | grep -q 1 || status=1
exit $status
