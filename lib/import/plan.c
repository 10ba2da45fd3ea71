#include "import/plan.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/spelling.h"
#include "base/num.h"

/* --- messages -------------------------------------------------------------------------------- */

/* A name for a message: what hides in print, odd blanks and marks without width, as \xNN. */
static const char *
show_name(char dst[ERR_SHOWN], struct field name)
{
	size_t k = 0;

	for (size_t i = 0; i < name.n && i < 58; i++) {
		struct field rest = { name.p + i, name.n - i };
		size_t hidden = 0;

		if (rest.n > 2 && (field_starts(rest, "\xe2\x80") || field_starts(rest, BYTES_BOM)))
			hidden = 3;
		else if (rest.n > 1 &&
			 (field_starts(rest, "\xc2\xa0") || *rest.p == '\xcc' || *rest.p == '\xcd'))
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
add_name(struct bytes *b, const struct export *in, size_t column)
{
	char shown[ERR_SHOWN];
	struct field name = in->names[column];

	if (name.n > 0)
		bytes_add_format(b, " '%s'", show_name(shown, name));
	else
		bytes_add_format(b, " #%zu", column + 1);
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
missing(struct import_plans *ps, const struct export *in, struct field wanted)
{
	size_t n = in->ncols, best;
	struct field *names = mem_zeroed(n, sizeof *names);
	char shown[ERR_SHOWN], near[ERR_SHOWN];
	unsigned long long line = in->header_line;
	struct bytes list = { NULL, 0, 0 };

	for (size_t i = 0; i < n; i++)
		names[i] = in->names[i];
	best = spelling_best(wanted, names, n);
	show_name(shown, wanted);
	for (size_t i = 0; i < n && i < 12; i++)
		add_name(&list, in, i);
	bytes_add(&list, "", 1);
	if (line == 0)
		err_set(ps->err,
		    "%s: no column '%s': there is no header: write #1 to #%zu in the map",
		    in->in.name, shown, n);
	else if (n == 1 && (best == SIZE_MAX || holds_delimiter(names[0])))
		err_set(ps->err,
		    "%s:%llu: no column '%s': there is only%s: see the map's settings "
		    "'delimiter' and 'skip'",
		    in->in.name, line, shown, list.p);
	else if (best != SIZE_MAX)
		err_set(ps->err, "%s:%llu: no column '%s': is it '%s'?", in->in.name, line, shown,
		    show_name(near, names[best]));
	else
		err_set(ps->err,
		    "%s:%llu: no column '%s': there are%s%s; lines before the header? see "
		    "the map's setting 'skip'",
		    in->in.name, line, shown, list.p, n > 12 ? " ..." : "");
	bytes_free(&list);
	free(names);
	return -1;
}

/* --- finding columns ------------------------------------------------------------------------- */

/* "#3" */
static bool
is_position(struct field name, int64_t *n)
{
	return name.n > 1 && *name.p == '#' && num_is_digit(name.p[1]) &&
	       num_whole((struct field){ name.p + 1, name.n - 1 }, n) == 0;
}

/* The export's column that the map calls so, to *at. 0, or -1 with err set unless it may lack. */
static int
find(struct import_plans *ps, const struct export *in, struct field name, bool may_lack, int *at)
{
	char shown[ERR_SHOWN];
	int64_t position;

	*at = IMPORT_NOWHERE;
	for (size_t i = 0; ps->renames != NULL && i < ps->renames->n; i++)
		if (field_same(ps->renames->v[i].name, name)) {
			name = ps->renames->v[i].value;
			may_lack = false;
			break;
		}
	if (field_is(name, "#line") || field_is(name, "#file")) {
		*at = name.p[1] == 'l' ? IMPORT_LINE : IMPORT_FILE;
		return 0;
	}
	if (is_position(name, &position)) {
		if (position >= 1 && (uint64_t)position <= in->ncols)
			*at = (int)(position - 1);
		else if (!may_lack)
			return err_set(ps->err, "%s: no column %s: there are %zu", in->in.name,
			    err_show(shown, name.p, name.n), in->ncols);
		return 0;
	}
	for (size_t i = 0; i < in->ncols; i++) {
		if (!field_same(in->names[i], name) || name.n == 0)
			continue;
		if (*at != IMPORT_NOWHERE)
			return err_set(ps->err,
			    "%s:%llu: columns %d and %zu are both called '%s': write #%d or #%zu in "
			    "the map",
			    in->in.name, (unsigned long long)in->header_line, *at + 1, i + 1,
			    show_name(shown, name), *at + 1, i + 1);
		*at = (int)i;
	}
	return *at == IMPORT_NOWHERE && !may_lack ? missing(ps, in, name) : 0;
}

static int
find_sources(struct import_plans *ps, struct import_plan *plan)
{
	const struct map *map = ps->map;
	size_t n = 0;

	for (size_t c = 0; c < map->ncolumns; c++)
		n += map->columns[c].nfrom;
	plan->from = mem_zeroed(n + 1, sizeof *plan->from);
	n = 0;
	for (size_t c = 0; c < map->ncolumns; c++)
		for (size_t i = 0; i < map->columns[c].nfrom; i++, n++) {
			if (find(ps, plan->in, map->columns[c].from[i],
				map->columns[c].need == MAP_ABSENT, &plan->from[n]) != 0)
				return -1;
			if (plan->from[n] >= 0)
				plan->used[plan->from[n]] = true;
		}
	plan->drop = mem_zeroed(map->ndrops + 1, sizeof *plan->drop);
	for (size_t d = 0; d < map->ndrops; d++) {
		plan->drop[d] = IMPORT_NOWHERE;
		if (map->drops[d].from.n > 0 &&
		    find(ps, plan->in, map->drops[d].from, false, &plan->drop[d]) != 0)
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
find_others(struct import_plans *ps, struct import_plan *plan, const struct map_other **carry)
{
	const struct map_other *rest = rest_rule(ps->map);
	struct bytes list = { NULL, 0, 0 };

	for (size_t i = 0; i < ps->map->nothers; i++) {
		const struct map_other *o = &ps->map->others[i];
		int at;

		if (o == rest)
			continue;
		if (find(ps, plan->in, o->from, !o->carry, &at) != 0)
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
		err_set(ps->err,
		    "%s:%llu: columns that no rule of the map names:%s: say ignore or carry",
		    plan->in->in.name, (unsigned long long)plan->in->header_line, list.p);
	bytes_free(&list);
	return err_is_set(ps->err) ? -1 : 0;
}

/* --- carried columns ------------------------------------------------------------------------- */

static struct field
carried_name(struct import_plans *ps, const struct import_plan *plan, const struct map_other *o,
    size_t column)
{
	struct field name = plan->in->names[column];

	ps->name.n = 0;
	bytes_add_field(&ps->name, o->prefix);
	if (name.n > 0)
		bytes_add_field(&ps->name, name);
	else
		bytes_add_format(&ps->name, "%zu", column + 1);
	return region_keep(&ps->text, bytes_field(&ps->name));
}

static int
doubled(struct import_plans *ps, const struct import_plan *plan, struct field name)
{
	char shown[ERR_SHOWN];

	return err_set(ps->err, "%s: carried column would be made twice: '%s': give it a prefix",
	    plan->in->in.name, show_name(shown, name));
}

/* The first export says which columns are carried and how they are called. */
static int
first_carried(struct import_plans *ps, const struct import_plan *plan, const struct field *names)
{
	ps->carried = mem_zeroed(plan->ncarried + 1, sizeof *ps->carried);
	ps->ncarried = plan->ncarried;
	for (size_t k = 0; k < plan->ncarried; k++) {
		ps->carried[k] = names[k];
		for (size_t c = 0; c < ps->map->ncolumns; c++)
			if (field_same(ps->map->columns[c].name, names[k]))
				return doubled(ps, plan, names[k]);
		for (size_t c = 0; c < k; c++)
			if (field_same(names[c], names[k]))
				return doubled(ps, plan, names[k]);
	}
	return 0;
}

/* Puts the carried columns of a further export into the order of the first. */
static int
order_carried(struct import_plans *ps, struct import_plan *plan, const struct field *names)
{
	size_t *ordered = mem_zeroed(plan->ncarried + 1, sizeof *ordered);
	char shown[ERR_SHOWN];
	bool same = plan->ncarried == ps->ncarried;

	for (size_t k = 0; k < plan->ncarried && same; k++) {
		size_t at = 0;

		while (at < ps->ncarried && !field_same(ps->carried[at], names[k]))
			at++;
		same = at < ps->ncarried;
		if (same)
			ordered[at] = plan->carried[k];
		else
			err_set(ps->err, "%s: a carried column that %s lacks: '%s'",
			    plan->in->in.name, ps->v[0].in->in.name, show_name(shown, names[k]));
	}
	if (!same)
		err_set(ps->err, "%s: lacks a carried column that %s has", plan->in->in.name,
		    ps->v[0].in->in.name);
	free(plan->carried);
	plan->carried = ordered;
	return same ? 0 : -1;
}

static int
find_carried(struct import_plans *ps, struct import_plan *plan)
{
	const struct map_other **carry = mem_zeroed(plan->ncols, sizeof(const struct map_other *));
	struct field *names = mem_zeroed(plan->ncols, sizeof *names);
	int status = find_others(ps, plan, carry);

	plan->carried = mem_zeroed(plan->ncols, sizeof *plan->carried);
	for (size_t i = 0; i < plan->ncols && status == 0; i++)
		if (carry[i] != NULL) {
			names[plan->ncarried] = carried_name(ps, plan, carry[i], i);
			plan->carried[plan->ncarried++] = i;
		}
	if (status == 0)
		status =
		    ps->n == 1 ? first_carried(ps, plan, names) : order_carried(ps, plan, names);
	free(names);
	free(carry);
	return status;
}

/* --- the plan -------------------------------------------------------------------------------- */

static void
add_copy(struct import_plan *plan, size_t column)
{
	struct import_step *last = plan->nsteps > 0 ? &plan->steps[plan->nsteps - 1] : NULL;

	if (last != NULL && last->n > 0 && last->first + last->n == column) {
		last->n++;
		return;
	}
	plan->steps =
	    mem_grow(plan->steps, &plan->cap_steps, plan->nsteps + 1, sizeof *plan->steps);
	plan->steps[plan->nsteps++] = (struct import_step){ .first = column, .n = 1 };
}

static void
make_steps(struct import_plans *ps, struct import_plan *plan)
{
	const int *from = plan->from;

	for (size_t i = 0; i < ps->map->ncolumns; i++) {
		const struct map_column *c = &ps->map->columns[i];

		if (c->holds == MAP_TEXT && c->nfrom == 1 && *from >= 0 && c->pattern == NULL &&
		    c->nwords == 0 && c->instead.n == 0 && c->need != MAP_MUST &&
		    ps->map->unknown.n == 0) {
			add_copy(plan, (size_t)*from);
		} else {
			plan->steps = mem_grow(
			    plan->steps, &plan->cap_steps, plan->nsteps + 1, sizeof *plan->steps);
			plan->steps[plan->nsteps++] =
			    (struct import_step){ .column = c, .from = from };
		}
		from += c->nfrom;
	}
	for (size_t i = 0; i < plan->ncarried; i++)
		add_copy(plan, plan->carried[i]);
}

/* A rename of a column that the map does not name would do nothing. */
static int
check_renames(struct import_plans *ps)
{
	const struct map *map = ps->map;

	for (size_t i = 0; ps->renames != NULL && i < ps->renames->n; i++) {
		struct field name = ps->renames->v[i].name;
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
			return err_set(ps->err, "--column: no column the map reads: '%s'",
			    err_show(shown, name.p, name.n));
	}
	return 0;
}

int
import_plans_add(struct import_plans *ps, struct export *in)
{
	struct import_plan *plan;

	ps->v = mem_grow(ps->v, &ps->cap, ps->n + 1, sizeof *ps->v);
	plan = &ps->v[ps->n++];
	*plan = (struct import_plan){ .in = in, .ncols = in->ncols };
	plan->used = mem_zeroed(plan->ncols, sizeof *plan->used);
	if (check_renames(ps) != 0 || find_sources(ps, plan) != 0 || find_carried(ps, plan) != 0)
		return -1;
	make_steps(ps, plan);
	return 0;
}

void
import_plans_unnamed(const struct import_plans *ps, size_t i, struct bytes *b)
{
	const struct map_other *rest = rest_rule(ps->map);
	const struct import_plan *plan = &ps->v[i];

	for (size_t c = 0; c < plan->ncols; c++)
		if (!plan->used[c] && rest != NULL && !rest->carry)
			add_name(b, plan->in, c);
}

void
import_plans_free(struct import_plans *ps)
{
	for (size_t i = 0; i < ps->n; i++) {
		free(ps->v[i].from);
		free(ps->v[i].drop);
		free(ps->v[i].used);
		free(ps->v[i].carried);
		free(ps->v[i].steps);
	}
	free(ps->v);
	free(ps->carried);
	region_free(&ps->text);
	bytes_free(&ps->name);
}
