/* Date forms, against dates written out by hand and days counted one by one. */
#include "check.h"

#include <stdbool.h>

#include "import/date_form.h"

static const char *
convert(const struct date_form *form, const char *text, const char *zone, struct bytes *out)
{
	struct field months[DATE_MONTHS];
	struct date_style style = { .point = '.', .months = months };
	struct date date;
	const char *why;

	CHECK(date_months_read(field_of(date_months_usual), months), "months");
	if (zone[0] != '\0')
		CHECK(date_zone_read(field_of(zone), &style.zone), "%s", zone);
	why = date_form_read(form, field_of(text), &style, &date);
	if (why == NULL)
		date_form_write(form, &date, out);
	return why;
}

static void
dates(void)
{
	static const struct {
		const char *form, *text, *zone, *want; /* want NULL: refused */
	} cases[] = {
		{ "DD.MM.YYYY hh:mm:ss", "11.03.2026 21:45:52", "+01:00",
		    "2026-03-11T21:45:52+01:00" },
		{ "DD.MM.YYYY", "11.03.2026", "Z", "2026-03-11" },
		{ "D.M.YYYY", "1.3.2026", "", "2026-03-01" },
		{ "D.M.YYYY", "01.03.2026", "", "2026-03-01" },
		{ "DD.MM.YYYY", "1.3.2026", "", NULL },
		{ "MM/DD/YYYY", "03/04/2024", "", "2024-03-04" },
		{ "DD/MM/YYYY", "03/04/2024", "", "2024-04-03" },
		{ "DD/MM/YYYY", "13/13/2024", "", NULL },
		{ "DD/MM/YYYY", "29/02/2023", "", NULL },
		{ "DD/MM/YYYY", "29/02/2024", "", "2024-02-29" },
		{ "DD/MM/YY", "01/01/00", "", "2000-01-01" },
		{ "D-MON-YYYY h:mm AM", "7-mar-2026 12:05 am", "", "2026-03-07T00:05" },
		{ "D-MON-YYYY h:mm AM", "7-Mar-2026 12:05 PM", "", "2026-03-07T12:05" },
		{ "D-MON-YYYY h:mm AM", "7-Mar-2026 13:05 PM", "", NULL },
		{ "YYYY-MM-DD hh:mm", "2026-03-11 24:00", "", NULL },
		{ "YYYY-MM-DD hh:mm:ss.f", "2026-03-11 21:45:52.125", "Z",
		    "2026-03-11T21:45:52.125Z" },
		{ "YYYY-MM-DDThh:mm:ssZ", "2026-03-11T21:45:52+0130", "Z",
		    "2026-03-11T21:45:52+01:30" },
		{ "YYYY-MM-DDThh:mm:ssZ", "2026-03-11T21:45:52", "Z", NULL },
		{ "YYYY-MM-DD", "2026-03-11 ", "", NULL },
		{ "unix", "1773265552", "", "2026-03-11T21:45:52Z" },
		{ "unix", "1773265552.25", "+01:00", "2026-03-11T21:45:52.25Z" },
		{ "unix", "0", "", "1970-01-01T00:00:00Z" },
		{ "unix", "253402300799", "", "9999-12-31T23:59:59Z" },
		{ "unix", "253402300800", "", NULL },
		{ "unix", "-1", "", NULL },
		{ "unix_ms", "1773265552007", "", "2026-03-11T21:45:52.007Z" },
		{ "serial", "46092.9068518519", "", "2026-03-11T21:45:52" },
		{ "serial", "25569", "Z", "1970-01-01T00:00:00Z" },
		{ "unix_ms", "1773265552007.5", "", "2026-03-11T21:45:52.0075Z" },
		{ "unix", "1773265552.", "", NULL },
		{ "unix", "1.773265552E9", "", NULL },
		{ "unix", "1773265552.1234567891", "", "2026-03-11T21:45:52.123456789Z" },
		{ "YYYY-MM-DD", "0000-01-01", "", NULL },
		{ "YYYY-MM-DD", "0001-01-01", "", "0001-01-01" },
		{ "serial", "0.9068518519", "", NULL }, /* no date of 1899 */
		{ "serial", "2958465.9999999", "", NULL },
		{ "D-MON-YYYY h:mm AM", "7-Mar-2026 12:05 p.m.", "", "2026-03-07T12:05" },
		{ "D-MON-YYYY h:mm AM", "7-Mar-2026 1:05 A.M.", "", "2026-03-07T01:05" },
		{ "serial", "1.9999999", "", "1900-01-01T00:00:00" },
		{ "serial", "", "", NULL },
	};
	struct bytes out = { 0 };
	struct date_form form;

	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		const char *why = date_form_compile(field_of(cases[i].form), &form);

		CHECK(why == NULL, "%s: %s", cases[i].form, why);
		out.n = 0;
		why = convert(&form, cases[i].text, cases[i].zone, &out);
		CHECK((why == NULL) == (cases[i].want != NULL), "%s: %s", cases[i].text,
		    why != NULL ? why : "taken");
		if (why == NULL && cases[i].want != NULL)
			CHECK(field_is(bytes_field(&out), cases[i].want), "%s: %.*s", cases[i].text,
			    (int)out.n, out.p);
		else
			CHECK(out.n == 0, "%s: left something", cases[i].text);
	}
	static const char *const bad[] = { "", "DD.MM", "DD.MM.YYYY hh", "DD.MM.YYYY YYYY",
		"DD.MM.YYYY Uhr", "DD.MM.YYYY mm:ss", "YYYY-MM-DD Z", "DD.MM.YYYY hh:mm.f" };
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
		CHECK(date_form_compile(field_of(bad[i]), &form) != NULL, "'%s' taken", bad[i]);
	bytes_free(&out);
}

/* every day from 1970 to 2399 in two ways: counted on, and made of its number */
static void
every_day(void)
{
	static const int length[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
	struct date_form form;
	struct bytes out = { 0 };
	int64_t number = 0; /* days from 1970 */

	date_form_compile(field_of("unix"), &form);
	for (int year = 1970; year < 2400; year++)
		for (int month = 1; month <= 12; month++) {
			bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);

			for (int day = 1; day <= length[month - 1] + (leap && month == 2); day++) {
				char text[32], want[64];
				snprintf(text, sizeof text, "%lld", (long long)number++ * 86400);
				snprintf(want, sizeof want, "%04d-%02d-%02dT00:00:00Z", year, month,
				    day);
				out.n = 0;
				convert(&form, text, "", &out);
				CHECK(field_is(bytes_field(&out), want), "%s: %.*s", want,
				    (int)out.n, out.p);
			}
		}
	bytes_free(&out);
}

static void
zones(void)
{
	static const char *const bad[] = { "CET", "+1", "+25:00", "+01:60", "" };
	struct date_zone z;

	CHECK(date_zone_read(field_of("UTC+01:00"), &z) && z.n == 6 &&
		  memcmp(z.iso, "+01:00", 6) == 0,
	    "UTC+");
	CHECK(date_zone_read(field_of("Z"), &z) && z.n == 1, "Z");
	CHECK(date_zone_read(field_of("UTC"), &z) && z.n == 1, "UTC");
	for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
		CHECK(!date_zone_read(field_of(bad[i]), &z), "%s", bad[i]);
}

int
main(void)
{
	RUN(dates);
	RUN(every_day);
	RUN(zones);
	return check_done();
}
