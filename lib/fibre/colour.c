#include "fibre/colour.h"

#include <stdlib.h>

#include "base/spelling.h"
#include "table/table.h"

enum { ORDER, POSITION, COLOUR, ALSO };

static const struct col cols[] = {
	[ORDER] = { "order", COL_NEED, COL_TEXT },
	[POSITION] = { "position", COL_NEED, COL_WHOLE, 1, COLOUR_POSITIONS_MOST },
	[COLOUR] = { "colour", COL_NEED, COL_TEXT },
	[ALSO] = { "also", COL_MAY, COL_TEXT },
	{ NULL },
};

static void
read_position(struct colour_order *o, struct table *t)
{
	struct field name = { "", 0 }, also = { "", 0 };
	int64_t position;
	struct colour *c;

	if (!get_whole(t, POSITION, &position) || !get_text(t, COLOUR, &name)) {
		if (!err_is_set(t->err))
			table_fail(t, name.n == 0 ? COLOUR : POSITION, "empty");
		return;
	}
	c = &o->at[position - 1];
	if (c->name.n > 0) {
		table_fail(t, POSITION, "a second row of this position");
		return;
	}
	get_text(t, ALSO, &also);
	c->name = region_keep(&o->text, name);
	c->also = region_keep(&o->text, also);
	if ((size_t)position > o->n)
		o->n = (size_t)position;
}

static int
no_order(struct field name, const struct field *names, size_t n, struct err *err)
{
	char shown[ERR_SHOWN], nearest[ERR_SHOWN];
	size_t best = n > 0 ? spelling_best(name, names, n) : SIZE_MAX;

	err_show(shown, name.p, name.n);
	if (best == SIZE_MAX)
		return err_set(err, "no such colour order: '%s'", shown);
	return err_set(err, "no such colour order: '%s'; nearest: %s", shown,
	    err_show(nearest, names[best].p, names[best].n));
}

int
colour_order_read(struct colour_order *o, struct field name, const char *path, struct err *err)
{
	struct field *names = NULL, order = { "", 0 };
	size_t n = 0, cap = 0;
	struct table t;

	*o = (struct colour_order){ 0 };
	if (table_open_side(&t, cols, path, &colours_tsv, err) != 0)
		return -1;
	while (table_next(&t)) {
		if (!get_text(&t, ORDER, &order))
			continue;
		if (field_same(order, name)) {
			read_position(o, &t);
		} else if (n == 0 || !field_same(order, names[n - 1])) {
			names = mem_grow(names, &cap, n + 1, sizeof *names);
			names[n++] = region_keep(&o->text, order);
		}
	}
	table_close(&t);
	if (o->n == 0 && !err_is_set(err))
		no_order(name, names, n, err);
	for (size_t i = 0; i < o->n; i++)
		if (o->at[i].name.n == 0)
			err_set(err, "colour order '%.*s': no colour at position %zu",
			    name.n < 100 ? (int)name.n : 100, name.p, i + 1);
	free(names);
	return err_is_set(err) ? -1 : 0;
}

struct field
colour_name(const struct colour_order *o, uint64_t number)
{
	return o->at[(number - 1) % o->n].name;
}

bool
colour_is(const struct colour_order *o, uint64_t number, struct field given)
{
	const struct colour *c = &o->at[(number - 1) % o->n];
	struct field also = c->also;

	if (field_same(given, c->name))
		return true;
	for (size_t i = 0; i < given.n; i++)
		if (given.p[i] == '-' || given.p[i] == ' ')
			given.n = i;
	if (field_same_word(given, c->name))
		return true;
	while (also.p != NULL)
		if (field_same_word(given, field_cut(&also, ',')))
			return given.n > 0;
	return false;
}

void
colour_order_free(struct colour_order *o)
{
	region_free(&o->text);
	*o = (struct colour_order){ 0 };
}
