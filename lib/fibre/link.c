#include "fibre/link.h"

enum { LINK, APPLICATION, MAX, MIN, LAUNCH, SENSITIVITY };

const int link_key[] = { LINK, -1 };

const struct col link_cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[APPLICATION] = { "application", COL_MAY, COL_TEXT },
	[MAX] = { "max_db", COL_MAY, COL_DB, -1000, 1000 },
	[MIN] = { "min_db", COL_MAY, COL_DB, -1000, 1000 },
	[LAUNCH] = { "launch_dbm", COL_MAY, COL_DB, -200, 100 },
	[SENSITIVITY] = { "sensitivity_dbm", COL_MAY, COL_DB, -200, 100 },
	{ NULL },
};

int
links_check(struct table *t, const struct applications *applications)
{
	struct field name;

	while (table_next(t)) {
		if (!get_text(t, LINK, &name))
			return table_fail(t, LINK, "empty");
		if (get_text(t, APPLICATION, &name) && !application_known(applications, name))
			return table_fail(t, APPLICATION, APPLICATION_UNKNOWN);
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
links_limits(struct table *t, struct field name, struct link_limits *l)
{
	if (!table_find(t, &name))
		return;
	get_text(t, APPLICATION, &l->application);
	get_db(t, MAX, &l->limits.max_udb);
	get_db(t, MIN, &l->limits.min_udb);
	get_db(t, LAUNCH, &l->limits.launch_udbm);
	get_db(t, SENSITIVITY, &l->limits.sensitivity_udbm);
}
