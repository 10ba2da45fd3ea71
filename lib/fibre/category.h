/*
 * category: fibre categories of the ITU-T recommendations as ranges of mode-field diameter.
 *
 *	struct kept categories;
 *	struct mfd mfd;
 *
 *	if (category_read(&categories, NULL, &err) == 0 &&
 *	    category_mfd(&categories, field_of("G.652.D"), 1550, &mfd, why) == 0)
 *		use(mfd.nominal_um, mfd.range.min_um, mfd.range.max_um);
 *	kept_free(&categories);
 */
#ifndef THRUM_FIBRE_CATEGORY_H
#define THRUM_FIBRE_CATEGORY_H

#include "base/err.h"
#include "fibre/modefield.h"
#include "table/kept.h"

extern const struct blob categories_tsv;

struct mfd {
	double nominal_um;       /* the middle of the range */
	struct mode_range range; /* with the tolerance on both sides */
};

/* Reads the table of categories at path, NULL: the compiled-in one. As kept_read. */
int category_read(struct kept *categories, const char *path, struct err *err);

/*
 * The MFD of a category at a wavelength, 600 to 1700 nm. Where the table gives it at another
 * wavelength, it is carried over by mode_spot_scale if the category is matched step-index.
 * 0, or -1 with why, a constant string fit for a message: no such category, multimode, MFD not
 * known at this wavelength.
 */
int category_mfd(struct kept *categories, struct field name, double wavelength_nm, struct mfd *mfd,
    const char **why);

#endif
