/*
 * findings: what was found wrong, as a table of faults (thrum-tables(5)), and rows set aside.
 *
 *	struct findings found;
 *
 *	findings_open(&found, out);
 *	findings_add(&found, &(struct finding){ .file = row->file, .line = row->line,
 *	    .rule = "open-end", .error = true, .says = "the fibre ends here" });
 *	verdict = found.errors > 0 ? EXIT_AGAINST : EXIT_DONE;
 *	findings_free(&found);
 *
 * The table is valid whatever bytes were found: control bytes and bytes that are not UTF-8 become \xNN.
 */
#ifndef THRUM_TABLE_FINDINGS_H
#define THRUM_TABLE_FINDINGS_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/mem.h"
#include "table/reader.h"
#include "table/writer.h"

/* { NULL, 0 } or NULL: not known */
struct finding {
	const char *file;
	uint64_t line;
	struct field column, joint;
	const char *rule;
	bool error; /* else a warning */
	struct field found;
	const char *wanted, *says;
	bool standing; /* it is one only if the attempt stands */
};

struct findings {
	struct writer *out; /* NULL: they are only counted */
	uint64_t errors, warnings;
	struct bytes text;
};

/* Writes the header to out, unless that is NULL. out stays the caller's. */
void findings_open(struct findings *f, struct writer *out);

/* Writes one row and counts it. `found` is cut behind its 60th byte, which is shown by "...". */
void findings_add(struct findings *f, const struct finding *one);

void findings_free(struct findings *f);

/*
 * Findings that wait until it is known whether they are ones: copied, about 200 bytes each. Start it
 * as { 0 }.
 */
struct findings_held {
	struct finding_held {
		struct finding is;
		size_t owner; /* what the program says of it */
		uint32_t of;
	} * v;
	size_t n, cap;
	struct region text;
};

/* rule and file must outlive h; `found` is kept as far as findings_add shows it. */
void findings_hold(struct findings_held *h, const struct finding *one, size_t owner, uint32_t of);

void findings_held_free(struct findings_held *h);

/*
 * Appends to why, "; " before it unless it is the first, "RULE: column 'NAME': SAYS: 'FOUND'" as
 * far as these are known.
 */
void findings_why(struct bytes *why, const struct finding *one);

/* Appends in the same way the fields of a long row that belong to no column, in full. */
void findings_why_extra(struct bytes *why, const struct row *row);

/*
 * Rows set aside: the columns of `in`, byte for byte, and behind them aside_file, aside_line and
 * aside_why; these replace columns of the same name. why comes back as it was.
 */
void aside_head(struct writer *out, const struct reader *in);
void
aside_row(struct writer *out, const struct reader *in, const struct row *row, struct bytes *why);

#endif
