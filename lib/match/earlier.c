#include "match/earlier.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/num.h"

enum { KEY_FIELDS = 3, KEY_BYTES = 20 };

/* What tells an arc: 20 bytes of number and time at `bytes` are part of it. */
static void
arc_key(struct field key[KEY_FIELDS], char bytes[KEY_BYTES], struct field splicer, int64_t number,
    const struct when *at)
{
	memcpy(bytes, &number, 8);
	memcpy(bytes + 8, &at->seconds, 8);
	memcpy(bytes + 16, &at->nanos, 4);
	key[0] = splicer;
	key[1] = (struct field){ bytes, KEY_BYTES };
	key[2] = field_of(at->has_zone ? "zone" : "");
}

static void
read_row(struct match_earlier *e, struct table *t, const struct planned *plan)
{
	uint32_t joint = planned_named(plan, table_field(t, EARLIER_JOINT));
	struct match_before *b = &e->before[joint == MATCH_NONE ? plan->n : joint];
	int64_t attempt = b->attempts + 1, number;
	struct field key[KEY_FIELDS];
	char bytes[KEY_BYTES];
	struct when at;
	int stands = 0; /* yes */
	bool has_at = get_time(t, EARLIER_MADE_AT, &at);

	get_whole(t, EARLIER_ATTEMPT, &attempt);
	get_word(t, EARLIER_STANDS, &stands);
	if (has_at && num_whole(table_field(t, EARLIER_ARC), &number) == 0) {
		arc_key(key, bytes, table_field(t, EARLIER_SPLICER), number, &at);
		ids_add(&e->arcs, key, KEY_FIELDS, NULL);
	}
	if (attempt > b->attempts)
		b->attempts = (uint32_t)attempt;
	if (stands != 0)
		return;
	b->stands = true;
	if (has_at && (!b->has_at || when_order(&b->at, &at) < 0)) {
		b->at = at;
		b->has_at = true;
	}
}

int
match_earlier_read(struct match_earlier *e, struct table *t, const struct planned *plan)
{
	*e = (struct match_earlier){ .arcs = IDS_NONE };
	e->before = mem_zeroed(plan->n + 1, sizeof *e->before); /* and one not planned */
	while (table_next(t))
		read_row(e, t, plan);
	return t->err != NULL && err_is_set(t->err) ? -1 : 0;
}

bool
match_earlier_has(
    struct match_earlier *e, struct field splicer, int64_t number, const struct when *at)
{
	struct field key[KEY_FIELDS];
	char bytes[KEY_BYTES];

	arc_key(key, bytes, splicer, number, at);
	return ids_find(&e->arcs, key, KEY_FIELDS) != SIZE_MAX;
}

void
match_earlier_free(struct match_earlier *e)
{
	free(e->before);
	ids_free(&e->arcs);
}
