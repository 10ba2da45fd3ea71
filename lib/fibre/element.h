/*
 * element: the elements of many links, held in memory and brought into the order they have along
 * each link.
 *
 *	struct elements e = ELEMENTS_NONE;
 *
 *	elements_add(&e, link, row);
 *	if (elements_arrange(&e, &err) == 0)
 *		for (size_t i = 0; i < e.n; i = elements_after(&e, i))
 *			use(elements_item(&e, i, 1550));
 *	elements_free(&e);
 *
 * Rows of the same link and seq are readings of one element at several wavelengths; a row without
 * seq is an element by itself. 56 bytes a row.
 */
#ifndef THRUM_FIBRE_ELEMENT_H
#define THRUM_FIBRE_ELEMENT_H

#include <stdint.h>

#include "base/err.h"
#include "fibre/budget.h"
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
	uint16_t ways;      /* 0: not known */
	uint8_t kind;       /* enum kind */
};

struct elements {
	struct ids links; /* in order of first appearance */
	struct element_row *v;
	size_t n, cap;
};

#define ELEMENTS_NONE                                                                              \
	{                                                                                          \
		IDS_NONE                                                                           \
	}

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

/* Adds the wavelengths at which the rows [first, end) have losses to w. 0, or -1 with err set. */
int elements_wavelengths(
    const struct elements *e, size_t first, size_t end, struct wavelengths *w, struct err *err);

/*
 * Puts the elements of the rows [first, end), a whole link, into *b, which is started anew, as
 * budget_add does. What is not known is named in words in `unknown`, which is emptied first: "seq 7:
 * other without loss; seq 9: ...". 0, or -1 with err set: the sums do not fit.
 */
int elements_budget(const struct elements *e, size_t first, size_t end,
    const struct allowances *allowances, double wavelength_nm, double k, struct budget *b,
    struct bytes *unknown, struct err *err);

void elements_free(struct elements *e);

#endif
