#include "import/map.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/num.h"
#include "base/spelling.h"
#include "import/recode.h"

const struct col map_cols[] = {
	[MAP_RULE] = { "rule", COL_NEED },
	[MAP_NAME] = { "name", COL_NEED },
	[MAP_FROM] = { "from", COL_NEED },
	[MAP_PATTERN] = { "pattern", COL_MAY },
	[MAP_HOLDS] = { "holds", COL_MAY, COL_WORD,
	    .words = "text number whole date night word fibre colour" },
	[MAP_UNIT] = { "unit", COL_MAY },
	[MAP_FORM] = { "form", COL_MAY },
	[MAP_WORDS] = { "words", COL_MAY },
	[MAP_DEFAULT] = { "default", COL_MAY },
	[MAP_NEED] = { "need", COL_MAY, COL_WORD, .words = "no yes absent" },
	[MAP_NOTE] = { "note", COL_MAY },
	{ NULL },
};

/* the map being read */
struct map_reader {
	struct map *map;
	struct table *table;
	struct field at[MAP_COLS]; /* the present rule; absent columns are empty */
	bool dialect_only;
};

/* Trouble with a column of the present rule. Returns -1. */
static int
bad(struct map_reader *r, int col, const char *what)
{
	return reader_fail(r->table->reader, &r->table->row, map_cols[col].name, what, r->at[col]);
}

/* A copy that lives as long as the map. */
static struct field
keep(struct map_reader *r, struct field f)
{
	return region_keep(&r->map->text, f);
}

/* The place of a word among others, separated by blanks; or -1, with err set. */
static int
word_of(struct map_reader *r, int col, struct field f, const char *words)
{
	size_t i = field_among(field_of(words), ' ', f);
	char what[400];

	if (i != SIZE_MAX)
		return (int)i;
	snprintf(what, sizeof what, "none of: %s", words);
	return bad(r, col, what);
}

/* one more of a list { v, n, cap } */
#define ADD(list)                                                                                  \
	((list).v = mem_grow((list).v, &(list).cap, (list).n + 1, sizeof *(list).v),               \
	    &(list).v[(list).n++])

struct field
map_next_source(struct field *rest, const char *sep)
{
	struct field all = *rest;

	for (size_t i = 0; all.p != NULL && i + 3 <= all.n; i++)
		if (memcmp(all.p + i, sep, 3) == 0) {
			*rest = (struct field){ all.p + i + 3, all.n - i - 3 };
			return (struct field){ all.p, i };
		}
	*rest = (struct field){ NULL, 0 };
	return all;
}

int
map_find(const struct map_rules *rules, struct field name)
{
	for (size_t i = 0; i < rules->n; i++)
		if (name.n > 0 && field_same(rules->v[i].name, name))
			return (int)i;
	return -1;
}

/* a number from 1 at the start of *f, taken */
static bool
take_place(struct field *f, uint64_t *n)
{
	struct field digits = { f->p, num_digits(*f) };
	int64_t value;

	*f = field_behind(*f, digits.n);
	if (num_whole(digits, &value) != 0 || value < 1 || value > INT32_MAX)
		return false;
	*n = (uint64_t)value;
	return true;
}

bool
map_position(struct field name, uint64_t *n, uint64_t *last)
{
	struct field rest = name.n > 0 ? field_behind(name, 1) : name;

	*last = 0;
	if (name.n < 2 || *name.p != '#' || !take_place(&rest, n))
		return false;
	if (rest.n == 0)
		return true;
	if (*rest.p != '-')
		return false;
	rest = field_behind(rest, 1);
	return take_place(&rest, last) && rest.n == 0 && *last >= *n;
}

/* without the blanks at both ends */
static struct field
bare(struct field f)
{
	for (; f.n > 0 && *f.p == ' '; f.p++)
		f.n--;
	while (f.n > 0 && f.p[f.n - 1] == ' ')
		f.n--;
	return f;
}

/* --- settings -------------------------------------------------------------------------------- */

/* The value as the character it names. */
static int
set_delimiter(struct map_reader *r, struct field value)
{
	static const char names[] = "comma semicolon tab bar colon blank", bytes[] = ",;\t|: ";
	size_t i = field_among(field_of(names), ' ', value);
	char c = i != SIZE_MAX ? bytes[i] : value.n == 1 ? value.p[0] : '\0';

	if (c < ' ' ? c != '\t'
		    : c > '~' || num_is_digit(c) || (unsigned)((c | 0x20) - 'a') < 26 || c == '"' ||
			  c == '\'')
		return bad(r, MAP_FROM, "no delimiter");
	r->map->dialect.delimiter = c;
	return 0;
}

static int
set_encoding(struct map_reader *r, struct field value)
{
	const char *name = region_string(&r->map->text, value), *why;
	struct recode *test;

	r->map->dialect.encoding = name;
	if (recode_is_utf8(name))
		return 0;
	test = recode_open(name, &why);
	/* those of which the file's first bytes tell the byte order */
	if (test == NULL && strcmp(name, "UTF-16") != 0 && strcmp(name, "UTF-32") != 0)
		return bad(r, MAP_FROM, why);
	recode_close(test);
	return 0;
}

static int
set_months(struct map_reader *r, struct field value)
{
	if (!date_months_read(keep(r, value), r->map->months))
		return bad(r, MAP_FROM, "not twelve names with semicolons between them");
	return 0;
}

static int
set_zone(struct map_reader *r, struct field value)
{
	if (!date_zone_read(value, &r->map->zone))
		return bad(r, MAP_FROM, "no zone: write Z, +hh:mm or UTC+hh:mm");
	return 0;
}

/* ways to write a number below zero, besides a sign before it */
static int
set_minus(struct map_reader *r, struct field value)
{
	static const char names[] = "brackets behind apart";

	while (value.p != NULL) {
		struct field word = field_cut(&value, ';');
		size_t i = field_among(field_of(names), ' ', word);

		if (i == SIZE_MAX)
			return bad(r, MAP_FROM, "none of: brackets behind apart, with semicolons");
		r->map->style.minus |= (unsigned char)(1u << i);
	}
	return 0;
}

/* what may be set, in alphabetical order: by a function, as one of `words` with the byte that stands for
   each, or as a number of lines or a text in the map */
static const struct setting {
	const char *name;
	int (*set)(struct map_reader *r, struct field value);
	const char *words, *bytes; /* of the words, the bytes kept in the char at `at` */
	enum { BY_WORD, COUNT, TEXT } kind;
	size_t at; /* in struct map */
} settings[MAP_SETTINGS] = {
	{ "bounds", NULL, "refuse take unknown", "rtu", BY_WORD, offsetof(struct map, bounds) },
	{ "comment", NULL, NULL, NULL, TEXT, offsetof(struct map, dialect.comment) },
	{ "decimal", NULL, "point comma", ".,", BY_WORD, offsetof(struct map, style.point) },
	{ "delimiter", set_delimiter },
	{ "encoding", set_encoding },
	{ "grouping", NULL, "none point comma blank apostrophe", "\0., '", BY_WORD,
	    offsetof(struct map, style.grouping) },
	{ "header", NULL, "no yes", "\0\1", BY_WORD, offsetof(struct map, dialect.header) },
	{ "layout", NULL, "cells fixed labels json", "cflj", BY_WORD,
	    offsetof(struct map, dialect.layout) },
	{ "minus", set_minus },
	{ "months", set_months },
	{ "quote", NULL, "double single none", "\"'", BY_WORD,
	    offsetof(struct map, dialect.quote) },
	{ "ragged", NULL, "refuse mend", "\0\1", BY_WORD, offsetof(struct map, mend) },
	{ "skip", NULL, NULL, NULL, COUNT, offsetof(struct map, dialect.skip) },
	{ "skip_below", NULL, NULL, NULL, COUNT, offsetof(struct map, dialect.skip_below) },
	{ "trim", NULL, "no yes", "\0\1", BY_WORD, offsetof(struct map, dialect.trim) },
	{ "unknown", NULL, NULL, NULL, TEXT, offsetof(struct map, unknown) },
	{ "zone", set_zone },
};

static int
set(struct map_reader *r, const struct setting *s, struct field value)
{
	char *at = (char *)r->map + s->at;
	int64_t n;
	int i;

	if (s->set != NULL)
		return s->set(r, value);
	switch (s->kind) {
	case TEXT:
		*(struct field *)(void *)at = keep(r, value);
		return 0;
	case COUNT:
		if (num_whole(value, &n) != 0 || n < 0)
			return bad(r, MAP_FROM, "no number of lines");
		*(uint64_t *)(void *)at = (uint64_t)n;
		return 0;
	case BY_WORD:
		break;
	}
	i = word_of(r, MAP_FROM, value, s->words);
	if (i >= 0)
		*at = s->bytes[i];
	return i < 0 ? -1 : 0;
}

const char *
map_given(const struct map *m, const char *setting)
{
	int i = 0;

	while (strcmp(settings[i].name, setting) != 0)
		i++;
	return m->given[i];
}

static int
read_setting(struct map_reader *r)
{
	char what[200] = "none of:";
	size_t i = 0, n = strlen(what);

	for (; i < MAP_SETTINGS && !field_is(r->at[MAP_NAME], settings[i].name); i++)
		n += (size_t)snprintf(what + n, sizeof what - n, " %s", settings[i].name);
	if (i == MAP_SETTINGS)
		return bad(r, MAP_NAME, what);
	if (r->map->given[i] != NULL)
		return bad(r, MAP_NAME, "setting given twice");
	r->map->given[i] = region_string(&r->map->text, r->at[MAP_FROM]);
	if (r->at[MAP_FROM].n == 0)
		return reader_fail(r->table->reader, &r->table->row, "from",
		    "setting without a value", (struct field){ NULL, 0 });
	return set(r, &settings[i], r->at[MAP_FROM]);
}

/* --- columns --------------------------------------------------------------------------------- */

static int
read_pattern(struct map_reader *r, struct pattern **pattern)
{
	char why[PATTERN_WHY];

	if (r->at[MAP_PATTERN].n == 0)
		return 0;
	*pattern = pattern_compile(r->at[MAP_PATTERN], why);
	if (*pattern == NULL)
		return bad(r, MAP_PATTERN, why);
	if (pattern_groups(*pattern) > PATTERN_GROUPS)
		return bad(r, MAP_PATTERN, "pattern with more than 9 groups");
	return 0;
}

static void
add_source(struct map_reader *r, struct field name, bool may_lack)
{
	*ADD(r->map->sources) = (struct map_source){ name, -1, may_lack };
}

/* The names in `from` with sep between, each a source. How many; 0 with err set. */
static size_t
add_sources(struct map_reader *r, const char *sep, bool may_lack)
{
	struct field rest = keep(r, r->at[MAP_FROM]);
	size_t n = 0;
	char what[32];

	for (; rest.p != NULL; n++) {
		struct field name = map_next_source(&rest, sep);

		if (name.n == 0) {
			snprintf(what, sizeof what, "nothing beside a '%s'", sep);
			bad(r, MAP_FROM, what);
			return 0;
		}
		add_source(r, name, may_lack);
	}
	return n;
}

/* THEIRS=OURS;THEIRS=OURS, added to a list */
static int
add_words(struct map_reader *r, struct map_words *words)
{
	struct field rest = keep(r, r->at[MAP_WORDS]);

	while (rest.p != NULL) {
		struct field to = field_cut(&rest, ';'), from = bare(field_cut(&to, '='));

		if (to.p == NULL || from.n == 0)
			return bad(r, MAP_WORDS, "not THEIRS=OURS;THEIRS=OURS");
		for (size_t i = 0; i < words->n; i++)
			if (field_same(words->v[i].from, from))
				return bad(r, MAP_WORDS, "one word twice");
		*ADD(*words) = (struct map_word){ from, bare(to) };
	}
	return 0;
}

/* Words, or the name of a list of words that stands above in the map. */
static int
read_words(struct map_reader *r, struct map_column *c)
{
	const struct map_rules *lists = &r->map->rules[MAP_LIST];
	int i = map_find(lists, r->at[MAP_WORDS]);

	if (i < 0)
		return r->at[MAP_WORDS].n > 0 ? add_words(r, &c->words) : 0;
	for (size_t k = 0; k < lists->v[i].words.n; k++)
		*ADD(c->words) = lists->v[i].words.v[k];
	return 0;
}

static int
read_unit(struct map_reader *r, struct map_column *c)
{
	static const char *const clocks[] = { "m:ss", "h:mm", "h:mm:ss" };
	struct bytes names = { NULL, 0, 0 };
	struct field unit = r->at[MAP_UNIT];
	bool in_cell = field_is(unit, "cell");
	char what[400];

	if (c->holds == MAP_DATE || c->holds == MAP_NIGHT) {
		if (!date_zone_read(unit, &c->style.zone))
			return bad(r, MAP_UNIT, "no zone: write Z, +hh:mm or UTC+hh:mm");
		return 0;
	}
	if (c->holds != MAP_NUMBER && c->holds != MAP_WHOLE)
		return bad(r, MAP_UNIT, "unit of something that is no number");
	for (size_t i = 0; i < sizeof clocks / sizeof clocks[0]; i++)
		if (field_is(unit, clocks[i]))
			c->clock = clocks[i];
	c->unit = in_cell ? NULL : unit_named(c->clock != NULL ? field_of("s") : unit);
	c->to = unit_of_column(c->name);
	if (!in_cell && c->unit == NULL) {
		unit_names(&names);
		snprintf(what, sizeof what, "none of: cell, m:ss, h:mm, h:mm:ss, %.*s",
		    (int)names.n, names.p);
		bytes_free(&names);
		return bad(r, MAP_UNIT, what);
	}
	if (c->to == NULL)
		return bad(r, MAP_NAME, "a unit comes in, but the name does not end in one");
	if (c->unit != NULL && c->unit->kind != c->to->kind) {
		snprintf(what, sizeof what, "cannot become %s", c->to->name);
		return bad(r, MAP_UNIT, what);
	}
	return 0;
}

/* An order of colours by its name; *order stays NULL if none is named. */
static int
read_order(struct map_reader *r, struct field name, struct colour_order **order)
{
	struct err err = { "" };

	if (name.n == 0)
		return 0;
	*order = region_get(&r->map->text, sizeof **order);
	if (colour_order_read(*order, name, &err) == 0) {
		/* NOLINTNEXTLINE(bugprone-sizeof-expression): a list of pointers */
		*ADD(r->map->orders) = *order;
		return 0;
	}
	colour_order_free(*order);
	*order = NULL;
	return bad(r, MAP_FORM, err.text);
}

/* fibres in a tube, and the orders of tubes and fibres if they are colours: "12 tia-598" */
static int
read_fibre_form(struct map_reader *r, struct map_column *c)
{
	struct field rest = r->at[MAP_FORM], size = field_cut(&rest, ' ');
	struct field tubes = rest.p != NULL ? field_cut(&rest, ' ') : (struct field){ "", 0 };

	if (num_whole(size, &c->tube_size) != 0 || c->tube_size < 1 || c->tube_size > 10000)
		return bad(r, MAP_FORM, "no number of fibres in a tube, 1 to 10000");
	if (read_order(r, tubes, &c->tubes) != 0)
		return -1;
	return read_order(r, rest.p != NULL ? rest : tubes, &c->fibres);
}

static int
read_form(struct map_reader *r, struct map_column *c)
{
	const char *why;

	if (c->holds == MAP_FIBRE)
		return read_fibre_form(r, c);
	if (c->holds == MAP_COLOUR)
		return read_order(r, r->at[MAP_FORM], &c->fibres);
	if (c->holds != MAP_DATE && c->holds != MAP_NIGHT)
		return bad(r, MAP_FORM, "form of something that is no date");
	why = date_form_compile(r->at[MAP_FORM], &c->form);
	if (why == NULL && c->holds == MAP_NIGHT && !c->form.has_time)
		why = "a night needs a form with a time of day";
	return why != NULL ? bad(r, MAP_FORM, why) : 0;
}

/* What a date, a fibre or a word cannot do without. */
static int
check_whole(struct map_reader *r, const struct map_column *c)
{
	bool dated = c->holds == MAP_DATE || c->holds == MAP_NIGHT || c->holds == MAP_FIBRE;

	if (c->nfrom == 0 && c->instead.n == 0)
		return bad(r, MAP_NAME, "column with neither 'from' nor 'default'");
	if (c->nfrom == 0)
		return 0;
	if (dated && r->at[MAP_FORM].n == 0)
		return bad(r, MAP_NAME, "date or fibre without a form");
	if (c->holds == MAP_COLOUR && r->at[MAP_FORM].n == 0)
		return bad(r, MAP_NAME, "colour without an order of colours in 'form'");
	if (c->holds == MAP_WORD && c->words.n == 0)
		return bad(r, MAP_NAME, "word without words");
	return 0;
}

/* yes, no or absent; whether it was one of them shows in the table's err */
static enum map_need
read_need(struct map_reader *r)
{
	int need = MAP_MAY;

	get_word(r->table, MAP_NEED, &need);
	return (enum map_need)need;
}

static int
read_column(struct map_reader *r)
{
	struct map *m = r->map;
	struct map_column *c = ADD(m->columns);
	int holds = MAP_TEXT;

	*c = (struct map_column){ .name = keep(r, r->at[MAP_NAME]),
		.source = keep(r, r->at[MAP_FROM]),
		.from = m->sources.n,
		.instead = keep(r, r->at[MAP_DEFAULT]) };
	if (c->name.n == 0)
		return bad(r, MAP_FROM, "column without a name");
	if (utf8_fault(c->name) < c->name.n || field_starts(c->name, BYTES_BOM))
		return bad(r, MAP_NAME, "not UTF-8, or with a byte-order mark");
	for (size_t k = 0; k + 1 < m->columns.n; k++)
		if (field_same(m->columns.v[k].name, c->name))
			return bad(r, MAP_NAME, "column made twice");
	get_word(r->table, MAP_HOLDS, &holds);
	c->holds = (enum map_holds)holds;
	c->need = read_need(r);
	if (c->source.n > 0)
		c->nfrom = add_sources(r, " + ", c->need == MAP_ABSENT);
	if (err_is_set(r->table->err) || read_pattern(r, &c->pattern) != 0 ||
	    read_words(r, c) != 0 || (r->at[MAP_UNIT].n > 0 && read_unit(r, c) != 0) ||
	    (r->at[MAP_FORM].n > 0 && read_form(r, c) != 0))
		return -1;
	return check_whole(r, c);
}

/* --- rules ----------------------------------------------------------------------------------- */

enum {
	NAME = 1 << MAP_NAME,
	FROM = 1 << MAP_FROM,
	PATTERN = 1 << MAP_PATTERN,
	WORDS = 1 << MAP_WORDS,
	NEED = 1 << MAP_NEED,
};

/* the kinds of rules, in the order of their names below: their list, which columns of the map each has a
   use for besides `rule` and `note`, and which it needs */
static const struct kind {
	int list, uses, needs;
	bool carry, section;
} kinds[] = {
	{ MAP_LISTS, NAME | FROM }, /* `file` and `column` are read on their own */
	{ MAP_LISTS, ~0 },
	{ MAP_OTHER, FROM, FROM },
	{ MAP_OTHER, NAME | FROM, FROM, .carry = true },
	{ MAP_DROP, FROM | PATTERN, PATTERN },
	{ MAP_ABOVE, NAME | FROM | PATTERN | NEED, NAME | FROM },
	{ MAP_BLOCK, NAME | FROM | PATTERN, NAME | PATTERN, .section = true },
	{ MAP_BLOCK, FROM, FROM },
	{ MAP_WIDE, NAME | FROM, NAME | FROM },
	{ MAP_KEY, FROM, FROM },
	{ MAP_SIDE, NAME | FROM | PATTERN, NAME | FROM | PATTERN },
	{ MAP_LIST, NAME | WORDS, NAME | WORDS },
};

/* What a rule needs, and a name that no other rule has which columns may be made from. */
static int
check_rule(struct map_reader *r, const struct kind *k)
{
	const struct map *m = r->map;
	struct field name = r->at[MAP_NAME];
	char what[60];

	for (int col = MAP_NAME; col < MAP_NOTE; col++) {
		if (!(k->needs & 1 << col) || r->at[col].n > 0)
			continue;
		if (col == MAP_FROM)
			snprintf(what, sizeof what, "rule without %s in 'from'",
			    k->list == MAP_ABOVE  ? "a label"
			    : k->list == MAP_WIDE ? "columns"
						  : "a column");
		else
			snprintf(what, sizeof what, "rule without %s",
			    col == MAP_NAME      ? "a name"
			    : col == MAP_PATTERN ? "a pattern"
						 : "words");
		return bad(r, MAP_RULE, what);
	}
	for (int list = MAP_ABOVE; k->list <= MAP_SIDE && list <= MAP_SIDE; list++)
		if (map_find(&m->rules[list], name) >= 0)
			return bad(r, MAP_NAME, "two rules of one name");
	return 0;
}

/* "A | B | C", or "#3-9" for the columns from the third to the ninth */
static int
read_wide(struct map_reader *r, struct map_rule *rule)
{
	struct map *m = r->map;
	uint64_t first, last;
	char place[24];

	if (map_position(rule->source, &first, &last) && last > 0 && last - first < 1000)
		for (; first <= last; first++, rule->nfrom++) {
			int n = snprintf(place, sizeof place, "#%llu", (unsigned long long)first);

			add_source(r, keep(r, (struct field){ place, (size_t)n }), false);
		}
	else
		rule->nfrom = add_sources(r, " | ", false);
	if (rule->nfrom < 2)
		return bad(r, MAP_FROM, "one column: write A | B | C");
	if (m->rules[MAP_WIDE].n > 1 && rule->nfrom != m->nwide)
		return bad(r, MAP_FROM, "not as many columns as in the rules before");
	m->nwide = rule->nfrom;
	return 0;
}

/* A list of words; more of them if the map has one of that name. */
static int
read_list(struct map_reader *r)
{
	struct map_rules *lists = &r->map->rules[MAP_LIST];
	int i = map_find(lists, r->at[MAP_NAME]);

	lists->n -= (size_t)i + 1 < lists->n;
	return add_words(r, &lists->v[i].words);
}

static int
read_other(struct map_reader *r, const struct kind *k)
{
	struct map_rules *rules = &r->map->rules[k->list];
	struct map_rule *rule;
	bool rest;

	if (check_rule(r, k) != 0)
		return -1;
	for (size_t i = 0; k->list == MAP_OTHER && i < rules->n; i++)
		if (field_same(rules->v[i].source, r->at[MAP_FROM]))
			return bad(r, MAP_FROM, "two rules for one column");
	rule = ADD(*rules);
	*rule = (struct map_rule){ .line = r->table->row.line,
		.name = keep(r, r->at[MAP_NAME]),
		.source = keep(r, r->at[MAP_FROM]),
		.from = r->map->sources.n,
		.carry = k->carry,
		.section = k->section };
	if (k->list == MAP_LIST)
		return read_list(r);
	if (k->list == MAP_WIDE)
		return read_wide(r, rule);
	rest = k->list == MAP_OTHER && field_is(rule->source, "*");
	if (k->list == MAP_KEY)
		rule->nfrom = add_sources(r, " + ", false);
	else if (k->list != MAP_ABOVE)
		add_source(r, rest ? (struct field){ "", 0 } : rule->source,
		    k->list == MAP_OTHER && !k->carry);
	if (read_pattern(r, &rule->pattern) != 0)
		return -1;
	rule->need = read_need(r);
	return 0;
}

static int
read_rule(struct map_reader *r)
{
	static const char names[] =
	    "file column ignore carry drop above section fill wide key side words";
	struct field word = r->at[MAP_RULE];
	bool empty = true;
	int rule;

	for (int col = MAP_RULE; col < MAP_NOTE; col++)
		empty &= r->at[col].n == 0;
	if (empty)
		return 0;
	if (word.n > 0 && word.p[word.n - 1] == '?' && !r->dialect_only)
		return bad(r, MAP_RULE,
		    "unfinished map: look at this rule, then take the question mark away");
	word.n -= word.n > 0 && word.p[word.n - 1] == '?';
	rule = word_of(r, MAP_RULE, word, names);
	if (rule < 0)
		return -1;
	if (r->dialect_only && rule != 0)
		return 0;
	for (int col = MAP_NAME; col < MAP_NOTE; col++)
		if (r->at[col].n > 0 && !(kinds[rule].uses & 1 << col))
			return bad(r, col, "of no use in a rule of this kind");
	if (kinds[rule].list < MAP_LISTS)
		return read_other(r, &kinds[rule]);
	return rule == 0 ? read_setting(r) : read_column(r);
}

/* --- the map --------------------------------------------------------------------------------- */

void
map_begin(struct map *m)
{
	*m = (struct map){ .dialect = DIALECT_USUAL,
		.style = { .point = '.', .grouping = DECIMAL_NONE },
		.bounds = 'r',
		.nwide = 1 };
	date_months_read(field_of(date_months_usual), m->months);
}

/* A column of the map that no rule reads is a misspelt one. */
static int
check_columns(struct map_reader *r)
{
	struct field known[MAP_COLS];
	char shown[ERR_SHOWN];

	for (int i = 0; i < MAP_COLS; i++)
		known[i] = field_of(map_cols[i].name);
	for (size_t i = 0; i < reader_columns(r->table->reader); i++) {
		struct field name = reader_name(r->table->reader, i);
		size_t best = spelling_best(name, known, MAP_COLS);

		if (best != SIZE_MAX && field_same(name, known[best]))
			continue;
		err_show(shown, name.p, name.n);
		return err_set(r->table->err, "%s:1: no column of a map: '%s'%s%s%s", r->map->path,
		    shown, best != SIZE_MAX ? ": is it '" : "",
		    best != SIZE_MAX ? map_cols[best].name : "", best != SIZE_MAX ? "'?" : "");
	}
	return 0;
}

/* "Loss @ab" is the column Loss in the row of side ab: of what columns are made from. */
static void
find_sides(struct map *m)
{
	for (size_t c = 0; c < m->columns.n; c++)
		for (size_t i = 0; i < m->columns.v[c].nfrom; i++) {
			struct map_source *source = &m->sources.v[m->columns.v[c].from + i];
			struct field name = source->name, side;

			while (name.n > 1 && memcmp(name.p + name.n - 2, " @", 2) != 0)
				name.n--;
			side = (struct field){ name.p + name.n, source->name.n - name.n };
			source->side = name.n > 1 ? map_find(&m->rules[MAP_SIDE], side) : -1;
			if (source->side >= 0)
				source->name.n = name.n - 2;
		}
}

/* What is wrong with the map as a whole, or NULL. */
static const char *
check_map(const struct map *m)
{
	const struct map_rules *others = &m->rules[MAP_OTHER];
	bool carry = false, carry_all = false, keys = m->rules[MAP_KEY].n > 0,
	     sides = m->rules[MAP_SIDE].n > 0;

	for (size_t i = 0; i < others->n; i++) {
		carry |= others->v[i].carry;
		carry_all |= others->v[i].carry && field_is(others->v[i].source, "*");
	}
	if (m->columns.n == 0)
		return "no rule 'column' in the map";
	if (m->dialect.layout == LAYOUT_CELLS && m->dialect.delimiter == m->style.point &&
	    m->dialect.quote == '\0')
		return "delimiter and decimal mark are the same, and there is no quote";
	if (sides && !keys)
		return "rule 'side' without a rule 'key'";
	if (keys && !sides)
		return "rule 'key' without a rule 'side'";
	if (keys && carry)
		return "rule 'carry' beside a rule 'key': make a column of it";
	if (carry_all && m->dialect.layout != LAYOUT_CELLS)
		return "rule 'carry' with *: this layout has no header to say which columns there are";
	if (m->rules[MAP_ABOVE].n > 0 && m->dialect.skip == 0)
		return "rule 'above' without the setting 'skip': nothing stands above";
	return NULL;
}

static int
read_rules(struct map_reader *r)
{
	struct map *m = r->map;

	if (check_columns(r) != 0)
		return -1;
	while (table_next(r->table)) {
		for (int col = 0; col < MAP_COLS; col++)
			if (!get_text(r->table, col, &r->at[col]))
				r->at[col] = (struct field){ "", 0 };
		read_rule(r); /* one that is wrong is the last */
	}
	if (err_is_set(r->table->err) || r->dialect_only)
		return err_is_set(r->table->err) ? -1 : 0;
	find_sides(m);
	for (struct field rest = m->unknown; rest.p != NULL;) {
		struct field word = field_cut(&rest, ';');

		if (word.n > 0)
			m->unknown_first[(unsigned char)*word.p] = true;
	}
	for (size_t i = 0; i < m->columns.n; i++) {
		struct date_style *style = &m->columns.v[i].style;

		*style = (struct date_style){ style->zone.n > 0 ? style->zone : m->zone, m->months,
			m->style.point };
	}
	m->dialect.keep_skipped = m->rules[MAP_ABOVE].n > 0;
	if (m->dialect.layout == LAYOUT_LABELS && !map_given(m, "delimiter"))
		m->dialect.delimiter = ':';
	if (check_map(m) != NULL)
		return err_set(r->table->err, "%s: %s", m->path, check_map(m));
	return 0;
}

int
map_read(struct map *m, struct table *t, bool dialect_only)
{
	map_begin(m);
	m->path = reader_file(t->reader);
	return read_rules(
	    &(struct map_reader){ .map = m, .table = t, .dialect_only = dialect_only });
}

void
map_free(struct map *m)
{
	for (size_t i = 0; i < m->columns.n; i++) {
		pattern_free(m->columns.v[i].pattern);
		free(m->columns.v[i].words.v);
	}
	free(m->columns.v);
	for (size_t i = 0; i < m->orders.n; i++)
		colour_order_free(m->orders.v[i]);
	free(m->orders.v);
	for (int list = 0; list < MAP_LISTS; list++) {
		for (size_t i = 0; i < m->rules[list].n; i++) {
			pattern_free(m->rules[list].v[i].pattern);
			free(m->rules[list].v[i].words.v);
		}
		free(m->rules[list].v);
	}
	free(m->sources.v);
	region_free(&m->text);
	*m = (struct map){ 0 };
}
