#include "table/findings.h"

#include <stdlib.h>

#include "base/err.h"

/* Appends what was found, cut, as a message shows it. */
static void
add_shown(struct bytes *b, struct field f)
{
	size_t most = err_cut(f.p, f.n);

	bytes_add_escaped(b, (struct field){ f.p, most }, ESCAPE_NOT_UTF8 | ESCAPE_BACKSLASH);
	if (most < f.n)
		bytes_add_text(b, "...");
}

static void
put_clean(struct findings *f, struct field x)
{
	f->text.n = 0;
	bytes_add_clean(&f->text, x);
	writer_field(f->out, bytes_field(&f->text));
}

static struct field
known(const char *s)
{
	return field_of(s != NULL ? s : "");
}

void
findings_open(struct findings *f, struct writer *out)
{
	static const char *const columns[] = { "file", "line", "column", "joint", "rule", "level",
		"found", "wanted", "says" };

	*f = (struct findings){ .out = out };
	if (out == NULL)
		return;
	for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++)
		writer_text(out, columns[i]);
	writer_end_row(out);
}

void
findings_add(struct findings *f, const struct finding *one)
{
	if (one->error)
		f->errors++;
	else
		f->warnings++;
	if (f->out == NULL)
		return;
	put_clean(f, known(one->file));
	if (one->line > 0)
		writer_whole(f->out, (int64_t)one->line);
	else
		writer_text(f->out, "");
	put_clean(f, one->column);
	put_clean(f, one->joint);
	put_clean(f, known(one->rule));
	writer_text(f->out, one->error ? "error" : "warning");
	f->text.n = 0;
	add_shown(&f->text, one->found);
	writer_field(f->out, bytes_field(&f->text));
	put_clean(f, known(one->wanted));
	put_clean(f, known(one->says));
	writer_end_row(f->out);
}

void
findings_free(struct findings *f)
{
	bytes_free(&f->text);
}

/* --- held ------------------------------------------------------------------------------------ */

static const char *
keep(struct region *r, const char *s)
{
	return s != NULL ? region_string(r, field_of(s)) : NULL;
}

void
findings_hold(struct findings_held *h, const struct finding *one, size_t owner, uint32_t of)
{
	enum { SHOWN = 2 * ERR_SHOWN };
	struct finding *f;

	h->v = mem_grow(h->v, &h->cap, h->n + 1, sizeof *h->v);
	h->v[h->n] = (struct finding_held){ *one, owner, of };
	f = &h->v[h->n++].is;
	if (f->found.n > SHOWN)
		f->found.n = SHOWN;
	f->found = region_keep(&h->text, f->found);
	f->column = region_keep(&h->text, f->column);
	f->joint = region_keep(&h->text, f->joint);
	f->wanted = keep(&h->text, f->wanted);
	f->says = keep(&h->text, f->says);
}

void
findings_held_free(struct findings_held *h)
{
	free(h->v);
	region_free(&h->text);
	*h = (struct findings_held){ NULL };
}

/* --- rows set aside -------------------------------------------------------------------------- */

void
findings_why(struct bytes *why, const struct finding *one)
{
	if (why->n > 0)
		bytes_add_text(why, "; ");
	bytes_add_clean(why, known(one->rule));
	if (one->column.n > 0) {
		bytes_add_text(why, ": column '");
		bytes_add_clean(why, one->column);
		bytes_add_text(why, "'");
	}
	bytes_add_text(why, ": ");
	bytes_add_clean(why, known(one->says));
	if (one->found.n > 0) {
		bytes_add_text(why, ": '");
		add_shown(why, one->found);
		bytes_add_text(why, "'");
	}
}

void
findings_why_extra(struct bytes *why, const struct row *row)
{
	bytes_add_text(why, "; not kept in a column:");
	for (size_t i = row->due; i < row->nf; i++) {
		bytes_add_text(why, i > row->due ? ", '" : " '");
		bytes_add_clean(why, row_file_field(row, i));
		bytes_add_text(why, "'");
	}
}

enum aside { ASIDE_FILE, ASIDE_LINE, ASIDE_WHY, ASIDES };

static const char *const aside_names[ASIDES] = { "aside_file", "aside_line", "aside_why" };

static enum aside
aside_of(struct field name)
{
	int i = 0;

	while (i < ASIDES && !field_is(name, aside_names[i]))
		i++;
	return (enum aside)i;
}

void
aside_head(struct writer *out, const struct reader *in)
{
	for (size_t c = 0; c < reader_columns(in); c++)
		writer_slice(out, reader_name(in, c));
	for (int i = 0; i < ASIDES; i++)
		if (reader_column(in, field_of(aside_names[i])) < 0)
			writer_text(out, aside_names[i]);
	writer_end_row(out);
}

static void
put_aside(struct writer *out, enum aside which, const struct row *row, struct bytes *why)
{
	size_t n = why->n;

	switch (which) {
	case ASIDE_FILE:
		bytes_add_clean(why, field_of(row->file));
		writer_field(out, (struct field){ why->p + n, why->n - n });
		why->n = n;
		break;
	case ASIDE_LINE:
		writer_whole(out, (int64_t)row->line);
		break;
	default:
		writer_field(out, bytes_field(why));
	}
}

void
aside_row(struct writer *out, const struct reader *in, const struct row *row, struct bytes *why)
{
	for (size_t c = 0; c < reader_columns(in); c++) {
		enum aside which = aside_of(reader_name(in, c));

		if (which == ASIDES)
			writer_slice(out, row_field(row, c));
		else
			put_aside(out, which, row, why);
	}
	for (int i = 0; i < ASIDES; i++)
		if (reader_column(in, field_of(aside_names[i])) < 0)
			put_aside(out, (enum aside)i, row, why);
	writer_end_row(out);
}
