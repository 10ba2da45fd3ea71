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

# picks columns of a table by name and lines them up
columns() {
	awk -F '\t' -v want="$2" '
		NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; n = split(want, w, ",") }
		{ for (i = 1; i <= n; i++) printf "  %-*s", width[i] = i == 1 ? 16 : 12, $at[w[i]]; print "" }
	' "$1" | sed 's/ *$//'
}

printf '\nThe night ended with status %s (1: something is not right).\n' $status
printf '\nFaults found, by rule:\n'
awk -F '\t' '
	NR == 1 { for (i = 1; i <= NF; i++) at[$i] = i; next }
	{ key = sprintf("  %-8s %s", $at["level"], $at["rule"]); n[key]++ }
	END { for (key in n) printf "%s: %d\n", key, n[key] }
' "$night/faults.tsv" | sort
printf '\nClosures:\n'
columns "$night/closures.tsv" closure,joints,failed,unknown,basis,mean_db,max_db,verdict
printf '\nLinks:\n'
columns "$night/budgets.tsv" link,stat_db,tested_db,allowed_db,margin_db,verdict
printf '\nThe tables of this night are in %s:\n' "$night"
(cd "$night" && wc -l ./*.tsv | sed 's|\./||; /total$/d')
