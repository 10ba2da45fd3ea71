/*
 * prog: what every program does in the same way: options, help, the tables it reads and writes, the
 * row loop, messages, exit status. This is one of the files that may print.
 *
 *	enum { JOINTS, LIMITS };
 *	static const struct table_in inputs[] = {
 *		[JOINTS] = { .cols = joint_cols },
 *		[LIMITS] = { "limits", "limits by kind", limit_cols, .builtin = &limits_tsv },
 *		{ NULL },
 *	};
 *	enum { CLOSURES };
 *	static const struct table_out outputs[] = { [CLOSURES] = { .cols = closure_cols }, { NULL } };
 *
 *	if (prog_begin(&p, &page, &opts, argv) == 0 && prog_open(&p) == 0) {
 *		limits_load(&limits, &p.in[LIMITS]);
 *		while (prog_next(&p))
 *			one_row(&p.in[JOINTS]);
 *		put_all(&p.out[CLOSURES]);
 *	}
 *	return prog_close(&p, EXIT_DONE);
 *
 * Every table is declared: the option that names its file, its columns, how it is read. prog_open opens
 * all inputs and reads their headers, then opens all outputs, then reads what is to be held. Nothing is
 * written under its name before prog_close.
 */
#ifndef THRUM_TABLE_PROG_H
#define THRUM_TABLE_PROG_H

#include <stdbool.h>

#include "base/err.h"
#include "base/opt.h"
#include "table/hold.h"
#include "table/sheet.h"
#include "table/table.h"

/* exit statuses; the same for all programs */
enum { EXIT_DONE = 0, EXIT_AGAINST = 1, EXIT_TROUBLE = 2 };

/* a table that is read; a list of them ends with one that has neither option nor cols nor flags */
struct table_in {
	const char *option; /* long name of the option that names its file; NULL: the operands */
	const char *help;   /* of that option */
	const struct col *cols;
	const struct blob *builtin; /* read where no file is named; --print-OPTION prints it */
	const int *key; /* of a held table: the cols that make a row's key, ended by -1 */
	unsigned flags;
	char letter;     /* of the option; 0: none */
	const char *arg; /* of the option; NULL: FILE */
};

enum {
	IN_HELD = 1,          /* held in memory as rows (hold.h) */
	IN_COLUMNS = 2,       /* held in memory as columns of values */
	IN_MANY = 4,          /* held: many rows a key */
	IN_NEEDED = 8,        /* the option must be given */
	IN_SAME_COLUMNS = 16, /* all operands must have the same columns; a filter's always must */
	IN_MISSHAPEN = 32,    /* rows of the wrong shape are handed out */
	IN_LATER = 64,  /* its columns are known later: prog_bind; cols are for --help alone */
	IN_FILES = 128, /* the program opens these files itself: no tables of TSV */
};

/* a table that is written; a list of them ends with one that has neither option nor cols nor flags */
struct table_out {
	const char *option;     /* long name of the option that names its file; NULL: --output */
	const char *help;       /* of that option */
	const struct col *cols; /* those of COL_OUT are written */
	unsigned flags;
};

enum {
	OUT_FILTER = 1, /* every row of the operands comes out again, with cols behind it */
	OUT_LATER = 2, /* its columns are known later: prog_sheet, or bytes written to its writer */
};

/* a program's manual page as data */
struct page {
	const char *name;       /* "thrum-mfd" */
	const char *purpose;    /* one line, lower case, no full stop */
	const char *operands;   /* "[FILE ...]" */
	const struct opt *opts; /* those that name no table; NULL: none */
	const struct table_in *inputs;
	const struct table_out *outputs;
};

struct prog {
	const struct page *page;
	struct err err;
	struct table *in;  /* one for each of page->inputs; all zero if no option names it */
	struct sheet *out; /* one for each of page->outputs; all zero if it is not written */

	/* the rest is for prog.c alone */
	struct prog_house {
		struct opt_pairs renames;
		bool help, version, print_options;
	} house;
	struct opt_set sets[4];
	struct opt *file_opts;      /* those that name tables, made of inputs and outputs */
	struct region texts;        /* of these */
	const char **paths;         /* what these say, of inputs, then outputs; NULL: nothing */
	size_t n_in, n_out, stream; /* stream: the input that is the operands */
	char **operands;
	size_t n_operands;
	const char *text_name; /* of a table that is read in place of the operands */
	struct field text;
	struct ids texts_of_columns;
	size_t *goes; /* for each output, the one whose file it is written to; SIZE_MAX: none */
	struct outputs outputs;
	struct writer **writers;
	bool done;      /* help or a table was printed: nothing more to do */
	bool begun;     /* headers are written */
	bool row_ready; /* the present row waits to be handed out */
};

/*
 * Reads the options into *opts, which holds the defaults. 0: go on. Else it is done (--help,
 * --version, --print-...) or err is set: go to prog_close.
 */
int prog_begin(struct prog *p, const struct page *page, void *opts, char **argv);

/* --- between prog_begin and prog_open ---------------------------------------------------------- */

/* As if -c name=column had been given last; both must outlive the program. */
void prog_rename(struct prog *p, const char *name, const char *column);

/* true if files are named: without, a program may have work to do that needs no input */
bool prog_has_operands(const struct prog *p);

/* true if an option names a file for this input, or for this output */
bool prog_has_input(const struct prog *p, size_t input);
bool prog_has_output(const struct prog *p, size_t output);

/* This table is read in place of the operands; text must outlive the program. */
void prog_operands_are(struct prog *p, const char *name, struct field text);

/* The output `to` is written where the output `from` would be, and `from` nowhere. */
void prog_move_output(struct prog *p, size_t from, size_t to);

/* The output is not written at all. */
void prog_no_output(struct prog *p, size_t output);

/*
 * Opens everything. Held inputs are read whole. 0, or not 0: go to prog_close. An input that
 * no option names and that has nothing built in has no rows.
 */
int prog_open(struct prog *p);

/* --- after prog_open --------------------------------------------------------------------------- */

/* Finds the columns of an input that was declared without. 0, or -1 with err set. */
int prog_bind(struct prog *p, size_t input, const struct col *cols);

/*
 * Makes the sheet of an output of OUT_LATER. lead: as for sheet_open. An output that is not
 * written is left as it is.
 */
void prog_sheet(struct prog *p, size_t output, const struct col *cols, struct field lead);

/* The writer of an output of OUT_LATER that is no sheet; NULL: it is not written. */
struct writer *prog_writer(struct prog *p, size_t output);

/* What an option says for this output; NULL: nothing. */
const char *prog_output_path(const struct prog *p, size_t output);

/* The operands' files, and how many: for inputs of IN_FILES. Without any, "-" alone. */
size_t prog_files(struct prog *p, char *const **files);

/* Writes out what is held back, of all outputs; arg is the program. For readers that must wait. */
void prog_flush(void *arg);

/* Hands the present row out, if a filter, and moves on. false at the end and at trouble. */
bool prog_next(struct prog *p);

/* The present row is not to be handed out by a filter. */
void prog_drop(struct prog *p);

/* One message on standard error, behind the program's name, in one write; a line end is added. */
void prog_say(const struct prog *p, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* The plural's ending for so many: "", or "s". */
const char *prog_s(uint64_t n);

/* Says how many rows, or whatever `what` is, there were (NULL: nothing of it), and how many findings. */
void prog_say_found(
    const struct prog *p, uint64_t n, const char *what, uint64_t errors, uint64_t warnings);

/* If nothing but a terminal is there to be read: says that `what` is awaited from it. */
void prog_say_waiting(const struct prog *p, const char *what);

/*
 * Prints the trouble if there was any, keeps or drops the outputs, frees everything. Returns the
 * exit status: verdict (EXIT_DONE or EXIT_AGAINST), or EXIT_TROUBLE.
 */
int prog_close(struct prog *p, int verdict);

#endif
