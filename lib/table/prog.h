/*
 * prog: what every program does in the same way: options, help, opening, the row loop, messages,
 * exit status. This is one of the files that may print.
 *
 *	int
 *	main(int argc, char **argv)
 *	{
 *		struct opts o = { .tilt_deg = 0 };
 *		struct prog p;
 *
 *		if (prog_begin(&p, &page, &o, argv) == 0 && prog_open(&p) == 0)
 *			while (prog_next(&p))
 *				one_row(&p, o);
 *		return prog_close(&p, 0);
 *	}
 *
 * A filter (PROG_FILTER) hands every row it reads out again, with what was put behind it. Any other
 * program makes rows of its own: it puts fields and calls sheet_row(&p.out).
 */
#ifndef THRUM_TABLE_PROG_H
#define THRUM_TABLE_PROG_H

#include <stdbool.h>

#include "base/err.h"
#include "base/opt.h"
#include "table/table.h"

enum {
	PROG_FILTER = 1,
	PROG_KEEP_MISSHAPEN = 2, /* rows of the wrong shape reach the program */
	PROG_NO_SHEET = 4,       /* the program writes its outputs itself, by prog_output */
	PROG_SAME_COLUMNS = 8,   /* all operands must have the same columns, as for a filter */
};

/* exit statuses; the same for all programs */
enum { EXIT_DONE = 0, EXIT_AGAINST = 1, EXIT_TROUBLE = 2 };

/* a program's manual page as data */
struct page {
	const char *name;     /* "thrum-mfd" */
	const char *purpose;  /* one line, lower case, no full stop */
	const char *operands; /* "[FILE ...]" */
	const struct opt *opts;
	const struct col *cols;
	unsigned flags;
};

struct prog {
	const struct page *page;
	struct err err;
	struct table in;
	struct sheet out;

	/* the rest is prog's own */
	struct prog_house {
		const char *output;
		struct opt_pairs renames;
		bool help, version, print_options;
	} house;
	struct opt_set sets[3]; /* the program's, the suite's, the end */
	char **operands;
	size_t n_operands;
	struct outputs outputs;
	bool done;      /* help or a table was printed: nothing more to do */
	bool row_ready; /* the present row waits to be handed out */
};

/*
 * Reads the options into *opts, which holds the defaults. 0: go on. Else it is done (--help,
 * --version, --print-...) or err is set: go to prog_close.
 */
int prog_begin(struct prog *p, const struct page *page, void *opts, char **argv);

/*
 * As if -c name=column had been given last; both must outlive the program. Between prog_begin and
 * prog_open.
 */
void prog_rename(struct prog *p, const char *name, const char *column);

/* true if files are named: without, a program may have work to do that needs no input */
bool prog_has_operands(const struct prog *p);

/* Opens the operands (none: standard input) and the output. 0, or not 0: go to prog_close. */
int prog_open(struct prog *p);

/* The two halves of prog_open, for a program that has to look at the input's columns between. */
int prog_open_input(struct prog *p);
int prog_open_sheet(struct prog *p);

/* The same with a table from memory in place of the operands; text must outlive the program. */
int prog_open_text(struct prog *p, const char *name, struct field text);

/*
 * One more output, kept or dropped together with the main one. NULL with err set. Open it after
 * prog_open, so that nothing is written before all inputs are known to be there.
 */
struct writer *prog_output(struct prog *p, const char *path);

/* Hands the present row out, if a filter, and moves on. false at the end and at trouble. */
bool prog_next(struct prog *p);

/* The present row is not to be handed out by a filter. */
void prog_drop(struct prog *p);

/* One message on standard error, behind the program's name; a line end is added. */
void prog_say(const struct prog *p, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* The plural's ending for so many: "", or "s". */
const char *prog_s(uint64_t n);

/* If nothing but a terminal is there to be read: says that `what` is awaited from it. */
void prog_say_waiting(const struct prog *p, const char *what);

/*
 * Prints the trouble if there was any, keeps or drops the outputs, frees everything. Returns the
 * exit status: verdict (EXIT_DONE or EXIT_AGAINST), or EXIT_TROUBLE.
 */
int prog_close(struct prog *p, int verdict);

#endif
