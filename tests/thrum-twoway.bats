#!/usr/bin/env bats
# thrum-twoway: losses from readings of both ends
# shellcheck disable=SC2154 # exe and samples are set by begin

load program

setup() {
	begin thrum-twoway
	table links 'link site_a site_b accept' 'L1 A B .' 'L2 A C one-way'
}

# read_from SITE LINK NM LENGTH KM:LOSS...: a reading from this site, a start at 0
read_from() {
	local site=$1 link=$2 nm=$3 length=$4 point

	shift 4
	[ -s readings ] || table readings 'link from wavelength_nm km kind loss_db'
	{
		printf '%s\t%s\t%s\t0\tstart\t\n' "$link" "$site" "$nm"
		for point; do
			printf '%s\t%s\t%s\t%s\tstep\t%s\n' "$link" "$site" "$nm" "${point%:*}" "${point#*:}"
		done
		printf '%s\t%s\t%s\t%s\tend\t\n' "$link" "$site" "$nm" "$length"
	} >>readings
}

# shows COLUMNS: these columns of what came out
shows() {
	"$bin/thrum-show" --tsv --columns "$1" out | tail -n +2
}

# twoway STATUS ARGUMENT...: runs it on readings
twoway() {
	local want=$1

	shift
	run --separate-stderr "-$want" "$exe" --links links --findings found -o out "$@" readings
}

@test "the mean of both ends is the loss, half their difference the step" {
	# a flash card of a training course: 0.20 dB one way and 0.10 dB the other are 0.15 dB
	read_from A L1 1550 6 1:0.20
	read_from B L1 1550 6 5:0.10
	twoway 0
	[ "$(shows km,loss_db,step_db,basis)" = $'1.000000\t0.150000\t0.050000\ttwo-way' ]
	# computed from a capture of backscatter as 1 / w^2 (D. Marcuse, Bell System Technical Journal 56, 703):
	# fibres of 9.2 and 8.6 um, 0.05 dB; of 10.4 and 9.6 um, 0.03 dB
	rm readings
	read_from A L1 1550 6 1:-0.242894 2:-0.317621
	read_from B L1 1550 6 5:0.342894 4:0.377621
	twoway 0
	[ "$(shows loss_db,mfd_ratio)" = $'0.050000\t0.934783\n0.030000\t0.923077' ]
	# a butt joint of 9.2 and 8.6 um: -20 log10(2 w1 w2 / (w1^2 + w2^2)) = 0.019738 dB
	[ "$(shows mismatch_db,excess_db | head -n 1)" = $'0.019738\t0.030262' ]
}

@test "a joint beside a splitter has no loss of its own: the splitter's is not the joint's" {
	table elements 'link seq km kind ref' 'L2 1 0 connector A:1' 'L2 2 1 fusion F' 'L2 3 1.001 splitter s:1' \
		'L2 4 1.002 fusion T' 'L2 5 3 fusion E' 'L2 6 6 connector C:1'
	table readings 'link from wavelength_nm km kind loss_db dead_m' 'L2 C 1550 0 start . 5' \
		'L2 C 1550 3 step 0.04 5' 'L2 C 1550 4.999 merged 7.3 5' 'L2 C 1550 6 end . 5'
	table joints 'joint loss_nm loss_ab_db loss_ba_db loss_db loss_with accept' 'F . . . . . .' 'T . . . . . .' \
		'E . . . . . .'
	twoway 0 --elements elements --fill joints --filled filled
	[ "$(shows joint,loss_db,loss_with,limit_db)" = $'F\t7.300000\ts:1,T\t
s:1\t7.300000\tF,T\t
T\t7.300000\tF,s:1\t
E\t0.040000\t\t0.100000' ]
	[ "$(awk -F '\t' '$9 == "shared" { print $4 }' found)" = $'F\nT' ]
	[ "$(grep -c 7.3 filled)" -eq 0 ]
	grep -q '^E.1550..0.04' filled
}

@test "a place from b is the length less the distance; the nearest of most pairs" {
	read_from B L1 1550 10 1:0.1 1.006:0.3 9:0.5
	read_from A L1 1550 10.01 1.002:0.5 9.003:0.3 9.01:0.1
	twoway 0
	[ "$(shows loss_db)" = $'0.500000\n0.300000\n0.100000' ]
	shows scale,km | awk '$1 < 1.0008 || $1 > 1.0012 { bad = 1 } END { exit bad }'
}

@test "each end's index is converted to that of site_a" {
	table readings 'link from wavelength_nm km kind loss_db index' 'L1 A 1550 0 start . 1.4680' \
		'L1 A 1550 10 step 0.1 1.4680' 'L1 A 1550 20 end . 1.4680' 'L1 B 1550 0 start . 1.5680' \
		'L1 B 1550 9.3622 step 0.1 1.5680' 'L1 B 1550 18.7245 end . 1.5680'
	twoway 0
	[ "$(shows km,basis)" = $'10.000000\ttwo-way' ]
	sed -i 's/\t1.5680$/\t/' readings
	twoway 1
	[ "$(cut -f 9,11 found | tail -n 1)" = $'length\t20.0000 18.7245' ]
	[ "$(shows km,loss_db,basis)" = $'10.000000\t\tnone\n10.637800\t\tnone' ]
	sed -i 's/1.4680/1.4680/; s/L1\tA\t1550\t20\tend\t\t1.4680/L1\tA\t1550\t20\tend\t\t1.4681/' readings
	run -2 "$exe" --links links readings
	[[ "$output" = *"readings:4: column 'index': not the index of this reading's other rows: '1.4681'"* ]]
}

@test "one end alone: as read, and a loss only where the link accepts it" {
	read_from A L1 1550 6 1:0.20
	read_from A L2 1550 6 1:0.20
	twoway 0
	[ "$(shows link,loss_ab_db,loss_db,basis,limit_db)" = $'L1\t0.200000\t\tone-way\t\nL2\t0.200000\t0.200000\tone-way\t0.100000' ]
	[ "$(cut -f 5,7,9 found)" = $'link\tsite\trule\nL1\tB\tunread' ]
	read_from B L1 1550 6 4:0.20
	twoway 0
	[ "$(cut -f 5,9 found | tail -n +2 | sort | uniq -c | tr -s ' ')" = $' 2 L1\tunpaired' ]
}

@test "the latest of several readings counts; without times none does" {
	table readings 'link from wavelength_nm km kind loss_db tested_at' \
		'L1 A 1550 0 start . 2026-03-12' 'L1 A 1550 1 step 0.9 2026-03-12' 'L1 A 1550 6 end . 2026-03-12' \
		'L1 A 1550 0 start . 2026-03-13' 'L1 A 1550 1 step 0.2 2026-03-13' 'L1 A 1550 6 end . 2026-03-13' \
		'L1 B 1550 0 start . 2026-03-12' 'L1 B 1550 5 step 0.1 2026-03-12' 'L1 B 1550 6 end . 2026-03-12'
	twoway 0
	[ "$(shows loss_db)" = 0.150000 ]
	sed -i 's/2026-03-12$/2026-03-13/' readings
	twoway 1
	[ "$(cut -f 9 found | tail -n +2)" = read-twice ]
	[ "$(shows loss_db,basis)" = $'\tone-way' ]
	# a joint is told why it has no loss: it is not to be read again
	table elements 'link seq km kind ref site reversed category allowance' 'L1 1 0 connector A:1 A . . .' \
		'L1 2 1 fusion J1 K . . .' 'L1 3 6 connector B:1 B . . .'
	twoway 1 --elements elements
	[ "$(cut -f 4,9 found | grep '^J1')" = $'J1\tundated' ]
	sed '/L1\tB/d' readings >one
	mv one readings
	twoway 1 --elements elements
	[ "$(cut -f 4,9 found | grep '^J1')" = $'J1\tundated' ]
}

@test "rows of one reading have one time; else the last row alone would be the reading" {
	table readings 'link from wavelength_nm km kind loss_db tested_at' \
		'L1 A 1550 0 start . 2026-03-12T10:00Z' 'L1 A 1550 1 step 0.9 2026-03-12T10:01Z' 'L1 A 1550 6 end . 2026-03-12T10:02Z' \
		'L1 B 1550 0 start . 2026-03-12' 'L1 B 1550 5 step 0.1 2026-03-12' 'L1 B 1550 6 end . 2026-03-12'
	twoway 1
	[ "$(cut -f 7,9 found | tail -n +2)" = $'A\tread-twice' ]
	grep -q 'one reading has one tested_at' found
}

@test "a reading that is a copy of another one does not count" {
	points=(1:0.051 2:0.062 3:0.073 4:0.084)
	table links 'link site_a site_b' 'L1 A B' 'L3 A B'
	for link in L1 L3; do
		read_from A $link 1550 6 "${points[@]}"
		read_from B $link 1550 6 "${points[@]/%/$((${#link} + ${link#L}))}"
	done
	twoway 1
	[ "$(tail -n +2 found | cut -f 5,7,9-11)" = $'L1\tA\tcopied\terror\tL3 A 1550\nL3\tA\tcopied\terror\tL1 A 1550' ] || { cat found; false; }
	[ "$(shows basis | sort -u)" = one-way ]
	# one more digit is chance; so are losses in hundredths
	sed -i '0,/0.084/s//0.085/' readings
	twoway 0
	sed -i 's/\(0\.0[0-9]\)[0-9]*$/\1/' readings
	twoway 0
	# a wavelength that was copied
	rm readings
	for nm in 1310 1550; do
		read_from A L1 $nm 6 "${points[@]}"
		read_from B L1 $nm 6 5:0.0$((nm % 97)) 2:0.05
	done
	twoway 1
	[ "$(tail -n +2 found | cut -f 6,9 | grep copied)" = $'1310\tcopied\n1550\tcopied' ] || { cat found; false; }
}

@test "what cannot be: a gain, a step, and what bends" {
	read_from A L1 1310 6 1:0.05 2:0.05 3:0.05 4:1.0
	read_from B L1 1310 6 2:-0.8 3:0.05 4:0.05 5:0.05
	read_from A L1 1550 6 1:-0.2 2:0.25 3:0.05 4:0.05
	read_from B L1 1550 6 5:0.05 4:0.25 3:0.05 2:0.05
	twoway 1
	[ "$(cut -f 6,8,9,11 found)" = $'wavelength_nm\tkm\trule\tfound
1310\t4.000000\tstep\t0.900
1550\t1.000000\tnegative\t-0.075
1550\t2.000000\tbend\t0.200' ]
	[ "$(shows wavelength_nm,bend_db | sed -n '1p;6p')" = $'1310\t\n1550\t0.200000' ]
}

@test "read again where the uncertainty reaches the limit" {
	read_from A L1 1550 6 1:0.09 2:0.02 3:0.30
	read_from B L1 1550 6 5:0.09 4:0.02 3:0.30
	twoway 0
	[ "$(shows loss_db,limit_db,read_again)" = $'0.090000\t0.100000\tyes\n0.020000\t0.100000\tno\n0.300000\t0.100000\tno' ]
	twoway 0 --noise 0.008
	[ "$(shows read_again | tr '\n' ' ')" = 'yes no no ' ]
	twoway 0 --noise 0.001 --linearity 0
	[ "$(shows sd_db,read_again | head -n 1)" = $'0.000707\tno' ]
}

elements() {
	table elements 'link seq km kind ref site reversed category' \
		'L1 1 0 connector A:1 A . .' 'L1 2 0 fibre p:1 A no G.652.D' 'L1 3 0.002 fusion J1 A yes .' \
		'L1 4 0.002 fibre k:1 A no G.652.D' 'L1 5 3 fusion J2 M no .' 'L1 6 3 fibre k:1 M no G.652.D' \
		'L1 7 6 connector B:1 B . .'
}

@test "points that cannot be told apart have one loss, and name one another" {
	elements
	table readings 'link from wavelength_nm km kind loss_db pulse_ns' \
		'L1 A 1550 0.5 start 0.4 100' 'L1 A 1550 3.501 step 0.1 100' 'L1 A 1550 6.5 end 0.3 100' \
		'L1 B 1550 0.5 start 0.3 100' 'L1 B 1550 3.5 step 0.1 100' 'L1 B 1550 6.498 step 0.1 100' \
		'L1 B 1550 6.5 end 0.2 100'
	twoway 0 --elements elements
	[ "$(shows joint,loss_ab_db,loss_ba_db,loss_db,basis,loss_with,limit_db)" = $'A:1\t0.400000\t0.300000\t0.350000\tmerged\tJ1\t0.850000
J1\t0.400000\t0.300000\t0.350000\tmerged\tA:1\t0.850000
J2\t0.100000\t0.100000\t0.100000\ttwo-way\t\t0.100000
B:1\t0.300000\t0.300000\t0.300000\ttwo-way\t\t0.750000' ]
	# a cord that is shorter than the dead zone: the panel is not measured, nor the joint behind it
	sed -i 's/\t0\.5\tstart/\t0.005\tstart/; s/3\.501/3.006/; s/6\.5\tend/6.005\tend/; s/3\.5\t/3.005\t/; s/6\.498/6.003/' readings
	twoway 0 --elements elements
	[ "$(shows joint,loss_db | grep -v J2 | cut -f 2 | tr -d '\n')" = "" ]
	[ "$(shows joint,loss_db | grep J2)" = $'J2\t0.100000' ]
	grep -q $'\tcord\t' found
}

@test "a reading without an end gives its points from site_a, and the far panel is not read" {
	elements
	read_from A L1 1550 6 0.002:0.1 3:0.06
	sed -i '/\tend\t/d' readings
	twoway 0 --elements elements
	[ "$(shows joint,loss_ab_db,basis)" = $'J1\t0.100000\tone-way\nJ2\t0.060000\tone-way' ]
}

@test "joints that nobody has read are named, and links" {
	elements
	printf 'L2\t1\t0\tconnector\tA:2\tA\t\t\n' >>elements
	read_from A L1 1550 6 0.002:0.1
	read_from B L1 1550 6 5.998:0.1
	twoway 0 --elements elements
	[ "$(cut -f 4,5,9 found)" = $'joint\tlink\trule\nJ2\tL1\tunread\n\tL2\tunread' ]
}

@test "a point far from where an element is drawn is not that element" {
	# one joint, 2 km from A and 4 km from B; then the two ends exchanged
	table elements 'link seq km kind ref site reversed category allowance' 'L1 1 0 connector A:1 A . . .' \
		'L1 2 2 fusion J1 K . . .' 'L1 3 6 connector B:1 B . . .'
	read_from A L1 1550 6 2.05:0.06
	read_from B L1 1550 6 3.95:0.06
	twoway 0 --elements elements
	[ "$(shows km,joint,loss_db)" = $'2.050000\tJ1\t0.060000' ]
	rm readings
	read_from A L1 1550 6 4:0.06
	read_from B L1 1550 6 2:0.06
	twoway 1 --elements elements
	[ "$(cut -f 5,9,10 found | sed -n 2p)" = $'L1\tends\terror' ]
	[ "$(shows basis,loss_db | sort -u)" = $'none\t' ]
	# neither way: a loss of the fibre itself, small or above what a joint may lose
	rm readings
	read_from A L1 1550 6 3:0.06
	read_from B L1 1550 6 3:0.06
	twoway 0 --elements elements
	[ "$(shows km,joint,loss_db)" = $'3.000000\t\t0.060000' ]
	[ "$(cut -f 4,5,8-10 found | tail -n +2)" = $'J1\tL1\t2.000000\tunread\twarning\n\tL1\t3.000000\tastray\twarning' ]
	sed -i 's/0.06$/0.5/' readings
	twoway 1 --elements elements
	[ "$(cut -f 4,8-11 found | tail -n 1)" = $'\t3.000000\tover\terror\t0.500' ]
	# without elements nobody knows
	twoway 0
	[ "$(wc -l <found)" -eq 1 ]
}

@test "where all is read the order says which is which, though the map is off by more than lies between two" {
	# 10 km drawn as 10.2; the next joint is 300 m on
	table elements 'link seq km kind ref site reversed category allowance' 'L1 1 0 connector A:1 A . . .' \
		'L1 2 10.2 fusion J1 K . . .' 'L1 3 10.5 fusion J2 M . . .' 'L1 4 20.5 connector B:1 B . . .'
	read_from A L1 1550 20.3 10:0.06 10.3:0.4
	read_from B L1 1550 20.3 10:0.4 10.3:0.06
	twoway 0 --elements elements
	[ "$(shows joint,loss_db)" = $'J1\t0.060000\nJ2\t0.400000' ]
	[ "$(wc -l <found)" -eq 1 ]
	# one of them was not read: the nearest counts, and the other is named
	rm readings
	read_from A L1 1550 20.3 10.3:0.4
	read_from B L1 1550 20.3 10:0.4
	twoway 0 --elements elements
	[ "$(cut -f 9 found | sed 1d)" = unread ]
}

@test "a connector above its limit, which no record is judged by" {
	elements
	for nm in 1310 1550; do
		read_from A L1 $nm 6 0.002:0.1 3:0.06
		read_from B L1 $nm 6 3:0.06 5.998:0.1
	done
	sed -i 's/\t0\tstart\t$/\t0\tstart\t1.2/; s/\t6\tend\t$/\t6\tend\t1.2/' readings
	awk -F '\t' -v OFS='\t' 'NR == 1 { print $0, "pulse_ns"; next } { $4 += 0.5; print $0, 5 }' readings >cords
	mv cords readings
	twoway 1 --elements elements
	[ "$(cut -f 4,6,9-11 found | grep over)" = $'A:1\t1310\tover\terror\t1.200\nB:1\t1310\tover\terror\t1.200\nA:1\t1550\tover\terror\t1.200\nB:1\t1550\tover\terror\t1.200' ] || { cat found; false; }
}

@test "a link that ends at a joint from both ends is open there" {
	elements
	read_from A L1 1550 3 0.002:0.1
	read_from B L1 1550 3 2.998:0.1
	twoway 1 --elements elements
	[ "$(cut -f 4,5,7,9-11 found | grep open)" = $'J2\tL1\tM\topen\terror\t3.0000 3.0000' ] || { cat found; false; }
}

@test "a link read with another length than its elements have" {
	elements
	read_from A L1 1550 6000 2:0.1 3000:0.06
	read_from B L1 1550 6000 3000:0.06 5998:0.1
	twoway 1 --elements elements
	grep -q $'length\terror\t6000.0000 6.0000\t' found
	[ "$(shows basis,loss_db | sort -u)" = $'none\t' ]
}

@test "a link that was not read at the wavelength of most" {
	table links 'link site_a site_b' 'L1 A B' 'L2 A B' 'L3 A B'
	for link in L1 L2 L3; do
		for nm in 1310 1550; do
			[ "$link $nm" = 'L2 1550' ] && continue
			read_from A $link $nm 6 3:0.06
			read_from B $link $nm 6 3:0.06
		done
	done
	read_from A L2 1500 6 3:0.06
	read_from B L2 1500 6 3:0.06
	twoway 0
	[ "$(tail -n +2 found | cut -f 5,6,9,10)" = $'L2\t1550\tunread\twarning' ]
}

@test "records are filled, never changed" {
	elements
	table joints 'joint attempt stands loss_nm loss_db note' 'J1 1 no . . a' 'J1 2 yes . . b' 'J2 1 . 1550 0.3 c' 'X 1 . . . d'
	for nm in 1310 1550; do
		read_from A L1 $nm 6 0.002:0.1 3:0.06
		read_from B L1 $nm 6 3:0.08 5.998:0.2
	done
	twoway 1 --elements elements --fill joints --filled filled
	[ "$(cat filled)" = $'joint\tattempt\tstands\tloss_nm\tloss_db\tnote\tloss_ab_db\tloss_ba_db\tloss_with\taccept
J1\t1\tno\t\t\ta\t\t\t\t
J1\t2\tyes\t1310\t0.150000\tb\t0.200000\t0.100000\t\t
J1\t2\tyes\t1550\t0.150000\tb\t0.200000\t0.100000\t\t
J2\t1\t\t1550\t0.3\tc\t0.060000\t0.080000\t\t
J2\t1\t\t1310\t0.070000\tc\t0.060000\t0.080000\t\t
X\t1\t\t\t\td\t\t\t\t' ]
	[ "$(cut -f 2-4,9,11,12 found)" = $'file\tline\tjoint\trule\tfound\twanted\njoints\t4\tJ2\tloss-differs\t0.300\t0.070' ]
	run "$exe" --links links --elements elements --fill filled --filled again -o out readings
	cmp filled again
	refused '--fill and --filled: one needs the other' --links links --fill joints readings
	# a link that accepts one way
	sed -i 's/^L1/L2/' elements
	rm readings
	read_from A L2 1550 6 0.002:0.1
	twoway 0 --elements elements --fill joints --filled filled
	[ "$(sed -n 3p filled)" = $'J1\t2\tyes\t1550\t\tb\t\t0.100000\t\tone-way' ]
}

@test "a reading older than the attempt that stands is not of it" {
	elements
	table joints 'joint attempt stands made_at' 'J1 1 no 2026-03-11T22:00Z' 'J1 2 yes 2026-03-14T22:00Z' \
		'J2 1 yes 2026-03-11T23:00Z'
	read_from A L1 1550 6 0.002:0.1 3:0.06
	read_from B L1 1550 6 3:0.08 5.998:0.2
	mv readings untold
	while read -r tested_at joints rules; do
		awk -v t="$tested_at" '{ print $0 "\t" (NR == 1 ? "tested_at" : t) }' untold >readings
		twoway 0 --elements elements --fill joints --filled filled
		[ "$(awk -F '\t' '$NF != "" || $7 != "" { printf "%s,", $1 }' <(tail -n +2 filled))" = "$joints" ] || { cat filled; false; }
		[ "$(tail -n +2 found | cut -f 4,9 | tr '\t\n' ':;')" = "$rules" ] || { cat found; false; }
	done <<-'END'
		2026-03-13T09:00Z J2, J1:outdated;
		2026-03-13 J2, J1:outdated;
		2026-03-14 J1,J2,
		2026-03-14T21:59Z J2, J1:outdated;
		2026-03-14T21:59 J1,J2,
		2026-03-14T22:00Z J1,J2,
	END
	# where no time is known the shift began on its date, and is later than another one
	table joints 'joint attempt shift note' 'J1 1 2026-03-14 new' 'J1 1 2026-03-11 old' 'J2 1 2026-03-11 .'
	awk '{ print $0 "\t" (NR == 1 ? "tested_at" : "2026-03-13T09:00Z") }' untold >readings
	twoway 0 --elements elements --fill joints --filled filled
	[ "$(tail -n +2 found | cut -f 4,9)" = $'J1\toutdated' ]
	sed -i 's/03-13T/03-15T/' readings
	twoway 0 --elements elements --fill joints --filled filled
	[ "$(cut -f 4- filled | tail -n +2)" = $'new\t1550\t0.200000\t0.100000\t0.150000\t\t
old\t\t\t\t\t\t\n\t1550\t0.060000\t0.080000\t0.070000\t\t' ]
	table joints 'joint attempt stands made_at' 'J1 1 no 2026-03-11T22:00Z' 'J1 2 yes 2026-03-14T22:00Z' \
		'J2 1 yes 2026-03-11T23:00Z'
	# one end read in time, the other before
	awk '{ print $0 "\t" (NR == 1 ? "tested_at" : $2 == "A" ? "2026-03-13" : "2026-03-16") }' untold >readings
	twoway 0 --elements elements --fill joints --filled filled
	[ "$(shows joint,basis | grep J1)" = $'J1\tone-way' ]
	[ "$(cut -f 9 found | sort | uniq -c | tr -s ' \n' ' ')" = " 1 outdated 1 rule 1 unpaired " ] || { cat found; false; }
}

@test "a reading of no link, or of no end of it, is refused" {
	read_from A L9 1550 6 1:0.20
	trouble "readings:2: column 'link': no such link in --links: 'L9'" --links links readings
	rm readings
	read_from C L1 1550 6 1:0.20
	trouble "readings:2: column 'from': neither site_a nor site_b of its link: 'C'" --links links readings
	refused '--links FILE is needed' readings
}

@test "10,000 joints of random links, several disturbances at once" {
	"$BATS_TEST_DIRNAME/readings/lines.py" score "$exe" 1 400 >score
	cat score
	awk '$1 == "joints" { exit $2 < 10000 }' score
	awk '$1 == "mean_error_db" { exit $2 < -0.002 || $2 > 0.002 }' score
	awk '$1 ~ /covered_percent/ && ($2 < 94 || $2 > 97) { bad = 1 } END { exit bad }' score
	awk '$1 == "bends" { exit $4 < 0.99 * $2 }' score
}

@test "a second opinion on 10,000 joints, written from the pages: losses, and causes told" {
	mkdir opinion
	"$BATS_TEST_DIRNAME/readings/second.py" "$bin" opinion 1 620 >score || { cat score; false; }
	awk 'NR == 1 { exit $1 < 10000 }' score
	# each of the causes was planted, and the figures are there
	for what in bend merged mismatch offset one-end read-again two-fibres good 'loss, error' 'step, within 1.96 sd'; do
		grep -q "^| $what | " score
	done
}

@test "points together: whose limits count, what is said of each, and bends read from the same ends" {
	table elements 'link seq km kind ref site category' 'L1 1 0 connector A:1 A .' 'L1 2 0 fibre p:1 A G.652.D' \
		'L1 3 3 fusion J1 M .' 'L1 4 3 fibre k:1 M G.652.D' 'L1 5 3.004 fusion J2 M .' 'L1 6 3.004 fibre q:1 M G.652.D' \
		'L1 7 6 connector B:1 B .'
	# a point between two joints that cannot be told apart: 0.10 + 0.10, not a third
	both() { # LOSS_A LOSS_B
		table readings 'link from wavelength_nm km kind loss_db pulse_ns' 'L1 A 1550 0 start . 100' "L1 A 1550 3.002 step $1 100" \
			'L1 A 1550 6 end . 100' 'L1 B 1550 0 start . 100' "L1 B 1550 2.998 step $2 100" 'L1 B 1550 6 end . 100'
	}
	both 0.25 0.25
	twoway 0 --elements elements
	[ "$(shows joint,limit_db | sort -u | tr '\n' ' ')" = $'\t0.200000 J1\t0.200000 J2\t0.200000 ' ] ||
		[ "$(shows joint,limit_db | sort -u | tr '\n' ' ')" = $'J1\t0.200000 J2\t0.200000 ' ]
	both -0.15 -0.15
	twoway 1 --elements elements
	[ "$(cut -f 4,9 found | grep -c $'^J[12]\tnegative$')" -eq 2 ]
	both 1.0 -0.9
	twoway 1 --elements elements
	grep -q $'\tstep\t' found
	# the plan is 20 m off: both are found all the same
	both 0.1 0.1
	sed -i 's/3\.004/3.024/; s/\t3\tfusion/\t3.022\tfusion/' elements
	twoway 0 --elements elements
	run ! grep -q unread found
	# one end is enough on L2, but a bend is told only where the losses are from the same ends
	rm readings
	read_from A L2 1310 6 1:0.28
	read_from C L2 1310 6 5:-0.20
	read_from A L2 1550 6 1:0.28
	twoway 0
	[ "$(shows wavelength_nm,bend_db | tail -n 1)" = $'1550\t' ]
}
