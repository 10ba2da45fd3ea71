#!/usr/bin/env bats
# thrum-mfd as a program: what it reads, what it hands out, what it refuses. What the figures ought
# to be is in published/mfd.bats.

# shellcheck disable=SC2016 # awk has a $ of its own
# shellcheck source=tests/program.bash disable=SC2154 # bin, exe and samples come from there
load program

made='mismatch_db	offset_db	tilt_db	gap_db	joint_db	seen_ab_db	seen_ba_db'
made="$made	least_ab_db	most_ab_db	least_ba_db	most_ba_db	worst_db"
own_head='category\tfibre\tmfd_nm\tmfd_min_um\tmfd_max_um\ttolerance_um\tstep_index\tcutoff_nm\n'

setup() {
	begin thrum-mfd
}

# --- what comes out ------------------------------------------------------------------------------

@test "one joint from the options, without any input" {
	gives 0 -a 9.2 -b 10.4
	says "mfd_a_um	mfd_b_um	$made" \
		"9.2	10.4	0.0651	0.0000	0.0000	0.0000	0.0651	0.5976	-0.4673					"
	gives 0 -a 9.2 -b G.652.D
	says "mfd_a_um	category_b	$made" \
		"9.2	G.652.D	0.0048	0.0000	0.0000	0.0000	0.0048	-0.1392	0.1488	-0.4424	0.1927	-0.1770	0.5571	0.0574"
}

@test "the options are the joint: standard input is left alone" {
	printf 'mfd_a_um\tmfd_b_um\n1\t2\n' >in.tsv
	{ "$exe" -a 9.2 -b 10.4 >out.tsv && cat; } <in.tsv >left.tsv
	cmp in.tsv left.tsv
	[ "$(wc -l <out.tsv)" -eq 2 ]
}

@test "with one side missing, or with a dash, the table is read" {
	printf 'mfd_b_um\n10.4\n9.2\n' >in.tsv
	run --separate-stderr -0 "$exe" -a 9.2 <in.tsv
	has mismatch_db 0.0651 0.0000
	run --separate-stderr -0 "$exe" -a 9.2 -b 9.2 - <in.tsv
	has mismatch_db 0.0651 0.0000
	gives 0 in.tsv -a 9.2 -b 9.2
	has mismatch_db 0.0651 0.0000
}

@test "unknown columns and odd spellings go through byte for byte" {
	{
		printf 'id\tmfd_a_um\tversion\tn\twell\tdone\tpart\tmfd_b_um\tnote\tempty\n'
		printf '007\t9.20\t1.10\t1e3\tE1\tTRUE\t1/2\t+10.4\t 36" tray \t\n'
		printf '1,5\t0009.2\t-0\t0x1A\tNaN\tN/A\t01/02/2024\t1.04e1\t=1+1\t\n'
		printf '\xc3\xa9\t.92e1\t\xb0C\t"q"\t\x1b[31m\t<b>\t\xef\xbb\xbf\t10.\t\\t\t\n'
	} >in.tsv
	"$exe" in.tsv >out.tsv
	cut -f 1-10 out.tsv | cmp - in.tsv
	run --separate-stderr -0 cut -f 11- out.tsv
	has mismatch_db 0.0651 0.0651 0.0302
}

@test "results go behind the row" {
	printf 'mfd_a_um\tjoint\tmfd_b_um\n9.2\tA-1\t8.6\n' >in.tsv
	gives 0 in.tsv
	says "mfd_a_um	joint	mfd_b_um	$made" \
		"9.2	A-1	8.6	0.0197	0.0000	0.0000	0.0000	0.0197	-0.2732	0.3126					"
}

@test "result columns that are there already are replaced in their places" {
	printf 'joint_db\tmfd_a_um\tnote\tworst_db\tmfd_b_um\tseen_ba_db\n' >in.tsv
	printf 'x\t9.2\tkept\t7\t8.6\t1,5\n' >>in.tsv
	gives 0 in.tsv
	new='mismatch_db	offset_db	tilt_db	gap_db	seen_ab_db	least_ab_db	most_ab_db	least_ba_db	most_ba_db'
	says "joint_db	mfd_a_um	note	worst_db	mfd_b_um	seen_ba_db	$new" \
		"0.0197	9.2	kept		8.6	0.3126	0.0197	0.0000	0.0000	0.0000	-0.2732				"
}

@test "running it twice changes nothing" {
	printf 'gap_db\tcategory_a\tmfd_b_um\tnote\tgap_um\n' >in.tsv
	printf '\tG.652.D\t8.6\ta\t3\n1\t\t8.6\tb\t\nx\tG.657.A1\t10.4\tc\t9\n' >>in.tsv
	"$exe" --offset 0.7 --tilt 0.3 --air in.tsv >once.tsv
	"$exe" --offset 0.7 --tilt 0.3 --air once.tsv >twice.tsv
	cmp once.tsv twice.tsv
	[ "$(cut -f 1 once.tsv | tr '\n' ' ')" = "gap_db 0.2992  0.3224 " ]
}

@test "the same from a file, a pipe and with CRLF, byte-order mark, no last newline" {
	printf 'mfd_a_um\tmfd_b_um\n9.2\t8.6\n9.2\t10.4\n' >in.tsv
	"$exe" in.tsv >want.tsv
	"$exe" <in.tsv | cmp - want.tsv
	"$exe" - <in.tsv | cmp - want.tsv
	printf '\xef\xbb\xbfmfd_a_um\tmfd_b_um\r\n9.2\t8.6\r\n9.2\t10.4' | "$exe" | cmp - want.tsv
	[ "$(wc -l <want.tsv)" -eq 3 ]
}

@test "a table without rows stays one, with the new columns" {
	printf 'mfd_a_um\tmfd_b_um\n' >in.tsv
	gives 0 in.tsv
	says "mfd_a_um	mfd_b_um	$made"
}

@test "several files are one table, whatever the order of their columns" {
	printf 'mfd_a_um\tnote\tmfd_b_um\n9.2\tone\t8.6\n' >1.tsv
	printf 'mfd_b_um\tmfd_a_um\tnote\n8.6\t9.2\ttwo\n' >2.tsv
	printf 'note\tmfd_a_um\tmfd_b_um\nthree\t8.6\t9.2\n' >3.tsv
	gives 0 1.tsv 2.tsv 3.tsv
	says "mfd_a_um	note	mfd_b_um	$made" \
		"9.2	one	8.6	0.0197	0.0000	0.0000	0.0000	0.0197	-0.2732	0.3126					" \
		"9.2	two	8.6	0.0197	0.0000	0.0000	0.0000	0.0197	-0.2732	0.3126					" \
		"8.6	three	9.2	0.0197	0.0000	0.0000	0.0000	0.0197	0.3126	-0.2732					"
	gives 0 2.tsv 1.tsv
	has note two one
	has seen_ab_db -0.2732 -0.2732
}

@test "several files must have the same columns" {
	printf 'mfd_a_um\tmfd_b_um\tnote\n9.2\t8.6\tx\n' >1.tsv
	printf 'mfd_a_um\tmfd_b_um\n9.2\t8.6\n' >2.tsv
	trouble "2.tsv:1: lacks a column that 1.tsv has: 'note'" 1.tsv 2.tsv
	[ -z "$output" ]
	trouble "1.tsv:1: has a column that 2.tsv lacks: 'note'" 2.tsv 1.tsv
	[ -z "$output" ]
}

@test "minus zero is never printed" {
	# steps and losses of less than half the last decimal, on either side of zero
	printf 'mfd_a_um\tmfd_b_um\toffset_um\ttilt_deg\tgap_um\n' >in.tsv
	printf '9.2\t9.2001\t\t\t\n9.2001\t9.2\t0\t-0\t-0.0\n9.2\t9.2\t-0e0\t\t0\n' >>in.tsv
	gives 0 in.tsv
	has seen_ab_db 0.0000 0.0000 0.0000
	has seen_ba_db 0.0000 0.0000 0.0000
	run -1 grep -e '-0\.0000' <<<"$output"
}

@test "the mean of both readings is the joint, their half difference the step" {
	printf 'mfd_a_um\tmfd_b_um\toffset_um\n9.2\t8.6\t0.5\n8.6\t10.4\t1.5\n13\t9\t0\n' >in.tsv
	gives 0 in.tsv
	run -0 awk -F '\t' '
		NR > 1 {
			step = 10 * log($2 / $1) / log(10)
			joint += ($9 + $10) / 2 - $8 < 0.0001 && $8 - ($9 + $10) / 2 < 0.0001
			half += ($9 - $10) / 2 - step < 0.0001 && step - ($9 - $10) / 2 < 0.0001
		}
		END { print joint, half }' <<<"$output"
	says "3 3"
}

@test "-o: there whole, or not at all" {
	printf 'mfd_a_um\tmfd_b_um\n9.2\t8.6\n' >in.tsv
	gives 0 -o out.tsv in.tsv
	[ -z "$output" ]
	"$exe" in.tsv | cmp - out.tsv
	printf '9.2\t99\n' >>in.tsv
	trouble "in.tsv:3: column 'mfd_b_um': outside 1 to 50: '99'" -o other.tsv in.tsv
	[ ! -e other.tsv ]
	trouble "in.tsv:3: column 'mfd_b_um': outside 1 to 50: '99'" -o out.tsv in.tsv
	head -n 2 in.tsv | "$exe" | cmp - out.tsv
}

# --- columns and options -------------------------------------------------------------------------

@test "an option stands in for a column that is absent" {
	printf 'mfd_a_um\n9.2\n9.2\n' >in.tsv
	gives 0 -b 8.6 --offset 0.5 --tilt 0.5 --gap 5 --wavelength 1550 --index 1.45 in.tsv
	printf 'mfd_a_um\tmfd_b_um\toffset_um\ttilt_deg\tgap_um\twavelength_nm\tindex\n' >all.tsv
	printf '9.2\t8.6\t0.5\t0.5\t5\t1550\t1.45\n9.2\t8.6\t0.5\t0.5\t5\t1550\t1.45\n' >>all.tsv
	"$exe" all.tsv | cut -f 8- >want.tsv
	cut -f 2- <<<"$output" | cmp - want.tsv
}

@test "an option stands in for a field that is empty, a column goes before an option" {
	# first row: the columns say all; second row: the options do
	printf 'mfd_a_um\tmfd_b_um\toffset_um\ttilt_deg\tgap_um\twavelength_nm\tindex\n' >in.tsv
	printf '9.2\t8.6\t0.5\t0.4\t5\t1310\t1.44\n\t\t\t\t\t\t\n' >>in.tsv
	gives 0 -a 10 -b 11 --offset 1 --tilt 0.8 --gap 8 --wavelength 1550 --index 1.46 in.tsv
	{
		"$exe" -a 9.2 -b 8.6 --offset 0.5 --tilt 0.4 --gap 5 --wavelength 1310 --index 1.44
		"$exe" -a 10 -b 11 --offset 1 --tilt 0.8 --gap 8 --wavelength 1550 --index 1.46 |
			tail -n 1
	} | cut -f 3- >want.tsv
	cut -f 8- <<<"$output" | cmp - want.tsv
	[ "$(sort -u want.tsv | wc -l)" -eq 3 ]
}

@test "each option and each column counts by itself" {
	local all='-a 9.2 -b 8.6 --gap 5 --offset 0.5 --tilt 0.4'

	# shellcheck disable=SC2086 # words
	gives 0 $all
	base=$output
	for change in '--offset 0.6' '--tilt 0.5' '--gap 6' '--wavelength 1311' '--index 1.44' \
		'--air' '-a 9.3' '-b 8.7'; do
		changed=$(sed "s/${change% *} [0-9.]*/$change/" <<<"$all")
		[ "$changed" != "$all" ] || changed="$all $change"
		# shellcheck disable=SC2086
		gives 0 $changed
		[ "$output" != "$base" ] || { echo "$change changes nothing"; false; }
	done
}

@test "of a side's MFD, category and option the first that is there counts" {
	printf 'mfd_a_um\tcategory_a\tmfd_b_um\n' >in.tsv
	printf '9.2\tG.652.D\t10.4\n\tG.652.D\t10.4\n\t\t10.4\n' >>in.tsv
	gives 0 -a 10.4 in.tsv
	has mismatch_db 0.0651 0.1049 0.0000
	has worst_db '' 0.2430 ''
}

@test "a category beside an MFD is not even looked up" {
	printf 'mfd_a_um\tcategory_a\tmfd_b_um\n9.2\tnobody knows\t8.6\n' >in.tsv
	gives 0 in.tsv
	has mismatch_db 0.0197
}

@test "a category may be the option, and then serves every row without an MFD" {
	printf 'mfd_b_um\tcategory_b\n8.9\t\n\t\n\tG.655.C\n' >in.tsv
	gives 0 -a G.652.D -b G.657.A1 --wavelength 1550 in.tsv
	has mismatch_db 0.0731 0.0000 0.0181
	has worst_db 0.1823 0.1075 0.6896
}

@test "an MFD that is not known empties all results, also those that were there" {
	printf 'mfd_a_um\tmfd_b_um\tmismatch_db\toffset_db\ttilt_db\tgap_db\tjoint_db\t' >in.tsv
	printf 'seen_ab_db\tseen_ba_db\tleast_ab_db\tmost_ab_db\tleast_ba_db\tmost_ba_db\tworst_db\n' >>in.tsv
	printf '\t9\t1\t2\t3\t4\t5\t6\t7\t8\t9\t10\t11\t12\n9\t\t1\t2\t3\t4\t5\t6\t7\t8\t9\t10\t11\t12\n\t\t\t\t\t\t\t\t\t\t\t\t\t8\n' >>in.tsv
	gives 0 in.tsv
	says "mfd_a_um	mfd_b_um	$made" '	9												' '9													' '													'
	printf 'mfd_a_um\tmfd_b_um\n\t9\n9\t9\n' >in.tsv
	gives 0 --offset 1 in.tsv
	says "mfd_a_um	mfd_b_um	$made" '	9												' \
		'9	9	0.0000	0.2145	0.0000	0.0000	0.2145	0.2145	0.2145					'
}

@test "a field is judged even where its row cannot be computed for want of an MFD" {
	printf 'mfd_a_um\tmfd_b_um\toffset_um\n\t9\t0,5\n' >in.tsv
	trouble "in.tsv:2: column 'offset_um': decimal comma: write a point: '0,5'" in.tsv
}

@test "-c: COLUMN is read where the page says NAME" {
	printf 'left\tmfd_a_um\tright\tloss_nm\n9.2\t5\t8.6\t1550\n9.2\t5\t10.4\t\n' >in.tsv
	gives 0 -c mfd_a_um=left -c mfd_b_um=right -c wavelength_nm=loss_nm --tilt 1 in.tsv
	has mismatch_db 0.0197 0.0651
	# the second row, whose loss_nm is empty, is at 1310 nm
	has tilt_db 0.2236 0.3781
	gives 0 --column mfd_a_um=right --column=mfd_b_um=left in.tsv
	has seen_ab_db 0.3126 -0.4673
}

@test "-c: a column that is not there, a name that is not read" {
	printf 'left\tmfd_b_um\n9.2\t8.6\n' >in.tsv
	trouble "in.tsv:1: no column 'lft': is it 'left'?" -c mfd_a_um=lft in.tsv
	trouble "--column: no column this program reads: 'joint_db'" -c joint_db=left in.tsv
	trouble "--column: not NAME=COLUMN: 'mfd_a_um'" -c mfd_a_um in.tsv
}

@test "results are written under their own names, never renamed" {
	printf 'x\tmfd_a_um\tmfd_b_um\n1\t9.2\t8.6\n' >in.tsv
	gives 0 -c offset_um=x in.tsv
	[ "${lines[0]}" = "x	mfd_a_um	mfd_b_um	$made" ]
	has x 1
	has offset_db 0.2191
}

# --- what is trouble -----------------------------------------------------------------------------

@test "columns: outside their ranges, and the ends of the ranges inside" {
	while read -r name low_bad low high high_bad range; do
		for good in "$low" "$high"; do
			printf '%s\tnote\n%s\tx\n' "$name" "$good" >in.tsv
			[ "$name" = mfd_a_um ] || set -- -a 9
			gives 0 "$@" -b 9 in.tsv
			grep -q "^$good	x	[0-9]" <<<"$output" || { echo "$name $good: $output"; false; }
		done
		for bad in "$low_bad" "$high_bad"; do
			printf '%s\tnote\n%s\tx\n' "$name" "$bad" >in.tsv
			trouble "in.tsv:2: column '$name': outside $range: '$bad'" "$@" -b 9 in.tsv
		done
	done <<-'END'
		mfd_a_um 0.9 1 50 50.1 1 to 50
		offset_um -0.001 0 50 50.1 0 to 50
		tilt_deg -1 0 10 11 0 to 10
		gap_um -1 0 1000 1001 0 to 1000
		wavelength_nm 599 600 1700 1701 600 to 1700
		index 0.999 1 2 2.001 1 to 2
	END
}

@test "options: outside their ranges, and the ends of the ranges inside" {
	while read -r name low_bad low high high_bad range; do
		gives 0 -a 9 -b 9 "--$name" "$low"
		gives 0 -a 9 -b 9 "--$name=$high"
		for bad in "$low_bad" "$high_bad"; do
			trouble "--$name: outside $range: '$bad'" -a 9 -b 9 "--$name" "$bad"
			[ -z "$output" ]
		done
	done <<-'END'
		offset -0.001 0 50 50.1 0 to 50
		tilt -1 0 10 11 0 to 10
		gap -1 0 1000 1001 0 to 1000
		wavelength 599 600 1700 1701 600 to 1700
		index 0.999 1 2 2.001 1 to 2
	END
	trouble "--tilt: decimal comma: write a point: '0,5'" -a 9 -b 9 --tilt 0,5
	trouble "--gap: number with something behind it: '5um'" -a 9 -b 9 --gap 5um
}

@test "-a and -b: outside 1 to 50" {
	printf 'mfd_a_um\n9\n' >in.tsv
	trouble "-b: outside 1 to 50: '0.9'" -b 0.9 in.tsv
	trouble "-b: outside 1 to 50: '50.1'" -b 50.1 in.tsv
	trouble "-a: outside 1 to 50: '0.9'" -a 0.9 -b 9
	trouble "-b: outside 1 to 50: '50.1'" -a 9 -b 50.1
	trouble "-a: decimal comma: write a point: '9,2'" -a 9,2 -b 9
	trouble "-a: no number: ''" -a '' -b 9
}

@test "what is not wholly a number, with its place" {
	while IFS='|' read -r value what; do
		printf 'mfd_a_um\tmfd_b_um\n9\t9\n%s\t9\n' "$value" >in.tsv
		trouble "in.tsv:3: column 'mfd_a_um': $what: '$value'" in.tsv
		says "mfd_a_um	mfd_b_um	$made" \
			'9	9	0.0000	0.0000	0.0000	0.0000	0.0000	0.0000	0.0000					'
	done <<-'END'
		9,2|decimal comma: write a point
		9.2um|number with something behind it
		 9.2|blank beside the number
		9.2 |blank beside the number
		0x9|hexadecimal number
		nan|not a finite number
		inf|not a finite number
		-|no number
		n.m.|no number
		G.652.D|number with something before it
		 |only blanks
	END
}

@test "a category that does not exist, in a column and as an option" {
	printf 'category_a\tcategory_b\nG.652.D\tG.652.D\nG.652.D\tG.652\n' >in.tsv
	trouble "in.tsv:3: column 'category_b': no such fibre category: is it G.652.B?: 'G.652'" in.tsv
	printf 'mfd_a_um\n9\n' >in.tsv
	trouble "-b: no such fibre category: is it G.652.D?: 'g.652.d'" -b g.652.d in.tsv
	trouble "options:2: column 'category_a': no such fibre category: is it OM3?: 'om3'" -a om3 -b 9
	trouble "-b: no such fibre category: --print-categories lists them: 'standard'" -b standard in.tsv
}

@test "multimode is trouble, in a column and as an option" {
	why='multimode: this model is for single-mode fibre only'
	for name in G.651.1 OM1 OM2 OM3 OM4 OM5; do
		printf 'category_a\tmfd_b_um\n%s\t9\n' $name >in.tsv
		trouble "in.tsv:2: column 'category_a': $why: '$name'" in.tsv
		printf 'mfd_b_um\n9\n' >in.tsv
		trouble "-a: $why: '$name'" -a $name in.tsv
	done
}

@test "only matched step-index categories are carried over to another wavelength" {
	why='the mode-field diameter of this category is not known at this wavelength: give it in um'
	for name in G.653.B G.654.D G.654.E G.655.C G.655.D G.655.E G.656; do
		printf 'category_a\tmfd_b_um\n%s\t9\n' $name >in.tsv
		trouble "in.tsv:2: column 'category_a': $why: '$name'" in.tsv
		gives 0 --wavelength 1550 in.tsv
		trouble "in.tsv:2: column 'category_a': $why: '$name'" --wavelength 1551 in.tsv
	done
	printf 'mfd_b_um\twavelength_nm\n9\t1550\n9\t1310\n' >in.tsv
	trouble "-a: $why: 'G.655.C'" -a G.655.C in.tsv
	[ "${#lines[@]}" -eq 2 ]
	for name in G.652.B G.652.D G.652.D/2009 G.657.A1; do
		gives 0 -a $name -b 9 --wavelength 1310
		gives 0 -a $name -b 9 --wavelength 1550
		gives 0 -a $name -b 9 --wavelength 1625
	done
	# a fibre with a trench is no matched step index
	for name in G.657.A2 G.657.B2 G.657.B3; do
		gives 0 -a $name -b 9 --wavelength 1310
		trouble "options:2: column 'category_a': $why: '$name'" -a $name -b 9 --wavelength 1550
	done
	# V is 1.2 to 3 from 1042.1 to 2605 nm of a cut-off of 1300 nm
	gives 0 -a G.652.D -b 9 --wavelength 1043
	trouble "options:2: column 'category_a': $why: 'G.652.D'" -a G.652.D -b 9 --wavelength 1042
}

@test "a side without any column or option" {
	printf 'joint\tcategory_a\nA-1\tG.652.D\n' >in.tsv
	trouble "in.tsv:1: no column 'mfd_b_um': there are 'joint' 'category_a'" in.tsv
	printf 'MFD_a_um\tmfd_b_um\n9\t9\n' >in.tsv
	trouble "in.tsv:1: no column 'mfd_a_um': is it 'MFD_a_um'?" in.tsv
}

@test "one column is enough of a side, even if it is empty throughout" {
	printf 'category_a\tmfd_b_um\n\t9\n' >in.tsv
	gives 0 in.tsv
	has joint_db ''
}

@test "rows and files that are not a table" {
	printf 'mfd_a_um\tmfd_b_um\n9\n' >in.tsv
	trouble "in.tsv:2: 1 field, 2 expected" in.tsv
	printf 'mfd_a_um\tmfd_b_um\n9\t9\t\n' >in.tsv
	trouble "in.tsv:2: 3 fields, 2 expected: the extra ones are empty" in.tsv
	printf 'mfd_a_um\tmfd_b_um\n9\t9\nmfd_a_um\tmfd_b_um\n' >in.tsv
	trouble "in.tsv:3: the header line stands here again" in.tsv
	printf 'mfd_a_um\tmfd_b_um\tmfd_a_um\n9\t9\t9\n' >in.tsv
	trouble "in.tsv:1: columns 1 and 3 have the same name: 'mfd_a_um'" in.tsv
	trouble "none.tsv: No such file or directory" none.tsv
	: >in.tsv
	trouble "in.tsv: no header line" in.tsv
}

# --- categories ----------------------------------------------------------------------------------

@test "--print-categories is the table that was compiled in, and no input is read" {
	"$exe" --print-categories <&- >out.tsv
	cmp out.tsv "$BATS_TEST_DIRNAME/../lib/fibre/categories.tsv"
	"$exe" --print-categories -a OM3 none.tsv | cmp - out.tsv
}

@test "--categories: the printed table gives the same answers" {
	"$exe" --print-categories >own.tsv
	for name in G.652.D G.657.A1 G.655.C; do
		"$exe" -a $name -b 9 --wavelength 1550 >want.tsv
		"$exe" -a $name -b 9 --wavelength 1550 --categories own.tsv | cmp - want.tsv
	done
}

@test "--categories: one's own in place of the built-in ones" {
	{
		# shellcheck disable=SC2059 # the format is the header
		printf "$own_head"
		printf 'drum 7\tsingle-mode\t1310\t9.0\t9.4\t0.1\tyes\t1250\n'
		printf 'odd\tsingle-mode\t1550\t9.0\t9.4\t0\tno\t\n'
		printf 'half\tsingle-mode\t1310\t9.0\t\t0\tno\t\n'
	} >own.tsv
	gives 0 -a 'drum 7' -b 9.2 --categories own.tsv
	has mismatch_db 0.0000
	# from 8.9 to 9.5: 9.5 and 9.2 lose 0.00446 dB, 8.9 and 9.2 lose 0.00477
	has worst_db 0.0048
	gives 0 -a 'drum 7' -b 'drum 7' --wavelength 1550 --categories own.tsv
	has worst_db 0.0185
	gives 0 -a odd -b 10 --wavelength 1550 --categories own.tsv
	has worst_db 0.0481
	why='no such fibre category: --print-categories lists them'
	trouble "options:2: column 'category_a': $why: 'G.652.D'" \
		-a G.652.D -b 9 --categories own.tsv
	why='the mode-field diameter of this category is not known'
	trouble "options:2: column 'category_a': $why: 'half'" \
		-a half -b 9 --categories own.tsv
}

@test "--categories: carried over from V 1.2 to 3, not beyond" {
	{
		# shellcheck disable=SC2059 # the format is the header
		printf "$own_head"
		printf 'low\tsingle-mode\t1310\t9\t9\t0\tyes\t800\n'
	} >own.tsv
	why='the mode-field diameter of this category is not known at this wavelength: give it in um'
	set -- -a low -b 9 --categories own.tsv
	# V is 2.404826 800 / wavelength
	gives 0 "$@" --wavelength 1603.2
	trouble "options:2: column 'category_a': $why: 'low'" "$@" --wavelength 1603.3
	gives 0 "$@" --wavelength 641.3
	trouble "options:2: column 'category_a': $why: 'low'" "$@" --wavelength 641.2
}

@test "--categories: a table that is wrong is trouble, used or not" {
	row='one\tsingle-mode\t1310\t9\t9\t0\tno\t\n'
	printf 'mfd_a_um\tmfd_b_um\n9\t9\n' >in.tsv
	# shellcheck disable=SC2059 # the formats are table rows
	{
		printf "$own_head$row$row" >twice.tsv
		printf "${own_head}one\tsinglemode\t1310\t9\t9\t0\tno\t\n" >word.tsv
		printf "${own_head}one\tsingle-mode\t1310\t9,0\t9\t0\tno\t\n" >comma.tsv
		printf "${own_head}one\tsingle-mode\t1310\t0.9\t9\t0\tno\t\n" >range.tsv
		printf "${own_head/cutoff_nm/cut_off_nm}$row" >name.tsv
	}
	trouble "twice.tsv:3: column 'category': a second row with this key: 'one'" \
		--categories twice.tsv in.tsv
	trouble "word.tsv:2: column 'fibre': none of: single-mode multimode: 'singlemode'" \
		--categories word.tsv in.tsv
	trouble "comma.tsv:2: column 'mfd_min_um': decimal comma: write a point: '9,0'" \
		--categories comma.tsv in.tsv
	trouble "range.tsv:2: column 'mfd_min_um': outside 1 to 50: '0.9'" \
		--categories range.tsv in.tsv
	trouble "name.tsv:1: no column 'cutoff_nm': is it 'cut_off_nm'?" --categories name.tsv in.tsv
	trouble "none.tsv: No such file or directory" --categories none.tsv in.tsv
	[ -z "$output" ]
}

@test "worst_db is for categories alone, and no less than the joint" {
	gives 0 -a 9.2 -b 8.6 --offset 1 --gap 10
	has worst_db ''
	printf 'offset_um\ttilt_deg\tgap_um\n0\t0\t0\n1\t0\t0\n0\t1\t0\n0\t0\t30\n1\t1\t30\n' >in.tsv
	gives 0 -a G.652.D -b G.657.A1 in.tsv
	has joint_db 0.0000 0.2193 0.3154 0.2022 0.8509
	has worst_db 0.1075 0.3254 0.4170 0.3073 0.9701
}

@test "what may be seen of two categories from either side, the least and the greatest" {
	gives 0 -a G.652.D -b G.652.D
	# 8.2 into 9.6 um: mismatch 0.1075, step 0.6846
	has joint_db 0.0000
	has least_ab_db -0.5771
	has most_ab_db 0.7920
	has least_ba_db -0.5771
	has most_ba_db 0.7920
	# from the small into the large the sides differ
	gives 0 -a G.652.D -b G.654.E --wavelength 1550
	[ "$(awk -F '\t' 'NR == 2 { print ($10 < $8 && $8 < $11 && $12 < $9 && $9 < $13) }' <<<"$output")" = 1 ]
	gives 0 -a 9.2 -b 10.4
	has least_ab_db ''
	has most_ba_db ''
}

@test "editions of a category, where they differ" {
	gives 0 -a G.652.D/2009 -b G.652.D/2009
	has worst_db 0.2339 # 8.0 and 10.1 um
	gives 0 -a G.652.D -b G.652.D
	has worst_db 0.1075 # 8.2 and 9.6 um
}

@test "--by-claddings: both cores as far off centre as the categories allow, in the worst case alone" {
	gives 0 -a G.652.D -b G.657.A1
	plain=$(tail -n 1 <<<"$output" | cut -f 3-9)
	gives 0 -a G.652.D -b G.657.A1 --by-claddings
	[ "$(tail -n 1 <<<"$output" | cut -f 3-9)" = "$plain" ]
	by=$(tail -n 1 <<<"$output" | cut -f 14)
	# 0.6 and 0.5 um: as an offset of 1.1 um
	gives 0 -a G.652.D -b G.657.A1 --offset 1.1
	has worst_db "$by"
	# a table that does not say how far adds nothing
	{
		# shellcheck disable=SC2059 # the format is the header
		printf "$own_head"
		printf 'mine\tsingle-mode\t1310\t8.6\t9.2\t0.4\tno\t\n'
	} >own.tsv
	gives 0 -a mine -b mine --by-claddings --categories own.tsv
	has worst_db 0.1075
}

# --- the model's turns ---------------------------------------------------------------------------

@test "--air: the faces reflect, and light between them bends by less" {
	gives 0 -a 9 -b 9 --index 1.5 --tilt 1
	has tilt_db 0.3467
	has gap_db 0.0000
	gives 0 -a 9 -b 9 --index 1.5 --tilt 1 --air
	# 0.3467 / 1.5^2; 20 log10(1 / (1 - 0.2^2)), 0.2 being (1.5 - 1) / (1.5 + 1)
	has tilt_db 0.1541
	has gap_db 0.3546
	has joint_db 0.5086
}

@test "without a gap the parts add up to the joint" {
	printf 'mfd_a_um\tmfd_b_um\toffset_um\ttilt_deg\n' >in.tsv
	printf '9.2\t8.6\t0.5\t0\n9.2\t8.6\t0\t0.5\n10.4\t8.6\t1.5\t1.2\n3\t9\t1\t3\n' >>in.tsv
	gives 0 in.tsv
	run -0 awk -F '\t' 'NR > 1 { d = $5 + $6 + $7 + $8 - $9; n += d < 0.0002 && d > -0.0002 }
		END { print n }' <<<"$output"
	says 4
}

@test "exchanging the sides exchanges the readings and nothing else" {
	gives 0 -a 9.2 -b 8.6 --offset 0.5 --tilt 0.5
	forth=$(tail -n 1 <<<"$output" | cut -f 3-9)
	gives 0 -a 8.6 -b 9.2 --offset 0.5 --tilt 0.5
	back=$(tail -n 1 <<<"$output" | awk -v FS='\t' -v OFS='\t' '{ print $3, $4, $5, $6, $7, $9, $8 }')
	[ "$forth" = "$back" ]
	[ "$(cut -f 6 <<<"$forth")" != "$(cut -f 7 <<<"$forth")" ]
}

@test "the wavelength does not change mismatch and offset, but tilt and gap" {
	printf 'wavelength_nm\n1310\n1550\n' >in.tsv
	gives 0 -a 9.2 -b 8.6 --offset 0.5 --tilt 0.5 --gap 10 in.tsv
	has mismatch_db 0.0197 0.0197
	has offset_db 0.0548 0.0548
	has tilt_db 0.0786 0.0559
	has gap_db 0.0229 0.0321
}

@test "own categories whose range is none" {
	printf '%b' "$own_head" 'X\tsingle-mode\t1310\t9.2\t8.6\t0.4\tno\t\n' >own.tsv
	trouble "own.tsv:2: column 'mfd_max_um': below mfd_min_um: '8.6'" --categories own.tsv -a X -b 9
	printf '%b' "$own_head" 'X\tsingle-mode\t1310\t2\t3\t1.5\tno\t\n' >own.tsv
	trouble "own.tsv:2: column 'tolerance_um': more than the least MFD has to spare: '1.5'" \
		--categories own.tsv -a X -b 9
}

@test "a side that is nowhere is noticed before anything is written" {
	printf 'x\ty\n1\t2\n' >in.tsv
	run --separate-stderr -2 "$bin/thrum-mfd" -a 9 in.tsv
	[ -z "$output" ]
}
