#include "table/head.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/mem.h"
#include "base/spelling.h"

bool
head_is_utf16(struct field start)
{
	return field_starts(start, "\xff\xfe") || field_starts(start, "\xfe\xff");
}

bool
head_is_foreign(struct err *err, const char *file, struct field start)
{
	const char *what = NULL;

	if (head_is_utf16(start))
		what = "UTF-16 text: convert it first (iconv -f UTF-16 -t UTF-8)";
	else if (field_starts(start, "\x1f\x8b"))
		what = "compressed (gzip), not a table: unpack it first (thrum-unpack, gzip -d)";
	else if (field_starts(start, "PK\x03\x04"))
		what = "a ZIP or spreadsheet file, not a table: export it as text first";
	if (what != NULL)
		err_set(err, "%s: %s", file, what);
	return what != NULL;
}

/* A column's name for a message; what is not ASCII could hide, so that it is escaped. */
static const char *
show_name(char dst[ERR_SHOWN], struct field name)
{
	name.n = err_cut(name.p, name.n);
	dst[field_escape(dst, name, ESCAPE_NOT_ASCII)] = '\0';
	return dst;
}

int
head_doubled(struct err *err, const char *file, struct field name, size_t a, size_t b)
{
	char shown[ERR_SHOWN];

	return err_set(err, "%s:1: columns %zu and %zu have the same name: '%s'", file, a + 1,
	    b + 1, show_name(shown, name));
}

int
head_unlike(
    struct err *err, const char *file, const char *verb, struct field name, const char *first)
{
	char shown[ERR_SHOWN];

	return err_set(err, "%s:1: %s a column that %s %s: '%s'", file, verb, first,
	    verb[0] == 'h' ? "lacks" : "has", show_name(shown, name));
}

const char *
head_of_export(struct field header)
{
	if (field_starts(header, "sep="))
		return "the first line is a spreadsheet's delimiter mark; thrum-import reads such "
		       "files";
	if (field_starts(header, "\""))
		return "the names stand in quotes; thrum-import reads quoted files";
	if (field_starts(header, "#"))
		return "the first line is a comment, not the column names";
	if (memchr(header.p, '\t', header.n) == NULL &&
	    (memchr(header.p, ';', header.n) != NULL || memchr(header.p, ',', header.n) != NULL))
		return "only one column: is the delimiter not TAB? thrum-import reads such files";
	return NULL;
}

/* What a header without the wanted column looks like, or NULL. */
static const char *
looks_like(struct field header)
{
	const char *looks = head_of_export(header);

	if (looks != NULL || memchr(header.p, '\t', header.n) != NULL)
		return looks;
	if (memchr(header.p, ' ', header.n) != NULL)
		return "only one column: blanks instead of TABs, or lines before the header?";
	return "only one column";
}

int
head_fail(struct err *err, const char *file, const char *what, struct field header)
{
	const char *looks = head_of_export(header);

	return err_set(
	    err, "%s:1: %s%s%s", file, what, looks != NULL ? ": " : "", looks != NULL ? looks : "");
}

/* The name that is `wanted` with a unit behind it, of several the one in dB; or SIZE_MAX. */
static size_t
with_unit(struct field wanted, const struct field *names, size_t n)
{
	size_t first = SIZE_MAX;

	for (size_t i = n; i-- > 0;) {
		if (names[i].n <= wanted.n || memcmp(names[i].p, wanted.p, wanted.n) != 0 ||
		    names[i].p[wanted.n] != '_')
			continue;
		if (field_is(field_behind(names[i], wanted.n), "_db"))
			return i;
		first = i;
	}
	return first;
}

int
head_missing(
    struct err *err, const char *file, const struct field *wanted, size_t n, struct field header)
{
	struct field *names = NULL, rest = header;
	size_t nnames = 0, cap = 0, best = SIZE_MAX;
	struct bytes says = { NULL, 0, 0 };
	char shown[ERR_SHOWN];
	const char *looks;

	while (rest.p != NULL) {
		names = mem_grow(names, &cap, nnames + 1, sizeof *names);
		names[nnames++] = field_cut(&rest, '\t');
	}
	for (size_t i = 0; i < n; i++) {
		bytes_add_format(&says, "%s'%s'", i > 0 ? " or " : "",
		    err_show(shown, wanted[i].p, wanted[i].n));
		if (best == SIZE_MAX)
			best = with_unit(wanted[i], names, nnames);
		if (best == SIZE_MAX)
			best = spelling_best(wanted[i], names, nnames);
	}
	looks = looks_like(header);
	if (looks != NULL)
		bytes_add_format(&says, ": %s", looks);
	else if (best < nnames)
		bytes_add_format(&says, ": is it '%s'?", show_name(shown, names[best]));
	else
		for (size_t i = 0; i < nnames; i++)
			bytes_add_format(&says, "%s '%s'", i == 0 ? ": there are" : "",
			    show_name(shown, names[i]));
	err_set(err, "%s:1: no column %.*s", file, (int)says.n, says.p);
	bytes_free(&says);
	free(names);
	return -1;
}

int
head_alone(struct err *err, const char *file, uint64_t line, struct field row, struct field header)
{
	if (row.n > 0 && !field_same(row, header))
		return 0;
	return err_set(err,
	    "%s:%" PRIu64
	    ": the only column would make this row %s: give the table a second column",
	    file, line, row.n == 0 ? "a blank line" : "the header again");
}

static bool
all_empty(const struct field *fields, size_t from, size_t to)
{
	while (from < to && fields[from].n == 0)
		from++;
	return from == to;
}

void
head_wrong_count(char *what, size_t room, const struct field *fields, size_t nf, size_t ncols)
{
	const char *hint = "";

	if (nf > ncols && all_empty(fields, ncols, nf))
		hint = ": the extra ones are empty";
	for (size_t i = 0; i < nf; i++)
		if (fields[i].n > 0 && fields[i].p[0] == '"')
			hint = ": quoted? thrum-import reads quoted files";
	snprintf(what, room, "%zu field%s, %zu expected%s", nf, nf == 1 ? "" : "s", ncols, hint);
}
