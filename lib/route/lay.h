/*
 * lay: what lies along a link as rows of the elements table, one step after the other.
 *
 *	struct lay lay;
 *
 *	lay_begin(&lay, &g, &spans, &sheet);
 *	lay_link(&lay, field_of("L-07"), &path);
 *	for (size_t i = 0; i < path.n; i++)
 *		lay_step(&lay, &path.v[i]);
 *	lay_open(&lay, site);
 *	lay_free(&lay);
 *
 * Lengths are in millionths of a kilometre.
 */
#ifndef THRUM_ROUTE_LAY_H
#define THRUM_ROUTE_LAY_H

#include "route/walk.h"
#include "table/sheet.h"

extern const struct col element_out_cols[];

struct lay {
	const struct joined *g;
	const struct table *spans;
	struct sheet *out;
	int64_t *length_ukm; /* of each section, or DB_NONE */
	struct field link;
	struct bytes ref;
	int64_t at_ukm; /* where the next element begins, or DB_NONE */
	int64_t seq;
	struct lay_shared {
		struct field ref;
		float nm;
	} * shared; /* what has its loss counted in another joint of the path, and where */
	size_t shared_n, shared_cap;
};

void lay_begin(struct lay *l, const struct joined *g, const struct table *spans, struct sheet *out);

/*
 * The next rows are of this link, whose steps are those of path. A loss that several things share (loss_with) is
 * that of the first joint among them; the others lose nothing at that wavelength.
 */
void lay_link(struct lay *l, struct field link, const struct path *path);

void lay_step(struct lay *l, const struct step *step);

/* The link is not whole: an element that no budget passes. site: a text, or HOLD_NO_TEXT. */
void lay_open(struct lay *l, uint32_t site);

void lay_free(struct lay *l);

#endif
