#include "match/decode.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/mem.h"

enum { SEGMENT = 1024 }; /* arcs whose states are held at a time; others are computed again */
enum { KEY = offsetof(struct match_state, past) };

struct node {
	struct match_state state;
	double ahead, behind; /* sums of the ways to it and from it, both scaled */
};

struct edge {
	uint32_t from, to; /* within their layers */
	float weight;
	uint8_t how; /* MATCH_LEAVE: to a door of the same layer */
};

/* the states after an arc, its doors behind them; and the edges that lead from them */
struct layer {
	size_t node, nodes, edge, edges;
};

struct slots {
	uint32_t *at, *stamp;
	uint32_t now;
	size_t n; /* a power of two */
};

struct decoder {
	const struct match_task *task;
	struct match_decoded *out;
	struct node *nodes, *fresh, *places;
	struct edge *edges;
	size_t n, cap, nfresh, cap_fresh, cap_places, nedges, cap_edges;
	struct slots slots;
	struct layer *layers; /* of a segment, one more than arcs */
	uint32_t *moved;
	size_t cap_moved;
	double *factor; /* of each unit, for the arc whose stamp it has */
	size_t *stamp;
	struct match_claim *claim; /* of the present arc, by what it is */
	uint32_t *claimed;         /* of each unit its place in claim, plus 1 */
	size_t nclaim, cap_claim;
};

/* --- finding equal states -------------------------------------------------------------------- */

static size_t
hash(const struct match_state *s)
{
	uint64_t word[KEY / 8], h = 0;

	memcpy(word, s, KEY);
	for (size_t i = 0; i < KEY / 8; i++) {
		h = (h ^ word[i]) * UINT64_C(0x9e3779b97f4a7c15);
		h ^= h >> 32;
	}
	return (size_t)h;
}

static void
slots_clear(struct slots *s, size_t room)
{
	if (2 * room > s->n) {
		size_t n = 1024;

		while (n < 4 * room)
			n *= 2;
		free(s->at);
		free(s->stamp);
		s->at = mem_zeroed(n, sizeof *s->at);
		s->stamp = mem_zeroed(n, sizeof *s->stamp);
		s->n = n;
		s->now = 0;
	}
	s->now++;
}

/* Where the state's number stands or is to be put. */
static size_t
slot_of(const struct slots *s, const struct node *nodes, const struct match_state *state)
{
	size_t i = hash(state) & (s->n - 1);

	while (s->stamp[i] == s->now && memcmp(&nodes[s->at[i]].state, state, KEY) != 0)
		i = (i + 1) & (s->n - 1);
	return i;
}

static void
refill(struct decoder *d, const struct node *nodes, size_t n)
{
	slots_clear(&d->slots, n + 1);
	for (size_t k = 0; k < n; k++) {
		size_t i = slot_of(&d->slots, nodes, &nodes[k].state);

		d->slots.at[i] = (uint32_t)k;
		d->slots.stamp[i] = d->slots.now;
	}
}

/* The number of a fresh node with this state; its sum grows by `ahead`. */
static uint32_t
fresh_node(struct decoder *d, const struct match_state *s, double ahead)
{
	struct node *node;
	size_t i;

	if (2 * d->nfresh >= d->slots.n)
		refill(d, d->fresh, d->nfresh);
	i = slot_of(&d->slots, d->fresh, s);
	if (d->slots.stamp[i] != d->slots.now) {
		d->slots.stamp[i] = d->slots.now;
		d->slots.at[i] = (uint32_t)d->nfresh;
		d->fresh = mem_grow(d->fresh, &d->cap_fresh, d->nfresh + 1, sizeof *d->fresh);
		d->fresh[d->nfresh++] = (struct node){ *s, 0, 0 };
	}
	node = &d->fresh[d->slots.at[i]];
	node->ahead += ahead;
	return d->slots.at[i];
}

/* --- forward --------------------------------------------------------------------------------- */

static void
add_edge(struct decoder *d, size_t from, size_t to, double weight, enum match_how how)
{
	d->edges = mem_grow(d->edges, &d->cap_edges, d->nedges + 1, sizeof *d->edges);
	d->edges[d->nedges++] =
	    (struct edge){ (uint32_t)from, (uint32_t)to, (float)weight, (uint8_t)how };
}

/* A door of the layer, one for each closure that is left. */
static size_t
door_of(struct decoder *d, struct layer *l, size_t inner, const struct match_state *s, double ahead)
{
	size_t k = inner;

	while (k < l->nodes && d->nodes[l->node + k].state.closure != s->closure)
		k++;
	if (k == l->nodes) {
		d->nodes = mem_grow(d->nodes, &d->cap, d->n + 1, sizeof *d->nodes);
		d->nodes[d->n++] = (struct node){ *s, 0, 0 };
		l->nodes++;
	}
	d->nodes[l->node + k].ahead += ahead;
	return k;
}

static double
factor_of(struct decoder *d, size_t arc, const struct match_state *s)
{
	uint32_t unit;

	if (!d->task->arcs[arc].typed || s->mode != MATCH_ATTEMPT)
		return 1;
	unit = match_unit(d->task->moves->course, s);
	if (d->stamp[unit] != arc + 1) {
		d->stamp[unit] = arc + 1;
		d->factor[unit] = d->task->unit(d->task->of, arc, unit);
	}
	return d->factor[unit];
}

/* All that one node of a layer leads to; *best is the greatest sum so far. */
static void
expand(struct decoder *d, struct layer *l, size_t inner, size_t k, size_t arc, double *best)
{
	const struct match_arc *a = &d->task->arcs[arc];
	struct match_moves *m = d->task->moves;
	struct match_state from = d->nodes[l->node + k].state;
	double ahead = d->nodes[l->node + k].ahead, least = *best * exp(-d->task->beam);
	const uint32_t *near = a->nnear > 0 ? d->task->near + a->near : NULL;
	struct match_toward toward = { a->by_how, 0, near, a->nnear, a->look };

	for (int how = MATCH_ENTER; how <= MATCH_GO_AWAY; how++)
		if (a->by_how[how] > toward.through_door)
			toward.through_door = a->by_how[how];
	match_moves_from(m, &from, &toward, least / ahead);
	for (size_t i = 0; i < m->n; i++) {
		const struct match_step *s = &m->steps[i];
		double weight = s->weight;

		if (s->how == MATCH_LEAVE) {
			add_edge(
			    d, k, door_of(d, l, inner, &s->to, ahead * weight), weight, s->how);
			continue;
		}
		weight *= factor_of(d, arc, &s->to);
		if (ahead * weight < *best * exp(-d->task->beam) || weight <= 0)
			continue;
		add_edge(d, k, fresh_node(d, &s->to, ahead * weight), weight, s->how);
		if (d->fresh[d->edges[d->nedges - 1].to].ahead > *best)
			*best = d->fresh[d->edges[d->nedges - 1].to].ahead;
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

/* A node beyond the number joins the one that stands for all of its place. Returns its number. */
static size_t
join(struct decoder *d, size_t node, size_t kept, const struct node *one)
{
	struct node place = *one, *stands;
	size_t i, n = d->n - node - kept;

	place.state.done = place.state.maybe = 0;
	place.state.others = 0;
	if (2 * n >= d->slots.n)
		refill(d, d->places, n);
	i = slot_of(&d->slots, d->places, &place.state);
	if (d->slots.stamp[i] != d->slots.now) {
		d->slots.stamp[i] = d->slots.now;
		d->slots.at[i] = (uint32_t)n;
		d->places = mem_grow(d->places, &d->cap_places, n + 1, sizeof *d->places);
		d->places[n] = place;
		d->nodes = mem_grow(d->nodes, &d->cap, d->n + 1, sizeof *d->nodes);
		d->nodes[d->n++] = *one;
	} else {
		stands = &d->nodes[node + kept + d->slots.at[i]];
		stands->state = match_either(d->task->moves, &stands->state, &one->state);
		stands->ahead += one->ahead;
	}
	return kept + d->slots.at[i];
}

/* The fresh nodes become the next layer: the likely ones, sorted, scaled to a sum of 1. */
static void
settle(struct decoder *d, struct layer *l, double best)
{
	struct ranked *order = mem_zeroed(d->nfresh + 1, sizeof *order);
	size_t n = 0, kept = 0, edge = l->edge, node = d->n;
	double sum = 0, least = best * exp(-d->task->beam);

	d->moved = mem_grow(d->moved, &d->cap_moved, d->nfresh + 1, sizeof *d->moved);
	for (size_t k = 0; k < d->nfresh; k++) {
		d->moved[k] = MATCH_NONE;
		if (d->fresh[k].ahead >= least)
			order[n++] = (struct ranked){ d->fresh[k].ahead, (uint32_t)k };
	}
	qsort(order, n, sizeof *order, by_rank);
	slots_clear(&d->slots, 64);
	kept = n < d->task->most ? n : d->task->most;
	d->nodes = mem_grow(d->nodes, &d->cap, d->n + kept, sizeof *d->nodes);
	for (size_t i = 0; i < n; i++) {
		const struct node *one = &d->fresh[order[i].k];

		sum += one->ahead;
		if (i < kept) {
			d->nodes[d->n++] = *one;
			d->moved[order[i].k] = (uint32_t)i;
		} else
			d->moved[order[i].k] = (uint32_t)join(d, node, kept, one);
	}
	free(order);
	for (size_t k = node; k < d->n; k++)
		d->nodes[k].ahead /= sum;
	for (size_t e = l->edge; e < d->nedges; e++) {
		struct edge one = d->edges[e];

		if (one.how != MATCH_LEAVE)
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
	size_t inner = l->nodes;
	double best = 0;

	d->nfresh = 0;
	slots_clear(&d->slots, 64);
	l->edge = d->nedges;
	for (size_t k = 0; k < l->nodes; k++) /* grows by its doors */
		expand(d, l, inner, k, arc, &best);
	settle(d, l, best);
	next->node = l->node + l->nodes;
	next->nodes = d->n - next->node;
}

/* --- backward -------------------------------------------------------------------------------- */

static void
claim(struct decoder *d, size_t arc, const struct match_state *s, double odds)
{
	uint32_t units = d->task->moves->course->units, is = units, *at;

	if (s->mode == MATCH_ATTEMPT) {
		is = match_unit(d->task->moves->course, s);
		d->out->dirs[s->closure][s->dir] += odds;
	} else if (s->mode == MATCH_AWAY)
		is = units + 1;
	at = &d->claimed[is];
	if (*at == 0) {
		d->claim = mem_grow(d->claim, &d->cap_claim, d->nclaim + 1, sizeof *d->claim);
		d->claim[d->nclaim++] = (struct match_claim){ (uint32_t)arc, is, 0 };
		*at = (uint32_t)d->nclaim;
	}
	d->claim[*at - 1].odds += odds;
}

static int
by_odds(const void *pa, const void *pb)
{
	const struct match_claim *a = pa, *b = pb;

	if (a->odds != b->odds)
		return a->odds > b->odds ? -1 : 1;
	return a->is < b->is ? -1 : a->is > b->is;
}

/* The claims of an arc, from the layer behind it, are put before those of later arcs: backwards. */
static void
claim_all(struct decoder *d, size_t arc, const struct layer *l)
{
	struct match_decoded *out = d->out;
	uint32_t units = d->task->moves->course->units;
	double sum = 0;

	d->nclaim = 0;
	for (size_t k = 0; k < l->nodes; k++)
		if (d->nodes[l->node + k].state.mode != MATCH_DOOR)
			sum += d->nodes[l->node + k].ahead * d->nodes[l->node + k].behind;
	for (size_t k = 0; k < l->nodes; k++) {
		const struct node *one = &d->nodes[l->node + k];

		if (one->state.mode != MATCH_DOOR)
			claim(d, arc, &one->state, one->ahead * one->behind / sum);
	}
	for (size_t i = 0; i < d->nclaim; i++)
		d->claimed[d->claim[i].is] = 0;
	qsort(d->claim, d->nclaim, sizeof *d->claim, by_odds);
	for (size_t i = d->nclaim; i-- > 0;) {
		struct match_claim c = d->claim[i];

		if (c.odds * MATCH_LEAST_CLAIM < 1)
			continue;
		if (c.is >= units)
			c.is = c.is == units ? MATCH_IS_PRACTICE : MATCH_IS_ELSEWHERE;
		out->claims = mem_grow(out->claims, &out->cap, out->n + 1, sizeof *out->claims);
		out->claims[out->n++] = c;
	}
}

/* What leads on from a layer, from what leads on from the next. */
static void
backward(struct decoder *d, size_t arc, const struct layer *l, const struct layer *next)
{
	struct node *from = d->nodes + l->node, *to = d->nodes + next->node;
	double most = 0, sum = 0, how[MATCH_HOWS] = { 0 };

	for (size_t k = 0; k < l->nodes; k++)
		from[k].behind = 0;
	for (size_t e = l->edge + l->edges; e-- > l->edge;) {
		const struct edge *one = &d->edges[e];
		const struct node *end = one->how == MATCH_LEAVE ? &from[one->to] : &to[one->to];
		double on = (double)one->weight * end->behind;

		from[one->from].behind += on;
		if (one->how != MATCH_LEAVE) {
			how[one->how] += from[one->from].ahead * on;
			sum += from[one->from].ahead * on;
		}
	}
	for (int i = 0; i < MATCH_HOWS; i++)
		d->out->how[arc][i] = (float)(sum > 0 ? how[i] / sum : 0);
	for (size_t k = 0; k < l->nodes; k++)
		most = from[k].behind > most ? from[k].behind : most;
	for (size_t k = 0; k < l->nodes && most > 0; k++)
		from[k].behind /= most;
}

/* --- all ------------------------------------------------------------------------------------- */

struct kept_layer {
	struct node *nodes;
	size_t n;
};

static void
begin_segment(struct decoder *d, const struct kept_layer *kept)
{
	d->n = kept->n;
	d->nedges = 0;
	d->nodes = mem_grow(d->nodes, &d->cap, kept->n + 1, sizeof *d->nodes);
	memcpy(d->nodes, kept->nodes, kept->n * sizeof *d->nodes);
	d->layers[0] = (struct layer){ 0, kept->n, 0, 0 };
}

static void
forward_segment(struct decoder *d, size_t first, size_t end)
{
	for (size_t arc = first; arc < end; arc++)
		forward(d, arc, &d->layers[arc - first], &d->layers[arc - first + 1]);
}

/* The layer behind the last arc of a segment. */
static struct kept_layer
keep_last(const struct decoder *d, size_t arcs)
{
	const struct layer *l = &d->layers[arcs];
	struct kept_layer kept = { mem_zeroed(l->nodes, sizeof *kept.nodes), l->nodes };

	memcpy(kept.nodes, d->nodes + l->node, l->nodes * sizeof *kept.nodes);
	return kept;
}

/* Backward over a segment; `behind` holds what leads on from its last layer, and gets that of its first. */
static void
backward_segment(struct decoder *d, size_t first, size_t end, struct kept_layer *behind)
{
	struct layer *last = &d->layers[end - first];

	for (size_t k = 0; k < last->nodes; k++)
		d->nodes[last->node + k].behind = behind == NULL ? 1 : behind->nodes[k].behind;
	for (size_t arc = end; arc-- > first;) {
		struct layer *l = &d->layers[arc - first];

		claim_all(d, arc, l + 1);
		d->out->first[arc] = d->out->n;
		backward(d, arc, l, l + 1);
	}
}

/* Claims were put backwards: turns them round. */
static void
turn_claims(struct match_decoded *out, size_t n)
{
	for (size_t i = 0; i < out->n / 2; i++) {
		struct match_claim swap = out->claims[i];

		out->claims[i] = out->claims[out->n - 1 - i];
		out->claims[out->n - 1 - i] = swap;
	}
	for (size_t arc = 0; arc < n; arc++)
		out->first[arc] = out->n - out->first[arc];
	out->first[n] = out->n;
}

static void
open_decoder(struct decoder *d, const struct match_task *task, struct match_decoded *out)
{
	const struct match_course *c = task->moves->course;

	*d = (struct decoder){ .task = task, .out = out };
	d->layers = mem_zeroed(SEGMENT + 1, sizeof *d->layers);
	d->factor = mem_zeroed(c->units + 1, sizeof *d->factor);
	d->stamp = mem_zeroed(c->units + 1, sizeof *d->stamp);
	d->claimed = mem_zeroed(c->units + 2, sizeof *d->claimed);
	*out = (struct match_decoded){ NULL };
	out->first = mem_zeroed(task->n + 1, sizeof *out->first);
	out->how = mem_zeroed(task->n + 1, sizeof *out->how);
	out->dirs = mem_zeroed(c->closures + 1, sizeof *out->dirs);
}

static void
close_decoder(struct decoder *d)
{
	free(d->nodes);
	free(d->fresh);
	free(d->places);
	free(d->edges);
	free(d->slots.at);
	free(d->slots.stamp);
	free(d->layers);
	free(d->moved);
	free(d->factor);
	free(d->stamp);
	free(d->claim);
	free(d->claimed);
}

void
match_decode(const struct match_task *task, struct match_decoded *out)
{
	struct decoder d;
	size_t segments = task->n / SEGMENT + 1;
	struct kept_layer *kept = mem_zeroed(segments + 1, sizeof *kept);

	open_decoder(&d, task, out);
	kept[0] = (struct kept_layer){ mem_zeroed(1, sizeof *kept[0].nodes), 1 };
	kept[0].nodes[0] = (struct node){ match_moves_start(task->moves), 1, 1 };
	for (size_t s = 0; s < segments; s++) {
		size_t first = s * SEGMENT, end = s + 1 < segments ? first + SEGMENT : task->n;

		begin_segment(&d, &kept[s]);
		forward_segment(&d, first, end);
		kept[s + 1] = keep_last(&d, end - first);
	}
	for (size_t s = segments; s-- > 0;) {
		size_t first = s * SEGMENT, end = s + 1 < segments ? first + SEGMENT : task->n;

		if (s + 1 < segments) {
			begin_segment(&d, &kept[s]);
			forward_segment(&d, first, end);
		}
		backward_segment(&d, first, end, s + 1 < segments ? &kept[s + 1] : NULL);
		for (size_t k = 0; k < kept[s].n; k++)
			kept[s].nodes[k].behind = d.nodes[k].behind;
	}
	turn_claims(out, task->n);
	for (size_t s = 0; s <= segments; s++)
		free(kept[s].nodes);
	free(kept);
	close_decoder(&d);
}

void
match_decoded_free(struct match_decoded *d)
{
	free(d->claims);
	free(d->first);
	free(d->how);
	free(d->dirs);
	*d = (struct match_decoded){ NULL };
}
