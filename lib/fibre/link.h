/*
 * link: what a links table says of a link, and what it must keep to.
 *
 *	struct link_limits l = { .limits = { ... what holds where the table says nothing ... } };
 *
 *	if (links_check(&table, &applications) == 0) {
 *		links_limits(&table, field_of("L-07"), 1310, &l);
 *		use(l.limits.max_udb);
 *	}
 */
#ifndef THRUM_FIBRE_LINK_H
#define THRUM_FIBRE_LINK_H

#include "fibre/application.h"
#include "fibre/budget.h"
#include "table/hold.h"

/* the columns and the key (of many rows) of a table of links, which is held */
extern const struct col link_cols[];
extern const int link_key[];

struct link_limits {
	struct field application; /* empty: none */
	struct budget_limits limits;
	bool one_way;  /* a test in one direction is enough */
	bool must_orl; /* the link's own row limits the return loss */
};

/*
 * Looks at every row of such a table. 0, or -1 with its err set: a row without link, two rows of one
 * link and wavelength, an application that is not among the applications.
 */
int links_check(struct table *t, const struct applications *applications);

/* The name of the link in row i. */
struct field links_name(struct table *t, size_t i);

/* The link's two ends, empty where the table does not say. */
void links_sites(struct table *t, struct field name, struct field sites[2]);

/*
 * Puts what the table knows of this link over what is in *l: its row without wavelength, then its row
 * of exactly this wavelength. wavelength_nm 0: the former alone. The texts live as long as the table.
 */
void links_limits(struct table *t, struct field name, double wavelength_nm, struct link_limits *l);

/*
 * Adds the wavelengths of the link's rows, and of the applications they name, to w; of none, those of
 * `application`. 0, or -1 with err set.
 */
int links_wavelengths(struct table *t, struct field name, const struct applications *applications,
    struct field application, struct wavelengths *w, struct err *err);

#endif
