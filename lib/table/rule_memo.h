/*
 * rule_memo: short fields that were judged before and were fine. Most columns of a record have few
 * values, and to look here costs less than to judge a number by three rules (measured: it takes a
 * third off the time of the whole program).
 *
 * A memo is kept for each column that has pure checks. `fails` are the conditions of rules that do
 * not hold for the row, as bits: they say which of the checks apply, so a field is known to be fine
 * only together with those its checks need. It must fit MEMO_TERMS bits, or no memo is to be asked.
 */
#ifndef THRUM_TABLE_RULE_MEMO_H
#define THRUM_TABLE_RULE_MEMO_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "table/reader.h"

enum { MEMO_KEY = 7, MEMO_TERMS = 8 };

struct memo {
	int at;         /* column of the table */
	bool answers;   /* its checks need not look at the present row */
	uint64_t terms; /* what its checks need */
	uint64_t *good; /* fields with fails in the top byte; NULL: whatever is not empty is fine */
};

struct memos {
	struct memo *v; /* never moves */
	size_t n;
};

/* For a table of so many columns. */
void memos_init(struct memos *m, size_t columns);

/*
 * The memo of a column, for a check that needs the bits of `need`; with `filled` the check lets
 * pass whatever is not empty.
 */
struct memo *memos_add(struct memos *m, int at, uint64_t need, bool filled);

/* Sets `answers` of each of them for this row; true if all answer. */
bool memos_ask(struct memos *m, const struct row *row, uint64_t fails);

/* Keeps this row's field, of which nothing was to be reported. */
void memo_keep(struct memo *m, const struct row *row, uint64_t fails);

void memos_free(struct memos *m);

/*
 * The first seven bytes of a field as a number, zeros behind a shorter one; no field has a NUL, so
 * different fields of up to seven bytes have different keys. The row's bytes reach to `end`.
 */
static inline uint64_t
memo_key(struct field f, const char *end)
{
	size_t n = f.n < MEMO_KEY ? f.n : MEMO_KEY;
	uint64_t key = 0;

	/* eight bytes at once, if they are there, and those too many taken off again */
	if (n > 0 && end - f.p >= (ptrdiff_t)sizeof key)
		return bytes_word(f.p) & (((uint64_t)1 << 8 * n) - 1);
	for (size_t i = 0; i < n; i++)
		key |= (uint64_t)(unsigned char)f.p[i] << 8 * i;
	return key;
}

#endif
