#include "fibre/allowance.h"

#include <stdlib.h>

#include "base/mem.h"

enum { KIND, WAYS, WAVELENGTH, PER, TYPICAL, SD, MAX };
enum { EACH, KM };

const struct col allowance_cols[] = {
	[KIND] = { "kind", COL_NEED, COL_WORD, .words = KIND_WORDS },
	[WAYS] = { "ways", COL_MAY, COL_WHOLE, 2, 1024 },
	[WAVELENGTH] = { "wavelength_nm", COL_NEED, COL_NUM, 600, 1700 },
	[PER] = { "per", COL_MAY, COL_WORD, .words = "each km" },
	[TYPICAL] = { "typical_db", COL_NEED, COL_DB, 0, 100 },
	[SD] = { "sd_db", COL_NEED, COL_NUM, 0, 100 },
	[MAX] = { "max_db", COL_NEED, COL_DB, 0, 100 },
	{ NULL },
};

struct field
kind_word(enum kind kind)
{
	struct field words = field_of(KIND_WORDS " unknown"), word = words;

	for (int i = 0; i <= (int)kind; i++)
		word = field_cut(&words, ' ');
	return word;
}

/* The row of just this, not of every wavelength where one is asked for. */
static const struct allowance *
find(const struct allowances *a, enum kind kind, int64_t ways, double wavelength_nm)
{
	for (size_t i = 0; i < a->n; i++)
		if (a->v[i].kind == kind && a->v[i].ways == ways &&
		    a->v[i].wavelength_nm == wavelength_nm)
			return &a->v[i];
	return NULL;
}

const struct allowance *
allowance_find(const struct allowances *a, enum kind kind, int64_t ways, double wavelength_nm)
{
	const struct allowance *found = find(a, kind, ways, wavelength_nm);

	return found != NULL || wavelength_nm == 0 ? found : find(a, kind, ways, 0);
}

/* Trouble with a row that contradicts itself or lacks what it must have; returns -1. */
static int
check(struct table *t, const struct allowances *have, const struct allowance *a, int per)
{
	if (a->kind == KIND_UNKNOWN)
		return table_fail(t, KIND, "empty");
	if (a->kind == KIND_OTHER)
		return table_fail(t, KIND, "no two of these are alike: state the loss of each");
	if (a->kind == KIND_SPLITTER && a->ways == 0)
		return table_fail(t, WAYS, "a splitter without ways");
	if (a->kind != KIND_SPLITTER && a->ways != 0)
		return table_fail(t, WAYS, "only a splitter has ways");
	if (per != (a->kind == KIND_FIBRE ? KM : EACH))
		return table_fail(t, PER, "a fibre is taken per km, all else each");
	if (a->typical_udb < 0)
		return table_fail(t, TYPICAL, "empty");
	if (a->max_udb < 0)
		return table_fail(t, MAX, "empty");
	if (a->max_udb < a->typical_udb)
		return table_fail(t, MAX, "below typical_db");
	if (find(have, a->kind, a->ways, a->wavelength_nm) != NULL)
		return table_fail(t, KIND, "a second row for this kind, ways and wavelength_nm");
	return 0;
}

int
allowances_load(struct allowances *a, struct table *t)
{
	*a = (struct allowances){ 0 };
	while (table_next(t)) {
		struct allowance row = { .typical_udb = -1, .max_udb = -1 };
		int kind = KIND_UNKNOWN, per;

		get_word(t, KIND, &kind);
		per = kind == KIND_FIBRE ? KM : EACH;
		row.kind = (enum kind)kind;
		get_whole(t, WAYS, &row.ways);
		get_num(t, WAVELENGTH, &row.wavelength_nm);
		get_word(t, PER, &per);
		get_db(t, TYPICAL, &row.typical_udb);
		get_num(t, SD, &row.sd_db);
		get_db(t, MAX, &row.max_udb);
		if (err_is_set(t->err) || check(t, a, &row, per) != 0)
			return -1;
		a->v = mem_grow(a->v, &a->cap, a->n + 1, sizeof *a->v);
		a->v[a->n++] = row;
	}
	return err_is_set(t->err) ? -1 : 0;
}

void
allowance_free(struct allowances *a)
{
	free(a->v);
	*a = (struct allowances){ 0 };
}
