#include "match/evidence.h"

#include <math.h>
#include <stdlib.h>

#include "base/num.h"

/*
 * What is usual, before a night has told its own. All common practice, in round numbers: a joint takes
 * about one pace after the joint before; a retry half of it, as only one end is made anew; a tray takes
 * some more, a closure several paces.
 */
static const struct match_habits usual = {
	.trial = 0.5,
	.gap_mean = { 0, 0, 0.15, -0.5, -0.2, -0.1, 0.35, 1.7, -0.9, 0.1 },
	.gap_sd = { 0.30, 0.35, 0.45, 0.40, 0.6, 0.6, 0.45, 0.8, 0.7, 0.4 },
	.typed = { { .85, .02, .13 }, { .8, .02, .18 }, { .8, .02, .18 }, { .92, .01, .07 },
	    { .85, .02, .13 }, { .85, .02, .13 }, { .55, .3, .15 }, { .4, .45, .15 },
	    { .96, .03, .01 }, { .9, .05, .05 } },
};

/* strength of what is usual, in arcs seen */
static const double gap_prior = 15, typed_prior = 3, share_prior = 150;

/* of gaps: breaks, and what follows no rule (a clock set, a pause) */
static const double broken = 0.05, broken_practice = 0.3, lawless = 0.01;
static const double break_mean = 1.6, break_sd = 0.9, ln_range = 12;

/* chances of what an arc shows if it was kept, was bad, or was practice */
static const double kept_at_all = 0.92;
static const double heat_if[3] = { 0.97, 0.02, 0.04 };
static const double pass_if[3] = { 0.93, 0.25, 0.35 }, fail_if[3] = { 0.004, 0.35, 0.08 };
static const double high_if[3] = { 0.012, 0.62, 0.25 }, fair_if[3] = { 0.06, 0.08, 0.10 };
enum { HIGH_UDB = 100000, FAIR_UDB = 60000 };
enum { HIDDEN_LOOK = 5 }; /* of a missing record: more likely kept */

/* chances of what was typed, beside 1 for the right value */
static const double closure_wrong = 0.0005, tray_wrong = 0.001, joint_wrong = 0.0005;
static const double crossed_alone = 0.01; /* a fibre typed without its cable is of the other side */
static const double left_over = 0.03;     /* what was typed twice running is of the arc before */
static const double note_wrong = 0.002;
static const double visit_wrong = 0.002, visit_tray_wrong = 0.02, answer_wrong = 1e-6;

/* --- what was typed -------------------------------------------------------------------------- */

/* How likely a joint is by its name, slot and fibres as typed, sides straight or crossed. */
static double
fit_joint(const struct match_typed *t, const struct planned_joint *j, bool crossed, double same)
{
	for (int cell = 0; cell < PLANNED_CELLS; cell++) {
		int other = !crossed || cell < PLANNED_CABLE_A ? cell
			    : cell < PLANNED_CABLE_B           ? cell + 2
							       : cell - 2;

		if (cell == PLANNED_CLOSURE || cell == PLANNED_TRAY || t->cell[cell].n == 0)
			continue;
		if (!field_same(t->cell[cell], j->cell[other]))
			return same > joint_wrong ? same : joint_wrong;
	}
	return 1;
}

static double
fit_place(const struct match_typed *t, const struct match_hint *h, const struct planned_joint *j)
{
	struct field tray = t->cell[PLANNED_TRAY];
	double odds = 1;

	if (t->outside || (t->cell[PLANNED_CLOSURE].n > 0 && t->closure[0] != j->closure))
		odds = h->same[TYPED_CLOSURE] ? left_over : closure_wrong;
	if (tray.n > 0 && !field_same(tray, j->cell[PLANNED_TRAY]))
		odds *= h->same[TYPED_TRAY] ? left_over : tray_wrong;
	return odds;
}

double
match_typed_fits(const struct match_evidence *e, size_t arc, uint32_t unit)
{
	const struct match_hint *h = &e->hints[arc];
	const struct match_typed *t;
	double best = 0, same = h->same[TYPED_JOINT] ? left_over : 0, crossed;

	if (h->typed == MATCH_NONE)
		return 1;
	t = &e->arcs->typed[h->typed];
	crossed = t->cell[PLANNED_CABLE_A].n + t->cell[PLANNED_CABLE_B].n > 0 ? 1 : crossed_alone;
	for (uint32_t k = e->course->first[unit]; k < e->course->first[unit + 1]; k++) {
		const struct planned_joint *j = &e->arcs->plan->v[k];
		double odds = fit_place(t, h, j);

		if (t->joint && !t->outside)
			odds *= fmax(
			    fit_joint(t, j, false, same), crossed * fit_joint(t, j, true, same));
		best = fmax(best, odds);
	}
	return best;
}

double
match_evidence_unit(const void *of, size_t arc, uint32_t unit)
{
	const struct match_evidence *e = of;
	const struct match_hint *h = &e->hints[arc];
	const struct planned_joint *j = &e->arcs->plan->v[e->course->first[unit]];
	double odds = match_typed_fits(e, arc, unit);

	if (h->visit != MATCH_NONE) {
		const struct match_visit *v = &e->stated->visits[h->visit];

		if (v->closure != j->closure)
			odds *= visit_wrong;
		else if (v->tray != MATCH_NONE && v->tray != j->tray)
			odds *= visit_tray_wrong;
	}
	if (h->answer != MATCH_NONE) {
		uint32_t joint = e->stated->answers[h->answer].joint;

		if (joint != MATCH_NONE && e->course->unit_of[joint] != unit)
			odds *= answer_wrong;
	}
	return odds;
}

/* The time since the arc before, as ln (seconds / pace), or NAN. */
static double
gap_of(const struct match_evidence *e, const struct match_seen *seen)
{
	if (seen->gap_s == INT64_MIN)
		return NAN;
	return log((seen->gap_s < 5 ? 5 : (double)seen->gap_s) / e->pace_s);
}

/* --- one arc, by how it was reached ---------------------------------------------------------- */

static double
normal(double x, double mean, double sd)
{
	double z = (x - mean) / sd;

	return exp(-z * z / 2) / (sd * 2.5066282746310002);
}

static double
gap_odds(const struct match_habits *h, int how, double gap)
{
	double b = how == MATCH_PRACTISE || how == MATCH_ENTER ? broken_practice : broken;

	if (isnan(gap))
		return 1;
	return (1 - b - lawless) * normal(gap, h->gap_mean[how], h->gap_sd[how]) +
	       b * normal(gap, break_mean, break_sd) + lawless / ln_range;
}

/* What the arc looks like: chances if it was kept, bad or practice. */
struct tells {
	bool heat, tension;
};

static void
look(const struct match_evidence *e, const struct match_seen *seen, struct tells tells,
    double like[3])
{
	bool heated = false, failed = false, passed = false, has_est = false;
	int64_t est_udb = 0;

	for (uint32_t k = 0; k < seen->rows; k++) {
		const struct match_record *r = &e->arcs->v[seen->first + k];

		heated |= r->heated;
		failed |= r->failed;
		passed |= r->passed;
		if (r->has_est && (!has_est || r->est_udb > est_udb))
			est_udb = r->est_udb;
		has_est |= r->has_est;
	}
	for (int i = 0; i < 3; i++) {
		like[i] = 1;
		if (tells.heat)
			like[i] *= heated ? heat_if[i] : 1 - heat_if[i];
		if (tells.tension)
			like[i] *= failed   ? fail_if[i]
				   : passed ? pass_if[i]
					    : 1 - pass_if[i] - fail_if[i];
		if (has_est)
			like[i] *= est_udb >= HIGH_UDB   ? high_if[i]
				   : est_udb >= FAIR_UDB ? fair_if[i]
							 : 1 - high_if[i] - fair_if[i];
	}
}

/* The class whose chance of being kept is nearest, by the logarithm of odds. */
static uint8_t
class_of(double kept, const double classes[MATCH_LOOKS])
{
	uint8_t best = 0;
	double x = log(kept / (1 - kept)), least = INFINITY;

	for (int k = 0; k < MATCH_LOOKS; k++) {
		double far = fabs(x - log(classes[k] / (1 - classes[k])));

		if (far < least) {
			least = far;
			best = (uint8_t)k;
		}
	}
	return best;
}

/* What was typed, noted or answered, if the arc was no joint of the plan; or a certain move. */
static void
weigh_words(
    const struct match_evidence *e, size_t i, const struct match_seen *seen, double by[MATCH_HOWS])
{
	const struct match_hint *h = &e->hints[i];
	const struct match_record *r = &e->arcs->v[seen->first];

	if (h->typed != MATCH_NONE) {
		const struct match_typed *t = &e->arcs->typed[h->typed];
		/* elsewhere a closure of the plan is typed by mistake, or left over */
		bool named = t->cell[PLANNED_CLOSURE].n > 0 && h->typing != MATCH_TYPED_NOTHING;

		by[MATCH_PRACTISE] *= t->outside ? 0.05 : t->joint ? 0.1 : 0.5;
		by[MATCH_GO_AWAY] *= t->outside ? 1
				     : named    ? closure_wrong
				     : t->joint ? 0.005
						: 0.1;
	}
	if (h->visit != MATCH_NONE && e->stated->visits[h->visit].closure != MATCH_NONE)
		by[MATCH_GO_AWAY] *= 0.2;
	for (int how = 0; how < MATCH_HOWS; how++) {
		int said = h->answer == MATCH_NONE ? -1 : e->stated->answers[h->answer].is;
		bool attempt = how < MATCH_PRACTISE;
		bool again = how == MATCH_RETRY || how == MATCH_AGAIN || how == MATCH_RESUME;

		if (r->says_practice && how != MATCH_PRACTISE)
			by[how] *= note_wrong;
		if (r->says_retry && !again)
			by[how] *= note_wrong;
		if ((said == MATCH_SAID_PRACTICE && how != MATCH_PRACTISE) ||
		    (said == MATCH_SAID_ELSEWHERE && how != MATCH_GO_AWAY) ||
		    (said == MATCH_SAID_JOINT && !attempt) || (said == MATCH_SAID_RETRY && !again))
			by[how] *= answer_wrong;
	}
}

/*
 * A record that is missing: no look, and of the time only whether there was enough for it. Numbers are
 * also used up by trials of the arc that no export holds.
 */
static void
weigh_missing(const struct match_evidence *e, const struct match_seen *seen, double gap,
    double by[MATCH_HOWS])
{
	const struct match_habits *h = &e->habits;
	double sd = h->gap_sd[MATCH_NEXT] + 0.03;

	by[MATCH_PRACTISE] = h->trial / h->shares.practise;
	for (int how = 0; how < MATCH_HOWS && !isnan(gap); how++) {
		double takes = how == MATCH_PRACTISE ? 0.1 : exp(h->gap_mean[how]);

		by[how] *= pow((1 - broken) * normal(gap, log(1 + seen->missing * takes), sd) +
				   broken * normal(gap, break_mean, break_sd) + lawless / ln_range,
		    1.0 / seen->missing);
	}
}

static void
weigh_arc(struct match_evidence *e, size_t i, struct tells tells)
{
	const struct match_seen *seen = &e->stream->seen[i];
	const struct match_habits *habits = &e->habits;
	const struct match_hint *h = &e->hints[i];
	struct match_arc *a = &e->v[i];
	double like[3], attempt, kept, most = 0, gap = gap_of(e, seen);

	for (int how = 0; how < MATCH_HOWS; how++)
		a->by_how[how] = 1;
	a->look = HIDDEN_LOOK;
	if (seen->rows == 0) {
		weigh_missing(e, seen, gap, a->by_how);
		return;
	}
	look(e, seen, tells, like);
	attempt = kept_at_all * like[0] + (1 - kept_at_all) * like[1];
	kept = kept_at_all * like[0] / attempt;
	a->look = class_of(kept, habits->shares.kept);
	for (int how = 0; how < MATCH_HOWS; how++) {
		a->by_how[how] = how == MATCH_PRACTISE ? like[2] : attempt;
		a->by_how[how] *= habits->typed[how][h->typing];
		/* behind missing records the gap is theirs too: it tells what is far, not what is near */
		if (seen->missing == 0 || how >= MATCH_TRAY)
			a->by_how[how] *= gap_odds(habits, how, gap);
		else
			a->by_how[how] *=
			    gap_odds(habits, MATCH_NEXT, isnan(gap) || gap < 0 ? gap : 0);
	}
	weigh_words(e, i, seen, a->by_how);
	for (int how = 0; how < MATCH_HOWS; how++)
		most = a->by_how[how] > most ? a->by_how[how] : most;
	for (int how = 0; how < MATCH_HOWS; how++)
		a->by_how[how] /= most;
}

void
match_evidence_weigh(struct match_evidence *e)
{
	struct tells tells = { false, false };

	for (size_t i = 0; i < e->stream->n; i++)
		for (uint32_t k = 0; k < e->stream->seen[i].rows; k++) {
			const struct match_record *r = &e->arcs->v[e->stream->seen[i].first + k];

			tells.heat |= r->heated;
			tells.tension |= r->passed || r->failed;
		}
	for (size_t i = 0; i < e->stream->n; i++)
		weigh_arc(e, i, tells);
}

/* --- learning -------------------------------------------------------------------------------- */

static void
learn_gaps(struct match_evidence *e, const struct match_decoded *d, int how)
{
	double n = gap_prior, mean = usual.gap_mean[how], sd = usual.gap_sd[how];
	double sum = n * mean, squares = n * (sd * sd + mean * mean);
	struct match_habits *h = &e->habits;

	for (size_t i = 0; i < e->stream->n; i++) {
		double x = e->hints[i].gap, w = (double)d->how[i][how];

		if (isnan(x) || w < 0.01)
			continue;
		w *= (1 - broken) * normal(x, h->gap_mean[how], h->gap_sd[how]) /
		     gap_odds(h, how, x);
		n += w;
		sum += w * x;
		squares += w * x * x;
	}
	h->gap_mean[how] = sum / n;
	h->gap_sd[how] = sqrt(squares / n - sum / n * sum / n);
}

void
match_evidence_learn(struct match_evidence *e, const struct match_decoded *d)
{
	struct match_shares *s = &e->habits.shares;
	double n[MATCH_HOWS] = { 0 }, again = 0, kept = 0;
	double typed[MATCH_HOWS][MATCH_TYPINGS], trials = 1, moves = 2;

	for (int how = 0; how < MATCH_HOWS; how++) {
		learn_gaps(e, d, how);
		for (int k = 0; k < MATCH_TYPINGS; k++)
			typed[how][k] = typed_prior * usual.typed[how][k];
	}
	for (size_t i = 0; i < e->stream->n; i++) {
		bool good = i > 0 && s->kept[e->v[i - 1].look] > 0.9;

		for (int how = 0; how < MATCH_HOWS; how++) {
			n[how] += (double)d->how[i][how];
			if (e->stream->seen[i].rows > 0)
				typed[how][e->hints[i].typing] += (double)d->how[i][how];
		}
		again += good ? (double)d->how[i][MATCH_RETRY] : 0;
		kept += good;
		if (e->stream->seen[i].rows == 0) {
			trials += (double)d->how[i][MATCH_PRACTISE];
			moves += 1 - (double)d->how[i][MATCH_PRACTISE];
		}
	}
	for (int how = 0; how < MATCH_HOWS; how++)
		for (int k = 0; k < MATCH_TYPINGS; k++)
			e->habits.typed[how][k] =
			    typed[how][k] / (typed[how][0] + typed[how][1] + typed[how][2]);
	e->habits.trial = trials / moves;
	s->skip = (n[MATCH_SKIP] + share_prior * match_usual.skip) /
		  (n[MATCH_NEXT] + n[MATCH_SKIP] + share_prior);
	s->again =
	    (again + n[MATCH_AGAIN] + share_prior * match_usual.again) / (kept + share_prior);
}

/* --- opening --------------------------------------------------------------------------------- */

static int
by_size(const void *pa, const void *pb)
{
	const int64_t *a = pa, *b = pb;

	return *a < *b ? -1 : *a > *b;
}

/* The middle one of the gaps. */
static double
pace_of(const struct match_stream *s)
{
	int64_t *gaps = mem_zeroed(s->n + 1, sizeof *gaps), *middle;
	double pace_s = 600;
	size_t n = 0;

	for (size_t i = 0; i < s->n; i++)
		if (s->seen[i].missing == 0 && s->seen[i].gap_s > 0 && s->seen[i].gap_s < 3 * 3600)
			gaps[n++] = s->seen[i].gap_s;
	qsort(gaps, n, sizeof *gaps, by_size);
	middle = gaps + n / 2;
	if (n > 4)
		pace_s = (double)*middle;
	free(gaps);
	return pace_s;
}

/* What was typed on an arc, and what of it is as on the arc before that had it. */
static void
set_typed(struct match_evidence *e, size_t i, uint32_t last[TYPED_PARTS])
{
	static const unsigned parts[TYPED_PARTS] = { 1U << PLANNED_CLOSURE, 1U << PLANNED_TRAY,
		(1U << PLANNED_CELLS) - 1 - (1U << PLANNED_CLOSURE) - (1U << PLANNED_TRAY) };
	struct match_hint *h = &e->hints[i];
	const struct match_seen *seen = &e->stream->seen[i];
	const struct match_typed *t;
	bool fresh[TYPED_PARTS] = { false };

	for (uint32_t k = 0; k < seen->rows && h->typed == MATCH_NONE; k++)
		h->typed = e->arcs->v[seen->first + k].typed;
	if (h->typed == MATCH_NONE)
		return;
	t = &e->arcs->typed[h->typed];
	for (int part = 0; part < TYPED_PARTS; part++) {
		bool any = false, same = last[part] != MATCH_NONE;

		for (int c = 0; c < PLANNED_CELLS; c++)
			if (parts[part] >> c & 1) {
				any |= t->cell[c].n > 0 && (part != TYPED_JOINT || t->joint);
				same = same &&
				       field_same(t->cell[c], e->arcs->typed[last[part]].cell[c]);
			}
		h->same[part] = any && same;
		fresh[part] = any && !same;
		if (any)
			last[part] = h->typed;
	}
	if (fresh[TYPED_JOINT])
		h->typing = MATCH_TYPED_JOINT;
	else if (fresh[TYPED_CLOSURE] || fresh[TYPED_TRAY])
		h->typing = MATCH_TYPED_PLACE;
}

/* The last visit of the machine that the arc falls into; first is the machine's first one. */
static void
set_visit(struct match_evidence *e, size_t i, const struct match_record *r, size_t first)
{
	const struct match_stated *s = e->stated;

	for (size_t k = first; k < s->nvisits && s->visits[k].machine == e->stream->machine; k++) {
		const struct match_visit *v = &s->visits[k];

		if (when_order(&v->from, &r->at) <= 0 &&
		    (!v->ends || when_order(&r->at, &v->to) <= 0))
			e->hints[i].visit = (uint32_t)k;
	}
}

static void
set_answer(struct match_evidence *e, size_t i, const struct match_record *r)
{
	const struct match_answer *v = e->stated->answers;
	size_t low = 0, high = e->stated->nanswers;

	while (low < high) {
		size_t k = low + (high - low) / 2;

		if (v[k].machine < e->stream->machine ||
		    (v[k].machine == e->stream->machine && v[k].number < r->number))
			low = k + 1;
		else
			high = k;
	}
	if (low < e->stated->nanswers && v[low].machine == e->stream->machine &&
	    v[low].number == r->number && r->number != INT64_MIN)
		e->hints[i].answer = (uint32_t)low;
}

/* The closures that what is known of an arc may name; MATCH_NONE: none. */
static void
named_by(const struct match_evidence *e, size_t i, uint32_t names[2])
{
	const struct match_hint *h = &e->hints[i];
	uint32_t joint = h->answer == MATCH_NONE ? MATCH_NONE : e->stated->answers[h->answer].joint;

	names[0] = names[1] = MATCH_NONE;
	if (joint != MATCH_NONE)
		names[0] = e->arcs->plan->v[joint].closure;
	else if (h->visit != MATCH_NONE)
		names[0] = e->stated->visits[h->visit].closure;
	else if (h->typed != MATCH_NONE)
		memcpy(names, e->arcs->typed[h->typed].closure, 2 * sizeof names[0]);
}

enum { NEAR = 3 };

/* Which closures may be entered: the last ones and the next ones that are named, as they are named. */
static void
set_near(struct match_evidence *e)
{
	uint32_t names[2], last[2] = { MATCH_NONE, MATCH_NONE };

	e->near = mem_grow(NULL, &e->cap_near, 2, sizeof *e->near);
	for (size_t i = 0; i < e->stream->n; i++) {
		named_by(e, i, names);
		e->near = mem_grow(e->near, &e->cap_near, e->nnear + 2, sizeof *e->near);
		for (int side = 0; side < 2; side++)
			if (names[side] != MATCH_NONE && names[side] != last[0] &&
			    names[side] != last[1])
				e->near[e->nnear++] = names[side];
		if (names[0] != MATCH_NONE)
			memcpy(last, names, sizeof last);
		e->v[i].near = (uint32_t)e->nnear;
	}
	if (e->nnear == 0 && e->course->closures == 1)
		e->near[e->nnear++] = 0;
	for (size_t i = 0; i < e->stream->n; i++) {
		uint32_t at = e->v[i].near, first = at > NEAR ? at - NEAR : 0;

		e->v[i].near = first;
		e->v[i].nnear = (at + NEAR < e->nnear ? at + NEAR : (uint32_t)e->nnear) - first;
	}
}

static void
set_dirs(struct match_evidence *e)
{
	for (uint32_t c = 0; c < e->course->closures; c++) {
		int dir = e->stated->order;

		for (size_t k = 0; k < e->stated->nvisits; k++) {
			const struct match_visit *v = &e->stated->visits[k];

			if (v->closure == c && v->machine == e->stream->machine && v->dir >= 0)
				dir = v->dir;
		}
		e->stated_dir[c] = dir >= 0;
		for (int d = 0; d < MATCH_DIRS; d++)
			e->dirs[c][d] = dir >= 0 ? d == dir : d < MATCH_BY_PLAN ? 1.0 / 3 : 0;
	}
}

void
match_evidence_open(struct match_evidence *e, const struct match_arcs *arcs,
    const struct match_stream *stream, const struct match_course *course,
    const struct match_stated *stated)
{
	uint32_t last[TYPED_PARTS] = { MATCH_NONE, MATCH_NONE, MATCH_NONE };
	size_t visit = 0;

	*e = (struct match_evidence){
		.arcs = arcs, .stream = stream, .course = course, .stated = stated, .habits = usual
	};
	e->habits.shares = match_usual;
	e->v = mem_zeroed(stream->n + 1, sizeof *e->v);
	e->hints = mem_zeroed(stream->n + 1, sizeof *e->hints);
	e->dirs = mem_zeroed(course->closures + 1, sizeof *e->dirs);
	e->stated_dir = mem_zeroed(course->closures + 1, sizeof *e->stated_dir);
	e->pace_s = pace_of(stream);
	while (visit < stated->nvisits && stated->visits[visit].machine != stream->machine)
		visit++;
	for (size_t i = 0; i < stream->n; i++) {
		const struct match_seen *seen = &stream->seen[i];
		struct match_hint *h = &e->hints[i];

		*h = (struct match_hint){ MATCH_NONE, MATCH_NONE, MATCH_NONE, .gap = NAN };
		set_typed(e, i, last);
		if (seen->rows > 0) {
			set_visit(e, i, &arcs->v[seen->first], visit);
			set_answer(e, i, &arcs->v[seen->first]);
		}
		if (seen->missing == 0)
			h->gap = gap_of(e, seen);
		e->v[i].typed =
		    h->typed != MATCH_NONE || h->visit != MATCH_NONE || h->answer != MATCH_NONE;
	}
	set_near(e);
	set_dirs(e);
}

void
match_evidence_free(struct match_evidence *e)
{
	free(e->v);
	free(e->hints);
	free(e->near);
	free(e->dirs);
	free(e->stated_dir);
	*e = (struct match_evidence){ NULL };
}
