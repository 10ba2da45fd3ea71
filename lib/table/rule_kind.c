#include "table/rule_kind.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/num.h"
#include "base/when.h"
#include "table/pattern.h"

enum {
	LOW = 1 << RULE_LOW,
	HIGH = 1 << RULE_HIGH,
	WORDS = 1 << RULE_WORDS,
	PATTERN = 1 << RULE_PATTERN,
};

enum { PATTERN_MOST = 255 };

/* --- one column ------------------------------------------------------------------------------ */

static void
judge_present(struct rules *rs, struct rule_check *c)
{
	struct field f = rules_cell(rs, c, 0);

	if (c->at[0] < 0)
		c->missed = true;
	else if (f.n == 0)
		rules_report(rs, c, 0, f, NULL, NULL);
}

static int
prepare_number(struct rules *rs, struct rule *r, struct table *t)
{
	(void)t;
	r->wanted = rules_range(rs, r, r->wanted);
	return 0;
}

static void
judge_number(struct rules *rs, struct rule_check *c)
{
	struct field f = rules_cell(rs, c, 0);
	double x;

	if (f.n == 0)
		return;
	if (num_parse(f, &x) != 0)
		rules_report(rs, c, 0, f, NULL, num_fault(f));
	else if (x < c->rule->low || x > c->rule->high)
		rules_report(rs, c, 0, f, NULL, NULL);
}

static int
prepare_whole(struct rules *rs, struct rule *r, struct table *t)
{
	(void)t;
	if (r->low_text.n + r->high_text.n > 0)
		r->wanted = rules_text(rs, "a whole number, %s", rules_range(rs, r, ""));
	return 0;
}

static void
judge_whole(struct rules *rs, struct rule_check *c)
{
	int64_t n;

	if (rules_whole(rs, c, 0, &n) && ((double)n < c->rule->low || (double)n > c->rule->high))
		rules_report(rs, c, 0, rules_cell(rs, c, 0), NULL, NULL);
}

static void
judge_time(struct rules *rs, struct rule_check *c)
{
	struct field f = rules_cell(rs, c, 0);
	struct when w;

	if (f.n > 0 && when_parse(f, &w) != 0)
		rules_report(rs, c, 0, f, NULL, when_fault(f));
}

static int
prepare_word(struct rules *rs, struct rule *r, struct table *t)
{
	rs->wanted.n = 0;
	if (r->nwords > 1)
		bytes_add_text(&rs->wanted, "one of: ");
	for (size_t i = 0; i < r->nwords; i++) {
		if (r->words[i].n == 0)
			return table_fail(t, RULE_WORDS, "an empty word in the list");
		if (i > 0)
			bytes_add_text(&rs->wanted, " ");
		bytes_add_field(&rs->wanted, r->words[i]);
	}
	r->wanted = region_string(&rs->text, bytes_field(&rs->wanted));
	return 0;
}

/* true if it is a number, and equal to one of the words */
static bool
same_number(const struct rule *r, struct field f)
{
	double x, word;

	if (num_parse(f, &x) != 0)
		return false;
	for (size_t i = 0; i < r->nwords; i++)
		if (num_parse(r->words[i], &word) == 0 && word == x)
			return true;
	return false;
}

static void
judge_word(struct rules *rs, struct rule_check *c)
{
	const struct rule *r = c->rule;
	struct field f = rules_cell(rs, c, 0);

	if (f.n == 0)
		return;
	for (size_t i = 0; i < r->nwords; i++)
		if (f.n == r->words[i].n && f.p[0] == r->words[i].p[0] &&
		    field_same(f, r->words[i]))
			return;
	if (!same_number(r, f))
		rules_report(rs, c, 0, f, NULL, NULL);
}

static int
prepare_pattern(struct rules *rs, struct rule *r, struct table *t)
{
	char why[PATTERN_WHY];

	if (r->pattern.n > PATTERN_MOST)
		return table_fail(t, RULE_PATTERN, "longer than 255 bytes");
	r->made = pattern_compile(r->pattern, why);
	if (r->made == NULL)
		return table_fail(t, RULE_PATTERN, why);
	r->wanted = rules_text(rs, "a match of %.*s", (int)r->pattern.n, r->pattern.p);
	return 0;
}

static void
release_pattern(struct rule *r)
{
	pattern_free(r->made);
}

static void
judge_pattern(struct rules *rs, struct rule_check *c)
{
	struct field f = rules_cell(rs, c, 0);

	if (f.n == 0)
		return;
	if (!pattern_found(c->rule->made, f))
		rules_report(rs, c, 0, f, NULL, NULL);
}

/*
 * UTF-8 that was taken for Windows-1252 and made UTF-8 once more: what was one character of two or
 * three bytes begins with a capital A under tilde or circumflex, or a small one and a euro sign, and
 * goes on with a character that is not a letter.
 */
static bool
made_twice(struct field f)
{
	static const char *const starts[] = { "\xc3\x82\xc2", "\xc3\x83\xc2", "\xc3\x82\xe2",
		"\xc3\x83\xe2", "\xc3\x83\xc5", "\xc3\x83\xc6", "\xc3\x83\xcb",
		"\xc3\xa2\xe2\x82\xac", "\xc3\xa2\xc2\x80" };
	const char *p;

	while ((p = memchr(f.p, 0xc3, f.n)) != NULL) {
		f.n -= (size_t)(p - f.p);
		f.p = p;
		for (size_t i = 0; i < sizeof starts / sizeof starts[0]; i++)
			if (field_starts(f, starts[i]))
				return true;
		f.p++;
		f.n--;
	}
	return false;
}

/* 04-Mar, perhaps with a year behind, or Mar-04: a spreadsheet makes that of 4-3. */
static bool
made_date(struct field f)
{
	static const char months[] = "jan feb mar apr may jun jul aug sep oct nov dec";
	struct field rest = f, first = field_cut(&rest, '-'), second = field_cut(&rest, '-');
	struct field day = num_digits(first) > 0 ? first : second,
		     month = num_digits(first) > 0 ? second : first;

	if (month.n != 3 || day.n > 2 || num_digits(day) + num_digits(rest) != day.n + rest.n)
		return false;
	for (size_t i = 0; day.n > 0 && i < sizeof months; i += 4)
		if (field_same_word(month, (struct field){ months + i, 3 }))
			return true;
	return false;
}

/* A mark of U+0300 to U+036F, which changes the letter before it. */
static bool
has_combining(struct field f)
{
	for (size_t i = 0; i + 1 < f.n; i++)
		if (f.p[i] == '\xcc' || (f.p[i] == '\xcd' && (unsigned char)f.p[i + 1] < 0xb0))
			return true;
	return false;
}

static void
judge_plain(struct rules *rs, struct rule_check *c)
{
	struct field f = rules_cell(rs, c, 0);
	unsigned char beyond = 0;

	for (size_t i = 0; i < f.n; i++)
		beyond |= (unsigned char)f.p[i];
	if (f.n > 0 && (*f.p == '=' || *f.p == '+' || *f.p == '@'))
		rules_report(rs, c, 0, f, NULL, "a spreadsheet takes this for a formula");
	else if (f.n > 4 && f.n < 12 && (num_is_digit(*f.p) || (f.n < 7 && f.p[3] == '-')) &&
		 made_date(f))
		rules_report(rs, c, 0, f, NULL, "a spreadsheet has made a date of this");
	else if (beyond >= 0x80 && made_twice(f))
		rules_report(rs, c, 0, f, NULL, "UTF-8 was made of this text twice");
	else if (beyond >= 0x80 && has_combining(f))
		rules_report(rs, c, 0, f, NULL,
		    "a letter with a combining mark: the same name spelt otherwise is another");
}

/* --- several columns ------------------------------------------------------------------------- */

static void
judge_unique(struct rules *rs, struct rule_check *c)
{
	struct field key[RULE_COLUMNS_MOST];
	size_t last = 0;
	bool fresh;

	for (size_t i = 0; i < c->n; i++) {
		key[i] = rules_cell(rs, c, i);
		if (!rules_cell_is_enough(rs, c, i))
			return;
	}
	ids_add(&c->ids, key, c->n, &fresh);
	for (size_t i = 0; i < c->n; i++)
		last = c->optional >> i & 1 ? last : i;
	if (!fresh)
		rules_report(rs, c, last, rules_cells(rs, c, 0, last + 1), NULL, NULL);
}

static void
judge_together(struct rules *rs, struct rule_check *c)
{
	size_t filled = 0, empty = 0;

	for (size_t i = 0; i < c->n; i++) {
		if (rules_cell(rs, c, i).n > 0)
			filled++;
		else if (filled == i)
			empty = i; /* the first one */
	}
	if (filled > 0 && filled < c->n)
		rules_report(rs, c, empty, field_of(""), NULL, NULL);
}

static int
prepare_together(struct rules *rs, struct rule *r, struct table *t)
{
	(void)t;
	rs->wanted.n = 0;
	for (size_t i = 0; i < r->ncols; i++)
		bytes_add_format(&rs->wanted, "%s%s",
		    i == 0             ? ""
		    : i + 1 < r->ncols ? ", "
				       : " and ",
		    rs->cols[r->cols[i]].name);
	r->wanted = rules_text(rs, "%.*s, or none of them", (int)rs->wanted.n, rs->wanted.p);
	return 0;
}

/* The time as a clock on the wall shows it, without the zone. */
static struct field
wall(struct field f)
{
	size_t n = sizeof "YYYY-MM-DD" - 1;

	while (n < f.n && f.p[n] != 'Z' && f.p[n] != '+' && f.p[n] != '-')
		n++;
	return (struct field){ f.p, n < f.n ? n : f.n };
}

/*
 * Whether b is surely before a. Two times of known zone are compared as such. Where only one has a
 * zone the other is taken to be of the same one; where only one has a time of day the dates
 * decide, as they are written. What is no time is not before anything.
 */
static bool
is_before(struct field b, struct field a)
{
	enum { DATE = sizeof "YYYY-MM-DD" - 1 };
	struct when wa, wb;

	if (a.n == DATE && b.n > DATE && memcmp(a.p, b.p, DATE) <= 0)
		return false; /* the usual case: the result is the same whether these are times or not */
	if (when_parse(a, &wa) != 0 || when_parse(b, &wb) != 0)
		return false;
	if (wa.date_only || wb.date_only)
		return memcmp(b.p, a.p, DATE) < 0;
	if (wa.has_zone != wb.has_zone &&
	    (when_parse(wall(a), &wa) != 0 || when_parse(wall(b), &wb) != 0))
		return false;
	return when_order(&wb, &wa) < 0;
}

static void
judge_order(struct rules *rs, struct rule_check *c)
{
	struct field before = { NULL, 0 }, f;

	for (size_t i = 0; i < c->n; i++) {
		f = rules_cell(rs, c, i);
		if (f.n == 0)
			continue;
		if (before.p != NULL && is_before(f, before)) {
			rs->wanted.n = 0;
			bytes_add_format(&rs->wanted, "not before %.*s", (int)before.n, before.p);
			bytes_add(&rs->wanted, "", 1);
			rules_report(rs, c, i, f, rs->wanted.p, NULL);
			return;
		}
		before = f;
	}
}

enum { TOLERANCE_MOST = 1000000 };

static int
prepare_mean(struct rules *rs, struct rule *r, struct table *t)
{
	(void)rs;
	if (r->high < 0 || r->high > TOLERANCE_MOST)
		return table_fail(t, RULE_HIGH, "a tolerance is 0 to 1000000");
	return 0;
}

/* Exact, in whole millionths. */
static void
judge_mean(struct rules *rs, struct rule_check *c)
{
	enum { COLUMNS = 3 };
	int64_t x[COLUMNS], off, within;
	char mean[DB_FIXED];

	for (size_t i = 0; i < COLUMNS; i++)
		if (rules_cell(rs, c, i).n == 0)
			return;
	for (size_t i = 0; i < COLUMNS; i++) {
		struct field f = rules_cell(rs, c, i);
		bool read = db_parse(f, &x[i]) == 0;
		double number;

		if (read && x[i] >= -INT64_MAX / 8 && x[i] <= INT64_MAX / 8)
			continue;
		rules_report(rs, c, i, f, "a number",
		    num_parse(f, &number) == 0 ? "number too large" : num_fault(f));
		return;
	}
	off = 2 * x[0] - x[1] - x[2];
	db_from(c->rule->high, &within);
	if (off <= 2 * within && off >= -2 * within)
		return;
	rs->wanted.n = 0;
	bytes_add(&rs->wanted, mean, db_fixed(mean, (x[1] + x[2]) / 2, 4));
	bytes_add_format(
	    &rs->wanted, " within %.*s", (int)c->rule->high_text.n, c->rule->high_text.p);
	bytes_add(&rs->wanted, "", 1);
	rules_report(rs, c, 0, rules_cell(rs, c, 0), rs->wanted.p, NULL);
}

const struct rule_kind rule_kinds[] = {
	{ "present", 1, .pure = true, .filled = true, .wanted = "a value", .judge = judge_present },
	{ "number", 1, .pure = true, .takes = LOW | HIGH, .wanted = "a number",
	    .prepare = prepare_number, .judge = judge_number },
	{ "whole", 1, .pure = true, .takes = LOW | HIGH, .wanted = "a whole number",
	    .prepare = prepare_whole, .judge = judge_whole },
	{ "time", 1, .wanted = "a date or time of ISO 8601, YYYY-MM-DDThh:mm:ss",
	    .judge = judge_time },
	{ "word", 1, .pure = true, .takes = WORDS, .needs = WORDS, .prepare = prepare_word,
	    .judge = judge_word },
	{ "pattern", 1, .pure = true, .takes = PATTERN, .needs = PATTERN,
	    .prepare = prepare_pattern, .release = release_pattern, .judge = judge_pattern },
	{ "plain", 1, .wanted = "plain text", .judge = judge_plain },
	{ "unique", .least = 1, .wanted = "in one row only", .judge = judge_unique },
	{ "together", .least = 2, .prepare = prepare_together, .judge = judge_together },
	{ "order", .least = 2, .wanted = "in order of time", .judge = judge_order },
	{ "mean", 3, .takes = HIGH, .needs = HIGH, .wanted = "the mean", .prepare = prepare_mean,
	    .judge = judge_mean },
	{ NULL },
};
