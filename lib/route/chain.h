/*
 * chain: where the sections of fibre along a link lie, as seen by light: what the records say of their
 * lengths, corrected by what was read from either end; and where a distance falls.
 *
 *	struct chain c;
 *	struct chain_found at;
 *
 *	chain_begin(&c, sections, n, &sd);
 *	chain_read(&c, 0, &reading);		each reading, from end 0 or 1
 *	chain_settle(&c);
 *	if (chain_find(&c, 0, 7312, 1.4682, 1, &at) == CHAIN_IN)
 *		at.section, at.part, at.sd_m
 *	chain_free(&c);
 *
 * The lengths are jointly normal. Of sections 0 ... n-1 from end 0, node k lies before section k. Optical
 * lengths are in metres of a fibre whose group index is CHAIN_INDEX. What is not a standard deviation
 * is a bound, and counts as evenly spread within it.
 */
#ifndef THRUM_ROUTE_CHAIN_H
#define THRUM_ROUTE_CHAIN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define CHAIN_INDEX                                                                                \
	1.4675 /* the middle of 1.466 to 1.469: taken where a cable does not state one */

/* fibre is longer than its sheath by 0.5 to 4 %, evenly: common practice */
#define CHAIN_EXCESS      0.0225
#define CHAIN_EXCESS_HALF 0.0175

enum { CHAIN_MOST = 500 }; /* sections: they need n * n numbers, and n * n * n steps */

/* standard deviations */
struct chain_sd {
	double mark_m; /* of a length mark on the sheath, and of a slack length */
	double index;  /* of a cable's group index, as stated */
	double
	    length; /* of a section's fibre, as a share of it, beside what its cable's excess gives */
};

struct chain_section {
	double fibre_m;  /* as measured; NAN: not known */
	double sheath_m; /* NAN: not known; both: a place behind it cannot be told */
	double index;    /* NAN: not stated */
	uint32_t cable;  /* sections of one number have one excess, and one error of the index */
	bool inside;     /* within one site: its two ends are one point to an instrument */
};

struct chain_point {
	double m;  /* from the link's first connector, as shown */
	bool last; /* the end of the trace: the last connector, or nothing */
};

struct chain_reading {
	const struct chain_point *v; /* in the order of m */
	size_t n;
	double index; /* NAN: not stated */
	double sample_m;
};

struct chain {
	const struct chain_section *v;
	size_t n;
	double *
	    mean; /* of the sections' lengths, and behind these of the error of an unstated index */
	double *cov;         /* theirs, n + 1 by n + 1 */
	double *with, *gain; /* room for a row each */
	bool *seen;          /* for each node: a reading has a point there */
	size_t reach[2];     /* from either end so many sections are of known length */
	double index;        /* of the whole, by length */
	double misses;       /* of readings, squared, in units of their variance */
	size_t read;
	struct chain_part *parts[2];
};

/* The lengths as the records have them. n is 1 to CHAIN_MOST; v outlives c. */
void
chain_begin(struct chain *c, const struct chain_section *v, size_t n, const struct chain_sd *sd);

/*
 * What was read from end `side`. A point belongs to the site whose place it meets within 3 standard
 * deviations, and within 0.45 of the way to the next one; where several do that are not one point, to none.
 */
void chain_read(struct chain *c, unsigned side, const struct chain_reading *reading);

/* After all readings: where they scatter more than they should, all is less certain. */
void chain_settle(struct chain *c);

/* What an instrument's distance can be off by, in m: a bound. */
double chain_bound(double m, double sample_m);

enum chain_where { CHAIN_IN, CHAIN_BEFORE, CHAIN_BEHIND, CHAIN_UNKNOWN };

struct chain_found {
	size_t section;
	double part;       /* how far along it from its end 0: 0 to 1 */
	double length_m;   /* of it, optical */
	double at_m, sd_m; /* the place from end `side`, optical */
	double noise;      /* the part of sd_m * sd_m that is the instrument's */
	double loose_m;    /* the distance, if its index is not stated; else 0 */
	double off_m;      /* before or behind the link by so much */
};

/*
 * Where the distance m, read from end `side` with this index (NAN: not stated), lies. CHAIN_UNKNOWN: in or
 * behind a section of unknown length, which is found->section. A place off the link by less than 1.96 standard
 * deviations is at its end.
 */
enum chain_where chain_find(const struct chain *c, unsigned side, double m, double index,
    double sample_m, struct chain_found *found);

/*
 * The same place read from the other end too: *found, of end `side`, becomes what both say. False, and as it
 * was: they differ by more than 3 standard deviations; *apart_m is by how much. All lengths are known.
 */
bool chain_meet(const struct chain *c, unsigned side, struct chain_found *found,
    const struct chain_found *other, double *apart_m);

void chain_free(struct chain *c);

#endif
