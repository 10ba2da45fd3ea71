#include "import/import.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "import/cell.h"
#include "import/plan.h"

struct import {
	const struct map *map;
	struct import_plans plans;
	struct import_cell cell;
	struct bytes line, joined, name;
	struct field *filled; /* cells of a row that had too few */
	size_t cap_filled;
	uint64_t replaced, nfilled, ncut, *dropped;
	char what[LINES_FAULT];
};

struct import *
import_new(const struct map *map, const struct opt_pairs *renames, struct err *err)
{
	struct import *im = mem_zeroed(1, sizeof *im);

	im->map = im->cell.map = map;
	im->plans = (struct import_plans){ .map = map, .renames = renames, .err = err };
	im->dropped = mem_zeroed(map->ndrops + 1, sizeof *im->dropped);
	return im;
}

int
import_add(struct import *im, struct export *in)
{
	return import_plans_add(&im->plans, in);
}

void
import_unnamed(const struct import *im, size_t i, struct bytes *b)
{
	import_plans_unnamed(&im->plans, i, b);
}

void
import_header(const struct import *im, struct writer *out)
{
	for (size_t i = 0; i < im->map->ncolumns; i++)
		writer_field(out, im->map->columns[i].name);
	for (size_t i = 0; i < im->plans.ncarried; i++)
		writer_field(out, im->plans.carried[i]);
	writer_end_row(out);
}

/* --- rows ------------------------------------------------------------------------------------ */

static bool
is_unknown(const struct import *im, struct field f)
{
	const struct field words = im->map->unknown;

	return f.n == 0 || (words.n > 0 && field_among(words, ';', f) != SIZE_MAX);
}

/* The text that the column is made from: its cells, without those not known, joined by blanks. */
static struct field
source_text(struct import *im, const struct import_plan *plan, const struct import_step *step,
    const struct record *row, const struct field *cells)
{
	struct field text = { "", 0 };

	im->joined.n = 0;
	for (size_t i = 0; i < step->column->nfrom; i++) {
		int at = step->from[i];
		struct field f = at >= 0 ? cells[at] : (struct field){ "", 0 };
		char number[24];

		if (at == IMPORT_LINE) {
			int n = snprintf(number, sizeof number, "%" PRIu64, row->line);

			f = (struct field){ number, (size_t)n };
		} else if (at == IMPORT_FILE) {
			im->name.n = 0;
			bytes_add_clean(&im->name, field_of(plan->in->in.name));
			f = bytes_field(&im->name);
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

static void
copy_cells(struct import *im, const struct import_step *step, const struct field *cells, bool apart)
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
	bytes_add_list(&im->line, first, (size_t)(last - first) + 1, '\t');
}

/* The map's rule that drops this row, or -1; `whole`: only those that look at the whole line. */
static int
dropped_by(struct import *im, const struct import_plan *plan, const struct record *row,
    const struct field *cells, bool whole)
{
	for (size_t i = 0; i < im->map->ndrops; i++) {
		int at = plan->drop[i];
		struct field text = whole     ? row->text
				    : at >= 0 ? cells[at]
					      : (struct field){ "", 0 };

		if (whole == (at == IMPORT_NOWHERE) &&
		    pattern_found(im->map->drops[i].pattern, text))
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
wrong_count(struct import *im, const struct import_plan *plan, const struct record *row,
    const struct field **cells)
{
	bool spare = row->n > plan->ncols && all_empty(row->f, plan->ncols, row->n);

	if (!im->map->mend || (row->n > plan->ncols && !spare)) {
		snprintf(im->what, sizeof im->what, "%zu cell%s, %zu expected%s", row->n,
		    row->n == 1 ? "" : "s", plan->ncols, spare ? ": the extra ones are empty" : "");
		return im->what;
	}
	if (spare)
		return NULL;
	im->filled = mem_grow(im->filled, &im->cap_filled, plan->ncols, sizeof *im->filled);
	for (size_t i = 0; i < plan->ncols; i++)
		im->filled[i] = i < row->n ? row->f[i] : (struct field){ "", 0 };
	*cells = im->filled;
	return NULL;
}

/* What is wrong with the row as a whole, or NULL; *drop is the rule that drops it, or -1. */
static const char *
look_at_row(struct import *im, const struct import_plan *plan, const struct record *row,
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
	if (row->n != plan->ncols)
		why = wrong_count(im, plan, row, cells);
	if (why != NULL)
		return why;
	if (im->map->ndrops > 0)
		*drop = dropped_by(im, plan, row, *cells, false);
	if (*drop >= 0)
		return NULL;
	if ((*cells)[0].n == 0 && all_empty(*cells, 0, plan->ncols))
		return "empty record: all its cells are empty";
	if (export_is_header(plan->in, row))
		return "the header line stands here again";
	return NULL;
}

/* Appends one column to the line. false with the fault told. */
static bool
make_column(
    struct import *im, const struct map_column *c, struct field text, struct import_fault *fault)
{
	const size_t before = im->line.n;
	const char *why = NULL;

	if (text.n > 0)
		why = import_cell_make(&im->cell, c, text, &im->line);
	if (why == NULL && im->line.n == before) {
		bytes_add_field(&im->line, c->instead);
		if (c->instead.n == 0 && c->need == MAP_MUST) {
			why = "empty, but needed";
			text.p = NULL;
		}
	}
	if (why != NULL)
		*fault = (struct import_fault){ c->source, why, text };
	return why == NULL;
}

static bool
make_line(struct import *im, const struct import_plan *plan, const struct record *row,
    const struct field *cells, struct import_fault *fault)
{
	im->line.n = 0;
	for (const struct import_step *step = plan->steps; step < plan->steps + plan->nsteps;
	     step++) {
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
import_row(struct import *im, size_t i, const struct record *row, struct import_fault *fault)
{
	const struct import_plan *plan = &im->plans.v[i];
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
	im->nfilled += row->n < plan->ncols;
	im->ncut += row->n > plan->ncols;
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
	import_plans_free(&im->plans);
	import_cell_free(&im->cell);
	free(im->filled);
	free(im->dropped);
	bytes_free(&im->line);
	bytes_free(&im->joined);
	bytes_free(&im->name);
	free(im);
}
