/*
 * grid: a table laid out in columns for the eye, in a terminal or a mail.
 *
 *	struct grid grid;
 *
 *	grid_open(&grid, names, n);
 *	while (...)
 *		grid_add(&grid, cells);
 *	grid_write(&grid, 80, &text);
 *	grid_free(&grid);
 *
 * Heads are the columns' names without their units; units stand below. Columns of numbers are aligned
 * at the decimal point, all others to the left. Where a grid is wider than the room it has, the
 * longest texts are cut, which a mark at their end shows; what still does not fit is left out from the
 * right and named below the grid.
 */
#ifndef THRUM_PAGE_GRID_H
#define THRUM_PAGE_GRID_H

#include "base/bytes.h"
#include "base/mem.h"

struct grid {
	struct grid_column *columns;
	size_t n;            /* columns */
	struct field *cells; /* row by row */
	size_t ncells, cap;
	struct region text;
};

/* A column's name without its unit, and that as people write it; unit is empty where there is none. */
void grid_head(struct field name, struct field *head, struct field *unit);

/* n columns of these names, which are copied. Call grid_free in any case. */
void grid_open(struct grid *g, const struct field *names, size_t n);

/* One row of n cells, which are copied; control bytes and what is not UTF-8 are shown as \xNN. */
void grid_add(struct grid *g, const struct field *cells);

/* Appends the grid to b, no line wider than `width` columns; 0: as wide as need be. */
void grid_write(const struct grid *g, size_t width, struct bytes *b);

void grid_free(struct grid *g);

#endif
