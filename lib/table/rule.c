#include "table/rule.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/num.h"
#include "base/spelling.h"
#include "table/head.h"
#include "table/rule_inside.h"

struct rule_mark {
	uint64_t error, warning; /* the last row in which one was reported of this column */
};

struct rule_subject {
	const char *file;
	uint64_t line;
	bool spoilt;
};

/*
 * Fields of up to seven bytes that were judged before, with nothing to report: most columns have few
 * values, and to look here costs less than to judge a number by three rules. One for each column
 * that has pure checks. A field counts as judged only together with those of its checks' conditions
 * that did not hold.
 */
enum { MEMO_TERMS = 8, MEMO_BITS = 9 };

struct rule_memo {
	bool filled;    /* all that its checks ask for is a value */
	bool fine;      /* its checks need not look at the present row */
	int at;         /* column of the table */
	uint64_t terms; /* what its checks need */
	uint64_t *good;
};

/* The first of the two places of a key; the factor is that of ids.c. */
static inline uint64_t *
places(struct rule_memo *m, uint64_t key)
{
	return &m->good[(key * 0x9e3779b97f4a7c15u >> (64 - MEMO_BITS)) & ~(uint64_t)1];
}

/* --- the table that is judged ---------------------------------------------------------------- */

static bool
among(const struct rule_term *term, struct field f, const char *end)
{
	uint64_t key = field_key(f, end);

	for (size_t i = 0; i < term->nvalues; i++)
		if (term->keys[i] == key && f.n == term->values[i].n &&
		    (f.n <= FIELD_KEY || field_same(f, term->values[i])))
			return true;
	return false;
}

/* What a condition's result is for every row, as far as the table's columns decide it: a column that
   the table does not have counts as empty. */
enum fixed { NEVER, ALWAYS, OPEN };

static enum fixed
bind_term(const struct rules *rs, struct rule_term *term)
{
	bool always = false;

	term->nat = 0;
	for (size_t i = 0; i < term->ncols; i++) {
		int at = rs->table->at[term->cols[i]];

		if (at >= 0)
			term->at[term->nat++] = at;
		else
			always |= term->values != NULL && among(term, field_of(""), NULL);
	}
	return always ? ALWAYS : term->nat > 0 ? OPEN : NEVER;
}

/*
 * Adds a check of the rule's columns from `first` on, if the table has them. One that demands a value
 * is added without its column as well: it notes whether a row demands it.
 */
static void
bind_check(struct rules *rs, const struct rule *r, uint64_t need, size_t first, size_t n)
{
	bool some = r->kind->filled;
	struct rule_check c = { .judge = r->kind->judge,
		.need = need,
		.rule = r,
		.first = first,
		.n = n,
		.optional = r->optional >> first };

	for (size_t i = 0; i < n; i++) {
		c.at[i] = rs->table->at[r->cols[first + i]];
		if (c.at[i] < 0 && !r->kind->filled && (n == 1 || (c.optional >> i & 1) == 0))
			return;
		some |= c.at[i] >= 0;
	}
	if (!some)
		return;
	c.ids = (struct ids)IDS_NONE;
	rs->checks = mem_grow(rs->checks, &rs->cap_checks, rs->nchecks + 1, sizeof *rs->checks);
	rs->checks[rs->nchecks++] = c;
	rs->remembers |= r->kind->end != NULL;
}

static void
bind_memos(struct rules *rs)
{
	size_t columns = reader_columns(rs->table->reader);
	size_t *of = mem_zeroed(columns, sizeof *of); /* for each column 1 more than its memo */

	rs->others = mem_zeroed(rs->nchecks, sizeof *rs->others);
	rs->memos = mem_zeroed(columns, sizeof *rs->memos);
	for (size_t i = 0; i < rs->nchecks; i++) {
		struct rule_check *c = &rs->checks[i];
		struct rule_memo *m;

		if (!c->rule->kind->pure || c->at[0] < 0 || rs->nopen > MEMO_TERMS) {
			rs->others[rs->nothers++] = i;
			continue;
		}
		if (of[c->at[0]] == 0) {
			of[c->at[0]] = ++rs->nmemos;
			m = &rs->memos[rs->nmemos - 1];
			m->at = c->at[0];
			m->filled = true;
			m->good = mem_zeroed(1 << MEMO_BITS, sizeof *m->good);
			/* seven bytes FF are not UTF-8, and are reported as such */
			memset(m->good, 0xff, sizeof *m->good << MEMO_BITS);
		}
		m = &rs->memos[of[c->at[0]] - 1];
		m->terms |= c->need;
		m->filled &= c->rule->kind->filled;
		c->memo = m;
	}
	free(of);
}

/* Adds the checks of a rule. fixed: the result of each term; OPEN ones are bits of `open`. */
static void
bind_rule(struct rules *rs, const struct rule *r, const enum fixed *fixed, const uint64_t *open)
{
	size_t group = r->kind->group > 0 ? r->kind->group : r->ncols;
	uint64_t need = 0;

	for (size_t i = 0; i < rs->nterms; i++)
		if (r->need >> i & 1) {
			if (fixed[i] == NEVER)
				return;
			need |= open[i];
		}
	for (size_t first = 0; first < r->ncols; first += group)
		bind_check(rs, r, need, first, group);
}

/* Refuses a column of the rules that no table has, if the present one has a similar name. */
static int
refuse_slips(struct rules *rs)
{
	struct reader *reader = rs->table->reader;
	size_t n = reader_columns(reader), best;
	struct field *names = mem_zeroed(n + 1, sizeof *names), f;
	struct field known = { (const char *)columns_tsv.p, columns_tsv.n };

	for (size_t i = 0; i < n; i++)
		names[i] = reader_name(reader, i);
	for (size_t i = 1; i < rs->ncols; i++) {
		f = field_of(rs->cols[i].name);
		if (rs->table->at[i] >= 0 || field_among(known, '\n', f) != SIZE_MAX)
			continue;
		best = spelling_best(f, names, n);
		if (best == SIZE_MAX)
			continue;
		err_set(rs->table->err, "%s:%llu: no column '%s': is it '%.*s'?",
		    rs->places[i].file, (unsigned long long)rs->places[i].line, rs->cols[i].name,
		    (int)names[best].n, names[best].p);
		break;
	}
	free(names);
	return err_is_set(rs->table->err) ? -1 : 0;
}

/* Whether a check has a column of the table. */
static bool
applies(const struct rules *rs)
{
	for (size_t i = 0; i < rs->nchecks; i++)
		for (size_t k = 0; k < rs->checks[i].n; k++)
			if (rs->checks[i].at[k] >= 0)
				return true;
	return false;
}

int
rules_bind(struct rules *rs, struct table *table)
{
	enum fixed fixed[TERMS_MOST] = { NEVER };
	uint64_t open[TERMS_MOST] = { 0 };

	rs->table = table;
	if (refuse_slips(rs) != 0)
		return -1;
	rs->marks = mem_zeroed(reader_columns(table->reader), sizeof *rs->marks);
	rs->open = mem_zeroed(rs->nterms, sizeof *rs->open);
	for (size_t i = 0; i < rs->nterms; i++) {
		fixed[i] = bind_term(rs, &rs->terms[i]);
		open[i] = fixed[i] == OPEN ? (uint64_t)1 << rs->nopen : 0;
		if (fixed[i] == OPEN)
			rs->open[rs->nopen++] = i;
	}
	for (size_t i = 0; i < rs->n; i++)
		if (rs->rules[i].level != RULE_OFF)
			bind_rule(rs, &rs->rules[i], fixed, open);
	if (!applies(rs))
		return reader_fail_header(table->reader,
		    "no rule applies: the table has none of the columns that the rules read");
	bind_memos(rs);
	rules_report_heads(rs);
	return 0;
}

/* --- for kinds ------------------------------------------------------------------------------- */

/* The table's column for a finding in the check's column i: the first there is, if that one is not. */
static size_t
column_at(const struct rule_check *c, size_t i)
{
	if (c->at[i] < 0)
		for (i = 0; i + 1 < c->n && c->at[i] < 0; i++)
			;
	return (size_t)c->at[i];
}

struct field
rules_column(const struct rules *rs, const struct rule_check *c, size_t i)
{
	return reader_name(rs->table->reader, column_at(c, i));
}

struct field
rules_cells(struct rules *rs, const struct rule_check *c, size_t first, size_t n)
{
	rs->found.n = 0;
	for (size_t i = first; i < first + n; i++) {
		if (i > first)
			bytes_add_text(&rs->found, " ");
		bytes_add_field(&rs->found, rules_cell(rs, c, i));
	}
	return bytes_field(&rs->found);
}

struct field
rules_subject_name(const struct rules *rs)
{
	int at = rs->table->at[0];

	return at < 0 ? field_of("") : row_field(&rs->table->row, (size_t)at);
}

void
rules_report(struct rules *rs, const struct rule_check *c, size_t i, struct field found,
    const char *wanted, const char *says)
{
	const struct row *row = &rs->table->row;
	struct rule_mark *mark = &rs->marks[column_at(c, i)];
	bool error = c->rule->level == RULE_ERROR;

	if (mark->error == rs->serial || (!error && mark->warning == rs->serial))
		return;
	*(error ? &mark->error : &mark->warning) = rs->serial;
	rs->report(rs->arg,
	    &(struct finding){ row->file, row->line, rules_column(rs, c, i), rules_subject_name(rs),
		c->rule->name, error, found, wanted != NULL ? wanted : c->rule->wanted,
		says != NULL ? says : c->rule->says, c->rule->standing });
}

void
rules_report_end_at(struct rules *rs, const struct rule_check *c, size_t i, size_t subject,
    struct field found, const char *wanted)
{
	const struct rule_subject *last = &rs->last[subject];

	rs->report(rs->arg, &(struct finding){ last->file, last->line, rules_column(rs, c, i),
				ids_key(&rs->subjects, subject), c->rule->name,
				c->rule->level == RULE_ERROR, found, wanted, c->rule->says });
}

void
rules_report_end(struct rules *rs, const struct rule_check *c, size_t subject, struct field found,
    const char *wanted)
{
	rules_report_end_at(rs, c, 0, subject, found, wanted);
}

size_t
rules_subject(struct rules *rs)
{
	const struct row *row = &rs->table->row;
	struct field name;
	bool fresh;

	if (rs->subject_known)
		return rs->subject;
	rs->subject_known = true;
	rs->subject = SIZE_MAX;
	name = rules_subject_name(rs);
	if (name.n == 0)
		return SIZE_MAX;
	rs->subject = ids_add(&rs->subjects, &name, 1, &fresh);
	if (fresh) {
		rs->last = mem_grow(rs->last, &rs->cap_last, rs->subject + 1, sizeof *rs->last);
		rs->last[rs->subject].spoilt = false;
	}
	rs->last[rs->subject].file = row->file;
	rs->last[rs->subject].line = row->line;
	return rs->subject;
}

bool
rules_whole(struct rules *rs, const struct rule_check *c, size_t i, int64_t *n)
{
	struct field f = rules_cell(rs, c, i);
	double number;

	if (f.n == 0)
		return false;
	if (num_whole(f, n) == 0)
		return true;
	rules_report(rs, c, i, f, "a whole number",
	    num_parse(f, &number) == 0 ? "not a whole number" : num_fault(f));
	return false;
}

void *
rules_memory(struct rule_check *c, size_t n, size_t size)
{
	size_t before = c->cap;

	if (n > before) {
		c->memory = mem_grow(c->memory, &c->cap, n, size);
		memset((char *)c->memory + before * size, 0, (c->cap - before) * size);
	}
	return c->memory;
}

/* --- rows ------------------------------------------------------------------------------------ */

/* Notes that a row of its subject cannot be read: there is no finding about it at the end. */
static void
spoil(struct rules *rs)
{
	size_t subject = rs->remembers ? rules_subject(rs) : SIZE_MAX;

	if (subject != SIZE_MAX)
		rs->last[subject].spoilt = true;
}

/* A finding about a row of the wrong shape, or without any value. */
static void
report_shape(struct rules *rs)
{
	const struct row *row = &rs->table->row;
	struct finding f = { row->file, row->line, .rule = SHAPE_RULE, .error = true,
		.wanted = "a row" };
	char found[40], wanted[40], says[120];

	switch (row->fault) {
	case ROW_SHORT:
	case ROW_LONG:
		head_wrong_count(says, sizeof says, row->fields, row->nf, row->due);
		f.says = says;
		snprintf(found, sizeof found, "%zu fields", row->nf);
		snprintf(wanted, sizeof wanted, "%zu fields", row->due);
		f.found = field_of(found);
		f.wanted = wanted;
		break;
	case ROW_BLANK:
		f.says = "blank line inside the table";
		break;
	case ROW_HEADER:
		f.says = "the header line stands here again";
		break;
	case ROW_FINE:
		f.says = "a row without any value";
		break;
	}
	if (row->fault != ROW_HEADER) {
		f.joint = rules_subject_name(rs);
		spoil(rs);
	}
	rs->report(rs->arg, &f);
}

static void
report_utf8(struct rules *rs)
{
	const struct row *row = &rs->table->row;
	char says[100];

	for (size_t i = 0; i < reader_columns(rs->table->reader); i++) {
		struct field f = row_field(row, i);
		size_t bad = utf8_fault(f);

		if (bad == f.n)
			continue;
		rs->marks[i].error = rs->serial;
		snprintf(says, sizeof says, "not UTF-8 at byte %zu of the line",
		    (size_t)(f.p - row->raw.p) + bad + 1);
		rs->report(rs->arg,
		    &(struct finding){ row->file, row->line, reader_name(rs->table->reader, i),
			rules_subject_name(rs), UTF8_RULE, true, f, "UTF-8", says });
	}
}

static bool
term_holds(const struct rule_term *term, const struct row *row)
{
	for (size_t i = 0; i < term->nat; i++) {
		struct field f = row_field(row, (size_t)term->at[i]);

		if (term->values == NULL ? f.n > 0 : among(term, f, row->raw.p + row->raw.n))
			return true;
	}
	return false;
}

static void
keep(struct rule_memo *m, const struct row *row, uint64_t fails)
{
	struct field f = row_field(row, (size_t)m->at);
	uint64_t key = field_key(f, row->raw.p + row->raw.n) | (fails & m->terms) << 8 * FIELD_KEY;
	uint64_t *good = places(m, key);

	if (f.n > FIELD_KEY)
		return;
	good[1] = good[0];
	good[0] = key;
}

/* Looks up the row's fields; true if all of them are known to be fine. */
__attribute__((always_inline)) static inline bool
look_up(struct rules *rs, const struct row *row, uint64_t fails)
{
	const char *end = row->raw.p + row->raw.n;
	bool all = true;

	for (size_t i = 0; i < rs->nmemos; i++) {
		struct rule_memo *m = &rs->memos[i];
		struct field f = row_field(row, (size_t)m->at);
		const uint64_t *good;

		if (m->filled) {
			m->fine = f.n > 0;
		} else {
			uint64_t key = field_key(f, end) | (fails & m->terms) << 8 * FIELD_KEY;

			good = places(m, key);
			m->fine = ((good[0] == key) | (good[1] == key)) & (f.n <= FIELD_KEY);
		}
		all &= m->fine;
	}
	return all;
}

static bool
all_fine(struct rules *rs, const struct row *row, uint64_t fails)
{
	struct row usual = *row;

	if (row->from != NULL || row->fields != NULL)
		return look_up(rs, row, fails);
	/* the compiler leaves both tests out of this loop */
	usual.from = NULL;
	usual.fields = NULL;
	return look_up(rs, &usual, fails);
}

static void
judge(struct rules *rs, uint64_t fails)
{
	const struct row *row = &rs->table->row;

	if (all_fine(rs, row, fails)) {
		for (size_t i = 0; i < rs->nothers; i++) {
			struct rule_check *c = &rs->checks[rs->others[i]];

			if ((c->need & fails) == 0)
				c->judge(rs, c);
		}
		return;
	}
	for (size_t i = 0; i < rs->nchecks; i++) {
		struct rule_check *c = &rs->checks[i];

		if ((c->need & fails) == 0 && (c->memo == NULL || !c->memo->fine))
			c->judge(rs, c);
	}
	for (size_t i = 0; i < rs->nmemos; i++) {
		struct rule_memo *m = &rs->memos[i];
		const struct rule_mark *mark = &rs->marks[m->at];

		if (!m->fine && mark->error != rs->serial && mark->warning != rs->serial)
			keep(m, row, fails);
	}
}

void
rules_row(struct rules *rs)
{
	const struct row *row = &rs->table->row;
	uint64_t fails = 0;

	rs->serial++;
	if (row->fault != ROW_FINE || row->raw.n + 1 == row->nf) {
		report_shape(rs);
		rs->subject_known = false;
		return;
	}
	if (utf8_fault(row->raw) < row->raw.n)
		report_utf8(rs);
	for (size_t i = 0; i < rs->nopen; i++)
		if (!term_holds(&rs->terms[rs->open[i]], row))
			fails |= (uint64_t)1 << i;
	judge(rs, fails);
	rs->subject_known = false;
}

void
rules_end(struct rules *rs)
{
	rules_report_ends(rs);
	for (size_t s = 0; s < rs->subjects.n; s++)
		for (size_t i = 0; i < rs->nchecks && !rs->last[s].spoilt; i++)
			if (rs->checks[i].rule->kind->end != NULL)
				rs->checks[i].rule->kind->end(rs, &rs->checks[i], s);
}

void
rules_free(struct rules *rs)
{
	for (size_t i = 0; i < rs->n; i++)
		rule_release(&rs->rules[i]);
	for (size_t i = 0; i < rs->nchecks; i++) {
		ids_free(&rs->checks[i].ids);
		free(rs->checks[i].memory);
	}
	free(rs->cols);
	free(rs->places);
	free(rs->rules);
	free(rs->terms);
	free(rs->open);
	free(rs->checks);
	for (size_t i = 0; i < rs->nmemos; i++)
		free(rs->memos[i].good);
	free(rs->memos);
	free(rs->others);
	free(rs->marks);
	free(rs->last);
	ids_free(&rs->col_names);
	ids_free(&rs->names);
	ids_free(&rs->subjects);
	region_free(&rs->text);
	bytes_free(&rs->found);
	bytes_free(&rs->wanted);
	*rs = (struct rules){ 0 };
}
