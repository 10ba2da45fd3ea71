/*
 * limit: what a joint may lose at most, by its kind.
 *
 *	struct limits limits;
 *	const struct limit *limit;
 *
 *	if (limits_load(&limits, &table) == 0) {
 *		limit = limit_find(&limits, field_of("fusion"), false);
 *		if (limit != NULL && limit->each_udb != DB_NONE)
 *			passed = loss_udb <= limit->each_udb;
 *	}
 *	limit_free(&limits);
 */
#ifndef THRUM_FIBRE_LIMIT_H
#define THRUM_FIBRE_LIMIT_H

#include "base/db.h"
#include "table/hold.h"

extern const struct blob limits_tsv;

struct limit {
	int64_t each_udb; /* no joint above it; DB_NONE: not limited */
	int64_t mean_udb; /* nor the mean of all such joints above this; DB_NONE: not limited */
	size_t mean_at;   /* 0, 1, 2 ... among those whose mean is limited */
};

struct limits {
	struct limit *v; /* one for each row */
	struct limit_kind *kinds;
	size_t nkinds, cap_kinds;
	size_t nmeans; /* how many limit the mean */
};

/* the columns and the key of a table of limits, which is held; limits_tsv is the built-in one */
extern const struct col limit_cols[];
extern const int limit_key[];

/*
 * Reads the rows of such a table, which must outlive l. A limit lies within 0 to 1000 dB; `ribbon` is
 * yes, no, or empty for both. 0, or -1 with the table's err set. limit_free in any case; a struct that
 * is all zero is fine, and has no limits.
 */
int limits_load(struct limits *l, struct table *t);

/*
 * The limit for a kind of joint, of ribbon fibres or not: its row for these, else its row for both,
 * else NULL. Looks through all kinds: meant for a dozen.
 */
const struct limit *limit_find(const struct limits *l, struct field kind, bool ribbon);

void limit_free(struct limits *l);

#endif
