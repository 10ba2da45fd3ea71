#include "archive/check.h"

const char *
check_names(struct field header)
{
	for (size_t i = 0; i < header.n; i++) {
		unsigned char byte = (unsigned char)header.p[i];

		if ((byte < 0x20 && byte != '\t') || byte == 0x7f)
			return "a control character in a column's name";
	}
	return NULL;
}

void
checker_begin(struct checker *c, struct field header, struct field keys)
{
	struct bytes entries = c->index.entries;

	*c = (struct checker){ .header = header, .columns = 1, .index.entries = entries };
	for (size_t i = 0; i < header.n; i++)
		c->columns += header.p[i] == '\t';
	while (keys.n > 0 && c->nkeys < PACK_KEYS) {
		struct field name = field_cut(&keys, '\t');

		c->key_columns[c->nkeys] = field_among(header, '\t', name);
		c->starts[c->nkeys++] = pack_key_start(name);
	}
	c->index.nkeys = c->nkeys;
}

/* The hashes of a row's keys. Returns how many fields it has. */
static size_t
hash_row(const struct checker *c, struct field row, uint32_t hashes[PACK_KEYS])
{
	size_t n = 0;

	for (size_t k = 0; k < c->nkeys; k++)
		hashes[k] = 0;
	for (; row.p != NULL; n++) {
		struct field field = field_cut(&row, '\t');

		for (size_t k = 0; k < c->nkeys; k++)
			if (c->key_columns[k] == n)
				hashes[k] = pack_key(c->starts[k], field);
	}
	return n;
}

static void
end_block(struct checker *c, bool ends)
{
	size_t entry = index_end(&c->index, ends), head = INDEX_HEAD;

	c->keys = codec_crc(
	    c->keys, c->index.entries.p + entry + head, c->index.entries.n - entry - head);
	c->index.entries.n = 0;
}

/* n bytes of a row, its LF included. */
static void
add_row(struct checker *c, size_t n, const uint32_t *hashes)
{
	while (n > 0) {
		n -= index_take(&c->index, n, hashes);
		if (c->index.n == PAYLOAD_MOST)
			end_block(c, n == 0);
	}
}

static const char *
row_fault(const struct checker *c, struct field row, size_t fields)
{
	if (row.n == 0)
		return "is blank";
	if (fields != c->columns)
		return "has more or fewer fields than there are columns";
	return field_same(row, c->header) ? "is the header once more" : NULL;
}

const char *
checker_rows(struct checker *c, struct field rows, uint64_t *at)
{
	const char *fault = NULL;
	uint32_t hashes[PACK_KEYS];
	bool odd = memchr(rows.p, '\0', rows.n) != NULL || memchr(rows.p, '\r', rows.n) != NULL;

	while (rows.n > 0) {
		struct field row = field_cut(&rows, '\n');
		const char *now = row_fault(c, row, hash_row(c, row, hashes));

		if (odd && now == NULL &&
		    (memchr(row.p, '\0', row.n) != NULL || memchr(row.p, '\r', row.n) != NULL))
			now = "holds a NUL or CR";
		c->rows++;
		if (now != NULL && fault == NULL) {
			fault = now;
			*at = c->rows;
		}
		add_row(c, row.n + 1, hashes);
	}
	return fault;
}

void
checker_end(struct checker *c)
{
	if (c->index.n > 0)
		end_block(c, true);
}

void
checker_free(struct checker *c)
{
	bytes_free(&c->index.entries);
}

bool
checker_agrees(
    const struct checker *c, struct field rows, const struct index_entry *entry, size_t nkeys)
{
	uint32_t hashes[PACK_KEYS] = { 0 }, last[PACK_KEYS];
	bool first = true;

	while (rows.n > 0) {
		hash_row(c, field_cut(&rows, '\n'), hashes);
		for (size_t k = 0; k < c->nkeys; k++)
			if ((first || hashes[k] != last[k]) &&
			    !index_may_have(entry, nkeys, k, hashes[k]))
				return false;
		memcpy(last, hashes, sizeof last);
		first = false;
	}
	return true;
}
