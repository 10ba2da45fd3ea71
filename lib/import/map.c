#include "import/map.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/spelling.h"
#include "base/num.h"
#include "import/recode.h"
#include "table/pattern.h"
#include "table/table.h"

enum {
	RULE,
	NAME,
	FROM,
	PATTERN,
	HOLDS,
	UNIT,
	FORM,
	WORDS,
	DEFAULT,
	NEED,
	NOTE,
	COLS,
};

static const struct col cols[] = {
	[RULE] = { "rule", COL_NEED },
	[NAME] = { "name", COL_NEED },
	[FROM] = { "from", COL_NEED },
	[PATTERN] = { "pattern", COL_MAY },
	[HOLDS] = { "holds", COL_MAY },
	[UNIT] = { "unit", COL_MAY },
	[FORM] = { "form", COL_MAY },
	[WORDS] = { "words", COL_MAY },
	[DEFAULT] = { "default", COL_MAY },
	[NEED] = { "need", COL_MAY },
	[NOTE] = { "note", COL_MAY },
	{ NULL },
};

/* the map being read */
struct map_reader {
	struct map *map;
	struct table table;
	struct field at[COLS]; /* the present rule, empty what is not there */
	unsigned settings;     /* those seen, a bit each */
	bool dialect_only;
};

static int
bad(struct map_reader *r, int col, const char *what)
{
	return reader_fail(r->table.reader, &r->table.row, cols[col].name, what, r->at[col]);
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
	char what[300];

	snprintf(what, sizeof what, "none of: %s", words);
	return bad(r, col, what);
}

static struct field
keep(struct map_reader *r, struct field f)
{
	return region_keep(&r->map->text, f);
}

/* --- settings -------------------------------------------------------------------------------- */

static int
set_delimiter(struct map_reader *r, struct field value)
{
	static const char names[] = "comma semicolon tab bar colon blank", bytes[] = ",;\t|: ";
	int i = word_of(value, names);
	char c = i >= 0 ? bytes[i] : value.n == 1 ? value.p[0] : '\0';

	if (c < ' ' ? c != '\t'
		    : c > '~' || num_is_digit(c) || (unsigned)((c | 0x20) - 'a') < 26 || c == '"' ||
			  c == '\'')
		return bad(r, FROM, "no delimiter");
	r->map->dialect.delimiter = c;
	return 0;
}

static int
set_quote(struct map_reader *r, struct field value)
{
	static const char names[] = "double single none", bytes[] = "\"'";
	int i = word_of(value, names);

	if (i < 0)
		return bad_word(r, FROM, names);
	r->map->dialect.quote = bytes[i];
	return 0;
}

static int
set_decimal(struct map_reader *r, struct field value)
{
	int i = word_of(value, "point comma");

	if (i < 0)
		return bad_word(r, FROM, "point comma");
	r->map->style.point = i == 0 ? '.' : ',';
	return 0;
}

static int
set_grouping(struct map_reader *r, struct field value)
{
	static const char names[] = "none point comma blank apostrophe";
	int i = word_of(value, names);

	if (i < 0)
		return bad_word(r, FROM, names);
	r->map->style.grouping = (enum decimal_grouping)i;
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
		return bad(r, FROM, why);
	recode_close(test);
	return 0;
}

static int
set_count(struct map_reader *r, struct field value, uint64_t *count)
{
	int64_t n;

	if (num_whole(value, &n) != 0 || n < 0)
		return bad(r, FROM, "no number of lines");
	*count = (uint64_t)n;
	return 0;
}

static int
set_flag(struct map_reader *r, struct field value, const char *words, bool *flag)
{
	int i = word_of(value, words);

	if (i < 0)
		return bad_word(r, FROM, words);
	*flag = i == 1;
	return 0;
}

enum setting {
	COMMENT,
	DECIMAL,
	DELIMITER,
	ENCODING,
	GROUPING,
	HEADER,
	MONTHS,
	QUOTE,
	RAGGED,
	SKIP,
	SKIP_BELOW,
	TRIM,
	UNKNOWN,
	ZONE,
};

static const char settings[] = "comment decimal delimiter encoding grouping header months quote "
			       "ragged skip skip_below trim unknown zone";

static int
set_list(struct map_reader *r, enum setting setting, struct field value)
{
	struct map *m = r->map;

	switch (setting) {
	case MONTHS:
		if (!form_months(keep(r, value), m->months))
			return bad(r, FROM, "not twelve names with semicolons between them");
		return 0;
	case ZONE:
		if (!form_zone(value, m->zone, &m->nzone))
			return bad(r, FROM, "no zone: write Z, +hh:mm or UTC+hh:mm");
		return 0;
	case COMMENT:
		m->dialect.comment = keep(r, value);
		return 0;
	default:
		m->unknown = keep(r, value);
		return 0;
	}
}

static int
read_setting(struct map_reader *r)
{
	struct dialect *d = &r->map->dialect;
	struct field value = r->at[FROM];
	int setting = word_of(r->at[NAME], settings);

	if (setting < 0)
		return bad_word(r, NAME, settings);
	if (r->settings & 1u << setting)
		return bad(r, NAME, "setting given twice");
	r->settings |= 1u << setting;
	if (value.n == 0)
		return reader_fail(r->table.reader, &r->table.row, "from",
		    "setting without a value", (struct field){ NULL, 0 });
	switch ((enum setting)setting) {
	case DECIMAL:
		return set_decimal(r, value);
	case DELIMITER:
		return set_delimiter(r, value);
	case ENCODING:
		return set_encoding(r, value);
	case GROUPING:
		return set_grouping(r, value);
	case HEADER:
		return set_flag(r, value, "no yes", &d->header);
	case QUOTE:
		return set_quote(r, value);
	case RAGGED:
		return set_flag(r, value, "refuse mend", &r->map->mend);
	case SKIP:
		return set_count(r, value, &d->skip);
	case SKIP_BELOW:
		return set_count(r, value, &d->skip_below);
	case TRIM:
		return set_flag(r, value, "no yes", &d->trim);
	case COMMENT:
	case MONTHS:
	case UNKNOWN:
	case ZONE:
		break;
	}
	return set_list(r, (enum setting)setting, value);
}

/* --- patterns -------------------------------------------------------------------------------- */

static int
read_pattern(struct map_reader *r, struct map_pattern *pattern)
{
	const char *text = region_string(&r->map->text, r->at[PATTERN]);
	char why[PATTERN_WHY];

	if (pattern_compile(&pattern->regex, text, 0, why) != 0)
		return bad(r, PATTERN, why);
	pattern->set = true;
	pattern->groups = pattern->regex.re_nsub;
	if (pattern->groups > MAP_GROUPS)
		return bad(r, PATTERN, "pattern with more than 9 groups");
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
	struct field rest = keep(r, r->at[FROM]), count = rest;

	c->source = rest;
	if (rest.n == 0)
		return 0;
	while (count.p != NULL) {
		c->nfrom++;
		if (map_next_source(&count).n == 0)
			return bad(r, FROM, "nothing beside a ' + '");
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
	struct field rest = keep(r, r->at[WORDS]), count = rest;
	size_t n = 0;

	for (; count.p != NULL; n++)
		field_cut(&count, ';');
	c->words = region_get(&r->map->text, n * sizeof *c->words);
	while (rest.p != NULL) {
		struct field to = field_cut(&rest, ';'), from = bare(field_cut(&to, '='));

		if (to.p == NULL || from.n == 0)
			return bad(r, WORDS, "not THEIRS=OURS;THEIRS=OURS");
		for (size_t i = 0; i < c->nwords; i++)
			if (field_same(c->words[i].from, from))
				return bad(r, WORDS, "one word twice");
		c->words[c->nwords++] = (struct map_word){ from, bare(to) };
	}
	return 0;
}

static int
read_unit(struct map_reader *r, struct map_column *c)
{
	struct bytes names = { NULL, 0, 0 };
	struct field unit = r->at[UNIT];
	bool in_cell = field_is(unit, "cell");
	char what[400];

	if (c->holds == MAP_DATE) {
		if (!form_zone(unit, c->zone, &c->nzone))
			return bad(r, UNIT, "no zone: write Z, +hh:mm or UTC+hh:mm");
		return 0;
	}
	if (c->holds != MAP_NUMBER && c->holds != MAP_WHOLE)
		return bad(r, UNIT, "unit of something that is no number");
	c->unit = in_cell ? NULL : unit_named(unit);
	c->to = unit_of_column(c->name);
	if (!in_cell && c->unit == NULL) {
		unit_names(&names);
		snprintf(what, sizeof what, "none of: cell, %.*s", (int)names.n, names.p);
		bytes_free(&names);
		return bad(r, UNIT, what);
	}
	if (c->to == NULL)
		return bad(r, NAME, "a unit comes in, but the name does not end in one");
	if (c->unit != NULL && c->unit->kind != c->to->kind) {
		snprintf(what, sizeof what, "cannot become %s", c->to->name);
		return bad(r, UNIT, what);
	}
	return 0;
}

static int
read_form(struct map_reader *r, struct map_column *c)
{
	const char *why;

	if (c->holds == MAP_FIBRE) {
		if (num_whole(r->at[FORM], &c->tube_size) != 0 || c->tube_size < 1 ||
		    c->tube_size > 10000)
			return bad(r, FORM, "no number of fibres in a tube, 1 to 10000");
		return 0;
	}
	if (c->holds != MAP_DATE)
		return bad(r, FORM, "form of something that is no date");
	why = form_read_spec(r->at[FORM], &c->form);
	return why != NULL ? bad(r, FORM, why) : 0;
}

/* What a date, a fibre or a word cannot do without. */
static int
check_whole(struct map_reader *r, const struct map_column *c)
{
	if (c->nfrom == 0 && c->instead.n == 0)
		return bad(r, NAME, "column with neither 'from' nor 'default'");
	if (c->nfrom == 0)
		return 0;
	if ((c->holds == MAP_DATE || c->holds == MAP_FIBRE) && r->at[FORM].n == 0)
		return bad(r, NAME, "date or fibre without a form");
	if (c->holds == MAP_WORD && c->nwords == 0)
		return bad(r, NAME, "word without words");
	if (c->nwords > 0 && c->holds != MAP_WORD && c->holds != MAP_TEXT)
		return bad(r, WORDS, "words for something that is neither word nor text");
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
	*c = (struct map_column){ .line = r->table.row.line, .name = keep(r, r->at[NAME]) };
	m->ncolumns++;
	c->instead = keep(r, r->at[DEFAULT]);
	if (c->name.n == 0)
		return bad(r, FROM, "column without a name");
	for (size_t k = 0; k + 1 < m->ncolumns; k++)
		if (field_same(m->columns[k].name, c->name))
			return bad(r, NAME, "column made twice");
	i = r->at[HOLDS].n > 0 ? word_of(r->at[HOLDS], holds) : MAP_TEXT;
	if (i < 0)
		return bad_word(r, HOLDS, holds);
	c->holds = (enum map_holds)i;
	i = r->at[NEED].n > 0 ? word_of(r->at[NEED], need) : MAP_MAY;
	if (i < 0)
		return bad_word(r, NEED, need);
	c->need = i == 0 ? MAP_MAY : i == 1 ? MAP_MUST : MAP_ABSENT;
	if (read_from(r, c) != 0 || (r->at[PATTERN].n > 0 && read_pattern(r, &c->pattern) != 0) ||
	    (r->at[WORDS].n > 0 && read_words(r, c) != 0) ||
	    (r->at[UNIT].n > 0 && read_unit(r, c) != 0) ||
	    (r->at[FORM].n > 0 && read_form(r, c) != 0))
		return -1;
	return check_whole(r, c);
}

/* --- other rules ----------------------------------------------------------------------------- */

static int
read_other(struct map_reader *r, bool carry)
{
	struct map *m = r->map;

	if (r->at[FROM].n == 0)
		return bad(r, RULE, "rule without a column in 'from'");
	for (size_t i = 0; i < m->nothers; i++)
		if (field_same(m->others[i].from, r->at[FROM]))
			return bad(r, FROM, "two rules for one column");
	m->others = mem_grow(m->others, &m->cap_others, m->nothers + 1, sizeof *m->others);
	m->others[m->nothers++] = (struct map_other){
		.line = r->table.row.line,
		.from = keep(r, r->at[FROM]),
		.prefix = keep(r, r->at[NAME]),
		.carry = carry,
	};
	return 0;
}

static int
read_drop(struct map_reader *r)
{
	struct map *m = r->map;

	if (r->at[PATTERN].n == 0)
		return bad(r, RULE, "rule without a pattern");
	m->drops = mem_grow(m->drops, &m->cap_drops, m->ndrops + 1, sizeof *m->drops);
	m->drops[m->ndrops++] =
	    (struct map_drop){ .line = r->table.row.line, .from = keep(r, r->at[FROM]) };
	return read_pattern(r, &m->drops[m->ndrops - 1].pattern);
}

/* A field of this rule that its kind of rule has no use for. */
static int
check_unused(struct map_reader *r, int rule)
{
	/* of file, column, ignore, carry, drop */
	static const char *const used[] = { "name from", NULL, "from", "name from",
		"from pattern" };

	for (int col = NAME; used[rule] != NULL && col < NOTE; col++)
		if (r->at[col].n > 0 && word_of(field_of(cols[col].name), used[rule]) < 0)
			return bad(r, col, "of no use in a rule of this kind");
	return 0;
}

static int
read_rule(struct map_reader *r)
{
	static const char rules[] = "file column ignore carry drop";
	struct field word = r->at[RULE];
	bool empty = true;
	int rule;

	for (int col = RULE; col < NOTE; col++)
		empty &= r->at[col].n == 0;
	if (empty)
		return 0;
	if (word.n > 0 && word.p[word.n - 1] == '?' && !r->dialect_only)
		return bad(
		    r, RULE, "unfinished map: look at this rule, then take the question mark away");
	word.n -= word.n > 0 && word.p[word.n - 1] == '?';
	rule = word_of(word, rules);
	if (rule < 0)
		return bad_word(r, RULE, rules);
	if (r->dialect_only && rule != 0)
		return 0;
	if (check_unused(r, rule) != 0)
		return -1;
	switch (rule) {
	case 0:
		return read_setting(r);
	case 1:
		return read_column(r);
	case 4:
		return read_drop(r);
	default:
		return read_other(r, rule == 3);
	}
}

/* --- the map --------------------------------------------------------------------------------- */

void
map_begin(struct map *m)
{
	*m = (struct map){
		.dialect = { .delimiter = ',', .quote = '"', .header = true },
		.style = { '.', DECIMAL_NONE },
	};
	form_months(field_of(form_months_default), m->months);
}

/* A column of the map that no rule reads is a misspelt one. */
static int
check_columns(struct map_reader *r)
{
	struct field known[COLS];
	char shown[ERR_SHOWN];

	for (int i = 0; i < COLS; i++)
		known[i] = field_of(cols[i].name);
	for (size_t i = 0; i < reader_columns(r->table.reader); i++) {
		struct field name = reader_name(r->table.reader, i);
		size_t best = spelling_best(name, known, COLS);

		if (word_of(name,
			"rule name from pattern holds unit form words default need note") >= 0)
			continue;
		err_show(shown, name.p, name.n);
		if (best != SIZE_MAX)
			return err_set(r->table.err, "%s:1: no column of a map: '%s': is it '%s'?",
			    r->map->path, shown, cols[best].name);
		return err_set(r->table.err, "%s:1: no column of a map: '%s'", r->map->path, shown);
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
		for (int col = 0; col < COLS; col++)
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
	if (table_open_side(&r.table, cols, path, NULL, err) != 0)
		return -1;
	return read_and_close(&r);
}

int
map_read_text(struct map *m, const char *name, struct field text, struct err *err)
{
	struct map_reader r = { .map = m };

	map_begin(m);
	m->path = name;
	if (table_open_reader(&r.table, cols, reader_memory(name, text, err), NULL, err) != 0)
		return -1;
	return read_and_close(&r);
}

void
map_free(struct map *m)
{
	for (size_t i = 0; i < m->ncolumns; i++)
		if (m->columns[i].pattern.set)
			regfree(&m->columns[i].pattern.regex);
	for (size_t i = 0; i < m->ndrops; i++)
		if (m->drops[i].pattern.set)
			regfree(&m->drops[i].pattern.regex);
	free(m->columns);
	free(m->others);
	free(m->drops);
	region_free(&m->text);
	*m = (struct map){ 0 };
}
