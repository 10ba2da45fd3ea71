#include "import/draft.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "import/recode.h"
#include "table/head.h"

/* --- how the export is written --------------------------------------------------------------- */

static const char candidates[] = ";\t,|";

enum { CANDIDATES = sizeof candidates - 1, LINES = 200, COUNTS = 64 };

/* what the first lines say about one delimiter */
struct vote {
	size_t lines[COUNTS]; /* how many hold so many of it */
	size_t first[COUNTS]; /* the first of those */
	size_t best;          /* the count most lines share, but 0; 0: none */
};

static void
count_line(struct vote *votes, struct field line, size_t number)
{
	size_t n[CANDIDATES] = { 0 };
	bool quoted = false;

	for (size_t i = 0; i < line.n; i++) {
		const char *at = line.p[i] != '\0' ? strchr(candidates, line.p[i]) : NULL;

		quoted ^= line.p[i] == '"';
		if (at != NULL && !quoted)
			n[at - candidates]++;
	}
	for (size_t c = 0; c < CANDIDATES; c++) {
		size_t k = n[c] < COUNTS ? n[c] : COUNTS - 1;

		if (votes[c].lines[k]++ == 0)
			votes[c].first[k] = number;
		if (k > 0 &&
		    (votes[c].best == 0 || votes[c].lines[k] > votes[c].lines[votes[c].best]))
			votes[c].best = k;
	}
}

/* The delimiter that most of the first lines hold equally often, and the lines before those. */
static void
propose_delimiter(struct dialect *d, struct field text)
{
	struct vote votes[CANDIDATES] = { { { 0 } } };
	size_t winner = 0, number = 0;

	while (text.p != NULL && number < LINES) {
		struct field line = field_cut(&text, '\n');

		if (text.p != NULL || number == 0)
			count_line(votes, line, number);
		number++;
	}
	for (size_t c = 1; c < CANDIDATES; c++) {
		size_t here = votes[c].best > 0 ? votes[c].lines[votes[c].best] : 0;
		size_t there = votes[winner].best > 0 ? votes[winner].lines[votes[winner].best] : 0;

		if (here > there || (here == there && votes[c].best > votes[winner].best))
			winner = c;
	}
	if (votes[winner].best == 0)
		return;
	d->delimiter = candidates[winner];
	d->skip = votes[winner].first[votes[winner].best];
}

/* The dialect the first bytes look like. *text is room for them in UTF-8, or nearly. */
static void
propose_dialect(struct dialect *d, struct field start, struct bytes *text)
{
	bool wide = head_is_utf16(start);
	size_t fault = utf8_fault(start);

	/* the start may end within a character */
	d->encoding = wide ? "UTF-16" : fault + 3 >= start.n ? "UTF-8" : "WINDOWS-1252";
	for (size_t i = wide ? 2 : 0; i < start.n; i++)
		if (start.p[i] != '\0')
			bytes_add(text, start.p + i, 1);
	propose_delimiter(d, bytes_field(text));
}

/* --- what the cells look like ---------------------------------------------------------------- */

static const char *const dates[] = { "YYYY-MM-DD", "YYYY/MM/DD", "D.M.YYYY", "D/M/YYYY", "M/D/YYYY",
	"D-M-YYYY", "D.M.YY", "D/M/YY", "M/D/YY", "D MON YYYY", "D-MON-YYYY", "D. MON YYYY" };
static const char *const times[] = { "", " h:mm", " h:mm:ss", "Th:mm", "Th:mm:ss", "Th:mm:ssZ",
	" h:mm:ssZ", " h:mm AM", " h:mm:ss AM", " h:mm:ss.f" };

enum {
	DATES = sizeof dates / sizeof dates[0],
	TIMES = sizeof times / sizeof times[0],
	FORMS = DATES * TIMES,
	SAMPLES = 3,
	SAMPLE = 40,
};

struct look {
	uint64_t cells, empty, wholes, points, commas, dates, units;
	bool alive[FORMS]; /* that have fitted every date so far */
	struct field sample[SAMPLES];
	size_t nsamples;
	const struct unit *below; /* the header, in a line of units; NULL: none */
};

struct draft {
	const struct map *map; /* the months, and the style of numbers */
	struct look *looks;
	size_t ncols;
	uint64_t rows, odd;
	bool units_below; /* the first line below the header is one of units */
	struct date_form forms[FORMS];
	struct bytes text;
	struct decimal decimal;
	struct region kept;
};

static void
form_text(size_t i, struct bytes *b)
{
	b->n = 0;
	bytes_add_text(b, dates[i / TIMES]);
	bytes_add_text(b, times[i % TIMES]);
}

static bool
is_date(struct draft *d, struct look *look, struct field f)
{
	struct date_style style = { .months = d->map->months, .point = '.' };
	bool fits[FORMS], any = false;
	struct date date;

	if (f.n > 40)
		return false;
	for (size_t i = 0; i < FORMS; i++) {
		fits[i] = look->alive[i] && date_form_read(&d->forms[i], f, &style, &date) == NULL;
		any |= fits[i];
	}
	if (any)
		memcpy(look->alive, fits, sizeof fits);
	return any;
}

/* a number in one of the two styles, and perhaps a unit behind it */
static bool
is_number(struct draft *d, struct look *look, struct field f, char point)
{
	struct decimal_style style = { point, DECIMAL_NONE };
	size_t n = decimal_span(f, &style), gap = n;

	if (n == 0 || n > 60)
		return false;
	while (gap < f.n && f.p[gap] == ' ')
		gap++;
	if (gap < f.n) {
		if (unit_in_cell((struct field){ f.p + gap, f.n - gap }) == NULL)
			return false;
		look->units++;
	}
	return decimal_read((struct field){ f.p, n }, &style, &d->decimal) == NULL;
}

static void
take_sample(struct draft *d, struct look *look, struct field f)
{
	if (look->nsamples == SAMPLES)
		return;
	if (f.n > SAMPLE)
		for (f.n = SAMPLE; f.n > 0 && (f.p[f.n] & 0xc0) == 0x80;)
			f.n--;
	for (size_t i = 0; i < look->nsamples; i++)
		if (field_same(look->sample[i], f))
			return;
	look->sample[look->nsamples++] = region_keep(&d->kept, f);
}

static void
look_at(struct draft *d, struct look *look, struct field f)
{
	look->cells++;
	if (f.n == 0) {
		look->empty++;
		return;
	}
	take_sample(d, look, f);
	if (is_number(d, look, f, '.'))
		(memchr(f.p, '.', f.n) != NULL ? &look->points : &look->wholes)[0]++;
	else if (is_number(d, look, f, ','))
		look->commas++;
	else
		look->dates += is_date(d, look, f);
}

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
are_units(struct draft *d, const struct record *row)
{
	bool any = false;

	for (size_t i = 0; i < row->n; i++) {
		struct look look = { 0 };

		memset(look.alive, true, sizeof look.alive);
		if (row->f[i].n > 0)
			look_at(d, &look, row->f[i]);
		if (look.wholes + look.points + look.commas + look.dates > 0)
			return false;
		d->looks[i].below = unit_alone(row->f[i]);
		any |= d->looks[i].below != NULL;
	}
	return any;
}

static void
look_at_rows(struct draft *d, struct export *in)
{
	struct record row;

	while (export_next(in, &row)) {
		if (row.fault != NULL || row.blank || row.n != d->ncols ||
		    export_is_header(in, &row)) {
			d->odd++;
			continue;
		}
		if (d->rows == 0 && d->map->dialect.skip_below == 0 && !d->units_below &&
		    are_units(d, &row)) {
			d->units_below = true;
			continue;
		}
		d->rows++;
		for (size_t i = 0; i < d->ncols; i++)
			look_at(d, &d->looks[i], row.f[i]);
	}
}

/* --- the map --------------------------------------------------------------------------------- */

static void
write_rule(struct writer *out, const char *const rule[MAP_COLS])
{
	for (int i = 0; i < MAP_COLS; i++)
		writer_text(out, rule[i] != NULL ? rule[i] : "");
	writer_end_row(out);
}

static void
write_setting(struct writer *out, bool given, const char *name, const char *value, const char *note)
{
	const char *const rule[MAP_COLS] = { [MAP_RULE] = given ? "file" : "file?",
		[MAP_NAME] = name,
		[MAP_FROM] = value,
		[MAP_NOTE] = note };

	write_rule(out, rule);
}

static void
write_count(struct writer *out, bool given, const char *name, uint64_t n)
{
	char text[24];

	snprintf(text, sizeof text, "%" PRIu64, n);
	write_setting(out, given, name, text, "");
}

/* The decimal mark that the columns of numbers show. */
static const char *
decimal_mark(const struct draft *d)
{
	uint64_t points = 0, commas = 0;

	for (size_t i = 0; i < d->ncols; i++) {
		points += d->looks[i].points;
		commas += d->looks[i].commas;
	}
	return commas > points ? "comma" : "point";
}

static const char *
delimiter_name(char delimiter, char own[2])
{
	switch (delimiter) {
	case ',':
		return "comma";
	case ';':
		return "semicolon";
	case '\t':
		return "tab";
	case '|':
		return "bar";
	case ':':
		return "colon";
	case ' ':
		return "blank";
	default:
		own[0] = delimiter;
		return own;
	}
}

static void
write_settings(const struct draft *d, const struct map *given, const struct dialect *dialect,
    struct writer *out)
{
	bool known = given != NULL;
	char own[2] = "", note[80];

	write_setting(
	    out, known, "encoding", dialect->encoding != NULL ? dialect->encoding : "UTF-8", "");
	write_setting(out, known, "delimiter", delimiter_name(dialect->delimiter, own), "");
	write_setting(out, known, "quote",
	    dialect->quote == '"'    ? "double"
	    : dialect->quote == '\'' ? "single"
				     : "none",
	    "");
	write_count(out, known, "skip", dialect->skip);
	if (dialect->skip_below > 0)
		write_count(out, known, "skip_below", dialect->skip_below);
	else if (d->units_below)
		write_setting(out, false, "skip_below", "1", "a line of units");
	if (!dialect->header)
		write_setting(out, known, "header", "no", "");
	if (dialect->trim)
		write_setting(out, known, "trim", "yes", "");
	if (dialect->comment.n > 0) {
		char *comment = mem_zeroed(dialect->comment.n + 1, 1);

		memcpy(comment, dialect->comment.p, dialect->comment.n);
		write_setting(out, known, "comment", comment, "");
		free(comment);
	}
	snprintf(note, sizeof note, "%" PRIu64 " rows of this shape, %" PRIu64 " others", d->rows,
	    d->odd);
	write_setting(out, false, "decimal", decimal_mark(d), note);
}

/*
 * The header's name as the suite would write it: lower-case words joined by _, with the unit as the
 * last.
 */
static void
propose_name(const struct export *in, size_t column, const struct unit *unit, struct bytes *b)
{
	struct field name = in->names[column];

	b->n = 0;
	for (size_t i = 0; i < name.n; i++) {
		char c = name.p[i], low = (char)(c | 0x20);

		if (low >= 'a' && low <= 'z')
			bytes_add(b, &low, 1);
		else if (c >= '0' && c <= '9')
			bytes_add(b, &c, 1);
		else if ((unsigned char)c < 0x80 && b->n > 0 && b->p[b->n - 1] != '_')
			bytes_add(b, "_", 1);
	}
	while (b->n > 0 && b->p[b->n - 1] == '_')
		b->n--;
	if (b->n == 0)
		bytes_add_text(b, "column");
	for (size_t i = 0; i < in->ncols; i++)
		if (i != column && (name.n == 0 || field_same(in->names[i], name))) {
			bytes_add_format(b, "_%zu", column + 1);
			break;
		}
	if (unit != NULL && unit->column != NULL && unit_of_column(bytes_field(b)) == NULL)
		bytes_add_format(b, "_%s", unit->column);
	bytes_add(b, "", 1);
}

/* The header's name if the map can say it so, else the position. */
static void
propose_from(const struct export *in, size_t column, struct bytes *b)
{
	struct field name = in->names[column], rest = name;
	bool good = name.n > 0 && *name.p != '#' && !field_is(name, "*");

	map_next_source(&rest, " + ");
	good &= rest.p == NULL;
	for (size_t i = 0; i < in->ncols; i++)
		good &= i == column || !field_same(in->names[i], name);
	b->n = 0;
	if (good)
		bytes_add_field(b, name);
	else
		bytes_add_format(b, "#%zu", column + 1);
	bytes_add(b, "", 1);
}

/* The one date form that fits, to b; false if there is none, or more than one. */
static bool
propose_form(const struct look *look, struct bytes *b)
{
	size_t n = 0;

	for (size_t i = 0; i < FORMS; i++)
		if (look->alive[i] && n++ == 0)
			form_text(i, b);
	bytes_add(b, "", 1);
	return n == 1;
}

static void
note(const struct look *look, bool open_order, struct bytes *b)
{
	uint64_t numbers = look->wholes + look->points + look->commas;

	b->n = 0;
	bytes_add_format(b,
	    "%" PRIu64 " cells: %" PRIu64 " numbers, %" PRIu64 " dates, %" PRIu64 " empty;",
	    look->cells, numbers, look->dates, look->empty);
	for (size_t i = 0; i < look->nsamples; i++) {
		bytes_add_text(b, " '");
		bytes_add_field(b, look->sample[i]);
		bytes_add_text(b, "'");
	}
	if (open_order)
		bytes_add_text(b, "; day and month order is open");
	bytes_add(b, "", 1);
}

static void
write_column(const struct draft *d, const struct export *in, size_t column, struct writer *out)
{
	const struct look *look = &d->looks[column];
	uint64_t full = look->cells - look->empty,
		 numbers = look->wholes + look->points + look->commas;
	struct bytes name = { NULL, 0, 0 }, from = { NULL, 0, 0 }, form = { NULL, 0, 0 };
	struct bytes text = { NULL, 0, 0 };
	bool date = full > 0 && look->dates == full, number = full > 0 && numbers == full;
	bool one_form = date && propose_form(look, &form);
	const char *rule[MAP_COLS] = { [MAP_RULE] = "column?", [MAP_HOLDS] = "text" };

	propose_name(in, column, number ? look->below : NULL, &name);
	propose_from(in, column, &from);
	note(look, date && !one_form, &text);
	rule[MAP_NAME] = name.p;
	rule[MAP_FROM] = from.p;
	rule[MAP_NOTE] = text.p;
	if (date) {
		rule[MAP_HOLDS] = "date";
		rule[MAP_FORM] = one_form ? form.p : "";
	} else if (number) {
		bool whole = look->wholes == full && look->units == 0 && look->below == NULL;

		rule[MAP_HOLDS] = whole ? "whole" : "number";
		rule[MAP_UNIT] = look->units > 0       ? "cell"
				 : look->below != NULL ? look->below->name
						       : "";
	}
	write_rule(out, rule);
	bytes_free(&name);
	bytes_free(&from);
	bytes_free(&form);
	bytes_free(&text);
}

int
draft_write(struct export *in, const struct map *given, struct writer *out, struct err *err)
{
	struct dialect dialect = DIALECT_USUAL;
	struct map fallback;
	struct draft d = { .map = given };

	map_begin(&fallback);
	if (given != NULL)
		dialect = given->dialect;
	else {
		d.map = &fallback;
		propose_dialect(&dialect, lines_start(&in->in), &d.text);
	}
	for (size_t i = 0; i < FORMS; i++) {
		form_text(i, &d.text);
		date_form_compile(bytes_field(&d.text), &d.forms[i]);
	}
	if (export_begin(in, &dialect, NULL) == 0) {
		d.ncols = in->ncols;
		d.looks = mem_zeroed(d.ncols, sizeof *d.looks);
		for (size_t i = 0; i < d.ncols; i++)
			memset(d.looks[i].alive, true, sizeof d.looks[i].alive);
		look_at_rows(&d, in);
	}
	if (!err_is_set(err)) {
		for (int i = 0; i < MAP_COLS; i++)
			writer_text(out, map_cols[i].name);
		writer_end_row(out);
		write_settings(&d, given, &dialect, out);
		for (size_t i = 0; i < d.ncols; i++)
			write_column(&d, in, i, out);
	}
	free(d.looks);
	bytes_free(&d.text);
	decimal_free(&d.decimal);
	region_free(&d.kept);
	map_free(&fallback);
	return err_is_set(err) ? -1 : 0;
}
