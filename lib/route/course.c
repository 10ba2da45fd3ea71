#include "route/course.h"

#include <math.h>
#include <stdlib.h>

#include "base/db.h"
#include "fibre/allowance.h"
#include "route/network.h"

enum { E_LINK, E_SEQ, E_KIND, E_REF, E_SITE, E_SECTION, E_REVERSED };

const int course_element_key[] = { E_LINK, -1 };
const struct col course_element_cols[] = {
	[E_LINK] = { "link", COL_NEED, COL_TEXT },
	[E_SEQ] = { "seq", COL_MAY, COL_WHOLE, 0, 1e9 },
	[E_KIND] = { "kind", COL_NEED, COL_WORD, .words = KIND_WORDS },
	[E_REF] = { "ref", COL_NEED, COL_TEXT },
	[E_SITE] = { "site", COL_NEED, COL_TEXT },
	[E_SECTION] = { "section", COL_MAY, COL_TEXT },
	[E_REVERSED] = { "reversed", COL_NEED, COL_WORD, .words = "yes no" },
	{ NULL },
};

enum { R_LINK, R_FROM, R_WAVELENGTH, R_TESTED_AT, R_INDEX, R_SAMPLE, R_KM, R_KIND };
enum { START, END }; /* kinds */

const int course_reading_key[] = { R_LINK, -1 };
const struct col course_reading_cols[] = {
	[R_LINK] = { "link", COL_NEED, COL_TEXT },
	[R_FROM] = { "from", COL_NEED, COL_TEXT },
	[R_WAVELENGTH] = { "wavelength_nm", COL_MAY, COL_TEXT },
	[R_TESTED_AT] = { "tested_at", COL_MAY, COL_TEXT },
	[R_INDEX] = { "index", COL_MAY, COL_NUM, 1.4, 1.6 },
	[R_SAMPLE] = { "sample_m", COL_MAY, COL_NUM, 0, 1000 },
	[R_KM] = { "km", COL_NEED, COL_NUM, 0, 1000 },
	[R_KIND] = { "kind", COL_NEED, COL_WORD, .words = "start end step reflective merged" },
	{ NULL },
};

const int course_span_key[] = { SPAN_CABLE, SPAN_SECTION, -1 };

/* --- elements and spans -------------------------------------------------------------------------- */

static double
metres(struct table *t, int col, double each)
{
	int64_t x;

	return get_db(t, col, &x) ? (double)x / 1e6 * each : NAN;
}

/* What the spans say of the present element, a fibre. 0, or -1 with the elements' err set. */
static int
read_section(struct courses *all, struct course *c, size_t at)
{
	struct table *spans = all->spans;
	struct course_section *s = &c->v[at];
	struct chain_section *l = &c->lengths[at];
	struct field key[2] = { { "", 0 }, { "", 0 } };
	int reversed = 1;

	get_text(all->elements, E_REF, &key[0]);
	while (key[0].n > 0 && key[0].p[--key[0].n] != ':')
		;
	get_text(all->elements, E_SECTION, &key[1]);
	get_word(all->elements, E_REVERSED, &reversed);
	if (key[0].n == 0 || table_rows(spans) == 0 || !table_find(spans, key))
		return table_fail(all->elements, E_REF, "not a fibre of a section that spans have");
	*s = (struct course_section){ .cable = key[0],
		.section = key[1],
		.mark_m = { metres(spans, SPAN_MARK_A, 1), metres(spans, SPAN_MARK_B, 1) },
		.slack_m = { NAN, NAN },
		.reversed = reversed == 0 };
	*l = (struct chain_section){ .fibre_m = metres(spans, SPAN_FIBRE_KM, 1000),
		.sheath_m = fabs(s->mark_m[1] - s->mark_m[0]),
		.index = NAN,
		.cable = (uint32_t)ids_add(&all->cables, &key[0], 1, NULL) };
	for (int end = 0; end < 2; end++) {
		get_text(spans, SPAN_SITE_A + end, &s->site[end]);
		get_num(spans, SPAN_SLACK_A + end, &s->slack_m[end]);
	}
	if (isnan(l->sheath_m))
		l->sheath_m = metres(spans, SPAN_SHEATH_KM, 1000);
	get_num(spans, SPAN_INDEX, &l->index);
	l->inside = field_same(s->site[0], s->site[1]);
	return 0;
}

/* The present element, the last one so far. 0, or -1 with the elements' err set. */
static int
read_element(struct courses *all, struct course *c, bool first)
{
	struct table *t = all->elements;
	int end = first ? 0 : 1, kind = KIND_UNKNOWN;

	get_word(t, E_KIND, &kind);
	c->site[end] = c->port[end] = field_of("");
	if (kind == KIND_CONNECTOR) {
		get_text(t, E_SITE, &c->site[end]);
		get_text(t, E_REF, &c->port[end]);
	}
	if (kind != KIND_FIBRE)
		return 0;
	if (c->n == CHAIN_MOST)
		return table_fail(t, E_REF, "more sections in a link than can be placed");
	c->v = mem_grow(c->v, &c->cap, c->n + 1, sizeof *c->v);
	c->lengths = mem_grow(c->lengths, &c->lengths_cap, c->n + 1, sizeof *c->lengths);
	return read_section(all, c, c->n++);
}

/* The link's sections in the order of its elements; an element has a row a wavelength. */
static void
read_elements(struct courses *all, struct course *c, struct field link)
{
	struct table *t = all->elements;
	int64_t last = -1, seq;
	bool first = true;

	if (table_rows(t) == 0 || !table_find(t, &link))
		return;
	do {
		seq = last + 1;
		get_whole(t, E_SEQ, &seq);
		if (seq < last)
			table_fail(t, E_SEQ, "less than that of the row before: not in order");
		else if (seq > last && read_element(all, c, first) != 0)
			return;
		first = false;
		last = seq;
	} while (!err_is_set(t->err) && table_find_next(t));
}

/* --- readings ------------------------------------------------------------------------------------ */

int
course_side(const struct course *c, struct field from)
{
	bool is[2];

	if (from.n == 0)
		return 0;
	for (int end = 0; end < 2; end++) {
		if (field_same(from, c->port[end]))
			return end;
		is[end] = field_same(from, c->site[end]);
	}
	return is[0] && is[1] ? COURSE_BOTH_ENDS : is[0] ? 0 : is[1] ? 1 : COURSE_NO_END;
}

/* a row of the readings */
struct got {
	size_t trace;
	double m, index, sample_m;
	int kind;
	unsigned side;
};

static int
by_trace(const void *pa, const void *pb)
{
	const struct got *a = pa, *b = pb;

	if (a->trace != b->trace)
		return a->trace < b->trace ? -1 : 1;
	if (a->m != b->m)
		return a->m < b->m ? -1 : 1;
	return a->kind - b->kind;
}

/* The present row of the readings; traces: numbers of (from, wavelength_nm, tested_at). False: trouble. */
static bool
get_reading(struct courses *all, struct course *c, struct ids *traces, struct got *g)
{
	struct table *t = all->readings;
	struct field key[3] = { { "", 0 }, { "", 0 }, { "", 0 } };
	int side;

	*g = (struct got){ .m = NAN, .index = NAN, .sample_m = NAN, .kind = -1 };
	for (int i = 0; i < 3; i++)
		get_text(t, R_FROM + i, &key[i]);
	side = key[0].n > 0 ? course_side(c, key[0]) : COURSE_NO_END;
	if (side < 0) {
		table_fail(t, R_FROM,
		    side == COURSE_NO_END ? "not an end of the link"
					  : "both ends are there: name the port, SITE:PORT");
		return false;
	}
	g->side = (unsigned)side;
	g->trace = ids_add(traces, key, 3, NULL);
	get_num(t, R_INDEX, &g->index);
	get_num(t, R_SAMPLE, &g->sample_m);
	get_word(t, R_KIND, &g->kind);
	if (get_num(t, R_KM, &g->m))
		g->m *= 1000;
	if (g->kind == START && !isnan(g->m)) {
		c->starts_differ[side] |=
		    !isnan(c->start_m[side]) && fabs(c->start_m[side] - g->m) > 2;
		c->start_m[side] = g->m;
	}
	return true;
}

/* One trace, the rows of v. */
static void
use_trace(struct course *c, const struct got *v, size_t n)
{
	struct chain_point *points = mem_zeroed(n, sizeof *points);
	struct chain_reading r = { .v = points, .index = NAN, .sample_m = NAN };
	double start_m = 0;

	for (size_t i = 0; i < n; i++) {
		start_m = v[i].kind == START ? v[i].m : start_m;
		r.index = isnan(r.index) ? v[i].index : r.index;
		r.sample_m = isnan(r.sample_m) ? v[i].sample_m : r.sample_m;
	}
	for (size_t i = 0; i < n; i++)
		if (v[i].kind != START && v[i].m > start_m)
			points[r.n++] = (struct chain_point){ v[i].m - start_m, v[i].kind == END };
	if (isnan(r.sample_m))
		r.sample_m = 1;
	chain_read(&c->chain, v[0].side, &r);
	free(points);
}

static void
read_readings(struct courses *all, struct course *c, struct field link)
{
	struct table *t = all->readings;
	struct ids traces = IDS_NONE;
	struct got *v = NULL;
	size_t n = 0, cap = 0;

	if (table_rows(t) == 0 || !table_find(t, &link))
		return;
	do {
		v = mem_grow(v, &cap, n + 1, sizeof *v);
		if (!get_reading(all, c, &traces, &v[n]))
			break;
		n += !isnan(v[n].m);
	} while (table_find_next(t));
	if (n > 0)
		qsort(v, n, sizeof *v, by_trace);
	for (size_t i = 0, end; i < n; i = end) {
		for (end = i; end < n && v[end].trace == v[i].trace; end++)
			;
		use_trace(c, v + i, end - i);
	}
	ids_free(&traces);
	free(v);
}

const struct course *
courses_find(struct courses *all, struct field link)
{
	bool fresh;
	size_t id = ids_add(&all->names, &link, 1, &fresh);
	struct course *c;

	if (fresh) {
		all->v = mem_grow(all->v, &all->cap, id + 1, sizeof *all->v);
		c = &all->v[id];
		*c = (struct course){ .start_m = { NAN, NAN } };
		read_elements(all, c, link);
		if (c->n > 0 && !err_is_set(all->elements->err)) {
			chain_begin(&c->chain, c->lengths, c->n, &all->sd);
			read_readings(all, c, link);
			chain_settle(&c->chain);
		}
	}
	c = &all->v[id];
	return c->chain.n > 0 && !err_is_set(all->elements->err) ? c : NULL;
}

void
courses_free(struct courses *all)
{
	for (size_t i = 0; i < all->names.n; i++) {
		chain_free(&all->v[i].chain);
		free(all->v[i].lengths);
		free(all->v[i].v);
	}
	free(all->v);
	ids_free(&all->names);
	ids_free(&all->cables);
}
