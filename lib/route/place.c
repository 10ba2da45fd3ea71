#include "route/place.h"

#include <math.h>
#include <stdarg.h>

static double
or_zero(double x)
{
	return isnan(x) ? 0 : x;
}

static double
within(double x, double most)
{
	return fmax(0, fmin(x, most));
}

/* From a place in the fibre to one in the sheath, and on the ground. */
static void
put_sheath(const struct course *c, const struct chain_sd *sd, const struct chain_found *f,
    struct found_place *p)
{
	const struct course_section *s = &c->v[f->section];
	const struct chain_section *l = &c->lengths[f->section];
	double part = s->reversed ? 1 - f->part : f->part, more = fmax(part, 1 - part);
	double sheath_m = l->sheath_m, var, at_m, slack_a = or_zero(s->slack_m[0]), ground_m,
	       half_m;
	bool known = !isnan(sheath_m);

	p->inside = l->inside;
	p->index = l->index;
	if (!known) {
		sheath_m = f->length_m * CHAIN_INDEX / (isnan(l->index) ? CHAIN_INDEX : l->index);
		sheath_m /= l->inside ? 1 : 1 + CHAIN_EXCESS;
	}
	at_m = part * sheath_m;
	var = f->length_m > 0 ? pow(f->sd_m * sheath_m / f->length_m, 2) : pow(f->sd_m, 2);
	if (!l->inside)
		var += known ? (part * part + (1 - part) * (1 - part)) * pow(sd->mark_m, 2)
			     : pow(more * sheath_m * CHAIN_EXCESS_HALF, 2) / 3;
	p->uncertainty_m = 1.96 * sqrt(var);
	p->mark_m = s->mark_m[0] + part * (s->mark_m[1] - s->mark_m[0]);
	p->coil = at_m < slack_a ? 0 : sheath_m - at_m < or_zero(s->slack_m[1]) ? 1 : -1;
	p->near[0] = at_m < p->uncertainty_m;
	p->near[1] = sheath_m - at_m < p->uncertainty_m;
	ground_m = l->inside ? 0 : fmax(0, sheath_m - slack_a - or_zero(s->slack_m[1]));
	half_m = 1.96 * sqrt(var + pow(sd->mark_m, 2)); /* and of the slack */
	p->to_m[0] = within(at_m - slack_a, ground_m);
	p->to_m[1] = ground_m - p->to_m[0];
	p->search_m[0] = within(at_m - slack_a - half_m, ground_m);
	p->search_m[1] = within(at_m - slack_a + half_m, ground_m);
}

/* The nearest node on either side of the section that a reading shows, or that is an end read from. */
static void
put_known(const struct course *c, unsigned side, bool both, size_t section, struct found_place *p)
{
	size_t n = c->chain.n, before = section, behind = section + 1;
	bool ends[2] = { both || side == 0, both || side == 1 };
	const struct course_section *s;

	while (before > 0 && !c->chain.seen[before])
		before--;
	while (behind < n && !c->chain.seen[behind])
		behind++;
	s = &c->v[before];
	if (c->chain.seen[before] || ends[0])
		p->known[0] = s->site[s->reversed];
	s = &c->v[behind - 1];
	if (c->chain.seen[behind] || (behind == n && ends[1]))
		p->known[1] = s->site[!s->reversed];
}

enum chain_where
place_find(const struct course *c, const struct chain_sd *sd, const struct place_ask *ask,
    struct found_place *place)
{
	const struct chain *chain = &c->chain;
	struct chain_found f, other;
	unsigned far = 1 - ask->side;
	bool both;

	*place = (struct found_place){ .coil = -1 };
	place->is = chain_find(chain, ask->side, ask->m[0] - or_zero(c->start_m[ask->side]),
	    ask->index, ask->sample_m, &f);
	place->off_m = f.off_m;
	place->in = &c->v[f.section];
	if (place->is != CHAIN_IN)
		return place->is;
	both = !isnan(ask->m[1]) && chain->reach[0] == chain->n && c->site[1].n > 0 &&
	       chain_find(chain, far, ask->m[1] - or_zero(c->start_m[far]), ask->index,
		   ask->sample_m, &other) == CHAIN_IN;
	place->other = !both                                                       ? PLACE_UNUSED
		       : chain_meet(chain, ask->side, &f, &other, &place->apart_m) ? PLACE_MEETS
										   : PLACE_APART;
	put_sheath(c, sd, &f, place);
	put_known(c, ask->side, place->other == PLACE_MEETS, f.section, place);
	return place->is;
}

/* --- what is said of it ------------------------------------------------------------------------- */

#define F(field) (int)(field).n, (field).p

/* Another sentence. */
static void __attribute__((format(printf, 2, 3))) say(struct bytes *b, const char *fmt, ...)
{
	va_list args;

	va_start(args, fmt);
	bytes_add_text(b, b->n > 0 ? "; " : "");
	bytes_add_formatted(b, fmt, args);
	va_end(args);
}

/* On what the place rests. */
static void
say_basis(struct bytes *b, const struct course *c, const struct place_ask *ask,
    const struct found_place *place)
{
	const struct field *known = place->known;
	double index = c->chain.index;

	if (known[0].n > 0 && known[1].n > 0)
		say(b, "known on both sides, %.*s and %.*s", F(known[0]), F(known[1]));
	else if (known[0].n + known[1].n > 0)
		say(b, "known only on one side, %.*s", F(known[known[0].n == 0]));
	if (c->start_m[ask->side] > 0)
		say(b, "%.1f m taken off for the cord, as the readings %s", c->start_m[ask->side],
		    c->starts_differ[ask->side] ? "last have it: they differ" : "have it");
	if (isnan(place->index) && !place->inside)
		say(b, "the cable states no index: %.4f was taken", CHAIN_INDEX);
	if (isnan(ask->index))
		say(b, "read with an index that is not stated: that of the cables was taken");
	else if (fabs(ask->index - index) > 0.00005)
		say(b, "read with index %.4f, the cables have %.4f: %+.1f m", ask->index, index,
		    ask->m[0] * (ask->index / index - 1));
	if (!isnan(ask->m[1]) && place->other == PLACE_UNUSED)
		say(b, "far_km is not on the link, or no use");
	if (place->other == PLACE_APART)
		say(b, "far_km is elsewhere, %.1f m apart: are there two faults", place->apart_m);
}

static void
say_search(struct bytes *b, const struct found_place *place)
{
	const struct course_section *s = place->in;
	double ground_m = place->search_m[1] - place->search_m[0];

	for (int end = 0; end < 2; end++)
		if (place->near[end] && !place->inside)
			say(b, "it can be in or behind %.*s: look there first", F(s->site[end]));
	if (place->inside)
		say(b, "within %.*s, or in the first %.1f m of cable from it", F(s->site[0]),
		    place->uncertainty_m);
	if (place->coil >= 0)
		say(b, "search the coil at %.*s", F(s->site[place->coil]));
	if (ground_m > 0)
		say(b, "search %.1f m of ground, %.1f to %.1f m from %.*s", ground_m,
		    place->search_m[0], place->search_m[1], F(s->site[0]));
	say(b, "read the sheath mark in the chamber on either side, and from both ends, before "
	       "digging; local rules come first: buried services, permits, confined spaces");
}

void
place_says(const struct course *c, const struct place_ask *ask, const struct found_place *place,
    struct bytes *b)
{
	switch (place->is) {
	case CHAIN_IN:
		say_basis(b, c, ask, place);
		say_search(b, place);
		break;
	case CHAIN_UNKNOWN:
		say(b, "in or behind %.*s, whose length is not known", F(place->in->cable));
		break;
	default:
		say(b, "%.1f m %s of the link", place->off_m,
		    place->is == CHAIN_BEFORE ? "before the beginning" : "behind the end");
	}
}
