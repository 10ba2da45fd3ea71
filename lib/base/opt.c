#include "base/opt.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/spelling.h"
#include "base/num.h"

enum { WIDTH = 80, HELP_AT = 30 };

/* an option, and the struct its value belongs in */
struct met {
	const struct opt *opt;
	void *values;
};

/* a command line so far; given has one entry for each option, in the order of nth */
struct line {
	const struct opt_set *sets;
	bool *given;
	const struct opt **print;
	struct err *err;
};

/* the option at this place, all sets counted through; .opt is NULL behind the last */
static struct met
nth(const struct opt_set *sets, size_t i)
{
	for (; sets->opts != NULL; sets++) {
		const struct opt *o = sets->opts;

		for (; o->name != NULL; o++)
			if (i-- == 0)
				return (struct met){ o, sets->values };
	}
	return (struct met){ NULL, NULL };
}

static size_t
count(const struct opt_set *sets)
{
	size_t n = 0;

	while (nth(sets, n).opt != NULL)
		n++;
	return n;
}

/* the place of an option; that behind the last if there is none */
static size_t
find_letter(const struct opt_set *sets, char letter)
{
	size_t i = 0;

	for (struct met m; (m = nth(sets, i)).opt != NULL && m.opt->letter != letter;)
		i++;
	return i;
}

static size_t
find_name(const struct opt_set *sets, struct field name)
{
	size_t i = 0;

	for (struct met m; (m = nth(sets, i)).opt != NULL && !field_is(name, m.opt->name);)
		i++;
	return i;
}

static int
unknown_name(const struct opt_set *sets, struct field name, struct err *err)
{
	size_t n = count(sets), best;
	struct field *have = mem_zeroed(n, sizeof *have);
	char shown[ERR_SHOWN];

	for (size_t i = 0; i < n; i++)
		have[i] = field_of(nth(sets, i).opt->name);
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
	char between = m.opt->type == OPT_LIST ? ',' : '\0';

	while (value.p != NULL) {
		struct field piece = field_cut(&value, between);

		if (piece.n == 0 && between == ',')
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

/* the value of the option at place i; lists and pairs grow, of any other there is only one */
static int
set_value(struct line *line, size_t i, char *value)
{
	struct met m = nth(line->sets, i);
	struct err *err = line->err;

	if (line->given[i] && m.opt->type != OPT_LIST && m.opt->type != OPT_TEXTS &&
	    m.opt->type != OPT_PAIR)
		return err_set(err, "--%s: given twice", m.opt->name);
	line->given[i] = true;
	switch (m.opt->type) {
	case OPT_NUM:
	case OPT_WHOLE:
	case OPT_DB:
		return set_number(m, field_of(value), err);
	case OPT_TEXT:
		return set_text(m, value, err);
	case OPT_LIST:
	case OPT_TEXTS:
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

static int
set_flag(struct line *line, struct met m)
{
	if (m.opt->type == OPT_FLAG)
		*(bool *)((char *)m.values + m.opt->at) = true;
	else if (*line->print != NULL && *line->print != m.opt)
		return err_set(line->err, "--%s: not with --%s: one table at a time", m.opt->name,
		    (*line->print)->name);
	else
		*line->print = m.opt;
	return 0;
}

/* --name, --name=value, --name value; *argv moves on if the value is an argument of its own */
static int
parse_long(struct line *line, char ***argv)
{
	char *word = **argv + 2, *equals = strchr(word, '=');
	struct field name = { word, equals != NULL ? (size_t)(equals - word) : strlen(word) };
	size_t i = find_name(line->sets, name);
	struct met m = nth(line->sets, i);

	if (m.opt == NULL)
		return unknown_name(line->sets, name, line->err);
	if (!takes_value(m.opt)) {
		if (equals != NULL)
			return err_set(line->err, "--%s takes no value", m.opt->name);
		return set_flag(line, m);
	}
	if (equals == NULL && (*argv)[1] == NULL)
		return err_set(line->err, "--%s: %s is missing", m.opt->name, m.opt->arg);
	return set_value(line, i, equals != NULL ? equals + 1 : *++*argv);
}

/* -a, -abc, -ovalue, -o value */
static int
parse_short(struct line *line, char ***argv)
{
	for (char *at = **argv + 1; *at != '\0'; at++) {
		size_t i = find_letter(line->sets, *at);
		struct met m = nth(line->sets, i);
		char shown[ERR_SHOWN];

		if (m.opt == NULL)
			return err_set(
			    line->err, "unknown option '-%s': see --help", err_show(shown, at, 1));
		if (!takes_value(m.opt)) {
			if (set_flag(line, m) != 0)
				return -1;
			continue;
		}
		if (at[1] != '\0')
			return set_value(line, i, at + 1);
		if ((*argv)[1] == NULL)
			return err_set(line->err, "-%c: %s is missing", *at, m.opt->arg);
		return set_value(line, i, *++*argv);
	}
	return 0;
}

/* the words of argv[1] onwards; operands move to its front */
static int
parse_words(struct line *line, char **argv, size_t *n_operands)
{
	char **operands = argv + 1;
	bool only_operands = false;

	while (*++argv != NULL) {
		char *word = *argv;

		if (only_operands || word[0] != '-' || word[1] == '\0')
			operands[(*n_operands)++] = word;
		else if (strcmp(word, "--") == 0)
			only_operands = true;
		else if ((word[1] == '-' ? parse_long : parse_short)(line, &argv) != 0)
			return -1;
	}
	return 0;
}

int
opt_parse(const struct opt_set *sets, char **argv, size_t *n_operands, const struct opt **print,
    struct err *err)
{
	struct line line = { sets, NULL, print, err };
	int status;

	*n_operands = 0;
	if (argv[0] == NULL)
		return 0;
	line.given = mem_zeroed(count(sets), sizeof *line.given);
	status = parse_words(&line, argv, n_operands);
	free(line.given);
	return status;
}

void
opt_free(const struct opt_set *sets)
{
	struct met m;

	for (size_t i = 0; (m = nth(sets, i)).opt != NULL; i++) {
		void *at = (char *)m.values + m.opt->at;

		if (m.opt->type == OPT_LIST || m.opt->type == OPT_TEXTS)
			free(((struct opt_list *)at)->v);
		if (m.opt->type == OPT_PAIR)
			free(((struct opt_pairs *)at)->v);
	}
}

/* how many columns of b's last line are filled */
static size_t
column(const struct bytes *b)
{
	size_t n = b->n;

	while (n > 0 && b->p[n - 1] != '\n')
		n--;
	return b->n - n;
}

void
opt_wrap(struct bytes *b, size_t indent, struct field piece)
{
	if (column(b) + 1 + piece.n > WIDTH)
		bytes_add_format(b, "\n%*s", (int)indent, "");
	else
		bytes_add_text(b, " ");
	bytes_add_field(b, piece);
}

void
opt_help(const struct opt_set *sets, struct bytes *b)
{
	struct met m;

	for (size_t i = 0; (m = nth(sets, i)).opt != NULL; i++) {
		struct field help = field_of(m.opt->help);

		if (m.opt->letter != 0)
			bytes_add_format(b, "  -%c, --%s", m.opt->letter, m.opt->name);
		else
			bytes_add_format(b, "      --%s", m.opt->name);
		if (m.opt->arg != NULL)
			bytes_add_format(b, " %s", m.opt->arg);
		/* two blanks at least, one of them from opt_wrap */
		bytes_add_text(b, " ");
		while (column(b) < HELP_AT - 1)
			bytes_add_text(b, " ");
		while (help.p != NULL)
			opt_wrap(b, HELP_AT, field_cut(&help, ' '));
		bytes_add_text(b, "\n");
	}
}

void
opt_usage(const struct opt_set *sets, const char *operands, struct bytes *b)
{
	struct bytes piece = { NULL, 0, 0 };
	size_t indent = column(b) + 1;
	struct met m;

	for (size_t i = 0; (m = nth(sets, i)).opt != NULL; i++) {
		piece.n = 0;
		if (m.opt->letter != 0)
			bytes_add_format(&piece, "[-%c", m.opt->letter);
		else
			bytes_add_format(&piece, "[--%s", m.opt->name);
		if (m.opt->arg != NULL)
			bytes_add_format(&piece, " %s", m.opt->arg);
		bytes_add_text(&piece, "]");
		opt_wrap(b, indent, bytes_field(&piece));
	}
	opt_wrap(b, indent, field_of(operands));
	bytes_add_text(b, "\n");
	bytes_free(&piece);
}

void
opt_table(const struct opt_set *sets, struct bytes *b)
{
	struct met m;

	bytes_add_text(b, "letter\tname\targument\thelp\n");
	for (size_t i = 0; (m = nth(sets, i)).opt != NULL; i++)
		bytes_add_format(b, "%.*s\t%s\t%s\t%s\n", m.opt->letter != 0, &m.opt->letter,
		    m.opt->name, m.opt->arg != NULL ? m.opt->arg : "", m.opt->help);
}
