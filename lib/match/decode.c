#include "match/decode.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/mem.h"

enum { SEGMENT = 1024 }; /* arcs whose states are held at a time; others are computed again */

struct node {
	struct match_state state;
	double ahead, behind; /* sums of the ways to it and from it, both scaled */
};

struct edge {
	uint32_t from, to; /* within their layers */
	float weight;
	uint8_t how;
};

/* the states after an arc, and the edges that lead from them */
struct layer {
	size_t node, nodes, edge, edges;
};

/* nodes that are found by their states */
struct pool {
	struct node *v;
	size_t n, cap;
	uint32_t *at, *stamp; /* hashed: numbers of nodes, those whose stamp is now's */
	uint32_t now;
	size_t slots; /* a power of two */
};

/* a layer that is held while others are not, with the words of its sets and what is found made */
struct kept {
	struct node *nodes;
	size_t n;
	struct bytes sets;
	uint64_t *found;
};

struct decoder {
	const struct match_task *task;
	struct match_decoded *out;
	struct node *nodes;
	struct edge *edges;
	size_t n, cap, nedges, cap_edges, cap_moved;
	struct pool fresh;  /* of the layer being made */
	struct pool joined; /* what stands for its nodes beyond the number, nothing made */
	struct layer layers[SEGMENT + 1];
	uint32_t *moved; /* of each fresh node its number in the layer, or MATCH_NONE */
	double *factor;  /* of each unit, for the arc whose stamp it has */
	size_t *stamp;
	double *claimed; /* of each unit, then of practice, then of work elsewhere */
};

/* --- finding equal states -------------------------------------------------------------------- */

static size_t
slot_of(const struct pool *p, const struct match_state *s)
{
	uint64_t h = (uint64_t)s->unit << 32 | s->made;
	size_t i;

	h = (h ^ h >> 29) * UINT64_C(0x9e3779b97f4a7c15);
	h ^= (uint64_t)s->dir << 48 | (uint64_t)s->mode << 40 | (uint64_t)s->look << 32 | s->back;
	h *= UINT64_C(0xbf58476d1ce4e5b9);
	i = (size_t)(h ^ h >> 32) & (p->slots - 1);
	while (p->stamp[i] == p->now && memcmp(&p->v[p->at[i]].state, s, sizeof *s) != 0)
		i = (i + 1) & (p->slots - 1);
	return i;
}

static void
pool_clear(struct pool *p)
{
	p->n = 0;
	p->now++;
}

static void
pool_grow(struct pool *p)
{
	p->slots = p->slots == 0 ? 1024 : 2 * p->slots;
	free(p->at);
	free(p->stamp);
	p->at = mem_zeroed(p->slots, sizeof *p->at);
	p->stamp = mem_zeroed(p->slots, sizeof *p->stamp);
	p->now = 1;
	for (size_t k = 0; k < p->n; k++) {
		size_t i = slot_of(p, &p->v[k].state);

		p->at[i] = (uint32_t)k;
		p->stamp[i] = p->now;
	}
}

/* The number of the node with this state, a new one with nothing ahead if there was none. */
static uint32_t
pool_node(struct pool *p, const struct match_state *s, bool *fresh)
{
	size_t i;

	if (2 * p->n >= p->slots)
		pool_grow(p);
	i = slot_of(p, s);
	*fresh = p->stamp[i] != p->now;
	if (*fresh) {
		p->stamp[i] = p->now;
		p->at[i] = (uint32_t)p->n;
		p->v = mem_grow(p->v, &p->cap, p->n + 1, sizeof *p->v);
		p->v[p->n++] = (struct node){ *s, 0, 0 };
	}
	return p->at[i];
}

static void
pool_free(struct pool *p)
{
	free(p->v);
	free(p->at);
	free(p->stamp);
}

/* --- forward --------------------------------------------------------------------------------- */

static double
factor_of(struct decoder *d, size_t arc, const struct match_state *s)
{
	if (!d->task->arcs[arc].typed || s->mode != MATCH_ATTEMPT)
		return 1;
	if (d->stamp[s->unit] != arc + 1) {
		d->stamp[s->unit] = arc + 1;
		d->factor[s->unit] = d->task->unit(d->task->of, arc, s->unit);
	}
	return d->factor[s->unit];
}

/* All that node k of a layer leads to; *best is the greatest sum so far. */
static void
expand(struct decoder *d, const struct layer *l, size_t k, size_t arc, double *best)
{
	const struct match_arc *a = &d->task->arcs[arc];
	const struct node *from = &d->nodes[l->node + k];
	struct match_moves *m = d->task->moves;
	double least = exp(-d->task->beam);
	struct match_toward toward = { a->by_how, d->task->near + a->near, a->nnear, a->look,
		*best * least / from->ahead };
	bool fresh;

	match_moves_from(m, &from->state, &toward);
	for (size_t i = 0; i < m->n; i++) {
		const struct match_step *s = &m->steps[i];
		double weight = s->weight * factor_of(d, arc, &s->to);
		uint32_t to;

		if (weight <= 0 || from->ahead * weight < *best * least)
			continue;
		to = pool_node(&d->fresh, &s->to, &fresh);
		d->fresh.v[to].ahead += from->ahead * weight;
		*best = d->fresh.v[to].ahead > *best ? d->fresh.v[to].ahead : *best;
		d->edges = mem_grow(d->edges, &d->cap_edges, d->nedges + 1, sizeof *d->edges);
		d->edges[d->nedges++] =
		    (struct edge){ (uint32_t)k, to, (float)weight, (uint8_t)s->how };
	}
}

struct ranked {
	double ahead;
	uint32_t k;
};

static int
by_rank(const void *pa, const void *pb)
{
	const struct ranked *a = pa, *b = pb;

	if (a->ahead != b->ahead)
		return a->ahead > b->ahead ? -1 : 1;
	return a->k < b->k ? -1 : a->k > b->k;
}

/* Puts a node into the layer, or joins it with one that is there. Returns its number in the layer. */
static uint32_t
put_node(struct decoder *d, size_t begin, const struct node *one)
{
	size_t n = d->n - begin;
	struct match_state key = one->state;

	key.made = 0;
	if (n >= d->task->most) {
		bool fresh;
		size_t at = d->task->most + pool_node(&d->joined, &key, &fresh);
		struct node *stands = &d->nodes[begin + at];

		if (!fresh) {
			stands->state.made =
			    match_either(d->task->moves, &stands->state, one->state.made);
			stands->ahead += one->ahead;
			return (uint32_t)at;
		}
	}
	d->nodes = mem_grow(d->nodes, &d->cap, d->n + 1, sizeof *d->nodes);
	d->nodes[d->n++] = *one;
	return (uint32_t)n;
}

/* The fresh nodes become the next layer: the likely ones, sorted, scaled to a sum of 1. */
static void
settle(struct decoder *d, struct layer *l, struct layer *next, double best)
{
	struct ranked *order = mem_zeroed(d->fresh.n + 1, sizeof *order);
	size_t n = 0, edge = l->edge;
	double sum = 0, least = best * exp(-d->task->beam);

	next->node = d->n;
	d->moved = mem_grow(d->moved, &d->cap_moved, d->fresh.n + 1, sizeof *d->moved);
	for (uint32_t k = 0; k < d->fresh.n; k++) {
		d->moved[k] = MATCH_NONE;
		if (d->fresh.v[k].ahead >= least)
			order[n++] = (struct ranked){ d->fresh.v[k].ahead, k };
	}
	qsort(order, n, sizeof *order, by_rank);
	for (size_t i = 0; i < n; i++) {
		sum += order[i].ahead;
		d->moved[order[i].k] = put_node(d, next->node, &d->fresh.v[order[i].k]);
	}
	free(order);
	next->nodes = d->n - next->node;
	for (size_t k = next->node; k < d->n; k++)
		d->nodes[k].ahead /= sum;
	for (size_t e = l->edge; e < d->nedges; e++) {
		struct edge one = d->edges[e];

		one.to = d->moved[one.to];
		if (one.to != MATCH_NONE)
			d->edges[edge++] = one;
	}
	d->nedges = edge;
	l->edges = edge - l->edge;
}

/* From the layer before an arc to the one behind it. */
static void
forward(struct decoder *d, size_t arc, struct layer *l, struct layer *next)
{
	double best = 0;

	pool_clear(&d->fresh);
	pool_clear(&d->joined);
	l->edge = d->nedges;
	for (size_t k = 0; k < l->nodes; k++)
		expand(d, l, k, arc, &best);
	settle(d, l, next, best);
	match_moves_leave(d->task->moves, &d->nodes[next->node].state);
}

/* --- backward -------------------------------------------------------------------------------- */

static int
by_odds(const void *pa, const void *pb)
{
	const struct match_claim *a = pa, *b = pb;

	if (a->odds != b->odds)
		return a->odds > b->odds ? -1 : 1;
	return a->is < b->is ? -1 : a->is > b->is;
}

/* What a state says its arc is: a unit, or behind all units practice, then work elsewhere. */
static size_t
is_what(const struct decoder *d, const struct match_state *s)
{
	size_t units = d->task->moves->course->units;

	return s->mode == MATCH_ATTEMPT ? s->unit : s->mode == MATCH_PRACTICE ? units : units + 1;
}

/* The claims of an arc, from the layer behind it; those of later arcs are there already. */
static void
claim(struct decoder *d, size_t arc, const struct layer *l)
{
	struct match_decoded *out = d->out;
	const struct match_course *c = d->task->moves->course;
	const struct node *v = d->nodes + l->node;
	size_t begin = out->n;
	double sum = 0;

	for (size_t k = 0; k < l->nodes; k++) {
		d->claimed[is_what(d, &v[k].state)] += v[k].ahead * v[k].behind;
		sum += v[k].ahead * v[k].behind;
	}
	for (size_t k = 0; k < l->nodes; k++) {
		size_t is = is_what(d, &v[k].state);
		double odds = d->claimed[is] / sum;

		if (v[k].state.mode == MATCH_ATTEMPT)
			out->dirs[c->closure_of[c->tray_of[is]]][v[k].state.dir] +=
			    v[k].ahead * v[k].behind / sum;
		d->claimed[is] = 0;
		if (odds * MATCH_LEAST_CLAIM < 1)
			continue;
		out->claims = mem_grow(out->claims, &out->cap, out->n + 1, sizeof *out->claims);
		out->claims[out->n++] = (struct match_claim){ is < c->units    ? (uint32_t)is
							      : is == c->units ? MATCH_IS_PRACTICE
									       : MATCH_IS_ELSEWHERE,
			odds };
	}
	qsort(out->claims + begin, out->n - begin, sizeof *out->claims, by_odds);
	out->end[arc] = out->n;
}

/* What leads on from a layer, from what leads on from the next. */
static void
backward(struct decoder *d, size_t arc, const struct layer *l, const struct layer *next)
{
	struct node *from = d->nodes + l->node, *to = d->nodes + next->node;
	double most = 0, sum = 0, how[MATCH_HOWS] = { 0 };

	for (size_t k = 0; k < l->nodes; k++)
		from[k].behind = 0;
	for (size_t e = l->edge; e < l->edge + l->edges; e++) {
		const struct edge *one = &d->edges[e];
		double on = (double)one->weight * to[one->to].behind;

		from[one->from].behind += on;
		how[one->how] += from[one->from].ahead * on;
		sum += from[one->from].ahead * on;
	}
	for (int i = 0; i < MATCH_HOWS; i++)
		d->out->how[arc][i] = (float)(sum > 0 ? how[i] / sum : 0);
	for (size_t k = 0; k < l->nodes; k++)
		most = from[k].behind > most ? from[k].behind : most;
	for (size_t k = 0; k < l->nodes && most > 0; k++)
		from[k].behind /= most;
}

/* --- segments -------------------------------------------------------------------------------- */

/* Takes a layer and what is found made out of the decoder, for begin_segment to put it back. */
static struct kept
keep(const struct decoder *d, const struct layer *l)
{
	const struct match_moves *m = d->task->moves;
	size_t words = m->place[m->course->closures];
	struct kept k = { mem_zeroed(l->nodes, sizeof *k.nodes), l->nodes,
		.found = mem_zeroed(words + 1, sizeof *k.found) };

	memcpy(k.nodes, d->nodes + l->node, l->nodes * sizeof *k.nodes);
	memcpy(k.found, m->found, words * sizeof *k.found);
	for (size_t i = 0; i < k.n; i++)
		if (k.nodes[i].state.unit != MATCH_NONE)
			bytes_add_field(&k.sets, ids_key(&m->sets, k.nodes[i].state.made));
	return k;
}

/* Nothing is held but this layer; sets begin anew. */
static void
begin_segment(struct decoder *d, const struct kept *k)
{
	struct match_moves *m = d->task->moves;
	const char *set = k->sets.p;

	d->n = k->n;
	d->nedges = 0;
	d->nodes = mem_grow(d->nodes, &d->cap, k->n + 1, sizeof *d->nodes);
	memcpy(d->nodes, k->nodes, k->n * sizeof *d->nodes);
	memcpy(m->found, k->found, m->place[m->course->closures] * sizeof *m->found);
	match_moves_forget(m);
	for (size_t i = 0; i < k->n; i++)
		set = match_moves_set(m, &d->nodes[i].state, set);
	d->layers[0] = (struct layer){ 0, k->n, 0, 0 };
}

static void
forward_segment(struct decoder *d, size_t first, size_t end)
{
	for (size_t arc = first; arc < end; arc++)
		forward(d, arc, &d->layers[arc - first], &d->layers[arc - first + 1]);
}

/* Backward over a segment; `behind` holds what leads on from its last layer, or NULL. */
static void
backward_segment(struct decoder *d, size_t first, size_t end, const struct kept *behind)
{
	struct layer *last = &d->layers[end - first];

	for (size_t k = 0; k < last->nodes; k++)
		d->nodes[last->node + k].behind = behind == NULL ? 1 : behind->nodes[k].behind;
	for (size_t arc = end; arc-- > first;) {
		struct layer *l = &d->layers[arc - first];

		claim(d, arc, l + 1);
		backward(d, arc, l, l + 1);
	}
}

void
match_decode(const struct match_task *task, struct match_decoded *out)
{
	const struct match_course *c = task->moves->course;
	struct decoder *d = mem_zeroed(1, sizeof *d);
	size_t segments = task->n / SEGMENT + 1;
	struct kept *kept = mem_zeroed(segments + 1, sizeof *kept);

	*d = (struct decoder){ .task = task, .out = out };
	*out = (struct match_decoded){ NULL };
	d->factor = mem_zeroed(c->units + 1, sizeof *d->factor);
	d->stamp = mem_zeroed(c->units + 1, sizeof *d->stamp);
	d->claimed = mem_zeroed(c->units + 2, sizeof *d->claimed);
	out->end = mem_zeroed(task->n + 1, sizeof *out->end);
	out->how = mem_zeroed(task->n + 1, sizeof *out->how);
	out->dirs = mem_zeroed(c->closures + 1, sizeof *out->dirs);
	d->nodes = mem_grow(NULL, &d->cap, 1, sizeof *d->nodes);
	d->nodes[0] = (struct node){ { .unit = MATCH_NONE, .mode = MATCH_ATTEMPT }, 1, 1 };
	kept[0] = keep(d, &(struct layer){ 0, 1, 0, 0 });
	for (size_t s = 0; s < segments; s++) {
		size_t first = s * SEGMENT, end = s + 1 < segments ? first + SEGMENT : task->n;

		begin_segment(d, &kept[s]);
		forward_segment(d, first, end);
		kept[s + 1] = keep(d, &d->layers[end - first]);
	}
	for (size_t s = segments; s-- > 0;) {
		size_t first = s * SEGMENT, end = s + 1 < segments ? first + SEGMENT : task->n;

		if (s + 1 < segments) {
			begin_segment(d, &kept[s]);
			forward_segment(d, first, end);
		}
		backward_segment(d, first, end, s + 1 < segments ? &kept[s + 1] : NULL);
		for (size_t k = 0; k < kept[s].n; k++)
			kept[s].nodes[k].behind = d->nodes[k].behind;
	}
	for (size_t s = 0; s <= segments; s++) {
		free(kept[s].nodes);
		bytes_free(&kept[s].sets);
		free(kept[s].found);
	}
	free(kept);
	pool_free(&d->fresh);
	pool_free(&d->joined);
	free(d->nodes);
	free(d->edges);
	free(d->moved);
	free(d->factor);
	free(d->stamp);
	free(d->claimed);
	free(d);
}

void
match_decoded_free(struct match_decoded *d)
{
	free(d->claims);
	free(d->end);
	free(d->how);
	free(d->dirs);
	*d = (struct match_decoded){ NULL };
}
