#!/bin/sh
# One night's work, from the records to the verdicts: nightly.sh [FOLDER]
#
# The tables it makes go to FOLDER (night, beside you, if none is named). It ends with 0 if all is
# right, with 1 if something is not (the tables say what), and at once with 2 if something could
# not be read or written.
set -eu
mkdir -p "${1:-night}"
night=$(cd "${1:-night}" && pwd)
cd "$(dirname "$0")"

# 0 and 1 are answers, and the night goes on; anything else ends it.
status=0
judge() {
	"$@" && return
	[ $? -eq 1 ] || exit 2
	status=1
}

# Which arc of the machines was which planned joint; what is not sure is left for a person.
judge thrum-match --plan plan.tsv --findings "$night/unmatched.tsv" -o "$night/matched.tsv" \
	arcs-1.tsv arcs-2.tsv

# What was handed in late is taken as far as it can be read; the rest waits for a person.
judge thrum-check --rules readable.tsv --pass --set-aside "$night/unreadable.tsv" \
	-o "$night/late.tsv" late.tsv
set -- night1.tsv night2.tsv "$night/late.tsv"

# Which records are wrong, and why.
judge thrum-check -o "$night/faults.tsv" "$@"

# How each closure turned out: over all its joints, the faulty ones too.
judge thrum-closure -o "$night/closures.tsv" "$@"

# What each joint should lose, by its fibres' categories.
judge thrum-mfd --wavelength 1550 -o "$night/expected.tsv" "$@"

# Whether each link is within its budget, and what the tests say to that.
judge thrum-budget --wavelength 1550 --links links.tsv --tests tests.tsv \
	-o "$night/budgets.tsv" elements.tsv

exit $status
