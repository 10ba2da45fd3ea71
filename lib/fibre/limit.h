/*
 * limit: what a joint may lose at most, by its kind.
 *
 *	struct limits limits;
 *	const struct limit *limit;
 *
 *	if (limit_read(&limits, NULL, &err) == 0) {
 *		limit = limit_find(&limits, field_of("fusion"), false);
 *		if (limit != NULL && limit->each_udb != DB_NONE)
 *			passed = loss_udb <= limit->each_udb;
 *	}
 *	limit_free(&limits);
 */
#ifndef THRUM_FIBRE_LIMIT_H
#define THRUM_FIBRE_LIMIT_H

#include "base/db.h"
#include "base/err.h"
#include "table/kept.h"

extern const struct blob limits_tsv;

struct limit {
	int64_t each_udb; /* no joint above it; DB_NONE: not limited */
	int64_t mean_udb; /* nor the mean of all such joints above this; DB_NONE: not limited */
	size_t mean_at;   /* 0, 1, 2 ... among those whose mean is limited */
};

struct limits {
	struct kept rows;
	struct limit *v; /* one for each row */
	struct limit_kind *kinds;
	size_t nkinds, cap_kinds;
	size_t nmeans; /* how many limit the mean */
};

/*
 * Reads the table of limits at path, NULL: the compiled-in one. A limit lies within 0 to 1000 dB;
 * `ribbon` is yes, no, or empty for both. 0, or -1 with err set, as kept_read. limit_free in any
 * case; a struct that is all zero is fine, and has no limits.
 */
int limit_read(struct limits *l, const char *path, struct err *err);

/*
 * The limit for a kind of joint, of ribbon fibres or not: its row for these, else its row for both,
 * else NULL. Looks through all kinds: meant for a dozen.
 */
const struct limit *limit_find(const struct limits *l, struct field kind, bool ribbon);

void limit_free(struct limits *l);

#endif
