#include "match/tell.h"

#include <math.h>
#include <stdlib.h>

#include "base/mem.h"

/*
 * The first reading, from which habits are learnt and machines hear of each other, is narrow; the
 * second is wide, but less so where closures are larger than of 144 units, so that time does not grow
 * with their square.
 */
static const double narrow_beam = 8, wide_beam = 12;
enum { NARROW = 60, WIDE = 600, WIDE_UNITS = 144 };

/* What others made is made, or perhaps made, from these chances; less is not heard of. */
static const double made = 0.9, perhaps = 0.3, heard = 0.01;
enum { LONG_S = 3600 }; /* clocks are as wrong as that */

/* a chance that an arc is a joint */
struct chance {
	uint32_t joint, stream, seen;
	float odds;
	int64_t at_s; /* never before the arc before */
};

struct chances {
	struct chance *v;
	size_t n, cap;
};

/* what is heard of a joint: the sum of its chances, and what of it is of the stream being read */
struct heard_of {
	float all, own;
	int64_t first_s, last_s; /* of the likely ones of all streams */
	bool first;              /* the stream is there long before it is made by another */
};

struct reading {
	struct match_night *night;
	struct match_habits *habits; /* of each stream */
	struct chances heard;        /* of the first reading, by stream */
	struct chances chances;      /* of the second */
	struct heard_of *of;         /* of each joint */
	double sure;
};

/* --- reading --------------------------------------------------------------------------------- */

static void
add_chances(const struct match_evidence *e, uint32_t stream, const struct match_decoded *d,
    double least, struct chances *to)
{
	const uint32_t *first = e->course->first;
	int64_t at_s = INT64_MIN;

	for (uint32_t i = 0; i < e->stream->n; i++) {
		int64_t t = e->arcs->v[e->stream->seen[i].first].at.seconds;

		at_s = t > at_s ? t : at_s;
		for (size_t k = d->end[i + 1]; k < d->end[i]; k++) {
			const struct match_claim *c = &d->claims[k];

			if (c->is >= MATCH_IS_ELSEWHERE || c->odds < least)
				continue;
			for (uint32_t j = first[c->is]; j < first[c->is + 1]; j++) {
				to->v = mem_grow(to->v, &to->cap, to->n + 1, sizeof *to->v);
				to->v[to->n++] =
				    (struct chance){ j, stream, i, (float)c->odds, at_s };
			}
		}
	}
}

/* How likely a crew finds a joint made by another machine or night: not what is made later. */
static double
found_made(const struct reading *r, uint32_t joint)
{
	const struct heard_of *h = &r->of[joint];

	if (r->night->stated->before[joint].stands)
		return 1;
	return h->first ? 0 : (double)(h->all - h->own);
}

/* How many states are followed. */
static size_t
width_of(const struct match_course *c, bool wide)
{
	uint32_t most = WIDE_UNITS;

	for (uint32_t k = 0; k < c->closures; k++) {
		uint32_t units =
		    c->tray_first[c->closure_first[k + 1]] - c->tray_first[c->closure_first[k]];

		most = units > most ? units : most;
	}
	most = WIDE * WIDE_UNITS / most;
	return !wide || most < NARROW ? NARROW : most;
}

static void
decode(struct reading *r, struct match_evidence *e, bool wide, struct match_decoded *d)
{
	struct match_moves m;
	struct match_task task = { &m, e->v, e->stream->n, e->near, match_evidence_unit, e,
		wide ? wide_beam : narrow_beam, width_of(e->course, wide) };

	match_moves_open(&m, e->course, (const double(*)[MATCH_DIRS])e->dirs, &e->habits.shares);
	for (uint32_t u = 0; u < e->course->units; u++) {
		double odds = found_made(r, e->course->first[u]);

		if (odds >= perhaps)
			match_moves_find(&m, u, odds >= made);
	}
	match_evidence_weigh(e);
	match_decode(&task, d);
	match_moves_free(&m);
}

/* What was typed, and is not left over, is beside what the arc likely is. */
static bool
is_mistyped(const struct match_evidence *e, size_t i, const struct match_claim *c)
{
	const bool *same = e->hints[i].same;

	return c->is < MATCH_IS_ELSEWHERE && c->odds >= 0.5 && !same[TYPED_JOINT] &&
	       !same[TYPED_TRAY] && !same[TYPED_CLOSURE] && match_typed_fits(e, i, c->is) < 0.5;
}

static enum match_place
place_of(const struct match_evidence *e, size_t i)
{
	const struct match_hint *h = &e->hints[i];
	const struct match_typed *t = h->typed == MATCH_NONE ? NULL : &e->arcs->typed[h->typed];

	if ((t != NULL && t->outside) ||
	    (h->answer != MATCH_NONE && e->stated->answers[h->answer].is == MATCH_SAID_ELSEWHERE))
		return MATCH_OUTSIDE;
	if ((t != NULL && t->closure[0] != MATCH_NONE) ||
	    (h->visit != MATCH_NONE && e->stated->visits[h->visit].closure != MATCH_NONE))
		return MATCH_IN_PLAN;
	return MATCH_UNNAMED;
}

/* A joint of the plan was typed anew, and nobody said that it is none: then a person decides. */
static bool
is_named(const struct match_evidence *e, size_t i)
{
	const struct match_hint *h = &e->hints[i];
	const struct match_typed *t = h->typed != MATCH_NONE ? &e->arcs->typed[h->typed] : NULL;

	return h->typing == MATCH_TYPED_JOINT && t != NULL && !t->outside &&
	       h->answer == MATCH_NONE && !e->arcs->v[e->stream->seen[i].first].says_practice;
}

static void
judge(const struct reading *r, struct match_read *read, const struct match_evidence *e,
    const struct match_decoded *d)
{
	for (size_t i = 0; i < e->stream->n; i++) {
		const struct match_claim *c = &d->claims[d->end[i + 1]];
		struct match_verdict *v = &read->v[i];

		*v = (struct match_verdict){ c->is, MATCH_NONE, (float)c->odds, MATCH_OPEN,
			.mistyped = is_mistyped(e, i, c) };
		v->place = (uint8_t)place_of(e, i);
		if (v->place == MATCH_UNNAMED && i > 0 && c->is >= MATCH_IS_ELSEWHERE)
			v->place = v[-1].place;
		if (d->end[i + 1] + 1 < d->end[i])
			v->second = c[1].is;
		if (c->odds >= r->sure)
			v->fate = c->is == MATCH_IS_PRACTICE    ? MATCH_PRACTISED
				  : c->is == MATCH_IS_ELSEWHERE ? MATCH_ELSEWHERE
								: MATCH_HELD;
		if (v->fate != MATCH_HELD && is_named(e, i))
			v->fate = MATCH_OPEN;
	}
	for (uint32_t c = 0; c < e->course->closures; c++) {
		double all = 0, most = 0;

		for (int dir = 0; dir < MATCH_DIRS; dir++) {
			all += d->dirs[c][dir];
			most = fmax(most, d->dirs[c][dir]);
		}
		read->unproven[c] = all > 1.5 && !e->stated_dir[c] && most < all * r->sure;
	}
}

static void
read_stream(struct reading *r, uint32_t s, bool first)
{
	struct match_night *n = r->night;
	struct match_read *read = &n->read[s];
	struct match_evidence e;
	struct match_decoded d;

	match_evidence_open(&e, n->arcs, &n->arcs->streams[s], read->course, n->stated);
	if (!first)
		e.habits = r->habits[s];
	decode(r, &e, !first, &d);
	if (first) {
		match_evidence_learn(&e, &d);
		r->habits[s] = e.habits;
		add_chances(&e, s, &d, heard, &r->heard);
	} else {
		read->v = mem_zeroed(e.stream->n + 1, sizeof *read->v);
		read->unproven = mem_zeroed(e.course->closures + 1u, sizeof *read->unproven);
		judge(r, read, &e, &d);
		add_chances(&e, s, &d, 1.0 / MATCH_LEAST_CLAIM, &r->chances);
		read->hints = e.hints;
		e.hints = NULL;
	}
	match_decoded_free(&d);
	match_evidence_free(&e);
}

/* The habits of all streams, and what is heard of each joint. */
static void
read_first(struct reading *r)
{
	for (uint32_t s = 0; s < r->night->arcs->nstreams; s++)
		read_stream(r, s, true);
	for (uint32_t j = 0; j < r->night->arcs->plan->n; j++)
		r->of[j] = (struct heard_of){ .first_s = INT64_MAX, .last_s = INT64_MIN + LONG_S };
	for (size_t i = 0; i < r->heard.n; i++) {
		const struct chance *c = &r->heard.v[i];
		struct heard_of *of = &r->of[c->joint];

		of->all += c->odds;
		if ((double)c->odds < perhaps)
			continue;
		of->first_s = c->at_s < of->first_s ? c->at_s : of->first_s;
		of->last_s = c->at_s > of->last_s ? c->at_s : of->last_s;
	}
}

static void
read_all(struct reading *r)
{
	const struct chances *h = &r->heard;
	size_t at = 0, end;

	read_first(r);
	for (uint32_t s = 0; s < r->night->arcs->nstreams; s++, at = end) {
		for (end = at; end < h->n && h->v[end].stream == s; end++) {
			const struct chance *c = &h->v[end];
			struct heard_of *of = &r->of[c->joint];

			of->own += c->odds;
			of->first |= c->at_s <= of->first_s && c->at_s < of->last_s - LONG_S;
		}
		read_stream(r, s, false);
		for (size_t i = at; i < end; i++) {
			r->of[h->v[i].joint].own = 0;
			r->of[h->v[i].joint].first = false;
		}
	}
}

/* --- telling --------------------------------------------------------------------------------- */

static int
by_joint(const void *pa, const void *pb)
{
	const struct chance *a = pa, *b = pb;

	if (a->joint != b->joint)
		return a->joint < b->joint ? -1 : 1;
	if (a->at_s != b->at_s)
		return a->at_s < b->at_s ? -1 : 1;
	if (a->stream != b->stream)
		return a->stream < b->stream ? -1 : 1;
	return a->seen < b->seen ? -1 : a->seen > b->seen;
}

static struct match_verdict *
verdict_of(const struct reading *r, const struct chance *c)
{
	return &r->night->read[c->stream].v[c->seen];
}

/* What was typed or answered on the arc says which joint it is. */
static bool
is_said(const struct reading *r, const struct chance *c)
{
	const struct match_hint *h = &r->night->read[c->stream].hints[c->seen];

	return h->answer != MATCH_NONE ||
	       (h->typed != MATCH_NONE && r->night->arcs->typed[h->typed].joint);
}

/* The row of the arc that is of this joint: the one of its position, if it has several. */
static uint32_t
record_of(const struct match_night *n, const struct chance *c)
{
	const struct match_seen *seen = &n->arcs->streams[c->stream].seen[c->seen];
	const struct match_course *course = n->read[c->stream].course;
	uint32_t position = c->joint - course->first[course->unit_of[c->joint]];

	for (uint32_t k = 0; k < seen->rows; k++)
		if (n->arcs->v[seen->first + k].position == position + 1)
			return seen->first + k;
	return seen->first;
}

static bool
has_record(const struct reading *r, const struct chance *c)
{
	return r->night->arcs->streams[c->stream].seen[c->seen].rows > 0;
}

static void
add_row(struct reading *r, const struct chance *c, uint32_t attempt, bool stands, double chance)
{
	struct match_night *n = r->night;
	uint32_t record = record_of(n, c);

	n->rows = mem_grow(n->rows, &n->cap_rows, n->nrows + 1, sizeof *n->rows);
	n->rows[n->nrows++] = (struct match_row){ record, c->joint, attempt, (float)chance, stands,
		n->arcs->v[record].at };
	verdict_of(r, c)->fate = MATCH_TOLD;
}

/* true if two machines likely come to one joint that was not said at both; then all of these are marked */
static bool
is_twice(struct reading *r, const struct chance *v, size_t n)
{
	const struct chance *one = NULL;
	bool twice = false, said = true;

	for (size_t i = 0; i < n; i++) {
		if (v[i].odds < 0.5F)
			continue;
		twice |= one != NULL && one->stream != v[i].stream;
		one = &v[i];
		said &= is_said(r, one);
	}
	for (size_t i = 0; i < n && twice && !said; i++)
		verdict_of(r, &v[i])->twice |= v[i].odds >= 0.5F;
	return twice && !said;
}

/* Tells one joint, of whose chances there are n, by time. */
static void
tell_joint(struct reading *r, const struct chance *v, size_t n)
{
	struct match_night *night = r->night;
	const struct match_before *before = &night->stated->before[v->joint];
	uint32_t attempt = before->attempts;
	double later = 0;
	size_t last = n;
	bool stands;

	while (last > 0 && later <= 1 - r->sure) {
		const struct chance *c = &v[last - 1];

		if ((double)c->odds - later >= r->sure && has_record(r, c))
			break;
		later += (double)c->odds;
		last--;
	}
	if (last == 0 || later > 1 - r->sure || is_twice(r, v, n))
		return;
	stands = !before->has_at ||
		 when_order(&before->at, &night->arcs->v[record_of(night, &v[last - 1])].at) <= 0;
	for (size_t i = 0; i < last; i++)
		if ((double)v[i].odds >= r->sure && has_record(r, &v[i]))
			add_row(r, &v[i], ++attempt, stands && i + 1 == last,
			    (double)v[i].odds - (i + 1 == last ? later : 0));
	night->recorded[v->joint] = true;
	night->ntold++;
}

static int
by_time(const void *pa, const void *pb)
{
	const struct match_row *a = pa, *b = pb;
	int order = when_order(&a->at, &b->at);

	if (order != 0)
		return order;
	if (a->record != b->record)
		return a->record < b->record ? -1 : 1;
	return a->joint < b->joint ? -1 : 1;
}

static void
tell_all(struct reading *r)
{
	struct match_night *n = r->night;
	struct chances *c = &r->chances;
	size_t end;

	if (c->n > 0)
		qsort(c->v, c->n, sizeof *c->v, by_joint);
	for (uint32_t j = 0; j < n->arcs->plan->n; j++)
		n->recorded[j] = n->stated->before[j].attempts > 0;
	for (size_t i = 0; i < c->n; i = end) {
		for (end = i; end < c->n && c->v[end].joint == c->v[i].joint;)
			end++;
		tell_joint(r, c->v + i, end - i);
	}
	if (n->nrows > 0)
		qsort(n->rows, n->nrows, sizeof *n->rows, by_time);
}

void
match_night_read(struct match_night *n, const struct match_arcs *arcs,
    const struct match_stated *stated, double odds)
{
	struct reading r = { n, .sure = odds / (odds + 1) };

	*n = (struct match_night){ arcs, stated };
	n->read = mem_zeroed(arcs->nstreams + 1u, sizeof *n->read);
	n->recorded = mem_zeroed(arcs->plan->n + 1u, sizeof *n->recorded);
	r.habits = mem_zeroed(arcs->nstreams + 1u, sizeof *r.habits);
	r.of = mem_zeroed(arcs->plan->n + 1u, sizeof *r.of);
	for (uint32_t s = 0; s < arcs->nstreams; s++) {
		struct match_course *course = &n->courses[arcs->streams[s].fibres_n];

		if (course->first == NULL)
			planned_course(arcs->plan, arcs->streams[s].fibres_n, course);
		n->read[s].course = course;
	}
	read_all(&r);
	tell_all(&r);
	free(r.of);
	free(r.habits);
	free(r.heard.v);
	free(r.chances.v);
}

void
match_night_free(struct match_night *n)
{
	for (uint32_t s = 0; n->read != NULL && s < n->arcs->nstreams; s++) {
		free(n->read[s].v);
		free(n->read[s].hints);
		free(n->read[s].unproven);
	}
	for (size_t c = 0; c < sizeof n->courses / sizeof n->courses[0]; c++)
		match_course_free(&n->courses[c]);
	free(n->read);
	free(n->rows);
	free(n->recorded);
	*n = (struct match_night){ NULL };
}
