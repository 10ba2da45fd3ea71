#include "match/moves.h"

#include <stdlib.h>
#include <string.h>

#include "base/mem.h"

/*
 * The shares of moves. All are common practice as crews tell it, in round numbers, and were not fitted
 * to the simulations they are tried on. What is learnt from the night begins with match_usual.
 */
static const double further = 0.35;    /* of joints left out, that the next one is left out too */
static const double retried = 0.88,    /* a bad attempt is made again at once, */
    practise_bad = 0.05;               /* or only after practice */
static const double away = 0.002,      /* work of another plan between two joints */
    away_stays = 0.5;                  /* and it goes on; */
static const double gone_stays = 0.93, /* where the closure was left for it */
    practice_goes_on = 0.55;
static const double return_more =
			0.6, /* once a crew is at joints left out, on to the next of them; */
    return_first = 0.6,      /* to the first one, not to any */
    out_of_turn = 0.002;     /* to any open joint of the closure */

/*
 * Where the crew is, and what it does there if it does not go on to the next slot: it returns to joints
 * left out; of the rest, so much goes to another tray, or out of the closure.
 */
enum where { IN_TRAY, TRAY_DONE, CLOSURE_DONE };
static const struct {
	double back, tray, leave;
} elsewhere[] = {
	[IN_TRAY] = { 0.02, 0.003, 0.002 }, /* called away, shift's end */
	/* half of the crews look over the tray, and half of what they find waits for something */
	[TRAY_DONE] = { 0.25, 0.95, 0.05 },
	[CLOSURE_DONE] = { 0.65, 0, 1 }, /* before the lid is put on */
};

static const double enter_middle = 0.015, /* a tray begun in its middle */
    enter_made = 0.02,                    /* at a joint that is made, to make it again; */
    enter_done = 0.5;                     /* there is nothing else to do in the tray */
static const double open_perhaps = 0.15; /* of places that are all perhaps made, that one is open */
static const double again_far = 0.3, /* of those made again although good, not the last one made, */
    again_closure = 0.02;            /* nor one of its tray; */
static const double again_closed = 0.5; /* when all is made, and the lid is still off */

/* Which tray comes next: the one above, the one below, any other. */
static const double tray_up = 0.80, tray_down = 0.12, tray_other = 0.08;

/* Between two closures: practice first, work of another plan; into the first open tray, or any other. */
static const double between_practice = 0.25, between_away = 0.25, tray_first = 0.6;

/* An attempt that is kept with less than this is not made. */
static const double made_if_kept = 0.3;

/* With more open places than these behind the last one made, a tray is worked in parts. */
enum { LEFT_OUT_MOST = 2 };

const struct match_shares match_usual = { 0.010, 0.004, 0.012,
	{ 0.001, 0.03, 0.15, 0.4, 0.7, 0.9, 0.98, 0.999 } };

/* --- what is made ---------------------------------------------------------------------------- */

static uint32_t
first_unit(const struct match_course *c, uint32_t closure)
{
	return c->tray_first[c->closure_first[closure]];
}

static uint32_t
closure_of(const struct match_course *c, uint32_t unit)
{
	return c->closure_of[c->tray_of[unit]];
}

/* how many words the made ones of a closure have, and the perhaps made ones as many */
static size_t
half_of(const struct match_moves *m, uint32_t closure)
{
	return (m->place[closure + 1] - m->place[closure]) / 2;
}

static uint32_t
set_number(struct match_moves *m, const uint64_t *words, uint32_t closure)
{
	struct field key = { (const char *)words, 2 * half_of(m, closure) * sizeof *words };

	return (uint32_t)ids_add(&m->sets, &key, 1, NULL);
}

static void
load(const struct match_moves *m, uint32_t made, uint64_t *words)
{
	struct field key = ids_key(&m->sets, made);

	memcpy(words, key.p, key.n);
}

static void
mark(uint64_t *words, size_t half, uint32_t i, bool surely)
{
	uint64_t bit = UINT64_C(1) << i % 64;

	if (surely) {
		words[i / 64] |= bit;
		words[half + i / 64] &= ~bit;
	} else if ((words[i / 64] & bit) == 0)
		words[half + i / 64] |= bit;
}

void
match_moves_open(struct match_moves *m, const struct match_course *course,
    const double (*dirs)[MATCH_DIRS], const struct match_shares *shares)
{
	size_t most = 1;

	*m = (struct match_moves){ course, *shares, dirs, .sets = IDS_NONE };
	m->place = mem_zeroed(course->closures + 1u, sizeof *m->place);
	for (uint32_t c = 0; c < course->closures; c++) {
		size_t words =
		    2 * ((size_t)(first_unit(course, c + 1) - first_unit(course, c) + 63) / 64);

		m->place[c + 1] = m->place[c] + words;
		most = words > most ? words : most;
	}
	m->found = mem_zeroed(m->place[course->closures] + 1, sizeof *m->found);
	m->words = mem_zeroed(2 * most, sizeof *m->words);
	m->trays = mem_zeroed(course->trays + 1u, sizeof *m->trays);
	m->units = mem_zeroed(course->units + 1u, sizeof *m->units);
}

void
match_moves_free(struct match_moves *m)
{
	ids_free(&m->sets);
	free(m->steps);
	free(m->found);
	free(m->place);
	free(m->words);
	free(m->trays);
	free(m->units);
}

void
match_moves_find(struct match_moves *m, uint32_t unit, bool surely)
{
	uint32_t c = closure_of(m->course, unit);

	mark(m->found + m->place[c], half_of(m, c), unit - first_unit(m->course, c), surely);
}

void
match_moves_leave(struct match_moves *m, const struct match_state *s)
{
	if (s->unit == MATCH_NONE)
		return;
	load(m, s->made, m->found + m->place[closure_of(m->course, s->unit)]);
	if (m->shares.kept[s->look] >= made_if_kept)
		match_moves_find(m, s->unit, true);
}

uint32_t
match_either(struct match_moves *m, const struct match_state *a, uint32_t made_in_b)
{
	uint32_t c = a->unit == MATCH_NONE ? 0 : closure_of(m->course, a->unit);
	size_t half = half_of(m, c);
	uint64_t *x = m->words, *y = m->words + 2 * half;

	if (a->made == made_in_b)
		return a->made;
	load(m, a->made, x);
	load(m, made_in_b, y);
	for (size_t i = 0; i < half; i++) {
		x[half + i] |= y[half + i] | (x[i] ^ y[i]);
		x[i] &= y[i];
		x[half + i] &= ~x[i];
	}
	return set_number(m, x, c);
}

void
match_moves_forget(struct match_moves *m)
{
	ids_free(&m->sets);
	m->sets = (struct ids)IDS_NONE;
}

const char *
match_moves_set(struct match_moves *m, struct match_state *s, const char *words)
{
	uint32_t c;

	if (s->unit == MATCH_NONE)
		return words;
	c = closure_of(m->course, s->unit);
	memcpy(m->words, words, 2 * half_of(m, c) * sizeof *m->words);
	s->made = set_number(m, m->words, c);
	return words + 2 * half_of(m, c) * sizeof *m->words;
}

/* --- places ---------------------------------------------------------------------------------- */

uint32_t
match_unit_at(const struct match_course *c, uint32_t tray, unsigned dir, uint32_t place)
{
	uint32_t first = c->tray_first[tray], n = c->tray_first[tray + 1] - first;
	uint32_t odd = (n + 1) / 2;

	if (dir == MATCH_REVERSE)
		return first + n - 1 - place;
	if (dir == MATCH_ALTERNATE)
		return first + (place < odd ? 2 * place : 2 * (place - odd) + 1);
	if (dir == MATCH_BY_PLAN)
		return c->by_plan[first + place].unit;
	return first + place;
}

/* a move being made */
struct from {
	struct match_moves *m;
	const struct match_toward *toward;
	struct match_state
	    at; /* where it comes from; in a closure that is entered, its order and set */
	bool after_practice;
	uint32_t closure, base; /* base: its first unit */
	const uint64_t *words;  /* what is made there */
	size_t half;
};

static void
stand_in(struct from *f, uint32_t closure, const uint64_t *words)
{
	f->closure = closure;
	f->base = first_unit(f->m->course, closure);
	f->words = words;
	f->half = half_of(f->m, closure);
}

enum made { OPEN, PERHAPS, MADE };

static enum made
made_at(const struct from *f, uint32_t unit)
{
	uint32_t i = unit - f->base;

	return f->words[i / 64] >> i % 64 & 1             ? MADE
	       : f->words[f->half + i / 64] >> i % 64 & 1 ? PERHAPS
							  : OPEN;
}

/* How many units from first to end are made. */
static uint32_t
count_made(const struct from *f, uint32_t first, uint32_t end)
{
	uint32_t n = 0, i = first - f->base, last = end - 1 - f->base;

	for (uint32_t w = i / 64; w <= last / 64; w++) {
		uint64_t bits = f->words[w];

		if (w == i / 64)
			bits &= ~UINT64_C(0) << i % 64;
		if (w == last / 64)
			bits &= ~UINT64_C(0) >> (63 - last % 64);
		for (; bits != 0; bits &= bits - 1)
			n++;
	}
	return n;
}

/* Looks at all trays of the closure as they are found: what is ahead, what was left out. */
static void
look_round(const struct from *f)
{
	const struct match_course *c = f->m->course;

	for (uint32_t t = c->closure_first[f->closure]; t < c->closure_first[f->closure + 1]; t++) {
		uint32_t n = c->tray_first[t + 1] - c->tray_first[t];
		uint32_t made_here = count_made(f, c->tray_first[t], c->tray_first[t + 1]);
		/* behind the last place made: the front, unless too many are open before it */
		uint32_t last = 0, holes = 0, open = 0, lowest = n, here = n;
		struct match_tray *to = &f->m->trays[t];

		*to = (struct match_tray){ n, made_here, made_here == 0, 0 };
		if ((made_here == 0 || made_here == n) &&
		    (f->at.unit == MATCH_NONE || c->tray_of[f->at.unit] != t))
			continue;
		for (uint32_t place = 0; place < n; place++) {
			uint32_t unit = match_unit_at(c, t, f->at.dir, place);

			if (unit == f->at.unit)
				here = place;
			if (made_at(f, unit) == MADE) {
				last = place + 1;
				holes = open;
			} else if (open++ == 0)
				lowest = place;
		}
		*to = (struct match_tray){ n, holes <= LEFT_OUT_MOST ? last : lowest, 0, 0 };
		if (here < n && (holes > LEFT_OUT_MOST || last <= here))
			to->front = here + 1;
		for (uint32_t place = 0; place < n; place++) {
			enum made made = made_at(f, match_unit_at(c, t, f->at.dir, place));

			if (made == MADE || place == here)
				continue;
			to->ahead |= place >= to->front;
			if (place < to->front && to->left < 1)
				to->left = made == OPEN ? 1 : open_perhaps;
		}
	}
}

/* --- steps ----------------------------------------------------------------------------------- */

static enum match_how
how_of(const struct from *f, enum match_how how)
{
	return f->after_practice && how < MATCH_TRAY ? MATCH_RESUME : how;
}

static bool
enough(const struct from *f, double weight, enum match_how how)
{
	weight *= f->toward->by_how[how_of(f, how)];
	return weight >= f->toward->least && weight > 0;
}

static void
step(const struct from *f, struct match_state to, double weight, enum match_how how)
{
	struct match_moves *m = f->m;

	if (!enough(f, weight, how))
		return;
	how = how_of(f, how);
	m->steps = mem_grow(m->steps, &m->cap, m->n + 1, sizeof *m->steps);
	m->steps[m->n++] = (struct match_step){ to, weight * f->toward->by_how[how], how };
}

static void
attempt(const struct from *f, uint32_t unit, bool back, double weight, enum match_how how)
{
	struct match_state to = f->at;

	to.unit = unit;
	to.back = back;
	to.mode = MATCH_ATTEMPT;
	to.look = f->toward->look;
	step(f, to, weight, how);
}

/* Attempts at all units from first to end that are made, or that are not, equally likely. */
static void
spread(const struct from *f, uint32_t first, uint32_t end, bool made, double weight,
    enum match_how how)
{
	uint32_t n;

	if (!enough(f, weight, how))
		return;
	n = count_made(f, first, end);
	n = made ? n : end - first - n;
	if (n == 0 || !enough(f, weight / n, how))
		return;
	for (uint32_t u = first; u < end; u++)
		if ((made_at(f, u) == MADE) == made)
			attempt(f, u, true, weight / n, how);
}

/*
 * On through the open places ahead: the first of them, or further ones. Returns the weight of leaving
 * out all. Of a place that is perhaps made half of the weight is taken by the case that it is not.
 */
static double
run_on(const struct from *f, uint32_t tray, uint32_t place, double weight, enum match_how how)
{
	double skip = f->m->shares.skip, first = weight, later = 0;

	for (; place < f->m->trays[tray].n; place++) {
		uint32_t unit = match_unit_at(f->m->course, tray, f->at.dir, place);
		enum made made = made_at(f, unit);
		double share = made == PERHAPS ? 0.5 : 1;

		if (made == MADE)
			continue;
		if (!enough(f, first + later, how) &&
		    (how != MATCH_NEXT || !enough(f, first + later, MATCH_SKIP)))
			return 0;
		attempt(f, unit, false, share * (first * (1 - skip) + later * (1 - further)),
		    how == MATCH_NEXT && later > first ? MATCH_SKIP : how);
		later = (1 - share) * later + share * (first * skip + later * further);
		first *= 1 - share;
	}
	return first + later;
}

/* Back to units left out in some trays: mostly to the first. */
static void
back_to(const struct from *f, uint32_t tray, uint32_t end, double weight)
{
	uint32_t *v = f->m->units, n = 0;

	if (!enough(f, weight, MATCH_RETURN))
		return;
	for (uint32_t t = tray; t < end; t++)
		for (uint32_t place = 0; place < f->m->trays[t].front; place++) {
			uint32_t unit = match_unit_at(f->m->course, t, f->at.dir, place);

			if (unit != f->at.unit && made_at(f, unit) != MADE)
				v[n++] = unit;
		}
	for (uint32_t i = 0; i < n; i++)
		attempt(f, v[i], true,
		    weight * ((1 - return_first) / n + (i == 0 ? return_first : 0)), MATCH_RETURN);
}

static void
enter_tray(const struct from *f, uint32_t tray, double weight, enum match_how how)
{
	const struct match_tray *t = &f->m->trays[tray];
	uint32_t first = f->m->course->tray_first[tray];

	if (!enough(f, weight, how))
		return;
	run_on(f, tray, t->ahead ? t->front : 0, weight * (1 - enter_middle - enter_made), how);
	spread(f, first, first + t->n, false, weight * enter_middle, how);
	spread(f, first, first + t->n, true,
	    weight * (count_made(f, first, first + t->n) < t->n ? enter_made : enter_done), how);
}

/* Into another closure, in each of its slot orders: into the first tray with something ahead, or any other. */
static void
enter(const struct from *from, uint32_t closure, double weight)
{
	struct match_moves *m = from->m;
	uint32_t begin = m->course->closure_first[closure];
	uint32_t end = m->course->closure_first[closure + 1], first;
	struct from f = *from;

	if (!enough(&f, weight, MATCH_ENTER))
		return;
	stand_in(&f, closure, m->found + m->place[closure]);
	f.at = (struct match_state){ MATCH_NONE, set_number(m, f.words, closure), .back = 0 };
	for (f.at.dir = 0; f.at.dir < MATCH_DIRS; f.at.dir++) {
		double w = weight * m->dirs[closure][f.at.dir];

		if (!enough(&f, w, MATCH_ENTER))
			continue;
		look_round(&f);
		for (first = begin; first < end && !m->trays[first].ahead;)
			first++;
		for (uint32_t t = begin; t < end; t++)
			enter_tray(&f, t,
			    end - begin < 2 ? w
			    : t == first    ? w * tray_first
					    : w * (1 - tray_first) / (end - begin - 1),
			    MATCH_ENTER);
	}
}

/* Out of the closure. */
static void
leave(const struct from *f, double weight)
{
	const struct match_toward *to = f->toward;
	struct match_state out = { .unit = MATCH_NONE, .mode = MATCH_PRACTICE };
	uint32_t n = 0;

	step(f, out, weight * between_practice, MATCH_PRACTISE);
	out.mode = MATCH_AWAY;
	step(f, out, weight * between_away, MATCH_GO_AWAY);
	weight *= 1 - between_practice - between_away;
	for (size_t i = 0; i < to->nnear; i++)
		n += to->near[i] != f->closure;
	for (size_t i = 0; i < to->nnear; i++)
		if (to->near[i] != f->closure)
			enter(f, to->near[i], weight / n);
}

/* To another tray in which something is ahead. */
static void
next_tray(const struct from *f, uint32_t tray, double weight)
{
	const struct match_tray *trays = f->m->trays;
	uint32_t first = f->m->course->closure_first[f->closure];
	uint32_t end = f->m->course->closure_first[f->closure + 1], up = end, down = end, n = 0;
	double all;

	for (uint32_t t = first; t < end; t++)
		if (t != tray && trays[t].ahead) {
			up = t > tray && up == end ? t : up;
			down = t < tray ? t : down;
			n++;
		}
	n -= (up < end) + (down < end);
	all = (up < end) * tray_up + (down < end) * tray_down + (n > 0) * tray_other;
	for (uint32_t t = first; t < end; t++)
		if (t != tray && trays[t].ahead)
			enter_tray(f, t,
			    weight / all *
				(t == up        ? tray_up
				    : t == down ? tray_down
						: tray_other / n),
			    MATCH_TRAY);
}

/* --- from where ------------------------------------------------------------------------------ */

/* The last attempt is behind the crew, kept or given up: on to something else. */
static void
go_on(const struct from *f, double weight)
{
	const struct match_course *c = f->m->course;
	uint32_t tray = c->tray_of[f->at.unit], first = c->closure_first[f->closure],
		 end = c->closure_first[f->closure + 1];
	const struct match_tray *trays = f->m->trays;
	double again = f->m->shares.again * again_far, left = trays[tray].left, back, to_tray;
	enum where where = CLOSURE_DONE;

	spread(f, c->tray_first[tray], c->tray_first[tray + 1], true, weight * again, MATCH_AGAIN);
	spread(
	    f, c->tray_first[first], c->tray_first[end], false, weight * out_of_turn, MATCH_RETURN);
	weight *= 1 - again - out_of_turn;
	for (uint32_t t = first; t < end; t++)
		where = trays[t].ahead ? TRAY_DONE : where;
	where = trays[tray].ahead ? IN_TRAY : where;
	again = f->m->shares.again * (where == CLOSURE_DONE ? again_closed : again_closure);
	spread(f, c->tray_first[first], c->tray_first[end], true, weight * again, MATCH_AGAIN);
	weight *= 1 - again;
	for (uint32_t t = first; t < end && where == CLOSURE_DONE; t++)
		left = trays[t].left > left ? trays[t].left : left;
	back = weight * left * (f->at.back ? return_more : elsewhere[where].back);
	back_to(
	    f, where == CLOSURE_DONE ? first : tray, where == CLOSURE_DONE ? end : tray + 1, back);
	weight -= back;
	to_tray = weight * elsewhere[where].tray;
	if (where == IN_TRAY)
		to_tray += run_on(f, tray, trays[tray].front,
		    weight * (1 - elsewhere[where].tray - elsewhere[where].leave), MATCH_NEXT);
	if (where != CLOSURE_DONE)
		next_tray(f, tray, to_tray);
	leave(f, weight * elsewhere[where].leave);
}

/* From a unit: by what became of the last attempt. */
static void
from_unit(struct from *f, double weight)
{
	struct match_moves *m = f->m;
	double kept = m->shares.kept[f->at.look], bad = 1 - kept;
	double retry = kept * m->shares.again * (1 - again_far) + bad * retried;
	double practise = f->after_practice ? 0 : kept * m->shares.practise + bad * practise_bad;
	struct match_state to = f->at;

	attempt(f, to.unit, to.back, weight * retry, MATCH_RETRY);
	to.mode = MATCH_PRACTICE;
	step(f, to, weight * practise, MATCH_PRACTISE);
	to.mode = MATCH_AWAY;
	step(f, to, weight * away, MATCH_GO_AWAY);
	load(m, to.made, m->words);
	if (kept >= made_if_kept) {
		mark(m->words, f->half, to.unit - f->base, true);
		f->at.made = set_number(m, m->words, f->closure);
	}
	look_round(f);
	go_on(f, weight * (1 - retry - practise - away));
}

void
match_moves_from(
    struct match_moves *m, const struct match_state *from, const struct match_toward *toward)
{
	bool out = from->unit == MATCH_NONE, attempted = from->mode == MATCH_ATTEMPT;
	double stays = from->mode == MATCH_PRACTICE ? practice_goes_on
		       : out                        ? gone_stays
						    : away_stays;
	struct from f = { m, toward, *from, from->mode == MATCH_PRACTICE, .closure = MATCH_NONE };

	m->n = 0;
	if (attempted)
		stays = 0;
	step(&f, *from, stays, from->mode == MATCH_PRACTICE ? MATCH_PRACTISE : MATCH_GO_AWAY);
	if (out) {
		leave(&f, 1 - stays);
		return;
	}
	stand_in(&f, closure_of(m->course, from->unit), m->words);
	from_unit(&f, 1 - stays);
}
