#include "fibre/limit.h"

#include <stdlib.h>

#include "base/mem.h"

enum { KIND, RIBBON, EACH, MEAN };
enum { NO, YES, BOTH };

const int limit_key[] = { KIND, RIBBON, -1 };

const struct col limit_cols[] = {
	[KIND] = { "kind", COL_NEED, COL_TEXT },
	[RIBBON] = { "ribbon", COL_NEED, COL_WORD, .words = "no yes" },
	[EACH] = { "each_db", COL_NEED, COL_DB, 0, 1000 },
	[MEAN] = { "mean_db", COL_NEED, COL_DB, 0, 1000 },
	{ NULL },
};

struct limit_kind {
	struct field name;
	const struct limit *of[BOTH + 1]; /* for single fibres, for ribbons, for both; or NULL */
};

static struct limit_kind *
kind_of(struct limits *l, struct field name)
{
	for (size_t i = 0; i < l->nkinds; i++)
		if (field_same(l->kinds[i].name, name))
			return &l->kinds[i];
	l->kinds = mem_grow(l->kinds, &l->cap_kinds, l->nkinds + 1, sizeof *l->kinds);
	l->kinds[l->nkinds] = (struct limit_kind){ .name = name };
	return &l->kinds[l->nkinds++];
}

int
limits_load(struct limits *l, struct table *t)
{
	*l = (struct limits){ .nkinds = 0 };
	l->v = mem_zeroed(table_rows(t) + 1, sizeof *l->v);
	while (table_next(t)) {
		struct limit *limit = &l->v[table_place(t)];
		struct field kind = { "", 0 };
		int ribbon = BOTH;

		get_text(t, KIND, &kind);
		get_word(t, RIBBON, &ribbon);
		*limit = (struct limit){ DB_NONE, DB_NONE, l->nmeans };
		get_db(t, EACH, &limit->each_udb);
		l->nmeans += get_db(t, MEAN, &limit->mean_udb);
		kind_of(l, kind)->of[ribbon] = limit;
	}
	return err_is_set(t->err) ? -1 : 0;
}

const struct limit *
limit_find(const struct limits *l, struct field kind, bool ribbon)
{
	for (size_t i = 0; i < l->nkinds; i++)
		if (field_same(l->kinds[i].name, kind)) {
			const struct limit *limit = l->kinds[i].of[ribbon ? YES : NO];

			return limit != NULL ? limit : l->kinds[i].of[BOTH];
		}
	return NULL;
}

void
limit_free(struct limits *l)
{
	free(l->v);
	free(l->kinds);
	*l = (struct limits){ .nkinds = 0 };
}
