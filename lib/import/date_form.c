#include "import/date_form.h"

#include "base/num.h"
#include "base/when.h"

const char *const form_months_default = "Jan;Feb;Mar;Apr;May;Jun;Jul;Aug;Sep;Oct;Nov;Dec";

enum what {
	LITERAL,
	YEAR,
	YEAR_2,
	MONTH,
	MONTH_1,
	MONTH_NAME,
	DAY,
	DAY_1,
	HOUR,
	HOUR_1,
	MINUTE,
	SECOND,
	DECIMALS,
	HALF,
	ZONE
};

/* longest first, so that the first that fits is meant */
static const struct {
	const char *text;
	unsigned char what;
} marks[] = { { "YYYY", YEAR }, { "MON", MONTH_NAME }, { "YY", YEAR_2 }, { "MM", MONTH },
	{ "DD", DAY }, { "hh", HOUR }, { "mm", MINUTE }, { "ss", SECOND }, { "AM", HALF },
	{ "M", MONTH_1 }, { "D", DAY_1 }, { "h", HOUR_1 }, { "f", DECIMALS }, { "Z", ZONE } };

static bool
is_letter(char c)
{
	return (unsigned)((c | 0x20) - 'a') < 26;
}

/* what the marks stand for, so that none is there twice */
static unsigned
meaning(unsigned char what)
{
	static const unsigned char same[] = { [YEAR] = 1,
		[YEAR_2] = 1,
		[MONTH] = 2,
		[MONTH_1] = 2,
		[MONTH_NAME] = 2,
		[DAY] = 3,
		[DAY_1] = 3,
		[HOUR] = 4,
		[HOUR_1] = 4,
		[MINUTE] = 5,
		[SECOND] = 6,
		[DECIMALS] = 7,
		[HALF] = 8,
		[ZONE] = 9 };

	return 1u << same[what];
}

static const char *
add_piece(struct form *form, struct field *spec, unsigned *seen)
{
	struct form_piece piece = { LITERAL, *spec->p };
	size_t n = 1;

	for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++)
		if (field_starts(*spec, marks[i].text)) {
			piece.what = marks[i].what;
			n = strlen(marks[i].text);
			break;
		}
	if (piece.what == LITERAL && is_letter(piece.literal) && piece.literal != 'T')
		return "date form with a letter that means nothing";
	if (piece.what != LITERAL && (*seen & meaning(piece.what)))
		return "date form with the same thing twice";
	if (form->n == FORM_PIECES_MOST)
		return "date form too long";
	*seen |= piece.what != LITERAL ? meaning(piece.what) : 0;
	form->piece[form->n++] = piece;
	spec->p += n;
	spec->n -= n;
	return NULL;
}

const char *
form_read_spec(struct field spec, struct form *form)
{
	enum { DATE = 1 << 1 | 1 << 2 | 1 << 3, TIME = 1 << 4 | 1 << 5 };
	unsigned seen = 0;
	const char *why = NULL;

	*form = (struct form){ FORM_PIECES };
	form->has_time = form->has_seconds = true;
	if (field_is(spec, "unix"))
		form->kind = FORM_UNIX;
	else if (field_is(spec, "unix_ms"))
		form->kind = FORM_UNIX_MS;
	else if (field_is(spec, "serial"))
		form->kind = FORM_SERIAL;
	if (form->kind != FORM_PIECES)
		return NULL;
	while (spec.n > 0 && why == NULL)
		why = add_piece(form, &spec, &seen);
	if (why != NULL)
		return why;
	if ((seen & DATE) != DATE)
		return "date form without year, month or day";
	form->has_time = seen & TIME;
	form->has_seconds = seen & meaning(SECOND);
	form->has_zone = seen & meaning(ZONE);
	if (form->has_time ? (seen & TIME) != TIME : seen >> 4 != 0)
		return "date form with half a time";
	if ((seen & meaning(DECIMALS)) && !form->has_seconds)
		return "date form with decimals of no second";
	return NULL;
}

static bool
two_digits(const char *p)
{
	return num_is_digit(p[0]) && num_is_digit(p[1]);
}

/* Z, +hh:mm, +hhmm or +hh at the start of f: how many bytes; as ISO 8601 writes it to iso */
static size_t
zone_at(struct field f, char iso[6], size_t *n)
{
	size_t taken = 3;

	if (field_starts(f, "Z")) {
		iso[0] = 'Z';
		*n = 1;
		return 1;
	}
	if (f.n < 3 || (f.p[0] != '+' && f.p[0] != '-') || !two_digits(f.p + 1))
		return 0;
	memcpy(iso, f.p, 3);
	memcpy(iso + 3, ":00", 3);
	*n = 6;
	if (f.n >= 6 && f.p[3] == ':' && two_digits(f.p + 4))
		taken = 6;
	else if (f.n >= 5 && two_digits(f.p + 3))
		taken = 5;
	if (taken > 3)
		memcpy(iso + 4, f.p + taken - 2, 2);
	return memcmp(iso + 1, "14:00", 5) <= 0 && iso[4] < '6' ? taken : 0;
}

bool
form_zone(struct field f, char iso[6], size_t *n)
{
	if (field_starts(f, "UTC")) {
		f.p += 3;
		f.n -= 3;
		if (f.n == 0)
			f = field_of("Z");
	}
	return f.n != 5 && f.n > 0 && zone_at(f, iso, n) == f.n;
}

bool
form_months(struct field list, struct field months[FORM_MONTHS])
{
	int n = 0;

	while (list.p != NULL) {
		struct field name = field_cut(&list, ';');

		if (n == FORM_MONTHS || name.n == 0)
			return false;
		months[n++] = name;
	}
	return n == FORM_MONTHS;
}

/* what has been read of a date */
struct date {
	int year, month, day, hour, minute, second;
	struct field decimals;
	bool has_half, afternoon;
	char zone[6];
	size_t zone_n;
};

/* from `least` to `most` digits at the start of *f */
static bool
take_number(struct field *f, size_t least, size_t most, int *n)
{
	size_t k = 0;

	*n = 0;
	for (; k < most && k < f->n && num_is_digit(f->p[k]); k++)
		*n = *n * 10 + (f->p[k] - '0');
	f->p += k;
	f->n -= k;
	return k >= least;
}

static bool
take_decimals(struct field *f, struct date *d)
{
	size_t k = 0;

	while (k < f->n && num_is_digit(f->p[k]))
		k++;
	d->decimals = (struct field){ f->p, k };
	f->p += k;
	f->n -= k;
	return k >= 1 && k <= 9;
}

static bool
same_word(struct field f, struct field word)
{
	if (f.n < word.n)
		return false;
	for (size_t i = 0; i < word.n; i++)
		if (f.p[i] != word.p[i] && !(is_letter(f.p[i]) && (f.p[i] ^ word.p[i]) == 0x20))
			return false;
	return true;
}

/* the longest of the names that stands here */
static bool
take_month(struct field *f, const struct field months[FORM_MONTHS], int *month)
{
	size_t best = 0;

	for (int i = 0; i < FORM_MONTHS; i++)
		if (months[i].n > best && same_word(*f, months[i])) {
			best = months[i].n;
			*month = i + 1;
		}
	f->p += best;
	f->n -= best;
	return best > 0;
}

static bool
take_half(struct field *f, struct date *d)
{
	d->has_half = true;
	d->afternoon = same_word(*f, field_of("PM"));
	if (!d->afternoon && !same_word(*f, field_of("AM")))
		return false;
	f->p += 2;
	f->n -= 2;
	return true;
}

static bool
take_zone(struct field *f, struct date *d)
{
	size_t n = zone_at(*f, d->zone, &d->zone_n);

	f->p += n;
	f->n -= n;
	return n > 0;
}

static bool
take_piece(
    const struct form_piece *piece, struct field *f, const struct field *months, struct date *d)
{
	switch ((enum what)piece->what) {
	case LITERAL:
		if (f->n == 0 || *f->p != piece->literal)
			return false;
		f->p++;
		f->n--;
		return true;
	case YEAR:
		return take_number(f, 4, 4, &d->year);
	case YEAR_2:
		if (!take_number(f, 2, 2, &d->year))
			return false;
		d->year += 2000;
		return true;
	case MONTH:
	case MONTH_1:
		return take_number(f, piece->what == MONTH ? 2 : 1, 2, &d->month);
	case MONTH_NAME:
		return take_month(f, months, &d->month);
	case DAY:
	case DAY_1:
		return take_number(f, piece->what == DAY ? 2 : 1, 2, &d->day);
	case HOUR:
	case HOUR_1:
		return take_number(f, piece->what == HOUR ? 2 : 1, 2, &d->hour);
	case MINUTE:
		return take_number(f, 2, 2, &d->minute);
	case SECOND:
		return take_number(f, 2, 2, &d->second);
	case DECIMALS:
		return take_decimals(f, d);
	case HALF:
		return take_half(f, d);
	case ZONE:
		return take_zone(f, d);
	}
	return false;
}

static char *
digits(char *p, int n, int places)
{
	for (int i = places; i-- > 0; n /= 10)
		p[i] = (char)('0' + n % 10);
	return p + places;
}

/* YYYY-MM-DD[Thh:mm[:ss[.decimals]][zone]]; when_parse then says whether there is such a time */
static const char *
write_date(const struct form *form, const struct date *d, struct bytes *out)
{
	char text[48], *p = digits(text, d->year, 4);
	struct field f = { text, 0 };
	struct when w;

	*p++ = '-';
	p = digits(p, d->month, 2);
	*p++ = '-';
	p = digits(p, d->day, 2);
	if (form->has_time) {
		*p++ = 'T';
		p = digits(p, d->hour, 2);
		*p++ = ':';
		p = digits(p, d->minute, 2);
		if (form->has_seconds) {
			*p++ = ':';
			p = digits(p, d->second, 2);
		}
		if (d->decimals.n > 0) {
			*p++ = '.';
			memcpy(p, d->decimals.p, d->decimals.n);
			p += d->decimals.n;
		}
		memcpy(p, d->zone, d->zone_n);
		p += d->zone_n;
	}
	f.n = (size_t)(p - text);
	if (when_parse(f, &w) != 0)
		return when_fault(f);
	bytes_add_field(out, f);
	return NULL;
}

static const char *
by_pieces(const struct form *form, struct field f, struct field zone, const struct field *months,
    struct bytes *out)
{
	struct date d = { .zone_n = zone.n };

	if (zone.n > 0)
		memcpy(d.zone, zone.p, zone.n);
	for (size_t i = 0; i < form->n; i++)
		if (!take_piece(&form->piece[i], &f, months, &d))
			return "not a date of the map's form";
	if (f.n > 0)
		return "date with something behind it";
	if (d.has_half) {
		if (d.hour < 1 || d.hour > 12)
			return "no such hour with AM or PM";
		d.hour = d.hour % 12 + (d.afternoon ? 12 : 0);
	}
	return write_date(form, &d, out);
}

/* the Gregorian date so many days after 1970-01-01, by whole eras of 400 years from 0000-03-01 */
static void
date_of_day(int64_t day, struct date *d)
{
	enum { ERA_DAYS = 146097, EPOCH = 719468 /* 0000-03-01 to 1970-01-01 */ };
	int64_t n = day + EPOCH, era = (n >= 0 ? n : n - (ERA_DAYS - 1)) / ERA_DAYS;
	int doe = (int)(n - era * ERA_DAYS);
	int yoe = (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365;
	int doy = doe - (365 * yoe + yoe / 4 - yoe / 100), month = (5 * doy + 2) / 153;

	d->day = doy - (153 * month + 2) / 5 + 1;
	d->month = month < 10 ? month + 3 : month - 9;
	d->year = (int)(yoe + era * 400) + (d->month <= 2);
}

enum { DAY_S = 86400 };

static void
set_time(struct date *d, int64_t day, int64_t second)
{
	date_of_day(day, d);
	d->hour = (int)(second / 3600);
	d->minute = (int)(second / 60 % 60);
	d->second = (int)(second % 60);
}

/* a count, all of f: digits with or without decimals behind the mark */
static bool
read_count(struct field f, char point, int64_t *whole, struct field *decimals)
{
	struct field part = { f.p, 0 };

	while (part.n < f.n && num_is_digit(f.p[part.n]))
		part.n++;
	*decimals = (struct field){ f.p + part.n, 0 };
	if (part.n < f.n) {
		*decimals = (struct field){ f.p + part.n + 1, f.n - part.n - 1 };
		if (f.p[part.n] != point || decimals->n == 0)
			return false;
		for (size_t i = 0; i < decimals->n; i++)
			if (!num_is_digit(decimals->p[i]))
				return false;
	}
	return num_whole(part, whole) == 0;
}

/* the last second of the year 9999, and its day as spreadsheets count */
static const int64_t last_second = INT64_C(253402300799), last_serial = 2958465;

static const char *
by_unix(const struct form *form, struct field f, char point, struct bytes *out)
{
	struct date d = { .zone = "Z", .zone_n = 1 };
	int64_t whole;
	char ms[3];

	if (!read_count(f, point, &whole, &d.decimals) ||
	    (form->kind == FORM_UNIX_MS && d.decimals.n > 0))
		return "not a count of seconds";
	if (form->kind == FORM_UNIX_MS) {
		digits(ms, (int)(whole % 1000), 3);
		whole /= 1000;
		d.decimals = (struct field){ ms, 3 };
	}
	if (d.decimals.n > 9)
		d.decimals.n = 9;
	if (whole > last_second)
		return "beyond the year 9999";
	set_time(&d, whole / DAY_S, whole % DAY_S);
	return write_date(form, &d, out);
}

static const char *
by_serial(const struct form *form, struct field f, struct field zone, char point, struct bytes *out)
{
	enum { EPOCH = 25569, DIGITS = 12 /* a day's second has five */ };
	const int64_t unit = INT64_C(1000000000000);
	struct date d = { .zone_n = zone.n };
	int64_t whole, part = 0, second;
	struct field decimals;

	if (!read_count(f, point, &whole, &decimals))
		return "not a count of days";
	if (whole > last_serial)
		return "beyond the year 9999";
	for (size_t i = 0; i < DIGITS; i++)
		part = part * 10 + (i < decimals.n ? decimals.p[i] - '0' : 0);
	second = (part * DAY_S + unit / 2) / unit;
	if (zone.n > 0)
		memcpy(d.zone, zone.p, zone.n);
	set_time(&d, whole - EPOCH + second / DAY_S, second % DAY_S);
	return write_date(form, &d, out);
}

const char *
form_convert(const struct form *form, struct field f, struct field zone,
    const struct field months[FORM_MONTHS], char point, struct bytes *out)
{
	switch (form->kind) {
	case FORM_UNIX:
	case FORM_UNIX_MS:
		return by_unix(form, f, point, out);
	case FORM_SERIAL:
		return by_serial(form, f, zone, point, out);
	case FORM_PIECES:
		break;
	}
	return by_pieces(form, f, zone, months, out);
}
