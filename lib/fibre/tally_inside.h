/*
 * tally_inside: what counting joints (tally.c) and handing on what was counted (tally_part.c) have in
 * common.
 */
#ifndef THRUM_FIBRE_TALLY_INSIDE_H
#define THRUM_FIBRE_TALLY_INSIDE_H

#include "fibre/tally.h"

/* of joints. THERE: its row of the plan is of its closure; ALONE: nothing tells it from others */
enum { FAILED = 1, DOUBTFUL = 2, AMISS = 4, SURPLUS = 8, NAMELESS = 16, THERE = 32, ALONE = 64 };

#define NONE UINT32_MAX

/* a joint as it stands; numbers of ids, from 1, 0: none */
struct tally_joint {
	struct when made;
	struct field made_text;
	int64_t est_udb;
	uint32_t group, kind, tray, plan; /* plan: its row, from 1 */
	uint32_t reading;                 /* the first, or NONE */
	uint8_t flags;
};

struct tally_reading {
	int64_t loss_udb;
	uint32_t next, with; /* with: number of withs, from 1, 0: none */
	uint8_t nm;          /* number of t->nm, from 1; 0: not known */
	uint8_t basis;
	bool gain;
};

/* joints judged alike: closure (if a limit names one), kind, ribbon, accept and the plan's limit */
struct tally_kind {
	struct limit_case is;
	struct limit *limits; /* for each wavelength, 0 first, and basis; made when asked for */
	bool *made;
};

struct tally_tray {
	bool whole;
	int64_t number; /* if whole */
	struct field text;
};

/* joints of which the same is known at a wavelength */
struct tally_case {
	int64_t loss_udb;
	uint64_t joints;
	size_t first;        /* the number of the first, or of the part */
	uint32_t kind, with; /* with: as in tally_reading */
	uint8_t basis;       /* JOINT_UNKNOWN: nothing is known; then loss, kind and with are 0 */
	uint8_t flags;       /* FAILED, DOUBTFUL */
};

/* in place of a wavelength's number: that which is none of the others; a tray, no case */
enum { NM_OTHER = 255, NM_TRAY = 254 };

/* of a table that tally_part.c has written: a case at a wavelength, or a tray */
struct tally_part {
	struct tally_case is; /* of a tray the kind is its number of trays, from 1 */
	struct field worst;   /* the name of the first joint */
	uint32_t group, run;  /* group: from 1; run: the parts of one group and table have one */
	uint8_t nm;
};

/* what the tables say of a group as a whole */
struct tally_gathered {
	uint64_t joints, surplus;
	struct when first_made, last_made;
	struct field first, last;
};

/* The name of a joint, or of the first of a part; empty: it has none. */
struct field tally_name(const struct tally *t, size_t i);

/* The number of what is judged alike. */
uint32_t tally_kind(struct tally *t, const struct limit_case *is);

/* The number of a wavelength, from 1; 0: none, or, with err set, there are too many. */
uint8_t tally_nm(struct tally *t, double nm, struct err *err);

/* The number of a group, from 1. */
uint32_t tally_group_number(struct tally *t, struct field group);

/* Makes room in `gathered` for so many groups. */
void tally_gather(struct tally *t, size_t groups);

/* Notes the numbers of the wavelengths, 0 for none, that a joint was read at, or that a part is of. */
void tally_see(const struct tally *t, size_t i, bool *seen);

/* What is known of a joint at a wavelength. */
void tally_case(const struct tally *t, size_t joint, uint8_t nm, struct tally_case *c);

#endif
