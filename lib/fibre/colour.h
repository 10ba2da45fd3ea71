/*
 * colour: orders of colours, by which the number of a fibre or a tube says its colour, and back.
 *
 *	struct colour_order order;
 *	struct bytes text = { NULL, 0, 0 };
 *
 *	if (colour_order_read(&order, field_of("tia-598"), &err) == 0) {
 *		colour_add(&text, &order, 14);			"orange stripe"
 *		colour_find(&order, field_of("Orange-black"));	14
 *	}
 *	colour_order_free(&order);
 *
 * Behind its last position an order begins again, and each fibre then bears a mark, or one more of them:
 * "orange stripe", "orange 2 stripes". Where an order does not say which mark, there is no such fibre.
 */
#ifndef THRUM_FIBRE_COLOUR_H
#define THRUM_FIBRE_COLOUR_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/mem.h"
#include "table/hold.h"

enum { COLOUR_POSITIONS_MOST = 24 };

/* the columns of a table of orders, which is held; colours_tsv is the built-in one */
extern const struct blob colours_tsv;
extern const struct col colour_cols[];
extern const int colour_key[];

struct colour_order {
	size_t n; /* positions */
	struct colour {
		struct field name,
		    mark;          /* mark: the word for it, behind the last position; or empty */
		struct field also; /* other names, separated by commas */
	} at[COLOUR_POSITIONS_MOST];
	struct region text;
};

/*
 * Takes the order of this name from such a table. 0, or -1 with err set: no such order (the nearest is
 * named), a position left out, a row without position or colour. colour_order_free in any case.
 */
int
colour_order_take(struct colour_order *o, struct field name, struct table *orders, struct err *err);

/* The same from the compiled-in table. */
int colour_order_read(struct colour_order *o, struct field name, struct err *err);

/*
 * Appends the colour of the number-th fibre (or tube), from 1 on, with its mark. false, and nothing is
 * appended, if the order does not reach so far.
 */
bool colour_add(struct bytes *b, const struct colour_order *o, uint64_t number);

/*
 * The number of which the text is the colour, 0: of none. Other names of a colour are taken, in capital
 * letters too; "orange-black" and "orange black stripe" are as good as "orange stripe".
 */
uint64_t colour_find(const struct colour_order *o, struct field text);

/*
 * Whether given is the colour of that number, a mark left out, or one that the order does not know,
 * being forgiven: for records that were typed. Another place of the order is never taken for it.
 */
bool colour_is(const struct colour_order *o, uint64_t number, struct field given);

void colour_order_free(struct colour_order *o);

#endif
