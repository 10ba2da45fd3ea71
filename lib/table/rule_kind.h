/*
 * rule_kind: the kinds of rule that apply to any table.
 *
 *	present   each column has a value
 *	number    each is a number, low to high
 *	whole     each is a whole number, low to high
 *	time      each is a date or a time of ISO 8601
 *	word      each is one of the words; a number among them in any spelling
 *	pattern   each matches the extended regular expression of POSIX
 *	plain     each is text that no spreadsheet takes for a formula (it does not begin with = + or
 *	          @), and that was made UTF-8 once, not taken for Windows-1252 and made so again
 *	unique    the columns together are in one row only; not judged if one of them is empty
 *	together  all of the columns have a value, or none has
 *	order     each column's time is not before that of the column to the left of it
 *	mean      the first of three columns is the mean of the others, give or take `high`
 *
 * All but present and together pass over an empty field.
 */
#ifndef THRUM_TABLE_RULE_KIND_H
#define THRUM_TABLE_RULE_KIND_H

#include "table/rule.h"

extern const struct rule_kind rule_kinds[]; /* ended by one without a name */

#endif
