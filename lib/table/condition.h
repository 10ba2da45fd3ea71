/*
 * condition: what a row must meet, asked for in words: "verdict=fail", "mean_db>0.1".
 *
 *	struct condition c;
 *
 *	if (condition_read(&c, "--where", text, table) == 0 && condition_met(&c, table))
 *		use(&table->row);
 */
#ifndef THRUM_TABLE_CONDITION_H
#define THRUM_TABLE_CONDITION_H

#include "base/when.h"
#include "table/table.h"

struct condition {
	size_t column; /* of the table's reader */
	enum {
		CONDITION_IS,
		CONDITION_IS_NOT,
		CONDITION_BELOW,
		CONDITION_AT_MOST,
		CONDITION_ABOVE,
		CONDITION_AT_LEAST
	} how;
	struct field value; /* within the text it was read from */
	double number;      /* of value, if it is one */
	bool is_number;
	struct when time; /* the same, if it is one */
	bool is_time;
};

/*
 * COL=VALUE, COL!=VALUE, COL<N, COL<=N, COL>N or COL>=N; VALUE may be empty; N is a number, a date or a
 * time. 0, or -1 with the table's err set: no such condition, N is none of these, a column the table lacks.
 * text must outlive c.
 */
int condition_read(struct condition *c, const char *option, const char *text, struct table *t);

/*
 * Whether the present row meets it. Equal are the same bytes, or two numbers of the same value. An empty
 * field is neither below nor above; one that is no number, or no time, as N is, is trouble there. Times
 * are compared as when_local_order has it.
 */
bool condition_met(const struct condition *c, struct table *t);

#endif
