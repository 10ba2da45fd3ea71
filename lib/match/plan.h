/*
 * plan: the joints of a plan that a machine makes, in the order of work, and which of them are
 * meant by what somebody typed.
 *
 *	struct planned plan;
 *
 *	if (planned_read(&plan, &table, false) == 0)
 *		match_read(&plan.match, ...);
 *	planned_free(&plan);
 */
#ifndef THRUM_MATCH_PLAN_H
#define THRUM_MATCH_PLAN_H

#include <stdbool.h>

#include "match/match.h"
#include "table/ids.h"
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

extern const char *const planned_names[PLANNED_CELLS]; /* their columns */
extern const struct col planned_cols[];                /* of a plan */

/* a joint, counted in the order of work */
struct planned_joint {
	struct field cell[PLANNED_CELLS]; /* { NULL, 0 } where empty */
	struct field text;                /* the plan's row, its fields joined by TAB */
	uint64_t line;
	uint32_t closure;
};

struct planned {
	struct match_plan match;
	struct planned_joint *v;
	size_t cap;
	const char *file;
	struct field *columns; /* the names of the plan's columns */
	size_t ncolumns;

	/* the rest is planned's own */
	struct region region;
	uint32_t *first;
	uint8_t *entry;
	struct ids names, closures;
	uint32_t *at_name;   /* of each of names, its joint */
	struct ids fibres;   /* cable and fibre, of either side */
	uint32_t *fibre_end; /* of each of fibres, the last of its joints in on_fibre */
	struct planned_on {
		uint32_t joint, before; /* before: the next of the list, or MATCH_NONE */
	} * on_fibre;
};

/*
 * Reads the rows of a plan, opened with planned_cols: rows whose state is join or empty and whose kind is neither mechanical
 * nor connector. Closures stand in the order of their first rows; within one, joints go by tray and
 * slot (whole numbers by number and first, then the rest by byte), or, with plan_order, as their
 * rows. 0, or -1 with the table's err set (also: a joint without name or closure, or named twice). To be freed
 * in any case.
 */
int planned_read(struct planned *p, struct table *t, bool plan_order);

void planned_free(struct planned *p);

/* Appends a number to a list that grows. */
struct planned_list {
	uint32_t *v;
	size_t n, cap;
};

/* what typed cells mean */
enum planned_meaning {
	PLANNED_FITS,      /* the joints that were listed */
	PLANNED_OUTSIDE,   /* a closure or joint the plan does not have */
	PLANNED_UNFITTING, /* no joint of the plan has them all */
};

/*
 * Which joints have all of these cells; { NULL, 0 } was not typed. A cable and fibre may be typed
 * for the other side: both sides are then taken the other way round. Appends the joints, rising,
 * to list.
 */
enum planned_meaning planned_meant(
    struct planned *p, const struct field typed[PLANNED_CELLS], struct planned_list *list);

/* The joint of this name, or MATCH_NONE. */
uint32_t planned_named(const struct planned *p, struct field name);

void planned_add(struct planned_list *list, uint32_t number);

#endif
