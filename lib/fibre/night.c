#include "fibre/night.h"

#include <stdlib.h>

#include "base/mem.h"

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

/* true if what is known of the times says that a was made before s */
static bool
is_before(const struct night_attempt *a, const struct night_standing *s)
{
	enum { DAY = 86400 };

	if (!a->timed || !s->timed)
		return false;
	if (a->made.date_only || s->date_only)
		return a->made.seconds / DAY < s->seconds / DAY;
	if (a->made.seconds != s->seconds)
		return a->made.seconds < s->seconds;
	return (uint32_t)a->made.nanos < s->nanos;
}

enum night_is
night_add(struct night *n, size_t joint, const struct night_attempt *a)
{
	uint32_t attempt = text(n, a->attempt), shift = a->shift.n > 0 ? text(n, a->shift) : 0;
	size_t before = n->cap;
	struct night_standing *s;

	n->v = mem_grow(n->v, &n->cap, joint + 1, sizeof *n->v);
	if (n->cap > before)
		memset(n->v + before, 0, (n->cap - before) * sizeof *n->v);
	s = &n->v[joint];
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

void
night_free(struct night *n)
{
	free(n->v);
	ids_free(&n->joints);
	ids_free(&n->texts);
	*n = (struct night)NIGHT_NONE;
}
