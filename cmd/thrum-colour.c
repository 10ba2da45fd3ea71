/*
 * thrum-colour: the tube and the colour of each fibre of a table by its number, or the number by these;
 * or of one fibre, asked for by options.
 */
#include <stdio.h>

#include "fibre/cable.h"
#include "table/prog.h"

struct opts {
	int64_t fibre;
	const char *colours, *cable;
	bool number;
	struct cable_usual usual;
};

static const struct opt opts[] = {
	{ 0, "fibre", OPT_WHOLE, offsetof(struct opts, fibre), "N",
	    "tube and colour of this fibre, in place of any FILE", 1, 100000 },
	{ 0, "colours", OPT_TEXT, offsetof(struct opts, colours), "COLOURS",
	    "number of the fibre of these, TUBE/FIBRE, in place of any FILE" },
	{ 0, "cable", OPT_TEXT, offsetof(struct opts, cable), "NAME",
	    "cable of that fibre, of the spans table" },
	{ 0, "number", OPT_FLAG, offsetof(struct opts, number), NULL,
	    "make the number of tube and colour, not these of the number" },
	CABLE_OPTIONS(offsetof(struct opts, usual)),
	{ 0 },
};

/* four columns a side; a table has the sides that it has columns of */
enum { CABLE, FIBRE, TUBE, COLOUR, A_SIDE, SIDES = 3, COLUMNS = SIDES * A_SIDE };

#define SIDE(suffix)                                                                               \
	{ "cable" suffix, COL_MAY, COL_TEXT }, { "fibre" suffix, COL_MAY, COL_WHOLE, 1, 100000 },  \
	    { "tube" suffix, COL_OUT, COL_TEXT },                                                  \
	{                                                                                          \
		"colour" suffix, COL_OUT, COL_TEXT                                                 \
	}

static const struct col cols[] = { SIDE("_a"), SIDE("_b"), SIDE(""), { NULL } };

enum { ROWS, SPANS, ORDERS };

static const struct table_in inputs[] = {
	[ROWS] = { .cols = cols },
	[SPANS] = { "spans", "cables, with their orders and sizes", cable_span_cols,
	    .key = cable_span_key, .flags = IN_HELD | IN_MANY },
	[ORDERS] = { "orders", "orders of colours in place of the built-in ones", colour_cols,
	    .builtin = &colours_tsv, .key = colour_key, .flags = IN_HELD },
	{ NULL },
};

static const struct table_out outputs[] = {
	{ .cols = cols, .flags = OUT_FILTER | OUT_LATER },
	{ NULL },
};

static const struct page page = {
	.name = "thrum-colour",
	.purpose = "the tube and colour of a fibre by its number, and back",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct cables cables;
	struct bytes one, text;
	struct col made[COLUMNS + 1]; /* those of cols, but what is made this time */
	bool sides[SIDES];
};

/* The one fibre that the options ask about, as a table. */
static int
choose_input(struct run *r)
{
	const struct opts *o = &r->o;
	struct field colour = field_of(o->colours != NULL ? o->colours : ""), tube = { "", 0 };
	const char *cable = o->cable != NULL ? o->cable : "";

	if (o->fibre < 0 && o->colours == NULL) {
		if (o->cable != NULL)
			return err_set(&r->p.err, "--cable: needs --fibre or --colours");
		return 0;
	}
	if (o->fibre >= 0 && o->colours != NULL)
		return err_set(&r->p.err, "--fibre and --colours are two questions");
	if (o->colours != NULL && colour.n == 0)
		return err_set(&r->p.err, "--colours: no colour");
	if (prog_has_operands(&r->p) || o->number)
		return err_set(&r->p.err,
		    "--fibre and --colours are about one fibre: no FILE or --number with them");
	r->o.number = o->colours != NULL;
	if (memchr(colour.p, '/', colour.n) != NULL)
		tube = field_cut(&colour, '/');
	bytes_add_text(&r->one, o->cable != NULL ? "cable\t" : "");
	bytes_add_text(&r->one, r->o.number ? "tube\tcolour\n" : "fibre\n");
	bytes_add_format(&r->one, "%s%s", cable, o->cable != NULL ? "\t" : "");
	if (!r->o.number)
		bytes_add_format(&r->one, "%lld\n", (long long)o->fibre);
	else
		bytes_add_format(
		    &r->one, "%.*s\t%.*s\n", (int)tube.n, tube.p, (int)colour.n, colour.p);
	prog_operands_are(&r->p, "options", bytes_field(&r->one));
	return 0;
}

/* Which sides the table has, and with them what is made. */
static int
choose_columns(struct run *r)
{
	struct table *t = &r->p.in[ROWS];
	int wanted = r->o.number ? COLOUR : FIBRE;
	bool any = false;

	memcpy(r->made, cols, sizeof cols);
	for (int side = 0; side < SIDES; side++) {
		struct col *made = &r->made[side * A_SIDE];

		r->sides[side] = table_has(t, side * A_SIDE + wanted);
		any |= r->sides[side];
		made[FIBRE].role = r->sides[side] && r->o.number ? COL_OUT : COL_MAY;
		made[TUBE].role = r->sides[side] && !r->o.number ? COL_OUT : COL_MAY;
		made[COLOUR].role = made[TUBE].role;
	}
	if (!any)
		return reader_need(t->reader, field_of(cols[wanted].name));
	prog_sheet(&r->p, 0, r->made, field_of(""));
	return 0;
}

/* The orders that hold where a cable has none of its own. */
static int
load_orders(struct run *r)
{
	const struct opts *o = &r->o;
	struct field cable = field_of(o->cable != NULL ? o->cable : "");

	if (cables_init(&r->cables, &r->p.in[SPANS], &r->p.in[ORDERS], &o->usual, &r->p.err) != 0)
		return -1;
	if (o->cable != NULL && !prog_has_input(&r->p, SPANS))
		return err_set(&r->p.err, "--cable: --spans is needed, which describes the cables");
	if (o->cable != NULL &&
	    (table_rows(&r->p.in[SPANS]) == 0 || !table_find(&r->p.in[SPANS], &cable)))
		return err_set(&r->p.err, "--cable: not in the spans table: '%s'", o->cable);
	return 0;
}

/* The most fibres that a section of the cable has; 0: not known. */
static int64_t
fibres_of(struct run *r, struct field cable)
{
	struct table *spans = &r->p.in[SPANS];
	int64_t most = 0, n;

	if (table_rows(spans) == 0 || !table_find(spans, &cable))
		return 0;
	do
		if (get_whole(spans, SPAN_FIBRES, &n) && n > most)
			most = n;
	while (table_find_next(spans));
	return most;
}

static void
check_fibre(struct run *r, int col, int64_t fibre, struct field cable)
{
	int64_t most = fibres_of(r, cable);
	char what[60];

	if (most == 0 || fibre <= most)
		return;
	snprintf(what, sizeof what, "the cable has %lld fibres", (long long)most);
	table_fail(&r->p.in[ROWS], col, what);
}

static void
name_colours(struct run *r, int side, const struct cable *c)
{
	struct table *t = &r->p.in[ROWS];
	int64_t fibre;

	if (!get_whole(t, side + FIBRE, &fibre))
		return;
	check_fibre(r, side + FIBRE, fibre, c->name);
	r->text.n = 0;
	if (!cable_tube(c, fibre, &r->text))
		table_fail(t, side + FIBRE, "the order of tubes has no colour for its tube");
	put_text(&r->p.out[0], side + TUBE, bytes_field(&r->text));
	r->text.n = 0;
	if (!cable_colour(c, fibre, &r->text))
		table_fail(t, side + FIBRE, "the order of fibres has no colour for it");
	put_text(&r->p.out[0], side + COLOUR, bytes_field(&r->text));
}

static void
find_number(struct run *r, int side, const struct cable *c)
{
	struct table *t = &r->p.in[ROWS];
	struct field tube = { "", 0 }, colour = { "", 0 };
	const char *why;
	bool by_tube;
	int64_t fibre;

	get_text(t, side + TUBE, &tube);
	get_text(t, side + COLOUR, &colour);
	if (tube.n == 0 && colour.n == 0)
		return;
	fibre = cable_fibre(c, tube, colour, &by_tube, &why);
	if (fibre == 0) {
		table_fail(t, side + (by_tube ? TUBE : COLOUR), why);
		return;
	}
	check_fibre(r, side + COLOUR, fibre, c->name);
	put_whole(&r->p.out[0], side + FIBRE, fibre);
}

static void
one_row(struct run *r)
{
	for (int side = 0; side < SIDES; side++) {
		struct field name = { "", 0 };
		const struct cable *c;

		if (!r->sides[side])
			continue;
		get_text(&r->p.in[ROWS], side * A_SIDE + CABLE, &name);
		c = cables_find(&r->cables, name, &r->p.err);
		if (c == NULL || err_is_set(&r->p.err))
			return;
		if (r->o.number)
			find_number(r, side * A_SIDE, c);
		else
			name_colours(r, side * A_SIDE, c);
	}
}

int
main(int argc, char **argv)
{
	struct run r = { .o = { .fibre = -1, .usual = CABLE_USUAL } };

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && choose_input(&r) == 0 &&
	    prog_open(&r.p) == 0 && load_orders(&r) == 0 && choose_columns(&r) == 0)
		while (prog_next(&r.p))
			one_row(&r);
	cables_free(&r.cables);
	bytes_free(&r.one);
	bytes_free(&r.text);
	return prog_close(&r.p, EXIT_DONE);
}
