/*
 * thrum-unpack: the table back out of packs (thrum-pack(5)), or the rows of one key, or what is left
 * of a damaged one.
 */
#include <inttypes.h>
#include <stdlib.h>

#include "archive/list.h"
#include "archive/pool.h"
#include "archive/read.h"
#include "base/mem.h"
#include "base/os.h"
#include "fibre/latest.h"
#include "table/prog.h"

struct opts {
	struct opt_pairs where;
	bool latest, list, test, salvage;
	int64_t max_out, threads; /* max_out 0: any */
};

static const struct opt opts[] = {
	{ 0, "where", OPT_PAIR, offsetof(struct opts, where), "COL=VALUE",
	    "only rows with this field; several: all must hold", .empty = true },
	{ 0, "latest", OPT_FLAG, offsetof(struct opts, latest), NULL,
	    "only the last standing record of each joint" },
	{ 0, "list", OPT_FLAG, offsetof(struct opts, list), NULL, "what packs there are" },
	{ 0, "test", OPT_FLAG, offsetof(struct opts, test), NULL, "is everything sound" },
	{ 0, "salvage", OPT_FLAG, offsetof(struct opts, salvage), NULL,
	    "the whole rows of a bad pack" },
	{ 0, "max-out", OPT_WHOLE, offsetof(struct opts, max_out), "BYTES",
	    "unpacking to more is trouble (any)", 1, 9007199254740992.0 },
	{ 0, "threads", OPT_WHOLE, offsetof(struct opts, threads), "N",
	    "unpack on N processors (all)", 1, POOL_MOST },
	{ 0 },
};

enum { JOINT, STANDS, MADE_AT };

static const struct col cols[] = {
	[JOINT] = { "joint", COL_MAY, COL_TEXT },
	[STANDS] = { "stands", COL_MAY, COL_WORD, .words = "yes no" },
	[MADE_AT] = { "made_at", COL_MAY, COL_TIME },
	{ NULL },
};

static const struct table_in inputs[] = { { .cols = cols, .flags = IN_FILES }, { NULL } };

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
	struct bytes header; /* of the table; until it is known it is empty, and all below is not */
	struct writer *out;  /* NULL for --test */
	struct pick pick;    /* what is wanted of a row as it is read ... */
	struct pick later;   /* ... and of the latest record of a joint */
	struct latest latest;
	struct pack_source *sources; /* one for each file */
	const char *file;            /* the present one */
	bool sound;                  /* nothing at all was wrong with them */
};

/* --- the table ------------------------------------------------------------------------------- */

static int
find_columns(struct job *j, struct field keys)
{
	for (size_t i = 0; i < j->o.where.n; i++) {
		const struct opt_pair *w = &j->o.where.v[i];
		int column = reader_need(j->p.in[0].reader, w->name);
		bool late;

		if (column < 0)
			return -1;
		late = j->o.latest && field_among(keys, '\t', w->name) == SIZE_MAX;
		pick_add(late ? &j->later : &j->pick, (size_t)column, w->value);
	}
	return j->o.latest ? latest_open(&j->latest, &j->p.in[0], JOINT, STANDS, MADE_AT) : 0;
}

/* The first pack's columns are the table's. */
static int
first_header(struct job *j, struct field header, struct field keys)
{
	struct prog *p = &j->p;
	struct field head;

	bytes_add_field(&j->header, header);
	bytes_add_text(&j->header, "\n");
	if (table_open_reader(&p->in[0], cols,
		reader_memory(j->file, bytes_field(&j->header), &p->err), &p->house.renames,
		&p->err) != 0 ||
	    find_columns(j, keys) != 0)
		return -1;
	if (j->o.test)
		return 0;
	j->out = prog_writer(p, 0);
	head = j->o.list ? field_of(PACKLIST_HEADER) : bytes_field(&j->header);
	writer_bytes(j->out, head.p, head.n);
	return 0;
}

/* Rows of packs with other columns do not make one table. */
static void
same_header(struct job *j, struct field header, uint64_t pack)
{
	struct field first = { j->header.p, j->header.n - 1 };
	struct err odd = { "" };

	if (pick_same(first, header, &odd) == 0)
		return;
	j->sound = false;
	if (j->o.test)
		prog_say(&j->p, "%s: pack %" PRIu64 " %s", j->file, pack, odd.text);
	else
		err_set(&j->p.err, "%s: pack %" PRIu64 " %s", j->file, pack, odd.text);
}

static void
take_rows(struct job *j, struct field rows)
{
	struct field row;

	if (j->pick.n == 0 && !j->o.latest)
		writer_bytes(j->out, rows.p, rows.n);
	else
		while (pick_next(&j->pick, &rows, &row))
			if (!j->o.latest)
				writer_bytes(j->out, row.p, row.n + 1);
			else if (latest_add(&j->latest, row, &j->p.err) != 0)
				break;
}

static void
list_pack(struct job *j, const struct unpack_pack *pack)
{
	struct bytes text = { NULL, 0, 0 };

	packlist_row(j->file, pack, &text);
	writer_bytes(j->out, text.p, text.n);
	bytes_free(&text);
}

/* --- files ----------------------------------------------------------------------------------- */

/* What was wrong with a file, now that it has been read. */
static void
report(struct job *j, struct unpack *u)
{
	struct unpack_sum sum = unpack_sum(u);
	struct field lines = unpack_trouble(u), line;

	j->sound &= sum.whole && lines.n == 0;
	while (lines.n > 0) {
		line = field_cut(&lines, '\n');
		prog_say(&j->p, "%s: %.*s", j->file, (int)line.n, line.p);
	}
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
read_packs(struct job *j, struct unpack *u, bool regular)
{
	const struct unpack_pack *pack = unpack_pack(u);
	enum unpack_event event;
	struct field bytes;

	while (!err_is_set(&j->p.err) && (event = unpack_next(u, &bytes)) != UNPACK_OVER) {
		if (event == UNPACK_HEADER && j->header.n == 0)
			first_header(j, bytes, pack->keys);
		else if (event == UNPACK_HEADER && !j->o.list)
			same_header(j, bytes, pack->number);
		else if (event == UNPACK_END && j->o.list && j->header.n > 0)
			list_pack(j, pack);
		else if (event == UNPACK_ROWS && j->out != NULL && !j->o.list)
			take_rows(j, bytes);
		if (!regular && j->out != NULL)
			writer_flush(j->out);
	}
}

static void
unpack_file(struct job *j, const struct pack_source *source)
{
	struct err err = { "" };
	struct unpack_want want[WANTS_MOST];
	struct unpack_setup setup = { .mode = j->o.list      ? UNPACK_LIST
					      : j->o.test    ? UNPACK_TEST
					      : j->o.salvage ? UNPACK_SALVAGE
							     : UNPACK_PLAIN,
		.threads = (size_t)j->o.threads,
		.want = want,
		.limit = (uint64_t)j->o.max_out };
	struct unpack *u;

	for (; setup.nwant < j->o.where.n && setup.nwant < WANTS_MOST; setup.nwant++)
		want[setup.nwant] = (struct unpack_want){ j->o.where.v[setup.nwant].name,
			j->o.where.v[setup.nwant].value };
	u = unpack_open(source, &setup, &err);
	read_packs(j, u, source->known);
	if (err_is_set(&err))
		err_set(&j->p.err, "%s: %s", j->file, err.text);
	else if (!err_is_set(&j->p.err))
		report(j, u);
	unpack_free(u);
}

/* All files are there before anything is written. */
static int
open_files(struct job *j)
{
	char *const *files;
	size_t n = prog_files(&j->p, &files);
	bool regular = false;

	prog_say_waiting(&j->p, "a pack");
	j->sources = mem_zeroed(n, sizeof *j->sources);
	for (size_t i = 0; i < n; i++) {
		int fd = os_open(files[i], &regular, &j->p.err);

		if (fd < 0)
			return -1;
		pack_source_fd(&j->sources[i], fd, regular);
	}
	return 0;
}

static int
check_options(struct job *j)
{
	const struct opts *o = &j->o;

	if (o->list + o->test + o->salvage > 1)
		return err_set(&j->p.err, "--list, --test and --salvage exclude each other");
	if ((o->list || o->test) && (o->latest || o->where.n > 0))
		return err_set(&j->p.err, "--list and --test are of packs, not of rows");
	return 0;
}

/* Does it all. Returns the verdict. */
static int
run(struct job *j)
{
	struct prog *p = &j->p;
	char *const *files;
	size_t n = prog_files(p, &files);

	if (j->o.test)
		prog_no_output(p, 0);
	if (check_options(j) != 0 || open_files(j) != 0 || prog_open(p) != 0)
		return EXIT_TROUBLE;
	for (size_t i = 0; i < n && !err_is_set(&p->err); i++) {
		j->file = files[i];
		unpack_file(j, &j->sources[i]);
	}
	if (j->o.salvage && j->header.n == 0)
		err_set(&p->err, "no columns, and so no rows, can be saved");
	if (j->o.latest && j->out != NULL && !err_is_set(&p->err))
		latest_write(&j->latest, &j->later, j->out);
	if (j->latest.older > 0)
		prog_say(p, "records older than one before: %" PRIu64 ": joined out of order?",
		    j->latest.older);
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
	pick_free(&j.pick);
	pick_free(&j.later);
	latest_free(&j.latest);
	bytes_free(&j.header);
	free(j.sources);
	return verdict;
}
