#include "fibre/latest.h"

#include <stdlib.h>

#include "base/mem.h"
#include "fibre/night.h"

const struct col latest_cols[] = {
	[LATEST_JOINT] = { "joint", COL_MAY, COL_TEXT },
	[LATEST_ATTEMPT] = { "attempt", COL_MAY, COL_WHOLE },
	[LATEST_STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },
	[LATEST_MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	[LATEST_SHIFT] = { "shift", COL_MAY, COL_TEXT },
	[LATEST_LOSS_NM] = { "loss_nm", COL_MAY, COL_NUM },
	{ NULL },
};

int
latest_open(struct latest *l, struct table *t)
{
	if (!table_has(t, LATEST_JOINT))
		return reader_need(t->reader, field_of(t->cols[LATEST_JOINT].name));
	for (int i = 0; i < LATEST_COLUMNS; i++)
		l->at[i] = table_has(t, i) ? (size_t)t->at[i] : SIZE_MAX;
	return 0;
}

void
latest_pack(struct latest *l)
{
	l->pack++;
}

static struct field
get(const struct latest *l, struct field row, int column)
{
	return l->at[column] != SIZE_MAX ? pick_field(row, l->at[column]) : (struct field){ "", 0 };
}

static int
does_stand(const struct latest *l, struct field row, struct err *err)
{
	struct field stands = get(l, row, LATEST_STANDS), joint = get(l, row, LATEST_JOINT);
	char shown[ERR_SHOWN], whose[ERR_SHOWN];

	if (stands.n == 0 || field_is(stands, "yes"))
		return 1;
	if (field_is(stands, "no"))
		return 0;
	return err_set(err, "joint '%s': column 'stands': neither yes nor no: '%s'",
	    err_show(whose, joint.p, joint.n), err_show(shown, stands.p, stands.n));
}

/* below, equal to or above 0 as record a is before, the same time as, or after b, if that is known */
static int
compare_made(const struct latest_record *a, const struct latest_record *b)
{
	return a->timed && b->timed ? when_local_order(&a->made, &b->made) : 0;
}

static struct field
text_of(const struct latest *l, size_t i)
{
	return bytes_field(&l->texts[i].text);
}

/* Adds a row to its record: in the place of one read at the same wavelength, or behind all. */
static void
add_row(struct latest *l, struct latest_record *r, struct field row)
{
	struct field nm = get(l, row, LATEST_LOSS_NM);
	size_t at = r->first, n = 0, last = SIZE_MAX;

	for (; n < r->n && !field_same(nm, get(l, text_of(l, at), LATEST_LOSS_NM)); n++) {
		last = at;
		at = l->texts[at].next;
	}
	r->n += n == r->n;
	if (at == SIZE_MAX) { /* an older record has left no room to be used again */
		at = l->ntexts++;
		l->texts = mem_grow(l->texts, &l->cap_texts, l->ntexts, sizeof *l->texts);
		l->texts[at] = (struct latest_row){ { NULL, 0, 0 }, SIZE_MAX };
		*(last != SIZE_MAX ? &l->texts[last].next : &r->first) = at;
	}
	l->texts[at].text.n = 0;
	bytes_add_field(&l->texts[at].text, row);
}

int
latest_add(struct latest *l, struct field row, struct err *err)
{
	struct field key[2] = { get(l, row, LATEST_JOINT), get(l, row, LATEST_ATTEMPT) };
	struct field shift = get(l, row, LATEST_SHIFT);
	int stands = does_stand(l, row, err);
	struct latest_record now = { .timed = false }, *r;
	bool fresh, same;
	size_t i;

	if (stands < 0)
		return -1;
	now.timed = when_parse(get(l, row, LATEST_MADE_AT), &now.made) == 0;
	i = ids_add(&l->attempts, key, 2, &fresh);
	l->records = mem_grow(l->records, &l->cap, i + 1, sizeof *l->records);
	r = &l->records[i];
	if (fresh)
		*r = (struct latest_record){ .joint = ids_add(&l->joints, key, 1, NULL),
			.first = SIZE_MAX };
	l->rows++;
	if (!fresh && compare_made(&now, r) < 0)
		return 0;
	same = !fresh && l->pack == r->pack && compare_made(&now, r) == 0 &&
	       (shift.n == 0 || r->shift.n == 0 || field_same(shift, bytes_field(&r->shift)));
	if (!same) {
		r->n = 0;
		r->pack = l->pack;
		r->order = l->rows;
		r->timed = false;
		r->shift.n = 0;
		bytes_add_field(&r->shift, shift);
	}
	if (!r->timed) {
		r->timed = now.timed;
		r->made = now.made;
	}
	r->stands = stands == 1;
	add_row(l, r, row);
	return 0;
}

/* For each joint the latest record that stands, or that does not; SIZE_MAX: there is none. */
static size_t *
choose(const struct latest *l, bool stands)
{
	size_t *chosen = mem_zeroed(l->joints.n, sizeof *chosen);

	for (size_t i = 0; i < l->joints.n; i++)
		chosen[i] = SIZE_MAX;
	for (size_t i = 0; i < l->attempts.n; i++) {
		const struct latest_record *r = &l->records[i], *best;
		size_t *now = &chosen[r->joint];
		int order;

		if (r->stands != stands)
			continue;
		best = *now != SIZE_MAX ? &l->records[*now] : r;
		order = compare_made(r, best);
		if (order > 0 || (order == 0 && r->order >= best->order))
			*now = i;
	}
	return chosen;
}

static struct night_attempt
attempt_of(const struct latest *l, size_t record)
{
	const struct latest_record *r = &l->records[record];
	struct field row = text_of(l, r->first);
	struct night_attempt a = { get(l, row, LATEST_ATTEMPT), bytes_field(&r->shift) };

	a.timed = when_parse(get(l, row, LATEST_MADE_AT), &a.made) == 0;
	return a;
}

/* Whether an attempt that does not stand came after the one that does: somebody cut that for it. */
static bool
is_cut(const struct latest *l, size_t undone, size_t chosen)
{
	struct night_attempt after = attempt_of(l, undone), before = attempt_of(l, chosen);

	return night_after(&after, &before);
}

static void
write_record(
    const struct latest *l, const struct latest_record *r, struct pick *pick, struct writer *out)
{
	bool read = false;
	size_t at = r->first;

	for (size_t i = 0; i < r->n; i++, at = l->texts[at].next)
		read |= get(l, text_of(l, at), LATEST_LOSS_NM).n > 0;
	at = r->first;
	for (size_t i = 0; i < r->n; i++, at = l->texts[at].next) {
		struct field row = text_of(l, at);

		if ((read && get(l, row, LATEST_LOSS_NM).n == 0) || !pick_meets(pick, row))
			continue;
		writer_bytes(out, row.p, row.n);
		writer_bytes(out, "\n", 1);
	}
}

void
latest_write(struct latest *l, struct pick *pick, struct writer *out)
{
	size_t *chosen = choose(l, true), *undone = choose(l, false);

	for (size_t i = 0; i < l->joints.n; i++) {
		if (chosen[i] == SIZE_MAX)
			continue;
		write_record(l, &l->records[chosen[i]], pick, out);
		if (undone[i] != SIZE_MAX && is_cut(l, undone[i], chosen[i]))
			write_record(l, &l->records[undone[i]], pick, out);
	}
	free(chosen);
	free(undone);
}

void
latest_free(struct latest *l)
{
	for (size_t i = 0; i < l->attempts.n; i++)
		bytes_free(&l->records[i].shift);
	for (size_t i = 0; i < l->ntexts; i++)
		bytes_free(&l->texts[i].text);
	free(l->texts);
	free(l->records);
	ids_free(&l->joints);
	ids_free(&l->attempts);
}
