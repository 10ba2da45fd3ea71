#include "table/pick.h"

#include <stdint.h>
#include <stdlib.h>

#include "base/mem.h"

void
pick_add(struct pick *pick, size_t column, struct field value)
{
	pick->v = mem_grow(pick->v, &pick->cap, pick->n + 1, sizeof *pick->v);
	pick->v[pick->n++] = (struct pick_test){ column, value };
}

void
pick_free(struct pick *pick)
{
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

/* The first name in header row a that is not in b; { NULL, 0 }: there is none. */
static struct field
odd_name(struct field a, struct field b)
{
	while (a.p != NULL) {
		struct field name = field_cut(&a, '\t');

		if (field_among(b, '\t', name) == SIZE_MAX)
			return name;
	}
	return a;
}

int
pick_same(struct field first, struct field header, struct err *err)
{
	struct field odd = odd_name(header, first);
	const char *verb = "has a column that the first has not";
	char shown[ERR_SHOWN];

	if (field_same(first, header))
		return 0;
	if (odd.p == NULL) {
		odd = odd_name(first, header);
		verb = "lacks a column of the first";
	}
	if (odd.p == NULL)
		return err_set(err, "has its columns in another order than the first");
	return err_set(err, "%s: '%s'", verb, err_show(shown, odd.p, odd.n));
}

bool
pick_meets(const struct pick *pick, struct field row)
{
	for (size_t i = 0; i < pick->n; i++)
		if (!field_same(pick_field(row, pick->v[i].column), pick->v[i].value))
			return false;
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

/* Of the values looked for, the longest: it stands in the fewest rows. */
static struct field
rarest(const struct pick *pick)
{
	struct field best = { NULL, 0 };

	for (size_t i = 0; i < pick->n; i++)
		if (pick->v[i].value.n > best.n)
			best = pick->v[i].value;
	return best;
}

bool
pick_next(const struct pick *pick, struct field *rows, struct field *row)
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
