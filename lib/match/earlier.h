/*
 * earlier: what joints of other nights tell: attempts, what stands, and which arcs are known already.
 */
#ifndef THRUM_MATCH_EARLIER_H
#define THRUM_MATCH_EARLIER_H

#include "match/plan.h"

enum {
	EARLIER_JOINT,
	EARLIER_ATTEMPT,
	EARLIER_STANDS,
	EARLIER_MADE_AT,
	EARLIER_SPLICER,
	EARLIER_ARC,
};

/* clang-format off */
#define MATCH_EARLIER_COLUMNS                                                                      \
	[EARLIER_JOINT] = { "joint", COL_NEED, COL_TEXT },                                         \
	[EARLIER_ATTEMPT] = { "attempt", COL_MAY, COL_WHOLE, 1, 100000 },                         \
	[EARLIER_STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },                     \
	[EARLIER_MADE_AT] = { "made_at", COL_MAY, COL_TIME },                                      \
	[EARLIER_SPLICER] = { "splicer", COL_MAY, COL_TEXT },                                      \
	[EARLIER_ARC] = { "arc", COL_MAY, COL_TEXT }
/* clang-format on */

/* what an earlier night knows of a joint */
struct match_before {
	uint32_t attempts;
	bool stands, has_at; /* one of them stands; when the latest such was made is known */
	struct when at;
};

struct match_earlier {
	struct match_before *before; /* of each joint of the plan */
	struct ids arcs;             /* machine, number and time */
};

/*
 * Reads the table, whose first columns are those above; it may have no rows. Joints that are not
 * planned are passed over, their arcs are not. 0, or -1 with its err set. match_earlier_free in any
 * case.
 */
int match_earlier_read(struct match_earlier *e, struct table *t, const struct planned *plan);

/* true if this arc is a joint of an earlier night: with its time, put right, as it is written there */
bool match_earlier_has(
    struct match_earlier *e, struct field splicer, int64_t number, const struct when *at);

void match_earlier_free(struct match_earlier *e);

#endif
