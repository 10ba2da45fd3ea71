#include "route/join.h"

#include <stdlib.h>

#include "base/mem.h"

uint32_t
joined_beyond(const struct joined *g, uint32_t end)
{
	uint32_t planned = g->planned != NULL ? g->planned[end] : 0, next;
	bool cut;

	if (at_what(planned) == AT_PLANNED || at_what(planned) == AT_AWAY)
		return END_NONE;
	next = network_beyond(&g->r->net, end, &cut);
	if (next == END_NONE || (cut && at_what(planned) != AT_EXPRESS) ||
	    at_what(g->at[next]) != AT_NOTHING)
		return END_NONE;
	return next;
}

struct field
joined_name(struct joined *g, uint32_t end)
{
	const struct network *net = &g->r->net;
	struct field cable = ids_key(g->r->texts, net->v[network_section(net, end)].cable);

	return found_text(&g->r->found, "%.*s:%u", (int)cable.n, cable.p, network_fibre(net, end));
}

/* "CABLE:FIBRE to CABLE:FIBRE" */
static struct field
name_two(struct joined *g, uint32_t a, uint32_t b)
{
	struct field from = joined_name(g, a), to = joined_name(g, b);

	return found_text(&g->r->found, "%.*s to %.*s", (int)from.n, from.p, (int)to.n, to.p);
}

/* --- ports and legs -------------------------------------------------------------------------- */

/* The end at a spot: of a fibre whose two ends are both here the free one. */
static uint32_t
free_end(const struct joined *g, struct spot spot)
{
	uint32_t end = network_end(&g->r->net, spot, 0);

	if ((spot.at & 3) == 2 && at_what(g->at[end]) != AT_NOTHING)
		return network_end(&g->r->net, spot, 1);
	return end;
}

static uint32_t
add_port(struct joined *g, const struct record_port *p, enum found_rule rule, const char *says)
{
	struct records *r = g->r;
	struct field port = ids_key(r->texts, p->port);

	return found_add(
	    &r->found, &(struct found_row){ .rule = rule,
			   .joint = FOUND_NONE,
			   .link = p->link,
			   .site = p->site,
			   .because = FOUND_NONE,
			   .at_ukm = DB_NONE,
			   .live = p->link != RECORD_NONE && r->links[p->link].live,
			   .file = r->ports_file,
			   .line = p->line,
			   .found = found_text(&r->found, "port %.*s", (int)port.n, port.p),
			   .says = says });
}

/* The first row of this port; seen: rows, by their ports, in a power of two of places. */
static uint32_t
first_row(const struct records *r, uint32_t *seen, size_t places, uint32_t i)
{
	const struct record_port *p = &r->ports[i];
	uint64_t key = (uint64_t)p->site << 32 | p->port;

	/* Fibonacci hashing (Knuth, TAOCP 3, 6.4) */
	for (size_t at = (size_t)((key * 0x9e3779b97f4a7c15u) >> 32);; at++) {
		uint32_t *place = &seen[at & (places - 1)];

		if (*place == 0)
			*place = i + 1;
		if (r->ports[*place - 1].site == p->site && r->ports[*place - 1].port == p->port)
			return *place - 1;
	}
}

static void
place_port(struct joined *g, uint32_t i, uint32_t first)
{
	struct records *r = g->r;
	struct record_port *p = &r->ports[i];
	uint32_t finding;
	const struct record_port *old = &r->ports[first];

	if (!spot_is(p->spot))
		return;
	if (first != i && old->spot.at == p->spot.at && old->spot.fibre == p->spot.fibre) {
		p->end = old->end;
		return;
	}
	p->end = free_end(g, p->spot);
	if (at_what(g->at[p->end]) != AT_NOTHING) {
		finding =
		    add_port(g, p, RULE_END_TWICE, "its fibre has another port or leg at this end");
		found_mark(&r->found, FOUND_END, p->end, finding);
		return;
	}
	g->at[p->end] = at_of(AT_PORT, i);
	if (first != i) {
		finding = add_port(g, p, RULE_PORT_DOUBLE, "the port has two fibres");
		found_mark(&r->found, FOUND_END, p->end, finding);
		if (old->end != END_NONE)
			found_mark(&r->found, FOUND_END, old->end, finding);
	}
}

static void
place_ports(struct joined *g)
{
	struct records *r = g->r;
	size_t places = 2;
	uint32_t *seen;

	while (places < r->ports_n + r->ports_n / 2)
		places *= 2;
	seen = mem_zeroed(places, sizeof *seen);
	for (uint32_t i = 0; i < r->ports_n; i++)
		place_port(g, i, first_row(r, seen, places, i));
	free(seen);
	for (size_t i = 0; i < r->legs_n; i++) {
		struct record_leg *leg = &r->legs[i];

		if (!spot_is(leg->spot))
			continue;
		leg->end = free_end(g, leg->spot);
		if (at_what(g->at[leg->end]) == AT_NOTHING) {
			g->at[leg->end] = at_of(AT_LEG, (uint32_t)i);
			continue;
		}
		found_mark(&r->found, FOUND_END, leg->end,
		    found_add(&r->found,
			&(struct found_row){ .rule = RULE_END_TWICE,
			    .joint = FOUND_NONE,
			    .link = FOUND_NONE,
			    .site = r->splitters[leg->splitter].site,
			    .because = FOUND_NONE,
			    .at_ukm = DB_NONE,
			    .found = joined_name(g, leg->end),
			    .says = "the leg's fibre has a port or another leg at this end" }));
	}
}

/* --- plan ------------------------------------------------------------------------------------ */

/* Of a fibre whose two ends are both here: the one that is free of ports, legs and other planned joints. */
static uint32_t
planned_end(const struct joined *g, struct spot spot)
{
	uint32_t end = free_end(g, spot);

	if ((spot.at & 3) == 2 && (end & 1) == 0 && at_what(g->planned[end]) != AT_NOTHING)
		end ^= 1;
	return end;
}

static void
place_planned(struct joined *g, uint32_t i)
{
	struct records *r = g->r;
	struct record_planned *p = &r->plan[i];
	static const enum at_what what[] = { AT_PLANNED, AT_EXPRESS, AT_AWAY, AT_AWAY };
	uint32_t cause = FOUND_NONE;

	for (int k = 0; k < 2; k++)
		if (p->spot[k].at == SPOT_UNREACHED)
			cause = found_at(&r->found, FOUND_CABLE, p->spot[k].fibre);
	for (int k = 0; k < 2; k++) {
		if (!spot_is(p->spot[k])) {
			p->spot[k].at = END_NONE;
			continue;
		}
		p->spot[k].at = planned_end(g, p->spot[k]);
		g->planned[p->spot[k].at] = at_of(what[p->state], i);
		if (p->state == PLAN_JOIN)
			found_mark(&r->found, FOUND_END, p->spot[k].at, cause);
		if (p->state == PLAN_EXPRESS) {
			bool cut;
			uint32_t next = network_beyond(&r->net, p->spot[k].at, &cut);

			if (next != END_NONE)
				g->planned[next] = at_of(AT_EXPRESS, i);
		}
	}
	if (cause != FOUND_NONE && p->joint != RECORD_NONE)
		found_mark(&r->found, FOUND_JOINT, p->joint, cause);
}

/* The end that the plan joins to this one, or END_NONE. */
static uint32_t
planned_mate(const struct joined *g, uint32_t end)
{
	uint32_t at = g->planned != NULL ? g->planned[end] : 0;
	const struct record_planned *p;

	if (at_what(at) != AT_PLANNED)
		return END_NONE;
	p = &g->r->plan[at_number(at)];
	return p->spot[0].at == end ? p->spot[1].at : p->spot[0].at;
}

/* --- joints ---------------------------------------------------------------------------------- */

static uint32_t
add_joint(struct joined *g, uint32_t number, enum found_rule rule, uint32_t because,
    struct field what, const char *says)
{
	struct records *r = g->r;
	const struct record_joint *j = &r->joints[number];
	uint32_t finding = found_add(&r->found, &(struct found_row){ .rule = rule,
						    .joint = number,
						    .link = FOUND_NONE,
						    .site = j->closure,
						    .because = because,
						    .at_ukm = DB_NONE,
						    .file = r->files[j->file],
						    .line = j->line,
						    .found = what,
						    .says = says });

	found_mark(&r->found, FOUND_JOINT, number, finding);
	return finding;
}

/* A joint whose fibres cannot be: it is joined to nothing. */
static bool
is_nowhere(struct joined *g, uint32_t number)
{
	struct records *r = g->r;
	const struct record_joint *j = &r->joints[number];

	for (int k = 0; k < 2; k++) {
		struct spot s = j->spot[k];
		uint32_t cable = s.fibre, because = FOUND_NONE;

		if (spot_is(s))
			continue;
		if (s.at != SPOT_UNNAMED)
			because = found_at(&r->found, FOUND_CABLE, cable);
		if (s.at == SPOT_DOUBT)
			add_joint(g, number, RULE_IN_DOUBT, because, ids_key(r->texts, cable),
			    "the cable goes both ways from here: say toward");
		else if (s.at == SPOT_UNREACHED)
			add_joint(g, number, RULE_NOT_REACHED, because, ids_key(r->texts, cable),
			    "the cable does not reach this site, or has no such fibre");
		else
			add_joint(g, number, RULE_NOT_REACHED, FOUND_NONE, field_of(""),
			    "the row does not name both fibres");
		return true;
	}
	return false;
}

/* Which ends a joint has: of a fibre with both ends here the one that the plan gives it, if that is free. */
static void
joint_ends(const struct joined *g, uint32_t number, uint32_t end[2])
{
	const struct records *r = g->r;
	const struct record_joint *j = &r->joints[number];

	for (int k = 0; k < 2; k++) {
		end[k] = free_end(g, j->spot[k]);
		if ((j->spot[k].at & 3) != 2 || number >= r->planned_joints)
			continue;
		for (int i = 0; i < 2; i++) {
			uint32_t planned = r->plan[r->plan_of[number]].spot[i].at;

			if ((planned | 1) == (end[k] | 1) && at_what(g->at[planned]) == AT_NOTHING)
				end[k] = planned;
		}
	}
	/* a jumper onto itself */
	if (end[0] == end[1] && (j->spot[0].at & 3) == 2)
		end[1] ^= 1;
}

static void
connect(struct joined *g, uint32_t number, const uint32_t end[2])
{
	struct record_joint *j = &g->r->joints[number];

	for (int k = 0; k < 2; k++) {
		j->spot[k].at = end[k];
		g->at[end[k]] = at_of(AT_JOINT, number);
	}
	j->flags |= JOINT_CONNECTED;
}

/* Joins what is left over; what cannot be joined is a finding. */
static void
connect_other(struct joined *g, uint32_t number)
{
	struct records *r = g->r;
	uint32_t end[2], finding;
	bool tail;

	joint_ends(g, number, end);
	tail = (r->joints[number].spot[0].at & 3) == 2;
	if (end[0] == end[1] ||
	    (!tail && (end[0] & 1) == (end[1] & 1) &&
		network_section(&r->net, end[0]) == network_section(&r->net, end[1]))) {
		finding = add_joint(g, number, RULE_LOOP, FOUND_NONE, name_two(g, end[0], end[1]),
		    "two fibres of one side of a cable are joined to each other");
		for (int k = 0; k < 2; k++)
			if (at_what(g->at[end[k]]) == AT_NOTHING)
				found_mark(&r->found, FOUND_END, end[k], finding);
		return;
	}
	for (int k = 0; k < 2; k++) {
		if (at_what(g->at[end[k]]) == AT_NOTHING)
			continue;
		finding = add_joint(g, number, RULE_END_TWICE, FOUND_NONE, joined_name(g, end[k]),
		    "something else is at this fibre end already");
		for (int i = 0; i < 2; i++)
			found_mark(&r->found, FOUND_END, end[i], finding);
		return;
	}
	connect(g, number, end);
}

static void
connect_all(struct joined *g)
{
	struct records *r = g->r;
	uint32_t end[2];

	for (uint32_t i = 0; g->planned != NULL && i < r->joint_names.n; i++) {
		const struct record_joint *j = &r->joints[i];

		if (!(j->flags & JOINT_MADE) || !spot_is(j->spot[0]) || !spot_is(j->spot[1]))
			continue;
		joint_ends(g, i, end);
		if (planned_mate(g, end[0]) == end[1] && at_what(g->at[end[0]]) == AT_NOTHING &&
		    at_what(g->at[end[1]]) == AT_NOTHING)
			connect(g, i, end);
	}
	for (uint32_t i = 0; i < r->joint_names.n; i++)
		if ((r->joints[i].flags & (JOINT_MADE | JOINT_CONNECTED)) == JOINT_MADE &&
		    !is_nowhere(g, i))
			connect_other(g, i);
}

/* --- joints against the plan ----------------------------------------------------------------- */

static bool
deviates(const struct joined *g, uint32_t number)
{
	const struct record_joint *j = &g->r->joints[number];
	uint32_t a = j->spot[0].at, b = j->spot[1].at;

	if (!(j->flags & JOINT_CONNECTED) || planned_mate(g, a) == b)
		return false;
	return number < g->r->planned_joints || at_what(g->planned[a]) != AT_NOTHING ||
	       at_what(g->planned[b]) != AT_NOTHING;
}

/*
 * Marks both ends of a joint and those that the plan joins to them, and all that hang together so: one cause.
 * Every joint reached is a finding, the first one the cause unless there is one already.
 */
static void
spread(struct joined *g, uint32_t number, uint32_t cause)
{
	struct records *r = g->r;

	while (number != RECORD_NONE) {
		const struct record_joint *j = &r->joints[number];
		uint32_t next = RECORD_NONE, finding, plan;
		uint32_t a = j->spot[0].at, b = j->spot[1].at;

		finding = add_joint(g, number, RULE_CROSSED, cause, name_two(g, a, b),
		    "made with other fibres than planned");
		if (number < r->planned_joints) {
			plan = r->plan_of[number];
			if (r->plan[plan].spot[0].at != END_NONE &&
			    r->plan[plan].spot[1].at != END_NONE)
				r->found.v[finding].wanted =
				    name_two(g, r->plan[plan].spot[0].at, r->plan[plan].spot[1].at);
		}
		cause = cause == FOUND_NONE ? finding : cause;
		for (int k = 0; k < 2; k++) {
			uint32_t end = j->spot[k].at, mate = planned_mate(g, end), at;

			found_mark(&r->found, FOUND_END, end, finding);
			if (mate == END_NONE)
				continue;
			found_mark(&r->found, FOUND_END, mate, finding);
			at = g->at[mate];
			if (at_what(at) == AT_JOINT && deviates(g, at_number(at)) &&
			    found_at(&r->found, FOUND_JOINT, at_number(at)) == FOUND_NONE)
				next = at_number(at);
		}
		number = next;
	}
}

static void
find_crossed(struct joined *g)
{
	struct records *r = g->r;

	for (uint32_t i = 0; i < r->joint_names.n; i++)
		if (deviates(g, i) && found_at(&r->found, FOUND_JOINT, i) == FOUND_NONE) {
			uint32_t cause = FOUND_NONE;

			for (int k = 0; k < 2 && cause == FOUND_NONE; k++)
				cause = found_at(&r->found, FOUND_END, r->joints[i].spot[k].at);
			spread(g, i, cause);
		}
}

/* --- ribbons --------------------------------------------------------------------------------- */

struct in_ribbon {
	uint32_t closure, ribbon, cable, plan;
	int32_t position;
};

static int
by_ribbon(const void *pa, const void *pb)
{
	const struct in_ribbon *a = pa, *b = pb;

	if (a->closure != b->closure)
		return a->closure < b->closure ? -1 : 1;
	if (a->cable != b->cable)
		return a->cable < b->cable ? -1 : 1;
	if (a->ribbon != b->ribbon)
		return a->ribbon < b->ribbon ? -1 : 1;
	return a->position < b->position ? -1 : a->position > b->position;
}

/* One ribbon: is each fibre joined to where its mirror image belongs? */
static void
check_ribbon(struct joined *g, const struct in_ribbon *v, size_t n)
{
	struct records *r = g->r;
	uint32_t finding, first = RECORD_NONE;

	for (size_t i = 0; i < n; i++) {
		uint32_t end = r->plan[v[i].plan].spot[0].at;
		uint32_t want = r->plan[v[n - 1 - i].plan].spot[1].at;

		if (end == END_NONE || at_what(g->at[end]) != AT_JOINT ||
		    joined_other(g, end) != want)
			return;
		if (first == RECORD_NONE)
			first = at_number(g->at[end]);
	}
	if (n < 3 || first == RECORD_NONE)
		return;
	finding = add_joint(g, first, RULE_RIBBON_TURNED, FOUND_NONE,
	    found_text(&r->found, "ribbon %.*s, %zu fibres", (int)ids_key(r->texts, v[0].ribbon).n,
		ids_key(r->texts, v[0].ribbon).p, n),
	    "the ribbon is turned over: its first fibre is joined where the last belongs");
	for (size_t i = 0; i < n; i++) {
		const struct record_planned *p = &r->plan[v[i].plan];

		for (int k = 0; k < 2; k++)
			found_mark(&r->found, FOUND_END, p->spot[k].at, finding);
	}
}

static void
find_turned(struct joined *g)
{
	struct records *r = g->r;
	struct in_ribbon *v = NULL;
	size_t n = 0, cap = 0;

	for (uint32_t i = 0; i < r->plan_n; i++) {
		const struct record_planned *p = &r->plan[i];

		if (p->state != PLAN_JOIN || p->ribbon == HOLD_NO_TEXT || p->spot[0].at == END_NONE)
			continue;
		v = mem_grow(v, &cap, n + 1, sizeof *v);
		v[n++] = (struct in_ribbon){ p->closure, p->ribbon,
			network_section(&r->net, p->spot[0].at), i, p->position };
	}
	if (n > 0)
		qsort(v, n, sizeof *v, by_ribbon);
	for (size_t i = 0, end; i < n; i = end) {
		for (end = i; end < n && v[end].closure == v[i].closure &&
			      v[end].ribbon == v[i].ribbon && v[end].cable == v[i].cable;
		     end++)
			;
		check_ribbon(g, &v[i], end - i);
	}
	free(v);
}

/* --- what the plan joins and nobody has ------------------------------------------------------ */

static void
find_missing(struct joined *g)
{
	struct records *r = g->r;

	for (uint32_t i = 0; i < r->plan_n; i++) {
		const struct record_planned *p = &r->plan[i];
		uint32_t a = p->spot[0].at, b = p->spot[1].at, cause, finding;
		bool open = p->state == PLAN_JOIN && a != END_NONE && b != END_NONE &&
			    (at_what(g->at[a]) == AT_NOTHING || at_what(g->at[b]) == AT_NOTHING);

		if (!open)
			continue;
		cause = found_at(&r->found, FOUND_JOINT, p->joint);
		if (cause == FOUND_NONE)
			cause = found_at(&r->found, FOUND_END, a);
		if (cause == FOUND_NONE)
			cause = found_at(&r->found, FOUND_END, b);
		finding = found_add(
		    &r->found, &(struct found_row){ .rule = RULE_OPEN_END,
				   .joint = p->joint,
				   .link = FOUND_NONE,
				   .site = p->closure,
				   .because = cause,
				   .at_ukm = DB_NONE,
				   .file = r->plan_file,
				   .line = p->line,
				   .wanted = name_two(g, a, b),
				   .says = "the plan joins these, and no joint that stands does" });
		found_mark(&r->found, FOUND_END, a, finding);
		found_mark(&r->found, FOUND_END, b, finding);
	}
}

/* An angled end and a straight one in one connector. */
static void
find_polish(struct joined *g)
{
	struct records *r = g->r;

	for (uint32_t i = 0; i < r->joint_names.n; i++) {
		const struct record_joint *j = &r->joints[i];
		unsigned angled = j->flags & (JOINT_ANGLED_A | JOINT_ANGLED_B);
		unsigned straight = j->flags & (JOINT_STRAIGHT_A | JOINT_STRAIGHT_B);

		if ((j->flags & JOINT_MADE) && j->kind == KIND_CONNECTOR && angled && straight) {
			uint32_t finding = found_add(
			    &r->found, &(struct found_row){ .rule = RULE_POLISH,
					   .joint = i,
					   .link = FOUND_NONE,
					   .site = j->closure,
					   .because = FOUND_NONE,
					   .at_ukm = DB_NONE,
					   .away = true,
					   .file = r->files[j->file],
					   .line = j->line,
					   .says = "an angled end is mated with a straight one" });

			if (j->flags & JOINT_CONNECTED)
				found_mark(&r->found, FOUND_END, j->spot[0].at, finding);
		}
	}
}

/* A joint that is to be made again: its link does not count as whole. */
static void
find_failed(struct joined *g)
{
	struct records *r = g->r;

	for (uint32_t i = 0; i < r->joint_names.n; i++)
		if (r->joints[i].flags & JOINT_FAILED)
			add_joint(g, i, RULE_JOINT_FAILED, found_at(&r->found, FOUND_JOINT, i),
			    field_of(r->joints[i].cut ? "no" : "fail"),
			    r->joints[i].cut ? "a later attempt at it does not stand"
					     : "its tension test or its protector failed");
}

int
joined_make(struct joined *g, struct records *r, struct err *err)
{
	*g = (struct joined){ .r = r };
	records_cut(r);
	ids_seal(&r->joint_names);
	if (network_number(&r->net, err) != 0)
		return -1;
	g->at = mem_zeroed(r->net.ends + 1, sizeof *g->at);
	if (r->has_plan)
		g->planned = mem_zeroed(r->net.ends + 1, sizeof *g->planned);
	place_ports(g);
	for (uint32_t i = 0; i < r->plan_n; i++)
		place_planned(g, i);
	connect_all(g);
	if (r->has_plan) {
		find_turned(g);
		find_crossed(g);
		find_missing(g);
	}
	find_failed(g);
	find_polish(g);
	return 0;
}

void
joined_free(struct joined *g)
{
	free(g->at);
	free(g->planned);
	*g = (struct joined){ .r = NULL };
}
