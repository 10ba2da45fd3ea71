/*
 * unit: the units an export's numbers come in, and the way to those the suite writes.
 *
 *	const struct unit *from = unit_named(field_of("ft")), *to = unit_of_column(field_of("fibre_km"));
 *
 *	if (from != NULL && to != NULL && from->kind == to->kind)
 *		unit_convert(&d, from, to);
 *
 * Exact but for the units marked `rounded`.
 */
#ifndef THRUM_IMPORT_UNIT_H
#define THRUM_IMPORT_UNIT_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "import/decimal.h"

enum unit_kind {
	UNIT_LENGTH,
	UNIT_TIME,
	UNIT_LOSS,
	UNIT_PER_LENGTH,
	UNIT_LEVEL,
	UNIT_ANGLE,
	UNIT_PART,
};

/* one unit is factor * 10^power of its kind's first one: m, s, dB, dB/km, dBm, deg, ratio */
struct unit {
	const char *name;   /* as a map writes it */
	const char *column; /* as the last word of a column's name; NULL: none ends so */
	const char *also;   /* other spellings in cells, separated by blanks; NULL: none */
	enum unit_kind kind;
	uint64_t factor;
	int power;
	bool rounded; /* the factor is no finite decimal: results get UNIT_DIGITS digits */
};

enum { UNIT_DIGITS = 12 };

/* The unit of this name, exactly as a map writes it, or NULL. */
const struct unit *unit_named(struct field name);

/* The same, or one of its other spellings: what may stand behind a number in a cell. */
const struct unit *unit_in_cell(struct field name);

/* The unit a column's name ends in ("fibre_km", "km", "atten_1550_db_km"), or NULL. */
const struct unit *unit_of_column(struct field column);

/*
 * The unit that a header's name tells among its words ("l mdB", "Loss (dB)"), of the kind of `usual`,
 * which is preferred; usual NULL: of any kind. NULL: it tells none.
 */
const struct unit *unit_told(struct field name, const struct unit *usual);

/* The unit itself if a column's name may end in it, else the usual one of its kind. */
const struct unit *unit_for_columns(const struct unit *unit);

/*
 * Makes a number of units `from` one of units `to`; both of one kind, `to` one with a column name
 * (its factor is 1). Rounded, if at all, half away from zero.
 */
void unit_convert(struct decimal *d, const struct unit *from, const struct unit *to);

/* All names a map may write, separated by ", ", appended to b. */
void unit_names(struct bytes *b);

#endif
