#include "fibre/limit.h"

#include <stdlib.h>

#include "base/mem.h"

enum { CLOSURE, KIND, RIBBON, NM, BASIS, EACH, MEAN };
enum { NO, YES, BOTH };

const int limit_key[] = { KIND, CLOSURE, RIBBON, NM, BASIS, -1 };

const struct col limit_cols[] = {
	[CLOSURE] = { "closure", COL_MAY, COL_TEXT },
	[KIND] = { "kind", COL_MAY, COL_TEXT },
	[RIBBON] = { "ribbon", COL_MAY, COL_WORD, .words = "no yes" },
	[NM] = { "loss_nm", COL_MAY, COL_NUM, 600, 1700 },
	[BASIS] = { "basis", COL_MAY, COL_WORD, .words = JOINT_BASES },
	[EACH] = { "each_db", COL_NEED, COL_DB, 0, 1000 },
	[MEAN] = { "mean_db", COL_MAY, COL_DB, 0, 1000 },
	{ NULL },
};

/* keys that are empty: n 0, BOTH, 0 */
struct limit_row {
	struct field closure, kind;
	int ribbon;
	double nm;
	enum joint_basis basis;
	unsigned rank; /* how many keys are filled, then which */
	struct limit limit;
};

int
limits_load(struct limits *l, struct table *t)
{
	*l = (struct limits){ .n = 0 };
	l->rows = mem_zeroed(table_rows(t) + 1, sizeof *l->rows);
	while (table_next(t)) {
		struct limit_row *r = &l->rows[l->n++];
		int basis = JOINT_TWO_WAY;
		unsigned filled = 0;

		*r = (struct limit_row){ .ribbon = BOTH,
			.limit = { true, DB_NONE, DB_NONE, l->nmeans } };
		get_text(t, CLOSURE, &r->closure);
		get_text(t, KIND, &r->kind);
		get_word(t, RIBBON, &r->ribbon);
		get_num(t, NM, &r->nm);
		get_word(t, BASIS, &basis);
		r->basis = (enum joint_basis)basis;
		for (int key = CLOSURE; key <= BASIS; key++)
			if (table_field(t, key).n > 0) {
				r->rank += 1 << (BASIS + 1);
				filled |= 1u << (BASIS - key);
			}
		r->rank |= filled;
		get_db(t, EACH, &r->limit.each_udb);
		l->nmeans += get_db(t, MEAN, &r->limit.mean_udb);
	}
	return err_is_set(t->err) ? -1 : 0;
}

void
limits_one(struct limits *l, int64_t each_udb)
{
	*l = (struct limits){ .n = 1, .rows = mem_zeroed(1, sizeof *l->rows) };
	l->rows[0] = (struct limit_row){ .ribbon = BOTH, .limit = { true, each_udb, DB_NONE, 0 } };
}

bool
limits_name_closures(const struct limits *l)
{
	for (size_t i = 0; i < l->n; i++)
		if (l->rows[i].closure.n > 0)
			return true;
	return false;
}

static const struct limit *
find(const struct limits *l, const struct limit_case *c, enum joint_basis basis)
{
	struct field kind = c->kind.n > 0 ? c->kind : field_of("fusion");
	const struct limit_row *best = NULL;

	for (size_t i = 0; i < l->n; i++) {
		const struct limit_row *r = &l->rows[i];

		if (r->basis == basis && (best == NULL || r->rank > best->rank) &&
		    (r->closure.n == 0 || field_same(r->closure, c->closure)) &&
		    (r->kind.n == 0 || field_same(r->kind, kind)) &&
		    (r->ribbon == BOTH || r->ribbon == (c->ribbon ? YES : NO)) &&
		    (r->nm == 0 || r->nm == c->nm))
			best = r;
	}
	return best != NULL ? &best->limit : NULL;
}

void
limit_plan(struct limit_case *c, const struct plan_row *row)
{
	c->planned_udb = row->limit_udb;
	c->ribbon = row->ribbon || (c->ribbon && !row->says_ribbon);
	if (row->is.kind.n > 0)
		c->kind = row->is.kind;
}

void
limit_judge(const struct limits *l, const struct limit_case *c, struct limit *limit)
{
	const struct limit *row = find(l, c, c->basis);
	bool enough = c->basis <= c->accept;

	if (row == NULL && enough)
		row = find(l, c, JOINT_TWO_WAY);
	*limit = row != NULL ? *row : (struct limit){ enough, DB_NONE, DB_NONE, 0 };
	if (enough && c->planned_udb != DB_NONE)
		limit->each_udb = c->planned_udb;
}

/* What one of those who share a loss may lose. */
static int64_t
share(const struct limits *l, struct limit_case c, struct field name, const struct plan *plan)
{
	const char *colon = memchr(name.p, ':', name.n);
	size_t joint = plan != NULL ? ids_find_one(&plan->joints, name) : SIZE_MAX;
	struct limit limit;

	c.planned_udb = DB_NONE;
	if (joint != SIZE_MAX) {
		const struct plan_row *row = &plan->rows[plan->by_joint[joint]];

		c.kind = field_of("");
		c.closure = row->is.closure;
		limit_plan(&c, row);
	} else if (colon != NULL) {
		c.kind = field_of("connector");
		c.closure = (struct field){ name.p, (size_t)(colon - name.p) };
		c.ribbon = false;
	}
	limit_judge(l, &c, &limit);
	return limit.each_udb;
}

void
limit_shared(const struct limits *l, const struct limit_case *c, struct field with,
    const struct plan *plan, struct limit *limit)
{
	limit_judge(l, c, limit);
	if (with.n > 0)
		limit->mean_udb = DB_NONE;
	while (with.n > 0 && limit->each_udb != DB_NONE) {
		int64_t each_udb = share(l, *c, field_cut(&with, ','), plan);

		if (each_udb == DB_NONE)
			limit->each_udb = DB_NONE;
		else
			limit->each_udb += each_udb;
	}
}

void
limit_free(struct limits *l)
{
	free(l->rows);
	*l = (struct limits){ .n = 0 };
}
