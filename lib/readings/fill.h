/*
 * fill: losses read from both ends put into the records of the joints.
 *
 *	struct fills f = { .found = &found };
 *
 *	fill_start(&f, &joints);
 *	fill_add(&f, &(struct fill){ .joint = joint, .nm = 1550, .loss_udb = 41000, ... });
 *	fill_write(&f, &names, &joints, writer);
 *	fill_free(&f);
 */
#ifndef THRUM_READINGS_FILL_H
#define THRUM_READINGS_FILL_H

#include "fibre/night.h"
#include "readings/found.h"
#include "table/hold.h"

/* what is known of a joint at one wavelength, from the joint's own sides; DB_NONE: not known */
struct fill {
	uint32_t joint; /* number of its name */
	uint32_t next;  /* of this joint; fill.c's */
	float nm;
	bool one_way;  /* one reading is enough on this link */
	uint32_t with; /* number of the text for loss_with in `with`; HOLD_NO_TEXT: none */
	int64_t ab_udb, ba_udb, loss_udb;
};

struct fills {
	struct found *found;
	struct night night; /* which attempt counts */
	struct ids with;    /* texts of loss_with */
	struct fill *v;
	size_t n, cap;
	uint32_t *first; /* of each joint */
	size_t first_n, first_cap;
};

/* the columns and the key (of many rows) of the joints, which are held as rows */
extern const struct col fill_cols[];
extern const int fill_key[];

/* Reads which attempt of each joint counts. 0, or -1 with the table's err set. */
int fill_start(struct fills *f, const struct table *joints);

/* When the attempt that counts was made, or not before when; false: not known. */
bool fill_made(const struct fills *f, struct field joint, struct when *made);

/* Adds one. Of several of a joint at one wavelength the one with a loss counts, else the first. */
void fill_add(struct fills *f, const struct fill *one);

/*
 * Writes the joints' table with what is known of the latest standing attempt at each joint: in the rows
 * of its wavelengths, in one without wavelength and losses, else in new rows behind the last of the
 * attempt. A field that is not empty stays; a loss_db there that is more than 0.001 dB away is a finding.
 * 0, or -1 with the table's err set. joint_names: of fill.joint.
 */
int fill_write(
    struct fills *f, const struct ids *joint_names, struct table *joints, struct writer *out);

void fill_free(struct fills *f);

#endif
