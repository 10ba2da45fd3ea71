#include "table/rule.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/near.h"
#include "base/num.h"
#include "table/head.h"
#include "table/rule_kind.h"

enum { TERMS_MOST = 64, TERM_COLUMNS_MOST = 8 };

/* One condition of a `when`: any of its columns has one of the values, or ("*") any value. */
struct rule_term {
	struct field text;
	size_t cols[TERM_COLUMNS_MOST], ncols;
	struct field *values; /* NULL: any */
	uint64_t *keys;       /* of those of at most MEMO_KEY bytes, which come first */
	size_t nvalues, nkeys;
	int at[TERM_COLUMNS_MOST]; /* columns of the table that is judged */
	size_t nat;
};

struct rule_mark {
	uint64_t error, warning; /* the last row in which one was reported of this column */
};

struct rule_subject {
	const char *file;
	uint64_t line;
	bool spoilt;
};

static const struct col rule_cols[] = {
	[RULE_NAME] = { "rule", COL_NEED, COL_TEXT },
	[RULE_LEVEL] = { "level", COL_NEED, COL_WORD, .words = "off warning error" },
	[RULE_KIND] = { "kind", COL_NEED, COL_TEXT },
	[RULE_COLUMNS] = { "columns", COL_NEED, COL_TEXT },
	[RULE_LOW] = { "low", COL_MAY, COL_NUM },
	[RULE_HIGH] = { "high", COL_MAY, COL_NUM },
	[RULE_WORDS] = { "words", COL_MAY, COL_TEXT },
	[RULE_PATTERN] = { "pattern", COL_MAY, COL_TEXT },
	[RULE_WHEN] = { "when", COL_MAY, COL_TEXT },
	[RULE_SAYS] = { "says", COL_MAY, COL_TEXT },
	[RULE_SOURCE] = { "source", COL_MAY, COL_TEXT },
	{ NULL },
};

static const char shape_rule[] = "shape", utf8_rule[] = "utf8";

/* --- rules tables ---------------------------------------------------------------------------- */

/* The index in rs->cols of the column of this name. */
static size_t
column(struct rules *rs, struct field name)
{
	for (size_t i = 0; i < rs->ncols; i++)
		if (field_is(name, rs->cols[i].name))
			return i;
	rs->cols = mem_grow(rs->cols, &rs->cap_cols, rs->ncols + 2, sizeof *rs->cols);
	rs->cols[rs->ncols] = (struct col){ region_string(&rs->text, name), COL_MAY, COL_TEXT };
	rs->cols[rs->ncols + 1] = (struct col){ NULL };
	return rs->ncols++;
}

void
rules_init(struct rules *rs, const char *subject, const struct rule_kind *kinds,
    void (*report)(void *arg, const struct finding *f), void *arg)
{
	*rs = (struct rules){ .kinds = kinds, .report = report, .arg = arg, .subjects = IDS_NONE };
	column(rs, field_of(subject));
}

static size_t
kinds_n(const struct rule_kind *kinds)
{
	size_t n = 0;

	while (kinds != NULL && kinds[n].name != NULL)
		n++;
	return n;
}

static int
read_kind(struct rules *rs, struct rule *r, struct table *t)
{
	size_t n = kinds_n(rule_kinds), all = n + kinds_n(rs->kinds), best;
	struct field name = { "", 0 };
	struct field *names;
	char what[100];

	if (!get_text(t, RULE_KIND, &name))
		return table_fail(t, RULE_KIND, "no kind");
	names = mem_zeroed(all, sizeof *names);
	for (size_t i = 0; i < all; i++) {
		const struct rule_kind *k = i < n ? &rule_kinds[i] : &rs->kinds[i - n];

		names[i] = field_of(k->name);
		if (field_same(names[i], name))
			r->kind = k;
	}
	if (r->kind == NULL) {
		best = near_best(name, names, all);
		if (best == SIZE_MAX)
			snprintf(what, sizeof what, "no such kind of rule");
		else
			snprintf(
			    what, sizeof what, "no such kind of rule; nearest: %s", names[best].p);
		table_fail(t, RULE_KIND, what);
	}
	free(names);
	return r->kind != NULL ? 0 : -1;
}

static int
read_columns(struct rules *rs, struct rule *r, struct table *t)
{
	struct field list = { NULL, 0 }, name;
	char what[100];

	if (!get_text(t, RULE_COLUMNS, &list))
		return table_fail(t, RULE_COLUMNS, "no column");
	while (list.p != NULL) {
		name = field_cut(&list, ',');
		if (name.n == 0)
			return table_fail(t, RULE_COLUMNS, "an empty name in the list");
		if (r->ncols == RULE_COLUMNS_MOST)
			return table_fail(t, RULE_COLUMNS, "too many columns for one rule");
		r->cols[r->ncols++] = column(rs, name);
	}
	if (r->kind->group > 0 && r->ncols % r->kind->group != 0)
		snprintf(what, sizeof what,
		    "a rule of this kind takes %zu columns, or %zu, or %zu ...", r->kind->group,
		    2 * r->kind->group, 3 * r->kind->group);
	else if (r->kind->group == 0 && r->ncols < r->kind->least)
		snprintf(what, sizeof what, "a rule of this kind takes at least %zu columns",
		    r->kind->least);
	else
		return 0;
	return table_fail(t, RULE_COLUMNS, what);
}

/* The pieces of a text that lives as long as the rules. */
static struct field *
split(struct rules *rs, struct field text, char sep, size_t *n)
{
	struct field *pieces, rest = text;
	size_t most = 1;

	for (size_t i = 0; i < text.n; i++)
		most += text.p[i] == sep;
	pieces = region_get(&rs->text, most * sizeof *pieces);
	for (*n = 0; rest.p != NULL;)
		pieces[(*n)++] = field_cut(&rest, sep);
	return pieces;
}

static int
read_parameters(struct rules *rs, struct rule *r, struct table *t)
{
	struct field f[RULE_PATTERN + 1];
	char what[100];

	for (int c = RULE_LOW; c <= RULE_PATTERN; c++) {
		bool given = get_text(t, c, &f[c]);

		if (!given)
			f[c] = field_of("");
		f[c] = region_keep(&rs->text, f[c]);
		if (given == ((given ? r->kind->takes : r->kind->needs) >> c & 1))
			continue;
		snprintf(what, sizeof what, "a rule of kind %s %s", r->kind->name,
		    given ? "takes none" : "needs one");
		return table_fail(t, c, what);
	}
	r->low = -INFINITY;
	r->high = INFINITY;
	get_num(t, RULE_LOW, &r->low);
	get_num(t, RULE_HIGH, &r->high);
	if (r->low > r->high)
		return table_fail(t, RULE_LOW, "low is above high");
	r->low_text = f[RULE_LOW];
	r->high_text = f[RULE_HIGH];
	r->pattern = f[RULE_PATTERN];
	if (f[RULE_WORDS].n > 0)
		r->words = split(rs, f[RULE_WORDS],
		    memchr(f[RULE_WORDS].p, ',', f[RULE_WORDS].n) != NULL ? ',' : ' ', &r->nwords);
	return err_is_set(t->err) ? -1 : 0;
}

static void
read_values(struct rules *rs, struct rule_term *term, struct field list)
{
	term->values = split(rs, list, ',', &term->nvalues);
	term->keys = region_get(&rs->text, term->nvalues * sizeof *term->keys);
	for (size_t i = 0; i < term->nvalues; i++) {
		struct field value = term->values[i];

		if (value.n > MEMO_KEY)
			continue;
		term->values[i] = term->values[term->nkeys];
		term->values[term->nkeys] = value;
		term->keys[term->nkeys++] = memo_key(value, value.p + value.n);
	}
}

static int
read_term(struct rules *rs, struct rule *r, struct table *t, struct field text)
{
	struct rule_term *term;
	struct field left = text, right;

	for (size_t i = 0; i < rs->nterms; i++)
		if (field_same(rs->terms[i].text, text)) {
			r->need |= (uint64_t)1 << i;
			return 0;
		}
	if (rs->nterms == TERMS_MOST)
		return table_fail(t, RULE_WHEN, "more than 64 different conditions in the rules");
	right = left;
	left = field_cut(&right, '=');
	if (right.p == NULL)
		return table_fail(t, RULE_WHEN, "no '=': write COLUMN=VALUE");
	rs->terms = mem_grow(rs->terms, &rs->cap_terms, rs->nterms + 1, sizeof *rs->terms);
	term = &rs->terms[rs->nterms];
	*term = (struct rule_term){ .text = text };
	while (left.p != NULL) {
		struct field name = field_cut(&left, '|');

		if (name.n == 0)
			return table_fail(t, RULE_WHEN, "an empty column name");
		if (term->ncols == TERM_COLUMNS_MOST)
			return table_fail(t, RULE_WHEN, "too many columns in one condition");
		term->cols[term->ncols++] = column(rs, name);
	}
	if (!field_is(right, "*"))
		read_values(rs, term, right);
	r->need |= (uint64_t)1 << rs->nterms++;
	return 0;
}

static int
read_when(struct rules *rs, struct rule *r, struct table *t)
{
	struct field text = { NULL, 0 };

	if (!get_text(t, RULE_WHEN, &text))
		return 0;
	text = region_keep(&rs->text, text);
	while (text.p != NULL)
		if (read_term(rs, r, t, field_cut(&text, ';')) != 0)
			return -1;
	return 0;
}

static int
read_says(struct rules *rs, struct rule *r, struct table *t)
{
	struct field f = { NULL, 0 };

	r->wanted = r->kind->wanted;
	if (r->kind->prepare != NULL && r->kind->prepare(rs, r, t) != 0)
		return -1;
	r->says = get_text(t, RULE_SAYS, &f) ? region_string(&rs->text, f)
					     : rules_text(rs, "not %s", r->wanted);
	return 0;
}

static void
release(struct rule *r)
{
	if (r->made != NULL && r->kind->release != NULL)
		r->kind->release(r);
	r->made = NULL;
}

/* Where a rule of this name goes: the place of one from an earlier table, or a new one; or NULL. */
static struct rule *
place(struct rules *rs, struct table *t, struct field name, bool off)
{
	for (size_t i = 0; i < rs->n; i++) {
		struct rule *old = &rs->rules[i];

		if (!field_is(name, old->name))
			continue;
		if (old->table == rs->tables) {
			table_fail(t, RULE_NAME, "a second rule of this name");
			return NULL;
		}
		release(old);
		return old;
	}
	if (off && rs->tables > 1) {
		table_fail(t, RULE_NAME, "there is no rule of this name to turn off");
		return NULL;
	}
	rs->rules = mem_grow(rs->rules, &rs->cap_rules, rs->n + 1, sizeof *rs->rules);
	rs->rules[rs->n] = (struct rule){ NULL };
	return &rs->rules[rs->n++];
}

static int
read_rule(struct rules *rs, struct table *t)
{
	struct field name = { "", 0 };
	int level = RULE_OFF;
	struct rule *r;

	if (!get_text(t, RULE_NAME, &name))
		return table_fail(t, RULE_NAME, "no name");
	if (field_is(name, shape_rule) || field_is(name, utf8_rule))
		return table_fail(t, RULE_NAME, "this rule is always there");
	if (!get_word(t, RULE_LEVEL, &level))
		return table_fail(t, RULE_LEVEL, "no level");
	r = place(rs, t, name, level == RULE_OFF);
	if (r == NULL)
		return -1;
	*r = (struct rule){ .name = region_string(&rs->text, name), .table = rs->tables };
	r->level = level == RULE_WARNING && rs->strict ? RULE_ERROR : (enum rule_level)level;
	if (r->level == RULE_OFF)
		return 0;
	if (read_kind(rs, r, t) != 0 || read_columns(rs, r, t) != 0 ||
	    read_parameters(rs, r, t) != 0 || read_when(rs, r, t) != 0)
		return -1;
	return read_says(rs, r, t);
}

int
rules_read(struct rules *rs, const char *path, const struct blob *builtin, struct err *err)
{
	struct table t;

	rs->tables++;
	if (table_open_side(&t, rule_cols, path, builtin, err) != 0)
		return -1;
	while (table_next(&t))
		read_rule(rs, &t);
	return table_close(&t);
}

const char *
rules_text(struct rules *rs, const char *fmt, ...)
{
	va_list args;
	char *text;
	int n;

	va_start(args, fmt);
	n = vsnprintf(NULL, 0, fmt, args);
	va_end(args);
	if (n < 0)
		mem_none();
	text = region_get(&rs->text, (size_t)n + 1);
	va_start(args, fmt);
	vsnprintf(text, (size_t)n + 1, fmt, args);
	va_end(args);
	return text;
}

const char *
rules_range(struct rules *rs, const struct rule *r, const char *any)
{
	struct field low = r->low_text, high = r->high_text;

	if (low.n > 0 && high.n > 0)
		return rules_text(rs, "%.*s to %.*s", (int)low.n, low.p, (int)high.n, high.p);
	if (low.n > 0)
		return rules_text(rs, "at least %.*s", (int)low.n, low.p);
	if (high.n > 0)
		return rules_text(rs, "at most %.*s", (int)high.n, high.p);
	return any;
}

/* --- the table that is judged ---------------------------------------------------------------- */

/* Whether the field, in a line that reaches to end, is one of the term's values. */
static bool
among(const struct rule_term *term, struct field f, const char *end)
{
	uint64_t key;

	if (f.n > MEMO_KEY) {
		for (size_t i = term->nkeys; i < term->nvalues; i++)
			if (field_same(f, term->values[i]))
				return true;
		return false;
	}
	key = memo_key(f, end);
	for (size_t i = 0; i < term->nkeys; i++)
		if (term->keys[i] == key)
			return true;
	return false;
}

/* What is said already by the columns the table has: a column it lacks counts as empty. */
enum said { NEVER, ALWAYS, OPEN };

static enum said
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

/* A check of the rule's columns from `first` on, if the table has them. */
static void
bind_check(struct rules *rs, const struct rule *r, uint64_t need, size_t first, size_t n)
{
	struct rule_check c = { .judge = r->kind->judge, .need = need, .rule = r, .n = n };

	for (size_t i = 0; i < n; i++) {
		c.at[i] = rs->table->at[r->cols[first + i]];
		if (c.at[i] < 0)
			return;
	}
	c.ids = (struct ids)IDS_NONE;
	rs->checks = mem_grow(rs->checks, &rs->cap_checks, rs->nchecks + 1, sizeof *rs->checks);
	rs->checks[rs->nchecks++] = c;
	rs->remembers |= r->kind->end != NULL;
}

/* Which checks a memo can answer for, and which not. */
static void
bind_memos(struct rules *rs)
{
	memos_init(&rs->memos, tin_columns(rs->table->tin));
	rs->others = mem_zeroed(rs->nchecks, sizeof *rs->others);
	for (size_t i = 0; i < rs->nchecks; i++) {
		struct rule_check *c = &rs->checks[i];

		if (c->rule->kind->pure && rs->nopen <= MEMO_TERMS)
			c->memo = memos_add(&rs->memos, c->at[0], c->need, c->rule->kind->filled);
		else
			rs->others[rs->nothers++] = i;
	}
}

/* Checks for a rule whose terms are said already by `said`, or are left as bits of `open`. */
static void
bind_rule(struct rules *rs, const struct rule *r, const enum said *said, const uint64_t *open)
{
	size_t group = r->kind->group > 0 ? r->kind->group : r->ncols;
	uint64_t need = 0;

	for (size_t i = 0; i < rs->nterms; i++)
		if (r->need >> i & 1) {
			if (said[i] == NEVER)
				return;
			need |= open[i];
		}
	for (size_t first = 0; first < r->ncols; first += group)
		bind_check(rs, r, need, first, group);
}

int
rules_bind(struct rules *rs, struct table *table)
{
	enum said said[TERMS_MOST];
	uint64_t open[TERMS_MOST];

	rs->table = table;
	rs->marks = mem_zeroed(tin_columns(table->tin), sizeof *rs->marks);
	rs->open = mem_zeroed(rs->nterms, sizeof *rs->open);
	for (size_t i = 0; i < rs->nterms; i++) {
		said[i] = bind_term(rs, &rs->terms[i]);
		open[i] = said[i] == OPEN ? (uint64_t)1 << rs->nopen : 0;
		if (said[i] == OPEN)
			rs->open[rs->nopen++] = i;
	}
	for (size_t i = 0; i < rs->n; i++)
		if (rs->rules[i].level != RULE_OFF)
			bind_rule(rs, &rs->rules[i], said, open);
	if (rs->nchecks == 0)
		return tin_fail_header(table->tin,
		    "no rule applies: the table has none of the columns that the rules read");
	bind_memos(rs);
	return 0;
}

struct field
rules_column(const struct rules *rs, const struct rule_check *c, size_t i)
{
	return tin_name(rs->table->tin, (size_t)c->at[i]);
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

static struct field
subject_of(const struct rules *rs)
{
	int at = rs->table->at[0];

	return at < 0 ? field_of("") : row_field(&rs->table->row, (size_t)at);
}

void
rules_report(struct rules *rs, const struct rule_check *c, size_t i, struct field found,
    const char *wanted, const char *says)
{
	const struct row *row = &rs->table->row;
	struct rule_mark *mark = &rs->marks[c->at[i]];
	bool error = c->rule->level == RULE_ERROR;

	if (mark->error == rs->serial || (!error && mark->warning == rs->serial))
		return;
	*(error ? &mark->error : &mark->warning) = rs->serial;
	rs->report(rs->arg,
	    &(struct finding){ row->file, row->line, rules_column(rs, c, i), subject_of(rs),
		c->rule->name, error, found, wanted != NULL ? wanted : c->rule->wanted,
		says != NULL ? says : c->rule->says });
}

void
rules_report_end(struct rules *rs, const struct rule_check *c, size_t subject, struct field found,
    const char *wanted)
{
	const struct rule_subject *last = &rs->last[subject];

	rs->report(rs->arg, &(struct finding){ last->file, last->line, rules_column(rs, c, 0),
				ids_key(&rs->subjects, subject), c->rule->name,
				c->rule->level == RULE_ERROR, found, wanted, c->rule->says });
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
	name = subject_of(rs);
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

/* Nothing is to be said at the end about the present row's subject: a row of it cannot be read. */
static void
spoil(struct rules *rs)
{
	size_t subject = rs->remembers ? rules_subject(rs) : SIZE_MAX;

	if (subject != SIZE_MAX)
		rs->last[subject].spoilt = true;
}

/* A row that is none: of the wrong shape, or without any value. */
static void
report_shape(struct rules *rs)
{
	const struct row *row = &rs->table->row;
	struct finding f = { row->file, row->line, .rule = shape_rule, .error = true,
		.wanted = "a row" };
	char found[40], wanted[40], says[120];

	switch (row->fault) {
	case ROW_SHORT:
	case ROW_LONG:
		head_wrong_count(says, sizeof says, row->own, row->nf, row->due);
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
		f.joint = subject_of(rs);
		spoil(rs);
	}
	rs->report(rs->arg, &f);
}

static void
report_utf8(struct rules *rs)
{
	const struct row *row = &rs->table->row;
	char says[100];

	for (size_t i = 0; i < tin_columns(rs->table->tin); i++) {
		struct field f = row_field(row, i);
		size_t bad = utf8_fault(f);

		if (bad == f.n)
			continue;
		rs->marks[i].error = rs->serial;
		snprintf(says, sizeof says, "not UTF-8 at byte %zu of the line",
		    (size_t)(f.p - row->raw.p) + bad + 1);
		rs->report(
		    rs->arg, &(struct finding){ row->file, row->line, tin_name(rs->table->tin, i),
				 subject_of(rs), utf8_rule, true, f, "UTF-8", says });
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
judge(struct rules *rs, uint64_t fails)
{
	const struct row *row = &rs->table->row;

	if (memos_ask(&rs->memos, row, fails)) {
		for (size_t i = 0; i < rs->nothers; i++) {
			struct rule_check *c = &rs->checks[rs->others[i]];

			if ((c->need & fails) == 0)
				c->judge(rs, c);
		}
		return;
	}
	for (size_t i = 0; i < rs->nchecks; i++) {
		struct rule_check *c = &rs->checks[i];

		if ((c->need & fails) == 0 && (c->memo == NULL || !c->memo->answers))
			c->judge(rs, c);
	}
	for (size_t i = 0; i < rs->memos.n; i++) {
		struct memo *m = &rs->memos.v[i];

		if (!m->answers && rs->marks[m->at].error != rs->serial &&
		    rs->marks[m->at].warning != rs->serial)
			memo_keep(m, row, fails);
	}
}

void
rules_row(struct rules *rs)
{
	const struct row *row = &rs->table->row;
	uint64_t fails = 0;

	rs->serial++;
	rs->subject_known = false;
	if (row->fault != ROW_FINE || row->raw.n + 1 == row->nf) {
		report_shape(rs);
		return;
	}
	if (utf8_fault(row->raw) < row->raw.n)
		report_utf8(rs);
	for (size_t i = 0; i < rs->nopen; i++)
		if (!term_holds(&rs->terms[rs->open[i]], row))
			fails |= (uint64_t)1 << i;
	judge(rs, fails);
}

void
rules_end(struct rules *rs)
{
	for (size_t s = 0; s < rs->subjects.n; s++)
		for (size_t i = 0; i < rs->nchecks && !rs->last[s].spoilt; i++)
			if (rs->checks[i].rule->kind->end != NULL)
				rs->checks[i].rule->kind->end(rs, &rs->checks[i], s);
}

void
rules_free(struct rules *rs)
{
	for (size_t i = 0; i < rs->n; i++)
		release(&rs->rules[i]);
	for (size_t i = 0; i < rs->nchecks; i++) {
		ids_free(&rs->checks[i].ids);
		free(rs->checks[i].memory);
	}
	free(rs->cols);
	free(rs->rules);
	free(rs->terms);
	free(rs->open);
	free(rs->checks);
	memos_free(&rs->memos);
	free(rs->others);
	free(rs->marks);
	free(rs->last);
	ids_free(&rs->subjects);
	region_free(&rs->text);
	bytes_free(&rs->found);
	bytes_free(&rs->wanted);
	*rs = (struct rules){ 0 };
}
