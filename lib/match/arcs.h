/*
 * arcs: the arcs of all machines, read, put in order, and made into what match_read wants.
 *
 *	struct match_arcs arcs;
 *
 *	if (match_arcs_init(&arcs, &plan, &table, 12, &clocks, &p.err) == 0)
 *		while (prog_next(&p))
 *			match_arcs_add(&arcs, &p.in);
 *	match_arcs_order(&arcs, &p.err);
 *	for (size_t m = 0; m < arcs.machines.n; m++)
 *		match_read(&plan.match, &table.costs, &arcs.machine[m].match, ...);
 *	match_arcs_free(&arcs);
 */
#ifndef THRUM_MATCH_ARCS_H
#define THRUM_MATCH_ARCS_H

#include "base/opt.h"
#include "base/when.h"
#include "match/cost.h"
#include "match/plan.h"

/* the columns that are read, to stand first among a program's: planned_names, then these */
enum {
	MATCH_ARC = PLANNED_CELLS,
	MATCH_SPLICER,
	MATCH_MADE_AT,
	MATCH_EST,
	MATCH_TENSION,
	MATCH_HEAT,
	MATCH_NOTE,
	MATCH_COLS
};

/* clang-format off */
#define MATCH_ARC_COLUMNS                                                                          \
	[PLANNED_JOINT] = { "joint", COL_MAY, COL_TEXT },                                          \
	[PLANNED_CLOSURE] = { "closure", COL_MAY, COL_TEXT },                                      \
	[PLANNED_TRAY] = { "tray", COL_MAY, COL_TEXT },                                            \
	[PLANNED_SLOT] = { "slot", COL_MAY, COL_TEXT },                                            \
	[PLANNED_CABLE_A] = { "cable_a", COL_MAY, COL_TEXT },                                      \
	[PLANNED_FIBRE_A] = { "fibre_a", COL_MAY, COL_TEXT },                                      \
	[PLANNED_CABLE_B] = { "cable_b", COL_MAY, COL_TEXT },                                      \
	[PLANNED_FIBRE_B] = { "fibre_b", COL_MAY, COL_TEXT },                                      \
	[MATCH_ARC] = { "arc", COL_MAY, COL_TEXT },                                                \
	[MATCH_SPLICER] = { "splicer", COL_MAY, COL_TEXT },                                        \
	[MATCH_MADE_AT] = { "made_at", COL_NEED, COL_TIME },                                       \
	[MATCH_EST] = { "est_db", COL_MAY, COL_DB },                                               \
	[MATCH_TENSION] = { "tension", COL_MAY, COL_WORD, .words = "pass fail" },                  \
	[MATCH_HEAT] = { "heat_s", COL_MAY, COL_NUM, 0, 1000 },                                    \
	[MATCH_NOTE] = { "note", COL_MAY, COL_TEXT }
/* clang-format on */

/* why an arc is not read, or is left although it was */
enum match_trouble {
	MATCH_FINE,
	MATCH_NO_TIME,   /* no time of day: it stands nowhere */
	MATCH_REPEATED,  /* the same row once more */
	MATCH_UNFITTING, /* what was typed fits no joint, or not itself */
};

struct match_record {
	struct field text; /* its fields joined by TAB */
	const char *file;
	uint64_t line;
	struct when at; /* put right */
	int64_t number; /* of the arc, or INT64_MIN */
	int64_t shift;  /* days since 1970-01-01 */
	uint32_t machine;
	uint32_t anchor; /* its number in anchors, or MATCH_NONE: nothing was typed */
	uint32_t order;  /* as it was read */
	uint8_t trouble; /* enum match_trouble */
	bool outside;    /* typed is what the plan does not have */
	bool pinned;     /* typed is one joint */
	bool backward;   /* its number is below that of the arc before in time */

	/* match_arcs' own */
	bool failed, high, passed, heated, says_practice, says_retry;
};

/* what was typed, alike on any number of arcs */
struct match_anchor {
	enum planned_meaning meaning;
	bool joint;                 /* a joint is meant: itself, a fibre or a slot was typed */
	size_t first, n;            /* its joints, in match_arcs.meant */
	size_t closures, nclosures; /* and their closures; 0 if there are more than a few */
};

struct match_one {
	struct match_machine match;
	struct match_record *records; /* of match.arcs, in the same order */
	int64_t clock_s;
	bool tells_heat, tells_tension;
};

struct match_arcs {
	struct planned *plan;
	const struct match_table *table;
	int begins; /* the hour */
	const struct opt_pairs *clocks;
	struct match_record *v; /* once in order: by machine and time, those not read behind */
	size_t n, cap, nread;
	struct ids machines; /* their names */
	struct match_one *machine;

	/* the rest is match_arcs' own */
	size_t machine_cap;
	struct region region;
	struct bytes text;
	const char *file;
	bool zoned, unzoned; /* times with and without a zone were met */
	struct ids typed;
	struct match_anchor *anchors;
	size_t anchor_cap;
	struct planned_list meant, closures, stages;
	struct match_list *anchor_lists, *stage_lists;
	size_t nstages, stage_cap;
	struct match_stage {
		size_t first, n;
	} * stage;
	struct match_arc *arcs;
	int64_t *gaps;
};

/*
 * plan, table and clocks must outlive it; begins is the hour at which a shift's date changes, clocks
 * are pairs of a machine's name and the seconds to be added to its times. 0, or -1 with err set: a
 * clock that is not a whole number. To be freed in any case.
 */
int match_arcs_init(struct match_arcs *a, struct planned *plan, const struct match_table *table,
    int begins, const struct opt_pairs *clocks, struct err *err);

/*
 * Adds the present row of t, whose first columns are those above. What is wrong with it becomes its
 * table's trouble.
 */
void match_arcs_add(struct match_arcs *a, struct table *t);

/*
 * Puts all arcs in order and makes what match_read wants of them. 0, or -1 with err set: a clock of a
 * machine without arcs; times with a zone and times without one.
 */
int match_arcs_order(struct match_arcs *a, struct err *err);

void match_arcs_free(struct match_arcs *a);

#endif
