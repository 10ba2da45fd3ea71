#include "rework/cause.h"

#include <math.h>
#include <stdlib.h>

#include "base/num.h"

enum { CAUSE, STAGE, OPEN, WHEN, ACTION, CAUTION };
enum { CLOSURE, TESTED };

const struct col cause_cols[] = {
	[CAUSE] = { "cause", COL_NEED, COL_TEXT },
	[STAGE] = { "stage", COL_NEED, COL_WORD, .words = "closure tested both" },
	[OPEN] = { "open", COL_NEED, COL_WORD, .words = "yes no" },
	[WHEN] = { "when", COL_NEED, COL_TEXT },
	[ACTION] = { "action", COL_NEED, COL_TEXT },
	[CAUTION] = { "caution", COL_NEED, COL_TEXT },
	{ NULL },
};

/* The fact of this name, or FACT_COUNT. */
static enum fact
fact_named(struct field name)
{
	struct field rest = field_of(FACT_NAMES);

	for (int i = 0; rest.p != NULL; i++)
		if (field_same(field_cut(&rest, ' '), name))
			return (enum fact)i;
	return FACT_COUNT;
}

static bool
is_number(enum fact f)
{
	return f < FACT_NUMBERS;
}

/* NULL, or why the text is no condition. */
static const char *
read_when(struct cause_when *w, struct field text)
{
	static const struct {
		const char *sign;
		int how;
	} signs[] = { { "!=", WHEN_IS_NOT }, { "<=", WHEN_AT_MOST }, { ">=", WHEN_AT_LEAST },
		{ "=", WHEN_IS }, { "<", WHEN_BELOW }, { ">", WHEN_ABOVE } };
	size_t at = 0, n;

	while (at < text.n && strchr("=!<>", text.p[at]) == NULL)
		at++;
	for (size_t i = 0; i < sizeof signs / sizeof signs[0]; i++) {
		n = strlen(signs[i].sign);
		if (at + n > text.n || memcmp(text.p + at, signs[i].sign, n) != 0)
			continue;
		w->how = signs[i].how;
		w->fact = fact_named((struct field){ text.p, at });
		w->words = (struct field){ text.p + at + n, text.n - at - n };
		w->other = FACT_COUNT;
		if (w->fact == FACT_COUNT)
			return "no such fact in this condition";
		if (w->how < WHEN_BELOW)
			return NULL;
		w->other = fact_named(w->words);
		if (!is_number(w->fact) || (w->other != FACT_COUNT && !is_number(w->other)) ||
		    (w->other == FACT_COUNT && num_parse(w->words, &w->number) != 0))
			return "no two numbers to compare in this condition";
		return NULL;
	}
	return "no condition: FACT=WORD, FACT<NUMBER and the like";
}

/* The rules of findings that a condition names are what the facts have to know. */
static bool
ask_for(struct facts *f, const struct cause_when *w)
{
	struct field rest = w->words;

	while (w->fact == FACT_FAULTS && rest.p != NULL)
		if (!facts_ask(f, field_cut(&rest, '|')))
			return false;
	return true;
}

static int
add_cause(struct causes *c, struct table *t, bool opens, struct facts *f)
{
	struct field rest = table_field(t, WHEN), text;
	struct cause x = { .name = table_field(t, CAUSE),
		.action = table_field(t, ACTION),
		.caution = table_field(t, CAUTION),
		.opens = opens };
	const char *why;

	if (x.name.n == 0 || rest.n == 0)
		return table_fail(t, x.name.n == 0 ? CAUSE : WHEN, "empty");
	while (rest.p != NULL) {
		text = field_cut(&rest, ';');
		if (x.n == CAUSE_WHENS)
			return table_fail(t, WHEN, "too many conditions");
		why = read_when(&x.when[x.n], text);
		if (why == NULL && !ask_for(f, &x.when[x.n++]))
			why = "more rules of findings than can be asked for";
		if (why != NULL)
			return table_fail(t, WHEN, why);
	}
	c->v = mem_grow(c->v, &c->cap, c->n + 1, sizeof *c->v);
	c->v[c->n++] = x;
	return 0;
}

int
causes_load(struct causes *c, struct table *t, bool tested, struct facts *f)
{
	while (table_next(t)) {
		int stage = 0, open = 0;

		if (!get_word(t, STAGE, &stage) || !get_word(t, OPEN, &open))
			return table_fail(t, table_field(t, STAGE).n == 0 ? STAGE : OPEN, "empty");
		if (stage != (tested ? CLOSURE : TESTED) && add_cause(c, t, open == 0, f) != 0)
			return -1;
	}
	return err_is_set(t->err) ? -1 : 0;
}

/* --- holding ---------------------------------------------------------------------------------- */

static bool
is_one_of(const struct cause_when *w, const struct facts *f, const struct joint_facts *j)
{
	struct field rest = w->words;

	while (rest.p != NULL) {
		struct field one = field_cut(&rest, '|');
		double number;

		if (w->fact == FACT_FAULTS) {
			if (facts_has(f, j, one))
				return true;
		} else if (!is_number(w->fact)) {
			if (field_same(one, j->word[w->fact - FACT_NUMBERS]))
				return true;
		} else if (one.n == 0 ? isnan(j->x[w->fact])
				      : num_parse(one, &number) == 0 && number == j->x[w->fact]) {
			return true;
		}
	}
	return false;
}

static bool
when_holds(const struct cause_when *w, const struct facts *f, const struct joint_facts *j)
{
	double x, y;

	if (w->how < WHEN_BELOW)
		return is_one_of(w, f, j) == (w->how == WHEN_IS);
	x = j->x[w->fact];
	y = w->other == FACT_COUNT ? w->number : j->x[w->other];
	switch (w->how) {
	case WHEN_BELOW:
		return x < y;
	case WHEN_AT_MOST:
		return x <= y;
	case WHEN_ABOVE:
		return x > y;
	default:
		return x >= y;
	}
}

bool
cause_holds(const struct cause *c, const struct facts *f, const struct joint_facts *j)
{
	for (size_t i = 0; i < c->n; i++)
		if (!when_holds(&c->when[i], f, j))
			return false;
	return true;
}

void
causes_free(struct causes *c)
{
	free(c->v);
}
