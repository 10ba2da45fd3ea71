#include "fibre/latest.h"

#include <stdlib.h>

#include "base/mem.h"
#include "base/when.h"

int
latest_open(struct latest *l, struct table *t, int joint, int stands, int made_at)
{
	const int need[] = { joint, stands };

	for (int i = 0; i < 2; i++)
		if (!table_has(t, need[i]))
			return reader_need(t->reader, field_of(t->cols[need[i]].name));
	l->joint = (size_t)t->at[joint];
	l->stands = (size_t)t->at[stands];
	l->made_at = table_has(t, made_at) ? (size_t)t->at[made_at] : SIZE_MAX;
	return 0;
}

static int
does_stand(const struct latest *l, struct field row, struct err *err)
{
	struct field stands = pick_field(row, l->stands), joint = pick_field(row, l->joint);
	char shown[ERR_SHOWN], whose[ERR_SHOWN];

	if (field_is(stands, "yes"))
		return 1;
	if (stands.n == 0 || field_is(stands, "no"))
		return 0;
	return err_set(err, "joint '%s': column 'stands': neither yes nor no: '%s'",
	    err_show(whose, joint.p, joint.n), err_show(shown, stands.p, stands.n));
}

int
latest_add(struct latest *l, struct field row, struct err *err)
{
	struct field joint = pick_field(row, l->joint);
	int stands = does_stand(l, row, err);
	struct latest_row *kept;
	struct when when;
	int64_t made = INT64_MIN;
	bool fresh;
	size_t i;

	if (stands <= 0)
		return stands;
	if (l->made_at != SIZE_MAX && when_parse(pick_field(row, l->made_at), &when) == 0)
		made = when.seconds;
	i = ids_add(&l->joints, &joint, 1, &fresh);
	l->rows = mem_grow(l->rows, &l->cap, i + 1, sizeof *l->rows);
	kept = &l->rows[i];
	if (fresh)
		*kept = (struct latest_row){ .made = INT64_MIN };
	l->older += made != INT64_MIN && made < kept->made;
	kept->made = made;
	kept->p = mem_grow(kept->p, &kept->cap, row.n + 1, 1);
	memcpy(kept->p, row.p, row.n);
	kept->p[row.n] = '\n';
	kept->n = row.n + 1;
	return 0;
}

void
latest_write(const struct latest *l, const struct pick *pick, struct writer *out)
{
	for (size_t i = 0; i < l->joints.n; i++)
		if (pick_meets(pick, (struct field){ l->rows[i].p, l->rows[i].n - 1 }))
			writer_bytes(out, l->rows[i].p, l->rows[i].n);
}

void
latest_free(struct latest *l)
{
	for (size_t i = 0; i < l->joints.n; i++)
		free(l->rows[i].p);
	free(l->rows);
	ids_free(&l->joints);
}
