#include "import/guess.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/num.h"
#include "import/recode.h"
#include "table/head.h"

static const char candidates[] = ";\t,|";

enum { COUNTS = 64, WIDEST = 400 };

/* --- the delimiter --------------------------------------------------------------------------- */

/* Counts the delimiters of a line outside quotes, and in *full the cells that are not blank. */
static size_t
count_in(struct field line, char delimiter, size_t *full)
{
	bool quoted = false, any = false;
	size_t n = 0;

	*full = 0;
	for (size_t i = 0; i < line.n; i++) {
		quoted ^= line.p[i] == '"';
		if (line.p[i] == delimiter && !quoted) {
			n++;
			*full += any;
			any = false;
		} else {
			any |= line.p[i] != ' ' && line.p[i] != '\r' && line.p[i] != '"';
		}
	}
	*full += any;
	return n;
}

static void
pass_lines(struct field *text, uint64_t n)
{
	for (; n > 0 && text->p != NULL; n--)
		field_cut(text, '\n');
}

/* Keeps where the first lines are; the last, cut, is left out unless there is no other. */
static void
find_lines(struct guess *g, struct field text)
{
	while (text.p != NULL && g->nlines < GUESS_LINES) {
		struct field line = field_cut(&text, '\n');

		if (text.p != NULL || (g->nlines == 0 && line.n > 0))
			g->lines[g->nlines++] = line;
	}
}

/* The delimiter that most of the first lines hold equally often, to *delimiter. How often; 0: none. */
static size_t
vote_delimiter(const struct guess *g, char *delimiter)
{
	size_t most = 0, count = 0, full;

	*delimiter = candidates[0];
	for (const char *c = candidates; *c != '\0'; c++) {
		/* how many lines hold so many of it, and which number most of them share, but 0 */
		size_t lines[COUNTS] = { 0 }, best = 0;

		for (size_t n = 0; n < g->nlines; n++) {
			size_t k = count_in(g->lines[n], *c, &full);

			k = k < COUNTS ? k : COUNTS - 1;
			lines[k]++;
			if (k > 0 && (best == 0 || lines[k] > lines[best]))
				best = k;
		}
		if (best > 0 && (lines[best] > most || (lines[best] == most && best > count))) {
			most = lines[best];
			count = best;
			*delimiter = *c;
		}
	}
	return count;
}

/*
 * How many lines stand before the header: the first line with as many delimiters as most, which has
 * at least two thirds as many cells with content as the fullest line. A title line has only one.
 */
static uint64_t
lines_before(const struct guess *g, char delimiter, size_t count)
{
	size_t full, fullest = 0;

	for (size_t n = 0; n < g->nlines; n++)
		if (count_in(g->lines[n], delimiter, &full) == count && full > fullest)
			fullest = full;
	for (size_t n = 0; n < g->nlines; n++)
		if (count_in(g->lines[n], delimiter, &full) == count && full * 3 >= fullest * 2)
			return n;
	return 0;
}

/* One more name that records have; false: it was there before. */
static bool
want(struct guess *g, struct field name)
{
	bool fresh;

	ids_add(&g->found, &name, 1, &fresh);
	g->wanted.names = g->found.keys;
	g->wanted.n = g->found.n;
	return fresh;
}

/* --- fixed places ---------------------------------------------------------------------------- */

/* Marks the columns of letters that are not blank in some line. Returns the number of lines. */
static size_t
used_places(const struct guess *g, bool used[WIDEST])
{
	size_t lines = 0;

	for (size_t n = 0; n < g->nlines; n++) {
		struct field line = g->lines[n];
		size_t at = 0, letter = 0;
		uint32_t value;

		if (line.n > 0 && line.p[line.n - 1] == '\r')
			line.n--;
		lines += line.n > 0;
		for (; at < line.n && letter < WIDEST; letter++) {
			used[letter] |= line.p[at] != ' ';
			at += pattern_letter(field_behind(line, at), &value);
		}
	}
	return lines;
}

/* Finds columns that are separated by blanks in all lines. false: there are none. */
static bool
find_places(struct guess *g)
{
	bool used[WIDEST + 1] = { false };
	size_t lines = used_places(g, used), n = 0;
	struct wanted *w = &g->wanted;

	for (size_t i = 0; i < WIDEST; i++)
		n += used[i] && !used[i + 1];
	if (lines < 3 || n < 2)
		return false;
	w->places = mem_zeroed(n, sizeof *w->places);
	for (size_t i = 0, first = 0; i < WIDEST; i++) {
		char place[32];

		if (!used[i] || used[i + 1])
			continue;
		w->places[w->n] = (struct place){ first + 1, i + 1 };
		snprintf(place, sizeof place, "#%zu-%zu", first + 1, i + 1);
		want(g, field_of(place));
		for (first = i + 1; first < WIDEST && !used[first];)
			first++;
	}
	return true;
}

/* true if a line looks like a header: it has no digit */
static bool
without_digits(struct field line)
{
	for (size_t i = 0; i < line.n; i++)
		if (num_is_digit(line.p[i]))
			return false;
	return line.n > 0;
}

/* --- names in the records themselves --------------------------------------------------------- */

/* The string in quotes at the start of *text, taken. */
static struct field
take_quoted(struct field *text)
{
	size_t n = 1;

	while (n < text->n && text->p[n] != '"')
		n += text->p[n] == '\\' ? 2 : 1;
	n = n < text->n ? n : text->n - 1;
	*text = field_behind(*text, n);
	return (struct field){ text->p - n + 1, n > 0 ? n - 1 : 0 };
}

/* The names of objects, a line each: what is in quotes before a colon. */
static bool
find_members(struct guess *g)
{
	if (g->nlines == 0 || !field_starts(g->lines[0], "{"))
		return false;
	for (size_t n = 0; n < g->nlines; n++)
		for (struct field line = g->lines[n]; line.n > 0;) {
			struct field name = { NULL, 0 };

			if (*line.p == '"')
				name = take_quoted(&line);
			line = field_behind(line, 1);
			while (name.p != NULL && line.n > 0 && *line.p == ' ')
				line = field_behind(line, 1);
			if (name.p != NULL && line.n > 0 && *line.p == ':')
				want(g, name);
		}
	return g->wanted.n > 0;
}

/* The labels of blocks: most lines have one, and some come again. */
static bool
find_block_labels(struct guess *g)
{
	size_t lines = 0, labels = 0;
	bool again = false;

	for (size_t n = 0; n < g->nlines; n++) {
		struct field rest = g->lines[n], label = cells_trimmed(field_cut(&rest, ':'));

		if (named_is_border(g->lines[n]))
			continue;
		lines++;
		if (rest.p == NULL || label.n == 0 || label.n > 40 || num_is_digit(*label.p))
			continue;
		labels++;
		again |= !want(g, label);
	}
	if (again && labels * 10 >= lines * 8)
		return true;
	ids_free(&g->found);
	g->wanted.n = 0;
	return false;
}

/* --- labels above the header ----------------------------------------------------------------- */

static void
lower_words(struct field name, struct bytes *b)
{
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
}

/* A text kept in UTF-8; that of UTF-16 was made ASCII before. */
static const char *
keep_text(struct guess *g, struct field text)
{
	const char *encoding = g->dialect.encoding, *kept, *why;
	struct recode *r =
	    field_starts(field_of(encoding), "UTF-") ? NULL : recode_open(encoding, &why);
	struct bytes b = { NULL, 0, 0 };

	if (r == NULL)
		return region_string(&g->kept, text);
	recode_line(r, text, &b);
	recode_close(r);
	kept = region_string(&g->kept, bytes_field(&b));
	bytes_free(&b);
	return kept;
}

/* "Date: 2026-03-12", or "Date" and the value in the next cell: one label a line above the header. */
static void
find_labels(struct guess *g, struct field text, uint64_t skip)
{
	struct bytes name = { NULL, 0, 0 };
	struct field line;

	for (uint64_t n = 0; n < skip && text.p != NULL && g->nlabels < GUESS_LABELS; n++) {
		struct field label, value;

		line = field_cut(&text, '\n');
		label = cells_trimmed(field_cut(&line, g->dialect.delimiter));
		value = line.p != NULL ? cells_trimmed(field_cut(&line, g->dialect.delimiter))
				       : (struct field){ "", 0 };
		for (size_t i = 0; i < label.n; i++)
			if (label.p[i] == ':') {
				if (i + 1 < label.n)
					value = cells_trimmed(
					    (struct field){ label.p + i + 1, label.n - i - 1 });
				label.n = i;
			}
		while (value.n > 0 && value.p[value.n - 1] == '\r')
			value.n--;
		if (label.n == 0 || value.n == 0 || *label.p == '#' ||
		    memchr(value.p, '\t', value.n) != NULL ||
		    memchr(label.p, '\t', label.n) != NULL)
			continue;
		lower_words(label, &name);
		if (name.n == 0)
			continue;
		g->labels[g->nlabels++] = (struct guess_label){ keep_text(g, label),
			region_string(&g->kept, bytes_field(&name)), keep_text(g, value) };
	}
	bytes_free(&name);
}

/* --- the whole ------------------------------------------------------------------------------- */

void
guess_begin(struct guess *g, const struct map *map, struct field start)
{
	struct dialect *d = &g->dialect;
	bool wide = head_is_utf16(start);
	size_t fault = utf8_fault(start), count = 0;
	struct field text;

	*g = (struct guess){ .dialect = map->dialect, .found = IDS_NONE, .names = IDS_NONE };
	if (field_starts(start, BYTES_BOM))
		start = field_behind(start, 3);
	/* the start may end within a character */
	if (!map_given(map, "encoding"))
		d->encoding = wide ? "UTF-16" : fault + 3 >= start.n ? "UTF-8" : "WINDOWS-1252";
	for (size_t i = wide ? 2 : 0; i < start.n; i++)
		if (start.p[i] != '\0')
			bytes_add(&g->text, start.p + i, 1);
	text = bytes_field(&g->text);
	if (map_given(map, "skip"))
		pass_lines(&text, d->skip);
	find_lines(g, text);
	if ((d->layout == LAYOUT_JSON || !map_given(map, "layout")) && find_members(g))
		d->layout = LAYOUT_JSON;
	if (d->layout == LAYOUT_JSON)
		return;
	if (d->layout == LAYOUT_CELLS)
		count = map_given(map, "delimiter") ? 1 : vote_delimiter(g, &d->delimiter);
	if (count == 0 && d->layout != LAYOUT_FIXED && find_block_labels(g)) {
		d->layout = LAYOUT_LABELS;
		d->delimiter = ':';
	}
	if (d->layout == LAYOUT_LABELS)
		return;
	if (count == 0 && find_places(g)) {
		d->layout = LAYOUT_FIXED;
		if (!map_given(map, "skip"))
			d->skip = without_digits(g->lines[0]);
		return;
	}
	if (count == 0)
		d->delimiter = ',';
	else if (!map_given(map, "skip") && !map_given(map, "delimiter"))
		d->skip = lines_before(g, d->delimiter, count);
	find_labels(g, bytes_field(&g->text), d->skip);
}

void
guess_headings(struct guess *g, const struct export *in)
{
	struct field line = bytes_field(&g->text);

	g->first = mem_zeroed(in->ncols + 1, sizeof *g->first);
	for (size_t i = 0; i < in->ncols; i++) {
		bool fresh;
		size_t id = ids_add(&g->names, &in->names[i], 1, &fresh);

		g->first[id] = fresh && in->names[i].n > 0 ? i : SIZE_MAX;
	}
	if (g->dialect.layout != LAYOUT_FIXED || g->dialect.skip == 0)
		return;
	pass_lines(&line, g->dialect.skip - 1);
	line = field_cut(&line, '\n');
	g->headings = mem_zeroed(in->ncols + 1, sizeof *g->headings);
	for (size_t i = 0; i < in->ncols; i++) {
		size_t first = g->wanted.places[i].first - 1, last = g->wanted.places[i].last;

		/* counted in bytes: a header with longer letters gives a name that is slightly wrong */
		if (first < line.n)
			g->headings[i] = cells_trimmed((struct field){
			    line.p + first, (last < line.n ? last : line.n) - first });
	}
}

void
guess_name(const struct guess *g, const struct export *in, size_t column, const struct unit *unit,
    struct bytes *b)
{
	size_t id = ids_find_one(&g->names, in->names[column]);
	bool above = g->headings != NULL && g->headings[column].n > 0;

	lower_words(above ? g->headings[column] : in->names[column], b);
	if (b->n == 0)
		bytes_add_text(b, "column");
	if (g->first[id] == SIZE_MAX)
		bytes_add_format(b, "_%zu", column + 1);
	if (unit != NULL && unit->column != NULL) {
		/* a unit at the end that no column ends in is replaced: "l_mdb" becomes "l_db" */
		const struct unit *told = NULL;
		size_t at = b->n;

		while (at > 0 && b->p[at - 1] != '_')
			at--;
		told = unit_in_cell(field_behind(bytes_field(b), at));
		if (told != NULL && told->column == NULL && at > 1)
			b->n = at - 1;
		if (unit_of_column(bytes_field(b)) == NULL)
			bytes_add_format(b, "_%s", unit->column);
	}
	bytes_add(b, "", 1);
}

void
guess_from(const struct guess *g, const struct export *in, size_t column, struct bytes *b)
{
	struct field name = in->names[column], rest = name;
	bool good = name.n > 0 && (*name.p != '#' || in->wanted.n > 0) && !field_is(name, "*") &&
		    g->first[ids_find_one(&g->names, name)] != SIZE_MAX;

	map_next_source(&rest, " + ");
	b->n = 0;
	if (good && rest.p == NULL)
		bytes_add_field(b, name);
	else
		bytes_add_format(b, "#%zu", column + 1);
	bytes_add(b, "", 1);
}

void
guess_exactly(struct field text, struct bytes *b)
{
	b->n = 0;
	bytes_add_text(b, "^");
	for (size_t i = 0; i < text.n; i++) {
		bytes_add(
		    b, "\\", strchr(".[]()*+?{}|^$\\", text.p[i]) != NULL && text.p[i] != '\0');
		bytes_add(b, text.p + i, 1);
	}
	bytes_add_text(b, "$");
	bytes_add(b, "", 1);
}

void
guess_free(struct guess *g)
{
	bytes_free(&g->text);
	region_free(&g->kept);
	ids_free(&g->found);
	free(g->wanted.places);
	free(g->headings);
	free(g->first);
	ids_free(&g->names);
}
