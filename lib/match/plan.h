/*
 * plan: the joints of a plan that a machine makes, in the order of rising slots, and the places they
 * are for machines that join so many fibres at once.
 *
 *	struct planned plan;
 *
 *	planned_init(&plan);
 *	while (table_next(&t))
 *		planned_add(&plan, &t);
 *	planned_order(&plan);
 *	planned_course(&plan, 12, &course);
 */
#ifndef THRUM_MATCH_PLAN_H
#define THRUM_MATCH_PLAN_H

#include "match/moves.h"
#include "table/table.h"

/* what says which joint it is; of a plan's row and of what was typed */
enum {
	PLANNED_JOINT,
	PLANNED_CLOSURE,
	PLANNED_TRAY,
	PLANNED_SLOT,
	PLANNED_CABLE_A,
	PLANNED_FIBRE_A,
	PLANNED_CABLE_B,
	PLANNED_FIBRE_B,
	PLANNED_CELLS
};
enum {
	PLANNED_STATE = PLANNED_CELLS,
	PLANNED_KIND,
	PLANNED_RIBBON,
	PLANNED_POSITION,
	PLANNED_COLS
};

/* clang-format off */
#define PLANNED_COLUMNS                                                                            \
	[PLANNED_JOINT] = { "joint", COL_NEED, COL_TEXT },                                         \
	[PLANNED_CLOSURE] = { "closure", COL_NEED, COL_TEXT },                                     \
	[PLANNED_TRAY] = { "tray", COL_MAY, COL_TEXT },                                            \
	[PLANNED_SLOT] = { "slot", COL_MAY, COL_TEXT },                                            \
	[PLANNED_CABLE_A] = { "cable_a", COL_MAY, COL_TEXT },                                      \
	[PLANNED_FIBRE_A] = { "fibre_a", COL_MAY, COL_TEXT },                                      \
	[PLANNED_CABLE_B] = { "cable_b", COL_MAY, COL_TEXT },                                      \
	[PLANNED_FIBRE_B] = { "fibre_b", COL_MAY, COL_TEXT },                                      \
	[PLANNED_STATE] = { "state", COL_MAY, COL_WORD, .words = "join express parked dead" },     \
	[PLANNED_KIND] = { "kind", COL_MAY, COL_TEXT },                                            \
	[PLANNED_RIBBON] = { "ribbon_a", COL_MAY, COL_TEXT },                                      \
	[PLANNED_POSITION] = { "position", COL_MAY, COL_TEXT }
/* clang-format on */

/* a joint, counted in the order of work */
struct planned_joint {
	struct field cell[PLANNED_CELLS]; /* { NULL, 0 } where empty */
	struct field ribbon, position;
	struct field text; /* the plan's row, its fields joined by TAB */
	uint64_t line;
	uint32_t closure, tray; /* tray: counted over the plan */
};

struct planned {
	struct planned_joint *v;
	size_t n, cap;
	const char *file;
	struct field *columns; /* the names of the plan's columns */
	size_t ncolumns;
	struct ids closures; /* their names */
	bool ribbons;        /* some joint has one */

	/* the rest is planned's own */
	struct region region;
	struct bytes text;
	struct ids names, fibres;
	uint32_t *at_name;       /* of each of names, its joint */
	uint32_t (*of_fibre)[2]; /* of each of fibres its closures, as far as two */
	size_t cap_fibre;
};

void planned_init(struct planned *p);

/*
 * Adds the present row of t, whose first columns are those above, unless it has no arc. What is wrong
 * with it becomes its table's trouble.
 */
void planned_add(struct planned *p, struct table *t);

/* Once all are added: by closure (in the order of first rows), tray and slot, numbers by number. */
void planned_order(struct planned *p);

void planned_free(struct planned *p);

/* The joint of this name, or MATCH_NONE. */
uint32_t planned_named(const struct planned *p, struct field name);

/* The closures a fibre is joined in, at either end of its cable; MATCH_NONE: no other. */
void planned_closures_of_fibre(
    struct planned *p, const struct field cable_and_fibre[2], uint32_t closures[2]);

/* a plan's places for machines of one kind */
struct planned_course {
	struct match_course course;
	uint32_t fibres_n; /* 0: a ribbon, or one where the plan has none */
	uint32_t *first;   /* unit u has the joints first[u] to first[u + 1] - 1 */
	uint32_t *unit_of; /* of each joint */
};

void planned_course(const struct planned *p, uint32_t fibres_n, struct planned_course *c);
void planned_course_free(struct planned_course *c);

#endif
