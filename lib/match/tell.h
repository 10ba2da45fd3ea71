/*
 * tell: which arc is a joint's standing attempt, over all machines and nights, and which arcs are open.
 *
 * An arc is told as a joint's standing attempt if the chance that it is this joint, less the chances
 * that any later arc is, reaches the odds asked for (the chance of a sum is at most the sum of the
 * chances). Earlier attempts are told if each is sure by itself.
 */
#ifndef THRUM_MATCH_TELL_H
#define THRUM_MATCH_TELL_H

#include "match/evidence.h"

enum match_fate {
	MATCH_OPEN, /* what it is is not sure */
	MATCH_HELD, /* it is sure, but not which attempt of the joint stands */
	MATCH_TOLD, /* an attempt at a joint, in the joints table */
	MATCH_PRACTISED,
	MATCH_ELSEWHERE,
};

/* what was said of the place of an arc that is no joint: there, or on those of its kind before it */
enum match_place { MATCH_UNNAMED, MATCH_IN_PLAN, MATCH_OUTSIDE };

/* what becomes of one arc seen */
struct match_verdict {
	uint32_t best, second; /* units, MATCH_IS_..., or MATCH_NONE */
	float odds;            /* chance of best */
	uint8_t fate;
	uint8_t place; /* enum match_place */
	bool twice;    /* held because another machine comes to the same joint */
	bool mistyped; /* what was typed is not what it is */
};

/* a row of the joints table */
struct match_row {
	uint32_t record, joint, attempt;
	float chance; /* that it is this joint, and of the standing one that no later one is */
	bool stands;
	struct when at;
};

/* what was read of one stream */
struct match_read {
	const struct match_course *course;
	struct match_verdict *v; /* of each arc seen */
	struct match_hint *hints;
	bool *unproven; /* of each closure: slot order neither stated nor proven, and worked in */
};

struct match_night {
	const struct match_arcs *arcs;
	const struct match_stated *stated;
	struct match_course courses[25]; /* by how many fibres an arc joins; with units or not */
	struct match_read *read;         /* of each stream */
	struct match_row *rows;          /* by time */
	size_t nrows, cap_rows, ntold;   /* ntold: joints */
	bool *recorded;                  /* of each joint: it is told, or made before */
};

/* arcs and stated must outlive it. odds: 1 or more. match_night_free in any case. */
void match_night_read(struct match_night *n, const struct match_arcs *arcs,
    const struct match_stated *stated, double odds);
void match_night_free(struct match_night *n);

#endif
