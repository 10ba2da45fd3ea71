/*
 * budget: what the parts of a link lose together at one wavelength, and how much that may be.
 *
 *	struct budget b = BUDGET_NONE;
 *	struct budget_sums sums;
 *
 *	while (more(&item))
 *		if (budget_add(&b, &item, &allowances, 1550, 3) != BUDGET_KNOWN)
 *			complain();
 * *	if (budget_sums(&b.sum, 3, &sums) == 0)
 *		use(sums.stat_udb);
 *
 * Functions change only what their arguments point to. Losses are summed as whole 10^-6 dB, each
 * rounded once, half away from zero, so that a sum is exact and independent of the order; the
 * variances are doubles.
 *
 * k is how many standard deviations are added for the statistical sum, 0 to 10.
 *
 * Source of the sum A = alpha L + alpha_s x + alpha_c y and of the advice to take it statistically:
 * ITU-T G.652, appendix I. Which connectors a reference method includes: IEC 61280-4-2 and
 * ISO/IEC 14763-3 (from memory).
 */
#ifndef THRUM_FIBRE_BUDGET_H
#define THRUM_FIBRE_BUDGET_H

#include <stdbool.h>
#include <stdint.h>

#include "base/db.h"
#include "fibre/allowance.h"

/* one element of a link as it is at one wavelength */
struct budget_item {
	struct allowance_of of;
	int64_t count;      /* so many alike and independent, 0 to 10^6 */
	int64_t length_ukm; /* of one fibre, 0 to 10^5 km; DB_NONE: not known */
	int64_t
	    loss_udb; /* of one of them (of a whole fibre), to +-1000 dB; DB_NONE: an allowance */
	double sd_db; /* standard deviation of loss_udb, 0 to 1000 */
};

struct budget_part {
	int64_t typical_udb, worst_udb;
	double variance; /* dB^2 */
};

struct budget {
	struct budget_part sum;
	struct budget_part
	    end[2]; /* the first and the last element, if they are connectors: one each */
	bool has_end[2];
	int64_t length_ukm; /* DB_NONE: a fibre's is not known */
	int64_t joints, connectors, measured;
	size_t items, not_known;
};

#define BUDGET_NONE                                                                                \
	{                                                                                          \
		.items = 0                                                                         \
	}

enum budget_why {
	BUDGET_KNOWN,
	BUDGET_NO_KIND,
	BUDGET_NO_LOSS,      /* KIND_OTHER without the name of an allowance */
	BUDGET_NO_LENGTH,    /* a fibre */
	BUDGET_NO_WAYS,      /* a splitter */
	BUDGET_NO_NAME,      /* no allowance of the name */
	BUDGET_NO_CATEGORY,  /* one that is spelled otherwise among the allowances */
	BUDGET_NO_ALLOWANCE, /* none of this kind at this wavelength */
	BUDGET_TOO_LARGE,    /* trouble: does not fit; b is invalid from now on */
};

/*
 * Adds an element behind those added before. It has a loss of its own (then its greatest loss is that
 * and k standard deviations), or its kind's allowance at wavelength_nm (0: only what holds at every
 * wavelength). Variances of independent pieces add up; a fibre of one section is one random amount,
 * so that its standard deviation, not its variance, goes with its length. What is not known adds
 * nothing, is counted in b->not_known and makes budget_sums meaningless.
 */
enum budget_why budget_add(struct budget *b, const struct budget_item *it,
    const struct allowances *allowances, double wavelength_nm, double k);

struct budget_sums {
	int64_t typical_udb; /* sum of the means */
	int64_t stat_udb;    /* that and k sqrt(sum of variances), but never above the worst */
	int64_t least_udb;   /* typical - k sqrt(sum of variances), but no gain */
	int64_t worst_udb;   /* sum of the greatest losses */
};

/* 0, or -1 if a sum does not fit. */
int budget_sums(const struct budget_part *part, double k, struct budget_sums *sums);

/* in the order of BUDGET_METHODS, which a COL_WORD column can take */
enum budget_method { BUDGET_ONE_CORD, BUDGET_TWO_CORD, BUDGET_THREE_CORD };
#define BUDGET_METHODS "one_cord two_cord three_cord"

/* What an insertion-loss test by some method may show, and what it leaves out of the link. */
struct budget_bounds {
	int64_t low_udb;                       /* least credible: typical - k standard deviations */
	int64_t high_udb;                      /* worst */
	int64_t left_least_udb, left_stat_udb; /* of the connectors that are not in it */
};

/*
 * A one-cord reference leaves both end connectors of the link in the result, a three-cord one none. A
 * two-cord one leaves one in it, and it is not known which: the bounds are then the wider of the two
 * cases, and the greater of the two is taken as left out for left_stat_udb, the lesser for
 * left_least_udb. 0, or -1 if something does not fit.
 */
int budget_bounds(
    const struct budget *b, enum budget_method method, double k, struct budget_bounds *bounds);

/* What is known of a link's limits, losses, powers and reserves, to +-1000 dB or dBm; DB_NONE: not known. */
struct budget_limits {
	int64_t max_udb, min_udb;
	int64_t launch_udbm, sensitivity_udbm;     /* the lowest */
	int64_t launch_max_udbm, receive_max_udbm; /* the highest */
	int64_t max_ukm;                           /* length, 0 and up */
	int64_t min_orl_udb;                       /* return loss */
	int64_t reserve_udb;                       /* repair and ageing together; known, 0 and up */
	int64_t penalty_udb;                       /* of the path; known, 0 and up */
};

struct application;

/*
 * What the link's own limits and its application (NULL: none) allow. *allowed_udb: the least of max and
 * the application's max, less the reserve, and of launch - sensitivity, less the reserve and the
 * penalty. *lower_udb: the greater of min and of launch_max - receive_max, each the link's own, else
 * the application's; where these are not both known, of the application's min. Each DB_NONE if there
 * is none.
 */
void budget_allowed(const struct budget_limits *l, const struct application *application,
    int64_t *allowed_udb, int64_t *lower_udb);

#endif
