#include "table/sheet.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/db.h"
#include "base/mem.h"
#include "base/num.h"

void
sheet_head(struct sheet *s)
{
	if (s->out == NULL || s->headed)
		return;
	s->headed = true;
	for (size_t i = 0; s->from != NULL && i < reader_columns(s->from->reader); i++)
		writer_slice(s->out, reader_name(s->from->reader, i));
	if (s->has_lead)
		writer_slice(s->out, s->lead_names);
	for (size_t i = 0; i < s->nappended; i++)
		writer_text(s->out, s->cols[s->appended[i]].name);
	writer_end_row(s->out);
}

static void
begin_row(struct sheet *s)
{
	for (size_t c = 0; c < s->ncols; c++)
		s->slots[c].n = 0;
	s->text.n = 0;
	s->nput = 0;
	s->as_listed = true;
}

void
sheet_open(struct sheet *s, const struct col *cols, const struct table *from, struct field lead,
    struct writer *out)
{
	size_t nfrom = from != NULL ? reader_columns(from->reader) : 0;

	*s = (struct sheet){ .cols = cols, .ncols = cols_count(cols), .out = out, .from = from };
	s->has_lead = lead.n > 0;
	s->lead_names = lead;
	s->slots = mem_zeroed(s->ncols + 1, sizeof *s->slots);
	s->appended = mem_zeroed(s->ncols + 1, sizeof *s->appended);
	s->replaces = mem_zeroed(nfrom + 1, sizeof *s->replaces);
	for (size_t i = 0; i < nfrom; i++)
		s->replaces[i] = -1;
	for (size_t c = 0; c < s->ncols; c++) {
		if (cols[c].role != COL_OUT)
			continue;
		if (from != NULL && from->at[c] >= 0) {
			s->replaces[from->at[c]] = (int)c;
			s->nreplaced++;
		} else
			s->appended[s->nappended++] = (int)c;
	}
	begin_row(s);
}

void
put_lead(struct sheet *s, struct field x)
{
	s->lead = x;
}

/* Room for a field of up to n bytes, to be handed to put. */
static inline char *
put_room(struct sheet *s, size_t n)
{
	char *p = bytes_room(&s->text, n + 1);

	*p = '\t';
	return p + 1;
}

static inline void
put(struct sheet *s, int col, size_t n)
{
	s->slots[col] = (struct sheet_slot){ s->text.n + 1, n };
	s->text.n += n + 1;
	s->as_listed &= s->nput < s->nappended && s->appended[s->nput] == col;
	s->nput++;
}

void
put_text(struct sheet *s, int col, struct field x)
{
	char *p;

	if (s->out == NULL || !writer_fits(s->out, x))
		return;
	p = put_room(s, x.n);
	if (x.n > 0)
		memcpy(p, x.p, x.n);
	put(s, col, x.n);
}

void
put_num(struct sheet *s, int col, double x)
{
	if (s->out != NULL)
		put(s, col, num_fixed(put_room(s, NUM_FIXED), x, s->cols[col].places));
}

void
put_whole(struct sheet *s, int col, int64_t x)
{
	enum { DIGITS = 24 };

	if (s->out != NULL)
		put(s, col, (size_t)snprintf(put_room(s, DIGITS), DIGITS, "%lld", (long long)x));
}

void
put_db(struct sheet *s, int col, int64_t x_udb)
{
	if (s->out != NULL && x_udb != DB_NONE)
		put(s, col, db_fixed(put_room(s, DB_FIXED), x_udb, s->cols[col].places));
}

static struct field
put_field(const struct sheet *s, int col)
{
	if (s->slots[col].n == 0)
		return (struct field){ "", 0 };
	return (struct field){ s->text.p + s->slots[col].at, s->slots[col].n };
}

/* The usual row, copied at once: the line as it was read, and behind it the text as it was put. */
static bool
usual_row(struct sheet *s)
{
	struct field raw = s->lead, text = bytes_field(&s->text);
	size_t empty = s->nappended - s->nput;
	char *p;

	if (!s->as_listed)
		return false;
	if (s->from == NULL && !s->has_lead) {
		if (s->nput == 0)
			return false;
		text = (struct field){ text.p + 1, text.n - 1 };
	} else if (s->from != NULL) {
		if (!s->from->row.straight || s->nreplaced > 0)
			return false;
		raw = s->from->row.raw;
	}
	p = writer_room(s->out, raw.n + text.n + empty + 1);
	if (p == NULL)
		return false;
	if (raw.n > 0)
		memcpy(p, raw.p, raw.n);
	p += raw.n;
	if (text.n > 0)
		memcpy(p, text.p, text.n);
	p += text.n;
	memset(p, '\t', empty);
	p[empty] = '\n';
	writer_took(s->out, raw.n + text.n + empty + 1);
	return true;
}

void
sheet_row(struct sheet *s)
{
	if (s->out == NULL)
		return;
	sheet_head(s);
	if (!usual_row(s)) {
		for (size_t i = 0; s->from != NULL && i < reader_columns(s->from->reader); i++)
			writer_slice(s->out, s->replaces[i] >= 0 ? put_field(s, s->replaces[i])
								 : row_field(&s->from->row, i));
		if (s->has_lead)
			writer_slice(s->out, s->lead);
		for (size_t i = 0; i < s->nappended; i++)
			writer_slice(s->out, put_field(s, s->appended[i]));
		writer_end_row(s->out);
	}
	begin_row(s);
}

void
sheet_free(struct sheet *s)
{
	free(s->slots);
	free(s->replaces);
	free(s->appended);
	bytes_free(&s->text);
	*s = (struct sheet){ 0 };
}
