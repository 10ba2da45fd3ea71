/* when: dates and times, against a calendar that counts its days one by one */
#include "base/when.h"

#include <inttypes.h>
#include <time.h>

#include "check.h"

static void
reads_known_values(void)
{
	static const struct {
		const char *text;
		int64_t seconds;
		int32_t nanos;
		bool has_zone, date_only;
	} known[] = {
		{ "1970-01-01", 0, 0, false, true },
		{ "1970-01-01T00:00", 0, 0, false, false },
		{ "1970-01-01T00:00Z", 0, 0, true, false },
		{ "1970-01-01T00:00:01", 1, 0, false, false },
		{ "1969-12-31T23:59:59.5Z", -1, 500000000, true, false },
		{ "2000-02-29T12:34:56Z", 951827696, 0, true, false },
		{ "2000-02-29T12:34:56+01:30", 951822296, 0, true, false },
		{ "2000-02-29T12:34:56+0130", 951822296, 0, true, false },
		{ "2000-02-29T12:34:56-01:30", 951833096, 0, true, false },
		{ "2000-02-29T12:34-0000", 951827640, 0, true, false },
		{ "2024-03-31T02:30", 1711852200, 0, false, false }, /* whatever summer time does */
		{ "1970-01-01T23:30+23:59", -1740, 0, true, false },
		{ "1970-01-01T00:00:00.123456789", 0, 123456789, false, false },
		{ "1970-01-01T00:00:00.1234567899999999", 0, 123456789, false, false },
		{ "1970-01-01T00:00:00.000000001Z", 0, 1, true, false },
		{ "0000-01-01", -62167219200, 0, false, true },
		{ "9999-12-31T23:59:59Z", 253402300799, 0, true, false },
	};

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		struct when w = { 0 };

		CHECK(when_parse(field_of(known[i].text), &w) == 0 &&
			  w.seconds == known[i].seconds && w.nanos == known[i].nanos &&
			  w.has_zone == known[i].has_zone && w.date_only == known[i].date_only,
		    "%s: %" PRId64 " %" PRId32 " zone %d date %d", known[i].text, w.seconds,
		    w.nanos, w.has_zone, w.date_only);
	}
}

#define ORDER       "day and month order is not known: write YYYY-MM-DD"
#define TIME_OF_DAY "no such time: write hh:mm or hh:mm:ss"
#define ZONE        "no such zone: write Z, +hh:mm or -hh:mm"
static const struct {
	const char *text, *says;
} refused[] = {
	{ "", "no date" },
	{ "yesterday", "not a date" },
	{ "03/04/2024", ORDER },
	{ "3.4.2024", ORDER },
	{ "01/01/00", ORDER },
	{ "03-04-2024", ORDER },
	{ "24-04-03", "year without its century: write YYYY-MM-DD" },
	{ "2024/04/03", "no hyphens between year, month and day: write YYYY-MM-DD" },
	{ "2024-4-3", "month and day need two digits: write YYYY-MM-DD" },
	{ "20240403", "date without hyphens: write YYYY-MM-DD" },
	{ "2024-04", "not a date" },
	{ "2024-04-", "not a date" },
	{ "2024-04-0x", "month and day need two digits: write YYYY-MM-DD" },
	{ "1711852200", "not a date" },
	{ "04-Mar", "not a date" },
	{ "2024-00-10", "no such month" },
	{ "2024-13-10", "no such month" },
	{ "2024-01-00", "no such day" },
	{ "2024-04-31", "no such day" },
	{ "2023-02-29", "no such day" },
	{ "1900-02-29", "no such day" },
	{ "2024-05-123", "date with something behind it" },
	{ "2024-05-12T", TIME_OF_DAY },
	{ "2024-05-12T7:30", TIME_OF_DAY },
	{ "2024-05-12T07", TIME_OF_DAY },
	{ "2024-05-12T07:3", TIME_OF_DAY },
	{ "2024-05-12T07:60", TIME_OF_DAY },
	{ "2024-05-12T25:00", TIME_OF_DAY },
	{ "2024-05-12T24:01", TIME_OF_DAY },
	{ "2024-05-12T24:60", TIME_OF_DAY },
	{ "2024-05-12T24:00", "24:00 is not a time: write 00:00 of the next day" },
	{ "2024-05-12T24:00:00Z", "24:00 is not a time: write 00:00 of the next day" },
	{ "2024-05-12T07:30:6", TIME_OF_DAY },
	{ "2024-05-12T07:30:61", TIME_OF_DAY },
	{ "2024-05-12T07:30:", TIME_OF_DAY },
	{ "2024-05-12T07:30:15.", TIME_OF_DAY },
	{ "2024-05-12T07:30:15.Z", TIME_OF_DAY },
	{ "2016-12-31T23:59:60Z", "leap second" },
	{ "2024-05-12T07:30:15,5", "date with something behind it" },
	{ "2024-05-12T07:30.5", "date with something behind it" },
	{ "2024-05-12T07:30pm", "date with something behind it" },
	{ "2024-05-12T07:30z", "date with something behind it" },
	{ "2024-05-12T07:30Zx", "date with something behind it" },
	{ "2024-05-12Z", "date with something behind it" },
	{ "2024-05-12T07:30+", ZONE },
	{ "2024-05-12T07:30+02", ZONE },
	{ "2024-05-12T07:30+2:00", ZONE },
	{ "2024-05-12T07:30+24:00", ZONE },
	{ "2024-05-12T07:30+02:60", ZONE },
	{ "2024-05-12T07:30+02:00 ", ZONE },
	{ "2024-05-12T07:30+02:00Z", ZONE },
	{ "2024-05-12T07:30 CET", "date with something behind it" },
	{ "2024-05-12 07:30", "no T between date and time" },
	{ "2024-05-12t07:30", "no T between date and time" },
	{ "2024-05-12 ", "blank beside the date" },
	{ " 2024-05-12", "blank beside the date" },
	{ "2024-05-12T07:30 ", "blank beside the date" },
};

static void
tells_why_not(void)
{
	for (size_t i = 0; i < sizeof refused / sizeof refused[0]; i++) {
		struct field f = field_of(refused[i].text);
		struct when w = { .seconds = 12345 };

		CHECK(when_parse(f, &w) == -1 && w.seconds == 12345, "'%s' accepted", f.p);
		CHECK(strcmp(when_fault(f), refused[i].says) == 0, "'%s': says '%s'", f.p,
		    when_fault(f));
	}
	CHECK(when_parse((struct field){ NULL, 0 }, &(struct when){ 0 }) == -1, "NULL accepted");
	CHECK(strcmp(when_fault((struct field){ NULL, 0 }), "no date") == 0, "NULL");
	CHECK(when_parse((struct field){ "2024-05-12\0", 11 }, &(struct when){ 0 }) == -1, "NUL");
	CHECK(when_parse((struct field){ "2024-05-123", 10 }, &(struct when){ 0 }) == 0, "beyond");
}

static void
check_day(int64_t days, int year, int month, int day)
{
	int y, m, d;

	when_date(days, &y, &m, &d);
	CHECK(y == year && m == month && d == day, "%" PRId64 ": %d-%d-%d", days, y, m, d);
	CHECK(when_day(year, month, day) == days, "%d-%d-%d", year, month, day);
}

/* a calendar repeats after 400 years; so it does before and behind the years that are written */
static void
days_beyond_the_years_that_are_written(void)
{
	for (int month = 1; month <= 12; month++)
		for (int day = 1; day <= when_month_days(1, month); day++) {
			check_day(when_day(1, month, day) - 146097, -399, month, day);
			check_day(when_day(9999, month, day) + 146097, 10399, month, day);
		}
}

/* ten thousand years, each with every day it could have */
static void
counts_every_day(void)
{
	static const int length[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
	int64_t day = -719528; /* of 0000-01-01, so that 1970-01-01 is day 0 */
	long there = 0;

	for (int year = 0; year <= 9999; year++) {
		bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
		char text[] = "0000-00-00";

		for (int k = 3, y = year; k >= 0; k--, y /= 10)
			text[k] = (char)('0' + y % 10);
		for (int month = 0; month <= 13; month++) {
			int days = month < 1 || month > 12 ? 0 : length[month - 1];

			days += leap && month == 2;
			text[5] = (char)('0' + month / 10);
			text[6] = (char)('0' + month % 10);
			for (int d = 0; d <= 32; d++) {
				struct when w;
				int rc;

				text[8] = (char)('0' + d / 10);
				text[9] = (char)('0' + d % 10);
				rc = when_parse((struct field){ text, 10 }, &w);
				if (d < 1 || d > days) {
					CHECK(rc == -1, "%s accepted", text);
					continue;
				}
				CHECK(rc == 0 && w.seconds == day * 86400, "%s: %" PRId64, text,
				    w.seconds);
				check_day(day, year, month, d);
				day++;
				there++;
			}
		}
	}
	CHECK(there == 25 * 146097, "%ld days", there); /* 25 times 400 years */
}

/* against the C library's calendar */
static void
agrees_with_gmtime(void)
{
	uint64_t state = 1;

	for (int i = 0; i < 100000; i++) {
		/* from 0001-01-02 on, so that no zone leads out of the four digits */
		int64_t seconds =
		    (int64_t)(check_random(&state) % UINT64_C(315537724800)) - INT64_C(62135510400);
		int ahead = (int)(check_random(&state) % 2879) - 1439; /* minutes */
		time_t shown = (time_t)(seconds + ahead * 60);
		struct when w = { 0 };
		struct tm tm;
		char text[40], zone[8];
		int n;

		if (gmtime_r(&shown, &tm) == NULL || tm.tm_year + 1900 > 9999)
			continue;
		snprintf(zone, sizeof zone, "%c%02d%s%02d", ahead < 0 ? '-' : '+',
		    (ahead < 0 ? -ahead : ahead) / 60 % 24, i % 2 == 0 ? ":" : "",
		    (ahead < 0 ? -ahead : ahead) % 60);
		n = snprintf(text, sizeof text, "%04d-%02d-%02dT%02d:%02d:%02d%s",
		    tm.tm_year + 1900, tm.tm_mon + 1, tm.tm_mday, tm.tm_hour, tm.tm_min, tm.tm_sec,
		    zone);
		CHECK(when_parse((struct field){ text, (size_t)n }, &w) == 0 && w.has_zone &&
			  w.seconds == seconds,
		    "%s: %" PRId64 ", want %" PRId64, text, w.seconds, seconds);
	}
}

static void
puts_times_in_order(void)
{
	static const char *const rising[] = { "1969-12-31T23:59:59.999999999Z", "1970-01-01",
		"1970-01-01T00:00:00.000000001", "1970-01-01T00:00:00.1", "1970-01-01T00:00:01",
		"1970-01-01T03:00+02:00", "1970-01-01T02:00", "2024-05-12T23:00-02:00" };
	size_t n = sizeof rising / sizeof rising[0];

	for (size_t i = 0; i < n; i++)
		for (size_t k = 0; k < n; k++) {
			struct when a, b;
			int order;

			CHECK(when_parse(field_of(rising[i]), &a) == 0, "%s", rising[i]);
			CHECK(when_parse(field_of(rising[k]), &b) == 0, "%s", rising[k]);
			order = when_order(&a, &b);
			CHECK((order > 0) - (order < 0) == (i > k) - (i < k), "%s, %s: %d",
			    rising[i], rising[k], order);
		}
}

/* what is written is read as the same second, with its zone and as a date alone */
static void
writes_times(void)
{
	static const char *const as_written[] = { "0000-01-01", "1969-12-31T23:59:59Z",
		"1970-01-01", "1970-01-01T00:00:00", "2024-02-29T23:59:59",
		"9999-12-31T00:00:00Z" };
	char text[WHEN_TEXT];
	struct when w;

	for (size_t i = 0; i < sizeof as_written / sizeof as_written[0]; i++) {
		CHECK(when_parse(field_of(as_written[i]), &w) == 0, "%s", as_written[i]);
		CHECK(field_is(when_text(text, &w), as_written[i]), "%s: %s", as_written[i], text);
	}
	CHECK(when_parse(field_of("2024-05-12T01:30:15.9+02:00"), &w) == 0 &&
		  field_is(when_text(text, &w), "2024-05-11T23:30:15Z"),
	    "%s", text);
}

static void
is_sure_of_before(void)
{
	static const struct {
		const char *a, *b;
		bool surely;
	} of[] = { { "2024-05-12T07:30Z", "2024-05-12T07:30Z", false },
		{ "2024-05-12T07:29:59Z", "2024-05-12T07:30Z", true },
		{ "2024-05-12", "2024-05-12T23:59", false }, { "2024-05-12", "2024-05-13", true },
		{ "2024-05-12", "2024-05-13T00:00:01", true },
		{ "2024-05-12", "2024-05-12", false },
		{ "2024-05-12T07:30", "2024-05-12T21:30Z", false },
		{ "2024-05-12T07:30", "2024-05-12T21:30:01Z", true },
		{ "2024-05-12", "2024-05-13T13:59:59Z", false },
		{ "2024-05-12", "2024-05-13T14:00:00Z", true } };

	for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
		struct when a, b;

		CHECK(when_parse(field_of(of[i].a), &a) == 0, "%s", of[i].a);
		CHECK(when_parse(field_of(of[i].b), &b) == 0, "%s", of[i].b);
		CHECK(when_surely_before(&a, &b) == of[i].surely, "%s, %s", of[i].a, of[i].b);
	}
}

/* one byte changed in a good time: never a crash, and a reason for whatever is refused */
static void
survives_damage(void)
{
	uint64_t state = 2;

	for (int i = 0; i < 100000; i++) {
		char text[] = "2024-05-12T07:30:15.25+02:00";
		size_t n = 1 + check_random(&state) % (sizeof text - 1);
		struct when w;

		text[check_random(&state) % n] = (char)check_random(&state);
		if (when_parse((struct field){ text, n }, &w) != 0)
			CHECK(when_fault((struct field){ text, n })[0] != '\0', "%s", text);
	}
}

int
main(void)
{
	RUN(reads_known_values);
	RUN(tells_why_not);
	RUN(counts_every_day);
	RUN(days_beyond_the_years_that_are_written);
	RUN(agrees_with_gmtime);
	RUN(puts_times_in_order);
	RUN(writes_times);
	RUN(is_sure_of_before);
	RUN(survives_damage);
	return check_done();
}
