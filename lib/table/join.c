#include "table/join.h"

#include <stdint.h>
#include <stdlib.h>

#include "base/mem.h"

struct field
join_names(const struct join *join)
{
	return (struct field){ join->header.p, join->header.n - (join->header.n > 0) };
}

void
join_add(struct join *join, struct field header)
{
	bool first = join->header.n == 0;

	while (header.p != NULL) {
		struct field name = field_cut(&header, '\t');

		if (!first && field_among(join_names(join), '\t', name) != SIZE_MAX)
			continue;
		if (join->header.n > 0)
			join->header.p[join->header.n - 1] = '\t';
		bytes_add_field(&join->header, name);
		bytes_add_text(&join->header, "\n");
	}
}

int
join_from(struct join *join, struct field header, struct err *err)
{
	struct field left = header, all = join_names(join);
	char shown[ERR_SHOWN];
	size_t n = 0;

	join->from.n = 0;
	if (field_same(header, all))
		return 0;
	while (left.p != NULL) {
		struct field name = field_cut(&left, '\t');

		if (field_among(all, '\t', name) == SIZE_MAX)
			return err_set(err, "has a column that the first has not: '%s'",
			    err_show(shown, name.p, name.n));
	}
	for (; all.p != NULL; n++) {
		join->places = mem_grow(join->places, &join->cap, n + 1, sizeof *join->places);
		join->places[n] = field_among(header, '\t', field_cut(&all, '\t'));
	}
	bytes_add_field(&join->from, header);
	return 0;
}

/* The fields of a row at these places; missing ones are empty. */
static void
add_row(struct join *join, struct field row, struct field *fields, size_t nfields, size_t columns)
{
	size_t n = 0;

	while (row.p != NULL && n < nfields)
		fields[n++] = field_cut(&row, '\t');
	for (size_t i = 0; i < columns; i++) {
		if (join->places[i] < n)
			bytes_add_field(&join->rows, fields[join->places[i]]);
		bytes_add_text(&join->rows, i + 1 < columns ? "\t" : "\n");
	}
}

static size_t
count(struct field header)
{
	size_t n = 0;

	for (; header.p != NULL; n++)
		field_cut(&header, '\t');
	return n;
}

struct field
join_rows(struct join *join, struct field rows)
{
	size_t nfields, columns = count(join_names(join));
	struct field *fields;

	if (join->from.n == 0)
		return rows;
	nfields = count(bytes_field(&join->from));
	fields = mem_zeroed(nfields, sizeof *fields);
	join->rows.n = 0;
	while (rows.n > 0)
		add_row(join, field_cut(&rows, '\n'), fields, nfields, columns);
	free(fields);
	return bytes_field(&join->rows);
}

void
join_free(struct join *join)
{
	bytes_free(&join->header);
	bytes_free(&join->from);
	bytes_free(&join->rows);
	free(join->places);
}
