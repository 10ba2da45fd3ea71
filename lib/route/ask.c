#include "route/ask.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/num.h"

/* The two sides of the last colon of an option's value; the left one as a text's number. 0, or -1 with err set. */
static int
cut_name(const struct records *r, const char *option, struct field value, uint32_t *name,
    struct field *rest, struct err *err)
{
	char shown[ERR_SHOWN];
	size_t colon = value.n, found;

	while (colon > 0 && value.p[colon - 1] != ':')
		colon--;
	if (colon == 0)
		return err_set(
		    err, "%s: no colon: '%s'", option, err_show(shown, value.p, value.n));
	found = ids_find_one(r->texts, (struct field){ value.p, colon - 1 });
	*rest = (struct field){ value.p + colon, value.n - colon };
	*name = found == SIZE_MAX ? HOLD_NO_TEXT : (uint32_t)found;
	return 0;
}

/* --- between two ports ----------------------------------------------------------------------- */

/* The port that is called so; 0, or -1 with err set. */
static int
find_port(const struct records *r, struct field value, uint32_t *port, struct err *err)
{
	char shown[ERR_SHOWN];
	struct field name = { NULL, 0 };
	uint32_t site = HOLD_NO_TEXT;

	if (cut_name(r, "--between", value, &site, &name, err) != 0)
		return -1;
	for (*port = 0; *port < r->ports_n; (*port)++)
		if (r->ports[*port].site == site &&
		    field_same(ids_key(r->texts, r->ports[*port].port), name))
			return 0;
	return err_set(err, "--between: no such port: '%s'", err_show(shown, value.p, value.n));
}

/* Whether two rows are of one port; a head port has a row a leaf. */
static bool
same_port(const struct records *r, uint32_t a, uint32_t b)
{
	return a != RECORD_NONE && b != RECORD_NONE && r->ports[a].site == r->ports[b].site &&
	       r->ports[a].port == r->ports[b].port;
}

/* What the path is called: by the link that has both ports, else by what was asked. */
static struct field
name_between(const struct records *r, uint32_t from, uint32_t to, struct field asked)
{
	for (uint32_t i = 0; i < r->ports_n; i++) {
		uint32_t link = r->ports[i].link;

		if (link != RECORD_NONE && same_port(r, i, from) &&
		    (same_port(r, r->links[link].port[0], to) ||
			same_port(r, r->links[link].port[1], to)))
			return ids_key(&r->link_names, link);
	}
	return asked;
}

int
ask_between(struct judge *j, struct field from, struct field to, struct err *err)
{
	const struct records *r = j->g->r;
	uint32_t a, b;
	bool whole;

	if (find_port(r, from, &a, err) != 0 || find_port(r, to, &b, err) != 0)
		return -1;
	if (same_port(r, a, b))
		return err_set(err, "--between: the same port twice");
	whole = walk_ports(j->g, a, b, &j->path, &j->back);
	judge_lay(j, name_between(r, a, b, from), !whole);
	return whole;
}

/* --- through a fibre ------------------------------------------------------------------------- */

/* a fibre in the sections of its cable, and in which of them a path has been through it */
struct fibre {
	size_t first, n;
	uint32_t number; /* from 1 */
	bool *seen;
};

/* Whether the fibre is on the path; it is seen there. */
static bool
see(const struct network *net, struct fibre *f, const struct path *path)
{
	bool on = false;

	for (size_t i = 0; i < path->n; i++) {
		size_t at;

		if (path->v[i].what != STEP_FIBRE)
			continue;
		at = network_section(net, path->v[i].end);
		if (at >= f->first && at < f->first + f->n &&
		    network_fibre(net, path->v[i].end) == f->number)
			on = f->seen[at - f->first] = true;
	}
	return on;
}

static int
find_fibre(const struct records *r, struct field asked, struct fibre *f, struct err *err)
{
	const struct network *net = &r->net;
	char shown[ERR_SHOWN];
	struct field rest = { NULL, 0 };
	uint32_t cable = HOLD_NO_TEXT, at = END_NONE;
	int64_t number = 0;

	if (cut_name(r, "--through", asked, &cable, &rest, err) != 0)
		return -1;
	if (cable < net->texts_n)
		at = net->of_cable[cable];
	if (at == END_NONE || num_whole(rest, &number) != 0 || number < 1 ||
	    number > net->v[at].fibres)
		return err_set(
		    err, "--through: no such fibre: '%s'", err_show(shown, asked.p, asked.n));
	*f = (struct fibre){ .first = at, .number = (uint32_t)number };
	while (at + f->n < net->n && net->v[at + f->n].cable == cable)
		f->n++;
	f->seen = mem_zeroed(f->n, sizeof *f->seen);
	return 0;
}

/* A path is called by the link of its port, but not where a splitter has several. */
static struct field
name_through(const struct records *r, const struct path *path, struct field asked)
{
	uint32_t link =
	    path->v[0].what == STEP_PORT ? r->ports[path->v[0].number].link : RECORD_NONE;

	for (size_t i = 0; i < path->n; i++)
		if (path->v[i].what == STEP_LEG)
			link = RECORD_NONE;
	return link != RECORD_NONE ? ids_key(&r->link_names, link) : asked;
}

int
ask_through(struct judge *j, struct field fibre, struct err *err)
{
	const struct records *r = j->g->r;
	struct fibre f = { .n = 0 };
	int all = 1;

	if (find_fibre(r, fibre, &f, err) != 0)
		return -1;
	for (uint32_t i = 0; i < r->link_names.n; i++)
		if (walk_ports(
			j->g, r->links[i].port[0], r->links[i].port[1], &j->path, &j->back) &&
		    see(&r->net, &f, &j->path))
			judge_lay(j, ids_key(&r->link_names, i), false);
	for (size_t i = 0; i < f.n; i++) {
		const struct section *s = &r->net.v[f.first + i];
		bool whole;

		if (f.seen[i] || f.number > s->fibres)
			continue;
		walk_through(j->g, s->first + 2 * (f.number - 1), &j->path, &j->back);
		see(&r->net, &f, &j->path);
		whole = j->path.stop == STOP_PORT && j->path.v[0].what == STEP_PORT;
		judge_lay(j, name_through(r, &j->path, fibre), !whole);
		all &= whole;
	}
	free(f.seen);
	return all;
}
