/*
 * stated: what people state and answer: orders, visits, answers.
 */
#ifndef THRUM_MATCH_STATED_H
#define THRUM_MATCH_STATED_H

#include "match/arcs.h"

/* the orders of slots, as enum match_dir counts them */
#define MATCH_ORDERS "work reverse alternate plan"

enum { VISIT_SPLICER, VISIT_CLOSURE, VISIT_TRAY, VISIT_FROM, VISIT_TO, VISIT_ORDER };
enum { ANSWER_SPLICER, ANSWER_ARC, ANSWER_IS, ANSWER_JOINT };

/* clang-format off */
#define MATCH_VISIT_COLUMNS                                                                        \
	[VISIT_SPLICER] = { "splicer", COL_NEED, COL_TEXT },                                       \
	[VISIT_CLOSURE] = { "closure", COL_NEED, COL_TEXT },                                       \
	[VISIT_TRAY] = { "tray", COL_MAY, COL_TEXT },                                              \
	[VISIT_FROM] = { "from_at", COL_NEED, COL_TIME },                                          \
	[VISIT_TO] = { "to_at", COL_MAY, COL_TIME },                                               \
	[VISIT_ORDER] = { "order", COL_MAY, COL_WORD, .words = MATCH_ORDERS }

#define MATCH_ANSWER_COLUMNS                                                                       \
	[ANSWER_SPLICER] = { "splicer", COL_NEED, COL_TEXT },                                      \
	[ANSWER_ARC] = { "arc", COL_NEED, COL_WHOLE },                                             \
	[ANSWER_IS] = { "is", COL_NEED, COL_WORD, .words = "joint retry practice elsewhere" },     \
	[ANSWER_JOINT] = { "joint", COL_MAY, COL_TEXT }
/* clang-format on */

enum match_said { MATCH_SAID_JOINT, MATCH_SAID_RETRY, MATCH_SAID_PRACTICE, MATCH_SAID_ELSEWHERE };

struct match_visit {
	uint32_t machine, closure, tray; /* of the plan; MATCH_NONE: not in it, not known */
	struct when from, to;
	bool ends; /* to is known */
	int dir;   /* enum match_dir, or -1 */
};

struct match_answer {
	uint32_t machine;
	int64_t number;
	uint32_t joint; /* of the plan, or MATCH_NONE */
	uint8_t is;     /* enum match_said */
};

struct match_stated {
	int order;                    /* enum match_dir, or -1 */
	struct match_visit *visits;   /* by machine and time */
	struct match_answer *answers; /* by machine and number */
	size_t nvisits, cap_visits, nanswers, cap_answers;
	const struct match_before *before; /* of each joint */
};

/*
 * Reads the two tables, whose first columns are those above; each may have no rows. Rows of machines
 * without arcs are passed over; earlier must outlive s. order: one of MATCH_ORDERS, or NULL.
 * 0, or -1 with a table's err set: no such tray or joint, a joint that is not said, times that are
 * missing, turned round, or with a zone if those of the arcs are without. match_stated_free in any case.
 */
int match_stated_read(struct match_stated *s, struct match_arcs *arcs, const char *order,
    struct table *visits, struct table *answers, const struct match_earlier *earlier);
void match_stated_free(struct match_stated *s);

#endif
