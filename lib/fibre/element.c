#include "fibre/element.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "fibre/joint.h"

enum {
	LINK,
	SEQ,
	KIND,
	WAYS,
	COUNT,
	LENGTH,
	CATEGORY,
	ALLOWANCE,
	WAVELENGTH,
	LOSS,
	SD,
	REFLECTANCE,
	CD,
	PMD,
	SITE,
	MADE_AT,
};

/* the allowance of an element other with which a link that is not whole ends */
static const char open_link[] = "open";

const struct col element_cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[SEQ] = { "seq", COL_MAY, COL_WHOLE, 0, 1e9 },
	[KIND] = { "kind", COL_NEED, COL_WORD, .words = KIND_WORDS },
	[WAYS] = { "ways", COL_MAY, COL_WHOLE, 2, 1024 },
	[COUNT] = { "count", COL_MAY, COL_WHOLE, 0, 1e6 },
	[LENGTH] = { "length_km", COL_MAY, COL_DB, 0, 100000 },
	[CATEGORY] = { "category", COL_MAY, COL_TEXT },
	[ALLOWANCE] = { "allowance", COL_MAY, COL_TEXT },
	[WAVELENGTH] = { "wavelength_nm", COL_MAY, COL_NUM, 600, 1700 },
	[LOSS] = { "loss_db", COL_MAY, COL_DB, -1000, 1000 },
	[SD] = { "sd_db", COL_MAY, COL_NUM, 0, 1000 },
	[REFLECTANCE] = { "reflectance_db", COL_MAY, COL_NUM, -120, 0 },
	[CD] = { "cd_ps_nm_km", COL_MAY, COL_NUM, -1000, 1000 },
	[PMD] = { "pmd_ps_sqrt_km", COL_MAY, COL_NUM, 0, 1000 },
	[SITE] = { "site", COL_MAY, COL_TEXT },
	[MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	{ NULL },
};

/* Adds a row of the element that `what` describes: category, allowance and site. */
static void
add(struct elements *e, struct field link, const struct field what[3], struct element_row row)
{
	row.link = (uint32_t)ids_add(&e->links, &link, 1, NULL);
	row.what = (uint32_t)ids_add(&e->whats, what, 3, NULL);
	row.row = (uint32_t)e->n;
	e->v = mem_grow(e->v, &e->cap, e->n + 1, sizeof *e->v);
	e->v[e->n++] = row;
}

void
elements_add(struct elements *e, struct field link, struct element_row row)
{
	static const struct field nothing[3] = { { "", 0 }, { "", 0 }, { "", 0 } };

	add(e, link, nothing, row);
}

/* What the row added last does to the signal, if the table has any column of it. */
static void
read_part(struct elements *e, struct table *t)
{
	struct signal_part part = { NAN, NAN, NAN };

	if (!table_has(t, REFLECTANCE) && !table_has(t, CD) && !table_has(t, PMD))
		return;
	get_num(t, REFLECTANCE, &part.reflectance_db);
	get_num(t, CD, &part.cd_ps_nm_km);
	get_num(t, PMD, &part.pmd_ps_sqrt_km);
	e->parts = mem_grow(e->parts, &e->cap_parts, e->n, sizeof *e->parts);
	e->parts[e->n - 1] = part;
}

/* When the row added last was made, if the table has that column. */
static void
read_made(struct elements *e, struct table *t)
{
	struct when at;
	struct elements_made *m;

	if (!get_time(t, MADE_AT, &at))
		return;
	e->made = mem_grow(e->made, &e->cap_made, e->links.n, sizeof *e->made);
	while (e->nmade < e->links.n)
		e->made[e->nmade++] = (struct elements_made){ .known = { false, false } };
	m = &e->made[e->v[e->n - 1].link];
	if (!m->known[at.has_zone] || when_order(&at, &m->at[at.has_zone]) > 0)
		m->at[at.has_zone] = at;
	m->known[at.has_zone] = true;
}

const struct when *
elements_made_after(const struct elements *e, uint32_t link, const struct when *at)
{
	const struct when *after = NULL;

	for (int zone = 0; zone < 2 && link < e->nmade; zone++) {
		const struct elements_made *m = &e->made[link];

		if (m->known[zone] && when_surely_before(at, &m->at[zone]) &&
		    (after == NULL || when_order(&m->at[zone], after) > 0))
			after = &m->at[zone];
	}
	return after;
}

void
elements_read(struct elements *e, struct table *t)
{
	struct element_row row = {
		.seq = ELEMENT_NO_SEQ, .loss_udb = DB_NONE, .length_ukm = DB_NONE
	};
	struct field link = { NULL, 0 }, what[3] = { { "", 0 }, { "", 0 }, { "", 0 } };
	int64_t count = 1, ways = 0;
	int kind = KIND_UNKNOWN;

	if (!get_text(t, LINK, &link))
		table_fail(t, LINK, "empty");
	get_whole(t, SEQ, &row.seq);
	get_word(t, KIND, &kind);
	get_whole(t, WAYS, &ways);
	get_whole(t, COUNT, &count);
	get_db(t, LENGTH, &row.length_ukm);
	get_text(t, CATEGORY, &what[0]);
	get_text(t, ALLOWANCE, &what[1]);
	if (kind == KIND_OTHER && field_is(what[1], open_link))
		get_text(t, SITE, &what[2]);
	get_num(t, WAVELENGTH, &row.wavelength_nm);
	joint_reading(t, LOSS, &row.loss_udb);
	get_num(t, SD, &row.sd_db);
	row.count = (uint32_t)count;
	row.ways = (uint16_t)ways;
	row.kind = (uint8_t)kind;
	if (err_is_set(t->err))
		return;
	add(e, link, what, row);
	read_part(e, t);
	read_made(e, t);
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
		    a->length_ukm != b->length_ukm || a->what != b->what)
			return fail(e, b,
			    "two rows that do not agree in kind, ways, count, length_km, category or "
			    "allowance",
			    err);
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
	struct field rest, category, allowance;

	for (size_t i = first; i < end; i++) {
		const struct element_row *have = &e->v[i];

		if (have->loss_udb == DB_NONE)
			continue;
		if (have->wavelength_nm == wavelength_nm ||
		    (have->wavelength_nm == 0 && best == NULL))
			best = have;
	}
	rest = ids_key(&e->whats, r->what);
	category = field_cut(&rest, '\t');
	allowance = field_cut(&rest, '\t');
	return (struct budget_item){
		.of = { (enum kind)r->kind, r->ways, allowance, category },
		.count = r->count,
		.length_ukm = r->length_ukm,
		.loss_udb = best != NULL ? best->loss_udb : DB_NONE,
		.sd_db = best != NULL ? best->sd_db : 0,
	};
}

/*
 * What the element does to the signal: what its row of just this wavelength says, else the one of every
 * wavelength. PMD is the same at all of them.
 */
static struct signal_part
part_of(const struct elements *e, size_t first, double wavelength_nm)
{
	struct signal_part part = { NAN, NAN, NAN };
	size_t end = elements_after(e, first);

	for (size_t i = first; i < end; i++) {
		const struct signal_part *have = &e->parts[e->v[i].row];
		bool here = e->v[i].wavelength_nm == wavelength_nm;
		bool any = e->v[i].wavelength_nm == 0;

		if (!isnan(have->cd_ps_nm_km) && (here || (any && isnan(part.cd_ps_nm_km))))
			part.cd_ps_nm_km = have->cd_ps_nm_km;
		if (!isnan(have->reflectance_db) && (here || (any && isnan(part.reflectance_db))))
			part.reflectance_db = have->reflectance_db;
		if (!isnan(have->pmd_ps_sqrt_km))
			part.pmd_ps_sqrt_km = have->pmd_ps_sqrt_km;
	}
	return part;
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

/* Whether it is the end of a link that is not whole; then this is said, with its site if that is known. */
static bool
name_open(struct bytes *unknown, const struct elements *e, const struct element_row *row,
    const struct budget_item *item)
{
	struct field site = ids_key(&e->whats, row->what);

	if (item->of.kind != KIND_OTHER || !field_is(item->of.name, open_link))
		return false;
	field_cut(&site, '\t');
	field_cut(&site, '\t');
	bytes_add_text(unknown, "the link is not whole");
	if (site.n > 0)
		bytes_add_text(unknown, " at ");
	bytes_add_field(unknown, site);
	return true;
}

/* What is not known of an element, in words; `place` counts the link's elements from 1. */
static void
name_unknown(struct bytes *unknown, const struct elements *e, const struct element_row *row,
    size_t place, const struct budget_item *item, const struct allowances *allowances,
    enum budget_why why, double wavelength_nm)
{
	static const char *const lacks[] = {
		[BUDGET_NO_KIND] = "without kind",
		[BUDGET_NO_LOSS] = "without loss",
		[BUDGET_NO_LENGTH] = "without length",
		[BUDGET_NO_WAYS] = "without ways",
		[BUDGET_NO_NAME] = "without loss, no allowance is called ",
		[BUDGET_NO_CATEGORY] = "of a category that is not known: is it ",
		[BUDGET_NO_ALLOWANCE] = "without loss or allowance",
	};
	char nm[WAVELENGTHS_TEXT];

	bytes_add_text(unknown, unknown->n > 0 ? "; " : "");
	if (why == BUDGET_NO_NAME && name_open(unknown, e, row, item))
		return;
	if (row->seq != ELEMENT_NO_SEQ)
		bytes_add_format(unknown, "seq %lld: ", (long long)row->seq);
	else
		bytes_add_format(unknown, "element %zu: ", place);
	if (why != BUDGET_NO_KIND) {
		bytes_add_field(unknown, kind_word((enum kind)row->kind));
		bytes_add_text(unknown, " ");
	}
	bytes_add_text(unknown, lacks[why]);
	if (why == BUDGET_NO_ALLOWANCE && wavelength_nm > 0) {
		wavelengths_text(nm, wavelength_nm);
		bytes_add_format(unknown, " at %s nm", nm);
	}
	if (why == BUDGET_NO_NAME)
		bytes_add_field(unknown, item->of.name);
	if (why == BUDGET_NO_CATEGORY) {
		bytes_add_field(unknown, allowance_category(allowances, item->of.category));
		bytes_add_text(unknown, "?");
	}
}

/* Which wavelengths would do for an element that needs one. */
static void
name_wavelengths(
    struct bytes *unknown, const struct allowances *allowances, const struct allowance_of *of)
{
	struct field kind = kind_word(of->kind);

	bytes_add_format(
	    unknown, "%swavelength (for %.*s: ", unknown->n > 0 ? "; " : "", (int)kind.n, kind.p);
	allowance_wavelengths(allowances, of, unknown);
	bytes_add_text(unknown, " nm)");
}

/* Adds an element to the sums; part NULL: nothing is known of any. */
static enum budget_why
add_up(struct elements_sum *sum, const struct budget_item *item, const struct signal_part *part,
    const struct allowances *allowances, double wavelength_nm, double k)
{
	int64_t before_udb = sum->budget.sum.typical_udb;
	enum budget_why why = budget_add(&sum->budget, item, allowances, wavelength_nm, k);

	if (part == NULL || item->count == 0)
		return why;
	if (item->of.kind == KIND_FIBRE)
		signal_add_fibre(&sum->signal, part, item->count, item->length_ukm);
	else if (why == BUDGET_KNOWN)
		signal_add_reflection(&sum->signal, part, item->count, before_udb,
		    sum->budget.sum.typical_udb - before_udb,
		    item->of.kind == KIND_CONNECTOR || item->of.kind == KIND_MECHANICAL);
	return why;
}

int
elements_sum(const struct elements *e, size_t first, size_t end,
    const struct allowances *allowances, struct field categories, double wavelength_nm, double k,
    struct elements_sum *sum, struct bytes *unknown, struct err *err)
{
	enum { NAMED_MOST = 10 }; /* a person reads this */
	struct allowance_of wanting = { KIND_UNKNOWN, 0, { "", 0 }, { "", 0 } };
	struct field rest = categories, usual = field_cut(&rest, ',');
	size_t place = 0, named = 0;
	struct signal_part part;

	*sum = (struct elements_sum){ .signal = SIGNAL_NONE };
	unknown->n = 0;
	for (size_t i = first; i < end; i = elements_after(e, i)) {
		struct budget_item item = elements_item(e, i, wavelength_nm);
		enum budget_why why;

		if (item.of.kind == KIND_FIBRE && item.of.category.n == 0)
			item.of.category = usual;
		else if (item.of.kind == KIND_FIBRE && categories.n > 0 &&
			 field_among(categories, ',', item.of.category) == SIZE_MAX)
			sum->other_category = item.of.category;
		if (e->parts != NULL)
			part = part_of(e, i, wavelength_nm);
		why = add_up(
		    sum, &item, e->parts != NULL ? &part : NULL, allowances, wavelength_nm, k);
		place++;
		if (why == BUDGET_TOO_LARGE)
			return fail(e, &e->v[first], "the sum of the link is too large", err);
		if (why == BUDGET_NO_ALLOWANCE && wavelength_nm == 0 &&
		    allowance_anywhere(allowances, &item.of))
			wanting = item.of;
		else if (why != BUDGET_KNOWN && named++ < NAMED_MOST)
			name_unknown(
			    unknown, e, &e->v[i], place, &item, allowances, why, wavelength_nm);
	}
	if (named > NAMED_MOST)
		bytes_add_format(unknown, "; and %zu more", named - NAMED_MOST);
	if (wanting.kind != KIND_UNKNOWN)
		name_wavelengths(unknown, allowances, &wanting);
	return 0;
}

void
elements_free(struct elements *e)
{
	ids_free(&e->links);
	ids_free(&e->whats);
	free(e->v);
	free(e->parts);
	free(e->made);
	*e = (struct elements)ELEMENTS_NONE;
}
