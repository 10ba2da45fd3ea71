/*
 * spot: what stands along each link, and where, as thrum-route's elements say it: joints and connectors,
 * with the fibres on either side.
 *
 *	struct spots s = { 0 };
 *
 *	while (table_next(&t))
 *		spots_read(&s, &t);
 *	spots_arrange(&s);
 *	n = spots_of(&s, field_of("L07"), &first, &length_km);
 *	spots_free(&s);
 *
 * 40 bytes a row.
 */
#ifndef THRUM_READINGS_SPOT_H
#define THRUM_READINGS_SPOT_H

#include "fibre/allowance.h"
#include "table/hold.h"

struct spot {
	double km;          /* from port a; NAN: not known */
	uint32_t link;      /* of links */
	uint32_t ref, site; /* of names; HOLD_NO_TEXT: none */
	uint32_t
	    category[2]; /* of the fibre before and behind; of names, HOLD_NO_TEXT: not known */
	int32_t seq;
	uint8_t kind;  /* enum kind */
	bool reversed; /* walked from the joint's side b */
	bool open;     /* the link ends here */
};

struct spots {
	struct ids links, names;
	struct spot *v;
	size_t n, cap;
	size_t *first; /* of each link */
};

/* the columns of a table of elements, as far as they are read here */
extern const struct col spot_cols[];

/* Adds the present row; at trouble, which is the table's, nothing. */
void spots_read(struct spots *s, struct table *t);

/* Once all are there: by link and seq, an element once. */
void spots_arrange(struct spots *s);

/*
 * The spots of a link in order; how many. *length_km: the link's length if it is whole and known, else
 * NAN.
 */
size_t spots_of(const struct spots *s, size_t link, const struct spot **first, double *length_km);

/* A name's text; empty for HOLD_NO_TEXT. */
struct field spots_name(const struct spots *s, uint32_t number);

void spots_free(struct spots *s);

#endif
