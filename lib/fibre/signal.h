/*
 * signal: what a link does to light besides weakening it: dispersion, polarisation mode dispersion,
 * return loss.
 *
 *	struct signal s = SIGNAL_NONE;
 *
 *	while (more(&part))
 *		signal_add(&s, &part);
 *	if (signal_orl_udb(&s, total_udb) != DB_NONE)
 *		...
 *
 * Dispersion adds up, length times coefficient; PMD as the root of the sum of squares, each its
 * coefficient times the root of the length (ITU-T G.652 and G.650.2; from memory). Reflections are
 * summed as powers, each weakened by twice the loss before it, from either end; the lesser return
 * loss of the two counts. What the fibre itself scatters back is not in it.
 */
#ifndef THRUM_FIBRE_SIGNAL_H
#define THRUM_FIBRE_SIGNAL_H

#include <stdbool.h>
#include <stdint.h>

#include "base/db.h"

/* each NAN: not known */
struct signal_part {
	double cd_ps_nm_km, pmd_ps_sqrt_km; /* of a fibre */
	double reflectance_db;              /* below 0, of each of them */
};

struct signal {
	double cd_ps_nm, pmd2_ps2; /* NAN: that of a fibre is not known */
	double from_a, from_b;     /* reflected power; NAN: that of a connection is not known */
	bool reflects;             /* anything does */
	bool fibres;               /* there are any */
};

#define SIGNAL_NONE                                                                                \
	{                                                                                          \
		.cd_ps_nm = 0                                                                      \
	}

/* Adds so many fibres of this length, 0 and up, each; a length of DB_NONE is not known. */
void signal_add_fibre(
    struct signal *s, const struct signal_part *part, int64_t count, int64_t length_ukm);

/*
 * Adds `count` things that may reflect, behind before_udb of the link, themselves losing own_udb
 * together. `must`: such a thing reflects, so that without its reflectance nothing is known.
 */
void signal_add_reflection(struct signal *s, const struct signal_part *part, int64_t count,
    int64_t before_udb, int64_t own_udb, bool must);

/* In 10^-6 ps/nm, ps and dB; DB_NONE: not known. total_udb: the loss of the whole link. */
int64_t signal_cd_ups(const struct signal *s);
int64_t signal_pmd_ups(const struct signal *s);
int64_t signal_orl_udb(const struct signal *s, int64_t total_udb);

#endif
