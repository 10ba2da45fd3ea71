#!/bin/sh
# Measures against other tools: run.sh BUILD ROWS
#
# Every figure is the median ratio of our time by theirs over paired, alternating runs, with the least
# and the greatest: below 1 we are faster. A goal is a ratio not to be exceeded. Tools that are not
# installed are left out, and named.
# shellcheck disable=SC1091,SC2154 # what with.sh sets
. tests/bench/with.sh
t=$data/$rows.tsv
tab=$(printf '\t')

[ -s "$t" ] || "$data/generate" "$rows" shuffled >"$t"

# the number of a column
column() {
	head -n 1 "$t" | tr '\t' '\n' | grep -nx "$1" | cut -d : -f 1
}
closure=$(column closure) loss=$(column loss_db) a=$(column mfd_a_um) b=$(column mfd_b_um)
cleave=$(column cleave_a_deg) est=$(column est_db) tension=$(column tension)

# the built-in rules that look at one row alone
awk -F '\t' 'NR == 1 || $3 !~ /^(unique|fibre-once|attempts|one-stands)$/' <<END >"$data/row.rules"
$(thrum-check --print-rules)
END

headline "$t" "$rows"

what='8 columns appended'
against wc "$what" 7 "thrum-mfd $t" "wc -l $t"
against mawk "$what, theirs 1" 0.167 "thrum-mfd $t" "mawk -F '$tab' -v OFS='$tab' '
	NR == 1 { print \$0, \"mismatch_db\"; next }
	{ print \$0, sprintf(\"%.4f\", -8.685889638 * log(2 * \$$a * \$$b / (\$$a * \$$a + \$$b * \$$b))) }' $t"

what='count, mean, max, sd'
ours="thrum-closure --no-quantiles $t"
against wc "$what" 5 "$ours" "wc -l $t"
against mawk "$what" 0 "$ours" "mawk -F '$tab' '
	NR > 1 { n[\$$closure]++; s[\$$closure] += \$$loss; q[\$$closure] += \$$loss * \$$loss
		if (\$$loss > m[\$$closure]) m[\$$closure] = \$$loss }
	END { for (c in n) print c, n[c], s[c] / n[c], m[c], q[c] }' $t"
against datamash "$what" 0 "$ours" \
	"datamash -sH -g $closure count $loss mean $loss max $loss sstdev $loss <$t"
against tsv-summarize "$what" 0.25 "$ours" \
	"tsv-summarize -H -g $closure --count --mean $loss --max $loss --stdev $loss $t"
against duckdb "$what" 0.333 "$ours" "duckdb -c \"select closure, count(*), avg(loss_db), max(loss_db),
	stddev(loss_db) from read_csv('$t', delim='\\t', header=true) group by closure\""

what='with median and p95'
ours="thrum-closure $t"
against wc "$what" 10 "$ours" "wc -l $t"
against datamash "$what" 0 "$ours" "datamash -sH -g $closure median $loss perc:95 $loss <$t"
against tsv-summarize "$what" 0.5 "$ours" \
	"tsv-summarize -H -g $closure --median $loss --quantile $loss:0.95 $t"

what='every rule of a row'
ours="thrum-check --rules $data/row.rules $t"
against wc "$what" 10 "$ours" "wc -l $t"
against mawk "$what, theirs 3" 0 "$ours" \
	"mawk -F '$tab' '\$$cleave > 1 || \$$est > 0.1 || \$$tension != \"pass\"' $t"
against tsv-filter "$what, theirs 3" 1 "$ours" \
	"tsv-filter -H --or --gt $cleave:1 --gt $est:0.1 --str-ne $tension:pass $t"
against mawk 'every rule, theirs 3' 0 "thrum-check $t" \
	"mawk -F '$tab' '\$$cleave > 1 || \$$est > 0.1 || \$$tension != \"pass\"' $t"

# the same rows as exports: without a quote, with one cell in quotes in each eighth row, in each row
csv=$data/$rows.csv
for each in 0 8 1; do
	export_of "$t" $each "$csv.$each"
done
maps "$t"
python='import csv, sys
write = csv.writer(sys.stdout, delimiter="\t", lineterminator="\n").writerow
for row in csv.reader(open(sys.argv[1], newline="")):
	write(row)'
for each in 0 8 1; do
	what="CSV to TSV, quotes in 1 row of $each"
	[ $each -gt 0 ] || what='CSV to TSV, no quotes'
	ours="thrum-import -m $data/text.map $csv.$each"
	against wc "$what" 8 "$ours" "wc -l $csv.$each"
	against csv2tsv "$what" 0.5 "$ours" "csv2tsv $csv.$each"
	[ $each -gt 0 ] || against mawk "$what" 0 "$ours" "mawk -F , -v OFS='$tab' '{ \$1 = \$1; print }' $csv.0"
done
times=1 against python3 "$what" 0 "$ours" "python3 -c '$python' $csv.1"
against wc 'the same, typed, no quotes' 0 "thrum-import -m $data/typed.map $csv.0" "wc -l $csv.0"

what='three in a pipe by the slowest alone'
"$data/pair" "$what" 1.4 "$times" \
	"thrum-mfd $t | thrum-check --rules $data/row.rules --pass --set-aside /dev/null | thrum-closure --no-quantiles" \
	"thrum-mfd $t"

times=200
against true 'start-up' 1.3 'thrum-mfd -V' true

for part in match pack route twoway; do
	printf '\n'
	"tests/bench/$part.sh" "$build" "$rows"
done
