#include "archive/rows.h"

void
rows_drop(struct rows *r)
{
	r->at = r->taken;
	r->in_step = false;
}

void
rows_follow(struct rows *r, char *out, size_t at, bool begins)
{
	size_t n = r->taken - r->at;

	if (n == 0)
		r->in_step = begins;
	else if (at != r->taken)
		memmove(out + at - n, out + r->at, n);
	r->at = at - n;
}

void
rows_jump(struct rows *r, size_t at, bool begins)
{
	r->at = at;
	r->in_step = begins;
}

size_t
rows_take(struct rows *r, const char *out, size_t at, size_t n, size_t lfs, struct field *rows)
{
	const char *start = out + at, *last = start + n;

	r->taken = at + n;
	if (!r->in_step) {
		const char *lf = memchr(start, '\n', n);

		r->at = lf != NULL ? (size_t)(lf + 1 - out) : r->taken;
		r->in_step = lf != NULL;
		lfs -= lf != NULL;
	}
	if (lfs == 0)
		return 0;
	while (last[-1] != '\n')
		last--;
	*rows = (struct field){ out + r->at, (size_t)(last - out) - r->at };
	r->at = (size_t)(last - out);
	return lfs;
}

size_t
rows_move(struct rows *r)
{
	r->taken -= r->at;
	r->at = 0;
	return r->taken;
}
