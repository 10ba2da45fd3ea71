#include "match/tell.h"

#include <stdlib.h>
#include <string.h>

#include "base/mem.h"

/*
 * The first reading, from which habits are learnt and machines hear of each other, is narrow; the
 * second is wide.
 */
static const double narrow_beam = 8, wide_beam = 13;
enum { NARROW = 60, WIDE = 1500 };

/* What others made is made, or perhaps made, from these chances. */
static const double made = 0.9, perhaps = 0.3;

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

struct reading {
	struct match_night *night;
	struct match_habits *habits; /* of each stream */
	struct chances heard;        /* of the first reading */
	struct chances chances;      /* of the second */
	float *all;                  /* of each joint: the sum of heard */
	double sure;
};

static const struct match_stream *
stream_of(const struct match_night *n, uint32_t s)
{
	return &n->arcs->streams[s];
}

static struct planned_course *
course_of(const struct match_night *n, uint32_t s)
{
	return &n->courses[n->course_of[s]];
}

/* One course for each number of fibres an arc joins. */
static void
set_courses(struct match_night *n)
{
	n->course_of = mem_zeroed(n->arcs->nstreams + 1, sizeof *n->course_of);
	for (uint32_t s = 0; s < n->arcs->nstreams; s++) {
		uint32_t c = 0, fibres_n = stream_of(n, s)->fibres_n;

		while (c < n->ncourses && n->courses[c].fibres_n != fibres_n)
			c++;
		if (c == n->ncourses) {
			n->courses =
			    mem_grow(n->courses, &n->cap_courses, c + 1, sizeof *n->courses);
			planned_course(n->arcs->plan, fibres_n, &n->courses[n->ncourses++]);
		}
		n->course_of[s] = c;
	}
}

static void
add_chances(const struct match_night *n, struct chances *to, uint32_t s,
    const struct match_decoded *d, double least)
{
	const struct planned_course *course = course_of(n, s);
	const struct match_stream *stream = stream_of(n, s);
	int64_t at_s = INT64_MIN;
	uint32_t seen = MATCH_NONE;

	for (size_t i = 0; i < d->n; i++) {
		const struct match_claim *c = &d->claims[i];

		if (c->arc != seen) {
			int64_t t = n->arcs->v[stream->seen[c->arc].first].at.seconds;

			seen = c->arc;
			at_s = t > at_s ? t : at_s;
		}
		if (c->is >= MATCH_IS_ELSEWHERE || c->odds < least)
			continue;
		for (uint32_t j = course->first[c->is]; j < course->first[c->is + 1]; j++) {
			to->v = mem_grow(to->v, &to->cap, to->n + 1, sizeof *to->v);
			to->v[to->n++] = (struct chance){ j, s, seen, (float)c->odds, at_s };
		}
	}
}

/* --- what others made ------------------------------------------------------------------------ */

/* The sets of what other machines and earlier nights made, of each closure this stream may enter. */
static void
set_made(const struct reading *r, const struct match_evidence *e, struct match_moves *m,
    const float *own, uint32_t *sets)
{
	const struct match_course *c = &e->course->course;
	const struct match_before *before = r->night->before;
	uint64_t words[2 * 512];

	for (uint32_t k = 0; k < c->closures; k++)
		sets[k] = MATCH_NONE;
	for (size_t i = 0; i < e->nnear; i++) {
		uint32_t k = e->near[i], first = c->closure_first[k];
		size_t trays = c->closure_first[k + 1] - first;
		bool any = false;

		if (sets[k] != MATCH_NONE || trays > 512)
			continue;
		memset(words, 0, 2 * trays * sizeof *words);
		for (size_t t = 0; t < trays; t++)
			for (uint32_t u = c->tray_first[first + t];
			     u < c->tray_first[first + t + 1]; u++) {
				uint32_t j = e->course->first[u];
				double odds = r->all == NULL ? 0 : (double)(r->all[j] - own[j]);
				uint64_t bit = UINT64_C(1) << (u - c->tray_first[first + t]);

				if (before != NULL && before[j].stands)
					odds = 1;
				words[2 * t + (odds < made)] |= odds >= perhaps ? bit : 0;
				any |= odds >= perhaps;
			}
		if (any)
			sets[k] = match_set_of(m, words, trays);
	}
}

/* --- reading --------------------------------------------------------------------------------- */

static void
decode(struct reading *r, uint32_t s, struct match_evidence *e, bool wide, const float *own,
    struct match_decoded *d)
{
	const struct planned_course *course = course_of(r->night, s);
	struct match_moves m = { .shares = e->habits.shares };
	uint32_t *sets = mem_zeroed(course->course.closures + 1, sizeof *sets);
	struct match_task task = { &m, e->v, e->stream->n, e->near, match_evidence_unit, e,
		wide ? wide_beam : narrow_beam, wide ? WIDE : NARROW };

	match_moves_open(&m, &course->course, (const double(*)[MATCH_DIRS])e->dirs, sets);
	set_made(r, e, &m, own, sets);
	match_evidence_weigh(e);
	match_decode(&task, d);
	match_moves_free(&m);
	free(sets);
}

static void
read_first(struct reading *r, uint32_t s)
{
	struct match_night *n = r->night;
	struct match_evidence e;
	struct match_decoded d;

	match_evidence_open(&e, n->arcs, stream_of(n, s), course_of(n, s), n->stated);
	decode(r, s, &e, false, NULL, &d);
	match_evidence_learn(&e, &d);
	r->habits[s] = e.habits;
	add_chances(n, &r->heard, s, &d, 0.01);
	match_decoded_free(&d);
	match_evidence_free(&e);
}

/* What was typed, and is not left over, is beside what the arc likely is. */
static bool
is_mistyped(const struct match_evidence *e, size_t i, const struct match_claim *c)
{
	const struct match_hint *h = &e->hints[i];
	double best = 0;

	if (c->is >= MATCH_IS_ELSEWHERE || c->odds < 0.5 || h->typed == MATCH_NONE ||
	    h->same_joint || h->same_tray || h->same_closure)
		return false;
	for (uint32_t j = e->course->first[c->is]; j < e->course->first[c->is + 1]; j++) {
		double fits = match_typed_fits(e, i, j);

		best = fits > best ? fits : best;
	}
	return best < 0.5;
}

static void
judge(struct reading *r, struct match_read *read, const struct match_evidence *e,
    const struct match_decoded *d)
{
	for (size_t i = 0; i < e->stream->n; i++) {
		const struct match_claim *c = &d->claims[d->first[i]];
		struct match_verdict *v = &read->v[i];

		*v = (struct match_verdict){ c->is, MATCH_NONE, (float)c->odds, MATCH_OPEN, false,
			false };
		v->mistyped = is_mistyped(e, i, c);
		if (d->first[i] + 1 < d->first[i + 1])
			v->second = c[1].is;
		if (c->odds >= r->sure)
			v->fate = c->is == MATCH_IS_PRACTICE    ? MATCH_PRACTISED
				  : c->is == MATCH_IS_ELSEWHERE ? MATCH_ELSEWHERE
								: MATCH_HELD;
	}
	for (uint32_t c = 0; c < e->course->course.closures; c++) {
		double all = 0, most = 0;

		for (int dir = 0; dir < MATCH_DIRS; dir++) {
			all += d->dirs[c][dir];
			most = d->dirs[c][dir] > most ? d->dirs[c][dir] : most;
		}
		read->unproven[c] = all > 1.5 && !e->stated_dir[c] && most < all * r->sure;
	}
}

static void
read_second(struct reading *r, uint32_t s, float *own)
{
	struct match_night *n = r->night;
	struct match_read *read = &n->read[s];
	struct match_evidence e;
	struct match_decoded d;

	match_evidence_open(&e, n->arcs, stream_of(n, s), course_of(n, s), n->stated);
	e.habits = r->habits[s];
	decode(r, s, &e, true, own, &d);
	read->v = mem_zeroed(e.stream->n + 1, sizeof *read->v);
	read->unproven = mem_zeroed(e.course->course.closures + 1, sizeof *read->unproven);
	judge(r, read, &e, &d);
	read->hints = e.hints;
	e.hints = NULL;
	add_chances(n, &r->chances, s, &d, 1.0 / MATCH_LEAST_CLAIM);
	match_decoded_free(&d);
	match_evidence_free(&e);
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

/* What was typed on the arc says which joint it is. */
static bool
is_typed(const struct reading *r, const struct chance *c)
{
	uint32_t typed = r->night->read[c->stream].hints[c->seen].typed;

	return r->night->read[c->stream].hints[c->seen].answer != MATCH_NONE ||
	       (typed != MATCH_NONE && r->night->arcs->typed[typed].joint);
}

/* The row of the arc that is of this joint: the one of its position, if it has several. */
static uint32_t
record_of(const struct match_night *n, const struct chance *c)
{
	const struct match_seen *seen = &stream_of(n, c->stream)->seen[c->seen];
	const struct planned_course *course = course_of(n, c->stream);
	uint32_t position = c->joint - course->first[course->unit_of[c->joint]];

	for (uint32_t k = 0; k < seen->rows; k++)
		if (n->arcs->v[seen->first + k].position == position + 1)
			return seen->first + k;
	return seen->first;
}

static void
add_row(struct reading *r, const struct chance *c, uint32_t attempt, bool stands, double chance)
{
	struct match_night *n = r->night;

	n->rows = mem_grow(n->rows, &n->cap_rows, n->nrows + 1, sizeof *n->rows);
	n->rows[n->nrows++] =
	    (struct match_row){ record_of(n, c), c->joint, attempt, (float)chance, stands };
	verdict_of(r, c)->fate = MATCH_TOLD;
}

static bool
has_record(const struct reading *r, const struct chance *c)
{
	return stream_of(r->night, c->stream)->seen[c->seen].rows > 0;
}

/* true if two machines are sure of one joint that was not typed at both; then both are marked */
static bool
is_twice(struct reading *r, const struct chance *v, size_t n)
{
	const struct chance *one = NULL;
	bool twice = false, typed = true;

	for (size_t i = 0; i < n; i++) {
		if (v[i].odds < 0.5F)
			continue;
		if (one != NULL && one->stream != v[i].stream)
			twice = true;
		one = &v[i];
		typed &= is_typed(r, one);
	}
	for (size_t i = 0; i < n && twice && !typed; i++)
		if (v[i].odds >= 0.5F)
			verdict_of(r, &v[i])->twice = true;
	return twice && !typed;
}

/* Tells one joint, of whose chances there are n, by time. */
static void
tell_joint(struct reading *r, const struct chance *v, size_t n)
{
	struct match_night *night = r->night;
	const struct match_before *before = night->before ? &night->before[v->joint] : NULL;
	uint32_t attempt = before != NULL ? before->attempts : 0;
	double later = 0;
	size_t last = n;
	bool stands = true;

	while (last > 0 && later <= 1 - r->sure) {
		const struct chance *c = &v[last - 1];

		if ((double)c->odds - later >= r->sure && has_record(r, c))
			break;
		later += (double)c->odds;
		last--;
	}
	if (last == 0 || later > 1 - r->sure || is_twice(r, v, n))
		return;
	if (before != NULL && before->stands && before->has_at)
		stands = when_order(
			     &before->at, &night->arcs->v[record_of(night, &v[last - 1])].at) <= 0;
	for (size_t i = 0; i < last; i++)
		if ((double)v[i].odds >= r->sure && has_record(r, &v[i]))
			add_row(r, &v[i], ++attempt, stands && i + 1 == last,
			    (double)v[i].odds - (i + 1 == last ? later : 0));
	night->recorded[v->joint] = true;
	night->ntold++;
}

static int
by_time(const void *pa, const void *pb, const struct match_arcs *arcs)
{
	const struct match_row *a = pa, *b = pb;
	int order = when_order(&arcs->v[a->record].at, &arcs->v[b->record].at);

	if (order != 0)
		return order;
	if (a->record != b->record)
		return a->record < b->record ? -1 : 1;
	return a->joint < b->joint ? -1 : 1;
}

/* Merge sort, as qsort hands no argument on. */
static void
sort_rows(struct match_row *v, size_t n, struct match_row *room, const struct match_arcs *arcs)
{
	size_t half = n / 2, i = 0, k = half;

	if (n < 2)
		return;
	sort_rows(v, half, room, arcs);
	sort_rows(v + half, n - half, room, arcs);
	for (size_t at = 0; at < n; at++)
		room[at] =
		    k == n || (i < half && by_time(&v[i], &v[k], arcs) <= 0) ? v[i++] : v[k++];
	memcpy(v, room, n * sizeof *v);
}

static void
tell_all(struct reading *r)
{
	struct match_night *n = r->night;
	struct chances *c = &r->chances;
	struct match_row *room;
	size_t end;

	if (c->n > 0)
		qsort(c->v, c->n, sizeof *c->v, by_joint);
	n->recorded = mem_zeroed(n->arcs->plan->n + 1, sizeof *n->recorded);
	for (size_t j = 0; j < n->arcs->plan->n; j++)
		n->recorded[j] = n->before != NULL && n->before[j].attempts > 0;
	for (size_t i = 0; i < c->n; i = end) {
		for (end = i; end < c->n && c->v[end].joint == c->v[i].joint;)
			end++;
		tell_joint(r, c->v + i, end - i);
	}
	room = mem_zeroed(n->nrows + 1, sizeof *room);
	sort_rows(n->rows, n->nrows, room, n->arcs);
	free(room);
}

void
match_night_read(struct match_night *n, const struct match_arcs *arcs,
    const struct match_stated *stated, const struct match_before *before, double odds)
{
	struct reading r = { n, .sure = odds / (odds + 1) };
	size_t joints = arcs->plan->n, at = 0;
	float *own = mem_zeroed(joints + 1, sizeof *own);

	*n = (struct match_night){ arcs, stated, before };
	set_courses(n);
	n->read = mem_zeroed(arcs->nstreams + 1, sizeof *n->read);
	r.habits = mem_zeroed(arcs->nstreams + 1, sizeof *r.habits);
	for (uint32_t s = 0; s < arcs->nstreams; s++)
		read_first(&r, s);
	r.all = mem_zeroed(joints + 1, sizeof *r.all);
	for (size_t i = 0; i < r.heard.n; i++)
		r.all[r.heard.v[i].joint] += r.heard.v[i].odds;
	for (uint32_t s = 0; s < arcs->nstreams; s++) {
		size_t first = at;

		for (; at < r.heard.n && r.heard.v[at].stream == s; at++)
			own[r.heard.v[at].joint] += r.heard.v[at].odds;
		read_second(&r, s, own);
		for (size_t i = first; i < at; i++)
			own[r.heard.v[i].joint] = 0;
	}
	tell_all(&r);
	free(own);
	free(r.all);
	free(r.habits);
	free(r.heard.v);
	free(r.chances.v);
}

void
match_night_free(struct match_night *n)
{
	for (size_t s = 0; n->read != NULL && s < n->arcs->nstreams; s++) {
		free(n->read[s].v);
		free(n->read[s].hints);
		free(n->read[s].unproven);
	}
	for (size_t c = 0; c < n->ncourses; c++)
		planned_course_free(&n->courses[c]);
	free(n->courses);
	free(n->course_of);
	free(n->read);
	free(n->rows);
	free(n->recorded);
	*n = (struct match_night){ NULL };
}
