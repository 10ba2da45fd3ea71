#include "import/draft.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "import/guess.h"
#include "import/look.h"
#include "table/ids.h"

struct draft {
	const struct map *map; /* what was given, or what a map without rules says */
	struct guess guess;
	struct looker looker;
	struct look *looks;
	size_t ncols;
	uint64_t rows, odd, odd_line, blank, headers, lonely, lonely_line;
	bool units_below;        /* the first line below the header is one of units */
	size_t style;            /* of look_styles, that of the numbers */
	struct field last_first; /* the first cell of the last row, if the row is mostly empty */
	struct writer *out;
};

/* --- the rows -------------------------------------------------------------------------------- */

/* The unit a cell is, perhaps in brackets: "dB", "[um]"; or NULL. */
static const struct unit *
unit_alone(struct field f)
{
	bool brackets = f.n > 2 && ((f.p[0] == '[' && f.p[f.n - 1] == ']') ||
				       (f.p[0] == '(' && f.p[f.n - 1] == ')'));

	return unit_in_cell(brackets ? (struct field){ f.p + 1, f.n - 2 } : f);
}

/* Whether a row is a line of units: some cell is one, and none is what a record may hold. */
static bool
are_units(struct draft *d, const struct record *r)
{
	struct look *look = mem_zeroed(1, sizeof *look);
	bool any = false, record = false;

	for (size_t i = 0; i < r->n && !record; i++) {
		look_begin(look);
		look_at(&d->looker, look, r->f[i]);
		record = look->cells > look->empty && look->nmarks == 0 && look->others == 0;
		d->looks[i].below = unit_alone(r->f[i]);
		any |= d->looks[i].below != NULL;
	}
	for (size_t i = 0; i < r->n && (record || !any); i++)
		d->looks[i].below = NULL;
	free(look);
	return any && !record;
}

static size_t
filled(const struct record *r)
{
	size_t n = 0;

	for (size_t i = 0; i < r->n; i++)
		n += r->f[i].n > 0;
	return n;
}

static void
odd_row(struct draft *d, const struct export *in, const struct record *r)
{
	d->odd++;
	d->blank += r->blank;
	d->headers += r->fault == NULL && export_is_header(in, r);
	if (d->odd_line == 0 && !r->blank)
		d->odd_line = r->line;
}

static void
look_at_rows(struct draft *d, struct export *in)
{
	struct record r;

	while (export_next(in, &r)) {
		size_t full = r.fault == NULL ? filled(&r) : 0;

		if (r.fault != NULL || r.blank || r.n != d->ncols || full == 0 ||
		    export_is_header(in, &r)) {
			odd_row(d, in, &r);
			continue;
		}
		if (d->rows == 0 && in->header_line > 0 && d->map->dialect.skip_below == 0 &&
		    !d->units_below && are_units(d, &r)) {
			d->units_below = true;
			continue;
		}
		d->rows++;
		if (full == 1 && d->ncols > 2) {
			d->lonely++;
			d->lonely_line = d->lonely_line > 0 ? d->lonely_line : r.line;
			continue;
		}
		d->last_first = (struct field){ NULL, 0 };
		if (d->rows > 3 && full * 2 <= d->ncols && r.f[0].n > 0 && r.f[0].n < 60)
			d->last_first = region_keep(&d->looker.kept, r.f[0]);
		for (size_t i = 0; i < d->ncols; i++)
			look_at(&d->looker, &d->looks[i], r.f[i]);
	}
}

/* Whether the map leaves this style open, or gives it. */
static bool
may_be_style(const struct map *map, const struct decimal_style *style)
{
	return (map_given(map, "decimal") == NULL || style->point == map->style.point) &&
	       (map_given(map, "grouping") == NULL || style->grouping == map->style.grouping);
}

/* The style that most numbers are written in, the plainest of equals. */
static void
choose_style(struct draft *d)
{
	uint64_t most = 0;

	d->style = LOOK_STYLES - 1;
	for (size_t s = LOOK_STYLES; s-- > 0;) {
		uint64_t n = 0;

		for (size_t i = 0; i < d->ncols; i++)
			n += d->looks[i].numbers[s];
		if (n >= most && may_be_style(d->map, &look_styles[s])) {
			most = n;
			d->style = s;
		}
	}
}

/* --- rules ----------------------------------------------------------------------------------- */

static void
write_columns(const struct draft *d, const char *const rule[MAP_COLS])
{
	for (int i = 0; i < MAP_COLS; i++)
		writer_text(d->out, rule[i] != NULL ? rule[i] : "");
	writer_end_row(d->out);
}

static void
write_rule(const struct draft *d, const char *kind, const char *name, const char *from,
    const char *pattern, const char *note)
{
	write_columns(d, (const char *const[MAP_COLS]){ [MAP_RULE] = kind,
			     [MAP_NAME] = name,
			     [MAP_FROM] = from,
			     [MAP_PATTERN] = pattern,
			     [MAP_NOTE] = note });
}

static void
write_remark(const struct draft *d, const char *text)
{
	write_rule(d, NULL, NULL, NULL, NULL, text);
}

/* A setting that the map gives, or a value for it that is proposed; NULL: none is. */
static void
write_setting(const struct draft *d, const char *name, const char *value, const char *note)
{
	const char *given = map_given(d->map, name);

	if (given != NULL)
		write_rule(d, "file", name, given, NULL, NULL);
	else if (value != NULL)
		write_rule(d, "file?", name, value, NULL, note);
}

/* as a map calls one that was guessed */
static const char *
delimiter_name(char delimiter)
{
	return delimiter == ','    ? "comma"
	       : delimiter == ';'  ? "semicolon"
	       : delimiter == '\t' ? "tab"
				   : "bar";
}

/* --- what a column is ------------------------------------------------------------------------ */

static uint64_t
numbers(const struct draft *d, const struct look *look)
{
	return look->numbers[d->style];
}

/* The cells that are neither a number nor a date are marks of no reading: few kinds of them, short. */
static uint64_t
marks(const struct draft *d, const struct look *look)
{
	uint64_t n = 0, good = numbers(d, look) + look->dates;

	for (size_t i = 0; i < look->nmarks; i++)
		n += look->marks[i].n;
	return look->others == 0 && (n * 2 <= good || (n <= good && good >= 3)) ? n : 0;
}

static bool
is_number(const struct draft *d, const struct look *look)
{
	uint64_t full = look->cells - look->empty;

	return full > 0 && numbers(d, look) > 0 && numbers(d, look) + marks(d, look) == full;
}

static bool
is_date(const struct draft *d, const struct look *look)
{
	uint64_t full = look->cells - look->empty;

	return look->dates > 0 && look->dates + marks(d, look) == full;
}

/* Numbers that are times: seconds since 1970 or a spreadsheet's days, of 2000 to 2049. */
static const char *
counted_form(const struct draft *d, const struct look *look)
{
	if (!is_number(d, look) || !look->any)
		return NULL;
	if (look->least > 946684800 && look->greatest < 2524608000)
		return "unix";
	if (look->least > 946684800000 && look->greatest < 2524608000000)
		return "unix_ms";
	if (look->least > 36526 && look->greatest < 54788 && look->fractions * 2 > look->cells)
		return "serial";
	return NULL;
}

/* Adds a text to a list with semicolons, once. */
static void
add_once(struct bytes *list, struct field text)
{
	if (memchr(text.p, ';', text.n) != NULL ||
	    (list->n > 0 && field_among(bytes_field(list), ';', text) != SIZE_MAX))
		return;
	if (list->n > 0)
		bytes_add(list, ";", 1);
	bytes_add_field(list, text);
}

/* The texts that mean no reading, of all columns of numbers and dates. */
static void
add_marks(const struct draft *d, struct bytes *list)
{
	static const struct {
		const char *text;
		double value;
	} none[] = { { "-999", -999 }, { "-9999", -9999 }, { "99.999", 99.999 },
		{ "999.99", 999.99 } };

	for (size_t i = 0; i < d->ncols; i++) {
		const struct look *look = &d->looks[i];

		for (size_t k = 0; k < look->nmarks && marks(d, look) > 0; k++)
			add_once(list, look->marks[k].text);
		for (size_t k = 0; k < sizeof none / sizeof none[0]; k++)
			if (look->any && look->least < look->greatest &&
			    (look->least == none[k].value || look->greatest == none[k].value))
				add_once(list, field_of(none[k].text));
	}
}

/* --- the map --------------------------------------------------------------------------------- */

static void
write_settings(const struct draft *d)
{
	static const char *const not_guessed[] = { "header", "trim", "comment", "bounds", "minus",
		"months", "ragged", "zone" };
	static const char *const groupings[LOOK_STYLES] = { NULL, NULL, "comma", "point", "blank",
		"blank", "apostrophe", "apostrophe" };
	const struct dialect *dialect = &d->guess.dialect;
	const char layout = dialect->layout;
	bool cells = layout == LAYOUT_CELLS;
	struct bytes list = { NULL, 0, 0 };
	char skip[24], note[80];

	write_setting(d, "encoding", dialect->encoding, NULL);
	write_setting(d, "layout",
	    cells                     ? NULL
	    : layout == LAYOUT_FIXED  ? "fixed"
	    : layout == LAYOUT_LABELS ? "labels"
				      : "json",
	    d->ncols > 0 ? NULL : "no names were seen in the first lines");
	write_setting(d, "delimiter", cells ? delimiter_name(dialect->delimiter) : NULL, NULL);
	write_setting(d, "quote", cells ? "double" : NULL, NULL);
	snprintf(skip, sizeof skip, "%" PRIu64, dialect->skip);
	write_setting(d, "skip", skip, NULL);
	write_setting(d, "skip_below", d->units_below ? "1" : NULL, "a line of units");
	snprintf(note, sizeof note, "%" PRIu64 " rows of this shape, %" PRIu64 " others", d->rows,
	    d->odd);
	write_setting(d, "decimal", look_styles[d->style].point == ',' ? "comma" : "point", note);
	write_setting(d, "grouping", groupings[d->style], NULL);
	add_marks(d, &list);
	bytes_add(&list, "", 1);
	write_setting(d, "unknown", list.n > 1 ? list.p : NULL, "marks of no reading?");
	bytes_free(&list);
	for (size_t i = 0; i < sizeof not_guessed / sizeof not_guessed[0]; i++)
		write_setting(d, not_guessed[i], NULL, NULL);
}

/* Rows that are no records. */
static void
write_drops(const struct draft *d, const struct export *in)
{
	struct bytes pattern = { NULL, 0, 0 }, from = { NULL, 0, 0 };
	char note[100];

	if (d->blank > 0)
		write_rule(d, "drop?", NULL, NULL, "^$", "blank lines");
	guess_from(&d->guess, in, 0, &from);
	if (d->headers > 0) {
		guess_exactly(in->names[0], &pattern);
		write_rule(d, "drop?", NULL, from.p, pattern.p, "the header once more");
	}
	if (d->last_first.n > 0) {
		guess_exactly(d->last_first, &pattern);
		write_rule(
		    d, "drop?", NULL, from.p, pattern.p, "the last row is mostly empty: a total?");
	}
	bytes_free(&pattern);
	bytes_free(&from);
	if (d->lonely > 0) {
		snprintf(note, sizeof note,
		    "%" PRIu64 " row%s with one cell alone, the first on line %" PRIu64
		    ": headings? see the rule section",
		    d->lonely, d->lonely == 1 ? "" : "s", d->lonely_line);
		write_remark(d, note);
	}
	if (d->odd_line > 0) {
		snprintf(note, sizeof note,
		    "rows of another shape, the first on line %" PRIu64 ": see ragged and drop",
		    d->odd_line);
		write_remark(d, note);
	}
}

/* The one date form that fits, to b; false if there is none, or more than one. */
static bool
propose_form(const struct look *look, char form[40])
{
	size_t n = 0, which = 0;

	for (size_t i = 0; i < LOOK_FORMS; i++)
		if (look->alive[i] && n++ == 0)
			which = i;
	look_form(which, form);
	return n == 1;
}

static void
write_note(const struct draft *d, const struct look *look, const char *more, struct bytes *b)
{
	bytes_add_format(b,
	    "%" PRIu64 " cells: %" PRIu64 " numbers, %" PRIu64 " dates, %" PRIu64 " empty;",
	    look->cells, numbers(d, look), look->dates, look->empty);
	for (size_t i = 0; i < look->nsamples; i++) {
		bytes_add_text(b, " '");
		bytes_add_field(b, look->sample[i]);
		bytes_add_text(b, "'");
	}
	if (more != NULL)
		bytes_add_format(b, "; %s", more);
	bytes_add(b, "", 1);
}

/* A column of numbers: whole or not, its unit, and whether they may be times. */
static const char *
propose_number(const struct draft *d, const struct look *look, const struct unit *told,
    const char *rule[MAP_COLS])
{
	uint64_t full = look->cells - look->empty - marks(d, look);
	const char *form = counted_form(d, look);

	if (form != NULL) {
		rule[MAP_HOLDS] = "date";
		rule[MAP_FORM] = form;
		return "numbers that may be times";
	}
	rule[MAP_HOLDS] =
	    look->wholes >= full && look->units == 0 && told == NULL ? "whole" : "number";
	rule[MAP_UNIT] = look->units > 0 ? "cell" : told != NULL ? told->name : "";
	return NULL;
}

/* A column of dates: its form, and what a person has to decide. */
static const char *
propose_date(
    const struct draft *d, const struct look *look, char form[40], const char *rule[MAP_COLS])
{
	bool one = propose_form(look, form);

	rule[MAP_HOLDS] = "date";
	rule[MAP_FORM] = one ? form : "";
	if (!one)
		return "day and month order is open";
	return strchr(form, 'h') != NULL && strchr(form, 'Z') == NULL && d->map->zone.n == 0
		   ? "no zone: write it into unit"
		   : NULL;
}

static void
write_column(const struct draft *d, const struct export *in, size_t column)
{
	const struct look *look = &d->looks[column];
	struct bytes name = { NULL, 0, 0 }, from = { NULL, 0, 0 }, text = { NULL, 0, 0 };
	bool number = is_number(d, look);
	const struct unit *told = look->below;
	const char *rule[MAP_COLS] = { [MAP_RULE] = "column?", [MAP_HOLDS] = "text" }, *more = NULL;
	char form[40];

	if (told == NULL)
		told = look->in_cell;
	if (told == NULL && number)
		told = unit_told(in->names[column], NULL);
	if (number)
		more = propose_number(d, look, told, rule);
	else if (is_date(d, look))
		more = propose_date(d, look, form, rule);
	else if (numbers(d, look) + look->dates > 0 && look->others + look->nmarks > 0)
		more = "neither all numbers nor all dates";
	guess_name(
	    &d->guess, in, column, number && told != NULL ? unit_for_columns(told) : NULL, &name);
	guess_from(&d->guess, in, column, &from);
	write_note(d, look, more, &text);
	rule[MAP_NAME] = name.p;
	rule[MAP_FROM] = from.p;
	rule[MAP_NOTE] = text.p;
	write_columns(d, rule);
	bytes_free(&name);
	bytes_free(&from);
	bytes_free(&text);
}

static void
write_map(struct draft *d, const struct export *in)
{
	choose_style(d);
	for (int i = 0; i < MAP_COLS; i++)
		writer_text(d->out, map_cols[i].name);
	writer_end_row(d->out);
	write_settings(d);
	for (const struct guess_label *l = d->guess.labels; l < d->guess.labels + d->guess.nlabels;
	     l++)
		write_rule(d, "above?", l->name, l->label, NULL, l->value);
	write_drops(d, in);
	for (size_t i = 0; i < d->ncols; i++)
		write_column(d, in, i);
	write_remark(d,
	    "A draft cannot see: whether an empty cell means the value above it (fill), columns "
	    "that are records side by side (wide), rows that belong together (key, side), which "
	    "words mean pass and fail (words), units that stand nowhere.");
}

int
draft_write(struct export *in, const struct map *given, struct writer *out, struct err *err)
{
	struct map fallback;
	struct draft d = { .map = given, .out = out };

	map_begin(&fallback);
	if (given == NULL)
		d.map = &fallback;
	guess_begin(&d.guess, d.map, lines_start(&in->in));
	looker_begin(&d.looker, d.map->months);
	if (export_begin(in, &d.guess.dialect, &d.guess.wanted) == 0) {
		guess_headings(&d.guess, in);
		d.ncols = in->ncols;
		d.looks = mem_zeroed(d.ncols + 1, sizeof *d.looks);
		for (size_t i = 0; i < d.ncols; i++)
			look_begin(&d.looks[i]);
		look_at_rows(&d, in);
	}
	if (!err_is_set(err))
		write_map(&d, in);
	guess_free(&d.guess);
	looker_free(&d.looker);
	free(d.looks);
	map_free(&fallback);
	return err_is_set(err) ? -1 : 0;
}
