/*
 * thrum-sheet: the field sheets of closures, a page a tray, from the plan: what to joint, in order, and
 * where light may be.
 */
#include <stdlib.h>

#include "base/num.h"
#include "page/html.h"
#include "page/tray.h"
#include "table/prog.h"

struct opts {
	const char *closure, *revision;
	bool text;
};

static const struct opt opts[] = {
	{ 0, "closure", OPT_TEXT, offsetof(struct opts, closure), "CLOSURE",
	    "only the sheets of this closure (all)" },
	{ 0, "revision", OPT_TEXT, offsetof(struct opts, revision), "TEXT",
	    "the plan's revision, printed on each page (a line to write it on)" },
	{ 0, "text", OPT_FLAG, offsetof(struct opts, text), NULL, "plain text in place of HTML" },
	{ 0 },
};

enum { A_CABLE, A_FIBRE, A_TOWARD, A_TUBE, A_COLOUR, SIDE };
enum { JOINT, CLOSURE, TRAY, SLOT, STATE, KIND, RIBBON, ENDS, COLUMNS = ENDS + 2 * SIDE };
enum { JOIN, EXPRESS, PARKED, DEAD };

static const struct col plan_columns[] = {
	[JOINT] = { "joint", COL_NEED, COL_TEXT },
	[CLOSURE] = { "closure", COL_NEED, COL_TEXT },
	[TRAY] = { "tray", COL_MAY, COL_TEXT },
	[SLOT] = { "slot", COL_MAY, COL_TEXT },
	[STATE] = { "state", COL_MAY, COL_WORD, .words = "join express parked dead" },
	[KIND] = { "kind", COL_MAY, COL_TEXT },
	[RIBBON] = { "ribbon_a", COL_MAY, COL_TEXT },
	{ "cable_a", COL_NEED, COL_TEXT },
	{ "fibre_a", COL_NEED, COL_WHOLE, 1, 1e6 },
	{ "toward_a", COL_MAY, COL_TEXT },
	{ "tube_a", COL_MAY, COL_TEXT },
	{ "colour_a", COL_MAY, COL_TEXT },
	{ "cable_b", COL_MAY, COL_TEXT },
	{ "fibre_b", COL_MAY, COL_WHOLE, 1, 1e6 },
	{ "toward_b", COL_MAY, COL_TEXT },
	{ "tube_b", COL_MAY, COL_TEXT },
	{ "colour_b", COL_MAY, COL_TEXT },
	{ NULL },
};

enum { LINK, LIVE, HAZARD };
static const struct col link_columns[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[LIVE] = { "live", COL_MAY, COL_WORD, .words = "yes no" },
	[HAZARD] = { "hazard", COL_MAY, COL_WORD, .words = "1 1M 2 2M 3R 3B 4" },
	{ NULL },
};
static const char *const levels[] = { "1", "1M", "2", "2M", "3R", "3B", "4" };
static const int link_keys[] = { LINK, -1 };

enum { ELEMENT_LINK, REF };
static const struct col element_columns[] = {
	[ELEMENT_LINK] = { "link", COL_NEED, COL_TEXT },
	[REF] = { "ref", COL_NEED, COL_TEXT },
	{ NULL },
};
static const int element_keys[] = { REF, -1 };

enum { SITE, PLACE };
static const struct col site_columns[] = {
	[SITE] = { "site", COL_NEED, COL_TEXT },
	[PLACE] = { "place", COL_MAY, COL_TEXT },
	{ NULL },
};
static const int site_keys[] = { SITE, -1 };

enum { AGAIN, CAUSE, ALSO, ACTION, CAUTION, LINKS, AGAIN_LIVE };
static const struct col rework_columns[] = {
	[AGAIN] = { "joint", COL_NEED, COL_TEXT },
	[CAUSE] = { "cause", COL_NEED, COL_TEXT },
	[ALSO] = { "also", COL_MAY, COL_TEXT },
	[ACTION] = { "action", COL_NEED, COL_TEXT },
	[CAUTION] = { "caution", COL_MAY, COL_TEXT },
	[LINKS] = { "links", COL_MAY, COL_TEXT },
	[AGAIN_LIVE] = { "live", COL_MAY, COL_TEXT },
	{ NULL },
};
static const int rework_keys[] = { AGAIN, -1 };

enum { PLAN, LINK_TABLE, ELEMENTS, SITES, REWORK };
static const struct table_in inputs[] = {
	[PLAN] = { .cols = plan_columns },
	[LINK_TABLE] = { "links", "which links are live, and their hazard levels", link_columns,
	    .key = link_keys, .flags = IN_HELD | IN_MANY },
	[ELEMENTS] = { "elements", "what lies along each link, as thrum-route writes it",
	    element_columns, .key = element_keys, .flags = IN_HELD | IN_MANY },
	[SITES] = { "sites", "closures, with their places", site_columns, .key = site_keys,
	    .flags = IN_HELD },
	[REWORK] = { "rework", "only the joints of this list, as thrum-rework writes it",
	    rework_columns, .key = rework_keys, .flags = IN_HELD },
	{ NULL },
};
static const struct table_out outputs[] = { { .flags = OUT_LATER }, { NULL } };

static const struct page page = {
	.name = "thrum-sheet",
	.purpose = "the field sheets of closures, a page a tray, from the plan",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct fibre {
	struct field cell[COLUMNS];
	int state;
	size_t closure, place; /* in order of appearance */
	struct field links;    /* those that are live, or not said to be dark */
};

struct run {
	struct prog p;
	struct opts o;
	struct ids closures;
	struct fibre *v;
	size_t n, cap;
	struct region text;
	bool *met; /* of each row of the rework list */

	/* of the closure being written */
	struct ids lit;
	int hazard; /* the highest level of its links; -1: not known */
	struct tray_line *lines;
	struct bytes one, out;
};

/* --- the plan --------------------------------------------------------------------------------- */

static void
read_row(struct run *r)
{
	struct table *t = &r->p.in[PLAN];
	struct field joint = table_field(t, JOINT), closure = table_field(t, CLOSURE);
	bool again = prog_has_input(&r->p, REWORK);
	struct fibre *f;
	int64_t number;

	if (r->o.closure != NULL && !field_is(closure, r->o.closure))
		return;
	r->v = mem_grow(r->v, &r->cap, r->n + 1, sizeof *r->v);
	f = &r->v[r->n];
	*f = (struct fibre){ .state = JOIN, .place = r->n };
	get_word(t, STATE, &f->state);
	get_whole(t, ENDS + A_FIBRE, &number);
	get_whole(t, ENDS + SIDE + A_FIBRE, &number);
	if (f->state == JOIN && joint.n == 0) {
		table_fail(t, JOINT, "a joint without a name cannot be written down");
		return;
	}
	if (again && f->state == JOIN) {
		if (table_rows(&r->p.in[REWORK]) == 0 || !table_find(&r->p.in[REWORK], &joint))
			return;
		r->met[table_place(&r->p.in[REWORK])] = true;
	}
	f->closure = ids_add(&r->closures, &closure, 1, NULL);
	for (int c = 0; c < COLUMNS; c++)
		f->cell[c] = region_keep(&r->text, table_field(t, c));
	r->n++;
}

static int
by_number(struct field a, struct field b)
{
	int64_t x, y;
	int whole = num_whole(a, &x) == 0, other = num_whole(b, &y) == 0;

	if (whole && other)
		return (x > y) - (x < y);
	return whole != other ? other - whole : field_order(a, b);
}

/* closures as they come, trays and slots by number */
static int
in_order(const void *x, const void *y)
{
	const struct fibre *a = x, *b = y;
	int by = (a->closure > b->closure) - (a->closure < b->closure);

	if (by == 0)
		by = by_number(a->cell[TRAY], b->cell[TRAY]);
	if (by == 0)
		by = by_number(a->cell[SLOT], b->cell[SLOT]);
	return by != 0 ? by : (a->place > b->place) - (a->place < b->place);
}

static int
read_plan(struct run *r)
{
	struct table *again = &r->p.in[REWORK];

	r->met = mem_zeroed(table_rows(again) + 1, sizeof *r->met);
	while (prog_next(&r->p))
		read_row(r);
	if (err_is_set(&r->p.err))
		return -1;
	for (size_t i = 0; i < table_rows(again) && r->o.closure == NULL; i++) {
		table_at(again, i);
		if (!r->met[i])
			return table_fail(again, AGAIN, "the plan has no such joint");
	}
	if (r->o.closure != NULL && r->n == 0)
		return err_set(
		    &r->p.err, "--closure: the plan has no work there: '%s'", r->o.closure);
	if (r->n > 0)
		qsort(r->v, r->n, sizeof *r->v, in_order);
	return 0;
}

/* --- light ------------------------------------------------------------------------------------ */

/* A link in this closure: what the links table says of it. false: it is dark. */
static bool
lit(struct run *r, struct field link)
{
	struct table *t = &r->p.in[LINK_TABLE];
	bool yes = false, no = false;
	int word;

	if (table_rows(t) == 0 || !table_find(t, &link))
		return true;
	do {
		if (get_word(t, HAZARD, &word) && word > r->hazard)
			r->hazard = word;
		if (get_word(t, LIVE, &word))
			*(word == 0 ? &yes : &no) = true;
	} while (table_find_next(t));
	return yes || !no;
}

/* Adds the link to r->one, once, and to those of the closure. */
static void
add_link(struct run *r, struct field link)
{
	if (link.n == 0 || field_among(bytes_field(&r->one), ',', link) != SIZE_MAX)
		return;
	bytes_add_text(&r->one, r->one.n > 0 ? "," : "");
	bytes_add_field(&r->one, link);
	ids_add(&r->lit, &link, 1, NULL);
}

static void
find_links(struct run *r, struct fibre *f)
{
	struct table *t = &r->p.in[ELEMENTS], *again = &r->p.in[REWORK];
	struct bytes name = { NULL, 0, 0 };
	struct field live, links;

	r->one.n = 0;
	for (int i = 0; i < 3 && table_rows(t) > 0; i++) {
		const struct field *end = &f->cell[ENDS + (i > 0 ? i - 1 : 0) * SIDE];
		struct field ref = f->cell[JOINT];

		if (i > 0) {
			name.n = 0;
			bytes_add_list(&name, end, 2, ':');
			ref = bytes_field(&name);
		}
		if (ref.n > 0 && table_find(t, &ref))
			do
				if (lit(r, table_field(t, ELEMENT_LINK)))
					add_link(r, table_field(t, ELEMENT_LINK));
			while (table_find_next(t));
	}
	if (table_rows(again) > 0 && table_find(again, &f->cell[JOINT]) &&
	    get_text(again, AGAIN_LIVE, &live) && !field_is(live, "no")) {
		links = table_field(again, LINKS);
		if (!field_is(live, "yes"))
			links = live;
		while (links.n > 0)
			add_link(r, field_cut(&links, ','));
		if (r->one.n == 0)
			add_link(r, field_of("by the rework list"));
	}
	f->links = region_keep(&r->text, bytes_field(&r->one));
	bytes_free(&name);
}

static void
say_light(struct run *r, struct tray_page *p)
{
	r->one.n = 0;
	p->live = true;
	if (r->lit.n > 0) {
		bytes_add_text(&r->one, "LIVE, or not said to be dark:");
		for (size_t i = 0; i < r->lit.n; i++) {
			bytes_add_text(&r->one, i > 0 ? ", " : " ");
			bytes_add_field(&r->one, ids_key(&r->lit, i));
		}
		bytes_add_text(&r->one, ". Ask before you cut.");
	} else if (!prog_has_input(&r->p, LINK_TABLE) || !prog_has_input(&r->p, ELEMENTS)) {
		bytes_add_text(&r->one, "LIVE? Nobody has said. Treat every fibre as live.");
	} else {
		p->live = false;
		bytes_add_text(&r->one,
		    "By the links table no link here is live. Treat every fibre as "
		    "live all the same, until its far end is off and locked.");
	}
	p->light = region_keep(&r->text, bytes_field(&r->one));
	p->hazard = field_of(r->hazard >= 0 ? levels[r->hazard] : "");
}

/* --- what is left alone ------------------------------------------------------------------------ */

/* "tide-1: blue tube 1-12, orange tube 13; kelp-1: ..." of the express fibres in [f, end) */
static struct field
say_keep(struct run *r, const struct fibre *f, const struct fibre *end)
{
	const struct field *before = NULL;
	int64_t last = 0, number;
	bool open = false;

	r->one.n = 0;
	for (; f < end; f++) {
		const struct field *at = &f->cell[ENDS];
		bool same = before != NULL && field_same(at[A_CABLE], before[A_CABLE]);
		bool tube = same && field_same(at[A_TUBE], before[A_TUBE]);

		if (f->state != EXPRESS)
			continue;
		if (num_whole(at[A_FIBRE], &number) != 0)
			number = last;
		if (tube && number == last + 1) {
			open = true;
		} else {
			if (open)
				bytes_add_format(&r->one, "-%lld", (long long)last);
			open = false;
			bytes_add_text(&r->one, before == NULL ? "" : same ? ", " : "; ");
			if (!same)
				bytes_add_field(&r->one, at[A_CABLE]);
			bytes_add_text(&r->one, same ? "" : ": ");
			if (!tube && at[A_TUBE].n > 0) {
				bytes_add_field(&r->one, at[A_TUBE]);
				bytes_add_text(&r->one, " tube ");
			}
			bytes_add_field(&r->one, at[A_FIBRE]);
		}
		last = number;
		before = at;
	}
	if (open)
		bytes_add_format(&r->one, "-%lld", (long long)last);
	bytes_add_text(&r->one, before != NULL ? "; and whatever is not on these sheets."
					       : "whatever is not on these sheets.");
	return region_keep(&r->text, bytes_field(&r->one));
}

/* --- lines ------------------------------------------------------------------------------------ */

static struct field
keep_joined(struct run *r, struct field a, const char *between, struct field b, const char *behind)
{
	r->one.n = 0;
	bytes_add_field(&r->one, a);
	if (b.n > 0) {
		bytes_add_text(&r->one, a.n > 0 ? between : "");
		bytes_add_field(&r->one, b);
		bytes_add_text(&r->one, behind);
	}
	return region_keep(&r->text, bytes_field(&r->one));
}

static struct field
say_again(struct run *r, struct field joint)
{
	struct table *t = &r->p.in[REWORK];
	static const int columns[] = { CAUSE, ALSO, ACTION, CAUTION };
	static const char *const before[] = { "", "; also ", ". To do: ", ". Caution: " };
	struct field said = { "", 0 };

	if (table_rows(t) > 0 && table_find(t, &joint))
		for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++)
			said = keep_joined(r, said, before[i], table_field(t, columns[i]), "");
	return said;
}

/* The line of a fibre; `to` is the last one that is joined together with it. */
static void
make_line(struct run *r, const struct fibre *f, const struct fibre *to, const struct field *toward,
    struct tray_line *l)
{
	*l = (struct tray_line){ .slot = f->cell[SLOT], .joint = f->cell[JOINT], .live = f->links };
	l->left_alone = f->state != JOIN;
	l->say = f->state == PARKED ? field_of("PARKED: into the tray, no joint")
		 : f->state == DEAD ? field_of("DEAD: leave it")
				    : say_again(r, f->cell[JOINT]);
	if (f != to)
		l->last = to->cell[JOINT];
	if (f->cell[KIND].n > 0 && !field_is(f->cell[KIND], "fusion"))
		l->kind = f->cell[KIND];
	for (int side = 0; side < 2; side++) {
		const struct field *at = &f->cell[ENDS + side * SIDE];
		const struct field *end = &to->cell[ENDS + side * SIDE];
		struct field fibre = at[A_FIBRE], tube = at[A_TUBE], colour = at[A_COLOUR];

		if (f != to) {
			fibre = keep_joined(r, fibre, " to ", end[A_FIBRE], "");
			colour = keep_joined(r, colour, " to ", end[A_COLOUR], "");
		}
		l->fibre[side] = keep_joined(r, at[A_CABLE], " no. ", fibre, "");
		if (toward[side].n == 0)
			l->fibre[side] =
			    keep_joined(r, l->fibre[side], " toward ", at[A_TOWARD], "");
		l->colours[side] = keep_joined(r, tube, " / ", colour, "");
	}
}

static size_t
make_lines(
    struct run *r, const struct field *toward, const struct fibre *f, const struct fibre *end)
{
	size_t n = 0;

	while (f < end) {
		const struct fibre *to = f;

		while (f->state == JOIN && f->cell[RIBBON].n > 0 && to + 1 < end &&
		       to[1].state == JOIN && field_same(to[1].cell[RIBBON], f->cell[RIBBON]) &&
		       field_same(to[1].cell[SLOT], f->cell[SLOT]))
			to++;
		if (f->state != EXPRESS)
			make_line(r, f, to, toward, &r->lines[n++]);
		f = to + 1;
	}
	return n;
}

/* --- pages ------------------------------------------------------------------------------------ */

/* The pages of a tray; first counts how many there are, then writes them. */
static size_t
write_tray(struct run *r, struct tray_page *p, const struct fibre *f, const struct fibre *end,
    bool counted)
{
	size_t n, pages = 0, fits;

	for (int side = 0; side < 2; side++) {
		const struct fibre *i = f;
		size_t at = ENDS + (size_t)side * SIDE + A_TOWARD;

		while (i < end && field_same(i->cell[at], f->cell[at]))
			i++;
		p->toward[side] = (struct field){ "", 0 };
		if (i == end && f->cell[at].n > 0)
			p->toward[side] = keep_joined(r, field_of(" toward"), " ", f->cell[at], "");
	}
	n = make_lines(r, p->toward, f, end);

	for (size_t i = 0; i < n; i += fits, pages++) {
		fits = tray_fits(p, &r->lines[i], n - i);
		if (!counted)
			continue;
		p->tray = f->cell[TRAY];
		p->lines = &r->lines[i];
		p->n = fits;
		p->page++;
		(r->o.text ? tray_text : tray_html)(p, &r->out);
	}
	return pages;
}

static void
write_closure(struct run *r, struct fibre *f, struct fibre *end)
{
	struct tray_page p = { .closure = f->cell[CLOSURE], .place = { "", 0 } };
	struct field revision = field_of(r->o.revision != NULL ? r->o.revision : "");

	ids_free(&r->lit);
	r->lit = (struct ids)IDS_NONE;
	r->hazard = -1;
	for (struct fibre *i = f; i < end; i++)
		find_links(r, i);
	say_light(r, &p);
	p.keep = say_keep(r, f, end);
	p.revision = revision;
	if (table_rows(&r->p.in[SITES]) > 0 && table_find(&r->p.in[SITES], &p.closure))
		p.place = table_field(&r->p.in[SITES], PLACE);
	for (int counted = 0; counted < 2; counted++)
		for (struct fibre *i = f, *next; i < end; i = next) {
			for (next = i + 1; next < end; next++)
				if (!field_same(next->cell[TRAY], i->cell[TRAY]))
					break;
			p.pages += write_tray(r, &p, i, next, counted) * !counted;
		}
}

static void
write_all(struct run *r)
{
	struct writer *out = prog_writer(&r->p, 0);
	struct fibre *end = r->v + r->n;

	r->lines = mem_zeroed(r->n + 1, sizeof *r->lines);
	if (!r->o.text)
		html_begin(&r->out, field_of("Field sheets"), tray_style);
	for (struct fibre *f = r->v, *next; f < end; f = next) {
		for (next = f + 1; next < end && next->closure == f->closure;)
			next++;
		write_closure(r, f, next);
	}
	if (!r->o.text)
		html_end(&r->out);
	writer_bytes(out, r->out.p, r->out.n);
}

int
main(int argc, char **argv)
{
	struct run r = { .closures = IDS_NONE, .lit = IDS_NONE };

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && prog_open(&r.p) == 0 && read_plan(&r) == 0)
		write_all(&r);
	ids_free(&r.closures);
	ids_free(&r.lit);
	free(r.v);
	free(r.met);
	free(r.lines);
	region_free(&r.text);
	bytes_free(&r.one);
	bytes_free(&r.out);
	return prog_close(&r.p, EXIT_DONE);
}
