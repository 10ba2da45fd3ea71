#!/usr/bin/env bats
# thrum-show: tables for the eye, and parts of them
# shellcheck disable=SC2154 # exe is set by begin

load program

setup() {
	begin thrum-show
	table joints 'closure joint loss_db note' 'C-1 J-1 0.05 fine' 'C-1 J-2 0.5 .' 'C-2 J-3 . a' \
		'C-2 J-4 12 b' 'C-2 J-5 0.050 .'
}

@test "columns by name, their units below, numbers at the point" {
	gives 0 joints
	says 'closure  joint    loss  note' '                    dB' \
		'C-1      J-1     0.05   fine' 'C-1      J-2     0.5' 'C-2      J-3            a' \
		'C-2      J-4    12      b' 'C-2      J-5     0.050'
	gives 0 --columns loss_db,closure --first 1 joints
	says 'loss  closure' '  dB' '0.05  C-1'
	gives 0 --columns joint joints
	[ "${lines[0]}" = joint ] && [ "${lines[1]}" = J-1 ]
	refused "joints:1: no column 'loss': is it 'loss_db'?" --columns loss joints
	refused "--columns: the same column twice: 'joint'" --columns joint,joint joints
}

@test "a part of a table is a table" {
	gives 0 --tsv joints
	[ "$output" = "$(cat joints)" ]
	gives 0 --tsv --columns note,joint --first 2 joints
	says $'note\tjoint' $'fine\tJ-1' $'\tJ-2'
	gives 0 --tsv --first 0 joints
	says $'closure\tjoint\tloss_db\tnote'
	printf 'a\tb\n' >empty
	gives 0 --tsv - <empty
	says $'a\tb'
}

@test "rows by a condition" {
	chosen() { # CONDITION JOINT...
		gives 0 --tsv --columns joint --where "$1" joints
		says joint "${@:2}"
	}
	chosen closure=C-1 J-1 J-2
	chosen closure!=C-1 J-3 J-4 J-5
	chosen loss_db=0.05 J-1 J-5
	chosen loss_db!=0.05 J-2 J-3 J-4
	chosen loss_db= J-3
	chosen 'loss_db<0.5' J-1 J-5
	chosen 'loss_db<=0.5' J-1 J-2 J-5
	chosen 'loss_db>0.5' J-4
	chosen 'loss_db>=0.5' J-2 J-4
	chosen note=nothing
	# of several all must hold; a comma is part of the value
	gives 0 --tsv --columns joint --where 'loss_db>=0.5' --where closure=C-1 joints
	says joint J-2
	gives 0 --tsv --columns joint --where closure=C-1,C-2 --where 'loss_db>0' joints
	says joint
	# dates, whatever the time of day
	table times 'joint made_at' 'A 2026-10-31T23:59:00+01:00' 'B 2026-11-01T00:10:00+01:00' 'C 2026-11-30T22:00' 'D 2026-12-01' 'E .'
	gives 0 --tsv --columns joint --where 'made_at>=2026-11-01' --where 'made_at<=2026-11-30' times
	says joint B C
	gives 0 --tsv --columns joint --where 'made_at<2026-11-01T00:10:00+01:00' times
	says joint A
	refused "--where: no such month: '2026-13-01'" --where 'made_at>2026-13-01' times
	trouble "times:2: column 'joint': not a date: 'A'" --where 'joint>2026-11-01' times
	trouble "joints:2: column 'note': no number: 'fine'" --where 'note>1' joints
	[ -z "$output" ]
	refused "--where: no condition such as verdict=fail or mean_db>0.1: 'loss_db'" --where loss_db joints
	refused "--where: no condition such as verdict=fail or mean_db>0.1: '=3'" --where =3 joints
	refused "--where: decimal comma: write a point: '0,1'" --where 'loss_db>0,1' joints
	refused "joints:1: no column 'loss': is it 'loss_db'?" --where loss=1 joints
	# the head that is shown has its unit below it
	table units 'joint est_um est_db made_at' 'A 1 2 3'
	refused "units:1: no column 'est': is it 'est_db'?" --sort est units
	refused "units:1: no column 'made': is it 'made_at'?" --columns joint,made units
}

@test "in the order of a column: numbers, texts, empty ones; equal ones as they stood" {
	gives 0 --tsv --columns joint --sort loss_db joints
	says joint J-1 J-5 J-2 J-4 J-3
	gives 0 --tsv --columns joint --sort loss_db --reverse joints
	says joint J-4 J-2 J-1 J-5 J-3
	gives 0 --tsv --columns joint --sort loss_db --reverse --first 2 joints
	says joint J-4 J-2
	table odd 'name at' 'a x' 'b 10' 'c 9' 'd -1' 'e .' 'f X'
	gives 0 --tsv --columns name --sort at odd
	says name d c b f a e
	refused "--reverse: only with --sort" --reverse joints
}

@test "what is too wide is cut, or named" {
	table wide 'closure note mean_db' 'a-closure-with-a-long-name a-note-that-is-long-as-well 0.04'
	gives 0 --width 40 wide
	says 'closure           note              mean' '                                      dB' \
		'a-closure-with-…  a-note-that-is-…  0.04'
	gives 0 --width 22 wide
	says 'closure   note' 'a-closu…  a-note-…' 'no room for: mean_db'
	for width in 1 5 20 30 41 80; do
		gives 0 --width "$width" --columns note,closure wide
		[ "$(wc -l <<<"$output")" -ge 2 ]
	done
	gives 0 --width 0 wide
	[ "${lines[2]}" = 'a-closure-with-a-long-name  a-note-that-is-long-as-well  0.04' ]
}

@test "characters take the room they take in a terminal" {
	printf 'name\tnote\n\xe6\xbc\xa2\xe5\xad\x97\tx\ne\xcc\x81a\ty\nabcd\tz\nb\x1b[31m\tw\n' >wide
	gives 0 wide
	says 'name       note' $'\xe6\xbc\xa2\xe5\xad\x97       x' $'e\xcc\x81a         y' \
		'abcd       z' 'b\x1b[31m  w'
	# a control character of two bytes
	printf 'a\nb\xc2\x9b31m\n' >wide
	gives 0 wide
	says a 'b\xc2\x9b31m'
	# nor does a name of a column reach the terminal as it is
	printf 'a\tb\x1b[31m\xff\n1\t2\n' >names
	gives 0 names
	says 'a  b\x1b[31m\xff' '1              2'
	gives 0 --width 1 names
	[[ $output == *'no room for: b\x1b[31m\xff' ]]
}

@test "several files are one table; an order of their own does not matter" {
	table more 'note loss_db joint closure' 'c 1 J-6 C-3'
	gives 0 --tsv --where closure=C-3 joints more
	says $'closure\tjoint\tloss_db\tnote' $'C-3\tJ-6\t1\tc'
}

@test "a table of one column has no blank line and no second header" {
	printf 'a=b\tb<c\n1\t\na=b\t3\n' >t
	for asked in "--columns b<c" "--columns b<c --sort a=b"; do
		# shellcheck disable=SC2086 # words
		run --separate-stderr -2 "$exe" --tsv $asked t
		[ "$stderr" = 'thrum-show: t:2: the only column would make this row a blank line: give the table a second column' ]
	done
	run --separate-stderr -2 "$exe" --tsv --columns a=b t
	[[ $stderr = 'thrum-show: t:3: the only column would make this row the header again'* ]]
	run --separate-stderr -0 "$exe" --tsv --columns b\<c --where 'a=b=a=b' t
	[ "$output" = $'b<c\n3' ]
	run --separate-stderr -0 "$exe" --tsv --columns b\<c --where 'b<c>=3' t
	[ "$output" = $'b<c\n3' ]
	run --separate-stderr -0 "$exe" --columns b\<c t
	run --separate-stderr -2 "$exe" --where 'b<=3' t
	[[ $stderr = *"no column 'b'"* ]]
}

@test "in a terminal, as wide as that is" {
	table wide 'closure note' 'a-closure-with-a-long-name a-note-that-is-long-as-well'
	command -v script >/dev/null || skip "no script(1)"
	run script -qec "stty cols 30; '$exe' wide" /dev/null
	[[ $output == *'a-note-'*'…'* ]]
	[ "$(tr -d '\r' <<<"$output" | awk '{ if (length($0) > most) most = length($0) } END { print most <= 34 }')" = 1 ]
}
