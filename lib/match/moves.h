/*
 * moves: how a crew goes through a plan, as a pure function from where it stands to where it may go.
 *
 * A place is a unit: one joint, or for a ribbon machine the joints of one arc. Units stand in trays,
 * trays in closures. In a tray a crew goes from one place to the next in its slot order; the place
 * farthest on is its front. Places behind the front that are not made were left out, and are the ones
 * it may return to. Where the slot order is not known, it is part of the state, and what was typed
 * decides.
 *
 * Odds are linear: a move's weight is its share of all moves from the state. Moves and decoder know no
 * text: evidence comes as numbers.
 */
#ifndef THRUM_MATCH_MOVES_H
#define THRUM_MATCH_MOVES_H

#include <stdbool.h>
#include <stdint.h>

#include "table/ids.h"

#define MATCH_NONE UINT32_MAX

enum { MATCH_TRAY_UNITS = 64 }; /* a longer tray is several */
enum match_dir { MATCH_WORK, MATCH_REVERSE, MATCH_ALTERNATE, MATCH_BY_PLAN, MATCH_DIRS };

/* the units of a plan, for one kind of machine; within a tray in the order of rising slots */
struct match_course {
	uint32_t units, trays, closures;
	uint32_t *tray_first;    /* tray t has the units tray_first[t] to tray_first[t + 1] - 1 */
	uint32_t *closure_first; /* closure c has the trays closure_first[c] to [c + 1] - 1 */
	uint32_t *tray_of;       /* of each unit */
	uint32_t *closure_of;    /* of each tray */
	uint8_t *by_plan; /* of each tray, its units' places in the order of the plan's rows */
};

/* what the last arc was */
enum match_mode { MATCH_ATTEMPT, MATCH_PRACTICE, MATCH_AWAY, MATCH_DOOR };

/*
 * Where a crew stands after an arc. done and maybe are of the tray's places in the slot order: made,
 * and perhaps made. A door is passed on the way from one closure to another, without an arc.
 */
struct match_state {
	uint64_t done, maybe;
	uint32_t closure; /* or MATCH_NONE: none, the rest means nothing */
	uint32_t others;  /* what is made in its other trays: a number of match_moves.sets */
	uint16_t tray;    /* in its closure */
	uint8_t place, front;
	uint8_t dir, mode;
	uint8_t look;  /* class of the last attempt's look */
	uint8_t back;  /* 1: the last attempt was behind the front */
	uint32_t past; /* closures left before: a number of match_moves.sets; no part of the key */
};

/* how a state is reached */
enum match_how {
	MATCH_NEXT,
	MATCH_SKIP,
	MATCH_RETURN, /* to a place that was left out, or any other open place out of turn */
	MATCH_RETRY,
	MATCH_AGAIN,  /* at a place that is done */
	MATCH_RESUME, /* an attempt after practice */
	MATCH_TRAY,
	MATCH_ENTER, /* another closure */
	MATCH_PRACTISE,
	MATCH_GO_AWAY, /* work that is not in the plan */
	MATCH_LEAVE,   /* to a door; no arc */
	MATCH_HOWS
};

enum { MATCH_LOOKS = 8 };

/* shares of moves; the first are learnt from the night */
struct match_shares {
	double skip, again, practise;
	double kept[MATCH_LOOKS]; /* chance that an attempt of this look was kept */
};

extern const struct match_shares match_usual;

struct match_step {
	struct match_state to;
	double weight;
	enum match_how how;
};

struct match_moves {
	const struct match_course *course;
	struct match_shares shares;
	const double (*dirs)[MATCH_DIRS]; /* of each closure, the chance of each slot order */
	const uint32_t
	    *made; /* of each closure, what other machines and nights made there: a number of
				 sets, or MATCH_NONE */
	struct ids sets;
	struct match_step *steps; /* of the last call */
	size_t n, cap;
	uint64_t *words; /* room for a closure's trays, twice */
};

/* what is known of the arc a move leads to */
struct match_toward {
	const double *by_how; /* a factor for each enum match_how; that of MATCH_LEAVE is 1 */
	double through_door;  /* the greatest factor behind a door */
	const uint32_t *near; /* closures that may be entered */
	size_t nnear;
	uint8_t look;
};

/* shares stay as they are in *m; course, dirs and made must outlive it */
void match_moves_open(struct match_moves *m, const struct match_course *course,
    const double (*dirs)[MATCH_DIRS], const uint32_t *made);
void match_moves_free(struct match_moves *m);

/* Before the first arc: a door, nothing behind it. */
struct match_state match_moves_start(struct match_moves *m);

/*
 * Puts into m->steps the moves from a state to the next arc, or to a door, that weigh at least
 * `least`, each times its factor. One with weight 0 is never there.
 */
void match_moves_from(struct match_moves *m, const struct match_state *from,
    const struct match_toward *toward, double least);

/* The unit at a state's place. */
uint32_t match_unit(const struct match_course *course, const struct match_state *s);

/* A state that is either of two with one place, or one: what is made in only one is perhaps made. */
struct match_state
match_either(struct match_moves *m, const struct match_state *a, const struct match_state *b);

/* Marks what is made by a closure's set: done and perhaps done, one bit a unit of each tray. */
uint32_t match_set_of(struct match_moves *m, const uint64_t *words, size_t trays);

#endif
