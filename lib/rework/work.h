/*
 * work: the list of what is opened again, closure by closure, tray by tray.
 *
 *	struct work w = { .facts = &facts, .causes = &causes, .out = &sheet };
 *
 *	work_link(&w, &links);	for each row; and work_element, work_budget, work_site
 *	opens = rework_write(&w);
 *	rework_free(&w);
 */
#ifndef THRUM_REWORK_WORK_H
#define THRUM_REWORK_WORK_H

#include "rework/cause.h"
#include "table/sheet.h"

/* a link that joints are on */
struct work_link {
	bool live, judged, over;
	double margin_db; /* the least of its budgets; NAN: not known */
};

struct work {
	struct facts *facts;
	struct causes *causes;
	struct sheet *out;

	/* the rest is for work.c alone */
	struct ids links, sealed; /* sealed: sites */
	struct work_link *link;
	size_t link_cap;
	struct work_on { /* joints on links, in lists */
		uint32_t link, next;
	} * on;
	size_t on_n, on_cap;
	uint32_t *first_on; /* of each joint */
	size_t first_n, first_cap;
	struct work_item *items;
	size_t n, cap;
	struct bytes text;
};

extern const struct col work_cols[], rework_link_cols[], rework_element_cols[], work_budget_cols[],
    rework_site_cols[];

void work_link(struct work *w, struct table *t);
void work_element(struct work *w, struct table *t);
void work_budget(struct work *w, struct table *t);
void work_site(struct work *w, struct table *t);

/*
 * Decides and writes the list. Closures come by urgency: the least margin of the links behind their
 * joints, then those with a live neighbour last, sealed sites last; within one its trays and slots in
 * order. A ribbon is one unit: all its joints are in the list if one is. How many joints have to be opened.
 */
size_t rework_write(struct work *w);

void rework_free(struct work *w);

#endif
