#include "fibre/plan.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/mem.h"
#include "base/num.h"
#include "base/spelling.h"

enum {
	JOINT,
	CLOSURE,
	TRAY,
	SLOT,
	CABLE_A,
	FIBRE_A,
	TOWARD_A,
	CABLE_B,
	FIBRE_B,
	TOWARD_B,
	STATE,
	KIND,
	RIBBON_A,
	RIBBON_B,
	LIMIT,
};

const struct col plan_cols[] = {
	[JOINT] = { "joint", COL_NEED, COL_TEXT },
	[CLOSURE] = { "closure", COL_NEED, COL_TEXT },
	[TRAY] = { "tray", COL_MAY, COL_TEXT },
	[SLOT] = { "slot", COL_MAY, COL_TEXT },
	[CABLE_A] = { "cable_a", COL_MAY, COL_TEXT },
	[FIBRE_A] = { "fibre_a", COL_MAY, COL_TEXT },
	[TOWARD_A] = { "toward_a", COL_MAY, COL_TEXT },
	[CABLE_B] = { "cable_b", COL_MAY, COL_TEXT },
	[FIBRE_B] = { "fibre_b", COL_MAY, COL_TEXT },
	[TOWARD_B] = { "toward_b", COL_MAY, COL_TEXT },
	[STATE] = { "state", COL_MAY, COL_WORD, .words = PLAN_STATES },
	[KIND] = { "kind", COL_MAY, COL_TEXT },
	[RIBBON_A] = { "ribbon_a", COL_MAY, COL_TEXT },
	[RIBBON_B] = { "ribbon_b", COL_MAY, COL_TEXT },
	[LIMIT] = { "limit_db", COL_MAY, COL_DB, 0, 1000 },
	{ NULL },
};

#define NO_ROW UINT32_MAX

struct field
plan_number(struct field f)
{
	while (f.n > 1 && f.p[0] == '0' && num_is_digit(f.p[1])) {
		f.p++;
		f.n--;
	}
	return f;
}

/* --- ends ------------------------------------------------------------------------------------ */

static bool
agree(struct field a, struct field b)
{
	return a.n == 0 || b.n == 0 || field_same(a, b);
}

static bool
same_number(struct field a, struct field b)
{
	return agree(plan_number(a), plan_number(b));
}

static bool
same_end(const struct plan_end *a, const struct plan_end *b)
{
	return agree(a->cable, b->cable) && same_number(a->fibre, b->fibre) &&
	       agree(a->toward, b->toward);
}

/* sides exchanged are the same joint */
static bool
same_fibres(const struct plan_record *a, const struct plan_record *b)
{
	return (same_end(&a->end[0], &b->end[0]) && same_end(&a->end[1], &b->end[1])) ||
	       (same_end(&a->end[0], &b->end[1]) && same_end(&a->end[1], &b->end[0]));
}

static bool
is_known(const struct plan_end *e)
{
	return e->cable.n > 0 && e->fibre.n > 0;
}

/* The number of a pair of fibres in a closure; toward does not tell it. SIZE_MAX: not known. */
static size_t
pair_id(struct plan *p, const struct plan_record *rec, bool add)
{
	const struct plan_end *a = &rec->end[0], *b = &rec->end[1];
	struct field key[5] = { rec->closure };
	int order;

	if (!is_known(a) || !is_known(b))
		return SIZE_MAX;
	order = field_order(a->cable, b->cable);
	if (order == 0)
		order = field_order(plan_number(a->fibre), plan_number(b->fibre));
	if (order > 0) {
		a = &rec->end[1];
		b = &rec->end[0];
	}
	key[1] = a->cable;
	key[2] = plan_number(a->fibre);
	key[3] = b->cable;
	key[4] = plan_number(b->fibre);
	return add ? ids_add(&p->pairs, key, 5, NULL) : ids_find(&p->pairs, key, 5);
}

static size_t
end_id(struct plan *p, struct field closure, const struct plan_end *e, bool add)
{
	struct field key[3] = { closure, e->cable, plan_number(e->fibre) };

	if (!is_known(e))
		return SIZE_MAX;
	return add ? ids_add(&p->ends, key, 3, NULL) : ids_find(&p->ends, key, 3);
}

/* --- reading --------------------------------------------------------------------------------- */

/* Puts a row before those of this key; returns the first of these, or NO_ROW. */
static uint32_t
chain(uint32_t **first, size_t *cap, size_t id, size_t row)
{
	size_t before = *cap;
	uint32_t next;

	*first = mem_grow(*first, cap, id + 1, sizeof **first);
	for (size_t i = before; i < *cap; i++)
		(*first)[i] = NO_ROW;
	next = (*first)[id];
	(*first)[id] = (uint32_t)row;
	return next;
}

static void
read_row(struct table *t, struct plan_row *r)
{
	struct field ribbon;
	static const char *const names[] = { "tube_a", "colour_a", "tube_b", "colour_b" };
	int state = PLAN_JOIN;

	r->is = (struct plan_record){
		table_field(t, JOINT), table_field(t, CLOSURE), table_field(t, TRAY),
		table_field(t, SLOT),
		{ { table_field(t, CABLE_A), table_field(t, FIBRE_A), table_field(t, TOWARD_A) },
		    { table_field(t, CABLE_B), table_field(t, FIBRE_B), table_field(t, TOWARD_B) } }
	};
	get_word(t, STATE, &state);
	r->state = (enum plan_state)state;
	r->is.kind = table_field(t, KIND);
	r->ribbon = get_text(t, RIBBON_A, &ribbon) || get_text(t, RIBBON_B, &ribbon);
	r->says_ribbon = table_has(t, RIBBON_A) || table_has(t, RIBBON_B);
	r->limit_udb = DB_NONE;
	get_db(t, LIMIT, &r->limit_udb);
	for (int i = 0; i < 4; i++) { /* not all who read a plan read these columns */
		int at = reader_column(t->reader, field_of(names[i]));

		if (at >= 0)
			r->colours[i / 2][i % 2] = row_field(&t->row, (size_t)at);
	}
	r->file = t->row.file;
	r->line = t->row.line;
}

static int
index_row(struct plan *p, struct table *t, size_t i)
{
	struct plan_row *r = &p->rows[i];
	size_t id;
	bool fresh;

	if (r->is.joint.n > 0) {
		id = ids_add(&p->joints, &r->is.joint, 1, &fresh);
		if (!fresh)
			return table_fail(t, JOINT, "a second row of this joint");
		chain(&p->by_joint, &p->cap_joint, id, i);
	}
	r->pair = r->next[0] = r->next[1] = NO_ROW;
	id = r->state == PLAN_JOIN ? pair_id(p, &r->is, true) : SIZE_MAX;
	if (id != SIZE_MAX)
		r->pair = chain(&p->by_pair, &p->cap_pair, id, i);
	for (int side = 0; side < 2 && r->state != PLAN_JOIN; side++) {
		id = end_id(p, r->is.closure, &r->is.end[side], true);
		if (id != SIZE_MAX) /* a row's second end may be one with its first */
			r->next[side] = chain(&p->by_end, &p->cap_end, id, 2 * i + (size_t)side);
	}
	return 0;
}

/* An --only at work: what its column says in the rows of the plan. */
struct asked {
	const struct opt_pair *is;
	struct ids has;
	int column;
};

/* true if the present row has one of the values, separated by commas */
static bool
has_value(const struct table *t, struct asked *a)
{
	struct field f = row_field(&t->row, (size_t)a->column), values = a->is->value;

	ids_add(&a->has, &f, 1, NULL);
	while (values.p != NULL)
		if (field_same(field_cut(&values, ','), f))
			return true;
	return false;
}

static int
value_unknown(const struct asked *a, struct field value, struct err *err)
{
	struct field *names = mem_zeroed(a->has.n + 1, sizeof *names);
	char column[ERR_SHOWN], is[ERR_SHOWN], near[ERR_SHOWN];
	size_t best;

	for (size_t i = 0; i < a->has.n; i++)
		names[i] = ids_key(&a->has, i);
	best = spelling_best(value, names, a->has.n);
	err_show(column, a->is->name.p, a->is->name.n);
	err_show(is, value.p, value.n);
	if (best == SIZE_MAX)
		err_set(err, "--only: no row of the plan has %s '%s'", column, is);
	else
		err_set(err, "--only: no row of the plan has %s '%s': is it '%s'?", column, is,
		    err_show(near, names[best].p, names[best].n));
	free(names);
	return -1;
}

/* A value that no row has would turn the plan off in silence. */
static int
check_values(const struct asked *asked, size_t n, struct err *err)
{
	for (size_t i = 0; i < n; i++) {
		struct field values = asked[i].is->value;

		while (values.p != NULL) {
			struct field value = field_cut(&values, ',');

			if (ids_find_one(&asked[i].has, value) == SIZE_MAX)
				return value_unknown(&asked[i], value, err);
		}
	}
	return 0;
}

static int
read_rows(struct plan *p, struct table *t, struct asked *asked, size_t n)
{
	bool fits, some = false;

	for (size_t i = 0; i < n; i++) {
		asked[i].column = reader_need(t->reader, asked[i].is->name);
		if (asked[i].column < 0)
			return -1;
	}
	while (table_next(t)) {
		struct plan_row *r = &p->rows[p->n];

		read_row(t, r);
		fits = true;
		for (size_t i = 0; i < n; i++)
			fits &= has_value(t, &asked[i]);
		some |= fits;
		r->asked = fits && r->state == PLAN_JOIN;
		if (index_row(p, t, p->n) != 0)
			return -1;
		p->n++;
	}
	if (err_is_set(t->err) || check_values(asked, n, t->err) != 0)
		return -1;
	return n > 0 && !some ? err_set(t->err, "--only: no row of the plan has all of these") : 0;
}

int
plan_load(struct plan *p, struct table *t, const struct opt_pairs *only)
{
	struct asked *asked = mem_zeroed(only->n + 1, sizeof *asked);
	int result;

	*p = (struct plan){ .joints = IDS_NONE, .pairs = IDS_NONE, .ends = IDS_NONE };
	p->rows = mem_zeroed(table_rows(t) + 1, sizeof *p->rows);
	for (size_t i = 0; i < only->n; i++)
		asked[i] = (struct asked){ .is = &only->v[i], .has = IDS_NONE };
	if (t->reader == NULL && only->n > 0)
		result = err_set(t->err, "--only: is about a plan: give one with --plan");
	else
		result = read_rows(p, t, asked, only->n);
	for (size_t i = 0; i < only->n; i++)
		ids_free(&asked[i].has);
	free(asked);
	return result;
}

/* --- looking --------------------------------------------------------------------------------- */

size_t
plan_of_fibres(struct plan *p, const struct plan_record *rec)
{
	size_t id = pair_id(p, rec, false);
	uint32_t row = id == SIZE_MAX ? NO_ROW : p->by_pair[id];

	while (row != NO_ROW && !same_fibres(&p->rows[row].is, rec))
		row = p->rows[row].pair;
	return row == NO_ROW ? PLAN_NONE : row;
}

size_t
plan_find(struct plan *p, const struct plan_record *rec)
{
	size_t id;

	if (rec->joint.n == 0)
		return plan_of_fibres(p, rec);
	id = ids_find_one(&p->joints, rec->joint);
	return id == SIZE_MAX ? PLAN_NONE : p->by_joint[id];
}

size_t
plan_not_to_join(struct plan *p, const struct plan_record *rec)
{
	for (int side = 0; side < 2; side++) {
		size_t id = end_id(p, rec->closure, &rec->end[side], false);
		uint32_t at = id == SIZE_MAX ? NO_ROW : p->by_end[id];

		while (at != NO_ROW) {
			const struct plan_row *r = &p->rows[at / 2];

			if (same_end(&r->is.end[at % 2], &rec->end[side]))
				return at / 2;
			at = r->next[at % 2];
		}
	}
	return PLAN_NONE;
}

unsigned
plan_amiss(const struct plan *p, size_t row, const struct plan_record *rec)
{
	const struct plan_row *r = &p->rows[row];
	unsigned amiss = r->state != PLAN_JOIN ? PLAN_STATE : 0;

	if (!field_same(r->is.closure, rec->closure))
		amiss |= PLAN_CLOSURE;
	if (!same_fibres(&r->is, rec))
		amiss |= PLAN_FIBRES;
	if (!same_number(r->is.tray, rec->tray))
		amiss |= PLAN_TRAY;
	if (!same_number(r->is.slot, rec->slot))
		amiss |= PLAN_SLOT;
	if (r->is.kind.n > 0 && rec->kind.n > 0 && !field_same(r->is.kind, rec->kind))
		amiss |= PLAN_KIND;
	return amiss;
}

const struct field *
plan_colours(const struct plan *p, size_t row, const struct plan_record *rec, int side)
{
	const struct plan_end *is = &rec->end[side];

	for (int i = 0; i < 2; i++) {
		int at = i == 0 ? side : 1 - side;
		const struct plan_end *end = &p->rows[row].is.end[at];

		if (is->fibre.n == 0 ||
		    (field_same(plan_number(is->fibre), plan_number(end->fibre)) &&
			(is->cable.n == 0 || field_same(is->cable, end->cable))))
			return p->rows[row].colours[at];
	}
	return NULL;
}

void
plan_free(struct plan *p)
{
	free(p->rows);
	free(p->by_joint);
	free(p->by_pair);
	free(p->by_end);
	ids_free(&p->joints);
	ids_free(&p->pairs);
	ids_free(&p->ends);
	*p = (struct plan){ .n = 0 };
}
