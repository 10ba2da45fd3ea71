#include "archive/list.h"

#include <inttypes.h>

#include "archive/codec.h"
#include "base/os.h"

void
packlist_begin(struct packlist *l, struct field header)
{
	static const char names[] = "file\tpack\tstart\tpack_bytes\ttable_bytes\trows\tblocks\t"
				    "crc32\tkey\tname\tnight\tby\tcolumns";

	if (!l->begun) {
		bytes_add_text(&l->text, names);
		bytes_add_text(
		    &l->text, l->hashes ? "\tmodified_ns\thashed\thashes\trow_crc32\n" : "\n");
	}
	l->begun = true;
	l->columns.n = 0;
	if (!l->hashes && field_same(bytes_field(&l->header), header))
		return;
	l->header.n = 0;
	bytes_add_field(&l->header, header);
	bytes_add_field(&l->columns, header);
}

/* Names, a TAB between them, as names with a comma between them. */
static void
add_names(struct bytes *text, struct field names)
{
	while (names.p != NULL) {
		bytes_add_clean(text, field_cut(&names, '\t'));
		bytes_add_text(text, names.p != NULL ? "," : "");
	}
}

static void
add_pack(struct packlist *l, const char *file, const struct unpack_pack *pack, struct field columns)
{
	const struct pack_end *end = &pack->end;
	const struct field texts[] = { end->name, end->night, end->by };
	struct bytes *text = &l->text;

	bytes_add_clean(text, field_of(file));
	bytes_add_format(text,
	    "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64
	    "\t%08" PRIx32 "\t",
	    pack->number, pack->start, end->length, end->bytes, end->rows, end->blocks, end->crc);
	add_names(text, pack->keys);
	for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
		bytes_add_text(text, "\t");
		bytes_add_clean(text, texts[i]);
	}
	bytes_add_text(text, "\t");
	add_names(text, columns);
}

/* The names of keys of which all hashes are known, and the hashes. */
static void
add_hashes(struct bytes *text, struct field keys, struct hashes *hashes)
{
	struct bytes all = { NULL, 0, 0 };
	const char *between = "";

	hashes_end(hashes, &all);
	for (size_t k = 0; keys.p != NULL; k++) {
		struct field name = field_cut(&keys, '\t');

		if (hashes->many[k])
			continue;
		bytes_add_text(text, between);
		bytes_add_field(text, name);
		between = ",";
	}
	bytes_add_text(text, "\t");
	bytes_add_field(text, bytes_field(&all));
	bytes_free(&all);
}

/* Whether names can be told apart again: no comma in one, nothing of the row escaped. */
static bool
is_plain(struct field row, struct field columns, struct field keys)
{
	return memchr(row.p, '\\', row.n) == NULL && memchr(columns.p, ',', columns.n) == NULL &&
	       memchr(keys.p, ',', keys.n) == NULL;
}

void
packlist_end(
    struct packlist *l, const char *file, const struct pack_source *source, struct unpack *u)
{
	const struct unpack_pack *pack = unpack_pack(u);
	struct field columns = bytes_field(&l->columns);
	struct hashes *hashes = unpack_hashes(u);
	struct bytes *text = &l->text;
	size_t row = text->n;

	if (!l->begun)
		return;
	add_pack(l, file, pack, columns);
	if (l->hashes) {
		if (!is_plain((struct field){ text->p + row, text->n - row }, columns, pack->keys))
			hashes = NULL;
		bytes_add_format(
		    text, "\t%" PRId64 "\t", source->known ? os_id_of(source->fd).modified_ns : 0);
		if (hashes != NULL)
			add_hashes(text, pack->keys, hashes);
		else
			bytes_add_text(text, "\t");
		bytes_add_format(text, "\t%08" PRIx32, codec_crc(0, text->p + row, text->n - row));
	}
	bytes_add_text(text, "\n");
}

void
packlist_free(struct packlist *l)
{
	bytes_free(&l->text);
	bytes_free(&l->header);
	bytes_free(&l->columns);
}
