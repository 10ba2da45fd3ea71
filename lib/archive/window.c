#include "archive/window.h"

#include <stdlib.h>

#include "base/mem.h"

enum { FIRST_READ = 8192, ROOM = (BATCH_MOST + 1) * MEMBER_MOST };

void
window_open(struct window *w, const struct pack_source *source, struct err *err)
{
	size_t room = 0;

	*w = (struct window){ .source = source, .err = err };
	w->bytes = mem_grow(NULL, &room, ROOM, 1);
}

void
window_free(struct window *w)
{
	free(w->bytes);
}

void
window_go(struct window *w, uint64_t at)
{
	w->at = at;
	w->n = w->next = 0;
	w->ended = false;
}

/* Reads once more; what has been used is overwritten. */
static bool
read_on(struct window *w, size_t members)
{
	size_t want = members == 1 ? FIRST_READ : members * MEMBER_MOST;
	ssize_t got;

	w->n -= w->next;
	w->at += w->next;
	if (w->next > 0)
		memmove(w->bytes, w->bytes + w->next, w->n);
	w->next = 0;
	if (want > ROOM - w->n)
		want = ROOM - w->n;
	got = pack_source_some(w->source, w->at + w->n, w->bytes + w->n, want, w->err);
	if (got < 0)
		return false;
	w->ended = got == 0;
	w->n += (size_t)got;
	return true;
}

bool
window_fill(struct window *w, struct batch *b)
{
	while (b->n == 0 || (b->units[b->n - 1].fault == NULL && w->next < w->n)) {
		const unsigned char *p = w->bytes + w->next;
		struct unit *unit;

		if (w->next == w->n && w->ended)
			break;
		unit = batch_add(b, p, w->n - w->next, w->at + w->next);
		if (unit == NULL)
			break;
		if (unit->fault == NULL) {
			w->next += unit->m.size;
		} else if (unit->fault == member_is_cut && !w->ended) {
			b->n--; /* it may be whole yet */
			if (b->n > 0)
				break;
			if (!read_on(w, b->most))
				return false;
		}
	}
	return b->n > 0;
}

/* what only looks like a member fails when it is verified */
void
window_resume(struct window *w, struct batch *b, uint64_t after)
{
	struct member m;

	batch_clear(b);
	b->most = 1;
	w->next = (size_t)(after - w->at) + 1;
	for (;;) {
		const unsigned char *p = w->bytes + w->next, *hit;
		const char *fault;

		hit = w->next < w->n ? memchr(p, 0x1f, w->n - w->next) : NULL;
		w->next = hit != NULL ? (size_t)(hit - w->bytes) : w->n;
		if (w->n - w->next < MEMBER_SIGN && !w->ended) {
			if (!read_on(w, 1))
				return;
			continue;
		}
		if (hit == NULL)
			return;
		fault = member_parse(&m, hit, w->n - w->next);
		if (fault == NULL || (fault == member_is_cut && !w->ended))
			return;
		w->next++;
	}
}
