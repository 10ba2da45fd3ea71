/*
 * when: dates and times as ISO 8601 writes them.
 *
 *	struct when made;
 *
 *	if (when_parse(field, &made) != 0)
 *		return err_set(err, "%s", when_fault(field));
 *	if (when_order(&made, &closed) > 0)
 *		...
 */
#ifndef THRUM_BASE_WHEN_H
#define THRUM_BASE_WHEN_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"

/* a point in time */
struct when {
	int64_t seconds;   /* since 1970-01-01T00:00:00Z, leap seconds not counted (POSIX) */
	int32_t nanos;     /* 0 to 999,999,999 behind that */
	int16_t ahead_min; /* of UTC, as the zone says; 0: not known */
	bool has_zone;     /* false: the zone is not known, seconds are as if it were UTC */
	bool date_only;    /* no time of day was written: seconds are those of its midnight */
};

/*
 * The whole field as one of
 *
 *	YYYY-MM-DD
 *	YYYY-MM-DDThh:mm[ZONE]
 *	YYYY-MM-DDThh:mm:ss[.digits][ZONE]	ZONE: Z, +hh:mm, -hh:mm, +hhmm or -hhmm
 *
 * (ISO 8601-1:2019 extended format; the zone without a colon is what many instruments write).
 * Years 0000 to 9999 of the Gregorian calendar, carried back before its time; the day must exist.
 * 24:00 is refused. Second 60 is refused as well: POSIX time has no leap seconds, and no
 * record of work needs one. Decimals beyond the ninth are dropped.
 * Returns 0, or -1 with *w untouched.
 */
int when_parse(struct field f, struct when *w);

/*
 * Why when_parse refuses this field, in a few words fit for a message ("day and month order is not
 * known: write YYYY-MM-DD", "no such day", "24:00 is not a time", "not a date", ...). Only for
 * refused fields. A constant string.
 */
const char *when_fault(struct field f);

/* How many days the month has, 1 to 12, of a year of the Gregorian calendar, 0 to 9999. */
int when_month_days(int year, int month);

/* The days from 1970-01-01 to a date of the Gregorian calendar, years -399 to 10399; and back. */
int64_t when_day(int year, int month, int day);
void when_date(int64_t days, int *year, int *month, int *day);

/* below, equal to or above 0 as a is before, at or after b; only seconds and nanos count */
int when_order(const struct when *a, const struct when *b);

/*
 * Below 0, 0 or above 0 as a is before b, the same time as far as is known, or after it; where one is a date,
 * by their dates. A time without a zone, or a date, is taken to be in the other's zone.
 */
int when_local_order(const struct when *a, const struct when *b);

/*
 * Whether a is before b whatever is not known: a date alone may be any time of its day, and where only one of
 * the two has a zone they may be 14 hours apart.
 */
bool when_surely_before(const struct when *a, const struct when *b);

/* A time as when_parse reads it, to the second: one with a zone in UTC. Lives as long as `text`. */
enum { WHEN_TEXT = 32 };
struct field when_text(char text[WHEN_TEXT], const struct when *w);

#endif
