/*
 * place: where a walk (match/match.h) may stand after an arc. For match_walk and match_read, which
 * look for different things among the same walks.
 *
 * The places after an arc are numbered: first nowhere and elsewhere, then for each closure of the
 * arc's stage MODES blocks, one place a joint: the arc was an attempt at the joint (ATTEMPT), or a
 * practice arc since a bad one (SINCE_BAD) or another (SINCE_FINE). One number for each of them is a
 * row. Row r is that after r arcs: the first, before any arc, has only NOWHERE and ELSEWHERE.
 */
#ifndef THRUM_MATCH_PLACE_H
#define THRUM_MATCH_PLACE_H

#include "match/match.h"

enum { NOWHERE, ELSEWHERE, JOINTS };
enum { ATTEMPT, SINCE_BAD, SINCE_FINE, MODES };

struct match_task {
	const struct match_plan *plan;
	const struct match_costs *costs;
	const struct match_machine *machine;
};

static inline const struct match_list *
match_stage(const struct match_task *t, size_t arc)
{
	return &t->machine->stages[t->machine->arcs[arc].stage];
}

/* How many joints a closure has. */
static inline uint32_t
match_joints(const struct match_task *t, uint32_t closure)
{
	return t->plan->first[closure + 1] - t->plan->first[closure];
}

/* How many places there are after arcs of a stage. */
size_t match_width(const struct match_task *t, const struct match_list *stage);

/* Where a closure's places begin, or 0: it is not in the stage. */
size_t match_block(const struct match_task *t, const struct match_list *stage, uint32_t closure);

struct match_place {
	bool at_joint;
	uint32_t closure, joint; /* the joint counted within its closure */
	size_t mode;
};

struct match_place
match_place_of(const struct match_task *t, const struct match_list *stage, size_t at);

#endif
