/*
 * place: where in a cable a distance is that was read from an end of a link, and what to say of it.
 *
 *	struct place_ask ask = { .side = 0, .m = { 7312, NAN }, .index = NAN, .sample_m = 1 };
 *	struct found_place place;
 *
 *	if (place_find(course, &sd, &ask, &place) == CHAIN_IN)
 *		use(place.to_m, place.uncertainty_m);
 *	place_says(course, &ask, &place, &text);
 */
#ifndef THRUM_ROUTE_PLACE_H
#define THRUM_ROUTE_PLACE_H

#include "route/course.h"

struct place_ask {
	unsigned side;
	double m[2];  /* as shown, from this side and from the other one; NAN: not read */
	double index; /* NAN: not stated */
	double sample_m;
};

struct found_place {
	const struct course_section *in;
	double to_m[2];        /* along the ground to either site of the section */
	double mark_m;         /* NAN: not known */
	int coil;              /* in the coil of this end; -1: in none */
	bool inside;           /* the section is within one site */
	bool near[2];          /* so near to this end of the section that it can be behind it */
	double uncertainty_m;  /* half the length of sheath that holds it in 95 % */
	double search_m[2];    /* the ground that holds it in 95 %, from site 0 of the section */
	struct field known[2]; /* the nearest sites of known distance on its sides; n 0: none */
	double index;          /* of the cable; NAN: not stated */
	enum chain_where is;
	double off_m; /* before or behind the link by so much */
	enum { PLACE_UNUSED, PLACE_MEETS, PLACE_APART } other; /* the distance from the other end */
	double apart_m; /* of the two distances; if they do not meet only the first counts */
};

/* The place; of CHAIN_UNKNOWN only `in` is set, the section of unknown length. */
enum chain_where place_find(const struct course *c, const struct chain_sd *sd,
    const struct place_ask *ask, struct found_place *place);

/* Appends to b what it rests on and what to do there, in sentences with "; " between. */
void place_says(const struct course *c, const struct place_ask *ask,
    const struct found_place *place, struct bytes *b);

#endif
