#include "import/map_setting.h"

#include <stdio.h>

#include "base/num.h"
#include "import/recode.h"

/* The value as the character it names. */
static int
set_delimiter(struct map_reader *r, struct field value)
{
	static const char names[] = "comma semicolon tab bar colon blank", bytes[] = ",;\t|: ";
	size_t i = field_among(field_of(names), ' ', value);
	char c = i != SIZE_MAX ? bytes[i] : value.n == 1 ? value.p[0] : '\0';

	if (c < ' ' ? c != '\t'
		    : c > '~' || num_is_digit(c) || (unsigned)((c | 0x20) - 'a') < 26 || c == '"' ||
			  c == '\'')
		return map_bad(r, MAP_FROM, "no delimiter");
	r->map->dialect.delimiter = c;
	return 0;
}

static int
set_encoding(struct map_reader *r, struct field value)
{
	const char *name = region_string(&r->map->text, value), *why;
	struct recode *test;

	r->map->dialect.encoding = name;
	if (recode_is_utf8(name))
		return 0;
	test = recode_open(name, &why);
	/* those of which the file's first bytes tell the byte order */
	if (test == NULL && strcmp(name, "UTF-16") != 0 && strcmp(name, "UTF-32") != 0)
		return map_bad(r, MAP_FROM, why);
	recode_close(test);
	return 0;
}

static int
set_months(struct map_reader *r, struct field value)
{
	if (!date_months_read(map_keep(r, value), r->map->months))
		return map_bad(r, MAP_FROM, "not twelve names with semicolons between them");
	return 0;
}

static int
set_zone(struct map_reader *r, struct field value)
{
	if (!date_zone_read(value, &r->map->zone))
		return map_bad(r, MAP_FROM, "no zone: write Z, +hh:mm or UTC+hh:mm");
	return 0;
}

/* ways to write a number below zero, besides a sign before it */
static int
set_minus(struct map_reader *r, struct field value)
{
	static const char names[] = "brackets behind apart";

	while (value.p != NULL) {
		struct field word = field_cut(&value, ';');
		size_t i = field_among(field_of(names), ' ', word);

		if (i == SIZE_MAX)
			return map_bad(
			    r, MAP_FROM, "none of: brackets behind apart, with semicolons");
		r->map->style.minus |= (unsigned char)(1u << i);
	}
	return 0;
}

/* what may be set, in alphabetical order: by a function, as one of `words` with the byte that stands for
   each, or as a number of lines or a text in the map */
static const struct setting {
	const char *name;
	int (*set)(struct map_reader *r, struct field value);
	const char *words, *bytes; /* of the words, the bytes kept in the char at `at` */
	enum { BY_WORD, COUNT, TEXT } kind;
	size_t at; /* in struct map */
} settings[] = {
	{ "bounds", NULL, "refuse take unknown", "rtu", BY_WORD, offsetof(struct map, bounds) },
	{ "comment", NULL, NULL, NULL, TEXT, offsetof(struct map, dialect.comment) },
	{ "decimal", NULL, "point comma", ".,", BY_WORD, offsetof(struct map, style.point) },
	{ "delimiter", set_delimiter },
	{ "encoding", set_encoding },
	{ "grouping", NULL, "none point comma blank apostrophe", "\0., '", BY_WORD,
	    offsetof(struct map, style.grouping) },
	{ "header", NULL, "no yes", "\0\1", BY_WORD, offsetof(struct map, dialect.header) },
	{ "layout", NULL, "cells fixed labels json", "cflj", BY_WORD,
	    offsetof(struct map, dialect.layout) },
	{ "minus", set_minus },
	{ "months", set_months },
	{ "quote", NULL, "double single none", "\"'", BY_WORD,
	    offsetof(struct map, dialect.quote) },
	{ "ragged", NULL, "refuse mend", "\0\1", BY_WORD, offsetof(struct map, mend) },
	{ "skip", NULL, NULL, NULL, COUNT, offsetof(struct map, dialect.skip) },
	{ "skip_below", NULL, NULL, NULL, COUNT, offsetof(struct map, dialect.skip_below) },
	{ "trim", NULL, "no yes", "\0\1", BY_WORD, offsetof(struct map, dialect.trim) },
	{ "unknown", NULL, NULL, NULL, TEXT, offsetof(struct map, unknown) },
	{ "zone", set_zone },
};

enum { SETTINGS = sizeof settings / sizeof settings[0] };

static int
set(struct map_reader *r, const struct setting *s, struct field value)
{
	char *at = (char *)r->map + s->at;
	int64_t n;
	int i;

	if (s->set != NULL)
		return s->set(r, value);
	switch (s->kind) {
	case TEXT:
		*(struct field *)(void *)at = map_keep(r, value);
		return 0;
	case COUNT:
		if (num_whole(value, &n) != 0 || n < 0)
			return map_bad(r, MAP_FROM, "no number of lines");
		*(uint64_t *)(void *)at = (uint64_t)n;
		return 0;
	case BY_WORD:
		break;
	}
	i = map_word(r, MAP_FROM, value, s->words);
	if (i >= 0)
		*at = s->bytes[i];
	return i < 0 ? -1 : 0;
}

bool
map_given(const struct map *m, const char *setting)
{
	for (size_t i = 0; i < SETTINGS; i++)
		if (strcmp(settings[i].name, setting) == 0)
			return m->given & 1u << i;
	return false;
}

int
map_read_setting(struct map_reader *r)
{
	static const char names[] =
	    "bounds comment decimal delimiter encoding grouping header layout "
	    "minus months quote ragged skip skip_below trim unknown zone";
	int i = map_word(r, MAP_NAME, r->at[MAP_NAME], names);

	if (i < 0)
		return -1;
	if (r->map->given & 1u << i)
		return map_bad(r, MAP_NAME, "setting given twice");
	r->map->given |= 1u << i;
	if (r->at[MAP_FROM].n == 0)
		return reader_fail(r->table->reader, &r->table->row, "from",
		    "setting without a value", (struct field){ NULL, 0 });
	return set(r, &settings[i], r->at[MAP_FROM]);
}
