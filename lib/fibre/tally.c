#include "fibre/tally.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/num.h"

enum { SMALL = 64, CACHE_LINE = 64 };

/* A text in tally.texts, and the room it has there. */
struct place {
	size_t at;
	uint32_t n, room;
};

struct tally_group {
	struct moments moments; /* of the losses */
	int64_t max_udb;
	uint64_t passed, failed, unknown;
	struct when first_at, last_at;
	uint64_t trays; /* bit n: tray n was met, 0 to 63 */
	unsigned basis;
	struct place worst, first, last;
};

/* A tray that is not one of a group's bits. */
struct tally_tray {
	size_t group;
	bool whole;
	int64_t number; /* if whole */
	struct field text;
};

/*
 * Beyond a few groups, which the cache holds, most joints wait for memory several times. Joints are
 * then collected, and what a batch of them will need is asked for before the first is added.
 */
enum { FEW = 1000, TOGETHER = IDS_MANY };

struct tally_waiting {
	struct tally_joint joint;
	struct bytes text; /* what its fields point to */
};

void
tally_start(struct tally *t, size_t nmeans, bool quantiles)
{
	*t = (struct tally){ .nmeans = nmeans, .quantiles = quantiles };
	t->waiting = mem_zeroed(TOGETHER, sizeof *t->waiting);
}

static void
add_group(struct tally *t)
{
	t->groups = mem_grow(t->groups, &t->cap_groups, t->n + 1, sizeof *t->groups);
	t->groups[t->n] = (struct tally_group){ .max_udb = INT64_MIN };
	t->above = mem_grow(t->above, &t->cap_above, (t->n + 1) * t->nmeans + 1, sizeof *t->above);
	for (size_t i = 0; i < t->nmeans; i++)
		t->above[t->n * t->nmeans + i] = 0;
	t->n++;
}

/* Puts a text where the one before it was; if it is longer, it goes behind all others. */
static void
set_text(struct tally *t, struct place *place, struct field f)
{
	place->n = f.n < UINT32_MAX ? (uint32_t)f.n : UINT32_MAX;
	if (place->n > place->room) {
		place->room = place->n;
		place->at = t->texts.n;
		bytes_add(&t->texts, f.p, place->n);
	} else if (place->n > 0) {
		memcpy(t->texts.p + place->at, f.p, place->n);
	}
}

static struct field
text_of(const struct tally *t, struct place place)
{
	return place.n > 0 ? (struct field){ t->texts.p + place.at, place.n } : field_of("");
}

static void
add_loss(struct tally *t, size_t group, const struct tally_joint *j)
{
	struct tally_group *g = &t->groups[group];
	const struct limit *limit = j->limit;

	g->basis |= j->basis;
	if (j->loss_udb > g->max_udb) {
		g->max_udb = j->loss_udb;
		set_text(t, &g->worst, j->name);
	}
	if (limit == NULL || limit->each_udb == DB_NONE)
		g->unknown++;
	else if (j->loss_udb <= limit->each_udb)
		g->passed++;
	else
		g->failed++;
	if (limit != NULL && limit->mean_udb != DB_NONE)
		t->above[group * t->nmeans + limit->mean_at] += j->loss_udb - limit->mean_udb;
	if (t->quantiles)
		pile_add(&t->pile, (uint32_t)group, j->loss_udb);
	moments_add(&g->moments, j->loss_udb);
}

static void
add_time(struct tally *t, size_t group, const struct tally_joint *j)
{
	struct tally_group *g = &t->groups[group];

	if (g->first.n == 0 || when_order(&j->made, &g->first_at) < 0) {
		g->first_at = j->made;
		set_text(t, &g->first, j->made_text);
	}
	if (g->last.n == 0 || when_order(&j->made, &g->last_at) > 0) {
		g->last_at = j->made;
		set_text(t, &g->last, j->made_text);
	}
}

/* --- trays ----------------------------------------------------------------------------------- */

/* The number of a tray written as 0 to 63 without zeros in front, else SMALL. */
static unsigned
small_number(struct field tray)
{
	unsigned tens = 0, ones;

	if (tray.n == 0 || tray.n > 2)
		return SMALL;
	if (tray.n == 2) {
		tens = (unsigned)(tray.p[0] - '0');
		if (tens == 0 || tens >= 7)
			return SMALL;
	}
	ones = (unsigned)(tray.p[tray.n - 1] - '0');
	return ones <= 9 && tens * 10 + ones < SMALL ? tens * 10 + ones : SMALL;
}

static void
add_tray(struct tally *t, size_t group, struct field tray)
{
	unsigned n = small_number(tray);
	struct field key[2] = { { (const char *)&group, sizeof group }, tray };

	if (n < SMALL)
		t->groups[group].trays |= (uint64_t)1 << n;
	else
		ids_add(&t->trays, key, 2, NULL);
}

static int
tray_order(const void *a, const void *b)
{
	const struct tally_tray *x = a, *y = b;

	if (x->group != y->group)
		return x->group < y->group ? -1 : 1;
	if (x->whole != y->whole)
		return x->whole ? -1 : 1;
	if (x->whole && x->number != y->number)
		return x->number < y->number ? -1 : 1;
	return field_order(x->text, y->text);
}

static void
sort_trays(struct tally *t)
{
	t->sorted = mem_zeroed(t->trays.n + 1, sizeof *t->sorted);
	for (size_t i = 0; i < t->trays.n; i++) {
		struct tally_tray *s = &t->sorted[i];
		struct field key = ids_key(&t->trays, i);

		memcpy(&s->group, key.p, sizeof s->group);
		s->text.p = key.p + sizeof s->group + 1;
		s->text.n = key.n - sizeof s->group - 1;
		s->whole = num_whole(s->text, &s->number) == 0;
	}
	if (t->trays.n > 1)
		qsort(t->sorted, t->trays.n, sizeof *t->sorted, tray_order);
}

static void
list_tray(struct bytes *list, struct field tray)
{
	if (list->n > 0)
		bytes_add(list, ",", 1);
	bytes_add_field(list, tray);
}

static void
list_trays(struct tally *t, size_t group)
{
	uint64_t small = t->groups[group].trays;
	const struct tally_tray *s = t->sorted + t->listed, *end = t->sorted + t->trays.n;

	t->list.n = 0;
	for (unsigned n = 0; n < SMALL && small >> n > 0; n++) {
		char digits[NUM_SCALED];

		if ((small >> n & 1) == 0)
			continue;
		/* of one number, the plain way of writing it is the last in byte order */
		for (; s < end && s->group == group && s->whole && s->number <= (int64_t)n; s++)
			list_tray(&t->list, s->text);
		list_tray(&t->list, (struct field){ digits, num_scaled(digits, n, 0, false) });
	}
	for (; s < end && s->group == group; s++)
		list_tray(&t->list, s->text);
	t->listed = (size_t)(s - t->sorted);
}

/* --------------------------------------------------------------------------------------------- */

static void
add(struct tally *t, size_t group, const struct tally_joint *j)
{
	if (group == t->n)
		add_group(t);
	if (j->tray.n > 0)
		add_tray(t, group, j->tray);
	if (j->made_text.n > 0)
		add_time(t, group, j);
	if (j->loss_udb == DB_NONE)
		t->groups[group].unknown++;
	else
		add_loss(t, group, j);
}

static void
add_waiting(struct tally *t)
{
	struct field keys[TOGETHER];
	size_t groups[TOGETHER];

	for (size_t i = 0; i < t->nwaiting; i++)
		keys[i] = t->waiting[i].joint.group;
	ids_add_many(&t->ids, keys, t->nwaiting, groups);
	for (size_t i = 0; i < t->nwaiting; i++)
		if (groups[i] < t->n) {
			for (size_t at = 0; at < sizeof *t->groups; at += CACHE_LINE)
				mem_soon((const char *)&t->groups[groups[i]] + at);
			mem_soon(&t->above[groups[i] * t->nmeans]);
		}
	/* most tables are in the order of time, so that most joints are the last of their group so far */
	for (size_t i = 0; t->texts.n > 0 && i < t->nwaiting; i++)
		if (groups[i] < t->n)
			mem_soon(t->texts.p + t->groups[groups[i]].last.at);
	for (size_t i = 0; i < t->nwaiting; i++)
		add(t, groups[i], &t->waiting[i].joint);
	t->nwaiting = 0;
}

/* A copy of f in b, which has room for it. */
static struct field
copy(struct bytes *b, struct field f)
{
	char *p = b->p + b->n;

	if (f.n > 0)
		memcpy(p, f.p, f.n);
	b->n += f.n;
	return (struct field){ p, f.n };
}

void
tally_add(struct tally *t, const struct tally_joint *j)
{
	struct tally_waiting *w;

	if (t->n < FEW) {
		add(t, ids_add(&t->ids, &j->group, 1, NULL), j);
		return;
	}
	w = &t->waiting[t->nwaiting++];
	w->joint = *j;
	w->text.n = 0;
	bytes_room(&w->text, j->group.n + j->name.n + j->tray.n + j->made_text.n + 1);
	w->joint.group = copy(&w->text, j->group);
	w->joint.name = copy(&w->text, j->name);
	w->joint.tray = copy(&w->text, j->tray);
	w->joint.made_text = copy(&w->text, j->made_text);
	if (t->nwaiting == TOGETHER)
		add_waiting(t);
}

void
tally_end(struct tally *t)
{
	add_waiting(t);
	if (t->quantiles)
		pile_sort(&t->pile, t->n);
	sort_trays(t);
}

static enum tally_verdict
verdict_of(const struct tally *t, size_t group)
{
	if (t->groups[group].failed > 0)
		return TALLY_FAIL;
	for (size_t i = 0; i < t->nmeans; i++)
		if (t->above[group * t->nmeans + i] > 0)
			return TALLY_FAIL;
	return t->groups[group].unknown > 0 ? TALLY_UNKNOWN : TALLY_PASS;
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
		.mean_udb = known > 0 ? mean_of(g->moments.sum, known) : DB_NONE,
		.median_udb = DB_NONE,
		.p95_udb = DB_NONE,
		.max_udb = known > 0 ? g->max_udb : DB_NONE,
		.sd_udb = known > 1 ? moments_sd(&g->moments) : -1,
		.worst = text_of(t, g->worst),
		.first = text_of(t, g->first),
		.last = text_of(t, g->last),
		.verdict = verdict_of(t, group),
	};
	if (t->quantiles && known > 0) {
		int64_t *losses = t->pile.values + t->pile.start[group];

		sum->median_udb = quantile(losses, known, 50);
		sum->p95_udb = quantile(losses, known, 95);
	}
	list_trays(t, group);
	sum->trays = bytes_field(&t->list);
}

void
tally_free(struct tally *t)
{
	for (size_t i = 0; t->waiting != NULL && i < TOGETHER; i++)
		bytes_free(&t->waiting[i].text);
	free(t->waiting);
	ids_free(&t->ids);
	ids_free(&t->trays);
	free(t->groups);
	free(t->above);
	free(t->sorted);
	bytes_free(&t->texts);
	bytes_free(&t->list);
	pile_free(&t->pile);
	*t = (struct tally){ .n = 0 };
}
