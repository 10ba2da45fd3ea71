#include "fibre/cable.h"

#include <stdlib.h>

#include "base/num.h"

const int cable_span_key[] = { SPAN_CABLE, -1 };

const struct col cable_span_cols[] = {
	[SPAN_CABLE] = { "cable", COL_NEED, COL_TEXT },
	[SPAN_SECTION] = { "section", COL_MAY, COL_TEXT },
	[SPAN_SITE_A] = { "site_a", COL_MAY, COL_TEXT },
	[SPAN_SITE_B] = { "site_b", COL_MAY, COL_TEXT },
	[SPAN_FIBRES] = { "fibres", COL_MAY, COL_WHOLE, 1, 100000 },
	[SPAN_CATEGORY] = { "category", COL_MAY, COL_TEXT },
	[SPAN_TUBE_ORDER] = { "tube_order", COL_MAY, COL_TEXT },
	[SPAN_FIBRE_ORDER] = { "fibre_order", COL_MAY, COL_TEXT },
	[SPAN_TUBE_SIZE] = { "tube_size", COL_MAY, COL_WHOLE, 4, COLOUR_POSITIONS_MOST },
	{ NULL },
};

/* The order of this name, read once. NULL with err set. */
static const struct colour_order *
find_order(struct cables *c, struct field name, struct err *err)
{
	bool fresh;
	size_t id = ids_add(&c->order_names, &name, 1, &fresh);

	if (!fresh)
		return c->read[id];
	c->read = mem_grow(c->read, &c->read_cap, id + 1, sizeof(struct colour_order *));
	c->read[id] = region_get(&c->region, sizeof *c->read[id]);
	return colour_order_take(c->read[id], name, c->orders, err) == 0 ? c->read[id] : NULL;
}

static int
read_tubes(struct cables *c, struct cable *cable, struct field name, struct err *err)
{
	struct field direction = name;

	if (field_is(name, "none"))
		return 0;
	cable->pilot = field_cut(&direction, ',');
	if (direction.p != NULL) {
		cable->direction = direction;
		return cable->pilot.n > 0 && direction.n > 0
			   ? 0
			   : err_set(err, "no two colours, of a pilot and a direction tube");
	}
	cable->pilot = (struct field){ "", 0 };
	cable->tubes = find_order(c, name, err);
	return cable->tubes != NULL ? 0 : -1;
}

/* What the first section that says so says of a column; the place of another that contradicts it. */
static struct field
cable_field(struct table *spans, struct field name, int col, size_t *row)
{
	struct field first = { "", 0 }, f = { "", 0 };

	if (!table_find(spans, &name))
		return first;
	do {
		if (!get_text(spans, col, &f))
			continue;
		if (first.n == 0) {
			*row = table_place(spans);
			first = f;
		} else if (!field_same(f, first)) {
			table_fail(spans, col, "not what another section of the cable has");
		}
	} while (table_find_next(spans));
	return first;
}

/* Trouble with what a cable says is told with its place. */
static int
in_spans(struct table *spans, int col, size_t row, struct err *err)
{
	struct err told = { "" };

	if (row == SIZE_MAX)
		return -1;
	err_set(&told, "%s", err->text);
	*err = (struct err){ "" };
	table_at(spans, row);
	return table_fail(spans, col, told.text);
}

static int
read_cable(struct cables *c, struct cable *cable, struct err *err)
{
	struct field tube_order = field_of(c->usual.tube_order), f;
	struct field fibre_order = field_of(c->usual.fibre_order);
	size_t tube_row = SIZE_MAX, fibre_row = SIZE_MAX, row;

	cable->tube_size = c->usual.tube_size;
	if (table_rows(c->spans) > 0) {
		f = cable_field(c->spans, cable->name, SPAN_TUBE_ORDER, &tube_row);
		tube_order = f.n > 0 ? f : tube_order;
		f = cable_field(c->spans, cable->name, SPAN_FIBRE_ORDER, &fibre_row);
		fibre_order = f.n > 0 ? f : fibre_order;
		f = cable_field(c->spans, cable->name, SPAN_TUBE_SIZE, &row);
		if (f.n > 0)
			num_whole(f, &cable->tube_size);
	}
	if (err_is_set(err))
		return -1;
	if (read_tubes(c, cable, tube_order, err) != 0)
		return in_spans(c->spans, SPAN_TUBE_ORDER, tube_row, err);
	cable->colours = find_order(c, fibre_order, err);
	if (cable->colours == NULL)
		return in_spans(c->spans, SPAN_FIBRE_ORDER, fibre_row, err);
	return 0;
}

int
cables_init(struct cables *c, struct table *spans, struct table *orders,
    const struct cable_usual *usual, struct err *err)
{
	*c = (struct cables){ .spans = spans,
		.orders = orders,
		.usual = *usual,
		.names = IDS_NONE,
		.order_names = IDS_NONE };
	return cables_find(c, field_of(""), err) != NULL ? 0 : -1;
}

const struct cable *
cables_find(struct cables *c, struct field name, struct err *err)
{
	bool fresh;
	size_t id = ids_add(&c->names, &name, 1, &fresh);

	if (!fresh)
		return c->v[id];
	c->v = mem_grow(c->v, &c->cap, id + 1, sizeof(struct cable *));
	c->v[id] = region_get(&c->region, sizeof *c->v[id]);
	*c->v[id] = (struct cable){ .name = ids_key(&c->names, id) };
	return read_cable(c, c->v[id], err) == 0 ? c->v[id] : NULL;
}

/* --------------------------------------------------------------------------------------------- */

static bool
has_tubes(const struct cable *c)
{
	return c->tubes != NULL || c->pilot.n > 0;
}

bool
cable_tube(const struct cable *c, int64_t fibre, struct bytes *b)
{
	uint64_t tube = (uint64_t)((fibre - 1) / c->tube_size) + 1;

	if (c->tubes != NULL)
		return colour_add(b, c->tubes, tube);
	if (c->pilot.n > 0 && tube <= 2)
		bytes_add_field(b, tube == 1 ? c->pilot : c->direction);
	else if (c->pilot.n > 0)
		bytes_add_format(b, "%llu", (unsigned long long)tube);
	return true;
}

bool
cable_colour(const struct cable *c, int64_t fibre, struct bytes *b)
{
	return colour_add(
	    b, c->colours, (uint64_t)(has_tubes(c) ? (fibre - 1) % c->tube_size + 1 : fibre));
}

/* The number of a tube; 0: none. */
static int64_t
tube_number(const struct cable *c, struct field tube)
{
	int64_t n;

	if (num_whole(tube, &n) == 0)
		return n >= 1 && n <= 100000 ? n : 0;
	if (c->tubes != NULL)
		return (int64_t)colour_find(c->tubes, tube);
	return field_same_word(tube, c->pilot) ? 1 : field_same_word(tube, c->direction) ? 2 : 0;
}

int64_t
cable_fibre(
    const struct cable *c, struct field tube, struct field colour, bool *by_tube, const char **why)
{
	int64_t t = 1, n, most = has_tubes(c) ? c->tube_size : 100000;

	*by_tube = true;
	if (!has_tubes(c) && tube.n > 0) {
		*why = "the cable has no tubes";
		return 0;
	}
	if (has_tubes(c))
		t = tube_number(c, tube);
	if (t == 0) {
		*why = tube.n > 0 ? "no tube of the order"
				  : "the fibre stands in a tube: name its colour too, as red/aqua";
		return 0;
	}
	*by_tube = false;
	if (num_whole(colour, &n) != 0)
		n = (int64_t)colour_find(c->colours, colour);
	if (n < 1 || n > most) {
		*why = n < 1 ? "no colour of the order" : "more than a tube holds";
		return 0;
	}
	return (t - 1) * c->tube_size + n;
}

void
cables_free(struct cables *c)
{
	for (size_t i = 0; i < c->order_names.n; i++)
		colour_order_free(c->read[i]);
	free(c->read);
	free(c->v);
	ids_free(&c->names);
	ids_free(&c->order_names);
	region_free(&c->region);
}
