#include "archive/trouble.h"

#include <stdarg.h>
#include <stdio.h>

#include "archive/member.h"

void
trouble_say(struct trouble *t, const char *fmt, ...)
{
	char line[300];
	va_list args;

	if (++t->n > TROUBLES)
		return;
	va_start(args, fmt);
	vsnprintf(line, sizeof line, fmt, args);
	va_end(args);
	bytes_add_format(&t->lines, "%s\n", line);
}

struct field
trouble_lines(struct trouble *t)
{
	size_t more = t->n > TROUBLES ? t->n - TROUBLES : 0;

	if (more > 0)
		bytes_add_format(&t->lines, "and %zu more\n", more);
	t->n -= more;
	return bytes_field(&t->lines);
}

static void
add(struct trouble *t, struct damage damage)
{
	if (t->ndamage < TROUBLES)
		t->damage[t->ndamage] = damage;
	t->ndamage++;
}

void
trouble_begin(struct trouble *t, uint64_t from, const char *why)
{
	if (!t->open)
		add(t, (struct damage){ .from = from, .why = why });
	t->open = true;
}

void
trouble_end(struct trouble *t, uint64_t to)
{
	if (t->open && t->ndamage <= TROUBLES)
		t->damage[t->ndamage - 1].to = to;
	t->open = false;
}

/*
 * What ends a row in a damaged data member is lost, and so is the row that ends first behind it: it
 * may have begun in the damage.
 */
uint64_t
trouble_block(struct trouble *t, uint64_t from, const char *why, const struct index_entry *entry)
{
	uint64_t rows = entry->rows + !entry->ends;

	add(t, (struct damage){ .from = from,
		   .to = from + entry->size,
		   .why = why,
		   .begins = true,
		   .ends = true,
		   .block = entry->at.block,
		   .block_end = entry->at.block + 1,
		   .rows = entry->at.rows,
		   .rows_end = entry->at.rows + rows });
	return rows;
}

/* Damage that begins and ends where data members do is named by their numbers. */
static void
compare(struct damage *d, const struct index_place *at, uint64_t start, bool last)
{
	if (start + at->offset == d->from && !last) {
		d->begins = true;
		d->block = at->block;
		d->rows = at->rows;
	}
	if (start + at->offset == d->to) {
		d->ends = true;
		d->block_end = at->block;
		d->rows_end = at->rows + (last ? 0 : 1);
	}
}

void
trouble_place(struct trouble *t, uint64_t start, struct index_part part)
{
	struct index_entry entry;
	size_t n = t->ndamage < TROUBLES ? t->ndamage : TROUBLES;

	if (n == 0)
		return;
	while (index_next(&part, &entry))
		for (size_t i = 0; i < n; i++)
			compare(&t->damage[i], &entry.at, start, false);
	for (size_t i = 0; i < n; i++)
		compare(&t->damage[i], &part.at, start, true);
}

static void
tell(struct trouble *t, const struct damage *d, uint64_t pack, uint64_t start, uint64_t index_at)
{
	unsigned long long number = pack, from = d->from, to = d->to, first = d->block + 1,
			   last = d->block_end, rows = d->rows_end - d->rows;

	if (d->begins && d->ends && d->block_end > d->block && d->rows_end >= d->rows) {
		if (first == last)
			trouble_say(t,
			    "pack %llu: block %llu at byte %llu is damaged (%s): %llu row%s lost",
			    number, first, from, d->why, rows, rows == 1 ? "" : "s");
		else
			trouble_say(t,
			    "pack %llu: blocks %llu to %llu from byte %llu on are damaged (%s): "
			    "%llu rows lost",
			    number, first, last, from, d->why, rows);
	} else if (to == 0 && d->why == member_is_cut) {
		return; /* that the pack is cut off will be said */
	} else if (d->from >= index_at) {
		trouble_say(
		    t, "pack %llu: its index is damaged at byte %llu (%s)", number, from, d->why);
	} else if (d->from == start) {
		trouble_say(t, "pack %llu: its header, at byte %llu, is damaged (%s)", number, from,
		    d->why);
	} else if (to > from) {
		trouble_say(t, "pack %llu: bytes %llu to %llu are damaged (%s)", number, from,
		    to - 1, d->why);
	} else {
		trouble_say(t, "pack %llu: from byte %llu on nothing can be read (%s)", number,
		    from, d->why);
	}
}

void
trouble_tell(struct trouble *t, uint64_t number, uint64_t start, uint64_t index_at, bool index_told)
{
	size_t n = t->ndamage < TROUBLES ? t->ndamage : TROUBLES;

	for (size_t i = 0; i < n; i++)
		if (!index_told || t->damage[i].from < index_at)
			tell(t, &t->damage[i], number, start, index_at);
	t->n += t->ndamage - n;
	t->ndamage = 0;
	t->open = false;
}
