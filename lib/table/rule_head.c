#include "table/rule_inside.h"

#include <stdio.h>

/* true if programs know the name in small letters only; these are then in rs->wanted */
static bool
known_in_small(struct rules *rs, struct field name)
{
	struct field known = { (const char *)columns_tsv.p, columns_tsv.n }, low;

	rs->wanted.n = 0;
	for (size_t i = 0; i < name.n; i++) {
		char small = byte_lower(name.p[i]);

		bytes_add(&rs->wanted, &small, 1);
	}
	low = bytes_field(&rs->wanted);
	bytes_add(&rs->wanted, "", 1);
	return field_among(known, '\n', low) != SIZE_MAX &&
	       field_among(known, '\n', name) == SIZE_MAX;
}

/* What is wrong with one of a header's names. */
static void
report_name(struct rules *rs, struct finding f, struct field header, size_t column)
{
	size_t bad = utf8_fault(f.column);
	char says[60];

	f.error = rs->strict;
	f.found = f.column;
	f.says = says;
	if (f.column.n == 0) {
		snprintf(says, sizeof says, "column %zu has no name", column);
		f.wanted = "a name";
	} else if (bad < f.column.n) {
		snprintf(says, sizeof says, "not UTF-8 at byte %zu of the line",
		    (size_t)(f.column.p - header.p) + bad + 1);
		f.rule = UTF8_RULE;
		f.error = true;
		f.wanted = "UTF-8";
	} else if (known_in_small(rs, f.column)) {
		f.wanted = rs->wanted.p;
		f.says = "no program knows a column of this name: small letters are meant";
	} else {
		return;
	}
	rs->report(rs->arg, &f);
}

void
rules_report_heads(struct rules *rs)
{
	struct finding f = { .line = 1, .rule = SHAPE_RULE };
	struct field header, rest;
	uint64_t mixed;

	for (size_t i = 0; (f.file = reader_source(rs->table->reader, i, &header, &mixed)) != NULL;
	     i++) {
		rest = header;
		for (size_t column = 1; rest.p != NULL; column++) {
			f.column = field_cut(&rest, '\t');
			report_name(rs, f, header, column);
		}
	}
}

/* Of columns that rules demand a value in: one finding for all that the table does not have. */
static void
report_missed(struct rules *rs)
{
	struct finding f = { .line = 1, .rule = SHAPE_RULE, .error = true };
	struct field header;
	uint64_t mixed;

	rs->wanted.n = 0;
	for (size_t i = 0; rs->demands && i < rs->nchecks; i++) {
		const struct rule_check *c = &rs->checks[i];

		if (!c->missed || c->rule->level != RULE_ERROR)
			continue;
		bytes_add_text(&rs->wanted, rs->wanted.n > 0 ? ", " : "a column ");
		bytes_add_text(&rs->wanted, rs->cols[c->rule->cols[c->first]].name);
	}
	if (rs->wanted.n == 0)
		return;
	bytes_add(&rs->wanted, "", 1);
	f.file = reader_source(rs->table->reader, 0, &header, &mixed);
	f.wanted = rs->wanted.p;
	f.says = "rules demand a value there, and there is no such column: of no row is it known";
	rs->report(rs->arg, &f);
}

/* A number may be cut where the file ends; where line ends change, files may have been joined. */
void
rules_report_ends(struct rules *rs)
{
	struct finding f = { .rule = SHAPE_RULE, .error = rs->strict, .wanted = "a line end" };
	const struct reader *reader = rs->table->reader;
	struct field header;
	size_t next = 0;

	report_missed(rs);
	f.says = READER_CUT;
	while ((f.file = reader_cut(reader, &next, &f.line)) != NULL)
		rs->report(rs->arg, &f);
	f.wanted = "one kind of line end";
	f.says = "LF and CR LF: this line ends otherwise than the header";
	for (size_t i = 0; (f.file = reader_source(reader, i, &header, &f.line)) != NULL; i++)
		if (f.line > 0)
			rs->report(rs->arg, &f);
}
