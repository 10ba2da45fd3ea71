#!/usr/bin/env bats
# thrum-plot: pictures, as the tables say and as a browser shows them
# shellcheck disable=SC2154 # exe and samples are set by begin

load program
load browser

setup() {
	begin thrum-plot
	table joints 'joint closure tray slot cable_a fibre_a colour_a cable_b fibre_b colour_b loss_nm loss_ab_db loss_ba_db shift' \
		'J-1 C-1 1 1 x 1 blue y 1 blue 1550 0.04 0.06 2026-03-11' \
		'J-2 C-1 1 2 x 2 white y 2 white 1550 0.30 0.20 2026-03-11' \
		'J-3 C-1 1 10 x 13 blue_stripe y 3 green 1550 0.04 . 2026-03-12'
	sed -i 's/_stripe/ stripe/' joints
	table plan 'joint closure tray slot cable_a fibre_a cable_b fibre_b state colour_a colour_b' \
		'J-1 C-1 1 1 x 1 y 1 join blue blue' 'J-2 C-1 1 2 x 2 y 2 join white white' \
		'J-3 C-1 1 10 x 13 y 3 join blue green' 'J-4 C-1 1 11 x 4 y 4 join brown brown' \
		'. C-1 1 12 x 5 . . parked slate .'
	table elements 'link seq km kind ref site length_km category wavelength_nm loss_db' \
		'L-1 1 0 connector A:1 A . . . .' 'L-1 2 0 fibre x:1 A 10 G.652.D 1550 2.0' \
		'L-1 2 0 fibre x:1 A 10 G.652.D 1310 3.5' 'L-1 3 10 fusion J-2 C-1 . . 1550 0.50' \
		'L-1 4 10 fibre y:1 C-1 5 G.652.D 1550 1.0' 'L-1 5 15 connector B:1 B . . . .'
	table budgets 'link wavelength_nm allowed_db verdict' 'L-1 1550 5 pass'
}

# every kind, as KIND TABLE ARGUMENT...
kinds() {
	"$1" losses joints
	"$1" closure joints --plan plan
	"$1" link elements --budgets budgets
	"$1" ends joints
	"$1" season joints
}

# picture KIND TABLE ARGUMENT...: picture.svg, with the options of $more
picture() {
	local kind=$1

	shift
	echo "kind: $kind"
	# shellcheck disable=SC2086 # words
	"$exe" --kind "$kind" ${more:-} -o picture.svg "$@"
}

@test "a kind must be named, with the columns it needs" {
	refused "--kind is needed: one of: losses link closure ends season" joints
	refused "elements:1: no column 'loss_ab_db': is it 'loss_db'?" --kind ends elements
	refused "--ascii: only with --text" --kind ends --ascii joints
	refused "--width: a picture has at least 320 pixels" --kind ends --width 100 joints
	refused "--limit and --limits: give one of them" --kind ends --limit 1 --limits x joints
	refused "--only: no row has all of these" --kind losses --only closure=C-9 joints
	refused "joints:1: no column 'trays': is it 'tray'?" --kind losses --only trays=1 joints
	sed 's/^L-1\t5/L-2\t5/' elements >two
	refused "two:7: column 'link': a second link: choose one with --only link=NAME: 'L-2'" --kind link two
	gives 0 --kind link --text --only link=L-1 two
}

@test "the verdict of a closure: missing, over, not known, passed" {
	gives 0 --kind closure --text --width 100 --plan plan joints
	[ "${lines[0]}" = 'C-1, tray 1' ]
	[ "${lines[1]}" = '4 joints, 1 MISSING, 1 over their limit, 1 not known, 1 pass. Limit 0.100 dB each. At 1550 nm. Side' ]
	[[ $output == *'1.2  '*'2 white'*' 0.250 over'* ]]
	[[ $output == *'13 blue stripe'*' 0.040 1-way'* ]]
	[[ $output == *'1.11 '*'4 brown'*' MISSING'* ]]
	[[ $output == *'1.12 '*' parked'* ]]
	[[ $output == *'Tray 1, slot 2, J-2: 0.250 dB, over the limit of 0.100: open again.'* ]]
	[[ $output == *'Tray 1, slot 10, J-3: read from one end only: measure from both ends.'* ]]
	[[ $output == *'Tray 1, slot 11, J-4: planned and not made.'* ]]
	# slot 10 stands behind slot 2
	[ "$(grep -n '^1.10' <<<"$output" | cut -d : -f 1)" -gt "$(grep -n '^1.2 ' <<<"$output" | cut -d : -f 1)" ]
	gives 0 --kind closure --text --accept one-way --plan plan joints
	[[ $output == *'1 MISSING, 1 over their limit, 2 pass'* ]]
	table faults 'joint level says' 'J-1 error the_fibre_is_red' 'J-2 warning not_told'
	gives 0 --kind closure --text --faults faults joints
	[[ $output == *'1 otherwise at fault'*'J-1: the_fibre_is_red.'* ]]
	[[ $output != *not_told* ]]
}

@test "colours are those of the plan where the records have none" {
	printf 'joint\tclosure\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b\tstate\ttube_a\tcolour_a\tcolour_b\n' >plan
	printf 'J1\tC\t1\tin\t1\tout\t7\tjoin\tblue\tred\tpink\n' >>plan
	printf 'joint\tclosure\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b\tloss_nm\tloss_db\n' >joints
	printf 'J1\tC\t1\tin\t1\tout\t8\t1550\t0.05\n' >>joints
	run -0 "$exe" --text --kind closure --plan plan joints
	[[ $output == *"tube blue"*"1 red"*"8 no colour"* ]]
	sed -i 's/\t8\t/\t7\t/' joints
	run -0 "$exe" --text --kind closure --plan plan joints
	[[ $output == *"tube blue"*"1 red"*"7 pink"* ]]
}

@test "the latest attempt that stands is drawn, at one wavelength" {
	table joints 'joint attempt stands loss_nm loss_db' 'J-1 1 yes 1550 0.5' 'J-1 2 yes 1550 0.05' \
		'J-2 1 no 1550 0.9' 'J-3 1 yes 1310 0.7' 'J-4 1 yes 1550 0.06'
	gives 0 --kind losses --text --width 200 joints
	[ "${lines[1]}" = '2 joints with a loss; 1 without a loss. Beyond their limit: 0 (0.0 %). Mean 0.055 dB, worst 0.060 dB (J-4). At 1550 nm; other wavelengths are not drawn.' ]
	gives 0 --kind losses --text --width 200 --only loss_nm=1310 joints
	[[ ${lines[1]} == '1 joint with a loss. Beyond their limit: 1 (100.0 %)'*'At 1310 nm.' ]]
	gives 0 --kind losses --text --width 200 --limit 0.05 joints
	[[ ${lines[1]} == *'Beyond their limit: 1 (50.0 %)'* ]]
}

@test "a link: measured, planned and allowed; the steps rise" {
	gives 0 --kind link --text --width 120 --only wavelength_nm=1550 --budgets budgets elements
	[[ ${lines[1]} == '1550 nm: 4.'*' dB of 5.000 allowed; planned '*'; 2 parts not measured. Verdict: pass.' ]]
	[[ $output == *'J-2 '*' over'* ]]
	sed 1,2d <<<"$output" | grep -o '[0-9]\.[0-9]\{3\}\( over\| planned\|\)$' | tr -d 'a-z ' >sums
	[ "$(wc -l <sums)" = 5 ]
	sort -cn sums
}

@test "a link: the margin is the one of the budgets" {
	gives 0 --kind link --budgets budgets elements
	[[ $output == *'>1550 allowed 5.000<'* ]]
	table budgets 'link wavelength_nm allowed_db margin_db verdict' 'L-1 1550 5 0.123 pass'
	gives 0 --kind link --budgets budgets elements
	[[ $output == *'>1550 allowed 5.000, margin 0.123<'* ]]
	table budgets 'link wavelength_nm allowed_db margin_db verdict' 'L-1 1550 5 -0.123 over'
	gives 0 --kind link --budgets budgets elements
	[[ $output == *'>1550 allowed 5.000, over by 0.123<'* ]]
}

@test "a season by nights, from joints and from their sums" {
	gives 0 --kind season --text --width 120 joints
	[[ $output == *'2026-03-11 '*'mean 0.150, worst 0.250 J-2'*'2026-03-12 '*'mean 0.040'* ]]
	table sums 'shift joints mean_db max_db worst_joint' '2026-03-11 2 0.04 0.05 J-1' \
		'2026-03-11 1 0.1 0.1 J-9' '2026-03-12 4 0.02 0.09 J-3'
	gives 0 --kind season --text --width 120 sums
	[[ $output == *'2 nights, 7 joints with a loss. Mean 0.037 dB; worst 0.100 dB on 2026-03-11, J-9.'* ]]
	[[ $output == *'mean 0.060, worst 0.100 J-9'* ]]
}

@test "letters fit their width, and are ASCII if asked for" {
	fits() {
		local kind=$1

		shift
		for width in 40 60 80 132; do
			"$exe" --kind "$kind" --text --ascii --width "$width" "$@" >text
			! LC_ALL=C grep -n '[^ -~]' text
			awk -v w="$width" 'length($0) > w { print FILENAME, FNR, $0; bad = 1 } END { exit bad }' text
		done
		"$exe" --kind "$kind" --text "$@" >text
		! grep -qvE '^.{0,200}$' text
	}
	kinds fits
}

# a table whose cells are what should not be shown as it is
hostile() {
	printf 'joint\tclosure\ttray\tslot\tcable_a\tfibre_a\tcolour_a\tcable_b\tfibre_b\tcolour_b\tloss_db\tshift\tloss_ab_db\tloss_ba_db\n'
	printf '%s\t%s\t1\t1\t%s\t1\t%s\tc\t1\tblue\t0.9\t%s\t0.9\t0.9\n' '</text><script>alert(1)</script>' \
		'"><img src=x onerror=y>' '&amp;&lt;' 'url(http://a.b/c)' "'<b>'"
	printf 'a\x01b\x1b[31m\t"><img src=x onerror=y>\t1\t2\t\xff\xfe\t2\t\xef\xbf\xbe\xef\xbf\xbf\tc\t2\tred\t0.8\t\xe2\x80\xae2026\t0.8\t0.8\n'
	printf '%s\t"><img src=x onerror=y>\t1\t3\t%s\t3\t%s\tc\t3\tgreen\t0.7\t%s\t0.7\t0.7\n' \
		"$(printf '%0400d' 0 | tr 0 W)" "$(printf '%0300d' 0 | tr 0 M)" "$(printf '%0300d' 0 | tr 0 m)" \
		"$(printf '%0200d' 0)"
	printf '\xd7\xa9\xd7\x9c\xd7\x95\xd7\x9d\t"><img src=x onerror=y>\t1\t4\t\xd9\x85\xd8\xb1\xd8\xad\xd8\xa8\xd8\xa7\t4\t\xe6\xbc\xa2\xe5\xad\x97\tc\t4\tblue\t0.6\tn\t0.6\t0.6\n'
}

@test "what cells hold is shown, and does nothing else" {
	hostile >hostile
	for kind in losses closure ends season; do
		picture $kind hostile
		xmllint --noout picture.svg || { command -v xmllint || skip "no xmllint"; false; }
		! grep -E '<(script|img|style|foreignObject|use|image|a)\b' picture.svg
		! LC_ALL=C grep -n $'[\x01-\x08\x0b-\x1f]' picture.svg
		"$exe" --kind $kind --text hostile >text
		! LC_ALL=C grep -n $'[\x01-\x08\x0b-\x1f]' text
	done
}

@test "the same bytes again, and with any locale" {
	same() {
		picture "$@"
		cp picture.svg before.svg
		LC_ALL=tr_TR.UTF-8 TZ=Asia/Kathmandu picture "$@"
		cmp before.svg picture.svg
	}
	kinds same
}

@test "100,000 joints" {
	awk 'BEGIN { OFS = "\t"; print "joint", "closure", "tray", "slot", "loss_ab_db", "loss_ba_db", "shift"
		for (i = 0; i < 100000; i++) print "J-" i, "C", int(i / 12), i % 12, i % 97 / 1000, i % 89 / 1000,
			"2026-" sprintf("%02d", 1 + i % 12) "-" sprintf("%02d", 1 + i % 28) }' >many
	for kind in losses closure ends season; do
		picture $kind many
		[ "$(wc -c <picture.svg)" -lt 4000000 ]
		"$exe" --kind $kind --text -o text many
	done
}

@test "sound XML that another program draws" {
	command -v xmllint >/dev/null && command -v rsvg-convert >/dev/null || {
		[ -z "${THRUM_BROWSER:-}" ] || false
		skip "no xmllint or rsvg-convert"
	}
	drawn() {
		for more in '' '--width 360' '--width 320' '--width 1200'; do
			picture "$@"
			xmllint --noout picture.svg
			[ "$(xmllint --xpath 'count(/*/*[local-name()="title" or local-name()="desc"])' picture.svg)" = 2 ]
			rsvg-convert -o picture.png picture.svg
			[ -s picture.png ]
		done
	}
	kinds drawn
}

@test "in a browser: no text outside, over another or too faint; nothing fetched" {
	browser_needed
	looked_at() {
		for more in '' '--width 360'; do
			picture "$@"
			browser_sound picture.svg
		done
	}
	kinds looked_at
	hostile >hostile
	for kind in losses closure ends season; do
		looked_at $kind hostile
	done
	looked_at closure "$samples/night1.tsv" --plan "$samples/plan.tsv" --only closure=ombrick-cove
	looked_at ends "$samples/night1.tsv"
}

@test "a loss that several share has the sum of their limits, and is in no mean" {
	table shared 'joint closure slot loss_nm loss_db loss_with' 'J-1 C-1 1 1550 0.15 J-2' \
		'J-2 C-1 2 1550 0.15 J-1' 'J-3 C-1 3 1550 0.05 .'
	gives 0 --kind closure --text shared
	[[ ${lines[1]} == '3 joints, 0 over their limit, 3 pass.'* ]]
	gives 0 --kind losses --text --width 200 shared
	[[ ${lines[1]} == '1 joint with a loss; 2 that share one with others are left out.'*'Mean 0.050'* ]]
}

@test "losses far from zero and near to each other have their bars" {
	for least in 0.9 3 30; do
		printf 'joint\tloss_db\n' >far
		for i in 0 1 2 3 4 5 6; do printf 'J%s\t%s\n' "$i" "$(awk "BEGIN { print $least + $i * 0.08 }")"; done >>far
		run --separate-stderr "$exe" --kind losses -o far.svg far
		[ "$status" -lt 2 ]
		xmllint --noout far.svg
	done
}

@test "a joint that was made is not missing because another wavelength is asked for" {
	table plan 'joint closure tray slot state' 'J1 C 1 1 join' 'J2 C 1 2 join' 'J3 C 1 3 join' 'J4 C 1 4 join'
	table joints 'joint closure tray slot loss_nm loss_db est_db' 'J1 C 1 1 1550 0.05 .' 'J2 C 1 2 1310 0.05 .' \
		'J3 C 1 3 . . 0.03'
	run --separate-stderr "$exe" --kind closure --text --only loss_nm=1550 --plan plan joints
	[ "$(grep -c MISSING <<<"$output")" -eq 2 ] # in the head, and J4
	[[ $output = *"1 MISSING"* ]]
	grep -q J4 <<<"$output"
}
