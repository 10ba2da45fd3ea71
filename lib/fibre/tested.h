/*
 * tested: insertion-loss tests of many links, of which the latest from each end count.
 *
 *	struct tested tested = TESTED_NONE;
 *	const struct tested_row *v;
 *	size_t n;
 *
 *	if (tested_load(&tested, &table) == 0)
 *		for (n = tested_of(&tested, link, &v); n > 0; n--, v++)
 *			use(v->wavelength_nm, v->loss_udb);
 *	tested_free(&tested);
 */
#ifndef THRUM_FIBRE_TESTED_H
#define THRUM_FIBRE_TESTED_H

#include <stdbool.h>
#include <stdint.h>

#include "base/err.h"
#include "base/when.h"
#include "fibre/budget.h"
#include "fibre/wavelengths.h"
#include "table/ids.h"
#include "table/table.h"

struct tested_row {
	int64_t loss_udb;
	double wavelength_nm;
	int method;    /* enum budget_method; -1: not known */
	uint32_t link; /* number of the link among all tests */
	uint32_t from; /* number of the end among all tests */
	uint32_t row;  /* order of appearance */
	struct when at;
	bool has_time;
};

struct tested {
	struct ids links;
	struct tested_row
	    *v; /* by link, then wavelength, then in the order in which the ends appeared */
	size_t n, cap;
	size_t *first; /* for each link its first row, and n behind the last */
};

#define TESTED_NONE                                                                                \
	{                                                                                          \
		IDS_NONE                                                                           \
	}

/* the columns of a table of tests */
extern const struct col tested_cols[];

/*
 * Reads the rows of such a table; all zero: there are no tests. Of several tests of one link from one
 * end at one wavelength the latest is kept: those with a time are later than those without, of equal
 * ones the last row. A row without a loss is ignored. 0, or -1 with the table's err set: a field that is
 * not what it must be, a loss without link or wavelength. tested_free in any case.
 */
int tested_load(struct tested *t, struct table *table);

/* How many tests there are of this link; *v is set to the first of them. */
size_t tested_of(struct tested *t, struct field link, const struct tested_row **v);

/* Adds the wavelengths at which this link was tested to w. 0, or -1 with err set. */
int tested_wavelengths(struct tested *t, struct field link, struct wavelengths *w, struct err *err);

/* how a test lies to what is computed for the connectors it includes */
enum tested_is { TESTED_UNKNOWN, TESTED_AS_COMPUTED, TESTED_HIGH, TESTED_LOW };

struct tested_result {
	int64_t mean_udb;            /* over the ends; DB_NONE: no test at this wavelength */
	int64_t most_udb, least_udb; /* of the whole link; DB_NONE: not known */
	enum tested_is is;           /* of all ends the worst, in the order above */
};

/*
 * Compares the n tests at v that are at this wavelength with the computed budget of the link, end by
 * end, so that one bad end does not hide behind a good one: high above budget_bounds' high_udb (an end
 * not clean, a bend, a joint that opened), low below low_udb or below zero (a bad reference). To make
 * a whole link of it, what each method leaves out is added: with its statistical allowance for
 * most_udb, its typical one for least_udb, the mean over the ends of each. Where the budget is not
 * known, or a method, neither is that. 0, or -1 if something does not fit.
 */
int tested_compare(const struct tested_row *v, size_t n, double wavelength_nm,
    const struct budget *b, double k, struct tested_result *result);

void tested_free(struct tested *t);

#endif
