#include "import/look.h"

#include <stdio.h>
#include <string.h>

#include "base/num.h"

const struct decimal_style look_styles[LOOK_STYLES] = { { '.', DECIMAL_NONE },
	{ ',', DECIMAL_NONE }, { '.', DECIMAL_COMMA }, { ',', DECIMAL_POINT },
	{ '.', DECIMAL_BLANK }, { ',', DECIMAL_BLANK }, { '.', DECIMAL_APOSTROPHE },
	{ ',', DECIMAL_APOSTROPHE } };

static const char *const dates[] = { "YYYY-MM-DD", "YYYY/MM/DD", "D.M.YYYY", "D/M/YYYY", "M/D/YYYY",
	"D-M-YYYY", "D.M.YY", "D/M/YY", "M/D/YY", "D MON YYYY", "D-MON-YYYY", "D. MON YYYY" };
static const char *const times[] = { "", " h:mm", " h:mm:ss", "Th:mm", "Th:mm:ss", "Th:mm:ssZ",
	" h:mm:ssZ", " h:mm AM", " h:mm:ss AM", " h:mm:ss.f", " h:mm:ss Z", " h:mm Z", "Th:mmZ",
	"Th:mm:ss.fZ" };

enum { TIMES = sizeof times / sizeof times[0], SAMPLE = 40 };

const char *
look_form(size_t i, char text[40])
{
	snprintf(text, 40, "%s%s", dates[i / TIMES], times[i % TIMES]);
	return text;
}

void
looker_begin(struct looker *l, const struct field *months)
{
	char text[40];

	*l = (struct looker){ .months = months };
	for (size_t i = 0; i < LOOK_FORMS; i++)
		date_form_compile(field_of(look_form(i, text)), &l->forms[i]);
}

void
looker_free(struct looker *l)
{
	decimal_free(&l->decimal);
	region_free(&l->kept);
}

void
look_begin(struct look *look)
{
	*look = (struct look){ 0 };
	memset(look->alive, true, sizeof look->alive);
}

static bool
is_date(struct looker *l, struct look *look, struct field f)
{
	struct date_style style = { .months = l->months, .point = '.' };
	bool fits[LOOK_FORMS], any = false;
	struct date date;

	if (f.n > 40 || f.n < 6 || !(num_is_digit(*f.p)))
		return false;
	for (size_t i = 0; i < LOOK_FORMS; i++) {
		fits[i] = look->alive[i] && date_form_read(&l->forms[i], f, &style, &date) == NULL;
		any |= fits[i];
	}
	if (any)
		memcpy(look->alive, fits, sizeof fits);
	return any;
}

/* A number in this style, and perhaps a unit behind it. */
static bool
is_number(
    struct looker *l, struct field f, const struct decimal_style *style, const struct unit **unit)
{
	size_t n = decimal_span(f, style), gap = n;

	if (n == 0 || n > 60)
		return false;
	while (gap < f.n && f.p[gap] == ' ')
		gap++;
	*unit = unit_in_cell(field_behind(f, gap));
	return (gap == f.n || *unit != NULL) &&
	       decimal_read((struct field){ f.p, n }, style, &l->decimal) == NULL;
}

static void
learn_range(struct look *look, struct field f)
{
	const char *comma = memchr(f.p, ',', f.n);
	char text[64];
	double x;

	/* a decimal comma, if it is not one between groups */
	memcpy(text, f.p, f.n);
	if (comma != NULL && memchr(f.p, '.', f.n) == NULL)
		text[comma - f.p] = '.';
	if (num_parse((struct field){ text, f.n }, &x) != 0)
		return;
	if (!look->any || x < look->least)
		look->least = x;
	if (!look->any || x > look->greatest)
		look->greatest = x;
	look->any = true;
}

static bool
is_number_of_any(struct looker *l, struct look *look, struct field f)
{
	const struct unit *unit, *told = NULL;
	bool any = false;

	if (f.n > 60 || (unsigned char)((*f.p | 0x20) - 'a') < 26)
		return false;
	for (size_t i = 0; i < LOOK_STYLES; i++)
		if (is_number(l, f, &look_styles[i], &unit)) {
			look->numbers[i]++;
			any = true;
			told = unit;
		}
	if (!any)
		return false;
	look->units += told != NULL;
	look->in_cell = look->in_cell != NULL ? look->in_cell : told;
	if (memchr(f.p, '.', f.n) == NULL && memchr(f.p, ',', f.n) == NULL)
		look->wholes++;
	else
		look->fractions++;
	learn_range(look, f);
	return true;
}

static void
take_mark(struct looker *l, struct look *look, struct field f)
{
	for (size_t i = 0; i < look->nmarks; i++)
		if (field_same(look->marks[i].text, f)) {
			look->marks[i].n++;
			return;
		}
	if (look->nmarks == LOOK_MARKS || f.n > 12)
		look->others++;
	else
		look->marks[look->nmarks++] = (struct mark){ region_keep(&l->kept, f), 1 };
}

static void
take_sample(struct looker *l, struct look *look, struct field f)
{
	if (look->nsamples == LOOK_SAMPLES)
		return;
	if (f.n > SAMPLE)
		for (f.n = SAMPLE; f.n > 0 && (f.p[f.n] & 0xc0) == 0x80;)
			f.n--;
	for (size_t i = 0; i < look->nsamples; i++)
		if (field_same(look->sample[i], f))
			return;
	look->sample[look->nsamples++] = region_keep(&l->kept, f);
}

void
look_at(struct looker *l, struct look *look, struct field f)
{
	look->cells++;
	if (f.n == 0) {
		look->empty++;
		return;
	}
	take_sample(l, look, f);
	if (is_number_of_any(l, look, f))
		return;
	if (is_date(l, look, f))
		look->dates++;
	else
		take_mark(l, look, f);
}
