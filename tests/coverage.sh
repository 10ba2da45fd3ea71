#!/bin/sh
# Which lines the tests have covered: coverage.sh BUILD GCOV..., after a run of programs built with
# --coverage. Writes a table: file, lines that hold code, lines covered, per cent; then the rooms, and
# all. What is inlined in several objects is counted once; it is covered if it is in one of them.
set -eu
build=$1
shift
find "$build/obj/lib" "$build/obj/cmd" -name '*.gcno' | sort | xargs "$@" -t 2>"$build/gcov.log" |
	awk -v OFS='\t' '
	{
		split($0, part, ":")
		count = part[1]
		line = part[2] + 0
		gsub(/ /, "", count)
	}
	line == 0 && part[3] == "Source" { file = part[4]; next }
	line == 0 || count == "-" || file !~ /^(lib|cmd)\// { next }
	!((file, line) in seen) { lines[file]++; seen[file, line] = 0 }
	count !~ /^[#=]/ && !seen[file, line] { covered[file]++; seen[file, line] = 1 }
	function row(order, name, of, n) { print order, name, of, n, sprintf("%.1f", 100 * n / of) }
	END {
		for (f in lines) {
			room = f
			sub(/\/[^\/]*$/, "/", room)
			of[room] += lines[f]
			n[room] += covered[f]
			of["all"] += lines[f]
			n["all"] += covered[f]
			row(1, f, lines[f], covered[f] + 0)
		}
		for (name in of) row(name == "all" ? 3 : 2, name, of[name], n[name])
	}' | sort -k 1,1n -k 2,2 | cut -f 2- >"$build/coverage.tsv"
printf 'file\tlines\tcovered\tper_cent\n' && cat "$build/coverage.tsv"
grep -q '^all	' "$build/coverage.tsv" || { cat "$build/gcov.log" >&2 && exit 1; }
