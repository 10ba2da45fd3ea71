/*
 * fuzz_side: any bytes as a side table: held as rows and as columns of values, with a key, and read by
 * what reads it in the programs. What is held is what a second reading of the same bytes gives, and
 * every row is found by its key, once.
 *
 * The first byte: which table; bit 7: many rows a key.
 */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "fibre/allowance.h"
#include "fibre/application.h"
#include "fibre/category.h"
#include "fibre/element.h"
#include "fibre/latest.h"
#include "fibre/limit.h"
#include "fibre/link.h"
#include "fibre/plan.h"
#include "fibre/tally_row.h"
#include "fibre/tested.h"
#include "table/hold.h"
#include "table/rule.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void
must(bool good)
{
	if (!good)
		abort();
}

static const struct col any_cols[] = {
	{ "k", COL_NEED, COL_TEXT },
	{ "text", COL_MAY, COL_TEXT },
	{ "num", COL_MAY, COL_NUM },
	{ "whole", COL_MAY, COL_WHOLE },
	{ "db", COL_MAY, COL_DB },
	{ "time", COL_MAY, COL_TIME },
	{ "word", COL_MAY, COL_WORD, .words = "yes no" },
	{ NULL },
};
static const int first_key[] = { 0, -1 }, two_keys[] = { 0, 1, -1 };

/* by the first byte */
static const struct {
	const struct col *cols;
	const int *key;
} kinds[] = { { any_cols, first_key }, { any_cols, two_keys }, { allowance_cols, NULL },
	{ application_cols, NULL }, { element_cols, first_key }, { limit_cols, limit_key },
	{ link_cols, link_key }, { plan_cols, NULL }, { tested_cols, first_key },
	{ rule_cols, NULL }, { category_cols, category_key }, { tally_cols, NULL },
	{ latest_cols, NULL } };

enum { KINDS = sizeof kinds / sizeof kinds[0] };

static int
open_text(struct table *t, const struct col *cols, struct field text, struct err *err)
{
	return table_open_reader(t, cols, reader_memory("t", text, err), NULL, err);
}

/* The value of one field, as the column holds it and as a getter reads it. */
static void
compare_value(struct table *held, struct table *read, int col, size_t i, struct ids *texts)
{
	int64_t whole = HOLD_NO_WHOLE;
	int word = HOLD_NO_WORD;
	double num = NAN, kept;
	struct field text;
	struct when when;

	switch (held->cols[col].type) {
	case COL_TEXT:
		if (get_text(read, col, &text))
			must(field_same(ids_key(texts, table_texts(held, col)[i]), text));
		else
			must(table_texts(held, col)[i] == HOLD_NO_TEXT);
		break;
	case COL_NUM:
		kept = table_nums(held, col)[i];
		must(get_num(read, col, &num) ? kept == num : isnan(kept));
		break;
	case COL_WORD:
		get_word(read, col, &word);
		must(table_words(held, col)[i] == word);
		break;
	case COL_TIME:
		if (get_time(read, col, &when))
			whole = when.seconds * 1000000 + when.nanos / 1000;
		must(table_wholes(held, col)[i] == whole);
		break;
	case COL_WHOLE:
	case COL_DB:
		(void)(held->cols[col].type == COL_DB ? get_db(read, col, &whole)
						      : get_whole(read, col, &whole));
		must(table_wholes(held, col)[i] == whole);
		break;
	}
}

/* Row i is among the rows of its key, and these have its key. */
static void
find_row(struct table *held, const int *cols, size_t i)
{
	struct table at = *held; /* a second place in the same table */
	struct field key[8], other;
	size_t n = 0, met = 0;

	table_at(&at, i);
	for (; cols[n] >= 0; n++)
		key[n] = table_field(&at, cols[n]);
	must(table_find(&at, key));
	do {
		met += table_place(&at) == i;
		for (size_t k = 0; k < n; k++) {
			other = table_field(&at, cols[k]);
			must(field_same(other, key[k]));
		}
	} while (table_find_next(&at));
	must(met == 1);
}

static void
hold(const struct col *cols, const int *key, bool many, struct field text)
{
	struct err err = { "" }, again = { "" };
	struct ids texts = IDS_NONE;
	struct table held = { NULL }, read = { NULL };
	size_t i = 0;

	if (open_text(&held, cols, text, &err) == 0 &&
	    table_hold(&held, HOLD_ROWS | HOLD_COLUMNS, key, many, &texts) == 0) {
		must(open_text(&read, cols, text, &again) == 0);
		for (; table_next(&read); i++) {
			must(i < table_rows(&held));
			table_at(&held, i);
			must(held.row.line == read.row.line);
			for (int c = 0; cols[c].name != NULL; c++) {
				struct field a = table_field(&held, c), b = table_field(&read, c);

				must(field_same(a, b));
				if (cols[c].role != COL_OUT)
					compare_value(&held, &read, c, i, &texts);
			}
			if (key != NULL && i < 64)
				find_row(&held, key, i);
		}
		must(i == table_rows(&held) && !err_is_set(&again));
	}
	must(err_is_set(&err) || i == table_rows(&held));
	table_close(&held);
	table_close(&read);
	ids_free(&texts);
}

static void
load_elements(struct table *t, struct err *err)
{
	struct elements e = ELEMENTS_NONE;
	size_t n = 0, next;

	while (table_next(t))
		elements_read(&e, t);
	if (!err_is_set(err) && elements_arrange(&e, err) == 0)
		for (size_t i = 0; i < e.n; i = next, n++) {
			next = elements_after(&e, i);
			must(next > i && next <= e.n);
		}
	must(n <= e.n);
	elements_free(&e);
}

/* Every joint of a group has passed, failed, or is unknown. */
static void
load_tally(struct table *t, struct err *err)
{
	struct tally_reader reading = { .faulty = IDS_NONE };
	struct wavelengths none = { .n = 0 };
	struct limits limits = { 0 };
	struct tally tally;
	struct tally_row row;
	struct tally_group g;
	struct tally_sum sum;

	limits_one(&limits, 100000);
	tally_start(&tally, &limits, NULL, JOINT_TWO_WAY, &none);
	while (!err_is_set(err) && table_next(t)) {
		if (!tally_read(&reading, t, &row)) {
			tally_add_undone(&tally, &row);
			continue;
		}
		row.group = row.closure;
		if (!err_is_set(err))
			tally_add(&tally, &row, err);
	}
	if (!err_is_set(err)) {
		tally_end(&tally);
		while (tally_next(&tally, &g))
			for (size_t w = 0; w < g.wavelengths.n; w++) {
				tally_sum(&tally, &g, w, true, &sum);
				must(sum.passed + sum.failed + sum.unknown == g.joints);
				must(sum.mean_udb == DB_NONE || sum.mean_udb <= sum.max_udb);
			}
	}
	tally_free(&tally);
	tally_reader_free(&reading);
	limit_free(&limits);
}

static void
load_latest(struct table *t, struct err *err)
{
	struct outputs all = { .n = 0 };
	struct writer *out = writer_open(&all, "/dev/null", err);
	struct latest latest = { 0 };
	struct pick every = { 0 };

	if (out != NULL && latest_open(&latest, t) == 0) {
		while (table_next(t) && latest_add(&latest, t->row.raw, err) == 0)
			if (t->row.line % 5 == 0)
				latest_pack(&latest);
		latest_write(&latest, &every, out);
	}
	latest_free(&latest);
	outputs_finish(&all, false, err);
}

static void
load_categories(struct table *t)
{
	char why[CATEGORY_SAYS];
	struct mfd mfd;

	if (categories_check(t) != 0)
		return;
	for (size_t i = 0; i < table_rows(t); i++)
		for (double nm = 850; nm < 1700; nm += 350) {
			table_at(t, i);
			if (category_mfd(t, table_field(t, 0), nm, &mfd, why) == 0)
				must(mfd.range.min_um <= mfd.nominal_um &&
				     mfd.nominal_um <= mfd.range.max_um);
			else
				must(why[0] != '\0');
		}
}

/* What the programs make of such a table. */
static void
load(const struct col *cols, const int *key, struct field text)
{
	struct table t = { NULL };
	struct err err = { "" };

	if (open_text(&t, cols, text, &err) != 0)
		;
	else if (cols == element_cols)
		load_elements(&t, &err);
	else if (cols == tally_cols)
		load_tally(&t, &err);
	else if (cols == latest_cols)
		load_latest(&t, &err);
	else if (cols == allowance_cols) {
		struct allowances a = { 0 };

		must(allowances_load(&a, &t) == 0 || err_is_set(&err));
		allowance_free(&a);
	} else if (cols == application_cols) {
		struct applications a = { 0 };

		must(applications_load(&a, &t) == 0 || err_is_set(&err));
		application_free(&a);
	} else if (cols == tested_cols) {
		struct tested tested = TESTED_NONE;
		struct table none = { NULL };

		must(tested_load(&tested, &t, &none) == 0 || err_is_set(&err));
		tested_free(&tested);
	} else if (table_hold(&t, HOLD_ROWS, key, false, NULL) == 0 && cols == limit_cols) {
		struct limits l = { 0 };

		must(limits_load(&l, &t) == 0 || err_is_set(&err));
		limit_free(&l);
	} else if (cols == category_cols && !err_is_set(&err)) {
		load_categories(&t);
	} else if (cols == plan_cols && !err_is_set(&err)) {
		struct opt_pairs all = { 0 };
		struct plan p = { 0 };

		must(plan_load(&p, &t, &all) == 0 || err_is_set(&err));
		plan_free(&p);
	}
	table_close(&t);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	size_t kind;
	char *copy; /* of exactly its size, so that a byte too many is seen */
	struct field text;

	if (size == 0)
		return 0;
	kind = (size_t)(data[0] & 0x7f) % KINDS;
	copy = malloc(size);
	must(copy != NULL);
	memcpy(copy, data, size);
	text = (struct field){ copy + 1, size - 1 };
	hold(kinds[kind].cols, kinds[kind].key, data[0] & 0x80, text);
	load(kinds[kind].cols, kinds[kind].key, text);
	free(copy);
	return 0;
}
