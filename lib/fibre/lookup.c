#include "fibre/lookup.h"

#include <inttypes.h>

void
lookup_foresee(struct lookup *l, struct field header)
{
	join_add(&l->others, header);
}

/* Each condition's column; on those that are no keys the latest record is asked. */
static int
find_columns(struct lookup *l, struct field keys)
{
	for (size_t i = 0; i < l->where->n; i++) {
		const struct opt_pair *w = &l->where->v[i];
		int column = reader_need(l->table->reader, w->name);
		bool late;

		if (column < 0)
			return -1;
		late = l->latest && field_among(keys, '\t', w->name) == SIZE_MAX;
		pick_add(late ? &l->later : &l->pick, (size_t)column, w->value);
	}
	return l->latest ? latest_open(&l->record, l->table) : 0;
}

/* The first columns, and behind them those that are foreseen, are the table's. */
static int
open_table(struct lookup *l, const char *file, struct field header, struct field keys)
{
	join_add(&l->join, header);
	join_add(&l->join, join_names(&l->others));
	if (table_open_reader(l->table, latest_cols,
		reader_memory(file, bytes_field(&l->join.header), l->err), l->renames, l->err) != 0)
		return -1;
	writer_bytes(l->out, l->join.header.p, l->join.header.n);
	return find_columns(l, keys);
}

int
lookup_header(
    struct lookup *l, const char *file, uint64_t pack, struct field header, struct field keys)
{
	struct err odd = { "" };

	if (l->join.header.n == 0 && open_table(l, file, header, keys) != 0)
		return -1;
	latest_pack(&l->record);
	if (join_from(&l->join, header, &odd) == 0)
		return 0;
	return err_set(l->err, "%s: pack %" PRIu64 " %s", file, pack, odd.text);
}

bool
lookup_is_late(const struct lookup *l, struct field column)
{
	for (size_t i = 0; i < l->later.n; i++)
		if (field_same(reader_name(l->table->reader, l->later.v[i].column), column))
			return true;
	return false;
}

void
lookup_rows(struct lookup *l, struct field rows)
{
	struct field row;

	rows = join_rows(&l->join, rows);
	if (l->pick.n == 0 && !l->latest)
		writer_bytes(l->out, rows.p, rows.n);
	else
		while (pick_next(&l->pick, &rows, &row))
			if (!l->latest)
				writer_bytes(l->out, row.p, row.n + 1);
			else if (latest_add(&l->record, row, l->err) != 0)
				break;
}

void
lookup_end(struct lookup *l)
{
	if (l->latest && l->join.header.n > 0)
		latest_write(&l->record, &l->later, l->out);
}

size_t
lookup_missing(const struct lookup *l)
{
	return pick_unmet(&l->pick) + pick_unmet(&l->later);
}

void
lookup_again(struct lookup *l, struct field rows)
{
	rows = join_rows(&l->join, rows);
	pick_look(&l->pick, rows);
	pick_look(&l->later, rows);
}

static void
say_unmet(const struct lookup *l, const struct pick *pick, struct bytes *lines)
{
	for (size_t i = 0; i < pick->n; i++) {
		const struct pick_test *test = &pick->v[i];
		struct field name = reader_name(l->table->reader, test->column);

		if (test->rows > 0)
			continue;
		bytes_add_text(lines, "no row with ");
		bytes_add_field(lines, name);
		bytes_add_text(lines, " '");
		bytes_add_clean(lines, test->value);
		bytes_add_text(lines, "'");
		if (test->exists) {
			bytes_add_text(lines, " meets the other conditions");
		} else if (test->nearest.n > 0) {
			bytes_add_text(lines, ": is it '");
			bytes_add_clean(lines, bytes_field(&test->nearest));
			bytes_add_text(lines, "'?");
		}
		bytes_add_text(lines, "\n");
	}
}

void
lookup_unmet(const struct lookup *l, struct bytes *lines)
{
	say_unmet(l, &l->pick, lines);
	say_unmet(l, &l->later, lines);
}

void
lookup_free(struct lookup *l)
{
	join_free(&l->join);
	join_free(&l->others);
	pick_free(&l->pick);
	pick_free(&l->later);
	latest_free(&l->record);
}
