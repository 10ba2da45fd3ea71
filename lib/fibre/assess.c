#include "fibre/assess.h"

int
assess_link(struct assess *a, size_t first, struct assess_link *link, struct err *err)
{
	const struct elements *e = &a->elements;
	struct wavelengths *w = &link->wavelengths;

	link->name = ids_key(&e->links, e->v[first].link);
	link->first = first;
	link->end = elements_after_link(e, first);
	link->limits = a->otherwise;
	links_limits(a->links, link->name, &link->limits);
	*w = a->asked;
	if (w->n == 0 &&
	    application_wavelengths(&a->applications, link->limits.application, w, err) != 0)
		return -1;
	if (w->n == 0 && (elements_wavelengths(e, first, link->end, w, err) != 0 ||
			     tested_wavelengths(&a->tested, link->name, w, err) != 0))
		return -1;
	return w->n > 0 ? 0 : wavelengths_add(w, 0, err);
}

static void
also_unknown(struct bytes *unknown, const char *what)
{
	bytes_add_text(unknown, unknown->n > 0 ? "; " : "");
	bytes_add_text(unknown, what);
}

/* What the link may lose at the wavelength, and must. */
static void
find_limits(const struct assess *a, const struct link_limits *l, double wavelength_nm,
    int64_t *allowed_udb, int64_t *lower_udb)
{
	struct budget_limits limits = l->limits;
	const struct application *application =
	    application_find(&a->applications, l->application, wavelength_nm);

	limits.application_max_udb = application != NULL ? application->max_udb : DB_NONE;
	limits.application_min_udb = application != NULL ? application->min_udb : DB_NONE;
	budget_allowed(&limits, allowed_udb, lower_udb);
}

/* The sums and what the tests make of them. */
static int
compute(struct assess *a, const struct assess_link *link, struct assess_row *row, struct err *err)
{
	const struct tested_row *tests = NULL;
	size_t ntests = tested_of(&a->tested, link->name, &tests);
	char shown[ERR_SHOWN];

	if (elements_budget(&a->elements, link->first, link->end, &a->allowances,
		row->wavelength_nm, a->k, &row->budget, &a->unknown, err) != 0)
		return -1;
	if (budget_sums(&row->budget.sum, a->k, &row->sums) != 0 ||
	    tested_compare(tests, ntests, row->wavelength_nm, &row->budget, a->k, &row->tested) !=
		0)
		return err_set(err, "link '%s': the sum of the link is too large",
		    err_show(shown, link->name.p, link->name.n));
	if (row->budget.not_known > 0)
		row->sums = (struct budget_sums){ DB_NONE, DB_NONE, DB_NONE };
	return 0;
}

int
assess_row(struct assess *a, const struct assess_link *link, size_t w, struct assess_row *row,
    struct err *err)
{
	const struct tested_result *t = &row->tested;
	int64_t most_udb, least_udb, lower_udb;
	bool has_test;

	row->wavelength_nm = link->wavelengths.nm[w];
	if (compute(a, link, row, err) != 0)
		return -1;
	find_limits(a, &link->limits, row->wavelength_nm, &row->allowed_udb, &lower_udb);
	has_test = t->mean_udb != DB_NONE;
	most_udb = has_test ? t->most_udb : row->sums.stat_udb;
	least_udb = has_test ? t->least_udb : row->sums.typical_udb;
	row->verdict = budget_judge(most_udb, least_udb, row->allowed_udb, lower_udb);
	row->margin_udb = DB_NONE;
	if (most_udb != DB_NONE && row->allowed_udb != DB_NONE)
		row->margin_udb = row->allowed_udb - most_udb;
	if (has_test && most_udb == DB_NONE && row->budget.not_known == 0)
		also_unknown(&a->unknown, "method of a test");
	if (row->allowed_udb == DB_NONE)
		also_unknown(&a->unknown, "limit");
	row->unknown = bytes_field(&a->unknown);
	return 0;
}

void
assess_free(struct assess *a)
{
	allowance_free(&a->allowances);
	application_free(&a->applications);
	tested_free(&a->tested);
	elements_free(&a->elements);
	bytes_free(&a->unknown);
	*a = (struct assess)ASSESS_NONE;
}
