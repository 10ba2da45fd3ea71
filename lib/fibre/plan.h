/*
 * plan: what is to become of each fibre, and what a record says otherwise. The one place where
 * records are compared with a plan.
 *
 *	struct plan plan;
 *	struct plan_record rec = { .joint = field_of("QUO-014"), .closure = field_of("quoin") };
 *	size_t row;
 *
 *	if (plan_load(&plan, &table, &only) == 0) {
 *		row = plan_find(&plan, &rec);
 *		if (row != PLAN_NONE && plan_amiss(&plan, row, &rec) != 0)
 *			complain();
 *	}
 *	plan_free(&plan);
 *
 * Fibres and slots with zeros in front are the same without. A field that is empty on one side is not
 * compared.
 */
#ifndef THRUM_FIBRE_PLAN_H
#define THRUM_FIBRE_PLAN_H

#include "table/hold.h"

/* the columns of a plan, which is held as rows without a key */
extern const struct col plan_cols[];

#define PLAN_STATES "join express parked dead"
enum plan_state { PLAN_JOIN, PLAN_EXPRESS, PLAN_PARKED, PLAN_DEAD };

/* one end of a fibre in a closure; toward: the site it runs to, empty where nothing is in doubt */
struct plan_end {
	struct field cable, fibre, toward;
};

/* what a record, or a row of the plan, says of a joint; empty: nothing */
struct plan_record {
	struct field joint, closure, tray, slot;
	struct plan_end end[2];
	struct field kind;
};

struct plan_row {
	struct plan_record is;
	enum plan_state state;
	struct field colours[2][2]; /* of each end, its tube and colour */
	bool ribbon, says_ribbon;   /* says_ribbon: the plan has columns of it */
	int64_t limit_udb;          /* DB_NONE: none */
	bool asked; /* it is in the part of the plan that was asked for, and to be joined */
	uint32_t pair, next[2]; /* the next row of the same fibres; of the same end */
	const char *file;
	uint64_t line;
};

struct plan {
	struct plan_row *rows; /* in the order of the table */
	size_t n;
	struct ids joints, pairs, ends;
	uint32_t *by_joint, *by_pair, *by_end; /* for each of these its first row */
	size_t cap_joint, cap_pair, cap_end;
};

#define PLAN_NONE SIZE_MAX

/*
 * Reads the rows of a held table, which must outlive p; a table that no option names is no plan. only (the
 * option of that name): COLUMN=VALUE[,VALUE], all of which must hold for a row to be asked for. 0, or
 * -1 with the table's err set: a second row of a joint's name, no such column, a value that no row of
 * the plan has there, no row that has all that is asked for.
 */
int plan_load(struct plan *p, struct table *t, const struct opt_pairs *only);

/*
 * The row of a record: that of its joint's name, or without a name that of its closure and fibres.
 * PLAN_NONE: none.
 */
size_t plan_find(struct plan *p, const struct plan_record *rec);

/* The row to join these fibres in this closure, whichever side is called a; or PLAN_NONE. */
size_t plan_of_fibres(struct plan *p, const struct plan_record *rec);

/* The row of one of the record's fibre ends that is not to be joined; or PLAN_NONE. */
size_t plan_not_to_join(struct plan *p, const struct plan_record *rec);

enum {
	PLAN_CLOSURE = 1,
	PLAN_FIBRES = 2,
	PLAN_TRAY = 4,
	PLAN_SLOT = 8,
	PLAN_STATE = 16,
	PLAN_KIND = 32
};

/* In what a record is otherwise than its row says; 0: in nothing. */
unsigned plan_amiss(const struct plan *p, size_t row, const struct plan_record *rec);

/*
 * Tube and colour of the fibre at a record's side, 0 or 1, as its row has them at whichever side; NULL:
 * the row does not join this fibre.
 */
const struct field *
plan_colours(const struct plan *p, size_t row, const struct plan_record *rec, int side);

/* "7" of "007" */
struct field plan_number(struct field f);

void plan_free(struct plan *p);

#endif
