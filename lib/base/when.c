#include "base/when.h"

#include <stdio.h>
#include <string.h>

#include "base/num.h"

enum { MINUTE_S = 60, HOUR_S = 3600, DAY_S = 86400 };

enum fault {
	NONE,
	SHAPE,
	MONTH,
	DAY,
	HOUR_24,
	TIME,
	SECOND_60,
	REST,
	ZONE,
};

/* what is left to read */
struct cursor {
	const char *p, *end;
};

/* a number of so many digits; -1 if they are not there */
static inline int
number(struct cursor *c, int digits)
{
	int n = 0;

	if (c->end - c->p < digits)
		return -1;
	for (int i = 0; i < digits; i++) {
		if (!num_is_digit(c->p[i]))
			return -1;
		n = n * 10 + (c->p[i] - '0');
	}
	c->p += digits;
	return n;
}

static inline bool
next_is(struct cursor *c, char wanted)
{
	if (c->p == c->end || *c->p != wanted)
		return false;
	c->p++;
	return true;
}

int
when_month_days(int year, int month)
{
	static const char days[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
	bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);

	return days[month - 1] + (month == 2 && leap);
}

/*
 * Both count from 1 March -0400, so that all numbers are positive and a leap day is the last of its
 * year: 400 years have 146097 days, five months from March on 153, and 719468 days lie between 1 March
 * 0000 and 1 January 1970.
 */
enum { ERA_DAYS = 146097, EPOCH_DAYS = 719468 + ERA_DAYS };

int64_t
when_day(int year, int month, int day)
{
	int y = year + 400 - (month <= 2), m = month > 2 ? month - 3 : month + 9;

	return y * 365 + y / 4 - y / 100 + y / 400 + (153 * m + 2) / 5 + day - 1 - EPOCH_DAYS;
}

void
when_date(int64_t days, int *year, int *month, int *day)
{
	int64_t n = days + EPOCH_DAYS, era = n / ERA_DAYS;
	int of_era = (int)(n % ERA_DAYS);
	int y = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
	int of_year = of_era - (365 * y + y / 4 - y / 100), m = (5 * of_year + 2) / 153;

	*day = of_year - (153 * m + 2) / 5 + 1;
	*month = m < 10 ? m + 3 : m - 9;
	*year = (int)(era - 1) * 400 + y + (*month <= 2);
}

/* .digits, of which nine count */
static bool
read_nanos(struct cursor *c, int32_t *nanos)
{
	int32_t unit = 100000000, n = 0;
	const char *start = c->p;

	for (; c->p < c->end && num_is_digit(*c->p); c->p++, unit /= 10)
		n += unit * (*c->p - '0');
	*nanos = n;
	return c->p > start;
}

/* the zone's seconds ahead of UTC */
static enum fault
read_zone(struct cursor *c, int *ahead)
{
	bool west = *c->p == '-';
	int hours, minutes;

	if (*c->p != '+' && *c->p != '-')
		return REST;
	c->p++;
	hours = number(c, 2);
	next_is(c, ':');
	minutes = number(c, 2);
	if (hours < 0 || hours > 23 || minutes < 0 || minutes > 59 || c->p != c->end)
		return ZONE;
	*ahead = (hours * 60 + minutes) * (west ? -60 : 60);
	return NONE;
}

static enum fault
read_time(struct cursor *c, struct when *w)
{
	int hour, minute, second = 0, ahead = 0;
	enum fault fault = NONE;

	hour = number(c, 2);
	if (hour < 0 || !next_is(c, ':'))
		return TIME;
	minute = number(c, 2);
	if (minute < 0)
		return TIME;
	if (next_is(c, ':')) {
		second = number(c, 2);
		if (second < 0 || (next_is(c, '.') && !read_nanos(c, &w->nanos)))
			return TIME;
	}
	if (hour == 24 && minute == 0 && second == 0)
		return HOUR_24;
	if (second == 60 && hour < 24 && minute < 60)
		return SECOND_60;
	if (hour > 23 || minute > 59 || second > 59)
		return TIME;
	w->has_zone = c->p < c->end;
	if (w->has_zone && !(*c->p == 'Z' && c->end - c->p == 1))
		fault = read_zone(c, &ahead);
	w->ahead_min = (int16_t)(ahead / 60);
	w->seconds += hour * 3600 + minute * 60 + second - ahead;
	return fault;
}

static enum fault
read_all(struct field f, struct when *w)
{
	struct cursor c = { f.p, f.p };
	int year, month, day;

	if (f.n == 0)
		return SHAPE;
	c.end += f.n;
	year = number(&c, 4);
	if (year < 0 || !next_is(&c, '-'))
		return SHAPE;
	month = number(&c, 2);
	if (month < 0 || !next_is(&c, '-'))
		return SHAPE;
	day = number(&c, 2);
	if (day < 0)
		return SHAPE;
	*w = (struct when){ .date_only = c.p == c.end };
	if (month < 1 || month > 12)
		return MONTH;
	if (day < 1 || (day > 28 && day > when_month_days(year, month)))
		return DAY;
	w->seconds = when_day(year, month, day) * 86400;
	if (w->date_only)
		return NONE;
	return next_is(&c, 'T') ? read_time(&c, w) : REST;
}

int
when_parse(struct field f, struct when *w)
{
	struct when read;

	if (read_all(f, &read) != NONE)
		return -1;
	*w = read;
	return 0;
}

/* what is wrong with text that does not even start like a date */
static const char *
fault_of_shape(struct field f)
{
	size_t digits[3] = { 0, 0, 0 }, group = 0, i;
	bool our_marks = true;

	for (i = 0; i < f.n; i++) {
		if (num_is_digit(f.p[i])) {
			digits[group]++;
		} else if (group < 2 && digits[group] > 0 && memchr("/.-", f.p[i], 3) != NULL) {
			our_marks = our_marks && f.p[i] == '-';
			group++;
		} else {
			break;
		}
	}
	if (f.n == 0)
		return "no date";
	if (f.p[0] == ' ' || f.p[f.n - 1] == ' ')
		return "blank beside the date";
	if (group == 0 && i == f.n && digits[0] == 8)
		return "date without hyphens: write YYYY-MM-DD";
	if (group < 2 || digits[2] == 0)
		return "not a date";
	if (digits[0] != 4)
		return digits[2] >= 4 || !our_marks
			   ? "day and month order is not known: write YYYY-MM-DD"
			   : "year without its century: write YYYY-MM-DD";
	return our_marks ? "month and day need two digits: write YYYY-MM-DD"
			 : "no hyphens between year, month and day: write YYYY-MM-DD";
}

const char *
when_fault(struct field f)
{
	struct when w;

	switch (read_all(f, &w)) {
	case SHAPE:
		return fault_of_shape(f);
	case MONTH:
		return "no such month";
	case DAY:
		return "no such day";
	case HOUR_24:
		return "24:00 is not a time: write 00:00 of the next day";
	case TIME:
		return "no such time: write hh:mm or hh:mm:ss";
	case SECOND_60:
		return "leap second";
	case ZONE:
		return "no such zone: write Z, +hh:mm or -hh:mm";
	case REST:
		if (f.p[f.n - 1] == ' ')
			return "blank beside the date";
		if (f.p[10] == ' ' || f.p[10] == 't')
			return "no T between date and time";
		return "date with something behind it";
	case NONE:
		break;
	}
	return "not a date";
}

int
when_order(const struct when *a, const struct when *b)
{
	if (a->seconds != b->seconds)
		return a->seconds < b->seconds ? -1 : 1;
	return (a->nanos > b->nanos) - (a->nanos < b->nanos);
}

int
when_local_order(const struct when *a, const struct when *b)
{
	int64_t local_a = a->seconds + a->ahead_min * MINUTE_S;
	int64_t local_b = b->seconds + b->ahead_min * MINUTE_S;

	if (a->date_only || b->date_only) {
		local_a -= (local_a % DAY_S + DAY_S) % DAY_S;
		local_b -= (local_b % DAY_S + DAY_S) % DAY_S;
	} else if (a->has_zone == b->has_zone) {
		return when_order(a, b);
	}
	return (local_a > local_b) - (local_a < local_b);
}

bool
when_surely_before(const struct when *a, const struct when *b)
{
	struct when latest = *a;

	latest.nanos = a->date_only ? 999999999 : a->nanos;
	latest.seconds +=
	    (a->date_only ? DAY_S - 1 : 0) + (a->has_zone != b->has_zone ? 14 * HOUR_S : 0);
	return when_order(&latest, b) < 0;
}

struct field
when_text(char text[WHEN_TEXT], const struct when *w)
{
	int64_t day = w->seconds / DAY_S - (w->seconds % DAY_S < 0);
	int s = (int)(w->seconds - day * DAY_S), year, month, of_month, n;

	when_date(day, &year, &month, &of_month);
	n = snprintf(text, WHEN_TEXT, "%04d-%02d-%02d", year, month, of_month);
	if (!w->date_only)
		n += snprintf(text + n, WHEN_TEXT - (size_t)n, "T%02d:%02d:%02d%s", s / HOUR_S,
		    s / MINUTE_S % MINUTE_S, s % MINUTE_S, w->has_zone ? "Z" : "");
	return (struct field){ text, (size_t)n };
}
