#include "readings/group.h"

#include <math.h>
#include <stdlib.h>

#include "readings/fit.h"

/* --- members ---------------------------------------------------------------------------------- */

static int
by_place(const void *a, const void *b)
{
	const struct member *x = a, *y = b;

	return x->at_m < y->at_m ? -1 : x->at_m > y->at_m;
}

static void
add(struct groups *g, double at_m, const struct line_point *point, const struct spot *spot)
{
	g->v = mem_grow(g->v, &g->cap, g->n + 1, sizeof *g->v);
	g->v[g->n++] = (struct member){ at_m, point, spot, 0 };
}

/* The element next to i of n, behind it or before it, that is further away than a dead zone; or n. */
static size_t
next_apart(const struct member *v, size_t i, size_t n, bool behind, double dead_m)
{
	size_t last = i;

	for (;;) {
		size_t next = behind ? last + 1 : last - 1;

		if (behind ? last + 1 >= n : last == 0)
			return n;
		if (fabs(v[next].at_m - v[last].at_m) >= dead_m)
			return next;
		last = next;
	}
}

/* Whether a place is near enough to that of element i of n to be it. */
static bool
is_near(const struct member *v, size_t i, size_t n, double at_m, double dead_m, double most_m)
{
	bool behind = at_m > v[i].at_m;
	size_t next = next_apart(v, i, n, behind, dead_m);

	if (fabs(at_m - v[i].at_m) > most_m)
		return false;
	if (next == n) /* the outermost: as far as on its other side */
		next = next_apart(v, i, n, !behind, dead_m);
	return next == n || at_m == v[i].at_m ||
	       fabs(at_m - v[i].at_m) <= 0.45 * fabs(v[next].at_m - v[i].at_m);
}

/* The element, of n in order from `from` on, that a point could be; or n. */
static size_t
nearest(const struct member *v, size_t from, size_t n, double at_m, double dead_m, double most_m)
{
	while (from + 1 < n && fabs(v[from + 1].at_m - at_m) <= fabs(v[from].at_m - at_m))
		from++;
	return from < n && is_near(v, from, n, at_m, dead_m, most_m) ? from : n;
}

/* Elements that lie together move together: those without a point as far as the one with a point. */
static void
move_along(struct member *v, size_t n, double dead_m)
{
	for (size_t i = 0, end; i < n; i = end) {
		double by_m = NAN;

		for (end = i + 1; end < n && v[end].at_m - v[end - 1].at_m < dead_m;)
			end++;
		for (size_t k = i; k < end && isnan(by_m); k++)
			if (v[k].point != NULL)
				by_m = v[k].point->at_m - v[k].at_m;
		for (size_t k = i; k < end && !isnan(by_m); k++)
			if (v[k].point == NULL)
				v[k].at_m += by_m;
	}
}

/* Whether what lies between two points is as long as between two elements: 5 % or 20 m; common practice. */
static bool
is_alike(double apart_m, double drawn_m)
{
	return fabs(apart_m - drawn_m) <= fmax(20, 0.05 * drawn_m);
}

static bool
is_read(const struct line_point *p)
{
	return p->from[0] != NULL || p->from[1] != NULL;
}

/*
 * Where each element between the panels has been read, and each section is as long as it is drawn, the
 * order says which point is which, also where the lengths of several sections add up to more than lies
 * between two elements. Elements are told apart if no dead zone holds two of them.
 */
static bool
assign_in_order(struct groups *g, const struct line *l, double dead_m)
{
	double point_m = 0, spot_m = 0, inner_m = l->length_m - dead_m;
	size_t at = 0;

	for (int turn = 0; turn < 2; turn++) { /* looks, then does */
		at = 0;
		for (size_t i = 0; i < l->n; i++) {
			const struct line_point *p = &l->v[i];

			if (p->panel >= 0 || !is_read(p) || p->at_m <= dead_m || p->at_m >= inner_m)
				continue;
			while (at < g->n && g->v[at].at_m <= dead_m)
				at++;
			if (at == g->n || g->v[at].at_m >= inner_m)
				return false;
			if (turn == 1)
				g->v[at].point = p;
			else if (!is_alike(p->at_m - point_m, g->v[at].at_m - spot_m) ||
				 g->v[at].at_m - spot_m < dead_m)
				return false;
			point_m = p->at_m;
			spot_m = g->v[at++].at_m;
		}
		if (at == 0 || (at < g->n && g->v[at].at_m < inner_m) ||
		    (turn == 0 && !is_alike(l->length_m - point_m, l->length_m - spot_m)))
			return false;
	}
	return true;
}

/* Points that are elements go to these, the others become members of their own. */
static void
assign(struct groups *g, const struct line *l, double dead_m)
{
	size_t n = g->n, from = 0;
	double most_m = fit_astray_m(fmax(l->length_m, n > 0 ? g->v[n - 1].at_m : 0));
	bool in_order = assign_in_order(g, l, dead_m);

	for (size_t i = 0; i < l->n; i++) {
		const struct line_point *p = &l->v[i], *was;
		size_t at = nearest(g->v, from, n, p->at_m, dead_m, most_m);

		if (!is_read(p))
			continue; /* a panel of which no reading tells */
		if (in_order && p->panel < 0 && p->at_m > dead_m && p->at_m < l->length_m - dead_m)
			continue;
		if (at == n) {
			add(g, p->at_m, p, NULL);
			continue;
		}
		from = at;
		was = g->v[at].point;
		if (was != NULL &&
		    fabs(was->at_m - g->v[at].at_m) <= fabs(p->at_m - g->v[at].at_m)) {
			add(g, p->at_m, p, NULL);
			continue;
		}
		if (was != NULL)
			add(g, was->at_m, was, NULL);
		g->v[at].point = p;
	}
	move_along(g->v, n, dead_m);
}

/* --- groups ----------------------------------------------------------------------------------- */

/* What was read there from an end; not a panel behind a cord that is too short. */
static const struct reading *
read_from(const struct member *m, const struct line *l, int end)
{
	const struct reading *x = m->point != NULL ? m->point->from[end] : NULL;

	if (x == NULL || x->loss_udb == DB_NONE)
		return NULL;
	return m->point->panel >= 0 && line_cord(l, m->point->panel, x) == 0 ? NULL : x;
}

/* Read by itself from every end that was read. */
static bool
is_complete(const struct member *m, const struct line *l)
{
	for (int end = 0; end < 2; end++)
		if (l->view[end].read && read_from(m, l, end) == NULL)
			return false;
	return true;
}

static bool
one_group(const struct member *a, const struct member *b, const struct line *l)
{
	double apart_m = fabs(b->at_m - a->at_m);

	if (is_complete(a, l) && is_complete(b, l))
		return false;
	for (int end = 0; end < 2; end++) {
		const struct view *w = &l->view[end];
		const struct reading *x = read_from(a, l, end), *y = read_from(b, l, end);

		if (!w->read || w->n == 0)
			continue;
		x = x != NULL ? x : y != NULL ? y : &w->v[0];
		if (apart_m < (double)x->dead_m || (y != NULL && apart_m < (double)y->dead_m))
			return true;
	}
	return false;
}

void
groups_make(struct groups *g, const struct line *l, const struct spot *spots, size_t nspots,
    double length_km)
{
	double drawn = l->length_m / (length_km * 1000), dead_m = 0;
	size_t first = 0;

	g->n = 0;
	if (!(fabs(drawn - 1) < 0.1))
		drawn = 1;
	for (size_t i = 0; i < nspots; i++)
		if (!isnan(spots[i].km))
			add(g, spots[i].km * 1000 * drawn, NULL, &spots[i]);
	for (int end = 0; end < 2; end++)
		if (l->view[end].read && l->view[end].n > 0)
			dead_m = fmax(dead_m, (double)l->view[end].v[0].dead_m);
	assign(g, l, dead_m);
	for (size_t i = 0; i < g->n; i++)
		if (g->v[i].point != NULL && !isnan(g->v[i].point->at_m))
			g->v[i].at_m = g->v[i].point->at_m;
	if (g->n > 0)
		qsort(g->v, g->n, sizeof *g->v, by_place);
	for (size_t i = 1; i <= g->n; i++) {
		if (i < g->n && l->fault == LINE_SOUND && one_group(&g->v[i - 1], &g->v[i], l))
			continue;
		for (; first < i; first++)
			g->v[first].end = i;
	}
}

enum group_read
group_sum(const struct groups *g, const struct line *l, size_t i, int end, double noise_db,
    double linearity, struct known *sum)
{
	size_t after = g->v[i].end, covered = 0, read = 0;

	*sum = (struct known){ 0, 0 };
	for (size_t k = i; k < after; k++) {
		const struct reading *x = read_from(&g->v[k], l, end);
		bool is_covered = false;

		if (x != NULL) {
			read++;
			loss_add(sum, db_to(x->loss_udb),
			    x->sd_db >= 0 ? (double)x->sd_db : noise_db, linearity);
		}
		for (size_t m = i; m < after && !is_covered; m++) {
			x = read_from(&g->v[m], l, end);
			is_covered = x != NULL && (m == k || fabs(g->v[m].at_m - g->v[k].at_m) <
								 (double)x->dead_m);
		}
		covered += is_covered;
	}
	return read == 0 ? GROUP_NONE : covered == after - i ? GROUP_WHOLE : GROUP_PART;
}

void
groups_free(struct groups *g)
{
	free(g->v);
}
