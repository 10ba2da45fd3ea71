/*
 * match, from tables to fates, against nights whose truth is known: crews that retry, practise, leave
 * joints out, take breaks and type little; machines that lose records and have wrong clocks.
 *
 *	test_match_night	the tests
 *	test_match_night NIGHTS	the shares of thrum-match(1), of so many nights each
 */
#include <inttypes.h>
#include <stdbool.h>
#include <stdlib.h>
#include <unistd.h>

#include "check.h"
#include "match/settle.h"
#include "match/time.h"

/* how a night goes; shares are in thousandths */
struct ways {
	const char *name;
	int typed;   /* of arcs, at random */
	int first;   /* of first arcs of a visit: closure and tray */
	int trays;   /* of first arcs of a tray: closure and tray */
	int ends;    /* of last arcs of a visit: the fibre */
	int joints;  /* of what is typed at random: the joint itself, by fibre, slot or note */
	bool whole;  /* crews finish every closure */
	bool silent; /* machines tell neither tension nor heat */
	int told;    /* of 100 arcs so many at least are joints that are told */
};

enum { CLOSURES = 10, TRAY = 12, MACHINES = 3, MOST_ARCS = 4000 };

struct truth {
	int joint; /* number in the plan, or -1: practice */
	bool lost;
};

struct night {
	const struct ways *ways;
	uint64_t state;
	struct bytes plan, arcs;
	int first[CLOSURES + 1]; /* of joints */
	struct truth truth[MOST_ARCS];
	int narcs; /* numbered from 0, over all machines; lost ones too */
};

struct result {
	uint64_t arcs, joined, wrong, left, practice, practice_wrong, typed;
};

static int
below(struct night *n, int most)
{
	return (int)((check_random(&n->state) >> 33) % (uint64_t)most);
}

static bool
chance(struct night *n, int thousandths)
{
	return below(n, 1000) < thousandths;
}

static int
between(struct night *n, int low, int high)
{
	return low + below(n, high - low + 1);
}

static void
joint_name(int joint, char name[16])
{
	snprintf(name, 16, "J%04d", joint);
}

static int
closure_of(const struct night *n, int joint)
{
	int c = 0;

	while (n->first[c + 1] <= joint)
		c++;
	return c;
}

static void
make_plan(struct night *n)
{
	static const char head[] =
	    "joint\tclosure\ttray\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b\tstate\n";
	int joint = 0;

	n->plan.n = 0;
	bytes_add_text(&n->plan, head);
	for (int c = 0; c < CLOSURES; c++) {
		int size = TRAY * between(n, 1, 6) - (chance(n, 300) ? between(n, 1, 8) : 0);

		n->first[c] = joint;
		for (int k = 0; k < size; k++, joint++)
			bytes_add_format(&n->plan,
			    "J%04d\tC%d\t%d\t%d\tcab%d\t%d\tcab%d\t%d\tjoin\n", joint, c,
			    k / TRAY + 1, k % TRAY + 1, c, k + 1, c + 1, k + 1);
	}
	n->first[CLOSURES] = joint;
}

/* one machine at work */
struct machine {
	int number;
	int64_t at; /* seconds */
	int pace_s, clock_s;
	bool tells_tension, tells_heat;
};

/* what somebody typed on an arc */
struct typed {
	bool closure, tray, slot, fibre, note;
};

static struct typed
type_any(struct night *n)
{
	struct typed t = { .closure = true };

	if (chance(n, n->ways->joints)) {
		int how = below(n, 3);

		t = (struct typed){ how == 1, how == 1, how == 1, how == 0, how == 2 };
	} else if (chance(n, 500))
		t.tray = true;
	return t;
}

static void
add_arc(struct night *n, struct machine *m, int joint, bool bad, bool lost, struct typed t)
{
	static const char *const est[] = { "0.00", "0.01", "0.02", "0.03", "0.04", "0.06", "0.08" };
	struct bytes *b = &n->arcs;
	bool failed = bad && chance(n, 250), practice = joint < 0;
	char name[16];
	int c = practice ? 0 : closure_of(n, joint), k = practice ? 0 : joint - n->first[c];

	if (n->narcs == MOST_ARCS)
		abort();
	n->truth[n->narcs] = (struct truth){ joint, lost };
	if (lost) {
		n->narcs++;
		return;
	}
	bytes_add_format(b, "%d\tm%d\t", n->narcs++, m->number);
	match_day_text((m->at + m->clock_s) / 86400, b);
	bytes_add_format(b, "T%02d:%02d:%02dZ\t", (int)((m->at + m->clock_s) % 86400 / 3600),
	    (int)((m->at + m->clock_s) % 3600 / 60), (int)((m->at + m->clock_s) % 60));
	if ((bad && !failed) || (practice && chance(n, 250)))
		bytes_add_format(b, "0.%02d", between(n, 10, 30));
	else
		bytes_add_text(b, est[below(n, 7)]);
	bytes_add_format(b, "\t%s\t%s",
	    !m->tells_tension            ? ""
	    : failed                     ? "fail"
	    : bad                        ? ""
	    : practice && chance(n, 600) ? ""
					 : "pass",
	    m->tells_heat && !bad && !practice ? "30" : "");
	bytes_add_format(b, t.closure ? "\tC%d" : "\t", c);
	bytes_add_format(b, t.tray ? "\t%d" : "\t", k / TRAY + 1);
	bytes_add_format(b, t.slot ? "\t%d" : "\t", k % TRAY + 1);
	bytes_add_format(b, t.fibre ? "\tcab%d\t%d" : "\t\t", c, k + 1);
	joint_name(joint, name);
	bytes_add_format(b, t.note ? "\t%s, wiped twice\n" : "\t\n", name);
}

static void
pass_time(struct night *n, struct machine *m, double paces)
{
	m->at += (int64_t)(m->pace_s * paces * between(n, 800, 1200) / 1000);
}

static void
practise(struct night *n, struct machine *m, int times)
{
	for (int i = 0; i < times; i++) {
		m->at += between(n, 60, 240);
		add_arc(n, m, -1, false, chance(n, 5), (struct typed){ false });
	}
}

/* The joints from `from` to end - 1 of one closure. */
static void
visit(struct night *n, struct machine *m, int from, int end)
{
	const struct ways *w = n->ways;
	struct typed none = { false }, place = { .closure = true, .tray = true };

	if (chance(n, 600))
		practise(n, m, between(n, 1, 3));
	for (int joint = from; joint < end; joint++) {
		struct typed t = chance(n, w->typed) ? type_any(n) : none;
		bool tray = (joint - n->first[closure_of(n, joint)]) % TRAY == 0;

		if ((joint == from && chance(n, w->first)) || (tray && chance(n, w->trays)))
			t = place;
		if (joint + 1 == end && chance(n, w->ends))
			t = (struct typed){ .fibre = true };
		if (chance(n, 4))
			continue; /* left out */
		if (chance(n, 20))
			practise(n, m, 1);
		pass_time(n, m, 1);
		if (chance(n, 25))
			m->at += between(n, 1500, 3000); /* a break */
		while (chance(n, 75)) { /* it turns out badly, and is made again, or is not */
			add_arc(n, m, joint, true, chance(n, 5), t);
			t = none;
			if (chance(n, 30))
				goto next;
			m->at += between(n, 200, 300);
		}
		add_arc(n, m, joint, false, chance(n, 5), t);
		if (chance(n, 2)) {
			m->at += between(n, 200, 300);
			add_arc(n, m, joint, false, false, none);
		}
	next:;
	}
}

/* Two nights of all machines, each closure visited by one machine, once or in two parts. */
static void
make_night(struct night *n)
{
	static const char head[] =
	    "arc\tsplicer\tmade_at\test_db\ttension\theat_s\tclosure\ttray\tslot\tcable_a\tfibre_a\tnote\n";
	int order[CLOSURES];

	make_plan(n);
	n->arcs.n = 0;
	n->narcs = 0;
	bytes_add_text(&n->arcs, head);
	for (int i = 0; i < CLOSURES; i++) {
		int k = below(n, i + 1);

		order[i] = order[k];
		order[k] = i;
	}
	for (int i = 0; i < MACHINES; i++) {
		struct machine m = { i, 1773264000 + 77400 + between(n, 0, 3000),
			between(n, 420, 960), between(n, -4000, 4000) * (chance(n, 300)) };

		m.tells_tension = !n->ways->silent;
		m.tells_heat = !n->ways->silent && chance(n, 700);
		for (int c = i; c < CLOSURES; c += MACHINES) {
			int from = n->first[order[c]], end = n->first[order[c] + 1], to = end;

			if (!n->ways->whole && chance(n, 400) && end - from > 4)
				to = between(n, from + 2, end - 2);
			visit(n, &m, from, to);
			if (to < end && chance(n, 700)) { /* the rest in the next night */
				m.at += between(n, 60000, 70000);
				visit(n, &m, to, end);
			}
			m.at += between(n, 2400, 4200);
		}
	}
}

/* --- judging --------------------------------------------------------------------------------- */

static const struct col cols[] = { MATCH_ARC_COLUMNS, { NULL } };

static void
judge(const struct night *n, const struct match_arcs *arcs, const struct match_night *settled,
    const struct planned *plan, struct result *r)
{
	for (size_t i = 0; i < arcs->nread; i++) {
		const struct match_settled *s = &settled->v[i];
		int truth = n->truth[arcs->v[i].number].joint;
		char name[16];

		r->arcs++;
		r->typed += arcs->v[i].anchor != MATCH_NONE;
		joint_name(truth, name);
		if (s->fate == MATCH_JOINED) {
			r->joined++;
			r->wrong +=
			    truth < 0 || !field_is(plan->v[s->label].cell[PLANNED_JOINT], name);
		} else if (s->fate == MATCH_PRACTISED) {
			r->practice++;
			r->practice_wrong += truth >= 0;
		} else
			r->left++;
	}
}

static void
write_plan(const struct bytes *plan, char path[])
{
	int fd = mkstemp(path);

	CHECK(fd >= 0 && write(fd, plan->p, plan->n) == (ssize_t)plan->n, "no plan");
	if (fd >= 0)
		close(fd);
}

static void
read_night(struct night *n, struct result *r)
{
	char path[] = "/tmp/thrum-match-XXXXXX";
	struct table plan_table, costs_table;
	struct match_table costs;
	struct match_arcs arcs;
	struct match_night settled;
	struct opt_pairs clocks = { NULL, 0, 0 };
	struct planned plan;
	struct table t;
	struct err err = { "" };

	write_plan(&n->plan, path);
	table_open_side(&costs_table, match_cost_cols, NULL, &match_costs_tsv, &err);
	match_costs_read(&costs, &costs_table);
	table_close(&costs_table);
	table_open_side(&plan_table, planned_cols, path, NULL, &err);
	planned_read(&plan, &plan_table, false);
	table_close(&plan_table);
	remove(path);
	match_arcs_init(&arcs, &plan, &costs, 12, &clocks, &err);
	if (table_open_reader(
		&t, cols, reader_memory("arcs", bytes_field(&n->arcs), &err), NULL, &err) == 0)
		while (table_next(&t))
			match_arcs_add(&arcs, &t);
	table_close(&t);
	CHECK(match_arcs_order(&arcs, &err) == 0 && !err_is_set(&err), "%s", err.text);
	match_settle(&settled, &arcs, costs.threshold);
	judge(n, &arcs, &settled, &plan, r);
	match_night_free(&settled);
	match_arcs_free(&arcs);
	planned_free(&plan);
}

static struct result
many_nights(const struct ways *ways, int nights, uint64_t state)
{
	static struct night n;
	struct result r = { 0 };

	n.ways = ways;
	n.state = state;
	for (int i = 0; i < nights; i++) {
		make_night(&n);
		read_night(&n, &r);
	}
	bytes_free(&n.plan);
	bytes_free(&n.arcs);
	return r;
}

static const struct ways all_ways[] = {
	{ "nothing" },
	{ "places at half of the visits", .first = 500 },
	{ "places at every visit", .first = 1000, .told = 5 },
	{ "places at every tray", .first = 1000, .trays = 1000, .told = 55 },
	{ "places and last joints of every visit", .first = 1000, .ends = 1000, .told = 18 },
	{ "places at every tray, last joints", .first = 1000, .trays = 1000, .ends = 1000,
	    .told = 65 },
	{ "the same, closures finished", .first = 1000, .trays = 1000, .ends = 1000, .whole = true,
	    .told = 65 },
	{ "the same, neither heat nor tension known", .first = 1000, .trays = 1000, .ends = 1000,
	    .silent = true, .told = 35 },
	{ "2 of 100 arcs, half joints", .typed = 20, .joints = 500 },
	{ "5 of 100 arcs, half joints", .typed = 50, .joints = 500, .told = 7 },
	{ "10 of 100 arcs, half joints", .typed = 100, .joints = 500, .told = 25 },
	{ "20 of 100 arcs, half joints", .typed = 200, .joints = 500, .told = 50 },
	{ "50 of 100 arcs, half joints", .typed = 500, .joints = 500, .told = 75 },
	{ "5 of 100 arcs, joints", .typed = 50, .joints = 1000, .told = 12 },
	{ "10 of 100 arcs, joints", .typed = 100, .joints = 1000, .told = 40 },
	{ "20 of 100 arcs, joints", .typed = 200, .joints = 1000, .told = 65 },
	{ "50 of 100 arcs, joints", .typed = 500, .joints = 1000, .told = 80 },
};

enum { WAYS = sizeof all_ways / sizeof all_ways[0] };

static double
percent(uint64_t part, uint64_t whole)
{
	return whole > 0 ? 100 * (double)part / (double)whole : 0;
}

static void
print_shares(int nights)
{
	for (size_t i = 0; i < WAYS; i++) {
		struct result r = many_nights(&all_ways[i], nights, 7);

		printf("%-42s %7" PRIu64 " arcs, typed %4.1f %%, joints %4.1f %%, left %5.1f %%, "
		       "wrong %" PRIu64 " (%.3f %%)\n",
		    all_ways[i].name, r.arcs, percent(r.typed, r.arcs), percent(r.joined, r.arcs),
		    percent(r.left, r.arcs), r.wrong, percent(r.wrong, r.joined));
		fflush(stdout);
	}
}

/* At least 999 of 1000 joints that are told are right, whatever was typed; and many are told. */
static void
what_is_told_is_right(void)
{
	uint64_t joined = 0, wrong = 0, practice = 0, practice_wrong = 0;

	for (size_t i = 0; i < WAYS; i++) {
		struct result r = many_nights(&all_ways[i], 25, 1 + i);

		CHECK(r.wrong * 1000 <= r.joined + 5000, "%s: %" PRIu64 " of %" PRIu64 " wrong",
		    all_ways[i].name, r.wrong, r.joined);
		CHECK(percent(r.joined, r.arcs) >= all_ways[i].told, "%s: only %.1f %% are told",
		    all_ways[i].name, percent(r.joined, r.arcs));
		CHECK(r.arcs == r.joined + r.practice + r.left, "%s", all_ways[i].name);
		joined += r.joined;
		wrong += r.wrong;
		practice += r.practice;
		practice_wrong += r.practice_wrong;
	}
	CHECK(wrong * 1000 <= joined, "%" PRIu64 " of %" PRIu64 " joints wrong", wrong, joined);
	CHECK(practice_wrong * 1000 <= practice, "%" PRIu64 " of %" PRIu64 " practice arcs wrong",
	    practice_wrong, practice);
}

/* The same night whatever the order of its rows and however often a row is there. */
static void
order_of_rows_is_nothing(void)
{
	static struct night n;
	struct bytes straight = { NULL, 0, 0 };
	struct result a = { 0 }, b = { 0 };
	struct field rest, line[MOST_ARCS];
	size_t lines = 0;

	n.ways = &all_ways[5];
	n.state = 99;
	make_night(&n);
	read_night(&n, &a);
	bytes_add_field(&straight, bytes_field(&n.arcs));
	rest = bytes_field(&straight);
	n.arcs.n = 0;
	bytes_add_field(&n.arcs, field_cut(&rest, '\n'));
	while (rest.n > 0)
		line[lines++] = field_cut(&rest, '\n');
	bytes_add_text(&n.arcs, "\n");
	for (size_t i = lines; i-- > 0;)
		for (size_t times = 0; times < 1 + (i % 5 == 0); times++) {
			bytes_add_field(&n.arcs, line[i]);
			bytes_add_text(&n.arcs, "\n");
		}
	read_night(&n, &b);
	CHECK(a.arcs == b.arcs && a.joined == b.joined && a.left == b.left && a.wrong == b.wrong,
	    "%" PRIu64 " arcs, %" PRIu64 " joints; backwards %" PRIu64 " and %" PRIu64, a.arcs,
	    a.joined, b.arcs, b.joined);
	CHECK(a.joined > 100, "%" PRIu64 " joints", a.joined);
	bytes_free(&straight);
	bytes_free(&n.plan);
	bytes_free(&n.arcs);
}

int
main(int argc, char **argv)
{
	if (argc > 1) {
		print_shares(atoi(argv[1]));
		return 0;
	}
	RUN(what_is_told_is_right);
	RUN(order_of_rows_is_nothing);
	return check_done();
}
