/*
 * application: what a transmission system asks of a link.
 *
 *	struct applications applications;
 *	const struct application *a;
 *
 *	if (applications_load(&applications, &table) == 0) {
 *		a = application_find(&applications, field_of("10GBASE-LR"), 1310);
 *		if (a != NULL && a->max_udb != DB_NONE)
 *			use(a->max_udb);
 *	}
 *	application_free(&applications);
 */
#ifndef THRUM_FIBRE_APPLICATION_H
#define THRUM_FIBRE_APPLICATION_H

#include <stdbool.h>
#include <stdint.h>

#include "base/mem.h"
#include "fibre/wavelengths.h"
#include "table/table.h"

extern const struct blob applications_tsv;

/* each DB_NONE: not limited, or not known */
struct application {
	struct field name; /* lives as long as the applications */
	struct field
	    category;         /* of the fibre its limits are for, separated by commas; empty: any */
	double wavelength_nm; /* 0: at every wavelength */
	int64_t min_udb, max_udb; /* loss of the link */
	int64_t max_ukm;          /* its reach */
	int64_t launch_max_udbm, receive_max_udbm;
	int64_t min_orl_udb; /* return loss of the link */
	int64_t max_cd_ups;  /* dispersion, +-, 10^-6 ps/nm */
	int64_t max_pmd_ups; /* 10^-6 ps */
};

struct applications {
	struct application *v; /* in the table's order */
	size_t n, cap;
	struct region text;
};

/* the columns of a table of applications; applications_tsv is the built-in one */
extern const struct col application_cols[];

/*
 * Reads the rows of t, which was opened with application_cols. 0, or -1 with the table's err set: a
 * field that is not what it must be, no name, two rows for the same thing. application_free in any case.
 */
int applications_load(struct applications *a, struct table *t);

/* true if there is any row of this name */
bool application_known(const struct applications *a, struct field name);

enum { APPLICATION_SAYS = ERR_SHOWN + 40 };

/* What to say of a name that application_known does not know: "no such application: is it X?" */
const char *
application_unknown(const struct applications *a, struct field name, char says[APPLICATION_SAYS]);

/*
 * The row of this name at exactly this wavelength, else its row for every wavelength, else NULL.
 * wavelength_nm 0: only that for every wavelength.
 */
const struct application *
application_find(const struct applications *a, struct field name, double wavelength_nm);

/* Adds the wavelengths this name has rows for to w. 0, or -1 with err set. */
int application_wavelengths(
    const struct applications *a, struct field name, struct wavelengths *w, struct err *err);

void application_free(struct applications *a);

#endif
