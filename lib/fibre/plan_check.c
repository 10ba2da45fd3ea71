#include "fibre/plan_check.h"

#include <stdlib.h>

#include "base/mem.h"

#define NO_ROW UINT32_MAX

struct plan_joint {
	const char *file;
	uint64_t line;
	struct plan_record *rec; /* NULL: all is as planned */
	uint32_t row, as;        /* rows of the plan: its own; the one to join its fibres */
	uint32_t not_to_join;    /* the one that says no */
	uint8_t amiss;
};

static struct plan_record *
keep(struct region *r, const struct plan_record *rec)
{
	struct plan_record *kept = region_get(r, sizeof *kept);

	*kept = (struct plan_record){ region_keep(r, rec->joint), region_keep(r, rec->closure),
		region_keep(r, rec->tray), region_keep(r, rec->slot), { { { "", 0 } } } };
	for (int i = 0; i < 2; i++)
		kept->end[i] = (struct plan_end){ region_keep(r, rec->end[i].cable),
			region_keep(r, rec->end[i].fibre), region_keep(r, rec->end[i].toward) };
	kept->kind = region_keep(r, rec->kind);
	return kept;
}

static uint32_t
row_number(size_t row)
{
	return row == PLAN_NONE ? NO_ROW : (uint32_t)row;
}

void
plan_check_row(struct plan_check *pc, const struct plan_record *rec, size_t joint, bool anew,
    const char *file, uint64_t line)
{
	size_t before = pc->cap_of, at = pc->n;
	struct plan_joint j = { .file = file, .line = line };

	if (joint != SIZE_MAX) {
		pc->of = mem_grow(pc->of, &pc->cap_of, joint + 1, sizeof *pc->of);
		memset(pc->of + before, 0, (pc->cap_of - before) * sizeof *pc->of);
		if (pc->of[joint] > 0)
			at = pc->of[joint] - 1;
		pc->of[joint] = (uint32_t)at + 1;
	}
	pc->placed[0] |= rec->tray.n > 0;
	pc->placed[1] |= rec->slot.n > 0;
	j.row = row_number(plan_find(pc->plan, rec));
	j.as = row_number(plan_of_fibres(pc->plan, rec));
	j.not_to_join = row_number(plan_not_to_join(pc->plan, rec));
	if (j.row != NO_ROW)
		j.amiss = (uint8_t)plan_amiss(pc->plan, j.row, rec);
	if (j.not_to_join == NO_ROW && j.amiss & PLAN_STATE)
		j.not_to_join = j.row;
	if (at < pc->n && !anew && j.amiss == 0 && j.row != NO_ROW && j.not_to_join == NO_ROW)
		return; /* another row of the attempt, which says nothing new */
	if (j.amiss > 0 || j.row == NO_ROW || j.not_to_join != NO_ROW)
		j.rec = keep(&pc->text, rec);
	pc->joints = mem_grow(pc->joints, &pc->cap, at + 1, sizeof *pc->joints);
	pc->joints[at] = j;
	if (at == pc->n)
		pc->n++;
}

/* --- findings -------------------------------------------------------------------------------- */

struct say {
	void (*report)(void *, const struct finding *);
	void *arg;
	struct bytes found, wanted;
};

static void
add(struct bytes *b, struct field f)
{
	if (f.n > 0 && b->n > 0)
		bytes_add_text(b, " ");
	bytes_add_field(b, f);
}

static void
fibres(struct bytes *b, const struct plan_record *rec)
{
	b->n = 0;
	for (int i = 0; i < 2; i++) {
		add(b, rec->end[i].cable);
		add(b, rec->end[i].fibre);
		add(b, rec->end[i].toward);
	}
}

static void
place(struct bytes *b, const struct plan_record *rec)
{
	b->n = 0;
	add(b, rec->closure);
	add(b, rec->tray);
	add(b, rec->slot);
}

static void
say(struct say *s, const char *file, uint64_t line, struct field joint, const char *column,
    const char *rule, const char *says)
{
	bytes_add(&s->wanted, "", 1);
	s->report(s->arg, &(struct finding){ file, line, field_of(column), joint, rule, true,
			      bytes_field(&s->found), s->wanted.p, says });
}

/* The other joint, if it has this one's fibres and this one has its; or NULL. */
static const struct plan_joint *
exchanged_with(const struct plan_check *pc, const struct plan_joint *j, const uint32_t *joint_of)
{
	const struct plan_joint *other;

	if (j->row == NO_ROW || j->as == NO_ROW || j->as == j->row || joint_of[j->as] == NO_ROW)
		return NULL;
	other = &pc->joints[joint_of[j->as]];
	return other != j && other->amiss & PLAN_FIBRES && other->as == j->row ? other : NULL;
}

static void
say_fibres(
    struct plan_check *pc, struct say *s, const struct plan_joint *j, const uint32_t *joint_of)
{
	const struct plan_joint *other = exchanged_with(pc, j, joint_of);

	if (other != NULL && other < j)
		return; /* said with the other one */
	fibres(&s->found, j->rec);
	fibres(&s->wanted, &pc->plan->rows[j->row].is);
	if (other == NULL) {
		say(s, j->file, j->line, j->rec->joint, "fibre_a", "plan-fibres",
		    "other fibres than planned");
		return;
	}
	s->found.n = 0;
	add(&s->found, other->rec->joint);
	say(s, j->file, j->line, j->rec->joint, "fibre_a", "plan-exchanged",
	    "each of the two joints has the other's fibres");
}

static void
say_joint(
    struct plan_check *pc, struct say *s, const struct plan_joint *j, const uint32_t *joint_of)
{
	static const char *const states[] = { "join", "express", "parked", "dead" };
	struct field joint = j->rec->joint;

	if (j->not_to_join != NO_ROW) {
		fibres(&s->found, j->rec);
		s->wanted.n = 0;
		bytes_add_text(&s->wanted, states[pc->plan->rows[j->not_to_join].state]);
		say(s, j->file, j->line, joint, "fibre_a", "plan-state",
		    "joined, though the plan says no");
	} else if (j->row == NO_ROW) {
		fibres(&s->found, j->rec);
		s->wanted.n = 0;
		bytes_add_text(&s->wanted, "a joint of the plan");
		say(s, j->file, j->line, joint, "joint", "plan-surplus", "in no row of the plan");
	}
	if (j->row == NO_ROW)
		return;
	if (j->amiss & PLAN_FIBRES)
		say_fibres(pc, s, j, joint_of);
	if (j->amiss & (PLAN_CLOSURE | PLAN_TRAY | PLAN_SLOT)) {
		place(&s->found, j->rec);
		place(&s->wanted, &pc->plan->rows[j->row].is);
		say(s, j->file, j->line, joint, j->amiss & PLAN_CLOSURE ? "closure" : "tray",
		    "plan-place", "in another place than planned");
	}
	if (j->amiss & PLAN_KIND) {
		s->found.n = s->wanted.n = 0;
		add(&s->found, j->rec->kind);
		add(&s->wanted, pc->plan->rows[j->row].is.kind);
		say(s, j->file, j->line, joint, "kind", "plan-kind",
		    "of another kind than planned");
	}
}

/* Of trays and slots that the plan has and no record: where the joints lie is not compared. */
static void
say_unplaced(const struct plan_check *pc, struct say *s)
{
	bool has[2] = { false, false };

	for (size_t i = 0; i < pc->plan->n; i++) {
		has[0] |= pc->plan->rows[i].asked && pc->plan->rows[i].is.tray.n > 0;
		has[1] |= pc->plan->rows[i].asked && pc->plan->rows[i].is.slot.n > 0;
	}
	has[0] &= !pc->placed[0];
	has[1] &= !pc->placed[1];
	if (pc->n == 0 || !(has[0] || has[1]))
		return;
	s->report(s->arg,
	    &(struct finding){ pc->joints[0].file, 1, .rule = "plan-unplaced",
		.wanted = has[0] && has[1] ? "tray, slot"
			  : has[0]         ? "tray"
					   : "slot",
		.says = "no record has it: where the joints lie is not compared with the plan" });
}

void
plan_check_end(struct plan_check *pc, void (*report)(void *, const struct finding *), void *arg)
{
	struct say s = { report, arg, { NULL, 0, 0 }, { NULL, 0, 0 } };
	size_t n = pc->plan->n;
	uint32_t *joint_of = mem_zeroed(n + 1, sizeof *joint_of); /* for each row, or NO_ROW */

	for (size_t i = 0; i < n; i++)
		joint_of[i] = NO_ROW;
	for (size_t i = 0; i < pc->n; i++)
		if (pc->joints[i].row != NO_ROW)
			joint_of[pc->joints[i].row] = (uint32_t)i;
	for (size_t i = 0; i < pc->n; i++)
		if (pc->joints[i].rec != NULL)
			say_joint(pc, &s, &pc->joints[i], joint_of);
	for (size_t i = 0; i < n; i++) {
		const struct plan_row *r = &pc->plan->rows[i];

		if (!r->asked || joint_of[i] != NO_ROW)
			continue;
		s.found.n = 0;
		place(&s.wanted, &r->is);
		say(&s, r->file, r->line, r->is.joint, "joint", "plan-missing",
		    "planned, but no attempt stands");
	}
	say_unplaced(pc, &s);
	bytes_free(&s.found);
	bytes_free(&s.wanted);
	free(joint_of);
}

void
plan_check_free(struct plan_check *pc)
{
	free(pc->joints);
	free(pc->of);
	region_free(&pc->text);
}
