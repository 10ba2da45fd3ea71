/*
 * ask: one question about the joints, answered as elements: what lies between two ports, what is a
 * fibre part of.
 *
 *	whole = ask_between(&judge, field_of("A:01"), field_of("B:07"), &err);
 *	whole = ask_through(&judge, field_of("tide-1:17"), &err);
 */
#ifndef THRUM_ROUTE_ASK_H
#define THRUM_ROUTE_ASK_H

#include "route/judge.h"

/*
 * Lays out what lies between two ports, SITE:PORT each, from the first one. 1; 0: they are not joined, and it
 * is as far as light gets; -1 with err set: no such port, or one port twice.
 */
int ask_between(struct judge *j, struct field from, struct field to, struct err *err);

/*
 * Lays out every link that runs through CABLE:FIBRE (before a splitter there are several), then what else
 * the fibre is part of, in each section of its cable. 1; 0: some of it does not run from a port to a port;
 * -1 with err set: no such fibre.
 */
int ask_through(struct judge *j, struct field fibre, struct err *err);

#endif
