/*
 * element: the elements of many links, held in memory and brought into the order they have along
 * each link.
 *
 *	struct elements e = ELEMENTS_NONE;
 *
 *	while (table_next(&t))
 *		elements_read(&e, &t);
 *	if (elements_arrange(&e, &err) == 0)
 *		for (size_t i = 0; i < e.n; i = elements_after(&e, i))
 *			use(elements_item(&e, i, 1550));
 *	elements_free(&e);
 *
 * Rows of the same link and seq are readings of one element at several wavelengths; a row without
 * seq is an element by itself. 64 bytes a row, and 24 more in a table that has columns of dispersion or
 * reflectance; 48 a link in one with a column made_at.
 */
#ifndef THRUM_FIBRE_ELEMENT_H
#define THRUM_FIBRE_ELEMENT_H

#include <stdint.h>

#include "base/err.h"
#include "base/when.h"
#include "fibre/budget.h"
#include "fibre/signal.h"
#include "fibre/wavelengths.h"
#include "table/ids.h"

#define ELEMENT_NO_SEQ INT64_MAX

struct element_row {
	int64_t seq;          /* its place along the link; ELEMENT_NO_SEQ: not known */
	int64_t loss_udb;     /* DB_NONE: not known */
	int64_t length_ukm;   /* DB_NONE: not known */
	double wavelength_nm; /* of the loss; 0: holds at every wavelength */
	double sd_db;
	uint32_t count;
	uint32_t link, row; /* elements_add sets these: number in `links`, order of appearance */
	uint32_t what;      /* number in `whats` */
	uint16_t ways;      /* 0: not known */
	uint8_t kind;       /* enum kind */
};

struct elements {
	struct ids links; /* in order of first appearance */
	struct ids whats; /* category, allowance and, of an open end, site, joined by TAB */
	struct element_row *v;
	size_t n, cap;
	struct signal_part *parts; /* by element_row.row; NULL: nothing of it is known */
	size_t cap_parts;
	struct elements_made {
		struct when at[2]; /* made last, of times without and of times with a zone */
		bool known[2];
	} * made; /* by link; NULL: nothing is known of any */
	size_t cap_made, nmade;
};

#define ELEMENTS_NONE                                                                              \
	{                                                                                          \
		.links = IDS_NONE, .whats = IDS_NONE                                               \
	}

/* the columns of a table of elements */
extern const struct col element_cols[];

/* Adds the present row of such a table; at trouble, of which its err tells, nothing. */
void elements_read(struct elements *e, struct table *t);

/* Adds a row of an element without category and allowance. */
void elements_add(struct elements *e, struct field link, struct element_row row);

/*
 * Sorts by link and seq; rows without seq stand behind those with, in the order they came. 0, or -1
 * with err set: two rows of one link, seq and wavelength, or rows of one element that contradict each
 * other. Then the functions below can be used.
 */
int elements_arrange(struct elements *e, struct err *err);

/* The first row of the next element (which may be another link's), for the first row of one. */
size_t elements_after(const struct elements *e, size_t first);

/*
 * The element whose first row that is, at this wavelength: with the loss read at just this wavelength,
 * else the one that holds at every wavelength, else none. wavelength_nm 0: only the latter.
 */
struct budget_item elements_item(const struct elements *e, size_t first, double wavelength_nm);

/* The end of the rows of the link whose first row that is. */
size_t elements_after_link(const struct elements *e, size_t first);

/* The joint of the link with this number that was surely made after `at`, as late as any; NULL: none. */
const struct when *
elements_made_after(const struct elements *e, uint32_t link, const struct when *at);

/* Adds the wavelengths at which the rows [first, end) have losses to w. 0, or -1 with err set. */
int elements_wavelengths(
    const struct elements *e, size_t first, size_t end, struct wavelengths *w, struct err *err);

/* what all elements of a link come to */
struct elements_sum {
	struct budget budget;
	struct signal
	    signal; /* its reflections mean nothing if something of the budget is not known */
	struct field
	    other_category; /* of a fibre that is of none of the categories wanted; else empty */
};

/*
 * Puts the elements of the rows [first, end), a whole link, into *sum, which is started anew, as
 * budget_add does. A fibre that states no category is taken to be of the first of
 * `categories`, separated by commas. What is not known is
 * named in words in `unknown`, which is emptied first: "seq 7: other without loss; seq 9: ...". 0, or
 * -1 with err set: the sums do not fit.
 */
int elements_sum(const struct elements *e, size_t first, size_t end,
    const struct allowances *allowances, struct field categories, double wavelength_nm, double k,
    struct elements_sum *sum, struct bytes *unknown, struct err *err);

void elements_free(struct elements *e);

#endif
