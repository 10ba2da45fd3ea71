/*
 * assess: one link at one wavelength, from all the tables that say something about it.
 *
 *	struct assess a = ASSESS_NONE;		then read the tables into it
 *	struct assess_link link;
 *	struct assess_row row;
 *
 *	if (elements_arrange(&a.elements, &err) == 0)
 *		for (size_t i = 0; i < a.elements.n; i = link.end)
 *			if (assess_link(&a, i, &link, &err) == 0)
 *				for (size_t w = 0; w < link.wavelengths.n; w++)
 *					if (assess_row(&a, &link, w, &row, &err) == 0)
 *						use(&row);
 *	assess_free(&a);
 */
#ifndef THRUM_FIBRE_ASSESS_H
#define THRUM_FIBRE_ASSESS_H

#include "fibre/allowance.h"
#include "fibre/application.h"
#include "fibre/element.h"
#include "fibre/link.h"
#include "fibre/tested.h"
#include "fibre/wavelengths.h"

struct assess {
	struct allowances allowances;
	struct applications applications;
	struct table *links; /* checked by links_check */
	struct tested tested;
	struct elements elements;
	struct wavelengths asked;     /* empty: each link's own */
	struct link_limits otherwise; /* what holds where the links say nothing */
	double k;                     /* as in budget.h */
	struct bytes unknown;         /* of the present row */
};

#define ASSESS_NONE                                                                                \
	{                                                                                          \
		.k = 3                                                                             \
	}

struct assess_link {
	struct field name;
	size_t first, end; /* its rows among the elements */
	struct link_limits limits;
	/*
	 * Those asked for, else the application's, else those of its losses and its tests, else just 0,
	 * which stands for none.
	 */
	struct wavelengths wavelengths;
};

struct assess_row {
	double wavelength_nm;
	struct budget budget;
	struct budget_sums sums; /* each DB_NONE if not known */
	struct tested_result tested;
	int64_t allowed_udb, margin_udb; /* DB_NONE: not known */
	enum budget_verdict verdict;
	struct field unknown; /* in words, lives until the next row */
};

/* The link whose first row among the arranged elements that is. 0, or -1 with err set. */
int assess_link(struct assess *a, size_t first, struct assess_link *link, struct err *err);

/*
 * The link at its w-th wavelength. Without a test the statistical loss is judged against what is
 * allowed and the typical one against the lower limit; with tests, the mean of these and of what they
 * leave out. 0, or -1 with err set: something does not fit.
 */
int assess_row(struct assess *a, const struct assess_link *link, size_t w, struct assess_row *row,
    struct err *err);

void assess_free(struct assess *a);

#endif
