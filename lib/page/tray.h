/*
 * tray: the field sheet of one tray, one A4 page in black and white, or text of 80 columns. It is
 * written on with gloves: 12 point, and lines to write on.
 *
 *	n = tray_fits(&page, lines, left);
 *	page.lines = lines;
 *	page.n = n;
 *	html_begin(&b, title, tray_style);
 *	tray_html(&page, &b);
 *	html_end(&b);
 */
#ifndef THRUM_PAGE_TRAY_H
#define THRUM_PAGE_TRAY_H

#include <stdbool.h>

#include "base/bytes.h"

/* one joint, or a fibre that is left alone */
struct tray_line {
	struct field slot, joint;          /* joint: what is typed in later to name this row */
	struct field last;                 /* of joints made at once, as ribbons are; else empty */
	struct field kind;                 /* of a joint that is no fusion joint; else empty */
	struct field fibre[2], colours[2]; /* "tide-1 no. 13"; "orange tube, blue" */
	struct field live;                 /* the live links through it; empty: none is known */
	struct field
	    say; /* stands across the row, below: why, what to do, or why it is left alone */
	bool left_alone; /* there is nothing to write */
};

struct tray_page {
	struct field closure, place, tray, revision; /* revision empty: a line to write it on */
	size_t page, pages;
	bool live;              /* light is known to be here, or nothing is known of it */
	struct field light;     /* what is known of light here */
	struct field hazard;    /* the hazard level of IEC 60825-2; empty: a line to write it on */
	struct field keep;      /* what is not to be cut; empty: nothing is known */
	struct field toward[2]; /* " toward SITE", if all of a side run there; else empty */
	const struct tray_line *lines;
	size_t n;
};

/* CSS for html_begin. */
extern const char tray_style[];

/* How many of n lines, at least one, have room on such a page, reckoned with wide letters. */
size_t tray_fits(const struct tray_page *p, const struct tray_line *lines, size_t n);

void tray_html(const struct tray_page *p, struct bytes *b);
void tray_text(const struct tray_page *p, struct bytes *b);

#endif
