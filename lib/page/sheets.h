/*
 * sheets: what a plan asks for at each closure, as field sheets (tray.h): joints in the order of trays and
 * slots, what is not to be cut, and the light that may be there.
 *
 *	struct sheets w = { .in = p.in, .closures = IDS_NONE, .lit = IDS_NONE };
 *
 *	while (prog_next(&p))
 *		sheets_add(&w);
 *	if (sheets_sort(&w) == 0)
 *		sheets_write(&w);
 *	sheets_free(&w);
 */
#ifndef THRUM_PAGE_SHEETS_H
#define THRUM_PAGE_SHEETS_H

#include "table/hold.h"

/* the tables, in the order of `in`; all but the plan are held, and may be absent */
enum { SHEETS_PLAN, SHEETS_LINKS, SHEETS_ELEMENTS, SHEETS_SITES, SHEETS_REWORK, SHEETS_TABLES };
extern const struct col sheets_plan_cols[], sheets_link_cols[], sheets_element_cols[],
    sheets_site_cols[], sheets_rework_cols[];
extern const int sheets_link_key[], sheets_element_key[], sheets_site_key[], sheets_rework_key[];

struct sheets {
	struct table *in;
	bool has[SHEETS_TABLES]; /* which of them were named */
	const char *closure;     /* only this one; NULL: all */
	const char *revision;    /* NULL: a line to write it on */
	bool text_only;
	struct bytes out; /* what sheets_write has made */

	/* the rest is for sheets.c alone */
	struct ids closures;
	struct sheets_fibre *v;
	size_t n, cap;
	struct region text;
	bool *met;      /* of each row of the rework list */
	struct ids lit; /* of the closure being written: its links that are not dark */
	int hazard;     /* the highest level of its links; -1: not known */
	struct tray_line *lines;
	struct bytes one;
};

/* Takes the present row of the plan. At trouble its err is set. */
void sheets_add(struct sheets *w);

/*
 * Brings what was taken into order. 0, or -1 with err set: nothing is to be done in `closure`, or the
 * rework list has a joint that the plan has not.
 */
int sheets_sort(struct sheets *w);

/* Makes the sheets in w->out: a document of HTML, or text. */
void sheets_write(struct sheets *w);

void sheets_free(struct sheets *w);

#endif
