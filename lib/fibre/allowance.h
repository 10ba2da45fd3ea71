/*
 * allowance: what to plan with for the parts of a link whose loss is not measured.
 *
 *	struct allowances allowances;
 *	const struct allowance *a;
 *
 *	if (allowances_load(&allowances, &table) == 0) {
 *		a = allowance_find(&allowances, KIND_FIBRE, 0, 1310);
 *		if (a != NULL)
 *			use(a->typical_udb, a->sd_db, a->max_udb);
 *	}
 *	allowance_free(&allowances);
 */
#ifndef THRUM_FIBRE_ALLOWANCE_H
#define THRUM_FIBRE_ALLOWANCE_H

#include <stddef.h>
#include <stdint.h>

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

/* of a fibre for each km, of all else for each piece */
struct allowance {
	enum kind kind;
	int64_t ways;         /* of a splitter, 2 to 1024; else 0 */
	double wavelength_nm; /* 0: at every wavelength */
	int64_t typical_udb;  /* the mean */
	int64_t max_udb;      /* not below typical_udb */
	double sd_db;         /* standard deviation, 0 and up */
};

struct allowances {
	struct allowance *v;
	size_t n, cap;
};

/* the columns of a table of allowances; allowances_tsv is the built-in one */
extern const struct col allowance_cols[];

/*
 * Reads the rows of t, which was opened with allowance_cols. 0, or -1 with the table's err set: a field
 * that is not what it must be, no typical_db or max_db, max_db below typical_db, ways where there are
 * none, km where there are pieces, two rows for the same thing. allowance_free in any case.
 */
int allowances_load(struct allowances *a, struct table *t);

/*
 * The row for this kind, for a splitter of so many ways, at exactly this wavelength; else the one for
 * every wavelength; else NULL. wavelength_nm 0: only what holds at every wavelength.
 */
const struct allowance *
allowance_find(const struct allowances *a, enum kind kind, int64_t ways, double wavelength_nm);

void allowance_free(struct allowances *a);

#endif
