/*
 * match: which arc of a machine was which planned joint.
 *
 * A machine's arcs, in the order of time, are read as a walk through the plan: each is an attempt at
 * a joint of the closure the crew stands in, a practice arc, or work elsewhere, at a joint nobody can
 * tell. Each step of the walk costs something. A dynamic program finds the cheapest walk, and what all
 * the walks together cost in which an arc has one meaning or another.
 *
 * Costs are whole numbers, meant as thousandths of a natural logarithm of odds, so that two readings
 * 6908 apart are as 1000 to 1. Joints, closures and arcs are counted from 0.
 *
 * The walk. Its place is a joint of the plan, or nowhere, or elsewhere; it starts nowhere. From the
 * joint j an arc may lead
 *
 *	next		to j + 1, in the same closure
 *	skip, skips	to j + 2, or to j + 3 and further, in the same closure
 *	tray		to the first joint of any tray of the same closure
 *	jump		to any joint of a closure that may be meant here
 *	elsewhere	elsewhere
 *	retry		to j itself: one more attempt at it
 *	practice	nowhere: the place is kept
 *	leave		nowhere, and the place is lost: practice after the crew has left
 *
 * From nowhere it may start, which is a jump, stay by practice, or go elsewhere. From elsewhere it may
 * jump, stay, or leave. What these cost is said at struct match_costs. Which closures and which joints
 * may be meant by an arc is given with it; practice keeps only a place whose closure may be meant.
 */
#ifndef THRUM_MATCH_MATCH_H
#define THRUM_MATCH_MATCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* how an arc looks, from its record */
enum match_look {
	MATCH_FAILED, /* it failed the tension test */
	MATCH_HIGH,   /* its estimate was high, and it was not heated */
	MATCH_OPEN,   /* its machine tells what was kept, and does not tell it of this one */
	MATCH_PLAIN,  /* nothing against it, of a machine that tells neither heat nor tension */
	MATCH_PASSED, /* it passed the tension test, of a machine that tells no heat */
	MATCH_DONE,   /* it was heated, so it was kept */
	MATCH_LOOKS
};

enum match_move {
	MATCH_NEXT,
	MATCH_SKIP,
	MATCH_SKIPS,
	MATCH_TRAY,
	MATCH_JUMP,
	MATCH_START,
	MATCH_ELSEWHERE_MOVE,
	MATCH_RETRY,
	MATCH_PRACTICE_MOVE,
	MATCH_LEAVE,
	MATCH_MOVES
};

/* where in its closure a joint stands, for a jump to it */
enum match_entry { MATCH_CLOSURE_START, MATCH_TRAY_START, MATCH_MIDDLE, MATCH_ENTRIES };

enum { MATCH_GAPS = 16, MATCH_COST_MOST = 20000, MATCH_THRESHOLD_MOST = 100000 };

/*
 * An arc by some move costs move + gap (of the time since the arc before, if there is one) + look (the
 * arc's own) + after (of the last attempt, if the place is a joint); besides,
 *	skips		further for each joint left out behind the second
 *	jump, start	enter of the joint it leads to
 *	tray		unfinished if the place is not the last joint of its tray
 *	jump, leave,
 *	elsewhere	unfinished if the place is a joint, and not the last of its closure
 *	any		begun, if the arc says that a tray or closure is begun here, but for an attempt at
 *			the first joint of a tray and for work elsewhere
 * Across practice it is remembered of the last attempt only whether it was bad: what comes then costs
 * as after MATCH_HIGH (if that attempt looked MATCH_FAILED or MATCH_HIGH) or MATCH_DONE (else).
 * Elsewhere a walk may stay in three ways: as by next, retry or practice after the arc before. The
 * walk's end costs stop at a joint that is not the last of its closure. Each cost is 0 to
 * MATCH_COST_MOST.
 */
struct match_costs {
	int32_t move[MATCH_MOVES];
	int32_t gap[MATCH_GAPS][MATCH_MOVES];
	int32_t look[MATCH_LOOKS][MATCH_MOVES];
	int32_t after_on[MATCH_LOOKS]; /* of every move but the next three */
	int32_t after_retry[MATCH_LOOKS];
	int32_t after_practice[MATCH_LOOKS]; /* of practice and leave */
	int32_t further;
	int32_t enter[MATCH_ENTRIES];
	int32_t unfinished_tray, unfinished_jump, unfinished_elsewhere;
	int32_t begun;
	int32_t stop;
};

/* numbers of joints, closures or arcs; the array is somebody else's */
struct match_list {
	const uint32_t *v;
	size_t n;
};

struct match_plan {
	size_t joints, closures;
	const uint32_t
	    *first; /* closure c has the joints first[c] to first[c + 1] - 1, at least one */
	const uint8_t *entry; /* of each joint: enum match_entry */
};

/* what else than a joint an arc may be, and "none" for numbers of joints and lists */
#define MATCH_NONE      UINT32_MAX
#define MATCH_PRACTICE  (UINT32_MAX - 1)
#define MATCH_ELSEWHERE (UINT32_MAX - 2)

enum {
	MATCH_MAY_ATTEMPT = 1,   /* an attempt, by any move */
	MATCH_MAY_RETRY = 2,     /* an attempt, by a retry */
	MATCH_MAY_PRACTICE = 4,  /* a practice arc */
	MATCH_MAY_ELSEWHERE = 8, /* work elsewhere */
};

struct match_arc {
	uint8_t gap;    /* class of the time since the arc before, below MATCH_GAPS */
	uint8_t look;   /* enum match_look */
	uint8_t may;    /* MATCH_MAY_...; at least one, and not a retry alone */
	uint8_t begins; /* 1: a tray or closure is said to be begun here */
	uint32_t stage; /* its number in stages */
	uint32_t
	    anchor;    /* its number in anchors, or MATCH_NONE: any joint of its stage's closures */
	uint32_t only; /* the joint it is if it is an attempt, or MATCH_NONE */
};

struct match_machine {
	const struct match_arc *arcs;
	size_t n;
	const struct match_list *stages;  /* closures that may be meant, each once */
	const struct match_list *anchors; /* joints that may be meant, rising */
};

struct match_reading {
	uint32_t label;  /* what costs least: a joint, MATCH_PRACTICE or MATCH_ELSEWHERE */
	uint32_t second; /* what else it may be most likely, or MATCH_NONE */
	int32_t margin;  /* how much more all it may be else costs; INT32_MAX: nothing else */
	bool work;       /* it is not sure, and may be a joint or elsewhere */
};

/*
 * The cheapest walk: labels gets the meaning of each arc in it. And, unless others is NULL, the
 * cheapest walk in which the arc of this number has another meaning: others gets that. Of walks that
 * cost the same one is taken, the same in each call. If there is no such walk, the labels mean nothing.
 *
 * Takes time as arcs times joints of the closures that may be meant, and memory as the square root
 * of the number of arcs times the most such joints of any arc; nothing of it stays. So does
 * match_read.
 *
 * Source: Viterbi 1967, "Error bounds for convolutional codes and an asymptotically optimum decoding
 * algorithm", IEEE Transactions on Information Theory 13(2) (named from memory).
 */
void match_walk(const struct match_plan *plan, const struct match_costs *costs,
    const struct match_machine *machine, size_t arc, uint32_t *labels, uint32_t *others);

/*
 * What each arc may be. What a meaning costs is what all walks in which the arc has it cost together,
 * -1000 ln of the sum of exp(-cost / 1000), so that many ways of being wrong count as many; rounded to
 * a whole number only at last. A meaning that costs 200000 more than the label may be held for
 * impossible. Of meanings that cost the same the label is practice or elsewhere or the first joint.
 *
 * An arc is not sure if its margin is below threshold, 0 to MATCH_THRESHOLD_MOST; it may be what
 * costs less than threshold more than its label. possible has a number for each joint of the plan:
 * 1 is put at all that arcs that are not sure may be.
 *
 * Source: Rabiner 1989, "A tutorial on hidden Markov models and selected applications in speech
 * recognition", Proceedings of the IEEE 77(2), sections III.A and V.A (named from memory).
 */
void match_read(const struct match_plan *plan, const struct match_costs *costs,
    const struct match_machine *machine, int32_t threshold, struct match_reading *out,
    uint8_t *possible);

#endif
