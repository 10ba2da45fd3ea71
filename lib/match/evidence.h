/*
 * evidence: how likely what is known of an arc is, given what it may have been: its look, the time since
 * the arc before, what was typed, and what people stated and answered. Made into what match_decode
 * wants; some of it is learnt from the night itself.
 */
#ifndef THRUM_MATCH_EVIDENCE_H
#define THRUM_MATCH_EVIDENCE_H

#include "match/arcs.h"
#include "match/decode.h"

enum match_said { MATCH_SAID_JOINT, MATCH_SAID_RETRY, MATCH_SAID_PRACTICE, MATCH_SAID_ELSEWHERE };

struct match_visit {
	uint32_t machine, closure, tray; /* of the plan; tray: MATCH_NONE if it is not known */
	struct when from, to;
	bool ends; /* to is known */
	int dir;   /* enum match_dir, or -1 */
};

struct match_answer {
	uint32_t machine;
	int64_t number;
	uint8_t is;     /* enum match_said */
	uint32_t joint; /* of the plan, or MATCH_NONE */
};

/* what people stated: the visits by machine and time, the answers by machine and number */
struct match_stated {
	int order; /* enum match_dir, or -1 */
	struct match_visit *visits;
	size_t nvisits, cap_visits;
	struct match_answer *answers;
	size_t nanswers, cap_answers;
};

/* what of an arc was new among what was typed */
enum match_typing { MATCH_TYPED_NOTHING, MATCH_TYPED_PLACE, MATCH_TYPED_JOINT, MATCH_TYPINGS };

/* habits of one machine and its crew; learnt, from what is usual */
struct match_habits {
	double gap_mean[MATCH_HOWS], gap_sd[MATCH_HOWS]; /* of ln (seconds / pace) */
	double typed[MATCH_HOWS][MATCH_TYPINGS];         /* chance of each */
	double trial; /* of a missing number, that a trial used it up, against that a move did */
	double left_over; /* chance that what was typed twice running is left over */
	struct match_shares shares;
};

/* what is known of an arc beside its by_how */
struct match_hint {
	uint32_t typed, visit, answer; /* numbers, or MATCH_NONE */
	uint8_t typing;
	bool same_closure, same_tray, same_joint; /* typed as on the arc before that had it */
	double gap;                               /* ln (seconds / pace), or NAN */
};

struct match_evidence {
	const struct match_arcs *arcs;
	const struct match_stream *stream;
	const struct planned_course *course;
	const struct match_stated *stated;
	struct match_habits habits;
	struct match_arc *v; /* of each arc seen */
	struct match_hint *hints;
	uint32_t *near;
	size_t nnear, cap_near;
	double (*dirs)[MATCH_DIRS]; /* of each closure */
	bool *stated_dir;           /* of each closure: its order is stated */
	double pace_s;
};

/* All must outlive it. match_evidence_free in any case. */
void match_evidence_open(struct match_evidence *e, const struct match_arcs *arcs,
    const struct match_stream *stream, const struct planned_course *course,
    const struct match_stated *stated);

/* Fills in by_how by the habits. */
void match_evidence_weigh(struct match_evidence *e);

/* Learns the habits from how each arc was reached. */
void match_evidence_learn(struct match_evidence *e, const struct match_decoded *d);

/* For match_task.unit; of is a struct match_evidence. */
double match_evidence_unit(const void *of, size_t arc, uint32_t unit);

/* How likely what was typed on an arc is if it is the joint: 1 if it fits, far less if not. */
double match_typed_fits(const struct match_evidence *e, size_t arc, uint32_t joint);

void match_evidence_free(struct match_evidence *e);

#endif
