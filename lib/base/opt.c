#include "base/opt.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/spelling.h"
#include "base/num.h"

enum { SETS = 2 };

/* an option as met on the command line, and the struct its value belongs in */
struct met {
	const struct opt *opt;
	void *values;
};

static size_t
count(const struct opt *opts)
{
	size_t n = 0;

	while (opts != NULL && opts[n].name != NULL)
		n++;
	return n;
}

static struct met
find_letter(const struct opt_set *sets, char letter)
{
	for (int s = 0; s < SETS; s++)
		for (size_t i = 0; i < count(sets[s].opts); i++)
			if (sets[s].opts[i].letter == letter)
				return (struct met){ &sets[s].opts[i], sets[s].values };
	return (struct met){ NULL, NULL };
}

static struct met
find_name(const struct opt_set *sets, struct field name)
{
	for (int s = 0; s < SETS; s++)
		for (size_t i = 0; i < count(sets[s].opts); i++)
			if (field_is(name, sets[s].opts[i].name))
				return (struct met){ &sets[s].opts[i], sets[s].values };
	return (struct met){ NULL, NULL };
}

static int
unknown_name(const struct opt_set *sets, struct field name, struct err *err)
{
	size_t n = count(sets[0].opts) + count(sets[1].opts), k = 0;
	struct field *have = mem_zeroed(n, sizeof *have);
	char shown[ERR_SHOWN];
	size_t best;

	for (int s = 0; s < SETS; s++)
		for (size_t i = 0; i < count(sets[s].opts); i++)
			have[k++] = field_of(sets[s].opts[i].name);
	best = spelling_best(name, have, n);
	err_show(shown, name.p, name.n);
	if (best != SIZE_MAX)
		err_set(err, "unknown option '--%s': is it --%s?", shown, have[best].p);
	else
		err_set(err, "unknown option '--%s': see --help", shown);
	free(have);
	return -1;
}

static int
bad_value(const struct opt *o, const char *what, struct field value, struct err *err)
{
	char shown[ERR_SHOWN];

	return err_set(err, "--%s: %s: '%s'", o->name, what, err_show(shown, value.p, value.n));
}

static int
check_range(const struct opt *o, double x, struct field value, struct err *err)
{
	char what[80];

	if ((o->lo == 0 && o->hi == 0) || (x >= o->lo && x <= o->hi))
		return 0;
	if (o->hi == INFINITY)
		snprintf(what, sizeof what, "below %g", o->lo);
	else
		snprintf(what, sizeof what, "outside %g to %g", o->lo, o->hi);
	return bad_value(o, what, value, err);
}

static int
set_number(struct met m, struct field value, struct err *err)
{
	void *to = (char *)m.values + m.opt->at;
	double x;
	int64_t whole;

	if (num_parse(value, &x) != 0)
		return bad_value(m.opt, num_fault(value), value, err);
	if (check_range(m.opt, x, value, err) != 0)
		return -1;
	if (m.opt->type == OPT_NUM) {
		*(double *)to = x;
		return 0;
	}
	if (m.opt->type == OPT_WHOLE && num_whole(value, &whole) != 0)
		return bad_value(m.opt, "not a whole number", value, err);
	if (m.opt->type == OPT_DB && db_parse(value, &whole) != 0)
		return bad_value(m.opt, "number too large", value, err);
	*(int64_t *)to = whole;
	return 0;
}

static int
none_of(const struct opt *o, const char *value, struct err *err)
{
	char shown[ERR_SHOWN];

	return err_set(err, "--%s: none of: %s: '%s'", o->name, o->words,
	    err_show(shown, value, strlen(value)));
}

static int
set_text(struct met m, char *value, struct err *err)
{
	const char *words = m.opt->words;

	if (words != NULL && field_among(field_of(words), ' ', field_of(value)) == SIZE_MAX)
		return none_of(m.opt, value, err);
	*(const char **)(void *)((char *)m.values + m.opt->at) = value;
	return 0;
}

static int
set_list(struct met m, struct field value, struct err *err)
{
	struct opt_list *list = (void *)((char *)m.values + m.opt->at);

	while (value.p != NULL) {
		struct field piece = field_cut(&value, ',');

		if (piece.n == 0)
			return err_set(err, "--%s: empty piece in the list", m.opt->name);
		list->v = mem_grow(list->v, &list->cap, list->n + 1, sizeof *list->v);
		list->v[list->n++] = piece;
	}
	return 0;
}

static int
set_pair(struct met m, struct field value, struct err *err)
{
	struct opt_pairs *pairs = (void *)((char *)m.values + m.opt->at);
	struct field right = value, left = field_cut(&right, '=');

	if (right.p == NULL || left.n == 0 || (right.n == 0 && !m.opt->empty)) {
		char what[80];

		snprintf(what, sizeof what, "not %s", m.opt->arg);
		return bad_value(m.opt, what, value, err);
	}
	pairs->v = mem_grow(pairs->v, &pairs->cap, pairs->n + 1, sizeof *pairs->v);
	pairs->v[pairs->n++] = (struct opt_pair){ left, right };
	return 0;
}

static int
set_value(struct met m, char *value, struct err *err)
{
	switch (m.opt->type) {
	case OPT_NUM:
	case OPT_WHOLE:
	case OPT_DB:
		return set_number(m, field_of(value), err);
	case OPT_TEXT:
		return set_text(m, value, err);
	case OPT_LIST:
		return set_list(m, field_of(value), err);
	case OPT_PAIR:
		return set_pair(m, field_of(value), err);
	case OPT_FLAG:
	case OPT_PRINT:
		break;
	}
	return 0;
}

static bool
takes_value(const struct opt *o)
{
	return o->type != OPT_FLAG && o->type != OPT_PRINT;
}

static void
set_flag(struct met m, const struct opt **print)
{
	if (m.opt->type == OPT_FLAG)
		*(bool *)((char *)m.values + m.opt->at) = true;
	else if (*print == NULL)
		*print = m.opt;
}

/* --name, --name=value, --name value; *argv moves on if the value is an argument of its own */
static int
parse_long(const struct opt_set *sets, char ***argv, const struct opt **print, struct err *err)
{
	char *word = **argv + 2, *equals = strchr(word, '=');
	struct field name = { word, equals != NULL ? (size_t)(equals - word) : strlen(word) };
	struct met m = find_name(sets, name);

	if (m.opt == NULL)
		return unknown_name(sets, name, err);
	if (!takes_value(m.opt)) {
		if (equals != NULL)
			return err_set(err, "--%s takes no value", m.opt->name);
		set_flag(m, print);
		return 0;
	}
	if (equals == NULL && (*argv)[1] == NULL)
		return err_set(err, "--%s: %s is missing", m.opt->name, m.opt->arg);
	return set_value(m, equals != NULL ? equals + 1 : *++*argv, err);
}

/* -a, -abc, -ovalue, -o value */
static int
parse_short(const struct opt_set *sets, char ***argv, const struct opt **print, struct err *err)
{
	for (char *at = **argv + 1; *at != '\0'; at++) {
		struct met m = find_letter(sets, *at);
		char shown[ERR_SHOWN];

		if (m.opt == NULL)
			return err_set(
			    err, "unknown option '-%s': see --help", err_show(shown, at, 1));
		if (!takes_value(m.opt)) {
			set_flag(m, print);
			continue;
		}
		if (at[1] != '\0')
			return set_value(m, at + 1, err);
		if ((*argv)[1] == NULL)
			return err_set(err, "-%c: %s is missing", *at, m.opt->arg);
		return set_value(m, *++*argv, err);
	}
	return 0;
}

int
opt_parse(const struct opt_set *sets, char **argv, size_t *n_operands, const struct opt **print,
    struct err *err)
{
	char **operands = argv + 1;
	bool only_operands = false;

	*n_operands = 0;
	if (argv[0] == NULL)
		return 0;
	while (*++argv != NULL) {
		char *word = *argv;

		if (only_operands || word[0] != '-' || word[1] == '\0')
			operands[(*n_operands)++] = word;
		else if (strcmp(word, "--") == 0)
			only_operands = true;
		else if ((word[1] == '-' ? parse_long : parse_short)(sets, &argv, print, err) != 0)
			return -1;
	}
	return 0;
}

void
opt_free(const struct opt_set *sets)
{
	for (int s = 0; s < SETS; s++)
		for (size_t i = 0; i < count(sets[s].opts); i++) {
			void *at = (char *)sets[s].values + sets[s].opts[i].at;

			if (sets[s].opts[i].type == OPT_LIST)
				free(((struct opt_list *)at)->v);
			if (sets[s].opts[i].type == OPT_PAIR)
				free(((struct opt_pairs *)at)->v);
		}
}

void
opt_help(const struct opt_set *sets, struct bytes *b)
{
	enum { HELP_AT = 30 };

	for (int s = 0; s < SETS; s++)
		for (const struct opt *o = sets[s].opts; o != NULL && o->name != NULL; o++) {
			size_t start = b->n, width;

			if (o->letter != 0)
				bytes_add_format(b, "  -%c, ", o->letter);
			else
				bytes_add_text(b, "      ");
			bytes_add_format(b, "--%s", o->name);
			if (o->arg != NULL)
				bytes_add_format(b, " %s", o->arg);
			width = b->n - start;
			bytes_add_format(b, "%*s%s\n",
			    width + 2 <= HELP_AT ? (int)(HELP_AT - width) : 2, "", o->help);
		}
}

void
opt_usage(const struct opt_set *sets, struct bytes *b)
{
	for (int s = 0; s < SETS; s++)
		for (const struct opt *o = sets[s].opts; o != NULL && o->name != NULL; o++) {
			if (o->letter != 0)
				bytes_add_format(b, " [-%c", o->letter);
			else
				bytes_add_format(b, " [--%s", o->name);
			if (o->arg != NULL)
				bytes_add_format(b, " %s", o->arg);
			bytes_add_text(b, "]");
		}
}

void
opt_table(const struct opt_set *sets, struct bytes *b)
{
	bytes_add_text(b, "letter\tname\targument\thelp\n");
	for (int s = 0; s < SETS; s++)
		for (const struct opt *o = sets[s].opts; o != NULL && o->name != NULL; o++)
			bytes_add_format(b, "%.*s\t%s\t%s\t%s\n", o->letter != 0, &o->letter,
			    o->name, o->arg != NULL ? o->arg : "", o->help);
}
