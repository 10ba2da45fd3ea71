#include "table/rule_memo.h"

#include <stdlib.h>

#include "base/mem.h"

enum { BITS = 9, SIZE = 1 << BITS };

void
memos_init(struct memos *m, size_t columns)
{
	*m = (struct memos){ mem_zeroed(columns, sizeof *m->v), 0 };
}

struct memo *
memos_add(struct memos *m, int at, uint64_t need, bool filled)
{
	size_t i = 0;
	struct memo *one;

	while (i < m->n && m->v[i].at != at)
		i++;
	one = &m->v[i];
	if (i == m->n)
		m->v[m->n++].at = at;
	one->terms |= need;
	if (!filled && one->good == NULL) {
		one->good = mem_zeroed(SIZE, sizeof *one->good);
		/* seven bytes FF are not UTF-8, and for that reported whatever is said here */
		memset(one->good, 0xff, SIZE * sizeof *one->good);
	}
	return one;
}

/* The first of the two places for a key; the factor is that of ids.c. */
static inline uint64_t *
places(const struct memo *m, uint64_t key)
{
	return &m->good[((key * 0x9e3779b97f4a7c15u) >> (64 - BITS)) & ~(uint64_t)1];
}

static inline uint64_t
key_of(const struct memo *m, struct field f, const char *end, uint64_t fails)
{
	return memo_key(f, end) | (fails & m->terms) << 8 * MEMO_KEY;
}

__attribute__((always_inline)) static inline bool
ask(struct memos *m, struct row row, uint64_t fails)
{
	const char *end = row.raw.p + row.raw.n;
	bool all = true;

	for (size_t i = 0; i < m->n; i++) {
		struct memo *one = &m->v[i];
		struct field f = row_field(&row, (size_t)one->at);
		bool answers = f.n > 0;

		if (one->good != NULL) {
			uint64_t key = key_of(one, f, end, fails);
			const uint64_t *good = places(one, key);

			answers = ((good[0] == key) | (good[1] == key)) & (f.n <= MEMO_KEY);
		}
		one->answers = answers;
		all &= answers;
	}
	return all;
}

bool
memos_ask(struct memos *m, const struct row *row, uint64_t fails)
{
	struct row usual = *row;

	if (row->from != NULL || row->fields != NULL)
		return ask(m, *row, fails);
	/* the compiler makes of this a loop that asks after neither for each column */
	usual.from = NULL;
	usual.fields = NULL;
	return ask(m, usual, fails);
}

void
memo_keep(struct memo *m, const struct row *row, uint64_t fails)
{
	struct field f = row_field(row, (size_t)m->at);
	uint64_t key, *good;

	if (m->good == NULL || f.n > MEMO_KEY)
		return;
	key = key_of(m, f, row->raw.p + row->raw.n, fails);
	good = places(m, key);
	good[1] = good[0];
	good[0] = key;
}

void
memos_free(struct memos *m)
{
	for (size_t i = 0; i < m->n; i++)
		free(m->v[i].good);
	free(m->v);
	*m = (struct memos){ NULL, 0 };
}
