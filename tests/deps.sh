#!/bin/sh
# Sees to it that what a target needs is there: deps.sh WHAT, where WHAT is build, test, lint, ci or
# bench. On Debian and its kin, as root or by sudo, it installs what is missing, saying so;
# elsewhere it says what is missing and exits 2. DEPS=no: only looks.
#
# deps.sh libraries PROGRAM CC FLAG... -- LIBRARY... only looks, and says what is missing: it makes a
# PROGRAM with all the libraries, wherever these flags find them.
set -eu

# try PROGRAM CC FLAG... -- LIBRARY...
try() {
	program=$1
	shift
	command -v "$1" >/dev/null 2>&1 || return
	for word; do
		shift
		[ "$word" = -- ] || set -- "$@" "$word"
		[ "$word" != -- ] || set -- "$@" -x c "$program.c" -o "$program" -x none
	done
	printf '#include <%s.h>\n' stdlib csv zlib pthread >"$program.c"
	echo 'int main(void) { return 0; }' >>"$program.c"
	"$@" 2>"$program.log"
}

if [ "$1" = libraries ]; then
	shift
	try "$@" && exit 0
	echo "A compiler for C, libcsv and zlib are needed, and this compiler does not find them all: $2" >&2
	DEPS=no "$0" build && tail -n 3 "$1.log" >&2
	echo "On Debian: apt-get install gcc libc6-dev libcsv-dev zlib1g-dev. Libraries in another place:" >&2
	echo "make CPPFLAGS=-I/there/include LDFLAGS=-L/there/lib" >&2
	exit 2
fi

# command or file to look for, and the Debian package that brings it
needs() {
	case $1 in
	build)
		echo "cc gcc"
		echo "/usr/include/stdlib.h libc6-dev"
		echo "/usr/include/csv.h libcsv-dev"
		echo "/usr/include/zlib.h zlib1g-dev"
		;;
	test)
		needs build
		echo "bats bats"
		echo "python3 python3"
		echo "mandoc mandoc"
		echo "localedef libc-bin"
		echo "pigz pigz"
		echo "tabix tabix"
		echo "/usr/include/gsl/gsl_sf_bessel.h libgsl-dev"
		;;
	lint)
		needs test
		echo "clang clang"
		echo "clang-format clang-format"
		echo "clang-tidy clang-tidy"
		echo "cppcheck cppcheck"
		echo "shellcheck shellcheck"
		;;
	ci)
		needs lint
		echo "musl-gcc musl-tools"
		echo "valgrind valgrind"
		echo "chromium chromium"
		echo "xmllint libxml2-utils"
		echo "pdftotext poppler-utils"
		echo "rsvg-convert librsvg2-bin"
		echo "parallel parallel"
		echo "/usr/sbin/sshd openssh-server"
		echo "ssh openssh-client"
		;;
	bench)
		needs build
		echo "mawk mawk"
		echo "datamash datamash"
		echo "pigz pigz"
		echo "tabix tabix"
		echo "sqlite3 sqlite3"
		;;
	*)
		echo "deps.sh: unknown set: '$1'" >&2
		exit 2
		;;
	esac
}

missing=
needs "$1" >/dev/null # an unknown set ends the run here
while read -r thing package; do
	case $thing in
	/*) [ -e "$thing" ] || missing="$missing $package" ;;
	*) command -v "$thing" >/dev/null 2>&1 || missing="$missing $package" ;;
	esac
done <<END
$(needs "$1")
END
[ -n "$missing" ] || exit 0

if [ "${DEPS:-yes}" = no ] || ! command -v apt-get >/dev/null 2>&1; then
	echo "missing:$missing (names of Debian packages)" >&2
	exit 2
fi
sudo=
if [ "$(id -u)" -ne 0 ]; then
	if ! command -v sudo >/dev/null 2>&1; then
		echo "missing:$missing; as root: apt-get install$missing" >&2
		exit 2
	fi
	sudo=sudo
fi
echo "$sudo apt-get install -y --no-install-recommends$missing"
$sudo apt-get update -qq
# shellcheck disable=SC2086 # one word a package
DEBIAN_FRONTEND=noninteractive $sudo apt-get install -y -qq --no-install-recommends $missing >/dev/null
