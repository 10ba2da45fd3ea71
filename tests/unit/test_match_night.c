/*
 * match, from tables to rows, against nights whose truth is known (match_crew.h).
 *
 *	test_match_night			the tests
 *	test_match_night NIGHTS SEED [WAY]	the figures of thrum-match(1), of so many nights each
 */
#include <inttypes.h>

#include "match/stated.h"
#include "match/words.h"
#include "match_crew.h"

/* what is typed and stated, and what the tests ask for: of joints so many told, in percent, at 50 to 1 */
static const struct {
	struct crew_ways ways;
	int answers;
	double told;
} all[] = {
	{ { "every fibre", 1, 1, 1, 1, 0, true, false, 1, 1 }, 0, 90 },
	{ { "every fibre, 1 in 100 values wrong", 1, 1, 1, 1, 0.01, true, false, 1, 1 }, 0, 90 },
	{ { "trays, 1 fibre in 20", 1, 1, 0.05, 0, 0.003, true, false, 1, 1 }, 0, 45 },
	{ { "the same, disturbances a third", 1, 1, 0.05, 0, 0.003, true, false, 1, 0.33 }, 0, 50 },
	{ { "careful: trays, 1 in 10, what is out of order", 1, 1, 0.1, 0.7, 0.003, true, false, 1,
	      1 },
	    0, 60 },
	{ { "careful, ten answers", 1, 1, 0.1, 0.7, 0.003, true, false, 1, 1 }, 10, 70 },
	{ { "careful, slot order not stated", 1, 1, 0.1, 0.7, 0.003, false, false, 1, 1 }, 0, 55 },
	{ { "visits and order stated, 1 in 20", 0, 0, 0.05, 0, 0.003, true, true, 1, 1 }, 0, 25 },
	{ { "closures, 1 in 10", 1, 0, 0.1, 0.3, 0.003, true, false, 1, 1 }, 0, 40 },
	{ { "ribbons of 12: trays, 1 in 10", 1, 1, 0.1, 0.5, 0.003, true, false, 12, 1 }, 0, 40 },
	{ { "closures at half, 1 in 50", 0.5, 0.2, 0.02, 0, 0.003, true, false, 1, 1 }, 0, 5 },
};

enum { WAYS = sizeof all / sizeof all[0], ODDS = 4, DEFAULT_ODDS = 1 };
static const double odds[ODDS] = { 30, 50, 100, 1000 };

struct result {
	uint64_t arcs, made, told[ODDS], wrong[ODDS];
};

static const struct col arc_cols[] = { MATCH_ARC_COLUMNS, { NULL } };
static const struct col plan_cols[] = { PLANNED_COLUMNS, { NULL } };
static const struct col visit_cols[] = { MATCH_VISIT_COLUMNS, { NULL } };

struct world {
	struct planned plan;
	struct match_arcs arcs;
	struct match_stated stated;
	struct match_night night;
	struct opt_pairs clocks;
	struct err err;
};

static void
open_world(struct world *w, const struct crew_night *n)
{
	struct table t;

	*w = (struct world){ .stated = { .order = n->ways->stated ? n->order : -1 } };
	planned_init(&w->plan);
	if (table_open_reader(&t, plan_cols, reader_memory("plan", bytes_field(&n->plan), &w->err),
		NULL, &w->err) == 0)
		while (table_next(&t))
			planned_add(&w->plan, &t);
	table_close(&t);
	planned_order(&w->plan);
	match_arcs_init(&w->arcs, &w->plan, 12, &w->clocks, &w->err);
	if (table_open_reader(&t, arc_cols, reader_memory("arcs", bytes_field(&n->arcs), &w->err),
		NULL, &w->err) == 0)
		while (table_next(&t))
			match_arcs_add(&w->arcs, &t);
	table_close(&t);
	CHECK(match_arcs_order(&w->arcs, &w->err) == 0 && !err_is_set(&w->err), "%s", w->err.text);
}

static void
read_visits(struct world *w, const struct crew_night *n)
{
	struct table t;

	if (table_open_reader(&t, visit_cols,
		reader_memory("visits", bytes_field(&n->visits), &w->err), NULL, &w->err) == 0)
		while (table_next(&t))
			match_visit_add(&w->stated, &t, &w->arcs);
	CHECK(!err_is_set(&w->err), "%s", w->err.text);
	table_close(&t);
	match_stated_order(&w->stated);
}

/* Answers so many questions by the truth, those that stand first. */
static void
answer(struct world *w, const struct crew_night *n, int answers)
{
	struct match_question *q;
	size_t count, cap = 0;

	q = match_questions(&w->night, &count);
	for (size_t i = 0; i < count && (int)i < answers; i++) {
		const struct match_stream *s = &w->arcs.streams[q[i].stream];
		const struct match_record *r = &w->arcs.v[s->seen[q[i].seen].first];
		struct field machine = ids_key(&w->arcs.machines, s->machine);
		int unit = n->truth[n->at[machine.p[1] - '0'][r->number]].unit;
		struct match_answer a = { s->machine, r->number, MATCH_SAID_JOINT, MATCH_NONE };
		char name[16];

		snprintf(name, sizeof name, "J%05d", unit * n->ways->fibres_n);
		if (unit < 0)
			a.is = unit == CREW_PRACTICE ? MATCH_SAID_PRACTICE : MATCH_SAID_ELSEWHERE;
		else
			a.joint = planned_named(&w->plan, field_of(name));
		w->stated.answers =
		    mem_grow(w->stated.answers, &cap, w->stated.nanswers + 1, sizeof a);
		w->stated.answers[w->stated.nanswers++] = a;
	}
	free(q);
	match_stated_order(&w->stated);
	match_night_free(&w->night);
}

static void
close_world(struct world *w)
{
	match_night_free(&w->night);
	match_arcs_free(&w->arcs);
	planned_free(&w->plan);
	free(w->stated.visits);
	free(w->stated.answers);
}

static void
judge(const struct crew_night *n, const struct world *w, struct result *r)
{
	int fibres = n->ways->fibres_n;

	r->arcs += w->arcs.nread;
	for (int u = 0; u < n->units; u++)
		r->made += n->last[u] >= 0 && !n->truth[n->last[u]].lost ? (uint64_t)fibres : 0;
	for (size_t i = 0; i < w->night.nrows; i++) {
		const struct match_row *row = &w->night.rows[i];
		const struct match_record *record = &w->arcs.v[row->record];
		struct field name = w->plan.v[row->joint].cell[PLANNED_JOINT];
		struct field machine =
		    ids_key(&w->arcs.machines, w->arcs.streams[record->stream].machine);
		int at = n->at[machine.p[1] - '0'][record->number],
		    unit = atoi(name.p + 1) / fibres;
		bool right = n->truth[at].unit == unit;

		if (!row->stands)
			continue;
		right &= n->last[unit] == at;
		for (int k = 0; k < ODDS; k++)
			if ((double)row->chance >= odds[k] / (1 + odds[k])) {
				r->told[k]++;
				r->wrong[k] += !right;
			}
	}
}

static struct result
many_nights(size_t way, int nights, uint64_t seed)
{
	static struct crew_night n;
	struct result r = { 0 };

	for (int i = 0; i < nights; i++) {
		struct world w;

		crew_night(&n, &all[way].ways, seed * 1000 + (uint64_t)i);
		open_world(&w, &n);
		if (all[way].ways.visits)
			read_visits(&w, &n);
		match_night_read(&w.night, &w.arcs, &w.stated, NULL, odds[0]);
		if (all[way].answers > 0) {
			answer(&w, &n, all[way].answers);
			match_night_read(&w.night, &w.arcs, &w.stated, NULL, odds[0]);
		}
		judge(&n, &w, &r);
		close_world(&w);
		crew_free(&n);
	}
	return r;
}

static double
percent(uint64_t part, uint64_t whole)
{
	return whole > 0 ? 100 * (double)part / (double)whole : 0;
}

static void
print_figures(int nights, uint64_t seed, int only)
{
	for (size_t i = 0; i < WAYS; i++) {
		struct result r;

		if (only >= 0 && (size_t)only != i)
			continue;
		r = many_nights(i, nights, seed);
		printf("%-46s %6" PRIu64 " arcs %6" PRIu64 " joints", all[i].ways.name, r.arcs,
		    r.made);
		for (int k = 0; k < ODDS; k++)
			printf("; %g: %.1f, wrong %" PRIu64 " = %.3f", odds[k],
			    percent(r.told[k], r.made), r.wrong[k], percent(r.wrong[k], r.told[k]));
		printf("\n");
		fflush(stdout);
	}
}

/* Of joints told at some odds no more are wrong than these odds allow, with room for chance. */
static void
odds_mean_what_they_say(void)
{
	uint64_t told[ODDS] = { 0 }, wrong[ODDS] = { 0 };

	for (size_t i = 0; i < WAYS; i++) {
		struct result r = many_nights(i, 3, 42);

		CHECK(percent(r.told[DEFAULT_ODDS], r.made) >= all[i].told, "%s: only %.1f %% told",
		    all[i].ways.name, percent(r.told[DEFAULT_ODDS], r.made));
		for (int k = 0; k < ODDS; k++) {
			told[k] += r.told[k];
			wrong[k] += r.wrong[k];
		}
	}
	for (int k = 0; k < ODDS; k++)
		CHECK((double)wrong[k] <= (double)told[k] / odds[k] + 12,
		    "%g to 1: %" PRIu64 " of %" PRIu64 " wrong", odds[k], wrong[k], told[k]);
	CHECK(told[0] > 5000, "%" PRIu64 " told", told[0]);
}

int
main(int argc, char **argv)
{
	if (argc > 2) {
		print_figures(
		    atoi(argv[1]), (uint64_t)atoi(argv[2]), argc > 3 ? atoi(argv[3]) : -1);
		return 0;
	}
	RUN(odds_mean_what_they_say);
	return check_done();
}
