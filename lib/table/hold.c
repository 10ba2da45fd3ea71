#include "table/hold.h"

#include <math.h>
#include <stdlib.h>

#include "base/mem.h"

enum { KEY_MOST = 8 };

#define NO_ROW UINT32_MAX

/* one file's rows, from the first on */
struct held_file {
	const char *name;
	size_t first;
};

struct held {
	unsigned what;
	size_t n; /* rows */
	uint64_t *lines;
	size_t cap_lines;
	struct held_file *files;
	size_t nfiles, cap_files;

	const int *key;
	size_t nkey;
	bool many;
	struct ids keys;
	uint32_t *first, *last; /* for each key its rows */
	uint32_t *next;         /* for each row the next of its key, or NO_ROW */
	size_t cap_first, cap_last, cap_next;

	struct region text;
	struct field *cells; /* n rows of the table's columns */
	size_t cap_cells;

	struct ids *texts;
	struct held_column {
		void *v;
		size_t cap;
	} * columns; /* one for each of the table's cols */
	size_t ncols;
};

/* --- reading --------------------------------------------------------------------------------- */

static void *
value_room(struct held *h, size_t col, size_t size)
{
	struct held_column *c = &h->columns[col];

	c->v = mem_grow(c->v, &c->cap, h->n + 1, size);
	return (char *)c->v + h->n * size;
}

static int64_t
micros(struct when when)
{
	return when.seconds * 1000000 + when.nanos / 1000;
}

/* Reads a field as its type, for the trouble that may be in it, and keeps its value if asked to. */
static void
keep_value(struct held *h, struct table *t, int col)
{
	bool keep = h->what & HOLD_COLUMNS;
	int64_t whole = HOLD_NO_WHOLE;
	int word = HOLD_NO_WORD;
	struct field text;
	struct when when;
	double num = NAN;

	switch (t->cols[col].type) {
	case COL_TEXT:
		if (keep)
			*(uint32_t *)value_room(h, (size_t)col, sizeof(uint32_t)) =
			    get_text(t, col, &text) ? (uint32_t)ids_add(h->texts, &text, 1, NULL)
						    : HOLD_NO_TEXT;
		return;
	case COL_WORD:
		get_word(t, col, &word);
		if (keep)
			*(int8_t *)value_room(h, (size_t)col, sizeof(int8_t)) = (int8_t)word;
		return;
	case COL_NUM:
		get_num(t, col, &num);
		if (keep)
			*(double *)value_room(h, (size_t)col, sizeof num) = num;
		return;
	case COL_WHOLE:
		get_whole(t, col, &whole);
		break;
	case COL_DB:
		get_db(t, col, &whole);
		break;
	case COL_TIME:
		if (get_time(t, col, &when))
			whole = micros(when);
		break;
	}
	if (keep)
		*(int64_t *)value_room(h, (size_t)col, sizeof whole) = whole;
}

static void
keep_key(struct held *h, struct table *t)
{
	struct field key[KEY_MOST];
	uint32_t row = (uint32_t)h->n;
	bool fresh;
	size_t id;

	for (size_t i = 0; i < h->nkey; i++)
		key[i] = table_field(t, h->key[i]);
	id = ids_add(&h->keys, key, h->nkey, &fresh);
	if (!fresh && !h->many) {
		table_fail(t, h->key[0], "a second row with this key");
		return;
	}
	h->next = mem_grow(h->next, &h->cap_next, h->n + 1, sizeof *h->next);
	h->next[row] = NO_ROW;
	if (fresh) {
		h->first = mem_grow(h->first, &h->cap_first, id + 1, sizeof *h->first);
		h->last = mem_grow(h->last, &h->cap_last, id + 1, sizeof *h->last);
		h->first[id] = row;
	} else
		h->next[h->last[id]] = row;
	h->last[id] = row;
}

static void
keep_row(struct held *h, struct table *t)
{
	size_t width = reader_columns(t->reader);

	if (h->nfiles == 0 || h->files[h->nfiles - 1].name != t->row.file) {
		h->files = mem_grow(h->files, &h->cap_files, h->nfiles + 1, sizeof *h->files);
		h->files[h->nfiles++] = (struct held_file){ t->row.file, h->n };
	}
	h->lines = mem_grow(h->lines, &h->cap_lines, h->n + 1, sizeof *h->lines);
	h->lines[h->n] = t->row.line;
	for (size_t c = 0; c < t->ncols; c++)
		if (t->cols[c].role != COL_OUT)
			keep_value(h, t, (int)c);
	if (h->nkey > 0)
		keep_key(h, t);
	if (h->what & HOLD_ROWS) {
		h->cells = mem_grow(h->cells, &h->cap_cells, (h->n + 1) * width, sizeof *h->cells);
		for (size_t i = 0; i < width; i++)
			h->cells[h->n * width + i] = region_keep(&h->text, row_field(&t->row, i));
	}
	h->n++;
	if (h->n >= NO_ROW)
		table_fail(t, 0, "too many rows");
}

int
table_hold(struct table *t, unsigned what, const int *key, bool many, struct ids *texts)
{
	struct held *h;

	if (t->reader == NULL)
		return err_is_set(t->err) ? -1 : 0;
	h = mem_zeroed(1, sizeof *h);
	*h = (struct held){ .what = what, .key = key, .many = many, .keys = IDS_NONE };
	while (key != NULL && key[h->nkey] >= 0)
		h->nkey++;
	h->texts = texts;
	h->ncols = t->ncols;
	h->columns = mem_zeroed(h->ncols, sizeof *h->columns);
	while (table_next(t))
		keep_row(h, t);
	t->held = h;
	t->next = 0;
	return err_is_set(t->err) ? -1 : 0;
}

/* --- looking --------------------------------------------------------------------------------- */

size_t
table_rows(const struct table *t)
{
	return t->held != NULL ? t->held->n : 0;
}

static const char *
file_of(const struct held *h, size_t i)
{
	size_t f = h->nfiles - 1;

	while (h->files[f].first > i)
		f--;
	return h->files[f].name;
}

void
table_at(struct table *t, size_t i)
{
	const struct held *h = t->held;
	size_t width = reader_columns(t->reader);

	t->row = (struct row){ .line = h->lines[i], .file = file_of(h, i), .due = width };
	if (h->cells != NULL) {
		t->row.nf = width;
		t->row.fields = h->cells + i * width;
	}
	t->next = i + 1;
}

size_t
table_place(const struct table *t)
{
	return t->next - 1;
}

bool
table_find(struct table *t, const struct field *key)
{
	size_t id;

	if (t->held == NULL)
		return false;
	id = ids_find(&t->held->keys, key, t->held->nkey);
	if (id == SIZE_MAX)
		return false;
	table_at(t, t->held->first[id]);
	return true;
}

bool
table_find_next(struct table *t)
{
	uint32_t next = t->held->next[table_place(t)];

	if (next == NO_ROW)
		return false;
	table_at(t, next);
	return true;
}

static const void *
values(const struct table *t, int col)
{
	return t->held != NULL ? t->held->columns[col].v : NULL;
}

const double *
table_nums(const struct table *t, int col)
{
	return values(t, col);
}

const int64_t *
table_wholes(const struct table *t, int col)
{
	return values(t, col);
}

const uint32_t *
table_texts(const struct table *t, int col)
{
	return values(t, col);
}

const int8_t *
table_words(const struct table *t, int col)
{
	return values(t, col);
}

void
hold_free(struct held *h)
{
	if (h == NULL)
		return;
	for (size_t c = 0; c < h->ncols; c++)
		free(h->columns[c].v);
	free(h->columns);
	free(h->cells);
	region_free(&h->text);
	ids_free(&h->keys);
	free(h->first);
	free(h->last);
	free(h->next);
	free(h->lines);
	free(h->files);
	free(h);
}
