/*
 * link: what a links table says a link must keep to.
 *
 *	struct links links;
 *	struct link_limits l = { .limits = { ... what holds where the table says nothing ... } };
 *
 *	if (links_read(&links, path, &applications, &err) == 0) {
 *		links_limits(&links, field_of("L-07"), &l);
 *		budget_allowed(&l.limits, &allowed_udb, &lower_udb);
 *	}
 *	links_free(&links);
 */
#ifndef THRUM_FIBRE_LINK_H
#define THRUM_FIBRE_LINK_H

#include "base/err.h"
#include "fibre/application.h"
#include "fibre/budget.h"
#include "table/kept.h"

struct links {
	struct kept kept;
};

struct link_limits {
	struct field application; /* empty: none */
	struct budget_limits limits;
};

/*
 * Reads the table at path; NULL: there is none. 0, or -1 with err set: a field that is not what it
 * must be, a row without link, a link twice, an application that is not among the applications.
 * links_free in any case.
 */
int links_read(struct links *links, const char *path, const struct applications *applications,
    struct err *err);

/* How many links the table has, and the name of one, from 0. */
size_t links_n(const struct links *links);
struct field links_name(struct links *links, size_t i);

/* Puts what the table knows of this link over what is in *l. The texts live as long as the links. */
void links_limits(struct links *links, struct field name, struct link_limits *l);

void links_free(struct links *links);

#endif
