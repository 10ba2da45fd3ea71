#include "fibre/budget.h"

#include <math.h>

#include "fibre/application.h"

/* What `times` (in millionths) of an allowance lose; the variance is the caller's. */
static int
allowed_part(const struct allowance *a, int64_t times_u, struct budget_part *part)
{
	if (db_times(a->typical_udb, times_u, &part->typical_udb) != 0 ||
	    db_times(a->max_udb, times_u, &part->worst_udb) != 0)
		return -1;
	return 0;
}

/* What n of an element with a loss of its own lose. */
static int
own_part(const struct budget_item *it, int64_t n, double k, struct budget_part *part)
{
	int64_t spread_udb;

	part->variance = (double)n * it->sd_db * it->sd_db;
	if (db_times(it->loss_udb, n * DB_ONE, &part->typical_udb) != 0 ||
	    db_from((double)n * k * it->sd_db, &spread_udb) != 0)
		return -1;
	part->worst_udb = part->typical_udb;
	return db_add(&part->worst_udb, spread_udb);
}

/* What n of an element lose at the wavelength. */
static enum budget_why
part_of(const struct budget_item *it, int64_t n, const struct allowances *allowances,
    double wavelength_nm, double k, struct budget_part *part)
{
	const struct allowance *a;
	int status;

	if (it->of.kind == KIND_UNKNOWN)
		return BUDGET_NO_KIND;
	if (it->loss_udb != DB_NONE)
		return own_part(it, n, k, part) == 0 ? BUDGET_KNOWN : BUDGET_TOO_LARGE;
	if (it->of.name.n > 0 && !allowance_named(allowances, it->of.name))
		return BUDGET_NO_NAME;
	if (it->of.name.n == 0 && it->of.kind == KIND_OTHER)
		return BUDGET_NO_LOSS;
	if (it->of.kind == KIND_FIBRE && it->length_ukm == DB_NONE)
		return BUDGET_NO_LENGTH;
	if (it->of.name.n == 0 && it->of.kind == KIND_SPLITTER && it->of.ways == 0)
		return BUDGET_NO_WAYS;
	if (it->of.category.n > 0 && allowance_category(allowances, it->of.category).n > 0)
		return BUDGET_NO_CATEGORY;
	a = allowance_find(allowances, &it->of, wavelength_nm);
	if (a == NULL)
		return BUDGET_NO_ALLOWANCE;
	if (it->of.kind == KIND_FIBRE) {
		double sd_db = a->sd_db * db_to(it->length_ukm);

		status = allowed_part(a, n * it->length_ukm, part);
		part->variance = (double)n * sd_db * sd_db;
	} else {
		status = allowed_part(a, n * DB_ONE, part);
		part->variance = (double)n * a->sd_db * a->sd_db;
	}
	return status == 0 ? BUDGET_KNOWN : BUDGET_TOO_LARGE;
}

/* Counts and length, which are independent of the loss. -1 if a sum does not fit. */
static int
count(struct budget *b, const struct budget_item *it)
{
	if (it->of.kind == KIND_FUSION || it->of.kind == KIND_MECHANICAL)
		b->joints += it->count;
	if (it->of.kind == KIND_CONNECTOR)
		b->connectors += it->count;
	if (it->loss_udb != DB_NONE)
		b->measured += it->count;
	if (it->of.kind != KIND_FIBRE || b->length_ukm == DB_NONE)
		return 0;
	if (it->length_ukm == DB_NONE) {
		b->length_ukm = DB_NONE;
		return 0;
	}
	return db_add(&b->length_ukm, it->count * it->length_ukm);
}

/*
 * The element is the last so far, and the first if there was none: remember one piece of it if it is
 * a connector. A link that is a single piece has only one end.
 */
static void
set_ends(struct budget *b, const struct budget_item *it, const struct allowances *allowances,
    double wavelength_nm, double k)
{
	bool first = b->items == 0;
	struct budget_part piece = { 0 };

	if (it->of.kind == KIND_CONNECTOR)
		part_of(it, 1, allowances, wavelength_nm, k, &piece);
	if (first) {
		b->end[0] = piece;
		b->has_end[0] = it->of.kind == KIND_CONNECTOR;
	}
	b->end[1] = piece;
	b->has_end[1] = it->of.kind == KIND_CONNECTOR && (!first || it->count > 1);
}

enum budget_why
budget_add(struct budget *b, const struct budget_item *it, const struct allowances *allowances,
    double wavelength_nm, double k)
{
	struct budget_part part = { 0 };
	enum budget_why why;

	if (it->count == 0)
		return BUDGET_KNOWN;
	if (count(b, it) != 0)
		return BUDGET_TOO_LARGE;
	why = part_of(it, it->count, allowances, wavelength_nm, k, &part);
	set_ends(b, it, allowances, wavelength_nm, k);
	b->items++;
	if (why != BUDGET_KNOWN) {
		b->not_known++;
		return why;
	}
	if (db_add(&b->sum.typical_udb, part.typical_udb) != 0 ||
	    db_add(&b->sum.worst_udb, part.worst_udb) != 0)
		return BUDGET_TOO_LARGE;
	b->sum.variance += part.variance;
	return BUDGET_KNOWN;
}

int
budget_sums(const struct budget_part *part, double k, struct budget_sums *sums)
{
	int64_t spread_udb;

	sums->typical_udb = sums->stat_udb = sums->least_udb = part->typical_udb;
	sums->worst_udb = part->worst_udb;
	if (db_from(k * sqrt(part->variance), &spread_udb) != 0 ||
	    db_add(&sums->stat_udb, spread_udb) != 0 || db_add(&sums->least_udb, -spread_udb) != 0)
		return -1;
	if (sums->least_udb < 0 && part->typical_udb >= 0)
		sums->least_udb = 0;
	if (sums->stat_udb > sums->worst_udb)
		sums->stat_udb = sums->worst_udb;
	return 0;
}

/* Takes the end connectors of `mask` (bit 0 the first, bit 1 the last) out of the link. */
static int
leave_out(const struct budget *b, unsigned mask, struct budget_part *rest, struct budget_part *left)
{
	*rest = b->sum;
	*left = (struct budget_part){ 0 };
	for (int i = 0; i < 2; i++) {
		const struct budget_part *end = &b->end[i];

		if (!b->has_end[i] || !(mask >> i & 1))
			continue;
		if (db_add(&rest->typical_udb, -end->typical_udb) != 0 ||
		    db_add(&rest->worst_udb, -end->worst_udb) != 0 ||
		    db_add(&left->typical_udb, end->typical_udb) != 0 ||
		    db_add(&left->worst_udb, end->worst_udb) != 0)
			return -1;
		rest->variance = fmax(rest->variance - end->variance, 0);
		left->variance += end->variance;
	}
	return 0;
}

static int
bounds_without(const struct budget *b, unsigned mask, double k, struct budget_bounds *bounds)
{
	struct budget_part rest, left;
	struct budget_sums left_sums;
	int64_t spread_udb;

	if (leave_out(b, mask, &rest, &left) != 0 || budget_sums(&left, k, &left_sums) != 0 ||
	    db_from(k * sqrt(rest.variance), &spread_udb) != 0)
		return -1;
	bounds->low_udb = rest.typical_udb;
	bounds->high_udb = rest.worst_udb;
	bounds->left_least_udb = left_sums.least_udb;
	bounds->left_stat_udb = left_sums.stat_udb;
	return db_add(&bounds->low_udb, -spread_udb);
}

int
budget_bounds(
    const struct budget *b, enum budget_method method, double k, struct budget_bounds *bounds)
{
	/* what each method may leave out; two ways for two cords */
	static const unsigned masks[][2] = {
		[BUDGET_ONE_CORD] = { 0, 0 },
		[BUDGET_TWO_CORD] = { 1, 2 },
		[BUDGET_THREE_CORD] = { 3, 3 },
	};
	struct budget_bounds other;

	if (bounds_without(b, masks[method][0], k, bounds) != 0 ||
	    bounds_without(b, masks[method][1], k, &other) != 0)
		return -1;
	if (other.low_udb < bounds->low_udb)
		bounds->low_udb = other.low_udb;
	if (other.high_udb > bounds->high_udb)
		bounds->high_udb = other.high_udb;
	if (other.left_least_udb < bounds->left_least_udb)
		bounds->left_least_udb = other.left_least_udb;
	if (other.left_stat_udb > bounds->left_stat_udb)
		bounds->left_stat_udb = other.left_stat_udb;
	return 0;
}

static int64_t
lesser(int64_t a, int64_t b)
{
	if (a == DB_NONE || b == DB_NONE)
		return a == DB_NONE ? b : a;
	return a < b ? a : b;
}

/* The link's own, else the application's. */
static int64_t
first_known(int64_t own, int64_t application)
{
	return own != DB_NONE ? own : application;
}

void
budget_allowed(const struct budget_limits *l, const struct application *application,
    int64_t *allowed_udb, int64_t *lower_udb)
{
	static const struct application none = { .max_udb = DB_NONE,
		.min_udb = DB_NONE,
		.launch_max_udbm = DB_NONE,
		.receive_max_udbm = DB_NONE };
	const struct application *a = application != NULL ? application : &none;
	int64_t most_udb = lesser(l->max_udb, a->max_udb), least_udb = a->min_udb;
	int64_t launch_udbm = first_known(l->launch_max_udbm, a->launch_max_udbm);
	int64_t receive_udbm = first_known(l->receive_max_udbm, a->receive_max_udbm);

	if (l->launch_udbm != DB_NONE && l->sensitivity_udbm != DB_NONE)
		most_udb = lesser(most_udb, l->launch_udbm - l->sensitivity_udbm - l->penalty_udb);
	*allowed_udb = most_udb == DB_NONE ? DB_NONE : most_udb - l->reserve_udb;
	if (launch_udbm != DB_NONE && receive_udbm != DB_NONE)
		least_udb = launch_udbm - receive_udbm;
	*lower_udb = l->min_udb > least_udb ? l->min_udb : least_udb; /* DB_NONE is below all */
}
