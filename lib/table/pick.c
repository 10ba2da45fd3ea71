#include "table/pick.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/spelling.h"

void
pick_add(struct pick *pick, size_t column, struct field value)
{
	pick->v = mem_grow(pick->v, &pick->cap, pick->n + 1, sizeof *pick->v);
	pick->v[pick->n++] = (struct pick_test){ .column = column, .value = value };
}

void
pick_free(struct pick *pick)
{
	for (size_t i = 0; i < pick->n; i++)
		bytes_free(&pick->v[i].nearest);
	free(pick->v);
	*pick = (struct pick){ 0 };
}

struct field
pick_field(struct field row, size_t column)
{
	const char *p = row.p, *end = row.p + row.n, *tab;

	for (; column > 0; column--) {
		p = p < end ? memchr(p, '\t', (size_t)(end - p)) : NULL;
		if (p == NULL)
			return (struct field){ "", 0 };
		p++;
	}
	tab = p < end ? memchr(p, '\t', (size_t)(end - p)) : NULL;
	return (struct field){ p, (size_t)((tab != NULL ? tab : end) - p) };
}

/* The first condition on the column of the i-th. */
static size_t
first_on(const struct pick *pick, size_t i)
{
	size_t first = 0;

	while (pick->v[first].column != pick->v[i].column)
		first++;
	return first;
}

/* The condition on this column that the row meets, from the i-th on; SIZE_MAX: none. */
static size_t
met(const struct pick *pick, size_t i, struct field row)
{
	struct field value = pick_field(row, pick->v[i].column);
	size_t column = pick->v[i].column;

	for (; i < pick->n; i++)
		if (pick->v[i].column == column && field_same(value, pick->v[i].value))
			return i;
	return SIZE_MAX;
}

bool
pick_meets(struct pick *pick, struct field row)
{
	for (size_t i = 0; i < pick->n; i++)
		if (first_on(pick, i) == i && met(pick, i, row) == SIZE_MAX)
			return false;
	for (size_t i = 0; i < pick->n; i++)
		if (first_on(pick, i) == i)
			pick->v[met(pick, i, row)].rows++;
	return true;
}

/* Where `what` stands in p[0] to p[n - 1]; NULL: nowhere. what is not empty. */
static const char *
find(const char *p, size_t n, struct field what)
{
	const char *end = p + n;

	while ((size_t)(end - p) >= what.n) {
		p = memchr(p, what.p[0], (size_t)(end - p) - what.n + 1);
		if (p == NULL || memcmp(p, what.p, what.n) == 0)
			return p;
		p++;
	}
	return NULL;
}

/* Of the values that a row must have, the longest: it stands in the fewest rows. */
static struct field
rarest(const struct pick *pick)
{
	struct field best = { NULL, 0 };

	for (size_t i = 0; i < pick->n; i++) {
		size_t same = 0;

		for (size_t k = 0; k < pick->n; k++)
			same += pick->v[k].column == pick->v[i].column;
		if (same == 1 && pick->v[i].value.n > best.n)
			best = pick->v[i].value;
	}
	return best;
}

bool
pick_next(struct pick *pick, struct field *rows, struct field *row)
{
	struct field value = rarest(pick);

	while (rows->n > 0) {
		const char *start = rows->p, *end = rows->p + rows->n, *lf;

		/* only a row in which the value stands at all needs to be taken apart */
		if (value.n > 0) {
			const char *at = find(start, rows->n, value);

			if (at == NULL)
				break;
			while (at > start && at[-1] != '\n')
				at--;
			start = at;
		}
		lf = memchr(start, '\n', (size_t)(end - start));
		*row = (struct field){ start, (size_t)((lf != NULL ? lf : end) - start) };
		rows->p = lf != NULL ? lf + 1 : end;
		rows->n = (size_t)(end - rows->p);
		if (pick_meets(pick, *row))
			return true;
	}
	rows->n = 0;
	return false;
}

size_t
pick_unmet(const struct pick *pick)
{
	size_t unmet = 0;

	for (size_t i = 0; i < pick->n; i++)
		unmet += pick->v[i].rows == 0;
	return unmet;
}

void
pick_look(struct pick *pick, struct field rows)
{
	while (rows.n > 0) {
		struct field row = field_cut(&rows, '\n');

		for (size_t i = 0; i < pick->n; i++) {
			struct pick_test *test = &pick->v[i];
			struct field found[2] = { bytes_field(&test->nearest),
				pick_field(row, test->column) };

			if (test->rows > 0 || test->exists || field_same(found[0], found[1]))
				continue;
			test->exists = field_same(found[1], test->value);
			if (spelling_best(test->value, found, 2) != 1)
				continue;
			test->nearest.n = 0;
			bytes_add_field(&test->nearest, found[1]);
		}
	}
}
