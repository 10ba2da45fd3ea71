#include "route/walk.h"

#include <stdlib.h>

#include "base/mem.h"

enum { SPLITTERS_MOST = 64 }; /* one after the other; more are a ring */

static void
push(struct path *path, enum step_what what, uint32_t number, uint32_t end)
{
	path->v = mem_grow(path->v, &path->cap, path->n + 1, sizeof *path->v);
	path->v[path->n++] = (struct step){ what, number, end };
}

/* Of two legs of one splitter the one on the out side, whose loss it is. */
static uint32_t
out_leg(const struct records *r, uint32_t a, uint32_t b)
{
	return r->legs[a].side == LEG_OUT ? a : b;
}

/* The end from which light goes on behind a leg, or END_NONE: path stops there. */
static uint32_t
through(const struct joined *g, struct path *path, uint32_t leg, uint32_t goal)
{
	const struct records *r = g->r;
	const struct record_leg *from = &r->legs[leg];
	const struct record_splitter *s = &r->splitters[from->splitter];
	unsigned far = from->side == LEG_IN ? LEG_OUT : LEG_IN;
	uint32_t to = s->only[far];

	path->stop = STOP_SPLITTER;
	path->number = leg;
	if ((goal != RECORD_NONE && r->legs[goal].splitter == from->splitter &&
		r->legs[goal].side != from->side) ||
	    s->n[far] != 1 || r->legs[to].end == END_NONE)
		return END_NONE;
	push(path, STEP_LEG, out_leg(r, leg, to), from->end);
	return r->legs[to].end;
}

/* The same as walk_from, but behind what is in path; stops also where it meets `goal`, a leg, from behind. */
static void
walk_on(const struct joined *g, uint32_t end, struct path *path, uint32_t goal)
{
	int splitters = 0;

	while (end != END_NONE) {
		uint32_t far = end ^ 1, at = g->at[far];

		push(path, STEP_FIBRE, 0, end);
		switch (at_what(at)) {
		case AT_JOINT:
			push(path, STEP_JOINT, at_number(at), far);
			end = joined_other(g, far);
			break;
		case AT_PORT:
			push(path, STEP_PORT, at_number(at), far);
			path->stop = STOP_PORT;
			path->number = at_number(at);
			return;
		case AT_LEG:
			end = through(g, path, at_number(at), goal);
			if (++splitters > SPLITTERS_MOST) {
				path->stop = STOP_LOOP;
				return;
			}
			break;
		default:
			end = joined_beyond(g, far);
			if (end == END_NONE) {
				path->stop = STOP_OPEN;
				path->number = far;
			}
		}
		/* a ring without a port comes back to where it began */
		if (end != END_NONE && path->v[0].what == STEP_FIBRE && end == path->v[0].end) {
			path->stop = STOP_LOOP;
			return;
		}
	}
}

void
walk_from(const struct joined *g, uint32_t end, struct path *path)
{
	path->n = 0;
	walk_on(g, end, path, RECORD_NONE);
}

static void
walk_port(const struct joined *g, uint32_t port, struct path *path, uint32_t goal)
{
	path->n = 0;
	path->stop = STOP_OPEN;
	path->number = END_NONE;
	if (port == RECORD_NONE || g->r->ports[port].end == END_NONE)
		return;
	push(path, STEP_PORT, port, g->r->ports[port].end);
	if (g->at[g->r->ports[port].end] >> 28 == AT_PORT)
		walk_on(g, g->r->ports[port].end, path, goal);
}

/* Adds the steps of `back` from `first` on the way back, in the order of the way there. */
static void
add_turned(const struct joined *g, struct path *path, const struct path *back, size_t first)
{
	for (size_t i = back->n; i-- > first;) {
		struct step step = back->v[i];

		if (step.what == STEP_FIBRE)
			step.end ^= 1;
		else if (step.what == STEP_JOINT)
			step.end = joined_other(g, step.end);
		push(path, step.what, step.number, step.end);
	}
}

bool
walk_ports(const struct joined *g, uint32_t a, uint32_t b, struct path *path, struct path *back)
{
	const struct record_port *ports = g->r->ports;
	bool known = a != RECORD_NONE && b != RECORD_NONE;

	walk_port(g, a, path, RECORD_NONE);
	back->n = 0;
	if (known && path->n > 0 && path->stop == STOP_PORT &&
	    ports[path->number].end == ports[b].end) {
		path->v[path->n - 1].number = b;
		return true;
	}
	walk_port(
	    g, b, back, path->n > 0 && path->stop == STOP_SPLITTER ? path->number : RECORD_NONE);
	if (!known || path->n == 0 || back->n == 0)
		return false;
	if (back->stop == STOP_PORT && ports[back->number].end == ports[a].end) {
		/* from here every splitter has one way on only */
		path->n = 0;
		add_turned(g, path, back, 0);
		path->v[0].number = a;
		return true;
	}
	if (path->stop != STOP_SPLITTER || back->stop != STOP_SPLITTER)
		return false;
	if (g->r->legs[path->number].splitter != g->r->legs[back->number].splitter ||
	    g->r->legs[path->number].side == g->r->legs[back->number].side)
		return false;
	push(path, STEP_LEG, out_leg(g->r, path->number, back->number),
	    g->r->legs[path->number].end);
	add_turned(g, path, back, 0);
	return true;
}

void
walk_through(const struct joined *g, uint32_t end, struct path *path, struct path *back)
{
	const struct records *r = g->r;

	walk_from(g, end, path);
	if (path->stop == STOP_PORT && r->ports[path->number].link != RECORD_NONE &&
	    r->links[r->ports[path->number].link].port[0] == path->number)
		end ^= 1;
	walk_from(g, end ^ 1, back);
	path->n = 0;
	add_turned(g, path, back, 0);
	path->n--; /* the fibre itself is in both */
	if (back->stop != STOP_LOOP)
		walk_on(g, end, path, RECORD_NONE);
}

void
path_free(struct path *path)
{
	free(path->v);
	*path = (struct path){ .n = 0 };
}
