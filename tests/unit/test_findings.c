/*
 * findings: the table of faults and the reason of a row set aside, from bytes of every kind.
 */
#include "table/findings.h"

#include <fcntl.h>
#include <stdlib.h>
#include <unistd.h>

#include "check.h"

/* The table that findings of these fields make, as a string in `got`. */
static void
table_of(const struct finding *one, size_t n, char *got, size_t room)
{
	char path[] = "/tmp/test_findings.XXXXXX";
	int fd = mkstemp(path);
	struct err err = { "" };
	struct outputs all = { .n = 0 };
	struct writer *out = writer_open(&all, path, &err);
	struct findings f;
	ssize_t length;

	findings_open(&f, out);
	for (size_t i = 0; i < n; i++)
		findings_add(&f, &one[i]);
	findings_free(&f);
	CHECK(outputs_finish(&all, true, &err) == 0, "%s", err.text);
	close(fd);
	fd = open(path, O_RDONLY);
	length = read(fd, got, room - 1);
	got[length > 0 ? length : 0] = '\0';
	close(fd);
	unlink(path);
}

#define HEADER "file\tline\tcolumn\tjoint\trule\tlevel\tfound\twanted\tsays\n"

static void
rows_are_valid_whatever_was_found(void)
{
	static const struct finding one[] = {
		{ "a\tb", 3, { "x\xff", 2 }, { "J\n", 2 }, "r", true, { "\\\x01\xc3", 3 }, "w",
		    "s" },
		{ .says = "only this" },
	};
	char got[1000];

	table_of(one, 2, got, sizeof got);
	CHECK(strcmp(got, HEADER "a\\x09b\t3\tx\\xff\tJ\\x0a\tr\terror\t\\\\\\x01\\xc3\tw\ts\n"
				 "\t\t\t\t\twarning\t\t\tonly this\n") == 0,
	    "%s", got);
}

/* 59 bytes and a character of two, three or four bytes: none is cut */
static void
what_was_found_is_cut_between_characters(void)
{
	static const char *const last[] = { "\xc3\xa9", "\xe2\x82\xac", "\xf0\x9f\x98\x80", "ab" };
	char text[100], want[1000], got[1000];

	for (size_t i = 0; i < 4; i++) {
		snprintf(text, sizeof text, "%059d%s", 0, last[i]);
		snprintf(want, sizeof want, HEADER "\t\t\t\t\twarning\t%059d%s...\t\t\n", 0,
		    i == 3 ? "a" : "");
		table_of(&(struct finding){ .found = field_of(text) }, 1, got, sizeof got);
		CHECK(strcmp(got, want) == 0, "%zu: %s", i, got);
	}
}

static void
findings_are_counted_without_a_table(void)
{
	struct findings f;

	findings_open(&f, NULL);
	for (int i = 0; i < 5; i++)
		findings_add(&f, &(struct finding){ .error = i < 2 });
	CHECK(f.errors == 2 && f.warnings == 3, "%d, %d", (int)f.errors, (int)f.warnings);
	findings_free(&f);
}

static void
reasons_are_joined(void)
{
	struct bytes why = { NULL, 0, 0 };

	findings_why(&why, &(struct finding){ .rule = "shape", .says = "blank line" });
	findings_why(&why, &(struct finding){ .rule = "count",
			       .column = field_of("arcs_n"),
			       .says = "not a whole number",
			       .found = field_of("2\x7f") });
	CHECK(field_is(bytes_field(&why),
		  "shape: blank line; count: column 'arcs_n': not a whole number: '2\\x7f'"),
	    "%.*s", (int)why.n, why.p);
	bytes_free(&why);
}

int
main(void)
{
	RUN(rows_are_valid_whatever_was_found);
	RUN(what_was_found_is_cut_between_characters);
	RUN(findings_are_counted_without_a_table);
	RUN(reasons_are_joined);
	return check_done();
}
