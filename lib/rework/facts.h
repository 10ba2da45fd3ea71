/*
 * facts: what is known of each joint that may have to be opened again, from all tables.
 *
 *	struct facts f = { .limits = &limits, .plan = &plan };
 *
 *	facts_joint(&f, &joints);	for each row; and facts_twoway, facts_fault
 *	facts_end(&f, tested);
 *	for (size_t i = 0; i < f.names.n; i++)
 *		use(&f.v[i]);
 *	facts_free(&f);
 */
#ifndef THRUM_REWORK_FACTS_H
#define THRUM_REWORK_FACTS_H

#include "fibre/limit.h"
#include "fibre/night.h"
#include "fibre/plan.h"
#include "table/hold.h"

/* the facts that a cause can ask for, numbers first; not known: NAN, or an empty word */
enum fact {
	FACT_EST,
	FACT_EST_LIMIT, /* of the joint alone, for its estimate */
	FACT_LIMIT,     /* of the loss, of merged points the sum */
	FACT_LOSS,
	FACT_MISMATCH,
	FACT_EXCESS,
	FACT_BEND,
	FACT_BEND_SIGMAS,
	FACT_CLEAVE, /* of the worse end */
	FACT_TRIES,
	FACT_NUMBERS,
	FACT_MADE =
	    FACT_NUMBERS, /* no: it is planned, and no attempt stands; cut: a later one does not */
	FACT_KIND,
	FACT_TENSION,
	FACT_PROTECTOR,
	FACT_BASIS,
	FACT_READ_AGAIN,
	FACT_ALIKE,  /* yes: the last three estimates are within 0.02 dB */
	FACT_FAULTY, /* yes: a finding about the joint is an error */
	FACT_FAULTS,
	FACT_COUNT
};
#define FACT_NAMES                                                                                              \
	"est_db est_limit_db limit_db loss_db mismatch_db excess_db bend_db bend_sigmas cleave_deg tries made " \
	"kind tension protector basis read_again alike faulty faults"

enum { FACT_FAULTS_MOST = 64 };

struct joint_facts {
	double x[FACT_NUMBERS];
	struct field word[FACT_COUNT - FACT_NUMBERS];
	uint64_t faults;                            /* of facts.rules, a bit each */
	struct field closure, tray, slot, fibre[4]; /* fibre: tube and colour of a, of b */
	struct field ribbon;
	double ests[3]; /* of the last tries */
	bool has_two_way;
	enum joint_basis best, accept; /* of the loss in the joint's own rows */
};

struct facts {
	struct limits *limits;
	struct plan *plan;
	struct night night, undone; /* undone: attempts that do not stand */
	struct ids tries, rules;    /* rules: of findings that a cause asks for */
	struct joint_facts *v;      /* for each of night.joints */
	size_t cap;
	struct region texts;
};

extern const struct col fact_joint_cols[], fact_fault_cols[], fact_twoway_cols[];

/* The present row of each table. Trouble is the table's. */
void facts_joint(struct facts *f, struct table *t);
void facts_fault(struct facts *f, struct table *t);
void facts_twoway(struct facts *f, struct table *t);

/* Once all rows are there. tested: losses count, else the machine's data alone. */
void facts_end(struct facts *f, bool tested);

/* Before the faults: a cause asks for this rule. false: for more than FACT_FAULTS_MOST. */
bool facts_ask(struct facts *f, struct field rule);

/* Whether a finding of this rule is about the joint. */
bool facts_has(const struct facts *f, const struct joint_facts *j, struct field rule);

void facts_free(struct facts *f);

#endif
