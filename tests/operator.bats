#!/usr/bin/env bats
# samples/operator.sh: regions on several processors and machines give what one run over all of them gives.
# shellcheck disable=SC2154 # run sets stderr

bats_require_minimum_version 1.5.0

setup() {
	bin=$(cd "${THRUM_BIN:-$BATS_TEST_DIRNAME/../build/bin}" && pwd)
	samples=$(cd "$BATS_TEST_DIRNAME/../samples" && pwd)
	PATH=$bin:$PATH
	cd "$BATS_TEST_TMPDIR" || return
	needs parallel
	regions 6
}

teardown() {
	for server in server.*; do
		[ ! -e "$server" ] || fell "$(cat "$server")"
	done
}

# Without these commands a test is skipped; where THRUM_SSH is set, as in .ci/run, it fails.
needs() {
	for command; do
		command -v "$command" >/dev/null && continue
		[ -z "${THRUM_SSH:-}" ] || { echo "no $command"; return 1; }
		skip "no $command"
	done
}

# regions N: so many folders r1, r2 ... of three closures each and four jointers in all, some with a plan,
# one with links; and want/, what one run over all of them says
regions() {
	mkdir want
	for n in $(seq "$1"); do
		mkdir "r$n"
		awk -v region="$n" 'BEGIN {
			srand(region)
			OFS = "\t"
			print "joint", "attempt", "stands", "closure", "tray", "slot", "kind", "est_db", "tension", "protector", "jointer", "made_at"
			for (i = 1; i <= 108; i++)
				for (attempt = 1 + 0 * (again = rand() < 0.1); attempt <= 1 + again; attempt++)
					print region "-" i, attempt, attempt == 2 ? "yes" : again ? "no" : "yes", \
						"C-" region "-" int((i + 35) / 36), int((i - 1) % 36 / 12) + 1, (i - 1) % 12 + 1, "fusion", \
						int(rand() * 110) / 1000, rand() < 0.01 ? "fail" : "pass", "pass", \
						substr("TamselWenlo IrrickOda   ", 6 * int(4 * rand()) + 1, 6), \
						"2026-03-1" attempt "T22:" int(10 + i / 3) ":00Z"
		}' | tr -d ' ' >joints
		thrum-pack -o "r$n/joints.gz" joints
		thrum-unpack -o "want/r$n.tsv" "r$n/joints.gz"
	done
	cp "$samples/links.tsv" "$samples/tests.tsv" r2
	cp "$BATS_TEST_DIRNAME/night/elements.tsv" r2
	cd want || return
	set -- $(seq -f 'r%g.tsv' "$1")
	run -1 thrum-check -o findings.tsv "$@"
	run -1 thrum-closure --accept estimate --faults findings.tsv -o closures.tsv "$@"
	run -1 thrum-closure --by jointer --accept estimate --faults findings.tsv -o jointers.tsv "$@"
	run thrum-budget --wavelength 1550 --links ../r2/links.tsv --tests ../r2/tests.tsv -o budgets.tsv ../r2/elements.tsv
	rm "$@"
	cd ..
}

# same: the tables are those of one run, and nothing else is left
same() {
	for table in want/*; do
		cmp "$table" "out/${table#want/}"
	done
	[ "$(cd out && echo *)" = "budgets.tsv closures.tsv done findings.tsv joblog jointers.tsv regions" ] || { ls out; false; }
}

# A thrum-unpack that takes a second, so that there is a middle to be ended in.
slowly() {
	mkdir slow
	printf '#!/bin/sh\nsleep 1\nexec %s/thrum-unpack "$@"\n' "$bin" >slow/thrum-unpack
	chmod +x slow/thrum-unpack
	PATH=$PWD/slow:$PATH
}

# until_done N: waits until so many regions are
until_done() {
	for _ in $(seq 300); do
		[ "$(find out/done -maxdepth 1 -mindepth 1 2>/dev/null | wc -l)" -lt "$1" ] || return 0
		sleep 0.1
	done
	echo "nothing gets done"
	return 1
}

# fell PID: ends a process and all that come from it
fell() {
	for child in $(ps -o pid= --ppid "$1"); do
		fell "$child"
	done
	kill -KILL "$1" 2>/dev/null || :
}

@test "over processors: the tables of one run over all regions, byte for byte" {
	run -1 "$samples/operator.sh" out r1 r2 r3 r4 r5 r6
	same
	run -2 --separate-stderr "$samples/operator.sh" out r1 r2
	[[ $stderr = *"out: begun with other regions: take another folder" ]]
}

@test "a region that fails is named, no table is written; mended, it alone is done again" {
	cp r3/joints.gz sound
	head -c 300 sound >r3/joints.gz
	run -2 --separate-stderr "$samples/operator.sh" out r1 r2 r3 r4 r5 r6
	[[ $stderr = *"operator.sh: r3: has failed" ]]
	[ "$(cd out && echo *)" = "done joblog regions" ]
	touch -d 2026-01-01 out/done/*
	cp sound r3/joints.gz
	run -1 "$samples/operator.sh" out r1 r2 r3 r4 r5 r6
	same
	[ "$(find out/done -maxdepth 1 -mindepth 1 -newermt 2026-01-02)" = out/done/3 ]
}

@test "a joint that two regions have is told, no table is written" {
	thrum-unpack r1/joints.gz | head -n 2 | thrum-pack >copy
	cat copy >>r3/joints.gz
	run -2 --separate-stderr "$samples/operator.sh" out r1 r2 r3
	[[ $stderr = *"this joint is in a table before as well: '1-1'"* ]] || { echo "$stderr"; false; }
	[ "$(cd out && echo *)" = "done joblog regions" ] || { ls out; false; }
}

@test "ended in the middle and started again: nothing is lost, what was done stays done" {
	slowly
	setsid "$samples/operator.sh" out r1 r2 r3 r4 r5 r6 3>&- &
	until_done 2
	fell $!
	[ ! -e out/closures.tsv ]
	touch -d 2026-01-01 out/done/*
	run -1 "$samples/operator.sh" out r1 r2 r3 r4 r5 r6
	[ -n "$(find out/done -maxdepth 1 -mindepth 1 ! -newermt 2026-01-02)" ]
	rm -rf out/work.*
	same
}

# server NAME PORT: a machine of this name, by ssh; SHLVL keeps bash from reading what its user has for
# terminals
server() {
	ssh-keygen -q -t ed25519 -N '' -f "host.$1"
	cat >"sshd.$1" <<-END
		ListenAddress 127.0.0.1:$2
		HostKey $PWD/host.$1
		AuthorizedKeysFile $PWD/user.pub
		PidFile none
		UsePAM no
		StrictModes no
		PermitRootLogin yes
		PasswordAuthentication no
		MaxStartups 100
		SetEnv SHLVL=2
	END
	"$(command -v sshd || echo /usr/sbin/sshd)" -D -f "$PWD/sshd.$1" -E "$PWD/sshd.$1.log" 3>&- &
	echo $! >"server.$1"
	cat >>config <<-END
		Host $1
		HostName 127.0.0.1
		Port $2
		IdentityFile $PWD/user
		UserKnownHostsFile $PWD/known
		StrictHostKeyChecking accept-new
		LogLevel ERROR
		ConnectTimeout 5
		ServerAliveInterval 1
		ServerAliveCountMax 3
	END
	for _ in $(seq 50); do
		timeout 5 ssh -n -F config "$1" true 2>/dev/null 3>&- && return
		sleep 0.1
	done
	cat "sshd.$1.log"
	return 1
}

@test "over two machines, one of which dies in the middle: the tables of one run" {
	[ -x /usr/sbin/sshd ] || needs sshd
	needs ssh ssh-keygen
	mkdir -p /run/sshd 2>/dev/null || :
	ssh-keygen -q -t ed25519 -N '' -f user
	port=$((20000 + $$ % 20000))
	server one $port
	server two $((port + 1))
	printf '1/ssh -F %s/config %s\n' "$PWD" one "$PWD" two >logins
	slowly
	"$samples/operator.sh" -l logins out r1 r2 r3 r4 r5 r6 2>said 3>&- &
	operator=$!
	until_done 2
	fell "$(cat server.two)"
	status=0
	wait $operator || status=$?
	[ $status -eq 1 ] || { cat said; false; }
	rm -rf out/work.*
	same
	# both have worked
	[ "$(tail -n +2 out/joblog | cut -f 2 | sort -u | wc -l)" -eq 2 ] || { cat out/joblog; false; }
}
