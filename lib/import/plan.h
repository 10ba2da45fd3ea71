/*
 * plan: where each column that a map (import/map.h) wants stands in an export. For import alone.
 *
 *	struct plans plans = { .map = map, .renames = renames, .err = err, .made = IDS_NONE };
 *
 *	if (plans_add(&plans, in) == 0)
 *		for (i = 0; i < plans.v[0].nsteps; i++)
 *			make(&plans.v[0].steps[i]);
 *	plans_free(&plans);
 *
 * The cells of a record are the export's own, and behind them what the map says besides: values from
 * above the header, of sections, of wide rows, and the three that every record has.
 */
#ifndef THRUM_IMPORT_PLAN_H
#define THRUM_IMPORT_PLAN_H

#include "base/opt.h"
#include "import/export.h"
#include "import/map.h"
#include "table/ids.h"

enum { PLAN_NOWHERE = -1 };

/* the cells behind the export's own, in this order; of the first three as many as the map has rules */
enum plan_extra {
	PLAN_ABOVE = MAP_ABOVE,
	PLAN_BLOCK = MAP_BLOCK,
	PLAN_WIDE = MAP_WIDE,
	PLAN_LINE, /* the first line's number */
	PLAN_FILE,
	PLAN_GROUP, /* which row of a wide one */
	PLAN_EXTRAS,
};

/* How many of those cells stand before the first of this kind; of PLAN_EXTRAS, how many there are. */
size_t plan_extra(const struct map *m, enum plan_extra what);

/* a stretch of the row to make: plain copies of neighbouring cells, or one column to be made */
struct plan_step {
	size_t first, n;                 /* the cells to copy; n 0: */
	const struct map_column *column; /* to be made from */
	const int *from;                 /* as many cells as it has sources */
	bool number; /* of one cell; it can usually be copied but for its mark */
};

/* what one export has to give */
struct plan {
	struct export *in;
	size_t ncols; /* the export's own cells */
	struct plan_step *steps;
	size_t nsteps, cap_steps;
	int *at;             /* for each of the map's sources its cell, or PLAN_NOWHERE */
	struct field *above; /* for each rule `above` its value */
	bool extended;       /* cells behind the export's own are read, or own ones filled */
	/* what a person should check: units that differ between header and map, columns that only an
	   `ignore *` has named */
	struct bytes notes;

	/* for plan.c alone */
	bool *used;
	size_t *carried;
	size_t ncarried;
};

struct plans {
	const struct map *map;
	const struct opt_pairs *renames; /* NULL: none */
	struct err *err;
	struct plan *v; /* one for each export */
	size_t n, cap;
	struct ids made; /* the names of the table's columns, in order */

	/* for plan.c alone */
	struct wanted wanted;
	int *in_order;
	struct region text;
	struct bytes name;
};

/* Begins one more export and finds its columns. 0, or -1 with err set: as import_add says. */
int plans_add(struct plans *ps, struct export *in);

/* Of an export read to its end without a header: 0, or -1 with err set: a name that no record had. */
int plans_check_seen(struct plans *ps, size_t i);

void plans_free(struct plans *ps);

#endif
