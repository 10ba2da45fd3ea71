#include "fibre/tally.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/num.h"
#include "fibre/tally_inside.h"

void
tally_start(struct tally *t, const struct limits *limits, const struct plan *plan,
    enum joint_basis accept, const struct wavelengths *asked)
{
	*t = (struct tally){ .limits = limits,
		.plan = plan,
		.accept = accept,
		.asked = asked,
		.closures = limits_name_closures(limits),
		.nnm = asked->n,
		.night = NIGHT_NONE,
		.undone = NIGHT_NONE,
		.groups = IDS_NONE,
		.trays = IDS_NONE,
		.kinds = IDS_NONE,
		.withs = IDS_NONE };
	memcpy(t->nm, asked->nm, sizeof t->nm);
	t->there = mem_zeroed(plan != NULL ? plan->n + 1 : 1, sizeof *t->there);
}

/* --- rows ------------------------------------------------------------------------------------ */

uint32_t
tally_kind(struct tally *t, const struct limit_case *is)
{
	struct {
		int64_t planned_udb;
		char ribbon, accept;
	} rest;
	struct field key[3] = { is->closure, is->kind, { (const char *)&rest, sizeof rest } };
	bool fresh;
	size_t id;

	memset(&rest, 0, sizeof rest); /* the bytes between are part of the key */
	rest.planned_udb = is->planned_udb;
	rest.ribbon = is->ribbon;
	rest.accept = (char)is->accept;
	id = ids_add(&t->kinds, key, 3, &fresh);
	if (fresh) {
		t->kind = mem_grow(t->kind, &t->cap_kind, id + 1, sizeof *t->kind);
		t->kind[id] = (struct tally_kind){ .is = *is };
		t->kind[id].is.closure = region_keep(&t->texts, is->closure);
		t->kind[id].is.kind = region_keep(&t->texts, is->kind);
	}
	return (uint32_t)id;
}

static uint32_t
kind_of(struct tally *t, const struct tally_row *row)
{
	struct limit_case is = { .kind = row->kind,
		.closure = t->closures ? row->closure : field_of(""),
		.ribbon = row->ribbon,
		.accept = row->accept > t->accept ? row->accept : t->accept,
		.planned_udb = DB_NONE };

	if (row->plan != PLAN_NONE)
		limit_plan(&is, &t->plan->rows[row->plan]);
	return tally_kind(t, &is);
}

uint8_t
tally_nm(struct tally *t, double nm, struct err *err)
{
	size_t i = 0;

	if (nm == 0)
		return 0;
	while (i < t->nnm && t->nm[i] != nm)
		i++;
	if (i == WAVELENGTHS_MOST) {
		err_set(err, "more than %d wavelengths", WAVELENGTHS_MOST);
		return 0;
	}
	if (i == t->nnm)
		t->nm[t->nnm++] = nm;
	return (uint8_t)(i + 1);
}

/* A later row of one wavelength takes the place of an earlier one. */
static void
add_reading(struct tally *t, struct tally_joint *j, const struct tally_row *row, uint8_t nm)
{
	struct tally_reading *r;
	uint32_t at = j->reading;

	if (row->loss_udb == DB_NONE)
		return;
	while (at != NONE && t->readings[at].nm != nm)
		at = t->readings[at].next;
	if (at == NONE) {
		t->readings =
		    mem_grow(t->readings, &t->cap_readings, t->nreadings + 1, sizeof *t->readings);
		at = (uint32_t)t->nreadings++;
		t->readings[at].next = j->reading;
		j->reading = at;
	}
	r = &t->readings[at];
	r->loss_udb = row->loss_udb;
	r->basis = (uint8_t)row->basis;
	r->gain = row->gain;
	r->nm = nm;
	r->with = row->with.n > 0 ? (uint32_t)ids_add(&t->withs, &row->with, 1, NULL) + 1 : 0;
}

static size_t
number_of(struct tally *t, const struct tally_row *row)
{
	struct field key[2] = { row->name, row->key };
	uint64_t own;

	if (row->name.n > 0)
		return night_joint(&t->night, key, 1);
	if (row->key.n == 0) {
		own = ++t->nameless;
		key[1] = (struct field){ (const char *)&own, sizeof own };
	}
	return night_joint(&t->night, key, 2);
}

static void
begin_joint(struct tally *t, struct tally_joint *j, const struct tally_row *row, uint32_t group)
{
	*j = (struct tally_joint){ .est_udb = DB_NONE, .reading = NONE };
	j->group = group;
	j->kind = kind_of(t, row);
	if (row->plan != PLAN_NONE) {
		j->plan = (uint32_t)row->plan + 1;
		if (field_same(t->plan->rows[row->plan].is.closure, row->closure))
			j->flags |= THERE;
	}
	if (row->name.n == 0)
		j->flags |= NAMELESS | (row->key.n == 0 ? ALONE : 0);
}

uint32_t
tally_group_number(struct tally *t, struct field group)
{
	bool fresh;
	size_t id = ids_add(&t->groups, &group, 1, &fresh);

	t->astray = mem_grow(t->astray, &t->cap_astray, id + 1, sizeof *t->astray);
	if (fresh)
		t->astray[id] = 0;
	return (uint32_t)id + 1;
}

int
tally_add(struct tally *t, const struct tally_row *row, struct err *err)
{
	size_t number = number_of(t, row);
	uint8_t nm = tally_nm(t, row->nm, err);
	enum night_is is = night_add(&t->night, number, &row->attempt);
	struct tally_joint *j;
	uint32_t group;

	t->joints = mem_grow(t->joints, &t->cap_joints, number + 1, sizeof *t->joints);
	j = &t->joints[number];
	if (is == NIGHT_OLDER || err_is_set(err))
		return err_is_set(err) ? -1 : 0;
	group = tally_group_number(t, row->group);
	if (is == NIGHT_NEWER)
		begin_joint(t, j, row, group);
	if (group != j->group) { /* one attempt in two places: neither is right */
		j->flags |= AMISS;
		t->astray[group - 1]++;
	}
	j->flags |= (row->failed ? FAILED : 0) | (row->doubtful ? DOUBTFUL : 0) |
		    (row->amiss ? AMISS : 0) | (row->surplus ? SURPLUS : 0);
	if (row->tray.n > 0)
		j->tray = (uint32_t)ids_add(&t->trays, &row->tray, 1, NULL) + 1;
	if (row->attempt.timed && j->made_text.n == 0) {
		j->made = row->attempt.made;
		j->made_text = region_keep(&t->texts, row->made_text);
	}
	if (row->est_udb != DB_NONE)
		j->est_udb = row->est_udb;
	add_reading(t, j, row, nm);
	return 0;
}

void
tally_add_undone(struct tally *t, const struct tally_row *row)
{
	struct field key[2] = { row->name, row->key };

	if (row->name.n + row->key.n > 0)
		night_add_undone(&t->undone, night_joint(&t->undone, key, row->name.n > 0 ? 1 : 2),
		    &row->attempt);
}

/* A joint is doubtful that a later attempt took away, without standing itself. */
static void
doubt_undone(struct tally *t)
{
	for (size_t i = 0; i < t->undone.joints.n; i++) {
		size_t joint = ids_find_one(&t->night.joints, ids_key(&t->undone.joints, i));

		if (joint != SIZE_MAX && night_later(&t->undone, i, &t->night, joint))
			t->joints[joint].flags |= DOUBTFUL;
	}
}

/* --- groups ---------------------------------------------------------------------------------- */

static void
count_planned(struct tally *t)
{
	size_t seen = t->groups.n;

	for (size_t i = 0; i < t->night.joints.n && t->mode == TALLY_WHOLE; i++)
		if (t->joints[i].flags & THERE)
			t->there[t->joints[i].plan - 1] = true;
	for (size_t i = 0; i < t->plan->n; i++)
		if (t->plan->rows[i].asked)
			ids_add(&t->groups, &t->plan->rows[i].is.closure, 1, NULL);
	t->astray = mem_grow(t->astray, &t->cap_astray, t->groups.n, sizeof *t->astray);
	memset(t->astray + seen, 0, (t->groups.n - seen) * sizeof *t->astray);
	t->planned = mem_zeroed(t->groups.n + 1, sizeof *t->planned);
	t->missing = mem_zeroed(t->groups.n + 1, sizeof *t->missing);
	t->not_due = mem_zeroed(t->groups.n + 1, sizeof *t->not_due);
	for (size_t i = 0; i < t->plan->n; i++) {
		const struct plan_row *r = &t->plan->rows[i];
		size_t g =
		    r->state == PLAN_JOIN ? ids_find_one(&t->groups, r->is.closure) : SIZE_MAX;

		if (g == SIZE_MAX)
			continue;
		t->planned[g] += r->asked;
		t->not_due[g] += !r->asked;
		t->missing[g] += r->asked && !t->there[i];
	}
}

static int
tray_order(const void *a, const void *b)
{
	const struct tally_tray *x = a, *y = b;

	if (x->whole != y->whole)
		return x->whole ? -1 : 1;
	if (x->whole && x->number != y->number)
		return x->number < y->number ? -1 : 1;
	return field_order(x->text, y->text);
}

void
tally_gather(struct tally *t, size_t groups)
{
	t->gathered = mem_grow(t->gathered, &t->cap_gathered, groups, sizeof *t->gathered);
	while (t->ngathered < groups)
		t->gathered[t->ngathered++] = (struct tally_gathered){ .joints = 0 };
}

/* The group of a joint, or of a part. */
static uint32_t
group_of(const struct tally *t, size_t i)
{
	return t->mode == TALLY_MERGE ? t->parts[i].group : t->joints[i].group;
}

void
tally_end(struct tally *t)
{
	size_t n = t->mode == TALLY_MERGE ? t->nparts : t->night.joints.n, most = 0;

	doubt_undone(t);
	if (t->plan != NULL && t->mode != TALLY_PARTIAL)
		count_planned(t);
	if (t->mode == TALLY_MERGE)
		tally_gather(t, t->groups.n);
	t->start = mem_zeroed(t->groups.n + 2, sizeof *t->start);
	t->order = mem_zeroed(n + 1, sizeof *t->order);
	for (size_t i = 0; i < n; i++)
		t->start[group_of(t, i) + 1]++;
	for (size_t g = 0; g < t->groups.n; g++) {
		most = t->start[g + 2] > most ? t->start[g + 2] : most;
		t->start[g + 2] += t->start[g + 1];
	}
	for (size_t i = 0; i < n; i++) {
		t->order[t->start[group_of(t, i)]++] = i;
		tally_see(t, i, t->seen);
	}
	t->met = mem_zeroed(t->trays.n + 1, sizeof *t->met);
	t->sorted = mem_zeroed(t->trays.n + 1, sizeof *t->sorted);
	if (t->mode == TALLY_MERGE)
		t->counted = mem_zeroed(most + 1, sizeof *t->counted);
	else
		t->losses = mem_zeroed(most + 1, sizeof *t->losses);
	t->above = mem_zeroed(t->limits->nmeans + 1, sizeof *t->above);
	t->mean_udb = mem_zeroed(t->limits->nmeans + 1, sizeof *t->mean_udb);
}

/* The tray of a joint, or of a part that is one, from 1. */
static uint32_t
tray_of(const struct tally *t, size_t i)
{
	if (t->mode != TALLY_MERGE)
		return t->joints[i].tray;
	return t->parts[i].nm == NM_TRAY ? t->parts[i].is.kind : 0;
}

static void
list_trays(struct tally *t, struct tally_group *g)
{
	size_t n = 0;

	for (size_t i = g->first_joint; i < g->end_joint; i++) {
		uint32_t tray = tray_of(t, t->order[i]);
		struct tally_tray *s = &t->sorted[n];

		if (tray == 0 || t->met[tray - 1] == g->number + 1)
			continue;
		t->met[tray - 1] = g->number + 1;
		s->text = ids_key(&t->trays, tray - 1);
		s->whole = num_whole(s->text, &s->number) == 0;
		n++;
	}
	if (n > 1)
		qsort(t->sorted, n, sizeof *t->sorted, tray_order);
	t->list.n = 0;
	g->ntrays = n;
	for (size_t i = 0; i < n; i++) {
		bytes_add_text(&t->list, i > 0 ? "," : "");
		bytes_add_field(&t->list, t->sorted[i].text);
	}
}

static void
find_times(const struct tally *t, struct tally_group *g)
{
	const struct tally_joint *first = NULL, *last = NULL;

	for (size_t i = g->first_joint; i < g->end_joint; i++) {
		const struct tally_joint *j = &t->joints[t->order[i]];

		if (j->made_text.n == 0)
			continue;
		if (first == NULL || when_order(&j->made, &first->made) < 0)
			first = j;
		if (last == NULL || when_order(&j->made, &last->made) > 0)
			last = j;
	}
	g->first = first != NULL ? first->made_text : field_of("");
	g->last = last != NULL ? last->made_text : field_of("");
}

void
tally_see(const struct tally *t, size_t i, bool *seen)
{
	if (t->mode == TALLY_MERGE) {
		if (t->parts[i].nm <= WAVELENGTHS_MOST)
			seen[t->parts[i].nm] = true;
		return;
	}
	for (uint32_t r = t->joints[i].reading; r != NONE; r = t->readings[r].next)
		seen[t->readings[r].nm] = true;
}

static void
find_wavelengths(const struct tally *t, struct tally_group *g)
{
	struct err none = { "" };
	bool seen[WAVELENGTHS_MOST + 1] = { false };

	if (t->asked->n > 0) {
		g->wavelengths = *t->asked;
		return;
	}
	if (t->plan == NULL)
		for (size_t i = g->first_joint; i < g->end_joint; i++)
			tally_see(t, t->order[i], seen);
	for (size_t i = 0; i < t->nnm; i++)
		if (t->plan != NULL ? t->seen[i + 1] : seen[i + 1])
			wavelengths_add(&g->wavelengths, t->nm[i], &none);
	if (g->wavelengths.n == 0)
		g->wavelengths.n = 1; /* 0: none is known */
}

/* Joints, what is amiss and surplus, and the times of a group whose astray ones are counted. */
static void
count_group(const struct tally *t, struct tally_group *g)
{
	if (t->mode == TALLY_MERGE) {
		const struct tally_gathered *all = &t->gathered[g->number];

		g->joints = all->joints;
		g->surplus = all->surplus;
		g->first = all->first;
		g->last = all->last;
		return;
	}
	g->joints = g->end_joint - g->first_joint;
	for (size_t k = g->first_joint; k < g->end_joint; k++) {
		g->amiss += (t->joints[t->order[k]].flags & AMISS) > 0;
		g->surplus += (t->joints[t->order[k]].flags & SURPLUS) > 0;
	}
	find_times(t, g);
}

bool
tally_next(struct tally *t, struct tally_group *g)
{
	while (t->next < t->groups.n) {
		size_t i = t->next++;

		*g = (struct tally_group){ .name = ids_key(&t->groups, i),
			.number = i,
			.first_joint = t->start[i],
			.end_joint = t->start[i + 1],
			.planned = t->planned != NULL ? t->planned[i] : 0,
			.not_due = t->planned != NULL ? t->not_due[i] : 0,
			.missing = t->planned != NULL ? t->missing[i] : 0,
			.amiss = t->astray[i] };
		count_group(t, g);
		if (g->joints + g->planned + g->amiss == 0 && t->mode != TALLY_PARTIAL)
			continue;
		list_trays(t, g);
		g->trays = bytes_field(&t->list);
		find_wavelengths(t, g);
		return true;
	}
	return false;
}

/* --- judging --------------------------------------------------------------------------------- */

static const struct limit *
limit_of(struct tally *t, uint32_t kind, uint8_t nm, enum joint_basis basis)
{
	struct tally_kind *k = &t->kind[kind];
	size_t at = nm * (size_t)JOINT_UNKNOWN + basis;

	if (k->limits == NULL) {
		k->limits = mem_zeroed((t->nnm + 1) * JOINT_UNKNOWN, sizeof *k->limits);
		k->made = mem_zeroed((t->nnm + 1) * JOINT_UNKNOWN, sizeof *k->made);
	}
	if (!k->made[at]) {
		k->is.nm = nm > 0 ? t->nm[nm - 1] : 0;
		k->is.basis = basis;
		limit_judge(t->limits, &k->is, &k->limits[at]);
		k->made[at] = true;
	}
	return &k->limits[at];
}

/* What is known of a joint at a wavelength; JOINT_UNKNOWN: nothing. with: see tally_reading. */
static enum joint_basis
loss_at(const struct tally *t, const struct tally_joint *j, uint8_t nm, int64_t *loss_udb,
    uint32_t *with)
{
	*with = 0;
	for (uint32_t r = j->reading; r != NONE; r = t->readings[r].next)
		if (t->readings[r].nm == nm) {
			*loss_udb = t->readings[r].loss_udb;
			*with = t->readings[r].with;
			return t->readings[r].gain ? JOINT_UNKNOWN
						   : (enum joint_basis)t->readings[r].basis;
		}
	*loss_udb = j->est_udb;
	return j->est_udb != DB_NONE ? JOINT_ESTIMATE : JOINT_UNKNOWN;
}

/* sums in the making */
struct sums {
	struct tally_sum *sum;
	struct moments m;
	size_t n; /* of losses, or of counted */
};

/* A loss that the joint shares is held against the sum of their limits. */
static enum tally_verdict
judge_shared(struct tally *t, const struct tally_case *c, uint8_t nm, struct tally_sum *sum)
{
	struct limit_case is = t->kind[c->kind].is;
	struct limit limit;

	is.nm = nm > 0 ? t->nm[nm - 1] : 0;
	is.basis = (enum joint_basis)c->basis;
	limit_shared(t->limits, &is, ids_key(&t->withs, c->with - 1), t->plan, &limit);
	if (!limit.accepted)
		return TALLY_UNKNOWN;
	sum->bases |= TALLY_MERGED;
	if (limit.each_udb == DB_NONE)
		return TALLY_UNKNOWN;
	return c->loss_udb <= limit.each_udb ? TALLY_PASS : TALLY_FAIL;
}

struct field
tally_name(const struct tally *t, size_t i)
{
	if (t->mode == TALLY_MERGE)
		return t->parts[i].worst;
	return t->joints[i].flags & NAMELESS ? field_of("") : ids_key(&t->night.joints, i);
}

void
tally_case(const struct tally *t, size_t joint, uint8_t nm, struct tally_case *c)
{
	const struct tally_joint *j = &t->joints[joint];

	*c = (struct tally_case){
		.joints = 1, .first = joint, .flags = j->flags & (FAILED | DOUBTFUL)
	};
	c->basis = (uint8_t)loss_at(t, j, nm, &c->loss_udb, &c->with);
	if (c->basis == JOINT_UNKNOWN)
		c->loss_udb = c->with = 0;
	else
		c->kind = j->kind;
}

/* Adds what joints lose to the sums, and judges it. */
static enum tally_verdict
judge(struct tally *t, const struct tally_case *c, uint8_t nm, struct sums *s)
{
	struct tally_sum *sum = s->sum;
	const struct limit *limit;

	if (c->basis == JOINT_UNKNOWN)
		return TALLY_UNKNOWN;
	if (c->with > 0)
		return judge_shared(t, c, nm, sum);
	limit = limit_of(t, c->kind, nm, (enum joint_basis)c->basis);
	if (!limit->accepted)
		return TALLY_UNKNOWN;
	sum->bases |= 1u << c->basis;
	if (t->mode == TALLY_MERGE)
		t->counted[s->n++] = (struct counted){ c->loss_udb, c->joints };
	else
		t->losses[s->n++] = c->loss_udb;
	moments_add_many(&s->m, c->loss_udb, c->joints);
	if (sum->max_udb == DB_NONE || c->loss_udb > sum->max_udb) {
		sum->max_udb = c->loss_udb;
		sum->worst = tally_name(t, c->first);
	}
	if (limit->mean_udb != DB_NONE) {
		t->mean_udb[limit->mean_at] = limit->mean_udb;
		t->above[limit->mean_at] +=
		    (int128)(c->loss_udb - limit->mean_udb) * (int128)c->joints;
	}
	if (limit->each_udb == DB_NONE)
		return TALLY_UNKNOWN;
	return c->loss_udb <= limit->each_udb ? TALLY_PASS : TALLY_FAIL;
}

static void
add_case(struct tally *t, const struct tally_case *c, uint8_t nm, struct sums *s)
{
	enum tally_verdict is = judge(t, c, nm, s);

	if (c->flags & FAILED || is == TALLY_FAIL)
		s->sum->failed += c->joints;
	else if (c->flags & DOUBTFUL || is == TALLY_UNKNOWN)
		s->sum->unknown += c->joints;
	else
		s->sum->passed += c->joints;
}

/*
 * A table that knows the wavelength in this group has parts for it; of one that does not, those of any
 * other wavelength are true. Returns where the parts of the next table begin.
 */
static size_t
add_run(struct tally *t, const struct tally_group *g, size_t from, uint8_t nm, struct sums *s)
{
	uint32_t run = t->parts[t->order[from]].run;
	uint8_t wanted = NM_OTHER;
	size_t end = from;

	for (; end < g->end_joint && t->parts[t->order[end]].run == run; end++)
		if (t->parts[t->order[end]].nm == nm)
			wanted = nm;
	for (size_t i = from; i < end; i++)
		if (t->parts[t->order[i]].nm == wanted)
			add_case(t, &t->parts[t->order[i]].is, nm, s);
	return end;
}

static enum tally_verdict
verdict_of(const struct tally *t, const struct tally_group *g, const struct tally_sum *sum)
{
	if (sum->failed > 0 || g->amiss > 0 || g->surplus > 0)
		return TALLY_FAIL;
	for (size_t i = 0; i < t->limits->nmeans; i++) /* even if the others lose nothing */
		if (t->above[i] >
		    (int128)t->mean_udb[i] * (int128)(g->joints + g->missing - sum->known))
			return TALLY_FAIL;
	return sum->unknown > 0 || g->missing > 0 || g->joints == 0 ? TALLY_UNKNOWN : TALLY_PASS;
}

void
tally_sum(struct tally *t, const struct tally_group *g, size_t wavelength, bool quantiles,
    struct tally_sum *sum)
{
	double wanted = g->wavelengths.nm[wavelength];
	struct sums s = { .sum = sum };
	size_t i = g->first_joint;
	uint8_t nm = 0;

	*sum = (struct tally_sum){ .mean_udb = DB_NONE,
		.median_udb = DB_NONE,
		.p95_udb = DB_NONE,
		.max_udb = DB_NONE,
		.sd_udb = -1 };
	for (size_t k = 0; k < t->limits->nmeans; k++)
		t->above[k] = 0;
	if (wanted != 0)
		while (t->nm[nm++] != wanted)
			;
	while (i < g->end_joint && t->mode == TALLY_MERGE)
		i = add_run(t, g, i, nm, &s);
	for (; i < g->end_joint; i++) {
		struct tally_case c;

		tally_case(t, t->order[i], nm, &c);
		add_case(t, &c, nm, &s);
	}
	sum->known = s.m.count;
	sum->verdict = verdict_of(t, g, sum);
	if (s.n > 0)
		sum->mean_udb = mean_of(s.m.sum, s.m.count);
	if (s.m.count > 1)
		sum->sd_udb = moments_sd(&s.m);
	if (s.n > 0 && quantiles)
		for (int p95 = 0; p95 < 2; p95++)
			*(p95 ? &sum->p95_udb : &sum->median_udb) =
			    t->mode == TALLY_MERGE
				? quantile_counted(t->counted, s.n, p95 ? 95 : 50)
				: quantile(t->losses, s.n, p95 ? 95 : 50);
}

void
tally_free(struct tally *t)
{
	for (size_t i = 0; i < t->kinds.n; i++) {
		free(t->kind[i].limits);
		free(t->kind[i].made);
	}
	night_free(&t->night);
	night_free(&t->undone);
	ids_free(&t->groups);
	ids_free(&t->trays);
	ids_free(&t->kinds);
	ids_free(&t->withs);
	region_free(&t->texts);
	bytes_free(&t->list);
	free(t->joints);
	free(t->readings);
	free(t->kind);
	free(t->order);
	free(t->start);
	free(t->planned);
	free(t->not_due);
	free(t->mean_udb);
	free(t->missing);
	free(t->astray);
	free(t->met);
	free(t->sorted);
	free(t->losses);
	free(t->counted);
	free(t->parts);
	free(t->gathered);
	free(t->there);
	free(t->above);
	*t = (struct tally){ .next = 0 };
}
