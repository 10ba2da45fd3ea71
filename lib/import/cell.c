#include "import/cell.h"

#include <inttypes.h>
#include <stdio.h>

#include "base/num.h"

/* What the pattern cuts out of the text. false: it does not match the whole of it. */
static bool
cut_out(struct import_cell *m, struct pattern *pattern, struct field *text)
{
	struct field part[PATTERN_GROUPS];
	size_t groups = pattern_groups(pattern);

	if (!pattern_matches(pattern, *text, groups > 0 ? part : NULL))
		return false;
	if (groups == 1)
		*text = part[0].p != NULL ? part[0] : (struct field){ "", 0 };
	if (groups < 2)
		return true;
	m->cut.n = 0;
	for (size_t i = 0; i < groups; i++) {
		if (m->cut.n > 0 && part[i].n > 0)
			bytes_add(&m->cut, " ", 1);
		bytes_add_field(&m->cut, part[i]);
	}
	*text = m->cut.n > 0 ? bytes_field(&m->cut) : (struct field){ "", 0 };
	return true;
}

/* The unit behind a number, cut off the text; or NULL with *why set. */
static const struct unit *
cut_unit(const struct import_cell *m, struct field *text, const struct unit *to, const char **why)
{
	size_t n = decimal_span(*text, &m->map->style), gap = n;
	const struct unit *unit;

	while (gap < text->n && text->p[gap] == ' ')
		gap++;
	if (field_starts((struct field){ text->p + gap, text->n - gap }, "\xc2\xa0"))
		gap += 2;
	unit = unit_in_cell((struct field){ text->p + gap, text->n - gap });
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

static const char *
make_number(
    struct import_cell *m, const struct map_column *c, struct field text, struct bytes *line)
{
	const struct unit *unit = c->unit;
	bool whole = c->holds == MAP_WHOLE;
	const char *why;
	size_t point;

	if (c->to == NULL && decimal_is_plain(text, m->map->style.point, &point) &&
	    (!whole || point == text.n)) {
		bytes_add_field(line, text);
		if (point < text.n)
			line->p[line->n - text.n + point] = '.';
		return NULL;
	}
	if (c->to != NULL && unit == NULL) {
		unit = cut_unit(m, &text, c->to, &why);
		if (why != NULL)
			return why;
	}
	why = decimal_read(text, &m->map->style, &m->decimal);
	if (why != NULL)
		return why;
	if (unit != NULL)
		unit_convert(&m->decimal, unit, c->to);
	if (whole && !decimal_to_whole(&m->decimal))
		return "not a whole number";
	decimal_write(&m->decimal, line);
	return NULL;
}

static const char *
make_fibre(struct import_cell *m, const struct map_column *c, struct field text, struct bytes *line)
{
	struct field fibre = text, tube = field_cut(&fibre, ' ');
	int64_t t, f;

	if (fibre.p == NULL)
		return "not a tube and a fibre";
	if (num_whole(tube, &t) != 0 || t < 1 || t > 100000)
		return "tube is not a whole number from 1 to 100000";
	if (num_whole(fibre, &f) != 0 || f < 1 || f > c->tube_size) {
		snprintf(m->what, sizeof m->what, "fibre within the tube is outside 1 to %" PRId64,
		    c->tube_size);
		return m->what;
	}
	bytes_add_format(line, "%" PRId64, (t - 1) * c->tube_size + f);
	return NULL;
}

static const char *
make_word(const struct map_column *c, struct field text, struct bytes *line)
{
	for (size_t i = 0; i < c->nwords; i++)
		if (field_same(c->words[i].from, text)) {
			bytes_add_field(line, c->words[i].to);
			return NULL;
		}
	if (c->holds == MAP_WORD)
		return "none of the map's words";
	bytes_add_field(line, text);
	return NULL;
}

static const char *
make_date(
    const struct import_cell *m, const struct map_column *c, struct field text, struct bytes *line)
{
	const struct map *map = m->map;
	struct date_style style = { c->zone.n > 0 ? c->zone : map->zone, map->months,
		map->style.point };
	struct date date;
	const char *why = date_form_read(&c->form, text, &style, &date);

	if (why == NULL)
		date_form_write(&c->form, &date, line);
	return why;
}

const char *
import_cell_make(
    struct import_cell *m, const struct map_column *c, struct field text, struct bytes *line)
{
	if (c->pattern != NULL && !cut_out(m, c->pattern, &text))
		return "does not match the map's pattern";
	if (text.n == 0)
		return NULL;
	switch (c->holds) {
	case MAP_NUMBER:
	case MAP_WHOLE:
		return make_number(m, c, text, line);
	case MAP_DATE:
		return make_date(m, c, text, line);
	case MAP_FIBRE:
		return make_fibre(m, c, text, line);
	case MAP_TEXT:
	case MAP_WORD:
		break;
	}
	return make_word(c, text, line);
}

void
import_cell_free(struct import_cell *m)
{
	bytes_free(&m->cut);
	decimal_free(&m->decimal);
}
