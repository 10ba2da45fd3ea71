#include "match/moves.h"

#include <stdlib.h>
#include <string.h>

#include "base/mem.h"

/*
 * The shares of moves. All are common practice as crews tell it, in round numbers, and were not fitted
 * to the simulations they are tried on. What is learnt from the night begins with match_usual.
 */
static const double further = 0.35, /* of joints left out, that the next one is left out too */
    retried = 0.88,                 /* a bad attempt is made again at once; */
    practise_bad = 0.05,            /* or only after practice */
    away = 0.002,                   /* work of another plan between two joints */
    away_stays = 0.5,               /* and it goes on; */
    gone_stays = 0.93,              /* where the closure was left for it */
    practice_goes_on = 0.55,
		    return_in_tray =
			0.004, /* back to a joint left out, in the middle of the tray; */
    return_at_tray =
	0.25, /* at its end: half of the crews look over the tray, and half of what they
			       find waits for something; */
    return_at_closure = 0.65, /* before the lid is put on */
    return_more = 0.6,        /* and once they are at it, to the next one left out */
    out_of_turn = 0.002,      /* to any open joint of the closure */
    tray_early = 0.003,       /* another tray before this one is full */
    leave_in_tray = 0.002,    /* another closure: called away, shift's end */
    leave_at_tray = 0.05, enter_middle = 0.015, /* a tray begun in its middle */
    open_perhaps = 0.15, /* places that are all perhaps made count as one so likely open */
    enter_made = 0.02,   /* at a joint that is made, to make it again */
    again_far = 0.3;     /* of those made again although good, that are not the last one made */

/* Which tray comes next: the one above, the one below, any other. */
static const double tray_up = 0.80, tray_down = 0.12, tray_other = 0.08;

/* From a door: practice first, work of another plan, the tray that is first, any other. */
static const double door_practice = 0.25, door_away = 0.25, door_first = 0.6;

const struct match_shares match_usual = { 0.010, 0.004, 0.012,
	{ 0.001, 0.03, 0.15, 0.4, 0.7, 0.9, 0.98, 0.999 } };

void
match_moves_open(struct match_moves *m, const struct match_course *course,
    const double (*dirs)[MATCH_DIRS], const uint32_t *made)
{
	struct ids none = IDS_NONE;
	uint32_t most = 1;

	for (uint32_t c = 0; c < course->closures; c++)
		if (course->closure_first[c + 1] - course->closure_first[c] > most)
			most = course->closure_first[c + 1] - course->closure_first[c];
	m->course = course;
	m->dirs = dirs;
	m->made = made;
	m->sets = none;
	m->steps = NULL;
	m->n = m->cap = 0;
	m->words = mem_zeroed(4 * (size_t)most, sizeof *m->words);
}

void
match_moves_free(struct match_moves *m)
{
	ids_free(&m->sets);
	free(m->steps);
	free(m->words);
}

/* --- places and sets ------------------------------------------------------------------------- */

static uint32_t
tray_number(const struct match_course *c, const struct match_state *s)
{
	return c->closure_first[s->closure] + s->tray;
}

static unsigned
tray_units(const struct match_course *c, uint32_t tray)
{
	return c->tray_first[tray + 1] - c->tray_first[tray];
}

/* Which unit of its tray, from 0, stands at a place of the slot order. */
static unsigned
offset_of(const struct match_course *c, uint32_t tray, unsigned dir, unsigned place)
{
	unsigned n = tray_units(c, tray), odd = (n + 1) / 2;

	if (dir == MATCH_REVERSE)
		return n - 1 - place;
	if (dir == MATCH_ALTERNATE)
		return place < odd ? 2 * place : 2 * (place - odd) + 1;
	if (dir == MATCH_BY_PLAN)
		return c->by_plan[c->tray_first[tray] + place];
	return place;
}

uint32_t
match_unit(const struct match_course *c, const struct match_state *s)
{
	uint32_t tray = tray_number(c, s);

	return c->tray_first[tray] + offset_of(c, tray, s->dir, s->place);
}

static uint64_t
bits(unsigned n)
{
	return n >= 64 ? ~UINT64_C(0) : (UINT64_C(1) << n) - 1;
}

static unsigned
lowest(uint64_t v)
{
#ifdef __GNUC__
	return (unsigned)__builtin_ctzll(v);
#else
	unsigned n = 0;

	while ((v >> n & 1) == 0)
		n++;
	return n;
#endif
}

static unsigned
count(uint64_t v)
{
	unsigned n = 0;

	for (; v != 0; v &= v - 1)
		n++;
	return n;
}

/* One bit a unit made one bit a place, and back. */
static uint64_t
to_places(const struct match_course *c, uint32_t tray, unsigned dir, uint64_t units)
{
	uint64_t places = 0;

	if (dir == MATCH_WORK || units == 0)
		return units;
	for (unsigned p = 0; p < tray_units(c, tray); p++)
		places |= (units >> offset_of(c, tray, dir, p) & 1) << p;
	return places;
}

static uint64_t
to_units(const struct match_course *c, uint32_t tray, unsigned dir, uint64_t places)
{
	uint64_t units = 0;

	if (dir == MATCH_WORK)
		return places;
	for (uint64_t left = places; left != 0; left &= left - 1)
		units |= UINT64_C(1) << offset_of(c, tray, dir, lowest(left));
	return units;
}

static uint32_t
set_number(struct match_moves *m, const void *p, size_t bytes)
{
	struct field key = { p, bytes };

	return (uint32_t)ids_add(&m->sets, &key, 1, NULL);
}

uint32_t
match_set_of(struct match_moves *m, const uint64_t *words, size_t trays)
{
	return set_number(m, words, 2 * trays * sizeof *words);
}

static size_t
trays_of(const struct match_course *c, uint32_t closure)
{
	return c->closure_first[closure + 1] - c->closure_first[closure];
}

/* The words of a state's closure, two a tray: done and perhaps done, its own tray's included. */
static void
load(const struct match_moves *m, const struct match_state *s, uint64_t *words)
{
	struct field set = ids_key(&m->sets, s->others);
	uint32_t tray = tray_number(m->course, s);

	memcpy(words, set.p, set.n);
	words[2 * s->tray] = to_units(m->course, tray, s->dir, s->done);
	words[2 * s->tray + 1] = to_units(m->course, tray, s->dir, s->maybe);
}

struct past {
	uint32_t closure, set;
};

enum { PAST_MOST = 64 };

/* The past with one more closure left; of more than PAST_MOST the first is forgotten. */
static uint32_t
past_with(struct match_moves *m, uint32_t past, uint32_t closure, uint32_t set)
{
	struct past list[PAST_MOST + 1];
	struct field was = ids_key(&m->sets, past);
	size_t n = was.n / sizeof list[0], k = 0;

	if (n > 0)
		memcpy(list, was.p, was.n);
	while (k < n && list[k].closure != closure)
		k++;
	if (k == PAST_MOST) {
		memmove(list, list + 1, (PAST_MOST - 1) * sizeof list[0]);
		k = n - 1;
	}
	list[k] = (struct past){ closure, set };
	return set_number(m, list, (k < n ? n : n + 1) * sizeof list[0]);
}

/* What is made in a closure that is entered: by this machine before, and by others. */
static void
load_past(const struct match_moves *m, uint32_t past, uint32_t closure, uint64_t *words)
{
	size_t trays = trays_of(m->course, closure);
	struct field list = ids_key(&m->sets, past);
	struct past p;

	memset(words, 0, 2 * trays * sizeof *words);
	if (m->made != NULL && m->made[closure] != MATCH_NONE)
		memcpy(words, ids_key(&m->sets, m->made[closure]).p, 2 * trays * sizeof *words);
	for (size_t at = 0; at + sizeof p <= list.n; at += sizeof p) {
		memcpy(&p, list.p + at, sizeof p);
		if (p.closure != closure)
			continue;
		for (size_t i = 0; i < 2 * trays; i++) {
			uint64_t word;

			memcpy(&word, ids_key(&m->sets, p.set).p + i * sizeof word, sizeof word);
			words[i] |= word;
		}
	}
	for (size_t t = 0; t < trays; t++)
		words[2 * t + 1] &= ~words[2 * t];
}

struct match_state
match_moves_start(struct match_moves *m)
{
	struct match_state s = { .closure = MATCH_NONE, .mode = MATCH_DOOR };

	s.past = set_number(m, "", 0);
	return s;
}

struct match_state
match_either(struct match_moves *m, const struct match_state *a, const struct match_state *b)
{
	struct match_state s = *a;
	struct field x, y;
	size_t n;

	s.maybe = a->maybe | b->maybe | (a->done ^ b->done);
	s.done = a->done & b->done;
	s.maybe &= ~s.done;
	if (a->closure == MATCH_NONE || a->mode == MATCH_DOOR || a->others == b->others)
		return s;
	x = ids_key(&m->sets, a->others);
	y = ids_key(&m->sets, b->others);
	n = x.n / sizeof *m->words;
	memcpy(m->words, x.p, x.n);
	memcpy(m->words + n, y.p, y.n);
	for (size_t i = 0; i < n; i += 2) {
		uint64_t *p = m->words + i, *q = p + n;

		p[1] |= q[1] | (p[0] ^ q[0]);
		p[0] &= q[0];
		p[1] &= ~p[0];
	}
	s.others = set_number(m, m->words, x.n);
	return s;
}

/* --- steps ----------------------------------------------------------------------------------- */

struct from {
	struct match_moves *m;
	const struct match_state *state;
	const struct match_toward *toward;
	double least;
	bool after_practice;
};

static enum match_how
how_of(const struct from *f, enum match_how how)
{
	return f->after_practice && how < MATCH_TRAY ? MATCH_RESUME : how;
}

static bool
enough(const struct from *f, double weight, enum match_how how)
{
	weight *= f->toward->by_how[how_of(f, how)];
	return weight >= f->least && weight > 0;
}

static void
step(const struct from *f, const struct match_state *to, double weight, enum match_how how)
{
	struct match_moves *m = f->m;

	if (!enough(f, weight, how))
		return;
	m->steps = mem_grow(m->steps, &m->cap, m->n + 1, sizeof *m->steps);
	how = how_of(f, how);
	m->steps[m->n++] = (struct match_step){ *to, weight * f->toward->by_how[how], how };
}

static void
attempt(const struct from *f, const struct match_state *base, unsigned place, double weight,
    enum match_how how)
{
	struct match_state to = *base;

	to.place = (uint8_t)place;
	to.back = place < base->front;
	if (!to.back)
		to.front = (uint8_t)(place + 1);
	to.mode = MATCH_ATTEMPT;
	to.look = f->toward->look;
	step(f, &to, weight, how);
}

/* Attempts at some open places, equally likely. */
static void
spread(const struct from *f, const struct match_state *base, uint64_t places, double weight,
    enum match_how how)
{
	unsigned n = count(places);

	if (n == 0 || !enough(f, weight / n, how))
		return;
	for (; places != 0; places &= places - 1)
		attempt(f, base, lowest(places), weight / n, how);
}

/*
 * On through the open places: the first of them, or further ones. Returns the weight of leaving out
 * all. Of a place that is perhaps made half of the weight is taken by the case that it is not.
 */
static double
run_on(const struct from *f, const struct match_state *base, uint64_t open, double weight,
    enum match_how how)
{
	double skip = f->m->shares.skip, first = weight, later = 0;

	for (; open != 0; open &= open - 1) {
		unsigned place = lowest(open);
		double share = base->maybe >> place & 1 ? 0.5 : 1, here;

		if (!enough(f, first + later, how) &&
		    (how != MATCH_NEXT || !enough(f, first + later, MATCH_SKIP)))
			return 0;
		here = share * (first * (1 - skip) + later * (1 - further));
		attempt(
		    f, base, place, here, how == MATCH_NEXT && later > first ? MATCH_SKIP : how);
		later = (1 - share) * later + share * (first * skip + later * further);
		first *= 1 - share;
	}
	return first + later;
}

enum { HOLES_MOST = 2 };

/*
 * The front of a tray that is entered: behind its last place made; or, as where another machine made
 * the second half, at its first open one.
 */
static uint8_t
front_of(uint64_t done, unsigned n)
{
	unsigned front = 0;

	while (front < n && done >> front != 0)
		front++;
	return (uint8_t)(count(bits(front) & ~done) <= HOLES_MOST ? front : lowest(~done));
}

/* Into a tray of the state's closure, whose words are given. */
static void
enter_tray(const struct from *f, const struct match_state *base, uint64_t *words, unsigned tray,
    double weight, enum match_how how)
{
	const struct match_course *c = f->m->course;
	uint32_t t = c->closure_first[base->closure] + tray;
	struct match_state s = *base;
	uint64_t open, ahead, keep[2] = { words[2 * tray], words[2 * tray + 1] };

	if (!enough(f, weight, how))
		return;
	s.tray = (uint16_t)tray;
	s.done = to_places(c, t, s.dir, keep[0]);
	s.maybe = to_places(c, t, s.dir, keep[1]);
	s.front = front_of(s.done, tray_units(c, t));
	open = bits(tray_units(c, t)) & ~s.done;
	if (open == 0 && !enough(f, weight * enter_made, how))
		return;
	words[2 * tray] = words[2 * tray + 1] = 0;
	s.others = match_set_of(f->m, words, trays_of(c, s.closure));
	words[2 * tray] = keep[0];
	words[2 * tray + 1] = keep[1];
	ahead = open & ~bits(s.front);
	run_on(f, &s, ahead != 0 ? ahead : open, weight * (1 - enter_middle - enter_made), how);
	spread(f, &s, open, weight * enter_middle, how);
	spread(f, &s, s.done, weight * enter_made, how);
}

/* true if a tray is not worked to its end, in the slot order */
static bool
has_ahead(
    const struct match_course *c, const struct match_state *s, const uint64_t *words, unsigned tray)
{
	uint32_t t = c->closure_first[s->closure] + tray;

	return ((words[2 * tray] | words[2 * tray + 1]) >>
		       offset_of(c, t, s->dir, tray_units(c, t) - 1) &
		   1) == 0;
}

static uint64_t
open_in(
    const struct match_course *c, const struct match_state *s, const uint64_t *words, unsigned tray)
{
	return bits(tray_units(c, c->closure_first[s->closure] + tray)) & ~words[2 * tray];
}

/* How much of the weight of a return there is: all if a place is surely open. */
static double
share_open(uint64_t open, uint64_t maybe)
{
	return (open & ~maybe) != 0 ? 1 : open != 0 ? open_perhaps : 0;
}

/* To another tray that is not worked to its end. */
static void
next_tray(const struct from *f, const struct match_state *s, uint64_t *words, double weight)
{
	const struct match_course *c = f->m->course;
	unsigned trays = (unsigned)trays_of(c, s->closure), up = s->tray + 1u, down = s->tray,
		 n = 0;
	double all;

	while (up < trays && !has_ahead(c, s, words, up))
		up++;
	while (down > 0 && !has_ahead(c, s, words, down - 1))
		down--;
	for (unsigned t = 0; t < trays; t++)
		n += t != s->tray && t != up && t + 1 != down && has_ahead(c, s, words, t);
	all = (up < trays) * tray_up + (down > 0) * tray_down + (n > 0) * tray_other;
	if (all <= 0)
		return;
	weight /= all;
	if (up < trays)
		enter_tray(f, s, words, up, weight * tray_up, MATCH_TRAY);
	if (down > 0)
		enter_tray(f, s, words, down - 1, weight * tray_down, MATCH_TRAY);
	if (n > 0 && enough(f, weight * tray_other / n, MATCH_TRAY))
		for (unsigned t = 0; t < trays; t++)
			if (t != s->tray && t != up && t + 1 != down && has_ahead(c, s, words, t))
				enter_tray(f, s, words, t, weight * tray_other / n, MATCH_TRAY);
}

/* To any open place of the closure's other trays, equally likely. */
static void
any_other(
    const struct from *f, const struct match_state *s, uint64_t *words, unsigned n, double weight)
{
	const struct match_course *c = f->m->course;

	if (n == 0 || !enough(f, weight / n, MATCH_RETURN))
		return;
	for (unsigned t = 0; t < trays_of(c, s->closure); t++) {
		struct match_state to = *s;
		uint64_t open = t == s->tray ? 0 : open_in(c, s, words, t);
		uint64_t keep[2] = { words[2 * t], words[2 * t + 1] };
		uint32_t tray = c->closure_first[s->closure] + t;

		if (open == 0)
			continue;
		to.tray = (uint16_t)t;
		to.done = to_places(c, tray, s->dir, keep[0]);
		to.maybe = to_places(c, tray, s->dir, keep[1]);
		to.front = front_of(to.done, tray_units(c, tray));
		words[2 * t] = words[2 * t + 1] = 0;
		to.others = match_set_of(f->m, words, trays_of(c, s->closure));
		words[2 * t] = keep[0];
		words[2 * t + 1] = keep[1];
		open = to_places(c, tray, s->dir, open);
		spread(f, &to, open, weight * count(open) / n, MATCH_RETURN);
	}
}

/* To a door: the closure is left as it is. */
static void
leave(const struct from *f, const struct match_state *s, const uint64_t *words, double weight)
{
	struct match_state to = { .closure = s->closure, .mode = MATCH_DOOR, .past = s->past };

	if (!enough(f, weight * f->toward->through_door, MATCH_LEAVE))
		return;
	to.past = past_with(f->m, s->past, s->closure,
	    match_set_of(f->m, words, trays_of(f->m->course, s->closure)));
	step(f, &to, weight, MATCH_LEAVE);
}

/* --- from where ------------------------------------------------------------------------------ */

/* Back to places left out in this tray: mostly to the first behind the present one, or of all. */
static void
back_to(const struct from *f, const struct match_state *s, uint64_t behind, double weight)
{
	uint64_t later = behind & ~bits(s->place + 1u),
		 first = s->back && later != 0 ? later : behind;

	if (behind == 0 || !enough(f, weight, MATCH_RETURN))
		return;
	first &= ~first + 1;
	spread(f, s, first, weight * 0.6, MATCH_RETURN);
	spread(f, s, behind, weight * 0.4, MATCH_RETURN);
}

/* what is open in the other trays of a closure, once its words are loaded */
struct rest {
	unsigned places;
	double share; /* of the weight of a return */
	bool more;    /* a tray is not worked to its end */
};

static struct rest
look_round(struct match_moves *m, const struct match_state *s)
{
	struct rest r = { 0, 0, false };

	load(m, s, m->words);
	for (unsigned t = 0; t < trays_of(m->course, s->closure); t++) {
		uint64_t there = open_in(m->course, s, m->words, t);
		double share = share_open(there, m->words[2 * t + 1]);

		if (t == s->tray)
			continue;
		r.more |= has_ahead(m->course, s, m->words, t);
		r.places += count(there);
		r.share = share > r.share ? share : r.share;
	}
	return r;
}

/* In the middle of a tray; left is the share of a return to the places behind. */
static void
on_in_tray(const struct from *f, const struct match_state *s, uint64_t ahead, uint64_t behind,
    double left, double weight)
{
	double early = weight * tray_early, out = weight * leave_in_tray;
	double ret = weight * return_in_tray * left, turn = weight * out_of_turn / 2;
	struct rest r;

	back_to(f, s, behind, ret);
	early += run_on(f, s, ahead, weight - early - out - ret, MATCH_NEXT);
	if (!enough(f, early, MATCH_TRAY) && !enough(f, turn, MATCH_RETURN) &&
	    !enough(f, out * f->toward->through_door, MATCH_LEAVE))
		return;
	r = look_round(f->m, s);
	any_other(f, s, f->m->words, r.places, turn);
	next_tray(f, s, f->m->words, early);
	leave(f, s, f->m->words, out);
}

/* At the end of a tray: another one, or if all are full, what was left out, or away. */
static void
on_at_end(
    const struct from *f, const struct match_state *s, uint64_t behind, double left, double weight)
{
	struct rest r = look_round(f->m, s);
	uint64_t *words = f->m->words;
	double sum = left + r.share, ret;

	any_other(f, s, words, r.places, weight * out_of_turn / 2);
	if (r.more) {
		ret = weight * return_at_tray * left;
		back_to(f, s, behind, ret);
		next_tray(f, s, words, (weight - ret) * (1 - leave_at_tray));
		leave(f, s, words, (weight - ret) * leave_at_tray);
		return;
	}
	ret = weight * (s->back ? return_more : return_at_closure) *
	      (left > r.share ? left : r.share);
	if (sum > 0) {
		back_to(f, s, behind, ret * left / sum);
		any_other(f, s, words, r.places, ret * r.share / sum);
	}
	leave(f, s, words, weight - ret);
}

/* The last attempt is behind the crew, kept or given up: on to something else. */
static void
go_on(const struct from *f, const struct match_state *s, double weight)
{
	const struct match_course *c = f->m->course;
	uint64_t here = UINT64_C(1) << s->place, passed = bits(s->front);
	uint64_t open = bits(tray_units(c, tray_number(c, s))) & ~s->done;
	uint64_t ahead = open & ~passed, behind = open & passed & ~here;
	double again = f->m->shares.again * again_far, left = share_open(behind, s->maybe);

	spread(f, s, s->done & ~here, weight * again, MATCH_AGAIN);
	spread(f, s, open, weight * out_of_turn / 2, MATCH_RETURN);
	weight *= 1 - again - out_of_turn;
	if (s->back) {
		back_to(f, s, behind, weight * return_more * left);
		weight *= 1 - return_more * left;
		left = 0;
	}
	if (ahead != 0)
		on_in_tray(f, s, ahead, behind, left, weight);
	else
		on_at_end(f, s, behind, left, weight);
}

/* From a joint's place: by what became of the last attempt. */
static void
from_place(const struct from *f, double weight)
{
	const struct match_state *s = f->state;
	const struct match_shares *shares = &f->m->shares;
	double kept = shares->kept[s->look], bad = 1 - kept;
	double retry = kept * shares->again * (1 - again_far) + bad * retried;
	double practise = f->after_practice ? 0 : kept * shares->practise + bad * practise_bad;
	struct match_state to = *s;

	to.mode = MATCH_ATTEMPT;
	to.look = f->toward->look;
	step(f, &to, weight * retry, MATCH_RETRY);
	to = *s;
	to.mode = MATCH_PRACTICE;
	step(f, &to, weight * practise, MATCH_PRACTISE);
	to.mode = MATCH_AWAY;
	step(f, &to, weight * away, MATCH_GO_AWAY);
	to = *s;
	if (kept >= 0.3) {
		to.done |= UINT64_C(1) << s->place;
		to.maybe &= ~(UINT64_C(1) << s->place);
	}
	to.look = 0;
	go_on(f, &to, weight * (1 - retry - practise - away));
}

static void
enter(const struct from *f, uint32_t closure, double weight)
{
	struct match_moves *m = f->m;
	size_t trays = trays_of(m->course, closure);

	load_past(m, f->state->past, closure, m->words);
	for (unsigned dir = 0; dir < MATCH_DIRS; dir++) {
		struct match_state s = {
			.closure = closure, .dir = (uint8_t)dir, .past = f->state->past
		};
		double w = weight * m->dirs[closure][dir];
		unsigned first = 0, n = 0;

		if (w <= 0)
			continue;
		while (first < trays && !has_ahead(m->course, &s, m->words, first))
			first++;
		n = (unsigned)trays - (first < trays);
		if (first < trays)
			enter_tray(f, &s, m->words, first, n > 0 ? w * door_first : w, MATCH_ENTER);
		w *= first < trays ? 1 - door_first : 1;
		if (n > 0 && enough(f, w / n, MATCH_ENTER))
			for (unsigned t = 0; t < trays; t++)
				if (t != first)
					enter_tray(f, &s, m->words, t, w / n, MATCH_ENTER);
	}
}

static void
from_door(const struct from *f)
{
	const struct match_state *s = f->state;
	struct match_state to = { .closure = MATCH_NONE, .past = s->past };
	double weight = 1 - door_practice - door_away;
	size_t n = 0;

	to.mode = MATCH_PRACTICE;
	step(f, &to, door_practice, MATCH_PRACTISE);
	to.mode = MATCH_AWAY;
	step(f, &to, door_away, MATCH_GO_AWAY);
	for (size_t i = 0; i < f->toward->nnear; i++)
		n += f->toward->near[i] != s->closure;
	for (size_t i = 0; i < f->toward->nnear && enough(f, weight / n, MATCH_ENTER); i++)
		if (f->toward->near[i] != s->closure)
			enter(f, f->toward->near[i], weight / n);
}

void
match_moves_from(struct match_moves *m, const struct match_state *from,
    const struct match_toward *toward, double least)
{
	struct from f = { m, from, toward, least, from->mode == MATCH_PRACTICE };
	double stays = from->mode == MATCH_PRACTICE  ? practice_goes_on
		       : from->closure == MATCH_NONE ? gone_stays
						     : away_stays;
	struct match_state door = { .closure = MATCH_NONE, .mode = MATCH_DOOR, .past = from->past };

	m->n = 0;
	if (from->mode == MATCH_DOOR) {
		from_door(&f);
		return;
	}
	if (from->mode == MATCH_ATTEMPT) {
		from_place(&f, 1);
		return;
	}
	step(&f, from, stays, from->mode == MATCH_PRACTICE ? MATCH_PRACTISE : MATCH_GO_AWAY);
	if (from->closure == MATCH_NONE)
		step(&f, &door, 1 - stays, MATCH_LEAVE);
	else
		from_place(&f, 1 - stays);
}
