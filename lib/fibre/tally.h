/*
 * tally: joints counted and summed up by groups, e.g. by closures.
 *
 *	struct tally t;
 *	struct tally_sum sum;
 *	struct tally_joint j = { .group = field_of("quoin"), .name = field_of("QUO-014"),
 *	    .loss_udb = 46000, .basis = JOINT_TWO_WAY,
 *	    .limit = limit_find(&limits, field_of("fusion"), false) };
 *
 *	tally_start(&t, limits.nmeans, true);
 *	tally_add(&t, &j);
 *	tally_end(&t);
 *	for (size_t g = 0; g < t.n; g++)
 *		tally_sum(&t, g, &sum);
 *	tally_free(&t);
 *
 * Every sum is exact (base/stat.h). The order of the joints matters only where two have the same loss
 * or the same time: the first of them is named then.
 */
#ifndef THRUM_FIBRE_TALLY_H
#define THRUM_FIBRE_TALLY_H

#include "base/stat.h"
#include "base/when.h"
#include "fibre/joint.h"
#include "fibre/limit.h"
#include "table/ids.h"

struct tally_joint {
	struct field group;
	struct field name, tray;   /* empty: not known */
	int64_t loss_udb;          /* DB_NONE: not known */
	unsigned basis;            /* JOINT_TWO_WAY, JOINT_ESTIMATE or 0 */
	const struct limit *limit; /* NULL: none known */
	struct field made_text;    /* empty: not known */
	struct when made;
};

enum tally_verdict { TALLY_PASS, TALLY_FAIL, TALLY_UNKNOWN };

struct tally_sum {
	struct field group;
	uint64_t joints, passed, failed, unknown, known; /* known: those of a known loss */
	unsigned basis;
	int64_t mean_udb, median_udb, p95_udb, max_udb; /* DB_NONE: not known */
	double sd_udb;                                  /* -1: not known, below two losses */
	struct field worst, trays, first, last;         /* live until the next tally_sum */
	enum tally_verdict verdict;
};

struct tally {
	struct ids ids;
	struct tally_group *groups;
	int128 *above; /* for each group and each limited mean: the sum of loss - limit */
	size_t n, cap_groups, cap_above, nmeans;
	bool quantiles;
	struct ids trays; /* those that are no small numbers, behind the number of their group */
	struct tally_tray *sorted;
	size_t listed; /* how many of `sorted` are in the sums already */
	struct bytes texts, list;
	struct pile pile;
	struct tally_waiting *waiting; /* joints not added yet; see tally.c */
	size_t nwaiting;
};

/*
 * nmeans: how many of the limits are of a mean (struct limits). Without quantiles no loss is kept
 * after it has been added, and median and p95 are never known.
 */
void tally_start(struct tally *t, size_t nmeans, bool quantiles);

enum { TALLY_MOST_DB = 100000000 };

/*
 * Adds one joint that stands, with a loss from -TALLY_MOST_DB to TALLY_MOST_DB. Groups are numbered
 * from 0 in the order of their first joint. A joint has passed if its loss is not above what its
 * limit allows each, failed if it is, else it is unknown. What j points to is copied.
 */
void tally_add(struct tally *t, const struct tally_joint *j);

/* To be called once, between the last tally_add and the first tally_sum. */
void tally_end(struct tally *t);

/*
 * What there is to say of a group; groups must be asked for in rising order, each once. The verdict
 * is to fail if a joint has failed, or if the joints of one limit lose more on average than that limit
 * allows; else unknown if a joint is; else to pass. The p95 is quantile 95 of base/stat.h.
 */
void tally_sum(struct tally *t, size_t group, struct tally_sum *sum);

void tally_free(struct tally *t);

#endif
