#include "table/summary.h"

#include <stdlib.h>

struct summary_rule {
	uint64_t count;
};

void
summary_add(struct summary *s, const struct finding *one)
{
	struct field rule = field_of(one->rule);
	bool fresh;
	size_t id = ids_add(&s->rules, &rule, 1, &fresh);

	s->v = mem_grow(s->v, &s->cap, id + 1, sizeof *s->v);
	if (fresh) {
		s->v[id].count = 0;
		findings_hold(&s->first, one, 0, 0);
	}
	s->v[id].count++;
}

static void
put_clean(struct writer *out, struct bytes *room, struct field f)
{
	room->n = 0;
	bytes_add_clean(room, f);
	writer_field(out, bytes_field(room));
}

void
summary_write(const struct summary *s, struct writer *out)
{
	static const char *const columns[] = { "rule", "level", "count", "file", "line", "column",
		"joint" };
	struct bytes room = { NULL, 0, 0 };

	for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++)
		writer_text(out, columns[i]);
	writer_end_row(out);
	for (size_t i = 0; i < s->rules.n; i++) {
		const struct finding *first = &s->first.v[i].is;

		writer_text(out, first->rule);
		writer_text(out, first->error ? "error" : "warning");
		writer_whole(out, (int64_t)s->v[i].count);
		put_clean(out, &room, field_of(first->file != NULL ? first->file : ""));
		writer_whole(out, (int64_t)first->line);
		put_clean(out, &room, first->column);
		put_clean(out, &room, first->joint);
		writer_end_row(out);
	}
	bytes_free(&room);
}

void
summary_free(struct summary *s)
{
	free(s->v);
	ids_free(&s->rules);
	findings_held_free(&s->first);
}
