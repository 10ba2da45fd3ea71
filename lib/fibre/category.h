/*
 * category: fibre categories of the ITU-T recommendations as ranges of mode-field diameter.
 *
 *	struct mfd mfd;
 *	char why[CATEGORY_SAYS];
 *
 *	if (categories_check(&table) == 0 &&
 *	    category_mfd(&table, field_of("G.652.D"), 1550, &mfd, why) == 0)
 *		use(mfd.nominal_um, mfd.range.min_um, mfd.range.max_um);
 */
#ifndef THRUM_FIBRE_CATEGORY_H
#define THRUM_FIBRE_CATEGORY_H

#include "fibre/modefield.h"
#include "table/hold.h"

extern const struct blob categories_tsv;

struct mfd {
	double nominal_um;       /* the middle of the range */
	struct mode_range range; /* with the tolerance on both sides */
	double concentricity_um; /* how far the core may lie beside the middle; 0 if not known */
};

/* the columns and the key of a table of categories, which is held; categories_tsv is the built-in one */
extern const struct col category_cols[];
extern const int category_key[];

/* Looks at every row of such a table. 0, or -1 with its err set: a row that contradicts itself. */
int categories_check(struct table *t);

enum { CATEGORY_SAYS = ERR_SHOWN + 40 };

/*
 * The MFD of a category at a wavelength, 600 to 1700 nm. Where the table gives it at another
 * wavelength, it is carried over by mode_spot_scale if the category is matched step-index.
 * 0, or -1 with a message in why: no such category ("is it G.652.D?"), multimode, MFD not known at this
 * wavelength.
 */
int category_mfd(struct table *t, struct field name, double wavelength_nm, struct mfd *mfd,
    char why[CATEGORY_SAYS]);

#endif
