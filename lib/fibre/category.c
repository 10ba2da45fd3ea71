#include "fibre/category.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/mem.h"
#include "base/spelling.h"

enum {
	CATEGORY,
	FIBRE,
	MFD_NM,
	MFD_MIN_UM,
	MFD_MAX_UM,
	TOLERANCE_UM,
	STEP_INDEX,
	CUTOFF_NM,
	OFF_CENTRE
};
enum { SINGLE_MODE, MULTIMODE };
enum { NO, YES };

const int category_key[] = { CATEGORY, -1 };

const struct col category_cols[] = {
	[CATEGORY] = { "category", COL_NEED, COL_TEXT },
	[FIBRE] = { "fibre", COL_NEED, COL_WORD, .words = "single-mode multimode" },
	[MFD_NM] = { "mfd_nm", COL_NEED, COL_NUM, 600, 1700 },
	[MFD_MIN_UM] = { "mfd_min_um", COL_NEED, COL_NUM, 1, 50 },
	[MFD_MAX_UM] = { "mfd_max_um", COL_NEED, COL_NUM, 1, 50 },
	[TOLERANCE_UM] = { "tolerance_um", COL_NEED, COL_NUM, 0, 5 },
	[STEP_INDEX] = { "step_index", COL_NEED, COL_WORD, .words = "no yes" },
	[CUTOFF_NM] = { "cutoff_nm", COL_NEED, COL_NUM, 600, 1700 },
	[OFF_CENTRE] = { "concentricity_um", COL_MAY, COL_NUM, 0, 10 },
	{ NULL },
};

int
categories_check(struct table *t)
{
	while (table_next(t)) {
		double min_um, max_um, tolerance_um = 0;

		get_num(t, TOLERANCE_UM, &tolerance_um);
		if (!get_num(t, MFD_MIN_UM, &min_um) || !get_num(t, MFD_MAX_UM, &max_um))
			continue;
		if (max_um < min_um)
			return table_fail(t, MFD_MAX_UM, "below mfd_min_um");
		if (min_um - tolerance_um < 1)
			return table_fail(t, TOLERANCE_UM, "more than the least MFD has to spare");
	}
	return 0;
}

/* Why there is no MFD; returns -1. */
static int
says(char why[CATEGORY_SAYS], const char *what)
{
	snprintf(why, CATEGORY_SAYS, "%s", what);
	return -1;
}

/* How much larger the MFD is at wavelength_nm than where the table gives it; 0: not known. */
static double
scale(struct table *t, double wavelength_nm, double given_nm)
{
	double cutoff_nm, v;
	int step_index = NO;

	if (wavelength_nm == given_nm)
		return 1;
	get_word(t, STEP_INDEX, &step_index);
	if (step_index == NO || !get_num(t, CUTOFF_NM, &cutoff_nm))
		return 0;
	v = mode_v(wavelength_nm, cutoff_nm);
	if (v < MODE_V_MIN || v > MODE_V_MAX)
		return 0;
	return mode_spot_scale(wavelength_nm, given_nm, cutoff_nm);
}

/* Says that there is no category of this name, and which one was probably meant. Returns -1. */
static int
no_such(const struct table *t, struct field name, char why[CATEGORY_SAYS])
{
	size_t n = table_rows(t), best;
	struct field *names = mem_zeroed(n, sizeof *names), meant;
	struct table at = *t;
	char shown[ERR_SHOWN];

	for (size_t i = 0; i < n; i++) {
		table_at(&at, i);
		names[i] = table_field(&at, CATEGORY);
	}
	best = spelling_best(name, names, n);
	meant = best != SIZE_MAX ? names[best] : field_of("");
	free(names);
	if (best == SIZE_MAX)
		return says(why, "no such fibre category: --print-categories lists them");
	snprintf(why, CATEGORY_SAYS, "no such fibre category: is it %s?",
	    err_show(shown, meant.p, meant.n));
	return -1;
}

int
category_mfd(struct table *t, struct field name, double wavelength_nm, struct mfd *mfd,
    char why[CATEGORY_SAYS])
{
	double given_nm, min_um, max_um, tolerance_um, k;
	int fibre;

	if (!table_find(t, &name))
		return no_such(t, name, why);
	if (get_word(t, FIBRE, &fibre) && fibre == MULTIMODE)
		return says(why, "multimode: this model is for single-mode fibre only");
	if (!get_num(t, MFD_NM, &given_nm) || !get_num(t, MFD_MIN_UM, &min_um) ||
	    !get_num(t, MFD_MAX_UM, &max_um) || !get_num(t, TOLERANCE_UM, &tolerance_um))
		return says(why, "the mode-field diameter of this category is not known");
	k = scale(t, wavelength_nm, given_nm);
	if (k == 0)
		return says(why, "the mode-field diameter of this category is not known at this "
				 "wavelength: give it in um");
	mfd->nominal_um = k * (min_um + max_um) / 2;
	mfd->range =
	    (struct mode_range){ k * (min_um - tolerance_um), k * (max_um + tolerance_um) };
	mfd->concentricity_um = 0;
	get_num(t, OFF_CENTRE, &mfd->concentricity_um);
	return 0;
}
