/*
 * opt: command-line options from one table, which the parser, --help, the usage line and
 * --print-options all walk.
 *
 *	struct mine { double tilt_deg; bool air; };
 *	static const struct opt opts[] = {
 *		{ 0, "tilt", OPT_NUM, offsetof(struct mine, tilt_deg), "DEG", "angle between the axes", 0, 5 },
 *		{ 0, "air", OPT_FLAG, offsetof(struct mine, air), NULL, "the gap is open to the air" },
 *		{ 0 }
 *	};
 *
 * What is not given stays as the caller set it. Options may stand behind operands; "--" ends them;
 * "-" is an operand. Flags may be repeated; lists, texts and pairs are added to; any other option that
 * takes a value may be given once.
 */
#ifndef THRUM_BASE_OPT_H
#define THRUM_BASE_OPT_H

#include <stdbool.h>
#include <stddef.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/mem.h"

enum opt_type {
	OPT_FLAG,  /* bool, no argument */
	OPT_NUM,   /* double within lo to hi */
	OPT_WHOLE, /* int64_t within lo to hi */
	OPT_DB,    /* int64_t, exact millionths (base/db.h), within lo to hi decibels */
	OPT_TEXT,  /* const char * */
	OPT_LIST,  /* struct opt_list: pieces separated by commas */
	OPT_TEXTS, /* struct opt_list: one piece each time it is given */
	OPT_PAIR,  /* struct opt_pairs: NAME=VALUE */
	OPT_PRINT, /* prints a compiled-in table and is done: const struct blob *table */
};

struct opt {
	char letter; /* 0: none */
	const char *name;
	enum opt_type type;
	size_t at;         /* offset in the program's struct of options */
	const char *arg;   /* what the argument is called, NULL: takes none */
	const char *help;  /* one line, lower case, no full stop */
	double lo, hi;     /* range of a number, both ends allowed; both 0: any */
	const char *words; /* OPT_TEXT: the words allowed, separated by blanks; NULL: any text */
	const struct blob *table;
	bool empty; /* OPT_PAIR: VALUE may be empty */
};

struct opt_list {
	struct field *v;
	size_t n, cap;
};

struct opt_pair {
	struct field name, value;
};

struct opt_pairs {
	struct opt_pair *v;
	size_t n, cap;
};

/* a table of options and the struct its offsets point into; `sets` below end with { NULL, NULL } */
struct opt_set {
	const struct opt *opts; /* ended by an entry without a name */
	void *values;
};

/*
 * Reads argv[1] onwards by all the tables. Operands are moved to the front of argv[1...];
 * *n_operands counts them. *print is set to the OPT_PRINT option met, else untouched. Texts, lists
 * and pairs point into argv; lists and pairs own their arrays. 0, or -1 with err set
 * ("unknown option '--tlt': is it --tilt?", "--tilt: outside 0 to 5: '7'", "--tilt: given twice").
 */
int opt_parse(const struct opt_set *sets, char **argv, size_t *n_operands, const struct opt **print,
    struct err *err);

/* Frees what opt_parse has allocated for lists and pairs. */
void opt_free(const struct opt_set *sets);

/*
 * Appends a blank and the piece to b; or, if the line would then be longer than 80 columns, a line
 * end, `indent` blanks and the piece. All text is ASCII.
 */
void opt_wrap(struct bytes *b, size_t indent, struct field piece);

/* The lines of --help, appended to b: an option begins a line, its help is wrapped by opt_wrap. */
void opt_help(const struct opt_set *sets, struct bytes *b);

/*
 * The usage line's options in the tables' order and then the operands, appended to b and wrapped
 * below the first of them: " [-h] [-o FILE] [--tilt DEG] [FILE ...]\n".
 */
void opt_usage(const struct opt_set *sets, const char *operands, struct bytes *b);

/* The table of --print-options: letter, name, argument, help; appended to b as TSV with a header. */
void opt_table(const struct opt_set *sets, struct bytes *b);

#endif
