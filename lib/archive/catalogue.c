#include "archive/catalogue.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "archive/codec.h"
#include "base/mem.h"
#include "base/os.h"

enum { NAME, START, BYTES, COLUMNS, MODIFIED, HASHED, HASHES, CHECK };

const struct col catalogue_cols[] = {
	[NAME] = { "file", COL_NEED, COL_TEXT },
	[START] = { "start", COL_NEED, COL_WHOLE },
	[BYTES] = { "pack_bytes", COL_NEED, COL_WHOLE },
	[COLUMNS] = { "columns", COL_NEED, COL_TEXT },
	[MODIFIED] = { "modified_ns", COL_NEED, COL_WHOLE },
	[HASHED] = { "hashed", COL_NEED, COL_TEXT },
	[HASHES] = { "hashes", COL_NEED, COL_TEXT },
	[CHECK] = { "row_crc32", COL_NEED, COL_TEXT },
	{ NULL },
};

/* a file as the list tells it: all its packs, one behind the other */
struct catalogue_file {
	uint64_t bytes;
	int64_t modified_ns;
	size_t columns; /* number of its columns, from 1; 0: no row told of it */
	bool odd;       /* the list is not as it was written, or tells no end of it */
	uint64_t lacks; /* a bit for each of the first 64 conditions: no row has that value */
};

enum { LACKS = 64 };

/* true if the row is as packlist_end has written it */
static bool
is_sound(const struct table *t)
{
	struct field row = t->row.raw, check = table_field(t, CHECK);
	char due[HASHES_DIGITS + 1];

	if (check.n != HASHES_DIGITS || row.n < check.n || check.p != row.p + row.n - check.n)
		return false;
	snprintf(due, sizeof due, "%08" PRIx32, codec_crc(0, row.p, row.n - check.n - 1));
	return field_is(check, due);
}

static bool
has_hash(struct field hashes, uint32_t hash)
{
	char text[HASHES_DIGITS + 1];
	size_t low = 0, high = hashes.n / HASHES_DIGITS;

	snprintf(text, sizeof text, "%08" PRIx32, hash);
	while (low < high) {
		size_t middle = low + (high - low) / 2;
		int order = memcmp(hashes.p + middle * HASHES_DIGITS, text, HASHES_DIGITS);

		if (order == 0)
			return true;
		if (order < 0)
			low = middle + 1;
		else
			high = middle;
	}
	return false;
}

/* The conditions that no row of a pack can meet. */
static uint64_t
lacks(const struct catalogue *c, const struct table *t)
{
	struct field hashed = table_field(t, HASHED), hashes = table_field(t, HASHES);
	uint64_t bits = 0;

	for (size_t w = 0; w < c->nwant && w < LACKS; w++) {
		const struct unpack_want *want = &c->want[w];

		if (field_among(hashed, ',', want->column) != SIZE_MAX &&
		    !has_hash(hashes, pack_key(pack_key_start(want->column), want->value)))
			bits |= (uint64_t)1 << w;
	}
	return bits;
}

static void
take_row(struct catalogue *c, struct table *t)
{
	int64_t start = 0, bytes = 0, modified_ns = 0;
	size_t at = ids_find_one(&c->names, table_field(t, NAME)), columns;
	struct field header = table_field(t, COLUMNS);
	struct catalogue_file *f;

	if (at == SIZE_MAX)
		return;
	f = &c->v[at];
	columns = ids_add(&c->columns, &header, 1, NULL) + 1;
	get_whole(t, START, &start);
	get_whole(t, BYTES, &bytes);
	get_whole(t, MODIFIED, &modified_ns);
	if (f->columns == 0)
		*f = (struct catalogue_file){
			.modified_ns = modified_ns, .columns = columns, .lacks = UINT64_MAX
		};
	f->odd |= !is_sound(t) || (uint64_t)start != f->bytes || modified_ns != f->modified_ns ||
		  columns != f->columns;
	f->bytes += (uint64_t)bytes;
	f->lacks &= lacks(c, t);
}

int
catalogue_load(struct catalogue *c, struct table *list, char *const *files, size_t n,
    const struct unpack_want *want, size_t nwant)
{
	struct bytes name = { NULL, 0, 0 };

	*c = (struct catalogue){
		.files = files, .want = want, .nwant = nwant, .names = IDS_NONE, .columns = IDS_NONE
	};
	c->v = mem_zeroed(n + 1, sizeof *c->v);
	c->number = mem_zeroed(n + 1, sizeof *c->number);
	for (size_t i = 0; i < n; i++) {
		struct field key;

		name.n = 0;
		bytes_add_clean(&name, field_of(files[i]));
		key = bytes_field(&name);
		c->number[i] = ids_add(&c->names, &key, 1, NULL);
	}
	while (table_next(list))
		take_row(c, list);
	bytes_free(&name);
	return err_is_set(list->err) ? -1 : 0;
}

/* true if for some column none of the values wanted is there */
static bool
lacks_all(const struct catalogue *c, uint64_t bits, const bool *late)
{
	for (size_t w = 0; w < c->nwant && w < LACKS; w++) {
		bool any = late[w];

		for (size_t v = 0; v < c->nwant && !any; v++)
			any = field_same(c->want[v].column, c->want[w].column) &&
			      (v >= LACKS || !(bits >> v & 1));
		if (!any)
			return true;
	}
	return false;
}

bool
catalogue_rules_out(struct catalogue *c, size_t i, const bool *late)
{
	const struct catalogue_file *f = &c->v[c->number[i]];
	struct os_id is;

	if (f->columns > 0 && !f->odd && !lacks_all(c, f->lacks, late))
		return false;
	is = os_id_at(c->files[i]);
	if (f->columns > 0 && !f->odd && is.regular && (uint64_t)is.size == f->bytes &&
	    is.modified_ns == f->modified_ns)
		return true;
	c->unlike++;
	return false;
}

struct field
catalogue_columns(const struct catalogue *c, size_t i)
{
	return ids_key(&c->columns, c->v[c->number[i]].columns - 1);
}

void
catalogue_free(struct catalogue *c)
{
	ids_free(&c->names);
	ids_free(&c->columns);
	free(c->v);
	free(c->number);
}
