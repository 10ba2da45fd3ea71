/*
 * tested: insertion-loss tests of many links, of which the latest in each direction count.
 *
 *	struct tested tested = TESTED_NONE;
 *	struct tested_result result;
 *
 *	if (tested_load(&tested, &table, &links) == 0 &&
 *	    tested_compare(&tested, &elements, link, 1550, &budget, 3, &result) == 0)
 *		use(result.end[TESTED_AB].loss_udb);
 *	tested_free(&tested);
 */
#ifndef THRUM_FIBRE_TESTED_H
#define THRUM_FIBRE_TESTED_H

#include <stdbool.h>
#include <stdint.h>

#include "base/err.h"
#include "base/when.h"
#include "fibre/element.h"
#include "fibre/wavelengths.h"
#include "table/ids.h"
#include "table/table.h"

/* the directions: light from site_a, from site_b */
enum { TESTED_AB, TESTED_BA, TESTED_ENDS };

struct tested_row {
	int64_t loss_udb;
	int64_t orl_udb; /* DB_NONE: not known */
	double wavelength_nm;
	int method;    /* enum budget_method; -1: not known */
	uint32_t link; /* number of the link among all tests */
	uint32_t row;  /* order of appearance */
	struct when at;
	bool has_time;
	uint8_t end; /* TESTED_AB or TESTED_BA */
};

struct tested {
	bool given; /* there is a table of tests */
	struct ids links;
	struct ids names;     /* of ends */
	struct tested_row *v; /* by link, then wavelength, then end */
	size_t n, cap;
	size_t *first; /* for each link its first row, and n behind the last */
	struct tested_sides {
		uint32_t name[TESTED_ENDS]; /* number in names; UINT32_MAX: not known */
	} * sides;                          /* for each link */
	size_t cap_sides;
};

#define TESTED_NONE                                                                                \
	{                                                                                          \
		.links = IDS_NONE, .names = IDS_NONE                                               \
	}

/* the columns of a table of tests */
extern const struct col tested_cols[];

/*
 * Reads the rows of such a table; all zero: there are no tests. `from` is one of the link's sites in the
 * links table (all zero: there is none); where that names none, of the two ends the one that appears
 * first is a. Of several tests of one link in one direction at one wavelength the latest is kept: those
 * with a time are later than those without; where it is not certain which is later, the one with the
 * greater loss; of those without a time the last row. A row without a loss is ignored. 0, or -1 with the table's err set: a field that is not what it must be, a loss without link or
 * wavelength, from no end of the link. tested_free in any case.
 */
int tested_load(struct tested *t, struct table *table, struct table *links);

/* Adds the wavelengths at which this link was tested to w. 0, or -1 with err set. */
int tested_wavelengths(struct tested *t, struct field link, struct wavelengths *w, struct err *err);

/* how a test lies to what is computed for the connectors it includes */
enum tested_is { TESTED_UNKNOWN, TESTED_AS_COMPUTED, TESTED_HIGH, TESTED_LOW };

struct tested_end {
	int64_t loss_udb;            /* DB_NONE: no test in this direction that counts */
	int64_t most_udb, least_udb; /* of the whole link; DB_NONE: not known */
	enum tested_is is;
	int64_t bound_udb;        /* the one that a high or low test breaks */
	struct field from;        /* the end's name; may be empty */
	const struct when *since; /* the test is older than a joint of this time; NULL: it is not */
};

struct tested_result {
	struct tested_end end[TESTED_ENDS];
	int ends;          /* how many of them have a test at this wavelength that counts */
	int outdated;      /* how many have one that does not, as a joint was made after it */
	enum tested_is is; /* of both the worst, in the order above */
	int64_t orl_udb;   /* the least of both; DB_NONE: not known */
};

/*
 * Compares the link's tests at this wavelength with its computed budget, each direction by itself: high
 * 0.2 dB above budget_bounds' high_udb (an end not clean, a bend, a joint that opened), low 0.2 dB below
 * low_udb or below zero (a bad reference). To make a whole link of it, what each method leaves out is added: with
 * its statistical allowance for most_udb, with its least for least_udb. Where the budget is not known, or
 * a method, neither is that. budget NULL: it is not known. A test that is surely older than a joint of the
 * link does not count. 0, or -1 if something does not fit.
 */
int tested_compare(struct tested *t, const struct elements *elements, struct field link,
    double wavelength_nm, const struct budget *budget, double k, struct tested_result *result);

void tested_free(struct tested *t);

#endif
