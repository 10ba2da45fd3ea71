#include "table/kept.h"

#include <stdlib.h>

#include "base/mem.h"

enum { KEY_MOST = 8 };

/* Reads every field of the row as its type, for the trouble that may be in it. */
static void
read_all(struct table *t)
{
	for (size_t c = 0; c < t->ncols; c++) {
		int64_t whole;
		double num;
		struct when when;
		int word;

		switch (t->cols[c].type) {
		case COL_TEXT:
			break;
		case COL_NUM:
			get_num(t, (int)c, &num);
			break;
		case COL_WHOLE:
			get_whole(t, (int)c, &whole);
			break;
		case COL_DB:
			get_db(t, (int)c, &whole);
			break;
		case COL_TIME:
			get_time(t, (int)c, &when);
			break;
		case COL_WORD:
			get_word(t, (int)c, &word);
			break;
		}
	}
}

static void
keep_row(struct kept *k)
{
	const struct table *t = &k->table;
	size_t width = reader_columns(t->reader);
	struct field key[KEY_MOST];
	bool fresh;

	for (size_t i = 0; i < k->nkey; i++)
		key[i] = t->at[k->key[i]] < 0 ? field_of("")
					      : row_field(&t->row, (size_t)t->at[k->key[i]]);
	ids_add(&k->ids, key, k->nkey, &fresh);
	if (!fresh) {
		table_fail(&k->table, k->key[0], "a second row with this key");
		return;
	}
	k->cells = mem_grow(k->cells, &k->cap_cells, (k->n + 1) * width, sizeof *k->cells);
	k->lines = mem_grow(k->lines, &k->cap_lines, k->n + 1, sizeof *k->lines);
	for (size_t i = 0; i < width; i++)
		k->cells[k->n * width + i] = region_keep(&k->text, row_field(&t->row, i));
	k->lines[k->n++] = t->row.line;
}

int
kept_read(struct kept *k, const struct col *cols, const int *key, const char *path,
    const struct blob *builtin, struct err *err)
{
	*k = (struct kept){ .key = key, .ids = IDS_NONE };
	while (key[k->nkey] >= 0)
		k->nkey++;
	if (table_open_side(&k->table, cols, path, builtin, err) != 0)
		return -1;
	while (table_next(&k->table)) {
		read_all(&k->table);
		keep_row(k);
	}
	return err_is_set(err) ? -1 : 0;
}

void
kept_row(struct kept *k, size_t i)
{
	k->table.row.from = NULL;
	k->table.row.nf = reader_columns(k->table.reader);
	k->table.row.fields = k->cells + i * k->table.row.nf;
	k->table.row.line = k->lines[i];
}

bool
kept_find(struct kept *k, const struct field *key_fields)
{
	size_t i = ids_find(&k->ids, key_fields, k->nkey);

	if (i == SIZE_MAX)
		return false;
	kept_row(k, i);
	return true;
}

void
kept_free(struct kept *k)
{
	table_close(&k->table);
	ids_free(&k->ids);
	region_free(&k->text);
	free(k->cells);
	free(k->lines);
	*k = (struct kept){ .n = 0 };
}
