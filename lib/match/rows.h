/*
 * rows: the joints table.
 */
#ifndef THRUM_MATCH_ROWS_H
#define THRUM_MATCH_ROWS_H

#include "match/tell.h"
#include "table/writer.h"

/* Writes the header and the rows that are told: what comes from the plan, then what comes from the arcs. */
void match_rows_write(const struct match_night *n, struct writer *out);

#endif
