#include "import/map.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/num.h"
#include "base/spelling.h"
#include "import/map_setting.h"

const struct col map_cols[] = {
	[MAP_RULE] = { "rule", COL_NEED },
	[MAP_NAME] = { "name", COL_NEED },
	[MAP_FROM] = { "from", COL_NEED },
	[MAP_PATTERN] = { "pattern", COL_MAY },
	[MAP_HOLDS] = { "holds", COL_MAY },
	[MAP_UNIT] = { "unit", COL_MAY },
	[MAP_FORM] = { "form", COL_MAY },
	[MAP_WORDS] = { "words", COL_MAY },
	[MAP_DEFAULT] = { "default", COL_MAY },
	[MAP_NEED] = { "need", COL_MAY },
	[MAP_NOTE] = { "note", COL_MAY },
	{ NULL },
};

/* --- words of the map ------------------------------------------------------------------------ */

int
map_bad(struct map_reader *r, int col, const char *what)
{
	return reader_fail(r->table->reader, &r->table->row, map_cols[col].name, what, r->at[col]);
}

struct field
map_keep(struct map_reader *r, struct field f)
{
	return region_keep(&r->map->text, f);
}

int
map_word(struct map_reader *r, int col, struct field f, const char *words)
{
	size_t i = field_among(field_of(words), ' ', f);
	char what[400];

	if (i != SIZE_MAX)
		return (int)i;
	snprintf(what, sizeof what, "none of: %s", words);
	return map_bad(r, col, what);
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
	struct field digits = { f->p, 0 };
	int64_t value;

	while (digits.n < f->n && num_is_digit(f->p[digits.n]))
		digits.n++;
	*f = (struct field){ f->p + digits.n, f->n - digits.n };
	if (num_whole(digits, &value) != 0 || value < 1 || value > INT32_MAX)
		return false;
	*n = (uint64_t)value;
	return true;
}

bool
map_position(struct field name, uint64_t *n, uint64_t *last)
{
	struct field rest = name.n > 0 ? (struct field){ name.p + 1, name.n - 1 } : name;

	*last = 0;
	if (name.n < 2 || *name.p != '#' || !take_place(&rest, n))
		return false;
	if (rest.n == 0)
		return true;
	if (*rest.p != '-')
		return false;
	rest = (struct field){ rest.p + 1, rest.n - 1 };
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

/* --- columns --------------------------------------------------------------------------------- */

static int
read_pattern(struct map_reader *r, struct pattern **pattern)
{
	char why[PATTERN_WHY];

	*pattern = pattern_compile(r->at[MAP_PATTERN], why);
	if (*pattern == NULL)
		return map_bad(r, MAP_PATTERN, why);
	if (pattern_groups(*pattern) > PATTERN_GROUPS)
		return map_bad(r, MAP_PATTERN, "pattern with more than 9 groups");
	return 0;
}

/* The names in `from`, each added to a list of sources. */
static int
add_sources(struct map_reader *r, struct map_source **v, size_t *n, size_t *cap)
{
	struct field rest = map_keep(r, r->at[MAP_FROM]);

	while (rest.p != NULL) {
		struct field name = map_next_source(&rest, " + ");

		if (name.n == 0)
			return map_bad(r, MAP_FROM, "nothing beside a ' + '");
		*v = mem_grow(*v, cap, *n + 1, sizeof **v);
		(*v)[(*n)++] = (struct map_source){ name, -1 };
	}
	return 0;
}

static int
read_from(struct map_reader *r, struct map_column *c)
{
	size_t cap = 0;

	c->source = map_keep(r, r->at[MAP_FROM]);
	return c->source.n > 0 ? add_sources(r, &c->from, &c->nfrom, &cap) : 0;
}

/* THEIRS=OURS;THEIRS=OURS, added to a list */
static int
add_words(struct map_reader *r, struct map_words *words)
{
	struct field rest = map_keep(r, r->at[MAP_WORDS]);

	while (rest.p != NULL) {
		struct field to = field_cut(&rest, ';'), from = bare(field_cut(&to, '='));

		if (to.p == NULL || from.n == 0)
			return map_bad(r, MAP_WORDS, "not THEIRS=OURS;THEIRS=OURS");
		for (size_t i = 0; i < words->n; i++)
			if (field_same(words->v[i].from, from))
				return map_bad(r, MAP_WORDS, "one word twice");
		*ADD(*words) = (struct map_word){ from, bare(to) };
	}
	return 0;
}

/* Words, or the name of a list of words that stands above in the map. */
static int
read_words(struct map_reader *r, struct map_column *c)
{
	struct field name = r->at[MAP_WORDS];

	for (size_t i = 0; i < r->nlists; i++)
		if (field_same(r->lists[i].name, name)) {
			for (size_t k = 0; k < r->lists[i].words.n; k++)
				*ADD(c->words) = r->lists[i].words.v[k];
			return 0;
		}
	return add_words(r, &c->words);
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
			return map_bad(r, MAP_UNIT, "no zone: write Z, +hh:mm or UTC+hh:mm");
		return 0;
	}
	if (c->holds != MAP_NUMBER && c->holds != MAP_WHOLE)
		return map_bad(r, MAP_UNIT, "unit of something that is no number");
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
		return map_bad(r, MAP_UNIT, what);
	}
	if (c->to == NULL)
		return map_bad(r, MAP_NAME, "a unit comes in, but the name does not end in one");
	if (c->unit != NULL && c->unit->kind != c->to->kind) {
		snprintf(what, sizeof what, "cannot become %s", c->to->name);
		return map_bad(r, MAP_UNIT, what);
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
	return map_bad(r, MAP_FORM, err.text);
}

/* fibres in a tube, and the orders of tubes and fibres if they are colours: "12 tia-598" */
static int
read_fibre_form(struct map_reader *r, struct map_column *c)
{
	struct field rest = r->at[MAP_FORM], size = field_cut(&rest, ' ');
	struct field tubes = rest.p != NULL ? field_cut(&rest, ' ') : (struct field){ "", 0 };

	if (num_whole(size, &c->tube_size) != 0 || c->tube_size < 1 || c->tube_size > 10000)
		return map_bad(r, MAP_FORM, "no number of fibres in a tube, 1 to 10000");
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
		return map_bad(r, MAP_FORM, "form of something that is no date");
	why = date_form_compile(r->at[MAP_FORM], &c->form);
	if (why == NULL && c->holds == MAP_NIGHT && !c->form.has_time)
		why = "a night needs a form with a time of day";
	return why != NULL ? map_bad(r, MAP_FORM, why) : 0;
}

/* What a date, a fibre or a word cannot do without. */
static int
check_whole(struct map_reader *r, const struct map_column *c)
{
	bool dated = c->holds == MAP_DATE || c->holds == MAP_NIGHT || c->holds == MAP_FIBRE;

	if (c->nfrom == 0 && c->instead.n == 0)
		return map_bad(r, MAP_NAME, "column with neither 'from' nor 'default'");
	if (c->nfrom == 0)
		return 0;
	if (dated && r->at[MAP_FORM].n == 0)
		return map_bad(r, MAP_NAME, "date or fibre without a form");
	if (c->holds == MAP_COLOUR && r->at[MAP_FORM].n == 0)
		return map_bad(r, MAP_NAME, "colour without an order of colours in 'form'");
	if (c->holds == MAP_WORD && c->words.n == 0)
		return map_bad(r, MAP_NAME, "word without words");
	return 0;
}

static int
read_need(struct map_reader *r, enum map_need *need)
{
	static const enum map_need needs[] = { MAP_MAY, MAP_MUST, MAP_ABSENT };
	int i = r->at[MAP_NEED].n > 0 ? map_word(r, MAP_NEED, r->at[MAP_NEED], "no yes absent") : 0;

	if (i >= 0)
		*need = needs[i];
	return i < 0 ? -1 : 0;
}

static int
read_column(struct map_reader *r)
{
	static const char holds[] = "text number whole date night word fibre colour";
	struct map *m = r->map;
	struct map_column *c = ADD(m->columns);
	int i;

	*c =
	    (struct map_column){ .line = r->table->row.line, .name = map_keep(r, r->at[MAP_NAME]) };
	c->instead = map_keep(r, r->at[MAP_DEFAULT]);
	if (c->name.n == 0)
		return map_bad(r, MAP_FROM, "column without a name");
	for (size_t k = 0; k + 1 < m->columns.n; k++)
		if (field_same(m->columns.v[k].name, c->name))
			return map_bad(r, MAP_NAME, "column made twice");
	i = r->at[MAP_HOLDS].n > 0 ? map_word(r, MAP_HOLDS, r->at[MAP_HOLDS], holds) : MAP_TEXT;
	if (i < 0)
		return -1;
	c->holds = (enum map_holds)i;
	if (read_need(r, &c->need) != 0 || read_from(r, c) != 0 ||
	    (r->at[MAP_PATTERN].n > 0 && read_pattern(r, &c->pattern) != 0) ||
	    (r->at[MAP_WORDS].n > 0 && read_words(r, c) != 0) ||
	    (r->at[MAP_UNIT].n > 0 && read_unit(r, c) != 0) ||
	    (r->at[MAP_FORM].n > 0 && read_form(r, c) != 0))
		return -1;
	return check_whole(r, c);
}

/* --- other rules ----------------------------------------------------------------------------- */

static struct map_rule *
add_rule(struct map_reader *r, struct map_rules *rules)
{
	struct map_rule *rule = ADD(*rules);

	*rule = (struct map_rule){ .line = r->table->row.line,
		.name = map_keep(r, r->at[MAP_NAME]),
		.from = map_keep(r, r->at[MAP_FROM]) };
	return rule;
}

static int
wants(struct map_reader *r, int col, const char *what)
{
	return r->at[col].n > 0 ? 0 : map_bad(r, MAP_RULE, what);
}

static int
add_other(struct map_reader *r, bool carry)
{
	struct map_rules *others = &r->map->others;

	if (wants(r, MAP_FROM, "rule without a column in 'from'") != 0)
		return -1;
	for (size_t i = 0; i < others->n; i++)
		if (field_same(others->v[i].from, r->at[MAP_FROM]))
			return map_bad(r, MAP_FROM, "two rules for one column");
	add_rule(r, others)->carry = carry;
	return 0;
}

static int
read_ignore(struct map_reader *r)
{
	return add_other(r, false);
}

static int
read_carry(struct map_reader *r)
{
	return add_other(r, true);
}

static int
read_drop(struct map_reader *r)
{
	if (wants(r, MAP_PATTERN, "rule without a pattern") != 0)
		return -1;
	return read_pattern(r, &add_rule(r, &r->map->drops)->pattern);
}

/* A rule that gives what columns may be made from a name. */
static int
check_new_name(struct map_reader *r)
{
	const struct map *m = r->map;
	struct field name = r->at[MAP_NAME];

	if (wants(r, MAP_NAME, "rule without a name") != 0)
		return -1;
	if (map_find(&m->aboves, name) >= 0 || map_find(&m->blocks, name) >= 0 ||
	    map_find(&m->wides, name) >= 0 || map_find(&m->sides, name) >= 0)
		return map_bad(r, MAP_NAME, "two rules of one name");
	return 0;
}

static int
read_above(struct map_reader *r)
{
	struct map_rule *rule;

	if (check_new_name(r) != 0 || wants(r, MAP_FROM, "rule without a label in 'from'") != 0)
		return -1;
	rule = add_rule(r, &r->map->aboves);
	if (r->at[MAP_PATTERN].n > 0 && read_pattern(r, &rule->pattern) != 0)
		return -1;
	return read_need(r, &rule->need);
}

static int
read_section(struct map_reader *r)
{
	struct map_rule *rule;

	if (check_new_name(r) != 0 || wants(r, MAP_PATTERN, "rule without a pattern") != 0)
		return -1;
	rule = add_rule(r, &r->map->blocks);
	rule->section = true;
	return read_pattern(r, &rule->pattern);
}

static int
read_fill(struct map_reader *r)
{
	if (wants(r, MAP_FROM, "rule without a column in 'from'") != 0)
		return -1;
	add_rule(r, &r->map->blocks);
	return 0;
}

static int
read_wide(struct map_reader *r)
{
	struct map *m = r->map;
	struct field rest = map_keep(r, r->at[MAP_FROM]), count = rest;
	struct map_rule *rule;
	uint64_t first = 0, last = 0;
	size_t n = 0;

	if (check_new_name(r) != 0 || wants(r, MAP_FROM, "rule without columns in 'from'") != 0)
		return -1;
	if (map_position(rest, &first, &last) && last > 0 && last - first < 1000) {
		n = (size_t)(last - first) + 1;
	} else {
		last = 0;
		for (; count.p != NULL; n++)
			if (map_next_source(&count, " | ").n == 0)
				return map_bad(r, MAP_FROM, "nothing beside a ' | '");
	}
	if (n < 2 || (m->wides.n > 0 && n != m->nwide))
		return map_bad(r, MAP_FROM,
		    n < 2 ? "one column: write A | B | C"
			  : "not as many columns as in the rules before");
	m->nwide = n;
	rule = add_rule(r, &m->wides);
	rule->each = region_get(&m->text, n * sizeof *rule->each);
	for (size_t i = 0; i < n; i++) {
		unsigned long long at = first + i;
		char place[24];
		int length = snprintf(place, sizeof place, "#%llu", at);

		rule->each[i] = last > 0 ? map_keep(r, (struct field){ place, (size_t)length })
					 : map_next_source(&rest, " | ");
	}
	return 0;
}

static int
read_key(struct map_reader *r)
{
	struct map *m = r->map;

	if (wants(r, MAP_FROM, "rule without a column in 'from'") != 0)
		return -1;
	return add_sources(r, &m->keys.v, &m->keys.n, &m->keys.cap);
}

static int
read_side(struct map_reader *r)
{
	if (check_new_name(r) != 0 || wants(r, MAP_FROM, "rule without a column in 'from'") != 0 ||
	    wants(r, MAP_PATTERN, "rule without a pattern") != 0)
		return -1;
	return read_pattern(r, &add_rule(r, &r->map->sides)->pattern);
}

static int
read_list(struct map_reader *r)
{
	size_t i = 0;

	if (wants(r, MAP_NAME, "rule without a name") != 0 ||
	    wants(r, MAP_WORDS, "rule without words") != 0)
		return -1;
	while (i < r->nlists && !field_same(r->lists[i].name, r->at[MAP_NAME]))
		i++;
	if (i == r->nlists) {
		r->lists = mem_grow(r->lists, &r->cap_lists, i + 1, sizeof *r->lists);
		r->lists[r->nlists++] = (struct map_list){ map_keep(r, r->at[MAP_NAME]), { 0 } };
	}
	return add_words(r, &r->lists[i].words);
}

/* the kinds of rules, and which columns of the map each has a use for besides `rule` and `note` */
static const struct kind {
	const char *name;
	int (*read)(struct map_reader *r);
	unsigned uses;
} kinds[] = {
	{ "file", map_read_setting, 1u << MAP_NAME | 1u << MAP_FROM },
	{ "column", read_column, ~0u },
	{ "ignore", read_ignore, 1u << MAP_FROM },
	{ "carry", read_carry, 1u << MAP_NAME | 1u << MAP_FROM },
	{ "drop", read_drop, 1u << MAP_FROM | 1u << MAP_PATTERN },
	{ "above", read_above,
	    1u << MAP_NAME | 1u << MAP_FROM | 1u << MAP_PATTERN | 1u << MAP_NEED },
	{ "section", read_section, 1u << MAP_NAME | 1u << MAP_FROM | 1u << MAP_PATTERN },
	{ "fill", read_fill, 1u << MAP_FROM },
	{ "wide", read_wide, 1u << MAP_NAME | 1u << MAP_FROM },
	{ "key", read_key, 1u << MAP_FROM },
	{ "side", read_side, 1u << MAP_NAME | 1u << MAP_FROM | 1u << MAP_PATTERN },
	{ "words", read_list, 1u << MAP_NAME | 1u << MAP_WORDS },
};

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
		return map_bad(r, MAP_RULE,
		    "unfinished map: look at this rule, then take the question mark away");
	word.n -= word.n > 0 && word.p[word.n - 1] == '?';
	rule = map_word(r, MAP_RULE, word, names);
	if (rule < 0)
		return -1;
	if (r->dialect_only && rule != 0)
		return 0;
	for (int col = MAP_NAME; col < MAP_NOTE; col++)
		if (r->at[col].n > 0 && !(kinds[rule].uses & 1u << col))
			return map_bad(r, col, "of no use in a rule of this kind");
	return kinds[rule].read(r);
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

/* "Loss @ab" is the column Loss in the row of side ab. */
static void
find_sides(struct map *m)
{
	for (size_t c = 0; c < m->columns.n; c++)
		for (size_t i = 0; i < m->columns.v[c].nfrom; i++) {
			struct map_source *source = &m->columns.v[c].from[i];

			for (size_t k = source->name.n; m->sides.n > 0 && k-- > 1;)
				if (source->name.p[k] == '@' && source->name.p[k - 1] == ' ') {
					struct field side = { source->name.p + k + 1,
						source->name.n - k - 1 };

					source->side = map_find(&m->sides, side);
					source->name.n -= source->side >= 0 ? side.n + 2 : 0;
					break;
				}
		}
}

/* What only the map as a whole can be wrong in. NULL: nothing. */
static const char *
check_map(const struct map *m)
{
	bool carry = false, carry_all = false;

	for (size_t i = 0; i < m->others.n; i++) {
		carry |= m->others.v[i].carry;
		carry_all |= m->others.v[i].carry && field_is(m->others.v[i].from, "*");
	}
	if (m->columns.n == 0)
		return "no rule 'column' in the map";
	if (m->dialect.layout == LAYOUT_CELLS && m->dialect.delimiter == m->style.point &&
	    m->dialect.quote == '\0')
		return "delimiter and decimal mark are the same, and there is no quote";
	if (m->sides.n > 0 && m->keys.n == 0)
		return "rule 'side' without a rule 'key'";
	if (m->keys.n > 0 && m->sides.n == 0)
		return "rule 'key' without a rule 'side'";
	if (m->keys.n > 0 && carry)
		return "rule 'carry' beside a rule 'key': make a column of it";
	if (carry_all && m->dialect.layout != LAYOUT_CELLS)
		return "rule 'carry' with *: this layout has no header to say which columns there are";
	if (m->aboves.n > 0 && m->dialect.skip == 0)
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
		if (read_rule(r) != 0)
			return -1;
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
	m->dialect.keep_skipped = m->aboves.n > 0;
	if (m->dialect.layout == LAYOUT_LABELS && !map_given(m, "delimiter"))
		m->dialect.delimiter = ':';
	if (check_map(m) != NULL)
		return err_set(r->table->err, "%s: %s", m->path, check_map(m));
	return 0;
}

int
map_read(struct map *m, struct table *t, bool dialect_only)
{
	struct map_reader r = { .map = m, .table = t, .dialect_only = dialect_only };
	int status;

	map_begin(m);
	m->path = reader_file(t->reader);
	status = read_rules(&r);
	for (size_t i = 0; i < r.nlists; i++)
		free(r.lists[i].words.v);
	free(r.lists);
	return status;
}

static void
free_rules(struct map_rules *rules)
{
	for (size_t i = 0; i < rules->n; i++)
		pattern_free(rules->v[i].pattern);
	free(rules->v);
}

void
map_free(struct map *m)
{
	for (size_t i = 0; i < m->columns.n; i++) {
		pattern_free(m->columns.v[i].pattern);
		free(m->columns.v[i].from);
		free(m->columns.v[i].words.v);
	}
	free(m->columns.v);
	for (size_t i = 0; i < m->orders.n; i++)
		colour_order_free(m->orders.v[i]);
	free(m->orders.v);
	free_rules(&m->others);
	free_rules(&m->drops);
	free_rules(&m->aboves);
	free_rules(&m->wides);
	free_rules(&m->sides);
	free_rules(&m->blocks);
	free(m->keys.v);
	region_free(&m->text);
	*m = (struct map){ 0 };
}
