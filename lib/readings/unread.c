#include "readings/unread.h"

#include <math.h>
#include <stdlib.h>

/* what was read of a link, at either end */
struct read_at {
	double nm;
	uint32_t link;
};

static int
by_nm_and_link(const void *a, const void *b)
{
	const struct read_at *x = a, *y = b;

	if (x->nm != y->nm)
		return x->nm < y->nm ? -1 : 1;
	return (x->link > y->link) - (x->link < y->link);
}

/* Of n links that were read at a wavelength, in their order, those that are not among them. */
static void
say_not_at(const struct readings *r, struct found *found, const struct read_at *v, size_t n)
{
	for (uint32_t link = 0, i = 0; link < r->names.n; link++) {
		struct found_row row = { .rule = FOUND_UNREAD,
			.link = ids_key(&r->names, link),
			.nm = v->nm,
			.km = NAN,
			.says = "not read at this wavelength, at which most links are" };

		if (i < n && v[i].link == link)
			i++;
		else
			found_reading(found, &row);
	}
}

/* Links that were read, but not at a wavelength at which most are. */
static void
unread_at(const struct readings *r, struct found *found)
{
	struct read_at *v = mem_zeroed(r->keys.n + 1, sizeof *v);
	size_t n = 0;

	for (size_t i = 0; i < r->keys.n; i++)
		v[i] = (struct read_at){ r->traces[i].nm, r->traces[i].link };
	if (r->keys.n > 0)
		qsort(v, r->keys.n, sizeof *v, by_nm_and_link);
	for (size_t i = 0; i < r->keys.n; i++) /* each link once */
		if (n == 0 || by_nm_and_link(&v[n - 1], &v[i]) != 0)
			v[n++] = v[i];
	for (size_t i = 0, end; i < n; i = end) {
		for (end = i; end < n && v[end].nm == v[i].nm;)
			end++;
		if (2 * (end - i) > r->names.n)
			say_not_at(r, found, v + i, end - i);
	}
	free(v);
}

void
unread_links(const struct readings *r, const struct spots *spots, struct found *found)
{
	unread_at(r, found);
	for (size_t i = 0; i < spots->links.n; i++) {
		struct found_row row = { .rule = FOUND_UNREAD,
			.link = ids_key(&spots->links, i),
			.km = NAN,
			.says = "no reading of this link" };

		if (ids_find_one(&r->names, row.link) == SIZE_MAX)
			found_reading(found, &row);
	}
}
