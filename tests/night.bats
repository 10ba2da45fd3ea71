#!/usr/bin/env bats
# The night of the demonstration network, from end to end, and what README.md shows of it.
# shellcheck disable=SC2154 # run sets stderr

bats_require_minimum_version 1.5.0

setup() {
	bin=${THRUM_BIN:-$BATS_TEST_DIRNAME/../build/bin}
	root=$BATS_TEST_DIRNAME/..
	PATH=$bin:$PATH
	cd "$BATS_TEST_TMPDIR" || return
}

sheets='quoinmere larkrope wrackle peltrick'

# same_tables: every table of the night, and no other, is as it is kept in tests/night; the packs,
# whose bytes are zlib's, hold those tables. Kept of filled.tsv is what it has beyond joints.tsv; pages
# and pictures have tests of their own.
same_tables() {
	local loss=joint,attempt,loss_nm,loss_ab_db,loss_ba_db,loss_db

	(cd night && ls) | grep -v '[.]\(svg\|html\|txt\)$' >there
	[ "$( (cd night && ls) | grep '[.]\(svg\|html\|txt\)$' | xargs)" = "L11.svg gullywen-cove.svg losses.svg night.html night.txt rework.html sheets.html" ]
	(cd "$BATS_TEST_DIRNAME/night" && ls) | sort - <(printf '%s\n' night1.tsv readings.tsv plan.tsv planned.tsv joints.tsv \
		joints.tsv.gz late.tsv.gz measured.tsv.gz night1.tsv.gz night2.tsv.gz) | diff - there
	diff -r -x '*.gz' -x night1.tsv -x readings.tsv -x 'plan*.tsv' -x joints.tsv -x filled.tsv -x '*.svg' -x '*.html' \
		-x night.txt night "$BATS_TEST_DIRNAME/night"
	cmp night/night1.tsv "$root/samples/night1.tsv"
	cmp night/plan.tsv "$root/samples/plan.tsv"
	comm -13 <(thrum-show --tsv --columns "$loss" night/joints.tsv | sed '1!s/$/\t\t/' | sort) \
		<(thrum-show --tsv --columns "$loss,loss_with,accept" night/filled.tsv | sort) |
		diff "$BATS_TEST_DIRNAME/night/filled.tsv" -
	[ "$(grep -c '<section>' night/sheets.html)" -eq 27 ]
	[ "$(sed -n 2p night/night.txt)" = 'Not passed.' ]
	grep -q '<p>Not passed</p>' night/night.html
	cd night || return
	cat night1.tsv >../joints
	for table in $sheets late; do
		[ "$(sed 1q "$table.tsv")" = "$(sed 1q night1.tsv)" ]
		tail -n +2 "$table.tsv" >>../joints
	done
	cmp joints.tsv ../joints
	thrum-unpack --test joints.tsv.gz
	thrum-unpack joints.tsv.gz | cmp - ../joints
	zcat measured.tsv.gz | cmp - filled.tsv
	zcat night1.tsv.gz | cmp - night1.tsv
	zcat late.tsv.gz | cmp - late.tsv
	thrum-unpack --list joints.tsv.gz | cut -f 1,2,5-12 >../listed
	cd ..
	cat >list <<-'END'
		file	pack	table_bytes	rows	blocks	crc32	key	name	night	by
		joints.tsv.gz	1	37632	165	1	81af07f7	closure	joints	2026-03-11	nightly.sh
		joints.tsv.gz	2	33734	160	1	5c4be2c6	closure	joints	2026-03-12	nightly.sh
		joints.tsv.gz	3	8544	36	1	b5a1b710	closure	joints	2026-03-13	nightly.sh
	END
	diff list listed
}

@test "every table of the night comes out byte for byte, and the night returns 1" {
	run --separate-stderr -1 "$root/samples/nightly.sh" night
	[ -z "$output" ]
	[ "$stderr" = "thrum-import: exports/larkrope.csv: 1 row dropped by exports/larkrope.map.tsv:7
thrum-import: exports/larkrope.csv: 1 row set aside
thrum-import: exports/wrackle.txt: 1 row set aside
thrum-check: 42 rows, 6 errors, 0 warnings
thrum-route: 19 links, 2 errors, 41 warnings
thrum-match: 202 arcs, 145 joints told, 15 errors, 11 warnings
thrum-check: 156 rows, 0 errors, 1 warning
thrum-match: 10 arcs, 96 joints told, 1 error, 1 warning
thrum-check: 361 rows, 36 errors, 1 warning
thrum-rework: not considered: --route-faults, --budgets
thrum-rework: 16 joints to open
thrum-route: 19 links, 19 errors, 43 warnings
thrum-twoway: 3 errors, 17 warnings
thrum-route: 19 links, 19 errors, 43 warnings
thrum-rework: 18 joints to open" ]
	same_tables
}

@test "the same under a locale with a decimal comma, another time zone, another umask" {
	mkdir -p locale
	localedef -i de_DE -f UTF-8 "$PWD/locale/de_DE.UTF-8" 2>/dev/null || [ $? -eq 1 ]
	umask 077
	run -1 env LOCPATH="$PWD/locale" LC_ALL=de_DE.UTF-8 TZ=XYZ-5:45 \
		"$root/samples/nightly.sh" night
	same_tables
}

@test "a second night over the first changes nothing, packs included" {
	run -1 "$root/samples/nightly.sh" night
	cp -r night first
	run -1 "$root/samples/nightly.sh" night
	diff -r first night
	same_tables
}

@test "what cannot be read stops the night at once, with 2" {
	cp -r "$root/samples" .
	printf 'joint\tcut here' >>samples/night1.tsv
	run --separate-stderr -2 samples/nightly.sh night
	[[ $stderr = *"thrum-rework: night1.tsv:167: 2 fields, 40 expected" ]]
	[ ! -e night/closures.tsv ]
	[ ! -e night/budgets.tsv ]
	[ ! -e night/joints.tsv.gz ]
}

@test "where nothing can be written the night ends with 2" {
	echo >file
	run --separate-stderr -2 "$root/samples/nightly.sh" file/night
	mkdir -p night/joints.tsv.gz
	run --separate-stderr -2 "$root/samples/nightly.sh" night
	[ -e night/budgets.tsv ]
	rm -r night
	mkdir -p night/quoinmere.tsv
	run --separate-stderr -2 "$root/samples/nightly.sh" night
	[ ! -e night/faults.tsv ]
}

@test "an export that is not what its map says, or cut in a quote, stops it before any verdict" {
	cp -r "$root/samples" .
	sed -i '4s/"Try"/"Round"/' samples/exports/larkrope.csv
	run --separate-stderr -2 samples/nightly.sh night
	[[ $stderr = *"thrum-import: "*"larkrope"*"'Try'"* ]]
	[ ! -e night/larkrope.tsv ]
	[ ! -e night/faults.tsv ]
	head -c 6000 "$root/samples/exports/larkrope.csv" >samples/exports/larkrope.csv
	run --separate-stderr -2 samples/nightly.sh night
	[[ $stderr = *"quote opened here is never closed"* ]]
	[ ! -e night/larkrope.tsv ]
	[ ! -e night/faults.tsv ]
}

@test "a night without a fault returns 0" {
	cp -r "$root/samples" .
	for table in night1 late schedule answers ports splitters links tests readings; do
		head -n 1 "$root/samples/$table.tsv" >samples/$table.tsv
	done
	grep '^SKE-00[1-9]	1	yes' "$root/samples/night1.tsv" >>samples/night1.tsv
	# joint SKE-004 took three attempts
	grep '^skerrowel-cove' "$root/samples/schedule.tsv" |
		sed 's/1-36/1-3/g; p; s/1-3/5-9/g; s/SKE-001/SKE-005/; s/	1	fusion/	5	fusion/' \
			>>samples/schedule.tsv
	# fibre 1 is a link from joint to joint; the other fibres are spare
	printf 'larkrope-panel\t01\tL01\ta\ttide-1\t1\nthrasket-cove\t01\tL01\tb\ttide-2\t1\n' >>samples/ports.tsv
	sed -n '/^L01/s/quoinmere-panel/thrasket-cove/p' "$root/samples/links.tsv" >>samples/links.tsv
	# read from both ends, as SKE-001 was recorded
	while read -r from km kind loss; do
		printf 'L01\t%s\t1550\t1.4682\t10\t0.25\t1.6\t%s\t%s\t%s\t0.005\t\t\n' "$from" "$km" "$kind" "$loss"
	done >>samples/readings.tsv <<-'END'
		larkrope-panel 0.3 start 0.25
		larkrope-panel 4.112 step 0.075
		larkrope-panel 9.352 end 0.2
		thrasket-cove 0.2 start 0.2
		thrasket-cove 5.44 step 0.005
		thrasket-cove 9.252 end 0.25
	END
	printf 'L01\t%s\t1550\tone_cord\t2.4\t40\t2026-03-15\tWenlo\n' larkrope-panel thrasket-cove >>samples/tests.tsv
	sed -i 's/link=L11/link=L01/; s/closure=gullywen-cove/closure=skerrowel-cove/' samples/nightly.sh
	sed -i '2d; s/	13$/	61/' samples/ribbon-arcs.tsv
	cd samples/exports
	sed -i '2,$d' quoinmere.csv weaver-1.csv
	# one arc to warm up, as --clock names the machine
	sed -i '3,$d; 2s/\r$/practice\r/' weaver-2.csv
	sed -i '6,$d' larkrope.csv
	sed -i '3,$d' peltrick.txt
	iconv -f UTF-16 -t UTF-8 "$root/samples/exports/wrackle.txt" | head -n 1 |
		iconv -f UTF-8 -t UTF-16 >wrackle.txt
	cd ../..
	run --separate-stderr -0 samples/nightly.sh night
	[ "$stderr" = "thrum-rework: not considered: --route-faults, --budgets" ]
	[ "$(wc -l <night/faults.tsv)" -eq 1 ]
	[ "$(thrum-show --tsv --columns link,joints,verdict night/budgets.tsv | tail -n +2)" = 'L01	1	pass' ]
	[ "$(thrum-unpack night/joints.tsv.gz | wc -l)" -eq "$(wc -l <samples/night1.tsv)" ]
}

# listed PATTERN COLUMN...: these columns of the faults in samples/FAULTS.md whose file matches
listed() {
	awk -F ' *[|] *' -v pattern="$1" -v columns="${*:2}" '
		BEGIN { n = split(columns, want, " ") }
		$2 ~ /^[0-9]+$/ && $3 ~ pattern {
			for (i = 1; i <= n; i++) printf "%s%s", $(want[i] + 1), i < n ? "\t" : "\n"
		}' "$root/samples/FAULTS.md" | sort
}

@test "samples/FAULTS.md lists what the night finds, and nothing else" {
	run -1 "$root/samples/nightly.sh" night
	# the first night, by line
	awk -F '\t' '$1 == "night1.tsv" && $5 !~ /^plan-/ { print $1 "\t" $2 "\t" $5 "\t" $6 }' night/faults.tsv | sort |
		diff <(listed '^night1' 2 3 8 9) -
	# the exports, by joint and column, as their lines are not those of the tables
	{
		awk -F '\t' -v OFS='\t' '$1 !~ /^(file|night1.tsv|late.tsv|plan.tsv)$/ && $5 !~ /^plan-/ {
			print $4, $3, $5, $6 }' night/faults.tsv
		tail -q -n +2 night/larkrope-aside.tsv night/wrackle-aside.tsv | awk -F '\t' -v OFS='\t' '
			{ print $1 ":" $2, "", "", "set aside" }'
	} | sort >found
	{
		listed '^exports' 4 5 8 9 | grep -v 'set aside$'
		listed '^exports' 2 3 9 | sed -n 's/\t\([0-9]*\)\tset aside$/:\1\t\t\tset aside/p'
	} | sort | diff - found
	# the late hand-in, by line
	(cd "$root/samples" && thrum-check late.tsv 2>/dev/null || [ $? -eq 1 ]) |
		awk -F '\t' '$2 != "line" { print $1 "\t" $2 "\t" $5 "\t" $6 }' | sort |
		diff <(listed '^late' 2 3 8 9) -
	[ "$(listed . 1 | wc -l)" -eq 34 ]
	# against the plan, by joint
	awk -F '\t' '$5 ~ /^plan-/ { print $4 "\t" $5 }' night/faults.tsv | sort >found
	awk -F ' *[|] *' '$3 ~ /^plan-/ { print $2 "\t" $3 }' "$root/samples/FAULTS.md" | sort | diff - found
}

@test "samples/FAULTS.md lists where fibres do not go as planned, each with its cause" {
	run -1 "$root/samples/nightly.sh" night
	awk -F '\t' '$9 == "error" {
		name[$1] = $4 == "" ? $5 : $4
		print $4 "\t" $5 "\t" $8 "\t" name[$13]
	}' night/astray.tsv | sort >found
	awk -F ' *[|] *' '/^## /{ on = /Where the fibres go/ } on && NF == 7 && $4 ~ /^[a-z]/ && $4 != "rule" {
		print $2 "\t" $3 "\t" $4 "\t" $5 }' "$root/samples/FAULTS.md" | sort | diff - found
	[ "$(wc -l <found)" -eq 19 ]
	[ "$(thrum-show --tsv --columns rule,level night/astray.tsv | grep -c '^no-link	warning$')" -eq 43 ]
	# links are live, and are said to be, on the sheets as well; the repair lies on the four links that run through it
	[ "$(grep -c 'the link is live' night/astray.tsv)" -eq 1 ]
	grep -q '	OMB-013	L19	.*the link is live' night/astray.tsv
	[ "$(grep -o 'LIVE <bdi>L[0-9]*' night/sheets.html | sed 's/.*>//' | sort -u | xargs)" = "L01 L05 L10 L19" ]
	[ "$(cut -f 1,6 night/elements.tsv | sort -u | grep -c '	YAR-0')" -eq 4 ]
	# of links that are not whole none passes; all others are as FAULTS.md says
	awk -F '\t' 'NR > 1 && $18 != "pass" { print $1 "\t" $18 }' night/budgets.tsv >found
	{
		awk -F ' *[|] *' 'NF == 5 && $2 ~ /^L[01][0-9]$/ && $4 != "pass" { print $2 "\t" $4 }' "$root/samples/FAULTS.md"
		printf 'L%d\tunknown\n' 13 14 15 16 17 18 19
	} | diff - found
}

@test "samples/FAULTS.md lists what is planted in the readings, and it is read" {
	run -1 "$root/samples/nightly.sh" night
	awk -F ' *[|] *' '/^## /{ on = /Planted in the readings/ } on && NF == 9 && $2 ~ /^[A-Z]+-[0-9]+$/ {
		print $2 "\t" $8 >"causes"
		print $2 "\t" $3 "\t1310\t" $4; print $2 "\t" $3 "\t1550\t" $5 "\t" $6 }' "$root/samples/FAULTS.md" >planted
	[ "$(wc -l <planted)" -eq 14 ]
	thrum-show --tsv --columns joint,link,wavelength_nm,loss_db,step_db,basis,read_again,limit_db night/twoway.tsv >readings
	# what was read is what was planted, within 0.02 dB; a group is read as a whole
	awk -F '\t' 'NR == FNR { loss[$1, $2, $3] = $4; step[$1, $2, $3] = $5; next }
		function off(a, b) { return a - b > 0.02 || b - a > 0.02 }
		($1, $2, $3) in loss && ($6 == "merged" ? $4 < $8 : off($4, loss[$1, $2, $3]) ||
			(step[$1, $2, $3] != "" && off($5, step[$1, $2, $3]))) { print; bad = 1 }
		($1, $2, $3) in loss { n++ }
		END { exit bad || n != 14 }' planted readings
	run -0 thrum-show --tsv --columns joint,rule --where level=error night/misread.tsv
	[ "$(tail -n +2 <<<"$output" | sort -u | xargs)" = "GUL-003 bend WRA-003 step" ]
	# and what is to be done about it, and about the joint at the end of its attempts
	thrum-show --tsv --columns joint,cause night/rework.tsv | grep -Ff causes | sort | diff <(sort causes) -
	[ "$(thrum-show --tsv --columns cause,live --where joint=YAR-007 night/reopen.tsv | tail -n 1)" = "used-up	neighbour" ]
	grep -q '^PEL-004	L12	1550	.*	yes	' readings
}

@test "samples/FAULTS.md names the lines as they lie in the files" {
	listed . 2 3 4 >places
	while IFS='	' read -r file line joint; do
		echo "$file:$line: $joint"
		from=UTF-8
		case $file in
		*larkrope.csv | night1.tsv) from=WINDOWS-1252 ;;
		*wrackle.txt) from=UTF-16 ;;
		esac
		iconv -f $from -t UTF-8 "$root/samples/$file" | sed -n "${line}p" | grep -F -- "$joint"
	done <places
}

@test "the archive: a closure is found in all nights at once, and its joints as they stand" {
	run -1 "$root/samples/nightly.sh" night
	cd night || return
	run -0 thrum-unpack --where closure=larkrope-panel joints.tsv.gz
	[ "${#lines[@]}" -eq $(($(grep -h '	larkrope-panel	' night1.tsv larkrope.tsv | wc -l) + 1)) ]
	run -0 thrum-unpack --latest --where closure=larkrope-panel joints.tsv.gz
	[ "${#lines[@]}" -eq 60 ]
	# and the rows that were late
	run -0 thrum-unpack --where joint=QUO-060 joints.tsv.gz
	[ "${lines[1]%%	*}" = QUO-060 ]
}

@test "the demonstration ends by showing where its tables lie" {
	run -0 sh "$root/samples/demo.sh" "$bin" demo
	[[ $output = *"The tables of this night are in $PWD/demo:"* ]]
	[[ $output = *"L06"*"over"*"L07"*"overload"*"L09"*"unknown"* ]]
	[[ $output = *"thrum-unpack --latest --where closure="*"OMB-013"*"OMB-024"* ]]
}

@test "README.md: its examples run as printed" {
	ln -s "$root/samples" samples
	awk '/^    \$ / { on = 1; sub(/^    \$ /, ""); print > "'"$BATS_TEST_TMPDIR"'/commands"; next }
		on && /^    / { sub(/^    /, ""); print > "'"$BATS_TEST_TMPDIR"'/shown"; next }
		{ on = 0 }' "$root/README.md"
	[ "$(wc -l <"$BATS_TEST_TMPDIR/commands")" -ge 1 ]
	sh -c ". $BATS_TEST_TMPDIR/commands" >"$BATS_TEST_TMPDIR/said" 2>/dev/null || [ $? -eq 1 ]
	diff "$BATS_TEST_TMPDIR/shown" "$BATS_TEST_TMPDIR/said"
}
