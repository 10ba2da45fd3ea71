/*
 * named: the layouts without a header: records in which a name stands beside each value, and lines
 * with cells at fixed places. Each record gets a cell for each name that is wanted, in that order,
 * empty if it is not there. For export.c alone.
 */
#ifndef THRUM_IMPORT_NAMED_H
#define THRUM_IMPORT_NAMED_H

#include "import/export.h"

/*
 * Reads a line of LAYOUT_FIXED, LAYOUT_JSON, or the first of a block of LAYOUT_LABELS that goes on to
 * a blank line, a line of dashes or the like, or a label that the block has already; on return *l is
 * the record's last line. What is wrong is kept by lines_fault. false at trouble.
 */
bool named_read(struct export *x, struct line *l);

/* true if a line has no letter and no digit and ends a block of labels, e.g. "-----" or a blank one */
bool named_is_border(struct field text);

#endif
