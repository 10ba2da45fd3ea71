/*
 * match_crew: nights of invented crews, whose truth is known, with all disturbances at once. What one
 * crew does and how often is drawn for each night from wide ranges.
 *
 *	crew_night(&night, &ways, seed);
 *	... night.plan, night.arcs and night.visits are tables; night.truth says what each arc was
 *	crew_free(&night);
 */
#ifndef THRUM_TESTS_MATCH_CREW_H
#define THRUM_TESTS_MATCH_CREW_H

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

#include "base/bytes.h"
#include "check.h"
#include "match/time.h"

/* what is typed and stated; shares are 0 to 1 */
struct crew_ways {
	const char *name;
	double closures, trays, fibres; /* typed: at a visit's start, at a tray's, on any attempt */
	double after;                   /* on the attempt that follows something out of order */
	double wrong;                   /* of what is typed */
	bool stated;                    /* slot orders are known to the reader */
	bool visits;                    /* and so are visits */
	int fibres_n;
	double calm; /* every rate of a disturbance is multiplied by this */
};

enum { CREW_PRACTICE = -1, CREW_ELSEWHERE = -2, CREW_MOST = 6000, CREW_CLOSURES = 64 };

struct crew_truth {
	int unit; /* or CREW_... */
	int machine;
	bool lost;
};

struct crew_night {
	const struct crew_ways *ways;
	uint64_t state;
	struct bytes plan, arcs, visits;
	struct crew_truth truth[CREW_MOST]; /* of all arcs of the night, as they were made */
	int n;
	int at[2][CREW_MOST]; /* of a machine's arc numbers, their places in truth */
	int *last;            /* of each unit: its last attempt that was made at all, or -1 */
	int units, trays[CREW_CLOSURES], first[CREW_CLOSURES + 1], tray_units;
	int closures;
	/* rates of the night */
	double bad, skip, returns, again, practice, mid, lost, no_heat, unfinished, elsewhere,
	    missing_machine;
	int order; /* 0 work, 1 reverse, 2 alternate */
};

struct crew_machine {
	int number, count; /* of its arcs */
	double at_s, pace_s, sd, clock_s;
	bool heat, tension, odd;
	char typed[160]; /* what was typed last, for what is left over */
};

static double
crew_random(struct crew_night *n)
{
	return (double)(check_random(&n->state) >> 11) / 9007199254740992.0;
}

static bool
crew_chance(struct crew_night *n, double p)
{
	return crew_random(n) < p;
}

/* a number between, even by its logarithm */
static double
crew_rate(struct crew_night *n, double low, double high)
{
	return low * exp(crew_random(n) * log(high / low));
}

static int
crew_whole(struct crew_night *n, int low, int high)
{
	return low + (int)(crew_random(n) * (high - low + 1));
}

static double
crew_normal(struct crew_night *n)
{
	double u = crew_random(n), v = crew_random(n);

	return sqrt(-2 * log(u + 1e-300)) * cos(6.283185307179586 * v);
}

static void
crew_plan(struct crew_night *n)
{
	int fibres = n->ways->fibres_n, units = 0;

	bytes_add_text(&n->plan,
	    "joint\tclosure\ttray\tslot\tcable_a\tfibre_a\tcable_b\tfibre_b\tribbon_a\tposition\n");
	for (int c = 0; c < n->closures; c++) {
		int k = 0;

		n->trays[c] = fibres > 1 ? crew_whole(n, 1, 3) : crew_whole(n, 1, 6);
		n->first[c] = units;
		for (int t = 0; t < n->trays[c]; t++)
			for (int s = 0; s < n->tray_units; s++, units++)
				for (int f = 0; f < fibres; f++, k++)
					bytes_add_format(&n->plan,
					    fibres > 1
						? "J%05d\tC%02d\t%d\t%d\tcab%d\t%d\tcab%d\t%d\tR%d\t%d\n"
						: "J%05d\tC%02d\t%d\t%d\tcab%d\t%d\tcab%d\t%d\t\t\n",
					    units * fibres + f, c, t + 1, s + 1, c, k + 1, c + 1,
					    k + 1, k / fibres + 1, f + 1);
	}
	n->first[n->closures] = n->units = units;
	n->last = malloc(sizeof *n->last * (size_t)units);
	for (int u = 0; u < units; u++)
		n->last[u] = -1;
}

static int
crew_closure(const struct crew_night *n, int unit)
{
	int c = 0;

	while (n->first[c + 1] <= unit)
		c++;
	return c;
}

/* what is typed: closure, tray, and the fibre of side a; each may be wrong */
static void
crew_type(struct crew_night *n, struct crew_machine *m, int unit, bool closure, bool tray,
    bool fibre, char out[160])
{
	int c = crew_closure(n, unit), k = unit - n->first[c], t = k / n->tray_units;
	int f = k * n->ways->fibres_n;
	char cell[3][40] = { "", "", "" };

	if (crew_chance(n, n->ways->wrong)) {
		int how = crew_whole(n, 0, 3);

		if (how == 0 && m->typed[0] != '\0') {
			snprintf(out, 160, "%s", m->typed);
			return;
		}
		if (fibre)
			f = how == 1 ? f + (f > 0 && crew_chance(n, 0.5) ? -1 : 1)
			    : how == 2 && f >= 10
				? f % 10 * 10 + f / 10
				: crew_whole(n, 0, n->trays[c] * n->tray_units - 1);
		else if (tray)
			t = t > 0 ? t - 1 : t + 1;
	}
	if (closure)
		snprintf(cell[0], sizeof cell[0], "C%02d", c);
	if (tray)
		snprintf(cell[1], sizeof cell[1], "%d", t + 1);
	if (fibre)
		snprintf(cell[2], sizeof cell[2], "cab%d\t%d", c, f + 1);
	snprintf(out, 160, "%s\t%s\t%s", cell[0], cell[1], fibre ? cell[2] : "\t");
	if (closure || tray || fibre)
		snprintf(m->typed, sizeof m->typed, "%s", out);
}

/* how an arc turned out */
enum { CREW_GOOD, CREW_BAD, CREW_TRIED };

static void
crew_row(
    struct crew_night *n, const struct crew_machine *m, int how, const char *typed, int position)
{
	struct bytes *b = &n->arcs;
	double at = m->at_s + m->clock_s;
	bool failed = how == CREW_BAD && crew_chance(n, 0.3);
	double est = how == CREW_GOOD || failed ? fabs(0.02 + 0.02 * crew_normal(n))
		     : how == CREW_TRIED && crew_random(n) < 0.7 ? 0.03
								 : 0.08 + 0.3 * crew_random(n);

	bytes_add_format(b, "%d\tm%d\t", m->count, m->number);
	match_day_text((int64_t)at / 86400, b);
	bytes_add_format(b, "T%02d:%02d:%02dZ\t%.2f\t%s\t%s\t%d\t",
	    (int)((int64_t)at % 86400 / 3600), (int)((int64_t)at % 3600 / 60),
	    (int)((int64_t)at % 60), est,
	    !m->tension                               ? ""
	    : failed                                  ? "fail"
	    : how == CREW_GOOD || crew_chance(n, 0.4) ? "pass"
						      : "",
	    m->heat && how == CREW_GOOD && !crew_chance(n, n->no_heat) ? "35" : "",
	    n->ways->fibres_n);
	if (position > 0)
		bytes_add_format(b, "%d", position);
	bytes_add_format(b, "\t%s\n", typed);
}

static void
crew_arc(struct crew_night *n, struct crew_machine *m, int unit, int how, const char *typed)
{
	bool lost = crew_chance(n, n->lost);

	if (n->n + 1 >= CREW_MOST)
		return;
	n->truth[n->n] = (struct crew_truth){ unit, m->number, lost };
	if (unit >= 0)
		n->last[unit] = n->n;
	n->at[m->number][m->count] = n->n;
	if (!lost)
		crew_row(n, m, how, typed, 0);
	n->n++;
	m->count++;
}

static void
crew_pause(struct crew_night *n, struct crew_machine *m, double paces)
{
	m->at_s += m->pace_s * paces * exp(m->sd * crew_normal(n));
	if (crew_chance(n, 0.02))
		m->at_s += 900 + 2400 * crew_random(n);
}

static void
crew_practise(struct crew_night *n, struct crew_machine *m, int times)
{
	for (int i = 0; i < times; i++) {
		crew_pause(n, m, 0.35);
		crew_arc(n, m, CREW_PRACTICE, CREW_TRIED, "\t\t\t");
	}
}

/* One joint: attempts until one is kept or it is given up. `out` is whether something was out of order. */
static void
crew_joint(struct crew_night *n, struct crew_machine *m, int unit, bool visit, bool tray, bool *out)
{
	const struct crew_ways *w = n->ways;
	char typed[160], none[] = "\t\t\t";
	bool fibre = crew_chance(n, w->fibres) || (*out && crew_chance(n, w->after));
	bool in_tray = tray && crew_chance(n, w->trays);
	bool in_closure = visit && crew_chance(n, w->closures);

	*out = false;
	if (crew_chance(n, n->mid)) {
		crew_practise(n, m, 1);
		*out = true;
	}
	if (crew_chance(n, n->elsewhere)) {
		crew_pause(n, m, 1);
		crew_arc(n, m, CREW_ELSEWHERE, CREW_GOOD, none);
		*out = true;
	}
	crew_pause(n, m, tray ? 1.4 : 1);
	crew_type(n, m, unit, in_closure, in_tray, fibre, typed);
	while (crew_chance(n, n->bad)) {
		crew_arc(n, m, unit, CREW_BAD, typed);
		if (!(w->fibres > 0.9))
			snprintf(typed, sizeof typed, "%s", none);
		if (crew_chance(n, 0.03))
			return;
		crew_pause(n, m, 0.55);
	}
	crew_arc(n, m, unit, CREW_GOOD, typed);
	if (crew_chance(n, n->again)) {
		crew_pause(n, m, 0.7);
		crew_arc(n, m, unit, CREW_GOOD, none);
		*out = true;
	}
}

/* Some trays of a closure, in each the slots of these places; those left out are perhaps made later. */
static void
crew_visit(struct crew_night *n, struct crew_machine *m, int closure, int first_tray, int end_tray,
    int from, int to)
{
	static const int most = 64;
	int left[64], nleft = 0, size = n->tray_units;
	bool visit = true, out = false, tray = true;
	double begin = m->at_s;

	if (crew_chance(n, n->practice))
		crew_practise(n, m, crew_whole(n, 1, 4));
	for (int t = first_tray; t < end_tray; t++) {
		int left_here = nleft;

		tray = true;
		for (int p = from; p < to; p++) {
			int half = (size + 1) / 2;
			int k = n->order == 1   ? size - 1 - p
				: n->order == 2 ? (p < half ? 2 * p : 2 * (p - half) + 1)
						: p;
			int unit = n->first[closure] + t * size + k;

			if (crew_chance(n, n->skip)) {
				if (nleft < most)
					left[nleft++] = unit;
				out = true;
				continue;
			}
			crew_joint(n, m, unit, visit, tray, &out);
			visit = tray = false;
		}
		while (nleft > left_here && crew_chance(n, n->returns / 2)) {
			out = true;
			crew_joint(n, m, left[left_here], visit, false, &out);
			out = true;
			for (int i = left_here; i + 1 < nleft; i++)
				left[i] = left[i + 1];
			nleft--;
		}
	}
	for (int i = 0; i < nleft; i++)
		if (crew_chance(n, n->returns)) {
			out = true;
			crew_joint(n, m, left[i], false, false, &out);
		}
	bytes_add_format(&n->visits, "m%d\tC%02d\t\t", m->number, closure);
	for (int end = 0; end < 2; end++) {
		int64_t at = (int64_t)(end ? m->at_s + 300 : begin - 300);

		match_day_text(at / 86400, &n->visits);
		bytes_add_format(&n->visits, "T%02d:%02dZ%s", (int)(at % 86400 / 3600),
		    (int)(at % 3600 / 60), end ? "" : "\t");
	}
	bytes_add_format(&n->visits, "\t%s\n",
	    !n->ways->stated ? ""
	    : n->order == 1  ? "reverse"
	    : n->order == 2  ? "alternate"
			     : "work");
	m->at_s += 1500 + 4000 * crew_random(n);
}

static void
crew_rates(struct crew_night *n)
{
	double calm = n->ways->calm;

	n->bad = crew_rate(n, 0.02, 0.15);
	n->skip = calm * crew_rate(n, 0.002, 0.03);
	n->returns = 0.2 + 0.7 * crew_random(n);
	n->again = calm * crew_rate(n, 0.0005, 0.01);
	n->practice = 0.2 + 0.7 * crew_random(n);
	n->mid = calm * crew_rate(n, 0.002, 0.03);
	n->lost = calm * crew_rate(n, 0.0005, 0.02);
	n->no_heat = calm * crew_rate(n, 0.003, 0.08);
	n->unfinished = calm * 0.4 * crew_random(n);
	n->elsewhere = calm * crew_rate(n, 0.0003, 0.006);
	n->missing_machine = calm * 0.1;
	n->order = crew_whole(n, 0, 9) < 6 ? 0 : crew_whole(n, 1, 2);
}

/* One machine works through its closures; `other` joins it in some. */
static void
crew_shift(struct crew_night *n, struct crew_machine *m, int first, int end)
{
	for (int c = first; c < end; c++) {
		int trays = n->trays[c], to = trays;

		if (n->ways->calm > 0 &&
		    crew_chance(n, 0.1)) /* clock wrong for part of the night */
			m->clock_s = m->clock_s != 0 ? 0 : crew_chance(n, 0.5) ? -3600 : 5000;
		if (trays > 1 && crew_chance(n, n->unfinished))
			to = crew_whole(n, 1, trays - 1);
		if (trays > 1 && crew_chance(n, n->missing_machine))
			crew_visit(n, m, c, 1, to, 0,
			    n->tray_units); /* the first tray at a machine without record */
		else
			crew_visit(n, m, c, 0, to, 0, n->tray_units);
		if (to < trays && crew_chance(n, 0.6)) {
			m->at_s += 60000;
			crew_visit(n, m, c, to, trays, 0, n->tray_units);
		}
	}
}

/* Two machines in one closure: each takes half of the trays, or half of every tray. */
static void
crew_pair(struct crew_night *n, struct crew_machine m[2], int closure)
{
	int trays = n->trays[closure], half = trays / 2, size = n->tray_units;
	bool by_fibre = trays < 2 || crew_chance(n, 0.3);
	double at_s = m[0].at_s > m[1].at_s ? m[0].at_s : m[1].at_s;

	for (int i = 0; i < 2; i++) {
		m[i].at_s = at_s;
		if (by_fibre)
			crew_visit(
			    n, &m[i], closure, 0, trays, i ? size / 2 : 0, i ? size : size / 2);
		else
			crew_visit(n, &m[i], closure, i ? half : 0, i ? trays : half, 0, size);
	}
}

static struct crew_machine
crew_machine(struct crew_night *n, int number)
{
	struct crew_machine m = { number, 0, 1773264000 + 77400 + 3000 * crew_random(n),
		crew_rate(n, 240, 1000), 0.12 + 0.3 * crew_random(n), 0, crew_chance(n, 0.75),
		crew_chance(n, 0.85), false, "" };

	return m;
}

static void
crew_night(struct crew_night *n, const struct crew_ways *ways, uint64_t seed)
{
	struct crew_machine m[2];
	int half;

	*n = (struct crew_night){ .ways = ways, .state = seed * 0x9e3779b97f4a7c15u + 1 };
	for (int i = 0; i < 5; i++)
		check_random(&n->state);
	crew_rates(n);
	n->closures = crew_whole(n, 4, 9);
	n->tray_units = ways->fibres_n > 1 ? crew_whole(n, 3, 6) : crew_chance(n, 0.3) ? 24 : 12;
	crew_plan(n);
	bytes_add_text(&n->arcs,
	    "arc\tsplicer\tmade_at\test_db\ttension\theat_s\tfibres_n\tposition\tclosure\t"
	    "tray\tcable_a\tfibre_a\n");
	bytes_add_text(&n->visits, "splicer\tclosure\ttray\tfrom_at\tto_at\torder\n");
	half = n->closures / 2;
	m[0] = crew_machine(n, 0);
	m[1] = crew_machine(n, 1);
	crew_shift(n, &m[0], 0, half);
	crew_shift(n, &m[1], half, n->closures - 1);
	if (ways->calm > 0 && crew_chance(n, 0.4))
		crew_pair(n, m, n->closures - 1);
	else
		crew_shift(n, &m[1], n->closures - 1, n->closures);
}

static void
crew_free(struct crew_night *n)
{
	bytes_free(&n->plan);
	bytes_free(&n->arcs);
	bytes_free(&n->visits);
	free(n->last);
}

#endif
