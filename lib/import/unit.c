#include "import/unit.h"

/*
 * International inch, foot, yard and mile: 0.0254 m, 0.3048 m, 0.9144 m and 1609.344 m, all exact
 * (NIST Special Publication 811, 2008 edition, appendix B.8; from memory). 180/pi and 1/1.609344,
 * 1/0.3048 to 18 digits: computed with bc.
 */
static const struct unit units[] = {
	{ "nm", "nm", NULL, UNIT_LENGTH, 1, -9 },
	{ "um", "um", "\xc2\xb5m \xce\xbcm", UNIT_LENGTH, 1, -6 },
	{ "mm", "mm", "MM", UNIT_LENGTH, 1, -3 },
	{ "cm", "cm", "CM", UNIT_LENGTH, 1, -2 },
	{ "m", "m", NULL, UNIT_LENGTH, 1, 0 },
	{ "km", "km", "Km KM", UNIT_LENGTH, 1, 3 },
	{ "in", NULL, "IN", UNIT_LENGTH, 254, -4 },
	{ "ft", NULL, "Ft FT", UNIT_LENGTH, 3048, -4 },
	{ "kft", NULL, "kFt", UNIT_LENGTH, 3048, -1 },
	{ "yd", NULL, "YD", UNIT_LENGTH, 9144, -4 },
	{ "mi", NULL, "MI", UNIT_LENGTH, 1609344, -3 },
	{ "ps", "ps", NULL, UNIT_TIME, 1, -12 },
	{ "ns", "ns", NULL, UNIT_TIME, 1, -9 },
	{ "us", "us", "\xc2\xb5s \xce\xbcs", UNIT_TIME, 1, -6 },
	{ "ms", "ms", NULL, UNIT_TIME, 1, -3 },
	{ "s", "s", "sec", UNIT_TIME, 1, 0 },
	{ "min", NULL, NULL, UNIT_TIME, 60, 0 },
	{ "h", NULL, NULL, UNIT_TIME, 3600, 0 },
	{ "dB", "db", "db DB Db", UNIT_LOSS, 1, 0 },
	{ "mdB", NULL, "mdb", UNIT_LOSS, 1, -3 },
	{ "dB/km", "db_km", "db/km DB/KM dB/Km", UNIT_PER_LENGTH, 1, 0 },
	{ "mdB/km", NULL, NULL, UNIT_PER_LENGTH, 1, -3 },
	{ "dB/m", NULL, NULL, UNIT_PER_LENGTH, 1, 3 },
	{ "dB/kft", NULL, NULL, UNIT_PER_LENGTH, 328083989501312336, -17, true },
	{ "dB/mi", NULL, NULL, UNIT_PER_LENGTH, 621371192237333970, -18, true },
	{ "dBm", "dbm", "dbm DBM", UNIT_LEVEL, 1, 0 },
	{ "deg", "deg", "\xc2\xb0", UNIT_ANGLE, 1, 0 },
	{ "rad", NULL, NULL, UNIT_ANGLE, 572957795130823209, -16, true },
	{ "mrad", NULL, NULL, UNIT_ANGLE, 572957795130823209, -19, true },
	{ "percent", "percent", "%", UNIT_PART, 1, -2 },
	{ "ratio", "ratio", NULL, UNIT_PART, 1, 0 },
};

enum { UNITS = sizeof units / sizeof units[0] };

const struct unit *
unit_named(struct field name)
{
	for (size_t i = 0; i < UNITS; i++)
		if (field_is(name, units[i].name))
			return &units[i];
	return NULL;
}

const struct unit *
unit_in_cell(struct field name)
{
	const struct unit *unit = unit_named(name);

	for (size_t i = 0; unit == NULL && name.n > 0 && i < UNITS; i++)
		if (units[i].also != NULL &&
		    field_among(field_of(units[i].also), ' ', name) != SIZE_MAX)
			unit = &units[i];
	return unit;
}

const struct unit *
unit_of_column(struct field column)
{
	const struct unit *best = NULL;

	for (size_t i = 0; i < UNITS; i++) {
		struct field end = field_of(units[i].column != NULL ? units[i].column : "");

		if (end.n == 0 || column.n < end.n ||
		    memcmp(column.p + column.n - end.n, end.p, end.n) != 0 ||
		    (column.n > end.n && column.p[column.n - end.n - 1] != '_'))
			continue;
		if (best == NULL || strlen(best->column) < end.n)
			best = &units[i];
	}
	return best;
}

const struct unit *
unit_told(struct field name, const struct unit *usual)
{
	const struct unit *told = NULL;

	while (name.p != NULL) {
		struct field word = { name.p, 0 };
		const struct unit *unit;

		while (word.n < name.n && memchr(" ()[]{}_,;:|<>", word.p[word.n], 14) == NULL)
			word.n++;
		name = word.n < name.n ? field_behind(name, word.n + 1) : (struct field){ NULL, 0 };
		unit = unit_in_cell(word);
		if (unit != NULL && unit == usual)
			return usual;
		if (unit != NULL && (usual == NULL || unit->kind == usual->kind))
			told = unit;
	}
	return told;
}

void
unit_convert(struct decimal *d, const struct unit *from, const struct unit *to)
{
	if (from == to)
		return;
	if (from->factor > 1)
		decimal_times(d, from->factor, from->power - to->power);
	else
		d->exponent += from->power - to->power;
	if (from->rounded)
		decimal_round(d, UNIT_DIGITS);
}

const struct unit *
unit_for_columns(const struct unit *unit)
{
	const struct unit *first = units;

	while (first->kind != unit->kind || first->factor != 1 || first->power != 0)
		first++;
	return unit->column != NULL ? unit : first;
}

void
unit_names(struct bytes *b)
{
	for (size_t i = 0; i < UNITS; i++)
		bytes_add_format(b, "%s%s", i > 0 ? ", " : "", units[i].name);
}
