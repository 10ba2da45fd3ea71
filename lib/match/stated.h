/*
 * stated: what people state and answer: visits, answers, joints of other nights.
 *
 *	struct match_stated stated = { .order = -1 };
 *
 *	while (table_next(&visits))
 *		match_visit_add(&stated, &visits, &arcs);
 *	match_stated_order(&stated);
 */
#ifndef THRUM_MATCH_STATED_H
#define THRUM_MATCH_STATED_H

#include "match/tell.h"

/* the orders of slots, as enum match_dir counts them */
#define MATCH_ORDERS "work reverse alternate plan"

enum { VISIT_SPLICER, VISIT_CLOSURE, VISIT_TRAY, VISIT_FROM, VISIT_TO, VISIT_ORDER };
enum { ANSWER_SPLICER, ANSWER_ARC, ANSWER_IS, ANSWER_JOINT };
enum { EARLIER_JOINT, EARLIER_ATTEMPT, EARLIER_STANDS, EARLIER_MADE_AT };

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

#define MATCH_EARLIER_COLUMNS                                                                      \
	[EARLIER_JOINT] = { "joint", COL_NEED, COL_TEXT },                                         \
	[EARLIER_ATTEMPT] = { "attempt", COL_MAY, COL_WHOLE, 1, 100000 },                         \
	[EARLIER_STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },                     \
	[EARLIER_MADE_AT] = { "made_at", COL_MAY, COL_TIME }
/* clang-format on */

/*
 * Adds the present row of the table, whose first columns are those above. What is wrong with it becomes
 * its table's trouble. The arcs must have been read; rows of machines without arcs are passed over.
 */
void match_visit_add(struct match_stated *s, struct table *t, const struct match_arcs *arcs);
void match_answer_add(struct match_stated *s, struct table *t, const struct match_arcs *arcs);

/* The same for a joint of another night; before has one for each joint of the plan. */
void match_earlier_add(struct match_before *before, struct table *t, const struct planned *plan);

/* Once all are added. */
void match_stated_order(struct match_stated *s);

void match_stated_free(struct match_stated *s);

#endif
