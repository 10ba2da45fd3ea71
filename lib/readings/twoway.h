/*
 * twoway: what was read from both ends of each link made into losses, one row a point.
 *
 *	struct twoway t = { .readings = &readings, .spots = &spots, ... };
 *
 *	for (size_t link = 0; link < readings.names.n; link++)
 *		twoway_link(&t, link);
 *	twoway_free(&t);
 */
#ifndef THRUM_READINGS_TWOWAY_H
#define THRUM_READINGS_TWOWAY_H

#include "fibre/limit.h"
#include "readings/fill.h"
#include "readings/group.h"

struct twoway {
	struct readings *readings;
	struct spots *spots;
	struct plan *plan;
	struct limits *limits;
	struct table *links;
	struct sheet *out;
	struct found *found;
	struct fills *fills; /* NULL: no records are filled */
	double noise_db, linearity;

	/* the rest is for twoway.c alone */
	struct line line;
	struct groups groups;
	struct bytes with;
	struct twoway_1310 {
		double at_m;
		struct known loss;
		unsigned ends;
	} * at_1310; /* of the present link */
	size_t n_1310, cap_1310, next_1310;
	struct field name, site[2]; /* of the present link */
	bool drawn;                 /* its elements are known */
	bool one_way;               /* at the present wavelength one reading is enough */
};

extern const struct col twoway_cols[];

/* The rows and findings of one link, wavelength by wavelength. */
void twoway_link(struct twoway *t, size_t link);

void twoway_free(struct twoway *t);

#endif
