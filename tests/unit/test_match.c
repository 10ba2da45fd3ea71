/*
 * match, the decoder: against all ways through small plans, one by one. Moves are those of the program;
 * evidence is drawn at random. And moves themselves: what they weigh, and where they lead.
 */
#include <stdlib.h>

#include "check.h"
#include "match/decode.h"

enum { MOST_UNITS = 16, MOST_ARCS = 6 };

struct small {
	struct match_course course;
	uint32_t tray_first[8], closure_first[4], tray_of[MOST_UNITS], closure_of[8];
	struct match_planned by_plan[MOST_UNITS];
	double dirs[3][MATCH_DIRS];
	struct match_arc arcs[MOST_ARCS];
	uint32_t near[3];
	double factor[MOST_ARCS][MOST_UNITS];
	size_t n;
	struct match_moves moves;
	/* by brute force: of each arc what it is, and all ways together */
	double is[MOST_ARCS][MOST_UNITS + 2], sum;
	size_t ways;
};

static const struct match_state start = { .unit = MATCH_NONE, .mode = MATCH_ATTEMPT };

static double
random_part(uint64_t *state)
{
	return (double)(check_random(state) >> 11) / 9007199254740992.0;
}

static uint32_t
below(uint64_t *state, uint32_t n)
{
	return (uint32_t)(random_part(state) * n);
}

/* closures of 1 or 2 trays of 1 to 3 units; all units' places in the plan turned round */
static void
make_course(struct small *s, uint32_t closures, uint64_t *state)
{
	struct match_course *c = &s->course;
	uint32_t units = 0, trays = 0;

	for (uint32_t k = 0; k < closures; k++) {
		uint32_t in = 1 + below(state, 2);

		s->closure_first[k] = trays;
		for (uint32_t t = 0; t < in; t++, trays++) {
			uint32_t n = 1 + below(state, 3);

			s->tray_first[trays] = units;
			s->closure_of[trays] = k;
			for (uint32_t u = 0; u < n; u++, units++) {
				s->tray_of[units] = trays;
				s->by_plan[units].unit = units - u + (u + 1) % n;
			}
		}
		for (int d = 0; d < MATCH_DIRS; d++)
			s->dirs[k][d] = below(state, 3) / 4.0;
		s->dirs[k][below(state, MATCH_DIRS)] = 0.25;
	}
	s->closure_first[closures] = trays;
	s->tray_first[trays] = units;
	*c = (struct match_course){ units, trays, closures, s->tray_first, s->closure_first,
		s->tray_of, s->closure_of, s->by_plan, .fibres_n = 1 };
}

/* A closure can be entered once: the first by the first arc only, the second by any later one. */
static void
make_arcs(struct small *s, uint64_t *state)
{
	for (uint32_t k = 0; k < 3; k++)
		s->near[k] = k;
	for (size_t i = 0; i < s->n; i++) {
		struct match_arc *a = &s->arcs[i];

		for (int how = 0; how < MATCH_HOWS; how++)
			a->by_how[how] = below(state, 6) == 0 ? 0 : random_part(state);
		a->by_how[MATCH_GO_AWAY] = 0.1;
		a->look = (uint8_t)below(state, MATCH_LOOKS);
		a->typed = below(state, 2) == 0;
		a->near = i == 0 ? 0 : 1;
		a->nnear = i == 0 || (i == 2 && s->course.closures > 1);
		for (uint32_t u = 0; u < s->course.units; u++)
			s->factor[i][u] = below(state, 4) == 0 ? 0.001 : random_part(state);
	}
}

static double
unit_factor(const void *of, size_t arc, uint32_t unit)
{
	const struct small *s = of;

	return s->factor[arc][unit];
}

/* All ways on from a state, in front of an arc; path holds what the arcs before are. */
static void
walk(struct small *s, const struct match_state *from, size_t arc, double weight, uint32_t *path)
{
	const struct match_arc *a = &s->arcs[arc];
	struct match_toward toward = { a->by_how, s->near + a->near, a->nnear, a->look, 0 };
	struct match_step *steps;
	size_t n;

	if (arc == s->n) {
		s->ways++;
		s->sum += weight;
		for (size_t i = 0; i < s->n; i++)
			s->is[i][path[i]] += weight;
		return;
	}
	match_moves_from(&s->moves, from, &toward);
	n = s->moves.n;
	steps = mem_zeroed(n + 1, sizeof *steps);
	if (n > 0)
		memcpy(steps, s->moves.steps, n * sizeof *steps);
	for (size_t i = 0; i < n; i++) {
		double w = weight * steps[i].weight;

		path[arc] = steps[i].to.mode == MATCH_PRACTICE ? s->course.units
			    : steps[i].to.mode == MATCH_AWAY   ? s->course.units + 1
							       : steps[i].to.unit;
		if (path[arc] < s->course.units && a->typed)
			w *= s->factor[arc][path[arc]];
		walk(s, &steps[i].to, arc + 1, w, path);
	}
	free(steps);
}

static double
claimed(const struct match_decoded *d, size_t arc, uint32_t is)
{
	for (size_t i = d->end[arc + 1]; i < d->end[arc]; i++)
		if (d->claims[i].is == is)
			return d->claims[i].odds;
	return 0;
}

static void
compare(struct small *s)
{
	struct match_task task = { &s->moves, s->arcs, s->n, s->near, unit_factor, s, 600,
		1000000 };
	struct match_decoded d;
	uint32_t path[MOST_ARCS + 1], units = s->course.units;

	walk(s, &start, 0, 1, path);
	match_decode(&task, &d);
	for (size_t i = 0; i < s->n; i++) {
		for (uint32_t u = 0; u < units; u++)
			NEAR(claimed(&d, i, u), s->is[i][u] / s->sum, 2e-7);
		NEAR(claimed(&d, i, MATCH_IS_PRACTICE), s->is[i][units] / s->sum, 2e-7);
		NEAR(claimed(&d, i, MATCH_IS_ELSEWHERE), s->is[i][units + 1] / s->sum, 2e-7);
	}
	match_decoded_free(&d);
}

static void
all_ways_of_small_plans(void)
{
	uint64_t state = 20261126;
	size_t ways = 0;

	for (int i = 0; i < 400; i++) {
		struct small s = { .n = 1 + below(&state, 4) };

		make_course(&s, 1 + below(&state, 2), &state);
		make_arcs(&s, &state);
		match_moves_open(
		    &s.moves, &s.course, (const double(*)[MATCH_DIRS])s.dirs, &match_usual);
		compare(&s);
		match_moves_free(&s.moves);
		ways += s.ways;
	}
	CHECK(ways > 100000, "only %zu ways", ways);
}

/* From every state the moves' shares, without evidence, come to at most 1, and nearly to it. */
static void
shares_come_to_one(void)
{
	static const double ones[MATCH_HOWS] = { 1, 1, 1, 1, 1, 1, 1, 1, 1, 1 };
	uint64_t state = 7;

	for (int i = 0; i < 200; i++) {
		struct small s = { .n = 1 };
		struct match_state at;
		struct match_toward toward = { ones, s.near, 1, 5, 0 };

		make_course(&s, 1, &state);
		for (int d = 0; d < MATCH_DIRS; d++)
			s.dirs[0][d] = 0.25;
		match_moves_open(
		    &s.moves, &s.course, (const double(*)[MATCH_DIRS])s.dirs, &match_usual);
		at = start;
		for (int step = 0; step < 6; step++) {
			double sum = 0;

			match_moves_from(&s.moves, &at, &toward);
			for (size_t k = 0; k < s.moves.n; k++)
				sum += s.moves.steps[k].weight;
			CHECK(sum <= 1 + 1e-9, "step %d: %g", step, sum);
			CHECK(sum > 0.45, "step %d: %g", step, sum);
			at = s.moves.steps[below(&state, (uint32_t)s.moves.n)].to;
		}
		match_moves_free(&s.moves);
	}
}

/* In 12 slots from the first on: the unit that comes next in each order. */
static void
orders_of_slots(void)
{
	static const uint32_t want[MATCH_DIRS][4] = { { 0, 1, 2, 3 }, { 11, 10, 9, 8 },
		{ 0, 2, 4, 6 }, { 5, 4, 3, 2 } };
	uint32_t tray_first[2] = { 0, 12 }, closure_first[2] = { 0, 1 }, tray_of[12] = { 0 },
		 closure_of[1] = { 0 };
	struct match_planned by_plan[12] = { { 0, 5 }, { 1, 4 }, { 2, 3 }, { 3, 2 } };
	struct match_course c = { 12, 1, 1, tray_first, closure_first, tray_of, closure_of, by_plan,
		.fibres_n = 1 };

	for (uint8_t dir = 0; dir < MATCH_DIRS; dir++)
		for (uint32_t place = 0; place < 4; place++)
			CHECK(match_unit_at(&c, 0, dir, place) == want[dir][place],
			    "order %d, place %u: %u", dir, place, match_unit_at(&c, 0, dir, place));
}

/* Of more states than are kept the rest joins; the result stays close to the exact one. */
static void
joined_states_stay_close(void)
{
	uint64_t state = 99;
	double worst = 0;

	for (int i = 0; i < 40; i++) {
		struct small s = { .n = 4 };
		struct match_decoded exact, narrow;
		struct match_task task = { &s.moves, s.arcs, s.n, s.near, unit_factor, &s, 600,
			1000000 };

		make_course(&s, 1, &state);
		make_arcs(&s, &state);
		match_moves_open(
		    &s.moves, &s.course, (const double(*)[MATCH_DIRS])s.dirs, &match_usual);
		match_decode(&task, &exact);
		match_moves_free(&s.moves);
		match_moves_open(
		    &s.moves, &s.course, (const double(*)[MATCH_DIRS])s.dirs, &match_usual);
		task.most = 40;
		task.beam = 12;
		match_decode(&task, &narrow);
		for (size_t arc = 0; arc < s.n; arc++)
			for (uint32_t u = 0; u < s.course.units; u++)
				worst = fmax(worst,
				    fabs(claimed(&exact, arc, u) - claimed(&narrow, arc, u)));
		match_decoded_free(&exact);
		match_decoded_free(&narrow);
		match_moves_free(&s.moves);
	}
	CHECK(worst < 0.05, "differs by %g", worst);
}

/* A record longer than the decoder holds at a time, with doubt across the borders. */
static void
long_records(void)
{
	enum { N = 2500, UNITS = 50 };
	static struct match_arc arcs[N];
	static uint32_t tray_first[N / UNITS + 1], closure_first[N / UNITS + 1], tray_of[N],
	    near[N / UNITS], closure_of[N / UNITS];
	static struct match_planned by_plan[N];
	static double dirs[N / UNITS][MATCH_DIRS];
	struct match_course c = { N, N / UNITS, N / UNITS, tray_first, closure_first, tray_of,
		closure_of, by_plan, .fibres_n = 1 };
	struct match_moves m;
	struct match_task task = { &m, arcs, N, near, NULL, NULL, 12, 200 };
	struct match_decoded d;

	for (uint32_t k = 0; k <= N / UNITS; k++)
		tray_first[k] = k * UNITS, closure_first[k] = k;
	for (uint32_t k = 0; k < N / UNITS; k++) {
		near[k] = closure_of[k] = k;
		dirs[k][MATCH_WORK] = 1;
	}
	for (uint32_t i = 0; i < N; i++) {
		tray_of[i] = i / UNITS;
		by_plan[i].unit = i;
		for (int how = 0; how < MATCH_HOWS; how++)
			arcs[i].by_how[how] = how == MATCH_ENTER  ? (i % UNITS == 0 ? 1 : 1e-6)
					      : how == MATCH_NEXT ? 1
								  : 0.3;
		arcs[i].look = 7;
		arcs[i].near = i / UNITS;
		arcs[i].nnear = 1;
	}
	match_moves_open(&m, &c, (const double(*)[MATCH_DIRS])dirs, &match_usual);
	match_decode(&task, &d);
	for (uint32_t i = 0; i < N; i++)
		CHECK(d.claims[d.end[i + 1]].is == i && d.claims[d.end[i + 1]].odds > 0.7,
		    "arc %u is %u, %g", i, d.claims[d.end[i + 1]].is, d.claims[d.end[i + 1]].odds);
	match_decoded_free(&d);
	match_moves_free(&m);
}

int
main(void)
{
	RUN(all_ways_of_small_plans);
	RUN(shares_come_to_one);
	RUN(orders_of_slots);
	RUN(joined_states_stay_close);
	RUN(long_records);
	return check_done();
}
