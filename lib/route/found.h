/*
 * found: what is wrong with a network, each finding with its cause, as rows of the faults table
 * (thrum-tables(5)). Findings are numbered from 1 as they are added; a cause is added before what
 * follows from it.
 *
 *	uint32_t cause = found_add(&f, &(struct found_row){ .rule = RULE_OPEN_END, ... });
 *
 *	found_mark(&f, FOUND_END, end, cause);
 *	...
 *	because = found_at(&f, FOUND_END, end);
 *	found_write(&f, ..., &sheet);
 */
#ifndef THRUM_ROUTE_FOUND_H
#define THRUM_ROUTE_FOUND_H

#include <stdbool.h>

#include "base/db.h"
#include "base/mem.h"
#include "route/pairs.h"
#include "table/ids.h"
#include "table/sheet.h"

enum found_rule {
	RULE_OPEN_END,
	RULE_LOOP,
	RULE_END_TWICE,
	RULE_NOT_REACHED,
	RULE_IN_DOUBT,
	RULE_SECTION_MISSING,
	RULE_PORT_DOUBLE,
	RULE_LINKS_EXCHANGED,
	RULE_LEGS_EXCHANGED,
	RULE_PAIR_EXCHANGED,
	RULE_RIBBON_TURNED,
	RULE_POLISH,
	RULE_JOINT_FAILED,
	RULE_CROSSED,
	RULE_APART,
	RULE_NO_LINK,
};

#define FOUND_NONE PAIRS_NONE

struct found_row {
	enum found_rule rule;
	uint32_t joint, link, site; /* names, FOUND_NONE: not known */
	uint32_t because;           /* the cause, or FOUND_NONE */
	bool live;                  /* on a link that is live */
	bool away;                  /* nothing that is in the way of light */
	int64_t at_ukm;             /* from port a of the link, or DB_NONE */
	const char *file;           /* NULL: none */
	uint32_t line;
	struct field found, wanted; /* kept as they are: see found_text */
	const char *says;           /* a constant string */
};

struct found {
	struct found_row *v;
	size_t n, cap;
	uint64_t errors, warnings;
	struct region texts;
	struct pairs at;
};

/* Adds one; its number less 1. */
uint32_t found_add(struct found *f, const struct found_row *row);

/* A text for `found` or `wanted`, which lives as long as f. */
struct field
found_text(struct found *f, const char *fmt, ...) __attribute__((format(printf, 2, 3)));

/* what a finding can lie on */
enum found_on { FOUND_END, FOUND_JOINT, FOUND_CABLE, FOUND_PORT };

/* Says that the finding lies on this; of several the first counts. FOUND_NONE: nothing is said. */
void found_mark(struct found *f, enum found_on on, uint32_t id, uint32_t finding);

/* The finding that lies on this, or FOUND_NONE. */
uint32_t found_at(const struct found *f, enum found_on on, uint32_t id);

/* The cause of a finding: what it follows from, or itself. */
uint32_t found_cause(const struct found *f, uint32_t finding);

extern const struct col found_cols[];

/* Writes all of them. sites, joints and links have the names. */
void found_write(const struct found *f, const struct ids *sites, const struct ids *joints,
    const struct ids *links, struct sheet *out);

void found_free(struct found *f);

#endif
