#!/usr/bin/env bats
# thrum-closure against figures that others have published.

bats_require_minimum_version 1.5.0

setup() {
	export LC_ALL=C
	closure=${THRUM_BIN:-$BATS_TEST_DIRNAME/../../build/bin}/thrum-closure
	nist=$BATS_TEST_DIRNAME/nist
	cd "$BATS_TEST_TMPDIR" || return
}

# joints: the values on standard input, one a line, as joints of one closure
joints() {
	awk 'BEGIN { print "closure\tx_db" } { print "x\t" $1 }'
}

# value COLUMN OPTION...: this field of the one closure in the table on standard input
value() {
	joints >joints.tsv
	"$closure" --value x_db --limit 0 "${@:2}" joints.tsv | awk -F '\t' -v name="$1" '
		NR == 1 { for (i = 1; i <= NF; i++) if ($i == name) at = i; next }
		{ print $at }'
}

# is COLUMN WANT OPTION...: of the values on standard input
is() {
	local got

	got=$(value "$1" "${@:3}")
	[ "$got" = "$2" ] || { echo "$1: $got, published $2"; false; }
}

# --- mean and standard deviation ---------------------------------------------------------------
# NIST, Statistical Reference Datasets, Univariate Summary Statistics (itl.nist.gov/div898/strd):
# certified sample mean and standard deviation, here to the six decimals that are written.

# numacc WHOLE: WHOLE.2 once, then WHOLE.1 and WHOLE.3 in turn, 1001 values
numacc() {
	awk -v whole="$1" 'BEGIN {
		print whole ".2"
		for (i = 0; i < 500; i++) print whole ".1\n" whole ".3"
	}'
}

@test "NIST NumAcc1: mean 10000002, sd 1" {
	printf '%s\n' 10000001 10000003 10000002 >numbers
	is mean_db 10000002.000000 <numbers
	is sd_db 1.000000 <numbers
}

@test "NIST NumAcc2: mean 1.2, sd 0.1" {
	numacc 1 >numbers
	[ "$(wc -l <numbers)" -eq 1001 ]
	is mean_db 1.200000 <numbers
	is sd_db 0.100000 <numbers
}

@test "NIST NumAcc3: mean 1000000.2, sd 0.1" {
	numacc 1000000 >numbers
	is mean_db 1000000.200000 <numbers
	is sd_db 0.100000 <numbers
}

@test "NIST NumAcc4: mean 10000000.2, sd 0.1" {
	numacc 10000000 >numbers
	is mean_db 10000000.200000 <numbers
	is sd_db 0.100000 <numbers
}

@test "NIST NumAcc4 in another order" {
	numacc 10000000 | sort -r >numbers
	is mean_db 10000000.200000 <numbers
	is sd_db 0.100000 <numbers
}

@test "NIST Mavro: mean 2.001856, sd 0.000429123454003053" {
	[ "$(wc -l <"$nist/mavro.txt")" -eq 50 ]
	is mean_db 2.001856 <"$nist/mavro.txt"
	is sd_db 0.000429 <"$nist/mavro.txt"
	# larger by a power of ten: as many of the certified digits as there are places for
	sed 's/$/e7/' "$nist/mavro.txt" >numbers
	is mean_db 20018560.000000 <numbers
	is sd_db 4291.234540 <numbers
}

@test "NIST Michelso: mean 299.8524, sd 0.0790105478190518" {
	[ "$(wc -l <"$nist/michelso.txt")" -eq 100 ]
	is mean_db 299.852400 <"$nist/michelso.txt"
	is sd_db 0.079011 <"$nist/michelso.txt"
	sed 's/$/e5/' "$nist/michelso.txt" >numbers
	is mean_db 29985240.000000 <numbers
	is sd_db 7901.054782 <numbers
}

@test "NIST Lew: mean -177.435, sd 277.332168044316" {
	[ "$(wc -l <"$nist/lew.txt")" -eq 200 ]
	is mean_db -177.435000 <"$nist/lew.txt"
	is sd_db 277.332168 <"$nist/lew.txt"
	sed 's/$/e5/' "$nist/lew.txt" >numbers
	is mean_db -17743500.000000 <numbers
	is sd_db 27733216.804432 <numbers
}

# --- quantiles ---------------------------------------------------------------------------------
# R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages", American Statistician 50,
# 361 (1996): by definition 7 the quantile p of n values lies at the place 1 + (n - 1) p.

@test "median of 1 to 10 by definition 7: 5.5" {
	seq 10 >numbers
	is median_db 5.500000 <numbers
	is p95_db 9.550000 <numbers
}

@test "twelve losses by definition 7: place 11.45, so 0.11 + 0.45 x 0.08" {
	printf '%s\n' .02 .02 .03 .03 .04 .05 .05 .06 .07 .08 .11 .19 >numbers
	is p95_db 0.146000 <numbers
	is median_db 0.050000 <numbers
}

# --- limits ------------------------------------------------------------------------------------

@test "a fusion splice averaged over both directions may lose 0.1 dB" {
	# construction specification section 27 13 23 (2013-01-14)
	printf '%s\n' 0.05 0.1 0.100001 | joints >joints.tsv
	run -1 "$closure" -c loss_db=x_db joints.tsv
	[ "$(cut -f 4-6 <<<"${lines[1]}")" = "3	2	1" ]
}

@test "a mated connector pair may lose 0.75 dB" {
	# ANSI/TIA-568.3-D, ISO/IEC 11801-1 (from memory)
	printf 'closure\tkind\tloss_db\nx\tconnector\t0.75\nx\tconnector\t0.76\n' >joints.tsv
	run -1 "$closure" joints.tsv
	[ "$(cut -f 4-6 <<<"${lines[1]}")" = "2	1	1" ]
}

@test "any splice may lose 0.3 dB" {
	# ANSI/TIA-568.3-D, ISO/IEC 11801-1 (from memory)
	printf 'closure\tkind\tloss_db\nx\tmechanical\t0.3\nx\tmechanical\t0.31\n' >joints.tsv
	run -1 "$closure" joints.tsv
	[ "$(cut -f 4-6 <<<"${lines[1]}")" = "2	1	1" ]
}
