#include "import/stages.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

void
blocks_begin(struct blocks *b)
{
	if (b->v == NULL)
		b->v = mem_zeroed(b->map->rules[MAP_BLOCK].n + 1, sizeof *b->v);
	for (size_t i = 0; i < b->map->rules[MAP_BLOCK].n; i++)
		b->v[i].state = BLOCK_NONE;
}

void
blocks_lose(struct blocks *b, uint64_t line)
{
	b->lost_line = line;
	for (size_t i = 0; i < b->map->rules[MAP_BLOCK].n; i++)
		b->v[i].state = BLOCK_LOST;
}

/* Keeps a value. If it is a new one, the values of all inner blocks are not known any more. */
static void
learn(struct blocks *b, size_t i, struct field value)
{
	struct block *block = &b->v[i];
	bool same = block->state == BLOCK_KNOWN && field_same(bytes_field(&block->text), value);

	if (same)
		return;
	block->state = BLOCK_KNOWN;
	block->text.n = 0;
	bytes_add_field(&block->text, value);
	for (size_t k = i + 1; k < b->map->rules[MAP_BLOCK].n; k++)
		b->v[k].state = BLOCK_NONE;
}

/* true if all other cells are empty, as beside a heading */
static bool
alone(const struct record *r, int at)
{
	for (size_t i = 0; i < r->n; i++)
		if ((int)i != at && r->f[i].n > 0)
			return false;
	return true;
}

bool
blocks_heading(struct blocks *b, const struct plan *plan, const struct record *r)
{
	for (size_t i = 0; i < b->map->rules[MAP_BLOCK].n; i++) {
		const struct map_rule *rule = &b->map->rules[MAP_BLOCK].v[i];
		int at = plan->at[rule->from];
		struct field text = r->text;

		if (!rule->section || (at >= 0 && ((size_t)at >= r->n || !alone(r, at))))
			continue;
		if (at >= 0)
			text = r->f[at];
		if (!cell_cut(rule->pattern, &text, &b->cut))
			continue;
		learn(b, i, text);
		return true;
	}
	return false;
}

const char *
blocks_fill(struct blocks *b, const struct plan *plan, struct field *cells, struct field *column)
{
	struct field *extra = cells + plan->ncols + plan_extra(b->map, PLAN_BLOCK);

	for (size_t i = 0; i < b->map->rules[MAP_BLOCK].n; i++) {
		const struct map_rule *rule = &b->map->rules[MAP_BLOCK].v[i];
		struct field *cell = rule->section ? &extra[i] : &cells[plan->at[rule->from]];

		*column = rule->section ? rule->name : rule->source;
		if (!rule->section && cell->n > 0) {
			learn(b, i, *cell);
			continue;
		}
		if (b->v[i].state == BLOCK_LOST) {
			snprintf(b->what, sizeof b->what,
			    "row %" PRIu64 " above could not be read and may have said it",
			    b->lost_line);
			return b->what;
		}
		*cell = (struct field){ "", 0 };
		if (b->v[i].state == BLOCK_KNOWN)
			*cell = bytes_field(&b->v[i].text);
		else if (!rule->section)
			return "empty, and nothing above to fill it with";
	}
	return NULL;
}

void
blocks_free(struct blocks *b)
{
	for (size_t i = 0; b->v != NULL && i < b->map->rules[MAP_BLOCK].n; i++)
		bytes_free(&b->v[i].text);
	free(b->v);
	bytes_free(&b->cut);
}
