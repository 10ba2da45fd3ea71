/*
 * thrum-locate: where along the route a distance is that was read from one end of a link: in which
 * section of which cable, at which sheath mark, how far from the sites on either side, how surely.
 */
#include <math.h>

#include "route/network.h"
#include "route/place.h"
#include "table/prog.h"

struct opts {
	const char *link, *from, *km, *far_km;
	double index, sample_m;
	struct chain_sd sd;
};

#define AT(member) offsetof(struct opts, member)

static const struct opt opts[] = {
	{ 0, "link", OPT_TEXT, AT(link), "LINK", "the link of --km, in place of any FILE" },
	{ 0, "km", OPT_TEXT, AT(km), "KM", "distance, as the instrument shows it" },
	{ 0, "far-km", OPT_TEXT, AT(far_km), "KM", "the same place read from the other end" },
	{ 0, "from", OPT_TEXT, AT(from), "SITE",
	    "the end that --km was read from, or SITE:PORT (port a)" },
	{ 0, "index", OPT_NUM, AT(index), "INDEX",
	    "group index the distance was read with, if its row does not say", 1.4, 1.6 },
	{ 0, "sample", OPT_NUM, AT(sample_m), "M",
	    "distance between samples, if its row does not say (1)", 0, 1000 },
	{ 0, "mark-sd", OPT_NUM, AT(sd.mark_m), "M",
	    "standard deviation of sheath marks and of slack (0.7)", 0, 1000 },
	{ 0, "index-sd", OPT_NUM, AT(sd.index), "INDEX",
	    "standard deviation of a cable's index (0.0002)", 0, 0.1 },
	{ 0, "length-sd", OPT_NUM, AT(sd.length), "SHARE",
	    "standard deviation of a section's fibre, beside its cable's excess (0.003)", 0, 0.1 },
	{ 0 },
};

enum {
	LINK,
	FROM,
	KM,
	FAR_KM,
	INDEX,
	SAMPLE,
	CABLE,
	SECTION,
	SITE_A,
	TO_A,
	SITE_B,
	TO_B,
	MARK,
	IN_COIL,
	LAT,
	LON,
	UNCERTAINTY,
	SEARCH_FROM,
	SEARCH_TO,
	SAYS
};

static const struct col place_cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[FROM] = { "from", COL_MAY, COL_TEXT },
	[KM] = { "km", COL_NEED, COL_NUM, 0, 1000 },
	[FAR_KM] = { "far_km", COL_MAY, COL_NUM, 0, 1000 },
	[INDEX] = { "index", COL_MAY, COL_NUM, 1.4, 1.6 },
	[SAMPLE] = { "sample_m", COL_MAY, COL_NUM, 0, 1000 },
	[CABLE] = { "cable", COL_OUT, COL_TEXT },
	[SECTION] = { "section", COL_OUT, COL_TEXT },
	[SITE_A] = { "site_a", COL_OUT, COL_TEXT },
	[TO_A] = { "to_a_m", COL_OUT, COL_NUM, .places = 1 },
	[SITE_B] = { "site_b", COL_OUT, COL_TEXT },
	[TO_B] = { "to_b_m", COL_OUT, COL_NUM, .places = 1 },
	[MARK] = { "mark_m", COL_OUT, COL_NUM, .places = 1 },
	[IN_COIL] = { "in_coil", COL_OUT, COL_TEXT },
	[LAT] = { "lat", COL_OUT, COL_NUM, .places = 5 },
	[LON] = { "lon", COL_OUT, COL_NUM, .places = 5 },
	[UNCERTAINTY] = { "uncertainty_m", COL_OUT, COL_NUM, .places = 1 },
	[SEARCH_FROM] = { "search_from_m", COL_OUT, COL_NUM, .places = 1 },
	[SEARCH_TO] = { "search_to_m", COL_OUT, COL_NUM, .places = 1 },
	[SAYS] = { "says", COL_OUT, COL_TEXT },
	{ NULL },
};

enum { SITES_SITE, SITES_LAT, SITES_LON };

static const int site_key[] = { SITES_SITE, -1 };
static const struct col site_cols[] = {
	[SITES_SITE] = { "site", COL_NEED, COL_TEXT },
	[SITES_LAT] = { "lat", COL_MAY, COL_NUM, -90, 90 },
	[SITES_LON] = { "lon", COL_MAY, COL_NUM, -180, 180 },
	{ NULL },
};

enum { DISTANCES, ELEMENTS, SPANS, SITES, READINGS };

static const struct table_in inputs[] = {
	[DISTANCES] = { .cols = place_cols },
	[ELEMENTS] = { "elements", "the elements of the links, of thrum-route (needed)",
	    course_element_cols, .key = course_element_key,
	    .flags = IN_HELD | IN_MANY | IN_NEEDED },
	[SPANS] = { "spans", "the sections of the cables (needed)", span_cols,
	    .key = course_span_key, .flags = IN_HELD | IN_NEEDED },
	[SITES] = { "sites", "where the sites are", site_cols, .key = site_key, .flags = IN_HELD },
	[READINGS] = { "readings", "what was read along the links, from either end",
	    course_reading_cols, .key = course_reading_key, .flags = IN_HELD | IN_MANY },
	{ NULL },
};

static const struct table_out outputs[] = { { .cols = place_cols, .flags = OUT_FILTER }, { NULL } };

static const struct page page = {
	.name = "thrum-locate",
	.purpose = "where along the route a distance in the fibre is",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct run {
	struct prog p;
	struct opts o;
	struct courses courses;
	struct bytes one, says;
};

/* The one distance that the options ask about, as a table. */
static int
choose_input(struct run *r)
{
	const struct opts *o = &r->o;

	if (o->link == NULL && o->km == NULL && o->far_km == NULL && o->from == NULL)
		return 0;
	if (o->link == NULL || o->km == NULL)
		return err_set(&r->p.err, "--link and --km together make a question");
	if (prog_has_operands(&r->p))
		return err_set(&r->p.err, "--link and --km are one question: no FILE with them");
	bytes_add_format(&r->one, "link\tfrom\tkm\tfar_km\n%s\t%s\t%s\t%s\n", o->link,
	    o->from != NULL ? o->from : "", o->km, o->far_km != NULL ? o->far_km : "");
	prog_operands_are(&r->p, "options", bytes_field(&r->one));
	return 0;
}

/* By proportion of the ground along the straight line between the two sites, if both are known. */
static void
put_position(struct run *r, const struct found_place *place)
{
	struct table *sites = &r->p.in[SITES];
	double lat[2], lon[2], whole_m = place->to_m[0] + place->to_m[1];
	double share = whole_m > 0 ? place->to_m[0] / whole_m : 0;

	for (int end = 0; end < 2; end++)
		if (table_rows(sites) == 0 || !table_find(sites, &place->in->site[end]) ||
		    !get_num(sites, SITES_LAT, &lat[end]) || !get_num(sites, SITES_LON, &lon[end]))
			return;
	if (fabs(lon[1] - lon[0]) > 180) /* across the 180th meridian */
		lon[1] += lon[1] < lon[0] ? 360 : -360;
	lon[0] += share * (lon[1] - lon[0]);
	put_num(&r->p.out[0], LAT, lat[0] + share * (lat[1] - lat[0]));
	put_num(&r->p.out[0], LON,
	    lon[0] > 180    ? lon[0] - 360
	    : lon[0] < -180 ? lon[0] + 360
			    : lon[0]);
}

static void
put_place(struct run *r, const struct found_place *place)
{
	struct sheet *out = &r->p.out[0];
	const struct course_section *s = place->in;

	put_text(out, CABLE, s->cable);
	put_text(out, SECTION, s->section);
	put_text(out, SITE_A, s->site[0]);
	put_num(out, TO_A, place->to_m[0]);
	put_text(out, SITE_B, s->site[1]);
	put_num(out, TO_B, place->to_m[1]);
	if (!isnan(place->mark_m))
		put_num(out, MARK, place->mark_m);
	if (place->coil >= 0)
		put_text(out, IN_COIL, s->site[place->coil]);
	put_position(r, place);
	put_num(out, UNCERTAINTY, place->uncertainty_m);
	put_num(out, SEARCH_FROM, place->search_m[0]);
	put_num(out, SEARCH_TO, place->search_m[1]);
}

/* The course of the present row's link, and which end it was read from; NULL: trouble. */
static const struct course *
find_course(struct run *r, unsigned *side)
{
	struct table *t = &r->p.in[DISTANCES];
	struct field link = { "", 0 }, from = { "", 0 };
	const struct course *c;
	int is;

	get_text(t, LINK, &link);
	get_text(t, FROM, &from);
	c = courses_find(&r->courses, link);
	if (c == NULL) {
		if (!err_is_set(&r->p.err))
			table_fail(t, LINK, "no fibre of such a link in the elements");
		return NULL;
	}
	is = course_side(c, from);
	if (is < 0) {
		table_fail(t, FROM,
		    is == COURSE_NO_END ? "not an end of the link"
					: "both ends are there: name the port, SITE:PORT");
		return NULL;
	}
	*side = (unsigned)is;
	return c;
}

static void
one_row(struct run *r)
{
	struct table *t = &r->p.in[DISTANCES];
	double km = NAN, far_km = NAN;
	struct place_ask ask = { .index = r->o.index, .sample_m = r->o.sample_m };
	struct found_place place;
	const struct course *c;
	struct field link;

	get_num(t, KM, &km);
	get_num(t, FAR_KM, &far_km);
	get_num(t, INDEX, &ask.index);
	get_num(t, SAMPLE, &ask.sample_m);
	if (!get_text(t, LINK, &link) || isnan(km))
		return;
	c = find_course(r, &ask.side);
	if (c == NULL)
		return;
	ask.m[0] = km * 1000;
	ask.m[1] = far_km * 1000;
	if (place_find(c, &r->o.sd, &ask, &place) == CHAIN_IN)
		put_place(r, &place);
	r->says.n = 0;
	place_says(c, &ask, &place, &r->says);
	put_text(&r->p.out[0], SAYS, bytes_field(&r->says));
}

int
main(int argc, char **argv)
{
	struct run r = { .o = { .index = NAN,
			     .sample_m = 1,
			     .sd = { .mark_m = 0.7, .index = 0.0002, .length = 0.003 } },
		.courses = { .names = IDS_NONE, .cables = IDS_NONE } };

	(void)argc;
	if (prog_begin(&r.p, &page, &r.o, argv) == 0 && choose_input(&r) == 0 &&
	    prog_open(&r.p) == 0) {
		r.courses.elements = &r.p.in[ELEMENTS];
		r.courses.spans = &r.p.in[SPANS];
		r.courses.readings = &r.p.in[READINGS];
		r.courses.sd = r.o.sd;
		while (prog_next(&r.p))
			one_row(&r);
	}
	courses_free(&r.courses);
	bytes_free(&r.one);
	bytes_free(&r.says);
	return prog_close(&r.p, EXIT_DONE);
}
