/*
 * arcs: the arcs of all machines, read and put in order; records that are missing get their places.
 *
 *	struct match_arcs arcs;
 *
 *	if (match_arcs_init(&arcs, &plan, 12, &clocks, &p.err) == 0)
 *		while (prog_next(&p))
 *			match_arcs_add(&arcs, &p.in);
 *	match_arcs_order(&arcs, &p.err);
 *	match_arcs_free(&arcs);
 */
#ifndef THRUM_MATCH_ARCS_H
#define THRUM_MATCH_ARCS_H

#include "base/opt.h"
#include "base/when.h"
#include "match/plan.h"

/* the columns that are read, to stand first among a program's: what was typed, then these */
enum {
	MATCH_ARC = PLANNED_CELLS,
	MATCH_SPLICER,
	MATCH_MADE_AT,
	MATCH_EST,
	MATCH_TENSION,
	MATCH_HEAT,
	MATCH_FIBRES,
	MATCH_POSITION,
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
	[MATCH_FIBRES] = { "fibres_n", COL_MAY, COL_WHOLE, 1, 24 },                                \
	[MATCH_POSITION] = { "position", COL_MAY, COL_WHOLE, 1, 24 },                              \
	[MATCH_NOTE] = { "note", COL_MAY, COL_TEXT }
/* clang-format on */

/* one row */
struct match_record {
	struct field text;    /* its fields joined by TAB */
	struct field made_at; /* as it was written; in text */
	const char *file;
	uint64_t line;
	struct when at; /* put right */
	int64_t number; /* of the arc, or INT64_MIN */
	int64_t shift;  /* days since 1970-01-01 */
	int64_t est_udb;
	uint32_t stream, typed; /* typed: its number in match_arcs.typed, or MATCH_NONE */
	uint32_t run;           /* of numbers that follow each other */
	uint32_t order;         /* as it was read */
	uint8_t position;       /* 0: it has none */
	bool no_time, repeated; /* such stand behind all others and are not read */
	bool has_est, passed, failed, heated, says_practice, says_retry;
};

/* what was typed, alike on any number of rows */
struct match_typed {
	struct field cell[PLANNED_CELLS];
	uint32_t closure[2]; /* that may be meant; MATCH_NONE: none */
	bool outside;        /* of no closure or joint of the plan */
	bool joint, place;   /* which joint is said; closure or tray are */
};

/* an arc as it was seen; or one whose record is missing */
struct match_seen {
	uint32_t first, rows; /* of records; 0 rows: missing */
	uint32_t
	    missing;   /* so many records are missing between the arc before and this or the next */
	int64_t gap_s; /* between these two, or INT64_MIN: not known */
};

/* the arcs of one machine that join so many fibres at once */
struct match_stream {
	uint32_t machine, fibres_n; /* the course's */
	int64_t clock_s;
	struct match_seen *seen;
	size_t n;
};

struct match_arcs {
	struct planned *plan;
	int begins; /* the hour */
	const struct opt_pairs *clocks;
	struct match_record
	    *v; /* once in order: by stream and order of work, those not read behind */
	size_t n, cap, nread;
	struct ids machines; /* their names */
	struct match_stream *streams;
	size_t nstreams, cap_streams;
	struct match_typed *typed;
	size_t cap_typed;

	/* the rest is match_arcs' own */
	struct region region;
	struct bytes text;
	const char *file;
	bool zoned, unzoned; /* times with and without a zone were met */
	struct ids stream_ids, typed_ids;
};

/*
 * plan, in order, and clocks must outlive it; begins is the hour at which a shift's date changes,
 * clocks are pairs of a machine's name and the seconds to be added to its times. 0, or -1 with err
 * set: a clock that is not a whole number. To be freed in any case.
 */
int match_arcs_init(struct match_arcs *a, struct planned *plan, int begins,
    const struct opt_pairs *clocks, struct err *err);

/*
 * Adds the present row of t, whose first columns are those above. What is wrong with it becomes its
 * table's trouble.
 */
void match_arcs_add(struct match_arcs *a, struct table *t);

/*
 * Puts all arcs in order: runs of numbers by their times, within a run by number; without numbers by
 * time. 0, or -1 with err set: a clock of a machine without arcs; times with a zone and times without.
 */
int match_arcs_order(struct match_arcs *a, struct err *err);

void match_arcs_free(struct match_arcs *a);

#endif
