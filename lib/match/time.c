#include "match/time.h"

#include "base/when.h"

enum { DAY_S = 86400, MINUTE_S = 60, HOUR_S = 3600 };
enum { TO_MINUTES = 16, TO_SECONDS = 19 }; /* of YYYY-MM-DDThh:mm:ss */

/* What was written without its zone; *zone gets that. */
static struct field
without_zone(struct field f, struct field *zone)
{
	size_t n = f.n < TO_MINUTES ? f.n : TO_MINUTES;

	while (n < f.n && f.p[n] != 'Z' && f.p[n] != '+' && f.p[n] != '-')
		n++;
	*zone = (struct field){ f.p + n, f.n - n };
	return (struct field){ f.p, n };
}

/* Seconds of the clock on the wall since 1970-01-01T00:00:00 on it. */
static int64_t
wall_s(struct field made_at)
{
	struct field zone;
	struct when w = { 0 };

	when_parse(without_zone(made_at, &zone), &w);
	return w.seconds;
}

static int64_t
floor_div(int64_t a, int64_t b)
{
	return a / b - (a % b < 0);
}

void
match_day_text(int64_t day, struct bytes *b)
{
	int year, month, of_month;

	when_date(day, &year, &month, &of_month);
	bytes_add_format(b, "%04d-%02d-%02d", year, month, of_month);
}

int
match_time_add(struct field made_at, int64_t later_s, struct bytes *b)
{
	struct field zone, written = without_zone(made_at, &zone);
	int64_t s = wall_s(made_at) + later_s, day = floor_div(s, DAY_S);
	const int64_t first = -719528, last = 2932896; /* 0000-01-01 and 9999-12-31 */

	if (later_s == 0) {
		bytes_add_field(b, made_at);
		return 0;
	}
	if (day < first || day > last)
		return -1;
	s -= day * DAY_S;
	match_day_text(day, b);
	bytes_add_format(b, "T%02d:%02d", (int)(s / HOUR_S), (int)(s % HOUR_S / MINUTE_S));
	if (written.n > TO_MINUTES || s % MINUTE_S != 0)
		bytes_add_format(b, ":%02d", (int)(s % MINUTE_S));
	if (written.n > TO_SECONDS)
		bytes_add(b, written.p + TO_SECONDS, written.n - TO_SECONDS);
	bytes_add_field(b, zone);
	return 0;
}

int64_t
match_shift_day(struct field made_at, int64_t later_s, int begins)
{
	return floor_div(wall_s(made_at) + later_s - (int64_t)begins * HOUR_S, DAY_S);
}
