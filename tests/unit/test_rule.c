/*
 * rule: each kind of rule alone, conditions, tables of rules that are wrong, and the memos of short
 * fields against judging every field anew.
 */
#include "fibre/joint_rule.h"

#include "check.h"

#include <stdlib.h>

static const char head[] = "rule\tlevel\tkind\tcolumns\tlow\thigh\twords\tpattern\twhen\tsays\n";

struct heard {
	struct bytes text; /* "LINE COLUMN RULE LEVEL [FOUND] WANTED (SAYS)" of each finding */
};

static void
hear(void *arg, const struct finding *f)
{
	struct heard *heard = arg;

	bytes_add_format(&heard->text, "%llu %.*s %s %s [%.*s] %s (%s)\n",
	    (unsigned long long)f->line, (int)f->column.n, f->column.p, f->rule,
	    f->error ? "error" : "warning", (int)f->found.n, f->found.p, f->wanted, f->says);
}

static int
read_rules(struct rules *rs, const char *name, const char *text, struct err *err)
{
	struct table t;
	int status;

	if (table_open_reader(&t, rule_cols, reader_memory(name, field_of(text), err), NULL, err) !=
	    0)
		return -1;
	status = rules_read(rs, &t);
	table_close(&t);
	return status;
}

/* What rules say of a table; what goes wrong stands behind "trouble: ". Lives until freed. */
static char *
judged(const char *rules, const char *also, const char *table)
{
	struct heard heard = { { NULL, 0, 0 } };
	struct err err = { "" };
	struct table t = { NULL };
	struct rules rs;

	rules_init(&rs, "joint", joint_rule_kinds, hear, &heard);
	if (read_rules(&rs, "rules", rules, &err) == 0 &&
	    (also == NULL || read_rules(&rs, "also", also, &err) == 0) &&
	    table_open_reader(&t, rs.cols, reader_memory("t", field_of(table), &err), NULL, &err) ==
		0 &&
	    rules_bind(&rs, &t) == 0) {
		while (table_next(&t))
			rules_row(&rs);
		rules_end(&rs);
	}
	table_close(&t);
	rules_free(&rs);
	if (err_is_set(&err))
		bytes_add_format(&heard.text, "trouble: %s\n", err.text);
	bytes_add(&heard.text, "", 1);
	return heard.text.p;
}

/* The lines of rules, each filled up with empty fields, under the header. A string. */
static void
add_rules(struct bytes *b, const char *lines)
{
	struct field rest = field_of(lines);

	bytes_add_text(b, head);
	while (rest.p != NULL) {
		struct field line = field_cut(&rest, '\n');
		int tabs = 0;

		bytes_add_field(b, line);
		for (size_t i = 0; i < line.n; i++)
			tabs += line.p[i] == '\t';
		while (tabs++ < 9)
			bytes_add_text(b, "\t");
		bytes_add_text(b, "\n");
	}
	bytes_add(b, "", 1);
}

/* What rules find in a table. */
static void
one_rule(const char *rule, const char *table, const char *want)
{
	struct bytes rules = { NULL, 0, 0 };
	char *got;

	add_rules(&rules, rule);
	got = judged(rules.p, NULL, table);
	CHECK(strcmp(got, want) == 0, "rule %s: got\n%swant\n%s", rule, got, want);
	free(got);
	bytes_free(&rules);
}

/* A rules table that is refused. */
static void
refused(const char *rule, const char *why)
{
	struct bytes want = { NULL, 0, 0 };

	bytes_add_format(&want, "trouble: %s\n", why);
	bytes_add(&want, "", 1);
	one_rule(rule, "a\tb\tc\n1\t2\t3\n", want.p);
	bytes_free(&want);
}

static void
judges_one_column(void)
{
	one_rule("r\terror\tpresent\ta,b\t\t\t\t\t\tgone", "a\tb\n1\t\n\t2\n3\t4\n",
	    "2 b r error [] a value (gone)\n3 a r error [] a value (gone)\n");
	one_rule("r\twarning\tnumber\ta\t0\t0.5\t\t\t\twide",
	    "a\tb\n0\t\n0.5\t\n0.51\t\n-1\t\n\t1\n",
	    "4 a r warning [0.51] 0 to 0.5 (wide)\n5 a r warning [-1] 0 to 0.5 (wide)\n");
	one_rule("r\terror\tnumber\ta\t\t2", "a\n2\n2.5\n1,5\n",
	    "3 a r error [2.5] at most 2 (not at most 2)\n"
	    "4 a r error [1,5] at most 2 (decimal comma: write a point)\n");
	one_rule("r\terror\tnumber\ta\t-2", "a\n-2\n-2.5\n1e3\n",
	    "3 a r error [-2.5] at least -2 (not at least -2)\n");
	one_rule("r\terror\tnumber\ta", "a\n1e400\n 1\nnan\n0\n",
	    "2 a r error [1e400] a number (number too large)\n"
	    "3 a r error [ 1] a number (blank beside the number)\n"
	    "4 a r error [nan] a number (not a finite number)\n");
	one_rule("r\terror\twhole\ta\t1\t3\t\t\t\tno", "a\n1\n3\n4\n0\n2.0\nx\n",
	    "4 a r error [4] a whole number, 1 to 3 (no)\n"
	    "5 a r error [0] a whole number, 1 to 3 (no)\n"
	    "6 a r error [2.0] a whole number (not a whole number)\n"
	    "7 a r error [x] a whole number (no number)\n");
	one_rule("r\terror\ttime\ta", "a\n2026-03-11\n2026-03-11T21:00:00+00:00\n2026-03-32\n",
	    "4 a r error [2026-03-32] a date or time of ISO 8601, YYYY-MM-DDThh:mm:ss "
	    "(no such day)\n");
	one_rule("r\terror\tword\ta\t\t\tpass fail\t\t\tno",
	    "a\tb\npass\t\nfail\t\nFail\t\n\t1\npas\t\n",
	    "4 a r error [Fail] one of: pass fail (no)\n6 a r error [pas] one of: pass fail (no)\n");
	one_rule("r\terror\tword\ta\t\t\tnot yet,40\t\t\tno", "a\nnot yet\n40.0\n4e1\n41\n0x28\n",
	    "5 a r error [41] one of: not yet 40 (no)\n6 a r error [0x28] one of: not yet 40 (no)\n");
	one_rule("r\terror\tpattern\ta\t\t\t\t^[A-Z]{3}-[0-9]+$\t\tno",
	    "a\tb\nSKE-1\t\nSKE-\t\n\t1\nxSKE-1\t\n\xc3\xa4SKE-1\t\n",
	    "3 a r error [SKE-] a match of ^[A-Z]{3}-[0-9]+$ (no)\n"
	    "5 a r error [xSKE-1] a match of ^[A-Z]{3}-[0-9]+$ (no)\n"
	    "6 a r error [\xc3\xa4SKE-1] a match of ^[A-Z]{3}-[0-9]+$ (no)\n");
}

static void
judges_several_columns(void)
{
	one_rule("r\terror\tunique\ta,b\t\t\t\t\t\tno", "a\tb\n1\t2\n1\t\n1\t\n2\t1\n12\t\n1\t2\n",
	    "7 b r error [1 2] in one row only (no)\n");
	one_rule("r\terror\ttogether\ta,b,c\t\t\t\t\t\tno",
	    "a\tb\tc\td\n1\t2\t3\t\n\t\t\tx\n1\t\t3\t\n\t\t1\t\n",
	    "4 b r error [] a, b and c, or none of them (no)\n"
	    "5 a r error [] a, b and c, or none of them (no)\n");
	one_rule("r\terror\tmean\tm,a,b\t\t0.001\t\t\t\tno",
	    "m\ta\tb\n0.05\t0.04\t0.06\n0.051\t0.04\t0.06\n0.0510001\t0.04\t0.06\n0.051001\t0.04\t0.06\n"
	    "0.049\t0.04\t0.06\n0.048999\t0.04\t0.06\n-0.0005\t-0.1\t0.1\n\t1\t2\n1\t\t2\n",
	    "5 m r error [0.051001] 0.0500 within 0.001 (no)\n"
	    "7 m r error [0.048999] 0.0500 within 0.001 (no)\n");
	one_rule("r\terror\tmean\tm,a,b\t\t0\t\t\t\tno",
	    "m\ta\tb\n1\t1e12\t1e13\n1\tx\t1\n1\t1\t9e12\n",
	    "2 b r error [1e13] a number (number too large)\n"
	    "3 a r error [x] a number (no number)\n"
	    "4 b r error [9e12] a number (number too large)\n");
}

static void
judges_order_of_time(void)
{
	one_rule("r\terror\torder\ta,b,c\t\t\t\t\t\tno",
	    "a\tb\tc\n"
	    "2026-03-11\t2026-03-11T00:10:00+02:00\t\n" /* the day before by UTC, yet the same date */
	    "2026-03-12\t2026-03-11T23:59:00-11:00\t\n"
	    "2026-03-11\t2026-03-11\t2026-03-10\n"
	    "2026-03-11T10:00:00Z\t2026-03-11T11:00:00+02:00\t\n"
	    "2026-03-11T10:00\t2026-03-11T10:00:00+02:00\t\n" /* the zone of the first is not known */
	    "2026-03-11T10:00\t2026-03-11T09:59:59-05:00\t\n"
	    "2026-03-11T10:00\t\t2026-03-11T09:00\n"
	    "night-two1\t2026-03-11\tx\n"
	    "2026-03-11T10:00\t2026-03-11\t2026-03-11T09:00\n",
	    "3 b r error [2026-03-11T23:59:00-11:00] not before 2026-03-12 (no)\n"
	    "4 c r error [2026-03-10] not before 2026-03-11 (no)\n"
	    "5 b r error [2026-03-11T11:00:00+02:00] not before 2026-03-11T10:00:00Z (no)\n"
	    "7 b r error [2026-03-11T09:59:59-05:00] not before 2026-03-11T10:00 (no)\n"
	    "8 c r error [2026-03-11T09:00] not before 2026-03-11T10:00 (no)\n");
}

static void
judges_colours(void)
{
	one_rule("r\terror\tcolour\tn,c\t\t\t\t\t\tno",
	    "n\tc\n1\tblue\n13\tBlue\n13\tblue-black\n5\tgrey\n5\tgray\n12\taqua green\n24\taqua\n"
	    "2\tblue\n1\tblu\n1\t\n\tblue\n0\tblue\n1.5\tblue\n5\t-black\n",
	    "9 c r error [blue] orange (no)\n10 c r error [blu] blue (no)\n"
	    "13 n r error [0] at least 1 (fibres are counted from 1)\n"
	    "14 n r error [1.5] a whole number (not a whole number)\n"
	    "15 c r error [-black] slate (no)\n");
	one_rule("r\terror\tcolour\tn,c\t\t6\tiec-60794-2\t\t\tno",
	    "n\tc\n7\tblue\n8\tyellow\n6\tpurple\n9\tblue\n", "5 c r error [blue] red (no)\n");
	/* in a tube of 24 the stripe alone tells two fibres apart */
	one_rule("r\terror\tcolour\tn,c\t\t24\t\t\t\tno",
	    "n\tc\n13\tblue stripe\n13\tblue-black\n13\tblue\n1\tblue-black\n37\tblue stripe\n",
	    "4 c r error [blue] blue stripe (no)\n5 c r error [blue-black] blue (no)\n");
	one_rule("r\terror\ttube\tn,c\t\t\t\t\t\tno",
	    "n\tc\n1\tblue\n12\t1\n13\torange\n13\t02\n144\taqua\n145\tblue\n13\tblue\n13\t1\n145\t1\n",
	    "8 c r error [blue] orange or 2 (no)\n9 c r error [1] orange or 2 (no)\n"
	    "10 c r error [1] blue stripe or 13 (no)\n");
	one_rule("r\terror\ttube\tn,c\t\t6\t\t\t\tno", "n\tc\n7\torange\n12\tblue\n",
	    "3 c r error [blue] orange or 2 (no)\n");
}

static void
judges_fibres(void)
{
	one_rule("r\terror\tnot-itself\ta,i,t?,b,k,u?\t\t\t\t\t\tno",
	    "a\ti\tb\tk\nx\t1\ty\t1\nx\t1\tx\t2\nx\t1\tx\t1\nx\t01\tx\t1\nx\t\tx\t\n",
	    "4 b r error [x 1] another fibre (no)\n5 b r error [x 1] another fibre (no)\n");
	/* the two ends where a cable was cut are not one */
	one_rule("r\terror\tnot-itself\ta,i,t?,b,k,u?\t\t\t\t\t\tno",
	    "a\ti\tt\tb\tk\tu\nx\t1\tn\tx\t1\ts\nx\t1\tn\tx\t1\tn\nx\t1\t\tx\t1\tn\n",
	    "3 b r error [x 1] another fibre (no)\n4 b r error [x 1] another fibre (no)\n");
	one_rule("r\terror\tfibre-once\tclosure,cable,fibre,t?,b?,k?,u?\t\t\t\t\tstands=yes\tno",
	    "joint\tstands\tclosure\tcable\tfibre\n"
	    "A\tyes\tx\tk\t1\nA\tyes\tx\tk\t1\nB\tno\tx\tk\t1\nB\tyes\ty\tk\t1\nC\tyes\tx\tk\t01\n"
	    "\tyes\tx\tk\t1\nD\tyes\tx\tk\t11\nE\tyes\tx\t\t1\nF\tyes\tx\tk\t1\n",
	    "6 fibre r error [k 1] not a fibre of joint A (no)\n"
	    "10 fibre r error [k 1] not a fibre of joint A (no)\n");
	/* whichever side an end is called; two ends of one fibre are two */
	one_rule("r\terror\tfibre-once\tclosure,a,i,t?,b,k,u?\t\t\t\t\t\tno",
	    "joint\tclosure\ta\ti\tt\tb\tk\tu\nA\tx\tk\t1\t\tm\t1\t\nB\tx\tm\t1\t\tn\t1\t\n"
	    "C\tx\tk\t2\tN\tm\t2\t\nD\tx\tk\t2\tS\tm\t3\t\nE\tx\tk\t2\tS\tm\t4\t\nF\tx\tk\t2\t\tm\t5\t\n",
	    "3 i r error [m 1] not a fibre of joint A (no)\n"
	    "6 i r error [k 2] not a fibre of joint D (no)\n"
	    "7 i r error [k 2] not a fibre of joint C (no)\n");
}

static void
judges_what_records_share(void)
{
	one_rule("r\terror\tslot-once\tc,t,s,ra?,rb?\t\t\t\t\t\tno",
	    "joint\tc\tt\ts\tra\nA\tx\t1\t1\t\nB\tx\t1\t01\t\nC\tx\t1\t2\tR\nD\tx\t1\t2\tR\nE\tx\t1\t2\tS\n"
	    "F\ty\t1\t1\t\nG\ty\t1\t\t\n",
	    "3 s r error [1 1] at most 1, or one ribbon (no)\n"
	    "6 s r error [1 2] at most 1, or one ribbon (no)\n");
	one_rule("r\terror\tslot-once\tc,t,s,ra?,rb?\t\t2\t\t\t\tno",
	    "joint\tc\tt\ts\nA\tx\t1\t1\nB\tx\t1\t1\nC\tx\t1\t1\n",
	    "4 s r error [1 1] at most 2, or one ribbon (no)\n");
	one_rule("r\terror\tagree\tn,s?,a,b?\t\t\t\t\t\tno",
	    "joint\tn\ta\tnm\nA\t1\tx\t1310\nA\t1\tx\t1550\nA\t2\ty\t1310\nA\t2\tx\t1550\nB\t1\ty\t1\n",
	    "5 n r error [2] the same in all rows of an attempt (no)\n");
	one_rule("r\terror\tcopied\ta,b,c?\t\t\t\t\t\tno",
	    "joint\ta\tb\nA\tx\t1\nA\tx\t1\nB\tx\t1\nC\tx\t\nD\tx\t\n",
	    "4 a r error [x 1 ] not those of joint A (no)\n");
	one_rule("r\terror\tstep\ta,b,c,d\t\t0.7\t\t\t\tno",
	    "joint\ta\tb\tc\td\nA\t0.8\t-0.6\tG\tG\nB\t0.8\t-0.601\tG\tG\nC\t0.8\t-0.9\tG\tH\nD\t0.8\t-0.9\t\t\n",
	    "3 a r error [0.8 -0.601] half the difference at most 0.7 (no)\n");
}

static void
judges_attempts_at_the_end(void)
{
	one_rule("r\terror\tattempts\tattempt\t\t\t\t\t\tno",
	    "joint\tattempt\nA\t1\nB\t3\nA\t2\nB\t1\nC\t2\nD\t1\nD\t1\nE\t1\nE\t\nE\t5\nF\t64\nF\t3\n"
	    "G\t99\nG\t3\n\t7\n",
	    "5 attempt r error [1 3] all of 1 to 3 (no)\n"
	    "6 attempt r error [2] all of 1 to 2 (no)\n"
	    "13 attempt r error [3 64] all of 1 to 64 (no)\n");
	one_rule("r\terror\tattempts\tattempt", "joint\tattempt\nA\t1\nA\tx\nA\t4\n",
	    "3 attempt r error [x] a whole number (no number)\n");
	one_rule("r\terror\tone-stands\tstands,n?,s?\t\t\t\t\tkind=fusion\tno",
	    "joint\tkind\tstands\tn\nA\tfusion\tno\t1\nB\tfusion\tyes\t1\nA\tfusion\tno\t2\nC\tfusion\t\t1\n"
	    "D\tfusion\tyes\t1\nD\tfusion\t\t2\nE\tother\tno\t1\nF\tfusion\tmaybe\t1\nF\tfusion\tno\t2\n"
	    "\tfusion\tno\t1\nG\tfusion\tyes\t1\nG\tfusion\tyes\t1\n",
	    "4 stands r error [0] 1 (no)\n7 stands r error [2] 1 (no)\n");
	/* each night by itself */
	one_rule("r\terror\tone-stands\tstands,n?,s?\t\t\t\t\t\tno",
	    "joint\tstands\tn\ts\nA\tyes\t1\t11\nA\tyes\t1\t12\nB\tyes\t1\t11\nB\tno\t1\t12\n",
	    "5 stands r error [0] 1 (no)\n");
}

static void
applies_only_when(void)
{
	const char *table =
	    "joint\ta\tb\tc\nJ\tx\t\t\nJ\ty\t1\t\nJ\t\t\t\nJ\ttoo long a value\t\t\nJ\tx\t2\t\n";

	one_rule("r\terror\tpresent\tc\t\t\t\t\ta=x\tno", table,
	    "2 c r error [] a value (no)\n6 c r error [] a value (no)\n");
	one_rule("r\terror\tpresent\tc\t\t\t\t\ta=x,too long a value,\tno", table,
	    "2 c r error [] a value (no)\n4 c r error [] a value (no)\n5 c r error [] a value (no)\n"
	    "6 c r error [] a value (no)\n");
	one_rule(
	    "r\terror\tpresent\tc\t\t\t\t\ta=x;b=\tno", table, "2 c r error [] a value (no)\n");
	one_rule("r\terror\tpresent\tc\t\t\t\t\tb=*\tno", table,
	    "3 c r error [] a value (no)\n6 c r error [] a value (no)\n");
	one_rule("r\terror\tpresent\tc\t\t\t\t\ta|b=1,too long a value\tno", table,
	    "3 c r error [] a value (no)\n5 c r error [] a value (no)\n");
	/* a column the table lacks counts as empty */
	one_rule(
	    "r\terror\tpresent\tc\t\t\t\t\tz=;b=1\tno", table, "3 c r error [] a value (no)\n");
	one_rule(
	    "r\terror\tpresent\tc\t\t\t\t\tz=x,;b=1\tno", table, "3 c r error [] a value (no)\n");
	one_rule("r\terror\tpresent\tc\t\t\t\t\tz|b=1\tno", table, "3 c r error [] a value (no)\n");
	one_rule("r\terror\tpresent\tc\t\t\t\t\tz=*\tno", table,
	    "trouble: t:1: no rule applies: the table has none of the columns that the rules read\n");
}

static void
reports_a_field_once(void)
{
	char *got = judged("rule\tlevel\tkind\tcolumns\tlow\thigh\n"
			   "wide\twarning\tnumber\ta\t0\t0.5\n"
			   "angle\terror\tnumber\ta\t0\t1\n"
			   "again\terror\tnumber\ta\t0\t1\n"
			   "more\twarning\tnumber\ta,b\t0\t0.7\n",
	    NULL, "a\tb\n2\t2\n0.6\t\n0.8\t\nx\tx\n");

	CHECK(strcmp(got, "2 a wide warning [2] 0 to 0.5 (not 0 to 0.5)\n"
			  "2 a angle error [2] 0 to 1 (not 0 to 1)\n"
			  "2 b more warning [2] 0 to 0.7 (not 0 to 0.7)\n"
			  "3 a wide warning [0.6] 0 to 0.5 (not 0 to 0.5)\n"
			  "4 a wide warning [0.8] 0 to 0.5 (not 0 to 0.5)\n"
			  "5 a wide warning [x] 0 to 0.5 (no number)\n"
			  "5 a angle error [x] 0 to 1 (no number)\n"
			  "5 b more warning [x] 0 to 0.7 (no number)\n") == 0,
	    "%s", got);
	free(got);
}

static void
reports_bytes_that_are_no_text(void)
{
	one_rule("r\terror\tnumber\ta", "a\tb\n1\t4\xb0\n\xff\xff\xff\xff\xff\xff\xff\tx\n",
	    "2 b utf8 error [4\xb0] UTF-8 (not UTF-8 at byte 4 of the line)\n"
	    "3 a utf8 error [\xff\xff\xff\xff\xff\xff\xff] UTF-8 (not UTF-8 at byte 1 of the line)\n");
	one_rule("r\terror\tpresent\ta\t\t\t\t\t\tno", "a\tb\n\t\n\t1\n",
	    "2  shape error [] a row (a row without any value)\n3 a r error [] a value (no)\n");
}

static void
later_rules_replace(void)
{
	static const char base[] = "rule\tlevel\tkind\tcolumns\thigh\n"
				   "one\terror\tnumber\ta\t1\n"
				   "two\terror\tpresent\tb\t\n";
	char *got = judged(base,
	    "rule\tlevel\tkind\tcolumns\thigh\n"
	    "one\twarning\tnumber\ta\t2\n"
	    "three\terror\tnumber\tb\t5\n"
	    "two\toff\t\t\t\n",
	    "a\tb\n3\t\n1.5\t6\n");

	CHECK(strcmp(got, "2 a one warning [3] at most 2 (not at most 2)\n"
			  "3 b three error [6] at most 5 (not at most 5)\n") == 0,
	    "%s", got);
	free(got);
	got = judged(base, "rule\tlevel\tkind\tcolumns\nthree\toff\t\t\n", "a\n1\n");
	CHECK(strcmp(got,
		  "trouble: also:2: column 'rule': there is no rule of this name to turn off: "
		  "'three'\n") == 0,
	    "%s", got);
	free(got);
}

static void
refuses_wrong_rules(void)
{
	static const char why[] = "trouble: rules:2: column 'pattern': no pattern: ";
	char *got;

	refused("r\terror\tnumbr\ta",
	    "rules:2: column 'kind': no such kind of rule; nearest: number: 'numbr'");
	refused("r\terror\tfibre-onc\ta",
	    "rules:2: column 'kind': no such kind of rule; nearest: fibre-once: 'fibre-onc'");
	refused("r\terror\tzzzzzz\ta",
	    "rules:2: column 'kind': no such kind of rule; there are present number whole time "
	    "word pattern plain unique together order mean colour tube not-itself fibre-once slot-once "
	    "attempts one-stands last-stands agree copied limit gain step: 'zzzzzz'");
	refused("r\terror\t\ta", "rules:2: column 'kind': no kind: ''");
	refused("\terror\tpresent\ta", "rules:2: column 'rule': no name: ''");
	refused(
	    "utf8\terror\tpresent\ta", "rules:2: column 'rule': this rule is always there: 'utf8'");
	refused(
	    "r\tfatal\tpresent\ta", "rules:2: column 'level': none of: off warning error: 'fatal'");
	refused("r\t\tpresent\ta", "rules:2: column 'level': no level: ''");
	refused("r\terror\tpresent\t", "rules:2: column 'columns': no column: ''");
	refused("r\terror\tpresent\ta,,b",
	    "rules:2: column 'columns': an empty name in the list: 'a,,b'");
	refused("r\terror\tmean\ta,b\t\t1",
	    "rules:2: column 'columns': a rule of this kind takes 3 columns, or 6, or 9 ...: 'a,b'");
	refused("r\terror\ttogether\ta",
	    "rules:2: column 'columns': a rule of this kind takes at least 2 columns: 'a'");
	refused("r\terror\tnumber\ta\t2\t1", "rules:2: column 'low': low is above high: '2'");
	refused("r\terror\tnumber\ta\t0,5",
	    "rules:2: column 'low': decimal comma: write a point: '0,5'");
	refused("r\terror\tpresent\ta\t1",
	    "rules:2: column 'low': a rule of kind present takes none: '1'");
	refused("r\terror\tword\ta", "rules:2: column 'words': a rule of kind word needs one: ''");
	refused("r\terror\tword\ta\t\t\ta,,b",
	    "rules:2: column 'words': an empty word in the list: 'a,,b'");
	refused("r\terror\tmean\ta,b,c\t\t-1",
	    "rules:2: column 'high': a tolerance is 0 to 1000000: '-1'");
	refused("r\terror\tcolour\ta,b\t\t25",
	    "rules:2: column 'high': a tube holds 1 to 24 fibres: '25'");
	refused("r\terror\tcolour\ta,b\t\t\ttia-589",
	    "rules:2: column 'words': no such colour order: 'tia-589'; nearest: tia-598: 'tia-589'");
	refused("r\terror\tpresent\ta\t\t\t\t\tb",
	    "rules:2: column 'when': no condition: write COLUMN=VALUE, COLUMN=* or COLUMN=: 'b'");
	refused("r\terror\tpresent\ta\t\t\t\t\tb==1",
	    "rules:2: column 'when': no condition: write COLUMN=VALUE, COLUMN=* or COLUMN=: 'b==1'");
	refused("r\terror\tpresent\ta\t\t\t\t\tb!=",
	    "rules:2: column 'when': no condition: write COLUMN=VALUE, COLUMN=* or COLUMN=: 'b!='");
	refused("r\terror\tpresent\ta\t\t\t\t\tb=1;=2",
	    "rules:2: column 'when': an empty column name: 'b=1;=2'");
	refused("r\terror\tpresent\ta\nr\terror\tpresent\tb",
	    "rules:3: column 'rule': a second rule of this name: 'r'");
	got = judged(
	    "rule\tlevel\tkind\tcolumns\tpattern\nr\terror\tpattern\ta\t(\n", NULL, "a\n1\n");
	CHECK(strncmp(got, why, strlen(why)) == 0, "%s", got); /* the library's own words follow */
	free(got);
	refused("r\terror\tpresent\tz",
	    "t:1: no rule applies: the table has none of the columns that the rules read");
}

/* Fields that are fine, wrong, empty, of seven bytes and of more, out of few. */
static void
random_table(struct bytes *b, uint64_t *state)
{
	static const char *const fields[] = { "", "1", "2", "9", "x", "1.5", "1234567", "12345678",
		"1234569", "123456789", "-1", "0.00001", "0.000001", "\xff\xff\xff\xff\xff\xff\xff",
		"yes", "no" };

	bytes_add_text(b, "always\ta\tb\tc\td\n");
	for (int row = 0; row < 400; row++) {
		bytes_add_text(b, "7");
		for (int c = 0; c < 4; c++) {
			bytes_add_text(b, "\t");
			bytes_add_text(b, fields[check_random(state) % 16]);
		}
		bytes_add_text(b, "\n");
	}
	bytes_add(b, "", 1);
}

static void
memos_change_nothing(void)
{
	static const char rules[] = "rule\tlevel\tkind\tcolumns\tlow\thigh\twords\tpattern\twhen\n"
				    "1\twarning\tnumber\ta,b,d\t0\t1\t\t\td=1,yes,\n"
				    "2\terror\tnumber\ta,b\t0\t\t\t\t\n"
				    "3\terror\twhole\ta,c\t\t1234567\t\t\tc=*;d=no\n"
				    "4\twarning\tword\tc,d\t\t\tyes 1.5 1\t\t\n"
				    "5\terror\tpattern\tb\t\t\t\t^[0-9]*$\ta|c=yes\n"
				    "6\twarning\tpresent\ta,b,c,d\t\t\t\t\ta=1,\n"
				    "7\terror\tunique\ta,b\t\t\t\t\t\n";
	/* conditions that hold or not, but change nothing; so many that no memo is asked */
	static const char dummies[] = "rule\tlevel\tkind\tcolumns\twhen\n"
				      "p\terror\tpresent\talways\ta=2;b=2;c=2;d=2\n"
				      "q\terror\tpresent\talways\ta=9;b=9;c=9;d=9\n"
				      "r\terror\tpresent\talways\ta=x;b=x;c=x;d=x\n";
	uint64_t state = 1;

	for (int i = 0; i < 50; i++) {
		struct bytes table = { NULL, 0, 0 };
		char *with, *without;

		random_table(&table, &state);
		with = judged(rules, NULL, table.p);
		without = judged(rules, dummies, table.p);
		CHECK(strlen(with) > 1000 && strcmp(with, without) == 0, "table %d", i);
		free(with);
		free(without);
		bytes_free(&table);
	}
}

static void
finds_many_values_again(void)
{
	struct bytes table = { NULL, 0, 0 }, want = { NULL, 0, 0 };

	/* more values than a memo has room for, each of them often */
	bytes_add_text(&table, "a\n");
	for (int i = 0; i < 20000; i++) {
		bytes_add_format(&table, "%d\n", i * 7 % 3001);
		if (i * 7 % 3001 > 2990)
			bytes_add_format(
			    &want, "%d a r error [%d] at most 2990 (no)\n", i + 2, i * 7 % 3001);
	}
	bytes_add(&table, "", 1);
	bytes_add(&want, "", 1);
	one_rule("r\terror\tnumber\ta\t\t2990\t\t\t\tno", table.p, want.p);
	bytes_free(&table);
	bytes_free(&want);
}

int
main(void)
{
	RUN(judges_one_column);
	RUN(judges_several_columns);
	RUN(judges_order_of_time);
	RUN(judges_colours);
	RUN(judges_fibres);
	RUN(judges_what_records_share);
	RUN(judges_attempts_at_the_end);
	RUN(applies_only_when);
	RUN(reports_a_field_once);
	RUN(reports_bytes_that_are_no_text);
	RUN(later_rules_replace);
	RUN(refuses_wrong_rules);
	RUN(memos_change_nothing);
	RUN(finds_many_values_again);
	return check_done();
}
