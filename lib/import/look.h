/*
 * look: what the cells of a column look like, for a draft: how many are numbers, in which styles, dates
 * of which forms, marks of no reading, and some samples.
 */
#ifndef THRUM_IMPORT_LOOK_H
#define THRUM_IMPORT_LOOK_H

#include <stdbool.h>
#include <stdint.h>

#include "base/mem.h"
#include "import/date_form.h"
#include "import/decimal.h"
#include "import/unit.h"

enum { LOOK_STYLES = 8, LOOK_FORMS = 12 * 14, LOOK_SAMPLES = 3, LOOK_MARKS = 3 };

extern const struct decimal_style look_styles[LOOK_STYLES]; /* the plain ones first */

/* what all columns share; to be begun */
struct looker {
	const struct field *months;
	struct date_form forms[LOOK_FORMS];
	struct decimal decimal;
	struct region kept;
};

/* one column; to be zeroed, alive to be set to true */
struct look {
	uint64_t cells, empty, wholes, dates, units, fractions;
	uint64_t numbers[LOOK_STYLES];
	bool alive[LOOK_FORMS]; /* that have fitted every date so far */
	double least, greatest; /* of the numbers with a decimal point */
	bool any;
	struct field sample[LOOK_SAMPLES];
	size_t nsamples;
	struct mark {
		struct field text;
		uint64_t n;
	} marks[LOOK_MARKS]; /* texts that are neither numbers nor dates */
	size_t nmarks;
	uint64_t others;            /* further ones */
	const struct unit *in_cell; /* behind the first number that has one; NULL: none */
	const struct unit *below;   /* the header, in a line of units; NULL: none */
};

void looker_begin(struct looker *l, const struct field *months);
void looker_free(struct looker *l);

void look_begin(struct look *look);

/* Looks at one more cell. */
void look_at(struct looker *l, struct look *look, struct field f);

/* A date form as a map writes it, by its place; a constant's copy in text. */
const char *look_form(size_t i, char text[40]);

#endif
