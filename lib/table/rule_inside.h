/*
 * rule_inside: what reading a rules table (rule_read.c) and judging by it (rule.c) have in common.
 */
#ifndef THRUM_TABLE_RULE_INSIDE_H
#define THRUM_TABLE_RULE_INSIDE_H

#include "table/rule.h"

enum { TERMS_MOST = 64, TERM_COLUMNS_MOST = 8 };

/* One condition of a `when`: any of its columns has one of the values, or ("*") any value. */
struct rule_term {
	struct field text;
	size_t cols[TERM_COLUMNS_MOST], ncols;
	struct field *values; /* NULL: any */
	uint64_t *keys;       /* field_key of each value */
	size_t nvalues;
	int at[TERM_COLUMNS_MOST]; /* columns of the table that is judged */
	size_t nat;
	bool standing; /* it is about the column `stands` */
};

/* where a column was first named */
struct rule_place {
	const char *file;
	uint64_t line;
};

enum { FIELD_KEY = 7 };

/*
 * The bytes of a field as a number, zeros behind a shorter one; no field has a NUL, so different
 * fields have different keys. The row's bytes reach to `end`.
 */
static inline uint64_t
field_key(struct field f, const char *end)
{
	size_t n = f.n < FIELD_KEY ? f.n : FIELD_KEY;
	uint64_t key = 0;

	if (n > 0 &&
	    end - f.p >= (ptrdiff_t)sizeof key) /* what does not belong is taken off again */
		return bytes_word(f.p) & (((uint64_t)1 << 8 * n) - 1);
	for (size_t i = 0; i < n; i++)
		key |= (uint64_t)(unsigned char)f.p[i] << 8 * i;
	return key;
}

/* the rules that are always there */
#define SHAPE_RULE "shape"
#define UTF8_RULE  "utf8"

/* What is wrong with the headers, and at the end with the ends of lines. */
void rules_report_heads(struct rules *rs);
void rules_report_ends(struct rules *rs);

/* Frees what the rule's kind has made of it. */
void rule_release(struct rule *r);

#endif
