#include "fibre/tally.h"

#include <stdlib.h>

#include "base/mem.h"

struct tally_group {
	struct moments moments; /* of the losses */
	int64_t max_udb;
	uint64_t passed, failed, unknown;
	int64_t first, last; /* seconds; struct when keeps more than is needed to compare */
	int32_t first_nanos, last_nanos;
	unsigned basis;
};

/*
 * With thousands of groups nearly every joint has to wait for memory, several times over. So joints are
 * held back until there are some, and then wait together.
 */
enum { TOGETHER = IDS_MANY, TEXT = 32 };

struct tally_waiting {
	struct tally_joint joint;
	char text[4 * TEXT]; /* what its fields point to */
};

/* A text in tally.texts, and the room it has there. */
struct place {
	size_t at;
	uint32_t n, room;
};

/* Apart from the groups, which are read far more often. */
struct tally_told {
	struct place worst, first, last;
};

void
tally_start(struct tally *t, size_t nmeans, bool quantiles)
{
	*t = (struct tally){ .nmeans = nmeans, .quantiles = quantiles };
	t->waiting = mem_zeroed(TOGETHER, sizeof *t->waiting);
}

static void
add_group(struct tally *t, size_t group)
{
	t->groups = mem_grow(t->groups, &t->cap_groups, group + 1, sizeof *t->groups);
	t->groups[group] =
	    (struct tally_group){ .max_udb = INT64_MIN, .first = INT64_MAX, .last = INT64_MIN };
	t->told = mem_grow(t->told, &t->cap_told, group + 1, sizeof *t->told);
	t->told[group] = (struct tally_told){ { 0 } };
	t->above = mem_grow(t->above, &t->cap_above, (group + 1) * t->nmeans + 1, sizeof *t->above);
	for (size_t i = 0; i < t->nmeans; i++)
		t->above[group * t->nmeans + i] = (struct wide){ 0 };
	t->n = group + 1;
}

/* Puts a text in the place of the one before it, which it seldom outgrows. */
static void
tell(struct tally *t, struct place *place, struct field f)
{
	if (f.n > UINT32_MAX)
		f.n = UINT32_MAX;
	place->n = (uint32_t)f.n;
	if (place->n > place->room) {
		place->room = place->n;
		place->at = t->texts.n;
		bytes_add_field(&t->texts, f);
	} else if (f.n > 0) {
		memcpy(t->texts.p + place->at, f.p, f.n);
	}
}

static int
add_loss(struct tally *t, size_t group, const struct tally_joint *j)
{
	struct tally_group *g = &t->groups[group];
	const struct limit *limit = j->limit;

	g->basis |= j->basis;
	if (j->loss_udb > g->max_udb) {
		g->max_udb = j->loss_udb;
		tell(t, &t->told[group].worst, j->name);
	}
	if (limit == NULL || limit->each_udb == DB_NONE)
		g->unknown++;
	else if (j->loss_udb <= limit->each_udb)
		g->passed++;
	else
		g->failed++;
	if (limit != NULL && limit->mean_udb != DB_NONE)
		wide_add(
		    &t->above[group * t->nmeans + limit->mean_at], j->loss_udb - limit->mean_udb);
	if (t->quantiles)
		pile_add(&t->pile, (uint32_t)group, j->loss_udb);
	return moments_add(&g->moments, j->loss_udb);
}

static void
add_time(struct tally *t, size_t group, const struct tally_joint *j)
{
	struct tally_group *g = &t->groups[group];
	int64_t seconds = j->made.seconds;
	int32_t nanos = j->made.nanos;

	if (seconds < g->first || (seconds == g->first && nanos < g->first_nanos)) {
		g->first = seconds;
		g->first_nanos = nanos;
		tell(t, &t->told[group].first, j->made_text);
	}
	if (seconds > g->last || (seconds == g->last && nanos > g->last_nanos)) {
		g->last = seconds;
		g->last_nanos = nanos;
		tell(t, &t->told[group].last, j->made_text);
	}
}

static int
add(struct tally *t, size_t group, const struct tally_joint *j)
{
	if (group >= t->n)
		add_group(t, group);
	if (j->tray.n > 0)
		labels_add(&t->trays, group, j->tray);
	if (j->made_text.n > 0)
		add_time(t, group, j);
	if (j->loss_udb == DB_NONE) {
		t->groups[group].unknown++;
	} else if (add_loss(t, group, j) != 0) {
		t->bad = *j;
		return -1;
	}
	return 0;
}

/* Adds the joints that wait. */
static int
add_waiting(struct tally *t)
{
	struct field keys[TOGETHER];
	size_t groups[TOGETHER], n = t->nwaiting;

	if (n == 0)
		return 0;
	t->nwaiting = 0;
	for (size_t i = 0; i < n; i++)
		keys[i] = t->waiting[i].joint.group;
	ids_add_many(&t->ids, keys, n, groups);
	for (size_t i = 0; i < n; i++)
		if (groups[i] < t->n) {
			const struct tally_group *g = &t->groups[groups[i]];

			mem_soon(g);
			mem_soon(&g->passed);
			mem_soon(&g->basis);
			mem_soon(&t->told[groups[i]].last);
			mem_soon(t->above + groups[i] * t->nmeans);
			labels_soon(&t->trays, groups[i]);
		}
	/* joints come in the order of time, mostly: nearly each is the last of its group */
	for (size_t i = 0; i < n; i++)
		if (groups[i] < t->n)
			mem_soon(t->texts.p + t->told[groups[i]].last.at);
	for (size_t i = 0; i < n; i++)
		if (add(t, groups[i], &t->waiting[i].joint) != 0)
			return -1;
	return 0;
}

/*
 * Moves a text of up to 32 bytes to `to`, by copies of a fixed size that may overlap: a call of memcpy
 * would cost more.
 */
static inline char *
copy(char *to, struct field *f)
{
	const char *from = f->p;
	size_t n = f->n;

	f->p = to;
	if (n >= 16) {
		memcpy(to, from, 16);
		memcpy(to + n - 16, from + n - 16, 16);
	} else if (n >= 8) {
		memcpy(to, from, 8);
		memcpy(to + n - 8, from + n - 8, 8);
	} else if (n >= 4) {
		memcpy(to, from, 4);
		memcpy(to + n - 4, from + n - 4, 4);
	} else {
		for (size_t i = 0; i < n; i++)
			to[i] = from[i];
	}
	return to + n;
}

int
tally_add(struct tally *t, const struct tally_joint *j)
{
	struct tally_waiting *w = &t->waiting[t->nwaiting];
	char *p = w->text;

	if (j->group.n > TEXT || j->name.n > TEXT || j->tray.n > TEXT || j->made_text.n > TEXT)
		return add_waiting(t) != 0 ? -1 : add(t, ids_add(&t->ids, &j->group, 1, NULL), j);
	w->joint = *j;
	p = copy(p, &w->joint.group);
	p = copy(p, &w->joint.name);
	p = copy(p, &w->joint.tray);
	copy(p, &w->joint.made_text);
	return ++t->nwaiting == TOGETHER ? add_waiting(t) : 0;
}

int
tally_end(struct tally *t)
{
	if (add_waiting(t) != 0)
		return -1;
	if (t->quantiles)
		pile_sort(&t->pile, t->n);
	labels_sort(&t->trays);
	return 0;
}

static enum tally_verdict
verdict_of(const struct tally *t, size_t group)
{
	if (t->groups[group].failed > 0)
		return TALLY_FAIL;
	for (size_t i = 0; i < t->nmeans; i++)
		if (wide_above_zero(t->above[group * t->nmeans + i]))
			return TALLY_FAIL;
	return t->groups[group].unknown > 0 ? TALLY_UNKNOWN : TALLY_PASS;
}

static struct field
told(const struct tally *t, struct place place)
{
	return place.n > 0 ? (struct field){ t->texts.p + place.at, place.n } : field_of("");
}

void
tally_sum(struct tally *t, size_t group, struct tally_sum *sum)
{
	const struct tally_group *g = &t->groups[group];
	uint64_t known = g->moments.count;

	*sum = (struct tally_sum){
		.group = ids_key(&t->ids, group),
		.joints = g->passed + g->failed + g->unknown,
		.passed = g->passed,
		.failed = g->failed,
		.unknown = g->unknown,
		.known = known,
		.basis = g->basis,
		.mean_udb = known > 0 ? moments_mean(&g->moments) : DB_NONE,
		.median_udb = DB_NONE,
		.p95_udb = DB_NONE,
		.max_udb = known > 0 ? g->max_udb : DB_NONE,
		.sd_udb = known > 1 ? moments_sd(&g->moments) : -1,
		.worst = told(t, t->told[group].worst),
		.first = told(t, t->told[group].first),
		.last = told(t, t->told[group].last),
		.verdict = verdict_of(t, group),
	};
	if (t->quantiles && known > 0) {
		int64_t *losses = t->pile.values + t->pile.start[group];

		sum->median_udb = quantile(losses, known, 50);
		sum->p95_udb = quantile(losses, known, 95);
	}
	t->list.n = 0;
	labels_list(&t->trays, group, &t->list);
	sum->trays = t->list.n > 0 ? bytes_field(&t->list) : field_of("");
}

void
tally_free(struct tally *t)
{
	free(t->waiting);
	ids_free(&t->ids);
	free(t->groups);
	free(t->told);
	free(t->above);
	bytes_free(&t->texts);
	bytes_free(&t->list);
	labels_free(&t->trays);
	pile_free(&t->pile);
	*t = (struct tally){ .n = 0 };
}
