/*
 * match, from tables to rows, against nights whose truth is known (match_crew.h).
 *
 *	test_match_night			the tests
 *	test_match_night NIGHTS SEED [WAY]	the figures of thrum-match(1), of so many nights each
 */
#include <inttypes.h>

#include "match/findings.h"
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

static const struct col answer_cols[] = { MATCH_ANSWER_COLUMNS, { NULL } };

struct world {
	struct table plan_table, arc_table;
	struct planned plan;
	struct match_earlier earlier;
	struct match_arcs arcs;
	struct match_stated stated;
	struct match_night night;
	struct opt_pairs clocks;
	struct err err;
};

static void
open_table(struct table *t, const struct col *cols, const struct bytes *text, struct world *w)
{
	table_open_reader(
	    t, cols, reader_memory("memory", bytes_field(text), &w->err), NULL, &w->err);
}

/* What is stated, and the night; answers may be NULL. */
static void
read_night(struct world *w, const struct crew_night *n, const struct bytes *answers)
{
	static const char *const orders[] = { "work", "reverse", "alternate" };
	struct table visits = { 0 }, answered = { 0 };

	if (n->ways->visits)
		open_table(&visits, visit_cols, &n->visits, w);
	if (answers != NULL)
		open_table(&answered, answer_cols, answers, w);
	CHECK(match_stated_read(&w->stated, &w->arcs, n->ways->stated ? orders[n->order] : NULL,
		  &visits, &answered, &w->earlier) == 0,
	    "%s", w->err.text);
	table_close(&visits);
	table_close(&answered);
	match_night_read(&w->night, &w->arcs, &w->stated, odds[0]);
}

static void
open_world(struct world *w, const struct crew_night *n)
{
	struct table none = { 0 };

	*w = (struct world){ .clocks = { NULL } };
	open_table(&w->plan_table, plan_cols, &n->plan, w);
	table_hold(&w->plan_table, HOLD_ROWS, NULL, false, NULL);
	open_table(&w->arc_table, arc_cols, &n->arcs, w);
	table_hold(&w->arc_table, HOLD_ROWS, NULL, false, NULL);
	CHECK(planned_read(&w->plan, &w->plan_table) == 0 &&
		  match_earlier_read(&w->earlier, &none, &w->plan) == 0 &&
		  match_arcs_read(&w->arcs, &w->arc_table, &w->plan, &w->earlier, 12, &w->clocks) ==
		      0,
	    "%s", w->err.text);
	read_night(w, n, NULL);
}

/* Reads it again with so many questions answered by the truth, those that stand first. */
static void
answer(struct world *w, const struct crew_night *n, int answers)
{
	struct bytes b = { NULL, 0, 0 };
	size_t count;
	struct match_question *q = match_questions(&w->night, &count);

	bytes_add_text(&b, "splicer\tarc\tis\tjoint\n");
	for (size_t i = 0; i < count && (int)i < answers; i++) {
		const struct match_stream *s = &w->arcs.streams[q[i].stream];
		int64_t number = w->arcs.v[s->seen[q[i].seen].first].number;
		struct field machine = ids_key(&w->arcs.machines, s->machine);
		int unit = n->truth[n->at[machine.p[1] - '0'][number]].unit;

		bytes_add_field(&b, machine);
		bytes_add_format(&b, "\t%d\t", (int)number);
		if (unit < 0)
			bytes_add_text(
			    &b, unit == CREW_PRACTICE ? "practice\t\n" : "elsewhere\t\n");
		else
			bytes_add_format(&b, "joint\tJ%05d\n", unit * n->ways->fibres_n);
	}
	free(q);
	match_night_free(&w->night);
	match_stated_free(&w->stated);
	read_night(w, n, &b);
	bytes_free(&b);
}

static void
close_world(struct world *w)
{
	match_night_free(&w->night);
	match_stated_free(&w->stated);
	match_arcs_free(&w->arcs);
	match_earlier_free(&w->earlier);
	planned_free(&w->plan);
	table_close(&w->plan_table);
	table_close(&w->arc_table);
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
		if (all[way].answers > 0)
			answer(&w, &n, all[way].answers);
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
