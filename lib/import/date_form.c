#include "import/date_form.h"

#include "base/num.h"
#include "base/when.h"

const char *const date_months_usual = "Jan;Feb;Mar;Apr;May;Jun;Jul;Aug;Sep;Oct;Nov;Dec";

enum { DAY_S = 86400 };

/* what a piece of a form reads, besides the units of a date; a form may have each of them once */
enum { DECIMALS = DATE_UNITS, HALF, ZONE, LITERAL, MONTH_NAME };

enum {
	A_DATE = 1 << DATE_YEAR | 1 << DATE_MONTH | 1 << DATE_DAY,
	A_TIME = 1 << DATE_HOUR | 1 << DATE_MINUTE
};

/* longest first, so that the first that fits is meant */
static const struct {
	const char *text;
	unsigned char what, least, most; /* how many digits */
} marks[] = { { "YYYY", DATE_YEAR, 4, 4 }, { "MON", MONTH_NAME, 0, 0 }, { "YY", DATE_YEAR, 2, 2 },
	{ "MM", DATE_MONTH, 2, 2 }, { "DD", DATE_DAY, 2, 2 }, { "hh", DATE_HOUR, 2, 2 },
	{ "mm", DATE_MINUTE, 2, 2 }, { "ss", DATE_SECOND, 2, 2 }, { "AM", HALF, 0, 0 },
	{ "M", DATE_MONTH, 1, 2 }, { "D", DATE_DAY, 1, 2 }, { "h", DATE_HOUR, 1, 2 },
	{ "f", DECIMALS, 0, 0 }, { "Z", ZONE, 0, 0 } };

static bool
is_letter(char c)
{
	return (unsigned)((c | 0x20) - 'a') < 26;
}

/* --- the form -------------------------------------------------------------------------------- */

static const char *
add_piece(struct date_form *form, struct field *spec, int *seen)
{
	struct date_piece piece = { LITERAL, *spec->p, 0, 0 };
	size_t n = 1;

	for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++)
		if (field_starts(*spec, marks[i].text)) {
			int thing = 1 << (marks[i].what == MONTH_NAME ? DATE_MONTH : marks[i].what);

			piece = (struct date_piece){ marks[i].what, '\0', marks[i].least,
				marks[i].most };
			n = strlen(marks[i].text);
			if (*seen & thing)
				return "date form with the same thing twice";
			*seen |= thing;
			break;
		}
	if (piece.what == LITERAL && is_letter(piece.literal) && piece.literal != 'T')
		return "date form with a letter that means nothing";
	if (form->n == DATE_PIECES_MOST)
		return "date form too long";
	form->piece[form->n++] = piece;
	*spec = field_behind(*spec, n);
	return NULL;
}

/* Finds the place of each piece, if every date has the same length; a zone may follow at the end. */
static void
find_places(struct date_form *form)
{
	unsigned char n = 0;

	memset(form->at, UINT8_MAX, sizeof form->at);
	for (size_t i = 0; i < form->n; i++) {
		const struct date_piece *piece = &form->piece[i];

		if (piece->what == ZONE && i + 1 == form->n)
			break;
		if (piece->what == LITERAL) {
			form->literals[n++] = piece->literal;
			continue;
		}
		if (piece->what >= DATE_UNITS || piece->least < piece->most ||
		    (piece->what == DATE_YEAR && piece->most == 2))
			return;
		form->at[piece->what] = n;
		n = (unsigned char)(n + piece->most);
	}
	form->length = n;
	form->ends_in_zone = form->piece[form->n - 1].what == ZONE;
}

const char *
date_form_compile(struct field spec, struct date_form *form)
{
	static const char names[] = "unix unix_ms serial";
	size_t kind = field_among(field_of(names), ' ', spec);
	int seen = 0;
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
	form->has_seconds = seen & 1 << DATE_SECOND;
	if (form->has_time ? (seen & A_TIME) != A_TIME : seen > A_DATE)
		return "date form with half a time";
	if ((seen & 1 << DECIMALS) && !form->has_seconds)
		return "date form with decimals of no second";
	find_places(form);
	return NULL;
}

/* --- zones and months ------------------------------------------------------------------------ */

static bool
are_digits(const char *p)
{
	return num_is_digit(p[0]) && num_is_digit(p[1]);
}

static inline int
two_digits(const char *p)
{
	return (p[0] - '0') * 10 + (p[1] - '0');
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
	if (f.n < 3 || (f.p[0] != '+' && f.p[0] != '-') || !are_digits(f.p + 1))
		return 0;
	memcpy(zone->iso, f.p, 3);
	memcpy(zone->iso + 3, ":00", 3);
	zone->n = 6;
	if (f.n >= 6 && f.p[3] == ':' && are_digits(f.p + 4))
		taken = 6;
	else if (f.n >= 5 && are_digits(f.p + 3))
		taken = 5;
	if (taken > 3)
		memcpy(zone->iso + 4, f.p + taken - 2, 2);
	return memcmp(zone->iso + 1, "14:00", 5) <= 0 && zone->iso[4] < '6' ? taken : 0;
}

bool
date_zone_read(struct field f, struct date_zone *zone)
{
	if (field_starts(f, "UTC"))
		f = f.n == 3 ? field_of("Z") : field_behind(f, 3);
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
	*f = field_behind(*f, k);
	return k >= least;
}

/* a word in any case of ASCII letters at the start of *f, taken */
static bool
take_word(struct field *f, struct field word)
{
	if (f->n < word.n || !field_same_word((struct field){ f->p, word.n }, word))
		return false;
	*f = field_behind(*f, word.n);
	return true;
}

/* the longest of the names that stands here */
static bool
take_month(struct field *f, const struct field *months, int *month)
{
	struct field best = *f;

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
take_piece(const struct date_piece *piece, struct field *f, const struct field *months,
    struct date *d, int *half)
{
	size_t zone;

	switch (piece->what) {
	case LITERAL:
		if (f->n == 0 || *f->p != piece->literal)
			return false;
		*f = field_behind(*f, 1);
		return true;
	case MONTH_NAME:
		return take_month(f, months, &d->at[DATE_MONTH]);
	case DECIMALS:
		d->decimals = (struct field){ f->p, num_digits(*f) };
		*f = field_behind(*f, d->decimals.n);
		return d->decimals.n >= 1 && d->decimals.n <= 9;
	case HALF:
		return take_half(f, half);
	case ZONE:
		zone = zone_at(*f, &d->zone);
		*f = field_behind(*f, zone);
		return zone > 0;
	}
	if (!take_number(f, piece->least, piece->most, &d->at[piece->what]))
		return false;
	d->at[piece->what] += piece->what == DATE_YEAR && piece->most == 2 ? 2000 : 0;
	return true;
}

/* Whether there is such a time; why not, in the words of when.h. */
static const char *
check(const struct date_form *form, const struct date *d)
{
	static const int least[] = { 0, 1, 1, 0, 0, 0 }, most[] = { 9999, 12, 31, 23, 59, 59 };
	struct bytes text = { NULL, 0, 0 };
	const char *why;
	bool good = true;

	if (d->at[DATE_YEAR] == 0)
		return "year 0000: a clock that was not set";
	for (int i = 0; i < DATE_UNITS; i++)
		good &= d->at[i] >= least[i] && d->at[i] <= most[i];
	if (good && d->at[DATE_DAY] <= when_month_days(d->at[DATE_YEAR], d->at[DATE_MONTH]))
		return NULL;
	date_form_write(form, d, &text);
	why = when_fault(bytes_field(&text));
	bytes_free(&text);
	return why;
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
	for (int i = 0; i < DATE_UNITS; i++)
		if (form->at[i] < UINT8_MAX)
			d->at[i] = two_digits(f.p + form->at[i]);
	d->at[DATE_YEAR] = d->at[DATE_YEAR] * 100 + two_digits(f.p + form->at[DATE_YEAR] + 2);
	return true;
}

static const char *
by_pieces(
    const struct date_form *form, struct field f, const struct date_style *style, struct date *d)
{
	int half = 0, *hour = &d->at[DATE_HOUR];

	if (by_places(form, f, d))
		return check(form, d);
	for (const struct date_piece *p = form->piece; p < form->piece + form->n; p++)
		if (!take_piece(p, &f, style->months, d, &half))
			return "not a date of the map's form";
	if (f.n > 0)
		return "date with something behind it";
	if (half > 0 && (*hour < 1 || *hour > 12))
		return "no such hour with AM or PM";
	if (half > 0)
		*hour = *hour % 12 + (half == 2 ? 12 : 0);
	return check(form, d);
}

static void
set_time(struct date *d, int64_t day, int64_t second)
{
	when_date(day, &d->at[DATE_YEAR], &d->at[DATE_MONTH], &d->at[DATE_DAY]);
	d->at[DATE_HOUR] = (int)(second / 3600);
	d->at[DATE_MINUTE] = (int)(second / 60 % 60);
	d->at[DATE_SECOND] = (int)(second % 60);
}

/* a count, all of f: digits with or without decimals behind the mark */
static bool
read_count(struct field f, char point, int64_t *whole, struct field *decimals)
{
	struct field part = { f.p, num_digits(f) };

	*decimals = field_behind(f, part.n);
	if (decimals->n > 0) {
		*decimals = field_behind(*decimals, 1);
		if (f.p[part.n] != point || decimals->n == 0 || num_digits(*decimals) < decimals->n)
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
	return d->at[DATE_YEAR] > 9999 ? "beyond the year 9999" : NULL;
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
two(char *p, char before, int n)
{
	p[0] = before;
	p[1] = (char)('0' + n / 10);
	p[2] = (char)('0' + n % 10);
	return p + 3;
}

void
date_form_write(const struct date_form *form, const struct date *d, struct bytes *out)
{
	char *text = bytes_room(out, 48), *p = text;

	p = two(p, (char)('0' + d->at[DATE_YEAR] / 1000), d->at[DATE_YEAR] / 10 % 100);
	*p++ = (char)('0' + d->at[DATE_YEAR] % 10);
	p = two(p, '-', d->at[DATE_MONTH]);
	p = two(p, '-', d->at[DATE_DAY]);
	if (form->has_time) {
		p = two(p, 'T', d->at[DATE_HOUR]);
		p = two(p, ':', d->at[DATE_MINUTE]);
		if (form->has_seconds)
			p = two(p, ':', d->at[DATE_SECOND]);
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
