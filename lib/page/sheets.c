#include "page/sheets.h"

#include <stdlib.h>

#include "base/num.h"
#include "page/html.h"
#include "page/tray.h"

enum { A_CABLE, A_FIBRE, A_TOWARD, A_TUBE, A_COLOUR, SIDE };
enum { JOINT, CLOSURE, TRAY, SLOT, STATE, KIND, RIBBON, ENDS, COLUMNS = ENDS + 2 * SIDE };
enum { JOIN, EXPRESS, PARKED, DEAD };

const struct col sheets_plan_cols[] = {
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
const struct col sheets_link_cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[LIVE] = { "live", COL_MAY, COL_WORD, .words = "yes no" },
	[HAZARD] = { "hazard", COL_MAY, COL_WORD, .words = "1 1M 2 2M 3R 3B 4" },
	{ NULL },
};
static const char *const levels[] = { "1", "1M", "2", "2M", "3R", "3B", "4" };
const int sheets_link_key[] = { LINK, -1 };

enum { ELEMENT_LINK, REF };
const struct col sheets_element_cols[] = {
	[ELEMENT_LINK] = { "link", COL_NEED, COL_TEXT },
	[REF] = { "ref", COL_NEED, COL_TEXT },
	{ NULL },
};
const int sheets_element_key[] = { REF, -1 };

enum { SITE, PLACE };
const struct col sheets_site_cols[] = {
	[SITE] = { "site", COL_NEED, COL_TEXT },
	[PLACE] = { "place", COL_MAY, COL_TEXT },
	{ NULL },
};
const int sheets_site_key[] = { SITE, -1 };

enum { AGAIN, CAUSE, LOSS, ALSO, ACTION, CAUTION, LINKS, AGAIN_LIVE, OPEN };
const struct col sheets_rework_cols[] = {
	[AGAIN] = { "joint", COL_NEED, COL_TEXT },
	[CAUSE] = { "cause", COL_NEED, COL_TEXT },
	[LOSS] = { "loss_db", COL_MAY, COL_TEXT },
	[ALSO] = { "also", COL_MAY, COL_TEXT },
	[ACTION] = { "action", COL_NEED, COL_TEXT },
	[CAUTION] = { "caution", COL_MAY, COL_TEXT },
	[LINKS] = { "links", COL_MAY, COL_TEXT },
	[AGAIN_LIVE] = { "live", COL_MAY, COL_TEXT },
	[OPEN] = { "open", COL_MAY, COL_TEXT },
	{ NULL },
};
const int sheets_rework_key[] = { AGAIN, -1 };

struct sheets_fibre {
	struct field cell[COLUMNS];
	int state;
	size_t closure, place; /* in order of appearance */
	struct field links;    /* those that are live, or not said to be dark */
};

/* --- the plan --------------------------------------------------------------------------------- */

void
sheets_add(struct sheets *w)
{
	struct table *t = &w->in[SHEETS_PLAN];
	struct field joint = table_field(t, JOINT), closure = table_field(t, CLOSURE);
	bool again = w->has[SHEETS_REWORK];
	struct sheets_fibre *f;
	int64_t number;

	if (w->closure != NULL && !field_is(closure, w->closure))
		return;
	w->v = mem_grow(w->v, &w->cap, w->n + 1, sizeof *w->v);
	f = &w->v[w->n];
	*f = (struct sheets_fibre){ .state = JOIN, .place = w->n };
	get_word(t, STATE, &f->state);
	get_whole(t, ENDS + A_FIBRE, &number);
	get_whole(t, ENDS + SIDE + A_FIBRE, &number);
	if (f->state == JOIN && joint.n == 0) {
		table_fail(t, JOINT, "a joint without a name cannot be written down");
		return;
	}
	if (again && f->state == JOIN) {
		if (table_rows(&w->in[SHEETS_REWORK]) == 0 ||
		    !table_find(&w->in[SHEETS_REWORK], &joint))
			return;
		if (w->met == NULL)
			w->met = mem_zeroed(table_rows(&w->in[SHEETS_REWORK]), sizeof *w->met);
		w->met[table_place(&w->in[SHEETS_REWORK])] = true;
		if (field_is(table_field(&w->in[SHEETS_REWORK], OPEN), "no"))
			return; /* the closure stays shut for it */
	}
	f->closure = ids_add(&w->closures, &closure, 1, NULL);
	for (int c = 0; c < COLUMNS; c++)
		f->cell[c] = region_keep(&w->text, table_field(t, c));
	w->n++;
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
	const struct sheets_fibre *a = x, *b = y;
	int by = (a->closure > b->closure) - (a->closure < b->closure);

	if (by == 0)
		by = by_number(a->cell[TRAY], b->cell[TRAY]);
	if (by == 0)
		by = by_number(a->cell[SLOT], b->cell[SLOT]);
	return by != 0 ? by : (a->place > b->place) - (a->place < b->place);
}

int
sheets_sort(struct sheets *w)
{
	struct table *again = &w->in[SHEETS_REWORK];

	for (size_t i = 0; i < table_rows(again) && w->closure == NULL; i++) {
		table_at(again, i);
		if (w->met == NULL || !w->met[i])
			return table_fail(again, AGAIN, "the plan has no such joint");
	}
	if (w->closure != NULL && w->n == 0)
		return err_set(w->in[SHEETS_PLAN].err,
		    "--closure: the plan has no work there: '%s'", w->closure);
	if (w->n > 0)
		qsort(w->v, w->n, sizeof *w->v, in_order);
	return 0;
}

/* --- light ------------------------------------------------------------------------------------ */

/* A link in this closure: what the links table says of it. false: it is dark. */
static bool
lit(struct sheets *w, struct field link)
{
	struct table *t = &w->in[SHEETS_LINKS];
	bool yes = false, no = false;
	int word;

	if (table_rows(t) == 0 || !table_find(t, &link))
		return true;
	do {
		if (get_word(t, HAZARD, &word) && word > w->hazard)
			w->hazard = word;
		if (get_word(t, LIVE, &word))
			*(word == 0 ? &yes : &no) = true;
	} while (table_find_next(t));
	return yes || !no;
}

/* Adds the link to w->one, once, and to those of the closure. */
static void
add_link(struct sheets *w, struct field link)
{
	if (link.n == 0 || field_among(bytes_field(&w->one), ',', link) != SIZE_MAX)
		return;
	bytes_add_text(&w->one, w->one.n > 0 ? "," : "");
	bytes_add_field(&w->one, link);
	ids_add(&w->lit, &link, 1, NULL);
}

static void
find_links(struct sheets *w, struct sheets_fibre *f)
{
	struct table *t = &w->in[SHEETS_ELEMENTS], *again = &w->in[SHEETS_REWORK];
	struct bytes name = { NULL, 0, 0 };
	struct field live, links;

	w->one.n = 0;
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
				if (lit(w, table_field(t, ELEMENT_LINK)))
					add_link(w, table_field(t, ELEMENT_LINK));
			while (table_find_next(t));
	}
	if (table_rows(again) > 0 && table_find(again, &f->cell[JOINT]) &&
	    get_text(again, AGAIN_LIVE, &live) && !field_is(live, "no")) {
		bool beside = field_is(live, "neighbour");

		/* "L06 (over; this joint alone brings it back)" is L06 */
		links = table_field(again, LINKS);
		while (!beside && links.n > 0) {
			struct field link = field_cut(&links, ',');

			add_link(w, field_cut(&link, ' '));
		}
		name.n = 0;
		bytes_add_text(&name, "beside ");
		bytes_add_field(&name, f->cell[JOINT]);
		live = bytes_field(&name);
		if (beside)
			ids_add(&w->lit, &live, 1, NULL);
		else if (w->one.n == 0)
			add_link(w, field_of("by the rework list"));
	}
	f->links = region_keep(&w->text, bytes_field(&w->one));
	bytes_free(&name);
}

static void
say_light(struct sheets *w, struct tray_page *p)
{
	w->one.n = 0;
	p->live = true;
	if (w->lit.n > 0) {
		bytes_add_text(&w->one, "LIVE, or not said to be dark:");
		for (size_t i = 0; i < w->lit.n; i++) {
			bytes_add_text(&w->one, i > 0 ? ", " : " ");
			bytes_add_field(&w->one, ids_key(&w->lit, i));
		}
		bytes_add_text(&w->one, ". Ask before you cut.");
	} else if (!w->has[SHEETS_LINKS] || !w->has[SHEETS_ELEMENTS]) {
		bytes_add_text(&w->one, "LIVE? Nobody has said. Treat every fibre as live.");
	} else {
		p->live = false;
		bytes_add_text(&w->one,
		    "By the links table no link here is live. Treat every fibre as "
		    "live all the same, until its far end is off and locked.");
	}
	p->light = region_keep(&w->text, bytes_field(&w->one));
	p->hazard = field_of(w->hazard >= 0 ? levels[w->hazard] : "");
}

/* --- what is left alone ------------------------------------------------------------------------ */

/* "tide-1: blue tube 1-12, orange tube 13; kelp-1: ..." of the express fibres in [f, end) */
static struct field
say_keep(struct sheets *w, const struct sheets_fibre *f, const struct sheets_fibre *end)
{
	const struct field *before = NULL;
	int64_t last = 0, number;
	bool open = false;

	w->one.n = 0;
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
				bytes_add_format(&w->one, "-%lld", (long long)last);
			open = false;
			bytes_add_text(&w->one, before == NULL ? "" : same ? ", " : "; ");
			if (!same)
				bytes_add_field(&w->one, at[A_CABLE]);
			bytes_add_text(&w->one, same ? "" : ": ");
			if (!tube && at[A_TUBE].n > 0) {
				bytes_add_field(&w->one, at[A_TUBE]);
				bytes_add_text(&w->one, " tube ");
			}
			bytes_add_field(&w->one, at[A_FIBRE]);
		}
		last = number;
		before = at;
	}
	if (open)
		bytes_add_format(&w->one, "-%lld", (long long)last);
	bytes_add_text(&w->one, before != NULL ? "; and whatever is not on these sheets."
					       : "whatever is not on these sheets.");
	return region_keep(&w->text, bytes_field(&w->one));
}

/* --- lines ------------------------------------------------------------------------------------ */

static struct field
keep_joined(
    struct sheets *w, struct field a, const char *between, struct field b, const char *behind)
{
	w->one.n = 0;
	bytes_add_field(&w->one, a);
	if (b.n > 0) {
		bytes_add_text(&w->one, a.n > 0 ? between : "");
		bytes_add_field(&w->one, b);
		bytes_add_text(&w->one, behind);
	}
	return region_keep(&w->text, bytes_field(&w->one));
}

static struct field
say_again(struct sheets *w, struct field joint)
{
	struct table *t = &w->in[SHEETS_REWORK];
	static const int columns[] = { CAUSE, LOSS, ALSO, ACTION, CAUTION };
	static const char *const before[] = { "", ", loss ", "; also ",
		". To do: ", ". Caution: " };
	static const char *const behind[] = { "", " dB", "", "", "" };
	struct field said = { "", 0 };

	if (table_rows(t) > 0 && table_find(t, &joint))
		for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++)
			said =
			    keep_joined(w, said, before[i], table_field(t, columns[i]), behind[i]);
	return said;
}

/* The line of a fibre; `to` is the last one that is joined together with it. */
static void
make_line(struct sheets *w, const struct sheets_fibre *f, const struct sheets_fibre *to,
    const struct field *toward, struct tray_line *l)
{
	*l = (struct tray_line){ .slot = f->cell[SLOT], .joint = f->cell[JOINT], .live = f->links };
	l->left_alone = f->state != JOIN;
	l->say = f->state == PARKED ? field_of("PARKED: into the tray, no joint")
		 : f->state == DEAD ? field_of("DEAD: leave it")
				    : say_again(w, f->cell[JOINT]);
	if (f != to)
		l->last = to->cell[JOINT];
	if (f->cell[KIND].n > 0 && !field_is(f->cell[KIND], "fusion"))
		l->kind = f->cell[KIND];
	for (int side = 0; side < 2; side++) {
		const struct field *at = &f->cell[ENDS + side * SIDE];
		const struct field *end = &to->cell[ENDS + side * SIDE];
		struct field fibre = at[A_FIBRE], tube = at[A_TUBE], colour = at[A_COLOUR];

		if (f != to) {
			fibre = keep_joined(w, fibre, " to ", end[A_FIBRE], "");
			colour = keep_joined(w, colour, " to ", end[A_COLOUR], "");
		}
		l->fibre[side] = keep_joined(w, at[A_CABLE], " no. ", fibre, "");
		if (toward[side].n == 0)
			l->fibre[side] =
			    keep_joined(w, l->fibre[side], " toward ", at[A_TOWARD], "");
		l->colours[side] = keep_joined(w, tube, " / ", colour, "");
	}
}

static size_t
make_lines(struct sheets *w, const struct field *toward, const struct sheets_fibre *f,
    const struct sheets_fibre *end)
{
	size_t n = 0;

	while (f < end) {
		const struct sheets_fibre *to = f;

		while (f->state == JOIN && f->cell[RIBBON].n > 0 && to + 1 < end &&
		       to[1].state == JOIN && field_same(to[1].cell[RIBBON], f->cell[RIBBON]) &&
		       field_same(to[1].cell[SLOT], f->cell[SLOT]))
			to++;
		if (f->state != EXPRESS)
			make_line(w, f, to, toward, &w->lines[n++]);
		f = to + 1;
	}
	return n;
}

/* --- pages ------------------------------------------------------------------------------------ */

static bool
all_left_alone(const struct tray_line *lines, size_t n)
{
	for (size_t i = 0; i < n; i++)
		if (!lines[i].left_alone)
			return false;
	return true;
}

/* The pages of a tray; first counts how many there are, then writes them. */
static size_t
write_tray(struct sheets *w, struct tray_page *p, const struct sheets_fibre *f,
    const struct sheets_fibre *end, bool counted)
{
	size_t n, pages = 0, fits;

	for (int side = 0; side < 2; side++) {
		const struct sheets_fibre *i = f;
		size_t at = ENDS + (size_t)side * SIDE + A_TOWARD;

		while (i < end && field_same(i->cell[at], f->cell[at]))
			i++;
		p->toward[side] = (struct field){ "", 0 };
		if (i == end && f->cell[at].n > 0)
			p->toward[side] = keep_joined(w, field_of(" toward"), " ", f->cell[at], "");
	}
	n = make_lines(w, p->toward, f, end);
	if (w->has[SHEETS_REWORK] && all_left_alone(w->lines, n))
		return 0;
	for (size_t i = 0; i < n; i += fits, pages++) {
		fits = tray_fits(p, &w->lines[i], n - i);
		if (!counted)
			continue;
		p->tray = f->cell[TRAY];
		p->lines = &w->lines[i];
		p->n = fits;
		p->page++;
		(w->text_only ? tray_text : tray_html)(p, &w->out);
	}
	return pages;
}

static void
write_closure(struct sheets *w, struct sheets_fibre *f, struct sheets_fibre *end)
{
	struct tray_page p = { .closure = f->cell[CLOSURE], .place = { "", 0 } };
	struct field revision = field_of(w->revision != NULL ? w->revision : "");

	ids_free(&w->lit);
	w->lit = (struct ids)IDS_NONE;
	w->hazard = -1;
	for (struct sheets_fibre *i = f; i < end; i++)
		find_links(w, i);
	say_light(w, &p);
	p.keep = say_keep(w, f, end);
	p.revision = revision;
	if (table_rows(&w->in[SHEETS_SITES]) > 0 && table_find(&w->in[SHEETS_SITES], &p.closure))
		p.place = table_field(&w->in[SHEETS_SITES], PLACE);
	for (int counted = 0; counted < 2; counted++)
		for (struct sheets_fibre *i = f, *next; i < end; i = next) {
			for (next = i + 1; next < end; next++)
				if (!field_same(next->cell[TRAY], i->cell[TRAY]))
					break;
			p.pages += write_tray(w, &p, i, next, counted) * !counted;
		}
}

void
sheets_write(struct sheets *w)
{
	struct sheets_fibre *end = w->v + w->n;

	w->lines = mem_zeroed(w->n + 1, sizeof *w->lines);
	if (!w->text_only)
		html_begin(&w->out, field_of("Field sheets"), tray_style);
	for (struct sheets_fibre *f = w->v, *next; f < end; f = next) {
		for (next = f + 1; next < end && next->closure == f->closure;)
			next++;
		write_closure(w, f, next);
	}
	if (!w->text_only)
		html_end(&w->out);
}

void
sheets_free(struct sheets *w)
{
	ids_free(&w->closures);
	ids_free(&w->lit);
	free(w->v);
	free(w->met);
	free(w->lines);
	region_free(&w->text);
	bytes_free(&w->one);
	bytes_free(&w->out);
}
