/*
 * limit: what a joint may lose at most, and whether what is known of its loss is enough to say so. The
 * one place where limits are looked up.
 *
 *	struct limits limits;
 *	struct limit_case c = { .kind = field_of("fusion"), .nm = 1550, .basis = JOINT_TWO_WAY,
 *	    .planned_udb = DB_NONE };
 *	struct limit limit;
 *
 *	if (limits_load(&limits, &table) == 0) {
 *		limit_judge(&limits, &c, &limit);
 *		if (limit.accepted && limit.each_udb != DB_NONE)
 *			passed = loss_udb <= limit.each_udb;
 *	}
 *	limit_free(&limits);
 */
#ifndef THRUM_FIBRE_LIMIT_H
#define THRUM_FIBRE_LIMIT_H

#include "base/db.h"
#include "fibre/joint.h"
#include "fibre/plan.h"
#include "table/hold.h"

extern const struct blob limits_tsv;

/* what is judged */
struct limit_case {
	struct field closure, kind; /* kind: empty is fusion */
	bool ribbon;
	double nm; /* of the loss; 0: not known */
	enum joint_basis basis, accept;
	int64_t planned_udb; /* the plan's limit_db; DB_NONE: none */
};

struct limit {
	bool accepted;    /* the basis is enough for a verdict */
	int64_t each_udb; /* no joint above it; DB_NONE: not limited */
	int64_t mean_udb; /* nor the mean of all such joints above this; DB_NONE: not limited */
	size_t mean_at;   /* 0, 1, 2 ... among those whose mean is limited */
};

struct limits {
	struct limit_row *rows;
	size_t n;
	size_t nmeans; /* how many limit the mean */
};

/* the columns and the key of a table of limits, which is held; limits_tsv is the built-in one */
extern const struct col limit_cols[];
extern const int limit_key[];

/*
 * Reads the rows of such a table, which must outlive l. A limit lies within 0 to 1000 dB. A key that
 * is empty fits every joint, but an empty basis is two-way. 0, or -1 with the table's err set.
 * limit_free in any case; a struct that is all zero is fine, and has no limits.
 */
int limits_load(struct limits *l, struct table *t);

/* One limit for all joints, of any kind, as two-way limit. */
void limits_one(struct limits *l, int64_t each_udb);

/* true if a row is for one closure: without, a case's closure changes nothing */
bool limits_name_closures(const struct limits *l);

/*
 * What the joint's row of the plan says of a case: its limit, and before what is recorded its kind and whether
 * it is of a ribbon. A crew's record does not choose its own limit.
 */
void limit_plan(struct limit_case *c, const struct plan_row *row);

/*
 * The limit of a case: the plan's, then that of the most specific row: of those that fit the one with
 * most keys filled, of equal ones the one with the first filled of closure, kind, ribbon, loss_nm,
 * basis. A row has to be of the case's basis; where `accept` says that this basis is enough, the
 * two-way row is taken if there is none. The plan's limit is a two-way limit. Without a row the limits
 * are DB_NONE. Looks through all rows.
 */
void limit_judge(const struct limits *l, const struct limit_case *c, struct limit *limit);

/*
 * The limit of a loss that the joint of a case shares with others, named in `with` by commas: joints, and
 * ports as SITE:PORT. It is the sum of their limits, each at most so much; a mean is not limited. A joint
 * is of the kind and closure that the plan (NULL: none) gives it, else of the case's; a port is a connector.
 * With nobody in `with` it is that of limit_judge.
 */
void limit_shared(const struct limits *l, const struct limit_case *c, struct field with,
    const struct plan *plan, struct limit *limit);

void limit_free(struct limits *l);

#endif
