#include "table/labels.h"

#include <stdlib.h>

#include "base/num.h"

enum { SMALL = 64 };

struct label {
	size_t group;
	bool whole;
	int64_t number; /* if whole */
	struct field text;
};

/* the number of a label that is written as one from 0 to 63, else SMALL */
static unsigned
small_number(struct field label)
{
	unsigned n;

	if (label.n == 0 || label.n > 2 || !num_is_digit(label.p[0]))
		return SMALL;
	n = (unsigned)(label.p[0] - '0');
	if (label.n == 1)
		return n;
	if (n == 0 || !num_is_digit(label.p[1]))
		return SMALL;
	n = n * 10 + (unsigned)(label.p[1] - '0');
	return n < SMALL ? n : SMALL;
}

void
labels_add(struct labels *l, size_t group, struct field label)
{
	unsigned n = small_number(label);
	struct field key[2] = { { (const char *)&group, sizeof group }, label };

	if (group >= l->n) {
		l->small = mem_grow(l->small, &l->cap, group + 1, sizeof *l->small);
		while (l->n <= group)
			l->small[l->n++] = 0;
	}
	if (n < SMALL)
		l->small[group] |= (uint64_t)1 << n;
	else
		ids_add(&l->other, key, 2, NULL);
}

static int
order(const void *a, const void *b)
{
	const struct label *x = a, *y = b;

	if (x->group != y->group)
		return x->group < y->group ? -1 : 1;
	if (x->whole != y->whole)
		return x->whole ? -1 : 1;
	if (x->whole && x->number != y->number)
		return x->number < y->number ? -1 : 1;
	return field_order(x->text, y->text);
}

void
labels_sort(struct labels *l)
{
	l->sorted = mem_zeroed(l->other.n + 1, sizeof *l->sorted);
	for (size_t i = 0; i < l->other.n; i++) {
		struct label *s = &l->sorted[i];
		struct field key = ids_key(&l->other, i);

		memcpy(&s->group, key.p, sizeof s->group);
		s->text.p = key.p + sizeof s->group + 1;
		s->text.n = key.n - sizeof s->group - 1;
		s->whole = num_whole(s->text, &s->number) == 0;
	}
	if (l->other.n > 1)
		qsort(l->sorted, l->other.n, sizeof *l->sorted, order);
}

static void
append(struct bytes *text, size_t start, struct field label)
{
	if (text->n > start)
		bytes_add(text, ",", 1);
	bytes_add_field(text, label);
}

void
labels_list(struct labels *l, size_t group, struct bytes *text)
{
	uint64_t small = group < l->n ? l->small[group] : 0;
	const struct label *s = l->sorted + l->at, *end = l->sorted + l->other.n;
	size_t start = text->n;

	while (s < end && s->group < group)
		s++;
	for (unsigned n = 0; n < SMALL && small >> n > 0; n++) {
		char digits[NUM_SCALED];

		if ((small >> n & 1) == 0)
			continue;
		/* of one number, the plain way of writing it is the last in byte order */
		for (; s < end && s->group == group && s->whole && s->number <= (int64_t)n; s++)
			append(text, start, s->text);
		append(text, start, (struct field){ digits, num_scaled(digits, n, 0, false) });
	}
	for (; s < end && s->group == group; s++)
		append(text, start, s->text);
	l->at = (size_t)(s - l->sorted);
}

void
labels_free(struct labels *l)
{
	free(l->small);
	ids_free(&l->other);
	free(l->sorted);
	*l = (struct labels){ NULL };
}
