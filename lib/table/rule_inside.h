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
	uint64_t *keys;       /* of those of at most MEMO_KEY bytes, which come first */
	size_t nvalues, nkeys;
	int at[TERM_COLUMNS_MOST]; /* columns of the table that is judged */
	size_t nat;
};

/* the rules that are always there */
#define SHAPE_RULE "shape"
#define UTF8_RULE  "utf8"

/* Frees what the rule's kind has made of it. */
void rule_release(struct rule *r);

#endif
