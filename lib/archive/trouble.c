#include <stdarg.h>
#include <stdio.h>

#include "archive/inside.h"

void
trouble(struct unpack *u, const char *fmt, ...)
{
	char line[300];
	va_list args;

	if (++u->ntrouble > TROUBLES)
		return;
	va_start(args, fmt);
	vsnprintf(line, sizeof line, fmt, args);
	va_end(args);
	bytes_add_format(&u->trouble, "%s\n", line);
}

void
damage_begin(struct unpack *u, uint64_t from, const char *why)
{
	u->broken = true;
	if (!u->damaged) {
		if (u->ndamage < TROUBLES)
			u->damage[u->ndamage] = (struct damage){ .from = from, .why = why };
		u->ndamage++;
	}
	u->damaged = true;
}

void
damage_end(struct unpack *u, uint64_t to)
{
	if (u->damaged && u->ndamage <= TROUBLES)
		u->damage[u->ndamage - 1].to = to;
	u->damaged = false;
}

void
damage_found(struct unpack *u, const struct unit *unit)
{
	struct damage *d = &u->damage[u->ndamage];

	if (u->ndamage < TROUBLES) {
		*d = unit->told;
		d->from = unit->at;
		d->to = unit->at + unit->m.size;
		d->why = unit->fault;
	}
	u->ndamage++;
	u->broken = true;
	u->sum.whole = false;
	if (unit->told.ends)
		u->sum.lost += unit->told.rows_end - unit->told.rows;
	else
		u->sum.lost_known = false;
}

/*
 * Damage that begins and ends where data members do is named by their numbers. What ends a row in
 * them is lost, and so is the row that ends first in the data member behind them: it may have begun
 * in the damage.
 */
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
damage_name(struct unpack *u, struct index_part part)
{
	struct index_entry entry;
	size_t n = u->ndamage < TROUBLES ? u->ndamage : TROUBLES;

	if (n == 0)
		return;
	while (index_next(&part, &entry))
		for (size_t i = 0; i < n; i++)
			compare(&u->damage[i], &entry.at, u->pack.start, false);
	for (size_t i = 0; i < n; i++)
		compare(&u->damage[i], &part.at, u->pack.start, true);
}

static void
tell(struct unpack *u, const struct damage *d, const struct pack_end *end)
{
	unsigned long long number = u->pack.number, from = d->from, to = d->to,
			   first = d->block + 1, last = d->block_end, rows;

	if (d->begins && d->ends && d->block_end > d->block && d->rows_end >= d->rows) {
		rows = d->rows_end - d->rows;
		if (first == last)
			trouble(u,
			    "pack %llu: block %llu at byte %llu is damaged (%s): %llu row%s lost",
			    number, first, from, d->why, rows, rows == 1 ? "" : "s");
		else
			trouble(u,
			    "pack %llu: blocks %llu to %llu from byte %llu on are damaged (%s): "
			    "%llu rows lost",
			    number, first, last, from, d->why, rows);
	} else if (to == 0 && d->why == member_is_cut)
		return; /* that the pack is cut off will be said */
	else if (end != NULL && d->from - u->pack.start >= end->index_at)
		trouble(
		    u, "pack %llu: its index is damaged at byte %llu (%s)", number, from, d->why);
	else if (d->from == u->pack.start)
		trouble(u, "pack %llu: its header, at byte %llu, is damaged (%s)", number, from,
		    d->why);
	else if (to > from)
		trouble(u, "pack %llu: bytes %llu to %llu are damaged (%s)", number, from, to - 1,
		    d->why);
	else
		trouble(u, "pack %llu: from byte %llu on nothing can be read (%s)", number, from,
		    d->why);
}

void
damage_tell(struct unpack *u, const struct pack_end *end)
{
	size_t n = u->ndamage < TROUBLES ? u->ndamage : TROUBLES;

	for (size_t i = 0; i < n; i++)
		tell(u, &u->damage[i], end);
	u->ntrouble += u->ndamage - n;
	u->ndamage = 0;
	u->damaged = false;
}
