#include "import/plan.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/num.h"
#include "base/spelling.h"
#include "import/stages.h"

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
missing(struct plans *ps, const struct export *in, struct field wanted)
{
	size_t n = in->ncols, best = spelling_best(wanted, in->names, n);
	char shown[ERR_SHOWN], near[ERR_SHOWN];
	struct bytes list = { NULL, 0, 0 };

	show_name(shown, wanted);
	for (size_t i = 0; i < n && i < 12; i++)
		add_name(&list, in, i);
	bytes_add(&list, "", 1);
	if (in->header_line == 0)
		err_set(ps->err,
		    "%s: no column '%s': there is no header: write #1 to #%zu in the map",
		    in->in.name, shown, n);
	else if (n == 1 && (best == SIZE_MAX || holds_delimiter(in->names[0])))
		err_set(ps->err,
		    "%s:%" PRIu64 ": no column '%s': there is only%s: see the map's settings "
		    "'delimiter' and 'skip'",
		    in->in.name, in->header_line, shown, list.p);
	else if (best != SIZE_MAX)
		err_set(ps->err, "%s:%" PRIu64 ": no column '%s': is it '%s'?", in->in.name,
		    in->header_line, shown, show_name(near, in->names[best]));
	else
		err_set(ps->err,
		    "%s:%" PRIu64 ": no column '%s': there are%s%s; lines before the header? see "
		    "the map's setting 'skip'",
		    in->in.name, in->header_line, shown, list.p, n > 12 ? " ..." : "");
	bytes_free(&list);
	return -1;
}

/* --- finding columns ------------------------------------------------------------------------- */

size_t
plan_extra(const struct map *m, enum plan_extra what)
{
	size_t n = 0;

	for (int i = 0; i < (int)what; i++)
		n += i < PLAN_LINE ? m->rules[i].n : 1;
	return n;
}

/* What the map itself calls so, as one of the cells behind the export's own; or SIZE_MAX. */
static size_t
find_extra(const struct map *m, struct field name)
{
	static const char *const own[] = { "#line", "#file", "#group" };

	for (int what = PLAN_ABOVE; what < PLAN_LINE; what++) {
		int i = map_find(&m->rules[what], name);

		if (i >= 0)
			return plan_extra(m, what) + (size_t)i;
	}
	for (size_t k = 0; k < sizeof own / sizeof own[0]; k++)
		if (field_is(name, own[k]))
			return plan_extra(m, PLAN_LINE) + k;
	return SIZE_MAX;
}

/* COLUMN of an option NAME=COLUMN for this name, or the name itself. */
static struct field
renamed(const struct plans *ps, struct field name, bool *given)
{
	*given = false;
	for (size_t i = 0; ps->renames != NULL && i < ps->renames->n; i++)
		if (field_same(ps->renames->v[i].name, name)) {
			*given = true;
			return ps->renames->v[i].value;
		}
	return name;
}

/* The export's column of this name, to *at. 0, or -1 with err set: there are two. */
static int
find_name(struct plans *ps, const struct export *in, struct field name, int *at)
{
	char shown[ERR_SHOWN];

	for (size_t i = 0; i < in->ncols; i++) {
		if (!field_same(in->names[i], name) || name.n == 0)
			continue;
		if (*at != PLAN_NOWHERE)
			return err_set(ps->err,
			    "%s:%" PRIu64
			    ": columns %d and %zu are both called '%s': write #%d or #%zu in "
			    "the map",
			    in->in.name, in->header_line, *at + 1, i + 1, show_name(shown, name),
			    *at + 1, i + 1);
		*at = (int)i;
	}
	return 0;
}

/* The cell that a source of the map is, to *at. 0, or -1 with err set unless it may lack. */
static int
find(struct plans *ps, struct plan *plan, const struct map_source *source, int *at)
{
	const struct export *in = plan->in;
	struct field name = source->name;
	size_t extra = find_extra(ps->map, name);
	char shown[ERR_SHOWN];
	uint64_t position, last;
	bool given, may_lack;

	*at = PLAN_NOWHERE;
	if (name.n == 0)
		return 0;
	if (extra != SIZE_MAX) {
		*at = (int)(plan->ncols + extra);
		plan->extended = true;
		return 0;
	}
	name = renamed(ps, name, &given);
	may_lack = source->may_lack && !given;
	if (map_position(name, &position, &last) && last == 0 && in->wanted.n == 0) {
		if (position <= in->ncols)
			*at = (int)(position - 1);
		else if (!may_lack)
			return err_set(ps->err, "%s: no column %s: there are %zu", in->in.name,
			    err_show(shown, name.p, name.n), in->ncols);
	} else if (find_name(ps, in, name, at) != 0) {
		return -1;
	}
	if (*at >= 0)
		plan->used[*at] = true;
	return *at == PLAN_NOWHERE && !may_lack ? missing(ps, in, name) : 0;
}

/* --- what stands above the header ------------------------------------------------------------ */

/* The next cell of a line, without blanks and quotes around it; loop while rest->p is not NULL. */
static struct field
next_cell(struct field *rest, char delimiter)
{
	struct field f = cells_trimmed(field_cut(rest, delimiter));

	if (f.n > 1 && *f.p == '"' && f.p[f.n - 1] == '"')
		f = cells_trimmed((struct field){ f.p + 1, f.n - 2 });
	return f;
}

/* The value behind a label in a line: in its cell behind a colon, or in the next cell with anything. */
static bool
behind_label(struct field line, char delimiter, struct field label, struct field *value)
{
	while (line.p != NULL) {
		struct field f = next_cell(&line, delimiter);

		if (!field_begins(f, label))
			continue;
		f = field_behind(f, label.n);
		if (f.n > 0 && *f.p != ':')
			continue;
		if (f.n > 0)
			f = cells_trimmed(field_behind(f, 1));
		while (f.n == 0 && line.p != NULL)
			f = next_cell(&line, delimiter);
		*value = f;
		return true;
	}
	return false;
}

/* "#2", a line, or "#2.3", a cell of it */
static bool
at_place(const struct export *in, struct field place, char delimiter, struct field *value)
{
	struct field cell = place, line = field_cut(&cell, '.');
	uint64_t n, last;
	int64_t wanted = 0;

	if (!map_position(line, &n, &last) || last > 0 || n > in->nskipped ||
	    (cell.p != NULL && (num_whole(cell, &wanted) != 0 || wanted < 1)))
		return false;
	*value = cells_trimmed(in->skipped[n - 1]);
	if (cell.p == NULL)
		return true;
	for (line = in->skipped[n - 1]; line.p != NULL && wanted > 0; wanted--)
		*value = next_cell(&line, delimiter);
	return wanted == 0;
}

static int
find_above(struct plans *ps, struct plan *plan, const struct map_rule *rule, struct field *value)
{
	const struct export *in = plan->in;
	char delimiter = ps->map->dialect.delimiter, shown[ERR_SHOWN];
	size_t found = 0;

	*value = (struct field){ "", 0 };
	err_show(shown, rule->source.p, rule->source.n);
	if (*rule->source.p == '#')
		found = at_place(in, rule->source, delimiter, value);
	else
		for (size_t i = 0; i < in->nskipped; i++)
			found += behind_label(in->skipped[i], delimiter, rule->source, value);
	if (found > 1)
		return err_set(
		    ps->err, "%s: '%s' stands above the header more than once", in->in.name, shown);
	if (found == 0 && rule->need != MAP_ABSENT)
		return err_set(ps->err, "%s: nothing above the header at '%s'", in->in.name, shown);
	ps->name.n = 0;
	if (value->n > 0 && rule->pattern != NULL && !cell_cut(rule->pattern, value, &ps->name))
		return err_set(ps->err,
		    "%s: '%s' above the header does not match the map's pattern: '%.*s'",
		    in->in.name, shown, value->n < 60 ? (int)value->n : 60, value->p);
	if (value->n == 0 && rule->need == MAP_MUST)
		return err_set(
		    ps->err, "%s: '%s' above the header is empty, but needed", in->in.name, shown);
	*value = region_keep(&ps->text, *value);
	return 0;
}

/* --- sources --------------------------------------------------------------------------------- */

/* A header that tells another unit than the map: trouble if the map tells none, else a note. */
static int
check_unit(struct plans *ps, struct plan *plan, const struct map_column *c, int at)
{
	const struct unit *to = c->to != NULL ? c->to : unit_of_column(c->name), *told;
	const struct unit *usual = c->unit != NULL ? c->unit : to;
	char shown[ERR_SHOWN];

	if (to == NULL || at < 0 || (size_t)at >= plan->ncols ||
	    (c->to != NULL && c->unit == NULL) || (c->holds != MAP_NUMBER && c->holds != MAP_WHOLE))
		return 0;
	told = unit_told(plan->in->names[at], usual);
	if (told == NULL || told == usual || c->clock != NULL)
		return 0;
	show_name(shown, plan->in->names[at]);
	if (c->unit == NULL)
		return err_set(ps->err,
		    "%s:%" PRIu64
		    ": column '%s' says %s, and the map makes %.*s of it without a unit: write "
		    "what it is into 'unit'",
		    plan->in->in.name, plan->in->header_line, shown, told->name,
		    c->name.n < 60 ? (int)c->name.n : 60, c->name.p);
	bytes_add_format(&plan->notes, "%scolumn '%s' says %s, the map %s",
	    plan->notes.n > 0 ? "; " : "", shown, told->name, c->unit->name);
	return 0;
}

/* Where every cell that the map reads stands. */
static int
find_sources(struct plans *ps, struct plan *plan)
{
	const struct map *map = ps->map;
	const struct map_rules *aboves = &map->rules[MAP_ABOVE];

	plan->at = mem_zeroed(map->sources.n + 1, sizeof *plan->at);
	for (size_t i = 0; i < map->sources.n; i++)
		if (find(ps, plan, &map->sources.v[i], &plan->at[i]) != 0)
			return -1;
	for (size_t c = 0; c < map->columns.n; c++)
		for (size_t i = 0; i < map->columns.v[c].nfrom; i++)
			if (check_unit(ps, plan, &map->columns.v[c],
				plan->at[map->columns.v[c].from + i]) != 0)
				return -1;
	plan->above = mem_zeroed(aboves->n + 1, sizeof *plan->above);
	for (size_t i = 0; i < aboves->n; i++)
		if (find_above(ps, plan, &aboves->v[i], &plan->above[i]) != 0)
			return -1;
	plan->extended |= map->rules[MAP_BLOCK].n > 0 || map->rules[MAP_WIDE].n > 0;
	return 0;
}

/* The rule that names the rest of the columns, or NULL. */
static const struct map_rule *
rest_rule(const struct map *map)
{
	for (size_t i = 0; i < map->rules[MAP_OTHER].n; i++)
		if (field_is(map->rules[MAP_OTHER].v[i].source, "*"))
			return &map->rules[MAP_OTHER].v[i];
	return NULL;
}

/* Which columns go along and which are not wanted; those that no rule names are trouble. */
static int
find_others(struct plans *ps, struct plan *plan, const struct map_rule **carry)
{
	const struct map_rules *others = &ps->map->rules[MAP_OTHER];
	const struct map_rule *rest = rest_rule(ps->map);
	struct bytes list = { NULL, 0, 0 };

	for (size_t i = 0; i < others->n; i++) {
		const struct map_rule *o = &others->v[i];
		int at = plan->at[o->from];

		if (at >= (int)plan->ncols)
			return err_set(ps->err,
			    "%s:%" PRIu64 ": ignore and carry are for the export's columns",
			    ps->map->path, o->line);
		if (at >= 0 && o->carry)
			carry[at] = o;
	}
	for (size_t i = 0; i < plan->ncols; i++)
		if (!plan->used[i] && rest != NULL && rest->carry)
			carry[i] = rest;
		else if (!plan->used[i])
			add_name(&list, plan->in, i);
	if (list.n > 0 && rest == NULL)
		err_set(ps->err,
		    "%s:%" PRIu64
		    ": columns that no rule of the map names:%.*s: say ignore or carry",
		    plan->in->in.name, plan->in->header_line, (int)list.n, list.p);
	else if (list.n > 0)
		bytes_add_format(&plan->notes, "%scolumns ignored:%.*s",
		    plan->notes.n > 0 ? "; " : "", (int)list.n, list.p);
	bytes_free(&list);
	return err_is_set(ps->err) ? -1 : 0;
}

/* --- carried columns ------------------------------------------------------------------------- */

/* What a carried column is called, until the next is asked for. */
static struct field
carried_name(struct plans *ps, const struct plan *plan, const struct map_rule *o, size_t column)
{
	struct field name = plan->in->names[column];

	ps->name.n = 0;
	bytes_add_field(&ps->name, o->name);
	if (name.n > 0)
		bytes_add_field(&ps->name, name);
	else
		bytes_add_format(&ps->name, "%zu", column + 1);
	return bytes_field(&ps->name);
}

/*
 * Where a carried column stands in the table; the first export says which there are. -1 with err set:
 * there is one of the name, or the first export lacks it.
 */
static int
place_carried(struct plans *ps, struct plan *plan, struct field name, size_t column)
{
	const char *file = plan->in->in.name;
	bool fresh = ps->n == 1;
	size_t id = fresh ? ids_add(&ps->made, &name, 1, &fresh) : ids_find_one(&ps->made, name);
	char shown[ERR_SHOWN];

	if (ps->n > 1 && (id == SIZE_MAX || id < ps->map->columns.n))
		return err_set(ps->err, "%s: a carried column that %s lacks: '%s'", file,
		    ps->v[0].in->in.name, show_name(shown, name));
	if (ps->n > 1)
		fresh = plan->carried[id - ps->map->columns.n] == SIZE_MAX;
	if (!fresh)
		return err_set(ps->err,
		    "%s: carried column would be made twice: '%s': give it a prefix", file,
		    show_name(shown, name));
	plan->carried[id - ps->map->columns.n] = column;
	plan->ncarried++;
	return 0;
}

static int
find_carried(struct plans *ps, struct plan *plan)
{
	const struct map_rule **carry = mem_zeroed(plan->ncols, sizeof(const struct map_rule *));
	int status = find_others(ps, plan, carry);
	size_t most = plan->ncols + ps->made.n;

	plan->carried = mem_zeroed(most, sizeof *plan->carried);
	memset(plan->carried, 0xff, most * sizeof *plan->carried);
	for (size_t c = 0; ps->n == 1 && c < ps->map->columns.n; c++)
		ids_add(&ps->made, &ps->map->columns.v[c].name, 1, NULL);
	for (size_t i = 0; i < plan->ncols && status == 0; i++)
		if (carry[i] != NULL)
			status = place_carried(ps, plan, carried_name(ps, plan, carry[i], i), i);
	free(carry);
	if (status == 0 && plan->ncarried + ps->map->columns.n < ps->made.n)
		return err_set(ps->err, "%s: lacks a carried column that %s has", plan->in->in.name,
		    ps->v[0].in->in.name);
	return status;
}

/* --- the plan -------------------------------------------------------------------------------- */

static struct plan_step *
add_step(struct plan *plan)
{
	plan->steps =
	    mem_grow(plan->steps, &plan->cap_steps, plan->nsteps + 1, sizeof *plan->steps);
	return &plan->steps[plan->nsteps++];
}

static void
add_copy(struct plan *plan, size_t column)
{
	struct plan_step *last = plan->nsteps > 0 ? &plan->steps[plan->nsteps - 1] : NULL;

	if (last != NULL && last->n > 0 && last->first + last->n == column)
		last->n++;
	else
		*add_step(plan) = (struct plan_step){ .first = column, .n = 1 };
}

static bool
is_plain_number(const struct map_column *c, const int *from)
{
	return (c->holds == MAP_NUMBER || c->holds == MAP_WHOLE) && c->nfrom == 1 && *from >= 0 &&
	       c->pattern == NULL && c->words.n == 0 && c->to == c->unit && c->clock == NULL;
}

static void
make_steps(struct plans *ps, struct plan *plan)
{
	const struct map *map = ps->map;
	const int *at = plan->at;

	if (map->rules[MAP_KEY].n > 0) {
		/* records of several rows are made of their sources, one after the other */
		if (ps->in_order == NULL)
			ps->in_order = mem_zeroed(map->sources.n, sizeof *ps->in_order);
		for (size_t i = 0; i < map->sources.n; i++)
			ps->in_order[i] = (int)i;
		at = ps->in_order;
	}
	for (size_t i = 0; i < map->columns.n; i++) {
		const struct map_column *c = &map->columns.v[i];
		const int *from = at + c->from;

		if (c->holds == MAP_TEXT && c->nfrom == 1 && *from >= 0 && c->pattern == NULL &&
		    c->words.n == 0 && c->instead.n == 0 && c->need != MAP_MUST &&
		    map->unknown.n == 0)
			add_copy(plan, (size_t)*from);
		else
			*add_step(plan) = (struct plan_step){
				.column = c, .from = from, .number = is_plain_number(c, from)
			};
	}
	for (size_t i = 0; i < plan->ncarried; i++)
		add_copy(plan, plan->carried[i]);
}

/* A rename must name a column that the map reads. */
static int
check_renames(struct plans *ps)
{
	char shown[ERR_SHOWN];

	for (size_t i = 0; ps->renames != NULL && i < ps->renames->n; i++) {
		struct field name = ps->renames->v[i].name;
		size_t k = 0;

		while (k < ps->map->sources.n && !field_same(ps->map->sources.v[k].name, name))
			k++;
		if (k == ps->map->sources.n)
			return err_set(ps->err, "--column: no column the map reads: '%s'",
			    err_show(shown, name.p, name.n));
	}
	return 0;
}

/* One more name that a layout without a header looks for. */
static void
want(struct plans *ps, struct field name)
{
	struct wanted *w = &ps->wanted;
	bool given;

	if (name.n == 0 || find_extra(ps->map, name) != SIZE_MAX)
		return;
	name = renamed(ps, name, &given);
	for (size_t i = 0; i < w->n; i++)
		if (field_same(w->names[i], name))
			return;
	w->names[w->n++] = name;
}

static int
find_wanted(struct plans *ps)
{
	const struct map *map = ps->map;
	struct wanted *w = &ps->wanted;
	char shown[ERR_SHOWN];

	if (map->dialect.layout == LAYOUT_CELLS || ps->n > 1)
		return 0;
	w->names = mem_zeroed(map->sources.n + 1, sizeof *w->names);
	w->places = mem_zeroed(map->sources.n + 1, sizeof *w->places);
	w->others = rest_rule(map) != NULL;
	for (size_t i = 0; i < map->sources.n; i++)
		want(ps, map->sources.v[i].name);
	for (size_t i = 0; map->dialect.layout == LAYOUT_FIXED && i < w->n; i++)
		if (!map_position(w->names[i], &w->places[i].first, &w->places[i].last) ||
		    w->places[i].last == 0)
			return err_set(ps->err, "%s: layout fixed: not a place as #9-14: '%s'",
			    map->path, show_name(shown, w->names[i]));
	return 0;
}

int
plans_add(struct plans *ps, struct export *in)
{
	struct plan *plan;

	ps->v = mem_grow(ps->v, &ps->cap, ps->n + 1, sizeof *ps->v);
	plan = &ps->v[ps->n++];
	*plan = (struct plan){ .in = in };
	if (check_renames(ps) != 0 || find_wanted(ps) != 0 ||
	    export_begin(in, &ps->map->dialect, &ps->wanted) != 0)
		return -1;
	plan->ncols = in->ncols;
	plan->used = mem_zeroed(plan->ncols + 1, sizeof *plan->used);
	if (find_sources(ps, plan) != 0 || find_carried(ps, plan) != 0)
		return -1;
	make_steps(ps, plan);
	return 0;
}

/* A name that no record had is a misspelt one, in a layout without a header. */
int
plans_check_seen(struct plans *ps, size_t i)
{
	const struct plan *plan = &ps->v[i];
	char shown[ERR_SHOWN];

	for (size_t c = 0; plan->in->wanted.n > 0 && c < ps->map->columns.n; c++)
		for (size_t k = 0; k < ps->map->columns.v[c].nfrom; k++) {
			int at = plan->at[ps->map->columns.v[c].from + k];

			if (at >= 0 && (size_t)at < plan->ncols && !plan->in->wanted.seen[at] &&
			    ps->map->columns.v[c].need != MAP_ABSENT)
				return err_set(ps->err, "%s: no record has '%s': is it absent?",
				    plan->in->in.name, show_name(shown, plan->in->names[at]));
		}
	return 0;
}

void
plans_free(struct plans *ps)
{
	for (size_t i = 0; i < ps->n; i++) {
		struct plan *plan = &ps->v[i];

		free(plan->at);
		free(plan->above);
		free(plan->used);
		free(plan->carried);
		free(plan->steps);
		bytes_free(&plan->notes);
	}
	free(ps->v);
	free(ps->in_order);
	ids_free(&ps->made);
	free(ps->wanted.names);
	free(ps->wanted.places);
	region_free(&ps->text);
	bytes_free(&ps->name);
}
