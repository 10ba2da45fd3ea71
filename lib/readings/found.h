/*
 * found: what is wrong with readings, as rows of the faults table (thrum-tables(5)).
 */
#ifndef THRUM_READINGS_FOUND_H
#define THRUM_READINGS_FOUND_H

#include "base/db.h"
#include "table/sheet.h"

enum found_rule {
	FOUND_LENGTH,
	FOUND_ENDS,
	FOUND_OPEN,
	FOUND_OVER,
	FOUND_NEGATIVE,
	FOUND_STEP,
	FOUND_BEND,
	FOUND_LOSS_DIFFERS,
	FOUND_READ_TWICE,
	FOUND_COPIED,
	FOUND_UNREAD,
	FOUND_UNDATED,
	FOUND_UNPAIRED,
	FOUND_ASTRAY,
	FOUND_CORD,
	FOUND_SHARED,
	FOUND_OUTDATED,
};

/* what may be known of one; empty or 0: nothing */
struct found_row {
	enum found_rule rule;
	const char *file;
	uint64_t line;
	struct field joint, link, site;
	double nm, km; /* km NAN: not known */
	struct field found;
	const char *wanted, *says;
};

struct found {
	struct sheet *out; /* all zero: they are only counted */
	uint64_t errors, warnings;
};

extern const struct col found_reading_cols[];

void found_reading(struct found *f, const struct found_row *row);

#endif
