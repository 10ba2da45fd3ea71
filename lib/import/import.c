#include "import/import.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/num.h"
#include "import/stages.h"
#include "import/plan.h"
#include "table/head.h"

struct import {
	const struct map *map;
	struct plans plans;
	struct cell_maker maker;
	struct blocks blocks;
	struct sides sides;
	struct bytes line, joined, file;
	struct field *cells; /* of a record that gets more of them, or other ones */
	size_t cap_cells, widest;
	struct import_counts counts;
	size_t present; /* the export being read */
	bool begun;
	bool alone; /* the table has one column */
	char what[LINES_FAULT], number[24], group[24];

	/* the record of which rows are made, and how many of them are */
	struct record record;
	const struct field *ready; /* its cells; NULL: there is none */
	size_t made;
	bool any, counted;

	/* of those that waited: the next key, and the next row of a record that is wrong */
	size_t next_key;
	const struct side_row *wrong_row;
	struct import_row wrong;
};

struct import *
import_new(const struct map *map, const struct opt_pairs *renames, struct err *err)
{
	struct import *im = mem_zeroed(1, sizeof *im);

	im->map = im->maker.map = im->blocks.map = im->sides.map = map;
	im->plans = (struct plans){ .map = map, .renames = renames, .err = err, .made = IDS_NONE };
	return im;
}

int
import_add(struct import *im, struct export *in)
{
	if (plans_add(&im->plans, in) != 0)
		return -1;
	im->alone = im->plans.made.n == 1;
	if (in->ncols > im->widest)
		im->widest = in->ncols;
	im->cells = mem_grow(im->cells, &im->cap_cells,
	    im->widest + plan_extra(im->map, PLAN_EXTRAS), sizeof *im->cells);
	return 0;
}

struct field
import_notes(const struct import *im, size_t i)
{
	return bytes_field(&im->plans.v[i].notes);
}

void
import_header(const struct import *im, struct writer *out)
{
	for (size_t i = 0; i < im->plans.made.n; i++)
		writer_field(out, ids_key(&im->plans.made, i));
	writer_end_row(out);
}

/* --- a row out of cells ---------------------------------------------------------------------- */

static inline bool
is_unknown(const struct map *map, struct field f)
{
	return f.n == 0 || (map->unknown_first[(unsigned char)*f.p] &&
			       field_among(map->unknown, ';', f) != SIZE_MAX);
}

/* The text that the column is made from: its cells, without those not known, joined by blanks. */
static struct field
source_text(struct import *im, const struct plan_step *step, const struct field *cells)
{
	struct field text = { "", 0 };

	if (step->column->nfrom == 1) {
		if (*step->from < 0 || is_unknown(im->map, cells[*step->from]))
			return text;
		return cells[*step->from];
	}
	im->joined.n = 0;
	for (size_t i = 0; i < step->column->nfrom; i++) {
		int at = step->from[i];

		if (at < 0 || is_unknown(im->map, cells[at]))
			continue;
		if (im->joined.n > 0)
			bytes_add(&im->joined, " ", 1);
		bytes_add_field(&im->joined, cells[at]);
		text = bytes_field(&im->joined);
	}
	return text;
}

/* Appends neighbouring cells; in one piece if each lies one byte behind the one before. */
static void
copy_cells(struct import *im, const struct plan_step *step, const struct field *cells, bool apart)
{
	const struct field *first = cells + step->first, *last = first + step->n - 1;
	size_t n;
	char *to;

	if (apart) {
		/* the byte between two cells becomes a TAB */
		n = (size_t)(last->p + last->n - first->p);
		to = bytes_room(&im->line, n + 1);
		memcpy(to, first->p, n);
		for (const struct field *f = first; f < last; f++)
			to[f->p + f->n - first->p] = '\t';
		im->line.n += n;
		return;
	}
	bytes_add_list(&im->line, first, (size_t)(last - first) + 1, '\t');
}

/*
 * Appends a number that is written already as it should be but for its mark, with 0 first only before
 * its mark. false, with the line as it was, if it is any other.
 */
static inline bool
copy_number(struct import *im, const struct plan_step *step, struct field f)
{
	const char mark = im->map->style.point;
	char *to = bytes_room(&im->line, f.n + 1);
	size_t sign = f.n > 0 && *f.p == '-', i = sign, digits;

	to[0] = '-';
	for (; i < f.n && num_is_digit(f.p[i]); i++)
		to[i] = f.p[i];
	if (i == sign || (i > sign + 1 && f.p[sign] == '0') ||
	    im->map->unknown_first[(unsigned char)*f.p])
		return false;
	if (i < f.n && f.p[i] == mark && step->column->holds == MAP_NUMBER) {
		to[i++] = '.';
		for (digits = i; i < f.n && num_is_digit(f.p[i]); i++)
			to[i] = f.p[i];
		if (i == digits)
			return false;
	}
	/* minus zero is written as zero */
	for (digits = sign; sign > 0 && digits < i && (to[digits] == '0' || to[digits] == '.');)
		digits++;
	if (i < f.n || (sign > 0 && digits == i))
		return false;
	im->line.n += i;
	return true;
}

/* Appends one column to the line, or says what is wrong. */
static void
make_column(
    struct import *im, const struct map_column *c, struct field text, struct import_row *row)
{
	const size_t before = im->line.n;
	const char *why = NULL;

	if (text.n > 0)
		why = cell_make(&im->maker, c, text, &im->line);
	if (why == NULL && im->line.n == before) {
		bytes_add_field(&im->line, c->instead);
		if (c->instead.n == 0 && c->need == MAP_MUST) {
			why = "empty, but needed";
			text.p = NULL;
		}
	}
	if (why != NULL && row->wrong == NULL) {
		row->wrong = why;
		row->column = c->source;
		row->value = text;
	}
}

/* Makes the row; what is wrong with it is told by *row. */
static void
make_row(struct import *im, const struct plan *plan, const struct field *cells, bool apart,
    struct import_row *row)
{
	im->line.n = 0;
	for (const struct plan_step *step = plan->steps; step < plan->steps + plan->nsteps;
	     step++) {
		/* of a row that is wrong only times count still: midnight may have passed */
		if (row->wrong != NULL && (step->n > 0 || step->column->holds != MAP_NIGHT))
			continue;
		if (step > plan->steps)
			*bytes_room(&im->line, 1) = '\t', im->line.n++;
		if (step->number && copy_number(im, step, cells[*step->from]))
			continue;
		if (step->n > 0)
			copy_cells(im, step, cells, apart);
		else
			make_column(im, step->column, source_text(im, step, cells), row);
	}
	row->line = bytes_field(&im->line);
	if (row->wrong == NULL && im->alone)
		head_alone(im->plans.err, plan->in->in.name, im->record.line, row->line,
		    ids_key(&im->plans.made, 0));
}

/* --- a record looked at as a whole ----------------------------------------------------------- */

/* The map's rule that drops this record, or -1; `whole`: only those that look at the whole line. */
static int
dropped_by(struct import *im, const struct plan *plan, const struct field *cells, bool whole)
{
	for (size_t i = 0; i < im->map->rules[MAP_DROP].n; i++) {
		int at = plan->at[im->map->rules[MAP_DROP].v[i].from];

		if (whole == (at == PLAN_NOWHERE) &&
		    pattern_found(
			im->map->rules[MAP_DROP].v[i].pattern, whole ? im->record.text : cells[at]))
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

/* Whether a value is what the export's last column holds, as far as the map says it of that column. */
static bool
fits_last(struct import *im, const struct plan *plan, struct field value)
{
	const struct plan_step *step = plan->steps;
	const char *why = NULL;
	bool any = false;

	for (im->line.n = 0; step < plan->steps + plan->nsteps && why == NULL; step++) {
		const struct map_column *c = step->column;

		if (step->n > 0 || c->nfrom != 1 || *step->from != (int)plan->ncols - 1 ||
		    c->holds == MAP_TEXT || c->holds == MAP_NIGHT)
			continue;
		any = true;
		why = cell_make(&im->maker, c, value, &im->line);
	}
	return any && why == NULL;
}

/*
 * A record with too few or too many cells. A short one is mended only if the missing cells
 * were at its end: not if its last cell is empty, or may be the last column's. NULL: it is mended.
 */
static const char *
wrong_count(struct import *im, const struct plan *plan)
{
	const struct record *r = &im->record;
	bool spare = r->n > plan->ncols && all_empty(r->f, plan->ncols, r->n);
	struct field last = r->f[r->n - 1];
	const char *more = "";

	if (r->cut && r->n < plan->ncols)
		more = ": the last line has no end and is cut";
	else if (spare && !im->map->mend)
		more = ": the extra ones are empty";
	else if (im->map->mend && r->n < plan->ncols && last.n == 0)
		more = ", and the last is empty: which one is missing?";
	else if (im->map->mend && r->n < plan->ncols && fits_last(im, plan, last))
		more = ", and the last may be the last column's: which one is missing?";
	else if (im->map->mend && (r->n < plan->ncols || spare))
		return NULL;
	snprintf(im->what, sizeof im->what, "%zu cell%s, %zu expected%s", r->n,
	    r->n == 1 ? "" : "s", plan->ncols, more);
	return im->what;
}

/* The cells of the record, with room for more behind them if the plan wants any. */
static const struct field *
cells_of(struct import *im, const struct plan *plan)
{
	const struct record *r = &im->record;
	struct field *extra = im->cells + plan->ncols;

	if (!plan->extended && r->n >= plan->ncols)
		return r->f;
	for (size_t i = 0; i < plan->ncols; i++)
		im->cells[i] = i < r->n ? r->f[i] : (struct field){ "", 0 };
	for (size_t i = 0; i < plan_extra(im->map, PLAN_LINE); i++)
		extra[i] =
		    i < im->map->rules[MAP_ABOVE].n ? plan->above[i] : (struct field){ "", 0 };
	extra = im->cells + plan->ncols + plan_extra(im->map, PLAN_LINE);
	extra[0] = (struct field){ im->number,
		(size_t)snprintf(im->number, sizeof im->number, "%" PRIu64, r->line) };
	extra[1] = bytes_field(&im->file);
	extra[2] = field_of("1");
	return im->cells;
}

/* What is wrong with the shape of the record, or NULL. */
static const char *
wrong_shape(struct import *im, const struct plan *plan)
{
	const struct record *r = &im->record;
	struct field raw;

	if (r->n != plan->ncols)
		return wrong_count(im, plan);
	if (!r->cut || r->n == 1 || r->f[r->n - 1].n > 0)
		return NULL;
	raw = export_raw(plan->in);
	return raw.n > 0 && raw.p[raw.n - 1] == im->map->dialect.delimiter
		   ? "the last line has no end and nothing behind its last delimiter: is it cut?"
		   : NULL;
}

/* What shows that another export, or its header, begins inside this one; or NULL. */
static const char *
wrong_beginning(const struct plan *plan, const struct record *r)
{
	bool mark =
	    r->f[0].n > 2 && r->f[0].p[0] == BYTES_BOM[0] && field_starts(r->f[0], BYTES_BOM);

	if ((mark || r->f[0].n == plan->in->names[0].n) && export_is_header(plan->in, r))
		return "the header line stands here again";
	return mark ? "byte-order mark inside the export: does another one begin here?" : NULL;
}

/* Looks at the record. true: rows are to be made of im->ready; else row->wrong, or nothing is. */
static bool
look_at(struct import *im, const struct plan *plan, struct import_row *row)
{
	const struct record *r = &im->record;
	bool plain = im->map->dialect.layout == LAYOUT_CELLS,
	     drops = im->map->rules[MAP_DROP].n > 0, blocks = im->map->rules[MAP_BLOCK].n > 0;
	int drop = -1;

	row->wrong = r->fault;
	if (row->wrong != NULL)
		return false;
	if (drops)
		drop = dropped_by(im, plan, r->f, true);
	if (drop < 0) {
		if (blocks && blocks_heading(&im->blocks, plan, r))
			return false;
		if (r->blank)
			row->wrong = "blank line inside the export";
		else if (plain)
			row->wrong = wrong_shape(im, plan);
		if (row->wrong != NULL)
			return false;
		im->ready = cells_of(im, plan);
		if (drops)
			drop = dropped_by(im, plan, im->ready, false);
	}
	if (drop >= 0) {
		im->counts.dropped[drop]++;
		im->ready = NULL;
		return false;
	}
	if (all_empty(im->ready, 0, plan->ncols))
		row->wrong = "empty record: all its cells are empty";
	else if (plain)
		row->wrong = wrong_beginning(plan, r);
	if (row->wrong == NULL && blocks) {
		row->wrong = blocks_fill(&im->blocks, plan, im->cells, &row->column);
		row->column.n = row->wrong != NULL ? row->column.n : 0;
	}
	return row->wrong == NULL;
}

/* --- rows out of wide ones ------------------------------------------------------------------- */

/* Copies the next group of cells that is not empty to its place. false: there is none. */
static bool
next_group(struct import *im, const struct plan *plan)
{
	const struct map *map = im->map;
	struct field *extra = im->cells + plan->ncols;

	if (map->rules[MAP_WIDE].n == 0)
		return im->made++ == 0;
	while (im->made < map->nwide && !err_is_set(im->plans.err)) {
		size_t group = im->made++;
		bool any = false;

		for (size_t i = 0; i < map->rules[MAP_WIDE].n; i++) {
			struct field f =
			    im->cells[plan->at[map->rules[MAP_WIDE].v[i].from + group]];

			extra[plan_extra(map, PLAN_WIDE) + i] = f;
			any |= f.n > 0;
		}
		extra[plan_extra(map, PLAN_GROUP)] = (struct field){ im->group,
			(size_t)snprintf(im->group, sizeof im->group, "%zu", group + 1) };
		if (any)
			return true;
	}
	return false;
}

/* One row of the record, or the record put aside for import_rest; false: neither. */
static bool
next_row(struct import *im, const struct plan *plan, struct import_row *row)
{
	const struct record *r = &im->record;

	while (next_group(im, plan)) {
		im->any = true;
		if (im->map->rules[MAP_KEY].n > 0) {
			row->wrong = sides_add(&im->sides, plan, r, im->ready);
			if (row->wrong != NULL)
				return true;
			continue;
		}
		make_row(im, plan, im->ready,
		    im->ready == r->f && im->map->dialect.layout == LAYOUT_CELLS, row);
		if (row->wrong == NULL && !im->counted) {
			im->counts.replaced += r->replaced;
			im->counts.filled += r->n < plan->ncols;
			im->counts.cut += r->n > plan->ncols;
			im->counted = true;
		}
		return true;
	}
	im->ready = NULL;
	row->wrong = im->any ? NULL : "wide row with nothing in any of its groups";
	return !im->any;
}

bool
import_next(struct import *im, size_t i, struct import_row *row)
{
	const struct plan *plan = &im->plans.v[i];
	struct record *r = &im->record;

	if (!im->begun || im->present != i) {
		im->begun = true;
		im->present = i;
		free(im->counts.dropped);
		im->counts = (struct import_counts){ .replaced = 0 };
		im->counts.dropped =
		    mem_zeroed(im->map->rules[MAP_DROP].n + 1, sizeof *im->counts.dropped);
		im->file.n = 0;
		bytes_add_clean(&im->file, field_of(plan->in->in.name));
		cell_begin_export(&im->maker);
		blocks_begin(&im->blocks);
	}
	for (;;) {
		*row = (struct import_row){ .file = plan->in->in.name };
		if (im->ready == NULL) {
			if (!export_next(plan->in, r))
				break;
			im->counts.unended |= r->cut && im->map->dialect.layout != LAYOUT_JSON;
			im->made = 0;
			im->any = im->counted = false;
		}
		row->at_line = r->line;
		if (im->ready == NULL && !look_at(im, plan, row)) {
			if (row->wrong == NULL)
				continue;
			if (im->ready == NULL && !r->blank)
				blocks_lose(&im->blocks, r->line);
			im->ready = NULL;
			row->raw = export_raw(plan->in);
			return true;
		}
		if (!next_row(im, plan, row))
			continue;
		if (row->wrong != NULL)
			row->raw = export_raw(plan->in);
		return !im->alone || !err_is_set(im->plans.err);
	}
	if (!err_is_set(im->plans.err))
		plans_check_seen(&im->plans, i);
	return false;
}

/* --- records out of several rows ------------------------------------------------------------- */

/* The next row of a record that is wrong: all of them are set aside. */
static bool
next_wrong(struct import *im, struct import_row *row)
{
	if (im->wrong_row == NULL)
		return false;
	*row = im->wrong;
	row->file = im->wrong_row->file;
	row->at_line = im->wrong_row->line;
	row->raw = im->wrong_row->raw;
	im->wrong_row = im->wrong_row->next;
	return true;
}

bool
import_rest(struct import *im, struct import_row *row)
{
	const struct field *cells;

	if (next_wrong(im, row))
		return true;
	if (im->next_key >= im->sides.keys.n || err_is_set(im->plans.err))
		return false;
	*row = (struct import_row){ .wrong = NULL };
	im->wrong_row = im->sides.first[im->next_key];
	im->record.line = im->wrong_row->line;
	row->wrong = sides_join(&im->sides, im->next_key++, &cells, &row->column);
	if (row->wrong == NULL)
		make_row(im, &im->plans.v[0], cells, false, row);
	im->wrong = *row;
	if (row->wrong != NULL)
		return next_wrong(im, row);
	im->wrong_row = NULL;
	return !err_is_set(im->plans.err);
}

/* --------------------------------------------------------------------------------------------- */

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

const struct import_counts *
import_counts(const struct import *im)
{
	return &im->counts;
}

void
import_free(struct import *im)
{
	if (im == NULL)
		return;
	plans_free(&im->plans);
	cell_free(&im->maker);
	blocks_free(&im->blocks);
	sides_free(&im->sides);
	free(im->cells);
	free(im->counts.dropped);
	bytes_free(&im->line);
	bytes_free(&im->joined);
	bytes_free(&im->file);
	free(im);
}
