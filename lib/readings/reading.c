#include "readings/reading.h"

#include <stdlib.h>

#include "base/num.h"
#include "fibre/joint.h"
#include "fibre/link.h"
#include "fibre/wavelengths.h"

enum { LINK, FROM, WAVELENGTH, INDEX, PULSE, SAMPLE, DEAD, KM, KIND, LOSS, SD, TESTED };

const struct col reading_cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[FROM] = { "from", COL_NEED, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_NEED, COL_NUM, 600, 1700 },
	[INDEX] = { "index", COL_MAY, COL_NUM, 1, 2 },
	[PULSE] = { "pulse_ns", COL_MAY, COL_NUM, 0, 100000 },
	[SAMPLE] = { "sample_m", COL_MAY, COL_NUM, 0, 1000 },
	[DEAD] = { "dead_m", COL_MAY, COL_NUM, 0, 100000 },
	[KM] = { "km", COL_NEED, COL_NUM, -1000, 100000 },
	[KIND] = { "kind", COL_NEED, COL_WORD, .words = READING_KINDS },
	[LOSS] = { "loss_db", COL_NEED, COL_DB },
	[SD] = { "sd_db", COL_MAY, COL_NUM, 0, 10 },
	[TESTED] = { "tested_at", COL_MAY, COL_TIME },
	{ NULL },
};

/* Length of a pulse along the fibre: half of c / n for each nanosecond. */
#define PULSE_M_NS 0.102

static int
add_link(struct readings *r, struct table *t, struct field name)
{
	bool fresh;
	size_t id = ids_add(&r->names, &name, 1, &fresh);

	if (!fresh)
		return 0;
	r->site = mem_grow(r->site, &r->links_cap, id + 1, 2 * sizeof *r->site);
	if (table_rows(r->links) == 0 || !table_find(r->links, &name))
		return table_fail(t, LINK, "no such link in --links");
	links_sites(r->links, name, &r->site[2 * id]);
	return 0;
}

/* The trace of the present row. 0, or -1. */
static int
find_trace(struct readings *r, struct table *t, size_t link, uint32_t *number)
{
	char nm[WAVELENGTHS_TEXT], tested[NUM_SCALED];
	struct field key[] = { ids_key(&r->names, link), table_field(t, FROM), { "", 0 },
		{ tested, 0 } };
	struct trace here = { .timed = false }, *was;
	bool fresh;

	here.end = field_same(key[1], r->site[2 * link + 1]);
	if (key[1].n == 0 || (here.end == 0 && !field_same(key[1], r->site[2 * link])))
		return table_fail(t, FROM, "neither site_a nor site_b of its link");
	get_num(t, INDEX, &here.index);
	if (!get_num(t, WAVELENGTH, &here.nm))
		return table_fail(t, WAVELENGTH, "empty");
	key[2] = wavelengths_text(nm, here.nm);
	here.timed = get_time(t, TESTED, &here.at);
	if (here.timed)
		key[3].n = num_scaled(
		    tested, (uint64_t)(here.at.seconds * 1000000 + here.at.nanos / 1000), 0, false);
	*number = (uint32_t)ids_add(&r->keys, key, 4, &fresh);
	r->traces = mem_grow(r->traces, &r->traces_cap, *number + (size_t)1, sizeof *r->traces);
	was = &r->traces[*number];
	here.link = (uint32_t)link;
	if (fresh)
		*was = here;
	else if (here.index > 0 && was->index > 0 && was->index != here.index)
		return table_fail(t, INDEX, "not the index of this reading's other rows");
	else if (here.index > 0)
		was->index = here.index;
	return err_is_set(t->err) ? -1 : 0;
}

static uint16_t
file_number(struct readings *r, const char *file)
{
	if (r->files_n == 0 || r->files[r->files_n - 1] != file) {
		r->files = mem_grow(r->files, &r->files_cap, r->files_n + 1, sizeof *r->files);
		r->files[r->files_n++] = file;
	}
	return (uint16_t)(r->files_n - 1);
}

/* The sum does not depend on the order of rows; the factors are those of splitmix64. */
static void
add_content(struct trace *trace, const struct reading *x)
{
	uint64_t km, mixed;

	if (x->loss_udb == DB_NONE)
		return;
	memcpy(&km, &x->km, sizeof km);
	mixed = (km * 0x9e3779b97f4a7c15u) ^ (uint64_t)x->loss_udb;
	mixed = (mixed ^ (mixed >> 30)) * 0xbf58476d1ce4e5b9u;
	mixed = (mixed ^ (mixed >> 27)) * 0x94d049bb133111ebu;
	trace->content += mixed ^ (mixed >> 31);
	trace->losses++;
	trace->digits += x->loss_udb % (DB_ONE / 100) != 0 ? 2 : 1;
}

int
readings_read(struct readings *r, struct table *t)
{
	struct reading x = { .loss_udb = DB_NONE, .line = (uint32_t)t->row.line };
	double pulse_m = 0, sample_m = 0, dead_m, sd_db = -1;
	struct field name;
	size_t link, grown = r->cap;
	int kind = 0;

	if (!get_text(t, LINK, &name))
		return table_fail(t, LINK, "empty");
	if (add_link(r, t, name) != 0)
		return -1;
	link = ids_find_one(&r->names, name);
	if (find_trace(r, t, link, &x.trace) != 0)
		return -1;
	if (!get_num(t, KM, &x.km) && !err_is_set(t->err))
		return table_fail(t, KM, "empty");
	if (!get_word(t, KIND, &kind) && !err_is_set(t->err))
		return table_fail(t, KIND, "empty");
	joint_reading(t, LOSS, &x.loss_udb);
	if (get_num(t, PULSE, &pulse_m))
		pulse_m *= PULSE_M_NS;
	get_num(t, SAMPLE, &sample_m);
	dead_m = pulse_m;
	get_num(t, DEAD, &dead_m);
	get_num(t, SD, &sd_db);
	if (err_is_set(t->err))
		return -1;
	x.kind = (uint8_t)kind;
	x.sd_db = (float)sd_db;
	x.dead_m = (float)dead_m;
	x.reach_m = (float)(pulse_m > 2 * sample_m ? pulse_m : 2 * sample_m);
	x.file = file_number(r, t->row.file);
	r->v = mem_grow(r->v, &r->cap, r->n + 1, sizeof *r->v);
	if (grown != r->cap)
		r->link_of = mem_grow(r->link_of, &grown, r->cap, sizeof *r->link_of);
	r->link_of[r->n] = (uint32_t)link;
	r->v[r->n++] = x;
	add_content(&r->traces[x.trace], &x);
	return 0;
}

struct content {
	uint64_t sum;
	uint32_t trace;
};

static int
by_content(const void *a, const void *b)
{
	const struct content *x = a, *y = b;

	if (x->sum != y->sum)
		return x->sum < y->sum ? -1 : 1;
	return (x->trace > y->trace) - (x->trace < y->trace);
}

/* Marks the readings that are like another one. */
static void
find_copies(struct readings *r)
{
	enum { DIGITS_LEAST = 8 };
	struct content *v = mem_zeroed(r->keys.n + 1, sizeof *v);
	size_t n = 0;

	for (uint32_t i = 0; i < r->keys.n; i++)
		if (r->traces[i].digits >= DIGITS_LEAST)
			v[n++] = (struct content){ r->traces[i].content, i };
	if (n > 0)
		qsort(v, n, sizeof *v, by_content);
	for (size_t i = 1; i < n; i++) {
		struct trace *a = &r->traces[v[i - 1].trace], *b = &r->traces[v[i].trace];

		if (a->content != b->content || a->digits != b->digits ||
		    (a->link == b->link &&
			(2 * a->digits < 3 * a->losses || (a->end == b->end && a->nm == b->nm))))
			continue;
		a->copied = v[i].trace + 1;
		b->copied = v[i - 1].trace + 1;
	}
	free(v);
}

void
readings_arrange(struct readings *r)
{
	find_copies(r);
	r->first = mem_zeroed(r->names.n + 2, sizeof *r->first);
	r->order = mem_zeroed(r->n + 1, sizeof *r->order);
	for (size_t i = 0; i < r->n; i++)
		r->first[r->link_of[i] + 2]++;
	for (size_t i = 2; i < r->names.n + 2; i++)
		r->first[i] += r->first[i - 1];
	for (size_t i = 0; i < r->n; i++)
		r->order[r->first[r->link_of[i] + 1]++] = (uint32_t)i;
}

static int
by_trace_and_km(const void *a, const void *b)
{
	const struct reading *x = a, *y = b;

	if (x->trace != y->trace)
		return x->trace < y->trace ? -1 : 1;
	if (x->km != y->km)
		return x->km < y->km ? -1 : 1;
	if (x->file != y->file)
		return x->file < y->file ? -1 : 1;
	return x->line < y->line ? -1 : x->line > y->line;
}

size_t
readings_of(struct readings *r, size_t link, struct reading **here)
{
	size_t n = r->first[link + 1] - r->first[link];

	r->here = mem_grow(r->here, &r->here_cap, n, sizeof *r->here);
	for (size_t i = 0; i < n; i++)
		r->here[i] = r->v[r->order[r->first[link] + i]];
	qsort(r->here, n, sizeof *r->here, by_trace_and_km);
	*here = r->here;
	return n;
}

void
readings_free(struct readings *r)
{
	ids_free(&r->names);
	ids_free(&r->keys);
	free(r->traces);
	free(r->v);
	free(r->link_of);
	free(r->site);
	free(r->files);
	free(r->first);
	free(r->order);
	free(r->here);
}
