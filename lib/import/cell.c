#include "import/stages.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/num.h"
#include "base/when.h"

bool
cell_cut(struct pattern *pattern, struct field *text, struct bytes *room)
{
	struct field part[PATTERN_GROUPS] = { { NULL, 0 } };
	size_t groups = pattern_groups(pattern);

	if (!pattern_matches(pattern, *text, groups > 0 ? part : NULL))
		return false;
	if (groups == 0)
		return true;
	room->n = 0;
	for (size_t i = 0; i < groups; i++) {
		if (room->n > 0 && part[i].n > 0)
			bytes_add(room, " ", 1);
		bytes_add_field(room, part[i]);
	}
	*text = room->n > 0 ? bytes_field(room) : (struct field){ "", 0 };
	return true;
}

/* Our word for a text, if the column has one. */
static inline bool
translate(const struct map_column *c, struct field *text)
{
	for (size_t i = 0; i < c->words.n; i++)
		if (field_same(c->words.v[i].from, *text)) {
			*text = c->words.v[i].to;
			return true;
		}
	return false;
}

/* --- numbers --------------------------------------------------------------------------------- */

/* The unit behind a number, cut off the text; or NULL with *why set. */
static const struct unit *
cut_unit(const struct cell_maker *m, struct field *text, const struct unit *to, const char **why)
{
	size_t n = decimal_span(*text, &m->map->style), gap = n;
	const struct unit *unit;

	while (gap < text->n && text->p[gap] == ' ')
		gap++;
	if (field_starts(field_behind(*text, gap), "\xc2\xa0"))
		gap += 2;
	unit = unit_in_cell(field_behind(*text, gap));
	if (n == 0)
		*why = "no number";
	else if (gap == text->n)
		*why = "no unit behind the number";
	else if (unit == NULL)
		*why = "unit that is not known";
	else if (unit->kind != to->kind)
		*why = "unit of another kind than the column's";
	else
		*why = NULL;
	text->n = n;
	return *why == NULL ? unit : NULL;
}

/* The mark of a bound at the start of a text, "<" and so on, and the blanks behind it: how many bytes. */
static size_t
bound_at(struct field text)
{
	static const char *const marks[] = { "<=", ">=", "<", ">", "\xe2\x89\xa4", "\xe2\x89\xa5" };

	for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++)
		if (field_starts(text, marks[i])) {
			size_t n = strlen(marks[i]);

			while (n < text.n && text.p[n] == ' ')
				n++;
			return n;
		}
	return 0;
}

/* "2:05" as seconds, by the column's clock. NULL, or why not. */
static const char *
read_clock(struct cell_maker *m, const struct map_column *c, struct field text)
{
	bool seconds = c->clock[strlen(c->clock) - 1] == 's';
	int parts = strlen(c->clock) == 7 ? 3 : 2, given = 0;
	int64_t total = 0, part;
	char number[32];

	while (text.p != NULL) {
		struct field f = field_cut(&text, ':');

		given++;
		if (f.n == 0 || f.n > 9 || !num_is_digit(*f.p) || num_whole(f, &part) != 0 ||
		    (given > 1 && (f.n != 2 || part > 59)))
			return "not a duration of the map's unit";
		total = total * 60 + part;
	}
	if (given != parts)
		return "not a duration of the map's unit";
	total *= seconds ? 1 : 60;
	snprintf(number, sizeof number, "%" PRId64, total);
	return decimal_read(field_of(number), &m->map->style, &m->decimal);
}

static const char *
make_number(struct cell_maker *m, const struct map_column *c, struct field text, struct bytes *line)
{
	const struct unit *unit = c->unit;
	bool whole = c->holds == MAP_WHOLE;
	const char *why;
	size_t bound;

	bound = m->map->bounds != 'r' ? bound_at(text) : 0;
	text = field_behind(text, bound);
	if (c->to != NULL && unit == NULL) {
		unit = cut_unit(m, &text, c->to, &why);
		if (why != NULL)
			return why;
	}
	why = c->clock != NULL ? read_clock(m, c, text)
			       : decimal_read(text, &m->map->style, &m->decimal);
	if (why != NULL)
		return why;
	if (bound > 0 && m->map->bounds == 'u')
		return NULL;
	if (unit != NULL)
		unit_convert(&m->decimal, unit, c->to);
	if (whole && !decimal_to_whole(&m->decimal))
		return "not a whole number";
	decimal_write(&m->decimal, line);
	return NULL;
}

/* --- fibres and colours ---------------------------------------------------------------------- */

/* The place of a colour in an order; 0: it has none. */
static int64_t
colour_place(const struct colour_order *order, struct field text)
{
	return order != NULL ? (int64_t)colour_find(order, text) : 0;
}

/* A number, or the colour that stands for it, from 1 to `most`; the map's words come first. */
static bool
number_of(const struct map_column *c, const struct colour_order *order, struct field text,
    int64_t most, int64_t *n)
{
	if (text.n > 0)
		translate(c, &text);
	if (num_whole(text, n) != 0)
		*n = colour_place(order, text);
	return *n >= 1 && *n <= most;
}

/* The blank between tube and fibre: the last one. */
static struct field
cut_tube(struct field *fibre)
{
	struct field tube = *fibre;

	while (tube.n > 0 && tube.p[tube.n - 1] != ' ')
		tube.n--;
	*fibre = field_behind(*fibre, tube.n);
	while (tube.n > 0 && tube.p[tube.n - 1] == ' ')
		tube.n--;
	return tube;
}

static const char *
make_fibre(struct cell_maker *m, const struct map_column *c, struct field text, struct bytes *line)
{
	struct field fibre = text, tube = cut_tube(&fibre);
	int64_t t, f;

	if (tube.n == 0)
		return "not a tube and a fibre";
	if (!number_of(c, c->tubes, tube, 100000, &t))
		return c->tubes != NULL ? "tube is neither a number nor a colour of its order"
					: "tube is not a whole number from 1 to 100000";
	if (!number_of(c, c->fibres, fibre, c->tube_size, &f)) {
		snprintf(m->what, sizeof m->what,
		    c->fibres != NULL ? "fibre within the tube is neither 1 to %" PRId64
					" nor a colour of its order"
				      : "fibre within the tube is outside 1 to %" PRId64,
		    c->tube_size);
		return m->what;
	}
	bytes_add_format(line, "%" PRId64, (t - 1) * c->tube_size + f);
	return NULL;
}

/* --- times ----------------------------------------------------------------------------------- */

/*
 * A time of a night whose date stands there once: a step back by more than half a day is midnight. A
 * shorter one is no order of a night's work.
 */
static const char *
pass_midnights(struct cell_night *night, int at[DATE_UNITS])
{
	enum { HALF_DAY_S = 12 * 60 * 60 };
	int64_t second = at[DATE_HOUR] * 3600 + at[DATE_MINUTE] * 60 + at[DATE_SECOND];
	int64_t day = when_day(at[DATE_YEAR], at[DATE_MONTH], at[DATE_DAY]),
		back = night->second - second;

	if (!night->begun || night->day != day)
		*night = (struct cell_night){ .begun = true, .day = day, .second = second };
	else if (back > 0 && back <= HALF_DAY_S)
		return "time before that of the row above";
	else
		night->midnights += back > HALF_DAY_S;
	night->second = second;
	when_date(day + night->midnights, &at[DATE_YEAR], &at[DATE_MONTH], &at[DATE_DAY]);
	return at[DATE_YEAR] > 9999 ? "beyond the year 9999" : NULL;
}

static const char *
make_date(struct cell_maker *m, const struct map_column *c, struct field text, struct bytes *line)
{
	struct date date;
	const char *why = date_form_read(&c->form, text, &c->style, &date);

	if (why == NULL && c->holds == MAP_NIGHT)
		why = pass_midnights(&m->nights[c - m->map->columns.v], date.at);
	if (why == NULL)
		date_form_write(&c->form, &date, line);
	return why;
}

void
cell_begin_export(struct cell_maker *m)
{
	size_t n = m->map->columns.n;

	if (m->nights == NULL)
		m->nights = mem_zeroed(n + 1, sizeof *m->nights);
	memset(m->nights, 0, n * sizeof *m->nights);
}

/* --------------------------------------------------------------------------------------------- */

const char *
cell_make(struct cell_maker *m, const struct map_column *c, struct field text, struct bytes *line)
{
	int64_t place;

	if (c->pattern != NULL && !cell_cut(c->pattern, &text, &m->cut))
		return "does not match the map's pattern";
	if (c->holds != MAP_FIBRE && c->words.n > 0 && text.n > 0 && !translate(c, &text) &&
	    c->holds == MAP_WORD)
		return "none of the map's words";
	if (text.n == 0)
		return NULL;
	switch (c->holds) {
	case MAP_NUMBER:
	case MAP_WHOLE:
		return make_number(m, c, text, line);
	case MAP_DATE:
	case MAP_NIGHT:
		return make_date(m, c, text, line);
	case MAP_FIBRE:
		return make_fibre(m, c, text, line);
	case MAP_COLOUR:
		place = colour_place(c->fibres, text);
		if (place == 0)
			return "no colour of the order";
		bytes_add_format(line, "%" PRId64, place);
		return NULL;
	case MAP_TEXT:
	case MAP_WORD:
		break;
	}
	bytes_add_field(line, text);
	return NULL;
}

void
cell_free(struct cell_maker *m)
{
	bytes_free(&m->cut);
	decimal_free(&m->decimal);
	free(m->nights);
}
