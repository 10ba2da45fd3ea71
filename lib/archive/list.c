#include "archive/list.h"

#include <inttypes.h>

void
packlist_row(const char *file, const struct unpack_pack *pack, struct bytes *text)
{
	const struct pack_end *end = &pack->end;
	size_t key;

	bytes_add_format(text,
	    "%s\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64 "\t%" PRIu64
	    "\t%08" PRIx32 "\t",
	    file, pack->number, pack->start, end->length, end->bytes, end->rows, end->blocks,
	    end->crc);
	key = text->n;
	bytes_add_field(text, pack->keys);
	for (size_t i = key; i < text->n; i++)
		if (text->p[i] == '\t')
			text->p[i] = ',';
	bytes_add_text(text, "\t");
	bytes_add_field(text, end->name);
	bytes_add_text(text, "\t");
	bytes_add_field(text, end->night);
	bytes_add_text(text, "\t");
	bytes_add_field(text, end->by);
	bytes_add_text(text, "\n");
}
