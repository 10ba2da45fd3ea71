/* elements: the elements of one link, for a picture. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "picture/rows.h"

enum { B_LINK, B_NM, B_ALLOWED, B_MARGIN, B_VERDICT };
const struct col picture_budget_cols[] = { { "link", COL_NEED, COL_TEXT },
	{ "wavelength_nm", COL_MAY, COL_NUM, 600, 1700 },
	{ "allowed_db", COL_NEED, COL_DB, -1000, 1000 },
	{ "margin_db", COL_MAY, COL_DB, -10000, 10000 }, { "verdict", COL_MAY, COL_TEXT },
	{ NULL } };
const int picture_budget_key[] = { B_LINK, -1 };

struct picture_part {
	struct plot_part is;
	struct budget_item item;
	int64_t seq;
	size_t order;
};

/* The wavelength's place among those of the picture, PLOT_LINES at the most. SIZE_MAX: err is set. */
static size_t
line_of(struct picture *r, double nm)
{
	for (size_t w = 0; w < r->link.n; w++)
		if (r->link.nm[w] == nm)
			return w;
	if (r->link.n == PLOT_LINES) {
		err_set(r->rows->err,
		    "more than %d wavelengths: choose some with --only wavelength_nm=NM",
		    PLOT_LINES);
		return SIZE_MAX;
	}
	r->link.nm[r->link.n] = nm;
	return r->link.n++;
}

/* The part that the present row is of. */
static struct picture_part *
part_of(struct picture *r)
{
	struct table *t = r->rows;
	struct field key[2] = { table_field(t, ROW_SEQ), field_of("") };
	char unnumbered[24];
	size_t number, known = r->seqs.n;
	struct picture_part *part;
	int64_t length_ukm = 0, count = 1, ways = 0;
	static const char *const words = KIND_WORDS;

	if (key[0].n == 0) {
		key[1].p = unnumbered;
		key[1].n = (size_t)snprintf(unnumbered, sizeof unnumbered, "%zu", ++r->nameless);
	}
	number = ids_add(&r->seqs, key, key[1].n > 0 ? 2 : 1, NULL);
	r->parts = mem_grow(r->parts, &r->cap_parts, r->seqs.n, sizeof *r->parts);
	part = &r->parts[number];
	if (number < known)
		return part;
	*part = (struct picture_part){ .order = number, .seq = INT64_MAX, .is = { .km = NAN } };
	get_whole(t, ROW_SEQ, &part->seq);
	part->is.site = picture_keep(r, ROW_SITE);
	part->is.ref = picture_keep(r, ROW_REF);
	get_num(t, ROW_KM, &part->is.km);
	part->item = (struct budget_item){ .loss_udb = DB_NONE, .length_ukm = DB_NONE };
	part->item.of.kind = (enum kind)field_among(field_of(words), ' ', table_field(t, ROW_KIND));
	if (part->item.of.kind > KIND_OTHER)
		table_fail(t, ROW_KIND, "not one of: " KIND_WORDS);
	if (get_db(t, ROW_LENGTH, &length_ukm))
		part->item.length_ukm = length_ukm;
	get_whole(t, ROW_COUNT, &count);
	get_whole(t, ROW_WAYS, &ways);
	part->item.count = count;
	part->item.of.ways = ways;
	part->item.of.name = picture_keep(r, ROW_ALLOWANCE);
	part->item.of.category = picture_keep(r, ROW_CATEGORY);
	part->is.length_km = part->item.of.kind == KIND_FIBRE ? db_to(length_ukm) : 0;
	for (size_t w = 0; w < PLOT_LINES; w++)
		part->is.measured_udb[w] = DB_NONE;
	return part;
}

void
picture_element(struct picture *r)
{
	struct table *t = r->rows;
	struct field link = table_field(t, ROW_LINK);
	struct picture_part *part;
	int64_t loss_udb;
	double nm = 0;
	size_t w;

	if (!picture_asked(r, t, false))
		return;
	if (r->nrows++ == 0)
		r->link.link = picture_keep(r, ROW_LINK);
	if (!field_same(link, r->link.link)) {
		table_fail(t, ROW_LINK, "a second link: choose one with --only link=NAME");
		return;
	}
	part = part_of(r);
	if (!joint_reading(t, ROW_LOSS, &loss_udb))
		return;
	if (!get_num(t, ROW_WAVELENGTH, &nm)) {
		part->item.loss_udb = loss_udb; /* at every wavelength */
		return;
	}
	w = line_of(r, nm);
	if (w != SIZE_MAX)
		part->is.measured_udb[w] = loss_udb;
}

static int
by_seq(const void *a, const void *b)
{
	const struct picture_part *x = a, *y = b;

	if (x->seq != y->seq)
		return x->seq < y->seq ? -1 : 1;
	return (x->order > y->order) - (x->order < y->order);
}

/* What the budgets say of the link: wavelengths, if the elements have none, limits, verdicts. */
static void
read_budgets(struct picture *r)
{
	struct table *t = r->budgets;
	bool own = r->link.n > 0;
	double nm;

	for (size_t w = 0; w < PLOT_LINES; w++)
		r->link.allowed_udb[w] = r->link.margin_udb[w] = DB_NONE;
	if (table_rows(t) > 0 && table_find(t, &r->link.link))
		do {
			size_t w = 0;

			nm = 0;
			get_num(t, B_NM, &nm);
			if (own || r->link.n == PLOT_LINES)
				while (w < r->link.n && r->link.nm[w] != nm)
					w++;
			else
				w = line_of(r, nm);
			if (w >= r->link.n)
				continue;
			get_db(t, B_ALLOWED, &r->link.allowed_udb[w]);
			get_db(t, B_MARGIN, &r->link.margin_udb[w]);
			r->link.verdict[w] = table_field(t, B_VERDICT);
		} while (table_find_next(t));
	if (r->link.n == 0)
		line_of(r, 0);
}

static void
plan_parts(struct picture *r, struct plot_part *parts)
{
	for (size_t i = 0; i < r->seqs.n; i++) {
		struct picture_part *part = &r->parts[i];

		parts[i] = part->is;
		for (size_t w = 0; w < r->link.n; w++) {
			struct budget b = BUDGET_NONE;
			struct budget_item item = part->item;

			if (parts[i].measured_udb[w] == DB_NONE)
				parts[i].measured_udb[w] = item.loss_udb;
			if (parts[i].measured_udb[w] != DB_NONE)
				parts[i].measured_udb[w] *= item.count;
			item.loss_udb = DB_NONE;
			parts[i].planned_udb[w] = parts[i].most_udb[w] = DB_NONE;
			if (budget_add(&b, &item, &r->allowances, r->link.nm[w], 0) != BUDGET_KNOWN)
				continue;
			parts[i].planned_udb[w] = b.sum.typical_udb;
			parts[i].most_udb[w] = b.sum.worst_udb;
		}
	}
}

void
picture_link(struct picture *r, struct plot *plot)
{
	struct plot_part *parts;

	parts = mem_zeroed(r->seqs.n + 1, sizeof *parts);
	if (r->seqs.n > 0)
		qsort(r->parts, r->seqs.n, sizeof *r->parts, by_seq);
	read_budgets(r);
	plan_parts(r, parts);
	plot_link(plot, &r->link, parts, r->seqs.n);
	free(parts);
}
