/*
 * time: what a machine's clock says, put right, and the shift an arc belongs to.
 */
#ifndef THRUM_MATCH_TIME_H
#define THRUM_MATCH_TIME_H

#include <stdint.h>

#include "base/bytes.h"

/*
 * Appends a date and time that when_parse reads, made later by so many seconds (below 10^10 either
 * way), in the zone and with the decimals it was written with; seconds are written if they were, or
 * if they have to be. If later_s is 0 it is appended as it is. 0, or -1 with nothing appended if it
 * leaves the years 0000 to 9999.
 */
int match_time_add(struct field made_at, int64_t later_s, struct bytes *b);

/*
 * The day of the shift in which a time falls, as days since 1970-01-01: that on which the shift
 * began, if shifts begin at the full hour `begins`, 0 to 23, of the clock in the zone that was
 * written.
 */
int64_t match_shift_day(struct field made_at, int64_t later_s, int begins);

/* Appends a day, of the years 0000 to 9999, as YYYY-MM-DD. */
void match_day_text(int64_t day, struct bytes *b);

#endif
