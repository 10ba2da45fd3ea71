/*
 * plan: where each column that a map (import/map.h) wants stands in an export. For import alone.
 *
 *	struct import_plans plans = { .map = map, .renames = renames, .err = err };
 *
 *	if (import_plans_add(&plans, in) == 0)
 *		for (i = 0; i < plans.v[0].nsteps; i++)
 *			make(&plans.v[0].steps[i]);
 *	import_plans_free(&plans);
 */
#ifndef THRUM_IMPORT_PLAN_H
#define THRUM_IMPORT_PLAN_H

#include "base/opt.h"
#include "import/export.h"
#include "import/map.h"

/* in the place of a column's index */
enum { IMPORT_NOWHERE = -1, IMPORT_LINE = -2, IMPORT_FILE = -3 };

/* a stretch of the row to make: plain copies of neighbouring cells, or one column to be made */
struct import_step {
	size_t first, n;                 /* the export's columns to copy; n 0: */
	const struct map_column *column; /* to be made from */
	const int *from;                 /* as many columns as it has sources */
};

/* what one export has to give */
struct import_plan {
	struct export *in;
	size_t ncols;
	struct import_step *steps;
	size_t nsteps, cap_steps;
	int *drop; /* for each of the map's rules `drop`, the column it looks at */

	/* the rest is import_plan's own */
	int *from; /* for each source of each of the map's columns, one after the other */
	bool *used;
	size_t *carried;
	size_t ncarried;
};

struct import_plans {
	const struct map *map;
	const struct opt_pairs *renames; /* NULL: none */
	struct err *err;
	struct import_plan *v; /* one for each export */
	size_t n, cap;
	struct field *carried; /* the names of the first export's, with prefix */
	size_t ncarried;

	/* import_plan's own */
	struct region text;
	struct bytes name;
};

/*
 * Finds the columns of one more export, begun by export_begin. 0, or -1 with err set: as import_add
 * says.
 */
int import_plans_add(struct import_plans *ps, struct export *in);

/* Appends to b the names of the columns of export i that only an `ignore *` has named: " 'a' 'b'". */
void import_plans_unnamed(const struct import_plans *ps, size_t i, struct bytes *b);

void import_plans_free(struct import_plans *ps);

#endif
