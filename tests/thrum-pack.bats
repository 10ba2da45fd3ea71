#!/usr/bin/env bats
# thrum-pack as a program. The format's bytes are held fast by unit/test_pack.c, what other programs
# make of a pack by published/pack.bats.

# shellcheck disable=SC2016,SC2154 # awk has a $ of its own; run sets stderr
load program

setup() {
	begin thrum-pack
	pack=$exe
	unpack=$bin/thrum-unpack
	night=$samples/night1.tsv
}

# large: a table of some megabytes, of many blocks
large() {
	awk 'BEGIN {
		print "joint\tclosure\ttray\test_db"
		for (i = 0; i < 60000; i++)
			printf "J%06d\tC%04d\t%d\t0.%02d\n", i, i / 37, i % 12, i * i % 100
	}'
}

@test "a night goes in and comes back" {
	"$pack" -o night.tsv.gz "$night"
	"$unpack" -o night.tsv night.tsv.gz
	cmp night.tsv "$night"
	[ "$(stat -c %s night.tsv.gz)" -lt $(($(stat -c %s night.tsv) / 4)) ]
}

@test "the same bytes for any number of threads, from a file or a pipe, in any locale" {
	large >in.tsv
	"$pack" --threads 1 in.tsv >1.gz
	for n in 2 3 7 16; do
		"$pack" --threads "$n" in.tsv | cmp - 1.gz
	done
	"$pack" <in.tsv | cmp - 1.gz
	cat in.tsv | LC_ALL=C.UTF-8 TZ=XYZ-13 "$pack" - | cmp - 1.gz
	touch -d 2001-01-01 in.tsv
	"$pack" -o 2.gz in.tsv
	cmp 1.gz 2.gz
}

@test "byte-order mark, CRLF, blank lines at the end, no last newline: the same pack" {
	head -n 5 "$night" >good.tsv
	"$pack" good.tsv >good.gz
	{ printf '\357\273\277'; cat good.tsv; } >in.tsv
	"$pack" in.tsv | cmp - good.gz
	sed 's/$/\r/' good.tsv | "$pack" | cmp - good.gz
	{ cat good.tsv; printf '\n\n'; } | "$pack" | cmp - good.gz
	head -c -1 good.tsv | "$pack" | cmp - good.gz
}

@test "several files are one table, their columns in the order of the first" {
	printf 'joint\tclosure\nJ1\tC1\n' >1.tsv
	printf 'closure\tjoint\nC2\tJ2\n' >2.tsv
	"$pack" 1.tsv 2.tsv -o both.gz
	run -0 "$unpack" both.gz
	[ "$output" = $'joint\tclosure\nJ1\tC1\nJ2\tC2' ]
	run -0 "$unpack" --where closure=C2 both.gz
	[ "$output" = $'joint\tclosure\nJ2\tC2' ]
	printf 'joint\nJ3\n' >3.tsv
	run --separate-stderr -2 "$pack" 1.tsv 3.tsv
	[ "$stderr" = "thrum-pack: 3.tsv:1: lacks a column that 1.tsv has: 'closure'" ]
	[ -z "$output" ]
}

@test "a header alone, a table of one empty column" {
	printf 'joint\tclosure\n' >in.tsv
	"$pack" in.tsv | "$unpack" | cmp - in.tsv
	run -0 sh -c '"$1" in.tsv | "$2" --list - | cut -f 6,7' sh "$pack" "$unpack"
	[ "$output" = $'rows\tblocks\n0\t0' ]
}

@test "a field of 20 MB" {
	{ printf 'joint\tnote\nJ1\t'; head -c 20000000 /dev/zero | tr '\0' x; echo; } >in.tsv
	"$pack" in.tsv -o 1.gz
	"$unpack" 1.gz | cmp - in.tsv
	"$unpack" --where joint=J1 1.gz | cmp - in.tsv
}

@test "higher levels pack smaller" {
	cp "$night" in.tsv
	"$pack" --level 1 in.tsv >1.gz
	"$pack" in.tsv >6.gz
	"$pack" --level 9 in.tsv >9.gz
	[ "$(stat -c %s 6.gz)" -lt "$(stat -c %s 1.gz)" ]
	[ "$(stat -c %s 9.gz)" -lt "$(stat -c %s 6.gz)" ]
	"$unpack" 9.gz | cmp - in.tsv
	"$unpack" 1.gz | cmp - in.tsv
}

@test "the key: closure if it is there, what --key names, none" {
	list() { "$pack" "$@" | "$unpack" --list | awk -F '\t' 'NR == 2 { print $9 }'; }
	[ "$(list "$night")" = closure ]
	[ "$(list --key joint,cable_a "$night")" = joint,cable_a ]
	[ "$(list --key tray --key slot "$night")" = tray,slot ]
	[ "$(list -c closure=tray "$night")" = tray ]
	printf 'joint\nJ1\n' >in.tsv
	[ "$(list in.tsv)" = "" ]
}

@test "keys that cannot be" {
	printf 'joint\tclosure\nJ1\tC1\n' >in.tsv
	refused_wholly "in.tsv:1: no column 'closur': is it 'closure'?" --key closur in.tsv
	refused_wholly "--key: named twice: 'joint'" --key joint,joint in.tsv
	seq -s "$(printf '\t')" 17 >many.tsv
	refused_wholly "--key: more than 16 columns" --key "$(seq -s , 17)" many.tsv
}

@test "name, night and maker are kept" {
	"$pack" --name 'joints, all' --night 2026-03-11 --by 'Tamsel & crew' "$night" >1.gz
	run -0 "$unpack" --list 1.gz
	[ "$(cut -f 10-12 <<<"${lines[1]}")" = $'joints, all\t2026-03-11\tTamsel & crew' ]
	refused_wholly "--night: not a date such as 2026-03-11: '11.03.2026'" --night 11.03.2026 "$night"
	refused_wholly "--night: not a date such as 2026-03-11: '2026-03-11T10:00'" \
		--night 2026-03-11T10:00 "$night"
	refused_wholly "--by: control character: 'a\\x09b'" --by "$(printf 'a\tb')" "$night"
	refused_wholly "--name: not UTF-8: '\xff'" --name "$(printf '\377')" "$night"
}

@test "only good tables are packed" {
	printf 'joint\tclosure\nJ1\tC1\nJ2\n' >short.tsv
	run --separate-stderr -2 "$pack" -o out.gz short.tsv
	[[ $stderr == "thrum-pack: short.tsv:3: "* ]] && [ ! -e out.gz ]
	printf 'joint\njoint\n' >twice.tsv
	run --separate-stderr -2 "$pack" -o out.gz twice.tsv
	[[ $stderr == "thrum-pack: twice.tsv:2: "* ]] && [ ! -e out.gz ]
	run --separate-stderr -2 "$pack" -o out.gz missing.tsv
	[[ $stderr == "thrum-pack: missing.tsv: "* ]] && [ ! -e out.gz ]
	"$pack" "$night" >packed.gz
	run --separate-stderr -2 "$pack" packed.gz
	[[ $stderr == "thrum-pack: packed.gz: compressed (gzip), not a table"* ]]
}

# on_terminal COMMAND...: its standard output is a terminal; prints its exit status and what it said
on_terminal() {
	python3 -c '
import os, pty, sys
pid, fd = pty.fork()
if pid == 0:
    os.execv(sys.argv[1], sys.argv[1:])
said = b""
try:
    while True:
        got = os.read(fd, 1000)
        if not got:
            break
        said += got
except OSError:
    pass
print(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), said.decode(errors="replace").strip())
' "$@"
}

@test "a terminal gets no pack, by whatever name" {
	for name in "" "-o -" "-o /dev/stdout" "-o /dev/tty"; do
		# shellcheck disable=SC2086 # a name is two words, or none
		run -0 on_terminal "$pack" $name "$night"
		says "2 thrum-pack: a pack is not for the terminal: name a file with -o, or redirect"
	done
	run -0 on_terminal "$pack" -o /dev/null "$night"
	says "0 "
	run -0 on_terminal "$pack" -o night.gz "$night"
	says "0 "
	"$unpack" night.gz | cmp - "$night"
	mkfifo fifo
	cat fifo >from.gz &
	"$pack" -o fifo "$night"
	wait
	cmp from.gz night.gz
}

@test "output that cannot be written is trouble" {
	large >in.tsv
	run --separate-stderr -2 "$pack" -o /dev/full in.tsv
	[ "$stderr" = "thrum-pack: /dev/full: No space left on device" ]
	run --separate-stderr -2 sh -c '"$1" in.tsv >/dev/full' sh "$pack"
	[ "$stderr" = "thrum-pack: standard output: No space left on device" ]
	run --separate-stderr -2 sh -c '"$1" in.tsv >&-' sh "$pack"
	[[ $stderr == "thrum-pack: standard output: "* ]]
	run --separate-stderr -2 "$pack" -o in.tsv in.tsv
	[ "$stderr" = "thrum-pack: in.tsv: is read and written at once" ]
	large | cmp - in.tsv
}

# killed_often COMMAND...: it writes out, in place of the file old; new is what it writes if it may.
# The moments are spread over the time it takes, and a little more; on a machine that has become
# slower meanwhile, later ones follow until it was done before it was killed, and on one that has become
# faster the first is at once.
killed_often() {
	local begun moment i=0 seen_old='' seen_new=''

	begun=$(date +%s%N)
	"$@" -o new
	moment=$((($(date +%s%N) - begun) / 1000 / 16)) # microseconds
	while [ $i -le 24 ] || { [ -z "$seen_new" ] && [ $i -le 10000 ]; }; do
		cp old out
		"$@" -o out &
		[ $i -eq 0 ] || sleep "$(awk -v us=$((i * moment)) 'BEGIN { print us / 1e6 }')"
		kill -KILL $! 2>/dev/null || true
		wait $! 2>/dev/null || true
		if cmp -s out old; then
			seen_old=yes
		else
			cmp out new
			seen_new=yes
		fi
		i=$((i < 24 ? i + 1 : i * 2))
	done
	echo "old: $seen_old new: $seen_new"
	[ "$seen_old$seen_new" = yesyes ]
}

@test "killed at any moment, -o leaves the old file or the new one, never half" {
	large >in.tsv
	echo old >old
	killed_often "$pack" --level 1 in.tsv
	for i in $(seq 12); do
		cat new
	done >in.gz
	killed_often "$unpack" in.gz
}

@test "a signal removes what is unfinished" {
	large >in.tsv
	"$pack" --level 9 -o out.gz in.tsv &
	sleep 0.02
	kill -TERM $!
	wait $! || true
	[ ! -e out.gz ] && [ -z "$(ls out.gz* 2>/dev/null)" ]
}

@test "a night is appended as the page shows it" {
	sed -n '/^\.Ss How to append/,/^\.Ss /p' "$BATS_TEST_DIRNAME/../man/thrum-pack.5" |
		sed -n '/^\.Bd/,/^\.Ed/{/^\./d;p;}' >append.sh
	[ "$(wc -l <append.sh)" -eq 5 ]
	"$pack" -o years.tsv.gz "$night"
	{ head -n 1 "$night"; tail -n 3 "$night"; } | "$pack" -o night.tsv.gz
	PATH=$bin:$PATH sh append.sh
	[ ! -e years.new ]
	"$unpack" years.tsv.gz | cmp - <(cat "$night"; tail -n 3 "$night")
	# a night that was cut, or joined already, is not taken
	cp years.tsv.gz before.gz
	cp night.tsv.gz whole.gz
	head -c 300 whole.gz >night.tsv.gz
	PATH=$bin:$PATH run -1 sh append.sh
	cp whole.gz night.tsv.gz
	PATH=$bin:$PATH run -1 sh append.sh
	cmp years.tsv.gz before.gz
}

@test "names that could upset a terminal, and header rows too long, are not packed" {
	printf 'joint\ta\001b\nJ1\t2\n' >in.tsv
	refused_wholly "in.tsv:1: a control character in a column's name" in.tsv
	awk 'BEGIN { printf "k"; for (i = 0; i < 150000; i++) printf "\tc%06d", i; print "" }' >wide.tsv
	refused_wholly "the header row is longer than a pack can hold: 1200002 bytes" wide.tsv
}

@test "an export is not packed as if it were a table" {
	echo 'joint,closure' >in.csv
	refused_wholly 'in.csv:1: not a table of TABs: only one column: is the delimiter not TAB? thrum-import reads such files' in.csv
	printf '"joint"\t"closure"\n' >in.csv
	refused_wholly 'in.csv:1: not a table of TABs: the names stand in quotes; thrum-import reads quoted files' in.csv
	printf 'joint\nJ1\n' | "$pack" >out.gz
	[ "$("$unpack" out.gz)" = $'joint\nJ1' ]
}
