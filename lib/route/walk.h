/*
 * walk: what lies along a link, from a port to its far end.
 *
 *	struct path path = { .n = 0 };
 *
 *	if (walk_link(&g, link, &path))
 *		it runs from its port a to its port b, all of it in path
 *	path_free(&path);
 */
#ifndef THRUM_ROUTE_WALK_H
#define THRUM_ROUTE_WALK_H

#include "route/join.h"

enum step_what { STEP_PORT, STEP_FIBRE, STEP_JOINT, STEP_LEG };

struct step {
	enum step_what what;
	uint32_t number; /* of the port, of the joint, of the leg on the out side */
	uint32_t end;    /* where light comes to it; of a port and of a leg its own */
};

enum stop {
	STOP_PORT,     /* at a port: number */
	STOP_OPEN,     /* at an end that nothing is at: number */
	STOP_SPLITTER, /* at a splitter's leg from which there are several ways on: number */
	STOP_LOOP,     /* round and round */
};

struct path {
	struct step *v;
	size_t n, cap;
	enum stop stop;
	uint32_t number;
};

/* From the fibre that light enters at `end`, on to where there is one way only. path is filled anew. */
void walk_from(const struct joined *g, uint32_t end, struct path *path);

/*
 * From port row `a` to port row `b` (RECORD_NONE: there is none). true: path is all of it. Else path is as far as it
 * gets from a, and `back` as far as it gets from b; both are empty where there is no port.
 */
bool
walk_ports(const struct joined *g, uint32_t a, uint32_t b, struct path *path, struct path *back);

/* All that a fibre end is on, in both directions, from port a if there is one. */
void walk_through(const struct joined *g, uint32_t end, struct path *path, struct path *back);

void path_free(struct path *path);

#endif
