#include "import/decimal.h"

#include "base/num.h"

static const char minus_sign[] = "\xe2\x88\x92";

/* how many bytes of a grouping mark stand at the start of f */
static size_t
mark_at(struct field f, char grouping)
{
	static const struct {
		char grouping;
		const char *mark;
	} marks[] = { { DECIMAL_POINT, "." }, { DECIMAL_COMMA, "," }, { DECIMAL_BLANK, " " },
		{ DECIMAL_BLANK, "\xc2\xa0" }, { DECIMAL_BLANK, "\xe2\x80\xaf" },
		{ DECIMAL_BLANK, "\xe2\x80\x89" }, { DECIMAL_APOSTROPHE, "'" },
		{ DECIMAL_APOSTROPHE, "\xe2\x80\x99" } };

	for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++)
		if (marks[i].grouping == grouping && field_starts(f, marks[i].mark))
			return strlen(marks[i].mark);
	return 0;
}

static size_t
sign_at(struct field f)
{
	if (field_starts(f, minus_sign))
		return sizeof minus_sign - 1;
	return field_starts(f, "-") || field_starts(f, "+");
}

/* What may stand before the digits in this style: how many bytes. */
static size_t
start_at(struct field f, const struct decimal_style *style)
{
	size_t n = sign_at(f);

	if (n == 0 && (style->minus & DECIMAL_BRACKETS) && field_starts(f, "("))
		return 1;
	while (n > 0 && *f.p != '+' && (style->minus & DECIMAL_APART) && n < f.n && f.p[n] == ' ')
		n++;
	return n;
}

/* What ends a number below zero in this style, behind its digits: how many bytes. */
static size_t
end_at(struct field rest, char first, const struct decimal_style *style)
{
	size_t n = sign_at(rest);

	if (first == '(')
		return field_starts(rest, ")");
	return (style->minus & DECIMAL_BEHIND) && n > 0 && *rest.p != '+' && num_is_digit(first)
		   ? n
		   : 0;
}

/*
 * The digits before the decimals, with or without groups: how many bytes, the digits appended to
 * `to` if that is not NULL.
 */
static size_t
whole_part(struct field f, char grouping, struct bytes *to)
{
	size_t n = num_digits(f), mark;
	struct field first = { f.p + n, 0 };

	if (to != NULL)
		bytes_add(to, f.p, n);
	if (n == 0 || n > 3 || *f.p == '0')
		return n;
	while ((mark = mark_at(field_behind(f, n), grouping)) > 0) {
		struct field rest = field_behind(f, n);

		if (first.n == 0)
			first.n = mark;
		if (mark != first.n || memcmp(rest.p, first.p, mark) != 0 ||
		    num_digits(field_behind(rest, mark)) != 3)
			break;
		if (to != NULL)
			bytes_add(to, rest.p + mark, 3);
		n += mark + 3;
	}
	return n;
}

/* An exponent at the start of f, its e included: how many bytes, 0 if it is none. */
static size_t
exponent_at(struct field f, int64_t *exponent)
{
	size_t n = 1;

	if (f.n < 2 || (*f.p != 'e' && *f.p != 'E'))
		return 0;
	n += f.p[1] == '-' || f.p[1] == '+';
	n += num_digits(field_behind(f, n));
	return num_exponent(f.p + 1, f.p + n, exponent) ? n : 0;
}

/* The number at the start of f: how many bytes; its digits and exponent go to d if not NULL. */
static size_t
number_at(struct field f, const struct decimal_style *style, struct decimal *d)
{
	size_t start = start_at(f, style), n = start, whole, decimals = 0, end;
	int64_t written = 0;

	whole = whole_part(field_behind(f, n), style->grouping, d != NULL ? &d->digits : NULL);
	n += whole;
	if (n < f.n && f.p[n] == style->point) {
		decimals = num_digits(field_behind(f, n + 1));
		if (whole + decimals > 0)
			n += 1 + decimals;
	}
	if (whole + decimals == 0)
		return 0;
	if (d != NULL)
		bytes_add(&d->digits, f.p + n - decimals, decimals);
	n += exponent_at(field_behind(f, n), &written);
	end = end_at(field_behind(f, n), *f.p, style);
	if (*f.p == '(' && end == 0)
		return 0;
	if (d != NULL) {
		d->negative = (start > 0 && *f.p != '+') || end > 0;
		d->exponent = written - (int64_t)decimals;
	}
	return n + end;
}

size_t
decimal_span(struct field f, const struct decimal_style *style)
{
	return number_at(f, style, NULL);
}

static void
strip_zeros(struct decimal *d)
{
	size_t zeros = 0;

	while (zeros + 1 < d->digits.n && d->digits.p[zeros] == '0')
		zeros++;
	d->digits.n -= zeros;
	memmove(d->digits.p, d->digits.p + zeros, d->digits.n);
}

/* Why the field is no number: that of num.h, seen with a point in the place of the mark. */
static const char *
fault(struct field f, const struct decimal_style *style, struct decimal *d)
{
	struct field text;
	bool points = false;
	double x;

	d->text.n = 0;
	for (size_t i = 0; i < f.n; i++) {
		points |= f.p[i] == '.';
		bytes_add(&d->text, f.p[i] == ',' ? "." : f.p + i, 1);
	}
	text = bytes_field(&d->text);
	if (style->point == ',' && points && style->grouping != DECIMAL_POINT &&
	    decimal_span(f, &(struct decimal_style){ '.', DECIMAL_NONE }) > 0)
		return "point in the number: the map says decimal comma";
	if (num_parse(text, &x) != 0)
		return num_fault(style->point == ',' ? text : f);
	if (style->point == '.' && !points && style->grouping != DECIMAL_COMMA)
		return "decimal comma: the map says decimal point";
	return "grouping mark not between groups of three digits";
}

const char *
decimal_read(struct field f, const struct decimal_style *style, struct decimal *d)
{
	size_t n;

	d->digits.n = 0;
	n = number_at(f, style, d);
	if (n == 0 || n != f.n)
		return fault(f, style, d);
	if (d->exponent > DECIMAL_EXPONENT ||
	    d->exponent < -DECIMAL_EXPONENT - (int64_t)d->digits.n)
		return "exponent too large";
	strip_zeros(d);
	return NULL;
}

void
decimal_times(struct decimal *d, uint64_t factor, int power)
{
	uint64_t carry = 0;
	size_t room = 0;

	for (uint64_t f = factor; f > 0; f /= 10)
		room++;
	bytes_room(&d->digits, room);
	memmove(d->digits.p + room, d->digits.p, d->digits.n);
	d->digits.n += room;
	memset(d->digits.p, '0', room);
	/* carry stays below factor, so the sum stays below 10 factor: it fits */
	for (size_t i = d->digits.n; i-- > 0;) {
		carry += factor * (uint64_t)(d->digits.p[i] - '0');
		d->digits.p[i] = (char)('0' + carry % 10);
		carry /= 10;
	}
	d->exponent += power;
	strip_zeros(d);
}

void
decimal_round(struct decimal *d, size_t digits)
{
	size_t i = digits;
	bool up;

	if (d->digits.n <= digits)
		return;
	up = d->digits.p[digits] >= '5';
	d->exponent += (int64_t)(d->digits.n - digits);
	d->digits.n = digits;
	while (up && i-- > 0) {
		up = d->digits.p[i] == '9';
		d->digits.p[i] = up ? '0' : (char)(d->digits.p[i] + 1);
	}
	if (up) {
		/* all nines: 10...0, of which one zero too many */
		d->digits.p[0] = '1';
		d->exponent++;
	}
}

bool
decimal_to_whole(struct decimal *d)
{
	size_t keep = d->digits.n, decimals = d->exponent < 0 ? (size_t)-d->exponent : 0;

	for (size_t i = 0; i < decimals && keep > 0; i++)
		if (d->digits.p[--keep] != '0')
			return false;
	if (decimals == 0)
		return true;
	d->exponent = 0;
	d->digits.n = keep;
	if (keep == 0)
		bytes_add_text(&d->digits, "0");
	return true;
}

static void
add_zeros(struct bytes *out, int64_t n)
{
	if (n > 0) {
		memset(bytes_room(out, (size_t)n), '0', (size_t)n);
		out->n += (size_t)n;
	}
}

void
decimal_write(const struct decimal *d, struct bytes *out)
{
	const struct bytes *digits = &d->digits;
	int64_t decimals = d->exponent < 0 ? -d->exponent : 0,
		whole = (int64_t)digits->n - decimals;
	size_t before = whole > 0 ? (size_t)whole : 0;
	bool zero = digits->n == 1 && digits->p[0] == '0';

	if (d->negative && !zero)
		bytes_add_text(out, "-");
	if (decimals == 0) {
		bytes_add(out, digits->p, digits->n);
		add_zeros(out, zero ? 0 : d->exponent);
		return;
	}
	bytes_add(out, digits->p, before);
	bytes_add_text(out, before > 0 ? "." : "0.");
	add_zeros(out, -whole);
	bytes_add(out, digits->p + before, digits->n - before);
}

void
decimal_free(struct decimal *d)
{
	bytes_free(&d->digits);
	bytes_free(&d->text);
}
