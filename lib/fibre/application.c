#include "fibre/application.h"

#include <stdlib.h>

#include "base/db.h"

enum { APPLICATION, WAVELENGTH, MIN, MAX };

const struct col application_cols[] = {
	[APPLICATION] = { "application", COL_NEED, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_NEED, COL_NUM, 600, 1700 },
	[MIN] = { "min_db", COL_MAY, COL_DB, 0, 1000 },
	[MAX] = { "max_db", COL_NEED, COL_DB, 0, 1000 },
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
		struct application row = { .min_udb = DB_NONE, .max_udb = DB_NONE };

		if (!get_text(t, APPLICATION, &row.name))
			table_fail(t, APPLICATION, "empty");
		get_num(t, WAVELENGTH, &row.wavelength_nm);
		get_db(t, MIN, &row.min_udb);
		get_db(t, MAX, &row.max_udb);
		if (err_is_set(t->err))
			return -1;
		if (find(a, row.name, row.wavelength_nm) != NULL)
			return table_fail(t, APPLICATION, "a second row for this wavelength_nm");
		row.name = region_keep(&a->text, row.name);
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
