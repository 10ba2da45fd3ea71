#include "match/cost.h"

#include "base/db.h"
#include "table/table.h"

enum { WHAT, FROM, NEXT, SKIP, SKIPS, TRAY, JUMP, START, ELSEWHERE, RETRY, PRACTICE, LEAVE, COLS };

const struct col match_cost_cols[] = {
	[WHAT] = { "what", COL_NEED, COL_TEXT },
	[FROM] = { "from", COL_NEED, COL_NUM, 0, 1000000 },
	[NEXT] = { "next", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	[SKIP] = { "skip", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	[SKIPS] = { "skips", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	[TRAY] = { "tray", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	[JUMP] = { "jump", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	[START] = { "start", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	[ELSEWHERE] = { "elsewhere", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	[RETRY] = { "retry", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	[PRACTICE] = { "practice", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	[LEAVE] = { "leave", COL_NEED, COL_WHOLE, 0, MATCH_COST_MOST },
	{ NULL },
};

/* the columns a row must have; all others must be empty */
#define BIT(col) (1u << (col))
enum {
	THREE = BIT(NEXT) | BIT(RETRY) | BIT(PRACTICE),
	ALL = THREE | BIT(SKIP) | BIT(SKIPS) | BIT(TRAY) | BIT(JUMP) | BIT(START) | BIT(ELSEWHERE) |
	      BIT(LEAVE),
};

enum {
	THRESHOLD,
	HIGH,
	PACE,
	MOVE,
	FURTHER,
	LOOK,
	AFTER = LOOK + MATCH_LOOKS,
	GAP = AFTER + MATCH_LOOKS,
	ENTER,
	UNFINISHED = ENTER + MATCH_ENTRIES,
	BEGUN,
	STOP,
	ROWS
};

static const struct {
	const char *what;
	unsigned has;
} rows[ROWS] = {
	[THRESHOLD] = { "threshold", BIT(FROM) },
	[HIGH] = { "high_db", BIT(FROM) },
	[PACE] = { "pace_s", BIT(FROM) },
	[MOVE] = { "move", ALL },
	[FURTHER] = { "further", BIT(SKIPS) },
	[LOOK + MATCH_FAILED] = { "look-failed", BIT(NEXT) | BIT(PRACTICE) },
	[LOOK + MATCH_HIGH] = { "look-high", BIT(NEXT) | BIT(PRACTICE) },
	[LOOK + MATCH_OPEN] = { "look-open", BIT(NEXT) | BIT(PRACTICE) },
	[LOOK + MATCH_PLAIN] = { "look-plain", BIT(NEXT) | BIT(PRACTICE) },
	[LOOK + MATCH_PASSED] = { "look-passed", BIT(NEXT) | BIT(PRACTICE) },
	[LOOK + MATCH_DONE] = { "look-done", BIT(NEXT) | BIT(PRACTICE) },
	[AFTER + MATCH_FAILED] = { "after-failed", THREE },
	[AFTER + MATCH_HIGH] = { "after-high", THREE },
	[AFTER + MATCH_OPEN] = { "after-open", THREE },
	[AFTER + MATCH_PLAIN] = { "after-plain", THREE },
	[AFTER + MATCH_PASSED] = { "after-passed", THREE },
	[AFTER + MATCH_DONE] = { "after-done", THREE },
	[GAP] = { "gap", BIT(FROM) | ALL },
	[ENTER + MATCH_CLOSURE_START] = { "enter-closure", BIT(JUMP) },
	[ENTER + MATCH_TRAY_START] = { "enter-tray", BIT(JUMP) },
	[ENTER + MATCH_MIDDLE] = { "enter-middle", BIT(JUMP) },
	[UNFINISHED] = { "unfinished", BIT(TRAY) | BIT(JUMP) | BIT(ELSEWHERE) },
	[BEGUN] = { "begun", BIT(NEXT) },
	[STOP] = { "stop", BIT(JUMP) },
};

static const int move_col[MATCH_MOVES] = {
	[MATCH_NEXT] = NEXT,
	[MATCH_SKIP] = SKIP,
	[MATCH_SKIPS] = SKIPS,
	[MATCH_TRAY] = TRAY,
	[MATCH_JUMP] = JUMP,
	[MATCH_START] = START,
	[MATCH_ELSEWHERE_MOVE] = ELSEWHERE,
	[MATCH_RETRY] = RETRY,
	[MATCH_PRACTICE_MOVE] = PRACTICE,
	[MATCH_LEAVE] = LEAVE,
};

static bool
is_practice(int move)
{
	return move == MATCH_PRACTICE_MOVE || move == MATCH_LEAVE;
}

static void
all_moves(int32_t *cost, const int64_t *v)
{
	for (int m = 0; m < MATCH_MOVES; m++)
		cost[m] = (int32_t)v[move_col[m]];
}

/* A gap's row; from is where it begins. */
static void
add_gap(struct match_table *t, struct table *in, double from, const int64_t *v)
{
	if (t->gaps == MATCH_GAPS) {
		table_fail(in, WHAT, "more than 16 rows of gaps");
		return;
	}
	if (t->gaps == 0 ? from != 0 : from <= t->gap_from[t->gaps - 1]) {
		table_fail(in, FROM,
		    t->gaps == 0 ? "the first gap does not begin at 0" : "gaps do not rise");
		return;
	}
	t->gap_from[t->gaps] = from;
	all_moves(t->costs.gap[t->gaps++], v);
}

static void
take_row(struct match_table *t, struct table *in, int row, double from, const int64_t *v)
{
	struct match_costs *c = &t->costs;

	if (row >= LOOK && row < AFTER) {
		for (int m = 0; m < MATCH_MOVES; m++)
			c->look[row - LOOK][m] = (int32_t)v[is_practice(m) ? PRACTICE : NEXT];
	} else if (row >= AFTER && row < GAP) {
		c->after_on[row - AFTER] = (int32_t)v[NEXT];
		c->after_retry[row - AFTER] = (int32_t)v[RETRY];
		c->after_practice[row - AFTER] = (int32_t)v[PRACTICE];
	} else if (row >= ENTER && row < UNFINISHED) {
		c->enter[row - ENTER] = (int32_t)v[JUMP];
	} else if (row == GAP) {
		add_gap(t, in, from, v);
	} else if (row == MOVE) {
		all_moves(c->move, v);
	} else if (row == FURTHER) {
		c->further = (int32_t)v[SKIPS];
	} else if (row == UNFINISHED) {
		c->unfinished_tray = (int32_t)v[TRAY];
		c->unfinished_jump = (int32_t)v[JUMP];
		c->unfinished_elsewhere = (int32_t)v[ELSEWHERE];
	} else if (row == BEGUN) {
		c->begun = (int32_t)v[NEXT];
	} else if (row == STOP) {
		c->stop = (int32_t)v[JUMP];
	} else if (row == THRESHOLD) {
		t->threshold = (int32_t)from;
		if (from > MATCH_THRESHOLD_MOST)
			table_fail(in, FROM, "above 100000");
	} else if (row == PACE) {
		t->pace_s = (int64_t)from;
		if (from < 1)
			table_fail(in, FROM, "below 1 second");
	} else if (db_from(from, &t->high_udb) != 0)
		table_fail(in, FROM, "too large");
}

/* One row of the table; seen[] counts those of each kind. */
static void
read_row(struct match_table *t, struct table *in, int *seen)
{
	struct field what = { "", 0 }, any;
	int64_t v[COLS] = { 0 };
	double from = 0;
	int row = 0;

	get_text(in, WHAT, &what);
	while (row < ROWS && !field_is(what, rows[row].what))
		row++;
	if (row == ROWS) {
		table_fail(in, WHAT, "no such row: --print-costs shows them all");
		return;
	}
	if (seen[row]++ > 0 && row != GAP) {
		table_fail(in, WHAT, "this row is there twice");
		return;
	}
	get_num(in, FROM, &from);
	for (int col = FROM; col < COLS; col++) {
		bool due = rows[row].has & BIT(col), there = get_text(in, col, &any);

		if (col != FROM)
			get_whole(in, col, &v[col]);
		if (due && !there)
			table_fail(in, col, "a number is missing");
		if (!due && there)
			table_fail(in, col, "this row has no such number");
	}
	if (!err_is_set(in->err))
		take_row(t, in, row, from, v);
}

int
match_costs_read(struct match_table *t, struct table *in)
{
	int seen[ROWS] = { 0 };

	*t = (struct match_table){ 0 };
	while (table_next(in))
		read_row(t, in, seen);
	for (int row = 0; row < ROWS; row++)
		if (seen[row] == 0)
			err_set(in->err, "%s: the row '%s' is missing", reader_file(in->reader),
			    rows[row].what);
	return err_is_set(in->err) ? -1 : 0;
}

uint8_t
match_gap_class(const struct match_table *t, double gap_s, double pace_s)
{
	size_t g = t->gaps - 1;

	while (g > 0 && gap_s < t->gap_from[g] * pace_s)
		g--;
	return (uint8_t)g;
}
