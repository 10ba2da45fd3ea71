/*
 * work: what a plan asks for at each closure, as field sheets (tray.h): joints in the order of trays and
 * slots, what is not to be cut, and the light that may be there.
 *
 *	struct work w = { .in = p.in, .closures = IDS_NONE, .lit = IDS_NONE };
 *
 *	while (prog_next(&p))
 *		work_add(&w);
 *	if (work_sort(&w) == 0)
 *		work_write(&w);
 *	work_free(&w);
 */
#ifndef THRUM_PAGE_WORK_H
#define THRUM_PAGE_WORK_H

#include "table/hold.h"

/* the tables, in the order of `in`; all but the plan are held, and may be absent */
enum { WORK_PLAN, WORK_LINKS, WORK_ELEMENTS, WORK_SITES, WORK_REWORK, WORK_TABLES };
extern const struct col work_plan_cols[], work_link_cols[], work_element_cols[], work_site_cols[],
    work_rework_cols[];
extern const int work_link_key[], work_element_key[], work_site_key[], work_rework_key[];

struct work {
	struct table *in;
	bool has[WORK_TABLES]; /* which of them were named */
	const char *closure;   /* only this one; NULL: all */
	const char *revision;  /* NULL: a line to write it on */
	bool text_only;
	struct bytes out; /* what work_write has made */

	/* the rest is for work.c alone */
	struct ids closures;
	struct work_fibre *v;
	size_t n, cap;
	struct region text;
	bool *met;      /* of each row of the rework list */
	struct ids lit; /* of the closure being written: its links that are not dark */
	int hazard;     /* the highest level of its links; -1: not known */
	struct tray_line *lines;
	struct bytes one;
};

/* Takes the present row of the plan. At trouble its err is set. */
void work_add(struct work *w);

/*
 * Brings what was taken into order. 0, or -1 with err set: nothing is to be done in `closure`, or the
 * rework list has a joint that the plan has not.
 */
int work_sort(struct work *w);

/* Makes the sheets in w->out: a document of HTML, or text. */
void work_write(struct work *w);

void work_free(struct work *w);

#endif
