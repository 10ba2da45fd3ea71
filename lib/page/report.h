/*
 * report: tables, pictures and texts as one page that people read, sign and keep: a verdict, the parts
 * in their order, what is signed for, cautions.
 *
 *	struct report r = { field_of("Ring of Quoinmere") };
 *
 *	*report_add(&r) = (struct report_item){ REPORT_TEXT, .title = title, .text = text };
 *	report_html(&r, &page);
 *	report_free(&r);
 */
#ifndef THRUM_PAGE_REPORT_H
#define THRUM_PAGE_REPORT_H

#include "page/part.h"

enum report_what { REPORT_TABLE, REPORT_PICTURE, REPORT_TEXT };

/* one part; a picture stands before the table it shows */
struct report_item {
	enum report_what what;
	const char *path;
	struct field title, note; /* note: n 0: none */
	struct part part;         /* of a table, opened */
	struct bytes text;        /* of a picture, SVG that picture_check lets pass; of a text */
};

/* a thing that is signed for; value n 0: not stated */
struct report_fact {
	struct field name, value;
};

struct report {
	struct field title;
	struct report_item *items;
	size_t n, cap;
	const struct report_fact *facts;
	size_t nfacts;
};

/* Room for one more item, to be filled. */
struct report_item *report_add(struct report *r);

/* Appends the page, or the same as plain text of 80 columns. */
void report_html(const struct report *r, struct bytes *out);
void report_text(const struct report *r, struct bytes *out);

/* Closes the parts and frees the texts. */
void report_free(struct report *r);

#endif
