#include "route/found.h"

#include <stdlib.h>

enum { FINDING, FILE_NAME, LINE, JOINT, LINK, SITE, KM, RULE, LEVEL, FOUND, WANTED, SAYS, BECAUSE };

const struct col found_cols[] = {
	[FINDING] = { "finding", COL_OUT, COL_WHOLE },
	[FILE_NAME] = { "file", COL_OUT, COL_TEXT },
	[LINE] = { "line", COL_OUT, COL_WHOLE },
	[JOINT] = { "joint", COL_OUT, COL_TEXT },
	[LINK] = { "link", COL_OUT, COL_TEXT },
	[SITE] = { "site", COL_OUT, COL_TEXT },
	[KM] = { "km", COL_OUT, COL_DB, .places = 6 },
	[RULE] = { "rule", COL_OUT, COL_TEXT },
	[LEVEL] = { "level", COL_OUT, COL_TEXT },
	[FOUND] = { "found", COL_OUT, COL_TEXT },
	[WANTED] = { "wanted", COL_OUT, COL_TEXT },
	[SAYS] = { "says", COL_OUT, COL_TEXT },
	[BECAUSE] = { "because", COL_OUT, COL_WHOLE },
	{ NULL },
};

static const char *const rules[] = {
	[RULE_OPEN_END] = "open-end",
	[RULE_LOOP] = "loop",
	[RULE_END_TWICE] = "end-twice",
	[RULE_NOT_REACHED] = "not-reached",
	[RULE_IN_DOUBT] = "in-doubt",
	[RULE_SECTION_MISSING] = "section-missing",
	[RULE_PORT_DOUBLE] = "port-double",
	[RULE_LINKS_EXCHANGED] = "links-exchanged",
	[RULE_LEGS_EXCHANGED] = "legs-exchanged",
	[RULE_PAIR_EXCHANGED] = "pair-exchanged",
	[RULE_RIBBON_TURNED] = "ribbon-turned",
	[RULE_POLISH] = "polish",
	[RULE_JOINT_FAILED] = "joint-failed",
	[RULE_CROSSED] = "crossed",
	[RULE_APART] = "apart",
	[RULE_NO_LINK] = "no-link",
};

uint32_t
found_add(struct found *f, const struct found_row *row)
{
	f->v = mem_grow(f->v, &f->cap, f->n + 1, sizeof *f->v);
	f->v[f->n] = *row;
	if (row->because != FOUND_NONE)
		f->v[f->n].because = found_cause(f, row->because);
	if (row->rule == RULE_NO_LINK)
		f->warnings++;
	else
		f->errors++;
	return (uint32_t)f->n++;
}

struct field
found_text(struct found *f, const char *fmt, ...)
{
	struct bytes b = { NULL, 0, 0 };
	struct field kept;
	va_list args;

	va_start(args, fmt);
	bytes_add_formatted(&b, fmt, args);
	va_end(args);
	kept = region_keep(&f->texts, bytes_field(&b));
	bytes_free(&b);
	return kept;
}

static uint64_t
key_of(enum found_on on, uint32_t id)
{
	return (uint64_t)on << 32 | id;
}

void
found_mark(struct found *f, enum found_on on, uint32_t id, uint32_t finding)
{
	if (finding != FOUND_NONE)
		pairs_put(&f->at, key_of(on, id), finding);
}

uint32_t
found_at(const struct found *f, enum found_on on, uint32_t id)
{
	return pairs_get(&f->at, key_of(on, id));
}

uint32_t
found_cause(const struct found *f, uint32_t finding)
{
	return f->v[finding].because != FOUND_NONE ? f->v[finding].because : finding;
}

static struct field
name(const struct ids *ids, uint32_t id)
{
	return id == FOUND_NONE ? field_of("") : ids_key(ids, id);
}

void
found_write(const struct found *f, const struct ids *sites, const struct ids *joints,
    const struct ids *links, struct sheet *out)
{
	struct bytes clean = { NULL, 0, 0 };

	for (size_t i = 0; i < f->n; i++) {
		const struct found_row *x = &f->v[i];

		put_whole(out, FINDING, (int64_t)i + 1);
		if (x->file != NULL) {
			clean.n = 0;
			bytes_add_clean(&clean, field_of(x->file));
			put_text(out, FILE_NAME, bytes_field(&clean));
			put_whole(out, LINE, x->line);
		}
		put_text(out, JOINT, name(joints, x->joint));
		put_text(out, LINK, name(links, x->link));
		put_text(out, SITE, name(sites, x->site));
		put_db(out, KM, x->at_ukm);
		put_text(out, RULE, field_of(rules[x->rule]));
		put_text(out, LEVEL, field_of(x->rule == RULE_NO_LINK ? "warning" : "error"));
		put_text(out, FOUND, x->found);
		put_text(out, WANTED, x->wanted);
		clean.n = 0;
		bytes_add_text(&clean, x->says);
		if (x->live)
			bytes_add_text(&clean, "; the link is live");
		put_text(out, SAYS, bytes_field(&clean));
		if (x->because != FOUND_NONE)
			put_whole(out, BECAUSE, (int64_t)x->because + 1);
		sheet_row(out);
	}
	bytes_free(&clean);
}

void
found_free(struct found *f)
{
	free(f->v);
	region_free(&f->texts);
	pairs_free(&f->at);
	*f = (struct found){ .n = 0 };
}
