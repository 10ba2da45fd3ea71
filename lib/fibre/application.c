#include "fibre/application.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/spelling.h"

enum {
	APPLICATION,
	WAVELENGTH,
	CATEGORY,
	MIN,
	MAX,
	MAX_KM,
	LAUNCH_MAX,
	RECEIVE_MAX,
	MIN_ORL,
	MAX_CD,
	MAX_PMD,
};

const struct col application_cols[] = {
	[APPLICATION] = { "application", COL_NEED, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_NEED, COL_NUM, 600, 1700 },
	[CATEGORY] = { "category", COL_MAY, COL_TEXT },
	[MIN] = { "min_db", COL_MAY, COL_DB, 0, 1000 },
	[MAX] = { "max_db", COL_NEED, COL_DB, 0, 1000 },
	[MAX_KM] = { "max_km", COL_MAY, COL_DB, 0, 100000 },
	[LAUNCH_MAX] = { "launch_max_dbm", COL_MAY, COL_DB, -200, 100 },
	[RECEIVE_MAX] = { "receive_max_dbm", COL_MAY, COL_DB, -200, 100 },
	[MIN_ORL] = { "min_orl_db", COL_MAY, COL_DB, 0, 100 },
	[MAX_CD] = { "max_cd_ps_nm", COL_MAY, COL_DB, 0, 1000000 },
	[MAX_PMD] = { "max_pmd_ps", COL_MAY, COL_DB, 0, 100000 },
	{ NULL },
};

static const struct application *
find(const struct applications *a, struct field name, double wavelength_nm)
{
	for (size_t i = 0; i < a->n; i++)
		if (a->v[i].wavelength_nm == wavelength_nm && field_same(a->v[i].name, name))
			return &a->v[i];
	return NULL;
}

const struct application *
application_find(const struct applications *a, struct field name, double wavelength_nm)
{
	const struct application *found = find(a, name, wavelength_nm);

	return found != NULL || wavelength_nm == 0 ? found : find(a, name, 0);
}

bool
application_known(const struct applications *a, struct field name)
{
	for (size_t i = 0; i < a->n; i++)
		if (field_same(a->v[i].name, name))
			return true;
	return false;
}

const char *
application_unknown(const struct applications *a, struct field name, char says[APPLICATION_SAYS])
{
	struct field *names = mem_zeroed(a->n, sizeof *names);
	char shown[ERR_SHOWN];
	size_t best;

	for (size_t i = 0; i < a->n; i++)
		names[i] = a->v[i].name;
	best = spelling_best(name, names, a->n);
	free(names);
	if (best == SIZE_MAX)
		return "no such application: --print-applications lists them";
	snprintf(says, APPLICATION_SAYS, "no such application: is it %s?",
	    err_show(shown, a->v[best].name.p, a->v[best].name.n));
	return says;
}

int
application_wavelengths(
    const struct applications *a, struct field name, struct wavelengths *w, struct err *err)
{
	for (size_t i = 0; i < a->n; i++)
		if (a->v[i].wavelength_nm > 0 && field_same(a->v[i].name, name) &&
		    wavelengths_add(w, a->v[i].wavelength_nm, err) != 0)
			return -1;
	return 0;
}

int
applications_load(struct applications *a, struct table *t)
{
	*a = (struct applications){ 0 };
	while (table_next(t)) {
		struct application row = { .min_udb = DB_NONE,
			.max_udb = DB_NONE,
			.max_ukm = DB_NONE,
			.launch_max_udbm = DB_NONE,
			.receive_max_udbm = DB_NONE,
			.min_orl_udb = DB_NONE,
			.max_cd_ups = DB_NONE,
			.max_pmd_ups = DB_NONE };

		if (!get_text(t, APPLICATION, &row.name))
			table_fail(t, APPLICATION, "empty");
		get_num(t, WAVELENGTH, &row.wavelength_nm);
		get_text(t, CATEGORY, &row.category);
		get_db(t, MIN, &row.min_udb);
		get_db(t, MAX, &row.max_udb);
		get_db(t, MAX_KM, &row.max_ukm);
		get_db(t, LAUNCH_MAX, &row.launch_max_udbm);
		get_db(t, RECEIVE_MAX, &row.receive_max_udbm);
		get_db(t, MIN_ORL, &row.min_orl_udb);
		get_db(t, MAX_CD, &row.max_cd_ups);
		get_db(t, MAX_PMD, &row.max_pmd_ups);
		if (err_is_set(t->err))
			return -1;
		if (find(a, row.name, row.wavelength_nm) != NULL)
			return table_fail(t, APPLICATION, "a second row for this wavelength_nm");
		row.name = region_keep(&a->text, row.name);
		row.category = region_keep(&a->text, row.category);
		a->v = mem_grow(a->v, &a->cap, a->n + 1, sizeof *a->v);
		a->v[a->n++] = row;
	}
	return err_is_set(t->err) ? -1 : 0;
}

void
application_free(struct applications *a)
{
	free(a->v);
	region_free(&a->text);
	*a = (struct applications){ 0 };
}
