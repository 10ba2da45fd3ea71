/*
 * tally: the joints of all nights as they stand, counted and summed up by groups, e.g. by closures, and
 * wavelengths.
 *
 *	struct tally t;
 *	struct tally_row row = { .group = field_of("quoin"), .closure = field_of("quoin"),
 *	    .name = field_of("QUO-014"), .loss_udb = 46000, .basis = JOINT_TWO_WAY, .nm = 1550,
 *	    .est_udb = DB_NONE, .plan = PLAN_NONE };
 *	struct tally_group group;
 *	struct tally_sum sum;
 *
 *	tally_start(&t, &limits, NULL, JOINT_TWO_WAY, &none);
 *	if (tally_add(&t, &row, &err) == 0)
 *		tally_end(&t);
 *	while (tally_next(&t, &group))
 *		for (size_t w = 0; w < group.wavelengths.n; w++)
 *			tally_sum(&t, &group, w, true, &sum);
 *	tally_free(&t);
 *
 * Every sum is exact (base/stat.h). The order of the joints matters only where two have the same loss
 * or the same time: the first of them is named then. What counts of several rows is in night.h, how it
 * is judged in limit.h.
 */
#ifndef THRUM_FIBRE_TALLY_H
#define THRUM_FIBRE_TALLY_H

#include "base/stat.h"
#include "fibre/limit.h"
#include "fibre/night.h"
#include "fibre/plan.h"
#include "fibre/wavelengths.h"

/* what a row says of its joint, once it stands */
struct tally_row {
	struct field group;
	struct field name; /* empty: without one the key tells it */
	struct field
	    key; /* tells a joint without a name from others; empty: it is one of its own */
	struct night_attempt attempt;
	struct field made_text;
	struct field closure, kind, tray;
	bool ribbon;
	enum joint_basis accept;
	int64_t loss_udb, est_udb; /* DB_NONE: not known */
	enum joint_basis basis;    /* of loss_udb */
	bool gain;                 /* loss_udb cannot be a loss: it is not counted */
	double nm;                 /* of loss_udb; 0: not known */
	struct field with;         /* with what loss_udb is shared (loss_with); empty: nothing */
	bool failed;               /* whatever it loses */
	bool doubtful;             /* unknown, whatever it loses */
	bool amiss, surplus;       /* against the plan */
	size_t plan;               /* row of the plan, or PLAN_NONE */
};

enum tally_verdict { TALLY_PASS, TALLY_FAIL, TALLY_UNKNOWN };

struct tally_group {
	struct field name;
	size_t number, first_joint, end_joint, ntrays; /* for tally.c and tally_part.c */
	struct wavelengths wavelengths;                /* one that is 0 if none is known */
	uint64_t joints, planned, not_due, missing, amiss, surplus;
	struct field trays, first, last; /* live until the next tally_next */
};

/* bits of tally_sum.bases: 1 << of enum joint_basis, and of losses that are shared */
enum { TALLY_MERGED = 1 << JOINT_UNKNOWN };

struct tally_sum {
	uint64_t passed, failed, unknown, known; /* known: those of a known loss that is accepted */
	unsigned bases;
	int64_t mean_udb, median_udb, p95_udb, max_udb; /* DB_NONE: not known */
	double sd_udb;                                  /* -1: not known, below two losses */
	struct field worst;                             /* lives as long as the tally */
	enum tally_verdict verdict;
};

/* a tally is all there is, one of several that tally_part.h hands on, or the sum of such */
enum tally_mode { TALLY_WHOLE, TALLY_PARTIAL, TALLY_MERGE };

struct tally {
	enum tally_mode mode; /* set behind tally_start */
	const struct limits *limits;
	const struct plan *plan; /* NULL: none */
	enum joint_basis accept;
	const struct wavelengths *asked; /* none: those that are seen */
	bool closures;                   /* a limit names one */

	struct night night, undone; /* undone: attempts that do not stand */
	struct tally_joint *joints; /* as they stand, by their number in `night` */
	size_t cap_joints;
	uint64_t nameless; /* joints that nothing tells from others */
	struct tally_reading *readings;
	size_t nreadings, cap_readings;
	double nm[WAVELENGTHS_MOST]; /* in the order of appearance */
	size_t nnm;
	bool
	    seen[WAVELENGTHS_MOST + 1]; /* which of them, from 1, a joint that stands was read at */
	struct region texts;
	struct ids groups, trays, kinds, withs;
	struct tally_kind *kind; /* joints that are judged alike */
	size_t cap_kind;

	size_t *order, *start; /* joints by groups; where each group's begin */
	uint64_t *planned, *not_due, *missing;
	bool *there;      /* each row of the plan: its joint stands in its closure */
	uint64_t *astray; /* for each group the rows in it of an attempt that is in another one */
	size_t cap_astray;
	size_t next;
	size_t *met; /* for each tray the last group it was met in, from 1 */
	struct tally_tray *sorted;
	int64_t *losses;
	struct tally_part *parts; /* in place of joints, from tables of tally_part.h */
	size_t nparts, cap_parts;
	struct tally_gathered *gathered; /* for each group */
	size_t ngathered, cap_gathered;
	struct counted *counted;
	struct tally_reading_parts {
		uint32_t run;        /* of the present table and group, from 1 */
		uint32_t group;      /* the present one, from 1 */
		uint64_t rows, ends; /* rows since the last end; tables ended */
		const char *file;    /* the present one */
	} of;
	int128 *above;     /* for each limited mean: the sum of loss - limit */
	int64_t *mean_udb; /* and the limit */
	struct bytes list;
};

/*
 * accept: what is enough for all joints. asked: the wavelengths that are required; none: those seen in
 * each group, or with a plan in any. plan: NULL: there is none; else groups are its closures. All must outlive t.
 */
void tally_start(struct tally *t, const struct limits *limits, const struct plan *plan,
    enum joint_basis accept, const struct wavelengths *asked);

enum { TALLY_MOST_DB = 100000000 };

/*
 * Adds a row that stands, with losses from -TALLY_MOST_DB to TALLY_MOST_DB. Groups are numbered from 0
 * in the order of their first row. What it points to is copied. 0, or -1 with err set: more than
 * WAVELENGTHS_MOST wavelengths.
 */
int tally_add(struct tally *t, const struct tally_row *row, struct err *err);

/*
 * Adds a row that does not stand; of it name, key and attempt are read. If it was made later than
 * the attempt that counts, the joint is doubtful.
 */
void tally_add_undone(struct tally *t, const struct tally_row *row);

/* To be called once, between the last tally_add and the first tally_next. */
void tally_end(struct tally *t);

/* The next group that has joints, or that is planned; false: no more. */
bool tally_next(struct tally *t, struct tally_group *g);

/*
 * The joints of the group at one of its wavelengths, or without. A joint that has no reading there is
 * judged by its estimate, which has no wavelength. It has passed if the basis of its loss is accepted,
 * and the loss is not above what its limit allows each; it has failed if the loss is above that, or it
 * has failed otherwise; else it is unknown. A loss that is shared is held against the sum of the limits of
 * all that share it (limit.h), and is in none of the figures: nobody knows the share of each. Mean and
 * quantiles are over the other losses accepted. The verdict is
 * to fail if a joint has failed, is amiss or surplus, or if the joints of one limit lose more on
 * average than that limit allows; else unknown if a joint is, or is missing, or there is none; else to
 * pass. The p95 is quantile 95 of base/stat.h; without quantiles it and the median are not known.
 */
void tally_sum(struct tally *t, const struct tally_group *g, size_t wavelength, bool quantiles,
    struct tally_sum *sum);

void tally_free(struct tally *t);

#endif
