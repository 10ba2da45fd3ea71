/*
 * settle: what becomes of each arc of a night, once every machine's walk is known.
 *
 * An arc is left to a person where its meaning is not sure: where a second reading is near the
 * first; where what was typed fits no joint; where several machines, or several visits, come to one
 * joint and not all of them had it typed; where the numbers of arcs run backwards. In the last two
 * cases all arcs of the visit around it are left, as far as to arcs whose joint was typed. And a
 * joint that an arc so left might be is left with all its arcs, since nobody knows which stands.
 */
#ifndef THRUM_MATCH_SETTLE_H
#define THRUM_MATCH_SETTLE_H

#include "match/arcs.h"

enum match_fate {
	MATCH_JOINED,    /* an attempt at a joint */
	MATCH_PRACTISED, /* a practice arc */
	MATCH_OUTSIDE,   /* work at what the plan does not have, by what was typed */
	MATCH_LEFT,      /* not sure */
	MATCH_AWAY,      /* work in some closure nobody named */
};

struct match_settled {
	enum match_fate fate;
	uint32_t label, second; /* as in struct match_reading */
	int32_t margin;
	uint32_t one,
	    other; /* in the two readings of its stretch, each of one piece; else its label */
	uint32_t attempt; /* of MATCH_JOINED: 1, 2, ... in the order of time */
	bool stands;      /* it is the joint's last */
	bool claimed;     /* of MATCH_LEFT: by several, or by numbers that run backwards */
};

/* arcs of one machine, one after the other, that are left or away; sure practice among them */
struct match_stretch {
	size_t first, end; /* of match_arcs.v */
	bool two;          /* there are two readings of it */
};

struct match_night {
	const struct match_arcs *arcs;
	struct match_settled *v; /* of each arc that was read, as in arcs->v */
	struct match_stretch *stretch;
	size_t nstretches, stretch_cap;
	uint32_t *joined; /* the arcs that are attempts, by time */
	size_t njoined;
	uint8_t *recorded; /* of each joint: some arc is an attempt at it */
	uint8_t *doubtful; /* of each joint: some arc that is left might be */
	int32_t threshold;
};

/* arcs must outlive it. To be freed. */
void match_settle(struct match_night *n, const struct match_arcs *arcs, int32_t threshold);

void match_night_free(struct match_night *n);

#endif
