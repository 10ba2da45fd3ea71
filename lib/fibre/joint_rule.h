/*
 * joint_rule: the kinds of rule that know what a joint of two fibres is; struct rule_kind explains.
 *
 *	colour       of two columns, a fibre's number and its colour, they agree by the colour order
 *	             that words names (tia-598); `high` is how many fibres a tube holds (12)
 *	tube         of two columns, a fibre's number and its tube's colour or number, they agree
 *	not-itself   of six columns, cable, fibre and toward of both ends, these are not one end
 *	fibre-once   of seven columns, closure, and cable, fibre and toward of both ends, either end is in
 *	             one joint only, as these stand after all nights
 *	slot-once    of closure, tray, slot and two ribbons, so many joints as `high` says (1), or one
 *	             ribbon, lie in a slot, as they stand after all nights
 *	attempts     the numbers of a joint's attempts have no hole, counted from 1 (1 to 64 count)
 *	one-stands   of stands, attempt and shift, of a joint's attempts of one shift one stands: "yes",
 *	             or empty
 *	last-stands  of stands, no attempt that is "no" was made after the one that counts (night.h)
 *	agree        of a joint's rows of one attempt and shift, which are the first two columns, all
 *	             other columns are the same
 *	copied       the same values in all columns are in rows of one attempt only
 *	limit        of loss, both readings, estimate, wavelength, closure, kind, two ribbons and accept,
 *	             what is best known of the loss is not above its limit (limit.h), if that is enough
 *	             to judge it
 *	gain         of loss, both readings and accept, what is known of the loss is at least `low`; a
 *	             reading from one end is not looked at unless that is enough to judge a loss
 *	step         of two readings and two categories, half the difference of the readings is not
 *	             above `high` if the categories are the same
 *
 * A row in which one of their columns is empty that is not optional is passed over, except by
 * one-stands.
 */
#ifndef THRUM_FIBRE_JOINT_RULE_H
#define THRUM_FIBRE_JOINT_RULE_H

#include "fibre/limit.h"
#include "fibre/night.h"
#include "fibre/plan.h"
#include "table/rule.h"

extern const struct blob rules_tsv;

/* What the kinds know of the nights; without it (rules.trade NULL) each row that stands counts. */
struct joint_rules {
	struct night night, undone;             /* undone: attempts that do not stand */
	size_t attempt, shift, stands, made_at; /* among rules.cols */
	uint32_t *attempts; /* for each subject how many attempts counted so far */
	size_t cap;
	const struct limits *limits;    /* of the kind limit; NULL: it finds nothing */
	const struct plan *plan;        /* NULL: none */
	const struct plan_row *planned; /* of the present row; NULL: none */
	enum joint_basis accept;
	bool needed;      /* a rule or the plan asks what counts: a joint takes 70 bytes then */
	uint32_t of_row;  /* which of these the present row is of; 0: of none that counts */
	enum night_is is; /* what it is to them */
};

/* Between rules_read and rules_bind; trade must outlive rs. */
void joint_rules_start(struct joint_rules *trade, struct rules *rs);

/* Before rules_row. */
void joint_rules_row(struct rules *rs);

/* true if a finding about the subject's attempt `of_row` is still one, once all rows are read */
bool joint_rules_counts(const struct joint_rules *trade, size_t subject, uint32_t of_row);

void joint_rules_free(struct joint_rules *trade);

extern const struct rule_kind joint_rule_kinds[]; /* ended by one without a name */

#endif
