/*
 * network: the sections of all cables, and a number for each end of each fibre in them.
 *
 *	struct network net;
 *	struct spot spot[2];
 *
 *	if (network_load(&net, &spans, &texts) == 0 && network_find(&net, &place, spot) == 1)
 *		...
 *	network_number(&net, &err);
 *	end = network_end(&net, spot[0], 0);
 *	network_free(&net);
 *
 * A section is a cable between two sites; its sides are 0 (site_a) and 1 (site_b). The two ends of one
 * fibre in one section are `end` and `end ^ 1`; the lowest bit is the side. Sections stand by cable and,
 * within one, in their order, so that the next section of a cable is the next one here.
 *
 * Names (cables, sites) are numbers of `texts`, which all tables of the program share.
 */
#ifndef THRUM_ROUTE_NETWORK_H
#define THRUM_ROUTE_NETWORK_H

#include <stdbool.h>

#include "table/hold.h"

enum {
	SPAN_CABLE,
	SPAN_SECTION,
	SPAN_SITE_A,
	SPAN_SITE_B,
	SPAN_CUT_A,
	SPAN_CUT_B,
	SPAN_FIBRE_KM,
	SPAN_SHEATH_KM,
	SPAN_MARK_A,
	SPAN_MARK_B,
	SPAN_FIBRES,
	SPAN_CATEGORY,
	SPAN_CD,
	SPAN_PMD,
	SPAN_SLACK_A,
	SPAN_SLACK_B,
	SPAN_INDEX,
	SPAN_ATTEN, /* SPAN_WAVELENGTHS of them */
};
enum { SPAN_WAVELENGTHS = 9 };

extern const int span_nm[SPAN_WAVELENGTHS]; /* of which wavelength the attenuations are, in nm */
extern const struct col span_cols[];        /* of spans, which are held as columns of values */

#define END_NONE UINT32_MAX

struct section {
	uint32_t cable, site[2];
	uint32_t row;    /* of spans */
	uint32_t fibres; /* how many; of a cable that does not say, the greatest number named */
	uint32_t first;  /* its first end */
	int64_t number;  /* its order along the cable; HOLD_NO_WHOLE: not said */
	bool says_fibres, cut[2];
};

struct network {
	struct section *v;
	size_t n;
	uint32_t *of_cable; /* for each of texts the first of its sections, or END_NONE */
	size_t texts_n;     /* how many texts there were then */
	uint32_t *firsts;   /* for each section its first end */
	uint32_t ends;      /* how many */
};

/* Where somebody says that a fibre is; HOLD_NO_TEXT and HOLD_NO_WHOLE: not said. */
struct place {
	uint32_t cable, site, toward;
	int64_t section, fibre;
};

/* a fibre in a section, seen from one side of it, before ends have numbers */
struct spot {
	uint32_t at; /* 4 * section + side; side 2: either, as both are at the same site */
	uint32_t fibre;
};

/*
 * Takes the sections from a table held with span_cols. 0, or -1 with its err set: a row without cable or
 * site, two rows of one cable and section. To be freed in any case.
 */
int network_load(struct network *net, struct table *spans, const struct ids *texts);

/*
 * Where this can be: how many spots there are, of which up to two are written. 0: no section of the cable
 * has that site (and the site it is said to lead to, and the number), or the cable has no such fibre.
 */
unsigned network_find(struct network *net, const struct place *place, struct spot spot[2]);

/* Gives the ends their numbers, after all fibres are known. 0, or -1 with err set: too many. */
int network_number(struct network *net, struct err *err);

/* The end at a spot; of one that can be either the one of this side. */
static inline uint32_t
network_end(const struct network *net, struct spot spot, unsigned side)
{
	unsigned own = spot.at & 3;

	return net->v[spot.at >> 2].first + 2 * (spot.fibre - 1) + (own < 2 ? own : side);
}

/* The section of an end, and the fibre's number in its cable. */
uint32_t network_section(const struct network *net, uint32_t end);
uint32_t network_fibre(const struct network *net, uint32_t end);

/* The site of an end. */
uint32_t network_site(const struct network *net, uint32_t end);

/*
 * The end that continues this fibre in the next section of its cable at the same site, whether it is cut
 * there or not (*cut says so); END_NONE: the cable ends here.
 */
uint32_t network_beyond(const struct network *net, uint32_t end, bool *cut);

/*
 * The place i of a cable where the next section in its order is missing: section i - 1 does not lead to where
 * section i begins, or numbers are left out. 0: nowhere (again from `after` on).
 */
size_t network_hole(const struct network *net, size_t after);

void network_free(struct network *net);

#endif
