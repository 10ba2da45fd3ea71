/*
 * fuzz_opt: any words, a line each, as a command line. Either it is refused with a message, or each
 * value is within its option's range, and no word is lost.
 */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/opt.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void
must(bool good)
{
	if (!good)
		abort();
}

struct values {
	bool flag;
	double num;
	int64_t whole, db;
	const char *text, *word;
	struct opt_list list, texts;
	struct opt_pairs pairs;
};

static const struct blob printed = { "printed", (const unsigned char *)"x\n", 2 };

static const struct opt opts[] = {
	{ 'f', "flag", OPT_FLAG, offsetof(struct values, flag), NULL, "a flag" },
	{ 'n', "num", OPT_NUM, offsetof(struct values, num), "N", "a number", -1, 5 },
	{ 'w', "whole", OPT_WHOLE, offsetof(struct values, whole), "N", "a count", 0, 9 },
	{ 0, "db", OPT_DB, offsetof(struct values, db), "DB", "a loss", 0, 60 },
	{ 't', "text", OPT_TEXT, offsetof(struct values, text), "TEXT", "any" },
	{ 0, "word", OPT_TEXT, offsetof(struct values, word), "WORD", "a word",
	    .words = "one two" },
	{ 'l', "list", OPT_LIST, offsetof(struct values, list), "A[,A]", "a list" },
	{ 0, "texts", OPT_TEXTS, offsetof(struct values, texts), "TEXT", "each" },
	{ 'p', "pair", OPT_PAIR, offsetof(struct values, pairs), "A=B", "pairs" },
	{ 0, "print-it", OPT_PRINT, .help = "a table", .table = &printed },
	{ 0 },
};

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	enum { WORDS = 64 };
	char *copy = malloc(size + 1), *argv[WORDS + 2] = { NULL };
	struct values v = { .num = 0 };
	const struct opt_set sets[] = { { opts, &v }, { NULL, NULL } };
	const struct opt *print = NULL;
	struct err err = { "" };
	struct bytes help = { NULL, 0, 0 };
	size_t n = 1, operands = 0;

	must(copy != NULL);
	memcpy(copy, data, size);
	copy[size] = '\0';
	argv[0] = copy;
	for (char *at = copy; n <= WORDS && at != NULL; n++) {
		argv[n] = at;
		at = strchr(at, '\n');
		if (at != NULL)
			*at++ = '\0';
	}
	if (opt_parse(sets, argv, &operands, &print, &err) != 0)
		must(err_is_set(&err));
	else
		must(!err_is_set(&err) && operands < n && v.num >= -1 && v.num <= 5 &&
		     v.whole >= 0 && v.whole <= 9 && v.db >= 0 && v.db <= 60000000);
	must(v.word == NULL || strcmp(v.word, "one") == 0 || strcmp(v.word, "two") == 0);
	for (size_t i = 0; i < v.list.n; i++)
		must(v.list.v[i].n > 0);
	opt_wrap(&help, 20, (struct field){ copy, size });
	bytes_free(&help);
	opt_free(sets);
	free(copy);
	return 0;
}
