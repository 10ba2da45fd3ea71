/*
 * labels: which labels each of many groups has met, each once, e.g. the trays of a closure.
 *
 *	struct labels trays = { 0 };
 *
 *	labels_add(&trays, closure, field_of("3"));
 *	labels_sort(&trays);
 *	for (size_t g = 0; g < groups; g++)
 *		labels_list(&trays, g, &text);
 *	labels_free(&trays);
 */
#ifndef THRUM_TABLE_LABELS_H
#define THRUM_TABLE_LABELS_H

#include "table/ids.h"

struct labels {
	uint64_t *small; /* of each group, bit n: it has met the label n, 0 to 63 */
	size_t n, cap;
	struct ids other; /* every other label, behind the number of its group */
	struct label *sorted;
	size_t at; /* the first of `sorted` not listed yet */
};

/* Group numbers start at 0. Whole numbers below 64 cost 8 bytes a group in all. */
void labels_add(struct labels *l, size_t group, struct field label);

/* labels_add will be called for this group soon: a hint for the cache. */
static inline void
labels_soon(const struct labels *l, size_t group)
{
	mem_soon(l->small + (group < l->n ? group : 0));
}

/* To be called once, after all labels_add and before any labels_list. */
void labels_sort(struct labels *l);

/*
 * Appends the labels of a group to text, separated by commas: whole numbers first, in their order,
 * then all others, in byte order. Groups must be asked for in rising order.
 */
void labels_list(struct labels *l, size_t group, struct bytes *text);

void labels_free(struct labels *l);

#endif
