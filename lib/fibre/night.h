/*
 * night: of the rows of all nights, which are one attempt at a joint, and which attempt counts. The
 * one place that decides it.
 *
 *	struct night night = NIGHT_NONE;
 *	struct night_attempt a = { .attempt = field_of("1"), .shift = field_of("2026-03-11") };
 *	size_t joint = night_joint(&night, &name, 1);
 *
 *	switch (night_add(&night, joint, &a)) {
 *	case NIGHT_NEWER: what is known of the joint begins anew with this row
 *	case NIGHT_SAME:  another row of the attempt that counts
 *	case NIGHT_OLDER: a row of an attempt that counts no more
 *	}
 *
 * Only rows that stand are to be added. Rows of one attempt number are one attempt, read at several
 * wavelengths, unless both name a shift and these differ. The latest attempt counts: by the time it
 * was made at (when_local_order); where that is not known of both or is the same, by the dates of the shifts;
 * where these are not known either or are the same, by the order of rows.
 * Rows that do not stand may be added to a night of their own: an attempt that was made later than the
 * one that counts took it away, though it did not stand itself.
 * Memory: 24 bytes a joint, and its key in `joints` (table/ids.h).
 */
#ifndef THRUM_FIBRE_NIGHT_H
#define THRUM_FIBRE_NIGHT_H

#include "table/ids.h"
#include "table/table.h"

struct night_attempt {
	struct field attempt, shift; /* empty: not known */
	bool timed;                  /* made is known */
	struct when made;
};

struct night {
	struct ids joints, texts;
	struct night_standing *v; /* one for each joint: the attempt that counts */
	size_t cap;
};

#define NIGHT_NONE                                                                                 \
	{                                                                                          \
		IDS_NONE, IDS_NONE, NULL, 0                                                        \
	}

enum night_is { NIGHT_NEWER, NIGHT_SAME, NIGHT_OLDER };

/* The attempt of the present row, by its columns; a time of a wrong form is trouble of the table. */
struct night_attempt night_read(struct table *t, int attempt, int shift, int made_at);

/* The number of a joint by its name, or whatever fields tell it from others. */
size_t night_joint(struct night *n, const struct field *key, size_t nfields);

/* What a row that stands is to its joint. Numbers of joints may also come from elsewhere. */
enum night_is night_add(struct night *n, size_t joint, const struct night_attempt *a);

/*
 * true if attempt a was made after b, both at one joint: by the number of the attempt or by time, if both
 * name the same shift; else by time, by the shifts' dates or by the number, the first of these that is
 * known of both.
 */
bool night_after(const struct night_attempt *a, const struct night_attempt *b);

/* A row that does not stand, of a night of such rows: the latest is kept, as night_later has it. */
void night_add_undone(struct night *undone, size_t joint, const struct night_attempt *a);

/*
 * true if the attempt `is` of undone was made after the one of n that counts; false also if either is not
 * there.
 */
bool night_later(const struct night *undone, size_t is, const struct night *n, size_t joint);

/* The attempt that was added and counts, as it was written; empty if there is none. */
struct field night_number(const struct night *n, size_t joint);

/* true if a row of the joint with this attempt and shift is one of the attempt that counts */
bool night_counts(const struct night *n, size_t joint, const struct night_attempt *a);

/*
 * When the attempt that counts was made: of its rows the latest time; without one the date of its shift,
 * before which it was not. false: not known.
 */
bool night_made(const struct night *n, size_t joint, struct when *made);

void night_free(struct night *n);

#endif
