/*
 * cost: the table of what each step of a walk costs (match/match.h), and at what an arc's
 * record is measured.
 */
#ifndef THRUM_MATCH_COST_H
#define THRUM_MATCH_COST_H

#include "base/bytes.h"
#include "base/err.h"
#include "match/match.h"
#include "table/table.h"

struct match_table {
	struct match_costs costs;
	size_t gaps;                 /* classes in use */
	double gap_from[MATCH_GAPS]; /* where each begins, in paces; the first at 0 */
	int64_t high_udb;            /* an estimate from here on is high, in 10^-6 dB */
	int64_t pace_s;    /* the pace of a machine with too few arcs to tell, in seconds */
	int32_t threshold; /* readings nearer than this are not told apart */
};

extern const struct blob match_costs_tsv;

extern const struct col match_cost_cols[];

/*
 * Reads the rows of such a table. 0, or -1 with its err set: a row that
 * is not known, is there twice or is missing; a cost that is not a whole number from 0 to
 * MATCH_COST_MOST, or stands where none may; gaps that do not begin at 0 and rise.
 */
int match_costs_read(struct match_table *t, struct table *in);

/* The class of a time of gap_s seconds at a pace of pace_s, above 0. */
uint8_t match_gap_class(const struct match_table *t, double gap_s, double pace_s);

#endif
