/*
 * line: a link at one wavelength as read from its ends: points with the reading from either end, at
 * places counted from site_a.
 *
 *	struct line line = { 0 };
 *
 *	n = readings_of(&r, link, &here);
 *	if (line_make(&line, &r, here, n, 1550) == 0)
 *		for (size_t i = 0; i < line.n; i++)
 *			use(&line.v[i]);
 *	line_free(&line);
 */
#ifndef THRUM_READINGS_LINE_H
#define THRUM_READINGS_LINE_H

#include "readings/pair.h"
#include "readings/reading.h"

/* what was read from one end */
struct view {
	bool read;
	bool twice;                 /* several readings, none of them the later one; or torn */
	bool torn;                  /* an earlier reading has an end of the link that it lacks */
	const struct trace *copied; /* it is like this one: it does not count; NULL: it is not */
	double index;               /* of refraction; 0: not stated */
	double cord_m;              /* of the launch cord; 0: not known */
	double length_m;            /* up to its end row; NAN: it has none */
	const struct reading *start, *end; /* NULL: none */
	struct reading *v;                 /* by place, each place once, start and end among them */
	size_t n;
	double *at_m; /* their places from this end; b's in a's metres */
};

struct line_point {
	double at_m; /* from site_a, in the metres of site_a's reading; NAN: not known */
	const struct reading *from[2];
	int panel; /* 0, 1: at site a, b; -1: at neither */
};

/* LINE_ROUTE, _ENDS and _OPEN are found by who knows the route: fit.h */
enum line_fault {
	LINE_SOUND,
	LINE_LENGTH,
	LINE_ROUTE,
	LINE_OPEN,
	LINE_NO_END,
	LINE_CROWDED,
	LINE_ENDS
};

struct line {
	struct view view[2];
	struct line_point *v; /* by place */
	size_t n;
	double length_m; /* NAN: not known */
	double scale;    /* metres of a's reading in one of b's, as fitted; NAN: nothing was */
	enum line_fault fault;
	double lengths_m[2]; /* from either end; of LINE_ROUTE: read, drawn */

	/* the rest is for line.c alone */
	size_t cap;
	struct pair_place *places[2];
	size_t places_cap[2];
	double *x, *y, *at[2];
	size_t x_cap, y_cap, at_cap[2];
};

/* Instruments are good for 1 m and 5e-5 of the distance; common practice. */
double line_instrument_m(double at_m);

/*
 * Makes the line of those of n readings that are of this wavelength. Of several readings from one end
 * the latest counts. Lengths that differ by more than 0.5 %, and by more than twice what the instruments
 * leave open, are a fault; so is that both ends were read and neither reading has an end, or that places
 * lie too close to be told apart: then nothing is paired.
 */
void line_make(struct line *l, const struct readings *r, struct reading *here, size_t n, double nm);

/*
 * Whether the cord in front of this panel lets the reading of it count: 1; 0: it is shorter than the
 * dead zone; -1: nobody knows how long it is.
 */
int line_cord(const struct line *l, int panel, const struct reading *x);

void line_free(struct line *l);

#endif
