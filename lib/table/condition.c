#include "table/condition.h"

#include "base/num.h"

static const char *const operators[] = {
	[CONDITION_IS] = "=",
	[CONDITION_IS_NOT] = "!=",
	[CONDITION_BELOW] = "<",
	[CONDITION_AT_MOST] = "<=",
	[CONDITION_ABOVE] = ">",
	[CONDITION_AT_LEAST] = ">=",
};

enum { OPERATORS = sizeof operators / sizeof operators[0] };

/* Whether it begins as a date does, so that it was meant to be one. */
static bool
is_dated(struct field f)
{
	return num_digits(f) == 4 && f.n > 4 && f.p[4] == '-';
}

int
condition_read(struct condition *c, const char *option, const char *text, struct table *t)
{
	struct field name = { text, strcspn(text, "=!<>") }, rest, longer = name;
	size_t length = 0;
	char shown[ERR_SHOWN];
	int column;

	*c = (struct condition){ .column = 0 };
	/* a column's name may hold an operator */
	while (text[longer.n] != '\0' && reader_column(t->reader, longer) < 0)
		longer.n += 1 + strcspn(text + longer.n + 1, "=!<>");
	if (text[longer.n] != '\0')
		name = longer;
	rest = field_of(text + name.n);
	for (int i = 0; i < OPERATORS; i++)
		if (field_starts(rest, operators[i]) && strlen(operators[i]) > length) {
			length = strlen(operators[i]);
			c->how = i;
		}
	if (name.n == 0 || length == 0)
		return err_set(t->err, "%s: no condition such as verdict=fail or mean_db>0.1: '%s'",
		    option, err_show(shown, text, strlen(text)));
	c->value = field_behind(rest, length);
	c->is_number = num_parse(c->value, &c->number) == 0;
	c->is_time = !c->is_number && when_parse(c->value, &c->time) == 0;
	if (c->how >= CONDITION_BELOW && !c->is_number && !c->is_time)
		return err_set(t->err, "%s: %s: '%s'", option,
		    is_dated(c->value) ? when_fault(c->value) : num_fault(c->value),
		    err_show(shown, c->value.p, c->value.n));
	column = reader_need(t->reader, name);
	c->column = (size_t)column;
	return column < 0 ? -1 : 0;
}

static bool
is_equal(const struct condition *c, struct field f)
{
	double x;

	return field_same(f, c->value) || (c->is_number && num_parse(f, &x) == 0 && x == c->number);
}

/* *order: below 0, 0 or above 0 as the field is to the value. -1: they cannot be compared. */
static int
compare(const struct condition *c, struct field f, int *order)
{
	struct when at;
	double x;

	if (c->is_time ? when_parse(f, &at) != 0 : num_parse(f, &x) != 0)
		return -1;
	*order = c->is_time ? when_local_order(&at, &c->time) : (x > c->number) - (x < c->number);
	return 0;
}

bool
condition_met(const struct condition *c, struct table *t)
{
	struct field f = row_field(&t->row, c->column), column;
	char name[ERR_SHOWN];
	int order;

	if (c->how <= CONDITION_IS_NOT)
		return is_equal(c, f) == (c->how == CONDITION_IS);
	if (f.n == 0)
		return false;
	if (compare(c, f, &order) != 0) {
		column = reader_name(t->reader, c->column);
		err_show(name, column.p, column.n);
		reader_fail(t->reader, &t->row, name, c->is_time ? when_fault(f) : num_fault(f), f);
		return false;
	}
	if (order == 0)
		return c->how == CONDITION_AT_MOST || c->how == CONDITION_AT_LEAST;
	return (order < 0) == (c->how == CONDITION_BELOW || c->how == CONDITION_AT_MOST);
}
