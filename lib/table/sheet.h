/*
 * sheet: a table whose columns are described by data, written by name and type.
 *
 *	sheet_open(&s, cols, NULL, field_of(""), out);
 *	put_text(&s, LINK, name);
 *	put_db(&s, MARGIN, margin_udb);
 *	sheet_row(&s);
 *	sheet_head(&s);		there may have been no row
 *	sheet_free(&s);
 *
 * A sheet that is all zero belongs to an output that is not written: what is put into it is dropped.
 */
#ifndef THRUM_TABLE_SHEET_H
#define THRUM_TABLE_SHEET_H

#include "table/table.h"
#include "table/writer.h"

struct sheet {
	const struct col *cols; /* of which those of COL_OUT are written */
	size_t ncols;
	struct writer *out;            /* NULL: it is not written */
	const struct table *from;      /* whose rows go along, or NULL */
	bool has_lead;                 /* there are columns before the first of cols */
	struct field lead_names, lead; /* their names, and the fields of the present row */
	bool headed;                   /* the header is written */
	int *replaces; /* for each column of `from` the col that replaces it, or -1 */
	size_t nreplaced;
	int *appended; /* the other cols of COL_OUT, in their order */
	size_t nappended;
	struct bytes text; /* what has been put in this row, a TAB before each */
	struct sheet_slot {
		size_t at, n;
	} * slots;      /* for each col where its text is */
	size_t nput;    /* how many were put */
	bool as_listed; /* they were the first of `appended`, in that order */
};

/*
 * Makes a sheet ready; its header is written by sheet_head or with the first row. With `from` every row is the present row of that table with the
 * written columns behind it, or in the place of columns of the same name. Else `lead` names one or
 * more columns, joined by TAB, that stand before the written ones (n 0: none); put_lead fills them.
 * cols, from, lead and out must outlive s.
 */
void sheet_open(struct sheet *s, const struct col *cols, const struct table *from,
    struct field lead, struct writer *out);

/* The fields of the columns named by `lead`, joined by TAB; must live until sheet_row. */
void put_lead(struct sheet *s, struct field x);

/* Sets a field of the row being made; what is not put stays empty. Numbers get the col's places. */
void put_text(struct sheet *s, int col, struct field x);
void put_num(struct sheet *s, int col, double x);
void put_whole(struct sheet *s, int col, int64_t x);
void put_db(struct sheet *s, int col, int64_t x_udb); /* DB_NONE: stays empty */

/* Writes the header, once. */
void sheet_head(struct sheet *s);

/* Hands the row out and begins another. */
void sheet_row(struct sheet *s);

/* Frees what sheet_open allocated, not the writer. A sheet that is all zero is fine. */
void sheet_free(struct sheet *s);

#endif
