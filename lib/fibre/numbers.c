#include "fibre/numbers.h"

#include <stdbool.h>
#include <stdlib.h>

#include "base/mem.h"
#include "base/num.h"

/* Digits only; no sign. */
static bool
one_number(struct field text, int64_t *number)
{
	return text.n > 0 && num_is_digit(text.p[0]) && num_whole(text, number) == 0;
}

static const char *
add_run(struct numbers *n, int64_t from, int64_t to)
{
	int64_t step = from <= to ? 1 : -1;
	size_t count = (size_t)((to - from) * step + 1);

	if (n->n + count > NUMBERS_MOST)
		return "more than 100000 fibres";
	n->v = mem_grow(n->v, &n->cap, n->n + count, sizeof *n->v);
	for (size_t i = 0; i < count; i++)
		n->v[n->n++] = from + (int64_t)i * step;
	return NULL;
}

const char *
numbers_read(struct numbers *n, struct field text)
{
	const char *why = NULL;

	n->n = 0;
	while (text.n > 0 && why == NULL) {
		struct field to = field_cut(&text, ','), from = field_cut(&to, '-');
		int64_t first, last;

		if (text.p != NULL && text.n == 0)
			return "a comma at the end";
		if (!one_number(from, &first) || (to.p != NULL && !one_number(to, &last)))
			return "no list of fibres, such as 1-24,37";
		if (to.p == NULL)
			last = first;
		if (first < 1 || first > NUMBERS_MOST || last < 1 || last > NUMBERS_MOST)
			return "fibres are numbered from 1 to 100000";
		why = add_run(n, first, last);
	}
	return why;
}

void
numbers_free(struct numbers *n)
{
	free(n->v);
	*n = (struct numbers){ NULL, 0, 0 };
}
