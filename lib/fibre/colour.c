#include "fibre/colour.h"

#include <stdlib.h>

#include "base/num.h"
#include "base/spelling.h"

enum { ORDER, POSITION, COLOUR, MARK, ALSO };

const struct col colour_cols[] = {
	[ORDER] = { "order", COL_NEED, COL_TEXT },
	[POSITION] = { "position", COL_NEED, COL_WHOLE, 1, COLOUR_POSITIONS_MOST },
	[COLOUR] = { "colour", COL_NEED, COL_TEXT },
	[MARK] = { "mark", COL_MAY, COL_TEXT },
	[ALSO] = { "also", COL_MAY, COL_TEXT },
	{ NULL },
};

const int colour_key[] = { ORDER, POSITION, -1 };

/* --- reading --------------------------------------------------------------------------------- */

static void
read_position(struct colour_order *o, struct table *t)
{
	struct field name = { "", 0 }, mark = { "", 0 }, also = { "", 0 };
	int64_t position;

	if (!get_whole(t, POSITION, &position) || !get_text(t, COLOUR, &name)) {
		if (!err_is_set(t->err))
			table_fail(t, name.n == 0 ? COLOUR : POSITION, "empty");
		return;
	}
	get_text(t, MARK, &mark);
	get_text(t, ALSO, &also);
	o->at[position - 1] = (struct colour){ .name = region_keep(&o->text, name),
		.mark = region_keep(&o->text, mark),
		.also = region_keep(&o->text, also) };
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
colour_order_take(struct colour_order *o, struct field name, struct table *orders, struct err *err)
{
	struct field *names = NULL, order = { "", 0 };
	size_t n = 0, cap = 0;

	*o = (struct colour_order){ 0 };
	for (size_t i = 0; i < table_rows(orders) && !err_is_set(err); i++) {
		table_at(orders, i);
		if (!get_text(orders, ORDER, &order))
			continue;
		if (field_same(order, name)) {
			read_position(o, orders);
		} else if (n == 0 || !field_same(order, names[n - 1])) {
			names = mem_grow(names, &cap, n + 1, sizeof *names);
			names[n++] = order;
		}
	}
	if (o->n == 0 && !err_is_set(err))
		no_order(name, names, n, err);
	for (size_t i = 0; i < o->n; i++)
		if (o->at[i].name.n == 0 && !err_is_set(err))
			err_set(err, "colour order '%.*s': no colour at position %zu",
			    name.n < 100 ? (int)name.n : 100, name.p, i + 1);
	free(names);
	return err_is_set(err) ? -1 : 0;
}

int
colour_order_read(struct colour_order *o, struct field name, struct err *err)
{
	struct table t;

	*o = (struct colour_order){ 0 };
	if (table_open_side(&t, colour_cols, NULL, &colours_tsv, err) == 0 &&
	    table_hold(&t, HOLD_ROWS, colour_key, false, NULL) == 0)
		colour_order_take(o, name, &t, err);
	table_close(&t);
	return err_is_set(err) ? -1 : 0;
}

/* --- number to colour ------------------------------------------------------------------------ */

/* "ring", "2 rings", "3 dashes" */
static void
add_mark(struct bytes *b, struct field mark, uint64_t count)
{
	bytes_add_text(b, " ");
	if (count > 1)
		bytes_add_format(b, "%llu ", (unsigned long long)count);
	bytes_add_field(b, mark);
	if (count > 1)
		bytes_add_text(b, mark.p[mark.n - 1] == 'h' ? "es" : "s");
}

bool
colour_add(struct bytes *b, const struct colour_order *o, uint64_t number)
{
	const struct colour *c = &o->at[(number - 1) % o->n];
	uint64_t marks = (number - 1) / o->n;

	if (marks > 0 && c->mark.n == 0)
		return false;
	bytes_add_field(b, c->name);
	if (marks > 0)
		add_mark(b, c->mark, marks);
	return true;
}

/* --- colour to number ------------------------------------------------------------------------ */

/* The next of a colour's names; false: there are no more. */
static bool
next_name(const struct colour *c, struct field *rest, bool *begun, struct field *name)
{
	if (!*begun) {
		*begun = true;
		*rest = c->also;
		*name = c->name;
		return true;
	}
	if (rest->n == 0)
		return false;
	*name = field_cut(rest, ',');
	return true;
}

static bool
is_named(const struct colour *c, struct field text)
{
	struct field rest, name;
	bool begun = false;

	while (next_name(c, &rest, &begun, &name))
		if (name.n > 0 && field_same_word(text, name))
			return true;
	return false;
}

static bool
is_any_colour(const struct colour_order *o, struct field text)
{
	for (size_t i = 0; i < o->n; i++)
		if (is_named(&o->at[i], text))
			return true;
	return false;
}

/* The word for one mark, or for several. */
static bool
is_mark(struct field mark, struct field text)
{
	struct field stem = { text.p, mark.n };

	if (text.n < mark.n || !field_same_word(stem, mark))
		return false;
	text = (struct field){ text.p + mark.n, text.n - mark.n };
	return text.n == 0 || field_same_word(text, field_of("s")) ||
	       field_same_word(text, field_of("es"));
}

/* How many marks the text means: "stripe", "2 stripes", "black", "black stripe"; 0: none of these. */
static uint64_t
count_marks(const struct colour_order *o, struct field mark, struct field text)
{
	int64_t count = 1;
	bool said = false;

	for (size_t i = 0; text.n > 0; i++) {
		size_t n = 0;
		struct field piece;

		while (n < text.n && text.p[n] != ' ' && text.p[n] != '-')
			n++;
		piece = (struct field){ text.p, n };
		n += n < text.n;
		text = (struct field){ text.p + n, text.n - n };
		if (i == 0 && num_whole(piece, &count) == 0)
			continue;
		if (!is_mark(mark, piece) && !is_any_colour(o, piece))
			return 0;
		said = true;
	}
	return said && count >= 1 && count < 1000000 ? (uint64_t)count : 0;
}

/* How many marks stand behind a name of this colour; 0: the text does not begin with one. */
static uint64_t
marks_behind(const struct colour_order *o, const struct colour *c, struct field text)
{
	struct field rest, name;
	bool begun = false;

	while (c->mark.n > 0 && next_name(c, &rest, &begun, &name)) {
		struct field start = { text.p, name.n };
		uint64_t marks;

		if (name.n == 0 || text.n <= name.n + 1 || !field_same_word(start, name) ||
		    (text.p[name.n] != ' ' && text.p[name.n] != '-'))
			continue;
		marks = count_marks(
		    o, c->mark, (struct field){ text.p + name.n + 1, text.n - name.n - 1 });
		if (marks > 0)
			return marks;
	}
	return 0;
}

uint64_t
colour_find(const struct colour_order *o, struct field text)
{
	for (size_t i = 0; i < o->n; i++)
		if (is_named(&o->at[i], text))
			return i + 1;
	for (size_t i = 0; i < o->n; i++) {
		uint64_t marks = marks_behind(o, &o->at[i], text);

		if (marks > 0)
			return marks * o->n + i + 1;
	}
	return 0;
}

bool
colour_is(const struct colour_order *o, uint64_t number, struct field given)
{
	uint64_t found = colour_find(o, given);

	if (found == number)
		return true;
	if (number <= o->n && found > 0 && found <= o->n)
		return false;
	for (size_t i = 0; i < given.n; i++)
		if (given.p[i] == '-' || given.p[i] == ' ')
			given.n = i;
	return is_named(&o->at[(number - 1) % o->n], given);
}

void
colour_order_free(struct colour_order *o)
{
	region_free(&o->text);
	*o = (struct colour_order){ 0 };
}
