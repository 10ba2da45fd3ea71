/*
 * cable: how the fibres of each cable are counted, and what colours they have, by the table of spans
 * (thrum-tables(5)) and the orders of colours.
 *
 *	struct cables cables;
 *	const struct cable *c;
 *
 *	if (cables_init(&cables, &spans, &orders, &usual, &err) == 0 &&
 *	    (c = cables_find(&cables, field_of("tide-1"), &err)) != NULL) {
 *		cable_tube(c, 89, &text);	"black"
 *		cable_colour(c, 89, &text);	"slate"
 *		cable_fibre(c, field_of("black"), field_of("slate"), &by_tube, &why);	89
 *	}
 *	cables_free(&cables);
 */
#ifndef THRUM_FIBRE_CABLE_H
#define THRUM_FIBRE_CABLE_H

#include "fibre/colour.h"
#include "table/hold.h"

/* the columns and the key of a table of spans, which is held: a row a section */
enum {
	SPAN_CABLE,
	SPAN_SECTION,
	SPAN_SITE_A,
	SPAN_SITE_B,
	SPAN_FIBRES,
	SPAN_CATEGORY,
	SPAN_TUBE_ORDER,
	SPAN_FIBRE_ORDER,
	SPAN_TUBE_SIZE,
};
extern const struct col cable_span_cols[];
extern const int cable_span_key[];

/*
 * How a cable is counted that says nothing. The name of an order of tubes may also be "none" (the
 * fibres lie in no tubes) or two colours with a comma between: those of the pilot tube, which is tube 1,
 * and of the direction tube beside it, which is tube 2; further tubes are counted on, and have numbers.
 */
struct cable_usual {
	const char *tube_order, *fibre_order;
	int64_t tube_size; /* fibres a tube, 4 to 24 */
};
#define CABLE_USUAL                                                                                \
	{                                                                                          \
		"tia-598", "tia-598", 12                                                           \
	}

/* the options that say it; `at` is the offset of a struct cable_usual in a program's options */
#define CABLE_OPTIONS(at)                                                                          \
	{ 0, "tube-order", OPT_TEXT, (at) + offsetof(struct cable_usual, tube_order), "ORDER",     \
		"order of tubes, if the cable has none (tia-598); or none, or PILOT,DIRECTION" },  \
	    { 0, "fibre-order", OPT_TEXT, (at) + offsetof(struct cable_usual, fibre_order),        \
		    "ORDER", "order of fibres, if the cable has none (tia-598)" },                 \
	{                                                                                          \
		0, "tube-size", OPT_WHOLE, (at) + offsetof(struct cable_usual, tube_size), "N",    \
		    "fibres a tube, if the cable does not say (12)", 4, COLOUR_POSITIONS_MOST      \
	}

struct cable {
	struct field name;
	const struct colour_order *tubes, *colours; /* tubes NULL: none, or counted */
	struct field pilot, direction;              /* n 0: tubes are not counted */
	int64_t tube_size;
};

struct cables {
	struct table *spans, *orders; /* spans may have no rows */
	struct cable_usual usual;
	struct ids names, order_names;
	struct cable **v;           /* one for each of names */
	struct colour_order **read; /* one for each of order_names */
	size_t cap, read_cap;
	struct region region;
};

/*
 * Looks at what `usual` names, so that it is right before any row. spans and orders outlive c. 0, or -1
 * with err set. cables_free in any case.
 */
int cables_init(struct cables *c, struct table *spans, struct table *orders,
    const struct cable_usual *usual, struct err *err);

/* A cable, known to the spans or not; its pointers live as long as c. NULL with err set: a wrong order. */
const struct cable *cables_find(struct cables *c, struct field name, struct err *err);

/*
 * Appends the tube (nothing if there are none) or the colour of a fibre, from 1 on. false: the order
 * does not reach so far.
 */
bool cable_tube(const struct cable *c, int64_t fibre, struct bytes *b);
bool cable_colour(const struct cable *c, int64_t fibre, struct bytes *b);

/*
 * The fibre of this tube, a colour or a number, and this colour, or number within the tube. 0 with why,
 * a constant string: there is none; by_tube says that the tube is at fault, else the colour is.
 */
int64_t cable_fibre(
    const struct cable *c, struct field tube, struct field colour, bool *by_tube, const char **why);

void cables_free(struct cables *c);

#endif
