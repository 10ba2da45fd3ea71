#include "fibre/element.h"

#include <stdio.h>
#include <stdlib.h>

void
elements_add(struct elements *e, struct field link, struct element_row row)
{
	row.link = (uint32_t)ids_add(&e->links, &link, 1, NULL);
	row.row = (uint32_t)e->n;
	e->v = mem_grow(e->v, &e->cap, e->n + 1, sizeof *e->v);
	e->v[e->n++] = row;
}

static int
order(const void *left, const void *right)
{
	const struct element_row *a = left, *b = right;

	if (a->link != b->link)
		return a->link < b->link ? -1 : 1;
	if (a->seq != b->seq)
		return a->seq < b->seq ? -1 : 1;
	if (a->seq != ELEMENT_NO_SEQ && a->wavelength_nm != b->wavelength_nm)
		return a->wavelength_nm < b->wavelength_nm ? -1 : 1;
	return a->row < b->row ? -1 : a->row > b->row;
}

static bool
same_element(const struct element_row *a, const struct element_row *b)
{
	return a->link == b->link && a->seq == b->seq && a->seq != ELEMENT_NO_SEQ;
}

/* Trouble with an element, or if it has no seq, with the link. Returns -1. */
static int
fail(const struct elements *e, const struct element_row *r, const char *what, struct err *err)
{
	struct field link = ids_key(&e->links, r->link);
	char shown[ERR_SHOWN], seq[32] = "";

	if (r->seq != ELEMENT_NO_SEQ)
		snprintf(seq, sizeof seq, " seq %lld:", (long long)r->seq);
	return err_set(err, "link '%s':%s %s", err_show(shown, link.p, link.n), seq, what);
}

static bool
in_order(const struct element_row *v, size_t n)
{
	for (size_t i = 1; i < n; i++)
		if (order(&v[i - 1], &v[i]) > 0)
			return false;
	return true;
}

/*
 * Lays the rows out link by link, as they came within each, and then sorts each link by itself: for
 * tables of many links this is several times as fast as to sort them all at once.
 */
static void
sort(struct elements *e)
{
	size_t *end = mem_zeroed(e->links.n + 1, sizeof *end), n = 0;
	struct element_row *v = mem_zeroed(e->n, sizeof *v);

	for (size_t i = 0; i < e->n; i++)
		end[e->v[i].link + 1]++;
	for (size_t link = 0; link < e->links.n; link++)
		end[link + 1] += end[link];
	for (size_t i = 0; i < e->n; i++)
		v[end[e->v[i].link]++] = e->v[i]; /* from its beginning to its end */
	free(e->v);
	e->v = v;
	e->cap = e->n;
	for (size_t link = 0; link < e->links.n; n = end[link++])
		if (!in_order(v + n, end[link] - n))
			qsort(v + n, end[link] - n, sizeof *v, order);
	free(end);
}

int
elements_arrange(struct elements *e, struct err *err)
{
	if (!in_order(e->v, e->n))
		sort(e);
	for (size_t i = 1; i < e->n; i++) {
		const struct element_row *a = &e->v[i - 1], *b = &e->v[i];

		if (!same_element(a, b))
			continue;
		if (a->kind != b->kind || a->ways != b->ways || a->count != b->count ||
		    a->length_ukm != b->length_ukm)
			return fail(e, b,
			    "two rows that do not agree in kind, ways, count or length_km", err);
		if (a->wavelength_nm == b->wavelength_nm)
			return fail(e, b, "two rows for one wavelength", err);
	}
	return 0;
}

size_t
elements_after(const struct elements *e, size_t first)
{
	size_t i = first + 1;

	while (i < e->n && same_element(&e->v[first], &e->v[i]))
		i++;
	return i;
}

struct budget_item
elements_item(const struct elements *e, size_t first, double wavelength_nm)
{
	const struct element_row *r = &e->v[first], *best = NULL;
	size_t end = elements_after(e, first);

	for (size_t i = first; i < end; i++) {
		const struct element_row *have = &e->v[i];

		if (have->loss_udb == DB_NONE)
			continue;
		if (have->wavelength_nm == wavelength_nm ||
		    (have->wavelength_nm == 0 && best == NULL))
			best = have;
	}
	return (struct budget_item){
		.kind = (enum kind)r->kind,
		.count = r->count,
		.ways = r->ways,
		.length_ukm = r->length_ukm,
		.loss_udb = best != NULL ? best->loss_udb : DB_NONE,
		.sd_db = best != NULL ? best->sd_db : 0,
	};
}

size_t
elements_after_link(const struct elements *e, size_t first)
{
	size_t i = first + 1;

	while (i < e->n && e->v[i].link == e->v[first].link)
		i++;
	return i;
}

int
elements_wavelengths(
    const struct elements *e, size_t first, size_t end, struct wavelengths *w, struct err *err)
{
	for (size_t i = first; i < end; i++)
		if (e->v[i].loss_udb != DB_NONE && e->v[i].wavelength_nm > 0 &&
		    wavelengths_add(w, e->v[i].wavelength_nm, err) != 0)
			return -1;
	return 0;
}

/* What is not known of an element, in words; `place` counts the link's elements from 1. */
static void
name_unknown(struct bytes *unknown, const struct element_row *row, size_t place,
    enum budget_why why, double wavelength_nm)
{
	static const char *const lacks[] = {
		[BUDGET_NO_KIND] = "without kind",
		[BUDGET_NO_LOSS] = "without loss",
		[BUDGET_NO_LENGTH] = "without length",
		[BUDGET_NO_WAYS] = "without ways",
		[BUDGET_NO_ALLOWANCE] = "without loss or allowance",
	};
	char nm[WAVELENGTHS_TEXT];

	bytes_add_text(unknown, unknown->n > 0 ? "; " : "");
	if (row->seq != ELEMENT_NO_SEQ)
		bytes_add_format(unknown, "seq %lld: ", (long long)row->seq);
	else
		bytes_add_format(unknown, "element %zu: ", place);
	if (why != BUDGET_NO_KIND) {
		bytes_add_field(unknown, kind_word((enum kind)row->kind));
		bytes_add_text(unknown, " ");
	}
	bytes_add_text(unknown, lacks[why]);
	if (why == BUDGET_NO_ALLOWANCE) {
		wavelengths_text(nm, wavelength_nm);
		bytes_add_format(unknown, " at %s nm", nm);
	}
}

int
elements_budget(const struct elements *e, size_t first, size_t end,
    const struct allowances *allowances, double wavelength_nm, double k, struct budget *b,
    struct bytes *unknown, struct err *err)
{
	enum { NAMED_MOST = 10 }; /* a person reads this */
	size_t place = 0, named = 0;
	bool wants_wavelength = false;

	*b = (struct budget)BUDGET_NONE;
	unknown->n = 0;
	for (size_t i = first; i < end; i = elements_after(e, i)) {
		struct budget_item item = elements_item(e, i, wavelength_nm);
		enum budget_why why = budget_add(b, &item, allowances, wavelength_nm, k);

		place++;
		if (why == BUDGET_TOO_LARGE)
			return fail(e, &e->v[first], "the sum of the link is too large", err);
		if (why == BUDGET_NO_ALLOWANCE && wavelength_nm == 0)
			wants_wavelength = true;
		else if (why != BUDGET_KNOWN && named++ < NAMED_MOST)
			name_unknown(unknown, &e->v[i], place, why, wavelength_nm);
	}
	if (named > NAMED_MOST)
		bytes_add_format(unknown, "; and %zu more", named - NAMED_MOST);
	if (wants_wavelength)
		bytes_add_text(unknown, unknown->n > 0 ? "; wavelength" : "wavelength");
	return 0;
}

void
elements_free(struct elements *e)
{
	ids_free(&e->links);
	free(e->v);
	*e = (struct elements)ELEMENTS_NONE;
}
