/*
 * evidence: how likely what is known of an arc is, given what it may have been: its look, the time since
 * the arc before, what was typed, and what people stated and answered. Made into what match_decode
 * wants; some of it is learnt from the night itself.
 */
#ifndef THRUM_MATCH_EVIDENCE_H
#define THRUM_MATCH_EVIDENCE_H

#include "match/decode.h"
#include "match/stated.h"

/* what of an arc was new among what was typed */
enum match_typing { MATCH_TYPED_NOTHING, MATCH_TYPED_PLACE, MATCH_TYPED_JOINT, MATCH_TYPINGS };

/* habits of one machine and its crew; learnt, from what is usual */
struct match_habits {
	double gap_mean[MATCH_HOWS], gap_sd[MATCH_HOWS]; /* of ln (seconds / pace) */
	double typed[MATCH_HOWS][MATCH_TYPINGS];         /* chance of each */
	double trial; /* of a missing number, that a trial used it up, against that a move did */
	struct match_shares shares;
};

enum { TYPED_CLOSURE, TYPED_TRAY, TYPED_JOINT, TYPED_PARTS };

/* what is known of an arc beside its by_how */
struct match_hint {
	uint32_t typed, visit, answer; /* numbers, or MATCH_NONE */
	uint8_t typing;
	bool same[TYPED_PARTS]; /* as on the arc before that had it */
	double gap; /* ln (seconds / pace), or NAN: not known, or records are missing there */
};

struct match_evidence {
	const struct match_arcs *arcs;
	const struct match_stream *stream;
	const struct match_course *course;
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
    const struct match_stream *stream, const struct match_course *course,
    const struct match_stated *stated);

/* Fills in by_how by the habits. */
void match_evidence_weigh(struct match_evidence *e);

/* Learns the habits from how each arc was reached. */
void match_evidence_learn(struct match_evidence *e, const struct match_decoded *d);

/* For match_task.unit; of is a struct match_evidence. */
double match_evidence_unit(const void *of, size_t arc, uint32_t unit);

/* How likely what was typed on an arc is if it is the unit: 1 if it fits, far less if not. */
double match_typed_fits(const struct match_evidence *e, size_t arc, uint32_t unit);

void match_evidence_free(struct match_evidence *e);

#endif
