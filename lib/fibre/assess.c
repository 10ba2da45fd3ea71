#include "fibre/assess.h"

#include <stdarg.h>
#include <stdio.h>

/* The next name of the links table, then of the tests, that has no elements and was not there yet. */
static bool
next_without_elements(struct assess *a, struct assess_link *link)
{
	struct table links = *a->links;

	while (link->next_link < table_rows(a->links)) {
		size_t row = link->next_link++;

		link->name = links_name(a->links, row);
		links = *a->links;
		if (ids_find_one(&a->elements.links, link->name) == SIZE_MAX &&
		    table_find(&links, &link->name) && table_place(&links) == row)
			return true;
	}
	while (link->next_tested < a->tested.links.n) {
		link->name = ids_key(&a->tested.links, link->next_tested++);
		if (ids_find_one(&a->elements.links, link->name) == SIZE_MAX &&
		    !table_find(&links, &link->name))
			return true;
	}
	return false;
}

/* The wavelengths of the link. */
static int
find_wavelengths(struct assess *a, struct assess_link *link, struct err *err)
{
	struct wavelengths *w = &link->wavelengths;

	*w = a->asked;
	if (w->n == 0 && links_wavelengths(a->links, link->name, &a->applications,
			     a->otherwise.application, w, err) != 0)
		return -1;
	if (w->n == 0 && (elements_wavelengths(&a->elements, link->first, link->end, w, err) != 0 ||
			     tested_wavelengths(&a->tested, link->name, w, err) != 0))
		return -1;
	return w->n > 0 ? 0 : wavelengths_add(w, 0, err);
}

bool
assess_next(struct assess *a, struct assess_link *link, struct err *err)
{
	const struct elements *e = &a->elements;

	link->first = link->end;
	if (link->end < e->n) {
		link->name = ids_key(&e->links, e->v[link->first].link);
		link->end = elements_after_link(e, link->first);
	} else if (!next_without_elements(a, link))
		return false;
	return find_wavelengths(a, link, err) == 0;
}

/* Adds to a list in words. */
static void also(struct bytes *list, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

static void
also(struct bytes *list, const char *fmt, ...)
{
	va_list args;

	bytes_add_text(list, list->n > 0 ? "; " : "");
	va_start(args, fmt);
	bytes_add_formatted(list, fmt, args);
	va_end(args);
}

/* Adds "WHAT 1.000 RELATION 2.000" to the reasons. */
static void
reason(struct assess *a, const char *what, int64_t is_u, const char *relation, int64_t limit_u)
{
	char is[DB_FIXED], limit[DB_FIXED];

	also(&a->says, "%s %.*s %s %.*s", what, (int)db_fixed(is, is_u, 3), is, relation,
	    (int)db_fixed(limit, limit_u, 3), limit);
}

/* The sums and what the tests make of them. */
static int
compute(struct assess *a, const struct assess_link *link, const struct application *application,
    struct assess_row *row, struct err *err)
{
	struct field category = application != NULL ? application->category : field_of("");
	struct elements_sum sum;
	char shown[ERR_SHOWN];
	bool known;

	if (elements_sum(&a->elements, link->first, link->end, &a->allowances, category,
		row->wavelength_nm, a->k, &sum, &a->unknown, err) != 0)
		return -1;
	row->budget = sum.budget;
	if (budget_sums(&row->budget.sum, a->k, &row->sums) != 0 ||
	    tested_compare(&a->tested, &a->elements, link->name, row->wavelength_nm,
		link->first < link->end ? &row->budget : NULL, a->k, &row->tested) != 0)
		return err_set(err, "link '%s': the sum of the link is too large",
		    err_show(shown, link->name.p, link->name.n));
	known = row->budget.not_known == 0 && link->first < link->end;
	row->cd_ups_nm = signal_cd_ups(&sum.signal);
	row->pmd_ups = signal_pmd_ups(&sum.signal);
	row->orl_udb = row->tested.orl_udb;
	if (row->orl_udb == DB_NONE && known)
		row->orl_udb = signal_orl_udb(&sum.signal, row->sums.typical_udb);
	if (link->first == link->end)
		also(&a->unknown, "no elements");
	if (sum.other_category.n > 0)
		also(&a->unknown, "limit for %.*s fibre", (int)sum.other_category.n,
		    sum.other_category.p);
	if (!known)
		row->sums = (struct budget_sums){ DB_NONE, DB_NONE, DB_NONE, DB_NONE };
	return 0;
}

/* What cannot pass for a loss at all: limits of length, dispersion and reflection. true: one is broken. */
static bool
judge_beyond_loss(struct assess *a, const struct link_limits *l, const struct application *has,
    const struct assess_row *row)
{
	static const struct application none = { .max_ukm = DB_NONE,
		.min_orl_udb = DB_NONE,
		.max_cd_ups = DB_NONE,
		.max_pmd_ups = DB_NONE };
	const struct application *ap = has != NULL ? has : &none;
	int64_t length_ukm = row->budget.length_ukm, reach_ukm = l->limits.max_ukm;
	int64_t orl_udb = l->limits.min_orl_udb;
	int64_t cd_ups =
	    row->cd_ups_nm < 0 && row->cd_ups_nm != DB_NONE ? -row->cd_ups_nm : row->cd_ups_nm;
	size_t before = a->says.n;

	if (ap->max_ukm != DB_NONE && (reach_ukm == DB_NONE || ap->max_ukm < reach_ukm))
		reach_ukm = ap->max_ukm;
	if (ap->min_orl_udb > orl_udb)
		orl_udb = ap->min_orl_udb;
	if (reach_ukm != DB_NONE && length_ukm > reach_ukm)
		reason(a, "length", length_ukm, "km, beyond the reach of", reach_ukm);
	if (row->orl_udb != DB_NONE && row->orl_udb < orl_udb)
		reason(a, "return loss", row->orl_udb, "below", orl_udb);
	if (ap->max_cd_ups != DB_NONE && cd_ups > ap->max_cd_ups)
		reason(a, "dispersion", cd_ups, "ps/nm above", ap->max_cd_ups);
	if (ap->max_pmd_ups != DB_NONE && row->pmd_ups > ap->max_pmd_ups)
		reason(a, "PMD", row->pmd_ups, "ps above", ap->max_pmd_ups);
	if (reach_ukm != DB_NONE && length_ukm == DB_NONE)
		also(&a->unknown, "length");
	if (l->must_orl && row->orl_udb == DB_NONE)
		also(&a->unknown, "return loss");
	return a->says.n > before;
}

/* One sum or test against what is allowed; `what` names it. */
static void
judge_loss(struct assess *a, struct assess_row *row, const char *what, int64_t most_udb,
    int64_t least_udb, int64_t lower_udb)
{
	if (most_udb == DB_NONE || row->allowed_udb == DB_NONE)
		return;
	if (row->margin_udb == DB_NONE || row->allowed_udb - most_udb < row->margin_udb)
		row->margin_udb = row->allowed_udb - most_udb;
	if (most_udb > row->allowed_udb) {
		reason(a, what, most_udb, "above", row->allowed_udb);
		row->verdict = ASSESS_OVER;
	} else if (lower_udb != DB_NONE && least_udb < lower_udb) {
		reason(a, what, least_udb, "at least, below", lower_udb);
		if (row->verdict == ASSESS_PASS)
			row->verdict = ASSESS_OVERLOAD;
	}
}

/* The test in one direction. */
static void
judge_test(
    struct assess *a, struct assess_row *row, int i, const struct link_limits *l, int64_t lower_udb)
{
	const struct tested_end *end = &row->tested.end[i];
	char shown[ERR_SHOWN], made[WHEN_TEXT], what[ERR_SHOWN + 16] = "test";

	if (end->from.n > 0)
		snprintf(
		    what, sizeof what, "test from %s", err_show(shown, end->from.p, end->from.n));
	else if (end->loss_udb == DB_NONE)
		snprintf(what, sizeof what, "test from the other end");
	if (end->loss_udb == DB_NONE) {
		if (l->one_way && row->tested.ends > 0)
			return;
		if (end->since != NULL)
			also(&a->unknown, "%s later than the joint of %.*s", what,
			    (int)when_text(made, end->since).n, made);
		else if (!l->one_way)
			also(&a->unknown, "%s", what);
		return;
	}
	if (end->is == TESTED_HIGH)
		reason(a, what, end->loss_udb, "high, above", end->bound_udb);
	else if (end->is == TESTED_LOW)
		reason(a, what, end->loss_udb, "low, below", end->bound_udb);
	if (end->most_udb == DB_NONE && row->budget.not_known == 0 && row->budget.items > 0)
		also(&a->unknown, "method of %s", what);
	judge_loss(a, row, what, end->most_udb, end->least_udb, lower_udb);
}

/* Whether every test that the verdict needs is above what is allowed: then the link is over, high or not. */
static bool
all_above(const struct assess_row *row, bool one_way)
{
	if (row->allowed_udb == DB_NONE || row->tested.ends < (one_way ? 1 : TESTED_ENDS))
		return false;
	for (int i = 0; i < TESTED_ENDS; i++)
		if (row->tested.end[i].loss_udb != DB_NONE &&
		    row->tested.end[i].most_udb <= row->allowed_udb)
			return false;
	return true;
}

/* Whatever else limits the link: what its application needs here is not known. */
static void
say_no_wavelength(struct assess *a, struct field application, double wavelength_nm)
{
	char nm[WAVELENGTHS_TEXT];
	struct field text = wavelengths_text(nm, wavelength_nm);

	also(&a->unknown, "%.*s has no wavelength %.*s nm", (int)application.n, application.p,
	    (int)text.n, text.p);
}

int
assess_row(struct assess *a, const struct assess_link *link, size_t w, struct assess_row *row,
    struct err *err)
{
	struct link_limits l = a->otherwise;
	const struct application *application;
	int64_t lower_udb;

	row->wavelength_nm = link->wavelengths.nm[w];
	links_limits(a->links, link->name, row->wavelength_nm, &l);
	application = application_find(&a->applications, l.application, row->wavelength_nm);
	a->says.n = 0;
	if (compute(a, link, application, row, err) != 0)
		return -1;
	budget_allowed(&l.limits, application, &row->allowed_udb, &lower_udb);
	row->margin_udb = DB_NONE;
	row->verdict = ASSESS_PASS;
	if (row->tested.ends == 0)
		judge_loss(a, row, "loss", row->sums.stat_udb, row->sums.least_udb, lower_udb);
	if (row->tested.ends + row->tested.outdated == 0 && a->tested.given)
		also(&a->unknown, l.one_way ? "test" : "tests from both ends");
	for (int i = 0; i < TESTED_ENDS && row->tested.ends + row->tested.outdated > 0; i++)
		judge_test(a, row, i, &l, lower_udb);
	if (row->budget.items > 0 && row->budget.not_known == 0 && row->sums.typical_udb < 0)
		also(&a->unknown, "loss, which comes out below zero");
	if (l.application.n > 0 && application == NULL)
		say_no_wavelength(a, l.application, row->wavelength_nm);
	else if (row->allowed_udb == DB_NONE)
		also(&a->unknown, "limit");
	if (row->tested.is >= TESTED_HIGH && !all_above(row, l.one_way))
		row->verdict = ASSESS_UNKNOWN;
	if (judge_beyond_loss(a, &l, application, row))
		row->verdict = ASSESS_OVER;
	if (row->verdict == ASSESS_PASS && a->unknown.n > 0)
		row->verdict = ASSESS_UNKNOWN;
	row->says = bytes_field(&a->says);
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
	bytes_free(&a->says);
	*a = (struct assess)ASSESS_NONE;
}
