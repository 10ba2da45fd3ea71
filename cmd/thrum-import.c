/*
 * thrum-import: exports of any kind, comma, semicolon or TAB, in any encoding, made into one table
 * by a map (thrum-map(5)). Nothing is guessed, nothing is lost.
 */
#include <inttypes.h>
#include <stdlib.h>

#include "import/export.h"
#include "import/draft.h"
#include "import/import.h"
#include "table/prog.h"

struct opts {
	bool draft;
};

static const struct opt opts[] = {
	{ 0, "draft", OPT_FLAG, offsetof(struct opts, draft), NULL,
	    "write a first map for the export, to be finished by hand" },
	{ 0 },
};

enum { ASIDE_FILE, ASIDE_LINE, ASIDE_COLUMN, ASIDE_WHY, ASIDE_RAW };

static const struct col aside_cols[] = {
	[ASIDE_FILE] = { "aside_file", COL_OUT, COL_TEXT },
	[ASIDE_LINE] = { "aside_line", COL_OUT, COL_WHOLE },
	[ASIDE_COLUMN] = { "aside_column", COL_OUT, COL_TEXT },
	[ASIDE_WHY] = { "aside_why", COL_OUT, COL_TEXT },
	[ASIDE_RAW] = { "aside_raw", COL_OUT, COL_TEXT },
	{ NULL },
};

enum { EXPORTS, MAP };

static const struct table_in inputs[] = {
	[EXPORTS] = { .flags = IN_FILES },
	[MAP] = { "map", "how to read the exports", map_cols, .letter = 'm', .arg = "MAP" },
	{ NULL },
};

enum { TABLE, ASIDE };

static const struct table_out outputs[] = {
	[TABLE] = { .flags = OUT_LATER },
	[ASIDE] = { "set-aside",
	    "where rows go that cannot be converted; without, they stop the run", aside_cols },
	{ NULL },
};

static const struct page page = {
	.name = "thrum-import",
	.purpose = "exports of any kind into a table, by a map",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct importer {
	struct prog p;
	struct opts o;
	struct map map;
	struct import *import;
	struct export **in;
	size_t nin;
	struct writer *out;
	struct bytes text;
	uint64_t set_aside;
	int status;
};

/* --- opening --------------------------------------------------------------------------------- */

static int
open_exports(struct importer *m)
{
	char *const *files;
	size_t n = prog_files(&m->p, &files);
	/* all are open at once: of many, each gets less */
	const size_t block = n > 8 ? LINES_BLOCK / 16 : LINES_BLOCK;

	prog_say_waiting(&m->p, "an export");
	m->in = mem_zeroed(n, sizeof(struct export *));
	for (; m->nin < n; m->nin++) {
		m->in[m->nin] = export_open(files[m->nin], block, &m->p.err);
		if (m->in[m->nin] == NULL)
			return -1;
		m->in[m->nin]->in.wait = prog_flush;
		m->in[m->nin]->in.wait_arg = &m->p;
	}
	return 0;
}

static int
check_options(struct importer *m)
{
	struct err *err = &m->p.err;

	if (m->o.draft && prog_has_output(&m->p, ASIDE))
		return err_set(err, "--set-aside: not with --draft");
	if (m->o.draft && m->p.house.renames.n > 0)
		return err_set(err, "--column: not with --draft");
	if (m->o.draft && m->p.n_operands > 1)
		return err_set(err, "--draft: one export at a time");
	if (!m->o.draft && !prog_has_input(&m->p, MAP))
		return err_set(err, "-m MAP is missing; --draft writes a first one");
	return 0;
}

static int
begin(struct importer *m)
{
	if (check_options(m) != 0 || prog_open(&m->p) != 0 ||
	    (prog_has_input(&m->p, MAP) && map_read(&m->map, &m->p.in[MAP], m->o.draft) != 0) ||
	    open_exports(m) != 0)
		return -1;
	m->out = prog_writer(&m->p, TABLE);
	if (m->o.draft)
		return 0;
	m->import = import_new(&m->map, &m->p.house.renames, &m->p.err);
	for (size_t i = 0; i < m->nin; i++)
		if (import_add(m->import, m->in[i]) != 0)
			return -1;
	return 0;
}

/* --- rows ------------------------------------------------------------------------------------ */

/* "what: 'value'" of a row that is wrong, to b */
static void
why_text(struct bytes *b, const struct import_row *row)
{
	char shown[ERR_SHOWN];

	b->n = 0;
	bytes_add_text(b, row->wrong);
	if (row->value.p != NULL)
		bytes_add_format(b, ": '%s'", err_show(shown, row->value.p, row->value.n));
}

static void
wrong_row(struct importer *m, const struct import_row *row)
{
	struct sheet *aside = &m->p.out[ASIDE];
	char shown[ERR_SHOWN];

	if (!prog_has_output(&m->p, ASIDE)) {
		why_text(&m->text, row);
		bytes_add(&m->text, "", 1);
		err_show(shown, row->column.p, row->column.n);
		err_set(&m->p.err, "%s:%" PRIu64 ": %s%s%s%s", row->file, row->at_line,
		    row->column.n > 0 ? "column '" : "", shown, row->column.n > 0 ? "': " : "",
		    m->text.p);
		return;
	}
	m->set_aside++;
	m->text.n = 0;
	bytes_add_clean(&m->text, field_of(row->file));
	put_text(aside, ASIDE_FILE, bytes_field(&m->text));
	put_whole(aside, ASIDE_LINE, (int64_t)row->at_line);
	put_text(aside, ASIDE_COLUMN, row->column);
	why_text(&m->text, row);
	put_text(aside, ASIDE_WHY, bytes_field(&m->text));
	m->text.n = 0;
	import_raw(row->raw, &m->text);
	put_text(aside, ASIDE_RAW, bytes_field(&m->text));
	sheet_row(aside);
}

/* A row comes out, or is set aside. */
static void
one_row(struct importer *m, const struct import_row *row)
{
	if (row->wrong != NULL) {
		wrong_row(m, row);
		m->status = EXIT_AGAINST;
		return;
	}
	writer_slice(m->out, row->line);
	writer_end_row(m->out);
}

static void
say(const struct importer *m, const struct export *in, uint64_t n, const char *one,
    const char *many)
{
	if (n > 0)
		prog_say(&m->p, "%s: %" PRIu64 " %s", in->in.name, n, n == 1 ? one : many);
}

/* What was done to an export and does not show in the table. */
static void
say_counts(struct importer *m, const struct export *in)
{
	const struct import_counts *counts = import_counts(m->import);

	for (size_t i = 0; i < m->map.rules[MAP_DROP].n; i++)
		if (counts->dropped[i] > 0)
			prog_say(&m->p, "%s: %" PRIu64 " row%s dropped by %s:%" PRIu64, in->in.name,
			    counts->dropped[i], prog_s(counts->dropped[i]), m->map.path,
			    m->map.rules[MAP_DROP].v[i].line);
	say(m, in, counts->filled, "row with missing cells at its end filled up",
	    "rows with missing cells at their ends filled up");
	say(m, in, counts->cut, "row with empty cells too many cut",
	    "rows with empty cells too many cut");
	say(m, in, counts->replaced, "TAB or line break inside a cell made a blank",
	    "TABs or line breaks inside cells made blanks");
	say(m, in, m->set_aside, "row set aside", "rows set aside");
	if (counts->unended)
		prog_say(&m->p, "%s: warning: the last line has no end: is it whole?", in->in.name);
	m->set_aside = 0;
}

static void
one_export(struct importer *m, size_t i)
{
	struct field notes = import_notes(m->import, i);
	struct import_row row;

	if (notes.n > 0)
		prog_say(&m->p, "%s: %.*s", m->in[i]->in.name, (int)notes.n, notes.p);
	while (import_next(m->import, i, &row))
		one_row(m, &row);
	if (!err_is_set(&m->p.err))
		say_counts(m, m->in[i]);
}

static int
all_exports(struct importer *m)
{
	struct import_row row;

	import_header(m->import, m->out);
	for (size_t i = 0; i < m->nin && !err_is_set(&m->p.err); i++)
		one_export(m, i);
	while (!err_is_set(&m->p.err) && import_rest(m->import, &row))
		one_row(m, &row);
	if (m->set_aside > 0 && !err_is_set(&m->p.err))
		prog_say(&m->p, "%" PRIu64 " row%s set aside at the end", m->set_aside,
		    prog_s(m->set_aside));
	return m->status;
}

int
main(int argc, char **argv)
{
	struct importer m = { .nin = 0 };
	int status = EXIT_DONE;

	(void)argc;
	if (prog_begin(&m.p, &page, &m.o, argv) == 0 && begin(&m) == 0) {
		if (m.o.draft)
			draft_write(
			    m.in[0], prog_has_input(&m.p, MAP) ? &m.map : NULL, m.out, &m.p.err);
		else
			status = all_exports(&m);
	}
	status = prog_close(&m.p, status);
	import_free(m.import);
	for (size_t i = 0; i < m.nin; i++)
		export_close(m.in[i]);
	free(m.in);
	map_free(&m.map);
	bytes_free(&m.text);
	return status;
}
