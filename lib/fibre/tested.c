#include "fibre/tested.h"

#include <stdlib.h>

#include "base/stat.h"

enum { LINK, FROM, WAVELENGTH, METHOD, LOSS, TESTED_AT };

const struct col tested_cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[FROM] = { "from", COL_MAY, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_NEED, COL_NUM, 600, 1700 },
	[METHOD] = { "method", COL_NEED, COL_WORD, .words = BUDGET_METHODS },
	[LOSS] = { "loss_db", COL_NEED, COL_DB, -1000, 1000 },
	[TESTED_AT] = { "tested_at", COL_MAY, COL_TIME },
	{ NULL },
};

/* By link, wavelength and end; of one end the latest last. */
static int
order(const void *left, const void *right)
{
	const struct tested_row *a = left, *b = right;
	int later;

	if (a->link != b->link)
		return a->link < b->link ? -1 : 1;
	if (a->wavelength_nm != b->wavelength_nm)
		return a->wavelength_nm < b->wavelength_nm ? -1 : 1;
	if (a->from != b->from)
		return a->from < b->from ? -1 : 1;
	if (a->has_time != b->has_time)
		return a->has_time ? 1 : -1;
	later = a->has_time ? when_order(&a->at, &b->at) : 0;
	if (later != 0)
		return later;
	return a->row < b->row ? -1 : a->row > b->row;
}

static bool
same_end(const struct tested_row *a, const struct tested_row *b)
{
	return a->link == b->link && a->wavelength_nm == b->wavelength_nm && a->from == b->from;
}

/* Keeps the latest of each end and notes where each link begins. */
static void
keep_latest(struct tested *t)
{
	size_t n = 0, link = 0;

	if (t->n > 0)
		qsort(t->v, t->n, sizeof *t->v, order);
	t->first = mem_zeroed(t->links.n + 1, sizeof *t->first);
	for (size_t i = 0; i < t->n; i++) {
		if (i + 1 < t->n && same_end(&t->v[i], &t->v[i + 1]))
			continue;
		while (link <= t->v[i].link)
			t->first[link++] = n;
		t->v[n++] = t->v[i];
	}
	while (link <= t->links.n)
		t->first[link++] = n;
	t->n = n;
}

static void
read_row(struct tested *t, struct ids *ends, struct table *table)
{
	struct tested_row row = { .method = -1, .row = (uint32_t)t->n };
	struct field link = { NULL, 0 }, from = { "", 0 };

	get_text(table, FROM, &from);
	get_num(table, WAVELENGTH, &row.wavelength_nm);
	get_word(table, METHOD, &row.method);
	row.has_time = get_time(table, TESTED_AT, &row.at);
	if (!get_db(table, LOSS, &row.loss_udb) || err_is_set(table->err))
		return;
	if (!get_text(table, LINK, &link)) {
		table_fail(table, LINK, "a loss without its link");
		return;
	}
	if (row.wavelength_nm == 0) {
		table_fail(table, WAVELENGTH, "a loss without its wavelength");
		return;
	}
	row.link = (uint32_t)ids_add(&t->links, &link, 1, NULL);
	row.from = (uint32_t)ids_add(ends, &from, 1, NULL);
	t->v = mem_grow(t->v, &t->cap, t->n + 1, sizeof *t->v);
	t->v[t->n++] = row;
}

int
tested_load(struct tested *t, struct table *table)
{
	struct ids ends = IDS_NONE;

	*t = (struct tested)TESTED_NONE;
	while (table_next(table))
		read_row(t, &ends, table);
	keep_latest(t);
	ids_free(&ends);
	return err_is_set(table->err) ? -1 : 0;
}

size_t
tested_of(struct tested *t, struct field link, const struct tested_row **v)
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

	for (size_t n = tested_of(t, link, &v); n > 0; n--, v++)
		if (wavelengths_add(w, v->wavelength_nm, err) != 0)
			return -1;
	return 0;
}

/* One end's test; most and least are sums over the ends so far. */
static int
compare_one(const struct tested_row *row, const struct budget *b, double k, struct tested_result *r)
{
	enum tested_is is = row->loss_udb < 0 ? TESTED_LOW : TESTED_UNKNOWN;
	struct budget_bounds bounds;

	if (b->not_known > 0 || row->method < 0) {
		r->most_udb = r->least_udb = DB_NONE;
	} else {
		if (budget_bounds(b, (enum budget_method)row->method, k, &bounds) != 0)
			return -1;
		if (is != TESTED_LOW)
			is = row->loss_udb < bounds.low_udb    ? TESTED_LOW
			     : row->loss_udb > bounds.high_udb ? TESTED_HIGH
							       : TESTED_AS_COMPUTED;
		if (r->most_udb != DB_NONE &&
		    (db_add(&r->most_udb, row->loss_udb) != 0 ||
			db_add(&r->most_udb, bounds.left_stat_udb) != 0 ||
			db_add(&r->least_udb, row->loss_udb) != 0 ||
			db_add(&r->least_udb, bounds.left_typical_udb) != 0))
			return -1;
	}
	if (is > r->is)
		r->is = is;
	return 0;
}

int
tested_compare(const struct tested_row *v, size_t n, double wavelength_nm, const struct budget *b,
    double k, struct tested_result *result)
{
	struct tested_result r = { .is = TESTED_UNKNOWN };
	int64_t ends = 0;

	for (; n > 0; n--, v++) {
		if (v->wavelength_nm != wavelength_nm)
			continue;
		ends++;
		if (db_add(&r.mean_udb, v->loss_udb) != 0 || compare_one(v, b, k, &r) != 0)
			return -1;
	}
	r.mean_udb = ends > 0 ? mean_of(r.mean_udb, (uint64_t)ends) : DB_NONE;
	if (ends == 0 || r.most_udb == DB_NONE) {
		r.most_udb = r.least_udb = DB_NONE;
	} else {
		r.most_udb = mean_of(r.most_udb, (uint64_t)ends);
		r.least_udb = mean_of(r.least_udb, (uint64_t)ends);
	}
	*result = r;
	return 0;
}

void
tested_free(struct tested *t)
{
	ids_free(&t->links);
	free(t->v);
	free(t->first);
	*t = (struct tested)TESTED_NONE;
}
