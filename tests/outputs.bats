#!/usr/bin/env bats
# The outputs of one run: where they may lead, and that all of them are there or none, whatever
# call of the system fails (tests/faults/faults.c).

# shellcheck disable=SC2016,SC2154 # a shell has a $ of its own; run sets stderr
load program

setup() {
	begin thrum-match
	faults=$bin/../tests/faults.so
	night=$BATS_TEST_DIRNAME/night
	# the sanitizers want to be the first library; they may be the second as well
	export ASAN_OPTIONS=verify_asan_link_order=0
}

# job NAME ARGUMENT...: one of the programs on the demonstration network, with these outputs
job() {
	local name=$1

	shift
	case $name in
	match) "$bin/thrum-match" --plan "$samples/plan.tsv" --clock weaver-2=745 "$@" "$night/arcs.tsv" ;;
	import) "$bin/thrum-import" -m "$samples/exports/larkrope.map.tsv" "$@" "$samples/exports/larkrope.csv" ;;
	check) "$bin/thrum-check" --pass "$@" "$night/quoinmere.tsv" ;;
	esac
}

# outputs NAME: its options that name a file to be written, with these files
outputs() {
	case $1 in
	match) echo -o main --findings findings ;;
	import) echo -o main --set-aside aside ;;
	check) echo -o main --set-aside aside --findings findings ;;
	esac
}

# --- where outputs lead ----------------------------------------------------------------------

# refuses_both JOB OPTION NAME OPTION NAME [REST...]: two names of one target, the file x
refuses_both() {
	local before=none after=none

	[ ! -e x ] || before=$(cat x)
	run --separate-stderr -2 job "$@"
	[[ $stderr == *": is written twice at once" || $stderr == *"as well" ]] || { echo "$* $stderr"; false; }
	[ "$(wc -l <<<"$stderr")" -eq 1 ] && [ -z "$output" ]
	[ ! -e x ] || after=$(cat x)
	[ "$before" = "$after" ] && [ -z "$(find . -name '*~')" ]
}

pairs() { # pairs COMMAND...: runs it with each two names of x
	mkdir -p folder
	ln -sfn . here
	ln -sfn x soft
	ln -sfn here/soft softer
	for a in x "$PWD/x"; do
		for b in x ./x here/x folder/../x "$PWD/here/here/x" soft softer ./here/softer; do
			"$@" "$a" "$b"
			"$@" "$b" "$a"
		done
	done
}

two_of_match() { refuses_both match -o "$1" --findings "$2"; }
two_of_import() { refuses_both import -o "$1" --set-aside "$2"; }
two_of_check() {
	refuses_both check -o other --set-aside "$1" --findings "$2"
	refuses_both check -o "$1" --set-aside "$2" --findings other
	refuses_both check -o "$1" --set-aside other --findings "$2"
	refuses_both check --set-aside "$1" --findings "$2"
	[ ! -e other ]
}

@test "two outputs never share one target, by whatever name, be it there or not" {
	for name in match import check; do
		rm -f x
		pairs two_of_$name
		echo old >x
		pairs two_of_$name
		ln -f x hard
		two_of_$name x hard
		two_of_$name here/hard soft
		[ "$(cat hard)" = old ]
	done
}

@test "two outputs never share one standard output, device or descriptor" {
	[ -e /dev/stdout ] && [ -e /dev/fd/1 ]
	for b in - /dev/stdout /dev/fd/1 /proc/self/fd/1; do
		refuses_both match --findings $b
		refuses_both match -o - --findings $b
		refuses_both match -o $b --findings -
		refuses_both import --set-aside $b
		refuses_both check --set-aside x --findings $b
		refuses_both check --set-aside $b
		refuses_both check -o x --set-aside $b --findings -
	done
	[ ! -e x ]
	mkfifo fifo
	cat fifo >/dev/null &
	refuses_both match -o fifo --findings fifo
	wait
	# the redirected file by its name
	echo kept >x
	run -2 sh -c '"$1" --plan "$2" --findings x "$3" >>x 2>/dev/null' sh \
		"$bin/thrum-match" "$samples/plan.tsv" "$night/arcs.tsv"
	[ "$(cat x)" = kept ]
	# nothing is mixed where all is thrown away
	run --separate-stderr -1 job match -o /dev/null --findings /dev/null
	[[ $stderr == *told* ]]
}

@test "names that only look alike are two targets" {
	mkdir folder
	run -1 job match -o x --findings folder/x
	run -1 job match -o folder/y --findings y
	cmp x folder/y
	cmp folder/x y
	run ! cmp -s x y
}

@test "-o /dev/stdout is standard output: what is there already stays" {
	job match -o want || [ $? -eq 1 ]
	for name in /dev/stdout /dev/fd/1 -; do
		echo before >got
		job match -o $name >>got 2>/dev/null || [ $? -eq 1 ]
		echo behind >>got
		cmp got <(echo before; cat want; echo behind)
		{ echo before; job match -o $name || [ $? -eq 1 ]; echo behind; } >got 2>/dev/null
		cmp got <(echo before; cat want; echo behind)
	done
	echo before >got
	job match -o /dev/fd/7 7>>got 2>/dev/null || [ $? -eq 1 ]
	cmp got <(echo before; cat want)
	[ "$(job match -o /dev/stdout 2>/dev/null | cksum)" = "$(cksum <want)" ]
	run --separate-stderr -2 job match -o /dev/fd/77
	[ "$stderr" = "thrum-match: /dev/fd/77: No such file or directory" ] ||
		[ "$stderr" = "thrum-match: /dev/fd/77: Bad file descriptor" ]
}

@test "a target that was deleted gets no other name" {
	job match -o want || [ $? -eq 1 ]
	exec 7<>gone
	rm gone
	job match -o /dev/fd/7 2>/dev/null || [ $? -eq 1 ]
	cmp /dev/fd/7 want
	sleep 60 7>&7 3>&- &
	run --separate-stderr -2 job match -o /proc/$!/fd/7
	kill $!
	[ "$stderr" = "thrum-match: /proc/$!/fd/7: leads to a file without a name" ]
	exec 7>&-
	[ -z "$(find . -name 'gone*' -o -name '*~')" ]
}

@test "the longest names work, and no temporary name cuts a character" {
	for letter in a é 線; do
		name=$letter
		while [ "$(printf %s "$name$letter" | wc -c)" -le 255 ]; do
			name=$name$letter
		done
		for state in absent old; do
			job match -o "$name" --findings "x$letter" 2>/dev/null || [ $? -eq 1 ]
			[ -s "$name" ] || { echo "$state: $name"; false; }
		done
		FAULT="close 2 KILL" FAULT_MARK=mark LD_PRELOAD=$faults job match -o "$name" || true
		[ -z "$(find . -name '*~')" ]
	done
	python3 -c 'import os; [n.decode() for n in os.listdir(b".")]'
	run --separate-stderr -2 job match -o "${name}too long"
	[[ $stderr == *": File name too long" ]]
}

@test "a read-only file is not replaced" {
	echo old >x
	chmod 444 x
	run --separate-stderr -2 job match -o x
	[ "$stderr" = "thrum-match: x: is read-only" ]
	ln -s x soft
	run --separate-stderr -2 job match -o new --findings soft
	[ "$stderr" = "thrum-match: soft: is read-only" ]
	[ "$(cat x)" = old ] && [ ! -e new ]
	chmod 644 x
	run -1 job match -o x
}

@test "mode, owner and group of a replaced file are kept" {
	echo old >x
	chmod 664 x
	[ "$(id -u)" -ne 0 ] || chown 12345:23456 x
	stat -c '%a %u %g' x >before
	run -1 job match -o x
	stat -c '%a %u %g' x | cmp - before
	# where the group cannot be kept, its rights are not given to another one
	FAULT="fchown 1+ 1" LD_PRELOAD=$faults run -1 job match -o x
	[ "$(stat -c %a x)" = 644 ]
}

# --- whole or not at all ---------------------------------------------------------------------

# prepare STATE: the folder as it is before the run: without outputs, or with old ones
prepare() {
	rm -f main aside findings ./*~ mark stdout
	[ "$1" = absent ] || for file in main aside findings; do
		echo "old $file" >$file
	done
}

# generation NAME: old, new or mixed, of the files that this job writes
generation() {
	local file which='' now

	for file in main aside findings; do
		[ -e "../want-$1/$file" ] || continue
		if [ ! -e $file ]; then
			now=absent
		elif cmp -s $file "../want-$1/$file"; then
			now=new
		elif [ "$(cat $file)" = "old $file" ]; then
			now=old
		else
			now=broken
		fi
		[ "${which:-$now}" = $now ] || now=mixed
		which=$now
	done
	echo "$which"
}

# want NAME: a sound run, and its exit status
want() {
	mkdir -p "want-$1" try
	cd "want-$1" || return
	sound=0
	# shellcheck disable=SC2046 # several words
	job "$1" $(outputs "$1") 2>stderr || sound=$?
	[ "$sound" -le 1 ] && [ -s main ]
	cd ../try || return
}

# strike NAME STATE FAULT: one run with a fault; false if it did not happen
strike() {
	local status=0 left

	prepare "$2"
	# shellcheck disable=SC2046
	FAULT=$3 FAULT_MARK=mark LD_PRELOAD=$faults job "$1" $(outputs "$1") 2>stderr || status=$?
	[ -e mark ] || return 1
	struck=$((struck + 1))
	left=$(ls -- *~ 2>/dev/null) || true
	[ -z "$left" ] || [[ $3 == unlink* && $status -ne 2 ]] || echo "$*: left: $left" >>../wrong
	case $status:$(generation "$1") in
	"2:$2") grep -q '^thrum-[a-z]*: ' stderr || echo "$*: without a word" >>../wrong ;;
	"$sound:new") cmp -s stderr "../want-$1/stderr" || echo "$*: says other things" >>../wrong ;;
	"143:$2" | 143:new) [[ $3 == *KILL ]] || echo "$*: ended by a signal" >>../wrong ;;
	*) echo "$*: status $status, files $(generation "$1")" >>../wrong ;;
	esac
}

@test "whatever call fails: all files are new, or all are as they were" {
	for name in match import check; do
		want $name
		for state in absent old; do
			for call in create write fsync close rename link unlink; do
				for what in 5 28 KILL; do # EIO, ENOSPC, a signal just behind it
					struck=0
					for at in $(seq 40); do
						strike $name $state "$call $at $what" || break
					done
					# all but link and unlink come with every output
					[[ $call == *link || $struck -ge 2 ]] || echo "$name $call: $struck" >>../wrong
				done
			done
		done
		cd ..
	done
	[ ! -e wrong ] || { cat wrong; false; }
}

@test "the same where there are no hard links, and with writes that take little or nothing" {
	for name in match check; do
		want $name
		for state in absent old; do
			struck=0
			strike $name $state "link 1+ 1"
			[ "$(generation $name)" = new ]
			for at in $(seq 20); do
				strike $name $state "link 1+ 1;rename $at 5" || break
			done
			strike $name $state "write 1 SHORT"
			[ "$(generation $name)" = new ]
			strike $name $state "write 1 0"
			[ "$(generation $name)" = $state ]
			grep -q ': Input/output error$' stderr
		done
		cd ..
	done
	[ ! -e wrong ] || { cat wrong; false; }
}

@test "what cannot be put back is named" {
	want check
	prepare old
	# shellcheck disable=SC2046
	FAULT="rename 2+ 5" FAULT_MARK=mark LD_PRELOAD=$faults run --separate-stderr -2 job check $(outputs check)
	[[ $stderr == "thrum-check: "*": Input/output error; "*" could not be put back: the old file is "* ]]
	cat "${stderr##*the old file is }"
	[[ $(cat "${stderr##*the old file is }") == "old "* ]]
}

@test "standard output that fails leaves no file, and is written before any file has its name" {
	want match
	for state in absent old; do
		for fault in "write 1 28" "close 1 5" "close 2 5"; do
			prepare $state
			FAULT=$fault FAULT_MARK=mark LD_PRELOAD=$faults run -2 job match --findings findings >stdout
			[ -e mark ] && [ -z "$(ls -- *~ 2>/dev/null)" ]
			[ $state = absent ] && [ ! -e findings ] || [ "$(cat findings)" = "old findings" ]
		done
		prepare $state
		run -2 sh -c '"$1" --plan "$2" --findings findings "$3" >/dev/full' sh \
			"$bin/thrum-match" "$samples/plan.tsv" "$night/arcs.tsv"
		[ $state = absent ] && [ ! -e findings ] || [ "$(cat findings)" = "old findings" ]
	done
	# all is on the disk, and standard output written, when the first rename comes
	prepare old
	FAULT_LOG=log LD_PRELOAD=$faults run -1 job match --findings findings -o main
	[ "$(grep '^write\|^fsync\|^rename\|^close' log | uniq | paste -sd ' ')" = \
		"write fsync close write fsync close rename fsync" ]
	prepare old
	FAULT_LOG=log.stdout LD_PRELOAD=$faults job match --findings findings >stdout 2>stderr || [ $? -eq 1 ]
	[ "$(grep '^write\|^fsync\|^rename\|^close' log.stdout | uniq | paste -sd ' ')" = \
		"write fsync close write close rename fsync" ]
}

# --- names of files --------------------------------------------------------------------------

@test "names of files with TAB, line end or bad bytes break no table" {
	odd=$'a\tb\nc\001\xff.csv'
	shown='a\x09b\x0ac\x01\xff.csv'
	cp "$samples/exports/larkrope.csv" "$odd"
	{ cat "$samples/exports/larkrope.map.tsv" && printf 'column\tfile\t#file\t\t\t\t\t\t\t\t\n'; } >map
	"$bin/thrum-import" -m map --set-aside aside -o main "$odd" || [ $? -eq 1 ]
	[ "$(awk -F '\t' 'NR > 1 { print $1 }' aside | sort -u)" = "$shown" ]
	[ "$(awk -F '\t' '{ print NF }' aside | sort -u)" = 5 ]
	[ "$(awk -F '\t' 'NR > 1 { print $NF }' main | sort -u)" = "$shown" ]
	"$bin/thrum-check" -o /dev/null main || [ $? -eq 1 ]
	cp "$samples/night1.tsv" "$odd"
	"$bin/thrum-pack" -o "$odd.gz" "$odd"
	[ "$("$bin/thrum-unpack" --list "$odd.gz" | sed 1d | cut -f 1)" = "$shown.gz" ]
	"$bin/thrum-unpack" --list "$odd.gz" | awk -F '\t' 'NF != 13 { exit 1 }'
}

@test "names of files with control bytes are escaped in messages" {
	for p in mfd budget check closure match import pack unpack; do
		args=()
		[ $p != match ] || args=(--plan "$samples/plan.tsv")
		[ $p != import ] || args=(-m "$samples/exports/quoinmere.map.tsv")
		run --separate-stderr -2 "$bin/thrum-$p" "${args[@]}" $'no\033[2J\nfile'
		[ "${#stderr_lines[@]}" -eq 1 ]
		[[ $stderr != *$'\033'* ]]
	done
	run --separate-stderr -2 "$bin/thrum-check" $'no\033[2J\nfile'
	[ "$stderr" = 'thrum-check: no\x1b[2J\x0afile: No such file or directory' ]
	run --separate-stderr -2 "$bin/thrum-check" -o $'no\033\n/file' "$night/quoinmere.tsv"
	[ "$stderr" = 'thrum-check: no\x1b\x0a/file: No such file or directory' ]
}
