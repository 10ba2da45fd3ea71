/*
 * assess: one link at one wavelength, from all the tables that say something about it.
 *
 *	struct assess a = ASSESS_NONE;		then read the tables into it
 *	struct assess_link link = ASSESS_FIRST;
 *	struct assess_row row;
 *
 *	if (elements_arrange(&a.elements, &err) == 0)
 *		while (assess_next(&a, &link, &err))
 *			for (size_t w = 0; w < link.wavelengths.n; w++)
 *				if (assess_row(&a, &link, w, &row, &err) == 0)
 *					use(&row);
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
	struct bytes unknown, says;   /* of the present row */
};

#define ASSESS_NONE                                                                                \
	{                                                                                          \
		.elements = ELEMENTS_NONE, .k = 3                                                  \
	}

struct assess_link {
	struct field name;
	size_t first, end; /* its rows among the elements; both alike: it has none */
	/*
	 * Those asked for, else those of its rows in the links table and of its application, else those
	 * of its losses and its tests, else just 0, which stands for none.
	 */
	struct wavelengths wavelengths;
	size_t next_link, next_tested; /* where to go on among the links and the tests */
};

#define ASSESS_FIRST                                                                               \
	{                                                                                          \
		.end = 0                                                                           \
	}

enum assess_verdict { ASSESS_PASS, ASSESS_OVER, ASSESS_OVERLOAD, ASSESS_UNKNOWN };

struct assess_row {
	double wavelength_nm;
	struct budget budget;
	struct budget_sums sums; /* each DB_NONE if not known */
	struct tested_result tested;
	int64_t allowed_udb, margin_udb;     /* DB_NONE: not known */
	int64_t cd_ups_nm, pmd_ups, orl_udb; /* the same, in 10^-6 ps/nm, ps and dB */
	enum assess_verdict verdict;
	struct field says;    /* in words why it is not pass; lives until the next row */
	struct field unknown; /* what is not known, in words; the same */
};

/*
 * The next link: those of the elements in order of first appearance, then those of the links table and
 * of the tests that have no elements. false: that was the last, or err is set.
 */
bool assess_next(struct assess *a, struct assess_link *link, struct err *err);

/*
 * The link at its w-th wavelength. Without a test the statistical loss is judged against what is
 * allowed and the least one against the lower limit; with tests each of them is, with what it leaves
 * out. Over is a link that is known to break a limit, overload one that may lose less than it must. Else
 * it is unknown if anything that a verdict needs is missing: a part's loss, a limit, the application's
 * row of this wavelength, a test of it where there is a table of tests, and of the other direction (unless
 * one_way), a length where there is a reach, a test that is possible. 0, or -1 with err set: something does not fit.
 */
int assess_row(struct assess *a, const struct assess_link *link, size_t w, struct assess_row *row,
    struct err *err);

void assess_free(struct assess *a);

#endif
