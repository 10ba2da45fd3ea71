/*
 * svg: a picture, written as SVG 1.1 that may also stand inside a page of HTML: no style sheet, no
 * script, no identifier, nothing fetched; text as text.
 *
 *	struct svg s;
 *
 *	svg_open(&s, 680, title, verdict);
 *	svg_put(&s, "<line x1=\"%\" y1=\"%\" x2=\"%\" y2=\"%\" stroke=\"$\"/>", 0.0, s.y, 9.5, s.y, "#111");
 *	svg_text(&s, 10, s.y + 20, SVG_SMALL | SVG_END, field_of("0.05"));
 *	svg_close(&s, &out);
 *
 * Lengths are in CSS pixels, y grows downwards. Texts are measured by the advance widths of DejaVu Sans,
 * the widest of the common sans-serif faces, so that they fit in others too.
 */
#ifndef THRUM_PAGE_SVG_H
#define THRUM_PAGE_SVG_H

#include <stdbool.h>

#include "base/bytes.h"

enum { SVG_SIZE = 13, SVG_LINE = 18, SVG_MARGIN = 14 }; /* of text, of a line, at the edges */

/* how a text looks */
enum {
	SVG_BOLD = 1,
	SVG_SMALL = 2, /* 12 px instead of 13 */
	SVG_GREY = 4,
	SVG_END = 8,     /* x is where it ends, else where it begins */
	SVG_MIDDLE = 16, /* x is its middle */
	SVG_HALO = 32,   /* white around the letters, for a place with lines in it */
	SVG_TITLE = 64,
};

struct svg {
	struct bytes body, title, verdict;
	double width, y; /* y: everything above it is taken */
};

/* Begins a picture with its title, and the verdict below it, both wrapped; y is then below them. */
void svg_open(struct svg *s, double width, struct field title, struct field verdict);

/* The form with each % replaced by a number (a double, one decimal), and each $ by a string. */
void svg_put(struct svg *s, const char *form, ...);

/* The width of a text as its style has it. */
double svg_width(struct field f, unsigned style);

/* A text whose base line is at y; it is escaped, and shown as SVG_GREY ... say. */
void svg_text(struct svg *s, double x, double y, unsigned style, struct field f);

/* The same, cut to so much room; what is cut ends in an ellipsis. */
void svg_text_in(struct svg *s, double x, double y, double room, unsigned style, struct field f);

/* A text in as many lines as it needs from the left margin to the right, below y; y moves below it. */
void svg_lines(struct svg *s, unsigned style, struct field f);

/* how a bar is filled: with grey, hatched (something is wrong with it), not at all (it is doubtful) */
enum svg_fill { SVG_FILLED, SVG_HATCHED, SVG_OPEN };

/* A bar from (x, y). */
void svg_bar(struct svg *s, double x, double y, double w, double h, enum svg_fill fill);

/* A round step, 1, 2 or 5 times a power of ten, that divides `span` into at most `most` parts. */
double svg_step(double span, int most);

/* x with as many decimals as such a step needs. */
struct field svg_number(char text[32], double x, double step);

/* Writes the picture, y high, and frees it. */
void svg_close(struct svg *s, struct bytes *out);

#endif
