/*
 * decode: how likely each meaning of each arc is, of all ways a crew may have gone (moves.h).
 *
 * Forward over the arcs, the states after each are kept with the sum of all ways that lead to them;
 * backward, with that of all ways that lead on. States far less likely than the best are dropped, and
 * those beyond a number join by all but what is made: that is perhaps made. A closure that is entered
 * again is found as the likeliest way left it. Without these three the result is exact.
 *
 * Source: Rabiner 1989, "A tutorial on hidden Markov models and selected applications in speech
 * recognition", Proceedings of the IEEE 77(2), sections III.A and V.A (named from memory).
 */
#ifndef THRUM_MATCH_DECODE_H
#define THRUM_MATCH_DECODE_H

#include "match/moves.h"

/* what else than a unit an arc may be */
#define MATCH_IS_PRACTICE  (UINT32_MAX - 1)
#define MATCH_IS_ELSEWHERE (UINT32_MAX - 2)

/* one arc of a machine, or one whose record is missing */
struct match_arc {
	double by_how[MATCH_HOWS]; /* how likely what was seen is after each move */
	uint8_t look;
	bool typed;           /* the decoder asks for factors of units */
	uint32_t near, nnear; /* closures it may enter, in match_task.near */
};

struct match_task {
	struct match_moves *moves; /* with what is found made at the beginning; changes */
	const struct match_arc *arcs;
	size_t n;
	const uint32_t *near;
	/* how likely what was typed is, 0 to 1 */
	double (*unit)(const void *of, size_t arc, uint32_t unit);
	const void *of;
	double beam; /* states less likely than the best by this natural logarithm are dropped */
	size_t most; /* states after an arc, before they join */
};

struct match_claim {
	uint32_t is; /* a unit, MATCH_IS_PRACTICE or MATCH_IS_ELSEWHERE */
	double odds; /* chance, 0 to 1 */
};

struct match_decoded {
	/* from the last arc to the first: those of arc i, the likeliest first, are end[i + 1] to end[i] - 1 */
	struct match_claim *claims;
	size_t *end, n, cap;
	float (*how)[MATCH_HOWS];   /* of each arc, the chance that it was reached so */
	double (*dirs)[MATCH_DIRS]; /* of each closure, arcs by slot order */
};

enum { MATCH_LEAST_CLAIM = 10000000 }; /* claims less likely than one in so many are not kept */

/* Always finds something: work elsewhere alone is always possible. match_decoded_free in any case. */
void match_decode(const struct match_task *task, struct match_decoded *out);
void match_decoded_free(struct match_decoded *d);

#endif
