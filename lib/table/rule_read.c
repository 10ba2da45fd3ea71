#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/spelling.h"
#include "table/rule_kind.h"
#include "table/rule_inside.h"

const struct col rule_cols[] = {
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

/* The index in rs->cols of the column of this name. */
static size_t
column(struct rules *rs, struct field name)
{
	bool fresh;
	size_t i = ids_add(&rs->col_names, &name, 1, &fresh);

	if (!fresh)
		return i;
	rs->cols = mem_grow(rs->cols, &rs->cap_cols, rs->ncols + 2, sizeof *rs->cols);
	rs->cols[rs->ncols] = (struct col){ region_string(&rs->text, name), COL_MAY, COL_TEXT };
	rs->cols[rs->ncols + 1] = (struct col){ NULL };
	return rs->ncols++;
}

/* The same, of a rule that is being read. */
static size_t
named(struct rules *rs, struct field name, const struct table *t)
{
	size_t n = rs->ncols, i = column(rs, name);

	rs->places = mem_grow(rs->places, &rs->cap_places, rs->ncols + 1, sizeof *rs->places);
	if (i == n)
		rs->places[i] = (struct rule_place){ t->row.file, t->row.line };
	return i;
}

size_t
rules_reads(struct rules *rs, const char *name)
{
	return column(rs, field_of(name));
}

void
rules_init(struct rules *rs, const char *subject, const struct rule_kind *kinds,
    void (*report)(void *arg, const struct finding *f), void *arg)
{
	*rs = (struct rules){ .kinds = kinds,
		.report = report,
		.arg = arg,
		.col_names = IDS_NONE,
		.names = IDS_NONE,
		.subjects = IDS_NONE };
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
	struct bytes what = { NULL, 0, 0 };

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
		best = spelling_best(name, names, all);
		bytes_add_text(&what, "no such kind of rule; ");
		if (best != SIZE_MAX)
			bytes_add_format(&what, "nearest: %s", names[best].p);
		else
			bytes_add_text(&what, "there are");
		for (size_t i = 0; best == SIZE_MAX && i < all; i++)
			bytes_add_format(&what, " %s", names[i].p);
		bytes_add(&what, "", 1);
		table_fail(t, RULE_KIND, what.p);
		bytes_free(&what);
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
		if (r->ncols == RULE_COLUMNS_MOST)
			return table_fail(t, RULE_COLUMNS, "too many columns for one rule");
		if (name.n > 0 && name.p[name.n - 1] == '?') {
			r->optional |= (uint32_t)1 << r->ncols;
			name.n--;
		}
		if (name.n == 0)
			return table_fail(t, RULE_COLUMNS, "an empty name in the list");
		r->cols[r->ncols++] = named(rs, name, t);
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
	for (size_t i = 0; i < term->nvalues; i++)
		term->keys[i] = field_key(term->values[i], term->values[i].p + term->values[i].n);
}

static struct field
left_of(struct field text)
{
	return field_cut(&text, '=');
}

static int
read_term(struct rules *rs, struct rule *r, struct table *t, struct field text)
{
	struct rule_term *term;
	struct field left = text, right;

	for (size_t i = 0; i < rs->nterms; i++)
		if (field_same(rs->terms[i].text, text)) {
			r->need |= (uint64_t)1 << i;
			r->standing |= rs->terms[i].standing;
			return 0;
		}
	if (rs->nterms == TERMS_MOST)
		return table_fail(t, RULE_WHEN, "more than 64 different conditions in the rules");
	right = left;
	left = field_cut(&right, '=');
	if (right.p == NULL || (right.n > 0 && right.p[0] == '=') ||
	    (left.n > 0 && memchr("!<>~:", left.p[left.n - 1], 5) != NULL))
		return table_fail(
		    t, RULE_WHEN, "no condition: write COLUMN=VALUE, COLUMN=* or COLUMN=");
	rs->terms = mem_grow(rs->terms, &rs->cap_terms, rs->nterms + 1, sizeof *rs->terms);
	term = &rs->terms[rs->nterms];
	*term = (struct rule_term){ .text = text };
	while (left.p != NULL) {
		struct field name = field_cut(&left, '|');

		if (name.n == 0)
			return table_fail(t, RULE_WHEN, "an empty column name");
		if (term->ncols == TERM_COLUMNS_MOST)
			return table_fail(t, RULE_WHEN, "too many columns in one condition");
		term->cols[term->ncols++] = named(rs, name, t);
	}
	if (!field_is(right, "*"))
		read_values(rs, term, right);
	term->standing = term->ncols == 1 && field_is(left_of(text), "stands");
	r->standing |= term->standing;
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

void
rule_release(struct rule *r)
{
	if (r->made != NULL && r->kind->release != NULL)
		r->kind->release(r);
	r->made = NULL;
}

/* Where a rule of this name goes: the place of one from an earlier table, or a new one; or NULL. */
static struct rule *
place(struct rules *rs, struct table *t, struct field name, bool off)
{
	struct rule *old;
	bool fresh;
	size_t i;

	if (off && rs->tables > 1 && ids_find_one(&rs->names, name) == SIZE_MAX) {
		table_fail(t, RULE_NAME, "there is no rule of this name to turn off");
		return NULL;
	}
	i = ids_add(&rs->names, &name, 1, &fresh);
	if (!fresh) {
		old = &rs->rules[i];
		if (old->table == rs->tables) {
			table_fail(t, RULE_NAME, "a second rule of this name");
			return NULL;
		}
		rule_release(old);
		return old;
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
	if (field_is(name, SHAPE_RULE) || field_is(name, UTF8_RULE))
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
rules_read(struct rules *rs, struct table *t)
{
	rs->tables++;
	while (table_next(t))
		read_rule(rs, t);
	return err_is_set(t->err) ? -1 : 0;
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
