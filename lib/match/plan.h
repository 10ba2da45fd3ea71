/*
 * plan: the joints of a plan that a machine makes, in the order of rising slots, and the places they
 * are for machines that join so many fibres at once.
 *
 *	struct planned plan;
 *
 *	if (planned_read(&plan, &p.in[PLAN]) == 0)
 *		planned_course(&plan, 12, &course);
 */
#ifndef THRUM_MATCH_PLAN_H
#define THRUM_MATCH_PLAN_H

#include "match/moves.h"
#include "table/hold.h"

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
enum { PLANNED_STATE = PLANNED_CELLS, PLANNED_KIND, PLANNED_RIBBON, PLANNED_POSITION };

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

/* a joint; they are counted by closure (in the order of first rows), tray and slot */
struct planned_joint {
	struct field cell[PLANNED_CELLS], ribbon, position; /* of the table's row */
	size_t row;
	uint32_t closure, tray; /* tray: counted over the plan */
	uint32_t read;          /* which one it was as they were read */
};

struct planned {
	struct table *table;
	struct planned_joint *v;
	uint32_t n;
	struct ids closures; /* their names */
	bool ribbons;        /* some joint has one */

	/* the rest is planned's own */
	struct ids names, trays, fibres;
	uint32_t *at_name;       /* of each of names, its joint */
	uint32_t (*of_fibre)[2]; /* of each of fibres its closures, as far as two */
	size_t cap_fibre;
};

/*
 * t is held as rows, its first columns are those above, and outlives *p. Rows without an arc are left
 * out: fibres that are not joined, mechanical joints, connectors. 0, or -1 with t's err set: no name, a
 * second row of a name, no closure. planned_free in any case.
 */
int planned_read(struct planned *p, struct table *t);
void planned_free(struct planned *p);

/* The joint of this name; the tray of a closure, both by name. MATCH_NONE: none. */
uint32_t planned_named(const struct planned *p, struct field name);
uint32_t planned_tray(struct planned *p, const struct field closure_and_tray[2]);

/* The closures a fibre is joined in, at either end of its cable; MATCH_NONE: no other. */
void planned_closures_of_fibre(
    struct planned *p, const struct field cable_and_fibre[2], uint32_t closures[2]);

/* The plan's places for machines that join so many fibres at once; 0: a ribbon, or one without. */
void planned_course(const struct planned *p, uint32_t fibres_n, struct match_course *c);
void match_course_free(struct match_course *c);

#endif
