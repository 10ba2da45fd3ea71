/*
 * fuzz_import: any map on any export. The input is a map, a line "----", and the export. What comes
 * out must be a table: as many fields in every row as in the header, no byte that a field may not
 * hold; every row is made, dropped or wrong, whatever is read.
 */
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "base/mem.h"
#include "import/draft.h"
#include "import/import.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void
must(bool good)
{
	if (!good)
		abort();
}

static size_t
fields_of(struct field line)
{
	size_t n = 1;

	for (size_t i = 0; i < line.n; i++) {
		must(line.p[i] != '\n' && line.p[i] != '\r' && line.p[i] != '\0');
		n += line.p[i] == '\t';
	}
	return n;
}

static void
one_row(const struct import_row *row, size_t *width)
{
	struct bytes raw = { NULL, 0, 0 };

	if (row->wrong == NULL) {
		must(*width == 0 || fields_of(row->line) == *width);
		*width = fields_of(row->line);
	} else {
		must(row->wrong[0] != '\0');
		import_raw(row->raw, &raw);
		must(fields_of(bytes_field(&raw)) == 1);
	}
	bytes_free(&raw);
}

static void
import_all(struct field map_text, struct field export)
{
	struct err err = { "" };
	struct export *in = NULL;
	struct import *im = NULL;
	struct import_row row;
	struct table t = { NULL };
	struct map map;
	size_t width = 0;
	uint64_t line = 0;

	map_begin(&map);
	if (table_open_reader(&t, map_cols, reader_memory("map", map_text, &err), NULL, &err) ==
		0 &&
	    map_read(&map, &t, false) == 0)
		in = export_memory("export", export, &err);
	if (in != NULL) {
		im = import_new(&map, NULL, &err);
		if (import_add(im, in) == 0) {
			while (import_next(im, 0, &row)) {
				must(row.at_line >= line || row.wrong != NULL);
				line = row.at_line;
				must(row.wrong == NULL || row.raw.n <= export.n);
				one_row(&row, &width);
			}
			while (import_rest(im, &row))
				one_row(&row, &width);
		}
	}
	import_free(im);
	export_close(in);
	table_close(&t);
	map_free(&map);
}

static void draft(struct field export)
{
	struct err err = { "" };
	struct export *in = export_memory("export", export, &err);
	struct outputs all = { .n = 0 };
	struct writer *out = writer_open(&all, "/dev/null", &err);

	if (in != NULL && out != NULL)
		draft_write(in, NULL, out, &err);
	outputs_finish(&all, false, &err);
	export_close(in);
}

int
LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static const char mark[] = "----\n";
	/* copies of exactly their sizes, so that a byte too many is seen */
	char *copy = mem_zeroed(size + (size == 0), 1), *export;
	struct field all = { copy, size }, map = all, rest = { copy + size, 0 };

	if (size > 0)
		memcpy(copy, data, size);
	for (size_t i = 0; i + 5 <= size; i++)
		if (memcmp(copy + i, mark, 5) == 0) {
			map.n = i;
			rest = (struct field){ copy + i + 5, size - i - 5 };
			break;
		}
	export = mem_zeroed(rest.n + (rest.n == 0), 1);
	memcpy(export, rest.p, rest.n);
	rest.p = export;
	import_all(map, rest);
	draft(rest);
	free(export);
	free(copy);
	return 0;
}
