#!/usr/bin/env bats
# The CSV border against others: the public set csv-spectrum 2.0.0 (see csv-spectrum/README.md for
# where it comes from and its licence), and the csv module of Python 3 on random files.

# shellcheck disable=SC2154 # run sets output
bats_require_minimum_version 1.5.0

setup() {
	export LC_ALL=C
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../../build/bin}
	here=$BATS_TEST_DIRNAME
	cd "$BATS_TEST_TMPDIR" || return
}

@test "all of csv-spectrum, but for line breaks, which become blanks" {
	n=0
	for file in "$here"/csv-spectrum/csvs/*.csv; do
		name=$(basename "$file" .csv)
		# the JSON file as a table, and a map of its columns
		python3 - "$here/csv-spectrum/json/$name.json" <<-'END'
			import json, re, sys
			rows = json.load(open(sys.argv[1], encoding="utf-8"))
			rows = rows if isinstance(rows, list) else [rows] # a single row is no list there
			for row in rows: # see README.md
			    if row.get("Contact Phone Number") == "1234567890":
			        row["Contact Phone Number"] = "2095257564"
			names = list(rows[0])
			text = lambda s: re.sub("\r\n|\n|\t", " ", s)
			with open("map.tsv", "w", encoding="utf-8") as f:
			    f.write("rule\tname\tfrom\n" + "".join("column\t%s\t%s\n" % (c, c) for c in names))
			with open("want", "w", encoding="utf-8") as f:
			    for row in [dict(zip(names, names))] + rows:
			        f.write("\t".join(text(row[c]) for c in names) + "\n")
		END
		"$bin/thrum-import" -m map.tsv "$file" >got 2>err || { echo "$name"; cat err; false; }
		diff -u want got || { echo "$name"; false; }
		n=$((n + 1))
	done
	[ "$n" -eq 12 ]
}

@test "2000 random files as Python's csv module reads them" {
	run python3 "$here/csv_random.py" "$bin/thrum-import" "$BATS_TEST_TMPDIR" 2000
	echo "$output" | tail -n 20
	[ "$status" -eq 0 ]
	[ "$output" = '2000 files, 0 read otherwise' ]
}
