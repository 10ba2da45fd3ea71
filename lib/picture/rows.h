/*
 * rows: what a picture (page/plot.h) is drawn from: rows of joints, of sums or of elements, and the tables
 * beside them.
 *
 *	struct picture r = PICTURE_NONE;
 *
 *	r.rows = &joints;	and the tables there are beside it, limits, plan
 *	if (picture_ready(&r) == 0)
 *		while (table_next(&joints))
 *			picture_joint(&r);
 *	picture_planned(&r);
 *	plot_closure(&plot, r.joints, r.n);
 *	picture_free(&r);
 *
 * A field of a wrong form is trouble of its table.
 */
#ifndef THRUM_PICTURE_ROWS_H
#define THRUM_PICTURE_ROWS_H

#include "fibre/allowance.h"
#include "fibre/budget.h"
#include "fibre/limit.h"
#include "fibre/night.h"
#include "page/plot.h"

/* the columns that are read of the rows, whatever the kind; which of them are needed is the caller's */
enum {
	ROW_JOINT,
	ROW_ATTEMPT,
	ROW_STANDS,
	ROW_CLOSURE,
	ROW_TRAY,
	ROW_SLOT,
	ROW_CABLE_A,
	ROW_CABLE_B,
	ROW_FIBRE_A,
	ROW_FIBRE_B,
	ROW_TUBE_A,
	ROW_TUBE_B,
	ROW_COLOUR_A,
	ROW_COLOUR_B,
	ROW_KIND,
	ROW_RIBBON_A,
	ROW_ACCEPT,
	ROW_TENSION,
	ROW_PROTECTOR,
	ROW_SHIFT,
	ROW_MADE_AT,
	ROW_LOSS_NM,
	ROW_WAVELENGTH,
	ROW_LOSS_AB,
	ROW_LOSS_BA,
	ROW_LOSS,
	ROW_EST,
	ROW_LOSS_WITH,
	ROW_LIMIT,
	ROW_JOINTS,
	ROW_MEAN,
	ROW_MAX,
	ROW_WORST,
	ROW_FIRST_AT,
	ROW_LINK,
	ROW_SEQ,
	ROW_KM,
	ROW_WAYS,
	ROW_REF,
	ROW_SITE,
	ROW_COUNT,
	ROW_LENGTH,
	ROW_CATEGORY,
	ROW_ALLOWANCE
};
extern const struct col picture_cols[];

/* the columns and keys of findings and of budgets, which are held */
extern const struct col picture_fault_cols[], picture_budget_cols[];
extern const int picture_fault_key[], picture_budget_key[];

/* a joint that was made, but read at other wavelengths than asked, is not known; and nobody asked for others */
enum picture_made { MADE_NOT, MADE_SHOWN, MADE_NOT_READ, MADE_NOT_ASKED };

struct picture {
	struct table *rows, *plan_rows, *faults, *budgets; /* but for rows they may have no rows */
	struct opt_pairs only; /* COLUMN=VALUE[,VALUE], all of which must hold */
	enum joint_basis accept;
	struct limits limits;
	struct plan plan; /* of plan_rows */
	struct allowances allowances;

	struct plot_joint *joints; /* what was read */
	size_t n;
	double nm;     /* of the losses that are drawn: the first that was seen; 0: not known */
	bool other_nm; /* there are others */
	bool fits;     /* some row has what `only` asks for */

	/* the rest is for joints.c and elements.c */
	struct night night;
	struct region texts;
	size_t cap, nameless;
	uint8_t *made; /* for each row of the plan, what its joint is: enum picture_made */
	struct plot_link link;
	struct ids seqs;
	struct picture_part *parts; /* by their numbers in seqs */
	size_t cap_parts, nrows;
};

#define PICTURE_NONE                                                                               \
	{                                                                                          \
		.night = NIGHT_NONE, .seqs = IDS_NONE                                              \
	}

/* To be called before the first row. 0, or -1 with err set: `only` names a column that no table has. */
int picture_ready(struct picture *r);

/*
 * true if the present row of t has what `only` asks for, in the columns that t has. any_nm: whatever the
 * wavelength of its loss.
 */
bool picture_asked(struct picture *r, const struct table *t, bool any_nm);

/* The present row's field, kept as long as r. */
struct field picture_keep(struct picture *r, int col);

/* Reads the present row as a joint, or as sums of a night or closure. */
void picture_joint(struct picture *r);
void picture_sums(struct picture *r);

/* Adds what is planned and not made, and fibres that are put away in a slot; after the last joint. */
void picture_planned(struct picture *r);

/* Reads the present row as an element of a link; then, after the last, draws the link. */
void picture_element(struct picture *r);
void picture_link(struct picture *r, struct plot *plot);

void picture_free(struct picture *r);

#endif
