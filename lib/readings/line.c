#include "readings/line.h"

#include <math.h>
#include <stdlib.h>

double
line_instrument_m(double at_m)
{
	return 1 + 5e-5 * at_m;
}

/* --- one end --------------------------------------------------------------------------------- */

/* Of rows at the same place one remains: of the panel if one is, with the loss that any of them has. */
static void
one_a_place(struct view *w, struct reading *v, size_t n)
{
	w->v = v;
	w->n = 0;
	for (size_t i = 0; i < n; i++) {
		struct reading *was = w->n > 0 ? &w->v[w->n - 1] : NULL;

		if (was == NULL || was->km != v[i].km) {
			w->v[w->n++] = v[i];
			continue;
		}
		if (v[i].kind <= READING_END)
			was->kind = v[i].kind;
		if (v[i].loss_udb != DB_NONE) {
			w->twice = w->twice || was->loss_udb != DB_NONE;
			was->loss_udb = v[i].loss_udb;
			was->sd_db = v[i].sd_db;
		}
	}
}

static void
view_make(struct view *w, const struct trace *trace, struct reading *v, size_t n)
{
	*w = (struct view){ .read = true, .index = trace->index, .length_m = NAN };
	one_a_place(w, v, n);
	for (size_t i = 0; i < w->n; i++) {
		const struct reading **mark = w->v[i].kind == READING_START ? &w->start
					      : w->v[i].kind == READING_END ? &w->end
									    : NULL;

		if (mark == NULL)
			continue;
		w->twice = w->twice || *mark != NULL;
		*mark = &w->v[i];
	}
	w->cord_m = w->start != NULL ? w->start->km * 1000 : 0;
	if (w->end != NULL)
		w->length_m = w->end->km * 1000 - w->cord_m;
}

/* Whether a reading has this mark of the link's ends. */
static bool
has_mark(const struct reading *v, size_t n, int kind)
{
	for (size_t i = 0; i < n; i++)
		if (v[i].kind == kind)
			return true;
	return false;
}

static bool
is_later(const struct trace *a, const struct trace *b)
{
	return a->timed && b->timed && when_surely_before(&b->at, &a->at);
}

/* The rows of the reading that begins at i. */
static size_t
end_of(const struct reading *here, size_t n, size_t i)
{
	size_t end = i + 1;

	while (end < n && here[end].trace == here[i].trace)
		end++;
	return end;
}

/* The reading from one end at this wavelength: of several the latest. */
static void
choose(struct view *w, const struct readings *r, struct reading *here, size_t n, double nm, int end)
{
	const struct trace *latest = NULL;
	size_t first = 0, next;
	bool doubt = false, start = false, stop = false;

	*w = (struct view){ .length_m = NAN };
	for (size_t i = 0; i < n; i = end_of(here, n, i)) {
		const struct trace *trace = &r->traces[here[i].trace];

		if (trace->nm == nm && trace->end == end &&
		    (latest == NULL || is_later(trace, latest))) {
			latest = trace;
			first = i;
		}
	}
	for (size_t i = 0; i < n && latest != NULL; i = next) {
		const struct trace *trace = &r->traces[here[i].trace];

		next = end_of(here, n, i);
		if (trace->nm != nm || trace->end != end || trace == latest)
			continue;
		doubt |= !is_later(latest, trace);
		start |= has_mark(here + i, next - i, READING_START);
		stop |= has_mark(here + i, next - i, READING_END);
	}
	if (latest != NULL)
		view_make(w, latest, here + first, end_of(here, n, first) - first);
	if (latest != NULL && latest->copied > 0)
		w->copied = &r->traces[latest->copied - 1];
	w->torn = (start && w->start == NULL) || (stop && w->end == NULL);
	w->twice |= doubt || w->torn;
	w->read &= !w->twice && w->copied == NULL;
}

/* --- both ends -------------------------------------------------------------------------------- */

/* Places from each end: behind its start, b's in the metres of a's index where both are stated. */
static void
place(struct line *l)
{
	struct view *a = &l->view[0], *b = &l->view[1];
	double index = a->read && a->index > 0 && b->index > 0 ? b->index / a->index : 1;

	for (int end = 0; end < 2; end++) {
		struct view *w = &l->view[end];

		if (!w->read)
			continue;
		l->at[end] = mem_grow(l->at[end], &l->at_cap[end], w->n, sizeof *l->at[end]);
		w->at_m = l->at[end];
		for (size_t i = 0; i < w->n; i++)
			w->at_m[i] = (w->v[i].km * 1000 - w->cord_m) * (end == 1 ? index : 1);
	}
	b->length_m *= index;
}

static bool
is_panel(const struct reading *x)
{
	return x->kind == READING_START || x->kind == READING_END;
}

/* The places of an end that are of the link and no panel's, from site_a, in rising order. */
static size_t
list_places(struct line *l, int end, struct pair_line fit, size_t *of)
{
	struct view *w = &l->view[end];
	struct pair_place *v;
	size_t n = 0;

	l->places[end] =
	    mem_grow(l->places[end], &l->places_cap[end], w->n + 1, sizeof *l->places[end]);
	v = l->places[end];
	for (size_t k = 0; k < w->n; k++) {
		size_t i = end == 0 ? k : w->n - 1 - k;
		const struct reading *x = &w->v[i];

		if (is_panel(x) || w->at_m[i] < 0 || w->at_m[i] > w->length_m)
			continue;
		of[n] = i;
		v[n].at_m =
		    end == 0 ? w->at_m[i] : l->length_m - fit.offset - fit.slope * w->at_m[i];
		v[n].reach_m = fmax((double)x->reach_m, 2 * (1 + line_instrument_m(l->length_m))) +
			       (x->kind == READING_MERGED ? (double)x->dead_m : 0);
		n++;
	}
	return n;
}

static void
add_point(struct line *l, double at_m, int panel, const struct reading *a, const struct reading *b)
{
	l->v = mem_grow(l->v, &l->cap, l->n + 1, sizeof *l->v);
	l->v[l->n++] = (struct line_point){ at_m, { a, b }, panel };
}

/* What remains between the two scales: a line through the pairs and the link's ends. */
static struct pair_line
fit_scale(struct line *l, size_t na, const size_t *of_a, const size_t *of_b)
{
	const struct view *a = &l->view[0], *b = &l->view[1];
	size_t n = 2;

	l->x = mem_grow(l->x, &l->x_cap, na + 2, sizeof *l->x);
	l->y = mem_grow(l->y, &l->y_cap, na + 2, sizeof *l->y);
	l->x[0] = l->y[0] = 0;
	l->x[1] = b->length_m;
	l->y[1] = l->length_m;
	for (size_t i = 0; i < na; i++) {
		if (l->places[0][i].other == PAIR_NONE)
			continue;
		l->x[n] = b->at_m[of_b[l->places[0][i].other]];
		l->y[n++] = l->length_m - a->at_m[of_a[i]];
	}
	return pair_fit(l->x, l->y, n);
}

/* The points, by place, of both lists as they are paired. */
static void
merge_lists(struct line *l, size_t na, size_t nb, const size_t *of_a, const size_t *of_b)
{
	const struct pair_place *a = l->places[0], *b = l->places[1];
	size_t j = 0;

	for (size_t i = 0; i <= na; i++) {
		size_t other = i < na ? a[i].other : PAIR_NONE;

		for (; j < nb; j++) {
			bool before =
			    other != PAIR_NONE ? j < other : i == na || b[j].at_m <= a[i].at_m;

			if (b[j].other != PAIR_NONE ? b[j].other >= i : !before)
				break;
			if (b[j].other == PAIR_NONE)
				add_point(l, b[j].at_m, -1, NULL, &l->view[1].v[of_b[j]]);
		}
		if (i < na)
			add_point(l, a[i].at_m, -1, &l->view[0].v[of_a[i]],
			    other == PAIR_NONE ? NULL : &l->view[1].v[of_b[other]]);
	}
}

static int
pair_lists(struct line *l, size_t *of_a, size_t *of_b)
{
	struct pair_line fit = { 0, l->length_m / l->view[1].length_m };
	bool both = l->view[0].read && l->view[1].read && l->fault == LINE_SOUND;
	size_t na = 0, nb = 0;

	if (!both || !(l->view[1].length_m > 0))
		fit.slope = 1;
	for (int turn = 0; turn < (both ? 2 : 1); turn++) {
		na = l->view[0].read ? list_places(l, 0, fit, of_a) : 0;
		nb = l->view[1].read ? list_places(l, 1, fit, of_b) : 0;
		for (size_t i = 0; i < na; i++)
			l->places[0][i].other = PAIR_NONE;
		for (size_t j = 0; j < nb; j++)
			l->places[1][j].other = PAIR_NONE;
		if (!both)
			break;
		if (pair_places(l->places[0], na, l->places[1], nb) != 0) {
			l->fault = LINE_CROWDED;
			break;
		}
		if (turn == 0 && l->view[1].length_m > 0) {
			fit = fit_scale(l, na, of_a, of_b);
			l->scale = fit.slope;
		}
	}
	merge_lists(l, na, nb, of_a, of_b);
	return 0;
}

/* How long the link is, and whether the two readings can be of one fibre. */
static void
find_length(struct line *l)
{
	double a_m = l->view[0].length_m, b_m = l->view[1].length_m;
	double apart_m = fabs(a_m - b_m);

	l->length_m = isnan(a_m) ? b_m : a_m;
	l->lengths_m[0] = a_m;
	l->lengths_m[1] = b_m;
	l->fault = LINE_SOUND;
	if (!l->view[0].read || !l->view[1].read)
		return;
	if (isnan(l->length_m))
		l->fault = LINE_NO_END;
	else if (apart_m > 0.005 * fmax(a_m, b_m) &&
		 apart_m > 2 * (line_instrument_m(a_m) + line_instrument_m(b_m)))
		l->fault = LINE_LENGTH;
	for (int end = 0; end < 2; end++)
		if (isnan(l->view[end].length_m))
			l->view[end].length_m = l->length_m;
}

void
line_make(struct line *l, const struct readings *r, struct reading *here, size_t n, double nm)
{
	size_t *of_a, *of_b;

	l->n = 0;
	l->scale = NAN;
	for (int end = 0; end < 2; end++)
		choose(&l->view[end], r, here, n, nm, end);
	place(l);
	find_length(l);
	add_point(l, 0, 0, l->view[0].start, l->view[1].read ? l->view[1].end : NULL);
	if (!l->view[0].read)
		l->v[0].from[0] = NULL;
	of_a = mem_zeroed(l->view[0].n + 1, sizeof *of_a);
	of_b = mem_zeroed(l->view[1].n + 1, sizeof *of_b);
	pair_lists(l, of_a, of_b);
	free(of_a);
	free(of_b);
	add_point(l, l->length_m, 1, l->view[0].read ? l->view[0].end : NULL,
	    l->view[1].read ? l->view[1].start : NULL);
}

int
line_cord(const struct line *l, int panel, const struct reading *x)
{
	const struct view *w = &l->view[panel];

	if (!w->read || w->cord_m <= 0)
		return -1;
	return w->cord_m >= (double)x->dead_m;
}

void
line_free(struct line *l)
{
	free(l->v);
	for (int end = 0; end < 2; end++) {
		free(l->places[end]);
		free(l->at[end]);
	}
	free(l->x);
	free(l->y);
}
