/*
 * in: the reader against the rules written down a second time (naive.h), whatever the sizes of the
 * blocks it reads; and the words it finds for what is wrong.
 */
#include "table/reader.h"

#include <fcntl.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "check.h"
#include "base/os.h"
#include "naive.h"

enum { FILES = 3, WINDOW = 32 * 1024, BLOCK = 128 * 1024 }; /* as in.c has them */

#define BOM "\xef\xbb\xbf"
#define TEXT(literal)                                                                              \
	(struct field)                                                                             \
	{                                                                                          \
		literal, sizeof literal - 1                                                        \
	}

/* --- helpers --------------------------------------------------------------------------------- */

static void
store(const char *path, struct field text)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);

	if (fd < 0 || os_write(fd, text.p, text.n) != 0 || close(fd) != 0) {
		perror(path);
		exit(1);
	}
}

static char *
path_of(size_t i)
{
	static char paths[FILES][6] = { "0.tsv", "1.tsv", "2.tsv" };

	return paths[i];
}

/* both logs are the same */
static void
compare(const struct bytes *want, const struct bytes *got, const char *how, size_t block)
{
	size_t i = 0;

	if (field_same(bytes_field(want), bytes_field(got)))
		return;
	while (i < want->n && i < got->n && want->p[i] == got->p[i])
		i++;
	for (size_t back = 0; i > 0 && back < 60; back++)
		i--;
	CHECK(0, "%s, blocks of %zu bytes:\nwant ...%.*s\ngot  ...%.*s", how, block,
	    (int)(want->n - i < 300 ? want->n - i : 300), want->p + i,
	    (int)(got->n - i < 300 ? got->n - i : 300), got->p + i);
}

static void
log_files(struct bytes *log, size_t n, unsigned flags, size_t head_block, size_t block)
{
	struct err err = { "" };
	char *files[FILES];

	for (size_t i = 0; i < n; i++)
		files[i] = path_of(i);
	log->n = 0;
	if (block == 0)
		naive_log_tin(log, reader_open(files, n, flags, &err), &err);
	else
		naive_log_tin(
		    log, reader_open_block(files, n, flags, head_block, block, &err), &err);
}

/*
 * Reads the texts as files, from memory if it is one, and by the rules. Blocks are of every size up
 * to the longest text's length and one more; above `every` bytes only of every so many.
 */
static void
same_as_rules(const struct field *texts, size_t n, unsigned flags, size_t every, const char *how)
{
	struct naive_file files[FILES] = { { 0 } };
	struct bytes want = { NULL, 0, 0 }, got = { NULL, 0, 0 };
	size_t longest = 0;

	for (size_t i = 0; i < n; i++) {
		store(path_of(i), texts[i]);
		files[i] = (struct naive_file){ path_of(i), texts[i] };
		longest = texts[i].n > longest ? texts[i].n : longest;
	}
	naive_read(files, n, flags, &want);
	log_files(&got, n, flags, 0, 0);
	compare(&want, &got, how, 0);
	for (size_t block = 1; block <= longest + 1; block += block < every ? 1 : every) {
		log_files(&got, n, flags, block, block);
		compare(&want, &got, how, block);
		log_files(&got, n, flags, longest + 1 - block + 1, block);
		compare(&want, &got, how, block);
	}
	if (n == 1 && flags == 0) {
		struct err err = { "" };

		got.n = 0;
		naive_log_tin(&got, reader_memory(files[0].name, texts[0], &err), &err);
		compare(&want, &got, "from memory", 0);
	}
	bytes_free(&want);
	bytes_free(&got);
}

static void
in_both_modes(const struct field *texts, size_t n, const char *how)
{
	for (unsigned flags = 0; flags < 4; flags++)
		same_as_rules(texts, n, flags, SIZE_MAX, how);
}

/* --- known cases ----------------------------------------------------------------------------- */

/* what reading is expected to end with: the error, or "" */
static void
ends_with(struct field text, const char *want, const char *how)
{
	struct err err = { "" };
	struct reader *t = reader_memory("x.tsv", text, &err);
	struct row row;

	while (t != NULL && reader_next(t, &row))
		;
	CHECK(reader_close(t) == (want[0] == '\0' ? 0 : -1), "%s", how);
	CHECK(strcmp(err.text, want) == 0, "%s: got '%s', want '%s'", how, err.text, want);
	in_both_modes(&text, 1, how);
}

static void
forgives(void)
{
	ends_with(TEXT("a\tb\n1\t2\n"), "", "plain");
	ends_with(TEXT("a\tb\n"), "", "header only");
	ends_with(TEXT("a\tb"), "", "header without a line end");
	ends_with(TEXT("a"), "", "one byte");
	ends_with(TEXT("a\n\n\n"), "", "header and blank lines");
	ends_with(TEXT("a\tb\n1\t2"), "", "no last line end");
	ends_with(TEXT("a\tb\n1\t"), "", "no last line end, empty field");
	ends_with(TEXT("a\tb\n1\t2\r"), "", "no last LF, but CR");
	ends_with(TEXT(BOM "a\tb\n1\t2\n"), "", "byte-order mark");
	ends_with(TEXT(BOM "a"), "", "byte-order mark and a byte");
	ends_with(TEXT("a\tb\r\n1\t2\r\n"), "", "CRLF");
	ends_with(TEXT(BOM "a\tb\r\n1\t2\r\n\r\n"), "", "all of it");
	ends_with(TEXT("a\tb\r\n1\t2\n3\t4\r\n"), "", "mixed line ends");
	ends_with(TEXT("a\tb\n1\t2\n\n\r\n\n"), "", "blank lines at the end");
	ends_with(TEXT("a\tb\n1\t2\n\r"), "", "CR at the end");
	ends_with(TEXT("a\n1\n2\n"), "", "one column");
	ends_with(TEXT("a\t\tc\n1\t2\t3\n"), "", "a nameless column");
	ends_with(TEXT("a\tb\t\n1\t2\t\n"), "", "TAB at every end");
	ends_with(TEXT("a\tb\n\t\n"), "", "empty fields");
	ends_with(TEXT("a\tb\n36\" tray\tx\n"), "", "a quote is a byte");
	ends_with(TEXT("a\tb\n\x1b[31m\t\x01\x0b\x0c\x0e\n"), "", "control bytes");
	ends_with(TEXT("a\tb\n\xb0\xff\t\xc3\x82\n"), "", "not UTF-8");
	ends_with(TEXT("a\tb\n1\t2\x1a"), "", "Ctrl-Z");
	ends_with(TEXT("a\tb\n" BOM "1\t" BOM "\n"), "", "marks inside are bytes");
}

static void
refuses_what_is_no_table(void)
{
	ends_with(TEXT(""), "x.tsv: no header line", "empty");
	ends_with(TEXT(BOM), "x.tsv: no header line", "nothing but a mark");
	ends_with(TEXT("\n"), "x.tsv: no header line", "a line end");
	ends_with(TEXT("\r\n1\n"), "x.tsv: no header line", "blank first line");
	ends_with(TEXT(BOM "\n"), "x.tsv: no header line", "a mark and a line end");
	ends_with(TEXT("\xff\xfe"
		       "a\0\t\0b\0\n\0"),
	    "x.tsv: UTF-16 text: convert it first (iconv -f UTF-16 -t UTF-8)", "UTF-16LE");
	ends_with(TEXT("\xfe\xff\0a\0\n"),
	    "x.tsv: UTF-16 text: convert it first (iconv -f UTF-16 -t UTF-8)", "UTF-16BE");
	ends_with(TEXT("a\0\t\0b\0\n\0"),
	    "x.tsv:1: NUL byte at byte 2: UTF-16? convert it with iconv first", "UTF-16 unmarked");
	ends_with(TEXT("\x1f\x8b\x08\0"),
	    "x.tsv: compressed (gzip), not a table: unpack it first (thrum-unpack, gzip -d)",
	    "gzip");
	ends_with(TEXT("PK\x03\x04"),
	    "x.tsv: a ZIP or spreadsheet file, not a table: export it as text first", "zip");
	ends_with(TEXT("PK\x03"), "", "only nearly zip");
	ends_with(TEXT("a\tb\r1\t2\r"), "x.tsv:1: CR line ends: convert them to LF first", "CR");
	ends_with(
	    TEXT("a\rb\n"), "x.tsv:1: CR line ends: convert them to LF first", "CR in a name");
}

static void
refuses_names_told_apart_by_nothing(void)
{
	ends_with(TEXT("a\tb\ta\n"), "x.tsv:1: columns 1 and 3 have the same name: 'a'", "doubled");
	ends_with(TEXT("a\t\t\n"), "x.tsv:1: columns 2 and 3 have the same name: ''", "nameless");
	ends_with(TEXT("a\xc2\xa0\ta\xc2\xa0"),
	    "x.tsv:1: columns 1 and 2 have the same name: 'a\\xc2\\xa0'", "odd name");
}

static void
refuses_rows(void)
{
	ends_with(TEXT("a\tb\tc\n1\t2\n"), "x.tsv:2: 2 fields, 3 expected", "short");
	ends_with(TEXT("a\tb\n1\n"), "x.tsv:2: 1 field, 2 expected", "shorter");
	ends_with(TEXT("a\tb\n1\t2\t3\n"), "x.tsv:2: 3 fields, 2 expected", "long");
	ends_with(TEXT("a\tb\n1\t2\t\n"), "x.tsv:2: 3 fields, 2 expected: the extra ones are empty",
	    "long by nothing");
	ends_with(TEXT("a\n1\t\t\n"), "x.tsv:2: 3 fields, 1 expected: the extra ones are empty",
	    "one column, longer by nothing");
	ends_with(TEXT("a\tb\n\"x\ny\"\t2\n"),
	    "x.tsv:2: 1 field, 2 expected: quoted? thrum-import reads quoted files",
	    "line end in quotes");
	ends_with(TEXT("a\tb\n\"x\ty\"\t3\n"),
	    "x.tsv:2: 3 fields, 2 expected: quoted? thrum-import reads quoted files",
	    "TAB in quotes");
	ends_with(TEXT("a\tb\n1\t2\n\n3\t4\n"), "x.tsv:3: blank line inside the table", "blank");
	ends_with(TEXT("a\n\r\n\n1\n"), "x.tsv:2: blank line inside the table", "blanks");
	ends_with(TEXT("a\tb\n1\t2\na\tb\n"), "x.tsv:3: the header line stands here again",
	    "header again");
	ends_with(TEXT("a\tb\n1\t2\r\na\tb\r\n3\t4\n"),
	    "x.tsv:3: the header line stands here again", "header again, CRLF");
	ends_with(TEXT(BOM "a\tb\n1\t2\n" BOM "a\tb\n"),
	    "x.tsv:3: the header line stands here again", "header again, marked");
	ends_with(TEXT("a\na"), "x.tsv:2: the header line stands here again", "header last");
	ends_with(TEXT("a\tb\n1\t2\n1\t2\0x\n"), "x.tsv:3: NUL byte at byte 4", "NUL");
	ends_with(TEXT("a\tb\n1\t2\n\0\0\0"), "x.tsv:3: NUL byte at byte 1", "padding");
	ends_with(TEXT("a\tb\n1\rx\t2\n"), "x.tsv:2: CR inside the line, not at its end", "CR");
	ends_with(
	    TEXT("a\tb\n1\t2\r\r\n"), "x.tsv:2: CR inside the line, not at its end", "two CR");
	ends_with(TEXT("a\tb\n1\t2\n\r\r\n"), "x.tsv:3: CR inside the line, not at its end",
	    "nothing but CR");
}

/* what is handed out when rows of the wrong shape are kept */
static void
keeps_rows(void)
{
	static const struct {
		enum row_fault fault;
		uint64_t line;
		size_t nf;
		const char *f[3];
	} want[] = {
		{ ROW_FINE, 2, 2, { "1", "2" } },
		{ ROW_SHORT, 3, 1, { "3", "" } },
		{ ROW_LONG, 4, 3, { "4", "5", "6" } },
		{ ROW_BLANK, 5, 0, { "", "" } },
		{ ROW_BLANK, 6, 0, { "", "" } },
		{ ROW_HEADER, 7, 2, { "a", "b" } },
		{ ROW_FINE, 8, 2, { "", "9" } },
	};
	struct err err = { "" };
	struct row row;
	struct reader *t;
	char *file = path_of(0);

	store(file, TEXT("a\tb\n1\t2\n3\n4\t5\t6\n\n\na\tb\n\t9\n\n"));
	t = reader_open(&file, 1, READER_KEEP_MISSHAPEN, &err);
	for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
		CHECK(t != NULL && reader_next(t, &row), "row %zu: %s", i, err.text);
		CHECK(
		    row.fault == want[i].fault && row.line == want[i].line && row.nf == want[i].nf,
		    "row %zu: fault %d, line %llu, %zu fields", i, (int)row.fault,
		    (unsigned long long)row.line, row.nf);
		for (size_t c = 0; c < 3 && want[i].f[c] != NULL; c++)
			CHECK(field_is(row_field(&row, c), want[i].f[c]),
			    "row %zu, field %zu: '%.*s'", i, c, (int)row_field(&row, c).n,
			    row_field(&row, c).p);
	}
	CHECK(!reader_next(t, &row) && reader_close(t) == 0, "%s", err.text);
}

/* --- several files --------------------------------------------------------------------------- */

static void
joins_files(void)
{
	const struct field permuted[] = { TEXT("a\tb\tc\n1\t2\t3\n"),
		TEXT(BOM "c\ta\tb\r\n3\t1\t2\r\n\r\n"), TEXT("a\tb\tc\n4\t5\t6") };
	const struct field other[] = { TEXT("a\tb\n1\t2\n"), TEXT("c\tb\n3\t2\n"),
		TEXT("d\n\"4\n") };
	const struct field fewer[] = { TEXT("a\tb\n1\t2\n"), TEXT("b\n2\n") };
	const struct field more[] = { TEXT("a\tb\n1\t2\n"), TEXT("b\ta\tc\n2\t1\t3\n") };
	const struct field ragged[] = { TEXT("a\tb\n1\n\n1\t2\t3\n"),
		TEXT("b\ta\n2\n\n2\t1\t3\nb\ta\na\tb\n\n"), TEXT("a\tb\n\n1\t2\n") };
	const struct field wider[] = { TEXT("a\n1\n1\t2\t3\n"), TEXT("b\tc\td\n2\t3\n2\t3\t4\t5\n"),
		TEXT("c\te\n\n\n\n3\t4\t5\t6\t7\t8\t9\n") };

	in_both_modes(permuted, 3, "permuted");
	in_both_modes(other, 3, "other columns");
	in_both_modes(fewer, 2, "fewer columns");
	in_both_modes(more, 2, "more columns");
	in_both_modes(ragged, 3, "ragged");
	in_both_modes(wider, 3, "ragged union");
}

static void
expect_open(size_t n, unsigned flags, const char *want)
{
	struct err err = { "" };
	char *files[FILES];
	struct reader *t;

	for (size_t i = 0; i < n; i++)
		files[i] = path_of(i);
	t = reader_open(files, n, flags, &err);
	CHECK(t == NULL && reader_close(t) == -1, "opened");
	CHECK(strcmp(err.text, want) == 0, "got '%s', want '%s'", err.text, want);
}

static void
names_the_file_that_differs(void)
{
	store(path_of(0), TEXT("a\tb\n1\t2\n"));
	store(path_of(1), TEXT("b\ta\tc\n1\t2\t3\n"));
	expect_open(2, READER_SAME_COLUMNS, "1.tsv:1: has a column that 0.tsv lacks: 'c'");
	store(path_of(1), TEXT("b\n1\n"));
	expect_open(2, READER_SAME_COLUMNS, "1.tsv:1: lacks a column that 0.tsv has: 'a'");
	store(path_of(1), TEXT(""));
	expect_open(2, 0, "1.tsv: no header line");
	unlink(path_of(1));
	expect_open(2, 0, "1.tsv: No such file or directory");
	mkdir(path_of(1), 0700);
	expect_open(2, 0, "1.tsv: Is a directory");
	rmdir(path_of(1));
}

/* --- what may have to wait -------------------------------------------------------------------- */

static void
count_wait(void *arg)
{
	++*(int *)arg;
}

/* Standard input becomes a pipe that holds this text and has no writer any more. */
static void
fill_stdin(struct field text)
{
	int ends[2];

	if (pipe(ends) != 0 || os_write(ends[1], text.p, text.n) != 0 || dup2(ends[0], 0) != 0) {
		perror("pipe");
		exit(1);
	}
	close(ends[0]);
	close(ends[1]);
}

static void
reads_pipes(void)
{
	static char dash[] = "-";
	const struct field text = TEXT("a\tb\n1\t2\n\n3\n\"4\t5\n");
	const struct naive_file file = { "-", text };
	char *names[2] = { dash, dash };

	for (unsigned flags = 0; flags < 4; flags++)
		for (size_t block = 1; block <= text.n; block++) {
			struct bytes want = { NULL, 0, 0 }, got = { NULL, 0, 0 };
			struct err err = { "" };

			naive_read(&file, 1, flags, &want);
			fill_stdin(text);
			naive_log_tin(&got,
			    reader_open_block(names, block % 2, flags, block, block, &err), &err);
			compare(&want, &got, "pipe", block);
			bytes_free(&want);
			bytes_free(&got);
		}
	{
		struct err err = { "" };

		fill_stdin(text);
		CHECK(reader_open(names, 2, 0, &err) == NULL, "opened");
		CHECK(strcmp(err.text, "-: standard input is named twice") == 0, "%s", err.text);
	}
}

static void
says_when_it_may_wait(void)
{
	static char dash[] = "-";
	const struct field text = TEXT("a\tb\n1\t2\n3\t4\n");
	char *names[2] = { path_of(0), dash };
	struct err err = { "" };
	struct row row;
	struct reader *t;
	int waits = 0, before;

	store(path_of(0), text);
	fill_stdin(text);
	t = reader_open_block(names, 2, 0, 1, 1, &err);
	CHECK(t != NULL, "%s", err.text);
	if (t == NULL)
		return;
	reader_on_wait(t, count_wait, &waits);
	CHECK(reader_next(t, &row) && reader_next(t, &row) && waits == 0, "%d waits for a file",
	    waits);
	for (int i = 0; i < 2; i++) {
		before = waits;
		CHECK(reader_next(t, &row) && waits > before, "no wait before row %d of a pipe", i);
	}
	CHECK(!reader_next(t, &row) && reader_close(t) == 0, "%s", err.text);
}

/* --- columns by name -------------------------------------------------------------------------- */

static void
need_says(struct field text, const char *name, const char *want)
{
	struct err err = { "" };
	struct reader *t = reader_memory("x.tsv", text, &err);

	CHECK(reader_need(t, field_of(name)) == -1, "found '%s'", name);
	CHECK(strcmp(err.text, want) == 0, "got '%s', want '%s'", err.text, want);
	reader_close(t);
}

static void
finds_columns(void)
{
	struct err err = { "" };
	struct reader *t = reader_memory("x.tsv", TEXT("a\tbb\t\tabc\n"), &err);
	char *names[2] = { path_of(0), path_of(1) };

	CHECK(reader_columns(t) == 4, "%zu", reader_columns(t));
	CHECK(reader_column(t, field_of("a")) == 0 && reader_column(t, field_of("bb")) == 1 &&
		  reader_column(t, field_of("")) == 2 && reader_need(t, field_of("abc")) == 3,
	    "not found");
	CHECK(reader_column(t, field_of("A")) == -1 && reader_column(t, field_of("ab")) == -1,
	    "found");
	CHECK(field_is(reader_name(t, 1), "bb"), "%.*s", (int)reader_name(t, 1).n,
	    reader_name(t, 1).p);
	reader_close(t);

	need_says(
	    TEXT("loss_db\tclosure\n"), "los_db", "x.tsv:1: no column 'los_db': is it 'loss_db'?");
	need_says(TEXT("Loss_dB\tclosure\n"), "loss_db",
	    "x.tsv:1: no column 'loss_db': is it 'Loss_dB'?");
	need_says(TEXT(" loss_db\xc2\xa0\tclosure\n"), "loss_db",
	    "x.tsv:1: no column 'loss_db': is it ' loss_db\\xc2\\xa0'?");
	need_says(TEXT("a\tb\n"), "loss_db", "x.tsv:1: no column 'loss_db': there are 'a' 'b'");
	need_says(TEXT("loss_db\n"), "closure", "x.tsv:1: no column 'closure': only one column");
	need_says(TEXT("loss_db;closure\n"), "closure",
	    "x.tsv:1: no column 'closure': only one column: is the delimiter not TAB? thrum-import "
	    "reads such files");
	need_says(TEXT("loss_db   closure\n"), "closure",
	    "x.tsv:1: no column 'closure': only one column: blanks instead of TABs, or lines before "
	    "the header?");
	need_says(TEXT("\"loss_db\"\t\"closure\"\n"), "closure",
	    "x.tsv:1: no column 'closure': the names stand in quotes; thrum-import reads quoted "
	    "files");
	need_says(TEXT("# night 1\n"), "closure",
	    "x.tsv:1: no column 'closure': the first line is a comment, not the column names");
	need_says(TEXT("sep=;\r\nclosure;a\r\n"), "closure",
	    "x.tsv:1: no column 'closure': the first line is a spreadsheet's delimiter mark; "
	    "thrum-import reads such files");

	/* in every file, not in some */
	store(path_of(0), TEXT("a\tb\n"));
	store(path_of(1), TEXT("a\tc\n"));
	t = reader_open(names, 2, 0, &err);
	CHECK(reader_need(t, field_of("a")) == 0 && reader_column(t, field_of("c")) == 2, "%s",
	    err.text);
	CHECK(reader_need(t, field_of("b")) == -1 &&
		  strstr(err.text, "1.tsv:1: no column 'b'") != NULL,
	    "%s", err.text);
	reader_close(t);
}

static void
fails_in_words(void)
{
	static const struct {
		const char *name, *value, *want;
	} known[] = {
		{ "a", "x\x1b", "x.tsv:2: column 'a': odd: 'x\\x1b'" },
		{ "a", "", "x.tsv:2: column 'a': odd: ''" },
		{ "a", NULL, "x.tsv:2: column 'a': odd" },
		{ NULL, "x", "x.tsv:2: odd: 'x'" },
		{ NULL, NULL, "x.tsv:2: odd" },
	};

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		struct err err = { "" };
		struct reader *t = reader_memory("x.tsv", TEXT("a\n1\n2\n"), &err);
		struct field value = { NULL, 0 };
		struct row row;

		if (known[i].value != NULL)
			value = field_of(known[i].value);
		CHECK(reader_next(t, &row), "no row");
		CHECK(reader_fail(t, &row, known[i].name, "odd", value) == -1, "0");
		CHECK(!reader_next(t, &row), "goes on");
		CHECK(reader_close(t) == -1, "no trouble");
		CHECK(strcmp(err.text, known[i].want) == 0, "got '%s', want '%s'", err.text,
		    known[i].want);
	}
}

/* --- sizes ------------------------------------------------------------------------------------ */

/* Rows whose borders lie at every offset about a border of `window` bytes. */
static void
crosses(size_t window)
{
	static const char rest[] = "\nx\ty\r\n\"\tz\n\t\n12\t34\n5\t6\n78\t9";
	char *text = malloc(2 * window);
	struct bytes want = { NULL, 0, 0 }, got = { NULL, 0, 0 };

	for (size_t filler = window - sizeof rest - 8; text != NULL && filler <= window + 4;
	     filler++) {
		struct naive_file file = { path_of(0), { text, filler + sizeof rest - 1 } };
		struct err err = { "" };

		memset(text, '-', filler);
		memcpy(text, "a\tb\n1\t", 6);
		memcpy(text + filler, rest, sizeof rest - 1);
		want.n = got.n = 0;
		naive_read(&file, 1, 0, &want);
		naive_log_tin(&got, reader_memory(file.name, file.text, &err), &err);
		compare(&want, &got, "memory", filler);
		store(path_of(0), file.text);
		log_files(&got, 1, 0, 0, 0);
		compare(&want, &got, "file", filler);
		/* the same with short rows before it, so that the row at the border is usual */
		for (size_t i = 7; i + 1 < filler; i += 2)
			text[i] = i % 4 == 1 ? '\t' : '\n';
		if (filler % 4 != 0)
			continue;
		text[6] = '\n';
		text[7] = 'u';
		want.n = got.n = 0;
		naive_read(&file, 1, 0, &want);
		err.text[0] = '\0';
		naive_log_tin(&got, reader_memory(file.name, file.text, &err), &err);
		compare(&want, &got, "memory, short rows", filler);
		store(path_of(0), file.text);
		log_files(&got, 1, 0, 0, 0);
		compare(&want, &got, "file, short rows", filler);
	}
	bytes_free(&want);
	bytes_free(&got);
	free(text);
}

static void
crosses_windows_and_blocks(void)
{
	crosses(WINDOW);
	crosses(BLOCK);
}

static void
takes_a_long_field(void)
{
	enum { LONG = 20 * 1000 * 1000 };
	char *text = malloc(LONG + 100), *file = path_of(0);
	struct err err = { "" };
	struct row row;
	struct reader *t;
	size_t n = 0;

	if (text == NULL) {
		CHECK(0, "no memory");
		return;
	}
	n += (size_t)sprintf(text, "a\tb\nx\t");
	memset(text + n, 'q', LONG);
	n += LONG;
	n += (size_t)sprintf(text + n, "\n1\t2\n");
	store(file, (struct field){ text, n });
	t = reader_open(&file, 1, 0, &err);
	CHECK(t != NULL && reader_next(t, &row) && row_field(&row, 1).n == LONG &&
		  field_is(row_field(&row, 0), "x") && row_field(&row, 1).p[0] == 'q' &&
		  row_field(&row, 1).p[LONG - 1] == 'q',
	    "%s", err.text);
	CHECK(reader_next(t, &row) && field_is(row_field(&row, 1), "2") && row.line == 3, "%s",
	    err.text);
	CHECK(!reader_next(t, &row) && reader_close(t) == 0, "%s", err.text);
	free(text);
}

static void
takes_many_columns(void)
{
	enum { COLUMNS = 10000 };
	struct bytes text = { NULL, 0, 0 };
	char *files[2] = { path_of(0), path_of(1) };
	struct err err = { "" };
	struct row row;
	struct reader *t;
	char want[20];
	bool same = true;

	for (int i = 0; i < COLUMNS; i++)
		bytes_add_format(&text, "%scolumn_%05d", i > 0 ? "\t" : "", i);
	for (int row_no = 0; row_no < 3; row_no++)
		for (int i = 0; i < COLUMNS; i++)
			bytes_add_format(&text, "%c%d", i > 0 ? '\t' : '\n', i * row_no);
	store(path_of(0), bytes_field(&text));
	text.n = 0;
	for (int i = COLUMNS; i-- > 0;)
		bytes_add_format(&text, "column_%05d%c", i, i > 0 ? '\t' : '\n');
	for (int i = COLUMNS; i-- > 0;)
		bytes_add_format(&text, "%d%c", i * 3, i > 0 ? '\t' : '\n');
	store(path_of(1), bytes_field(&text));
	bytes_free(&text);
	t = reader_open(files, 2, READER_SAME_COLUMNS, &err);
	CHECK(t != NULL && reader_columns(t) == COLUMNS, "%s", err.text);
	for (int row_no = 0; t != NULL && row_no < 4; row_no++) {
		CHECK(reader_next(t, &row), "%s", err.text);
		for (int i = 0; i < COLUMNS; i++) {
			sprintf(want, "%d", i * row_no);
			same &= field_is(row_field(&row, i), want);
		}
		CHECK(same, "row %d", row_no);
	}
	CHECK(!reader_next(t, &row) && reader_close(t) == 0, "%s", err.text);
}

static void
counts_many_lines(void)
{
	enum { ROWS = 400000 };
	struct bytes text = { NULL, 0, 0 };
	struct err err = { "" };
	struct row row;
	struct reader *t;
	uint64_t rows = 0;

	bytes_add_text(&text, "a\tb\n");
	for (int i = 0; i < ROWS; i++)
		bytes_add_format(&text, "%d\t\n", i);
	t = reader_memory("m", bytes_field(&text), &err);
	for (char want[20]; reader_next(t, &row); rows++) {
		sprintf(want, "%" PRIu64, rows);
		CHECK(row.line == rows + 2 && field_is(row_field(&row, 0), want), "row %" PRIu64,
		    rows);
	}
	CHECK(rows == ROWS && reader_close(t) == 0, "%" PRIu64 " rows: %s", rows, err.text);
	bytes_free(&text);
}

/* --- random tables ---------------------------------------------------------------------------- */

static size_t
below(uint64_t *state, size_t n)
{
	return (size_t)((check_random(state) >> 33) % n);
}

static void
random_field(struct bytes *text, uint64_t *state)
{
	static const char *const pieces[] = { "", "", "", "a", "b", "1.5", "\"", BOM, " ", "\x01",
		"\x0b", "\x1b", "\xff", "twelve bytes",
		"a piece of text that is longer than most" };

	for (size_t i = below(state, 3); i > 0; i--)
		bytes_add_text(text, pieces[below(state, sizeof pieces / sizeof pieces[0])]);
}

static void
random_header(struct bytes *text, uint64_t *state, size_t ncols, bool permute)
{
	static const char *const names[] = { "a", "b", "c", "loss_db", "", "\xc2\xb5" };
	size_t order[6] = { 0, 1, 2, 3, 4, 5 };

	for (size_t i = ncols; permute && i-- > 1;) {
		size_t k = below(state, i + 1), swap = order[i];

		order[i] = order[k];
		order[k] = swap;
	}
	if (below(state, 20) == 0) /* one column more, less or doubled */
		order[below(state, ncols)] = below(state, 6);
	for (size_t i = 0; i < ncols; i++)
		bytes_add_format(text, "%s%s", i > 0 ? "\t" : "", names[order[i]]);
}

static void
random_table(struct bytes *text, uint64_t *state, size_t ncols, bool permute)
{
	const char *end = below(state, 3) == 0 ? "\r\n" : "\n";
	size_t rows = below(state, 12), faults = below(state, 3) == 0 ? 6 : 60, head, head_end;

	if (below(state, 4) == 0)
		bytes_add_text(text, BOM);
	head = text->n;
	random_header(text, state, ncols, permute);
	head_end = text->n;
	bytes_add_text(text, end);
	for (size_t r = 0; r < rows; r++) {
		size_t fault = below(state, faults), fields = ncols;

		if (fault == 0) {
			bytes_add_text(text, end); /* blank line */
			continue;
		}
		if (fault == 1)
			fields = 1 + below(state, ncols);
		if (fault == 2)
			fields = ncols + below(state, 3);
		if (fault == 3) {
			struct bytes again = { NULL, 0, 0 };

			bytes_add(&again, text->p + head, head_end - head);
			bytes_add_text(text, below(state, 2) == 0 ? "" : BOM);
			bytes_add_field(text, bytes_field(&again));
			bytes_add_text(text, end);
			bytes_free(&again);
			continue;
		}
		for (size_t i = 0; i < fields; i++) {
			if (i > 0)
				bytes_add_text(text, "\t");
			random_field(text, state);
			if (fault == 4 && below(state, 4) == 0)
				bytes_add_text(text, "\r");
			if (fault == 5 && below(state, 4) == 0)
				bytes_add(text, "", 1);
		}
		bytes_add_text(text, end);
	}
	for (size_t blanks = below(state, 3) == 0 ? below(state, 4) : 0; blanks > 0; blanks--)
		bytes_add_text(text, end);
	if (below(state, 3) == 0 && text->n > 0)
		text->n--; /* the last line end, or half of it */
}

static void
reads_random_tables(void)
{
	uint64_t state = 11;

	for (int round = 0; round < 400; round++) {
		struct bytes text[FILES] = { { NULL, 0, 0 } };
		struct field texts[FILES];
		size_t n = 1 + below(&state, FILES), ncols = 1 + below(&state, 5);
		char how[60];

		snprintf(how, sizeof how, "random table %d", round);
		for (size_t i = 0; i < n; i++) {
			random_table(&text[i], &state, ncols, below(&state, 2) == 0);
			texts[i] = bytes_field(&text[i]);
		}
		same_as_rules(texts, n, (unsigned)round % 4, 12 + below(&state, 30), how);
		for (size_t i = 0; i < n; i++)
			bytes_free(&text[i]);
	}
}

/* no table at all, but nothing except bytes that matter */
static void
reads_random_bytes(void)
{
	static const char *const pieces[] = { "a", "b", "\t", "\t", "\n", "\n", "\n", "\r", "\r\n",
		BOM, "\"", "a\tb\n", "\xff", "\x02" };
	uint64_t state = 12;

	for (int round = 0; round < 1500; round++) {
		struct bytes text = { NULL, 0, 0 };
		struct field field;
		char how[60];

		snprintf(how, sizeof how, "random bytes %d", round);
		if (below(&state, 2) == 0)
			bytes_add_text(&text, "a\tb\n");
		for (size_t i = below(&state, 30); i > 0; i--)
			bytes_add_text(
			    &text, pieces[below(&state, sizeof pieces / sizeof pieces[0])]);
		if (below(&state, 20) == 0)
			bytes_add(&text, "", 1);
		field = bytes_field(&text);
		if (field.p == NULL)
			field = field_of("");
		same_as_rules(&field, 1, (unsigned)round % 4, 8, how);
		bytes_free(&text);
	}
}

/* large enough for many windows and blocks of the usual size */
static void
reads_large_random_tables(void)
{
	uint64_t state = 13;

	for (int round = 0; round < 6; round++) {
		struct bytes text = { NULL, 0, 0 };
		struct bytes want = { NULL, 0, 0 }, got = { NULL, 0, 0 };
		struct naive_file file;
		size_t ncols = 1 + below(&state, 30);

		for (size_t i = 0; i < ncols; i++)
			bytes_add_format(&text, "%sc%zu", i > 0 ? "\t" : "", i);
		bytes_add_text(&text, "\n");
		while (text.n < 600000)
			for (size_t i = 0; i < ncols; i++) {
				size_t start = text.n;

				random_field(&text, &state);
				if (below(&state, 3000) == 0)
					for (size_t k = below(&state, 100000); k > 0; k--)
						bytes_add_text(&text, "k");
				if (text.n == start && ncols == 1)
					bytes_add_text(&text, "1"); /* no blank lines */
				bytes_add_text(&text, i + 1 < ncols            ? "\t"
						      : below(&state, 50) == 0 ? "\r\n"
									       : "\n");
			}
		file = (struct naive_file){ path_of(0), bytes_field(&text) };
		store(path_of(0), file.text);
		naive_read(&file, 1, 0, &want);
		bytes_add(&want, "", 1);
		want.n--;
		CHECK(strstr(want.p, "error") == NULL, "the table is not as meant");
		log_files(&got, 1, 0, 0, 0);
		compare(&want, &got, "large table", 0);
		log_files(&got, 1, 0, 4096, 4096);
		compare(&want, &got, "large table", 4096);
		log_files(&got, 1, 0, 1, 1000003);
		compare(&want, &got, "large table", 1000003);
		bytes_free(&text);
		bytes_free(&want);
		bytes_free(&got);
	}
}

int
main(void)
{
	const char *tmp = getenv("TMPDIR");
	char folder[200];

	snprintf(folder, sizeof folder, "%s/thrum-in-XXXXXX", tmp != NULL ? tmp : "/tmp");
	if (mkdtemp(folder) == NULL || chdir(folder) != 0) {
		perror(folder);
		return 1;
	}
	RUN(forgives);
	RUN(refuses_what_is_no_table);
	RUN(refuses_names_told_apart_by_nothing);
	RUN(refuses_rows);
	RUN(keeps_rows);
	RUN(joins_files);
	RUN(names_the_file_that_differs);
	RUN(reads_pipes);
	RUN(says_when_it_may_wait);
	RUN(finds_columns);
	RUN(fails_in_words);
	RUN(crosses_windows_and_blocks);
	RUN(takes_a_long_field);
	RUN(takes_many_columns);
	RUN(counts_many_lines);
	RUN(reads_random_tables);
	RUN(reads_random_bytes);
	RUN(reads_large_random_tables);
	for (size_t i = 0; i < FILES; i++)
		unlink(path_of(i));
	rmdir(folder);
	return check_done();
}
