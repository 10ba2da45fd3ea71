/*
 * course: the sections of cable along each link by its elements, with their sheath, and their lengths by
 * what was read along it.
 *
 *	struct courses all = { .elements = &elements, .spans = &spans, .readings = &readings, .sd = sd };
 *	const struct course *c = courses_find(&all, field_of("L-07"), &err);
 *
 *	if (c != NULL)
 *		chain_find(&c->chain, ...)
 *	courses_free(&all);
 */
#ifndef THRUM_ROUTE_COURSE_H
#define THRUM_ROUTE_COURSE_H

#include "route/chain.h"
#include "table/hold.h"

/* tables that are held as rows; readings may be all zero. Of spans the columns are span_cols (network.h). */
extern const struct col course_element_cols[], course_reading_cols[];
extern const int course_element_key[], course_reading_key[], course_span_key[];

/* a section of a cable; its ends are 0 (site_a) and 1 (site_b) */
struct course_section {
	struct field cable, section, site[2];
	double mark_m[2], slack_m[2]; /* NAN: not known */
	bool reversed;                /* the link runs from end 1 to end 0 */
};

struct course {
	struct chain chain;
	struct chain_section *lengths;
	struct course_section *v;
	size_t n, cap, lengths_cap;
	struct field site[2], port[2]; /* of the link's two ends; n 0: no connector is there */
	double start_m[2];     /* where its first connector is, as the last reading shows it */
	bool starts_differ[2]; /* by more than 2 m among the readings of this end */
};

struct courses {
	struct table *elements, *spans, *readings;
	struct chain_sd sd;
	struct ids names, cables; /* start them as IDS_NONE */
	struct course *v;         /* one for each of names */
	size_t cap;
};

/*
 * The course of a link; lives until the next call. NULL: the elements do not have the link or, with the err
 * of a table set, something is wrong with what they, the spans or the readings say of it.
 */
const struct course *courses_find(struct courses *all, struct field link);

enum { COURSE_NO_END = -1, COURSE_BOTH_ENDS = -2 };

/* Which end of the link is called so, by its site or port: 0, 1 or one of these. Empty: 0. */
int course_side(const struct course *c, struct field from);

void courses_free(struct courses *all);

#endif
