#include "import/map.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/spelling.h"
#include "base/num.h"
#include "import/recode.h"
#include "table/table.h"

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

/* the map being read */
struct map_reader {
	struct map *map;
	struct table table;
	struct field at[MAP_COLS]; /* the present rule, empty what is not there */
	unsigned settings;         /* those seen, a bit each */
	bool dialect_only;
};

static int
bad(struct map_reader *r, int col, const char *what)
{
	return reader_fail(r->table.reader, &r->table.row, map_cols[col].name, what, r->at[col]);
}

/* The place of a word among others, separated by blanks; or -1. */
static int
word_of(struct field f, const char *words)
{
	size_t i = field_among(field_of(words), ' ', f);

	return i == SIZE_MAX ? -1 : (int)i;
}

/* Trouble with a word that is none of these; the nearest is named. */
static int
bad_word(struct map_reader *r, int col, const char *words)
{
	char what[400];

	snprintf(what, sizeof what, "none of: %s", words);
	return bad(r, col, what);
}

static struct field
keep(struct map_reader *r, struct field f)
{
	return region_keep(&r->map->text, f);
}

/* --- settings -------------------------------------------------------------------------------- */

/* The value as the character it names. */
static int
set_delimiter(struct map_reader *r, struct field value)
{
	static const char names[] = "comma semicolon tab bar colon blank", bytes[] = ",;\t|: ";
	int i = word_of(value, names);
	char c = i >= 0 ? bytes[i] : value.n == 1 ? value.p[0] : '\0';

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

/* what may be set: by a function, as one of `words` with the byte that stands for each, or as a
   number of lines or a text in the map */
static const struct setting {
	const char *name;
	int (*set)(struct map_reader *r, struct field value);
	const char *words, *bytes; /* of the words, the bytes kept in the char at `at` */
	enum { BY_WORD, COUNT, TEXT } kind;
	size_t at; /* in struct map */
} settings[] = {
	{ "comment", NULL, NULL, NULL, TEXT, offsetof(struct map, dialect.comment) },
	{ "decimal", NULL, "point comma", ".,", BY_WORD, offsetof(struct map, style.point) },
	{ "delimiter", set_delimiter },
	{ "encoding", set_encoding },
	{ "grouping", NULL, "none point comma blank apostrophe", "\0., '", BY_WORD,
	    offsetof(struct map, style.grouping) },
	{ "header", NULL, "no yes", "\0\1", BY_WORD, offsetof(struct map, dialect.header) },
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

enum { SETTINGS = sizeof settings / sizeof settings[0] };

/* "none of: ..." with the names of all settings */
static int
no_setting(struct map_reader *r)
{
	char names[300];
	size_t n = 0;

	for (size_t i = 0; i < SETTINGS; i++)
		n += (size_t)snprintf(
		    names + n, sizeof names - n, "%s%s", i > 0 ? " " : "", settings[i].name);
	return bad_word(r, MAP_NAME, names);
}

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
	i = word_of(value, s->words);
	if (i < 0)
		return bad_word(r, MAP_FROM, s->words);
	*at = s->bytes[i];
	return 0;
}

static int
read_setting(struct map_reader *r)
{
	size_t i = 0;

	while (i < SETTINGS && !field_is(r->at[MAP_NAME], settings[i].name))
		i++;
	if (i == SETTINGS)
		return no_setting(r);
	if (r->settings & 1u << i)
		return bad(r, MAP_NAME, "setting given twice");
	r->settings |= 1u << i;
	if (r->at[MAP_FROM].n == 0)
		return reader_fail(r->table.reader, &r->table.row, "from",
		    "setting without a value", (struct field){ NULL, 0 });
	return set(r, &settings[i], r->at[MAP_FROM]);
}

/* --- patterns -------------------------------------------------------------------------------- */

static int
read_pattern(struct map_reader *r, struct pattern **pattern)
{
	char why[PATTERN_WHY];

	*pattern = pattern_compile(r->at[MAP_PATTERN], why);
	if (*pattern == NULL)
		return bad(r, MAP_PATTERN, why);
	if (pattern_groups(*pattern) > PATTERN_GROUPS)
		return bad(r, MAP_PATTERN, "pattern with more than 9 groups");
	return 0;
}

/* --- columns --------------------------------------------------------------------------------- */

struct field
map_next_source(struct field *rest)
{
	struct field all = *rest;

	for (size_t i = 0; all.p != NULL && i + 3 <= all.n; i++)
		if (memcmp(all.p + i, " + ", 3) == 0) {
			*rest = (struct field){ all.p + i + 3, all.n - i - 3 };
			return (struct field){ all.p, i };
		}
	*rest = (struct field){ NULL, 0 };
	return all;
}

static int
read_from(struct map_reader *r, struct map_column *c)
{
	struct field rest = keep(r, r->at[MAP_FROM]), count = rest;

	c->source = rest;
	if (rest.n == 0)
		return 0;
	while (count.p != NULL) {
		c->nfrom++;
		if (map_next_source(&count).n == 0)
			return bad(r, MAP_FROM, "nothing beside a ' + '");
	}
	c->from = region_get(&r->map->text, c->nfrom * sizeof *c->from);
	for (size_t i = 0; i < c->nfrom; i++)
		c->from[i] = map_next_source(&rest);
	return 0;
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

static int
read_words(struct map_reader *r, struct map_column *c)
{
	struct field rest = keep(r, r->at[MAP_WORDS]), count = rest;
	size_t n = 0;

	for (; count.p != NULL; n++)
		field_cut(&count, ';');
	c->words = region_get(&r->map->text, n * sizeof *c->words);
	while (rest.p != NULL) {
		struct field to = field_cut(&rest, ';'), from = bare(field_cut(&to, '='));

		if (to.p == NULL || from.n == 0)
			return bad(r, MAP_WORDS, "not THEIRS=OURS;THEIRS=OURS");
		for (size_t i = 0; i < c->nwords; i++)
			if (field_same(c->words[i].from, from))
				return bad(r, MAP_WORDS, "one word twice");
		c->words[c->nwords++] = (struct map_word){ from, bare(to) };
	}
	return 0;
}

static int
read_unit(struct map_reader *r, struct map_column *c)
{
	struct bytes names = { NULL, 0, 0 };
	struct field unit = r->at[MAP_UNIT];
	bool in_cell = field_is(unit, "cell");
	char what[400];

	if (c->holds == MAP_DATE) {
		if (!date_zone_read(unit, &c->zone))
			return bad(r, MAP_UNIT, "no zone: write Z, +hh:mm or UTC+hh:mm");
		return 0;
	}
	if (c->holds != MAP_NUMBER && c->holds != MAP_WHOLE)
		return bad(r, MAP_UNIT, "unit of something that is no number");
	c->unit = in_cell ? NULL : unit_named(unit);
	c->to = unit_of_column(c->name);
	if (!in_cell && c->unit == NULL) {
		unit_names(&names);
		snprintf(what, sizeof what, "none of: cell, %.*s", (int)names.n, names.p);
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

static int
read_form(struct map_reader *r, struct map_column *c)
{
	const char *why;

	if (c->holds == MAP_FIBRE) {
		if (num_whole(r->at[MAP_FORM], &c->tube_size) != 0 || c->tube_size < 1 ||
		    c->tube_size > 10000)
			return bad(r, MAP_FORM, "no number of fibres in a tube, 1 to 10000");
		return 0;
	}
	if (c->holds != MAP_DATE)
		return bad(r, MAP_FORM, "form of something that is no date");
	why = date_form_compile(r->at[MAP_FORM], &c->form);
	return why != NULL ? bad(r, MAP_FORM, why) : 0;
}

/* What a date, a fibre or a word cannot do without. */
static int
check_whole(struct map_reader *r, const struct map_column *c)
{
	if (c->nfrom == 0 && c->instead.n == 0)
		return bad(r, MAP_NAME, "column with neither 'from' nor 'default'");
	if (c->nfrom == 0)
		return 0;
	if ((c->holds == MAP_DATE || c->holds == MAP_FIBRE) && r->at[MAP_FORM].n == 0)
		return bad(r, MAP_NAME, "date or fibre without a form");
	if (c->holds == MAP_WORD && c->nwords == 0)
		return bad(r, MAP_NAME, "word without words");
	if (c->nwords > 0 && c->holds != MAP_WORD && c->holds != MAP_TEXT)
		return bad(r, MAP_WORDS, "words for something that is neither word nor text");
	return 0;
}

static int
read_column(struct map_reader *r)
{
	static const char holds[] = "text number whole date word fibre", need[] = "no yes absent";
	struct map *m = r->map;
	struct map_column *c;
	int i;

	m->columns = mem_grow(m->columns, &m->cap_columns, m->ncolumns + 1, sizeof *m->columns);
	c = &m->columns[m->ncolumns];
	*c = (struct map_column){ .line = r->table.row.line, .name = keep(r, r->at[MAP_NAME]) };
	m->ncolumns++;
	c->instead = keep(r, r->at[MAP_DEFAULT]);
	if (c->name.n == 0)
		return bad(r, MAP_FROM, "column without a name");
	for (size_t k = 0; k + 1 < m->ncolumns; k++)
		if (field_same(m->columns[k].name, c->name))
			return bad(r, MAP_NAME, "column made twice");
	i = r->at[MAP_HOLDS].n > 0 ? word_of(r->at[MAP_HOLDS], holds) : MAP_TEXT;
	if (i < 0)
		return bad_word(r, MAP_HOLDS, holds);
	c->holds = (enum map_holds)i;
	i = r->at[MAP_NEED].n > 0 ? word_of(r->at[MAP_NEED], need) : MAP_MAY;
	if (i < 0)
		return bad_word(r, MAP_NEED, need);
	c->need = i == 0 ? MAP_MAY : i == 1 ? MAP_MUST : MAP_ABSENT;
	if (read_from(r, c) != 0 ||
	    (r->at[MAP_PATTERN].n > 0 && read_pattern(r, &c->pattern) != 0) ||
	    (r->at[MAP_WORDS].n > 0 && read_words(r, c) != 0) ||
	    (r->at[MAP_UNIT].n > 0 && read_unit(r, c) != 0) ||
	    (r->at[MAP_FORM].n > 0 && read_form(r, c) != 0))
		return -1;
	return check_whole(r, c);
}

/* --- other rules ----------------------------------------------------------------------------- */

static int
add_other(struct map_reader *r, bool carry)
{
	struct map *m = r->map;

	if (r->at[MAP_FROM].n == 0)
		return bad(r, MAP_RULE, "rule without a column in 'from'");
	for (size_t i = 0; i < m->nothers; i++)
		if (field_same(m->others[i].from, r->at[MAP_FROM]))
			return bad(r, MAP_FROM, "two rules for one column");
	m->others = mem_grow(m->others, &m->cap_others, m->nothers + 1, sizeof *m->others);
	m->others[m->nothers++] = (struct map_other){
		.line = r->table.row.line,
		.from = keep(r, r->at[MAP_FROM]),
		.prefix = keep(r, r->at[MAP_NAME]),
		.carry = carry,
	};
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
	struct map *m = r->map;

	if (r->at[MAP_PATTERN].n == 0)
		return bad(r, MAP_RULE, "rule without a pattern");
	m->drops = mem_grow(m->drops, &m->cap_drops, m->ndrops + 1, sizeof *m->drops);
	m->drops[m->ndrops++] =
	    (struct map_drop){ .line = r->table.row.line, .from = keep(r, r->at[MAP_FROM]) };
	return read_pattern(r, &m->drops[m->ndrops - 1].pattern);
}

/* the kinds of rules, and which columns of the map each has a use for besides `rule` and `note` */
static const struct kind {
	const char *name;
	int (*read)(struct map_reader *r);
	unsigned uses;
} kinds[] = {
	{ "file", read_setting, 1u << MAP_NAME | 1u << MAP_FROM },
	{ "column", read_column, ~0u },
	{ "ignore", read_ignore, 1u << MAP_FROM },
	{ "carry", read_carry, 1u << MAP_NAME | 1u << MAP_FROM },
	{ "drop", read_drop, 1u << MAP_FROM | 1u << MAP_PATTERN },
};

static int
read_rule(struct map_reader *r)
{
	static const char names[] = "file column ignore carry drop";
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
	rule = word_of(word, names);
	if (rule < 0)
		return bad_word(r, MAP_RULE, names);
	if (r->dialect_only && rule != 0)
		return 0;
	for (int col = MAP_NAME; col < MAP_NOTE; col++)
		if (r->at[col].n > 0 && !(kinds[rule].uses & 1u << col))
			return bad(r, col, "of no use in a rule of this kind");
	return kinds[rule].read(r);
}

/* --- the map --------------------------------------------------------------------------------- */

void
map_begin(struct map *m)
{
	*m = (struct map){
		.dialect = DIALECT_USUAL,
		.style = { '.', DECIMAL_NONE },
	};
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
	for (size_t i = 0; i < reader_columns(r->table.reader); i++) {
		struct field name = reader_name(r->table.reader, i);
		size_t best = spelling_best(name, known, MAP_COLS);

		if (best != SIZE_MAX && field_same(name, known[best]))
			continue;
		err_show(shown, name.p, name.n);
		return err_set(r->table.err, "%s:1: no column of a map: '%s'%s%s%s", r->map->path,
		    shown, best != SIZE_MAX ? ": is it '" : "",
		    best != SIZE_MAX ? map_cols[best].name : "", best != SIZE_MAX ? "'?" : "");
	}
	return 0;
}

static int
read_rules(struct map_reader *r)
{
	struct map *m = r->map;

	if (check_columns(r) != 0)
		return -1;
	while (table_next(&r->table)) {
		for (int col = 0; col < MAP_COLS; col++)
			if (!get_text(&r->table, col, &r->at[col]))
				r->at[col] = (struct field){ "", 0 };
		if (read_rule(r) != 0)
			return -1;
	}
	if (err_is_set(r->table.err) || r->dialect_only)
		return err_is_set(r->table.err) ? -1 : 0;
	if (m->ncolumns == 0)
		return err_set(r->table.err, "%s: no rule 'column' in the map", m->path);
	if (m->dialect.delimiter == m->style.point && m->dialect.quote == '\0')
		return err_set(r->table.err,
		    "%s: delimiter and decimal mark are the same, and there is no quote", m->path);
	return 0;
}

static int
read_and_close(struct map_reader *r)
{
	int status = read_rules(r);

	return table_close(&r->table) != 0 ? -1 : status;
}

int
map_read(struct map *m, const char *path, bool dialect_only, struct err *err)
{
	struct map_reader r = { .map = m, .dialect_only = dialect_only };

	map_begin(m);
	m->path = path;
	if (table_open_side(&r.table, map_cols, path, NULL, err) != 0)
		return -1;
	return read_and_close(&r);
}

int
map_read_text(struct map *m, const char *name, struct field text, struct err *err)
{
	struct map_reader r = { .map = m };

	map_begin(m);
	m->path = name;
	if (table_open_reader(&r.table, map_cols, reader_memory(name, text, err), NULL, err) != 0)
		return -1;
	return read_and_close(&r);
}

void
map_free(struct map *m)
{
	for (size_t i = 0; i < m->ncolumns; i++)
		pattern_free(m->columns[i].pattern);
	for (size_t i = 0; i < m->ndrops; i++)
		pattern_free(m->drops[i].pattern);
	free(m->columns);
	free(m->others);
	free(m->drops);
	region_free(&m->text);
	*m = (struct map){ 0 };
}
