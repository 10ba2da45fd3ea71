#include "table/prog.h"

#include <errno.h>
#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/os.h"

/* --- the options ----------------------------------------------------------------------------- */

static const struct opt no_opts[] = { { 0 } };

static const struct opt house_opts[] = {
	{ 'c', "column", OPT_PAIR, offsetof(struct prog_house, renames), "NAME=COLUMN",
	    "read COLUMN where the page says NAME" },
	{ 'h', "help", OPT_FLAG, offsetof(struct prog_house, help), NULL,
	    "print this help and exit" },
	{ 'V', "version", OPT_FLAG, offsetof(struct prog_house, version), NULL,
	    "print the version and exit" },
	{ 0, "print-options", OPT_FLAG, offsetof(struct prog_house, print_options), NULL,
	    "print the options as a table and exit" },
	{ 0 },
};

static size_t
count_inputs(const struct table_in *in)
{
	size_t n = 0;

	while (in[n].option != NULL || in[n].cols != NULL || in[n].flags != 0)
		n++;
	return n;
}

static size_t
count_outputs(const struct table_out *out)
{
	size_t n = 0;

	while (out[n].option != NULL || out[n].cols != NULL || out[n].flags != 0)
		n++;
	return n;
}

/* "print-NAME" and its help, of a table that is compiled in */
static struct opt
print_option(struct prog *p, const struct table_in *in)
{
	static const char say[] = "print the built-in %s and exit";
	struct bytes b = { NULL, 0, 0 };
	struct opt o = { .type = OPT_PRINT, .table = in->builtin };

	bytes_add_format(&b, "print-%s", in->option);
	o.name = region_string(&p->texts, bytes_field(&b));
	b.n = 0;
	bytes_add_format(&b, say, in->option);
	o.help = region_string(&p->texts, bytes_field(&b));
	bytes_free(&b);
	return o;
}

static struct opt
output_option(const struct prog *p, size_t i, char letter, const char *name, const char *help)
{
	return (struct opt){ .letter = letter,
		.name = name,
		.type = OPT_TEXT,
		.at = (p->n_in + i) * sizeof *p->paths,
		.arg = "FILE",
		.help = help };
}

/* The options that name tables: the inputs', those that print what is compiled in, the outputs'. */
static void
make_file_opts(struct prog *p)
{
	const struct page *page = p->page;
	struct opt *o = mem_zeroed(2 * p->n_in + p->n_out + 1, sizeof *o);

	p->file_opts = o;
	for (size_t i = 0; i < p->n_in; i++) {
		const struct table_in *in = &page->inputs[i];

		if (in->option == NULL)
			continue;
		*o++ = (struct opt){ .letter = in->letter,
			.name = in->option,
			.type = OPT_TEXT,
			.at = i * sizeof *p->paths,
			.arg = in->arg != NULL ? in->arg : "FILE",
			.help = in->help };
		if (in->builtin != NULL)
			*o++ = print_option(p, in);
	}
	for (size_t i = 0; i < p->n_out; i++)
		if (page->outputs[i].option != NULL)
			*o++ =
			    output_option(p, i, 0, page->outputs[i].option, page->outputs[i].help);
	for (size_t i = 0; i < p->n_out; i++)
		if (page->outputs[i].option == NULL)
			*o++ = output_option(p, i, 'o', "output",
			    "write to FILE, which appears whole or not at all");
}

/* --- help ------------------------------------------------------------------------------------ */

/* The columns of one role, below a title unless *any says that it stands there already. */
static void
columns_help(
    const struct col *cols, enum col_role role, const char *title, bool *any, struct bytes *b)
{
	enum { INDENT = 16 };

	for (const struct col *c = cols; c != NULL && c->name != NULL; c++) {
		if (c->role != role)
			continue;
		if (!*any)
			bytes_add_format(b, "%-*s", INDENT, title);
		opt_wrap(b, INDENT + 1, field_of(c->name));
		*any = true;
	}
}

static void
all_columns_help(const struct prog *p, struct bytes *b)
{
	static const struct {
		enum col_role role;
		const char *title;
	} lists[] = { { COL_NEED, "columns needed:" }, { COL_ONE_OF, "one of:" },
		{ COL_MAY, "read if there:" } };
	bool any = false;

	for (size_t i = 0; i < sizeof lists / sizeof lists[0]; i++) {
		columns_help(
		    p->page->inputs[p->stream].cols, lists[i].role, lists[i].title, &any, b);
		bytes_add_text(b, any ? "\n" : "");
		any = false;
	}
	for (size_t i = 0; i < p->n_out; i++)
		columns_help(p->page->outputs[i].cols, COL_OUT, "columns made:", &any, b);
	bytes_add_text(b, any ? "\n" : "");
}

static void
help_text(const struct prog *p, struct bytes *b)
{
	const struct page *page = p->page;

	bytes_add_format(b, "%s - %s\n\nusage: %s", page->name, page->purpose, page->name);
	opt_usage(p->sets, page->operands, b);
	bytes_add_text(b, "\n");
	opt_help(p->sets, b);
	bytes_add_text(b, "\n");
	all_columns_help(p, b);
	bytes_add_format(b,
	    "\nexit status: 0 done, 1 done but something is not right, 2 trouble\n"
	    "The manual page has more: man %s\n",
	    page->name);
}

/* What --help and its like print, on standard output, checked like any other output. */
static int
print_and_finish(struct prog *p, struct field text)
{
	p->done = true;
	if (os_write(STDOUT_FILENO, text.p, text.n) != 0)
		err_set(&p->err, "standard output: %s", strerror(errno));
	return -1;
}

static int
print_asked(struct prog *p, const struct opt *print)
{
	struct bytes b = { NULL, 0, 0 };

	if (p->house.help)
		help_text(p, &b);
	else if (p->house.version)
		bytes_add_format(&b,
		    "%s (thrum) " THRUM_VERSION "\n"
		    "Copyright (c) 2026 the thrum developers. ISC licence.\n"
		    "There is no warranty, to the extent the law permits.\n",
		    p->page->name);
	else if (p->house.print_options)
		opt_table(p->sets, &b);
	else if (print != NULL)
		bytes_add(&b, print->table->p, print->table->n);
	if (b.n > 0)
		print_and_finish(p, bytes_field(&b));
	bytes_free(&b);
	return p->done ? -1 : 0;
}

/* Standard input can be read once: as an operand, for want of operands, or by an option. */
static int
check_standard_input(struct prog *p)
{
	size_t dashes = p->n_operands == 0 && p->text_name == NULL;
	const char *option = NULL;

	for (size_t i = 0; i < p->n_operands; i++)
		dashes += strcmp(p->operands[i], "-") == 0;
	for (size_t i = 0; i < p->n_in; i++)
		if (p->paths[i] != NULL && strcmp(p->paths[i], "-") == 0) {
			dashes++;
			option = p->page->inputs[i].option;
		}
	if (dashes < 2)
		return 0;
	if (option == NULL)
		return err_set(&p->err, "-: standard input is named twice");
	return err_set(&p->err, "--%s -: standard input is read already%s", option,
	    p->n_operands == 0 ? ", as no FILE is named" : "");
}

/* -c names each of the page's columns once. */
static int
check_renames(struct prog *p)
{
	const struct opt_pairs *renames = &p->house.renames;
	char shown[ERR_SHOWN];

	for (size_t i = 0; i < renames->n; i++)
		for (size_t k = 0; k < i; k++)
			if (field_same(renames->v[i].name, renames->v[k].name))
				return err_set(&p->err, "--column: named twice: '%s'",
				    err_show(shown, renames->v[i].name.p, renames->v[i].name.n));
	return 0;
}

int
prog_begin(struct prog *p, const struct page *page, void *opts, char **argv)
{
	const struct opt *print = NULL;

	os_start();
	*p = (struct prog){ .page = page };
	p->n_in = count_inputs(page->inputs);
	p->n_out = count_outputs(page->outputs);
	p->in = mem_zeroed(p->n_in, sizeof *p->in);
	p->out = mem_zeroed(p->n_out, sizeof *p->out);
	p->writers = mem_zeroed(p->n_out, sizeof(struct writer *));
	p->paths = mem_zeroed(p->n_in + p->n_out, sizeof *p->paths);
	p->goes = mem_zeroed(p->n_out, sizeof *p->goes);
	while (page->inputs[p->stream].option != NULL)
		p->stream++;
	for (size_t i = 0; i < p->n_out; i++)
		p->goes[i] = i;
	make_file_opts(p);
	p->sets[0] = (struct opt_set){ page->opts != NULL ? page->opts : no_opts, opts };
	p->sets[1] = (struct opt_set){ p->file_opts, p->paths };
	p->sets[2] = (struct opt_set){ house_opts, &p->house };
	p->operands = argv[0] != NULL ? argv + 1 : argv;
	if (opt_parse(p->sets, argv, &p->n_operands, &print, &p->err) != 0)
		return -1;
	return print_asked(p, print) != 0 ? -1 : check_renames(p);
}

/* --- before the tables are opened ------------------------------------------------------------ */

void
prog_rename(struct prog *p, const char *name, const char *column)
{
	struct opt_pairs *renames = &p->house.renames;

	renames->v = mem_grow(renames->v, &renames->cap, renames->n + 1, sizeof *renames->v);
	renames->v[renames->n++] = (struct opt_pair){ field_of(name), field_of(column) };
}

bool
prog_has_operands(const struct prog *p)
{
	return p->n_operands > 0;
}

bool
prog_has_input(const struct prog *p, size_t input)
{
	return p->paths[input] != NULL;
}

bool
prog_has_output(const struct prog *p, size_t output)
{
	return p->paths[p->n_in + output] != NULL;
}

const char *
prog_output_path(const struct prog *p, size_t output)
{
	return p->paths[p->n_in + output];
}

void
prog_operands_are(struct prog *p, const char *name, struct field text)
{
	p->text_name = name;
	p->text = text;
}

void
prog_move_output(struct prog *p, size_t from, size_t to)
{
	p->goes[to] = from;
	p->goes[from] = SIZE_MAX;
}

void
prog_no_output(struct prog *p, size_t output)
{
	p->goes[output] = SIZE_MAX;
}

/* --- inputs ---------------------------------------------------------------------------------- */

static int
open_operands(struct prog *p, struct table *t, const struct table_in *in)
{
	const struct col *cols = in->flags & IN_LATER ? NULL : in->cols;
	unsigned flags = 0;

	if (in->flags & IN_FILES)
		return 0;
	if (p->text_name != NULL)
		return table_open_reader(
		    t, cols, reader_memory(p->text_name, p->text, &p->err), NULL, &p->err);
	for (size_t i = 0; i < p->n_out; i++)
		if ((p->page->outputs[i].flags & OUT_FILTER) && p->goes[i] != SIZE_MAX)
			flags |= READER_SAME_COLUMNS;
	if (in->flags & IN_SAME_COLUMNS)
		flags |= READER_SAME_COLUMNS;
	if (in->flags & IN_MISSHAPEN)
		flags |= READER_KEEP_MISSHAPEN;
	prog_say_waiting(p, "a table");
	return table_open(t, cols, p->operands, p->n_operands, flags, &p->house.renames, &p->err);
}

static int
open_input(struct prog *p, size_t i)
{
	const struct table_in *in = &p->page->inputs[i];
	struct table *t = &p->in[i];

	t->err = &p->err;
	if (in->option == NULL)
		return open_operands(p, t, in);
	if (p->paths[i] == NULL && (in->flags & IN_NEEDED))
		return err_set(
		    &p->err, "--%s %s is needed", in->option, in->arg != NULL ? in->arg : "FILE");
	if (p->paths[i] == NULL && in->builtin == NULL)
		return 0;
	return table_open_side(t, in->cols, p->paths[i], in->builtin, &p->err);
}

static int
hold_input(struct prog *p, size_t i)
{
	const struct table_in *in = &p->page->inputs[i];
	unsigned what = 0;

	if (in->flags & IN_HELD)
		what |= HOLD_ROWS;
	if (in->flags & IN_COLUMNS)
		what |= HOLD_COLUMNS;
	if (what == 0)
		return 0;
	return table_hold(&p->in[i], what, in->key, in->flags & IN_MANY, &p->texts_of_columns);
}

int
prog_bind(struct prog *p, size_t input, const struct col *cols)
{
	return table_bind(&p->in[input], cols, &p->house.renames);
}

size_t
prog_files(struct prog *p, char *const **files)
{
	static char dash[] = "-";
	static char *const standard_input[] = { dash };

	*files = p->n_operands > 0 ? p->operands : standard_input;
	return p->n_operands > 0 ? p->n_operands : 1;
}

/* --- outputs --------------------------------------------------------------------------------- */

/* The input of an option whose file an output would replace, or NULL. */
static const struct table_in *
replaced_input(const struct prog *p)
{
	for (size_t i = 0; i < p->n_in; i++)
		if (p->paths[i] != NULL && strcmp(p->paths[i], "-") != 0 &&
		    outputs_with(&p->outputs, os_id_at(p->paths[i])) != NULL)
			return &p->page->inputs[i];
	return NULL;
}

/* true if an output is one of the operands, or standard input if that is read */
static bool
replaces_operand(struct prog *p)
{
	char *const *files;
	size_t n = prog_files(p, &files);
	bool found = false;

	if (p->text_name != NULL || !outputs_have_file(&p->outputs))
		return false;
	for (size_t i = 0; i < n; i++) {
		bool dash = strcmp(files[i], "-") == 0;

		found |= outputs_with(&p->outputs,
			     dash ? os_id_of(STDIN_FILENO) : os_id_at(files[i])) != NULL;
	}
	return found;
}

static int
open_output(struct prog *p, size_t i)
{
	const struct table_out *out = &p->page->outputs[i];
	const struct table_in *in;
	const char *path, *name;

	if (p->goes[i] == SIZE_MAX)
		return 0;
	path = p->paths[p->n_in + p->goes[i]];
	if (path == NULL && p->goes[i] == i && out->option != NULL)
		return 0;
	p->writers[i] = writer_open(&p->outputs, path, &p->err);
	if (p->writers[i] == NULL)
		return -1;
	name = path != NULL ? path : "standard output";
	in = replaced_input(p);
	if (in != NULL)
		return err_set(
		    &p->err, "%s: is written, and named by --%s as well", name, in->option);
	if (replaces_operand(p))
		return err_set(&p->err, "%s: is read and written at once", name);
	return 0;
}

void
prog_sheet(struct prog *p, size_t output, const struct col *cols, struct field lead)
{
	const struct table_out *out = &p->page->outputs[output];
	const struct table *from = out->flags & OUT_FILTER ? &p->in[p->stream] : NULL;

	if (p->writers[output] != NULL)
		sheet_open(&p->out[output], cols, from, lead, p->writers[output]);
}

struct writer *
prog_writer(struct prog *p, size_t output)
{
	return p->writers[output];
}

void
prog_flush(void *arg)
{
	struct prog *p = arg;

	for (size_t i = 0; i < p->n_out; i++)
		if (p->writers[i] != NULL)
			writer_flush(p->writers[i]);
}

int
prog_open(struct prog *p)
{
	if (check_standard_input(p) != 0)
		return -1;
	for (size_t i = 0; i < p->n_in; i++)
		if (open_input(p, i) != 0)
			return -1;
	for (size_t i = 0; i < p->n_out; i++)
		if (open_output(p, i) != 0)
			return -1;
	for (size_t i = 0; i < p->n_in; i++)
		if (hold_input(p, i) != 0)
			return -1;
	for (size_t i = 0; i < p->n_out; i++)
		if (!(p->page->outputs[i].flags & OUT_LATER))
			prog_sheet(p, i, p->page->outputs[i].cols, field_of(""));
	if (p->in[p->stream].reader != NULL)
		reader_on_wait(p->in[p->stream].reader, prog_flush, p);
	return err_is_set(&p->err) ? -1 : 0;
}

/* --- rows ------------------------------------------------------------------------------------ */

/* Writes the headers, before the first read that may wait, so that the next program can fail early. */
static void
write_heads(struct prog *p)
{
	for (size_t i = 0; i < p->n_out; i++)
		sheet_head(&p->out[i]);
	p->begun = true;
}

bool
prog_next(struct prog *p)
{
	if (!p->begun)
		write_heads(p);
	if (p->row_ready && !err_is_set(&p->err))
		for (size_t i = 0; i < p->n_out; i++)
			if (p->page->outputs[i].flags & OUT_FILTER)
				sheet_row(&p->out[i]);
	p->row_ready = !err_is_set(&p->err) && table_next(&p->in[p->stream]);
	return p->row_ready;
}

void
prog_drop(struct prog *p)
{
	p->row_ready = false;
}

/* --- messages -------------------------------------------------------------------------------- */

void
prog_say(const struct prog *p, const char *fmt, ...)
{
	/* no allocation: it may be said when all is done, and then the lack of memory must not undo it */
	enum { MOST = 8192 };
	char text[MOST], line[4 * MOST + 64];
	va_list args;
	size_t n;
	int length;

	va_start(args, fmt);
	length = vsnprintf(text, sizeof text, fmt, args);
	va_end(args);
	if (length < 0)
		length = 0;
	n = (size_t)snprintf(line, 64, "%.60s: ", p->page->name);
	n += field_escape(line + n, /* names of files may contain anything */
	    (struct field){ text, (size_t)length < sizeof text ? (size_t)length : sizeof text - 1 },
	    ESCAPE_NOT_UTF8);
	line[n++] = '\n';
	(void)os_write(STDERR_FILENO, line, n); /* no other place to report its failure */
}

const char *
prog_s(uint64_t n)
{
	return n == 1 ? "" : "s";
}

void
prog_say_found(
    const struct prog *p, uint64_t n, const char *what, uint64_t errors, uint64_t warnings)
{
	char rows[64] = "";

	if (what != NULL)
		snprintf(rows, sizeof rows, "%" PRIu64 " %s%s, ", n, what, prog_s(n));
	prog_say(p, "%s%" PRIu64 " error%s, %" PRIu64 " warning%s", rows, errors, prog_s(errors),
	    warnings, prog_s(warnings));
}

void
prog_say_waiting(const struct prog *p, const char *what)
{
	if (p->n_operands == 0 && isatty(STDIN_FILENO))
		prog_say(p, "reading %s from the terminal; -h for help", what);
}

/* --- the end --------------------------------------------------------------------------------- */

static void
free_all(struct prog *p)
{
	for (size_t i = 0; i < p->n_in; i++)
		table_close(&p->in[i]);
	for (size_t i = 0; i < p->n_out; i++)
		sheet_free(&p->out[i]);
	opt_free(p->sets);
	ids_free(&p->texts_of_columns);
	region_free(&p->texts);
	free(p->in);
	free(p->out);
	free(p->writers);
	free(p->paths);
	free(p->goes);
	free(p->file_opts);
}

/* Warns of tables whose last line has no end; programs of IN_MISSHAPEN report these themselves. */
static void
say_cut(const struct prog *p)
{
	for (size_t i = 0; i < p->n_in; i++) {
		const char *file;
		size_t next = 0;
		uint64_t line;

		if (p->page->inputs[i].flags & IN_MISSHAPEN)
			continue;
		while ((file = reader_cut(p->in[i].reader, &next, &line)) != NULL)
			prog_say(
			    p, "%s:%llu: warning: " READER_CUT, file, (unsigned long long)line);
	}
}

int
prog_close(struct prog *p, int verdict)
{
	bool keep = !err_is_set(&p->err) && !p->done;
	int status = p->done ? EXIT_DONE : verdict;

	if (keep)
		write_heads(p);
	outputs_finish(&p->outputs, keep, &p->err);
	if (err_is_set(&p->err)) {
		prog_say(p, "%s", p->err.text);
		status = EXIT_TROUBLE;
	} else
		say_cut(p);
	free_all(p);
	return status;
}
