#include "archive/read.h"

#include <stdlib.h>

#include "archive/inside.h"
#include "base/mem.h"

/* Can it be looked up? Else it is read wholly. */
static void
begin(struct unpack *u)
{
	const char *fault;

	u->begun = true;
	if (!u->source.known || (u->nwant == 0 && !u->skim))
		return;
	fault = find_packs(u);
	u->finding = fault == NULL;
	if (fault != NULL && u->source.size > 0)
		trouble(u, "the index cannot be used (%s): read wholly", fault);
}

enum unpack_event
unpack_next(struct unpack *u, struct field *bytes)
{
	enum unpack_event event = UNPACK_OVER;

	*bytes = (struct field){ "", 0 };
	if (!u->begun)
		begin(u);
	while (event == UNPACK_OVER && !err_is_set(u->err)) {
		if (u->unit < u->nunits) {
			event = take(u, &u->units[u->unit++], bytes);
		} else if (!batch_load(u) && !err_is_set(u->err)) {
			if (!u->by_index) {
				take_over(u);
				break;
			}
			event = take_found_over(u);
		}
	}
	return event;
}

struct unpack *
unpack_open(const struct pack_source *source, size_t threads, struct err *err)
{
	struct unpack *u = mem_zeroed(1, sizeof *u);
	size_t room = 0;

	u->source = *source;
	u->err = err;
	u->threads = threads;
	u->codecs = mem_zeroed(threads, sizeof(struct codec *));
	for (size_t i = 0; i < threads; i++)
		u->codecs[i] = codec_open(1);
	u->limit = UINT64_MAX;
	u->window = mem_grow(NULL, &room, WINDOW, 1);
	room = 0;
	u->cursor.member = mem_grow(NULL, &room, MEMBER_MOST + MEMBER_LEAST, 1);
	u->most = 1;
	u->sum.whole = u->sum.lost_known = true;
	return u;
}

void
unpack_free(struct unpack *u)
{
	if (u == NULL)
		return;
	pool_free(u->pool);
	for (size_t i = 0; i < u->threads; i++)
		codec_free(u->codecs[i]);
	free(u->codecs);
	free(u->window);
	free(u->cursor.member);
	free(u->found);
	bytes_free(&u->out);
	bytes_free(&u->header);
	bytes_free(&u->keys);
	bytes_free(&u->trouble);
	free(u);
}

void
unpack_want(struct unpack *u, struct field column, struct field value)
{
	if (u->nwant < WANTED)
		u->want[u->nwant++] = (struct wanted){ .column = column,
			.hash = pack_key(pack_key_start(column), value) };
}

void
unpack_skim(struct unpack *u)
{
	u->skim = true;
}

void
unpack_limit(struct unpack *u, uint64_t bytes)
{
	u->limit = bytes;
}

const struct unpack_pack *
unpack_pack(const struct unpack *u)
{
	return &u->pack;
}

bool
unpack_in_order(const struct unpack *u)
{
	return !u->broken;
}

struct unpack_sum
unpack_sum(const struct unpack *u)
{
	return u->sum;
}

struct field
unpack_trouble(struct unpack *u)
{
	size_t more = u->ntrouble > TROUBLES ? u->ntrouble - TROUBLES : 0;

	if (more > 0)
		bytes_add_format(&u->trouble, "and %zu more\n", more);
	u->ntrouble -= more;
	return bytes_field(&u->trouble);
}
