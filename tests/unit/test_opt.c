/*
 * opt: every form in which an option can be given, and the words for every wrong one.
 */
#include "base/opt.h"

#include <math.h>
#include <stdlib.h>

#include "base/db.h"
#include "check.h"

struct mine {
	bool air, brief;
	double tilt_deg, gap_um;
	int64_t ways, max_udb;
	const char *side, *method;
	struct opt_list keys, where;
};

struct made {
	const char *links;
};

struct house {
	const char *output;
	struct opt_pairs renames;
	bool help;
};

static const unsigned char table_text[] = "a\n";
static const struct blob table = { "t.tsv", table_text, 2 };

static const struct opt mine_opts[] = {
	{ 'a', "air", OPT_FLAG, offsetof(struct mine, air), NULL, "in air" },
	{ 'b', "brief", OPT_FLAG, offsetof(struct mine, brief), NULL, "say less" },
	{ 0, "tilt", OPT_NUM, offsetof(struct mine, tilt_deg), "DEG", "angle", 0, 10 },
	{ 'g', "gap", OPT_NUM, offsetof(struct mine, gap_um), "UM", "gap", 0, INFINITY },
	{ 'w', "ways", OPT_WHOLE, offsetof(struct mine, ways), "N", "legs of the splitter", -64,
	    64 },
	{ 0, "max", OPT_DB, offsetof(struct mine, max_udb), "DB", "limit", 0, 100 },
	{ 's', "side", OPT_TEXT, offsetof(struct mine, side), "MFD", "side" },
	{ 0, "a-very-long-option-name", OPT_TEXT, offsetof(struct mine, method), "WORD", "method",
	    .words = "one_cord two_cord" },
	{ 'k', "keys", OPT_LIST, offsetof(struct mine, keys), "NAME,...", "columns" },
	{ 0, "where", OPT_TEXTS, offsetof(struct mine, where), "TEXT", "each" },
	{ 0, "print-table", OPT_PRINT, .help = "print the table", .table = &table },
	{ 0, "print-same", OPT_PRINT, .help = "print it", .table = &table },
	{ 0 },
};

static const struct opt made_opts[] = {
	{ 'l', "links", OPT_TEXT, offsetof(struct made, links), "FILE", "limits of each link" },
	{ 0 },
};

static const struct opt house_opts[] = {
	{ 'o', "output", OPT_TEXT, offsetof(struct house, output), "FILE", "write to FILE" },
	{ 'c', "column", OPT_PAIR, offsetof(struct house, renames), "NAME=COLUMN", "rename" },
	{ 'h', "help", OPT_FLAG, offsetof(struct house, help), NULL, "help" },
	{ 0 },
};

/* one command line, read */
struct read {
	struct mine mine;
	struct made made;
	struct house house;
	struct opt_set sets[4];
	char *argv[24];
	char words[400];
	size_t n; /* operands */
	const struct opt *print;
	struct err err;
	int status;
};

/* Reads a command line whose words are separated by '|'. */
static void
parse(struct read *r, const char *line)
{
	size_t argc = 1;
	static char program[] = "prog";

	*r = (struct read){ .mine = { .tilt_deg = 0.5, .ways = 7, .side = "default" } };
	r->sets[0] = (struct opt_set){ mine_opts, &r->mine };
	r->sets[1] = (struct opt_set){ made_opts, &r->made };
	r->sets[2] = (struct opt_set){ house_opts, &r->house };
	r->argv[0] = program;
	if (line != NULL) {
		strcpy(r->words, line);
		for (char *at = r->words; at != NULL; argc++) {
			char *bar = strchr(at, '|');

			r->argv[argc] = at;
			if (bar != NULL)
				*bar++ = '\0';
			at = bar;
		}
	}
	r->status = opt_parse(r->sets, r->argv, &r->n, &r->print, &r->err);
	CHECK(r->status == (r->err.text[0] == '\0' ? 0 : -1), "'%s': %d: %s",
	    line != NULL ? line : "", r->status, r->err.text);
}

/* The operands, joined by '|'. */
static void
operands_are(const char *line, const char *want)
{
	struct read r;
	char got[400] = "";

	parse(&r, line);
	for (size_t i = 0; i < r.n; i++) {
		strcat(got, i > 0 ? "|" : "");
		strcat(got, r.argv[1 + i]);
	}
	CHECK(r.status == 0 && strcmp(got, want) == 0, "'%s': operands '%s', want '%s' (%s)", line,
	    got, want, r.err.text);
	opt_free(r.sets);
}

static void
error_is(const char *line, const char *want)
{
	struct read r;

	parse(&r, line);
	CHECK(strcmp(r.err.text, want) == 0, "'%s': got '%s', want '%s'", line, r.err.text, want);
	opt_free(r.sets);
}

static void
keeps_defaults(void)
{
	struct read r;

	parse(&r, NULL);
	CHECK(r.n == 0 && r.print == NULL && !r.mine.air && r.mine.tilt_deg == 0.5 &&
		  r.mine.ways == 7 && strcmp(r.mine.side, "default") == 0 && r.mine.keys.n == 0 &&
		  r.house.output == NULL,
	    "changed");
	opt_free(r.sets);
	parse(&r, "operand");
	CHECK(r.n == 1 && r.mine.tilt_deg == 0.5, "changed");
	opt_free(r.sets);
}

/* all ways to say the same */
static void
reads_every_form(void)
{
	static const char *const same[] = {
		"-a|-b|-g|5|-o|out|x",
		"--air|--brief|--gap|5|--output|out|x",
		"--air|--brief|--gap=5|--output=out|x",
		"-abg5|-oout|x",
		"-abg|5|-o|out|x",
		"-ba|-g5|x|-oout",
		"x|--output=out|-g|5|-ab",
		"-a|-g|5|x|-a|-b|--output|out|--air",
		"-a|x|-b|-g|5.0|-oout|--",
		"-g|+5e0|-ab|-oout|--|x",
	};

	for (size_t i = 0; i < sizeof same / sizeof same[0]; i++) {
		struct read r;

		parse(&r, same[i]);
		CHECK(r.status == 0 && r.mine.air && r.mine.brief && r.mine.gap_um == 5 &&
			  r.house.output != NULL && strcmp(r.house.output, "out") == 0 &&
			  r.n == 1 && strcmp(r.argv[1], "x") == 0,
		    "'%s': %s", same[i], r.err.text);
		opt_free(r.sets);
	}
}

static void
reads_every_type(void)
{
	struct read r;

	parse(&r,
	    "--tilt|0|-w|-64|--max|14.0000005|-s|G.652.D|--a-very-long-option-name|two_cord|-k|"
	    "a,b|--keys=c|--where|a,b|--where=|-c|x=y|-cz=w=v|--links|l.tsv");
	CHECK(r.status == 0, "%s", r.err.text);
	CHECK(r.mine.tilt_deg == 0 && r.mine.ways == -64 && r.mine.max_udb == 14000001, "numbers");
	CHECK(strcmp(r.mine.side, "G.652.D") == 0 && strcmp(r.made.links, "l.tsv") == 0 &&
		  strcmp(r.mine.method, "two_cord") == 0,
	    "texts");
	CHECK(r.mine.keys.n == 3 && field_is(r.mine.keys.v[0], "a") &&
		  field_is(r.mine.keys.v[1], "b") && field_is(r.mine.keys.v[2], "c"),
	    "list");
	CHECK(r.mine.where.n == 2 && field_is(r.mine.where.v[0], "a,b") && r.mine.where.v[1].n == 0,
	    "texts of one option");
	CHECK(r.house.renames.n == 2 && field_is(r.house.renames.v[0].name, "x") &&
		  field_is(r.house.renames.v[0].value, "y") &&
		  field_is(r.house.renames.v[1].name, "z") &&
		  field_is(r.house.renames.v[1].value, "w=v"),
	    "pairs");
	CHECK(r.n == 0, "%zu operands", r.n);
	opt_free(r.sets);
}

/* the argument of an option may look like anything */
static void
takes_arguments_as_they_are(void)
{
	struct read r;

	parse(&r, "-s|--air|-o|--|-g|0|x");
	CHECK(r.status == 0 && !r.mine.air && strcmp(r.mine.side, "--air") == 0 &&
		  strcmp(r.house.output, "--") == 0 && r.n == 1,
	    "%s", r.err.text);
	opt_free(r.sets);
	parse(&r, "-s-|--output=a=b|-w-3");
	CHECK(r.status == 0 && strcmp(r.mine.side, "-") == 0 && r.mine.ways == -3 &&
		  strcmp(r.house.output, "a=b") == 0,
	    "%s", r.err.text);
	opt_free(r.sets);
	parse(&r, "--side=|-o=out");
	CHECK(r.status == 0 && r.mine.side[0] == '\0' && strcmp(r.house.output, "=out") == 0, "%s",
	    r.err.text);
	opt_free(r.sets);
}

static void
finds_operands(void)
{
	operands_are("a|b", "a|b");
	operands_are("a|-a|b|-g|5|c|--air|d", "a|b|c|d");
	operands_are("-", "-");
	operands_are("a|-|b|-a|-", "a|-|b|-");
	operands_are("--", "");
	operands_are("--|-a|--|-x", "-a|--|-x");
	operands_are("a|--|-a|b|--air", "a|-a|b|--air");
	operands_are("|a", "|a"); /* an empty word is an operand */
	operands_are("-a|--|", "");
}

static void
picks_what_is_to_be_printed(void)
{
	struct read r;

	parse(&r, "x|--print-table|--print-table|--help");
	CHECK(r.status == 0 && r.print != NULL && strcmp(r.print->name, "print-table") == 0 &&
		  r.house.help,
	    "%s", r.err.text);
	opt_free(r.sets);
}

static void
says_what_is_wrong(void)
{
	error_is("--tlt|5", "unknown option '--tlt': is it --tilt?");
	error_is("--Tilt|5", "unknown option '--Tilt': is it --tilt?");
	error_is("--outptu=x", "unknown option '--outptu': is it --output?");
	error_is("--til", "unknown option '--til': is it --tilt?"); /* no abbreviations */
	error_is("--zzzz", "unknown option '--zzzz': see --help");
	error_is("--print-table|--print-same",
	    "--print-same: not with --print-table: one table at a time");
	error_is("--=x", "unknown option '--': see --help");
	error_is("---air", "unknown option '---air': is it --air?");
	error_is("--\x1b[2J", "unknown option '--\\x1b[2J': see --help");
	error_is("-x", "unknown option '-x': see --help");
	error_is("-ax", "unknown option '-x': see --help");
	error_is("-\x01", "unknown option '-\\x01': see --help");
	error_is("-a-b", "unknown option '--': see --help");
	error_is("--air=yes", "--air takes no value");
	error_is("--air=", "--air takes no value");
	error_is("--print-table=x", "--print-table takes no value");
	error_is("--tilt", "--tilt: DEG is missing");
	error_is("x|-g", "-g: UM is missing");
	error_is("-abg", "-g: UM is missing");
	error_is("-c", "-c: NAME=COLUMN is missing");
	error_is("--tilt|10.1", "--tilt: outside 0 to 10: '10.1'");
	error_is("--tilt=-1", "--tilt: outside 0 to 10: '-1'");
	error_is("-g|-1", "--gap: below 0: '-1'");
	error_is("--tilt|0,5", "--tilt: decimal comma: write a point: '0,5'");
	error_is("--tilt|5deg", "--tilt: number with something behind it: '5deg'");
	error_is("--tilt=", "--tilt: no number: ''");
	error_is("--tilt|x\x1by", "--tilt: no number: 'x\\x1by'");
	error_is("-w1.5", "--ways: not a whole number: '1.5'");
	error_is("-w|65", "--ways: outside -64 to 64: '65'");
	error_is("--max|100.000001", "--max: outside 0 to 100: '100.000001'");
	error_is("--a-very-long-option-name=three\x1b",
	    "--a-very-long-option-name: none of: one_cord two_cord: 'three\\x1b'");
	error_is("--a-very-long-option-name=",
	    "--a-very-long-option-name: none of: one_cord two_cord: ''");
	error_is("--a-very-long-option-name=one_cord two_cord",
	    "--a-very-long-option-name: none of: one_cord two_cord: 'one_cord two_cord'");
	error_is("-k|a,,b", "--keys: empty piece in the list");
	error_is("-k|a,", "--keys: empty piece in the list");
	error_is("--keys=", "--keys: empty piece in the list");
	error_is("-c|name", "--column: not NAME=COLUMN: 'name'");
	error_is("-c|=x", "--column: not NAME=COLUMN: '=x'");
	error_is("-c|x=", "--column: not NAME=COLUMN: 'x='");
	error_is("--links|a|-b|--links=b", "--links: given twice");
	error_is("--gap|5|-g|5", "--gap: given twice");
	error_is("-oout|-oout", "--output: given twice");
	error_is("-w|1|x|-w|1.5", "--ways: given twice");
	error_is("--max|1|--max|2", "--max: given twice");
	error_is("--lnks|a", "unknown option '--lnks': is it --links?");
	error_is("--outpt|a", "unknown option '--outpt': is it --output?");
	/* the first one counts */
	error_is("-x|--tilt|11", "unknown option '-x': see --help");
	error_is("--tilt|11|-x", "--tilt: outside 0 to 10: '11'");
}

static void
says_what_there_is(void)
{
	struct read r;
	struct bytes b = { NULL, 0, 0 };
	static const char usage[] =
	    "usage: prog [-a] [-b] [--tilt DEG] [-g UM] [-w N] [--max DB] [-s MFD]\n"
	    "            [--a-very-long-option-name WORD] [-k NAME,...] [--where TEXT]\n"
	    "            [--print-table] [--print-same] [-l FILE] [-o FILE] [-c NAME=COLUMN]\n"
	    "            [-h] [FILE ...]\n";
	static const char options[] = "letter\tname\targument\thelp\n"
				      "a\tair\t\tin air\n"
				      "b\tbrief\t\tsay less\n"
				      "\ttilt\tDEG\tangle\n"
				      "g\tgap\tUM\tgap\n"
				      "w\tways\tN\tlegs of the splitter\n"
				      "\tmax\tDB\tlimit\n"
				      "s\tside\tMFD\tside\n"
				      "\ta-very-long-option-name\tWORD\tmethod\n"
				      "k\tkeys\tNAME,...\tcolumns\n"
				      "\twhere\tTEXT\teach\n"
				      "\tprint-table\t\tprint the table\n"
				      "\tprint-same\t\tprint it\n"
				      "l\tlinks\tFILE\tlimits of each link\n"
				      "o\toutput\tFILE\twrite to FILE\n"
				      "c\tcolumn\tNAME=COLUMN\trename\n"
				      "h\thelp\t\thelp\n";
	static const char help[] = "  -a, --air                   in air\n"
				   "  -b, --brief                 say less\n"
				   "      --tilt DEG              angle\n"
				   "  -g, --gap UM                gap\n"
				   "  -w, --ways N                legs of the splitter\n"
				   "      --max DB                limit\n"
				   "  -s, --side MFD              side\n"
				   "      --a-very-long-option-name WORD  method\n"
				   "  -k, --keys NAME,...         columns\n"
				   "      --where TEXT            each\n"
				   "      --print-table           print the table\n"
				   "      --print-same            print it\n"
				   "  -l, --links FILE            limits of each link\n"
				   "  -o, --output FILE           write to FILE\n"
				   "  -c, --column NAME=COLUMN    rename\n"
				   "  -h, --help                  help\n";

	parse(&r, NULL);
	bytes_add_text(&b, "usage: prog");
	opt_usage(r.sets, "[FILE ...]", &b);
	CHECK(field_is(bytes_field(&b), usage), "%.*s", (int)b.n, b.p);
	b.n = 0;
	opt_table(r.sets, &b);
	CHECK(field_is(bytes_field(&b), options), "%.*s", (int)b.n, b.p);
	b.n = 0;
	opt_help(r.sets, &b);
	CHECK(field_is(bytes_field(&b), help), "%.*s", (int)b.n, b.p);
	bytes_free(&b);
	opt_free(r.sets);
}

/* a word of help ends in column 80 or begins the next line; a longer word has a line of its own */
static void
wraps_at_80_columns(void)
{
	static const struct opt opts[] = {
		{ 0, "fits", OPT_FLAG, 0, NULL,
		    "this line of help ends exactly in column number 80" },
		{ 0, "over", OPT_FLAG, 0, NULL,
		    "this line of help ends exactly in column number 810" },
		{ 0, "long", OPT_FLAG, 0, NULL,
		    "see "
		    "a-word-that-is-longer-than-all-the-room-there-is-for-it-in-one-line and on" },
		{ 0 },
	};
	static const char want[] =
	    "      --fits                  this line of help ends exactly in column number 80\n"
	    "      --over                  this line of help ends exactly in column number\n"
	    "                              810\n"
	    "      --long                  see\n"
	    "                              "
	    "a-word-that-is-longer-than-all-the-room-there-is-for-it-in-one-line\n"
	    "                              and on\n";
	struct opt_set sets[] = { { opts, NULL }, { NULL, NULL } };
	struct bytes b = { NULL, 0, 0 };

	opt_help(sets, &b);
	CHECK(field_is(bytes_field(&b), want), "%.*s", (int)b.n, b.p);
	bytes_free(&b);
}

/* a program without options of its own, and one that was started without even a name */
static void
does_without(void)
{
	struct house house = { NULL };
	static const struct opt no_opts[] = { { 0 } };
	struct opt_set sets[] = { { no_opts, NULL }, { house_opts, &house }, { NULL, NULL } };
	char name[] = "prog", letter[] = "-h", word[] = "--hlp";
	char *argv[] = { name, letter, NULL }, *wrong[] = { name, word, NULL }, *none[] = { NULL };
	const struct opt *print = NULL;
	struct err err = { "" };
	size_t n = 7;

	CHECK(opt_parse(sets, argv, &n, &print, &err) == 0 && house.help && n == 0, "%s", err.text);
	n = 7;
	CHECK(opt_parse(sets, none, &n, &print, &err) == 0 && n == 0, "%s", err.text);
	CHECK(opt_parse(sets, wrong, &n, &print, &err) == -1 &&
		  strcmp(err.text, "unknown option '--hlp': is it --help?") == 0,
	    "%s", err.text);
	opt_free(sets);
}

int
main(void)
{
	RUN(keeps_defaults);
	RUN(reads_every_form);
	RUN(reads_every_type);
	RUN(takes_arguments_as_they_are);
	RUN(finds_operands);
	RUN(picks_what_is_to_be_printed);
	RUN(says_what_is_wrong);
	RUN(says_what_there_is);
	RUN(wraps_at_80_columns);
	RUN(does_without);
	return check_done();
}
