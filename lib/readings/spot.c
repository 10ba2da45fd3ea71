#include "readings/spot.h"

#include <math.h>
#include <stdlib.h>

enum { LINK, SEQ, KM, KIND, REF, SITE, REVERSED, CATEGORY, ALLOWANCE };

const struct col spot_cols[] = {
	[LINK] = { "link", COL_NEED, COL_TEXT },
	[SEQ] = { "seq", COL_NEED, COL_WHOLE, 0, 1e9 },
	[KM] = { "km", COL_NEED, COL_NUM, 0, 100000 },
	[KIND] = { "kind", COL_NEED, COL_WORD, .words = KIND_WORDS },
	[REF] = { "ref", COL_NEED, COL_TEXT },
	[SITE] = { "site", COL_MAY, COL_TEXT },
	[REVERSED] = { "reversed", COL_MAY, COL_WORD, .words = "yes no" },
	[CATEGORY] = { "category", COL_MAY, COL_TEXT },
	[ALLOWANCE] = { "allowance", COL_MAY, COL_TEXT },
	{ NULL },
};

static uint32_t
name_of(struct spots *s, const struct table *t, int col)
{
	struct field f;

	return get_text(t, col, &f) ? (uint32_t)ids_add(&s->names, &f, 1, NULL) : HOLD_NO_TEXT;
}

void
spots_read(struct spots *s, struct table *t)
{
	struct spot x = { .km = NAN };
	struct field link = { "", 0 }, allowance;
	int kind = KIND_OTHER, reversed = 1;
	int64_t seq = 0;

	if (!get_text(t, LINK, &link) || !get_whole(t, SEQ, &seq)) {
		table_fail(t, link.n == 0 ? LINK : SEQ, "empty");
		return;
	}
	get_num(t, KM, &x.km);
	get_word(t, KIND, &kind);
	get_word(t, REVERSED, &reversed);
	if (err_is_set(t->err))
		return;
	x.link = (uint32_t)ids_add(&s->links, &link, 1, NULL);
	x.seq = (int32_t)seq;
	x.kind = (uint8_t)kind;
	x.reversed = reversed == 0;
	x.ref = name_of(s, t, REF);
	x.site = name_of(s, t, SITE);
	x.category[0] = x.category[1] = name_of(s, t, CATEGORY);
	x.open = get_text(t, ALLOWANCE, &allowance) && field_is(allowance, "open");
	s->v = mem_grow(s->v, &s->cap, s->n + 1, sizeof *s->v);
	s->v[s->n++] = x;
}

static int
by_link_and_seq(const void *a, const void *b)
{
	const struct spot *x = a, *y = b;

	if (x->link != y->link)
		return x->link < y->link ? -1 : 1;
	return x->seq < y->seq ? -1 : x->seq > y->seq;
}

/* Of the elements from i on, all of one link: drops fibres, tells the others what they join. */
static size_t
gather(struct spots *s, size_t i, size_t end, size_t kept)
{
	uint32_t before = HOLD_NO_TEXT;
	size_t behind = kept; /* the spots from here on await the fibre behind them */
	int32_t seq = -1;

	for (; i < end; i++) {
		struct spot x = s->v[i];

		if (x.seq == seq)
			continue; /* the same at another wavelength */
		seq = x.seq;
		if (x.kind == KIND_FIBRE) {
			for (before = x.category[0]; behind < kept; behind++)
				s->v[behind].category[1] = before;
			continue;
		}
		x.category[0] = before;
		x.category[1] = HOLD_NO_TEXT;
		s->v[kept++] = x;
	}
	return kept;
}

void
spots_arrange(struct spots *s)
{
	size_t kept = 0, i = 0;

	if (s->n > 0)
		qsort(s->v, s->n, sizeof *s->v, by_link_and_seq);
	s->first = mem_zeroed(s->links.n + 1, sizeof *s->first);
	for (size_t link = 0; link < s->links.n; link++) {
		size_t end = i;

		while (end < s->n && s->v[end].link == link)
			end++;
		s->first[link] = kept;
		kept = gather(s, i, end, kept);
		i = end;
	}
	s->first[s->links.n] = kept;
	s->n = kept;
}

size_t
spots_of(const struct spots *s, size_t link, const struct spot **first, double *length_km)
{
	size_t n = link == SIZE_MAX ? 0 : s->first[link + 1] - s->first[link];

	*length_km = NAN;
	if (n == 0)
		return 0;
	*first = &s->v[s->first[link]];
	if ((*first)[n - 1].kind == KIND_CONNECTOR)
		*length_km = (*first)[n - 1].km;
	if ((*first)[n - 1].open)
		n--;
	return n;
}

struct field
spots_name(const struct spots *s, uint32_t number)
{
	return number == HOLD_NO_TEXT ? field_of("") : ids_key(&s->names, number);
}

void
spots_free(struct spots *s)
{
	ids_free(&s->links);
	ids_free(&s->names);
	free(s->v);
	free(s->first);
}
