/*
 * thrum-unpack: the table back out of packs (thrum-pack(5)), or the rows of one key, or what is left
 * of a damaged one.
 */
#include <inttypes.h>
#include <stdlib.h>

#include "archive/files.h"
#include "archive/list.h"
#include "archive/pool.h"
#include "base/mem.h"
#include "fibre/lookup.h"
#include "table/prog.h"

struct opts {
	struct opt_pairs where;
	bool latest, list, hashes, test, salvage;
	int64_t max_out, threads; /* max_out 0: any */
};

static const struct opt opts[] = {
	{ 0, "where", OPT_PAIR, offsetof(struct opts, where), "COL=VALUE",
	    "only rows with this field; of one column any, of several all", .empty = true },
	{ 0, "latest", OPT_FLAG, offsetof(struct opts, latest), NULL,
	    "only the latest standing attempt at each joint" },
	{ 0, "list", OPT_FLAG, offsetof(struct opts, list), NULL, "what packs there are" },
	{ 0, "hashes", OPT_FLAG, offsetof(struct opts, hashes), NULL,
	    "with --list: what --catalogue needs, too" },
	{ 0, "test", OPT_FLAG, offsetof(struct opts, test), NULL, "is everything sound" },
	{ 0, "salvage", OPT_FLAG, offsetof(struct opts, salvage), NULL,
	    "the whole rows of a bad pack" },
	{ 0, "max-out", OPT_WHOLE, offsetof(struct opts, max_out), "BYTES",
	    "unpacking to more is trouble (any)", 1, 9007199254740992.0 },
	{ 0, "threads", OPT_WHOLE, offsetof(struct opts, threads), "N",
	    "unpack on N processors (all)", 1, POOL_MOST },
	{ 0 },
};

enum { PACKS, CATALOGUE };

static const struct table_in inputs[] = {
	[PACKS] = { .cols = latest_cols, .flags = IN_FILES },
	[CATALOGUE] = { "catalogue", "a list of packs: those without a row wanted are not opened",
	    catalogue_cols },
	{ NULL },
};

static const struct table_out outputs[] = { { .flags = OUT_LATER }, { NULL } };

static const struct page page = {
	.name = "thrum-unpack",
	.purpose = "the table out of a pack, or the rows of one key",
	.operands = "[FILE ...]",
	.opts = opts,
	.inputs = inputs,
	.outputs = outputs,
};

struct job {
	struct prog p;
	struct opts o;
	struct lookup lookup;
	struct packlist list;
	struct pack_files files;
	const char *file; /* the present one */
	bool sound;       /* nothing at all was wrong with them */
};

/* --- packs ----------------------------------------------------------------------------------- */

/* What the latest records are asked for rules out no rows. */
static void
drop_late(const struct job *j, struct unpack *u)
{
	for (size_t i = 0; i < j->o.where.n; i++)
		if (lookup_is_late(&j->lookup, j->o.where.v[i].name))
			unpack_unwant(u, j->o.where.v[i].name);
}

/* A pack begins: how do its columns fit to those of the table, or of the pack before? */
static void
take_header(struct job *j, struct unpack *u, struct field header)
{
	const struct unpack_pack *pack = unpack_pack(u);

	if (j->o.list) {
		packlist_begin(&j->list, header);
	} else if (!j->o.test) {
		lookup_header(&j->lookup, j->file, pack->number, header, pack->keys);
		drop_late(j, u);
	}
}

/* --- files ----------------------------------------------------------------------------------- */

static void
say_lines(struct job *j, const char *before, const char *between, struct field lines)
{
	while (lines.n > 0) {
		struct field line = field_cut(&lines, '\n');

		prog_say(&j->p, "%s%s%.*s", before, between, (int)line.n, line.p);
	}
}

/* What was wrong with a file, now that it has been read. */
static void
report(struct job *j, struct unpack *u)
{
	struct unpack_sum sum = unpack_sum(u);
	struct field lines = unpack_trouble(u);

	j->sound &= sum.whole && lines.n == 0;
	say_lines(j, j->file, ": ", lines);
	if (sum.whole || j->o.test)
		return;
	if (j->o.salvage && sum.lost_known)
		prog_say(&j->p, "%s: %" PRIu64 " rows saved, %" PRIu64 " lost", j->file, sum.rows,
		    sum.lost);
	else if (j->o.salvage)
		prog_say(&j->p, "%s: %" PRIu64 " rows saved; how many are lost is not known",
		    j->file, sum.rows);
	else if (j->o.where.n > 0 || j->o.latest || j->o.list)
		err_set(&j->p.err, "%s: not whole: something may be missing", j->file);
	else
		err_set(&j->p.err, "%s: not whole: %" PRIu64 " whole rows can be had, by --salvage",
		    j->file, sum.rows);
}

static void
read_packs(struct job *j, struct unpack *u, const struct pack_source *source)
{
	enum unpack_event event;
	struct field bytes;

	while (!err_is_set(&j->p.err) && (event = unpack_next(u, &bytes)) != UNPACK_OVER) {
		if (event == UNPACK_HEADER)
			take_header(j, u, bytes);
		else if (event == UNPACK_END && j->o.list)
			packlist_end(&j->list, j->file, source, u);
		else if (event == UNPACK_ROWS && !j->o.test)
			lookup_rows(&j->lookup, bytes);
		if (j->list.text.n > 0)
			writer_bytes(prog_writer(&j->p, 0), j->list.text.p, j->list.text.n);
		j->list.text.n = 0;
		if (!source->known && !j->o.test)
			writer_flush(prog_writer(&j->p, 0));
	}
}

static void
unpack_file(struct job *j, const struct pack_source *source)
{
	struct err err = { "" };
	struct unpack_setup setup = { .mode = j->o.list      ? UNPACK_LIST
					      : j->o.test    ? UNPACK_TEST
					      : j->o.salvage ? UNPACK_SALVAGE
							     : UNPACK_PLAIN,
		.threads = (size_t)j->o.threads,
		.want = j->files.want,
		.nwant = j->files.nwant,
		.limit = (uint64_t)j->o.max_out,
		.hashes = j->o.hashes };
	struct unpack *u = unpack_open(source, &setup, &err);

	drop_late(j, u);
	read_packs(j, u, source);
	if (err_is_set(&err))
		err_set(&j->p.err, "%s: %s", j->file, err.text);
	else if (!err_is_set(&j->p.err))
		report(j, u);
	unpack_free(u);
}

/* The values that are looked for and not there, and, unless a catalogue saves reading, what is near them. */
static void
say_missing(struct job *j)
{
	struct unpack_setup setup = { .threads = (size_t)j->o.threads };
	struct bytes text = { NULL, 0, 0 };
	enum unpack_event event;
	struct field bytes;

	for (size_t i = 0; i < j->files.n && !prog_has_input(&j->p, CATALOGUE); i++) {
		struct unpack *u;

		if (!j->files.sources[i].known)
			continue;
		u = unpack_open(&j->files.sources[i], &setup, &j->p.err);
		while ((event = unpack_next(u, &bytes)) != UNPACK_OVER)
			if (event == UNPACK_HEADER)
				lookup_header(
				    &j->lookup, j->file, 0, bytes, (struct field){ "", 0 });
			else if (event == UNPACK_ROWS)
				lookup_again(&j->lookup, bytes);
		unpack_free(u);
	}
	lookup_unmet(&j->lookup, &text);
	say_lines(j, "", "", bytes_field(&text));
	bytes_free(&text);
}

static int
check_options(struct job *j)
{
	const struct opts *o = &j->o;

	if (o->list + o->test + o->salvage > 1)
		return err_set(&j->p.err, "--list, --test and --salvage exclude each other");
	if ((o->list || o->test) && (o->latest || o->where.n > 0))
		return err_set(&j->p.err, "--list and --test are of packs, not of rows");
	if (o->hashes && !o->list)
		return err_set(&j->p.err, "--hashes is for --list");
	if (prog_has_input(&j->p, CATALOGUE) && o->where.n == 0)
		return err_set(&j->p.err, "--catalogue is for --where");
	return 0;
}

/* Opens the packs' files, but for those that the catalogue rules out, and says what it was no help for. */
static int
open_files(struct job *j)
{
	struct pack_files *f = &j->files;
	struct field left;

	f->n = prog_files(&j->p, &f->names);
	f->want = mem_zeroed(j->o.where.n, sizeof *f->want);
	f->latest = j->o.latest;
	for (; f->nwant < j->o.where.n; f->nwant++)
		f->want[f->nwant] = (struct unpack_want){ j->o.where.v[f->nwant].name,
			j->o.where.v[f->nwant].value };
	if (pack_files_open(f, &j->p.in[CATALOGUE], &j->p.err) != 0)
		return -1;
	if (f->catalogue.unlike > 0)
		prog_say(&j->p, "%s: %zu of %zu files are not as it says: opened",
		    reader_file(j->p.in[CATALOGUE].reader), f->catalogue.unlike, f->n);
	if (!j->o.list && !j->o.test)
		pack_files_foresee(f, (size_t)j->o.threads, (uint64_t)j->o.max_out);
	for (left = bytes_field(&f->columns); left.n > 0;)
		lookup_foresee(&j->lookup, field_cut(&left, '\n'));
	return 0;
}

/* Does it all. Returns the verdict. */
static int
run(struct job *j)
{
	struct prog *p = &j->p;

	if (j->o.test)
		prog_no_output(p, 0);
	if (check_options(j) != 0)
		return EXIT_TROUBLE;
	prog_say_waiting(p, "a pack");
	if (prog_open(p) != 0)
		return EXIT_TROUBLE;
	j->lookup = (struct lookup){ .table = &p->in[PACKS],
		.renames = &p->house.renames,
		.where = &j->o.where,
		.latest = j->o.latest,
		.out = prog_writer(p, 0),
		.err = &p->err };
	j->list.hashes = j->o.hashes;
	if (open_files(j) != 0)
		return EXIT_TROUBLE;
	for (size_t i = 0; i < j->files.n && !err_is_set(&p->err); i++) {
		j->file = j->files.names[i];
		if (!j->files.out[i])
			unpack_file(j, &j->files.sources[i]);
	}
	if (j->o.salvage && j->lookup.join.header.n == 0)
		err_set(&p->err, "no columns, and so no rows, can be saved");
	if (!err_is_set(&p->err))
		lookup_end(&j->lookup);
	if (!err_is_set(&p->err) && lookup_missing(&j->lookup) > 0) {
		say_missing(j);
		return EXIT_AGAINST;
	}
	return j->sound || !(j->o.test || j->o.salvage) ? EXIT_DONE : EXIT_AGAINST;
}

int
main(int argc, char **argv)
{
	struct job j = { .sound = true };
	int verdict = EXIT_DONE;

	(void)argc;
	j.o.threads = (int64_t)pool_processors();
	if (prog_begin(&j.p, &page, &j.o, argv) == 0)
		verdict = run(&j);
	verdict = prog_close(&j.p, verdict);
	lookup_free(&j.lookup);
	packlist_free(&j.list);
	pack_files_free(&j.files);
	free(j.files.want);
	return verdict;
}
