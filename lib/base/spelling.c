#include "base/spelling.h"

#include <assert.h>
#include <stdbool.h>

static size_t
difference(size_t a, size_t b)
{
	return a > b ? a - b : b - a;
}

size_t
spelling_edits(struct field a, struct field b, size_t most)
{
	/* edits[j]: from what was read of a to the first j bytes of b */
	unsigned char edits[SPELLING_LONGEST + 1];

	assert(most <= SPELLING_LONGEST);
	if (a.n > SPELLING_LONGEST || b.n > SPELLING_LONGEST || difference(a.n, b.n) > most)
		return most + 1;
	for (size_t j = 0; j <= b.n; j++)
		edits[j] = (unsigned char)j;
	for (size_t i = 0; i < a.n; i++) {
		unsigned char before = edits[0], least;

		least = ++edits[0];
		for (size_t j = 0; j < b.n; j++) {
			unsigned char replaced =
			    before + (byte_lower(a.p[i]) != byte_lower(b.p[j]));
			unsigned char shorter = edits[j] < edits[j + 1] ? edits[j] : edits[j + 1];

			before = edits[j + 1];
			edits[j + 1] = replaced <= shorter ? replaced : shorter + 1;
			if (edits[j + 1] < least)
				least = edits[j + 1];
		}
		if (least > most) /* it never gets less again */
			return most + 1;
	}
	return edits[b.n] > most ? most + 1 : edits[b.n];
}

static bool
contains(struct field all, struct field part)
{
	for (; all.n >= part.n; all.p++, all.n--)
		if (field_same_word((struct field){ all.p, part.n }, part))
			return true;
	return false;
}

/* 0 is best; SIZE_MAX is not near */
static size_t
distance(struct field wanted, struct field have)
{
	size_t most = wanted.n > 0 ? 1 + (wanted.n - 1) / 4 : 0, edits;

	if (most > SPELLING_LONGEST)
		most = SPELLING_LONGEST;
	edits = spelling_edits(wanted, have, most);
	if (edits == 0)
		return 0;
	if (wanted.n >= 4 && have.n >= 4 && (contains(wanted, have) || contains(have, wanted)))
		return 1;
	return edits <= most && wanted.n >= 3 ? 2 * edits : SIZE_MAX;
}

size_t
spelling_best(struct field wanted, const struct field *have, size_t n)
{
	size_t best = SIZE_MAX, best_distance = SIZE_MAX, best_longer = SIZE_MAX;

	for (size_t i = 0; i < n; i++) {
		size_t far = distance(wanted, have[i]);
		size_t longer = difference(wanted.n, have[i].n);

		if (far < best_distance || (far == best_distance && longer < best_longer)) {
			if (far == SIZE_MAX)
				continue;
			best = i;
			best_distance = far;
			best_longer = longer;
		}
	}
	return best;
}
