#include "fibre/allowance.h"

#include <stdlib.h>

#include "base/num.h"
#include "fibre/wavelengths.h"

enum { NAME, KIND, WAYS, CATEGORY, FROM, TO, PER, TYPICAL, SD, MAX };
enum { EACH, KM };

const struct col allowance_cols[] = {
	[NAME] = { "allowance", COL_MAY, COL_TEXT },
	[KIND] = { "kind", COL_NEED, COL_WORD, .words = KIND_WORDS },
	[WAYS] = { "ways", COL_MAY, COL_WHOLE, 2, 1024 },
	[CATEGORY] = { "category", COL_MAY, COL_TEXT },
	[FROM] = { "from_nm", COL_NEED, COL_NUM, 600, 1700 },
	[TO] = { "to_nm", COL_NEED, COL_NUM, 600, 1700 },
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

/* true if the row is for things of this kind and name */
static bool
is_for(const struct allowance *row, const struct allowance_of *of)
{
	return row->of.kind == of->kind && field_same(row->of.name, of->name);
}

/* The category whose rows count: that of the thing if the table has it, else none. */
static struct field
category_of(const struct allowances *a, const struct allowance_of *of)
{
	if (of->category.n > 0)
		for (size_t i = 0; i < a->n; i++)
			if (is_for(&a->v[i], of) && field_same(a->v[i].of.category, of->category))
				return of->category;
	return field_of("");
}

/* true if the row is for this, `category` being what category_of says */
static bool
matches(const struct allowance *row, const struct allowance_of *of, struct field category)
{
	return is_for(row, of) && (row->of.ways == 0 || row->of.ways == of->ways) &&
	       field_same(row->of.category, category);
}

const struct allowance *
allowance_find(const struct allowances *a, const struct allowance_of *of, double wavelength_nm)
{
	struct field category = category_of(a, of);
	const struct allowance *best = NULL;

	for (size_t i = 0; i < a->n; i++) {
		const struct allowance *row = &a->v[i];

		if (row->from_nm > 0 &&
		    (wavelength_nm < row->from_nm || wavelength_nm > row->to_nm))
			continue;
		if (matches(row, of, category) && (best == NULL || row->from_nm > best->from_nm))
			best = row;
	}
	return best;
}

bool
allowance_named(const struct allowances *a, struct field name)
{
	for (size_t i = 0; i < a->n; i++)
		if (field_same(a->v[i].of.name, name))
			return true;
	return false;
}

static bool
is_letter(char c)
{
	return num_is_digit(c) || (byte_lower(c) >= 'a' && byte_lower(c) <= 'z');
}

/* true if both are the same letters and digits, whatever their case and what stands between */
static bool
same_letters(struct field a, struct field b)
{
	size_t i = 0, j = 0;

	for (;;) {
		while (i < a.n && !is_letter(a.p[i]))
			i++;
		while (j < b.n && !is_letter(b.p[j]))
			j++;
		if (i == a.n || j == b.n)
			return i == a.n && j == b.n;
		if (byte_lower(a.p[i++]) != byte_lower(b.p[j++]))
			return false;
	}
}

struct field
allowance_category(const struct allowances *a, struct field category)
{
	struct field meant = { "", 0 };

	for (size_t i = 0; i < a->n; i++) {
		if (field_same(a->v[i].of.category, category))
			return field_of("");
		if (same_letters(a->v[i].of.category, category))
			meant = a->v[i].of.category;
	}
	return meant;
}

bool
allowance_anywhere(const struct allowances *a, const struct allowance_of *of)
{
	struct field category = category_of(a, of);

	for (size_t i = 0; i < a->n; i++)
		if (matches(&a->v[i], of, category))
			return true;
	return false;
}

void
allowance_wavelengths(const struct allowances *a, const struct allowance_of *of, struct bytes *says)
{
	struct field category = category_of(a, of);
	char nm[WAVELENGTHS_TEXT];
	double to_nm = 0;

	for (bool more = true; more;) {
		const struct allowance *next = NULL;

		for (size_t i = 0; i < a->n; i++)
			if (a->v[i].from_nm > to_nm && matches(&a->v[i], of, category) &&
			    (next == NULL || a->v[i].from_nm < next->from_nm))
				next = &a->v[i];
		more = next != NULL;
		if (!more)
			break;
		wavelengths_text(nm, next->from_nm);
		bytes_add_format(says, "%s%s", to_nm > 0 ? ", " : "", nm);
		to_nm = next->to_nm;
		for (size_t i = 0; i < a->n; i++) /* rows that touch it, however they stand */
			if (a->v[i].from_nm > 0 && a->v[i].from_nm <= to_nm &&
			    a->v[i].to_nm > to_nm && matches(&a->v[i], of, category)) {
				to_nm = a->v[i].to_nm;
				i = SIZE_MAX;
			}
		if (to_nm > next->from_nm)
			bytes_add_format(says, " to %s", wavelengths_text(nm, to_nm).p);
	}
}

/* true if both rows are for the same thing at some wavelength */
static bool
overlap(const struct allowance *a, const struct allowance *b)
{
	if (!is_for(a, &b->of) || a->of.ways != b->of.ways ||
	    !field_same(a->of.category, b->of.category))
		return false;
	return a->from_nm == b->from_nm || (a->from_nm < b->to_nm && b->from_nm < a->to_nm);
}

/* Trouble with a row that contradicts itself or lacks what it must have; returns -1. */
static int
check(struct table *t, const struct allowances *have, const struct allowance *a, int per)
{
	if (a->of.kind == KIND_UNKNOWN)
		return table_fail(t, KIND, "empty");
	if (a->of.kind == KIND_OTHER && a->of.name.n == 0)
		return table_fail(t, KIND, "no two of these are alike: give it a name");
	if (a->of.kind == KIND_SPLITTER && a->of.ways == 0 && a->of.name.n == 0)
		return table_fail(t, WAYS, "a splitter without ways or a name");
	if (a->of.kind != KIND_SPLITTER && a->of.ways != 0)
		return table_fail(t, WAYS, "only a splitter has ways");
	if (per != (a->of.kind == KIND_FIBRE ? KM : EACH))
		return table_fail(t, PER, "a fibre is taken per km, all else each");
	if ((a->from_nm > 0) != (a->to_nm > 0) || a->to_nm < a->from_nm)
		return table_fail(t, TO, "not a range from from_nm to to_nm");
	if (a->typical_udb < 0)
		return table_fail(t, TYPICAL, "empty");
	if (a->max_udb < 0)
		return table_fail(t, MAX, "empty");
	if (a->max_udb < a->typical_udb)
		return table_fail(t, MAX, "below typical_db");
	for (size_t i = 0; i < have->n; i++)
		if (overlap(&have->v[i], a))
			return table_fail(t, KIND, "a second row for this at one wavelength");
	return 0;
}

int
allowances_load(struct allowances *a, struct table *t)
{
	*a = (struct allowances){ 0 };
	while (table_next(t)) {
		struct allowance row = { .typical_udb = -1, .max_udb = -1 };
		int kind = KIND_UNKNOWN, per;

		get_text(t, NAME, &row.of.name);
		get_word(t, KIND, &kind);
		per = kind == KIND_FIBRE ? KM : EACH;
		row.of.kind = (enum kind)kind;
		get_whole(t, WAYS, &row.of.ways);
		get_text(t, CATEGORY, &row.of.category);
		get_num(t, FROM, &row.from_nm);
		get_num(t, TO, &row.to_nm);
		get_word(t, PER, &per);
		get_db(t, TYPICAL, &row.typical_udb);
		get_num(t, SD, &row.sd_db);
		get_db(t, MAX, &row.max_udb);
		if (err_is_set(t->err) || check(t, a, &row, per) != 0)
			return -1;
		row.of.name = region_keep(&a->text, row.of.name);
		row.of.category = region_keep(&a->text, row.of.category);
		a->v = mem_grow(a->v, &a->cap, a->n + 1, sizeof *a->v);
		a->v[a->n++] = row;
	}
	return err_is_set(t->err) ? -1 : 0;
}

void
allowance_free(struct allowances *a)
{
	free(a->v);
	region_free(&a->text);
	*a = (struct allowances){ 0 };
}
