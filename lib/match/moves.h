/*
 * moves: how a crew goes through a plan, as a pure function from where it stands to where it may go.
 *
 * A unit is one joint, or for a ribbon machine the joints of one arc. Units stand in trays, trays in
 * closures. In a tray a crew goes from one place to the next in its slot order. Open places that it
 * has passed were left out, and are the ones it may return to. Where the slot order is not known, it
 * is part of the state, and what was typed decides.
 *
 * A move's weight is its share of all moves from the state. Moves and decoder know no text: evidence
 * comes as numbers.
 */
#ifndef THRUM_MATCH_MOVES_H
#define THRUM_MATCH_MOVES_H

#include <stdbool.h>
#include <stdint.h>

#include "table/ids.h"

#define MATCH_NONE UINT32_MAX

enum match_dir { MATCH_WORK, MATCH_REVERSE, MATCH_ALTERNATE, MATCH_BY_PLAN, MATCH_DIRS };

/* a unit where it stands in the plan's table */
struct match_planned {
	size_t row;
	uint32_t unit;
};

/* the units of a plan, for one kind of machine; in each tray in the order of rising slots */
struct match_course {
	uint32_t units, trays, closures;
	uint32_t *tray_first;    /* tray t has the units tray_first[t] to tray_first[t + 1] - 1 */
	uint32_t *closure_first; /* closure c has the trays closure_first[c] to [c + 1] - 1 */
	uint32_t *tray_of;       /* of each unit */
	uint32_t *closure_of;    /* of each tray */
	struct match_planned *by_plan; /* the units of each tray in the order of the plan's rows */
	/* of no concern to moves */
	uint32_t fibres_n; /* of an arc; 0: a ribbon, or one where the plan has none */
	uint32_t *first,
	    *unit_of; /* unit u has the joints first[u] to first[u + 1] - 1; of each joint */
};

/* what the last arc was */
enum match_mode { MATCH_ATTEMPT, MATCH_PRACTICE, MATCH_AWAY };

/* where a crew stands after an arc; no bytes but these, so that states are compared as bytes */
struct match_state {
	uint32_t unit; /* the last one attempted; MATCH_NONE: the crew is in no closure */
	uint32_t made; /* what is made in its closure: a number of match_moves.sets */
	uint8_t dir, mode;
	uint8_t look; /* class of the last attempt's look */
	uint8_t back; /* 1: the last attempt was of a unit left out before */
};

/* how a state is reached */
enum match_how {
	MATCH_NEXT,
	MATCH_SKIP,
	MATCH_RETURN, /* to a unit that was left out, or any other open one out of turn */
	MATCH_RETRY,
	MATCH_AGAIN,  /* of a unit that is made */
	MATCH_RESUME, /* any of these after practice */
	MATCH_TRAY,
	MATCH_ENTER, /* another closure */
	MATCH_PRACTISE,
	MATCH_GO_AWAY, /* work that is not in the plan */
	MATCH_HOWS
};

enum { MATCH_LOOKS = 8 };

/* shares of moves that are learnt from the night */
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

/* a tray as a crew finds it */
struct match_tray {
	uint32_t n,
	    front;   /* places from the front on are ahead, open ones before it were left out */
	bool ahead;  /* one ahead is open */
	double left; /* of the weight of a return to those left out, what there is */
};

struct match_moves {
	const struct match_course *course;
	struct match_shares shares;
	const double (*dirs)[MATCH_DIRS]; /* of each closure, the chance of each slot order */
	/*
	 * What a crew finds in each closure it enters: bits of its units that are made, and behind them
	 * of those that perhaps are; closure c has its words from place[c] to place[c + 1].
	 */
	uint64_t *found;
	size_t *place;
	struct ids sets;          /* such words of one closure */
	struct match_step *steps; /* of the last call */
	size_t n, cap;
	/* room for the present call */
	uint64_t *words;
	struct match_tray *trays;
	uint32_t *units;
};

/* what is known of the arc a move leads to */
struct match_toward {
	const double *by_how; /* a factor for each enum match_how */
	const uint32_t *near; /* closures that may be entered */
	size_t nnear;
	uint8_t look;
	double least; /* moves that weigh less are left out */
};

/* Nothing is made. course and dirs must outlive it. */
void match_moves_open(struct match_moves *m, const struct match_course *course,
    const double (*dirs)[MATCH_DIRS], const struct match_shares *shares);
void match_moves_free(struct match_moves *m);

/* A crew finds the unit made, or perhaps made. */
void match_moves_find(struct match_moves *m, uint32_t unit, bool surely);

/* A crew that comes back finds the state's closure as it leaves it now. */
void match_moves_leave(struct match_moves *m, const struct match_state *s);

/* All sets are gone; then the words of a state's set, from `words` on. Returns what is behind them. */
void match_moves_forget(struct match_moves *m);
const char *match_moves_set(struct match_moves *m, struct match_state *s, const char *words);

/* Puts into m->steps the moves from a state to the next arc, each times its factor; none with weight 0. */
void match_moves_from(
    struct match_moves *m, const struct match_state *from, const struct match_toward *toward);

/* The unit at a place of a tray, in a slot order. */
uint32_t match_unit_at(const struct match_course *c, uint32_t tray, unsigned dir, uint32_t place);

/* The set of states that are one of two but for what is made: made in only one is perhaps made. */
uint32_t match_either(struct match_moves *m, const struct match_state *a, uint32_t made_in_b);

#endif
