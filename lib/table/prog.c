#include "table/prog.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/os.h"

static const struct opt house_opts[] = {
	{ 'o', "output", OPT_TEXT, offsetof(struct prog_house, output), "FILE",
	    "write to FILE, which appears whole or not at all" },
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

static void
columns_help(const struct page *page, enum col_role role, const char *title, struct bytes *b)
{
	enum { INDENT = 16 };
	bool first = true;

	for (const struct col *c = page->cols; c->name != NULL; c++) {
		if (c->role != role)
			continue;
		if (first)
			bytes_add_format(b, "%-*s", INDENT, title);
		opt_wrap(b, INDENT + 1, field_of(c->name));
		first = false;
	}
	if (!first)
		bytes_add_text(b, "\n");
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
	columns_help(page, COL_NEED, "columns needed:", b);
	columns_help(page, COL_ONE_OF, "one of:", b);
	columns_help(page, COL_MAY, "read if there:", b);
	columns_help(page, COL_OUT, "columns made:", b);
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

int
prog_begin(struct prog *p, const struct page *page, void *opts, char **argv)
{
	const struct opt *print = NULL;

	os_start();
	*p = (struct prog){ .page = page };
	p->sets[0] = (struct opt_set){ page->opts, opts };
	p->sets[1] = (struct opt_set){ house_opts, &p->house };
	p->operands = argv[0] != NULL ? argv + 1 : argv;
	if (opt_parse(p->sets, argv, &p->n_operands, &print, &p->err) != 0)
		return -1;
	return print_asked(p, print);
}

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

/* The option that names the file of an output as well: a side table would be lost. */
static const struct opt *
also_named(const struct prog *p)
{
	for (int s = 0; p->sets[s].opts != NULL; s++)
		for (const struct opt *o = p->sets[s].opts; o != NULL && o->name != NULL; o++) {
			const struct output *out;
			const char *file;

			if (o->type != OPT_TEXT ||
			    (strcmp(o->arg, "FILE") != 0 && strcmp(o->arg, "MAP") != 0))
				continue;
			file = *(char **)(void *)((char *)p->sets[s].values + o->at);
			if (file == NULL || strcmp(file, "-") == 0)
				continue;
			out = outputs_with(&p->outputs, os_id_at(file));
			if (out != NULL && out->path != file)
				return o;
		}
	return NULL;
}

/* true if an output is one of the operands, or standard input if that is read */
static bool
reads_an_output(const struct prog *p)
{
	bool found =
	    p->n_operands == 0 && outputs_with(&p->outputs, os_id_of(STDIN_FILENO)) != NULL;

	for (size_t i = 0; i < p->n_operands; i++) {
		const char *file = p->operands[i];
		bool dash = strcmp(file, "-") == 0;

		found |= outputs_with(
			     &p->outputs, dash ? os_id_of(STDIN_FILENO) : os_id_at(file)) != NULL;
	}
	return found;
}

struct writer *
prog_output(struct prog *p, const char *path)
{
	struct writer *out = writer_open(&p->outputs, path, &p->err);
	const char *name = path != NULL ? path : "standard output";
	const struct opt *also;

	if (out == NULL)
		return NULL;
	also = also_named(p);
	if (also != NULL)
		err_set(&p->err, "%s: is written, and named by --%s as well", name, also->name);
	else if (reads_an_output(p))
		err_set(&p->err, "%s: is read and written at once", name);
	return err_is_set(&p->err) ? NULL : out;
}

int
prog_open_sheet(struct prog *p)
{
	const struct page *page = p->page;
	struct writer *out;

	if (page->flags & PROG_NO_SHEET)
		return 0;
	out = prog_output(p, p->house.output);
	if (out == NULL)
		return -1;
	sheet_open(&p->out, page->cols, page->flags & PROG_FILTER ? &p->in : NULL, out);
	reader_on_wait(p->in.reader, writer_flush, out);
	return 0;
}

/* One write, so that messages of programs in a pipe do not mix. */
void
prog_say(const struct prog *p, const char *fmt, ...)
{
	struct bytes line = { NULL, 0, 0 };
	va_list ap, again;
	char *text;
	int n;

	va_start(ap, fmt);
	va_copy(again, ap);
	n = vsnprintf(NULL, 0, fmt, ap);
	va_end(ap);
	text = mem_zeroed(n >= 0 ? (size_t)n + 1 : 1, 1);
	vsnprintf(text, n >= 0 ? (size_t)n + 1 : 1, fmt, again);
	va_end(again);
	bytes_add_format(&line, "%s: ", p->page->name);
	bytes_add_clean(&line, field_of(text)); /* names of files may contain anything */
	bytes_add_text(&line, "\n");
	(void)os_write(STDERR_FILENO, line.p, line.n); /* where else should that be said? */
	bytes_free(&line);
	free(text);
}

const char *
prog_s(uint64_t n)
{
	return n == 1 ? "" : "s";
}

void
prog_say_waiting(const struct prog *p, const char *what)
{
	if (p->n_operands == 0 && isatty(STDIN_FILENO))
		prog_say(p, "reading %s from the terminal; -h for help", what);
}

int
prog_open_input(struct prog *p)
{
	unsigned flags = 0;

	if (p->page->flags & (PROG_FILTER | PROG_SAME_COLUMNS))
		flags |= READER_SAME_COLUMNS;
	if (p->page->flags & PROG_KEEP_MISSHAPEN)
		flags |= READER_KEEP_MISSHAPEN;
	prog_say_waiting(p, "a table");
	return table_open(
	    &p->in, p->page->cols, p->operands, p->n_operands, flags, &p->house.renames, &p->err);
}

int
prog_open(struct prog *p)
{
	return prog_open_input(p) == 0 ? prog_open_sheet(p) : -1;
}

int
prog_open_text(struct prog *p, const char *name, struct field text)
{
	struct reader *reader = reader_memory(name, text, &p->err);

	if (table_open_reader(&p->in, p->page->cols, reader, NULL, &p->err) != 0)
		return -1;
	return prog_open_sheet(p);
}

bool
prog_next(struct prog *p)
{
	bool filter = p->page->flags & PROG_FILTER;

	if (p->row_ready && filter && !err_is_set(&p->err))
		sheet_row(&p->out);
	p->row_ready = !err_is_set(&p->err) && table_next(&p->in);
	return p->row_ready;
}

void
prog_drop(struct prog *p)
{
	p->row_ready = false;
}

int
prog_close(struct prog *p, int verdict)
{
	bool keep = !err_is_set(&p->err) && !p->done;

	table_close(&p->in);
	outputs_finish(&p->outputs, keep, &p->err);
	sheet_free(&p->out);
	opt_free(p->sets);
	if (!err_is_set(&p->err))
		return p->done ? EXIT_DONE : verdict;
	prog_say(p, "%s", p->err.text);
	return EXIT_TROUBLE;
}
