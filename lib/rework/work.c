#include "rework/work.h"

#include <math.h>
#include <stdlib.h>

#include "base/num.h"

enum {
	URGENCY,
	CLOSURE,
	TRAY,
	SLOT,
	JOINT,
	TUBE_A,
	COLOUR_A,
	TUBE_B,
	COLOUR_B,
	CAUSE,
	ALSO,
	OPEN,
	ACTION,
	CAUTION,
	LOSS,
	MISMATCH,
	EXCESS,
	READ_AGAIN,
	LINKS,
	LIVE
};

const struct col work_cols[] = {
	[URGENCY] = { "urgency", COL_OUT, COL_WHOLE },
	[CLOSURE] = { "closure", COL_OUT, COL_TEXT },
	[TRAY] = { "tray", COL_OUT, COL_TEXT },
	[SLOT] = { "slot", COL_OUT, COL_TEXT },
	[JOINT] = { "joint", COL_OUT, COL_TEXT },
	[TUBE_A] = { "tube_a", COL_OUT, COL_TEXT },
	[COLOUR_A] = { "colour_a", COL_OUT, COL_TEXT },
	[TUBE_B] = { "tube_b", COL_OUT, COL_TEXT },
	[COLOUR_B] = { "colour_b", COL_OUT, COL_TEXT },
	[CAUSE] = { "cause", COL_OUT, COL_TEXT },
	[ALSO] = { "also", COL_OUT, COL_TEXT },
	[OPEN] = { "open", COL_OUT, COL_TEXT },
	[ACTION] = { "action", COL_OUT, COL_TEXT },
	[CAUTION] = { "caution", COL_OUT, COL_TEXT },
	[LOSS] = { "loss_db", COL_OUT, COL_NUM, .places = 3 },
	[MISMATCH] = { "mismatch_db", COL_OUT, COL_NUM, .places = 3 },
	[EXCESS] = { "excess_db", COL_OUT, COL_NUM, .places = 3 },
	[READ_AGAIN] = { "read_again", COL_OUT, COL_TEXT },
	[LINKS] = { "links", COL_OUT, COL_TEXT },
	[LIVE] = { "live", COL_OUT, COL_TEXT },
	{ NULL },
};

enum { L_LINK, L_LIVE };
enum { E_LINK, E_REF };
enum { B_LINK, B_MARGIN, B_VERDICT };
enum { S_SITE, S_SEALED };

const struct col rework_link_cols[] = {
	[L_LINK] = { "link", COL_NEED, COL_TEXT },
	[L_LIVE] = { "live", COL_MAY, COL_TEXT },
	{ NULL },
};
const struct col rework_element_cols[] = {
	[E_LINK] = { "link", COL_NEED, COL_TEXT },
	[E_REF] = { "ref", COL_NEED, COL_TEXT },
	{ NULL },
};
const struct col work_budget_cols[] = {
	[B_LINK] = { "link", COL_NEED, COL_TEXT },
	[B_MARGIN] = { "margin_db", COL_NEED, COL_NUM },
	[B_VERDICT] = { "verdict", COL_NEED, COL_TEXT },
	{ NULL },
};
const struct col rework_site_cols[] = {
	[S_SITE] = { "site", COL_NEED, COL_TEXT },
	[S_SEALED] = { "sealed", COL_MAY, COL_TEXT },
	{ NULL },
};

#define NONE UINT32_MAX

/* a joint of the list */
struct work_item {
	size_t joint, cause, closure; /* cause: SIZE_MAX: it comes with its ribbon */
	enum { NOT_LIVE, NEIGHBOUR_LIVE, IS_LIVE } live;
	bool opens;
	double margin_db; /* the least of the links behind it */
	/* of its closure */
	double closure_margin_db;
	bool closure_live, sealed;
	size_t urgency;
};

/* --- what lies behind ------------------------------------------------------------------------- */

static struct work_link *
link_of(struct work *w, struct field name)
{
	bool fresh;
	size_t id = ids_add(&w->links, &name, 1, &fresh);

	w->link = mem_grow(w->link, &w->link_cap, id + 1, sizeof *w->link);
	if (fresh)
		w->link[id] = (struct work_link){ .margin_db = NAN };
	return &w->link[id];
}

void
work_link(struct work *w, struct table *t)
{
	struct field name, live;

	if (get_text(t, L_LINK, &name) && get_text(t, L_LIVE, &live) && !field_is(live, "no"))
		link_of(w, name)->live = true;
}

void
work_element(struct work *w, struct table *t)
{
	struct field name, ref;
	size_t joint;
	uint32_t link;

	if (!get_text(t, E_LINK, &name) || !get_text(t, E_REF, &ref))
		return;
	joint = ids_find_one(&w->facts->night.joints, ref);
	if (joint == SIZE_MAX)
		return;
	link = (uint32_t)(link_of(w, name) - w->link);
	w->first_on = mem_grow(w->first_on, &w->first_cap, joint + 1, sizeof *w->first_on);
	while (w->first_n <= joint)
		w->first_on[w->first_n++] = NONE;
	if (w->first_on[joint] != NONE && w->on[w->first_on[joint]].link == link)
		return; /* the same element at another wavelength */
	w->on = mem_grow(w->on, &w->on_cap, w->on_n + 1, sizeof *w->on);
	w->on[w->on_n] = (struct work_on){ link, w->first_on[joint] };
	w->first_on[joint] = (uint32_t)w->on_n++;
}

void
work_budget(struct work *w, struct table *t)
{
	struct field name, verdict;
	struct work_link *l;
	double margin_db;

	if (!get_text(t, B_LINK, &name) || !get_text(t, B_VERDICT, &verdict))
		return;
	l = link_of(w, name);
	l->judged = true;
	l->over |= field_is(verdict, "over");
	if (get_num(t, B_MARGIN, &margin_db) && !(margin_db >= l->margin_db))
		l->margin_db = margin_db;
}

void
work_site(struct work *w, struct table *t)
{
	struct field site, sealed;

	if (get_text(t, S_SITE, &site) && get_text(t, S_SEALED, &sealed) && !field_is(sealed, "no"))
		ids_add(&w->sealed, &site, 1, NULL);
}

static uint32_t
first_on(const struct work *w, size_t joint)
{
	return joint < w->first_n ? w->first_on[joint] : NONE;
}

static bool
on_live(const struct work *w, size_t joint)
{
	for (uint32_t i = first_on(w, joint); i != NONE; i = w->on[i].next)
		if (w->link[w->on[i].link].live)
			return true;
	return false;
}

/* --- the list --------------------------------------------------------------------------------- */

static void
add_item(struct work *w, size_t joint, size_t cause, bool opens)
{
	struct work_item x = { .joint = joint, .cause = cause, .opens = opens, .margin_db = NAN };

	for (uint32_t i = first_on(w, joint); i != NONE; i = w->on[i].next)
		x.margin_db = fmin(x.margin_db, w->link[w->on[i].link].margin_db);
	w->items = mem_grow(w->items, &w->cap, w->n + 1, sizeof *w->items);
	w->items[w->n++] = x;
}

/* The place of a joint as a number of `ids`: its closure, or its tray or ribbon there. */
static size_t
place_of(struct ids *ids, const struct joint_facts *j, struct field within)
{
	struct field key[] = { j->closure, within };

	return ids_add(ids, key, 2, NULL);
}

/* Each joint with its first cause; then those that share a ribbon with one that is opened. */
static void
decide(struct work *w)
{
	const struct facts *f = w->facts;
	struct ids ribbons = IDS_NONE;
	bool *listed = mem_zeroed(f->night.joints.n + 1, sizeof *listed);

	for (size_t i = 0; i < f->night.joints.n; i++) {
		const struct joint_facts *j = &f->v[i];

		for (size_t c = 0; c < w->causes->n && !listed[i]; c++) {
			if (!cause_holds(&w->causes->v[c], f, j))
				continue;
			add_item(w, i, c, w->causes->v[c].opens);
			listed[i] = true;
			if (j->ribbon.n > 0 && w->causes->v[c].opens)
				place_of(&ribbons, j, j->ribbon);
		}
	}
	for (size_t i = 0; ribbons.n > 0 && i < f->night.joints.n; i++) {
		struct field key[] = { f->v[i].closure, f->v[i].ribbon };

		if (!listed[i] && key[1].n > 0 && ids_find(&ribbons, key, 2) != SIZE_MAX)
			add_item(w, i, SIZE_MAX, true);
	}
	free(listed);
	ids_free(&ribbons);
}

/* What is known of closures and trays goes to their items. */
static void
gather(struct work *w)
{
	struct ids closures = IDS_NONE, trays = IDS_NONE;
	struct facts *f = w->facts;
	double *margin_db = mem_zeroed(w->n + 1, sizeof *margin_db);
	bool *live = mem_zeroed(w->n + 1, sizeof *live);

	for (size_t i = 0; i < w->n; i++)
		margin_db[i] = NAN;
	for (size_t i = 0; i < f->night.joints.n; i++)
		if (on_live(w, i))
			place_of(&trays, &f->v[i], f->v[i].tray);
	for (size_t i = 0; i < w->n; i++) {
		struct work_item *x = &w->items[i];
		struct joint_facts *j = &f->v[x->joint];
		struct field key[] = { j->closure, j->tray };

		x->closure = place_of(&closures, j, field_of(""));
		x->live = on_live(w, x->joint)                   ? IS_LIVE
			  : ids_find(&trays, key, 2) != SIZE_MAX ? NEIGHBOUR_LIVE
								 : NOT_LIVE;
		x->sealed = ids_find_one(&w->sealed, j->closure) != SIZE_MAX;
		margin_db[x->closure] = fmin(margin_db[x->closure], x->margin_db);
		live[x->closure] |= x->live != NOT_LIVE;
	}
	for (size_t i = 0; i < w->n; i++) {
		w->items[i].closure_margin_db = margin_db[w->items[i].closure];
		w->items[i].closure_live = live[w->items[i].closure];
	}
	free(margin_db);
	free(live);
	ids_free(&closures);
	ids_free(&trays);
}

/* Below 0 if a closure, tray or slot comes before another: whole numbers by number, and first. */
static int
place_order(struct field a, struct field b)
{
	int64_t x, y;
	bool is_x = num_whole(a, &x) == 0, is_y = num_whole(b, &y) == 0;

	if (is_x && is_y)
		return x < y ? -1 : x > y;
	return is_x != is_y ? (is_x ? -1 : 1) : field_order(a, b);
}

/* what qsort compares: an item with the words of its place */
struct sorted {
	struct work_item is;
	struct field tray, slot;
};

static int
by_urgency(const void *a, const void *b)
{
	const struct sorted *x = a, *y = b;
	double mx = isnan(x->is.closure_margin_db) ? INFINITY : x->is.closure_margin_db;
	double my = isnan(y->is.closure_margin_db) ? INFINITY : y->is.closure_margin_db;
	int order;

	if (x->is.closure != y->is.closure) {
		if (mx != my)
			return mx < my ? -1 : 1;
		if (x->is.sealed != y->is.sealed)
			return x->is.sealed ? 1 : -1;
		if (x->is.closure_live != y->is.closure_live)
			return x->is.closure_live ? 1 : -1;
		return x->is.closure < y->is.closure ? -1 : 1;
	}
	order = place_order(x->tray, y->tray);
	if (order == 0)
		order = place_order(x->slot, y->slot);
	return order != 0 ? order : x->is.joint < y->is.joint ? -1 : 1;
}

static void
sort(struct work *w)
{
	struct sorted *v = mem_zeroed(w->n + 1, sizeof *v);

	for (size_t i = 0; i < w->n; i++) {
		const struct joint_facts *j = &w->facts->v[w->items[i].joint];

		v[i] = (struct sorted){ w->items[i], j->tray, j->slot };
	}
	qsort(v, w->n, sizeof *v, by_urgency);
	for (size_t i = 0; i < w->n; i++) {
		w->items[i] = v[i].is;
		w->items[i].urgency = i == 0 ? 1
					     : w->items[i - 1].urgency +
						   (w->items[i].closure != w->items[i - 1].closure);
	}
	free(v);
}

/* --- rows ------------------------------------------------------------------------------------- */

/* The further causes that hold; of a joint that is opened those that open it. */
static struct field
also(struct work *w, const struct work_item *x)
{
	const struct joint_facts *j = &w->facts->v[x->joint];
	struct field last = x->cause != SIZE_MAX ? w->causes->v[x->cause].name : field_of("");

	w->text.n = 0;
	for (size_t c = x->cause == SIZE_MAX ? w->causes->n : x->cause + 1; c < w->causes->n; c++) {
		const struct cause *cause = &w->causes->v[c];

		if ((x->opens && !cause->opens) || field_same(cause->name, last) ||
		    !cause_holds(cause, w->facts, j))
			continue;
		bytes_add_text(&w->text, w->text.n > 0 ? "," : "");
		bytes_add_field(&w->text, cause->name);
		last = cause->name;
	}
	return bytes_field(&w->text);
}

/* The caution, and what the tries have used up: 3 to 5 cm of each fibre, common practice. */
static struct field
caution(struct work *w, const struct work_item *x)
{
	double tries = w->facts->v[x->joint].x[FACT_TRIES];

	w->text.n = 0;
	bytes_add_field(&w->text, x->cause != SIZE_MAX
				      ? w->causes->v[x->cause].caution
				      : field_of("fibres of a ribbon are cut and joined together"));
	if (tries > 1)
		bytes_add_format(&w->text,
		    "; %.0f tries have used about %.0f to %.0f cm of each fibre", tries, 3 * tries,
		    5 * tries);
	if (x->live != NOT_LIVE)
		bytes_add_text(&w->text, x->live == IS_LIVE ? "; LIVE: ask who may take it down"
							    : "; a neighbour on this tray is LIVE");
	return bytes_field(&w->text);
}

/* The links behind a joint, and whether it alone brings back one that is over. */
static struct field
links(struct work *w, const struct work_item *x)
{
	const struct joint_facts *j = &w->facts->v[x->joint];
	double gain_db = j->x[FACT_LOSS] - j->x[FACT_LIMIT];

	w->text.n = 0;
	for (uint32_t i = first_on(w, x->joint); i != NONE; i = w->on[i].next) {
		const struct work_link *l = &w->link[w->on[i].link];

		bytes_add_text(&w->text, w->text.n > 0 ? ", " : "");
		bytes_add_field(&w->text, ids_key(&w->links, w->on[i].link));
		if (l->over)
			bytes_add_text(&w->text, gain_db + l->margin_db >= 0
						     ? " (over; this joint alone brings it back)"
						     : " (over)");
	}
	return bytes_field(&w->text);
}

static void
write_item(struct work *w, const struct work_item *x)
{
	static const char *const live[] = { "no", "neighbour", "yes" };
	const struct joint_facts *j = &w->facts->v[x->joint];
	const struct cause *c = x->cause != SIZE_MAX ? &w->causes->v[x->cause] : NULL;
	static const int numbers[][2] = { { LOSS, FACT_LOSS }, { MISMATCH, FACT_MISMATCH },
		{ EXCESS, FACT_EXCESS } };

	put_whole(w->out, URGENCY, (int64_t)x->urgency);
	put_text(w->out, CLOSURE, j->closure);
	put_text(w->out, TRAY, j->tray);
	put_text(w->out, SLOT, j->slot);
	put_text(w->out, JOINT, ids_key(&w->facts->night.joints, x->joint));
	for (int i = 0; i < 4; i++)
		put_text(w->out, TUBE_A + i, j->fibre[i]);
	put_text(w->out, CAUSE, c != NULL ? c->name : field_of("ribbon"));
	put_text(w->out, ALSO, also(w, x));
	put_text(w->out, OPEN, field_of(x->opens ? "yes" : "no"));
	put_text(w->out, ACTION,
	    c != NULL ? c->action : field_of("comes with its ribbon, of which a joint is opened"));
	put_text(w->out, CAUTION, caution(w, x));
	for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
		if (!isnan(j->x[numbers[i][1]]))
			put_num(w->out, numbers[i][0], j->x[numbers[i][1]]);
	put_text(w->out, READ_AGAIN, j->word[FACT_READ_AGAIN - FACT_NUMBERS]);
	put_text(w->out, LINKS, links(w, x));
	if (w->on_n > 0)
		put_text(w->out, LIVE, field_of(live[x->live]));
	sheet_row(w->out);
}

size_t
rework_write(struct work *w)
{
	size_t opens = 0;

	decide(w);
	gather(w);
	sort(w);
	for (size_t i = 0; i < w->n; i++) {
		opens += w->items[i].opens;
		write_item(w, &w->items[i]);
	}
	return opens;
}

void
rework_free(struct work *w)
{
	ids_free(&w->links);
	ids_free(&w->sealed);
	free(w->link);
	free(w->on);
	free(w->first_on);
	free(w->items);
	bytes_free(&w->text);
}
