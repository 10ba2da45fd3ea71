/*
 * date_form: dates as an export writes them, made into ISO 8601.
 *
 *	struct form form;
 *	const char *why = form_read_spec(field_of("DD.MM.YYYY hh:mm"), &form);
 *
 *	if (why == NULL)
 *		why = form_convert(&form, field, zone, months, &out);
 *
 * The forms are those of thrum-map(5).
 */
#ifndef THRUM_IMPORT_DATE_FORM_H
#define THRUM_IMPORT_DATE_FORM_H

#include <stdbool.h>
#include <stdint.h>

#include "base/bytes.h"

enum form_kind { FORM_PIECES, FORM_UNIX, FORM_UNIX_MS, FORM_SERIAL };

enum { FORM_PIECES_MOST = 32 };

struct form {
	enum form_kind kind;
	size_t n;
	struct form_piece {
		unsigned char what; /* the form's own */
		char literal;
	} piece[FORM_PIECES_MOST];
	bool has_time, has_seconds, has_zone;
};

/* What a map says in `form`. NULL, or why it is none, fit for a message. */
const char *form_read_spec(struct field spec, struct form *form);

/* A zone as a map writes it: Z, +hh:mm or UTC+hh:mm; *iso (room for 6 bytes) and *n as ISO 8601
   writes it. false: it is none. */
bool form_zone(struct field f, char iso[6], size_t *n);

enum { FORM_MONTHS = 12 };

/* The twelve names, separated by ';'. false: there are not twelve, or one is empty. */
bool form_months(struct field list, struct field months[FORM_MONTHS]);

extern const char *const form_months_default;

/*
 * The whole field as a date of this form, appended to out as ISO 8601, its zone that of the field,
 * else `zone` (empty: none). point is the decimal mark, of FORM_SERIAL and the two of FORM_UNIX.
 * NULL, or why not, fit for a message; then out is as it was.
 */
const char *form_convert(const struct form *form, struct field f, struct field zone,
    const struct field months[FORM_MONTHS], char point, struct bytes *out);

#endif
