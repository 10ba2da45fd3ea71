#!/usr/bin/env bats
# How wide characters are, against Python's copy of the Unicode Character Database: general categories
# and East_Asian_Width (Unicode Standard Annex 11).

bats_require_minimum_version 1.5.0

setup() {
	export LC_ALL=C
	exe=${THRUM_BIN:-$BATS_TEST_DIRNAME/../../build/bin}/thrum-show
	cd "$BATS_TEST_TMPDIR" || return
}

@test "every character of Unicode 14.0 has its width" {
	version=$(python3 -c 'import unicodedata; print(unicodedata.unidata_version)')
	[ "$version" = 14.0.0 ] || skip "this Python has Unicode $version"
	PYTHONIOENCODING=utf-8 python3 - <<'END'
import unicodedata as u
def width(c):
    if u.category(c) in ("Mn", "Me", "Cf") and c != "\u00ad" or "\u1160" <= c <= "\u11ff":
        return 0
    return 2 if u.east_asian_width(c) in "WF" else 1
# assigned in 14.0 and before, but for controls, surrogates and private use
chars = [c for c in map(chr, range(0x20, 0x110000))
    if u.category(c) not in ("Cc", "Cs", "Co", "Cn", "Zl", "Zp")]
with open("in.tsv", "w", encoding="utf-8", newline="\n") as table, \
     open("want", "w", encoding="utf-8", newline="\n") as want:
    table.write("name\tend\n")
    want.write("name  end\n")
    for c in chars:
        table.write("x" + c + "y\t|\n")
        want.write("x" + c + "y" + " " * (4 - width(c)) + "|\n")
END
	[ "$(wc -l <in.tsv)" -gt 130000 ]
	"$exe" in.tsv >got
	cmp got want || { diff -u want got | head -20; false; }
}
