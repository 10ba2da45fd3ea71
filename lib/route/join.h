/*
 * join: what is at each fibre end, by the records and by the plan, and what is wrong there.
 *
 *	struct joined g;
 *
 *	joined_make(&g, &records);
 *	next = joined_next(&g, end);
 *	joined_free(&g);
 *
 * Every end has one thing: a joint, a port, a splitter's leg, or nothing. Records that agree with the plan are
 * joined first, so that one that does not cannot take their place; all others in the order of the
 * joints' first appearance.
 */
#ifndef THRUM_ROUTE_JOIN_H
#define THRUM_ROUTE_JOIN_H

#include "route/records.h"

/* what is at an end: AT_... << 28, and its number */
enum at_what { AT_NOTHING, AT_JOINT, AT_PORT, AT_LEG, AT_PLANNED, AT_EXPRESS, AT_AWAY };

static inline uint32_t
at_of(enum at_what what, uint32_t number)
{
	return (uint32_t)what << 28 | number;
}

static inline enum at_what
at_what(uint32_t at)
{
	return (enum at_what)(at >> 28);
}

static inline uint32_t
at_number(uint32_t at)
{
	return at & 0x0fffffff;
}

struct joined {
	struct records *r;
	uint32_t *at; /* by the records: AT_NOTHING, _JOINT, _PORT or _LEG */
	uint32_t
	    *planned; /* by the plan: AT_NOTHING, _PLANNED (join), _EXPRESS, _AWAY; NULL: no plan */
};

/* Numbers the ends, joins them, finds what is wrong at them. 0, or -1 with err set: too many. */
int joined_make(struct joined *g, struct records *r, struct err *err);

/*
 * The end that light goes on into from this one, which no joint, port or leg is at: the same fibre behind a
 * site where its cable is not cut or the plan says express. END_NONE: it ends here.
 */
uint32_t joined_beyond(const struct joined *g, uint32_t end);

/* The other end of the joint at this end. */
static inline uint32_t
joined_other(const struct joined *g, uint32_t end)
{
	const struct record_joint *j = &g->r->joints[at_number(g->at[end])];

	return j->spot[0].at == end ? j->spot[1].at : j->spot[0].at;
}

/* "CABLE:FIBRE" of an end, for a finding. */
struct field joined_name(struct joined *g, uint32_t end);

void joined_free(struct joined *g);

#endif
