/*
 * map: what thrum-map(5) describes, read and checked, before any export is looked at.
 *
 *	struct map map;
 *
 *	if (map_read(&map, &table, false) == 0)
 *		export_begin(in, &map.dialect);
 *	map_free(&map);
 */
#ifndef THRUM_IMPORT_MAP_H
#define THRUM_IMPORT_MAP_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"
#include "base/err.h"
#include "base/mem.h"
#include "fibre/colour.h"
#include "import/date_form.h"
#include "import/decimal.h"
#include "import/export.h"
#include "import/unit.h"
#include "table/pattern.h"
#include "table/table.h"

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

enum map_holds {
	MAP_TEXT,
	MAP_NUMBER,
	MAP_WHOLE,
	MAP_DATE,
	MAP_NIGHT,
	MAP_WORD,
	MAP_FIBRE,
	MAP_COLOUR,
};

enum map_need { MAP_MAY, MAP_MUST, MAP_ABSENT };

/* a cell that a rule reads: the export's column, a position as "#3", or what another rule calls so */
struct map_source {
	struct field name; /* empty: of no column, the line as a whole */
	int side;          /* the rule `side` whose row is meant, or -1 */
	bool may_lack;
};

struct map_words {
	struct map_word {
		struct field from, to;
	} * v;
	size_t n, cap;
};

/* a rule `column` */
struct map_column {
	struct field name;
	struct field source; /* as the map has it, for messages */
	size_t from, nfrom;  /* of the map's sources */
	enum map_holds holds;
	enum map_need need;
	struct pattern *pattern;
	/* NULL: nothing to convert; only `to`: the unit is in the cell */
	const struct unit *unit, *to;
	const char *clock; /* "m:ss" and so on, or NULL */
	struct date_form form;
	struct date_style style; /* of dates; the zone is the column's own, if it has one */
	int64_t tube_size;
	struct colour_order *tubes, *fibres; /* NULL: numbers only */
	struct map_words words;
	struct field instead; /* the default; empty: none */
};

/* any other rule */
struct map_rule {
	uint64_t line;
	struct field name;
	struct field source; /* as the map has it */
	size_t from, nfrom;  /* of the map's sources; of `above` none */
	struct pattern *pattern;
	enum map_need need;     /* of `above` */
	bool carry, section;    /* which of two kinds that share a list */
	struct map_words words; /* of `words` */
};

/* the lists that these rules are in; what those of the first four are called must differ */
enum {
	MAP_ABOVE,
	MAP_BLOCK, /* `section` and `fill`, from the outermost block in */
	MAP_WIDE,
	MAP_SIDE,
	MAP_OTHER, /* `ignore` and `carry` */
	MAP_DROP,
	MAP_KEY,
	MAP_LIST, /* `words` */
	MAP_LISTS,
};

enum { MAP_SETTINGS = 17 };

struct map {
	const char *path;
	const char *given[MAP_SETTINGS]; /* see map_given */
	struct dialect dialect;
	struct decimal_style style;
	bool mend;               /* ragged rows */
	char bounds;             /* of "<0.01": 'r' refuse, 't' take, 'u' unknown */
	struct field unknown;    /* as the map has it, separated by ';' */
	bool unknown_first[256]; /* the bytes those words begin with */
	struct field months[DATE_MONTHS];
	struct date_zone zone;
	struct {
		struct map_column *v;
		size_t n, cap;
	} columns;
	struct map_rules {
		struct map_rule *v;
		size_t n, cap;
	} rules[MAP_LISTS];
	struct {
		struct map_source *v;
		size_t n, cap;
	} sources;
	struct {
		struct colour_order **v;
		size_t n, cap;
	} orders;
	size_t nwide; /* how many rows each rule `wide` makes of one; 1 without such a rule */
	struct region text;
};

/* What a map without any rule says. */
void map_begin(struct map *m);

/*
 * Reads the rows of t, which was opened with map_cols. With `dialect_only` other rules than `file` are
 * passed over, as for a draft; else at least one column is wanted. 0, or -1 with the table's err set;
 * map_free in any case.
 */
int map_read(struct map *m, struct table *t, bool dialect_only);

/* Cuts the next name off a `from`, at sep, " + " or " | "; loop while rest->p is not NULL. */
struct field map_next_source(struct field *rest, const char *sep);

/* The rule of a list that is called so, or -1. */
int map_find(const struct map_rules *rules, struct field name);

/* "#3", a position from 1, to *n; "#3-9", to *n and *last. false: it is neither. */
bool map_position(struct field name, uint64_t *n, uint64_t *last);

/* The value of a setting as the map has it, or NULL. */
const char *map_given(const struct map *m, const char *setting);

void map_free(struct map *m);

#endif
