/*
 * plot: the kinds of picture, each drawn as SVG, or in letters, from what the tables said.
 *
 *	struct plot p = { .width = 680 };
 *
 *	plot_closure(&p, joints, n);
 *	use(p.out);
 *	bytes_free(&p.out);
 *
 * Each kind has a file of its own. What is not known is DB_NONE, or an empty field. Joints may be put into
 * another order.
 */
#ifndef THRUM_PAGE_PLOT_H
#define THRUM_PAGE_PLOT_H

#include "base/db.h"
#include "page/bars.h"
#include "page/svg.h"

struct plot {
	bool text, ascii;
	double width;       /* CSS pixels, or columns of a terminal; 320 or 40 and up */
	struct field title; /* empty: the kind's own */
	struct field note;  /* a last sentence of the verdict; may be empty */
	struct bytes out;   /* the picture, when it is done */
	struct bytes head, verdict, words; /* for plot.c and the kinds alone */
	struct bars bars;
	struct svg svg;
};

/* a joint as it stands, or planned and missing; of a season also the sums of a closure or night */
struct plot_joint {
	struct field joint, closure, tray, slot, night;
	struct field cable[2], fibre[2], tube[2], colour[2];
	struct field state; /* of a fibre that is not to be joined: express, parked, dead */
	struct field says;  /* what is wrong with it besides its loss */
	const char *basis;  /* "two-way", "one-way", "estimate"; "": no loss */
	int64_t loss_udb, limit_udb, ab_udb, ba_udb;
	int64_t worst_udb; /* loss_udb, or of sums the greatest */
	uint64_t count;    /* of joints: 1 */
	bool missing;      /* planned, and not made */
	bool
	    shared; /* its loss is that of several, limit_udb the sum of their limits; in no mean */
	bool estimate_counts; /* an estimate, or a reading from one end, is enough for a verdict */
};

/* is its loss above its limit; has it none that is known the way that is asked for */
bool plot_over(const struct plot_joint *j);
bool plot_unknown(const struct plot_joint *j);

enum { PLOT_LINES = 4 };

/* one thing along a link */
struct plot_part {
	struct field site, ref;
	double km, length_km; /* where it begins, NAN: not known; 0 if it is not a fibre */
	int64_t measured_udb[PLOT_LINES]; /* at each wavelength */
	int64_t planned_udb[PLOT_LINES], most_udb[PLOT_LINES];
};

struct plot_link {
	struct field link, site_b; /* site_b: the last one, if the parts do not say */
	size_t n;                  /* wavelengths */
	double nm[PLOT_LINES];
	int64_t allowed_udb[PLOT_LINES], margin_udb[PLOT_LINES];
	struct field verdict[PLOT_LINES];
};

void plot_losses(struct plot *p, struct plot_joint *j, size_t n);
void plot_closure(struct plot *p, struct plot_joint *j, size_t n);
void plot_ends(struct plot *p, struct plot_joint *j, size_t n);
void plot_season(struct plot *p, struct plot_joint *j, size_t n);
void plot_link(struct plot *p, const struct plot_link *l, struct plot_part *parts, size_t n);

/* --- what the kinds share -------------------------------------------------------------------- */

/* Appends decibels with 3 decimals. */
void plot_db(struct bytes *b, int64_t udb);

/* Begins the picture with the title, by default what is in p->head, and with p->verdict. */
void plot_begin(struct plot *p);

/* Ends it: p->out is made. */
void plot_end(struct plot *p);

/* an axis: x or y pixels from `at` (of lo) to `to` (of hi) */
struct axis {
	double lo, hi, at, to, step;
};

/* An axis that holds lo to hi, its ends at round ticks, at most `most` of them. */
struct axis axis_round(double lo, double hi, double at, double to, int most);
double axis_px(const struct axis *a, double x);

/* Grid lines and their numbers: of a y axis across x0 to x1, of an x axis below y. */
void axis_rows(struct svg *s, const struct axis *y, double x0, double x1);
void axis_columns(struct svg *s, const struct axis *x, double y0, double y1);

#endif
