#include "fibre/link.h"

enum { LINK, APPLICATION, MAX, MIN, LAUNCH, SENSITIVITY };

static const struct col cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[APPLICATION] = { "application", COL_MAY, COL_TEXT },
	[MAX] = { "max_db", COL_MAY, COL_DB, -1000, 1000 },
	[MIN] = { "min_db", COL_MAY, COL_DB, -1000, 1000 },
	[LAUNCH] = { "launch_dbm", COL_MAY, COL_DB, -200, 100 },
	[SENSITIVITY] = { "sensitivity_dbm", COL_MAY, COL_DB, -200, 100 },
	{ NULL },
};

int
links_read(
    struct links *links, const char *path, const struct applications *applications, struct err *err)
{
	static const int key[] = { LINK, -1 };
	struct table *t = &links->kept.table;
	struct field name;

	*links = (struct links){ .kept = { .ids = IDS_NONE } };
	if (path == NULL)
		return 0;
	if (kept_read(&links->kept, cols, key, path, NULL, err) != 0)
		return -1;
	for (size_t i = 0; i < links->kept.n; i++) {
		kept_row(&links->kept, i);
		if (!get_text(t, LINK, &name))
			return table_fail(t, LINK, "empty");
		if (get_text(t, APPLICATION, &name) && !application_known(applications, name))
			return table_fail(t, APPLICATION, APPLICATION_UNKNOWN);
	}
	return 0;
}

size_t
links_n(const struct links *links)
{
	return links->kept.n;
}

struct field
links_name(struct links *links, size_t i)
{
	struct field name = { "", 0 };

	kept_row(&links->kept, i);
	get_text(&links->kept.table, LINK, &name);
	return name;
}

void
links_limits(struct links *links, struct field name, struct link_limits *l)
{
	struct table *t = &links->kept.table;

	if (!kept_find(&links->kept, &name))
		return;
	get_text(t, APPLICATION, &l->application);
	get_db(t, MAX, &l->limits.max_udb);
	get_db(t, MIN, &l->limits.min_udb);
	get_db(t, LAUNCH, &l->limits.launch_udbm);
	get_db(t, SENSITIVITY, &l->limits.sensitivity_udbm);
}

void
links_free(struct links *links)
{
	kept_free(&links->kept);
}
