/*
 * allowance: what to plan with for the parts of a link whose loss is not measured.
 *
 *	struct allowances allowances;
 *	struct allowance_of fibre = { .kind = KIND_FIBRE };
 *	const struct allowance *a;
 *
 *	if (allowances_load(&allowances, &table) == 0) {
 *		a = allowance_find(&allowances, &fibre, 1310);
 *		if (a != NULL)
 *			use(a->typical_udb, a->sd_db, a->max_udb);
 *	}
 *	allowance_free(&allowances);
 */
#ifndef THRUM_FIBRE_ALLOWANCE_H
#define THRUM_FIBRE_ALLOWANCE_H

#include <stddef.h>
#include <stdint.h>

#include "base/mem.h"
#include "table/table.h"

extern const struct blob allowances_tsv;

/* what stands along a link, in the order of KIND_WORDS, which a COL_WORD column can take */
enum kind {
	KIND_CONNECTOR,
	KIND_FIBRE,
	KIND_FUSION,
	KIND_MECHANICAL,
	KIND_SPLITTER,
	KIND_OTHER,
	KIND_UNKNOWN, /* not known */
};
#define KIND_WORDS "connector fibre fusion mechanical splitter other"

/* The word of a kind. */
struct field kind_word(enum kind kind);

/* what an allowance is for */
struct allowance_of {
	enum kind kind;
	int64_t ways;          /* of a splitter, 2 to 1024; 0: not known, or of any number */
	struct field name;     /* empty: the usual one of its kind */
	struct field category; /* of the fibre; empty: not known, or any */
};

/* of a fibre for each km, of all else for each piece */
struct allowance {
	struct allowance_of of;
	double from_nm, to_nm; /* both ends allowed; both 0: at every wavelength */
	int64_t typical_udb;   /* the mean */
	int64_t max_udb;       /* not below typical_udb */
	double sd_db;          /* standard deviation, 0 and up */
};

struct allowances {
	struct allowance *v;
	size_t n, cap;
	struct region text;
};

/* the columns of a table of allowances; allowances_tsv is the built-in one */
extern const struct col allowance_cols[];

/*
 * Reads the rows of t, which was opened with allowance_cols. 0, or -1 with the table's err set: a field
 * that is not what it must be, no typical_db or max_db, max_db below typical_db, ways where there are
 * none, km where there are pieces, `other` without a name, two rows for the same thing at one
 * wavelength (they may touch: the one that begins there holds). allowance_free in any case.
 */
int allowances_load(struct allowances *a, struct table *t);

/*
 * The row for this at this wavelength; else the one for every wavelength; else NULL. wavelength_nm 0:
 * only what holds at every wavelength. Where the table has a category for the kind and name, only its
 * rows count; for all other categories those without one. Of a row without ways any number will do.
 */
const struct allowance *
allowance_find(const struct allowances *a, const struct allowance_of *of, double wavelength_nm);

/* true if any row has this name, which is not empty */
bool allowance_named(const struct allowances *a, struct field name);

/*
 * The category that `category` was probably meant for: one of the table that has the same
 * letters and digits, but not their case or what stands between; else empty.
 */
struct field allowance_category(const struct allowances *a, struct field category);

/* true if there is a row for this at any wavelength */
bool allowance_anywhere(const struct allowances *a, const struct allowance_of *of);

/* Adds the wavelengths at which there is a row for this to says: "1260 to 1625, 1650 to 1675". */
void allowance_wavelengths(
    const struct allowances *a, const struct allowance_of *of, struct bytes *says);

void allowance_free(struct allowances *a);

#endif
