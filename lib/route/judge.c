#include "route/judge.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/mem.h"

void
judge_begin(struct judge *j, struct joined *g, struct lay *lay)
{
	*j = (struct judge){ .g = g, .lay = lay };
}

static uint32_t
add(struct judge *j, uint32_t link, enum found_rule rule, uint32_t because, uint32_t site,
    struct field what, const char *says)
{
	struct records *r = j->g->r;

	return found_add(&r->found, &(struct found_row){ .rule = rule,
					.joint = FOUND_NONE,
					.link = link,
					.site = site,
					.because = because,
					.at_ukm = j->lay->at_ukm,
					.live = link != FOUND_NONE && r->links[link].live,
					.found = what,
					.says = says });
}

/* --- along a link ---------------------------------------------------------------------------- */

/* A finding that this link comes upon gets its name and how far away it is; the cause, or FOUND_NONE. */
static uint32_t
come_upon(struct judge *j, uint32_t link, uint32_t finding, int64_t at_ukm)
{
	struct records *r = j->g->r;
	struct found_row *x;

	if (finding == FOUND_NONE)
		return FOUND_NONE;
	x = &r->found.v[finding];
	if (x->link == FOUND_NONE && link != FOUND_NONE) {
		x->link = link;
		x->at_ukm = at_ukm;
		x->live = r->links[link].live;
	}
	return found_cause(&r->found, finding);
}

/* The first thing in the way of light that lies at either end of this step; keep is what was met before. */
static uint32_t
look(struct judge *j, uint32_t link, const struct step *step, int64_t before_ukm,
    int64_t behind_ukm, uint32_t keep)
{
	struct records *r = j->g->r;
	uint32_t met[2];

	if (step->what == STEP_JOINT)
		r->joints[step->number].flags |= JOINT_SEEN;
	if (r->found.at.n == 0)
		return keep;
	if (step->what != STEP_FIBRE) {
		met[0] = step->what == STEP_JOINT ? found_at(&r->found, FOUND_JOINT, step->number)
						  : FOUND_NONE;
		met[1] = FOUND_NONE;
	} else {
		met[0] = found_at(&r->found, FOUND_END, step->end);
		met[1] = found_at(&r->found, FOUND_END, step->end ^ 1);
	}
	for (int k = 0; k < 2; k++) {
		uint32_t cause = come_upon(j, link, met[k], k == 0 ? before_ukm : behind_ukm);

		if (keep == FOUND_NONE && cause != FOUND_NONE && !r->found.v[cause].away)
			keep = cause;
	}
	return keep;
}

static uint32_t
lay_path(struct judge *j, uint32_t link)
{
	uint32_t cause = FOUND_NONE;

	for (size_t i = 0; i < j->path.n; i++) {
		int64_t before_ukm = j->lay->at_ukm;

		lay_step(j->lay, &j->path.v[i]);
		cause = look(j, link, &j->path.v[i], before_ukm, j->lay->at_ukm, cause);
	}
	return cause;
}

static uint32_t
look_back(struct judge *j, uint32_t link, uint32_t cause)
{
	for (size_t i = 0; i < j->back.n; i++)
		cause = look(j, link, &j->back.v[i], DB_NONE, DB_NONE, cause);
	return cause;
}

/* --- a link that is not whole ---------------------------------------------------------------- */

/* Is the link one of these names, joined by commas? */
static bool
is_named(const struct records *r, uint32_t names, uint32_t link)
{
	return names != HOLD_NO_TEXT && field_among(ids_key(r->texts, names), ',',
					    ids_key(&r->link_names, link)) != SIZE_MAX;
}

/* Where a cable's section is missing, what happens at the cable follows from that. */
static uint32_t
cause_at(struct judge *j, uint32_t end, uint32_t cause)
{
	const struct records *r = j->g->r;

	return cause != FOUND_NONE ? cause
				   : found_at(&r->found, FOUND_CABLE,
					 r->net.v[network_section(&r->net, end)].cable);
}

/* A port's row names it; a link without has none at that side. */
static uint32_t
no_port(struct judge *j, uint32_t link, int side, uint32_t cause)
{
	const struct records *r = j->g->r;
	uint32_t port = r->links[link].port[side], site = FOUND_NONE;

	if (port != RECORD_NONE) {
		site = r->ports[port].site;
		if (cause == FOUND_NONE && r->ports[port].spot.at == SPOT_UNREACHED)
			cause = found_at(&r->found, FOUND_CABLE, r->ports[port].spot.fibre);
		if (cause == FOUND_NONE && r->ports[port].end != END_NONE)
			cause = found_at(&r->found, FOUND_END, r->ports[port].end);
	}
	cause = add(j, link, RULE_OPEN_END, cause, site, field_of(""),
	    side == 0 ? "the link has no fibre at its port a"
		      : "the link has no fibre at its port b");
	return found_cause(&r->found, cause);
}

/*
 * A link runs to or by these ends of ports and legs (END_NONE: nobody knows) in place of others: the finding
 * follows from an exchange that another link met there or at a port of this one, and the next one follows from it.
 */
static uint32_t
add_exchange(struct judge *j, uint32_t link, enum found_rule rule, uint32_t cause, uint32_t site,
    uint32_t there, uint32_t meant, struct field what, const char *says)
{
	struct records *r = j->g->r;
	uint32_t ends[4] = { there, meant, END_NONE, END_NONE };

	for (int side = 0; side < 2; side++)
		if (r->links[link].port[side] != RECORD_NONE)
			ends[2 + side] = r->ports[r->links[link].port[side]].end;
	for (int k = 0; k < 4 && cause == FOUND_NONE; k++)
		if (ends[k] != END_NONE)
			cause = found_at(&r->found, FOUND_PORT, ends[k]);
	cause = found_cause(&r->found, add(j, link, rule, cause, site, what, says));
	for (int k = 0; k < 4; k++)
		if (ends[k] != END_NONE)
			found_mark(&r->found, FOUND_PORT, ends[k], cause);
	return cause;
}

static uint32_t
exchanged(struct judge *j, uint32_t link, uint32_t port, uint32_t cause)
{
	struct records *r = j->g->r;
	struct record_port *p = &r->ports[port];
	struct field site = ids_key(r->texts, p->site), name = ids_key(r->texts, p->port);
	struct field other = field_of("no link");
	bool pair = false;

	if (r->links[link].exchanged)
		return cause;
	r->links[link].exchanged = true;
	if (p->link != RECORD_NONE) {
		other = ids_key(&r->link_names, p->link);
		pair = is_named(r, r->links[link].pair, p->link) ||
		       is_named(r, r->links[p->link].pair, link);
	}
	return add_exchange(j, link, pair ? RULE_PAIR_EXCHANGED : RULE_LINKS_EXCHANGED, cause,
	    p->site, p->end, END_NONE,
	    found_text(&r->found, "%.*s at %.*s:%.*s", (int)other.n, other.p, (int)site.n, site.p,
		(int)name.n, name.p),
	    pair ? "the link runs to a port of its pair"
		 : "the link runs to a port of another one");
}

/* Where the path from one side ends, and why; cause is what was met on the way. */
static uint32_t
say_end(struct judge *j, uint32_t link, const struct path *path, int side, uint32_t cause)
{
	struct records *r = j->g->r;
	uint32_t end = path->number, there, finding;

	if (path->n == 0 || (path->stop == STOP_OPEN && end == END_NONE))
		return no_port(j, link, side, cause);
	switch (path->stop) {
	case STOP_OPEN:
		there = found_at(&r->found, FOUND_END, end);
		if (there != FOUND_NONE)
			return found_cause(&r->found, cause != FOUND_NONE ? cause : there);
		finding =
		    add(j, link, RULE_OPEN_END, cause_at(j, end, cause), network_site(&r->net, end),
			joined_name(j->g, end), "the fibre ends here, and is joined to nothing");
		if (side == 1)
			r->found.v[finding].at_ukm = DB_NONE;
		found_mark(&r->found, FOUND_END, end, finding);
		return found_cause(&r->found, finding);
	case STOP_PORT:
		return exchanged(j, link, end, cause);
	case STOP_LOOP:
		return found_cause(
		    &r->found, add(j, link, RULE_LOOP, cause, FOUND_NONE, field_of(""),
				   "light goes round in a ring of splitters"));
	default:
		return cause;
	}
}

static void
say_broken(struct judge *j, uint32_t link, uint32_t cause)
{
	struct records *r = j->g->r;
	size_t before = r->found.n;

	cause = look_back(j, link, cause);
	cause = say_end(j, link, &j->path, 0, cause);
	cause = say_end(j, link, &j->back, 1, cause);
	if (cause == FOUND_NONE && before == r->found.n)
		add_exchange(j, link, RULE_LINKS_EXCHANGED, FOUND_NONE, FOUND_NONE, END_NONE,
		    END_NONE, field_of(""), "the way from port a does not meet that from port b");
}

/* --- links ----------------------------------------------------------------------------------- */

/* Whole, but on legs of splitters that were not meant. */
static void
say_legs(struct judge *j, uint32_t link, uint32_t cause)
{
	struct found *f = &j->g->r->found;

	if (f->v[cause].rule != RULE_CROSSED && f->v[cause].rule != RULE_RIBBON_TURNED)
		return;
	for (size_t i = 0; i < j->path.n; i++)
		if (j->path.v[i].what == STEP_LEG) {
			add(j, link, RULE_LEGS_EXCHANGED, cause, FOUND_NONE, field_of(""),
			    "the link runs by another leg of a splitter than planned");
			return;
		}
}

/* Narrows a band of wavelengths to what the leg lets through. false: nothing is left. */
static bool
lets_through(const struct record_leg *leg, float band_nm[2])
{
	if (leg->channel_nm[0] > band_nm[0])
		band_nm[0] = leg->channel_nm[0];
	if (leg->channel_nm[1] > 0 && leg->channel_nm[1] < band_nm[1])
		band_nm[1] = leg->channel_nm[1];
	return band_nm[0] <= band_nm[1];
}

/* Whole, but by legs of two multiplexers that have no channel in common: the cause, or FOUND_NONE. */
static uint32_t
say_channels(struct judge *j, uint32_t link)
{
	const struct records *r = j->g->r;
	float band_nm[2] = { 0, INFINITY };

	for (size_t i = 0; i < j->path.n; i++) {
		float before_nm[2] = { band_nm[0], band_nm[1] };
		const struct record_leg *leg;
		uint32_t meant = END_NONE;

		if (j->path.v[i].what != STEP_LEG ||
		    lets_through(&r->legs[j->path.v[i].number], band_nm))
			continue;
		leg = &r->legs[j->path.v[i].number];
		for (uint32_t k = r->splitters[leg->splitter].only[LEG_OUT]; k != RECORD_NONE;
		     k = r->legs[k].next) {
			memcpy(band_nm, before_nm, sizeof band_nm);
			if (lets_through(&r->legs[k], band_nm))
				meant = r->legs[k].end;
		}
		return add_exchange(j, link, RULE_LINKS_EXCHANGED, FOUND_NONE,
		    r->splitters[leg->splitter].site, leg->end, meant, field_of(""),
		    "the multiplexers on its way have no channel in common");
	}
	return FOUND_NONE;
}

/* Where a link is not whole: at its cause, if it runs to its end, else where it ends. */
static uint32_t
open_site(struct judge *j, bool whole, uint32_t cause)
{
	const struct records *r = j->g->r;
	const struct step *last;

	if (whole && cause != FOUND_NONE && r->found.v[cause].site != FOUND_NONE)
		return r->found.v[cause].site;
	if (j->path.n == 0)
		return HOLD_NO_TEXT;
	last = &j->path.v[j->path.n - 1];
	if (last->what == STEP_PORT)
		return r->ports[last->number].site;
	if (last->what == STEP_FIBRE)
		return network_site(&r->net, last->end ^ 1);
	return network_site(&r->net, last->end);
}

static void
judge_link(struct judge *j, uint32_t link)
{
	struct records *r = j->g->r;
	bool whole =
	    walk_ports(j->g, r->links[link].port[0], r->links[link].port[1], &j->path, &j->back);
	uint32_t cause;

	lay_link(j->lay, ids_key(&r->link_names, link), &j->path);
	cause = lay_path(j, link);
	if (!whole)
		say_broken(j, link, cause);
	else if (cause == FOUND_NONE)
		cause = say_channels(j, link);
	else
		say_legs(j, link, cause);
	if (!whole || cause != FOUND_NONE)
		lay_open(j->lay, open_site(j, whole, cause));
}

void
judge_lay(struct judge *j, struct field name, bool open)
{
	uint32_t cause;

	lay_link(j->lay, name, &j->path);
	cause = lay_path(j, FOUND_NONE);
	if (open || cause != FOUND_NONE)
		lay_open(j->lay, open_site(j, !open, cause));
}

/* --- links that keep apart ------------------------------------------------------------------- */

/* A section of a cable that both links are in; a tail is none. First stamps those of `link`, then looks for them. */
static uint32_t
common_section(struct judge *j, uint32_t stamp, bool look_for)
{
	const struct network *net = &j->g->r->net;

	for (size_t i = 0; i < j->path.n; i++) {
		uint32_t at;

		if (j->path.v[i].what != STEP_FIBRE)
			continue;
		at = network_section(net, j->path.v[i].end);
		if (net->v[at].site[0] == net->v[at].site[1])
			continue;
		if (look_for && j->stamp[at] == stamp)
			return at;
		if (!look_for)
			j->stamp[at] = stamp;
	}
	return END_NONE;
}

static uint32_t
walk_again(struct judge *j, uint32_t link)
{
	struct records *r = j->g->r;
	uint32_t cause = FOUND_NONE;

	walk_ports(j->g, r->links[link].port[0], r->links[link].port[1], &j->path, &j->back);
	for (size_t i = 0; i < j->path.n; i++)
		cause = look(j, FOUND_NONE, &j->path.v[i], DB_NONE, DB_NONE, cause);
	return cause;
}

static void
judge_apart(struct judge *j, uint32_t link)
{
	struct records *r = j->g->r;
	struct field rest = ids_key(r->texts, r->links[link].apart);
	uint32_t own = walk_again(j, link), cause, at;

	common_section(j, link + 1, false);
	while (rest.p != NULL) {
		struct field name = field_cut(&rest, ',');
		size_t other = ids_find_one(&r->link_names, name);

		/* of two that name each other it is said once */
		if (other == SIZE_MAX || other == link ||
		    (other < link && is_named(r, r->links[other].apart, link)))
			continue;
		cause = walk_again(j, (uint32_t)other);
		at = common_section(j, link + 1, true);
		if (at == END_NONE)
			continue;
		add(j, link, RULE_APART, own != FOUND_NONE ? own : cause, r->net.v[at].site[0],
		    found_text(&r->found, "%.*s, in cable %.*s", (int)name.n, name.p,
			(int)ids_key(r->texts, r->net.v[at].cable).n,
			ids_key(r->texts, r->net.v[at].cable).p),
		    "two links that are to keep apart are in one section of a cable");
		r->found.v[r->found.n - 1].at_ukm = DB_NONE;
		r->found.v[r->found.n - 1].away = true;
	}
}

/* --- joints on no link ----------------------------------------------------------------------- */

/*
 * What was walked from a joint on no link: the first cause there, and how many joints that nobody saw. Where
 * light stops at a splitter, all its ways on are looked at as well, so many splitters deep.
 */
static uint32_t
look_stray(struct judge *j, const struct path *path, uint32_t cause, size_t *joints, int deep)
{
	struct records *r = j->g->r;
	const struct record_leg *leg;

	for (size_t i = 0; i < path->n; i++) {
		const struct step *step = &path->v[i];

		*joints +=
		    step->what == STEP_JOINT && !(r->joints[step->number].flags & JOINT_SEEN);
		cause = look(j, FOUND_NONE, step, DB_NONE, DB_NONE, cause);
	}
	if (path->stop == STOP_OPEN)
		return cause_at(j, path->number, cause);
	if (path->stop == STOP_PORT && cause == FOUND_NONE)
		return found_at(&r->found, FOUND_PORT, r->ports[path->number].end);
	if (path->stop != STOP_SPLITTER || deep == 0)
		return cause;
	leg = &r->legs[path->number];
	for (uint32_t to = r->splitters[leg->splitter].only[!leg->side]; to != RECORD_NONE;
	     to = r->legs[to].next) {
		struct path behind = { .n = 0 };

		if (r->legs[to].end != END_NONE) {
			walk_from(j->g, r->legs[to].end, &behind);
			cause = look_stray(j, &behind, cause, joints, deep - 1);
		}
		path_free(&behind);
	}
	return cause;
}

static void
judge_stray(struct judge *j, uint32_t number)
{
	struct records *r = j->g->r;
	const struct record_joint *joint = &r->joints[number];
	uint32_t cause = FOUND_NONE, finding;
	bool ring = false;
	size_t joints = 1;

	r->joints[number].flags |= JOINT_SEEN;
	for (int k = 0; k < 2 && !ring; k++) {
		walk_from(j->g, joint->spot[k].at, &j->path);
		ring = j->path.stop == STOP_LOOP;
		cause = look_stray(j, &j->path, cause, &joints, 4);
	}
	finding = add(j, FOUND_NONE, ring ? RULE_LOOP : RULE_NO_LINK, cause, joint->closure,
	    found_text(&r->found, "%zu joint%s", joints, joints == 1 ? "" : "s"),
	    ring ? "the fibre comes back to itself: a ring without a port"
		 : "on no link, and so is all that is joined to it");
	r->found.v[finding].joint = number;
	r->found.v[finding].file = r->files[joint->file];
	r->found.v[finding].line = joint->line;
	r->found.v[finding].at_ukm = DB_NONE;
}

void
judge_links(struct judge *j)
{
	struct records *r = j->g->r;

	for (uint32_t i = 0; i < r->link_names.n; i++)
		judge_link(j, i);
	for (uint32_t i = 0; i < r->joint_names.n; i++)
		if ((r->joints[i].flags & (JOINT_CONNECTED | JOINT_SEEN)) == JOINT_CONNECTED)
			judge_stray(j, i);
	j->stamp = mem_zeroed(r->net.n + 1, sizeof *j->stamp);
	for (uint32_t i = 0; i < r->link_names.n; i++)
		if (r->links[i].apart != HOLD_NO_TEXT)
			judge_apart(j, i);
}

void
judge_free(struct judge *j)
{
	path_free(&j->path);
	path_free(&j->back);
	free(j->stamp);
	*j = (struct judge){ .g = NULL };
}
