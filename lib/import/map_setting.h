/*
 * map_setting: the rules `file` of a map, one setting each. For map.c alone, as is what both share.
 */
#ifndef THRUM_IMPORT_MAP_SETTING_H
#define THRUM_IMPORT_MAP_SETTING_H

#include "import/map.h"

/* a rule `words`: a list that columns name */
struct map_list {
	struct field name;
	struct map_words words;
};

/* the map being read */
struct map_reader {
	struct map *map;
	struct table *table;
	struct field at[MAP_COLS]; /* the present rule, empty what is not there */
	bool dialect_only;
	struct map_list *lists;
	size_t nlists, cap_lists;
};

/* Trouble with a column of the present rule. Returns -1. */
int map_bad(struct map_reader *r, int col, const char *what);

/* The place of a word among others, separated by blanks; or -1, with err set. */
int map_word(struct map_reader *r, int col, struct field f, const char *words);

/* A copy that lives as long as the map. */
struct field map_keep(struct map_reader *r, struct field f);

/* Reads the present rule as a setting. 0, or -1 with err set. */
int map_read_setting(struct map_reader *r);

#endif
