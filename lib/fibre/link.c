#include "fibre/link.h"

enum {
	LINK,
	SITE_A,
	SITE_B,
	WAVELENGTH,
	APPLICATION,
	MAX,
	MIN,
	MAX_KM,
	LAUNCH,
	LAUNCH_MAX,
	SENSITIVITY,
	RECEIVE_MAX,
	MIN_ORL,
	ACCEPT,
};

enum { TWO_WAY, ONE_WAY };

const int link_key[] = { LINK, -1 };

const struct col link_cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[SITE_A] = { "site_a", COL_MAY, COL_TEXT },
	[SITE_B] = { "site_b", COL_MAY, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_MAY, COL_NUM, 600, 1700 },
	[APPLICATION] = { "application", COL_MAY, COL_TEXT },
	[MAX] = { "max_db", COL_MAY, COL_DB, -1000, 1000 },
	[MIN] = { "min_db", COL_MAY, COL_DB, -1000, 1000 },
	[MAX_KM] = { "max_km", COL_MAY, COL_DB, 0, 100000 },
	[LAUNCH] = { "launch_dbm", COL_MAY, COL_DB, -200, 100 },
	[LAUNCH_MAX] = { "launch_max_dbm", COL_MAY, COL_DB, -200, 100 },
	[SENSITIVITY] = { "sensitivity_dbm", COL_MAY, COL_DB, -200, 100 },
	[RECEIVE_MAX] = { "receive_max_dbm", COL_MAY, COL_DB, -200, 100 },
	[MIN_ORL] = { "min_orl_db", COL_MAY, COL_DB, 0, 100 },
	[ACCEPT] = { "accept", COL_MAY, COL_WORD, .words = "two-way one-way" },
	{ NULL },
};

/* The wavelength of the present row; 0: none. */
static double
wavelength_of(struct table *t)
{
	double nm = 0;

	get_num(t, WAVELENGTH, &nm);
	return nm;
}

/* true if an earlier row is of the same link and wavelength as the present one; *t is a copy */
static bool
stands_before(struct table t, struct field name)
{
	size_t place = table_place(&t);
	double nm = wavelength_of(&t);

	if (table_find(&t, &name))
		do
			if (table_place(&t) < place && wavelength_of(&t) == nm)
				return true;
		while (table_find_next(&t));
	return false;
}

int
links_check(struct table *t, const struct applications *applications)
{
	char says[APPLICATION_SAYS];
	struct field name;

	while (table_next(t)) {
		if (!get_text(t, LINK, &name))
			return table_fail(t, LINK, "empty");
		if (stands_before(*t, name))
			return table_fail(
			    t, LINK, "a second row of this link for this wavelength_nm");
		if (get_text(t, APPLICATION, &name) && !application_known(applications, name))
			return table_fail(
			    t, APPLICATION, application_unknown(applications, name, says));
	}
	return 0;
}

struct field
links_name(struct table *t, size_t i)
{
	table_at(t, i);
	return table_field(t, LINK);
}

void
links_sites(struct table *t, struct field name, struct field sites[2])
{
	sites[0] = sites[1] = field_of("");
	if (table_find(t, &name))
		do {
			get_text(t, SITE_A, &sites[0]);
			get_text(t, SITE_B, &sites[1]);
		} while (table_find_next(t));
}

/* Puts what the present row says over what is in *l. */
static void
take_row(struct table *t, struct link_limits *l)
{
	struct budget_limits *b = &l->limits;
	int accept;

	get_text(t, APPLICATION, &l->application);
	get_db(t, MAX, &b->max_udb);
	get_db(t, MIN, &b->min_udb);
	get_db(t, MAX_KM, &b->max_ukm);
	get_db(t, LAUNCH, &b->launch_udbm);
	get_db(t, LAUNCH_MAX, &b->launch_max_udbm);
	get_db(t, SENSITIVITY, &b->sensitivity_udbm);
	get_db(t, RECEIVE_MAX, &b->receive_max_udbm);
	if (get_db(t, MIN_ORL, &b->min_orl_udb))
		l->must_orl = true;
	if (get_word(t, ACCEPT, &accept))
		l->one_way = accept == ONE_WAY;
}

void
links_limits(struct table *t, struct field name, double wavelength_nm, struct link_limits *l)
{
	for (int own = 0; own < (wavelength_nm > 0 ? 2 : 1); own++)
		if (table_find(t, &name))
			do
				if (wavelength_of(t) == (own ? wavelength_nm : 0))
					take_row(t, l);
			while (table_find_next(t));
}

int
links_wavelengths(struct table *t, struct field name, const struct applications *applications,
    struct field application, struct wavelengths *w, struct err *err)
{
	bool named = false;
	struct field own;
	double nm;

	if (table_find(t, &name))
		do {
			if (get_num(t, WAVELENGTH, &nm) && wavelengths_add(w, nm, err) != 0)
				return -1;
			if (!get_text(t, APPLICATION, &own))
				continue;
			named = true;
			if (wavelength_of(t) == 0 &&
			    application_wavelengths(applications, own, w, err) != 0)
				return -1;
		} while (table_find_next(t));
	return named ? 0 : application_wavelengths(applications, application, w, err);
}
