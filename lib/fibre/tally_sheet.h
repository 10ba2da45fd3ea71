/*
 * tally_sheet: what a tally says, as rows of a table.
 *
 *	while (tally_next(&t, &g))
 *		for (size_t i = 0; i < g.wavelengths.n; i++) {
 *			tally_sum(&t, &g, i, true, &sum);
 *			tally_sheet_row(&out, &t, &g, g.wavelengths.nm[i], &sum, true);
 *		}
 */
#ifndef THRUM_FIBRE_TALLY_SHEET_H
#define THRUM_FIBRE_TALLY_SHEET_H

#include "fibre/tally.h"
#include "table/sheet.h"

/* the columns behind those of the group */
extern const struct col tally_sheet_cols[];

/* Writes the row of a group at a wavelength. bases_known: what the losses are known by is said. */
void tally_sheet_row(struct sheet *out, const struct tally *t, const struct tally_group *g,
    double nm, const struct tally_sum *sum, bool bases_known);

#endif
