/* closure: a row for each slot in the order of the trays, as a jointer looks down on them. */
#include <math.h>
#include <stdlib.h>

#include "base/num.h"
#include "page/plot.h"

enum { ROW = 22, ROWS_MOST = 400 };

/* --- colours --------------------------------------------------------------------------------- */

/* The colours' names in the orders of lib/fibre/colours.tsv, as a screen shows them; common practice. */
static const struct {
	const char *name, *rgb;
} colours[] = { { "blue", "#1f5fbf" }, { "orange", "#e8751a" }, { "green", "#2f9e44" },
	{ "brown", "#7a4a21" }, { "slate", "#708090" }, { "grey", "#808080" },
	{ "gray", "#808080" }, { "white", "#fff" }, { "red", "#d0312d" }, { "black", "#111" },
	{ "yellow", "#f2c81f" }, { "violet", "#7b3fa0" }, { "purple", "#7b3fa0" },
	{ "rose", "#f08fb0" }, { "pink", "#f08fb0" }, { "aqua", "#3fc1c9" },
	{ "turquoise", "#3fc1c9" }, { "uncoloured", "#f4f1e6" }, { "natural", "#f4f1e6" } };

/* A piece of fibre with its marks as cross lines; a colour that is not known stays a thin line. */
static void
draw_fibre(struct svg *s, double x, double y, double wide, struct field colour)
{
	const char *rgb = NULL;
	struct field rest = colour, first = field_cut(&rest, ' ');
	int64_t marks = rest.n > 0;

	for (size_t i = 0; i < sizeof colours / sizeof colours[0]; i++)
		if (field_same_word(first, field_of(colours[i].name)))
			rgb = colours[i].rgb;
	if (rgb == NULL) {
		svg_put(s, "<path stroke=\"#111\" stroke-dasharray=\"2 3\" d=\"M% %h%\"/>\n", x, y,
		    wide);
		return;
	}
	svg_put(s, "<rect x=\"%\" y=\"%\" width=\"%\" height=\"8\" fill=\"$\" stroke=\"#111\"/>\n",
	    x, y - 4, wide, rgb);
	if (marks > 0)
		num_whole(field_cut(&rest, ' '), &marks);
	for (int64_t i = 0; i < marks && i < 6; i++)
		svg_put(s, "<path stroke=\"$\" stroke-width=\"2\" d=\"M% %v8\"/>\n",
		    strcmp(rgb, "#111") == 0 ? "#f2c81f" : "#111", x + 5 + 5 * (double)i, y - 4);
}

/* --- rows ------------------------------------------------------------------------------------ */

/* Numbers by value, then texts. */
static int
order(struct field a, struct field b)
{
	int64_t x, y;
	bool is_x = num_whole(a, &x) == 0, is_y = num_whole(b, &y) == 0;

	if (is_x != is_y)
		return is_x ? -1 : 1;
	return is_x && x != y ? (x > y) - (x < y) : field_order(a, b);
}

static int
by_slot(const void *a, const void *b)
{
	const struct plot_joint *x = a, *y = b;
	int by = field_order(x->closure, y->closure);

	by = by != 0 ? by : order(x->tray, y->tray);
	by = by != 0 ? by : order(x->slot, y->slot);
	return by != 0 ? by : field_order(x->joint, y->joint);
}

static bool
same_tray(const struct plot_joint *a, const struct plot_joint *b)
{
	return field_same(a->closure, b->closure) && field_same(a->tray, b->tray);
}

static bool
is_wrong(const struct plot_joint *j)
{
	return j->state.n == 0 && (j->missing || plot_over(j) || plot_unknown(j) || j->says.n > 0);
}

/* What stands at the end of the bar; briefly: of two words the first. */
static void
say_loss(struct bytes *b, const struct plot_joint *j, bool briefly)
{
	bool wrong = plot_over(j) || j->says.n > 0;

	b->n = 0;
	if (j->state.n > 0)
		bytes_add_field(b, j->state);
	else if (j->missing)
		bytes_add_text(b, "MISSING");
	else if (j->loss_udb == DB_NONE)
		bytes_add_text(b, wrong ? "fault" : "no loss");
	else
		plot_db(b, j->loss_udb);
	if (j->loss_udb == DB_NONE || j->missing)
		return;
	if (wrong)
		bytes_add_text(b, plot_over(j) ? " over" : " fault");
	else if (j->shared)
		bytes_add_text(b, " shared");
	if (strcmp(j->basis, "two-way") != 0 && !(briefly && wrong))
		bytes_add_text(b, strcmp(j->basis, "estimate") == 0 ? " est." : " 1-way");
}

/* What is to be done about the joint. */
static void
say_task(struct bytes *b, const struct plot_joint *j)
{
	size_t before;

	b->n = 0;
	if (j->missing) {
		bytes_add_text(b, "planned and not made");
	} else if (plot_over(j)) {
		plot_db(b, j->loss_udb);
		bytes_add_text(b, " dB, over the limit of ");
		plot_db(b, j->limit_udb);
		bytes_add_text(b, ": open again");
	} else if (j->loss_udb == DB_NONE) {
		bytes_add_text(b, "no loss known: measure");
	} else if (plot_unknown(j)) {
		bytes_add_format(b, "%s only: measure from both ends",
		    strcmp(j->basis, "estimate") == 0 ? "estimated" : "read from one end");
	}
	before = b->n;
	if (j->says.n > 0) {
		bytes_add_text(b, before > 0 ? "; " : "");
		bytes_add_field(b, j->says);
	}
}

/* true if the joint must be seen to with the lid open, and not only measured */
static bool
is_urgent(const struct plot_joint *j)
{
	return j->missing || plot_over(j) || j->says.n > 0;
}

/*
 * Hands out what is to be done, a line for each joint or for neighbours of the same need: first what
 * needs the lid open, then what needs a measurement.
 */
static void
say_tasks(struct plot *p, const struct plot_joint *j, size_t n, void (*line)(struct plot *p))
{
	struct bytes task = { NULL, 0, 0 }, next = { NULL, 0, 0 };

	for (int urgent = 1; urgent >= 0; urgent--)
		for (size_t i = 0, end; i < n; i = end) {
			end = i + 1;
			if (!is_wrong(&j[i]) || is_urgent(&j[i]) != urgent)
				continue;
			say_task(&task, &j[i]);
			for (; end < n && same_tray(&j[i], &j[end]) && is_wrong(&j[end]); end++) {
				say_task(&next, &j[end]);
				if (!field_same(bytes_field(&task), bytes_field(&next)))
					break;
			}
			p->words.n = 0;
			if (j[i].tray.n > 0)
				bytes_add_format(
				    &p->words, "Tray %.*s, s", (int)j[i].tray.n, j[i].tray.p);
			else
				bytes_add_text(&p->words, "S");
			bytes_add_text(&p->words, end - i > 1 ? "lots " : "lot ");
			bytes_add_field(&p->words, j[i].slot);
			bytes_add_text(&p->words, end - i > 1 ? " to " : "");
			if (end - i > 1)
				bytes_add_field(&p->words, j[end - 1].slot);
			else if (j[i].joint.n > 0)
				bytes_add_text(&p->words, ", ");
			if (end - i == 1)
				bytes_add_field(&p->words, j[i].joint);
			bytes_add_text(&p->words, ": ");
			bytes_add_field(&p->words, bytes_field(&task));
			bytes_add_text(&p->words, ".");
			line(p);
		}
	bytes_free(&task);
	bytes_free(&next);
}

/* "13 blue", and what the heading of the tray does not say: tube, cable */
static void
say_fibre(struct bytes *b, const struct plot_joint *j, int side, bool cable, bool tube)
{
	b->n = 0;
	if (cable && j->cable[side].n > 0) {
		bytes_add_field(b, j->cable[side]);
		bytes_add_text(b, ":");
	}
	bytes_add_field(b, j->fibre[side]);
	bytes_add_text(b, " ");
	if (tube && j->tube[side].n > 0) {
		bytes_add_field(b, j->tube[side]);
		bytes_add_text(b, "/");
	}
	bytes_add_field(b, j->colour[side].n > 0 ? j->colour[side] : field_of("no colour"));
}

static void
say_all(struct plot *p, const struct plot_joint *j, size_t n)
{
	size_t planned = 0, missing = 0, over = 0, unknown = 0, faulty = 0;
	struct bytes *v = &p->verdict;
	int64_t limit = DB_NONE;
	bool one_limit = true;

	for (size_t i = 0; i < n; i++) {
		if (j[i].state.n > 0)
			continue;
		planned++;
		missing += j[i].missing;
		over += plot_over(&j[i]);
		faulty += !j[i].missing && !plot_over(&j[i]) && j[i].says.n > 0;
		unknown +=
		    !j[i].missing && !plot_over(&j[i]) && j[i].says.n == 0 && plot_unknown(&j[i]);
		one_limit &=
		    limit == DB_NONE || j[i].limit_udb == limit || j[i].limit_udb == DB_NONE;
		limit = j[i].limit_udb != DB_NONE ? j[i].limit_udb : limit;
	}
	bytes_add_field(&p->head, n > 0 ? j[0].closure : field_of("No joint"));
	if (n > 0 && same_tray(&j[0], &j[n - 1]) && j[0].tray.n > 0) {
		bytes_add_text(&p->head, ", tray ");
		bytes_add_field(&p->head, j[0].tray);
	} else if (n > 0 && !field_same(j[0].closure, j[n - 1].closure)) {
		bytes_add_text(&p->head, " and others");
	}
	bytes_add_format(v, "%zu joint%s", planned, planned == 1 ? "" : "s");
	if (missing > 0)
		bytes_add_format(v, ", %zu MISSING", missing);
	bytes_add_format(v, ", %zu over their limit", over);
	if (faulty > 0)
		bytes_add_format(v, ", %zu otherwise at fault", faulty);
	if (unknown > 0)
		bytes_add_format(v, ", %zu not known", unknown);
	bytes_add_format(v, ", %zu pass", planned - missing - over - faulty - unknown);
	if (limit != DB_NONE && one_limit) {
		bytes_add_text(v, ". Limit ");
		plot_db(v, limit);
		bytes_add_text(v, " dB each");
	}
	bytes_add_text(v, ".");
}

/* --- in letters ------------------------------------------------------------------------------ */

/* Of each side, whether cables and tubes differ among all of them; what they all are is said before them. */
static void
say_heads(struct plot *p, const struct plot_joint *j, size_t n, bool cable[2], bool tube[2])
{
	for (int side = 0; side < 2; side++) {
		for (size_t i = 1; i < n; i++) {
			cable[side] |= !field_same(j[i].cable[side], j[0].cable[side]);
			tube[side] |= !field_same(j[i].tube[side], j[0].tube[side]);
		}
		if (cable[side])
			continue;
		bytes_add_text(&p->verdict, side == 0 ? " Side a: " : " Side b: ");
		bytes_add_field(&p->verdict, j[0].cable[side]);
		bytes_add_text(&p->verdict, tube[side] || j[0].tube[side].n == 0 ? "" : ", tube ");
		if (!tube[side])
			bytes_add_field(&p->verdict, j[0].tube[side]);
		bytes_add_text(&p->verdict, ".");
	}
}

static void
put_line(struct plot *p)
{
	bars_line(&p->bars, bytes_field(&p->words));
}

static void
list(struct plot *p, const struct plot_joint *j, size_t n)
{
	bool cable[2] = { false, false }, tube[2] = { false, false };

	say_heads(p, j, n, cable, tube);
	for (size_t i = 0; i < n; i++) {
		struct bytes cells = { NULL, 0, 0 };

		p->bars.limit = j[i].limit_udb != DB_NONE ? db_to(j[i].limit_udb) : p->bars.limit;
		bytes_add_field(&cells, j[i].tray);
		bytes_add_text(&cells, ".");
		bytes_add_field(&cells, j[i].slot);
		for (int side = 0; side < 2; side++) {
			say_fibre(&p->words, &j[i], side, cable[side], tube[side]);
			bytes_add_text(&cells, "\t");
			bytes_add_field(&cells, bytes_field(&p->words));
		}
		say_loss(&p->words, &j[i], false);
		bars_row(&p->bars, bytes_field(&cells),
		    j[i].loss_udb != DB_NONE ? db_to(j[i].loss_udb) : 0, is_urgent(&j[i]),
		    bytes_field(&p->words));
		bytes_free(&cells);
	}
	say_tasks(p, j, n, put_line);
}

/* --- as a picture ---------------------------------------------------------------------------- */

struct columns {
	double slot, side[2], bar, right, piece; /* x of each; piece: how long a fibre is drawn */
	bool cable[2], tube[2];                  /* they differ within a tray */
	double most;                             /* dB at the right end of the bars */
	struct axis axis;
};

static void
measure(struct plot *p, struct columns *c, const struct plot_joint *j, size_t n)
{
	double slot = svg_width(field_of("slot"), SVG_SMALL), wide[2] = { 60, 60 }, words = 40;
	struct svg *s = &p->svg;

	c->most = 0.05;
	for (size_t i = 1; i < n; i++)
		for (int side = 0; side < 2 && same_tray(&j[i], &j[i - 1]); side++) {
			c->cable[side] |= !field_same(j[i].cable[side], j[i - 1].cable[side]);
			c->tube[side] |= !field_same(j[i].tube[side], j[i - 1].tube[side]);
		}
	for (size_t i = 0; i < n; i++) {
		double w = svg_width(j[i].slot, 0), loss = 0;

		slot = w > slot ? w : slot;
		for (int side = 0; side < 2; side++) {
			say_fibre(&p->words, &j[i], side, c->cable[side], c->tube[side]);
			w = svg_width(bytes_field(&p->words), 0);
			wide[side] = w > wide[side] ? w : wide[side];
		}
		say_loss(&p->words, &j[i], true);
		w = svg_width(bytes_field(&p->words), SVG_BOLD | SVG_SMALL);
		words = w > words ? w : words;
		if (j[i].limit_udb != DB_NONE)
			loss = 1.3 * db_to(j[i].limit_udb);
		/* far outliers end at the edge: their number tells how far */
		if (j[i].loss_udb != DB_NONE && db_to(j[i].loss_udb) > loss)
			loss = loss > 0 && db_to(j[i].loss_udb) > 2.5 * loss ? 2.5 * loss
									     : db_to(j[i].loss_udb);
		c->most = loss > c->most ? loss : c->most;
	}
	slot = slot > 60 ? 60 : slot;
	c->piece = s->width < 500 ? 18 : 44;
	for (int side = 0; side < 2; side++) {
		double room = (s->width - slot - 170) / 2 - c->piece;

		wide[side] = wide[side] > room ? room : wide[side];
	}
	c->slot = SVG_MARGIN + slot;
	c->side[0] = c->slot + 8;
	c->side[1] = c->side[0] + c->piece + 5 + wide[0] + 8;
	c->bar = c->side[1] + c->piece + 5 + wide[1] + 10;
	c->right = s->width - SVG_MARGIN - words - 8;
	c->right = c->right < c->bar + 30 ? c->bar + 30 : c->right;
	c->axis = axis_round(0, c->most, c->bar, c->right, (int)fmax(1, (c->right - c->bar) / 60));
}

static void
draw_heading(struct plot *p, const struct columns *c, const struct plot_joint *j, bool named)
{
	struct svg *s = &p->svg;

	if (named) {
		p->words.n = 0;
		bytes_add_field(&p->words, j->closure);
		bytes_add_text(&p->words, ", tray ");
		bytes_add_field(&p->words, j->tray);
		s->y += 6;
		svg_lines(s, SVG_BOLD, bytes_field(&p->words));
		s->y += 4;
	}
	svg_text(s, c->slot, s->y + 12, SVG_SMALL | SVG_GREY | SVG_END, field_of("slot"));
	svg_text(s, c->bar, s->y + 12, SVG_SMALL | SVG_GREY, field_of("loss, dB"));
	svg_text_in(s, c->bar, s->y + 27, s->width - SVG_MARGIN - c->bar, SVG_SMALL | SVG_GREY,
	    field_of("dashed: limit"));
	for (int side = 0; side < 2; side++) {
		double room = (side == 0 ? c->side[1] : c->bar) - c->side[side] - 8;

		p->words.n = 0;
		bytes_add_text(&p->words, side == 0 ? "a: " : "b: ");
		if (!c->cable[side])
			bytes_add_field(&p->words, j->cable[side]);
		svg_text_in(s, c->side[side], s->y + 12, room, SVG_SMALL | SVG_GREY,
		    bytes_field(&p->words));
		p->words.n = 0;
		bytes_add_text(&p->words, "tube ");
		bytes_add_field(&p->words, j->tube[side]);
		if (!c->tube[side] && j->tube[side].n > 0)
			svg_text_in(s, c->side[side], s->y + 27, room, SVG_SMALL | SVG_GREY,
			    bytes_field(&p->words));
	}
	s->y += 15;
	s->y += 18;
}

static void
draw_row(struct plot *p, const struct columns *c, const struct plot_joint *j)
{
	struct svg *s = &p->svg;
	double middle = s->y + ROW / 2.0, end = c->bar, limit = 0;
	bool wrong = is_wrong(j);

	svg_put(s, "<path stroke=\"#ddd\" d=\"M% %H%\"/>\n", (double)SVG_MARGIN, s->y + ROW,
	    s->width - SVG_MARGIN);
	svg_text_in(s, c->slot, middle + 5, c->slot - 4, SVG_END | (wrong ? SVG_BOLD : 0), j->slot);
	for (int side = 0; side < 2; side++) {
		double x = c->side[side] + c->piece + 5, to = side == 0 ? c->side[1] : c->bar;

		draw_fibre(s, c->side[side], middle, c->piece, j->colour[side]);
		say_fibre(&p->words, j, side, c->cable[side], c->tube[side]);
		svg_text_in(s, x, middle + 5, to - x - 6, 0, bytes_field(&p->words));
	}
	svg_put(s, "<path stroke=\"#111\" d=\"M% %V%\"/>\n", c->bar, s->y, s->y + ROW);
	if (j->loss_udb != DB_NONE && j->loss_udb > 0) {
		end = axis_px(&c->axis, db_to(j->loss_udb));
		end = end > c->right ? c->right : end;
		svg_bar(s, c->bar, middle - 5, end - c->bar, 10,
		    plot_over(j) || j->says.n > 0      ? SVG_HATCHED
		    : strcmp(j->basis, "two-way") != 0 ? SVG_OPEN
						       : SVG_FILLED);
	}
	if (j->limit_udb != DB_NONE && j->state.n == 0) {
		limit = axis_px(&c->axis, db_to(j->limit_udb));
		if (limit <= c->right)
			svg_put(s,
			    "<path stroke=\"#111\" stroke-dasharray=\"4 3\" d=\"M% %V%\"/>\n",
			    limit, s->y, s->y + ROW);
	}
	say_loss(&p->words, j, true);
	/* the number stands beside its bar, but on no line */
	if (limit > end &&
	    limit < end + 10 + svg_width(bytes_field(&p->words), SVG_SMALL | SVG_BOLD))
		end = limit;
	svg_text(s, end + 6, middle + 4, SVG_SMALL | SVG_HALO | (wrong ? SVG_BOLD : 0),
	    bytes_field(&p->words));
	s->y += ROW;
}

static void
draw_line(struct plot *p)
{
	svg_lines(&p->svg, SVG_SMALL, bytes_field(&p->words));
}

static void
draw(struct plot *p, const struct plot_joint *j, size_t n, size_t left_out)
{
	struct columns c = { 0 };
	struct svg *s = &p->svg;
	bool trays = !same_tray(&j[0], &j[n - 1]);

	measure(p, &c, j, n);
	for (size_t i = 0; i < n; i++) {
		if (i == 0 || !same_tray(&j[i], &j[i - 1]))
			draw_heading(p, &c, &j[i], trays);
		draw_row(p, &c, &j[i]);
	}
	axis_columns(s, &c.axis, s->y, s->y + 3);
	s->y += 26;
	p->words.n = 0;
	bytes_add_format(&p->words, "%zu more joints are not drawn.", left_out);
	if (left_out > 0)
		svg_lines(s, SVG_SMALL, bytes_field(&p->words));
	say_tasks(p, j, n, draw_line);
	s->y += 12;
}

/* Of very many joints those that need something come first. */
static size_t
choose(struct plot_joint *j, size_t n)
{
	size_t kept = 0, pass = ROWS_MOST;

	if (n <= ROWS_MOST)
		return n;
	for (size_t i = 0; i < n; i++)
		pass -= pass > 0 && is_wrong(&j[i]);
	for (size_t i = 0; i < n && kept < ROWS_MOST; i++) {
		bool wrong = is_wrong(&j[i]);

		if (!wrong && pass == 0)
			continue;
		pass -= !wrong;
		j[kept++] = j[i];
	}
	return kept;
}

void
plot_closure(struct plot *p, struct plot_joint *j, size_t n)
{
	size_t kept;

	if (n > 0)
		qsort(j, n, sizeof *j, by_slot);
	say_all(p, j, n);
	plot_begin(p);
	kept = choose(j, n);
	if (n > 0 && p->text)
		list(p, j, kept);
	else if (n > 0)
		draw(p, j, kept, n - kept);
	plot_end(p);
}
