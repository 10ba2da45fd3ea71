#include "fibre/joint_rule.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/num.h"
#include "base/stat.h"
#include "fibre/colour.h"

enum { LOW = 1 << RULE_LOW, HIGH = 1 << RULE_HIGH, WORDS = 1 << RULE_WORDS };

static const char default_order[] = "tia-598";

enum { FIBRES_A_TUBE = 12 };

/* --- colours --------------------------------------------------------------------------------- */

struct colour_rule {
	struct colour_order order;
	uint64_t tube; /* fibres it holds */
};

static int
prepare_colour(struct rules *rs, struct rule *r, struct table *t)
{
	struct colour_rule *made = mem_zeroed(1, sizeof *made);
	struct err err = { "" };

	(void)rs;
	r->made = made;
	made->tube = FIBRES_A_TUBE;
	if (r->nwords > 1)
		return table_fail(t, RULE_WORDS, "more than one colour order");
	if (colour_order_read(
		&made->order, r->nwords == 1 ? r->words[0] : field_of(default_order), &err) != 0)
		return table_fail(t, RULE_WORDS, err.text);
	if (isinf(r->high))
		return 0;
	if (r->high != floor(r->high) || r->high < 1 || r->high > COLOUR_POSITIONS_MOST)
		return table_fail(t, RULE_HIGH, "a tube holds 1 to 24 fibres");
	made->tube = (uint64_t)r->high;
	return 0;
}

static void
release_colour(struct rule *r)
{
	struct colour_rule *made = r->made;

	colour_order_free(&made->order);
	free(made);
}

static void
report_colour(struct rules *rs, const struct rule_check *c, uint64_t n, bool or_number)
{
	const struct colour_rule *made = c->rule->made;
	bool known;

	rs->wanted.n = 0;
	known = colour_add(&rs->wanted, &made->order, n);
	if (or_number)
		bytes_add_format(&rs->wanted, "%s%llu", known ? " or " : "", (unsigned long long)n);
	bytes_add(&rs->wanted, "", 1);
	rules_report(rs, c, 1, rules_cell(rs, c, 1), rs->wanted.p, NULL);
}

/* The number of a fibre in the check's first column, if its second one says something, else 0. */
static uint64_t
fibre_number(struct rules *rs, const struct rule_check *c)
{
	int64_t n;

	if (rules_cell(rs, c, 1).n == 0 || !rules_whole(rs, c, 0, &n))
		return 0;
	if (n >= 1)
		return (uint64_t)n;
	rules_report(rs, c, 0, rules_cell(rs, c, 0), "at least 1", "fibres are counted from 1");
	return 0;
}

static void
judge_colour(struct rules *rs, struct rule_check *c)
{
	const struct colour_rule *made = c->rule->made;
	uint64_t n = fibre_number(rs, c);

	if (n == 0)
		return;
	n = (n - 1) % made->tube + 1;
	/* where a tube holds more than the order has, the mark tells two of its fibres apart */
	if (made->tube > made->order.n ? colour_find(&made->order, rules_cell(rs, c, 1)) == n
				       : colour_is(&made->order, n, rules_cell(rs, c, 1)))
		return;
	report_colour(rs, c, n, false);
}

static void
judge_tube(struct rules *rs, struct rule_check *c)
{
	const struct colour_rule *made = c->rule->made;
	struct field given = rules_cell(rs, c, 1);
	uint64_t n = fibre_number(rs, c);
	int64_t number;

	if (n == 0)
		return;
	n = (n - 1) / made->tube + 1;
	if (num_whole(given, &number) == 0 ? number == (int64_t)n
					   : colour_is(&made->order, n, given))
		return;
	report_colour(rs, c, n, true);
}

/* --- fibres ---------------------------------------------------------------------------------- */

static struct field
number_at(const struct rules *rs, const struct rule_check *c, size_t i)
{
	return plan_number(rules_cell(rs, c, i));
}

/* Two fields that may be the same: a side that does not say where it runs to may be either. */
static bool
may_agree(struct field a, struct field b)
{
	return a.n == 0 || b.n == 0 || field_same(a, b);
}

static void
judge_not_itself(struct rules *rs, struct rule_check *c)
{
	enum { CABLE_A, FIBRE_A, TOWARD_A, CABLE_B, FIBRE_B, TOWARD_B };

	if (number_at(rs, c, CABLE_A).n == 0 || number_at(rs, c, FIBRE_A).n == 0)
		return;
	if (field_same(number_at(rs, c, CABLE_A), number_at(rs, c, CABLE_B)) &&
	    field_same(number_at(rs, c, FIBRE_A), number_at(rs, c, FIBRE_B)) &&
	    may_agree(rules_cell(rs, c, TOWARD_A), rules_cell(rs, c, TOWARD_B)))
		rules_report(rs, c, CABLE_B, rules_cells(rs, c, CABLE_B, 2), NULL, NULL);
}

/* an end of a fibre: numbers of c->ids, from 1; toward 0: not said */
struct end {
	uint32_t fibre, toward;
};

/* For each subject its ends; for each fibre, from the second half on, who has its two ends. */
struct fibre_memory {
	struct end end[2];
	struct {
		uint32_t joint, toward; /* joint from 1 */
	} has[2];
};

/* true if the present row is of the attempt that counts; *anew: its first */
static bool
counts(const struct rules *rs, bool *anew)
{
	const struct joint_rules *trade = rs->trade;

	*anew = trade == NULL || trade->is == NIGHT_NEWER;
	return trade == NULL || trade->of_row > 0;
}

static void
judge_fibre_once(struct rules *rs, struct rule_check *c)
{
	size_t joint = rules_subject(rs), most;
	struct fibre_memory *m;
	bool anew;

	if (joint == SIZE_MAX || !counts(rs, &anew))
		return;
	for (size_t side = 0; side < 2; side++) {
		struct field key[3] = { number_at(rs, c, 0), number_at(rs, c, 1 + 3 * side),
			number_at(rs, c, 2 + 3 * side) };
		struct field toward = rules_cell(rs, c, 3 + 3 * side);
		struct end end = { 0, 0 };

		if (key[0].n > 0 && key[1].n > 0 && key[2].n > 0) {
			end.fibre = (uint32_t)ids_add(&c->ids, key, 3, NULL) + 1;
			if (toward.n > 0)
				end.toward = (uint32_t)ids_add(&c->ids, &toward, 1, NULL) + 1;
		}
		most = end.fibre > end.toward ? end.fibre : end.toward;
		m = rules_memory(c, most > joint + 1 ? most : joint + 1, sizeof *m);
		if (anew || m[joint].end[side].fibre == 0)
			m[joint].end[side] = end;
	}
}

/* The joint, from 1, that has this end already; 0: none, it is the subject's now. */
static uint32_t
claim(struct fibre_memory *m, struct end end, size_t joint)
{
	for (int i = 0; i < 2; i++) {
		uint32_t owner = m[end.fibre - 1].has[i].joint,
			 toward = m[end.fibre - 1].has[i].toward;

		if (owner == 0) {
			m[end.fibre - 1].has[i].joint = (uint32_t)joint + 1;
			m[end.fibre - 1].has[i].toward = end.toward;
			return 0;
		}
		if (owner != joint + 1 && (toward == end.toward || toward == 0 || end.toward == 0))
			return owner;
	}
	return 0;
}

static void
end_fibre_once(struct rules *rs, struct rule_check *c, size_t joint)
{
	struct fibre_memory *m = c->memory;

	for (int side = 0; side < 2 && joint < c->cap; side++) {
		struct end end = m[joint].end[side];
		uint32_t owner = end.fibre > 0 ? claim(m, end, joint) : 0;
		struct field key, owner_name;

		if (owner == 0)
			continue;
		key = ids_key(&c->ids, end.fibre - 1);
		field_cut(&key, '\t');
		rs->found.n = 0;
		bytes_add_field(&rs->found, field_cut(&key, '\t'));
		bytes_add_text(&rs->found, " ");
		bytes_add_field(&rs->found, key);
		owner_name = ids_key(&rs->subjects, owner - 1);
		rs->wanted.n = 0;
		bytes_add_text(&rs->wanted, "not a fibre of joint ");
		bytes_add_field(&rs->wanted, owner_name);
		bytes_add(&rs->wanted, "", 1);
		rules_report_end_at(
		    rs, c, side == 0 ? 2 : 5, joint, bytes_field(&rs->found), rs->wanted.p);
	}
}

/* --- slots ----------------------------------------------------------------------------------- */

/* slot, ribbon: numbers of c->ids, from 1; of a slot, how many lie in it; of a ribbon, whether it does */
struct slot_memory {
	uint32_t slot, ribbon, lie;
};

static void
judge_slot_once(struct rules *rs, struct rule_check *c)
{
	struct field key[4] = { rules_cell(rs, c, 0), number_at(rs, c, 1), number_at(rs, c, 2) };
	struct slot_memory *m, here = { 0, 0, 0 };
	size_t joint = rules_subject(rs), most;
	bool anew;

	if (joint == SIZE_MAX || !counts(rs, &anew) || !anew)
		return;
	if (key[0].n > 0 && key[1].n > 0 && key[2].n > 0) {
		here.slot = (uint32_t)ids_add(&c->ids, key, 3, NULL) + 1;
		key[3] = rules_cell(rs, c, rules_cell(rs, c, 3).n > 0 ? 3 : 4);
		if (key[3].n > 0)
			here.ribbon = (uint32_t)ids_add(&c->ids, key, 4, NULL) + 1;
	}
	most = here.slot > here.ribbon ? here.slot : here.ribbon;
	m = rules_memory(c, most > joint + 1 ? most : joint + 1, sizeof *m);
	m[joint].slot = here.slot;
	m[joint].ribbon = here.ribbon;
}

static void
end_slot_once(struct rules *rs, struct rule_check *c, size_t joint)
{
	struct slot_memory *m = c->memory, *here;
	double most = isinf(c->rule->high) ? 1 : c->rule->high;
	struct field key;
	char wanted[60];

	if (joint >= c->cap || m[joint].slot == 0)
		return;
	here = &m[joint];
	if (here->ribbon > 0 && m[here->ribbon - 1].lie++ > 0)
		return;
	if (++m[here->slot - 1].lie <= most)
		return;
	key = ids_key(&c->ids, here->slot - 1);
	field_cut(&key, '\t');
	rs->found.n = 0;
	bytes_add_field(&rs->found, field_cut(&key, '\t'));
	bytes_add_text(&rs->found, " ");
	bytes_add_field(&rs->found, key);
	snprintf(wanted, sizeof wanted, "at most %g, or one ribbon", most);
	rules_report_end_at(rs, c, 2, joint, bytes_field(&rs->found), wanted);
}

/* --- attempts -------------------------------------------------------------------------------- */

enum { ATTEMPTS_MOST = 64 };

/* A bit for each number seen; all of them once there was a row whose number is not known. */
static void
judge_attempts(struct rules *rs, struct rule_check *c)
{
	size_t joint = rules_subject(rs);
	uint64_t *seen;
	int64_t n;

	if (joint == SIZE_MAX)
		return;
	seen = rules_memory(c, joint + 1, sizeof *seen);
	if (rules_whole(rs, c, 0, &n) && n >= 1 && n <= ATTEMPTS_MOST)
		seen[joint] |= (uint64_t)1 << (n - 1);
	else
		seen[joint] = UINT64_MAX;
}

static void
end_attempts(struct rules *rs, struct rule_check *c, size_t joint)
{
	const uint64_t *seen = c->memory;
	uint64_t numbers = joint < c->cap ? seen[joint] : 0;
	char wanted[40];
	int last = 0;

	if ((numbers & (numbers + 1)) == 0)
		return;
	rs->found.n = 0;
	for (int i = 0; i < ATTEMPTS_MOST; i++)
		if (numbers >> i & 1) {
			bytes_add_format(&rs->found, "%s%d", rs->found.n > 0 ? " " : "", i + 1);
			last = i + 1;
		}
	snprintf(wanted, sizeof wanted, "all of 1 to %d", last);
	rules_report_end(rs, c, joint, bytes_field(&rs->found), wanted);
}

/* A joint's attempts of one shift: a bit for each that stands, 0 for those without a number. */
struct shift_memory {
	uint64_t stand;
	uint32_t shift,
	    next; /* next: place in the memory, from 1, of another shift of this joint */
	bool judged, spoilt;
};

static unsigned
bits(uint64_t x)
{
	unsigned n = 0;

	for (; x > 0; x &= x - 1)
		n++;
	return n;
}

/* The memory of the joint and the present row's shift: subjects' places first, others behind them. */
static struct shift_memory *
shift_of(struct rules *rs, struct rule_check *c, size_t joint)
{
	struct field key[2] = { ids_key(&rs->subjects, joint), rules_cell(rs, c, 2) };
	size_t id = ids_add(&c->ids, key, 2, NULL), at;
	struct shift_memory *m;
	bool fresh;

	/* ids of joints alone and of joints with shifts are numbered together */
	at = ids_add(&c->ids, key, 1, &fresh);
	m = rules_memory(c, (id > at ? id : at) + 1, sizeof *m);
	if (!m[id].judged) {
		m[id].judged = true;
		m[id].next = m[at].next;
		m[at].next = (uint32_t)id + 1;
	}
	return &m[id];
}

static void
judge_one_stands(struct rules *rs, struct rule_check *c)
{
	struct field stands = rules_cell(rs, c, 0);
	size_t joint = rules_subject(rs);
	struct shift_memory *m;
	int64_t n;

	if (joint == SIZE_MAX)
		return;
	m = shift_of(rs, c, joint);
	if (stands.n > 0 && !field_is(stands, "yes") && !field_is(stands, "no"))
		m->spoilt = true;
	else if (field_is(stands, "no"))
		return;
	else if (num_whole(rules_cell(rs, c, 1), &n) == 0 && n >= 1 && n < ATTEMPTS_MOST)
		m->stand |= (uint64_t)1 << n;
	else
		m->stand |= 1;
}

static void
end_one_stands(struct rules *rs, struct rule_check *c, size_t joint)
{
	struct field name = ids_key(&rs->subjects, joint);
	const struct shift_memory *m = c->memory;
	size_t at = ids_find_one(&c->ids, name);
	char found[40];

	if (at == SIZE_MAX || at >= c->cap)
		return;
	for (uint32_t i = m[at].next; i > 0; i = m[i - 1].next) {
		unsigned n = bits(m[i - 1].stand);

		if (m[i - 1].spoilt || n == 1)
			continue;
		snprintf(found, sizeof found, "%u", n);
		rules_report_end(rs, c, joint, field_of(found), c->rule->wanted);
	}
}

static void
read_attempt(const struct rules *rs, struct night_attempt *a)
{
	const struct joint_rules *trade = rs->trade;

	a->attempt = table_field(rs->table, (int)trade->attempt);
	a->shift = table_field(rs->table, (int)trade->shift);
	a->timed = when_parse(table_field(rs->table, (int)trade->made_at), &a->made) == 0;
}

static void
judge_last_stands(struct rules *rs, struct rule_check *c)
{
	struct joint_rules *trade = rs->trade;
	size_t joint = rules_subject(rs);
	struct night_attempt a;

	if (trade == NULL || joint == SIZE_MAX || !field_is(rules_cell(rs, c, 0), "no"))
		return;
	read_attempt(rs, &a);
	night_add_undone(&trade->undone, joint, &a);
}

static void
end_last_stands(struct rules *rs, struct rule_check *c, size_t joint)
{
	const struct joint_rules *trade = rs->trade;

	if (trade == NULL || !night_later(&trade->undone, joint, &trade->night, joint))
		return;
	rs->found.n = 0;
	bytes_add_text(&rs->found, "no");
	if (night_number(&trade->undone, joint).n > 0)
		bytes_add_text(&rs->found, " in attempt ");
	bytes_add_field(&rs->found, night_number(&trade->undone, joint));
	rules_report_end(rs, c, joint, bytes_field(&rs->found), c->rule->wanted);
}

/* FNV-1a, 64 bits: G. Fowler, L. C. Noll, K.-P. Vo; from memory */
static uint64_t
add_hash(uint64_t hash, struct field f)
{
	for (size_t i = 0; i < f.n; i++)
		hash = (hash ^ (unsigned char)f.p[i]) * 0x100000001b3;
	return (hash ^ '\t') * 0x100000001b3;
}

static void
judge_agree(struct rules *rs, struct rule_check *c)
{
	struct field key[3] = { { "", 0 }, rules_cell(rs, c, 0), rules_cell(rs, c, 1) };
	size_t joint = rules_subject(rs), id;
	uint64_t hash = 0xcbf29ce484222325, *seen;
	bool fresh;

	if (joint == SIZE_MAX)
		return;
	key[0] = ids_key(&rs->subjects, joint);
	for (size_t i = 2; i < c->n; i++)
		hash = add_hash(hash, rules_cell(rs, c, i));
	id = ids_add(&c->ids, key, 3, &fresh);
	seen = rules_memory(c, id + 1, sizeof *seen);
	if (fresh)
		seen[id] = hash;
	if (seen[id] != hash)
		rules_report(rs, c, 0, key[1], NULL, NULL);
}

/* Who had these values first: a joint and one of its attempts. */
static void
judge_copied(struct rules *rs, struct rule_check *c)
{
	struct field key[RULE_COLUMNS_MOST];
	size_t joint = rules_subject(rs), id;
	uint32_t *owner;
	bool fresh;

	for (size_t i = 0; i < c->n; i++) {
		key[i] = rules_cell(rs, c, i);
		if (!rules_cell_is_enough(rs, c, i))
			return;
	}
	if (joint == SIZE_MAX)
		return;
	id = ids_add(&c->ids, key, c->n, &fresh);
	owner = rules_memory(c, id + 1, sizeof *owner);
	if (fresh)
		owner[id] = (uint32_t)joint;
	if (owner[id] == joint)
		return;
	rs->wanted.n = 0;
	bytes_add_text(&rs->wanted, "not those of joint ");
	bytes_add_field(&rs->wanted, ids_key(&rs->subjects, owner[id]));
	bytes_add(&rs->wanted, "", 1);
	rules_report(rs, c, 0, rules_cells(rs, c, 0, c->n), rs->wanted.p, NULL);
}

static void
judge_step(struct rules *rs, struct rule_check *c)
{
	struct field a = rules_cell(rs, c, 2), b = rules_cell(rs, c, 3);
	int64_t ab_udb, ba_udb;

	if (a.n == 0 || !field_same(a, b) || db_parse(rules_cell(rs, c, 0), &ab_udb) != 0 ||
	    db_parse(rules_cell(rs, c, 1), &ba_udb) != 0)
		return;
	if (fabs(db_to(ab_udb) - db_to(ba_udb)) / 2 > c->rule->high + 1e-9)
		rules_report(rs, c, 0, rules_cells(rs, c, 0, 2), NULL, NULL);
}

static int
prepare_step(struct rules *rs, struct rule *r, struct table *t)
{
	(void)t;
	r->wanted = rules_text(rs, "half the difference %s", rules_range(rs, r, ""));
	return 0;
}

/* --- limits ---------------------------------------------------------------------------------- */

enum {
	LOSS,
	LOSS_AB,
	LOSS_BA,
	EST,
	NM,
	CLOSURE,
	KIND,
	RIBBON_A,
	RIBBON_B,
	ACCEPT,
	WITH,
	LIMIT_COLUMNS
};

/* What is best known of the row's loss, in which column, up to `last`; JOINT_UNKNOWN: nothing. */
static enum joint_basis
best_loss(const struct rules *rs, const struct rule_check *c, size_t last, int64_t *loss_udb,
    size_t *column)
{
	int64_t x[EST + 1];
	bool has[EST + 1] = { false };

	for (size_t i = LOSS; i <= last; i++)
		has[i] = db_parse(rules_cell(rs, c, i), &x[i]) == 0 &&
			 x[i] < JOINT_MOST_DB * (int64_t)DB_ONE;
	*column = has[LOSS] ? LOSS : has[LOSS_AB] ? LOSS_AB : has[LOSS_BA] ? LOSS_BA : EST;
	*loss_udb = has[*column] ? x[*column] : 0;
	if (!has[*column])
		return JOINT_UNKNOWN;
	if (*column == EST)
		return JOINT_ESTIMATE;
	if (*column == LOSS_AB && has[LOSS_BA])
		*loss_udb = mean_of((int128)x[LOSS_AB] + x[LOSS_BA], 2);
	return has[LOSS_AB] == has[LOSS_BA] ? JOINT_TWO_WAY : JOINT_ONE_WAY;
}

/* What is enough to judge the row; accept: its own field. */
static enum joint_basis
accepted(const struct joint_rules *trade, struct field accept)
{
	enum joint_basis is = trade != NULL ? trade->accept : JOINT_TWO_WAY;

	if (field_is(accept, "estimate"))
		return JOINT_ESTIMATE;
	return field_is(accept, "one-way") && is < JOINT_ONE_WAY ? JOINT_ONE_WAY : is;
}

static int
prepare_gain(struct rules *rs, struct rule *r, struct table *t)
{
	(void)t;
	r->wanted = rules_range(rs, r, "");
	return 0;
}

static void
judge_gain(struct rules *rs, struct rule_check *c)
{
	enum { GAIN_ACCEPT = LOSS_BA + 1 };
	int64_t loss_udb;
	size_t column;
	enum joint_basis basis = best_loss(rs, c, LOSS_BA, &loss_udb, &column);

	if (basis == JOINT_UNKNOWN || db_to(loss_udb) >= c->rule->low - 1e-9)
		return;
	/* one reading alone may be far below zero where the fibres differ */
	if (column != LOSS && basis > accepted(rs->trade, rules_cell(rs, c, GAIN_ACCEPT)))
		return;
	rules_report(rs, c, column,
	    column == LOSS_AB && basis == JOINT_TWO_WAY ? rules_cells(rs, c, LOSS_AB, 2)
							: rules_cell(rs, c, column),
	    NULL, NULL);
}

static void
judge_limit(struct rules *rs, struct rule_check *c)
{
	const struct joint_rules *trade = rs->trade;
	struct limit_case is = { .closure = rules_cell(rs, c, CLOSURE),
		.kind = rules_cell(rs, c, KIND),
		.ribbon = rules_cell(rs, c, RIBBON_A).n > 0 || rules_cell(rs, c, RIBBON_B).n > 0 };
	char text[DB_FIXED], wanted[60];
	struct limit limit;
	int64_t loss_udb;
	size_t column;

	is.basis = best_loss(rs, c, EST, &loss_udb, &column);
	if (trade == NULL || trade->limits == NULL || is.basis == JOINT_UNKNOWN)
		return;
	num_parse(rules_cell(rs, c, NM), &is.nm);
	is.accept = accepted(trade, rules_cell(rs, c, ACCEPT));
	is.planned_udb = DB_NONE;
	if (trade->planned != NULL)
		limit_plan(&is, trade->planned);
	limit_shared(trade->limits, &is, column < EST ? rules_cell(rs, c, WITH) : field_of(""),
	    trade->plan, &limit);
	if (!limit.accepted || limit.each_udb == DB_NONE || loss_udb <= limit.each_udb)
		return;
	snprintf(
	    wanted, sizeof wanted, "at most %.*s", (int)db_fixed(text, limit.each_udb, 3), text);
	rules_report(rs, c, column, rules_cell(rs, c, column), wanted, NULL);
}

/* --- nights ---------------------------------------------------------------------------------- */

void
joint_rules_start(struct joint_rules *trade, struct rules *rs)
{
	*trade = (struct joint_rules){ .night = NIGHT_NONE, .undone = NIGHT_NONE };
	trade->attempt = rules_reads(rs, "attempt");
	trade->shift = rules_reads(rs, "shift");
	trade->stands = rules_reads(rs, "stands");
	trade->made_at = rules_reads(rs, "made_at");
	for (size_t i = 0; i < rs->n; i++)
		trade->needed |= rs->rules[i].level != RULE_OFF &&
				 (rs->rules[i].standing || rs->rules[i].kind->end != NULL);
	rs->trade = trade;
}

void
joint_rules_row(struct rules *rs)
{
	struct joint_rules *trade = rs->trade;
	struct night_attempt a;
	size_t joint, before = trade->cap;

	trade->of_row = 0;
	trade->is = NIGHT_OLDER;
	if (!trade->needed)
		return;
	if (rs->table->row.fault != ROW_FINE ||
	    field_is(table_field(rs->table, (int)trade->stands), "no"))
		return;
	joint = rules_subject(rs);
	trade->is = NIGHT_NEWER;
	if (joint == SIZE_MAX)
		return;
	read_attempt(rs, &a);
	trade->is = night_add(&trade->night, joint, &a);
	trade->attempts = mem_grow(trade->attempts, &trade->cap, joint + 1, sizeof(uint32_t));
	memset(trade->attempts + before, 0, (trade->cap - before) * sizeof(uint32_t));
	if (trade->is == NIGHT_NEWER)
		trade->attempts[joint]++;
	if (trade->is != NIGHT_OLDER)
		trade->of_row = trade->attempts[joint];
}

bool
joint_rules_counts(const struct joint_rules *trade, size_t subject, uint32_t of_row)
{
	return subject >= trade->cap || trade->attempts[subject] == of_row;
}

void
joint_rules_free(struct joint_rules *trade)
{
	night_free(&trade->night);
	night_free(&trade->undone);
	free(trade->attempts);
}

const struct rule_kind joint_rule_kinds[] = {
	{ "colour", 2, .takes = HIGH | WORDS, .wanted = "the colour of this fibre",
	    .prepare = prepare_colour, .release = release_colour, .judge = judge_colour },
	{ "tube", 2, .takes = HIGH | WORDS, .wanted = "the tube of this fibre",
	    .prepare = prepare_colour, .release = release_colour, .judge = judge_tube },
	{ "not-itself", 6, .wanted = "another fibre", .judge = judge_not_itself },
	{ "fibre-once", 7, .wanted = "in one joint only", .judge = judge_fibre_once,
	    .end = end_fibre_once },
	{ "slot-once", 5, .takes = HIGH, .judge = judge_slot_once, .end = end_slot_once,
	    .wanted = "a slot of its own" },
	{ "attempts", 1, .wanted = "numbers without a hole", .judge = judge_attempts,
	    .end = end_attempts },
	{ "one-stands", 3, .wanted = "1", .judge = judge_one_stands, .end = end_one_stands },
	{ "last-stands", 1, .wanted = "yes", .judge = judge_last_stands, .end = end_last_stands },
	{ "agree", .least = 3, .wanted = "the same in all rows of an attempt",
	    .judge = judge_agree },
	{ "copied", .least = 2, .wanted = "in one joint only", .judge = judge_copied },
	{ "limit", LIMIT_COLUMNS, .wanted = "within its limit", .judge = judge_limit },
	{ "gain", 4, .takes = LOW, .needs = LOW, .prepare = prepare_gain, .judge = judge_gain },
	{ "step", 4, .takes = HIGH, .needs = HIGH, .prepare = prepare_step, .judge = judge_step },
	{ NULL },
};
