#include "fibre/tested.h"

#include <stdlib.h>

#include "fibre/joint.h"
#include "fibre/link.h"

enum { LINK, FROM, WAVELENGTH, METHOD, LOSS, ORL, TESTED_AT };

const struct col tested_cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[FROM] = { "from", COL_MAY, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_NEED, COL_NUM, 600, 1700 },
	[METHOD] = { "method", COL_NEED, COL_WORD, .words = BUDGET_METHODS },
	[LOSS] = { "loss_db", COL_NEED, COL_DB, -1000, 1000 },
	[ORL] = { "orl_db", COL_MAY, COL_DB, 0, 100 },
	[TESTED_AT] = { "tested_at", COL_MAY, COL_TIME },
	{ NULL },
};

/* By link, wavelength and end, as they came. */
static int
order(const void *left, const void *right)
{
	const struct tested_row *a = left, *b = right;

	if (a->link != b->link)
		return a->link < b->link ? -1 : 1;
	if (a->wavelength_nm != b->wavelength_nm)
		return a->wavelength_nm < b->wavelength_nm ? -1 : 1;
	if (a->end != b->end)
		return a->end < b->end ? -1 : 1;
	return a->row < b->row ? -1 : a->row > b->row;
}

static bool
same_end(const struct tested_row *a, const struct tested_row *b)
{
	return a->link == b->link && a->wavelength_nm == b->wavelength_nm && a->end == b->end;
}

/* Of n tests of one end the latest; where it is not known which is later, the one with the greater loss. */
static const struct tested_row *
latest(const struct tested_row *v, size_t n)
{
	const struct tested_row *is = &v[n - 1];

	for (size_t i = 0; i < n; i++) {
		if (!v[i].has_time)
			continue;
		if (!is->has_time || when_surely_before(&is->at, &v[i].at) ||
		    (v[i].loss_udb > is->loss_udb && !when_surely_before(&v[i].at, &is->at)))
			is = &v[i];
	}
	return is;
}

/* Keeps the latest of each end and notes where each link begins. */
static void
keep_latest(struct tested *t)
{
	size_t n = 0, link = 0;

	if (t->n > 0)
		qsort(t->v, t->n, sizeof *t->v, order);
	t->first = mem_zeroed(t->links.n + 1, sizeof *t->first);
	for (size_t i = 0, end; i < t->n; i = end) {
		struct tested_row kept;

		for (end = i + 1; end < t->n && same_end(&t->v[i], &t->v[end]);)
			end++;
		kept = *latest(&t->v[i], end - i);
		while (link <= kept.link)
			t->first[link++] = n;
		t->v[n++] = kept;
	}
	while (link <= t->links.n)
		t->first[link++] = n;
	t->n = n;
}

/*
 * Which end of the link, whose number is id, `from` is. Without sites in the links table the first name
 * is that of a, the next that of b. -1: neither.
 */
static int
end_of(struct tested *t, size_t id, bool fresh, struct field from, struct table *links)
{
	struct field sites[TESTED_ENDS], name = ids_key(&t->links, id);
	uint32_t number, *names;

	t->sides = mem_grow(t->sides, &t->cap_sides, id + 1, sizeof *t->sides);
	names = t->sides[id].name;
	if (fresh) {
		links_sites(links, name, sites);
		for (int end = 0; end < TESTED_ENDS; end++)
			names[end] = sites[end].n == 0
					 ? UINT32_MAX
					 : (uint32_t)ids_add(&t->names, &sites[end], 1, NULL);
	}
	number = (uint32_t)ids_add(&t->names, &from, 1, NULL);
	for (int end = 0; end < TESTED_ENDS; end++)
		if (names[end] == number)
			return end;
	for (int end = 0; end < TESTED_ENDS; end++)
		if (names[end] == UINT32_MAX) {
			names[end] = number;
			return end;
		}
	return -1;
}

static void
read_row(struct tested *t, struct table *table, struct table *links)
{
	struct tested_row row = { .orl_udb = DB_NONE, .method = -1, .row = (uint32_t)t->n };
	struct field link = { NULL, 0 }, from = { "", 0 };
	bool fresh;
	int end;

	get_text(table, FROM, &from);
	get_num(table, WAVELENGTH, &row.wavelength_nm);
	get_word(table, METHOD, &row.method);
	get_db(table, ORL, &row.orl_udb);
	row.has_time = get_time(table, TESTED_AT, &row.at);
	if (!joint_reading(table, LOSS, &row.loss_udb) || err_is_set(table->err))
		return;
	if (!get_text(table, LINK, &link)) {
		table_fail(table, LINK, "a loss without its link");
		return;
	}
	if (row.wavelength_nm == 0) {
		table_fail(table, WAVELENGTH, "a loss without its wavelength");
		return;
	}
	row.link = (uint32_t)ids_add(&t->links, &link, 1, &fresh);
	end = end_of(t, row.link, fresh, from, links);
	if (end < 0) {
		table_fail(table, FROM, "neither of the two ends of this link");
		return;
	}
	row.end = (uint8_t)end;
	t->v = mem_grow(t->v, &t->cap, t->n + 1, sizeof *t->v);
	t->v[t->n++] = row;
}

int
tested_load(struct tested *t, struct table *table, struct table *links)
{
	*t = (struct tested)TESTED_NONE;
	t->given = table->reader != NULL;
	while (table_next(table))
		read_row(t, table, links);
	keep_latest(t);
	return err_is_set(table->err) ? -1 : 0;
}

/* How many tests there are of this link; *v is set to the first of them. */
static size_t
tests_of(struct tested *t, struct field link, const struct tested_row **v)
{
	size_t i = ids_find(&t->links, &link, 1);

	if (i == SIZE_MAX)
		return 0;
	*v = t->v + t->first[i];
	return t->first[i + 1] - t->first[i];
}

int
tested_wavelengths(struct tested *t, struct field link, struct wavelengths *w, struct err *err)
{
	const struct tested_row *v;

	for (size_t n = tests_of(t, link, &v); n > 0; n--, v++)
		if (wavelengths_add(w, v->wavelength_nm, err) != 0)
			return -1;
	return 0;
}

/* Two good tests of one link differ by so much: meter, source and reference; common practice. */
enum { TOLERANCE_UDB = DB_ONE / 5 };

/* One direction's test. */
static int
compare_one(const struct tested_row *row, const struct budget *b, double k, struct tested_end *end)
{
	struct budget_bounds bounds;

	end->loss_udb = row->loss_udb;
	if (row->loss_udb < 0)
		end->is = TESTED_LOW;
	if (b == NULL || b->not_known > 0 || row->method < 0)
		return 0;
	if (budget_bounds(b, (enum budget_method)row->method, k, &bounds) != 0)
		return -1;
	bounds.low_udb -= TOLERANCE_UDB;
	bounds.high_udb += TOLERANCE_UDB;
	if (end->is != TESTED_LOW)
		end->is = row->loss_udb < bounds.low_udb    ? TESTED_LOW
			  : row->loss_udb > bounds.high_udb ? TESTED_HIGH
							    : TESTED_AS_COMPUTED;
	if (end->is == TESTED_HIGH)
		end->bound_udb = bounds.high_udb;
	else if (bounds.low_udb > 0)
		end->bound_udb = bounds.low_udb;
	end->most_udb = end->least_udb = row->loss_udb;
	return db_add(&end->most_udb, bounds.left_stat_udb) != 0 ||
		       db_add(&end->least_udb, bounds.left_least_udb) != 0
		   ? -1
		   : 0;
}

int
tested_compare(struct tested *t, const struct elements *elements, struct field link,
    double wavelength_nm, const struct budget *budget, double k, struct tested_result *result)
{
	uint32_t made = (uint32_t)ids_find_one(&elements->links, link);
	const struct tested_row *v = NULL;
	size_t n = tests_of(t, link, &v), id = ids_find(&t->links, &link, 1);
	struct tested_result r = { .is = TESTED_UNKNOWN, .orl_udb = DB_NONE };

	for (int i = 0; i < TESTED_ENDS; i++) {
		uint32_t name = n > 0 ? t->sides[id].name[i] : UINT32_MAX;

		r.end[i] = (struct tested_end){ DB_NONE, DB_NONE, DB_NONE, TESTED_UNKNOWN, 0,
			name == UINT32_MAX ? field_of("") : ids_key(&t->names, name), NULL };
	}
	for (; n > 0; n--, v++) {
		if (v->wavelength_nm != wavelength_nm)
			continue;
		if (v->has_time)
			r.end[v->end].since = elements_made_after(elements, made, &v->at);
		if (r.end[v->end].since != NULL) {
			r.outdated++;
			continue;
		}
		r.ends++;
		if (compare_one(v, budget, k, &r.end[v->end]) != 0)
			return -1;
		if (r.end[v->end].is > r.is)
			r.is = r.end[v->end].is;
		if (v->orl_udb != DB_NONE && (r.orl_udb == DB_NONE || v->orl_udb < r.orl_udb))
			r.orl_udb = v->orl_udb;
	}
	*result = r;
	return 0;
}

void
tested_free(struct tested *t)
{
	ids_free(&t->links);
	ids_free(&t->names);
	free(t->v);
	free(t->first);
	free(t->sides);
	*t = (struct tested)TESTED_NONE;
}
