/*
 * summary: findings counted by their rules, as a table: rule, level, count, and where the first was
 * (file, line, column, joint).
 *
 *	struct summary s = SUMMARY_NONE;
 *
 *	summary_add(&s, &finding);
 *	summary_write(&s, out);
 *	summary_free(&s);
 */
#ifndef THRUM_TABLE_SUMMARY_H
#define THRUM_TABLE_SUMMARY_H

#include "table/findings.h"
#include "table/ids.h"

struct summary {
	struct ids rules;
	struct summary_rule *v; /* in the order of the first finding */
	size_t cap;
	struct findings_held first;
};

#define SUMMARY_NONE                                                                               \
	{                                                                                          \
		IDS_NONE, NULL, 0,                                                                 \
		{                                                                                  \
			NULL                                                                       \
		}                                                                                  \
	}

void summary_add(struct summary *s, const struct finding *one);

/* Writes the header and a row for each rule. */
void summary_write(const struct summary *s, struct writer *out);

void summary_free(struct summary *s);

#endif
