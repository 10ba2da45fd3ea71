#include "import/stages.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

/* The one side whose pattern matches; or -1, with *why set. */
static int
side_of(const struct map *map, const struct plan *plan, const struct field *cells, const char **why)
{
	int side = -1;

	for (size_t i = 0; i < map->rules[MAP_SIDE].n; i++) {
		if (!pattern_matches(map->rules[MAP_SIDE].v[i].pattern,
			cells[plan->at[map->rules[MAP_SIDE].v[i].from]], NULL))
			continue;
		if (side >= 0) {
			*why = "two of the map's sides match";
			return -1;
		}
		side = (int)i;
	}
	*why = "none of the map's sides";
	return side;
}

static struct side_row *
keep_row(
    struct sides *s, const struct plan *plan, const struct record *r, const struct field *cells)
{
	struct side_row *row = region_get(&s->text, sizeof *row);

	*row = (struct side_row){ .file = plan->in->in.name,
		.line = r->line,
		.raw = region_keep(&s->text, export_raw(plan->in)) };
	row->cells = region_get(&s->text, (s->map->sources.n + 1) * sizeof *row->cells);
	for (size_t i = 0; i < s->map->sources.n; i++)
		row->cells[i] = plan->at[i] >= 0 ? region_keep(&s->text, cells[plan->at[i]])
						 : (struct field){ "", 0 };
	return row;
}

const char *
sides_add(
    struct sides *s, const struct plan *plan, const struct record *r, const struct field *cells)
{
	const struct map_rules *keys = &s->map->rules[MAP_KEY];
	size_t nkeys = 0, known = s->keys.n, i;
	struct side_row *row, **end;
	const char *why;
	int side = side_of(s->map, plan, cells, &why);
	bool any = false;

	if (side < 0)
		return why;
	if (s->key == NULL)
		s->key = mem_zeroed(s->map->sources.n, sizeof *s->key);
	for (size_t k = 0; k < keys->n; k++)
		for (size_t c = 0; c < keys->v[k].nfrom; c++) {
			s->key[nkeys] = cells[plan->at[keys->v[k].from + c]];
			any |= s->key[nkeys++].n > 0;
		}
	if (!any)
		return "nothing in its key";
	i = ids_add(&s->keys, s->key, nkeys, NULL);
	if (i == known) {
		s->first = mem_grow(s->first, &s->cap, i + 1, sizeof(struct side_row *));
		s->first[i] = NULL;
	}
	for (end = &s->first[i]; *end != NULL; end = &(*end)->next)
		if ((*end)->side == side) {
			snprintf(s->what, sizeof s->what,
			    "a second row of this key and side; the first is line %" PRIu64
			    " of %.60s",
			    (*end)->line, (*end)->file);
			return s->what;
		}
	row = keep_row(s, plan, r, cells);
	row->side = side;
	*end = row;
	return NULL;
}

const char *
sides_join(struct sides *s, size_t i, const struct field **cells, struct field *column)
{
	const struct map *map = s->map;

	if (s->made == NULL)
		s->made = mem_zeroed(map->sources.n + 1, sizeof *s->made);
	for (size_t c = 0; c < map->columns.n; c++)
		for (size_t k = 0; k < map->columns.v[c].nfrom; k++) {
			size_t n = map->columns.v[c].from + k;
			const struct map_source *source = &map->sources.v[n];
			bool of_row =
			    field_is(source->name, "#line") || field_is(source->name, "#file");

			s->made[n] = (struct field){ "", 0 };
			for (const struct side_row *row = s->first[i]; row != NULL;
			     row = row->next) {
				if (row->cells[n].n == 0 ||
				    (source->side >= 0 && row->side != source->side))
					continue;
				if (s->made[n].n == 0) {
					s->made[n] = row->cells[n];
				} else if (!of_row && !field_same(s->made[n], row->cells[n])) {
					*column = map->columns.v[c].source;
					return "the rows of this key differ: say of which side it is";
				}
			}
		}
	*cells = s->made;
	return NULL;
}

void
sides_free(struct sides *s)
{
	ids_free(&s->keys);
	free(s->first);
	free(s->key);
	free(s->made);
	region_free(&s->text);
}
