#include "archive/list.h"

#include <inttypes.h>

/* Names, a TAB between them, as names with a comma between them. */
static void
add_names(struct bytes *text, struct field names)
{
	while (names.p != NULL) {
		bytes_add_clean(text, field_cut(&names, '\t'));
		bytes_add_text(text, names.p != NULL ? "," : "");
	}
}

void
packlist_row(
    const char *file, const struct unpack_pack *pack, struct field columns, struct bytes *text)
{
	const struct pack_end *end = &pack->end;
	const struct field texts[] = { end->name, end->night, end->by };

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
	bytes_add_text(text, "\n");
}
