/*
 * date_form: dates as an export writes them, made into ISO 8601.
 *
 *	struct date_form form;
 *	struct date_style style = { .point = '.' };
 *	struct date date;
 *	const char *why = date_form_compile(field_of("DD.MM.YYYY hh:mm"), &form);
 *
 *	if (why == NULL)
 *		why = date_form_read(&form, field, &style, &date);
 *	if (why == NULL)
 *		date_form_write(&form, &date, &out);
 *
 * The forms are those of thrum-map(5).
 */
#ifndef THRUM_IMPORT_DATE_FORM_H
#define THRUM_IMPORT_DATE_FORM_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"

enum date_form_kind { DATE_PIECES, DATE_UNIX, DATE_UNIX_MS, DATE_SERIAL };

enum { DATE_YEAR, DATE_MONTH, DATE_DAY, DATE_HOUR, DATE_MINUTE, DATE_SECOND, DATE_UNITS };

enum { DATE_PIECES_MOST = 32, DATE_MONTHS = 12 };

struct date_form {
	enum date_form_kind kind;
	size_t n;
	struct date_piece {
		unsigned char what; /* a unit, or the form's own */
		char literal;
		unsigned char least, most; /* digits */
	} piece[DATE_PIECES_MOST];
	bool has_time, has_seconds;
	/* of a form that says how many letters each piece has: its length without a zone, 0 of others */
	unsigned char length;
	bool ends_in_zone;
	char literals[DATE_PIECES_MOST * 4]; /* what must stand there, '\0' for a digit */
	unsigned char at[DATE_UNITS];        /* where each stands; UINT8_MAX: it has none */
};

/* a zone as ISO 8601 writes it: Z or +hh:mm; n 0: none */
struct date_zone {
	char iso[6];
	size_t n;
};

/* what an export's dates need besides their form */
struct date_style {
	struct date_zone zone;      /* of dates that do not tell their own */
	const struct field *months; /* DATE_MONTHS names */
	char point;                 /* the decimal mark of DATE_SERIAL and the two of DATE_UNIX */
};

/* a date that there is */
struct date {
	int at[DATE_UNITS];
	struct field decimals; /* of the second, in the text it was read from; p NULL: in part */
	char part[9];
	struct date_zone zone;
};

/* What a map says in `form`. NULL, or why it is none, fit for a message. */
const char *date_form_compile(struct field spec, struct date_form *form);

/* A zone as a map writes it: Z, +hh:mm or UTC+hh:mm. false: it is none. */
bool date_zone_read(struct field f, struct date_zone *zone);

/* The twelve names, separated by ';'. false: there are not twelve, or one is empty. */
bool date_months_read(struct field list, struct field months[DATE_MONTHS]);

extern const char *const date_months_usual;

/* The whole field as a date of this form. NULL, or why not, fit for a message. */
const char *date_form_read(const struct date_form *form, struct field f,
    const struct date_style *style, struct date *date);

/* Appends it as ISO 8601, as long as the form: a date, minutes, seconds or decimals. */
void date_form_write(const struct date_form *form, const struct date *date, struct bytes *out);

#endif
