#include "fibre/night.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/num.h"

struct night_standing {
	int64_t seconds;
	uint32_t attempt,
	    shift; /* numbers of `texts`, from 1; shift 0: not known; attempt 0: no row yet */
	uint32_t nanos : 30, timed : 1, date_only : 1;
};

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
	s->nanos = (uint32_t)a->made.nanos & 0x3fffffff;
	s->date_only = a->made.date_only;
}

static struct when
made_of(const struct night_standing *s)
{
	return (struct when){
		.seconds = s->seconds, .nanos = (int32_t)s->nanos, .date_only = s->date_only
	};
}

/* Below 0, 0 or above 0 as a is before b, the same time as far as is known, or after it. */
static int
made_order(const struct when *a, const struct when *b)
{
	enum { DAY = 86400 };
	int64_t day_a = a->seconds / DAY, day_b = b->seconds / DAY;

	if (a->date_only || b->date_only)
		return (day_a > day_b) - (day_a < day_b);
	return when_order(a, b);
}

/* true if what is known of the times says that a was made before s */
static bool
is_before(const struct night_attempt *a, const struct night_standing *s)
{
	struct when made = made_of(s);

	return a->timed && s->timed && made_order(&a->made, &made) < 0;
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

	if (s->attempt == attempt && (s->shift == shift || s->shift == 0 || shift == 0)) {
		if (s->shift == 0)
			s->shift = shift;
		if (!s->timed || !is_before(a, s))
			set_time(s, a);
		return NIGHT_SAME;
	}
	if (s->attempt != 0 && is_before(a, s))
		return NIGHT_OLDER;
	*s = (struct night_standing){ .attempt = attempt, .shift = shift };
	set_time(s, a);
	return NIGHT_NEWER;
}

/* --- attempts that do not stand -------------------------------------------------------------- */

bool
night_after(const struct night_attempt *a, const struct night_attempt *b)
{
	struct when a_shift, b_shift;
	int time = a->timed && b->timed ? made_order(&a->made, &b->made) : 0;
	int64_t a_number, b_number;
	bool more = num_whole(a->attempt, &a_number) == 0 &&
		    num_whole(b->attempt, &b_number) == 0 && a_number > b_number;

	if (a->shift.n > 0 && field_same(a->shift, b->shift))
		return more || time > 0;
	if (time != 0)
		return time > 0;
	if (a->shift.n == 0 || b->shift.n == 0)
		return more;
	return when_parse(a->shift, &a_shift) == 0 && when_parse(b->shift, &b_shift) == 0 &&
	       when_order(&a_shift, &b_shift) > 0;
}

/* What was kept of an attempt, as it was added; attempt and shift live as long as n. */
static struct night_attempt
attempt_of(const struct night *n, const struct night_standing *s)
{
	return (struct night_attempt){ .attempt = ids_key(&n->texts, s->attempt - 1),
		.shift = s->shift > 0 ? ids_key(&n->texts, s->shift - 1) : field_of(""),
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

void
night_free(struct night *n)
{
	free(n->v);
	ids_free(&n->joints);
	ids_free(&n->texts);
	*n = (struct night)NIGHT_NONE;
}
