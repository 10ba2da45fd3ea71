/*
 * thrum-pack: a table into a pack (thrum-pack(5)): small, readable by every gzip reader, and any key
 * found without reading the rest.
 */
#include <stdlib.h>

#include "archive/check.h"
#include "archive/pool.h"
#include "archive/write.h"
#include "base/os.h"
#include "base/when.h"
#include "table/prog.h"

struct opts {
	struct opt_list keys;
	int64_t level, threads;
	const char *name, *night, *by;
};

static const struct opt opts[] = {
	{ 0, "key", OPT_LIST, offsetof(struct opts, keys), "COL[,COL]",
	    "columns rows will be looked up by (closure)" },
	{ 0, "level", OPT_WHOLE, offsetof(struct opts, level), "N", "1 packs fast, 9 small (6)", 1,
	    9 },
	{ 0, "threads", OPT_WHOLE, offsetof(struct opts, threads), "N",
	    "pack on N processors (all)", 1, POOL_MOST },
	{ 0, "name", OPT_TEXT, offsetof(struct opts, name), "TEXT",
	    "what the table is called, for --list" },
	{ 0, "night", OPT_TEXT, offsetof(struct opts, night), "DATE",
	    "the night it is of, for --list" },
	{ 0, "by", OPT_TEXT, offsetof(struct opts, by), "TEXT", "who made it, for --list" },
	{ 0 },
};

enum { CLOSURE };

static const struct col cols[] = {
	[CLOSURE] = { "closure", COL_MAY, COL_TEXT },
	{ NULL },
};

static const struct table_in inputs[] = {
	{ .cols = cols, .flags = IN_SAME_COLUMNS },
	{ NULL },
};

static const struct table_out outputs[] = { { .flags = OUT_LATER }, { NULL } };

static const struct page page = {
	.name = "thrum-pack",
	.purpose = "keep a table small, whole and searchable",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

/* the key columns, and what is needed to make a row's hashes */
struct keys {
	struct field names[PACK_KEYS];
	int columns[PACK_KEYS];
	uint32_t starts[PACK_KEYS];
	size_t n;
};

static int
add_key(struct prog *p, struct keys *keys, struct field name)
{
	char shown[ERR_SHOWN];
	int column = reader_need(p->in[0].reader, name);

	if (column < 0)
		return -1;
	for (size_t k = 0; k < keys->n; k++)
		if (keys->columns[k] == column)
			return err_set(
			    &p->err, "--key: named twice: '%s'", err_show(shown, name.p, name.n));
	if (keys->n == PACK_KEYS)
		return err_set(&p->err, "--key: more than %d columns", PACK_KEYS);
	keys->names[keys->n] = reader_name(p->in[0].reader, (size_t)column);
	keys->columns[keys->n] = column;
	keys->starts[keys->n++] = pack_key_start(name);
	return 0;
}

static int
find_keys(struct prog *p, const struct opt_list *asked, struct keys *keys)
{
	for (size_t i = 0; i < asked->n; i++)
		if (add_key(p, keys, asked->v[i]) != 0)
			return -1;
	if (asked->n == 0 && table_has(&p->in[0], CLOSURE))
		return add_key(p, keys, table_name(&p->in[0], CLOSURE));
	return 0;
}

/* A text for --list: fit to stand in a table. */
static int
check_text(struct prog *p, const char *option, const char *text)
{
	struct field f = field_of(text != NULL ? text : "");
	char shown[ERR_SHOWN];

	for (size_t i = 0; i < f.n; i++)
		if ((unsigned char)f.p[i] < 0x20)
			return err_set(&p->err, "--%s: control character: '%s'", option,
			    err_show(shown, f.p, f.n));
	if (utf8_fault(f) < f.n)
		return err_set(&p->err, "--%s: not UTF-8: '%s'", option, err_show(shown, f.p, f.n));
	return 0;
}

static int
check_texts(struct prog *p, const struct opts *o)
{
	struct when night;

	if (check_text(p, "name", o->name) != 0 || check_text(p, "by", o->by) != 0)
		return -1;
	if (o->night == NULL)
		return 0;
	if (when_parse(field_of(o->night), &night) != 0 || !night.date_only)
		return err_set(&p->err, "--night: not a date such as 2026-03-11: '%s'", o->night);
	return 0;
}

/* A table whose names could upset a list or a terminal is not packed. */
static int
check_header(struct prog *p)
{
	const char *fault = check_names(reader_header(p->in[0].reader));

	return fault == NULL ? 0 : reader_fail_header(p->in[0].reader, fault);
}

static int
check_output(struct prog *p)
{
	if (output_is_terminal(prog_output_path(p, 0)))
		return err_set(
		    &p->err, "a pack is not for the terminal: name a file with -o, or redirect");
	return 0;
}

static void
write_bytes(void *out, const void *bytes, size_t n)
{
	writer_bytes(out, bytes, n);
}

static struct field
given(const char *text)
{
	return field_of(text != NULL ? text : "");
}

static void
add_row(struct prog *p, struct packer *packer, const struct keys *keys, struct bytes *joined)
{
	uint32_t hashes[PACK_KEYS];

	for (size_t k = 0; k < keys->n; k++)
		hashes[k] =
		    pack_key(keys->starts[k], row_field(&p->in[0].row, (size_t)keys->columns[k]));
	packer_row(packer, table_line(&p->in[0], joined), hashes);
}

static void
pack(struct prog *p, const struct opts *o, const struct keys *keys)
{
	struct bytes joined = { NULL, 0, 0 };
	struct pack_setup setup = {
		.header = reader_header(p->in[0].reader),
		.keys = keys->names,
		.nkeys = keys->n,
		.name = given(o->name),
		.night = given(o->night),
		.by = given(o->by),
		.level = (int)o->level,
		.threads = (size_t)o->threads,
		.write = write_bytes,
		.arg = prog_writer(p, 0),
	};
	struct packer *packer;

	packer = packer_open(&setup, &p->err);
	if (packer != NULL) {
		while (prog_next(p))
			add_row(p, packer, keys, &joined);
		if (!err_is_set(&p->err))
			packer_close(packer);
		packer_free(packer);
	}
	bytes_free(&joined);
}

int
main(int argc, char **argv)
{
	struct opts o = { .level = 6, .threads = (int64_t)pool_processors() };
	struct keys keys = { .n = 0 };
	struct prog p;

	(void)argc;
	if (prog_begin(&p, &page, &o, argv) == 0 && check_output(&p) == 0 &&
	    check_texts(&p, &o) == 0 && prog_open(&p) == 0 &&
	    reader_refuse_exports(p.in[0].reader) == 0 && check_header(&p) == 0 &&
	    find_keys(&p, &o.keys, &keys) == 0)
		pack(&p, &o, &keys);
	return prog_close(&p, EXIT_DONE);
}
