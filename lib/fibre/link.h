/*
 * link: what a links table says a link must keep to.
 *
 *	struct link_limits l = { .limits = { ... what holds where the table says nothing ... } };
 *
 *	if (links_check(&table, &applications) == 0) {
 *		links_limits(&table, field_of("L-07"), &l);
 *		budget_allowed(&l.limits, &allowed_udb, &lower_udb);
 *	}
 */
#ifndef THRUM_FIBRE_LINK_H
#define THRUM_FIBRE_LINK_H

#include "fibre/application.h"
#include "fibre/budget.h"
#include "table/hold.h"

/* the columns and the key of a table of links, which is held */
extern const struct col link_cols[];
extern const int link_key[];

struct link_limits {
	struct field application; /* empty: none */
	struct budget_limits limits;
};

/*
 * Looks at every row of such a table. 0, or -1 with its err set: a row without link, an application
 * that is not among the applications.
 */
int links_check(struct table *t, const struct applications *applications);

/* The name of the link in row i. */
struct field links_name(struct table *t, size_t i);

/* Puts what the table knows of this link over what is in *l. The texts live as long as the table. */
void links_limits(struct table *t, struct field name, struct link_limits *l);

#endif
