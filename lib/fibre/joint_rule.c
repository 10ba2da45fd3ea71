#include "fibre/joint_rule.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/num.h"
#include "fibre/colour.h"

enum { HIGH = 1 << RULE_HIGH, WORDS = 1 << RULE_WORDS };

static const char default_order[] = "tia-598";

enum { FIBRES_A_TUBE = 12 };

/* --- colours --------------------------------------------------------------------------------- */

struct colour_rule {
	struct colour_order order;
	uint64_t tube; /* fibres it holds */
};

static int
prepare_colour(struct rules *rs, struct rule *r, struct table *t)
{
	struct colour_rule *made = mem_zeroed(1, sizeof *made);
	struct err err = { "" };

	(void)rs;
	r->made = made;
	made->tube = FIBRES_A_TUBE;
	if (r->nwords > 1)
		return table_fail(t, RULE_WORDS, "more than one colour order");
	if (colour_order_read(&made->order, r->nwords == 1 ? r->words[0] : field_of(default_order),
		NULL, &err) != 0)
		return table_fail(t, RULE_WORDS, err.text);
	if (isinf(r->high))
		return 0;
	if (r->high != floor(r->high) || r->high < 1 || r->high > COLOUR_POSITIONS_MOST)
		return table_fail(t, RULE_HIGH, "a tube holds 1 to 24 fibres");
	made->tube = (uint64_t)r->high;
	return 0;
}

static void
release_colour(struct rule *r)
{
	struct colour_rule *made = r->made;

	colour_order_free(&made->order);
	free(made);
}

static void
report_colour(struct rules *rs, const struct rule_check *c, struct field wanted, uint64_t number)
{
	rs->wanted.n = 0;
	bytes_add_field(&rs->wanted, wanted);
	if (number > 0)
		bytes_add_format(&rs->wanted, " or %llu", (unsigned long long)number);
	bytes_add(&rs->wanted, "", 1);
	rules_report(rs, c, 1, rules_cell(rs, c, 1), rs->wanted.p, NULL);
}

/* The number of a fibre in the check's first column, if its second one says something, else 0. */
static uint64_t
fibre_number(struct rules *rs, const struct rule_check *c)
{
	int64_t n;

	if (rules_cell(rs, c, 1).n == 0 || !rules_whole(rs, c, 0, &n))
		return 0;
	if (n >= 1)
		return (uint64_t)n;
	rules_report(rs, c, 0, rules_cell(rs, c, 0), "at least 1", "fibres are counted from 1");
	return 0;
}

static void
judge_colour(struct rules *rs, struct rule_check *c)
{
	const struct colour_rule *made = c->rule->made;
	uint64_t n = fibre_number(rs, c);

	if (n == 0)
		return;
	n = (n - 1) % made->tube + 1;
	if (!colour_is(&made->order, n, rules_cell(rs, c, 1)))
		report_colour(rs, c, colour_name(&made->order, n), 0);
}

static void
judge_tube(struct rules *rs, struct rule_check *c)
{
	const struct colour_rule *made = c->rule->made;
	struct field given = rules_cell(rs, c, 1);
	uint64_t n = fibre_number(rs, c);
	int64_t number;

	if (n == 0)
		return;
	n = (n - 1) / made->tube + 1;
	if (num_whole(given, &number) == 0 ? number == (int64_t)n
					   : colour_is(&made->order, n, given))
		return;
	report_colour(rs, c, colour_name(&made->order, n), n);
}

/* --- fibres ---------------------------------------------------------------------------------- */

/* "07" is fibre 7 */
static struct field
without_zeros(struct field f)
{
	while (f.n > 1 && f.p[0] == '0' && num_is_digit(f.p[1])) {
		f.p++;
		f.n--;
	}
	return f;
}

static bool
same_at(const struct rules *rs, const struct rule_check *c, size_t i, size_t k)
{
	struct field f = without_zeros(rules_cell(rs, c, i));

	return f.n > 0 && field_same(f, without_zeros(rules_cell(rs, c, k)));
}

static void
judge_not_itself(struct rules *rs, struct rule_check *c)
{
	if (same_at(rs, c, 0, 2) && same_at(rs, c, 1, 3))
		rules_report(rs, c, 2, rules_cells(rs, c, 2, 2), NULL, NULL);
}

static void
judge_fibre_once(struct rules *rs, struct rule_check *c)
{
	size_t joint = rules_subject(rs), id;
	struct field key[3], owner;
	uint32_t *owners;
	bool fresh;

	if (joint == SIZE_MAX)
		return;
	for (size_t i = 0; i < 3; i++) {
		key[i] = without_zeros(rules_cell(rs, c, i));
		if (key[i].n == 0)
			return;
	}
	id = ids_add(&c->ids, key, 3, &fresh);
	owners = rules_memory(c, id + 1, sizeof *owners);
	if (fresh)
		owners[id] = (uint32_t)joint; /* ids are no wider */
	if (owners[id] == joint)
		return;
	owner = ids_key(&rs->subjects, owners[id]);
	rs->wanted.n = 0;
	bytes_add_text(&rs->wanted, "not a fibre of joint ");
	bytes_add_field(&rs->wanted, owner);
	bytes_add(&rs->wanted, "", 1);
	rules_report(rs, c, 2, rules_cells(rs, c, 1, 2), rs->wanted.p, NULL);
}

/* --- attempts -------------------------------------------------------------------------------- */

enum { ATTEMPTS_MOST = 64 };

/* A bit for each number seen; all of them once there was a row whose number is not known. */
static void
judge_attempts(struct rules *rs, struct rule_check *c)
{
	size_t joint = rules_subject(rs);
	uint64_t *seen;
	int64_t n;

	if (joint == SIZE_MAX)
		return;
	seen = rules_memory(c, joint + 1, sizeof *seen);
	if (rules_whole(rs, c, 0, &n) && n >= 1 && n <= ATTEMPTS_MOST)
		seen[joint] |= (uint64_t)1 << (n - 1);
	else
		seen[joint] = UINT64_MAX;
}

static void
end_attempts(struct rules *rs, struct rule_check *c, size_t joint)
{
	const uint64_t *seen = c->memory;
	uint64_t numbers = joint < c->cap ? seen[joint] : 0;
	char wanted[40];
	int last = 0;

	if ((numbers & (numbers + 1)) == 0)
		return;
	rs->found.n = 0;
	for (int i = 0; i < ATTEMPTS_MOST; i++)
		if (numbers >> i & 1) {
			bytes_add_format(&rs->found, "%s%d", rs->found.n > 0 ? " " : "", i + 1);
			last = i + 1;
		}
	snprintf(wanted, sizeof wanted, "all of 1 to %d", last);
	rules_report_end(rs, c, joint, bytes_field(&rs->found), wanted);
}

/* 0: not judged; else 1 more than how many stand, or the most there is if that is not known */
static void
judge_one_stands(struct rules *rs, struct rule_check *c)
{
	struct field stands = rules_cell(rs, c, 0);
	size_t joint = rules_subject(rs);
	uint32_t *standing;

	if (joint == SIZE_MAX)
		return;
	standing = rules_memory(c, joint + 1, sizeof *standing);
	if (standing[joint] == 0)
		standing[joint] = 1;
	if (standing[joint] == UINT32_MAX)
		return;
	if (stands.n == 0 || field_is(stands, "yes"))
		standing[joint]++;
	else if (!field_is(stands, "no"))
		standing[joint] = UINT32_MAX;
}

static void
end_one_stands(struct rules *rs, struct rule_check *c, size_t joint)
{
	const uint32_t *standing = c->memory;
	char found[40];

	if (joint >= c->cap || standing[joint] == 0 || standing[joint] == 2 ||
	    standing[joint] == UINT32_MAX)
		return;
	snprintf(found, sizeof found, "%lu", (unsigned long)standing[joint] - 1);
	rules_report_end(rs, c, joint, field_of(found), c->rule->wanted);
}

const struct rule_kind joint_rule_kinds[] = {
	{ "colour", 2, .takes = HIGH | WORDS, .wanted = "the colour of this fibre",
	    .prepare = prepare_colour, .release = release_colour, .judge = judge_colour },
	{ "tube", 2, .takes = HIGH | WORDS, .wanted = "the tube of this fibre",
	    .prepare = prepare_colour, .release = release_colour, .judge = judge_tube },
	{ "not-itself", 4, .wanted = "another fibre", .judge = judge_not_itself },
	{ "fibre-once", 3, .wanted = "in one joint only", .judge = judge_fibre_once },
	{ "attempts", 1, .wanted = "numbers without a hole", .judge = judge_attempts,
	    .end = end_attempts },
	{ "one-stands", 1, .wanted = "1", .judge = judge_one_stands, .end = end_one_stands },
	{ NULL },
};
