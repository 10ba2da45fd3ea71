/*
 * rows: the joints table of a night's arcs: a row for each attempt, in the order of time.
 */
#ifndef THRUM_MATCH_ROWS_H
#define THRUM_MATCH_ROWS_H

#include "match/settle.h"
#include "table/writer.h"

/*
 * Writes header and rows to out: joint, attempt, stands; the plan's place, tube, colour and ribbon
 * columns; kind, fusion where the plan does not say; the plan's other columns, but for state; the arcs' est_db, cleave_a_deg, cleave_b_deg, tension, heat_s,
 * splicer, made_at, put right, and shift, arc, programme, note; the arcs' other columns in their
 * order. in is the table the arcs were read from, still open.
 */
void match_rows_write(const struct match_night *n, const struct table *in, struct writer *out);

#endif
