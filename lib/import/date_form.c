#include "import/date_form.h"

#include "base/num.h"
#include "base/when.h"

const char *const date_months_usual = "Jan;Feb;Mar;Apr;May;Jun;Jul;Aug;Sep;Oct;Nov;Dec";

enum { DAY_S = 86400 };

/* what a piece of a form reads; of those that read the same thing only one may stand in a form */
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

enum {
	A_YEAR = 1,
	A_MONTH = 2,
	A_DAY = 4,
	AN_HOUR = 8,
	A_MINUTE = 16,
	A_SECOND = 32,
	A_PART = 64,
	A_HALF = 128,
	A_ZONE = 256,
	A_DATE = A_YEAR | A_MONTH | A_DAY,
	A_TIME = AN_HOUR | A_MINUTE
};

/* longest first, so that the first that fits is meant */
static const struct {
	const char *text;
	unsigned char what;
	unsigned short reads;
} marks[] = { { "YYYY", YEAR, A_YEAR }, { "MON", MONTH_NAME, A_MONTH }, { "YY", YEAR_2, A_YEAR },
	{ "MM", MONTH, A_MONTH }, { "DD", DAY, A_DAY }, { "hh", HOUR, AN_HOUR },
	{ "mm", MINUTE, A_MINUTE }, { "ss", SECOND, A_SECOND }, { "AM", HALF, A_HALF },
	{ "M", MONTH_1, A_MONTH }, { "D", DAY_1, A_DAY }, { "h", HOUR_1, AN_HOUR },
	{ "f", DECIMALS, A_PART }, { "Z", ZONE, A_ZONE } };

static bool
is_letter(char c)
{
	return (unsigned)((c | 0x20) - 'a') < 26;
}

/* --- the form -------------------------------------------------------------------------------- */

static const char *
add_piece(struct date_form *form, struct field *spec, unsigned *seen)
{
	struct date_piece piece = { LITERAL, *spec->p };
	size_t n = 1;

	for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++)
		if (field_starts(*spec, marks[i].text)) {
			piece.what = marks[i].what;
			n = strlen(marks[i].text);
			if (*seen & marks[i].reads)
				return "date form with the same thing twice";
			*seen |= marks[i].reads;
			break;
		}
	if (piece.what == LITERAL && is_letter(piece.literal) && piece.literal != 'T')
		return "date form with a letter that means nothing";
	if (form->n == DATE_PIECES_MOST)
		return "date form too long";
	form->piece[form->n++] = piece;
	spec->p += n;
	spec->n -= n;
	return NULL;
}

/* Where everything stands, if each piece has as many letters in every date; a zone may end it. */
static void
find_places(struct date_form *form)
{
	static const signed char of[] = {
		[YEAR] = 0, [MONTH] = 1, [DAY] = 2, [HOUR] = 3, [MINUTE] = 4, [SECOND] = 5
	};
	unsigned char n = 0;

	for (size_t i = 0; i < 6; i++)
		form->at[i] = UINT8_MAX;
	for (size_t i = 0; i < form->n; i++) {
		const struct date_piece *piece = &form->piece[i];

		if (piece->what == ZONE && i + 1 == form->n)
			break;
		if (piece->what == LITERAL) {
			form->literals[n++] = piece->literal;
			continue;
		}
		if (piece->what != YEAR && piece->what != MONTH && piece->what != DAY &&
		    piece->what != HOUR && piece->what != MINUTE && piece->what != SECOND)
			return;
		form->at[of[piece->what]] = n;
		n = (unsigned char)(n + (piece->what == YEAR ? 4 : 2));
	}
	form->length = n;
	form->ends_in_zone = form->piece[form->n - 1].what == ZONE;
}

const char *
date_form_compile(struct field spec, struct date_form *form)
{
	static const char names[] = "unix unix_ms serial";
	size_t kind = field_among(field_of(names), ' ', spec);
	unsigned seen = 0;
	const char *why = NULL;

	*form = (struct date_form){ .has_time = true, .has_seconds = true };
	if (kind != SIZE_MAX) {
		form->kind = (enum date_form_kind)(DATE_UNIX + kind);
		return NULL;
	}
	while (spec.n > 0 && why == NULL)
		why = add_piece(form, &spec, &seen);
	if (why != NULL)
		return why;
	if ((seen & A_DATE) != A_DATE)
		return "date form without year, month or day";
	form->has_time = seen & A_TIME;
	form->has_seconds = seen & A_SECOND;
	if (form->has_time ? (seen & A_TIME) != A_TIME : seen > A_DATE)
		return "date form with half a time";
	if ((seen & A_PART) && !form->has_seconds)
		return "date form with decimals of no second";
	find_places(form);
	return NULL;
}

/* --- zones and months ------------------------------------------------------------------------ */

static bool
two_digits(const char *p)
{
	return num_is_digit(p[0]) && num_is_digit(p[1]);
}

/* Z, +hh:mm, +hhmm or +hh at the start of f: how many bytes */
static size_t
zone_at(struct field f, struct date_zone *zone)
{
	size_t taken = 3;

	if (field_starts(f, "Z")) {
		*zone = (struct date_zone){ "Z", 1 };
		return 1;
	}
	if (f.n < 3 || (f.p[0] != '+' && f.p[0] != '-') || !two_digits(f.p + 1))
		return 0;
	memcpy(zone->iso, f.p, 3);
	memcpy(zone->iso + 3, ":00", 3);
	zone->n = 6;
	if (f.n >= 6 && f.p[3] == ':' && two_digits(f.p + 4))
		taken = 6;
	else if (f.n >= 5 && two_digits(f.p + 3))
		taken = 5;
	if (taken > 3)
		memcpy(zone->iso + 4, f.p + taken - 2, 2);
	return memcmp(zone->iso + 1, "14:00", 5) <= 0 && zone->iso[4] < '6' ? taken : 0;
}

bool
date_zone_read(struct field f, struct date_zone *zone)
{
	if (field_starts(f, "UTC"))
		f = f.n == 3 ? field_of("Z") : (struct field){ f.p + 3, f.n - 3 };
	return f.n != 5 && f.n > 0 && zone_at(f, zone) == f.n;
}

bool
date_months_read(struct field list, struct field months[DATE_MONTHS])
{
	int n = 0;

	while (list.p != NULL) {
		struct field name = field_cut(&list, ';');

		if (n == DATE_MONTHS || name.n == 0)
			return false;
		months[n++] = name;
	}
	return n == DATE_MONTHS;
}

/* --- dates ----------------------------------------------------------------------------------- */

/* from `least` to `most` digits at the start of *f */
static inline bool
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

/* a word in any case of ASCII letters at the start of *f, taken */
static bool
take_word(struct field *f, struct field word)
{
	if (f->n < word.n)
		return false;
	for (size_t i = 0; i < word.n; i++)
		if (f->p[i] != word.p[i] && !(is_letter(f->p[i]) && (f->p[i] ^ word.p[i]) == 0x20))
			return false;
	f->p += word.n;
	f->n -= word.n;
	return true;
}

/* the longest of the names that stands here */
static bool
take_month(struct field *f, const struct field *months, int *month)
{
	struct field usual[DATE_MONTHS], best = *f;

	if (months == NULL) {
		if (!date_months_read(field_of(date_months_usual), usual))
			return false;
		months = usual;
	}
	for (int i = 0; i < DATE_MONTHS; i++) {
		struct field rest = *f;

		if (take_word(&rest, months[i]) && rest.n < best.n) {
			best = rest;
			*month = i + 1;
		}
	}
	*f = best;
	return *month > 0;
}

/* AM and PM, with points or without: the hour is then 1 to 12 */
static bool
take_half(struct field *f, int *half)
{
	if (take_word(f, field_of("AM")) || take_word(f, field_of("A.M.")))
		*half = 1;
	else if (take_word(f, field_of("PM")) || take_word(f, field_of("P.M.")))
		*half = 2;
	return *half > 0;
}

static bool
take_zone(struct field *f, struct date *d)
{
	size_t n = zone_at(*f, &d->zone);

	f->p += n;
	f->n -= n;
	return n > 0;
}

static bool
take_piece(const struct date_piece *piece, struct field *f, const struct field *months,
    struct date *d, int *half)
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
		return take_half(f, half);
	case ZONE:
		return take_zone(f, d);
	}
	return false;
}

/* Whether there is such a time; why not, in the words of when.h. */
static const char *
check(const struct date_form *form, const struct date *d)
{
	struct bytes text = { NULL, 0, 0 };
	const char *why;

	if (d->year == 0)
		return "year 0000: a clock that was not set";
	if (d->month >= 1 && d->month <= 12 && d->day >= 1 &&
	    d->day <= when_month_days(d->year, d->month) && d->hour <= 23 && d->minute <= 59 &&
	    d->second <= 59)
		return NULL;
	date_form_write(form, d, &text);
	why = when_fault(bytes_field(&text));
	bytes_free(&text);
	return why;
}

/* Two digits that are known to be there, or 0 if the form has none of it. */
static inline int
two_at(const char *p, unsigned char at)
{
	return at == UINT8_MAX ? 0 : (p[at] - '0') * 10 + (p[at + 1] - '0');
}

/* A date of a form with its places, read at them. false: it is none, or its zone is not the usual Z. */
static inline bool
by_places(const struct date_form *form, struct field f, struct date *d)
{
	const size_t n = form->length;
	bool good = true;

	if (n == 0 || f.n != n + form->ends_in_zone)
		return false;
	for (size_t i = 0; i < n; i++)
		good &=
		    form->literals[i] == '\0' ? num_is_digit(f.p[i]) : f.p[i] == form->literals[i];
	if (!good || (form->ends_in_zone && f.p[n] != 'Z'))
		return false;
	if (form->ends_in_zone)
		d->zone = (struct date_zone){ "Z", 1 };
	d->year = two_at(f.p, form->at[0]) * 100 + two_at(f.p + 2, form->at[0]);
	d->month = two_at(f.p, form->at[1]);
	d->day = two_at(f.p, form->at[2]);
	d->hour = two_at(f.p, form->at[3]);
	d->minute = two_at(f.p, form->at[4]);
	d->second = two_at(f.p, form->at[5]);
	return true;
}

static const char *
by_pieces(
    const struct date_form *form, struct field f, const struct date_style *style, struct date *d)
{
	int half = 0;

	if (by_places(form, f, d))
		return check(form, d);
	for (const struct date_piece *p = form->piece; p < form->piece + form->n; p++)
		if (!take_piece(p, &f, style->months, d, &half))
			return "not a date of the map's form";
	if (f.n > 0)
		return "date with something behind it";
	if (half > 0 && (d->hour < 1 || d->hour > 12))
		return "no such hour with AM or PM";
	if (half > 0)
		d->hour = d->hour % 12 + (half == 2 ? 12 : 0);
	return check(form, d);
}

static void
set_time(struct date *d, int64_t day, int64_t second)
{
	when_date(day, &d->year, &d->month, &d->day);
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
by_unix(struct field f, char point, bool thousandths, struct date *d)
{
	int64_t whole;
	size_t n = 0;

	d->zone = (struct date_zone){ "Z", 1 };
	if (!read_count(f, point, &whole, &d->decimals))
		return thousandths ? "not a count of thousandths of a second"
				   : "not a count of seconds";
	if (thousandths) {
		/* the last three digits of the count are decimals, those it has stand behind them */
		for (int64_t ms = whole % 1000, unit = 100; unit > 0; unit /= 10)
			d->part[n++] = (char)('0' + ms / unit % 10);
		whole /= 1000;
	}
	for (size_t i = 0; i < d->decimals.n && n < sizeof d->part; i++)
		d->part[n++] = d->decimals.p[i];
	d->decimals = (struct field){ NULL, n };
	if (whole > last_second)
		return "beyond the year 9999";
	set_time(d, whole / DAY_S, whole % DAY_S);
	return NULL;
}

static const char *
by_serial(struct field f, char point, struct date *d)
{
	enum { EPOCH = 25569, DIGITS = 12 /* a day's second has five */ };
	const int64_t unit = INT64_C(1000000000000);
	int64_t whole, part = 0, second;
	struct field decimals;

	if (!read_count(f, point, &whole, &decimals))
		return "not a count of days";
	if (whole > last_serial)
		return "beyond the year 9999";
	if (whole == 0)
		return "a time of day without a date";
	for (size_t i = 0; i < DIGITS; i++)
		part = part * 10 + (i < decimals.n ? decimals.p[i] - '0' : 0);
	second = (part * DAY_S + unit / 2) / unit;
	set_time(d, whole - EPOCH + second / DAY_S, second % DAY_S);
	return d->year > 9999 ? "beyond the year 9999" : NULL;
}

const char *
date_form_read(
    const struct date_form *form, struct field f, const struct date_style *style, struct date *d)
{
	*d = (struct date){ .zone = style->zone };
	switch (form->kind) {
	case DATE_UNIX:
	case DATE_UNIX_MS:
		return by_unix(f, style->point, form->kind == DATE_UNIX_MS, d);
	case DATE_SERIAL:
		return by_serial(f, style->point, d);
	case DATE_PIECES:
		break;
	}
	return by_pieces(form, f, style, d);
}

/* --- written --------------------------------------------------------------------------------- */

static inline char *
two(char *p, int n)
{
	p[0] = (char)('0' + n / 10);
	p[1] = (char)('0' + n % 10);
	return p + 2;
}

void
date_form_write(const struct date_form *form, const struct date *d, struct bytes *out)
{
	char *text = bytes_room(out, 48), *p = two(text, d->year / 100);

	p = two(p, d->year % 100);
	*p++ = '-';
	p = two(p, d->month);
	*p++ = '-';
	p = two(p, d->day);
	if (form->has_time) {
		*p++ = 'T';
		p = two(p, d->hour);
		*p++ = ':';
		p = two(p, d->minute);
		if (form->has_seconds) {
			*p++ = ':';
			p = two(p, d->second);
		}
		if (d->decimals.n > 0) {
			*p++ = '.';
			memcpy(p, d->decimals.p != NULL ? d->decimals.p : d->part, d->decimals.n);
			p += d->decimals.n;
		}
		memcpy(p, d->zone.iso, d->zone.n);
		p += d->zone.n;
	}
	out->n += (size_t)(p - text);
}
