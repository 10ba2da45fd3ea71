#include "table/import.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/near.h"
#include "base/num.h"

/* in the place of a column's index */
enum { NOWHERE = -1, LINE_NUMBER = -2, FILE_NAME = -3 };

/* a stretch of the row to make: plain copies of neighbouring cells, or one column to be made */
struct step {
	size_t first, n;                 /* the export's columns to copy; n 0: */
	const struct map_column *column; /* to be made from */
	const int *from;
};

/* what one export has to give */
struct plan {
	struct csvin *in;
	size_t ncols;
	int *from; /* for each source of each of the map's columns, one after the other */
	int *drop; /* for each of its drops */
	bool *used;
	size_t *carried;
	size_t ncarried;
	struct step *steps;
	size_t nsteps, cap_steps;
};

struct import {
	const struct map *map;
	const struct opt_pairs *renames;
	struct err *err;
	struct plan *plans;
	size_t nplans, cap_plans;
	struct field *carried; /* the names of the first export's, with prefix */
	size_t ncarried;
	struct field *unknown;
	size_t nunknown, cap_unknown;
	struct region text;

	struct bytes line, joined, cut, string;
	struct decimal decimal;
	struct field *filled; /* cells of a row that had too few */
	size_t cap_filled;
	uint64_t replaced, nfilled, ncut, *dropped;
	char what[CSVIN_FAULT];
};

struct import *
import_new(const struct map *map, const struct opt_pairs *renames, struct err *err)
{
	struct import *im = mem_zeroed(1, sizeof *im);
	struct field rest = map->unknown;

	im->map = map;
	im->renames = renames;
	im->err = err;
	im->dropped = mem_zeroed(map->ndrops + 1, sizeof *im->dropped);
	while (rest.n > 0) {
		im->unknown =
		    mem_grow(im->unknown, &im->cap_unknown, im->nunknown + 1, sizeof *im->unknown);
		im->unknown[im->nunknown++] = field_cut(&rest, ';');
	}
	return im;
}

/* --- finding columns ------------------------------------------------------------------------- */

/* A name for a message: what hides in print, odd blanks and marks without width, as \xNN. */
static const char *
show_name(char dst[ERR_SHOWN], struct field name)
{
	size_t k = 0;

	for (size_t i = 0; i < name.n && i < 58; i++) {
		size_t left = name.n - i, hidden = 0;

		if (left > 2 && (memcmp(name.p + i, "\xe2\x80", 2) == 0 ||
				    memcmp(name.p + i, "\xef\xbb\xbf", 3) == 0))
			hidden = 3;
		else if (left > 1 && (memcmp(name.p + i, "\xc2\xa0", 2) == 0 ||
					 name.p[i] == '\xcc' || name.p[i] == '\xcd'))
			hidden = 2; /* the last two begin combining marks */
		if (hidden == 0) {
			dst[k++] = (unsigned char)name.p[i] < ' ' ? '?' : name.p[i];
			continue;
		}
		for (size_t h = 0; h < hidden; h++)
			k += (size_t)snprintf(
			    dst + k, 5, "\\x%02x", (unsigned)(unsigned char)name.p[i + h]);
		i += hidden - 1;
	}
	dst[k] = '\0';
	return dst;
}

static void
add_name(struct bytes *b, const struct csvin *in, size_t column)
{
	char shown[ERR_SHOWN];
	struct field name = csvin_name(in, column);

	if (name.n > 0)
		bytes_add_format(b, " '%s'", show_name(shown, name));
	else
		bytes_add_format(b, " #%zu", column + 1);
}

/* "#3" */
static bool
is_position(struct field name, int64_t *n)
{
	return name.n > 1 && *name.p == '#' && num_is_digit(name.p[1]) &&
	       num_whole((struct field){ name.p + 1, name.n - 1 }, n) == 0;
}

static bool
holds_delimiter(struct field name)
{
	for (size_t i = 0; i < name.n; i++)
		if (memchr(";,| ", name.p[i], 4) != NULL)
			return true;
	return false;
}

static int
missing(struct import *im, const struct csvin *in, struct field wanted)
{
	size_t n = csvin_columns(in), best;
	struct field *names = mem_zeroed(n, sizeof *names);
	char shown[ERR_SHOWN], near[ERR_SHOWN];
	unsigned long long line = csvin_header_line(in);
	struct bytes list = { NULL, 0, 0 };

	for (size_t i = 0; i < n; i++)
		names[i] = csvin_name(in, i);
	best = near_best(wanted, names, n);
	show_name(shown, wanted);
	for (size_t i = 0; i < n && i < 12; i++)
		add_name(&list, in, i);
	bytes_add(&list, "", 1);
	if (line == 0)
		err_set(im->err,
		    "%s: no column '%s': there is no header: write #1 to #%zu in the map",
		    csvin_file(in), shown, n);
	else if (n == 1 && (best == SIZE_MAX || holds_delimiter(names[0])))
		err_set(im->err,
		    "%s:%llu: no column '%s': there is only%s: see the map's settings "
		    "'delimiter' and 'skip'",
		    csvin_file(in), line, shown, list.p);
	else if (best != SIZE_MAX)
		err_set(im->err, "%s:%llu: no column '%s': is it '%s'?", csvin_file(in), line,
		    shown, show_name(near, names[best]));
	else
		err_set(im->err,
		    "%s:%llu: no column '%s': there are%s%s; lines before the header? see "
		    "the map's setting 'skip'",
		    csvin_file(in), line, shown, list.p, n > 12 ? " ..." : "");
	bytes_free(&list);
	free(names);
	return -1;
}

/* The export's column that the map calls so, to *at. 0, or -1 with err set unless it may lack. */
static int
find(struct import *im, const struct csvin *in, struct field name, bool may_lack, int *at)
{
	char shown[ERR_SHOWN];
	int64_t position;

	*at = NOWHERE;
	for (size_t i = 0; im->renames != NULL && i < im->renames->n; i++)
		if (field_same(im->renames->v[i].name, name)) {
			name = im->renames->v[i].value;
			may_lack = false;
			break;
		}
	if (field_is(name, "#line") || field_is(name, "#file")) {
		*at = name.p[1] == 'l' ? LINE_NUMBER : FILE_NAME;
		return 0;
	}
	if (is_position(name, &position)) {
		if (position >= 1 && (uint64_t)position <= csvin_columns(in))
			*at = (int)(position - 1);
		else if (!may_lack)
			return err_set(im->err, "%s: no column %s: there are %zu", csvin_file(in),
			    err_show(shown, name.p, name.n), csvin_columns(in));
		return 0;
	}
	for (size_t i = 0; i < csvin_columns(in); i++) {
		if (!field_same(csvin_name(in, i), name) || name.n == 0)
			continue;
		if (*at != NOWHERE)
			return err_set(im->err,
			    "%s:%llu: columns %d and %zu are both called '%s': write #%d or #%zu in "
			    "the map",
			    csvin_file(in), (unsigned long long)csvin_header_line(in), *at + 1,
			    i + 1, show_name(shown, name), *at + 1, i + 1);
		*at = (int)i;
	}
	return *at == NOWHERE && !may_lack ? missing(im, in, name) : 0;
}

static int
find_sources(struct import *im, struct plan *plan)
{
	const struct map *map = im->map;
	size_t n = 0;

	for (size_t c = 0; c < map->ncolumns; c++)
		n += map->columns[c].nfrom;
	plan->from = mem_zeroed(n + 1, sizeof *plan->from);
	n = 0;
	for (size_t c = 0; c < map->ncolumns; c++)
		for (size_t i = 0; i < map->columns[c].nfrom; i++, n++) {
			if (find(im, plan->in, map->columns[c].from[i],
				map->columns[c].need == MAP_ABSENT, &plan->from[n]) != 0)
				return -1;
			if (plan->from[n] >= 0)
				plan->used[plan->from[n]] = true;
		}
	plan->drop = mem_zeroed(map->ndrops + 1, sizeof *plan->drop);
	for (size_t d = 0; d < map->ndrops; d++) {
		plan->drop[d] = NOWHERE;
		if (map->drops[d].from.n > 0 &&
		    find(im, plan->in, map->drops[d].from, false, &plan->drop[d]) != 0)
			return -1;
	}
	return 0;
}

/* The rule that names the rest of the columns, or NULL. */
static const struct map_other *
rest_rule(const struct map *map)
{
	for (size_t i = 0; i < map->nothers; i++)
		if (field_is(map->others[i].from, "*"))
			return &map->others[i];
	return NULL;
}

/* Which columns go along and which are not wanted; those that no rule names are trouble. */
static int
find_others(struct import *im, struct plan *plan, const struct map_other **carry)
{
	const struct map_other *rest = rest_rule(im->map);
	struct bytes list = { NULL, 0, 0 };

	for (size_t i = 0; i < im->map->nothers; i++) {
		const struct map_other *o = &im->map->others[i];
		int at;

		if (o == rest)
			continue;
		if (find(im, plan->in, o->from, !o->carry, &at) != 0)
			return -1;
		if (at >= 0)
			plan->used[at] = true;
		if (at >= 0 && o->carry)
			carry[at] = o;
	}
	for (size_t i = 0; i < plan->ncols; i++)
		if (!plan->used[i] && rest == NULL)
			add_name(&list, plan->in, i);
		else if (!plan->used[i] && rest->carry)
			carry[i] = rest;
	bytes_add(&list, "", 1);
	if (list.n > 1)
		err_set(im->err,
		    "%s:%llu: columns that no rule of the map names:%s: say ignore or carry",
		    csvin_file(plan->in), (unsigned long long)csvin_header_line(plan->in), list.p);
	bytes_free(&list);
	return err_is_set(im->err) ? -1 : 0;
}

static struct field
carried_name(struct import *im, const struct plan *plan, const struct map_other *o, size_t column)
{
	struct field name = csvin_name(plan->in, column);

	im->joined.n = 0;
	bytes_add_field(&im->joined, o->prefix);
	if (name.n > 0)
		bytes_add_field(&im->joined, name);
	else
		bytes_add_format(&im->joined, "%zu", column + 1);
	return region_keep(&im->text, bytes_field(&im->joined));
}

static int
doubled(struct import *im, const struct plan *plan, struct field name)
{
	char shown[ERR_SHOWN];

	return err_set(im->err, "%s: carried column would be made twice: '%s': give it a prefix",
	    csvin_file(plan->in), show_name(shown, name));
}

/* The first export says which columns are carried and how they are called. */
static int
first_carried(struct import *im, const struct plan *plan, const struct field *names)
{
	im->carried = mem_zeroed(plan->ncarried + 1, sizeof *im->carried);
	im->ncarried = plan->ncarried;
	for (size_t k = 0; k < plan->ncarried; k++) {
		im->carried[k] = names[k];
		for (size_t c = 0; c < im->map->ncolumns; c++)
			if (field_same(im->map->columns[c].name, names[k]))
				return doubled(im, plan, names[k]);
		for (size_t c = 0; c < k; c++)
			if (field_same(names[c], names[k]))
				return doubled(im, plan, names[k]);
	}
	return 0;
}

/* Puts the carried columns of a further export into the order of the first. */
static int
order_carried(struct import *im, struct plan *plan, const struct field *names)
{
	size_t *ordered = mem_zeroed(plan->ncarried + 1, sizeof *ordered);
	char shown[ERR_SHOWN];
	bool same = plan->ncarried == im->ncarried;

	for (size_t k = 0; k < plan->ncarried && same; k++) {
		size_t at = 0;

		while (at < im->ncarried && !field_same(im->carried[at], names[k]))
			at++;
		same = at < im->ncarried;
		if (same)
			ordered[at] = plan->carried[k];
		else
			err_set(im->err, "%s: a carried column that %s lacks: '%s'",
			    csvin_file(plan->in), csvin_file(im->plans[0].in),
			    show_name(shown, names[k]));
	}
	if (!same)
		err_set(im->err, "%s: lacks a carried column that %s has", csvin_file(plan->in),
		    csvin_file(im->plans[0].in));
	free(plan->carried);
	plan->carried = ordered;
	return same ? 0 : -1;
}

static int
find_carried(struct import *im, struct plan *plan)
{
	const struct map_other **carry = mem_zeroed(plan->ncols, sizeof(const struct map_other *));
	struct field *names = mem_zeroed(plan->ncols, sizeof *names);
	int status = find_others(im, plan, carry);

	plan->carried = mem_zeroed(plan->ncols, sizeof *plan->carried);
	for (size_t i = 0; i < plan->ncols && status == 0; i++)
		if (carry[i] != NULL) {
			names[plan->ncarried] = carried_name(im, plan, carry[i], i);
			plan->carried[plan->ncarried++] = i;
		}
	if (status == 0)
		status = im->nplans == 1 ? first_carried(im, plan, names)
					 : order_carried(im, plan, names);
	free(names);
	free(carry);
	return status;
}

/* --- the plan -------------------------------------------------------------------------------- */

static void
add_copy(struct plan *plan, size_t column)
{
	struct step *last = plan->nsteps > 0 ? &plan->steps[plan->nsteps - 1] : NULL;

	if (last != NULL && last->n > 0 && last->first + last->n == column) {
		last->n++;
		return;
	}
	plan->steps =
	    mem_grow(plan->steps, &plan->cap_steps, plan->nsteps + 1, sizeof *plan->steps);
	plan->steps[plan->nsteps++] = (struct step){ .first = column, .n = 1 };
}

static void
make_steps(struct import *im, struct plan *plan)
{
	const int *from = plan->from;

	for (size_t i = 0; i < im->map->ncolumns; i++) {
		const struct map_column *c = &im->map->columns[i];

		if (c->holds == MAP_TEXT && c->nfrom == 1 && *from >= 0 && !c->pattern.set &&
		    c->nwords == 0 && c->instead.n == 0 && c->need != MAP_MUST &&
		    im->nunknown == 0) {
			add_copy(plan, (size_t)*from);
		} else {
			plan->steps = mem_grow(
			    plan->steps, &plan->cap_steps, plan->nsteps + 1, sizeof *plan->steps);
			plan->steps[plan->nsteps++] = (struct step){ .column = c, .from = from };
		}
		from += c->nfrom;
	}
	for (size_t i = 0; i < plan->ncarried; i++)
		add_copy(plan, plan->carried[i]);
}

/* A rename of a column that the map does not name would do nothing. */
static int
check_renames(struct import *im)
{
	const struct map *map = im->map;

	for (size_t i = 0; im->renames != NULL && i < im->renames->n; i++) {
		struct field name = im->renames->v[i].name;
		char shown[ERR_SHOWN];
		bool known = false;

		for (size_t c = 0; c < map->ncolumns; c++)
			for (size_t k = 0; k < map->columns[c].nfrom; k++)
				known |= field_same(map->columns[c].from[k], name);
		for (size_t k = 0; k < map->nothers; k++)
			known |= field_same(map->others[k].from, name);
		for (size_t k = 0; k < map->ndrops; k++)
			known |= field_same(map->drops[k].from, name);
		if (!known)
			return err_set(im->err, "--column: no column the map reads: '%s'",
			    err_show(shown, name.p, name.n));
	}
	return 0;
}

int
import_add(struct import *im, struct csvin *in)
{
	struct plan *plan;

	im->plans = mem_grow(im->plans, &im->cap_plans, im->nplans + 1, sizeof *im->plans);
	plan = &im->plans[im->nplans++];
	*plan = (struct plan){ .in = in, .ncols = csvin_columns(in) };
	plan->used = mem_zeroed(plan->ncols, sizeof *plan->used);
	if (check_renames(im) != 0 || find_sources(im, plan) != 0 || find_carried(im, plan) != 0)
		return -1;
	make_steps(im, plan);
	return 0;
}

void
import_unnamed(const struct import *im, size_t i, struct bytes *b)
{
	const struct map_other *rest = rest_rule(im->map);

	for (size_t c = 0; c < im->plans[i].ncols; c++)
		if (!im->plans[i].used[c] && rest != NULL && !rest->carry)
			add_name(b, im->plans[i].in, c);
}

void
import_header(const struct import *im, struct tout *out)
{
	for (size_t i = 0; i < im->map->ncolumns; i++)
		tout_field(out, im->map->columns[i].name);
	for (size_t i = 0; i < im->ncarried; i++)
		tout_field(out, im->carried[i]);
	tout_end_row(out);
}

/* --- cells ----------------------------------------------------------------------------------- */

static bool
is_unknown(const struct import *im, struct field f)
{
	for (size_t i = 0; i < im->nunknown; i++)
		if (field_same(f, im->unknown[i]))
			return true;
	return f.n == 0;
}

/* The text that the column is made from: its cells, without those not known, joined by blanks. */
static struct field
source_text(struct import *im, const struct plan *plan, const struct step *step,
    const struct csvin_row *row, const struct field *cells)
{
	struct field text = { "", 0 };

	im->joined.n = 0;
	for (size_t i = 0; i < step->column->nfrom; i++) {
		int at = step->from[i];
		struct field f = at >= 0 ? cells[at] : (struct field){ "", 0 };
		char number[24];

		if (at == LINE_NUMBER) {
			int n = snprintf(number, sizeof number, "%" PRIu64, row->line);

			f = (struct field){ number, (size_t)n };
		} else if (at == FILE_NAME) {
			f = field_of(csvin_file(plan->in));
		}
		if (is_unknown(im, f))
			continue;
		if (step->column->nfrom == 1 && at >= 0)
			return f;
		if (im->joined.n > 0)
			bytes_add(&im->joined, " ", 1);
		bytes_add_field(&im->joined, f);
		text = bytes_field(&im->joined);
	}
	return text;
}

static const char *
terminated(struct import *im, struct field f)
{
	im->string.n = 0;
	bytes_add_field(&im->string, f);
	bytes_add(&im->string, "", 1);
	return im->string.p;
}

/* What the pattern cuts out of the text. false: it does not match the whole of it. */
static bool
cut_out(struct import *im, const struct map_pattern *pattern, struct field *text)
{
	regmatch_t m[MAP_GROUPS + 1];
	const char *s = terminated(im, *text);

	if (regexec(&pattern->regex, s, pattern->groups + 1, m, 0) != 0 || m[0].rm_so != 0 ||
	    (size_t)m[0].rm_eo != text->n)
		return false;
	if (pattern->groups == 0)
		return true;
	im->cut.n = 0;
	for (size_t i = 1; i <= pattern->groups; i++) {
		if (m[i].rm_so < 0 || m[i].rm_eo == m[i].rm_so)
			continue;
		if (im->cut.n > 0)
			bytes_add(&im->cut, " ", 1);
		bytes_add(&im->cut, s + m[i].rm_so, (size_t)(m[i].rm_eo - m[i].rm_so));
	}
	*text = im->cut.n > 0 ? bytes_field(&im->cut) : (struct field){ "", 0 };
	return true;
}

/* The unit behind a number, cut off the text; or NULL with *why set. */
static const struct unit *
cut_unit(const struct import *im, struct field *text, const struct unit *to, const char **why)
{
	size_t n = decimal_span(*text, &im->map->style), gap = n;
	const struct unit *unit;

	while (gap < text->n && text->p[gap] == ' ')
		gap++;
	if (gap + 1 < text->n && memcmp(text->p + gap, "\xc2\xa0", 2) == 0)
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
make_number(struct import *im, const struct map_column *c, struct field text)
{
	const struct unit *unit = c->unit;
	bool whole = c->holds == MAP_WHOLE;
	const char *why;
	size_t point;

	if (c->to == NULL && decimal_is_plain(text, im->map->style.point, &point) &&
	    (!whole || point == text.n)) {
		bytes_add_field(&im->line, text);
		if (point < text.n)
			im->line.p[im->line.n - text.n + point] = '.';
		return NULL;
	}
	if (c->to != NULL && unit == NULL) {
		unit = cut_unit(im, &text, c->to, &why);
		if (why != NULL)
			return why;
	}
	why = decimal_read(text, &im->map->style, &im->decimal);
	if (why != NULL)
		return why;
	if (unit != NULL)
		unit_convert(&im->decimal, unit, c->to);
	if (whole && !decimal_to_whole(&im->decimal))
		return "not a whole number";
	decimal_write(&im->decimal, &im->line);
	return NULL;
}

static const char *
make_fibre(struct import *im, const struct map_column *c, struct field text)
{
	struct field fibre = text, tube = field_cut(&fibre, ' ');
	int64_t t, f;

	if (fibre.p == NULL)
		return "not a tube and a fibre";
	if (num_whole(tube, &t) != 0 || t < 1 || t > 100000)
		return "tube is not a whole number from 1 to 100000";
	if (num_whole(fibre, &f) != 0 || f < 1 || f > c->tube_size) {
		snprintf(im->what, sizeof im->what,
		    "fibre within the tube is outside 1 to %" PRId64, c->tube_size);
		return im->what;
	}
	bytes_add_format(&im->line, "%" PRId64, (t - 1) * c->tube_size + f);
	return NULL;
}

static const char *
make_word(struct import *im, const struct map_column *c, struct field text)
{
	for (size_t i = 0; i < c->nwords; i++)
		if (field_same(c->words[i].from, text)) {
			bytes_add_field(&im->line, c->words[i].to);
			return NULL;
		}
	if (c->holds == MAP_WORD)
		return "none of the map's words";
	bytes_add_field(&im->line, text);
	return NULL;
}

static const char *
make_date(struct import *im, const struct map_column *c, struct field text)
{
	const struct map *map = im->map;
	struct field zone = { c->nzone > 0 ? c->zone : map->zone,
		c->nzone > 0 ? c->nzone : map->nzone };

	return form_convert(&c->form, text, zone, map->months, map->style.point, &im->line);
}

/* Appends one column to the line. false with the fault told. */
static bool
make_column(
    struct import *im, const struct map_column *c, struct field text, struct import_fault *fault)
{
	size_t before = im->line.n;
	struct field cell = text;
	const char *why = NULL;

	if (text.n > 0 && c->pattern.set && !cut_out(im, &c->pattern, &text))
		why = "does not match the map's pattern";
	else if (text.n > 0)
		switch (c->holds) {
		case MAP_TEXT:
		case MAP_WORD:
			why = make_word(im, c, text);
			break;
		case MAP_NUMBER:
		case MAP_WHOLE:
			why = make_number(im, c, text);
			break;
		case MAP_DATE:
			why = make_date(im, c, text);
			break;
		case MAP_FIBRE:
			why = make_fibre(im, c, text);
			break;
		}
	if (why == NULL && im->line.n == before) {
		bytes_add_field(&im->line, c->instead);
		if (c->instead.n == 0 && c->need == MAP_MUST) {
			why = "empty, but needed";
			cell.p = NULL;
		}
	}
	if (why != NULL)
		*fault = (struct import_fault){ c->source, why, cell };
	return why == NULL;
}

/* --- rows ------------------------------------------------------------------------------------ */

static void
copy_cells(struct import *im, const struct step *step, const struct field *cells, bool apart)
{
	const struct field *first = cells + step->first, *last = first + step->n - 1;
	size_t n;
	char *to;

	if (apart) {
		/* the byte between two cells becomes a TAB */
		n = (size_t)(last->p + last->n - first->p);
		to = bytes_room(&im->line, n);
		memcpy(to, first->p, n);
		for (const struct field *f = first; f < last; f++)
			to[f->p + f->n - first->p] = '\t';
		im->line.n += n;
		return;
	}
	for (const struct field *f = first; f <= last; f++) {
		if (f > first)
			bytes_add(&im->line, "\t", 1);
		bytes_add_field(&im->line, *f);
	}
}

/* The map's rule that drops this row, or -1; `whole`: only those that look at the whole line. */
static int
dropped_by(struct import *im, const struct plan *plan, const struct csvin_row *row,
    const struct field *cells, bool whole)
{
	for (size_t i = 0; i < im->map->ndrops; i++) {
		int at = plan->drop[i];
		struct field text = whole     ? row->text
				    : at >= 0 ? cells[at]
					      : (struct field){ "", 0 };

		if (whole == (at == NOWHERE) && regexec(&im->map->drops[i].pattern.regex,
						    terminated(im, text), 0, NULL, 0) == 0)
			return (int)i;
	}
	return -1;
}

static bool
all_empty(const struct field *cells, size_t from, size_t to)
{
	while (from < to && cells[from].n == 0)
		from++;
	return from == to;
}

/* A row with too few or too many cells, mended if the map allows it; *cells are then its cells. */
static const char *
wrong_count(struct import *im, const struct plan *plan, const struct csvin_row *row,
    const struct field **cells)
{
	bool spare = row->nf > plan->ncols && all_empty(row->f, plan->ncols, row->nf);

	if (!im->map->mend || (row->nf > plan->ncols && !spare)) {
		snprintf(im->what, sizeof im->what, "%zu cell%s, %zu expected%s", row->nf,
		    row->nf == 1 ? "" : "s", plan->ncols,
		    spare ? ": the extra ones are empty" : "");
		return im->what;
	}
	if (spare)
		return NULL;
	im->filled = mem_grow(im->filled, &im->cap_filled, plan->ncols, sizeof *im->filled);
	for (size_t i = 0; i < plan->ncols; i++)
		im->filled[i] = i < row->nf ? row->f[i] : (struct field){ "", 0 };
	*cells = im->filled;
	return NULL;
}

/* What is wrong with the row as a whole, or NULL; *drop is the rule that drops it, or -1. */
static const char *
look_at_row(struct import *im, const struct plan *plan, const struct csvin_row *row,
    const struct field **cells, int *drop)
{
	const char *why = NULL;

	*drop = -1;
	if (row->fault != NULL)
		return row->fault;
	if (im->map->ndrops > 0)
		*drop = dropped_by(im, plan, row, row->f, true);
	if (*drop >= 0)
		return NULL;
	if (row->blank)
		return "blank line inside the export";
	if (row->nf != plan->ncols)
		why = wrong_count(im, plan, row, cells);
	if (why != NULL)
		return why;
	if (im->map->ndrops > 0)
		*drop = dropped_by(im, plan, row, *cells, false);
	if (*drop >= 0)
		return NULL;
	if ((*cells)[0].n == 0 && all_empty(*cells, 0, plan->ncols))
		return "empty record: all its cells are empty";
	if (csvin_is_header(plan->in, row))
		return "the header line stands here again";
	return NULL;
}

static bool
make_line(struct import *im, const struct plan *plan, const struct csvin_row *row,
    const struct field *cells, struct import_fault *fault)
{
	im->line.n = 0;
	for (const struct step *step = plan->steps; step < plan->steps + plan->nsteps; step++) {
		if (step > plan->steps)
			bytes_add(&im->line, "\t", 1);
		if (step->n > 0)
			copy_cells(im, step, cells, cells == row->f);
		else if (!make_column(
			     im, step->column, source_text(im, plan, step, row, cells), fault))
			return false;
	}
	return true;
}

enum import_result
import_row(struct import *im, size_t i, const struct csvin_row *row, struct import_fault *fault)
{
	const struct plan *plan = &im->plans[i];
	const struct field *cells = row->f;
	const char *why;
	int drop;

	why = look_at_row(im, plan, row, &cells, &drop);
	if (why != NULL) {
		*fault = (struct import_fault){ { NULL, 0 }, why, { NULL, 0 } };
		return IMPORT_WRONG;
	}
	if (drop >= 0) {
		im->dropped[drop]++;
		return IMPORT_DROPPED;
	}
	if (!make_line(im, plan, row, cells, fault))
		return IMPORT_WRONG;
	im->replaced += row->replaced;
	im->nfilled += row->nf < plan->ncols;
	im->ncut += row->nf > plan->ncols;
	return IMPORT_DONE;
}

struct field
import_line(const struct import *im)
{
	return bytes_field(&im->line);
}

void
import_raw(struct field raw, struct bytes *out)
{
	bool utf8 = utf8_fault(raw) == raw.n;

	for (size_t i = 0; i < raw.n; i++) {
		unsigned char c = (unsigned char)raw.p[i];

		if (c < ' ' || c == '\\' || c == 0x7f || (c >= 0x80 && !utf8))
			bytes_add_format(out, "\\x%02x", (unsigned)c);
		else
			bytes_add(out, raw.p + i, 1);
	}
}

struct import_counts
import_counts(const struct import *im)
{
	return (struct import_counts){ im->replaced, im->nfilled, im->ncut, im->dropped };
}

void
import_forget(struct import *im)
{
	im->replaced = im->nfilled = im->ncut = 0;
	memset(im->dropped, 0, im->map->ndrops * sizeof *im->dropped);
}

void
import_free(struct import *im)
{
	if (im == NULL)
		return;
	for (size_t i = 0; i < im->nplans; i++) {
		free(im->plans[i].from);
		free(im->plans[i].drop);
		free(im->plans[i].used);
		free(im->plans[i].carried);
		free(im->plans[i].steps);
	}
	free(im->plans);
	free(im->carried);
	free(im->unknown);
	free(im->filled);
	free(im->dropped);
	region_free(&im->text);
	bytes_free(&im->line);
	bytes_free(&im->joined);
	bytes_free(&im->cut);
	bytes_free(&im->string);
	decimal_free(&im->decimal);
	free(im);
}
