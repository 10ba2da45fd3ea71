#include "archive/list.h"

#include <inttypes.h>

void
packlist_row(const char *file, const struct unpack_pack *pack, struct bytes *text)
{
	const struct pack_end *end = &pack->end;
	const struct field texts[] = { end->name, end->night, end->by };
	struct field keys = pack->keys;

	bytes_add_clean(text, field_of(file));
	bytes_add_format(text,
	    "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64
	    "\t%08" PRIx32 "\t",
	    pack->number, pack->start, end->length, end->bytes, end->rows, end->blocks, end->crc);
	while (keys.p != NULL) {
		bytes_add_clean(text, field_cut(&keys, '\t'));
		bytes_add_text(text, keys.p != NULL ? "," : "");
	}
	for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
		bytes_add_text(text, "\t");
		bytes_add_clean(text, texts[i]);
	}
	bytes_add_text(text, "\n");
}
