/*
 * schedule: rows of fibres to be joined alike, expanded into the rows of a plan, one a fibre, and what
 * contradicts itself in them as findings.
 *
 *	struct schedule s = { .rows = &rows, .spans = &spans, .sites = &sites, ... };
 *
 *	while (table_next(&rows) && schedule_row(&s))
 *		while (schedule_fibre(&s))
 *			use(schedule_cell(&s, SCHEDULE_FIBRE_A));
 *	schedule_free(&s);
 *
 * Rules of the findings: unequal, side-b, fibre-beyond, fibre-twice, express-joined, joint-twice,
 * joint-name, slot-twice, tray-full, closure-full, ribbon-split, cable-unknown, site-unknown, not-met,
 * toward-missing, colour-unknown.
 *
 * Memory: about 300 bytes a fibre, for what is used already; more than SCHEDULE_MOST fibres are trouble.
 */
#ifndef THRUM_FIBRE_SCHEDULE_H
#define THRUM_FIBRE_SCHEDULE_H

#include "fibre/allowance.h"
#include "fibre/cable.h"
#include "fibre/category.h"
#include "fibre/numbers.h"
#include "table/findings.h"

/* the columns of a plan, in the order in which they are written */
enum {
	SCHEDULE_JOINT,
	SCHEDULE_CLOSURE,
	SCHEDULE_TRAY,
	SCHEDULE_SLOT,
	SCHEDULE_CABLE_A,
	SCHEDULE_FIBRE_A,
	SCHEDULE_TOWARD_A,
	SCHEDULE_SECTION_A,
	SCHEDULE_CABLE_B,
	SCHEDULE_FIBRE_B,
	SCHEDULE_TOWARD_B,
	SCHEDULE_SECTION_B,
	SCHEDULE_STATE,
	SCHEDULE_KIND,
	SCHEDULE_POLISH_A,
	SCHEDULE_POLISH_B,
	SCHEDULE_TUBE_A,
	SCHEDULE_COLOUR_A,
	SCHEDULE_TUBE_B,
	SCHEDULE_COLOUR_B,
	SCHEDULE_RIBBON_A,
	SCHEDULE_RIBBON_B,
	SCHEDULE_POSITION,
	SCHEDULE_EXPECTED,
	SCHEDULE_LIMIT,
	SCHEDULE_COLUMNS
};

extern const struct col plan_out_cols[];      /* for one that is written */
extern const struct col plan_was_cols[];      /* for one that is read */
extern const struct col schedule_cols[];      /* of a schedule */
extern const struct col schedule_site_cols[]; /* of a table of sites, which is held */
extern const int schedule_site_key[];

enum { SCHEDULE_MOST = 10000000 }; /* fibres in one run */

struct schedule {
	/* set by the caller; a table that is all zero was not named */
	struct table *rows, *spans, *sites, *categories;
	const struct allowances *allowances;
	struct cables *cables;
	double wavelength_nm; /* of expected_db */
	struct findings *found;

	/* the rest is for schedule.c alone */
	struct bytes cell[SCHEDULE_COLUMNS], says, shown;
	struct schedule_side {
		const struct cable *cable;
		struct numbers fibres;
		size_t section; /* its row of spans; SIZE_MAX: not known */
		struct field name, toward;
	} side[2];
	struct field closure, first_joint;
	int state;
	int64_t tray, slot, slots, trays, ribbon; /* slots a tray; 0: not known, no ribbons */
	bool tray_counts;                         /* the tray is a number */
	bool full;                                /* tray-full or closure-full was said */
	size_t i, n;                              /* the present fibre of the row, of how many */
	size_t fibres;                            /* of all rows so far */
	struct schedule_used {
		struct ids ids;
		struct schedule_place {
			const char *file;
			uint64_t line;
		} * v;
		size_t cap;
	} ends, joined, express, slots_used, joints;
};

/* Whether a plan made of this schedule has the column: what nothing is known about is left out. */
bool schedule_makes(const struct schedule *s, int plan_column);

/* Reads the present row of the schedule. false: trouble, its table's err is set. */
bool schedule_row(struct schedule *s);

/* Moves on to the next fibre of that row. false: there are no more, or trouble. */
bool schedule_fibre(struct schedule *s);

/* A field of the plan's row for the present fibre; lives until the next one. */
struct field schedule_cell(const struct schedule *s, int plan_column);

void schedule_free(struct schedule *s);

#endif
