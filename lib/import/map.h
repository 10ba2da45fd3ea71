/*
 * map: what thrum-map(5) describes, read and checked, before any export is looked at.
 *
 *	struct map map;
 *
 *	if (map_read(&map, path, &err) == 0)
 *		export_begin(in, &map.dialect);
 *	map_free(&map);
 */
#ifndef THRUM_IMPORT_MAP_H
#define THRUM_IMPORT_MAP_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "import/decimal.h"
#include "base/err.h"
#include "import/date_form.h"
#include "base/mem.h"
#include "import/unit.h"
#include "table/pattern.h"
#include "table/table.h"
#include "import/export.h"

/* the columns of a map */
enum {
	MAP_RULE,
	MAP_NAME,
	MAP_FROM,
	MAP_PATTERN,
	MAP_HOLDS,
	MAP_UNIT,
	MAP_FORM,
	MAP_WORDS,
	MAP_DEFAULT,
	MAP_NEED,
	MAP_NOTE,
	MAP_COLS,
};

extern const struct col map_cols[];

enum map_holds { MAP_TEXT, MAP_NUMBER, MAP_WHOLE, MAP_DATE, MAP_WORD, MAP_FIBRE };

enum map_need { MAP_MAY, MAP_MUST, MAP_ABSENT };

struct map_word {
	struct field from, to;
};

/* a rule `column` */
struct map_column {
	uint64_t line; /* of the rule in the map */
	struct field name;
	struct field source; /* as the map has it, for messages */
	struct field *from;  /* names, or positions as "#3" */
	size_t nfrom;
	enum map_holds holds;
	enum map_need need;
	struct pattern *pattern;
	const struct unit *unit,
	    *to; /* NULL: nothing to convert; only `to`: the unit is in the cell */
	struct date_form form;
	struct date_zone zone;
	int64_t tube_size;
	struct map_word *words;
	size_t nwords;
	struct field instead; /* the default; empty: none */
};

/* a rule `ignore` or `carry` */
struct map_other {
	uint64_t line;
	struct field from;   /* "*": all the others */
	struct field prefix; /* of `carry` */
	bool carry;
};

/* a rule `drop` */
struct map_drop {
	uint64_t line;
	struct field from; /* empty: the whole line */
	struct pattern *pattern;
};

struct map {
	const char *path;
	struct dialect dialect;
	struct decimal_style style;
	bool mend;            /* ragged rows */
	struct field unknown; /* as the map has it, separated by ';' */
	struct field months[DATE_MONTHS];
	struct date_zone zone;
	struct map_column *columns;
	size_t ncolumns, cap_columns;
	struct map_other *others;
	size_t nothers, cap_others;
	struct map_drop *drops;
	size_t ndrops, cap_drops;
	struct region text;
};

/* What a map without any rule says. */
void map_begin(struct map *m);

/*
 * Reads the map at path. With `dialect_only` other rules than `file` are passed over, as for a
 * draft; else at least one column is wanted. 0, or -1 with err set; map_free in any case.
 */
int map_read(struct map *m, const char *path, bool dialect_only, struct err *err);

/* The same from memory. */
int map_read_text(struct map *m, const char *name, struct field text, struct err *err);

/* Cuts the next name off a column's `from`, at " + "; loop while rest->p is not NULL. */
struct field map_next_source(struct field *rest);

void map_free(struct map *m);

#endif
