/*
 * fuzz_rules: any bytes as a table of rules, working on a small table of joints; and if there is a
 * NUL among them, what is behind it as a table under the built-in rules. Findings must be a table
 * whatever was found.
 *
 *	clang -fsanitize=fuzzer,address,undefined
 */
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/bytes.h"
#include "fibre/joint_rule.h"
#include "table/findings.h"
#include "table/rule.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static const char joints[] =
    "joint\tattempt\tstands\tclosure\tcable_a\tfibre_a\tcable_b\tfibre_b\tcolour_a\ttube_a\test_db\t"
    "made_at\tshift\tloss_db\tloss_ab_db\tloss_ba_db\n"
    "A\t1\tno\tx\tk\t1\tm\t1\tblue\t1\t0.30\t2026-03-11T10:00:00Z\t2026-03-11\t0.05\t0.04\t0.06\n"
    "A\t2\tyes\tx\tk\t1\tm\t1\tblue\tblue\t0,3\t2026-03-10\t2026-03-11\t0.09\t0.04\t0.06\n"
    "B\t\t\tx\tk\t01\tm\t25\tred\t\t-1\t\t\t0.05\t\t0.06\n"
    "C\t3\tmaybe\t\tm\t2\tm\t2\t4\xb0\tgreen\tx\tlate\tnight\t1e13\t1\t1\n"
    "\t\t\t\t\t\t\t\t\t\t\t\t\t\t\t\n";

struct heard {
	struct err err;
	struct findings findings;
	struct bytes why;
	uint64_t n;
};

static void
must(bool good)
{
	if (!good)
		abort();
}

static void
hear(void *arg, const struct finding *f)
{
	struct heard *h = arg;

	h->n++;
	findings_add(&h->findings, f);
	h->why.n = 0;
	findings_why(&h->why, f);
	must(utf8_fault(bytes_field(&h->why)) == h->why.n);
	must(h->why.n == 0 || memchr(h->why.p, '\t', h->why.n) == NULL);
	must(f->line > 0 && f->says != NULL && f->wanted != NULL && f->rule != NULL);
}

static void
judge(struct field rules, struct field table)
{
	struct blob blob = { "rules", (const unsigned char *)rules.p, rules.n };
	struct heard h = { .n = 0 };
	struct err err = { "" };
	struct table t = { NULL }, rules_table = { NULL };
	struct rules rs;
	struct outputs all = { .n = 0 };
	struct writer *out = writer_open(&all, "/dev/null", &h.err);

	findings_open(&h.findings, out);
	rules_init(&rs, "joint", joint_rule_kinds, hear, &h);
	if (table_open_side(
		&rules_table, rule_cols, NULL, rules.p != NULL ? &blob : &rules_tsv, &err) == 0 &&
	    rules_read(&rs, &rules_table) == 0 &&
	    table_open_reader(&t, rs.cols, reader_memory("t", table, &err), NULL, &err) == 0 &&
	    rules_bind(&rs, &t) == 0) {
		while (table_next(&t))
			rules_row(&rs);
		rules_end(&rs);
	}
	table_close(&t);
	table_close(&rules_table);
	rules_free(&rs);
	must(!err_is_set(&h.err)); /* no TAB or line end in a field of the findings */
	must(h.findings.errors + h.findings.warnings == h.n);
	outputs_finish(&all, true, &h.err);
	findings_free(&h.findings);
	bytes_free(&h.why);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct field rules = { (const char *)data, size };
	const char *end = size > 0 ? memchr(data, '\0', size) : NULL;

	if (end != NULL) {
		size_t n = (size_t)(end - rules.p);

		judge((struct field){ NULL, 0 }, (struct field){ end + 1, size - n - 1 });
		rules.n = n;
	}
	if (rules.n > 0)
		judge(rules, field_of(joints));
	return 0;
}
