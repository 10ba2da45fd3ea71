# Pages and pictures in a real browser, headless Chromium (Debian package chromium). A file loads it
# beside `program`, and each test that needs it begins with browser_needed. Nothing is fetched: names of
# hosts lead nowhere.
#
#	browser_png FILE PNG WIDTH HEIGHT	as it looks on a screen of so many pixels
#	browser_pdf FILE PDF			as it is printed; browser_pages PDF says how many pages
#	browser_measure FILE [WIDTH]		what can be measured, one line each, TAB between:
#		page WIDTH HEIGHT		texts COUNT		least-px SIZE (of the smallest text)
#		outside TEXT WHERE (of its box, or the page wider than the window)
#		overlap TEXT / TEXT WHERE	contrast TEXT RATIO (below 4.5, WCAG 2.1 level AA)
#		fetch URL			script TEXT		doubled ID
#	browser_sound FILE [WIDTH]		measures it, and there is nothing of the last two lines
#
# FILE is HTML or SVG; an SVG is measured as part of a page, twice in it, as a report has several.

# Without the browser the test is skipped; where THRUM_BROWSER is set, as in .ci/run, it fails.
browser_needed() {
	command -v chromium >/dev/null && return
	[ -z "${THRUM_BROWSER:-}" ] || { echo "no chromium"; return 1; }
	skip "no chromium"
}

# browser ARGUMENT...: a browser that knows nothing of any other
browser() {
	local home
	home=$(mktemp -d "$BATS_TEST_TMPDIR/browser.XXXXXX")
	HOME=$home timeout 120 chromium --headless --no-sandbox --disable-gpu --disable-dev-shm-usage \
		--no-first-run --disable-background-networking --disable-component-update \
		--disable-sync --hide-scrollbars --force-device-scale-factor=1 \
		--host-resolver-rules='MAP * ~NOTFOUND' --user-data-dir="$home" "$@" 2>"$home/log" ||
		{ tail -n 5 "$home/log"; return 1; }
}

browser_url() {
	echo "file://$(realpath "$1")"
}

browser_png() { # FILE PNG WIDTH HEIGHT
	browser --window-size="$3,$4" --screenshot="$(realpath "$2")" "$(browser_url "$1")" && [ -s "$2" ]
}

browser_pdf() { # FILE PDF
	browser --no-pdf-header-footer --print-to-pdf="$(realpath "$2")" "$(browser_url "$1")" && [ -s "$2" ]
}

browser_pages() { # PDF
	grep -ac '/Type */Page\>' "$1"
}

browser_measure() { # FILE [WIDTH]
	local page script
	page=$(mktemp "$BATS_TEST_TMPDIR/page.XXXXXX.html")
	script=$BATS_TEST_DIRNAME/browser/measure.js
	case $1 in
	*.svg)
		echo '<!doctype html><html lang="en"><head><meta charset="utf-8"></head><body style="margin: 0">'
		cat "$1" "$1"
		;;
	*) cat "$1" ;;
	esac >"$page"
	{
		echo '<script data-measure>'
		cat "$script"
		echo '</script>'
	} >>"$page"
	browser --window-size="${2:-1000},1000" --dump-dom "$(browser_url "$page")" |
		sed -n '/^measured$/,/^end of measured$/{/measured$/d;p;}' >"$page.tsv"
	[ -s "$page.tsv" ] || { echo "nothing measured of $1"; return 1; }
	cat "$page.tsv"
}

browser_sound() { # FILE [WIDTH]
	local measured
	measured=$(browser_measure "$@") || { echo "$measured"; return 1; }
	! grep -E '^(outside|overlap|contrast|fetch|script|doubled)' <<<"$measured"
}
