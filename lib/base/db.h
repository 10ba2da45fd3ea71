/*
 * db: decibels as whole millionths, so that sums are exact in any order and a link that lies
 * exactly at its limit is found exactly there. Names of such quantities end in _udb (10^-6 dB).
 * The same whole millionths serve lengths (_ukm, that is millimetres) and counts (_u).
 */
#ifndef THRUM_BASE_DB_H
#define THRUM_BASE_DB_H

#include <stdint.h>

#include "base/bytes.h"

enum { DB_ONE = 1000000 }; /* one decibel (one kilometre, one piece) in millionths */
#define DB_NONE INT64_MIN  /* "not known"; no function here makes it */

/*
 * The decimal text of a number (the grammar of num_parse) in whole millionths, each rounded half
 * away from zero on its decimal value, not on a binary one: "0.0000005" is 1, "-0.0000005" is -1.
 * Returns 0, or -1 with *udb untouched (not a number, or magnitude above 9.2e12 dB).
 */
int db_parse(struct field f, int64_t *udb);

/* A computed value in whole millionths, half away from zero. 0, or -1 if not finite or too large. */
int db_from(double db, int64_t *udb);

/* The double nearest to udb / 10^6. */
double db_to(int64_t udb);

/* *sum += udb. 0, or -1 with *sum untouched if the sum does not fit. */
int db_add(int64_t *sum, int64_t udb);

/*
 * *out = udb * times_u / 10^6, exact but for one rounding, half away from zero: a loss per km times
 * a length, a loss each times a count. 0, or -1 with *out untouched if it does not fit.
 */
int db_times(int64_t udb, int64_t times_u, int64_t *out);

enum { DB_FIXED = 32 };

/*
 * udb / 10^6 with exactly `places` decimals, 0 to 6, rounded half away from zero; no minus zero.
 * Writes to dst and returns the length; adds no NUL. Integer arithmetic only.
 */
size_t db_fixed(char dst[DB_FIXED], int64_t udb, int places);

#endif
