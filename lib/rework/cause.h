/*
 * cause: the table that decides why a joint is opened again, and what is done.
 *
 *	struct causes c = { 0 };
 *
 *	if (causes_load(&c, &table, true, &facts) == 0)
 *		for (size_t i = 0; i < c.n; i++)
 *			if (cause_holds(&c.v[i], &facts, &joint))
 *				...
 *	causes_free(&c);
 */
#ifndef THRUM_REWORK_CAUSE_H
#define THRUM_REWORK_CAUSE_H

#include "rework/facts.h"

/* one of a cause's conditions: FACT=WORD|WORD, FACT!=WORD, FACT<N, FACT<=N, FACT>N, FACT>=N; N may be a fact */
struct cause_when {
	enum fact fact, other; /* other: FACT_COUNT if it is a number */
	enum { WHEN_IS, WHEN_IS_NOT, WHEN_BELOW, WHEN_AT_MOST, WHEN_ABOVE, WHEN_AT_LEAST } how;
	double number;
	struct field words; /* separated by | */
};

enum { CAUSE_WHENS = 8 };

struct cause {
	struct field name, action, caution;
	bool opens; /* the closure has to be opened for it */
	struct cause_when when[CAUSE_WHENS];
	size_t n;
};

struct causes {
	struct cause *v;
	size_t n, cap;
};

extern const struct blob causes_tsv;

/* the columns of a table of causes, which is held as rows */
extern const struct col cause_cols[];

/*
 * Reads the causes of a stage, in the order of the table, which must outlive c. 0, or -1 with the table's
 * err set: no such fact, no condition of that form, too many of them. f is told which findings count.
 */
int causes_load(struct causes *c, struct table *t, bool tested, struct facts *f);

/* Whether all conditions hold. What is not known is neither above nor below anything. */
bool cause_holds(const struct cause *c, const struct facts *f, const struct joint_facts *j);

void causes_free(struct causes *c);

#endif
