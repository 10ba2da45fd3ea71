#include "archive/files.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/os.h"

static int
open_one(struct pack_files *f, size_t i, struct err *err)
{
	bool regular;
	int fd = os_open(f->names[i], &regular, err);

	if (fd < 0)
		return -1;
	pack_source_fd(&f->sources[i], fd, regular);
	return 0;
}

/*
 * For each condition whether it rules out no file: of the latest record those on what is no key of the
 * first pack, which all are if that comes by a pipe.
 */
static void
find_late(const struct pack_files *f, bool *late)
{
	struct unpack_setup setup = { .mode = UNPACK_LIST, .threads = 1 };
	struct err err = { "" }; /* comes once more when the file is read */
	struct field keys = { "", 0 }, header;
	struct unpack *u = NULL;

	if (f->latest && f->sources[0].known) {
		u = unpack_open(&f->sources[0], &setup, &err);
		if (unpack_next(u, &header) == UNPACK_HEADER)
			keys = unpack_pack(u)->keys;
	}
	for (size_t w = 0; w < f->nwant; w++)
		late[w] = f->latest && field_among(keys, '\t', f->want[w].column) == SIZE_MAX;
	unpack_free(u);
}

int
pack_files_open(struct pack_files *f, struct table *list, struct err *err)
{
	bool *late = mem_zeroed(f->nwant + 1, sizeof *late), any = list->reader != NULL;

	f->sources = mem_zeroed(f->n, sizeof *f->sources);
	f->out = mem_zeroed(f->n, sizeof *f->out);
	f->catalogue = (struct catalogue){ .names = IDS_NONE, .columns = IDS_NONE };
	if (any)
		catalogue_load(&f->catalogue, list, f->names, f->n, f->want, f->nwant);
	for (size_t i = 0; i < f->n && !err_is_set(err); i++) {
		f->out[i] = any && i > 0 && strcmp(f->names[i], "-") != 0 &&
			    catalogue_rules_out(&f->catalogue, i, late);
		if (!f->out[i] && open_one(f, i, err) == 0 && i == 0 && any)
			find_late(f, late);
	}
	free(late);
	return err_is_set(err) ? -1 : 0;
}

static void
add_columns(struct pack_files *f, struct field names)
{
	size_t at = f->columns.n;

	bytes_add_field(&f->columns, names);
	for (size_t i = at; i < f->columns.n; i++)
		if (f->columns.p[i] == ',')
			f->columns.p[i] = '\t';
	bytes_add_text(&f->columns, "\n");
}

void
pack_files_foresee(struct pack_files *f, size_t threads, uint64_t limit)
{
	struct unpack_setup setup = { .mode = UNPACK_LIST, .threads = threads, .limit = limit };
	struct field last = { NULL, 0 };

	for (size_t i = 0; i < f->n; i++) {
		struct err err = { "" }; /* comes once more when the file is read */
		struct unpack *u;

		if (f->out[i]) {
			struct field columns = catalogue_columns(&f->catalogue, i);

			if (columns.p != last.p)
				add_columns(f, columns);
			last = columns;
		} else if (f->sources[i].known) {
			u = unpack_open(&f->sources[i], &setup, &err);
			unpack_columns(u, &f->columns);
			unpack_free(u);
		}
	}
}

void
pack_files_free(struct pack_files *f)
{
	catalogue_free(&f->catalogue);
	bytes_free(&f->columns);
	free(f->sources);
	free(f->out);
}
