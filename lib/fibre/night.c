#include "fibre/night.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/num.h"

struct night_standing {
	int64_t seconds;
	/* numbers of `texts`, from 1; shift 0: not known; attempt 0: no row yet */
	uint32_t attempt, shift;
	int32_t nanos;
	int16_t ahead_min;
	uint8_t timed : 1, zoned : 1, date_only : 1;
};

struct night_attempt
night_read(struct table *t, int attempt, int shift, int made_at)
{
	struct night_attempt a = { table_field(t, attempt), table_field(t, shift) };

	a.timed = get_time(t, made_at, &a.made);
	return a;
}

size_t
night_joint(struct night *n, const struct field *key, size_t nfields)
{
	return ids_add(&n->joints, key, nfields, NULL);
}

static uint32_t
text(struct night *n, struct field f)
{
	return (uint32_t)ids_add(&n->texts, &f, 1, NULL) + 1;
}

static void
set_time(struct night_standing *s, const struct night_attempt *a)
{
	if (!a->timed)
		return;
	s->timed = true;
	s->seconds = a->made.seconds;
	s->nanos = a->made.nanos;
	s->ahead_min = a->made.ahead_min;
	s->date_only = a->made.date_only;
	s->zoned = a->made.has_zone;
}

static struct when
made_of(const struct night_standing *s)
{
	return (struct when){ .seconds = s->seconds,
		.nanos = s->nanos,
		.ahead_min = s->ahead_min,
		.has_zone = s->zoned,
		.date_only = s->date_only };
}

/* Below 0, 0 or above 0 as a was made before s or after it, by the times that are known of both. */
static int
time_order(const struct night_attempt *a, const struct night_standing *s)
{
	struct when made = made_of(s);

	return a->timed && s->timed ? when_local_order(&a->made, &made) : 0;
}

/* The same by the dates of two shifts. */
static int
shift_order(struct field a, struct field b)
{
	struct when at, bt;

	return when_parse(a, &at) == 0 && when_parse(b, &bt) == 0 ? when_order(&at, &bt) : 0;
}

static bool
is_same(const struct night_standing *s, uint32_t attempt, uint32_t shift)
{
	return s->attempt == attempt && (s->shift == shift || s->shift == 0 || shift == 0);
}

static struct field
shift_of(const struct night *n, const struct night_standing *s)
{
	return s->shift > 0 ? ids_key(&n->texts, s->shift - 1) : field_of("");
}

/* true if a, another attempt, was made before s: by time, else by the shifts */
static bool
is_before(const struct night *n, const struct night_attempt *a, const struct night_standing *s)
{
	int order = time_order(a, s);

	return (order != 0 ? order : shift_order(a->shift, shift_of(n, s))) < 0;
}

static struct night_standing *
standing(struct night *n, size_t joint)
{
	size_t before = n->cap;

	n->v = mem_grow(n->v, &n->cap, joint + 1, sizeof *n->v);
	if (n->cap > before)
		memset(n->v + before, 0, (n->cap - before) * sizeof *n->v);
	return &n->v[joint];
}

enum night_is
night_add(struct night *n, size_t joint, const struct night_attempt *a)
{
	uint32_t attempt = text(n, a->attempt), shift = a->shift.n > 0 ? text(n, a->shift) : 0;
	struct night_standing *s = standing(n, joint);

	if (is_same(s, attempt, shift)) {
		if (s->shift == 0)
			s->shift = shift;
		if (!s->timed || time_order(a, s) >= 0)
			set_time(s, a);
		return NIGHT_SAME;
	}
	if (s->attempt != 0 && is_before(n, a, s))
		return NIGHT_OLDER;
	*s = (struct night_standing){ .attempt = attempt, .shift = shift };
	set_time(s, a);
	return NIGHT_NEWER;
}

/* --- attempts that do not stand -------------------------------------------------------------- */

bool
night_after(const struct night_attempt *a, const struct night_attempt *b)
{
	int time = a->timed && b->timed ? when_local_order(&a->made, &b->made) : 0;
	int64_t a_number, b_number;
	bool more = num_whole(a->attempt, &a_number) == 0 &&
		    num_whole(b->attempt, &b_number) == 0 && a_number > b_number;

	if (a->shift.n > 0 && field_same(a->shift, b->shift))
		return more || time > 0;
	if (time != 0)
		return time > 0;
	if (a->shift.n == 0 || b->shift.n == 0)
		return more;
	return shift_order(a->shift, b->shift) > 0;
}

/* What was kept of an attempt, as it was added; attempt and shift live as long as n. */
static struct night_attempt
attempt_of(const struct night *n, const struct night_standing *s)
{
	return (struct night_attempt){ .attempt = ids_key(&n->texts, s->attempt - 1),
		.shift = shift_of(n, s),
		.timed = s->timed,
		.made = made_of(s) };
}

void
night_add_undone(struct night *undone, size_t joint, const struct night_attempt *a)
{
	struct night_standing *s = standing(undone, joint);
	struct night_attempt last;

	if (s->attempt != 0) {
		last = attempt_of(undone, s);
		if (!night_after(a, &last))
			return;
	}
	*s = (struct night_standing){ .attempt = text(undone, a->attempt),
		.shift = a->shift.n > 0 ? text(undone, a->shift) : 0 };
	set_time(s, a);
}

bool
night_later(const struct night *undone, size_t is, const struct night *n, size_t joint)
{
	struct night_attempt a, b;

	if (is >= undone->cap || undone->v[is].attempt == 0 || joint >= n->cap ||
	    n->v[joint].attempt == 0)
		return false;
	a = attempt_of(undone, &undone->v[is]);
	b = attempt_of(n, &n->v[joint]);
	return night_after(&a, &b);
}

struct field
night_number(const struct night *n, size_t joint)
{
	if (joint >= n->cap || n->v[joint].attempt == 0)
		return field_of("");
	return ids_key(&n->texts, n->v[joint].attempt - 1);
}

bool
night_counts(const struct night *n, size_t joint, const struct night_attempt *a)
{
	size_t attempt = ids_find_one(&n->texts, a->attempt);
	size_t shift = a->shift.n > 0 ? ids_find_one(&n->texts, a->shift) : 0;

	return joint < n->cap && attempt != SIZE_MAX && shift != SIZE_MAX &&
	       is_same(
		   &n->v[joint], (uint32_t)attempt + 1, a->shift.n > 0 ? (uint32_t)shift + 1 : 0);
}

bool
night_made(const struct night *n, size_t joint, struct when *made)
{
	if (joint >= n->cap || n->v[joint].attempt == 0)
		return false;
	*made = made_of(&n->v[joint]);
	return n->v[joint].timed || when_parse(shift_of(n, &n->v[joint]), made) == 0;
}

void
night_free(struct night *n)
{
	free(n->v);
	ids_free(&n->joints);
	ids_free(&n->texts);
	*n = (struct night)NIGHT_NONE;
}
