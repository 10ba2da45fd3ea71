/*
 * colour: orders of fibre colours, by which the number of a fibre says its colour.
 *
 *	struct colour_order order;
 *
 *	if (colour_order_read(&order, field_of("tia-598"), NULL, &err) == 0 &&
 *	    !colour_is(&order, 14, field_of("orange-black")))
 *		...
 *	colour_order_free(&order);
 */
#ifndef THRUM_FIBRE_COLOUR_H
#define THRUM_FIBRE_COLOUR_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/mem.h"

extern const struct blob colours_tsv;

enum { COLOUR_POSITIONS_MOST = 24 };

struct colour_order {
	size_t n; /* positions; from the (n + 1)th fibre on the colours repeat */
	struct colour {
		struct field name, also; /* also: other names, separated by commas */
	} at[COLOUR_POSITIONS_MOST];
	struct region text;
};

/*
 * Reads the order of this name from the table of colours at path, NULL: the compiled-in one.
 * 0, or -1 with err set: no such order (the nearest is named), a position given twice or left out.
 * colour_order_free in any case.
 */
int colour_order_read(struct colour_order *o, struct field name, const char *path, struct err *err);

/*
 * The colour of the number-th fibre (or tube), from 1 on: its place in the dozen, as
 * ANSI/TIA-598-C counts and the other orders do in the same way.
 */
struct field colour_name(const struct colour_order *o, uint64_t number);

/*
 * Whether given is that colour, or another name of it; letter case is ignored, and so is the text
 * after a '-' or a blank (the stripe or ring of "blue-black").
 */
bool colour_is(const struct colour_order *o, uint64_t number, struct field given);

void colour_order_free(struct colour_order *o);

#endif
