/*
 * rows: the joints table.
 */
#ifndef THRUM_MATCH_ROWS_H
#define THRUM_MATCH_ROWS_H

#include "match/tell.h"
#include "table/writer.h"

/*
 * Writes the header, what comes from the plan before what comes from the arcs, and the rows that are
 * told. in is the table the arcs were read from.
 */
void match_rows_write(const struct match_night *n, const struct table *in, struct writer *out);

#endif
