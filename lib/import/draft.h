/*
 * draft: a first map for an export without one. All that was not given is a proposal: its rule has a
 * question mark, which map_read refuses.
 */
#ifndef THRUM_IMPORT_DRAFT_H
#define THRUM_IMPORT_DRAFT_H

#include "base/err.h"
#include "import/export.h"
#include "import/map.h"
#include "table/writer.h"

/*
 * Reads an export, opened but not begun, to its end and writes the draft. `given` (may be NULL) is
 * a map of which the dialect is taken as known. Memory grows with the number of columns only. 0, or
 * -1 with err set.
 */
int draft_write(struct export *in, const struct map *given, struct writer *out, struct err *err);

#endif
