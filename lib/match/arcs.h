/*
 * arcs: the arcs of all machines, read and put in order; records that are missing get their places.
 *
 *	struct match_arcs arcs;
 *
 *	if (match_arcs_read(&arcs, &p.in[ARCS], &plan, 12, &clocks) == 0)
 *		read(arcs.streams, arcs.nstreams);
 *	match_arcs_free(&arcs);
 */
#ifndef THRUM_MATCH_ARCS_H
#define THRUM_MATCH_ARCS_H

#include "base/opt.h"
#include "base/when.h"
#include "match/earlier.h"

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

#define MATCH_NO_NUMBER INT64_MIN

/* one row */
struct match_record {
	size_t row;         /* of the table */
	struct when at;     /* put right */
	struct when run_at; /* when its run began */
	int64_t number;     /* of the arc, or MATCH_NO_NUMBER */
	int64_t run;        /* of numbers that follow each other: the first one */
	int64_t shift;      /* days since 1970-01-01 */
	int64_t est_udb;
	uint32_t stream, typed; /* typed: its number in match_arcs.typed, or MATCH_NONE */
	uint8_t position;       /* 0: it has none */
	bool no_time, repeated; /* such stand behind all others and are not matched */
	bool known;             /* repeated: of an earlier night */
	bool has_est, passed, failed, heated, says_practice, says_retry;
};

/* what was typed, alike on any number of rows */
struct match_typed {
	struct field cell[PLANNED_CELLS];
	uint32_t closure[2]; /* that may be meant; MATCH_NONE: none */
	bool outside;        /* of no closure or joint of the plan */
	bool joint;          /* which joint is said, not only closure or tray */
};

/* an arc as it was seen; or one whose record is missing */
struct match_seen {
	uint32_t first, rows; /* of records; 0 rows: missing, first is the one behind */
	uint32_t missing;     /* so many are missing between the arc before and this or the next */
	int64_t gap_s;        /* between these two, or INT64_MIN: not known */
};

/* the arcs of one machine that join so many fibres at once */
struct match_stream {
	uint32_t machine, fibres_n; /* fibres_n: the course's */
	int64_t clock_s;
	struct match_seen *seen;
	size_t n;
};

struct match_arcs {
	struct table *table;
	struct planned *plan;
	struct match_record *v; /* by stream and order of work; those not matched behind */
	size_t n, nread;
	struct ids machines; /* their names */
	struct match_stream *streams;
	uint32_t nstreams;
	struct match_typed *typed;
	bool zoned; /* times are with a zone */

	/* the rest is match_arcs' own */
	size_t cap_streams, cap_typed;
	struct bytes text;
	struct ids stream_ids, typed_ids, lines;
	const struct opt_pairs *clocks;
	struct match_earlier *earlier;
};

/*
 * t is held as rows, its first columns are those above; it, plan and earlier outlive *a. Arcs that are in
 * earlier are repeated. begins is the hour at
 * which a shift's date changes, clocks are pairs of a machine's name and the seconds to be added to its
 * times. Runs of numbers go by their times, within a run by number; without numbers by time. 0, or -1
 * with t's err set: a clock of no machine, or that is not a whole number of seconds; times with a zone
 * and times without. match_arcs_free in any case.
 */
int match_arcs_read(struct match_arcs *a, struct table *t, struct planned *plan,
    struct match_earlier *earlier, int begins, const struct opt_pairs *clocks);
void match_arcs_free(struct match_arcs *a);

#endif
