#!/bin/sh
# Measures thrum-route against a recursive query of SQLite: route.sh BUILD JOINTS. Lines as run.sh prints them.
#
# Half of the links have two joints, half three, in cables of 144 fibres. SQLite gets the same files, in memory,
# with the indexes it needs; that both find the same port and as many joints for each link is looked at once, on
# no more than 200000 joints, as it takes long.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
most=200000
cat >"$data/route.sql" <<END
.mode tabs
.import $net/spans spans
.import $net/joints joints
.import $net/ports ports
create table mate as
	select closure as site, cable_a as cable, fibre_a as fibre, cable_b as to_cable, fibre_b as to_fibre from joints
	union all select closure, cable_b, fibre_b, cable_a, fibre_a from joints;
create index mate_at on mate (site, cable, fibre);
create index span_at on spans (cable);
create index port_at on ports (site, cable, fibre);
with recursive walk (link, site, cable, fibre, joints) as (
	select p.link, iif(s.site_a = p.site, s.site_b, s.site_a), p.cable, p.fibre, 0
	from ports p join spans s on s.cable = p.cable where p.end = 'a'
	union all
	select w.link, iif(s.site_a = w.site, s.site_b, s.site_a), m.to_cable, m.to_fibre, w.joints + 1
	from walk w join mate m on m.site = w.site and m.cable = w.cable and m.fibre = w.fibre and w.joints < 100
		and (w.joints = 0 or m.to_cable not like 'p%')
	join spans s on s.cable = m.to_cable)
select w.link, w.site || ':' || p.port, w.joints from walk w
	join ports p on p.site = w.site and p.cable = w.cable and p.fibre = w.fibre where p.end = 'b' order by 1;
END
ours="thrum-route --spans $net/spans --ports $net/ports --findings /dev/null"

[ "$rows" -lt $most ] || rows=$most
network "$rows"
headline "$net/joints" "$rows"
if command -v sqlite3 >/dev/null 2>&1; then
	sqlite3 :memory: <"$data/route.sql" >"$net/theirs"
	$ours "$net/joints" | awk -F '\t' -v OFS='\t' '
		$4 == "fusion" { joints[$1]++ } $4 == "connector" { last[$1] = $6 }
		END { for (link in last) print link, last[link], joints[link] }' | sort >"$net/ours"
	sort "$net/theirs" | cmp - "$net/ours" || { echo 'route.sh: the results differ' >&2 && exit 2; }
fi
against sqlite3 'links routed' 0.333 "$ours $net/joints" "sqlite3 :memory: <$data/route.sql"
