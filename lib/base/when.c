#include "base/when.h"

#include <string.h>

#include "base/num.h"

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

/* the days from 1970-01-01 to a date of the Gregorian calendar; *fault tells if it exists */
static int64_t
day_number(int year, int month, int day, enum fault *fault)
{
	static const short before[] = { 0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334 };
	static const char length[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
	bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
	const int epoch = 719528; /* days from 0000-01-01 to 1970-01-01; the test counts them */
	int years; /* that have ended since the start of the year 0, which was a leap year */

	if (month < 1 || month > 12)
		*fault = MONTH;
	else if (day < 1 || day > length[month - 1] + (leap && month == 2))
		*fault = DAY;
	else
		*fault = NONE;
	if (*fault != NONE)
		return -1;
	years = year > 0 ? year - 1 : 0;
	return INT64_C(365) * year + (year > 0) + years / 4 - years / 100 + years / 400 +
	       before[month - 1] + (leap && month > 2) + day - 1 - epoch;
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
	w->seconds += hour * 3600 + minute * 60 + second - ahead;
	return fault;
}

static enum fault
read_all(struct field f, struct when *w)
{
	struct cursor c = { f.p, f.p };
	int year, month, day;
	enum fault fault;

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
	w->seconds = day_number(year, month, day, &fault) * 86400;
	if (fault != NONE || w->date_only)
		return fault;
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
