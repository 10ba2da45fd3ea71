/*
 * plan_check: all records of a table against a plan, as findings.
 *
 *	struct plan_check pc = { .plan = &plan };
 *
 *	plan_check_row(&pc, &rec, joint, anew, row->file, row->line);	for each row that counts
 *	plan_check_end(&pc, report, arg);
 *	plan_check_free(&pc);
 *
 * Rules: plan-missing, plan-surplus, plan-fibres, plan-exchanged (two joints of one plan, each with the
 * other's fibres: one finding), plan-place (closure, tray or slot), plan-kind, plan-state (joined though express,
 * parked or dead). All are errors; plan-unplaced, that no record has what the plan says of tray or slot, is a
 * warning. Memory: 64 bytes a joint, and its texts if it is not as planned.
 */
#ifndef THRUM_FIBRE_PLAN_CHECK_H
#define THRUM_FIBRE_PLAN_CHECK_H

#include "fibre/plan.h"
#include "table/findings.h"

struct plan_check {
	struct plan *plan;
	struct plan_joint *joints;
	size_t n, cap;
	bool placed[2]; /* a record has a tray, a slot */
	uint32_t *of;   /* for each number of a joint its place in joints, from 1 */
	size_t cap_of;
	struct region text;
};

/*
 * A row of an attempt that counts. joint: its number, SIZE_MAX if it has no name; anew: it takes the
 * place of what was known of the joint. rec is copied.
 */
void plan_check_row(struct plan_check *pc, const struct plan_record *rec, size_t joint, bool anew,
    const char *file, uint64_t line);

/* Once after the last row: findings in the order of the joints, then of the plan. */
void
plan_check_end(struct plan_check *pc, void (*report)(void *, const struct finding *), void *arg);

/* Frees what belongs to it, not the plan. */
void plan_check_free(struct plan_check *pc);

#endif
