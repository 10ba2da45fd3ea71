#include "readings/fill.h"

#include <math.h>
#include <stdlib.h>

#include "fibre/joint.h"
#include "fibre/wavelengths.h"

enum {
	JOINT,
	ATTEMPT,
	STANDS,
	SHIFT,
	MADE_AT,
	NM,
	AB,
	BA,
	LOSS,
	WITH,
	ACCEPT,
	NM_OUT,
	AB_OUT,
	BA_OUT,
	LOSS_OUT,
	WITH_OUT,
	ACCEPT_OUT
};

const struct col fill_cols[] = {
	[JOINT] = { "joint", COL_NEED, COL_TEXT },
	[ATTEMPT] = { "attempt", COL_MAY, COL_WHOLE, 1, 1e9 },
	[SHIFT] = { "shift", COL_MAY, COL_TEXT },
	[STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },
	[MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	[NM] = { "loss_nm", COL_MAY, COL_NUM, 600, 1700 },
	[AB] = { "loss_ab_db", COL_MAY, COL_DB },
	[BA] = { "loss_ba_db", COL_MAY, COL_DB },
	[LOSS] = { "loss_db", COL_MAY, COL_DB },
	[WITH] = { "loss_with", COL_MAY, COL_TEXT },
	[ACCEPT] = { "accept", COL_MAY, COL_TEXT },
	[NM_OUT] = { "loss_nm", COL_OUT, COL_TEXT },
	[AB_OUT] = { "loss_ab_db", COL_OUT, COL_DB, .places = 6 },
	[BA_OUT] = { "loss_ba_db", COL_OUT, COL_DB, .places = 6 },
	[LOSS_OUT] = { "loss_db", COL_OUT, COL_DB, .places = 6 },
	[WITH_OUT] = { "loss_with", COL_OUT, COL_TEXT },
	[ACCEPT_OUT] = { "accept", COL_OUT, COL_TEXT },
	{ NULL },
};
const int fill_key[] = { JOINT, -1 };

/* Losses nearer than this are the same, rounded differently. */
enum { SAME_UDB = DB_ONE / 1000 };

void
fill_add(struct fills *f, const struct fill *one)
{
	uint32_t *at;

	f->first = mem_grow(f->first, &f->first_cap, one->joint + (size_t)1, sizeof *f->first);
	while (f->first_n <= one->joint)
		f->first[f->first_n++] = HOLD_NO_TEXT;
	f->v = mem_grow(f->v, &f->cap, f->n + 1, sizeof *f->v);
	for (at = &f->first[one->joint]; *at != HOLD_NO_TEXT && f->v[*at].nm < one->nm;)
		at = &f->v[*at].next;
	if (*at == HOLD_NO_TEXT || f->v[*at].nm != one->nm) {
		f->v[f->n] = *one;
		f->v[f->n].next = *at;
		*at = (uint32_t)f->n++;
	} else if (f->v[*at].loss_udb == DB_NONE && one->loss_udb != DB_NONE) {
		uint32_t next = f->v[*at].next;

		f->v[*at] = *one;
		f->v[*at].next = next;
	}
}

/* --- the record ------------------------------------------------------------------------------- */

static bool
stands(struct table *t)
{
	int word = 0;

	get_word(t, STANDS, &word);
	return word == 0;
}

int
fill_start(struct fills *f, const struct table *joints)
{
	struct table t = *joints;
	struct night_attempt a;
	struct field name;
	int64_t number;

	for (size_t i = 0; i < table_rows(&t); i++) {
		table_at(&t, i);
		if (!stands(&t) || !get_text(&t, JOINT, &name))
			continue;
		get_whole(&t, ATTEMPT, &number); /* anything else is trouble */
		a = night_read(&t, ATTEMPT, SHIFT, MADE_AT);
		night_add(&f->night, night_joint(&f->night, &name, 1), &a);
	}
	return err_is_set(t.err) ? -1 : 0;
}

bool
fill_made(const struct fills *f, struct field joint, struct when *made)
{
	return night_made(&f->night, ids_find_one(&f->night.joints, joint), made);
}

/* Whether the present row is one of the attempt that counts. */
static bool
counts(const struct fills *f, struct table *t)
{
	struct night_attempt a = night_read(t, ATTEMPT, SHIFT, MADE_AT);

	return stands(t) &&
	       night_counts(&f->night, ids_find_one(&f->night.joints, table_field(t, JOINT)), &a);
}

static bool
has_loss(const struct table *t)
{
	struct field f;

	return get_text(t, AB, &f) || get_text(t, BA, &f) || get_text(t, LOSS, &f);
}

/* the rows of the attempt that counts: the last, and one for any wavelength; SIZE_MAX: none */
struct record {
	size_t last, plain;
};

/* Looks at all rows of the joint whose first row is the present one of *t, a copy. */
static struct record
look(const struct fills *f, struct table t)
{
	struct record is = { SIZE_MAX, SIZE_MAX };
	struct field nm;

	do {
		if (!counts(f, &t))
			continue;
		is.last = table_place(&t);
		if (is.plain == SIZE_MAX && !get_text(&t, NM, &nm) && !has_loss(&t))
			is.plain = is.last;
	} while (table_find_next(&t));
	return is;
}

/* Whether the attempt has a row at this wavelength; *t is a copy at the joint's first row. */
static bool
has_row(const struct fills *f, struct table t, float nm)
{
	double is;

	do
		if (counts(f, &t) && get_num(&t, NM, &is) && (float)is == nm)
			return true;
	while (table_find_next(&t));
	return false;
}

static void
check_same(struct fills *f, struct table *t, const struct fill *x)
{
	char found[DB_FIXED], wanted[DB_FIXED + 1];
	int64_t loss_udb;

	if (!joint_reading(t, LOSS, &loss_udb) || x->loss_udb == DB_NONE ||
	    (loss_udb > x->loss_udb ? loss_udb - x->loss_udb : x->loss_udb - loss_udb) <= SAME_UDB)
		return;
	wanted[db_fixed(wanted, x->loss_udb, 3)] = '\0';
	found_reading(f->found,
	    &(struct found_row){ .rule = FOUND_LOSS_DIFFERS,
		.file = t->row.file,
		.line = t->row.line,
		.joint = table_field(t, JOINT),
		.nm = (double)x->nm,
		.km = NAN,
		.found = { found, db_fixed(found, loss_udb, 3) },
		.wanted = wanted,
		.says = "the record has another loss than the readings: what stood there stays" });
}

/* Puts what stands there, or else what is known. fresh: a row of another wavelength, with no own losses. */
static void
put(struct fills *f, struct sheet *out, struct table *t, const struct fill *x, bool fresh)
{
	static const int of[] = { AB, BA, LOSS };
	int64_t known[] = { x->ab_udb, x->ba_udb, x->loss_udb };
	char nm[WAVELENGTHS_TEXT];
	bool own = !fresh && has_loss(t);
	struct field text;

	put_text(out, NM_OUT, wavelengths_text(nm, (double)x->nm));
	for (int i = 0; i < 3; i++)
		if (!fresh && get_text(t, of[i], &text))
			put_text(out, of[i] - AB + AB_OUT, text);
		else
			put_db(out, of[i] - AB + AB_OUT, known[i]);
	if (!fresh && get_text(t, WITH, &text))
		put_text(out, WITH_OUT, text);
	else if (x->with != HOLD_NO_TEXT && !own)
		put_text(out, WITH_OUT, ids_key(&f->with, x->with));
	if (get_text(t, ACCEPT, &text))
		put_text(out, ACCEPT_OUT, text);
	else if (x->one_way && x->loss_udb == DB_NONE)
		put_text(out, ACCEPT_OUT, field_of("one-way"));
	sheet_row(out);
}

/* A row for which nothing new is known, as it was. */
static void
put_as_was(struct sheet *out, struct table *t)
{
	for (int c = NM; c <= ACCEPT; c++)
		put_text(out, c - NM + NM_OUT, table_field(t, c));
	sheet_row(out);
}

static void
write_row(struct fills *f, struct sheet *out, struct table *t, uint32_t first)
{
	struct field name = table_field(t, JOINT);
	uint32_t plain = HOLD_NO_TEXT, i,
		 here = HOLD_NO_TEXT; /* what the row of no wavelength gets */
	struct table joint = *t;
	struct record is;
	double nm = 0;

	table_find(&joint, &name);
	is = look(f, joint);
	if (is.plain != SIZE_MAX)
		for (plain = first; plain != HOLD_NO_TEXT; plain = f->v[plain].next)
			if (!has_row(f, joint, f->v[plain].nm))
				break;
	if (get_num(t, NM, &nm) && counts(f, t))
		for (here = first; here != HOLD_NO_TEXT && f->v[here].nm != (float)nm;)
			here = f->v[here].next;
	else if (table_place(t) == is.plain)
		here = plain;
	if (here != HOLD_NO_TEXT) {
		check_same(f, t, &f->v[here]);
		put(f, out, t, &f->v[here], false);
	} else {
		put_as_was(out, t);
	}
	if (table_place(t) != is.last)
		return;
	for (i = first; i != HOLD_NO_TEXT; i = f->v[i].next)
		if (i != plain && !has_row(f, joint, f->v[i].nm))
			put(f, out, t, &f->v[i], true);
}

int
fill_write(struct fills *f, const struct ids *joint_names, struct table *joints, struct writer *out)
{
	struct sheet sheet;
	struct field name;

	sheet_open(&sheet, fill_cols, joints, field_of(""), out);
	sheet_head(&sheet);
	while (table_next(joints)) {
		size_t id =
		    get_text(joints, JOINT, &name) ? ids_find_one(joint_names, name) : SIZE_MAX;

		if (id < f->first_n && f->first[id] != HOLD_NO_TEXT)
			write_row(f, &sheet, joints, f->first[id]);
		else
			put_as_was(&sheet, joints);
	}
	sheet_free(&sheet);
	return err_is_set(joints->err) ? -1 : 0;
}

void
fill_free(struct fills *f)
{
	night_free(&f->night);
	ids_free(&f->with);
	free(f->v);
	free(f->first);
}
