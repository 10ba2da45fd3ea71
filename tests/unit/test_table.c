/*
 * table, sheet and hold: columns by name and type, read and written.
 */
#include "table/table.h"

#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

#include "check.h"
#include "table/hold.h"
#include "table/sheet.h"

enum { NAME, NUM, WHOLE, DB, TIME, WORD, LEFT, RIGHT, OUT_TEXT, OUT_NUM, OUT_WHOLE, OUT_DB };

static const struct col cols[] = {
	[NAME] = { "name", COL_NEED, COL_TEXT },
	[NUM] = { "num_um", COL_MAY, COL_NUM, 1, 50 },
	[WHOLE] = { "whole", COL_MAY, COL_WHOLE, -5, 12 },
	[DB] = { "loss_db", COL_MAY, COL_DB, 0, 10 },
	[TIME] = { "made_at", COL_MAY, COL_TIME },
	[WORD] = { "tension", COL_MAY, COL_WORD, .words = "pass fail" },
	[LEFT] = { "left", COL_MAY, COL_NUM },
	[RIGHT] = { "right", COL_MAY, COL_NUM, 0, INFINITY },
	[OUT_TEXT] = { "says", COL_OUT, COL_TEXT },
	[OUT_NUM] = { "mean_db", COL_OUT, COL_NUM, .places = 3 },
	[OUT_WHOLE] = { "count", COL_OUT, COL_WHOLE },
	[OUT_DB] = { "sum_db", COL_OUT, COL_DB, .places = 2 },
	{ NULL },
};

/* --- helpers --------------------------------------------------------------------------------- */

static void
store(const char *path, const char *text)
{
	int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);

	if (fd < 0 || os_write(fd, text, strlen(text)) != 0 || close(fd) != 0) {
		perror(path);
		exit(1);
	}
}

static void
holds(const char *path, const char *want)
{
	char got[4000];
	int fd = open(path, O_RDONLY);
	ssize_t n = os_read(fd, got, sizeof got - 1);

	close(fd);
	got[n > 0 ? n : 0] = '\0';
	CHECK(strcmp(got, want) == 0, "%s: '%s', want '%s'", path, got, want);
}

/* a table of the column `name` and one other, whose only row has this field */
static void
one_field(struct table *t, const char *column, const char *field, struct err *err)
{
	static char text[500];

	*err = (struct err){ "" };
	snprintf(text, sizeof text, "name\t%s\nx\t%s\n", column, field);
	if (table_open_reader(t, cols, reader_memory("x.tsv", field_of(text), err), NULL, err) !=
		0 ||
	    !table_next(t)) {
		CHECK(0, "%s: %s", column, err->text);
		exit(1);
	}
}

static void
end_with(struct table *t, struct err *err, const char *want)
{
	CHECK(!table_next(t), "another row");
	CHECK(table_close(t) == (want[0] == '\0' ? 0 : -1), "closed wrongly");
	CHECK(strcmp(err->text, want) == 0, "got '%s', want '%s'", err->text, want);
}

static int
sheet_end(struct sheet *s, struct outputs *all, struct err *err)
{
	sheet_head(s);
	sheet_free(s);
	return outputs_finish(all, true, err);
}

/* --- reading --------------------------------------------------------------------------------- */

static void
gets_text(void)
{
	struct table t;
	struct err err;
	struct field x = field_of("before");

	one_field(&t, "note", " 0,5\xb0 ", &err);
	CHECK(get_text(&t, NAME, &x) && field_is(x, "x"), "%.*s", (int)x.n, x.p);
	CHECK(table_has(&t, NAME) && !table_has(&t, NUM), "columns");
	end_with(&t, &err, "");

	x = field_of("before");
	CHECK(table_open_reader(&t, cols, reader_memory("x.tsv", field_of("name\ta\n\t1"), &err),
		  NULL, &err) == 0 &&
		  table_next(&t),
	    "%s", err.text);
	CHECK(!get_text(&t, NAME, &x) && field_is(x, "before"), "an empty field has a value");
	end_with(&t, &err, "");
}

static void
gets_numbers(void)
{
	static const struct {
		const char *field;
		double x; /* 0: refused or not known */
		const char *want;
	} known[] = {
		{ "9.2", 9.2, "" },
		{ "+1", 1, "" },
		{ "5e1", 50, "" },
		{ "", 0, "" },
		{ "0.999", 0, "x.tsv:2: column 'num_um': outside 1 to 50: '0.999'" },
		{ "50.0001", 0, "x.tsv:2: column 'num_um': outside 1 to 50: '50.0001'" },
		{ "9,2", 0, "x.tsv:2: column 'num_um': decimal comma: write a point: '9,2'" },
		{ " 9", 0, "x.tsv:2: column 'num_um': blank beside the number: ' 9'" },
		{ "9um", 0, "x.tsv:2: column 'num_um': number with something behind it: '9um'" },
		{ "n/a", 0, "x.tsv:2: column 'num_um': no number: 'n/a'" },
		{ "-", 0, "x.tsv:2: column 'num_um': no number: '-'" },
		{ "nan", 0, "x.tsv:2: column 'num_um': not a finite number: 'nan'" },
		{ "9\x1a", 0,
		    "x.tsv:2: column 'num_um': number with something behind it: '9\\x1a'" },
	};

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		double x = -77;
		struct table t;
		struct err err;

		one_field(&t, "num_um", known[i].field, &err);
		CHECK(get_num(&t, NUM, &x) == (known[i].x != 0), "'%s'", known[i].field);
		CHECK(x == (known[i].x != 0 ? known[i].x : -77), "'%s': %g", known[i].field, x);
		CHECK(!get_num(&t, LEFT, &x), "a column that is not there has a value");
		end_with(&t, &err, known[i].want);
	}
}

static void
gets_numbers_without_an_upper_end(void)
{
	double x = 0;
	struct table t;
	struct err err;

	one_field(&t, "right", "1e300", &err);
	CHECK(get_num(&t, RIGHT, &x) && x == 1e300, "%g", x);
	end_with(&t, &err, "");
	one_field(&t, "right", "-0.1", &err);
	CHECK(!get_num(&t, RIGHT, &x), "%g", x);
	end_with(&t, &err, "x.tsv:2: column 'right': below 0: '-0.1'");
	one_field(&t, "left", "-1e300", &err);
	CHECK(get_num(&t, LEFT, &x) && x == -1e300, "no range: any number: %g", x);
	end_with(&t, &err, "");
}

static void
gets_whole_numbers(void)
{
	static const struct {
		const char *field;
		int64_t x; /* 0: refused or not known */
		const char *want;
	} known[] = {
		{ "12", 12, "" },
		{ "-5", -5, "" },
		{ "007", 7, "" },
		{ "", 0, "" },
		{ "13", 0, "x.tsv:2: column 'whole': outside -5 to 12: '13'" },
		{ "-6", 0, "x.tsv:2: column 'whole': outside -5 to 12: '-6'" },
		{ "1.5", 0, "x.tsv:2: column 'whole': not a whole number: '1.5'" },
		{ "1e1", 0, "x.tsv:2: column 'whole': not a whole number: '1e1'" },
		{ "1,5", 0, "x.tsv:2: column 'whole': decimal comma: write a point: '1,5'" },
		{ "x", 0, "x.tsv:2: column 'whole': no number: 'x'" },
	};

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		int64_t x = -77;
		struct table t;
		struct err err;

		one_field(&t, "whole", known[i].field, &err);
		CHECK(get_whole(&t, WHOLE, &x) == (known[i].x != 0), "'%s'", known[i].field);
		CHECK(x == (known[i].x != 0 ? known[i].x : -77), "'%s'", known[i].field);
		end_with(&t, &err, known[i].want);
	}
}

static void
gets_decibels(void)
{
	static const struct {
		const char *field;
		int64_t x_udb; /* -1: refused or not known */
		const char *want;
	} known[] = {
		{ "0.05", 50000, "" },
		{ "0", 0, "" },
		{ "10", 10000000, "" },
		{ "0.0000005", 1, "" },
		{ "", -1, "" },
		{ "10.000001", -1, "x.tsv:2: column 'loss_db': outside 0 to 10: '10.000001'" },
		{ "-0.1", -1, "x.tsv:2: column 'loss_db': outside 0 to 10: '-0.1'" },
		{ "1e15", -1, "x.tsv:2: column 'loss_db': number too large: '1e15'" },
		{ "0,05", -1, "x.tsv:2: column 'loss_db': decimal comma: write a point: '0,05'" },
		{ "0.02dB", -1,
		    "x.tsv:2: column 'loss_db': number with something behind it: '0.02dB'" },
	};

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		int64_t x = -77;
		struct table t;
		struct err err;

		one_field(&t, "loss_db", known[i].field, &err);
		CHECK(get_db(&t, DB, &x) == (known[i].x_udb >= 0), "'%s'", known[i].field);
		CHECK(x == (known[i].x_udb >= 0 ? known[i].x_udb : -77), "'%s'", known[i].field);
		end_with(&t, &err, known[i].want);
	}
}

static void
gets_times_and_words(void)
{
	struct when when = { .seconds = 5 };
	struct table t;
	struct err err;
	int word = 7;

	one_field(&t, "made_at", "1970-01-01T00:01:00Z", &err);
	CHECK(get_time(&t, TIME, &when) && when.seconds == 60 && when.has_zone, "%lld",
	    (long long)when.seconds);
	end_with(&t, &err, "");
	one_field(&t, "made_at", "", &err);
	CHECK(!get_time(&t, TIME, &when) && when.seconds == 60, "empty");
	end_with(&t, &err, "");
	one_field(&t, "made_at", "2026-02-30", &err);
	CHECK(!get_time(&t, TIME, &when) && when.seconds == 60, "no such day");
	end_with(&t, &err, "x.tsv:2: column 'made_at': no such day: '2026-02-30'");

	one_field(&t, "tension", "fail", &err);
	CHECK(get_word(&t, WORD, &word) && word == 1, "%d", word);
	end_with(&t, &err, "");
	one_field(&t, "tension", "pass", &err);
	CHECK(get_word(&t, WORD, &word) && word == 0, "%d", word);
	end_with(&t, &err, "");
	one_field(&t, "tension", "", &err);
	CHECK(!get_word(&t, WORD, &word) && word == 0, "empty");
	end_with(&t, &err, "");
	one_field(&t, "tension", "Pass", &err);
	CHECK(!get_word(&t, WORD, &word) && word == 0, "letter case");
	end_with(&t, &err, "x.tsv:2: column 'tension': none of: pass fail: 'Pass'");
	one_field(&t, "tension", "pass fail", &err);
	CHECK(!get_word(&t, WORD, &word), "both");
	end_with(&t, &err, "x.tsv:2: column 'tension': none of: pass fail: 'pass fail'");
}

/* the first trouble is the one that counts, and nothing is read after it */
static void
stops_at_trouble(void)
{
	struct err err = { "" };
	struct table t;
	double x;

	CHECK(table_open_reader(&t, cols,
		  reader_memory("x.tsv", field_of("name\tnum_um\tleft\na\tx\ty\nb\t2\t3\n"), &err),
		  NULL, &err) == 0 &&
		  table_next(&t),
	    "%s", err.text);
	CHECK(!get_num(&t, NUM, &x) && !get_num(&t, LEFT, &x), "numbers");
	CHECK(table_fail(&t, NAME, "odd") == -1, "0");
	end_with(&t, &err, "x.tsv:2: column 'num_um': no number: 'x'");
}

static void
fails_in_words(void)
{
	struct table t;
	struct err err;

	one_field(&t, "note", "y", &err);
	CHECK(table_fail(&t, NAME, "odd") == -1, "0");
	end_with(&t, &err, "x.tsv:2: column 'name': odd: 'x'");
	one_field(&t, "note", "y", &err);
	CHECK(table_fail(&t, NUM, "missing") == -1, "0");
	end_with(&t, &err, "x.tsv:2: column 'num_um': missing");
}

/* --- columns --------------------------------------------------------------------------------- */

/* Opens with renames and says what came of it. */
static void
opens(const struct col *c, const char *header, const struct opt_pair *pairs, size_t n,
    const char *want)
{
	struct opt_pairs renames = { NULL, n, n };
	struct err err = { "" };
	struct table t;

	memcpy(&renames.v, &pairs, sizeof pairs);
	CHECK(table_open_reader(&t, c, reader_memory("x.tsv", field_of(header), &err), &renames,
		  &err) == (want[0] == '\0' ? 0 : -1),
	    "'%s'", header);
	CHECK(strcmp(err.text, want) == 0, "got '%s', want '%s'", err.text, want);
	table_close(&t);
}

static void
needs_columns(void)
{
	opens(cols, "a\tname\n", NULL, 0, "");
	opens(cols, "a\tnames\n", NULL, 0, "x.tsv:1: no column 'name': is it 'names'?");
	opens(
	    cols, "says\tcount\n", NULL, 0, "x.tsv:1: no column 'name': there are 'says' 'count'");
}

static void
renames_columns(void)
{
	const struct opt_pair label = { { "name", 4 }, { "label", 5 } };
	const struct opt_pair other = { { "name", 4 }, { "other", 5 } };
	const struct opt_pair num = { { "num_um", 6 }, { "dia", 3 } };
	const struct opt_pair unknown = { { "nam\x1b", 4 }, { "x", 1 } };
	const struct opt_pair made = { { "mean_db", 7 }, { "label", 5 } };
	const struct opt_pair two[] = { other, label };
	const struct opt_pair both[] = { label, num };
	struct opt_pairs renames = { NULL, 2, 2 };
	struct err err = { "" };
	struct table t;
	struct field x = { NULL, 0 };
	double dia;

	opens(cols, "label\tb\n", &label, 1, "");
	opens(cols, "name\tb\n", &label, 1, "x.tsv:1: no column 'label': there are 'name' 'b'");
	opens(cols, "label\tb\n", two, 2, ""); /* the last one counts */
	opens(cols, "name\tb\n", &num, 1, "x.tsv:1: no column 'dia': there are 'name' 'b'");
	opens(cols, "name\tx\n", &unknown, 1, "--column: no column this program reads: 'nam\\x1b'");
	opens(cols, "name\tlabel\n", &made, 1, "--column: no column this program reads: 'mean_db'");

	renames.v = malloc(sizeof both);
	if (renames.v == NULL)
		return;
	memcpy(renames.v, both, sizeof both);
	CHECK(table_open_reader(&t, cols,
		  reader_memory("x.tsv", field_of("num_um\tdia\tlabel\tname\n1\t2\t3\t4\n"), &err),
		  &renames, &err) == 0 &&
		  table_next(&t),
	    "%s", err.text);
	CHECK(get_text(&t, NAME, &x) && field_is(x, "3"), "%.*s", (int)x.n, x.p);
	CHECK(get_num(&t, NUM, &dia) && dia == 2, "%g", dia);
	CHECK(table_fail(&t, NUM, "odd") == -1, "0");
	end_with(&t, &err, "x.tsv:2: column 'dia': odd: '2'");
	free(renames.v);
}

static void
needs_one_of(void)
{
	static const struct col choice[] = {
		{ "mfd_um", COL_ONE_OF, COL_NUM, .group = 1 },
		{ "category", COL_ONE_OF, COL_TEXT, .group = 1 },
		{ "km", COL_ONE_OF, COL_NUM, .group = 2 },
		{ NULL },
	};

	opens(choice, "mfd_um\tkm\n", NULL, 0, "");
	opens(choice, "km\tcategory\n", NULL, 0, "");
	opens(choice, "km\tcategory\tmfd_um\n", NULL, 0, "");
	opens(choice, "km\tx\n", NULL, 0,
	    "x.tsv:1: no column 'mfd_um' or 'category': there are 'km' 'x'");
	opens(
	    choice, "category\tx\n", NULL, 0, "x.tsv:1: no column 'km': there are 'category' 'x'");
	opens(choice, "km;category\n", NULL, 0,
	    "x.tsv:1: no column 'mfd_um' or 'category': only one column: is the delimiter not TAB? "
	    "thrum-import reads such files");
}

static void
opens_files_and_side_tables(void)
{
	static const unsigned char compiled_in[] = "name\tnum_um\nbuilt in\t5\n";
	const struct blob blob = { "builtin.tsv", compiled_in, sizeof compiled_in - 1 };
	static char one[] = "one.tsv", two[] = "two.tsv";
	char *files[] = { one, two };
	struct err err = { "" };
	struct table t;
	struct field x = { NULL, 0 };

	store("one.tsv", "name\tnote\na\tb\n");
	store("two.tsv", "note\tname\nd\tc\n");
	CHECK(table_open(&t, cols, files, 2, READER_SAME_COLUMNS, NULL, &err) == 0, "%s", err.text);
	CHECK(table_next(&t) && get_text(&t, NAME, &x) && field_is(x, "a"), "%s", err.text);
	CHECK(table_next(&t) && get_text(&t, NAME, &x) && field_is(x, "c"), "%s", err.text);
	end_with(&t, &err, "");

	CHECK(table_open_side(&t, cols, "one.tsv", &blob, &err) == 0 && table_next(&t) &&
		  get_text(&t, NAME, &x) && field_is(x, "a"),
	    "%s", err.text);
	end_with(&t, &err, "");
	CHECK(table_open_side(&t, cols, NULL, &blob, &err) == 0 && table_next(&t) &&
		  get_text(&t, NAME, &x) && field_is(x, "built in"),
	    "%s", err.text);
	CHECK(table_fail(&t, NAME, "odd") == -1, "0");
	end_with(&t, &err, "builtin.tsv:2: column 'name': odd: 'built in'");

	err.text[0] = '\0';
	CHECK(table_open_side(&t, cols, "three.tsv", NULL, &err) == -1 &&
		  strcmp(err.text, "three.tsv: No such file or directory") == 0,
	    "%s", err.text);
	CHECK(table_close(&t) == 0, "what was never opened is fine to close");
	t = (struct table){ 0 };
	CHECK(table_close(&t) == 0, "all zero is fine to close");
}

/* --- writing --------------------------------------------------------------------------------- */

static void
writes_columns_of_its_own(void)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *writer;
	struct sheet s = { 0 };

	sheet_free(&s); /* all zero is fine */
	writer = writer_open(&all, "out", &err);
	sheet_open(&s, cols, NULL, field_of(""), writer);
	put_text(&s, OUT_TEXT, field_of("all"));
	put_num(&s, OUT_NUM, 0.0625);
	put_whole(&s, OUT_WHOLE, INT64_MIN);
	put_db(&s, OUT_DB, -5000);
	sheet_row(&s);
	sheet_row(&s); /* nothing was put */
	put_db(&s, OUT_DB, 1);
	sheet_row(&s); /* only the last */
	put_whole(&s, OUT_WHOLE, 3);
	put_text(&s, OUT_TEXT, field_of("late"));
	sheet_row(&s); /* not in order */
	put_num(&s, OUT_NUM, 1);
	put_num(&s, OUT_NUM, 2);
	sheet_row(&s); /* twice: the last one counts */
	put_text(&s, OUT_TEXT, field_of("first"));
	put_num(&s, OUT_NUM, 2);
	sheet_row(&s); /* the first two */
	put_text(&s, OUT_TEXT, (struct field){ NULL, 0 });
	put_num(&s, OUT_NUM, -0.0001);
	put_whole(&s, OUT_WHOLE, 0);
	sheet_row(&s); /* put, but empty */
	put_text(&s, OUT_TEXT, field_of("one"));
	put_text(&s, OUT_TEXT, field_of(""));
	sheet_row(&s); /* emptied again */
	CHECK(sheet_end(&s, &all, &err) == 0, "%s", err.text);
	holds("out", "says\tmean_db\tcount\tsum_db\n"
		     "all\t0.062\t-9223372036854775808\t-0.01\n"
		     "\t\t\t\n"
		     "\t\t\t0.00\n"
		     "late\t\t3\t\n"
		     "\t2.000\t\t\n"
		     "first\t2.000\t\t\n"
		     "\t0.000\t0\t\n"
		     "\t\t\t\n");
}

static void
refuses_what_would_break_the_table(void)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *writer;
	struct sheet s;

	unlink("out");
	writer = writer_open(&all, "out", &err);
	sheet_open(&s, cols, NULL, field_of(""), writer);
	put_text(&s, OUT_TEXT, field_of("two\tfields"));
	sheet_row(&s);
	CHECK(sheet_end(&s, &all, &err) == -1 && access("out", F_OK) != 0, "written");
	CHECK(strcmp(err.text,
		  "TAB, line end or NUL inside a field of the output: 'two\\x09fields'") == 0,
	    "%s", err.text);
}

/* Reads files as a filter that puts each row's number, and compares its output. */
static void
filters(const char *first, const char *second, const char *want)
{
	static char one[] = "one.tsv", two[] = "two.tsv";
	char *files[] = { one, two };
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *writer;
	struct sheet s = { 0 };
	struct table t;
	int64_t n = 0;

	store(one, first);
	if (second != NULL)
		store(two, second);
	CHECK(table_open(&t, cols, files, second != NULL ? 2 : 1, 0, NULL, &err) == 0, "%s",
	    err.text);
	writer = writer_open(&all, "out", &err);
	sheet_open(&s, cols, &t, field_of(""), writer);
	while (table_next(&t)) {
		if (n != 1) /* the second row gets nothing */
			put_whole(&s, OUT_WHOLE, n);
		if (n == 2)
			put_text(&s, OUT_TEXT, field_of("two"));
		n++;
		sheet_row(&s);
	}
	CHECK(sheet_end(&s, &all, &err) == 0 && table_close(&t) == 0, "%s", err.text);
	holds("out", want);
}

static void
appends_or_replaces(void)
{
	filters("name\tnote\na\t1,5\nb\t\nc\t\xb0\n", NULL,
	    "name\tnote\tsays\tmean_db\tcount\tsum_db\n"
	    "a\t1,5\t\t\t0\t\nb\t\t\t\t\t\nc\t\xb0\ttwo\t\t2\t\n");
	/* in place, and emptied if it is not known this time */
	filters("count\tname\tsays\n7\ta\told\n8\tb\told\n9\tc\told\n", NULL,
	    "count\tname\tsays\tmean_db\tsum_db\n0\ta\t\t\t\n\tb\t\t\t\n2\tc\ttwo\t\t\n");
	/* all of them there: a second run changes nothing */
	filters("says\tmean_db\tname\tcount\tsum_db\n\t\ta\t0\t\n\t\tb\t\t\ntwo\t\tc\t2\t\n", NULL,
	    "says\tmean_db\tname\tcount\tsum_db\n\t\ta\t0\t\n\t\tb\t\t\ntwo\t\tc\t2\t\n");
	/* one column that is not known to be read, CRLF, no last line end */
	filters("name\r\na", NULL, "name\tsays\tmean_db\tcount\tsum_db\na\t\t\t0\t\n");
	/* permuted columns, and a column that only one of the files has */
	filters("name\tnote\na\tb\nc\td\n", "note\tname\nf\te\n",
	    "name\tnote\tsays\tmean_db\tcount\tsum_db\n"
	    "a\tb\t\t\t0\t\nc\td\t\t\t\t\ne\tf\ttwo\t\t2\t\n");
	filters("name\na\nb\n", "count\tname\textra\n5\tc\tx\n",
	    "name\tcount\textra\tsays\tmean_db\tsum_db\n"
	    "a\t0\t\t\t\t\nb\t\t\t\t\t\nc\t2\tx\ttwo\t\t\n");
	/* header only */
	filters("name\tcount\n", NULL, "name\tcount\tsays\tmean_db\tsum_db\n");
}

/* a column may be read and written; what is renamed is read elsewhere, and written under its name */
static void
writes_under_its_own_name(void)
{
	enum { READ, WRITTEN };
	static const struct col both[] = {
		[READ] = { "loss_db", COL_MAY, COL_NUM },
		[WRITTEN] = { "loss_db", COL_OUT, COL_NUM, .places = 1 },
		{ NULL },
	};
	struct opt_pair pair = { { "loss_db", 7 }, { "mine", 4 } };
	struct opt_pairs renames = { &pair, 1, 1 };
	static char file[] = "one.tsv";
	char *files[] = { file };
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *writer;
	struct sheet s;
	struct table t;
	double x = 0;

	store(file, "mine\tloss_db\n2\t7\n");
	for (int renamed = 0; renamed < 2; renamed++) {
		CHECK(table_open(&t, both, files, 1, 0, renamed ? &renames : NULL, &err) == 0, "%s",
		    err.text);
		writer = writer_open(&all, "out", &err);
		sheet_open(&s, both, &t, field_of(""), writer);
		CHECK(table_next(&t) && get_num(&t, READ, &x), "%s", err.text);
		put_num(&s, WRITTEN, x + 1);
		sheet_row(&s);
		CHECK(sheet_end(&s, &all, &err) == 0 && table_close(&t) == 0, "%s", err.text);
		holds("out", renamed ? "mine\tloss_db\n2\t3.0\n" : "mine\tloss_db\n2\t8.0\n");
	}
}

static void
writes_long_rows(void)
{
	enum { LONG = 300000 };
	char *text = malloc(LONG + 100), *got = malloc(2 * LONG);
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *writer;
	struct sheet s;
	struct table t;
	ssize_t n = 0, more;
	int fd;

	if (text == NULL || got == NULL) {
		CHECK(0, "no memory");
		free(text);
		free(got);
		return;
	}
	memset(text, 'q', LONG);
	memcpy(text, "name\tnote\nx\t", 12);
	strcpy(text + LONG, "\n");
	CHECK(
	    table_open_reader(&t, cols, reader_memory("x", field_of(text), &err), NULL, &err) == 0,
	    "%s", err.text);
	writer = writer_open(&all, "out", &err);
	sheet_open(&s, cols, &t, field_of(""), writer);
	CHECK(table_next(&t), "%s", err.text);
	put_whole(&s, OUT_WHOLE, 1);
	sheet_row(&s);
	CHECK(sheet_end(&s, &all, &err) == 0 && table_close(&t) == 0, "%s", err.text);
	fd = open("out", O_RDONLY);
	while ((more = os_read(fd, got + n, (size_t)(2 * LONG - n))) > 0)
		n += more;
	close(fd);
	n -= (ssize_t)strlen("name\tnote\tsays\tmean_db\tcount\tsum_db\n");
	memmove(got, got + strlen("name\tnote\tsays\tmean_db\tcount\tsum_db\n"), (size_t)n);
	CHECK(n == LONG - 10 + 5 + 1 && memcmp(got, text + 10, LONG - 10) == 0 &&
		  memcmp(got + LONG - 10, "\t\t\t1\t\n", 6) == 0,
	    "%zd bytes", n);
	free(text);
	free(got);
}

/* --- hold ------------------------------------------------------------------------------------ */

static int
held(struct table *t, unsigned what, const int *key, bool many, struct ids *texts, struct err *err)
{
	*err = (struct err){ "" };
	if (table_open_side(t, cols, "side.tsv", NULL, err) != 0)
		return -1;
	return table_hold(t, what, key, many, texts);
}

static void
holds_rows(void)
{
	static const int key[] = { NAME, -1 }, pair[] = { NAME, WORD, -1 };
	struct field name = field_of("b"), two[2] = { field_of("b"), field_of("fail") };
	struct err err;
	struct table t;
	struct field x = { NULL, 0 };
	double num = 0;

	store("side.tsv", "num_um\tname\ttension\n1\ta\tpass\n2\tb\tpass\n\tc\tfail\n4\tb\tfail\n");
	CHECK(held(&t, HOLD_ROWS, pair, false, NULL, &err) == 0 && table_rows(&t) == 4, "%s",
	    err.text);
	CHECK(table_find(&t, two) && get_num(&t, NUM, &num) && num == 4, "%g", num);
	two[1] = field_of("pass");
	CHECK(table_find(&t, two) && get_num(&t, NUM, &num) && num == 2, "%g", num);
	two[1] = field_of("");
	CHECK(!table_find(&t, two), "found");
	table_at(&t, 2);
	CHECK(!get_num(&t, NUM, &num) && get_text(&t, NAME, &x) && field_is(x, "c") &&
		  table_place(&t) == 2,
	    "%g", num);
	CHECK(table_fail(&t, NAME, "odd") == -1, "0");
	CHECK(strcmp(err.text, "side.tsv:4: column 'name': odd: 'c'") == 0, "%s", err.text);
	table_close(&t);

	CHECK(held(&t, HOLD_ROWS, key, false, NULL, &err) == -1, "two rows of one key");
	CHECK(strcmp(err.text, "side.tsv:5: column 'name': a second row with this key: 'b'") == 0,
	    "%s", err.text);
	table_close(&t);

	store("side.tsv", "name\n");
	CHECK(held(&t, HOLD_ROWS, key, false, NULL, &err) == 0 && table_rows(&t) == 0 &&
		  !table_find(&t, &name) && !table_next(&t),
	    "%s", err.text);
	table_close(&t);
	table_close(&t);
}

/* many rows a key in their order; a copy of the table is a second place in it */
static void
holds_many_rows_a_key(void)
{
	static const int key[] = { NAME, -1 };
	struct field name = field_of("b");
	struct table t, other;
	struct err err;
	double a = 0, b = 0;
	char order[20] = "";
	int64_t rows = 0;

	store("side.tsv", "name\tnum_um\nb\t1\na\t2\nb\t3\nb\t5\n");
	CHECK(held(&t, HOLD_ROWS, key, true, NULL, &err) == 0, "%s", err.text);
	CHECK(table_find(&t, &name), "not found");
	do {
		get_num(&t, NUM, &a);
		sprintf(order + strlen(order), "%g ", a);
	} while (table_find_next(&t));
	CHECK(strcmp(order, "1 3 5 ") == 0, "'%s'", order);

	other = t;
	table_at(&t, 0);
	table_at(&other, 2);
	CHECK(get_num(&t, NUM, &a) && get_num(&other, NUM, &b) && a == 1 && b == 3, "%g %g", a, b);

	t.next = 0;
	while (table_next(&t))
		rows++;
	CHECK(rows == 4, "%d rows", (int)rows);
	table_close(&t);
}

/* every number parsed once; texts as numbers that two tables share */
static void
holds_columns(void)
{
	struct ids texts = IDS_NONE;
	struct table t, second;
	struct err err;

	store("side.tsv", "name\tnum_um\twhole\tloss_db\tmade_at\ttension\n"
			  "b\t1.5\t-4\t0.05\t2026-03-11T02:00:00.25Z\tfail\n"
			  "\t\t\t\t\t\n"
			  "a\t2\t8\t1\t1970-01-01\tpass\n");
	CHECK(held(&t, HOLD_COLUMNS, NULL, false, &texts, &err) == 0, "%s", err.text);
	CHECK(table_rows(&t) == 3, "%zu", table_rows(&t));
	CHECK(table_nums(&t, NUM)[0] == 1.5 && table_nums(&t, NUM)[2] == 2, "nums");
	CHECK(isnan(table_nums(&t, NUM)[1]), "an empty number");
	CHECK(table_wholes(&t, WHOLE)[0] == -4 && table_wholes(&t, WHOLE)[1] == HOLD_NO_WHOLE,
	    "wholes");
	CHECK(table_wholes(&t, DB)[0] == 50000 && table_wholes(&t, DB)[2] == 1000000, "decibels");
	CHECK(table_wholes(&t, TIME)[0] == 1773194400250000 && table_wholes(&t, TIME)[2] == 0,
	    "times");
	CHECK(table_words(&t, WORD)[0] == 1 && table_words(&t, WORD)[1] == HOLD_NO_WORD, "words");
	CHECK(table_texts(&t, NAME)[1] == HOLD_NO_TEXT &&
		  field_is(ids_key(&texts, table_texts(&t, NAME)[2]), "a"),
	    "texts");
	CHECK(isnan(table_nums(&t, LEFT)[0]), "a column that is not there");
	table_at(&t, 2);
	CHECK(table_fail(&t, NUM, "odd") == -1, "0");
	CHECK(strcmp(err.text, "side.tsv:4: column 'num_um': odd: ''") == 0, "%s", err.text);

	store("side.tsv", "name\na\nb\n");
	CHECK(held(&second, HOLD_COLUMNS, NULL, false, &texts, &err) == 0, "%s", err.text);
	CHECK(table_texts(&second, NAME)[0] == table_texts(&t, NAME)[2] &&
		  table_texts(&second, NAME)[1] == table_texts(&t, NAME)[0],
	    "the same text has the same number in both");
	table_close(&t);
	table_close(&second);
	ids_free(&texts);
}

/* every field of a typed column is read, used or not */
static void
holds_no_rubbish(void)
{
	static const struct {
		const char *text, *want;
	} known[] = {
		{ "name\tnum_um\na\tx\n", "side.tsv:2: column 'num_um': no number: 'x'" },
		{ "name\twhole\na\t1\nb\t1.5\n",
		    "side.tsv:3: column 'whole': not a whole number: '1.5'" },
		{ "name\tloss_db\na\t99\n", "side.tsv:2: column 'loss_db': outside 0 to 10: '99'" },
		{ "name\tmade_at\na\t2026\n", "side.tsv:2: column 'made_at': not a date: '2026'" },
		{ "name\ttension\na\tok\n",
		    "side.tsv:2: column 'tension': none of: pass fail: 'ok'" },
		{ "name\tnote\na\n", "side.tsv:2: 1 field, 2 expected" },
		{ "nam\tnote\na\n", "side.tsv:1: no column 'name': is it 'nam'?" },
		{ "name\tlosdb\na\t1\n", "side.tsv:1: column 'losdb': is it loss_db?" },
		{ "name\tmade_at\tsource\tmade_on\na\t2026-01-01\tx\ty\n", "" },
		{ "", "side.tsv: no header line" },
	};
	static const int key[] = { NAME, -1 };

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		struct err err;
		struct table t;

		store("side.tsv", known[i].text);
		CHECK(held(&t, HOLD_ROWS, key, false, NULL, &err) ==
			  (known[i].want[0] == '\0' ? 0 : -1),
		    "'%s'", known[i].text);
		CHECK(strcmp(err.text, known[i].want) == 0, "got '%s', want '%s'", err.text,
		    known[i].want);
		table_close(&t);
	}
}

static void
holds_large_tables(void)
{
	enum { ROWS = 50000 };
	static const int key[] = { NAME, -1 };
	struct bytes text = { NULL, 0, 0 };
	struct err err = { "" };
	struct table t;
	size_t bad = 0;
	char word[20];
	struct blob blob;

	bytes_add_text(&text, "note\tname\tleft\n");
	for (int i = 0; i < ROWS; i++)
		bytes_add_format(&text, "row %d\tMOR-%d\t%d\n", i, i, i * 2);
	blob = (struct blob){ "many.tsv", (const unsigned char *)text.p, text.n };
	CHECK(table_open_side(&t, cols, NULL, &blob, &err) == 0 &&
		  table_hold(&t, HOLD_ROWS, key, false, NULL) == 0 && table_rows(&t) == ROWS,
	    "%s", err.text);
	for (int i = 0; i < ROWS; i++) {
		struct field name = { word, (size_t)sprintf(word, "MOR-%d", (i * 7919) % ROWS) };
		double x = -1;

		bad +=
		    !table_find(&t, &name) || !get_num(&t, LEFT, &x) || x != (i * 7919) % ROWS * 2;
	}
	CHECK(bad == 0, "%zu not found", bad);
	table_close(&t);
	bytes_free(&text);
}

/* columns before the written ones, and a sheet that nobody wants */
static void
leads_and_drops(void)
{
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *writer = writer_open(&all, "out", &err);
	struct sheet s, nobody = { 0 };

	sheet_open(&s, cols, NULL, field_of("closure\ttray"), writer);
	put_lead(&s, field_of("C-1\t2"));
	put_text(&s, OUT_TEXT, field_of("fine"));
	sheet_row(&s);
	put_lead(&s, field_of("\t"));
	sheet_row(&s);
	CHECK(sheet_end(&s, &all, &err) == 0, "%s", err.text);
	holds("out", "closure\ttray\tsays\tmean_db\tcount\tsum_db\n"
		     "C-1\t2\tfine\t\t\t\n\t\t\t\t\t\n");

	put_text(&nobody, OUT_TEXT, field_of("x"));
	put_whole(&nobody, OUT_WHOLE, 1);
	sheet_row(&nobody);
	sheet_free(&nobody);
}

int
main(void)
{
	static const char *const left[] = { "one.tsv", "two.tsv", "side.tsv", "out" };
	const char *tmp = getenv("TMPDIR");
	char folder[200];

	snprintf(folder, sizeof folder, "%s/thrum-table-XXXXXX", tmp != NULL ? tmp : "/tmp");
	if (mkdtemp(folder) == NULL || chdir(folder) != 0) {
		perror(folder);
		return 1;
	}
	RUN(gets_text);
	RUN(gets_numbers);
	RUN(gets_numbers_without_an_upper_end);
	RUN(gets_whole_numbers);
	RUN(gets_decibels);
	RUN(gets_times_and_words);
	RUN(stops_at_trouble);
	RUN(fails_in_words);
	RUN(needs_columns);
	RUN(renames_columns);
	RUN(needs_one_of);
	RUN(opens_files_and_side_tables);
	RUN(writes_columns_of_its_own);
	RUN(refuses_what_would_break_the_table);
	RUN(appends_or_replaces);
	RUN(writes_under_its_own_name);
	RUN(writes_long_rows);
	RUN(leads_and_drops);
	RUN(holds_rows);
	RUN(holds_many_rows_a_key);
	RUN(holds_columns);
	RUN(holds_no_rubbish);
	RUN(holds_large_tables);
	for (size_t i = 0; i < sizeof left / sizeof left[0]; i++)
		unlink(left[i]);
	if (chdir("/") != 0 || rmdir(folder) != 0) {
		perror(folder);
		return 1;
	}
	return check_done();
}
